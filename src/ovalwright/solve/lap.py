"""One lap of the full car on a given line: at every station the most speed that the tires, the engine, the
revs and the brakes allow, forward and backward along the line.

Quasi-steady: every station is a trim of the one force law. Speed energy E = V^2/2 is swept along the line
with the trapezoid rule, dE/ds = acceleration along it (methods for a given path: Bobrow, Dubowsky and Gibson,
1985; Lipp and Boyd, 2014, from memory). Where the tires rule, the acceleration is that of the edge (`edge`).
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.law import DEMAND, SPIN_A
from ..vehicle.record import SIZE, Record
from .caps import BRAKE_FORCE, BRAKE_SHARE, CAREFUL, DRIVE_SHARE, GRIP, REV_SPIN, TOP, find_caps
from .edge import (
    AHEAD,
    AT,
    AT_ALONG,
    AT_SPEED,
    BEFORE,
    ENERGY,
    FUEL_SIDE,
    HALF_STEP,
    KIND,
    SHARE,
    SLOSH,
    TIE,
    edge_near,
    place,
    reach,
    steady,
)
from .newton import CONVERGED
from .pull import AT_REVS, BRAKES_FULL, FULL_THROTTLE, engine_pull, pull, pulled

Array = Any

CAP, DRIVE_EDGE, POWER, REVS, BRAKE_EDGE, BRAKES = range(6)
"""What rules a station: the tires at held speed, the tires under power, the engine, its revs, the tires under
brakes, the brakes' own torque."""
SPREAD = 8.0
"""Acceleration [m/s^2] the tires give a car that does not corner; only where a sweep starts from."""
FARTHEST = 16.0
"""Acceleration [m/s^2] no tire gives: how far an edge is looked for."""
LAPS = 30
"""Most passes until a lap closes on itself."""
CLOSED = 1e-7
"""A lap has closed when its start changes by less than this share."""
NEAR_REVS = 0.995
"""Share of the rev limit from which it is asked first whether the revs rule."""
FLAT_OUT = 0.8
"""Share of the top speed at which a lap that the tires nowhere limit is begun."""
LEVEL = 1e-9
"""A cap that rises by less than this share of itself is level."""


@compiled
def _leaving(energy: float, cap: float, step: float) -> float:
    """Acceleration [m/s^2] with which a car that used all its grip gains room under a cap a step ahead; a
    first guess from the circle of a point mass.
    """
    low, high = 0.0, SPREAD
    for _ in range(20):
        middle = 0.5 * (low + high)
        if energy + 0.5 * step * middle < cap * math.sqrt(1.0 - (middle / SPREAD) ** 2):
            low = middle
        else:
            high = middle
    return low


@compiled
def _edge_at_cap(
    row: Array,
    way: int,
    limits: Array,
    engine: Array,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> float:
    """Acceleration [m/s^2] a car has left at its cap, under power (way 1) or brakes (-1); `row`, the cap's,
    becomes that edge's. Nothing where none is found.
    """
    motion.speed = row[AT]
    tie[KIND] = AT_ALONG
    status, p = edge_near(row, 0.0, float(way), tie, car, motion, work)
    if status != CONVERGED:
        for inside in (-0.3 * way, 0.3 * way, -1.0 * way, 1.0 * way):
            status, p = reach(row, inside, way * FARTHEST, settled, tie, car, motion, work)
            if status == CONVERGED:
                break
    if status != CONVERGED:
        return 0.0
    if way < 0:
        return float(min(limits[BRAKE_SHARE] * p, 0.0))
    most = engine_pull(row[SPIN_A], engine)[0] / car.tire[3].free_radius
    return float(max(limits[DRIVE_SHARE] * p if row[DEMAND] < most else 0.0, 0.0))


@compiled
def _tire_edge(
    way: int,
    guess: float,
    row: Array,
    careful: bool,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float]:
    """The edge a step ahead, from the row of one nearby, else (or when careful) from a trim of its own."""
    status, p = -1, guess
    if not careful:
        status, p = edge_near(row, guess, float(way), tie, car, motion, work)
    if status == CONVERGED:
        return status, p
    for inside in (0.0, -1.0 * way, 1.0 * way, -3.0 * way, 3.0 * way):
        status, p = reach(row, inside, way * FARTHEST, settled, tie, car, motion, work)
        if status == CONVERGED:
            break
    return status, p


@compiled
def _forward_step(
    on_edge: bool,
    row: Array,
    guess: float,
    before: float,
    limits: Array,
    engine: Array,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float, int]:
    """One step under power from `row`: the engine's pull, the tires' edge or the revs, whichever is least.
    Returns (status, 15th unknown, what rules).
    """
    known = row.copy()
    status, p, what = -1, before, POWER
    if row[SPIN_A] > NEAR_REVS * limits[REV_SPIN]:
        tie[SHARE] = 1.0
        status, p = pull(row, before, AT_REVS, limits[REV_SPIN], engine, settled, tie, car, motion, work)
        most = engine_pull(row[SPIN_A], engine)[0] / car.tire[3].free_radius
        if status == CONVERGED and row[DEMAND] <= most:
            return status, p, REVS
        row[:] = known
        status = -1
    if not on_edge:
        tie[SHARE] = 1.0
        status, p = pulled(row[:SIZE], before, FULL_THROTTLE, 1.0, engine, tie, car, motion, work)
    if status != CONVERGED:
        row[:] = known
        tie[SHARE], what = limits[DRIVE_SHARE], DRIVE_EDGE
        status, p = _tire_edge(1, guess, row, limits[CAREFUL] > 0.5, settled, tie, car, motion, work)
        most = engine_pull(row[SPIN_A], engine)[0] / car.tire[3].free_radius
        if status != CONVERGED or row[DEMAND] > most:
            tie[SHARE], what = 1.0, POWER
            row[:] = known
            status, p = pull(row, before, FULL_THROTTLE, 1.0, engine, settled, tie, car, motion, work)
    if status == CONVERGED and row[SPIN_A] > limits[REV_SPIN]:
        tie[SHARE], what = 1.0, REVS
        status, p = pull(row, p, AT_REVS, limits[REV_SPIN], engine, settled, tie, car, motion, work)
    return status, p, what


@compiled
def _backward_step(
    row: Array,
    guess: float,
    limits: Array,
    engine: Array,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float, int]:
    """One step back under brakes from `row`: the tires' edge, or all the brakes hold. Returns as
    `_forward_step`.
    """
    tie[SHARE] = limits[BRAKE_SHARE]
    status, p = _tire_edge(-1, guess, row, limits[CAREFUL] > 0.5, settled, tie, car, motion, work)
    if status == CONVERGED and -row[DEMAND] > limits[BRAKE_FORCE]:
        tie[SHARE] = 1.0
        status, p = pull(row, p, BRAKES_FULL, limits[BRAKE_FORCE], engine, settled, tie, car, motion, work)
        return status, p, BRAKES
    return status, p, BRAKE_EDGE


@compiled
def sweep(
    way: int,
    roads: Array,
    steps: Array,
    settled: Array,
    car: Record,
    limits: Array,
    engine: Array,
    tie: Array,
    caps: Array,
    cap: Array,
    start: int,
    energy: Array,
    along: Array,
    mode: Array,
    rows: Array,
    kept: Array,
    kept_mode: Array,
    spare: Array,
    work: Array,
) -> int:
    """Once around from `start`: forward (way 1) under power or backward (-1) under brakes.

    `energy` holds the energy at `start`, and going backward the forward answer at every station; where the
    sweep rules it is replaced, with `along`, `mode` and `rows` of the station. `kept` and `kept_mode` are the
    rows and modes of a lap like this one, to start from (mode -1: none). Returns -1, or the station without
    an answer.
    """
    count = len(roads)
    here = start
    row = rows[start].copy()
    before, on_edge, at_cap = along[start], False, mode[start] == CAP
    for _ in range(count):
        there = (here + way) % count
        step = steps[here] if way > 0 else steps[there]
        most = cap[there] if way > 0 else energy[there]
        driven = mode[here] == DRIVE_EDGE or mode[here] == POWER or mode[here] == REVS
        if most <= energy[here] * (1.0 + LEVEL) or (way < 0 and driven):
            if way > 0:
                energy[there], along[there], mode[there], rows[there] = cap[there], 0.0, CAP, caps[there]
            on_edge, at_cap = False, True
            here = there
            continue
        spare[0] = roads[there]
        motion = spare[0]
        motion.grip *= limits[GRIP]
        if at_cap:
            row[:] = caps[here]
            spare[1] = roads[here]
            at = spare[1]
            at.grip *= limits[GRIP]
            before = _edge_at_cap(row, way, limits, engine, settled, tie, car, at, work)
            on_edge = True
        if energy[here] + way * 0.5 * step * before >= most:
            at_cap = True
            if way > 0:
                energy[there], along[there], mode[there], rows[there] = most, 0.0, CAP, caps[there]
            here = there
            continue
        tie[KIND], tie[ENERGY], tie[HALF_STEP], tie[BEFORE] = AHEAD, energy[here], way * 0.5 * step, before
        guess = row[AT]
        if at_cap:
            room = cap[there] if np.isfinite(cap[there]) else 4.0 * energy[here]
            guess = way * max(_leaving(energy[here], room, step), abs(before))
        if kept_mode[there] == BRAKE_EDGE and way < 0:
            row[:] = kept[there]
            guess = row[AT]
        elif way > 0 and (kept_mode[there] == DRIVE_EDGE or kept_mode[there] == POWER):
            on_edge = kept_mode[there] == DRIVE_EDGE
            row[:] = kept[there]
            guess = row[AT]
        if way > 0:
            status, p, what = _forward_step(
                on_edge, row, guess, before, limits, engine, settled, tie, car, motion, work
            )
        else:
            status, p, what = _backward_step(row, guess, limits, engine, settled, tie, car, motion, work)
        if status != CONVERGED:
            return there
        row[AT] = p
        before, on_edge, at_cap = p * tie[SHARE], what in (DRIVE_EDGE, BRAKE_EDGE), False
        gained = 0.5 * motion.speed * motion.speed
        if gained < most:
            energy[there], along[there], mode[there], rows[there] = gained, before, what, row
        else:
            at_cap = True
            if way > 0:
                energy[there], along[there], mode[there], rows[there] = most, 0.0, CAP, caps[there]
        here = there
    return -1


@compiled
def _within_revs(
    roads: Array,
    car: Record,
    limits: Array,
    engine: Array,
    settled: Array,
    tie: Array,
    caps: Array,
    cap: Array,
    spare: Array,
    work: Array,
) -> None:
    """Lower each cap that the rev limit does not let the car reach to the speed it does; nothing where none
    is found.
    """
    motion = spare[0]
    for i in range(len(roads)):
        if not np.isfinite(cap[i]) or caps[i, SPIN_A] <= limits[REV_SPIN]:
            continue
        spare[0] = roads[i]
        motion.grip *= limits[GRIP]
        motion.acceleration = 0.0
        tie[KIND] = AT_SPEED
        u = caps[i, :SIZE].copy()
        place(caps[i, AT] * limits[REV_SPIN] / u[SPIN_A], tie, car, motion)
        if steady(u, settled, car, motion, work) != CONVERGED:
            continue
        status, speed = pulled(u, motion.speed, AT_REVS, limits[REV_SPIN], engine, tie, car, motion, work)
        if status == CONVERGED and 0.5 * speed * speed < cap[i]:
            caps[i, :SIZE], caps[i, AT], cap[i] = u, speed, 0.5 * speed * speed


@compiled
def fastest_lap(
    roads: Array,
    steps: Array,
    settled: Array,
    car: Record,
    limits: Array,
    engine: Array,
    slosh: Array,
    caps: Array,
    cap: Array,
    energy: Array,
    along: Array,
    mode: Array,
    rows: Array,
    kept: Array,
    kept_mode: Array,
    spare: Array,
    work: Array,
) -> int:
    """The lap: speed energy, acceleration, what rules and its state at every station.

    Returns -1, or the station without an answer. `slosh` is how far the fuel moves outward per lateral
    acceleration [m per m/s^2] and where it is without [m].
    """
    count = len(roads)
    tie = np.zeros(TIE)
    tie[SLOSH], tie[FUEL_SIDE] = slosh[0], slosh[1]
    bad = find_caps(roads, settled, car, limits, tie, caps, cap, spare, work)
    if bad >= 0:
        return bad
    _within_revs(roads, car, limits, engine, settled, tie, caps, cap, spare, work)
    start = 0
    for i in range(count):
        if cap[i] < cap[start] or (
            cap[i] == cap[start] and abs(roads[i].curvature) > abs(roads[start].curvature)
        ):
            start = i
    mode[:] = CAP
    energy[:] = cap
    along[:] = 0.0
    rows[start] = caps[start]
    if not np.isfinite(cap[start]):
        spare[0] = roads[start]
        motion = spare[0]
        motion.grip *= limits[GRIP]
        tie[KIND] = AT_SPEED
        place(FLAT_OUT * limits[TOP], tie, car, motion)
        if steady(rows[start, :SIZE], settled, car, motion, work) != CONVERGED:
            return start
        energy[start], mode[start] = 0.5 * motion.speed**2, POWER
    for _ in range(LAPS):
        was = energy[start]
        bad = sweep(
            1, roads, steps, settled, car, limits, engine, tie, caps, cap, start, energy, along, mode, rows,
            kept, kept_mode, spare, work,
        )  # fmt: skip
        if bad >= 0:
            return bad
        if abs(energy[start] - was) < CLOSED * was:
            break
    else:
        return start
    bad = sweep(
        -1, roads, steps, settled, car, limits, engine, tie, caps, cap, start, energy, along, mode, rows,
        kept, kept_mode, spare, work,
    )  # fmt: skip
    for i in range(count):
        if mode[i] == CAP:
            ahead = (energy[(i + 1) % count] - energy[i]) / steps[i]
            behind = (energy[i] - energy[i - 1]) / steps[i - 1]
            along[i] = 0.0 if ahead * behind < 0.0 else math.copysign(min(abs(ahead), abs(behind)), ahead)
    return bad
