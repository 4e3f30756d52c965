"""Exact rigid links: the front corner of two arms, a tie rod and an upright; the live axle on four links;
the bar arm.

Positions come in closed form (front) or from a small Newton iteration (axle). The motion per unit of arm
angle, or of axle heave and roll, comes from the links' velocity constraints at that very position, so
every force does its virtual work on the motion the links really allow. Roll centers, motion ratios and
camber gain are results of this, not inputs.
"""

from __future__ import annotations

from collections import namedtuple
from typing import Any

import numpy as np

from ..compiled import compiled, inlined
from .number import Number, alike, sqrt, value
from .vector import (
    Turn,
    Vector,
    add,
    cross,
    dot,
    length,
    pitch_y,
    roll_x,
    row,
    subtract,
    times,
    turn_about,
    turn_by,
    unit,
    yaw_z,
)

NDArray = Any
Four = tuple[Number, Number, Number, Number]

Upright = namedtuple("Upright", "ball wheel spindle speed spin")
"""In chassis axes: lower ball joint [m], wheel center [m], spin axis (unit, pointing left), and per radian
of arm angle the velocity of the lower ball joint [m] and the angular velocity of the upright [1]."""

AxlePose = namedtuple("AxlePose", "center yaw pitch roll")
"""In chassis axes: where the axle's reference point is [m], and its yaw, pitch and roll as turns."""

AxleMotion = namedtuple("AxleMotion", "heave_speed heave_spin roll_speed roll_spin")
"""Velocity of the reference point and angular velocity per unit heave speed, and per unit roll rate."""


@inlined
def swing(pivot: Vector, axis: Vector, turn: Turn, point: Vector) -> Vector:
    """A point of an arm swung about its pivot axis from the drawn position."""
    return add(pivot, turn_about(axis, turn, subtract(point, pivot)))


@inlined
def circle_meets_sphere(
    center: Vector,
    e1: Vector,
    e2: Vector,
    radius: float,
    other: Vector,
    reach: float,
    branch: float,
) -> Vector:
    """The point of a circle (center, in-plane unit axes e1 e2, radius) at distance `reach` from `other`.

    NaN when they do not meet. `branch` is +1 or -1 and picks one of the two points.
    """
    gap = subtract(center, other)
    a = 2.0 * radius * dot(gap, e1)
    b = 2.0 * radius * dot(gap, e2)
    c = reach * reach - dot(gap, gap) - radius * radius
    size = a * a + b * b
    root = sqrt(size - c * c)
    cosine = (a * c - branch * b * root) / size
    sine = (b * c + branch * a * root) / size
    return add(center, add(times(radius * cosine, e1), times(radius * sine, e2)))


@inlined
def upright(side: int, turn: Turn, rack: Vector, car: Number) -> Upright:
    """Where the front upright of a side (0 left, 1 right) is at an arm's turn (+ bump) and a rack shift
    [m]."""
    pivot, axis = row(car.arm_pivot, side), row(car.arm_axis, side)
    lower = swing(pivot, axis, turn, row(car.ball_lower, side))
    upper = circle_meets_sphere(
        row(car.upper_center, side),
        row(car.upper_e1, side),
        row(car.upper_e2, side),
        car.upper_radius[side],
        lower,
        car.kingpin_length[side],
        car.upper_branch[side],
    )
    king = times(1.0 / car.kingpin_length[side], subtract(upper, lower))
    inner = add(row(car.tie_inner, side), rack)
    middle = add(lower, times(car.tie_height[side], king))
    toward = subtract(inner, middle)
    across = unit(subtract(toward, times(dot(toward, king), king)))
    outer = circle_meets_sphere(
        middle,
        across,
        cross(king, across),
        car.tie_radius[side],
        inner,
        car.tie_length[side],
        car.tie_branch[side],
    )
    first = times(1.0 / car.tie_radius[side], subtract(outer, middle))
    second = cross(king, first)
    wheel = add(lower, in_axes(row(car.hub, side), king, first, second))
    spindle = in_axes(row(car.spindle, side), king, first, second)

    speed = cross(axis, subtract(lower, pivot))
    upper_axis = row(car.upper_axis, side)
    upper_swing = cross(upper_axis, subtract(upper, row(car.upper_center, side)))
    rate = dot(king, speed) / dot(king, upper_swing)
    relative = subtract(times(rate, upper_swing), speed)
    tilt = times(1.0 / car.kingpin_length[side], cross(king, relative))
    rod, arm = subtract(outer, inner), subtract(outer, lower)
    steer = -dot(rod, add(speed, cross(tilt, arm))) / dot(rod, cross(king, arm))
    return Upright(lower, wheel, spindle, speed, add(tilt, times(steer, king)))


@inlined
def in_axes(parts: Vector, k: Vector, first: Vector, second: Vector) -> Vector:
    """A vector given by its parts along three unit axes."""
    return add(add(times(parts[0], k), times(parts[1], first)), times(parts[2], second))


@inlined
def arm_strut(side: int, turn: Turn, low: Vector, top: Vector, car: Number) -> tuple[Number, Number]:
    """Length [m] of a strut from the lower arm to the frame, and its change per radian of arm angle [m]."""
    pivot, axis = row(car.arm_pivot, side), row(car.arm_axis, side)
    end = swing(pivot, axis, turn, low)
    strut = subtract(end, top)
    size = length(strut)
    return size, dot(strut, cross(axis, subtract(end, pivot))) / size


@inlined
def bar_arm(side: int, turn: Turn, car: Number) -> tuple[Number, Number, Number]:
    """Sine and cosine of the bar arm's angle from its drawn position, and its turn per radian of arm angle.

    The bar lies along y through `bar_axis`; its arm and the link to the lower arm are rigid.
    """
    pivot, axis = row(car.arm_pivot, side), row(car.arm_axis, side)
    foot = swing(pivot, axis, turn, row(car.bar_foot, side))
    center = row(car.bar_center, side)
    e1, e2 = row(car.bar_e1, side), row(car.bar_e2, side)
    tip = circle_meets_sphere(
        center,
        e1,
        e2,
        car.bar_arm[side],
        foot,
        car.bar_link[side],
        car.bar_branch[side],
    )
    lever = times(1.0 / car.bar_arm[side], subtract(tip, center))
    link = subtract(foot, tip)
    foot_speed = cross(axis, subtract(foot, pivot))
    tip_speed = cross(cross(e1, e2), subtract(tip, center))
    return dot(lever, e2), dot(lever, e1), dot(link, foot_speed) / dot(link, tip_speed)


@inlined
def axle_point(pose: AxlePose, local: Vector) -> Vector:
    """A point fixed to the axle, in chassis axes [m]."""
    return add(pose.center, axle_vector(pose, local))


@inlined
def axle_vector(pose: AxlePose, local: Vector) -> Vector:
    """A direction fixed to the axle, in chassis axes."""
    return yaw_z(pose.yaw, pitch_y(pose.pitch, roll_x(pose.roll, local)))


@inlined
def link_state(pose: AxlePose, i: int, car: Number) -> tuple[Vector, Vector]:
    """Link i as a vector frame end to axle end [m], and its moment arm about the axle's reference point
    [m^2]."""
    arm = axle_vector(pose, row(car.link_axle, i))
    link = subtract(add(pose.center, arm), row(car.link_frame, i))
    return link, cross(arm, link)


@inlined
def link_row(link: Vector, moment: Vector, yaw: Turn) -> Four:
    """How a link's half squared length grows with axle x, y, pitch and yaw."""
    return link[0], link[1], yaw[0] * moment[1] - yaw[1] * moment[0], moment[2]


@compiled
def invert4(m: NDArray) -> bool:
    """Invert a 4 x 4 matrix held in the left half of a (4, 8) array; the inverse lands in the right half."""
    for i in range(4):
        for j in range(4):
            m[i, 4 + j] = 1.0 if i == j else 0.0
    for k in range(4):
        best = k
        for i in range(k + 1, 4):
            if abs(m[i, k]) > abs(m[best, k]):
                best = i
        if not abs(m[best, k]) > 1e-12:
            return False
        for j in range(8):
            m[k, j], m[best, j] = m[best, j], m[k, j]
        pivot = 1.0 / m[k, k]
        for j in range(8):
            m[k, j] *= pivot
        for i in range(4):
            if i != k:
                f = m[i, k]
                for j in range(8):
                    m[i, j] -= f * m[k, j]
    return True


@compiled
def close_axle(heave: float, roll: float, car: Number, out: NDArray, m: NDArray) -> bool:
    """Find axle x, y, pitch, yaw (into out[:4]) that close the four links at a heave [m] and roll [rad].

    On return m[:, 4:] is the inverse of the links' Jacobian there. False when the links cannot close.
    """
    for i in range(4):
        out[i] = car.axle_start[i]
    rolled = turn_by(roll)
    for _ in range(25):
        center = (
            car.axle_origin[0] + out[0],
            car.axle_origin[1] + out[1],
            car.axle_origin[2] + heave,
        )
        pose = AxlePose(center, turn_by(out[3]), turn_by(out[2]), rolled)
        for i in range(4):
            link, moment = link_state(pose, i, car)
            m[i, 0], m[i, 1], m[i, 2], m[i, 3] = link_row(link, moment, pose.yaw)
            out[4 + i] = 0.5 * (dot(link, link) - car.link_length[i] * car.link_length[i])
        if not invert4(m):
            return False
        worst = 0.0
        for i in range(4):
            step = m[i, 4] * out[4] + m[i, 5] * out[5] + m[i, 6] * out[6] + m[i, 7] * out[7]
            out[i] -= step
            worst = max(worst, abs(step))
        if worst < 1e-9:
            return True
        if not worst < 1.0:
            return False
    return False


@inlined
def corrected(guess: float, i: int, m: NDArray, e0: Number, e1: Number, e2: Number, e3: Number) -> Number:
    """One Newton step on component i in the arithmetic of the residuals e: it carries their derivatives."""
    return guess - (m[i, 4] * e0 + m[i, 5] * e1 + m[i, 6] * e2 + m[i, 7] * e3)


@inlined
def axle(heave: Number, roll: Number, car: Number, out: NDArray, m: NDArray) -> tuple[AxlePose, AxleMotion]:
    """Where the live axle is at a heave [m] and roll [rad] to the chassis, and how it moves per unit of each.

    The inner Newton iteration runs in plain floats; its derivatives come from the implicit-function
    theorem, as one more step taken in the arithmetic of the inputs. `out` (8) and `m` (4, 8) are scratch.
    NaN if the links cannot close.
    """
    if not close_axle(value(heave), value(roll), car, out, m):
        out[0] = np.nan
    x, y, pitch, yaw = out[0], out[1], out[2], out[3]
    origin = (car.axle_origin[0], car.axle_origin[1], car.axle_origin[2])
    rolled = turn_by(roll)
    nil = alike(0.0, heave)
    near_center = (x + origin[0] + nil, y + origin[1] + nil, origin[2] + heave)
    near = AxlePose(near_center, turn_by(yaw), turn_by(pitch), rolled)
    half = (
        length_miss(near, 0, car),
        length_miss(near, 1, car),
        length_miss(near, 2, car),
        length_miss(near, 3, car),
    )
    center = (
        origin[0] + corrected(x, 0, m, half[0], half[1], half[2], half[3]),
        origin[1] + corrected(y, 1, m, half[0], half[1], half[2], half[3]),
        origin[2] + heave,
    )
    pose = AxlePose(
        center,
        turn_by(corrected(yaw, 3, m, half[0], half[1], half[2], half[3])),
        turn_by(corrected(pitch, 2, m, half[0], half[1], half[2], half[3])),
        rolled,
    )
    l0, n0 = link_state(pose, 0, car)
    l1, n1 = link_state(pose, 1, car)
    l2, n2 = link_state(pose, 2, car)
    l3, n3 = link_state(pose, 3, car)
    rows = (
        link_row(l0, n0, pose.yaw),
        link_row(l1, n1, pose.yaw),
        link_row(l2, n2, pose.yaw),
        link_row(l3, n3, pose.yaw),
    )
    lift = follow((l0[2], l1[2], l2[2], l3[2]), rows, m)
    one = alike(1.0, heave)
    over = yaw_z(pose.yaw, pitch_y(pose.pitch, (one, nil, nil)))
    turn = follow((dot(n0, over), dot(n1, over), dot(n2, over), dot(n3, over)), rows, m)
    heave_spin = add(yaw_z(pose.yaw, (nil, lift[2], nil)), (nil, nil, lift[3]))
    roll_spin = add(add(over, yaw_z(pose.yaw, (nil, turn[2], nil))), (nil, nil, turn[3]))
    return pose, AxleMotion((lift[0], lift[1], one), heave_spin, (turn[0], turn[1], nil), roll_spin)


@inlined
def length_miss(pose: AxlePose, i: int, car: Number) -> Number:
    """Half the excess of link i's squared length [m^2]."""
    link, _ = link_state(pose, i, car)
    return 0.5 * (dot(link, link) - car.link_length[i] * car.link_length[i])


@inlined
def follow(drive: Four, rows: tuple[Four, Four, Four, Four], m: NDArray) -> Four:
    """Axle x, y, pitch and yaw speed that keep all four link lengths while a given motion drives them."""
    d0, d1, d2, d3 = value(drive[0]), value(drive[1]), value(drive[2]), value(drive[3])
    g0 = corrected(0.0, 0, m, d0, d1, d2, d3)
    g1 = corrected(0.0, 1, m, d0, d1, d2, d3)
    g2 = corrected(0.0, 2, m, d0, d1, d2, d3)
    g3 = corrected(0.0, 3, m, d0, d1, d2, d3)
    e0 = drive[0] + rows[0][0] * g0 + rows[0][1] * g1 + rows[0][2] * g2 + rows[0][3] * g3
    e1 = drive[1] + rows[1][0] * g0 + rows[1][1] * g1 + rows[1][2] * g2 + rows[1][3] * g3
    e2 = drive[2] + rows[2][0] * g0 + rows[2][1] * g1 + rows[2][2] * g2 + rows[2][3] * g3
    e3 = drive[3] + rows[3][0] * g0 + rows[3][1] * g1 + rows[3][2] * g2 + rows[3][3] * g3
    return (
        corrected(g0, 0, m, e0, e1, e2, e3),
        corrected(g1, 1, m, e0, e1, e2, e3),
        corrected(g2, 2, m, e0, e1, e2, e3),
        corrected(g3, 3, m, e0, e1, e2, e3),
    )
