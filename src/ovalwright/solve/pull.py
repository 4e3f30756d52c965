"""The trim at a given pull: the engine at full throttle, the brakes at their most, or the engine at its rev
limit."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.law import DEMAND, SPIN_A, residual, residual_and_jacobian
from ..vehicle.record import SIZE, Record
from .edge import ALONG_SCALE, AT, AT_SPEED, EDGE_ITERATIONS, KIND, NEARLY, beyond_peak, place, scaled, steady
from .limit import SCALE, WHOLE
from .newton import CONVERGED, SINGULAR, STALLED, STEP_LIMIT, TOLERANCE, gauss, norm
from .trim import ORDINARY_SIGN, WRONG_BRANCH, trim_from

Array = Any

FULL_THROTTLE, BRAKES_FULL, AT_REVS = 0, 1, 2
"""Which pull is asked for."""
PULL_STEPS, FINEST = 80, 1e-7
"""Most steps to a pull, and the last of them [m/s^2]."""


@compiled
def engine_pull(spin: float, engine: Array) -> tuple[float, float]:
    """Full-throttle torque at the axle [N m] at an axle speed [rad/s], and its slope. `engine` (2, n): axle
    speeds and torques; straight between them, held beyond.
    """
    speeds, torques = engine[0], engine[1]
    last = len(speeds) - 1
    if spin <= speeds[0]:
        return torques[0], 0.0
    if spin >= speeds[last]:
        return torques[last], 0.0
    k = np.searchsorted(speeds, spin) - 1
    slope = (torques[k + 1] - torques[k]) / (speeds[k + 1] - speeds[k])
    return torques[k] + slope * (spin - speeds[k]), slope


@compiled
def pulled(
    u: Array,
    p: float,
    what: int,
    most: float,
    engine: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float]:
    """Newton to the trim at a given pull, in place in `u`. Returns (status, 15th unknown).

    `what`: FULL_THROTTLE with `most` the share of the engine's full torque; BRAKES_FULL with `most` the force
    [N] the brakes can hold; AT_REVS with `most` the axle speed [rad/s] of the rev limit.
    """
    r, out, m, j = work[0], work[3, :8], work[4:8, :8], work[8:22]
    a, b = np.empty((WHOLE, WHOLE)), np.empty(WHOLE)
    scale = SCALE[SIZE] if tie[KIND] == AT_SPEED else ALONG_SCALE
    radius = car.tire[3].free_radius
    last = np.inf
    for _ in range(EDGE_ITERATIONS):
        place(p, tie, car, motion)
        residual_and_jacobian(u, car, motion, r, j, out, m)
        a[SIZE, :] = 0.0
        if what == FULL_THROTTLE:
            torque, slope = engine_pull(u[SPIN_A], engine)
            miss = u[DEMAND] - most * torque / radius
            a[SIZE, SPIN_A] = -most * slope / radius * SCALE[SPIN_A] / car.weight
            a[SIZE, DEMAND] = SCALE[DEMAND] / car.weight
        elif what == BRAKES_FULL:
            miss = u[DEMAND] + most
            a[SIZE, DEMAND] = SCALE[DEMAND] / car.weight
        else:
            miss = (u[SPIN_A] - most) * car.weight / SCALE[SPIN_A]
            a[SIZE, SPIN_A] = 1.0
        size = math.sqrt(norm(r, 0, SIZE, car.weight) ** 2 + (miss / car.weight) ** 2)
        if not size < 1e3:
            return STALLED, p
        if last < NEARLY and size < TOLERANCE:
            for i in range(SIZE):
                a[i, :SIZE] = j[i, :SIZE]
            sign = gauss(a, b, SIZE)
            ordinary = sign == ORDINARY_SIGN and not beyond_peak(u, car, motion)
            return (CONVERGED if ordinary else WRONG_BRANCH), p
        scaled(j, a, car)
        step = 1e-4 * scale
        place(p + step, tie, car, motion)
        residual(u, car, motion, work[1], out, m)
        for i in range(SIZE):
            a[i, SIZE] = (work[1, i] - r[i]) / step * scale / car.weight
            b[i] = -r[i] / car.weight
        b[SIZE] = -miss / car.weight
        if gauss(a, b, WHOLE) == 0.0:
            return SINGULAR, p
        share, last = 1.0, 0.0
        for k in range(SIZE):
            last = max(last, abs(b[k]))
            if abs(b[k]) * SCALE[k] * share > STEP_LIMIT[k]:
                share = STEP_LIMIT[k] / (abs(b[k]) * SCALE[k])
        last = max(last, abs(b[SIZE]))
        for k in range(SIZE):
            u[k] += share * b[k] * SCALE[k]
        p += share * b[SIZE] * scale
    return STALLED, p


@compiled
def _over(u: Array, what: int, most: float, engine: Array, car: Record) -> float:
    """How much a state asks beyond a pull: positive beyond what the engine, the brakes or the revs allow."""
    if what == FULL_THROTTLE:
        return float(u[DEMAND] - most * engine_pull(u[SPIN_A], engine)[0] / car.tire[3].free_radius)
    return float(-u[DEMAND] - most if what == BRAKES_FULL else u[SPIN_A] - most)


@compiled
def pull_by_steps(
    row: Array,
    what: int,
    most: float,
    engine: Array,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float]:
    """The trim at a given pull by trims in steps: what serves where Newton finds none, as where a stop is
    touched; the last one before the tires' edge, where that comes first.
    """
    way = -1.0 if what == BRAKES_FULL else 1.0
    u, ahead = np.zeros(SIZE), np.zeros(SIZE)
    p, found = 0.0, False
    for inside in (0.0, -3.0, -8.0):
        p = inside * way
        place(p, tie, car, motion)
        found = steady(u, settled, car, motion, work) == CONVERGED
        if found and _over(u, what, most, engine, car) < 0.0:
            break
        found = False
    step = 2.0 * way
    for _ in range(PULL_STEPS):
        if not found:
            return STALLED, p
        place(p + step, tie, car, motion)
        ahead[:] = u
        if trim_from(ahead, car, motion, work)[0] != CONVERGED or _over(ahead, what, most, engine, car) > 0.0:
            step *= 0.4
        else:
            u[:], p = ahead, p + step
        if abs(step) < FINEST:
            break
    row[:SIZE], row[AT] = u, p
    place(p, tie, car, motion)
    return CONVERGED, p


@compiled
def pull(
    row: Array,
    start: float,
    what: int,
    most: float,
    engine: Array,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float]:
    """The trim at a given pull: Newton from the row's state, else by trims in steps."""
    u = row[:SIZE].copy()
    status, p = pulled(u, start, what, most, engine, tie, car, motion, work)
    if status != CONVERGED:
        return pull_by_steps(row, what, most, engine, settled, tie, car, motion, work)
    row[:SIZE], row[AT] = u, p
    return status, p
