"""Newton's method for the car: exact Jacobian, bounded steps, backtracking on the residual norm."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.law import residual, residual_and_jacobian
from ..vehicle.record import Record

Array = Any

CONVERGED, STALLED, NOT_FINITE, SINGULAR = 0, 1, 2, 3
TOLERANCE = 1e-10
"""Residual norm, as a share of the car's weight (forces in N, moments in N m), below which a solution
counts."""
MAX_ITERATIONS = 40
MAX_HALVINGS = 6

NEAR = 1e-5
"""Norm from which a full step is the last one: a plain residual then serves. Farther out a full step nearly
always helps, so its Jacobian is taken at once."""

STEP_LIMIT = np.array(
    [
        4000.0,
        0.05,
        0.012,
        0.05,
        0.05,
        0.05,
        0.03,
        0.15,
        0.15,
        0.06,
        0.05,
        12.0,
        12.0,
        12.0,
    ]
)
"""Largest change of each unknown in one step (N, rad, m, rad/s)."""


@compiled
def gauss(a: Array, b: Array, n: int) -> float:
    """Solve a x = b in place (x lands in b) by elimination with row scaling and partial pivoting.

    Returns the sign of the determinant, 0.0 when a pivot vanishes or is not finite.
    """
    sign = 1.0
    for k in range(n):
        best, size = k, abs(a[k, k])
        for i in range(k + 1, n):
            if abs(a[i, k]) > size:
                best, size = i, abs(a[i, k])
        if not size > 1e-300 or not np.isfinite(size):
            return 0.0
        if best != k:
            sign = -sign
            for j in range(k, n):
                a[k, j], a[best, j] = a[best, j], a[k, j]
            b[k], b[best] = b[best], b[k]
        if a[k, k] < 0.0:
            sign = -sign
        pivot = 1.0 / a[k, k]
        for i in range(k + 1, n):
            if a[i, k] != 0.0:
                f = a[i, k] * pivot
                for j in range(k + 1, n):
                    a[i, j] -= f * a[k, j]
                b[i] -= f * b[k]
    for k in range(n - 1, -1, -1):
        total = b[k]
        for j in range(k + 1, n):
            total -= a[k, j] * b[j]
        b[k] = total / a[k, k]
    return sign


@compiled
def norm(r: Array, first: int, last: int, weight: float) -> float:
    """Euclidean norm of a slice of the residual as a share of the weight."""
    total = 0.0
    for i in range(first, last):
        total += r[i] * r[i]
    return float(np.sqrt(total)) / weight


@compiled
def newton(
    u: Array, first: int, last: int, car: Record, motion: Record, work: Array
) -> tuple[int, float, int, int, float]:
    """Solve equations first..last-1 for the unknowns of the same numbers, in place in `u`; the others stay
    fixed.

    `work` is scratch of shape (40, 14). Returns (status, residual norm, iterations, residual evaluations,
    sign of det J). A Jacobian counts as one iteration; `evaluations` counts plain residuals beside it.
    """
    r, keep, step = work[0], work[1], work[2]
    out, m = work[3, :8], work[4:8, :8]
    j, a = work[8:22], work[22:36]
    n = last - first
    evaluations = 0
    residual_and_jacobian(u, car, motion, r, j, out, m)
    size = norm(r, first, last, car.weight)
    sign = 0.0
    for iteration in range(1, MAX_ITERATIONS + 1):
        if not np.isfinite(size):
            return NOT_FINITE, size, iteration, evaluations, sign
        for i in range(n):
            step[i] = -r[first + i]
            for k in range(n):
                a[i, k] = j[first + i, first + k]
        sign = gauss(a, step, n)
        if sign == 0.0:
            return SINGULAR, size, iteration, evaluations, sign
        if size < TOLERANCE:
            return CONVERGED, size, iteration, evaluations, sign
        share = 1.0
        for i in range(n):
            limit = STEP_LIMIT[first + i]
            if abs(step[i]) * share > limit:
                share = limit / abs(step[i])
        keep[:] = u
        best = np.inf
        fresh = False
        for halving in range(MAX_HALVINGS):
            for i in range(n):
                u[first + i] = keep[first + i] + share * step[i]
            fresh = halving == 0 and size > NEAR
            if fresh:
                residual_and_jacobian(u, car, motion, r, j, out, m)
            else:
                residual(u, car, motion, r, out, m)
                evaluations += 1
            best = norm(r, first, last, car.weight)
            if best < size * (1.0 - 0.1 * share) or (best < size and halving > 2):
                break
            share *= 0.4
        else:
            return STALLED, size, iteration, evaluations, sign
        size = best
        if size < TOLERANCE:
            return CONVERGED, size, iteration, evaluations, sign
        if not fresh:
            residual_and_jacobian(u, car, motion, r, j, out, m)
    return STALLED, size, MAX_ITERATIONS, evaluations, sign
