"""On the scales: where the car stands, and, the other way round, which seats and which center of gravity
explain a sheet."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.answer import read_corners
from ..vehicle.law import HEAVE, PITCH, ROLL, TWIST, residual, residual_and_jacobian
from ..vehicle.record import CORNER, MOTION, Record
from .newton import CONVERGED, STALLED, gauss, newton

Array = Any

FIRST, LAST = HEAVE, HEAVE + 8
"""The unknowns and equations of a standing car: body pose, twist, arms, axle."""
TIPPED = 0.3
"""Roll, pitch or twist [rad] beyond which a standing car is none."""
SHEET = 20
"""Greatest number of unknowns of a sheet: 8 of the car, 4 coils, 2 masses, lateral CG, built-in twist."""


def standing(gravity: float = 9.80665) -> Any:
    """The motion record of a car on the scales."""
    motion = np.zeros(1, MOTION)[0]
    motion["standing"], motion["gravity"], motion["grip"] = 1.0, gravity, 1.0
    return motion


@compiled
def upright_body(u: Array) -> bool:
    """Whether the body stands on its wheels: a car tipped on its side balances too, and is no answer."""
    return bool(abs(u[ROLL]) < TIPPED and abs(u[PITCH]) < TIPPED and abs(u[TWIST]) < TIPPED)


@compiled
def settle(car: Record, motion: Record, u: Array, work: Array) -> tuple[int, float, int, int]:
    """Let the car settle from the state in `u` (start with zeros). Returns (status, norm, iterations,
    evaluations).

    If the direct way fails, the car is let down twice as carefully from its drawn height.
    """
    status, size, iterations, evaluations, _ = newton(u, FIRST, LAST, car, motion, work)
    if status == CONVERGED and upright_body(u):
        return status, size, iterations, evaluations
    for lift in (0.02, 0.05, -0.02, 0.1, -0.05):
        u[:] = 0.0
        u[HEAVE] = lift
        status, size, more, extra, _ = newton(u, FIRST, LAST, car, motion, work)
        iterations += more
        evaluations += extra
        if status == CONVERGED and upright_body(u):
            return status, size, iterations, evaluations
    return STALLED, size, iterations, evaluations


@compiled
def _sheet_residual(
    u: Array,
    car: Record,
    motion: Record,
    corners: Array,
    weights: Array,
    heights: Array,
    gaps: Array,
    g: Array,
) -> None:
    """The sheet's own equations after the eight of the car: total, left, rear, cross [N]; heights, gaps [N
    per 10 um]."""
    read_corners(u, car, motion, corners)
    lf, rf, lr, rr = corners[0].load, corners[1].load, corners[2].load, corners[3].load
    g[0] = lf + rf + lr + rr - weights[0] - weights[1] - weights[2] - weights[3]
    g[1] = lf + lr - weights[0] - weights[2]
    g[2] = lr + rr - weights[2] - weights[3]
    g[3] = rf + lr - weights[1] - weights[2]
    for i in range(4):
        g[4 + i] = (corners[i].height - heights[i]) * 1e5
        g[8 + i] = (corners[i].coil_gap - gaps[i]) * 1e5


@compiled
def _change(car: Record, parameter: int, step: float) -> None:
    """Move one unknown of the sheet: coils 0-3 [m], front mass, rear mass [kg], lateral CG [m], built-in
    twist [rad]."""
    if parameter < 4:
        car.coil_free[parameter] += step
    elif parameter == 4:
        car.front_mass += step
    elif parameter == 5:
        car.rear_mass += step
    elif parameter == 6:
        car.front_cg[1] += step
        car.rear_cg[1] += step
    else:
        car.twist_built_in += step


@compiled
def missing_coils(car: Record, gaps: Array) -> int:
    """How many corners have no coil on its seat on the scales."""
    count = 0
    for i in range(4):
        if car.coil_rate[i] == 0.0 or not np.isnan(gaps[i]):
            count += 1
    return count


@compiled
def settle_as_measured(
    car: Record,
    motion: Record,
    weights: Array,
    heights: Array,
    gaps: Array,
    masses_known: bool,
    u: Array,
    work: Array,
) -> tuple[int, float, int]:
    """Find the coil seats, the sprung masses' CG in plan and the built-in twist that explain a sheet, in
    place in `car`.

    `weights` LF RF LR RR [N]; `heights` [m], the fourth NaN when only three were read; `gaps`: NaN for a
    seated coil, the gap [m] for one that hangs. Published order where a coil is missing or hangs: heights
    first, cross last; a second missing coil gives up the height of its own corner. With `masses_known` the
    weights are not used (re-set to heights and cross: `weights` then only gives the cross percent).
    Returns (status, norm, iterations).
    """
    corners = np.zeros(4, CORNER)
    unknowns = np.empty(8, np.int64)
    equations = np.empty(12, np.int64)
    n_unknown, n_equation = 0, 0
    missing = 0
    twist_read = not np.isnan(heights[3])
    if not masses_known:
        for k in range(4, 7):
            unknowns[n_unknown] = k
            equations[n_equation] = k - 4
            n_unknown, n_equation = n_unknown + 1, n_equation + 1
    for i in range(4):
        if car.coil_rate[i] > 0.0:
            unknowns[n_unknown] = i
            n_unknown += 1
            if not np.isnan(gaps[i]):
                equations[n_equation] = 8 + i
                n_equation += 1
    if twist_read:
        unknowns[n_unknown] = 7
        n_unknown += 1
    free = n_unknown - n_equation
    wanted = np.array([4, 5, 6, 7, 3])
    for e in wanted:
        if e == 7 and not twist_read:
            continue
        if free > 0:
            corner = e - 4
            lost = e >= 4 and car.coil_rate[corner] == 0.0 and missing_coils(car, gaps) > 1 and missing == 0
            if lost:
                missing = 1
                continue
            equations[n_equation] = e
            n_equation += 1
            free -= 1
    n = 8 + n_unknown
    a, b, g, h = np.zeros((SHEET, SHEET)), np.zeros(SHEET), np.zeros(12), np.zeros(12)
    r, out, m, j, side = work[0], work[3, :8], work[4:8, :8], work[8:22], work[36]
    size = np.inf
    for iteration in range(1, 61):
        residual_and_jacobian(u, car, motion, r, j, out, m)
        _sheet_residual(u, car, motion, corners, weights, heights, gaps, g)
        total = 0.0
        for i in range(8):
            b[i] = -r[FIRST + i]
            total += r[FIRST + i] ** 2
            for k in range(8):
                a[i, k] = j[FIRST + i, FIRST + k]
        for i in range(n_equation):
            b[8 + i] = -g[equations[i]]
            total += g[equations[i]] ** 2
        size = float(np.sqrt(total)) / car.weight
        if not np.isfinite(size):
            return 2, size, iteration
        if size < 1e-9:
            return CONVERGED, size, iteration
        for k in range(8):
            step = 1e-7
            u[FIRST + k] += step
            _sheet_residual(u, car, motion, corners, weights, heights, gaps, h)
            u[FIRST + k] -= step
            for i in range(n_equation):
                a[8 + i, k] = (h[equations[i]] - g[equations[i]]) / step
        for k in range(n_unknown):
            step = 1e-7 if (unknowns[k] < 4 or unknowns[k] > 5) else 1e-4
            _change(car, unknowns[k], step)
            residual(u, car, motion, side, out, m)
            _sheet_residual(u, car, motion, corners, weights, heights, gaps, h)
            _change(car, unknowns[k], -step)
            for i in range(8):
                a[i, 8 + k] = (side[FIRST + i] - r[FIRST + i]) / step
            for i in range(n_equation):
                a[8 + i, 8 + k] = (h[equations[i]] - g[equations[i]]) / step
        if gauss(a, b, n) == 0.0:
            return 3, size, iteration
        share = 1.0
        for k in range(n):
            limit = 0.05
            if k >= 8 and 3 < unknowns[k - 8] < 6:
                limit = 300.0
            if abs(b[k]) * share > limit:
                share = limit / abs(b[k])
        for k in range(8):
            u[FIRST + k] += share * b[k]
        for k in range(n_unknown):
            _change(car, unknowns[k], share * b[8 + k])
    return 1, size, 60
