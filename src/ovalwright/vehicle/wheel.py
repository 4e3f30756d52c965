"""One wheel on the road: where it touches, what it carries, how it slips, what it pushes with."""

from __future__ import annotations

from collections import namedtuple

from ..compiled import inlined
from ..mechanics.number import Number, alike, asin, atan
from ..mechanics.tire import force, rolling_radius, touching, wheel_load
from ..mechanics.vector import Vector, add, cross, dot, subtract, times, unit
from .frame import Frame, road_height
from .record import Record

LIFTED_DRAG = 2000.0
"""Torque [N m] per unit slip that keeps a wheel in the air turning with the road, whatever brakes it or
spins it up; a wheel on the road has none of it."""

Wheel = namedtuple(
    "Wheel",
    "force couple patch load squash drive side slip_angle slip inclination forward radius normal",
)
"""In road axes: force on the tire [N], couple on the wheel [N m], point the force acts at [m]; load, drive,
side force [N]; squash [m]; slip angle [rad], slip [1]; inclination to the road, top left positive [rad]; unit
vector along the wheel's heading; rolling radius [m]; the road's normal there."""


@inlined
def wheel(
    center: Vector,
    spindle: Vector,
    spin: Number,
    spin_inertia: float,
    frame: Frame,
    tire: Record,
    motion: Record,
) -> Wheel:
    """What the road does to a wheel at a center [m] with a spin axis pointing left, turning at `spin`
    [rad/s].

    The side force acts at the point under the wheel plane shifted by side force / lateral rate, and
    nowhere else: no separate overturning couple, so nothing is counted twice. The couple holds what the
    point of action does not show: rolling resistance, the difference of loaded and rolling radius, spin-up
    and gyroscopic torque.
    """
    _, up = road_height(frame, center[0], center[1])
    lean = dot(spindle, up)
    radial = unit(subtract(up, times(lean, spindle)))
    bottom = subtract(center, times(tire.free_radius, radial))
    height, normal = road_height(frame, bottom[0], bottom[1])
    squash = (height - bottom[2]) * normal[2] / dot(radial, normal)
    load = wheel_load(squash, tire.rate)
    foot = add(bottom, times(squash, radial))
    forward = unit(cross(spindle, normal))
    left = cross(normal, forward)
    inclination = -asin(dot(spindle, normal))
    radius = rolling_radius(tire.free_radius, squash, tire.radius_share)
    if motion.standing > 0.5:
        nil = alike(0.0, load)
        none = (nil, nil, nil)
        return Wheel(
            times(load, normal),
            none,
            foot,
            load,
            squash,
            nil,
            nil,
            nil,
            nil,
            inclination,
            forward,
            radius,
            normal,
        )
    travel = add(frame.velocity, cross(frame.spin, foot))
    ahead, aside = dot(travel, forward), dot(travel, left)
    slip_angle = -atan(aside / ahead)
    slip = (spin * radius - ahead) / ahead
    push = force(load, slip_angle, slip, inclination, tire, tire.grip * motion.grip)
    patch = add(foot, times(push.side / tire.side_rate, left))
    total = add(times(load, normal), add(times(push.drive, forward), times(push.side, left)))
    lever = radius - tire.free_radius + squash - push.side / tire.side_rate * dot(spindle, normal)
    lag = push.drive * lever + rolling_torque(load, radius, tire)
    spin_up = spin_inertia * motion.acceleration / tire.free_radius
    gyro = cross(frame.spin, times(spin_inertia * spin, spindle))
    couple = subtract(times(-(lag + spin_up), spindle), gyro)
    return Wheel(
        total,
        couple,
        patch,
        load,
        squash,
        push.drive,
        push.side,
        slip_angle,
        slip,
        inclination,
        forward,
        radius,
        normal,
    )


@inlined
def rolling_torque(load: Number, radius: Number, tire: Record) -> Number:
    """Torque of rolling resistance about the spin axis [N m]."""
    return tire.rolling_resistance * load * radius


@inlined
def road_torque(at: Wheel, spin_inertia: float, tire: Record, motion: Record) -> Number:
    """Torque the road and spin-up ask of the brakes and the engine [N m]: Fx R + rolling resistance + J
    dw/dt."""
    spin_up = spin_inertia * motion.acceleration / tire.free_radius
    adrift = LIFTED_DRAG * (1.0 - touching(at.load)) * at.slip
    return at.drive * at.radius + rolling_torque(at.load, at.radius, tire) + spin_up + adrift
