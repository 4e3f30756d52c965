"""The tire: side and drive force from load, slip, camber, and vertical load from squash.

Pacejka's 2002 Magic Formula in reduced form (*Tire and Vehicle Dynamics*, 2nd ed., ch. 4, from memory),
symmetric: no ply steer, no conicity. Forces in N, angles in rad. Slip angle positive pushes left;
inclination positive when the top leans left. Both odd, so a right turn is the exact mirror of a left one.
"""

from __future__ import annotations

import math
from collections import namedtuple

from ..compiled import inlined
from .contact import ramp
from .number import Number, alike, atan, cos, sin, sqrt, value

GRIP_FLOOR = 0.6
"""Peak grip does not fall below this however heavy the load."""
IN_THE_AIR = 1e-6
"""Load [N] up to which a tire gives exactly nothing."""
TOUCH_LOAD, GRIPPING_LOAD = 4.0, 200.0
"""Load [N] that a tire which touches down begins to grip without, and over how much more that comes back."""

TireForce = namedtuple("TireForce", "drive side")
Curve = namedtuple("Curve", "peak stiffness shape bend")


@inlined
def load_share(load: Number, tire: Number) -> Number:
    """(Fz - F0) / F0."""
    return (load - tire.nominal_load) / tire.nominal_load


@inlined
def side_curve(load: Number, inclination: Number, tire: Number, grip: float) -> Curve:
    """Peak [N], cornering stiffness [N/rad], shape C and bend E of the side force at a load.

    Beyond the load where the stiffness peaks, it is held at its peak: the answer is then an extrapolation.
    """
    share = load_share(load, tire)
    friction = tire.side_grip + tire.side_grip_load * share
    if value(friction) < GRIP_FLOOR:
        friction = alike(GRIP_FLOOR, share)
    peak = grip * friction * (1.0 - tire.side_grip_camber * inclination * inclination) * load
    stiffest = tire.stiffness_load * tire.nominal_load
    lean = load / stiffest
    if value(lean) < 1.0:
        # sin(2 atan z) = 2z / (1 + z^2)
        stiffness = tire.side_stiffness * tire.nominal_load * 2.0 * lean / (1.0 + lean * lean)
    else:
        stiffness = alike(tire.side_stiffness * tire.nominal_load, lean)
    bend = tire.side_bend + tire.side_bend_load * share
    if value(bend) > 1.0:
        bend = alike(1.0, share)
    return Curve(peak, stiffness * tire.stiffness_factor, tire.side_shape, bend)


@inlined
def drive_curve(load: Number, tire: Number, grip: float) -> Curve:
    """Peak [N], slip stiffness [N per unit slip], shape and bend of the drive or brake force at a load."""
    share = load_share(load, tire)
    friction = tire.drive_grip + tire.drive_grip_load * share
    if value(friction) < GRIP_FLOOR:
        friction = alike(GRIP_FLOOR, share)
    bend = tire.drive_bend + tire.drive_bend_load * share
    if value(bend) > 1.0:
        bend = alike(1.0, share)
    stiffness = tire.drive_stiffness + tire.drive_stiffness_load * share
    lowest = 0.2 * tire.drive_stiffness
    if value(stiffness) < lowest:
        stiffness = alike(lowest, share)
    return Curve(grip * friction * load, stiffness * load, tire.drive_shape, bend)


@inlined
def magic(slip: Number, curve: Curve) -> Number:
    """D sin(C atan(Bx - E(Bx - atan Bx))) [N]."""
    x = curve.stiffness / (curve.shape * curve.peak) * slip
    return curve.peak * sin(curve.shape * atan(x - curve.bend * (x - atan(x))))


@inlined
def peak_slip(curve: Curve) -> float:
    """Slip [rad or 1] at the peak of a curve, by Newton on C atan(y - E(y - atan y)) = pi/2."""
    goal = math.tan(0.5 * math.pi / curve.shape)
    y = goal
    for _ in range(30):
        miss = y - curve.bend * (y - math.atan(y)) - goal
        y -= miss / (1.0 - curve.bend * y * y / (1.0 + y * y))
        y = max(y, 1e-3)
    return float(y * curve.shape * curve.peak / curve.stiffness)


@inlined
def mix(sharpness: float, own: Number, shape: float, other: Number) -> Number:
    """Share of a force kept beside the other slip: cos(C atan(B z cos(atan own))), cos(atan x) = 1/sqrt(1
    + x^2)."""
    return cos(shape * atan(sharpness * other / sqrt(1.0 + own * own)))


@inlined
def touching(load: Number) -> Number:
    """Share of its load [N] that a tire grips with: none in the air, all from GRIPPING_LOAD above the touch.

    Between them twice continuously differentiable, and the load gripped with rises by at most 4 % more than
    the load itself: side forces lift the body, and a wheel whose grip came sooner than its load would not
    touch down.
    """
    if value(load) <= IN_THE_AIR:
        return alike(0.0, load)
    back = (load - 2.0 * TOUCH_LOAD) / GRIPPING_LOAD
    if value(back) >= 1.0:
        return alike(1.0, load)
    gripped = ramp(load - TOUCH_LOAD, TOUCH_LOAD)
    if value(back) > 0.0:
        gripped = gripped + TOUCH_LOAD * back * back * back * (10.0 - back * (15.0 - 6.0 * back))
    return gripped / load


@inlined
def force(
    load: Number,
    slip_angle: Number,
    slip: Number,
    inclination: Number,
    tire: Number,
    grip: float,
) -> TireForce:
    """Drive (+ forward) and side (+ left) force [N] under combined slip. A tire in the air gives exactly
    none."""
    if value(load) <= IN_THE_AIR:
        nothing = (load + slip_angle + slip + inclination) * 0.0
        return TireForce(nothing, nothing)
    side = magic(slip_angle, side_curve(load, inclination, tire, grip))
    side = side + tire.camber_thrust * inclination * load
    drive = magic(slip, drive_curve(load, tire, grip))
    drive_keep = mix(tire.drive_mix, tire.drive_mix_slip * slip, tire.drive_mix_shape, slip_angle)
    side_keep = mix(tire.side_mix, tire.side_mix_slip * slip_angle, tire.side_mix_shape, slip)
    touch = touching(load)
    return TireForce(touch * drive * drive_keep, touch * side * side_keep)


@inlined
def wheel_load(squash: Number, rate: float) -> Number:
    """Load [N] of a tire pressed by `squash` [m] at vertical `rate` [N/m]; exactly none in the air."""
    return rate * ramp(squash, 16.0 / 3.0 / rate)


@inlined
def rolling_radius(free_radius: float, squash: Number, share: float) -> Number:
    """Effective rolling radius [m]: free radius less a share of the squash."""
    return free_radius - share * squash


@inlined
def combined_peak(slip_angle: float, slip: float, side_peak_slip: float, drive_peak_slip: float) -> float:
    """Slip used as a share of slip at peak: the length of (alpha/alpha_peak, kappa/kappa_peak)."""
    return math.sqrt((slip_angle / side_peak_slip) ** 2 + (slip / drive_peak_slip) ** 2)
