"""Where every part of the car is in a solved state: the solver's own links, read as points to draw."""

from __future__ import annotations

from typing import Any

import numpy as np

from ovalwright.compiled import compiled, inlined
from ovalwright.mechanics.linkage import (
    axle,
    axle_point,
    axle_vector,
    bar_arm,
    circle_meets_sphere,
    swing,
    upright,
)
from ovalwright.mechanics.number import sqrt
from ovalwright.mechanics.vector import Vector, add, cross, dot, row, subtract, times, turn_by
from ovalwright.vehicle.blocks import rack_shift
from ovalwright.vehicle.frame import front_point, front_vector, pose_of, rear_point, rear_vector
from ovalwright.vehicle.law import ARM_L, AXLE_HEAVE, AXLE_ROLL, HEAVE, PITCH, ROLL, STEER, TWIST
from ovalwright.vehicle.record import Record

Array = Any

_PARTS: list[tuple[str, int, str]] = [
    ("wheel", 4, "wheel centers"),
    ("spindle", 4, "unit spin axes, pointing left"),
    ("forward", 4, "unit vectors where the wheels head, in the wheel planes"),
    ("ball_lower", 2, "lower ball joints"),
    ("ball_upper", 2, "upper ball joints"),
    ("tie_inner", 2, "inner tie rod ends"),
    ("tie_outer", 2, "outer tie rod ends"),
    ("bar_center", 2, "centers of the bar's arms"),
    ("bar_tip", 2, "where the links meet the bar's arms"),
    ("bar_foot", 2, "where they meet the lower arms"),
    ("link_frame", 4, "rear link ends on the frame"),
    ("link_axle", 4, "rear link ends on the axle"),
    ("coil_low", 4, "coil ends on arm or axle"),
    ("coil_top", 4, "coil ends on the frame"),
    ("shock_low", 4, "shock ends on arm or axle"),
    ("shock_top", 4, "shock ends on the frame"),
    ("axle_cg", 1, "center of gravity of the axle"),
]
PARTS = np.dtype([(name, np.float64, (count, 3)) for name, count, _ in _PARTS], align=True)
"""Points of the car in road axes [m]: LF, RF, LR, RR; left, right; the rear links in their own order."""


@inlined
def _put(table: Array, i: int, a: Vector) -> None:
    table[i, 0], table[i, 1], table[i, 2] = a[0], a[1], a[2]


@inlined
def _heading(spindle: Vector) -> Vector:
    """Unit vector along a wheel's heading in its own plane."""
    ahead = cross(spindle, (0.0, 0.0, 1.0))
    return times(1.0 / sqrt(dot(ahead, ahead)), ahead)


@compiled
def read_parts(u: Array, car: Record, at: Record) -> None:
    """Fill a PARTS record from a state of the 14 unknowns."""
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    for side in range(2):
        arm, rack = turn_by(u[ARM_L + side]), rack_shift(u[STEER], car)
        pivot, axis = row(car.arm_pivot, side), row(car.arm_axis, side)
        stands = upright(side, arm, rack, car)
        upper = circle_meets_sphere(
            row(car.upper_center, side),
            row(car.upper_e1, side),
            row(car.upper_e2, side),
            car.upper_radius[side],
            stands.ball,
            car.kingpin_length[side],
            car.upper_branch[side],
        )
        king = times(1.0 / car.kingpin_length[side], subtract(upper, stands.ball))
        first = _steering_arm(side, king, stands.wheel, stands.ball, stands.spindle, car)
        outer = add(stands.ball, add(times(car.tie_height[side], king), times(car.tie_radius[side], first)))
        sine, cosine, _ = bar_arm(side, arm, car)
        lever = add(times(cosine, row(car.bar_e1, side)), times(sine, row(car.bar_e2, side)))
        tip = add(row(car.bar_center, side), times(car.bar_arm[side], lever))
        spindle = front_vector(pose, stands.spindle)
        _put(at.wheel, side, front_point(pose, stands.wheel, car))
        _put(at.spindle, side, spindle)
        _put(at.forward, side, _heading(spindle))
        _put(at.ball_lower, side, front_point(pose, stands.ball, car))
        _put(at.ball_upper, side, front_point(pose, upper, car))
        _put(at.tie_inner, side, front_point(pose, add(row(car.tie_inner, side), rack), car))
        _put(at.tie_outer, side, front_point(pose, outer, car))
        _put(at.bar_center, side, front_point(pose, row(car.bar_center, side), car))
        _put(at.bar_tip, side, front_point(pose, tip, car))
        foot = swing(pivot, axis, arm, row(car.bar_foot, side))
        _put(at.bar_foot, side, front_point(pose, foot, car))
        coil, shock = row(car.coil_low, side), row(car.shock_low, side)
        _put(at.coil_low, side, front_point(pose, swing(pivot, axis, arm, coil), car))
        _put(at.shock_low, side, front_point(pose, swing(pivot, axis, arm, shock), car))
        _put(at.coil_top, side, front_point(pose, row(car.coil_top, side), car))
        _put(at.shock_top, side, front_point(pose, row(car.shock_top, side), car))
    back, _ = axle(u[AXLE_HEAVE], u[AXLE_ROLL], car, np.empty(8), np.empty((4, 8)))
    for side in range(2):
        i = 2 + side
        spindle = rear_vector(pose, axle_vector(back, row(car.axle_spindle, side)))
        _put(at.wheel, i, rear_point(pose, axle_point(back, row(car.axle_wheel, side))))
        _put(at.spindle, i, spindle)
        _put(at.forward, i, _heading(spindle))
        _put(at.coil_low, i, rear_point(pose, axle_point(back, row(car.coil_low, i))))
        _put(at.shock_low, i, rear_point(pose, axle_point(back, row(car.shock_low, i))))
        _put(at.coil_top, i, rear_point(pose, row(car.coil_top, i)))
        _put(at.shock_top, i, rear_point(pose, row(car.shock_top, i)))
    _put(at.axle_cg, 0, rear_point(pose, axle_point(back, (car.axle_cg[0], car.axle_cg[1], car.axle_cg[2]))))
    for i in range(4):
        _put(at.link_frame, i, rear_point(pose, row(car.link_frame, i)))
        _put(at.link_axle, i, rear_point(pose, axle_point(back, row(car.link_axle, i))))


@inlined
def _steering_arm(
    side: int, king: Vector, wheel: Vector, ball: Vector, spindle: Vector, car: Record
) -> Vector:
    """Unit vector of the steering arm across the kingpin, from where the upright holds wheel and spindle.

    Two vectors across the kingpin are known in the upright's own axes (hub and spindle) and in the chassis';
    the longer one tells how far the upright has turned.
    """
    hub, spin = row(car.hub, side), row(car.spindle, side)
    own = spin if spin[1] * spin[1] + spin[2] * spin[2] > 1e-3 else hub
    seen = spindle if spin[1] * spin[1] + spin[2] * spin[2] > 1e-3 else subtract(wheel, ball)
    across = subtract(seen, times(dot(seen, king), king))
    size = own[1] * own[1] + own[2] * own[2]
    return times(1.0 / size, add(times(own[1], across), times(-own[2], cross(king, across))))


@compiled
def carry_points(u: Array, car: Record, points: Array, on_front: Array, out: Array) -> None:
    """Points fixed to the chassis (N, 3), in chassis axes [m], into road axes; `on_front` (N,) tells which
    half each moves with.
    """
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    for i in range(len(points)):
        p = row(points, i)
        _put(out, i, front_point(pose, p, car) if on_front[i] else rear_point(pose, p))
