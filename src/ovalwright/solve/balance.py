"""Tight or loose at the very limit: the yaw moment left over when steer and side slip are set for the most
side force.

The moment method of Milliken & Milliken, *Race Car Vehicle Dynamics*, ch. 8 (from memory), on the whole
car: speed and yaw rate stay those of the path; the car may accelerate sideways as much as its tires can;
the yaw equation is let go, and what it misses is the answer. Negative: the moment turns the car out, tight.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.law import MZ, SLIP, STEER, residual, residual_and_jacobian
from ..vehicle.record import SIZE, Record
from .newton import CONVERGED, SINGULAR, STALLED, STEP_LIMIT, gauss

Array = Any

INNER = SIZE - 1
SIDE_STEP = 1e-3
REACH = np.array([0.03, 0.03])
"""Largest change of side slip and of steer angle [rad] in one step of the search."""


@compiled
def _inner_column(k: int) -> int:
    """The unknown behind column k: demand, then heave to axle spin; the last column is the side
    acceleration."""
    return 0 if k == 0 else k + 2


@compiled
def _inner_row(i: int) -> int:
    """The equation behind row i: all but the yaw moment."""
    return i if i < MZ else i + 1


@compiled
def _fill(u: Array, car: Record, motion: Record, work: Array, a: Array) -> float:
    """Jacobian of the held car by its inner unknowns and the side acceleration; returns the residual norm."""
    r, j, out, m = work[0], work[8:22], work[3, :8], work[4:8, :8]
    residual_and_jacobian(u, car, motion, r, j, out, m)
    motion.side_extra += SIDE_STEP
    residual(u, car, motion, work[36], out, m)
    motion.side_extra -= SIDE_STEP
    total = 0.0
    for i in range(INNER):
        row = _inner_row(i)
        total += r[row] * r[row]
        for k in range(INNER - 1):
            a[i, k] = j[row, _inner_column(k)]
        a[i, INNER - 1] = (work[36, row] - r[row]) / SIDE_STEP
    return float(np.sqrt(total) / car.weight)


@compiled
def hold(u: Array, car: Record, motion: Record, work: Array, slope: Array) -> int:
    """Equilibrium of the car held at its side slip and steer, all but yaw; motion.side_extra is found.

    `slope` (2) gets the change of side acceleration per rad of side slip and per rad of steer [m/s^2].
    """
    a, b = np.empty((INNER, INNER)), np.empty(INNER)
    r, j = work[0], work[8:22]
    for _ in range(30):
        size = _fill(u, car, motion, work, a)
        if not np.isfinite(size):
            return STALLED
        if size < 1e-10:
            slopes = np.empty((2, INNER))
            for case in range(2):
                keep = a.copy()
                column = SLIP if case == 0 else STEER
                for i in range(INNER):
                    slopes[case, i] = -j[_inner_row(i), column]
                if gauss(keep, slopes[case], INNER) == 0.0:
                    return SINGULAR
            slope[0] = slopes[0, INNER - 1]
            slope[1] = slopes[1, INNER - 1] / car.steer_gain
            return CONVERGED
        for i in range(INNER):
            b[i] = -r[_inner_row(i)]
        if gauss(a, b, INNER) == 0.0:
            return SINGULAR
        share = 1.0
        for k in range(INNER - 1):
            limit = STEP_LIMIT[_inner_column(k)]
            if abs(b[k]) * share > limit:
                share = limit / abs(b[k])
        for k in range(INNER - 1):
            u[_inner_column(k)] += share * b[k]
        motion.side_extra += share * b[INNER - 1]
    return STALLED


@compiled
def _try(
    x: Array, start: Array, side: float, car: Record, motion: Record, work: Array, u: Array, slope: Array
) -> int:
    """Hold the car at side slip x[0] and steer angle x[1], beginning from a known state."""
    u[:] = start
    motion.side_extra = side
    u[SLIP], u[STEER] = x[0], x[1] / car.steer_gain
    return hold(u, car, motion, work, slope)


@compiled
def _creep(
    x: Array,
    best: Array,
    side: float,
    moment: float,
    car: Record,
    motion: Record,
    work: Array,
    u: Array,
    slope: Array,
    hand: float,
) -> tuple[int, float, float]:
    """The same search without slopes, for a greatest side force that stands on a kink (a wheel lifts, a coil
    seats): steps along each axis, halved until none helps."""
    reach = 0.01
    near = np.empty(2)
    while reach > 1e-5:
        moved = False
        for k in range(4):
            near[:] = x
            near[k // 2] += reach if k % 2 == 0 else -reach
            if _try(near, best, side, car, motion, work, u, slope) != CONVERGED:
                continue
            if hand * (motion.side_extra - side) > 1e-9:
                x[:], best[:] = near, u
                side, moment = motion.side_extra, hand * work[0, MZ]
                moved = True
        if not moved:
            reach *= 0.4
    motion.side_extra = 0.0
    return CONVERGED, moment, side


@compiled
def moment_at_limit(trimmed: Array, car: Record, motion: Record, work: Array) -> tuple[int, float, float]:
    """Yaw moment left [N m, + into the turn] and side acceleration beyond the path's [m/s^2, + left] at the
    greatest side force toward the inside of the turn.

    `trimmed`: a trim near the limit at motion.speed, where the search begins. Newton's method on the slope
    of side acceleration over side slip and steer, with ascent where it is not concave. Returns (status,
    moment, side).
    """
    u, best = trimmed.copy(), trimmed.copy()
    x, slope, other, step = np.empty(2), np.empty(2), np.empty(2), np.empty(2)
    hand = 1.0 if motion.curvature >= 0.0 else -1.0
    x[0], x[1] = trimmed[SLIP], trimmed[STEER] * car.steer_gain
    status = _try(x, best, 0.0, car, motion, work, u, slope)
    if status != CONVERGED:
        motion.side_extra = 0.0
        return status, 0.0, 0.0
    best[:] = u
    side, moment = motion.side_extra, hand * work[0, MZ]
    slope *= hand
    bend = np.empty((2, 2))
    status = STALLED
    for _ in range(40):
        for k in range(2):
            near = x.copy()
            near[k] += 1e-4
            if _try(near, best, side, car, motion, work, u, other) != CONVERGED:
                motion.side_extra = 0.0
                return STALLED, moment, side
            for i in range(2):
                bend[i, k] = (hand * other[i] - slope[i]) / 1e-4
        cross = 0.5 * (bend[0, 1] + bend[1, 0])
        det = bend[0, 0] * bend[1, 1] - cross * cross
        if det > 0.0 and bend[0, 0] < 0.0:
            step[0] = -(bend[1, 1] * slope[0] - cross * slope[1]) / det
            step[1] = -(bend[0, 0] * slope[1] - cross * slope[0]) / det
        else:
            size = np.sqrt(slope[0] ** 2 + slope[1] ** 2) + 1e-9
            step[0], step[1] = 0.01 * slope[0] / size, 0.01 * slope[1] / size
        share = min(1.0, REACH[0] / (abs(step[0]) + 1e-12), REACH[1] / (abs(step[1]) + 1e-12))
        gain = slope[0] * step[0] + slope[1] * step[1]
        moved = False
        for _ in range(12):
            near = x + share * step
            ok = _try(near, best, side, car, motion, work, u, other) == CONVERGED
            if ok and hand * (motion.side_extra - side) >= -1e-9:
                moved = True
                break
            share *= 0.4
        if not moved:
            return _creep(x, best, side, moment, car, motion, work, u, other, hand)
        x[:], slope[:], best[:] = near, hand * other, u
        side, moment = motion.side_extra, hand * work[0, MZ]
        if share == 1.0 and abs(gain) < 1e-8:
            status = CONVERGED
            break
    motion.side_extra = 0.0
    return status, moment, side
