"""Trim: the steady state of the car at a given speed, path and acceleration."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..mechanics.tire import rolling_radius, side_curve
from ..vehicle.answer import read_corners
from ..vehicle.frame import road_frame
from ..vehicle.law import DEMAND, SLIP, SPIN_A, SPIN_L, SPIN_R, STEER, torque_split
from ..vehicle.record import CORNER, SIZE, Record
from .newton import CONVERGED, STALLED, newton

Array = Any

WRONG_BRANCH = 4
ORDINARY_SIGN = 1.0
"""Sign of the determinant of the 14 x 14 Jacobian on the ordinary branch (the car at low speed)."""
FAR_PAST = 1.6
"""Slip used over slip at peak, on both tires of an axle, that no ordinary trim reaches: its fold comes near
1."""
ALONE_PAST, LIGHT = 1.15, 0.03
"""The same on the one tire that an axle stands on, where the other carries less than LIGHT of the car."""
ROLLING_ANGLE, ROLLING_SLIP = 0.12, 0.1
"""Slip angle [rad] and slip up to which a tire is not far past its peak, whatever its load."""
USABLE = 0.985
"""Largest share of a tire's peak a starting guess asks for."""


@compiled
def slip_for(share: float, load: float, tire: Record, grip: float) -> float:
    """Slip angle [rad] at which a tire gives a share (< 1) of its peak side force, by Newton on the Magic
    Formula."""
    curve = side_curve(load, 0.0, tire, grip)
    share = min(max(share, -USABLE), USABLE)
    goal = math.tan(math.asin(abs(share)) / curve.shape)
    y = goal
    for _ in range(30):
        miss = y - curve.bend * (y - math.atan(y)) - goal
        step = miss / (1.0 - curve.bend * y * y / (1.0 + y * y))
        y -= step
        if abs(step) < 1e-10:
            break
    return math.copysign(y * curve.shape * curve.peak / curve.stiffness, share)


@compiled
def loaded_radius(load: float, tire: Record) -> float:
    """Rolling radius [m] of a tire under a load [N]."""
    return float(rolling_radius(tire.free_radius, max(load, 0.0) / tire.rate, tire.radius_share))


@compiled
def start_turn(u: Array, car: Record, motion: Record) -> None:
    """From a settled state to a first guess of the turn: slip and steer from the grip the turn asks for,
    wheels rolling.

    All four tires are taken at the same share of their peaks, at the loads of the settled car times the
    road's push.
    """
    frame = road_frame(0.0, motion)
    push = -frame.push[2] / motion.gravity
    side = -frame.push[1] / motion.gravity
    capacity = 0.0
    for i in range(4):
        tire = car.tire[i]
        load = 0.25 * car.weight * push
        capacity += side_curve(load, 0.0, tire, tire.grip * motion.grip).peak
    share = side * car.weight / capacity
    load = 0.25 * car.weight * push
    front = slip_for(share, load, car.tire[1], car.tire[1].grip * motion.grip)
    rear = slip_for(share, load, car.tire[3], car.tire[3].grip * motion.grip)
    turn = 0.5 * car.wheelbase * motion.curvature * math.cos(motion.bank)
    u[SLIP] = turn - rear
    u[STEER] = (front - rear + 2.0 * turn) / car.steer_gain
    u[DEMAND] = -frame.push[0] * car.weight / motion.gravity + abs(share * side) * 0.1 * car.weight
    u[DEMAND] += 0.5 * motion.air_density * motion.speed**2 * car.drag_area
    spread = 0.82 * motion.curvature
    u[SPIN_L] = motion.speed * (1.0 - spread) / loaded_radius(load, car.tire[0])
    u[SPIN_R] = motion.speed * (1.0 + spread) / loaded_radius(load, car.tire[1])
    if motion.lock_left > 0.5:
        u[SPIN_L] = 0.0
    if motion.lock_right > 0.5:
        u[SPIN_R] = 0.0
    axle = 0.5 * (loaded_radius(load, car.tire[2]) + loaded_radius(load, car.tire[3]))
    u[SPIN_A] = motion.speed / axle


@compiled
def plainly_rolling(u: Array, car: Record, motion: Record) -> bool:
    """Whether both axles' slip angles and every wheel's slip are so small that no tire can be far past its
    peak.

    Slip angles as on a two-axle car, from side slip, steer and path; the closer look is `read_corners`.
    """
    turn = 0.5 * car.wheelbase * motion.curvature * math.cos(motion.bank)
    front = u[STEER] * car.steer_gain - u[SLIP] - turn
    rear = turn - u[SLIP]
    if max(abs(front), abs(rear)) > ROLLING_ANGLE:
        return False
    left = u[SPIN_L] * car.tire[0].free_radius / motion.speed - 1.0
    right = u[SPIN_R] * car.tire[1].free_radius / motion.speed - 1.0
    axle = u[SPIN_A] * car.tire[3].free_radius / motion.speed - 1.0
    return bool(max(abs(left), abs(right), abs(axle)) < ROLLING_SLIP)


@compiled
def axle_past(left: Record, right: Record, weight: float) -> bool:
    """Whether an axle slips farther than any ordinary trim: both tires, or the one that it stands on."""
    if min(left.load, right.load) < LIGHT * weight:
        return bool((left.used if left.load > right.load else right.used) > ALONE_PAST)
    return bool(min(left.used, right.used) > FAR_PAST)


@compiled
def past_peak(u: Array, car: Record, motion: Record) -> bool:
    """Whether both rolling tires of an axle are far past their peak: a plow or a slide, however steady."""
    if plainly_rolling(u, car, motion):
        return False
    corners = np.zeros(4, CORNER)
    read_corners(u, car, motion, corners)
    front = motion.lock_left + motion.lock_right < 0.5 and axle_past(corners[0], corners[1], car.weight)
    return bool(front or axle_past(corners[2], corners[3], car.weight))


@compiled
def trim_from(u: Array, car: Record, motion: Record, work: Array) -> tuple[int, float, int, int]:
    """Trim from the state in `u`. Returns (status, norm, iterations, evaluations); the wrong branch is
    refused."""
    status, size, iterations, evaluations, sign = newton(u, 0, SIZE, car, motion, work)
    if status == CONVERGED and (sign != ORDINARY_SIGN or past_peak(u, car, motion)):
        return WRONG_BRANCH, size, iterations, evaluations
    return status, size, iterations, evaluations


@compiled
def trim_rolling(
    settled: Array, car: Record, motion: Record, u: Array, work: Array
) -> tuple[int, float, int, int]:
    """Trim from a settled state; the answer lands in `u`. Returns (status, norm, iterations, evaluations).

    First straight from the guess; if that fails, by raising the speed in steps from a slow turn, each step
    starting from the one before.
    """
    u[:] = settled
    start_turn(u, car, motion)
    status, size, iterations, evaluations = trim_from(u, car, motion, work)
    if status == CONVERGED:
        return status, size, iterations, evaluations
    goal = motion.speed
    drive = motion.acceleration
    low = 0.3
    reached = 0.0
    step = 0.35
    share = low
    last = work[38]
    u[:] = settled
    for _ in range(40):
        motion.speed = share * goal
        motion.acceleration = drive * share * share
        if reached == 0.0:
            u[:] = settled
            start_turn(u, car, motion)
        else:
            for k in range(SPIN_L, SIZE):
                u[k] = last[k] * share / reached
        status, size, more, extra = trim_from(u, car, motion, work)
        iterations += more
        evaluations += extra
        if status == CONVERGED:
            if share == 1.0:
                break
            reached = share
            last[:] = u
            step *= 1.4
        else:
            if reached == 0.0:
                low *= 0.6
                share = low
                if low < 0.05:
                    break
                continue
            u[:] = last
            step *= 0.4
            if step < 1e-3:
                break
        share = min(1.0, reached + step)
    motion.speed = goal
    motion.acceleration = drive
    return status, size, iterations, evaluations


@compiled
def brakes_lock(u: Array, car: Record, motion: Record, work: Array) -> bool:
    """Whether each locked front wheel's brake asks at least what its tire gives, and each rolling wheel
    rolls forward."""
    _, brake, _ = torque_split(u[DEMAND], u[SPIN_A], car, motion)
    corners = np.zeros(4, CORNER)
    read_corners(u, car, motion, corners)
    for side in range(2):
        locked = motion.lock_left > 0.5 if side == 0 else motion.lock_right > 0.5
        if locked:
            if brake > corners[side].drive * car.tire[side].free_radius * 0.99:
                return False
        elif u[SPIN_L + side] < 0.0:
            return False
    return True


@compiled
def trim(settled: Array, car: Record, motion: Record, u: Array, work: Array) -> tuple[int, float, int, int]:
    """Trim from a settled state; the answer lands in `u`. Returns (status, norm, iterations, evaluations).

    A front wheel whose tire cannot hold its brake torque is locked: tried, in this order, with all wheels
    rolling, then with the left, the right or both front wheels locked. motion.lock_left and lock_right tell
    which one answered.
    """
    motion.lock_left = motion.lock_right = 0.0
    status, size, iterations, evaluations = trim_rolling(settled, car, motion, u, work)
    if motion.acceleration >= 0.0 or (status == CONVERGED and brakes_lock(u, car, motion, work)):
        return status, size, iterations, evaluations
    for case in range(1, 4):
        motion.lock_left = 1.0 if case != 2 else 0.0
        motion.lock_right = 1.0 if case != 1 else 0.0
        status, size, more, extra = trim_rolling(settled, car, motion, u, work)
        iterations += more
        evaluations += extra
        if status == CONVERGED and brakes_lock(u, car, motion, work):
            return status, size, iterations, evaluations
    motion.lock_left = motion.lock_right = 0.0
    return STALLED if status == CONVERGED else status, size, iterations, evaluations
