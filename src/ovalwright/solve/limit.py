"""How fast the car can go: the fold of its trims, what gives up there, and where it stops being stable at
fixed steer.

The branch of trims is followed by pseudo-arclength continuation with speed as the 15th unknown (Keller
1977; Seydel, *Practical Bifurcation and Stability Analysis*, from memory). The limit is the fold: beyond it
no trim exists.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.answer import read_corners
from ..vehicle.law import FY, MZ, SLIP, residual, residual_and_jacobian
from ..vehicle.record import CORNER, SIZE, Record
from .newton import CONVERGED, gauss, norm
from .trim import trim

Array = Any

WHOLE = SIZE + 1
SCALE = np.array([3000.0, 0.05, 0.01, 0.05, 0.05, 0.05, 0.03, 0.15, 0.15, 0.05, 0.05, 20.0, 20.0, 20.0, 10.0])
"""Lengths of the unknowns and of speed on the path of trims."""
FOUND, NO_START, LOST, TOO_FAST = 0, 1, 2, 3
TOP_SPEED = 120.0
"""Speed [m/s] beyond which no limit is sought."""
MAX_POINTS = 400


@compiled
def speed_column(u: Array, car: Record, motion: Record, work: Array, column: Array) -> None:
    """Derivative of the residual by speed, by central difference."""
    out, m = work[3, :8], work[4:8, :8]
    step = 1e-4
    motion.speed += step
    residual(u, car, motion, work[36], out, m)
    motion.speed -= 2.0 * step
    residual(u, car, motion, work[37], out, m)
    motion.speed += step
    for i in range(SIZE):
        column[i] = (work[36, i] - work[37, i]) / (2.0 * step)


@compiled
def _bordered(j: Array, column: Array, last_way: Array, a: Array, car: Record) -> None:
    """Scaled Jacobian of (trim, speed) with the last direction as its 15th row."""
    for i in range(SIZE):
        for k in range(SIZE):
            a[i, k] = j[i, k] * SCALE[k] / car.weight
        a[i, SIZE] = column[i] * SCALE[SIZE] / car.weight
    for k in range(WHOLE):
        a[SIZE, k] = last_way[k]


@compiled
def _direction(
    u: Array, car: Record, motion: Record, way: Array, work: Array, a: Array, column: Array
) -> bool:
    """Unit direction of the path of trims at `u` in scaled unknowns, along the last one; replaces `way`."""
    residual_and_jacobian(u, car, motion, work[0], work[8:22], work[3, :8], work[4:8, :8])
    speed_column(u, car, motion, work, column)
    _bordered(work[8:22], column, way, a, car)
    way[:SIZE] = 0.0
    way[SIZE] = 1.0
    if gauss(a, way, WHOLE) == 0.0:
        return False
    size = np.sqrt(np.sum(way * way))
    way /= size
    return bool(np.isfinite(size))


@compiled
def _step(
    u: Array,
    start: Array,
    speed: float,
    way: Array,
    ds: float,
    car: Record,
    motion: Record,
    work: Array,
    a: Array,
    column: Array,
) -> tuple[bool, int]:
    """From a trim, the trim a distance `ds` further along `way`; lands in `u` and motion.speed."""
    b = np.empty(WHOLE)
    for k in range(SIZE):
        u[k] = start[k] + ds * way[k] * SCALE[k]
    motion.speed = speed + ds * way[SIZE] * SCALE[SIZE]
    r, j, out, m = work[0], work[8:22], work[3, :8], work[4:8, :8]
    for iteration in range(9):
        residual_and_jacobian(u, car, motion, r, j, out, m)
        size = norm(r, 0, SIZE, car.weight)
        off = -ds
        for k in range(SIZE):
            off += way[k] * (u[k] - start[k]) / SCALE[k]
        off += way[SIZE] * (motion.speed - speed) / SCALE[SIZE]
        if size < 1e-10 and abs(off) < 1e-9:
            return True, iteration
        if not size < 1e3:
            return False, iteration
        speed_column(u, car, motion, work, column)
        _bordered(j, column, way, a, car)
        for i in range(SIZE):
            b[i] = -r[i] / car.weight
        b[SIZE] = -off
        if gauss(a, b, WHOLE) == 0.0:
            return False, iteration
        for k in range(SIZE):
            u[k] += b[k] * SCALE[k]
        motion.speed += b[SIZE] * SCALE[SIZE]
    return False, 9


@compiled
def follow(
    settled: Array, car: Record, motion: Record, first_speed: float, path: Array, work: Array
) -> tuple[int, int]:
    """Follow the trims from a moderate speed up to the fold. Returns (status, points).

    Each row of `path` (MAX_POINTS, 15) gets 14 unknowns and the speed [m/s]; the last row is the fold itself.
    """
    u, way, last_way = np.zeros(SIZE), np.zeros(WHOLE), np.zeros(WHOLE)
    a, column = np.zeros((WHOLE, WHOLE)), np.zeros(SIZE)
    found = False
    for share in (0.9, 0.75, 0.6, 0.45, 0.3, 0.15):
        motion.speed = share * first_speed
        if trim(settled, car, motion, u, work)[0] == CONVERGED:
            found = True
            break
    if not found:
        return NO_START, 0
    path[0, :SIZE], path[0, SIZE] = u, motion.speed
    way[SIZE] = 1.0
    if not _direction(u, car, motion, way, work, a, column):
        return LOST, 1
    if way[SIZE] < 0.0:
        way *= -1.0
    points, ds = 1, 0.05
    high_ds = -1.0
    while points < MAX_POINTS - 1:
        start, speed = path[points - 1, :SIZE], path[points - 1, SIZE]
        ok, iterations = _step(u, start, speed, way, ds, car, motion, work, a, column)
        if not ok:
            ds *= 0.4
            if ds < 1e-6:
                return LOST, points
            continue
        last_way[:] = way
        if not _direction(u, car, motion, way, work, a, column):
            return LOST, points
        if way[SIZE] <= 0.0:
            high_ds = ds
            way[:] = last_way
            break
        path[points, :SIZE], path[points, SIZE] = u, motion.speed
        points += 1
        if motion.speed > TOP_SPEED:
            return TOO_FAST, points
        if iterations <= 3:
            ds *= 1.5
        elif iterations > 5:
            ds *= 0.6
        ds = min(ds, 0.25)
    if high_ds < 0.0:
        return LOST, points
    return _close_in(path, points, way, high_ds, car, motion, work, a, column)


@compiled
def _close_in(
    path: Array,
    points: int,
    way: Array,
    high: float,
    car: Record,
    motion: Record,
    work: Array,
    a: Array,
    column: Array,
) -> tuple[int, int]:
    """Bisect the distance along the path to where speed stops rising; speed is flat there, so few halvings
    serve."""
    u, turn = np.zeros(SIZE), np.zeros(WHOLE)
    low = 0.0
    start, speed = path[points - 1, :SIZE].copy(), path[points - 1, SIZE]
    path[points, :SIZE], path[points, SIZE] = start, speed
    for _ in range(12):
        middle = 0.5 * (low + high)
        ok, _ = _step(u, start, speed, way, middle, car, motion, work, a, column)
        turn[:] = way
        if not ok or not _direction(u, car, motion, turn, work, a, column):
            return LOST, points
        if motion.speed > path[points, SIZE]:
            path[points, :SIZE], path[points, SIZE] = u, motion.speed
        if turn[SIZE] > 0.0:
            low = middle
        else:
            high = middle
    motion.speed = path[points, SIZE]
    return FOUND, points + 1


@compiled
def slip_growth(path: Array, points: int, car: Record, motion: Record) -> tuple[float, float]:
    """Mean growth of slip angle [rad per unit path], front and rear axle, on the way to the fold."""
    before, after = np.zeros(4, CORNER), np.zeros(4, CORNER)
    motion.speed = path[points - 2, SIZE]
    read_corners(path[points - 2, :SIZE], car, motion, before)
    motion.speed = path[points - 1, SIZE]
    read_corners(path[points - 1, :SIZE], car, motion, after)
    front = 0.5 * (after[0].slip_angle + after[1].slip_angle - before[0].slip_angle - before[1].slip_angle)
    rear = 0.5 * (after[2].slip_angle + after[3].slip_angle - before[2].slip_angle - before[3].slip_angle)
    return front, rear


@compiled
def plane_stability(u: Array, car: Record, motion: Record, work: Array) -> tuple[float, float, float, float]:
    """How side force [N] and yaw moment [N m] answer side slip [rad] and yaw rate [rad/s] at fixed steer
    and demand.

    The body, axle and wheel speeds follow at once (quasi-steady). Returns Fy/slip, Fy/yaw, Mz/slip, Mz/yaw.
    """
    r, j, out, m = work[0], work[8:22], work[3, :8], work[4:8, :8]
    residual_and_jacobian(u, car, motion, r, j, out, m)
    step = 1e-5
    yaw = np.zeros(SIZE)
    motion.yaw_rate_extra = step
    residual(u, car, motion, work[36], out, m)
    motion.yaw_rate_extra = -step
    residual(u, car, motion, work[37], out, m)
    motion.yaw_rate_extra = 0.0
    for i in range(SIZE):
        yaw[i] = (work[36, i] - work[37, i]) / (2.0 * step)
    n = SIZE - 3
    inner, b = np.empty((n, n)), np.empty(n)
    answer = np.empty((2, 2))
    for case in range(2):
        for i in range(n):
            b[i] = -(j[3 + i, SLIP] if case == 0 else yaw[3 + i])
            for k in range(n):
                inner[i, k] = j[3 + i, 3 + k]
        if gauss(inner, b, n) == 0.0:
            return np.nan, np.nan, np.nan, np.nan
        for row in range(2):
            equation = FY if row == 0 else MZ
            total = j[equation, SLIP] if case == 0 else yaw[equation]
            for k in range(n):
                total += j[equation, 3 + k] * b[k]
            answer[row, case] = total
    return answer[0, 0], answer[0, 1], answer[1, 0], answer[1, 1]


@compiled
def plane_inertia(car: Record) -> tuple[float, float, float]:
    """Mass [kg], mass x distance of the CG ahead of the road frame's origin [kg m], yaw inertia about it
    [kg m^2]."""
    masses = np.array(
        [
            car.front_mass,
            car.rear_mass,
            car.fuel_mass,
            car.axle_mass,
            car.unsprung_mass[0],
            car.unsprung_mass[1],
        ]
    )
    half = 0.5 * car.wheelbase
    x = np.array(
        [car.front_cg[0], car.rear_cg[0], car.fuel_cg[0], car.axle_origin[0] + car.axle_cg[0], half, half]
    )
    return (
        np.sum(masses),
        np.sum(masses * x),
        np.sum(masses * x * x) + car.front_inertia[2] + car.rear_inertia[2],
    )


def modes(
    answer: tuple[float, float, float, float], inertia: tuple[float, float, float], speed: float
) -> Any:
    """Eigenvalues [1/s] of side slip and yaw at fixed steer; a positive real part grows: the car spins or
    weaves.

    Linearized plane motion, ISO 8855 axes (Pacejka, *Tire and Vehicle Dynamics*, ch. 1, from memory).
    """
    mass, first, second = inertia
    heavy = np.array([[mass * speed, first], [first * speed, second]])
    give = np.array([[answer[0], answer[1]], [answer[2], answer[3]]])
    return np.linalg.eigvals(np.linalg.solve(heavy, give))


@compiled
def fastest_guess(car: Record, motion: Record) -> float:
    """Speed [m/s] at which the grip of the tires as a point mass would be used up (banked turn, closed
    form)."""
    grip = 0.0
    for i in range(4):
        grip += 0.25 * car.tire[i].side_grip * car.tire[i].grip * motion.grip
    t = math.tan(motion.bank)
    k = abs(motion.curvature)
    side = t if motion.curvature > 0 else -t
    room = 1.0 - grip * side
    if room < 0.2:
        room = 0.2
    return float(math.sqrt(motion.gravity * (side + grip) / (k * room)))
