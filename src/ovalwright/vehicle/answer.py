"""Reading a solved state: per corner what the tire, coil, shock and stop do; the body's clearances; the
bar."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled, inlined
from ..mechanics.linkage import arm_strut, axle, axle_point, axle_vector
from ..mechanics.tire import combined_peak, drive_curve, peak_slip, side_curve
from ..mechanics.vector import Vector, row, turn_by
from .blocks import front, front_wheel, rear_strut, strut, touch
from .frame import Pose, front_point, pose_of, rear_point, rear_vector, road_frame, road_height
from .law import ARM_L, AXLE_HEAVE, AXLE_ROLL, HEAVE, PITCH, ROLL, SLIP, SPIN_A, SPIN_L, STEER, TWIST
from .record import Record
from .wheel import Wheel, wheel

Array = Any


@inlined
def _tire(to: Record, at: Wheel, hub: Vector, tire: Record, motion: Record) -> None:
    to.load, to.drive, to.side = at.load, at.drive, at.side
    to.slip_angle, to.slip, to.inclination, to.steer, to.squash = (
        at.slip_angle,
        at.slip,
        at.inclination,
        math.atan(at.forward[1] / at.forward[0]),
        at.squash,
    )
    to.patch_x, to.patch_y, to.patch_z = at.patch
    to.hub_x, to.hub_y, to.hub_z = hub
    to.force_x, to.force_y, to.force_z = at.force
    to.couple_x, to.couple_y, to.couple_z = at.couple
    load = max(at.load, 1.0)
    curve = side_curve(load, at.inclination, tire, tire.grip * motion.grip)
    to.side_peak = curve.peak + abs(tire.camber_thrust * at.inclination * load)
    to.peak_slip_angle = peak_slip(curve)
    to.peak_slip = peak_slip(drive_curve(load, tire, tire.grip * motion.grip))
    to.used = combined_peak(at.slip_angle, at.slip, to.peak_slip_angle, to.peak_slip)
    to.extrapolated = 1.0 if load > tire.stiffness_load * tire.nominal_load else 0.0


@inlined
def _strut(to: Record, corner: int, coil_length: float, shock_length: float, car: Record) -> None:
    push = strut(corner, coil_length, shock_length, car)
    to.coil_length, to.shock_length = coil_length, shock_length
    to.coil_force, to.gas_force, to.stop_force, to.droop_force = push.coil, push.gas, push.stop, push.droop
    to.coil_gap = coil_length - car.coil_free[corner]
    to.stop_gap = shock_length - car.stop_length[corner]


@inlined
def height_of(corner: int, pose: Pose, side_slip: float, car: Record, motion: Record) -> float:
    """Height of a corner's ride height point over the road [m]."""
    frame = road_frame(side_slip, motion)
    p = row(car.height_point, corner)
    at = front_point(pose, p, car) if corner < 2 else rear_point(pose, p)
    ground, normal = road_height(frame, at[0], at[1])
    return float((at[2] - ground) * normal[2])


@compiled
def read_corners(u: Array, car: Record, motion: Record, corners: Array) -> None:
    """Fill four CORNER records (LF, RF, LR, RR) from a state of the 14 unknowns."""
    frame = road_frame(u[SLIP], motion)
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    for side in range(2):
        to = corners[side]
        arm = turn_by(u[ARM_L + side])
        at, hub, _, _, _ = front_wheel(side, arm, u[STEER], u[SPIN_L + side], pose, frame, car, motion)
        _tire(to, at, hub, car.tire[side], motion)
        coil, _ = arm_strut(side, arm, row(car.coil_low, side), row(car.coil_top, side), car)
        shock, _ = arm_strut(side, arm, row(car.shock_low, side), row(car.shock_top, side), car)
        _strut(to, side, coil, shock, car)
    back, _ = axle(u[AXLE_HEAVE], u[AXLE_ROLL], car, np.empty(8), np.empty((4, 8)))
    for side in range(2):
        corner = 2 + side
        to = corners[corner]
        hub = rear_point(pose, axle_point(back, row(car.axle_wheel, side)))
        spindle = rear_vector(pose, axle_vector(back, row(car.axle_spindle, side)))
        at = wheel(hub, spindle, u[SPIN_A], 0.5 * car.spin_inertia[2], frame, car.tire[corner], motion)
        _tire(to, at, hub, car.tire[corner], motion)
        coil, _, _ = rear_strut(
            axle_point(back, row(car.coil_low, corner)), row(car.coil_top, corner), back.center
        )
        shock, _, _ = rear_strut(
            axle_point(back, row(car.shock_low, corner)), row(car.shock_top, corner), back.center
        )
        _strut(to, corner, coil, shock, car)
    for corner in range(4):
        corners[corner].height = height_of(corner, pose, u[SLIP], car, motion)


@compiled
def clearances(u: Array, car: Record, motion: Record, gaps: Array) -> None:
    """Clearance of each watched body point over the road [m] into `gaps` (8)."""
    frame = road_frame(u[SLIP], motion)
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    for i in range(len(gaps)):
        _, gap = touch(i, pose, frame, car)
        gaps[i] = gap


@compiled
def bar_angle(u: Array, car: Record, motion: Record) -> float:
    """Angle of the LF bar arm less that of the RF [rad]."""
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    left = front(0, turn_by(u[ARM_L]), u[STEER], u[SPIN_L], pose, u[SLIP], car, motion)
    right = front(1, turn_by(u[ARM_L + 1]), u[STEER], u[SPIN_L + 1], pose, u[SLIP], car, motion)
    return float(left.bar - right.bar)
