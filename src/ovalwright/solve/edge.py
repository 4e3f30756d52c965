"""The edge of what a car can do at a place on the track: the fold where two trims meet and vanish.

The 14 equations of a trim and one more, with one more unknown beside the 14: the speed, or the acceleration
along the road. The fold's equation is the bordered one of Govaerts, *Numerical Methods for
Bifurcations of Dynamical Equilibria*, 2000 (from memory): no determinant, exact first derivatives. Each solve
starts from a state close by, as sweeps along a lap have one.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.answer import read_corners
from ..vehicle.law import residual_and_jacobian
from ..vehicle.record import CORNER, SIZE, Record
from .limit import SCALE, WHOLE
from .newton import CONVERGED, SINGULAR, STALLED, STEP_LIMIT, TOLERANCE, gauss, norm
from .trim import LIGHT, WRONG_BRANCH, trim_from, trim_rolling

Array = Any

AT_SPEED, AT_ALONG, AHEAD = 0.0, 1.0, 2.0
"""What the 15th unknown is: the speed; the acceleration; the acceleration, and with it the speed at the end
of a step from a neighboring place by the trapezoid rule.
"""
KIND, ENERGY, HALF_STEP, BEFORE, SHARE, SLOSH, FUEL_SIDE = range(7)
"""Entries of a tie: its kind; for AHEAD the energy V^2/2 of the place it comes from [m^2/s^2], half the step
to here [m] (negative: going back), the acceleration there [m/s^2] and the share of the acceleration that
is used; how far the fuel moves outward per lateral acceleration [m per m/s^2] and where it is without [m].
"""
TIE = 7
ALONG_SCALE = 5.0
"""Length of an acceleration on the way to an edge [m/s^2]."""
EDGE_ITERATIONS = 14
"""Most Newton steps to an edge."""
REACH_STEPS, TWISTS = 60, 5
NEAR_ENOUGH, SAME, CLOSE = 2e-3, 2e-2, 1e-5
"""Scaled steps: from which Newton is tried, how far it may land, and at which the last trim is the edge."""
OVER = 1.15
FAR_OVER = 1.8
"""Slip used over slip at peak that not both tires of an axle pass before its first edge, which comes near 1;
that no tire passes that carries more than LIGHT of the car's weight."""
NO_TRIM, BEYOND = 5, 6
"""Further ends of a search for an edge, beside those of `newton` and `trim`."""
RIGHT, LEFT = slice(SIZE, SIZE + WHOLE), slice(SIZE + WHOLE, SIZE + 2 * WHOLE)
AT, ROW = SIZE + 2 * WHOLE, SIZE + 2 * WHOLE + 1
"""Parts of a row that keeps an edge: 14 unknowns, the right and the left null vector, the 15th unknown."""
NEARLY = 1e-5
"""Size of a scaled step after which Newton's next point counts, if its residual does."""
SLOWEST = 2.0
"""Speed [m/s] below which no edge is sought."""


@compiled
def place(p: float, tie: Array, car: Record, motion: Record) -> None:
    """Speed, acceleration and fuel of a place for the value `p` of its 15th unknown."""
    if tie[KIND] == AT_SPEED:
        motion.speed = max(p, SLOWEST)
    else:
        motion.acceleration = p
        if tie[KIND] == AHEAD:
            energy = tie[ENERGY] + tie[HALF_STEP] * (tie[BEFORE] + tie[SHARE] * p)
            motion.speed = math.sqrt(2.0 * max(energy, 0.5 * SLOWEST * SLOWEST))
    lateral = motion.speed**2 * motion.curvature * math.cos(motion.bank)
    lateral -= motion.gravity * math.sin(motion.bank)
    car.fuel_cg[1] = tie[FUEL_SIDE] - tie[SLOSH] * lateral


@compiled
def scaled(j: Array, a: Array, car: Record) -> None:
    """A Jacobian in scaled unknowns and shares of the weight, into the corner of `a`."""
    for i in range(SIZE):
        for k in range(SIZE):
            a[i, k] = j[i, k] * SCALE[k] / car.weight


@compiled
def _null_vectors(j: Array, right: Array, left: Array, a: Array) -> float:
    """Replace `right` and `left` (15) by the solutions of the bordered systems of `j`; returns the fold
    function g, 0 at a fold.
    """
    for i in range(SIZE):
        a[i, :SIZE] = j[i, :SIZE]
        a[i, SIZE] = left[i]
        a[SIZE, i] = right[i]
    a[SIZE, SIZE] = 0.0
    b = np.zeros((2, WHOLE))
    b[:, SIZE] = 1.0
    turned = a.T.copy()
    if gauss(a, b[0], WHOLE) == 0.0 or gauss(turned, b[1], WHOLE) == 0.0:
        return np.nan
    right[:] = b[0]
    left[:] = b[1]
    return float(b[0, SIZE])


@compiled
def edge(
    u: Array, p: float, right: Array, left: Array, tie: Array, car: Record, motion: Record, work: Array
) -> tuple[int, float, float]:
    """Newton to the fold from the state `u`, 15th unknown `p` and null vectors (15 each) of one nearby; all
    are replaced by the fold's own.

    Returns (status, p, inward): inward is +1 where the trims that meet in the fold lie at greater p, else -1.
    """
    r, out, m = work[0], work[3, :8], work[4:8, :8]
    j, moved = work[8:22], work[22:36]
    js, a, b = np.empty((WHOLE, WHOLE)), np.empty((WHOLE, WHOLE)), np.empty(WHOLE)
    shifted = np.empty(SIZE)
    scale = SCALE[SIZE] if tie[KIND] == AT_SPEED else ALONG_SCALE
    inward, last = 0.0, np.inf
    for _ in range(EDGE_ITERATIONS):
        place(p, tie, car, motion)
        residual_and_jacobian(u, car, motion, r, j, out, m)
        size = norm(r, 0, SIZE, car.weight)
        if not size < 1e3:
            return STALLED, p, inward
        if last < NEARLY and size < TOLERANCE:
            return CONVERGED, p, inward
        scaled(j, js, car)
        for v in (right, left):
            v[SIZE] = 0.0
            v /= math.sqrt(np.sum(v * v))
        g = _null_vectors(js, right, left, a)
        if not np.isfinite(g):
            return SINGULAR, p, inward
        b[:SIZE] = -r / car.weight
        b[SIZE] = -g
        step = 1e-5 / math.sqrt(np.sum(right[:SIZE] ** 2))
        for k in range(SIZE):
            shifted[k] = u[k] + step * right[k] * SCALE[k]
        residual_and_jacobian(shifted, car, motion, work[1], moved, out, m)
        for k in range(SIZE):
            total = 0.0
            for i in range(SIZE):
                total += left[i] * (moved[i, k] - j[i, k])
            js[SIZE, k] = -total * SCALE[k] / car.weight / step
        step = 1e-5 * scale
        place(p + step, tie, car, motion)
        residual_and_jacobian(u, car, motion, work[1], moved, out, m)
        total = 0.0
        for i in range(SIZE):
            js[i, SIZE] = (work[1, i] - r[i]) / step * scale / car.weight
            for k in range(SIZE):
                total += left[i] * (moved[i, k] - j[i, k]) * SCALE[k] * right[k]
        js[SIZE, SIZE] = -total / car.weight / step * scale
        push, bow = 0.0, 0.0
        for i in range(SIZE):
            push += left[i] * js[i, SIZE]
            bow += js[SIZE, i] * right[i]
        inward = 1.0 if push * bow > 0.0 else -1.0
        if gauss(js, b, WHOLE) == 0.0:
            return SINGULAR, p, inward
        share, last = 1.0, 0.0
        for k in range(SIZE):
            last = max(last, abs(b[k]))
            if abs(b[k]) * SCALE[k] * share > STEP_LIMIT[k]:
                share = STEP_LIMIT[k] / (abs(b[k]) * SCALE[k])
        last = max(last, abs(b[SIZE]))
        for k in range(SIZE):
            u[k] += share * b[k] * SCALE[k]
        p += share * b[SIZE] * scale
    return STALLED, p, inward


@compiled
def beyond_peak(u: Array, car: Record, motion: Record) -> bool:
    """Whether both tires of an axle are past their peaks, or one that carries load is far past: then another
    edge was met before.
    """
    corners = np.zeros(4, CORNER)
    read_corners(u, car, motion, corners)
    for i in (0, 2):
        left, right = corners[i], corners[i + 1]
        if min(left.used, right.used) > OVER:
            return True
        for at in (left, right):
            if at.used > FAR_OVER and at.load > LIGHT * car.weight:
                return True
    return False


@compiled
def edge_near(
    row: Array, start: float, side: float, tie: Array, car: Record, motion: Record, work: Array
) -> tuple[int, float]:
    """The edge from the row of one nearby, its 15th unknown first taken as `start`; the row is replaced on
    success. Returns (status, 15th unknown).

    Refused are an edge of the other side (`side` +1: trims lie at less than its 15th unknown) and one of
    tires far past their peaks.
    """
    u, right, left = row[:SIZE].copy(), row[RIGHT].copy(), row[LEFT].copy()
    status, p, inward = edge(u, start, right, left, tie, car, motion, work)
    if status == CONVERGED and (inward == side or beyond_peak(u, car, motion)):
        status = WRONG_BRANCH
    if status == CONVERGED:
        row[:SIZE], row[RIGHT], row[LEFT], row[AT] = u, right, left, p
    return status, p


@compiled
def steady(u: Array, settled: Array, car: Record, motion: Record, work: Array) -> int:
    """Trim with all wheels rolling from a settled state; where the twist of the road keeps the solver from
    it, by twisting the road in steps. Returns the status.
    """
    status = trim_rolling(settled, car, motion, u, work)[0]
    if status == CONVERGED or (motion.bank_rate == 0.0 and motion.bank_bend == 0.0):
        return status
    rate, bend = motion.bank_rate, motion.bank_bend
    motion.bank_rate = motion.bank_bend = 0.0
    status = trim_rolling(settled, car, motion, u, work)[0]
    for k in range(1, TWISTS + 1):
        motion.bank_rate, motion.bank_bend = rate * k / TWISTS, bend * k / TWISTS
        if status == CONVERGED:
            status = trim_from(u, car, motion, work)[0]
    return status


@compiled
def reach(
    row: Array,
    inside: float,
    far: float,
    settled: Array,
    tie: Array,
    car: Record,
    motion: Record,
    work: Array,
) -> tuple[int, float]:
    """The first edge on the way from `inside`, where there is a trim, to `far`, by trims in steps and Newton
    at the end; where Newton does not find it, as where a stop is just touched, the last trim within CLOSE
    of it.

    Returns (status, 15th unknown): NO_TRIM without a trim at `inside`, BEYOND when `far` has one too.
    """
    u, ahead = np.zeros(SIZE), np.zeros(SIZE)
    place(inside, tie, car, motion)
    if steady(u, settled, car, motion, work) != CONVERGED:
        return NO_TRIM, inside
    scale = SCALE[SIZE] if tie[KIND] == AT_SPEED else ALONG_SCALE
    p, step, polish = inside, 0.25 * (far - inside), NEAR_ENOUGH * scale
    for _ in range(REACH_STEPS):
        goal = min(p + step, far) if far > inside else max(p + step, far)
        place(goal, tie, car, motion)
        ahead[:] = u
        if trim_from(ahead, car, motion, work)[0] == CONVERGED:
            u[:], p = ahead, goal
            if p == far:
                return BEYOND, p
            continue
        if abs(step) < polish:
            _row_of(row, u, p, tie, car, motion, work)
            status, found = edge_near(row, p, math.copysign(1.0, far - inside), tie, car, motion, work)
            if status == CONVERGED and abs(found - p) < SAME * scale:
                return status, found
            if abs(step) < CLOSE * scale:
                _row_of(row, u, p, tie, car, motion, work)
                return CONVERGED, p
            polish *= 0.1
        step *= 0.4
    return STALLED, p


@compiled
def _row_of(row: Array, u: Array, p: float, tie: Array, car: Record, motion: Record, work: Array) -> None:
    """A trim close to an edge as a row: its null vectors by inverse iteration."""
    row[:SIZE], row[AT] = u, p
    row[RIGHT], row[LEFT] = 1.0, 1.0
    place(p, tie, car, motion)
    residual_and_jacobian(u, car, motion, work[0], work[8:22], work[3, :8], work[4:8, :8])
    js, a = np.empty((WHOLE, WHOLE)), np.empty((WHOLE, WHOLE))
    scaled(work[8:22], js, car)
    for _ in range(3):
        for v in (row[RIGHT], row[LEFT]):
            v[SIZE] = 0.0
            v /= math.sqrt(np.sum(v * v))
        _null_vectors(js, row[RIGHT], row[LEFT], a)
