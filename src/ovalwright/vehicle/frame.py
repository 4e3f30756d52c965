"""The road frame that rides with the car, and the chassis frames in it.

Road frame: origin on the road under the drawn mid-wheelbase point, z along the road's normal, x along the
car's heading in the road plane, y left (ISO 8855 turned into the bank). The path's own axes are this frame
turned by the side slip angle. Rotation and acceleration of the path axes on a banked, curving, twisting
ribbon follow from the Darboux frame of a curve on a surface (do Carmo, *Differential Geometry of Curves
and Surfaces*, ch. 4, from memory).
"""

from __future__ import annotations

import math
from collections import namedtuple

from ..compiled import inlined
from ..mechanics.number import Number, alike, cos, sin
from ..mechanics.vector import (
    Turn,
    Vector,
    add,
    cross,
    pitch_y,
    roll_x,
    subtract,
    turn_by,
)
from .record import Record

Frame = namedtuple("Frame", "velocity spin push turn ahead aside bow warp")
"""In road axes: velocity of the origin [m/s], angular velocity [rad/s], gravity less acceleration of the
origin [m/s^2], angular acceleration [rad/s^2]; unit vectors along and across the path (x, y parts); the
road's curvature along the path [1/m] and its twist [1/m]."""

Pose = namedtuple("Pose", "heave roll pitch twist front")
"""Chassis in the road frame: heave [m]; roll, pitch, twist of the front half against the rear and roll of
the front half, as turns."""


@inlined
def road_frame(side_slip: Number, motion: Record) -> Frame:
    """The frame at a side slip angle [rad, + velocity left of heading]."""
    c, s = cos(side_slip), sin(side_slip)
    v = motion.speed
    along, grow = road_rates(motion)
    spin_t = (v * along[0], v * along[1], v * along[2] + motion.yaw_rate_extra)
    turn_t = (
        motion.acceleration * along[0] + v * v * grow[0],
        motion.acceleration * along[1] + v * v * grow[1],
        motion.acceleration * along[2] + v * v * grow[2],
    )
    cb, sb = math.cos(motion.bank), math.sin(motion.bank)
    cg, sg = math.cos(motion.grade), math.sin(motion.grade)
    g = motion.gravity
    push_t = (
        -g * sg - motion.acceleration,
        g * cg * sb - v * spin_t[2] - motion.side_extra,
        -g * cg * cb + v * spin_t[1],
    )
    return Frame(
        (v * c, v * s, alike(0.0, c)),
        into(spin_t, c, s),
        into(push_t, c, s),
        into(turn_t, c, s),
        (c, s),
        (-s, c),
        -along[1],
        along[0],
    )


@inlined
def road_rates(
    motion: Record,
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Turn of the path axes per meter of road [rad/m] and its change along the road [rad/m^2].

    x: geodesic torsion (minus the road's twist by bank, plus heading change times grade), y: minus the normal
    curvature, z: the curvature in the road plane. Heading turns by curvature x cos(grade) per meter of road.
    """
    cb, sb = math.cos(motion.bank), math.sin(motion.bank)
    cg, sg = math.cos(motion.grade), math.sin(motion.grade)
    bend, dip, tilt = motion.curvature * cg, motion.crest, motion.bank_rate
    bend_grow = motion.curvature_rate * cg - motion.curvature * sg * dip
    along = (bend * sg - tilt, -(dip * cb + bend * cg * sb), bend * cg * cb - dip * sb)
    grow = (
        bend_grow * sg + bend * cg * dip - motion.bank_bend,
        dip * sb * tilt - bend_grow * cg * sb + bend * sg * dip * sb - bend * cg * cb * tilt,
        bend_grow * cg * cb - bend * sg * dip * cb - bend * cg * sb * tilt - dip * cb * tilt,
    )
    return along, grow


@inlined
def into(path: Vector, c: Number, s: Number) -> Vector:
    """A vector in path axes seen in road axes."""
    return (c * path[0] - s * path[1], s * path[0] + c * path[1], alike(path[2], c))


@inlined
def specific_force(frame: Frame, at: Vector) -> Vector:
    """Gravity less acceleration of a point that rides with the car [m/s^2]."""
    whirl = add(cross(frame.turn, at), cross(frame.spin, cross(frame.spin, at)))
    return subtract(frame.push, whirl)


@inlined
def road_height(frame: Frame, x: Number, y: Number) -> tuple[Number, Vector]:
    """Height of the road over the frame's plane [m] and its unit normal (to second order in the slopes)."""
    along = x * frame.ahead[0] + y * frame.ahead[1]
    across = x * frame.aside[0] + y * frame.aside[1]
    height = 0.5 * frame.bow * along * along + frame.warp * along * across
    slope_t = (frame.bow * along + frame.warp * across, frame.warp * along)
    slope_x = slope_t[0] * frame.ahead[0] + slope_t[1] * frame.aside[0]
    slope_y = slope_t[0] * frame.ahead[1] + slope_t[1] * frame.aside[1]
    return height, (
        -slope_x,
        -slope_y,
        1.0 - 0.5 * (slope_x * slope_x + slope_y * slope_y),
    )


@inlined
def pose_of(heave: Number, roll: Number, pitch: Number, twist: Number) -> Pose:
    """The chassis at a heave [m], roll, pitch and twist [rad]."""
    return Pose(heave, turn_by(roll), turn_by(pitch), turn_by(twist), turn_by(roll + twist))


@inlined
def rear_vector(pose: Pose, a: Vector) -> Vector:
    """A direction of the rear half in road axes."""
    return pitch_y(pose.pitch, roll_x(pose.roll, a))


@inlined
def rear_point(pose: Pose, p: Vector) -> Vector:
    """A point of the rear half in the road frame [m]."""
    q = rear_vector(pose, p)
    return (q[0], q[1], q[2] + pose.heave)


@inlined
def front_vector(pose: Pose, a: Vector) -> Vector:
    """A direction of the front half in road axes."""
    return pitch_y(pose.pitch, roll_x(pose.front, a))


@inlined
def front_point(pose: Pose, p: Vector, car: Record) -> Vector:
    """A point of the front half in the road frame [m]: twisted about the chassis' twist axis, then carried
    along."""
    axis = (0.0, car.twist_axis[0], car.twist_axis[1])
    twisted = add(axis, roll_x(pose.twist, subtract(p, axis)))
    return rear_point(pose, twisted)


@inlined
def in_front_axes(pose: Pose, a: Vector) -> Vector:
    """A road-axes direction seen from the front half."""
    return unroll(pose.front, unpitch(pose.pitch, a))


@inlined
def in_rear_axes(pose: Pose, a: Vector) -> Vector:
    """A road-axes direction seen from the rear half."""
    return unroll(pose.roll, unpitch(pose.pitch, a))


@inlined
def unroll(turn: Turn, a: Vector) -> Vector:
    """Undo a roll."""
    return roll_x((turn[0], -turn[1]), a)


@inlined
def unpitch(turn: Turn, a: Vector) -> Vector:
    """Undo a pitch."""
    return pitch_y((turn[0], -turn[1]), a)


@inlined
def twist_moment(pose: Pose, force: Vector, moment: Vector, car: Record) -> Number:
    """Work of a wrench (about the frame's origin) per radian of chassis twist, when it acts on the front
    half."""
    at = rear_point(pose, (0.0, car.twist_axis[0], car.twist_axis[1]))
    arm = cross(at, force)
    c, s = pose.pitch
    return c * (moment[0] - arm[0]) - s * (moment[2] - arm[2])
