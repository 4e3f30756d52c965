"""The one force law: the residual of the car's motion, and with it its exact derivatives.

14 unknowns and 14 equations, named in `record.UNKNOWNS` and `record.EQUATIONS`. Everything the product
answers is a question put to these equations. Residuals are in N and N m; the solvers divide by the car's
weight.
"""

from __future__ import annotations

from typing import Any

from ..compiled import compiled, inlined
from ..mechanics.contact import ramp
from ..mechanics.number import Number, partial, seed, seed_narrow, value
from ..mechanics.vector import turn_by
from .blocks import bar_torque, body, front, rear, shaft_lag
from .frame import pose_of
from .record import Record

Array = Any

(
    DEMAND,
    SLIP,
    STEER,
    HEAVE,
    ROLL,
    PITCH,
    TWIST,
    ARM_L,
    ARM_R,
    AXLE_HEAVE,
    AXLE_ROLL,
    SPIN_L,
    SPIN_R,
    SPIN_A,
) = range(14)
FX, FY, MZ, FZ, MX, MY, TWISTING, WORK_L, WORK_R, WORK_H, WORK_A, TORQUE_L, TORQUE_R, TORQUE_A = range(14)
DEMAND_BAND = 5.0
"""Half width [N] of the smooth passage from braking to driving."""


@inlined
def torque_split(demand: Number, spin: Number, car: Record, motion: Record) -> tuple[Number, Number, Number]:
    """Torque [N m] of the engine at the axle, of each front brake and of the rear brakes for a demand [N].

    Positive demand: engine. Negative: first the engine, as much as it holds with the throttle closed at this
    axle speed `spin` [rad/s], the brakes the rest by the front share.
    """
    radius = car.tire[3].free_radius
    if motion.standing > 0.5:
        return demand * 0.0, demand * 0.0, demand * 0.0
    drive = ramp(demand, DEMAND_BAND)
    slow = ramp(-demand, DEMAND_BAND)
    pads = ramp(slow - car.engine_drag / radius * spin, DEMAND_BAND) * radius
    engine = (drive - slow) * radius + pads
    return engine, -0.5 * car.brake_front * pads, -(1.0 - car.brake_front) * pads


@inlined
def chassis_torque(twist: Number, car: Record) -> Number:
    """Torque of the twisted chassis [N m], against the twist of the front half."""
    return car.twist_rate * (twist - car.twist_built_in)


@inlined
def _gather(r: Array, force: Any, moment: Any) -> None:
    r[FX] += value(force[0])
    r[FY] += value(force[1])
    r[FZ] += value(force[2])
    r[MX] += value(moment[0])
    r[MY] += value(moment[1])
    r[MZ] += value(moment[2])


@inlined
def _spread(r: Array, j: Array, equation: int, share: Number, columns: Array, lanes: int) -> None:
    r[equation] += value(share)
    for lane in range(lanes):
        j[equation, columns[lane]] += partial(share, lane)


@inlined
def _spread_wrench(r: Array, j: Array, force: Any, moment: Any, columns: Array, lanes: int) -> None:
    _spread(r, j, FX, force[0], columns, lanes)
    _spread(r, j, FY, force[1], columns, lanes)
    _spread(r, j, FZ, force[2], columns, lanes)
    _spread(r, j, MX, moment[0], columns, lanes)
    _spread(r, j, MY, moment[1], columns, lanes)
    _spread(r, j, MZ, moment[2], columns, lanes)


@compiled
def residual(u: Array, car: Record, motion: Record, r: Array, out: Array, m: Array) -> None:
    """Residual of the 14 equations at the 14 unknowns `u`, into `r` [N, N m]. `out` (8) and `m` (4, 8) are
    scratch."""
    r[:] = 0.0
    pose = pose_of(u[HEAVE], u[ROLL], u[PITCH], u[TWIST])
    engine, front_brake, rear_brake = torque_split(u[DEMAND], u[SPIN_A], car, motion)
    left = front(0, turn_by(u[ARM_L]), u[STEER], u[SPIN_L], pose, u[SLIP], car, motion)
    right = front(1, turn_by(u[ARM_R]), u[STEER], u[SPIN_R], pose, u[SLIP], car, motion)
    back = rear(u[AXLE_HEAVE], u[AXLE_ROLL], u[SPIN_A], pose, u[SLIP], car, motion, out, m)
    hull = body(pose, u[SLIP], u[SPIN_A], car, motion)
    _gather(r, left.force, left.moment)
    _gather(r, right.force, right.moment)
    _gather(r, back.force, back.moment)
    _gather(r, hull.force, hull.moment)
    shaft = (engine - shaft_lag(car, motion)) / car.shaft_ratio
    bar = bar_torque(left.bar - right.bar, car)
    r[TWISTING] = left.twist + right.twist + hull.twist + shaft - chassis_torque(u[TWIST], car)
    r[WORK_L] = left.arm - bar * left.bar_turn
    r[WORK_R] = right.arm + bar * right.bar_turn
    r[WORK_H] = back.heave - shaft * back.heave_turn
    r[WORK_A] = back.roll - shaft * back.roll_turn
    r[TORQUE_L] = -u[SPIN_L] * car.weight * 1e-3 if motion.lock_left > 0.5 else front_brake - left.spin
    r[TORQUE_R] = -u[SPIN_R] * car.weight * 1e-3 if motion.lock_right > 0.5 else front_brake - right.spin
    r[TORQUE_A] = engine + rear_brake - back.spin - shaft_lag(car, motion)


@compiled
def residual_and_jacobian(
    u: Array, car: Record, motion: Record, r: Array, j: Array, out: Array, m: Array
) -> None:
    """Residual into `r` and its exact derivatives by each unknown into `j` (14, 14)."""
    r[:] = 0.0
    j[:, :] = 0.0
    engine, front_brake, rear_brake = torque_split(seed(u[DEMAND], 0), seed(u[SPIN_A], 1), car, motion)
    shaft = (engine - shaft_lag(car, motion)) / car.shaft_ratio

    bar_at, bar_turn, bar_bend = (0.0, 0.0), (0.0, 0.0), (0.0, 0.0)
    for side in range(2):
        columns = (ARM_L + side, STEER, HEAVE, ROLL, PITCH, TWIST, SLIP, SPIN_L + side)
        pose = pose_of(seed(u[HEAVE], 2), seed(u[ROLL], 3), seed(u[PITCH], 4), seed(u[TWIST], 5))
        at = front(
            side,
            turn_by(seed_narrow(u[ARM_L + side], 0)),
            seed_narrow(u[STEER], 1),
            seed(u[SPIN_L + side], 7),
            pose,
            seed(u[SLIP], 6),
            car,
            motion,
        )
        _spread_wrench(r, j, at.force, at.moment, columns, 8)
        _spread(r, j, TWISTING, at.twist, columns, 8)
        _spread(r, j, WORK_L + side, at.arm, columns, 8)
        locked = motion.lock_left > 0.5 if side == 0 else motion.lock_right > 0.5
        if locked:
            r[TORQUE_L + side] = -u[SPIN_L + side] * car.weight * 1e-3
            j[TORQUE_L + side, SPIN_L + side] = -car.weight * 1e-3
        else:
            _spread(r, j, TORQUE_L + side, -at.spin, columns, 8)
            r[TORQUE_L + side] += value(front_brake)
            j[TORQUE_L + side, DEMAND] = partial(front_brake, 0)
            j[TORQUE_L + side, SPIN_A] = partial(front_brake, 1)
        if side == 0:
            bar_at, bar_turn, bar_bend = (
                (value(at.bar), 0.0),
                (value(at.bar_turn), 0.0),
                (partial(at.bar_turn, 0), 0.0),
            )
        else:
            bar_at = (bar_at[0], value(at.bar))
            bar_turn = (bar_turn[0], value(at.bar_turn))
            bar_bend = (bar_bend[0], partial(at.bar_turn, 0))

    torque = bar_torque(seed(bar_at[0] - bar_at[1], 0), car)
    t, k = value(torque), partial(torque, 0)
    r[WORK_L] -= t * bar_turn[0]
    r[WORK_R] += t * bar_turn[1]
    j[WORK_L, ARM_L] -= k * bar_turn[0] * bar_turn[0] + t * bar_bend[0]
    j[WORK_L, ARM_R] += k * bar_turn[1] * bar_turn[0]
    j[WORK_R, ARM_L] += k * bar_turn[0] * bar_turn[1]
    j[WORK_R, ARM_R] += t * bar_bend[1] - k * bar_turn[1] * bar_turn[1]

    columns = (AXLE_HEAVE, AXLE_ROLL, HEAVE, ROLL, PITCH, SLIP, SPIN_A, SPIN_A)
    pose = pose_of(seed(u[HEAVE], 2), seed(u[ROLL], 3), seed(u[PITCH], 4), seed(0.0, 7))
    back = rear(
        seed_narrow(u[AXLE_HEAVE], 0),
        seed_narrow(u[AXLE_ROLL], 1),
        seed(u[SPIN_A], 6),
        pose,
        seed(u[SLIP], 5),
        car,
        motion,
        out,
        m,
    )
    _spread_wrench(r, j, back.force, back.moment, columns, 7)
    push = value(shaft)
    _spread(r, j, WORK_H, back.heave - push * back.heave_turn, columns, 7)
    _spread(r, j, WORK_A, back.roll - push * back.roll_turn, columns, 7)
    _spread(r, j, TORQUE_A, -back.spin, columns, 7)
    r[TORQUE_A] += value(engine) + value(rear_brake) - shaft_lag(car, motion)
    r[TWISTING] += push - chassis_torque(u[TWIST], car)
    j[TWISTING, TWIST] -= car.twist_rate
    for lane in range(2):
        column = DEMAND if lane == 0 else SPIN_A
        j[WORK_H, column] -= partial(shaft, lane) * value(back.heave_turn)
        j[WORK_A, column] -= partial(shaft, lane) * value(back.roll_turn)
        j[TORQUE_A, column] += partial(engine, lane) + partial(rear_brake, lane)
        j[TWISTING, column] += partial(shaft, lane)

    columns = (HEAVE, ROLL, PITCH, TWIST, SLIP, SPIN_A, SPIN_A, SPIN_A)
    pose = pose_of(seed(u[HEAVE], 0), seed(u[ROLL], 1), seed(u[PITCH], 2), seed(u[TWIST], 3))
    hull = body(pose, seed(u[SLIP], 4), seed(u[SPIN_A], 5), car, motion)
    _spread_wrench(r, j, hull.force, hull.moment, columns, 6)
    _spread(r, j, TWISTING, hull.twist, columns, 6)
