"""The car in four blocks: front corner, bar, rear axle, body. Each returns its share of the equations of
motion.

A block takes numbers of any kind. Shares come as force and moment of all outside and inertia forces about
the road frame's origin, and as work per unit of each internal coordinate (arm angle, axle heave, axle
roll, chassis twist). D'Alembert and virtual work: links do none.
"""

from __future__ import annotations

from collections import namedtuple
from typing import Any

from ..compiled import inlined
from ..mechanics.contact import coil_force, ramp, slack_angle, stop_force, touch_band
from ..mechanics.linkage import (
    arm_strut,
    axle,
    axle_point,
    axle_vector,
    bar_arm,
    upright,
)
from ..mechanics.number import Number, alike, atan, sqrt, value
from ..mechanics.vector import (
    Turn,
    Vector,
    add,
    cross,
    dot,
    length,
    row,
    subtract,
    times,
)
from .frame import (
    Frame,
    Pose,
    front_point,
    front_vector,
    in_front_axes,
    in_rear_axes,
    rear_point,
    rear_vector,
    road_frame,
    road_height,
    specific_force,
    twist_moment,
)
from .record import Record
from .wheel import Wheel, road_torque, wheel

Scratch = Any

Front = namedtuple("Front", "force moment twist arm spin bar bar_turn")
"""Force [N], moment [N m], work per rad of twist and of arm angle [N m], road torque [N m], bar arm angle
[rad] and its turn per rad of arm angle."""
Rear = namedtuple("Rear", "force moment heave roll spin heave_turn roll_turn")
"""Force, moment, work per m of axle heave [N] and per rad of axle roll [N m], road torque of both wheels
[N m], and the housing's turn about the shaft per unit of each."""
Body = namedtuple("Body", "force moment twist")
Strut = namedtuple("Strut", "coil gas stop droop")
"""Pushes along a corner's coil, and along its shock: gas, bump stop, droop limit (negative) [N]."""


@inlined
def strut(corner: int, coil_length: Number, shock_length: Number, car: Record) -> Strut:
    """Pushes of one corner's coil, gas, bump stop and droop limit at given lengths [m]."""
    coil = coil_force(
        car.coil_free[corner] - coil_length,
        car.coil_rate[corner],
        car.coil_bind[corner],
        car.bind_rate[corner],
    )
    stop = stop_force(
        car.stop_length[corner] - shock_length,
        car.stop_rate[corner],
        car.stop_solid[corner],
        car.stop_exponent[corner],
        car.stop_bound_rate[corner],
    )
    stretch = shock_length - car.droop_length[corner]
    droop = -car.droop_rate[corner] * ramp(stretch, touch_band(car.droop_rate[corner]))
    return Strut(coil, car.gas_force[corner], stop, droop)


@inlined
def rack_shift(steer: Number, car: Record) -> Vector:
    """Shift of the inner tie rod ends [m]: straight for a rack, on the pitman arm's circle for a box.

    A pitman arm of positive length points rearward, of negative length forward.
    """
    nil = alike(0.0, steer)
    if car.pitman == 0.0:
        return (nil, steer, nil)
    reach = sqrt(car.pitman * car.pitman - steer * steer)
    return (car.pitman - reach if car.pitman > 0.0 else car.pitman + reach, steer, nil)


@inlined
def front_wheel(
    side: int,
    arm: Number,
    steer: Number,
    spin: Number,
    pose: Pose,
    frame: Frame,
    car: Record,
    motion: Record,
) -> tuple[Wheel, Vector, Vector, Vector, Vector]:
    """The wheel, its center, the lower ball joint, and the upright's motion per rad of arm angle, in road
    axes."""
    at = upright(side, arm, rack_shift(steer, car), car)
    center, ball = front_point(pose, at.wheel, car), front_point(pose, at.ball, car)
    on_road = wheel(
        center,
        front_vector(pose, at.spindle),
        spin,
        car.spin_inertia[side],
        frame,
        car.tire[side],
        motion,
    )
    return (
        on_road,
        center,
        ball,
        front_vector(pose, at.speed),
        front_vector(pose, at.spin),
    )


@inlined
def front(
    side: int,
    arm: Turn,
    steer: Number,
    spin: Number,
    pose: Pose,
    side_slip: Number,
    car: Record,
    motion: Record,
) -> Front:
    """A front corner: tire, unsprung weight and its inertia, coil, shock line; the bar's arm as geometry."""
    frame = road_frame(side_slip, motion)
    on_road, center, ball, speed, turn = front_wheel(side, arm, steer, spin, pose, frame, car, motion)
    weight = times(car.unsprung_mass[side], specific_force(frame, center))
    force = add(on_road.force, weight)
    moment = add(add(cross(on_road.patch, on_road.force), cross(center, weight)), on_road.couple)
    work = (
        dot(on_road.force, add(speed, cross(turn, subtract(on_road.patch, ball))))
        + dot(weight, add(speed, cross(turn, subtract(center, ball))))
        + dot(on_road.couple, turn)
    )
    coil_length, coil_rate = arm_strut(side, arm, row(car.coil_low, side), row(car.coil_top, side), car)
    shock_length, shock_rate = arm_strut(side, arm, row(car.shock_low, side), row(car.shock_top, side), car)
    push = strut(side, coil_length, shock_length, car)
    work = work + push.coil * coil_rate + (push.gas + push.stop + push.droop) * shock_rate
    sine, cosine, bar_turn = bar_arm(side, arm, car)
    road = road_torque(on_road, car.spin_inertia[side], car.tire[side], motion)
    return Front(
        force,
        moment,
        twist_moment(pose, force, moment, car),
        work,
        road,
        atan(sine / cosine),
        bar_turn,
    )


@inlined
def bar_torque(angle: Number, car: Record) -> Number:
    """Torque of the bar [N m] at an angle LF arm less RF arm [rad]: preload, then slack, then its rate."""
    return car.bar_rate * slack_angle(angle + car.bar_preload, car.bar_slack)


@inlined
def rear_strut(low: Vector, top: Vector, center: Vector) -> tuple[Number, Vector, Vector]:
    """Length [m] of a strut from axle to frame, unit vector frame to axle, and its arm about the axle's
    reference [m]."""
    line = subtract(low, top)
    size = length(line)
    along = times(1.0 / size, line)
    return size, along, cross(subtract(low, center), along)


@inlined
def rear(
    heave: Number,
    roll: Number,
    spin: Number,
    pose: Pose,
    side_slip: Number,
    car: Record,
    motion: Record,
    out: Scratch,
    m: Scratch,
) -> Rear:
    """The live axle: both tires on one spin, its weight and inertia, coils and shock lines, brakes on the
    housing."""
    frame = road_frame(side_slip, motion)
    at, go = axle(heave, roll, car, out, m)
    center = rear_point(pose, at.center)
    heave_speed, heave_spin = (
        rear_vector(pose, go.heave_speed),
        rear_vector(pose, go.heave_spin),
    )
    roll_speed, roll_spin = (
        rear_vector(pose, go.roll_speed),
        rear_vector(pose, go.roll_spin),
    )
    cg = rear_point(pose, axle_point(at, (car.axle_cg[0], car.axle_cg[1], car.axle_cg[2])))
    force = times(car.axle_mass, specific_force(frame, cg))
    moment = cross(cg, force)
    lever = subtract(cg, center)
    up = dot(force, add(heave_speed, cross(heave_spin, lever)))
    over = dot(force, add(roll_speed, cross(roll_spin, lever)))
    road = alike(0.0, spin)
    for side in range(2):
        hub = rear_point(pose, axle_point(at, row(car.axle_wheel, side)))
        spindle = rear_vector(pose, axle_vector(at, row(car.axle_spindle, side)))
        inertia = 0.5 * car.spin_inertia[2]
        tire = car.tire[2 + side]
        on_road = wheel(hub, spindle, spin, inertia, frame, tire, motion)
        arm = subtract(on_road.patch, center)
        force = add(force, on_road.force)
        moment = add(moment, add(cross(on_road.patch, on_road.force), on_road.couple))
        up = (
            up
            + dot(on_road.force, add(heave_speed, cross(heave_spin, arm)))
            + dot(on_road.couple, heave_spin)
        )
        over = (
            over + dot(on_road.force, add(roll_speed, cross(roll_spin, arm))) + dot(on_road.couple, roll_spin)
        )
        road = road + road_torque(on_road, inertia, tire, motion)
        corner = 2 + side
        coil_length, coil_way, coil_arm = rear_strut(
            axle_point(at, row(car.coil_low, corner)),
            row(car.coil_top, corner),
            at.center,
        )
        shock_length, shock_way, shock_arm = rear_strut(
            axle_point(at, row(car.shock_low, corner)),
            row(car.shock_top, corner),
            at.center,
        )
        push = strut(corner, coil_length, shock_length, car)
        shock = push.gas + push.stop + push.droop
        up = up + push.coil * (dot(coil_way, go.heave_speed) + dot(coil_arm, go.heave_spin))
        up = up + shock * (dot(shock_way, go.heave_speed) + dot(shock_arm, go.heave_spin))
        over = over + push.coil * (dot(coil_way, go.roll_speed) + dot(coil_arm, go.roll_spin))
        over = over + shock * (dot(shock_way, go.roll_speed) + dot(shock_arm, go.roll_spin))
    return Rear(force, moment, up, over, road, go.heave_spin[0], go.roll_spin[0])


@inlined
def half_load(mass: float, cg: Vector, frame: Frame) -> tuple[Vector, Vector]:
    """Gravity and inertia of a half of the body at its CG: force [N], moment about the road frame's origin
    [N m]."""
    force = times(mass, specific_force(frame, cg))
    return force, cross(cg, force)


@inlined
def rotary(inertia: Vector, spin: Vector, turn: Vector) -> Vector:
    """Couple of a body's rotary inertia in its own axes [N m]: -(I turn + spin x I spin) (Euler)."""
    swing = (inertia[0] * spin[0], inertia[1] * spin[1], inertia[2] * spin[2])
    grow = (inertia[0] * turn[0], inertia[1] * turn[1], inertia[2] * turn[2])
    return times(-1.0, add(grow, cross(spin, swing)))


@inlined
def shaft_lag(car: Record, motion: Record) -> float:
    """Torque that speeds up engine and shafts with the car, at the axle [N m]."""
    return float(car.driveline_inertia * motion.acceleration / car.tire[3].free_radius)


@inlined
def rotor(axle_spin: Number, pose: Pose, frame: Frame, car: Record, motion: Record) -> Vector:
    """Couple of the engine's rotor on the front half [N m]: spin-up and gyroscopic. It turns about -x."""
    forward = front_vector(pose, (1.0, 0.0, 0.0))
    momentum = times(-car.driveline_inertia * axle_spin / car.shaft_ratio, forward)
    return subtract(
        times(shaft_lag(car, motion) / car.shaft_ratio, forward),
        cross(frame.spin, momentum),
    )


@inlined
def touch(i: int, pose: Pose, frame: Frame, car: Record) -> tuple[Vector, Number]:
    """A watched point of the body in the road frame [m], and its clearance over the road [m]."""
    p = row(car.ground_point, i)
    at = front_point(pose, p, car) if car.ground_front[i] > 0.5 else rear_point(pose, p)
    height, normal = road_height(frame, at[0], at[1])
    return at, (at[2] - height) * normal[2]


@inlined
def drag_force(clearance: Number, i: int, frame: Frame, car: Record, motion: Record) -> Vector:
    """Force of the road on a dragging point [N]: one-sided push and friction against the travel."""
    push = car.ground_rate[i] * ramp(-clearance, touch_band(car.ground_rate[i]))
    rub = 0.0 if motion.standing > 0.5 else car.ground_friction
    return (-rub * push * frame.ahead[0], -rub * push * frame.ahead[1], push)


@inlined
def body(pose: Pose, side_slip: Number, axle_spin: Number, car: Record, motion: Record) -> Body:
    """The two halves of the sprung body with fuel and engine, the air on them, the road under a dragging
    frame."""
    frame = road_frame(side_slip, motion)
    nose = front_point(pose, (car.front_cg[0], car.front_cg[1], car.front_cg[2]), car)
    front_inertia = (car.front_inertia[0], car.front_inertia[1], car.front_inertia[2])
    force, moment = half_load(car.front_mass, nose, frame)
    couple = rotary(front_inertia, in_front_axes(pose, frame.spin), in_front_axes(pose, frame.turn))
    moment = add(
        add(moment, front_vector(pose, couple)),
        rotor(axle_spin, pose, frame, car, motion),
    )
    q = 0.5 * motion.air_density * motion.speed * motion.speed
    axle_line = 0.5 * car.wheelbase
    lift = -q * car.down_area[0]
    force = (force[0], force[1], force[2] + lift)
    moment = (moment[0], moment[1] - axle_line * lift, moment[2])

    tail = rear_point(pose, (car.rear_cg[0], car.rear_cg[1], car.rear_cg[2]))
    rear_inertia = (car.rear_inertia[0], car.rear_inertia[1], car.rear_inertia[2])
    rear_force, rear_moment = half_load(car.rear_mass, tail, frame)
    couple = rotary(rear_inertia, in_rear_axes(pose, frame.spin), in_rear_axes(pose, frame.turn))
    rear_moment = add(rear_moment, rear_vector(pose, couple))
    cell = rear_point(pose, (car.fuel_cg[0], car.fuel_cg[1], car.fuel_cg[2]))
    fuel = times(car.fuel_mass, specific_force(frame, cell))
    air_side = (
        alike(0.0, side_slip),
        -q * car.side_area * side_slip,
        alike(0.0, side_slip),
    )
    side_at = (car.side_point[0], car.side_point[1], car.side_point[2])
    drag = -q * car.drag_area
    lift = -q * car.down_area[1]
    rear_force = add(add(rear_force, fuel), air_side)
    rear_force = (rear_force[0] + drag, rear_force[1], rear_force[2] + lift)
    rear_moment = add(add(rear_moment, cross(cell, fuel)), cross(side_at, air_side))
    rear_moment = (
        rear_moment[0],
        rear_moment[1] + drag * car.drag_height + axle_line * lift,
        rear_moment[2],
    )
    for i in range(len(car.ground_rate)):
        if car.ground_rate[i] > 0.0:
            at, clearance = touch(i, pose, frame, car)
            if value(clearance) < 1e-3:
                rub = drag_force(clearance, i, frame, car, motion)
                if car.ground_front[i] > 0.5:
                    force, moment = add(force, rub), add(moment, cross(at, rub))
                else:
                    rear_force, rear_moment = (
                        add(rear_force, rub),
                        add(rear_moment, cross(at, rub)),
                    )
    return Body(
        add(force, rear_force),
        add(moment, rear_moment),
        twist_moment(pose, force, moment, car),
    )
