"""Textbook formulas of single parts: coil, bar, tire air, stagger, steering, air, gear, the banked turn.

Plain numbers in and out, SI throughout, angles in radians, temperatures in kelvin. Turns and steer are
signed as in ISO 8855: a left turn has a positive radius. Each function names the book its formula comes
from. An input that no part can have (a wire of no thickness, a bore wider than its bar) raises ValueError;
unusual ones are computed.
"""

from __future__ import annotations

import math
from typing import NamedTuple

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2] (ISO 80000-3)."""
STEEL_SHEAR_MODULUS = 79.3e9
"""Shear modulus of spring steel [Pa], 11.5e6 psi (Wahl, Mechanical Springs, 2nd ed. 1963)."""
ATMOSPHERE = 101_325.0
"""Standard pressure at sea level [Pa] (US Standard Atmosphere 1976)."""


def _positive(**parts: float) -> None:
    for name, size in parts.items():
        if not size > 0.0:
            raise ValueError(f"{name.replace('_', ' ')} must be greater than 0, and it is {size:g}")


# ---------------- coils


def coil_rate(
    *, wire: float, mean_diameter: float, active_coils: float, shear_modulus: float = STEEL_SHEAR_MODULUS
) -> float:
    """Rate of a round-wire coil [N/m]: G d^4 / (8 D^3 N).

    `wire` and `mean_diameter` (middle of wire to middle of wire) [m], `shear_modulus` [Pa].
    Source: Wahl, Mechanical Springs, 2nd ed. 1963. Raises ValueError unless all are positive.
    """
    _positive(wire=wire, mean_diameter=mean_diameter, active_coils=active_coils, shear_modulus=shear_modulus)
    return float(shear_modulus * wire**4 / (8.0 * mean_diameter**3 * active_coils))


def solid_height(*, wire: float, total_coils: float, end_allowance: float = 0.0) -> float:
    """Height of a coil with its wires touching [m]: (total coils + end allowance) wire.

    `end_allowance` [coils] is the maker's convention: 0 for squared and ground ends, +1 for ends left
    unground, -1/4 where the ground tips are counted off. Source: Shigley, Mechanical Engineering Design,
    ch. 10 (from memory). Raises ValueError unless wire and coils are positive.
    """
    _positive(wire=wire, total_coils=total_coils)
    return (total_coils + end_allowance) * wire


def in_series(*rates: float) -> float:
    """Rate of springs that carry the same load one after the other, in the unit of `rates`: 1 / sum(1/k).

    Holds alike for coils stacked, a coil on a tire, or the two halves of a twisting chassis.
    Source: Shigley, Mechanical Engineering Design (from memory). Raises ValueError unless all are positive.
    """
    for number, rate in enumerate(rates, start=1):
        _positive(**{f"rate {number}": rate})
    return 1.0 / sum(1.0 / rate for rate in rates)


def wheel_rate(rate: float, *, motion_ratio: float) -> float:
    """Rate felt at the wheel [unit of `rate`]: k MR^2, with MR = spring travel over wheel travel.

    Source: Barton & Fieldhouse, Automotive Chassis Engineering, 2018, eq 3.33. The part of the rate that
    comes from the ratio changing with travel is not in it. Never raises.
    """
    return rate * motion_ratio**2


# ---------------- bars


def polar_moment(outer: float, *, bore: float = 0.0) -> float:
    """Polar second moment of a round bar or tube [m^4]: pi (D^4 - d^4) / 32, diameters in m.

    Source: Young & Budynas, Roark's Formulas for Stress and Strain, ch. 10 (from memory). Raises ValueError
    unless 0 <= bore < outer.
    """
    if not 0.0 <= bore < outer:
        raise ValueError(f"the bore ({bore:g} m) must be smaller than the outside of the bar ({outer:g} m)")
    return math.pi * (outer**4 - bore**4) / 32.0


def bar_rate(
    *, outer: float, bore: float = 0.0, length: float, shear_modulus: float = STEEL_SHEAR_MODULUS
) -> float:
    """Torque per angle between the two arms of a straight bar [N m/rad]: G J / L.

    Diameters and `length` (between the arms) [m], `shear_modulus` [Pa]. Arms and mounts are taken as rigid.
    Source: as `polar_moment`. Raises ValueError for a size that no bar can have.
    """
    _positive(length=length, shear_modulus=shear_modulus)
    return shear_modulus * polar_moment(outer, bore=bore) / length


def arm_rate(bar_rate: float, *, arm: float) -> float:
    """Rate of a bar at the end of one arm with the other arm held [N/m]: torque rate [N m/rad] / arm^2 [m].

    In roll both arms move, and each wheel then feels twice this. Source: the definition of torque and angle
    for a small swing. Raises ValueError unless the arm is positive.
    """
    _positive(arm=arm)
    return float(bar_rate / arm**2)


def bar_rate_from_arm(arm_rate: float, *, arm: float) -> float:
    """Torque per angle between the arms [N m/rad] from the rate at one arm, the other held [N/m].

    The inverse of `arm_rate`. Raises ValueError unless the arm [m] is positive.
    """
    _positive(arm=arm)
    return float(arm_rate * arm**2)


# ---------------- tires


def pressure_at(
    gauge: float,
    *,
    filled_at: float,
    now_at: float,
    ambient: float = ATMOSPHERE,
    volume_growth: float = 0.0,
) -> float:
    """Gauge pressure [Pa] at temperature `now_at` of a tire that showed `gauge` at `filled_at` [K].

    (p + p_a) T2 / (T1 (1 + growth)) - p_a, for dry gas: water inside adds much more. Swap the temperatures
    to get the cold pressure for a wanted hot one. `ambient` is the pressure outside [Pa], `volume_growth`
    the share by which the tire's room has grown. Source: ideal gas law, OpenStax College Physics, ch. 13.
    Raises ValueError unless the temperatures and the absolute pressure are positive.
    """
    _positive(filled_at=filled_at, now_at=now_at, absolute_pressure=gauge + ambient, room=1.0 + volume_growth)
    return (gauge + ambient) * now_at / (filled_at * (1.0 + volume_growth)) - ambient


def stagger_for_radius(left_roll_out: float, *, tread: float, radius: float) -> float:
    """Stagger (right less left roll-out) [m] with which a locked axle rolls a turn without slip.

    C_L (T/R) / (1 - T/2R): the two tires are one cone. `left_roll_out` and `tread` [m]; `radius` [m] to the
    middle of the axle along the road surface (on a bank the horizontal radius / cos bank), positive left.
    Source: similar triangles of the cone.
    Raises ValueError when the turn's center lies on the axle or the sizes are not positive.
    """
    _positive(left_roll_out=left_roll_out, tread=tread)
    if abs(radius) <= tread / 2.0:
        raise ValueError(f"the turn ({radius:g} m) must be wider than half the tread ({tread:g} m)")
    return left_roll_out * (tread / radius) / (1.0 - tread / (2.0 * radius))


def radius_for_stagger(*, left_roll_out: float, right_roll_out: float, tread: float) -> float:
    """Radius [m] of the turn that a locked axle rolls without slip; inf without stagger.

    T (C_L + C_R) / (2 (C_R - C_L)), to the middle of the axle along the road surface, positive left;
    roll-outs and tread in m. The inverse of `stagger_for_radius`. Raises ValueError unless all are
    positive.
    """
    _positive(left_roll_out=left_roll_out, right_roll_out=right_roll_out, tread=tread)
    stagger = right_roll_out - left_roll_out
    if stagger == 0.0:
        return math.inf
    return tread * (left_roll_out + right_roll_out) / (2.0 * stagger)


# ---------------- steering


class SteerPair(NamedTuple):
    """Road-wheel steer of the two front wheels [rad], positive left."""

    left: float
    right: float


def ackermann_steer(*, radius: float, tread: float, wheelbase: float) -> SteerPair:
    """Steer of both front wheels [rad] that roll a turn of this radius without slip.

    atan(L / (R - T/2)) left and atan(L / (R + T/2)) right; `radius` [m] to the middle of the rear axle,
    positive left; `tread` of the front and `wheelbase` [m]. Source: Gillespie, Fundamentals of Vehicle
    Dynamics, ch. 8 (from memory). Raises ValueError when the turn's center lies between the wheels.
    """
    _positive(tread=tread, wheelbase=wheelbase)
    if abs(radius) <= tread / 2.0:
        raise ValueError(f"the turn ({radius:g} m) must be wider than half the tread ({tread:g} m)")
    return SteerPair(
        math.atan(wheelbase / (radius - tread / 2.0)), math.atan(wheelbase / (radius + tread / 2.0))
    )


def ackermann_outer(inner: float, *, tread: float, wheelbase: float) -> float:
    """Steer of the outer front wheel [rad] that meets an inner one at a common center: cot o - cot i = T/L.

    Both unsigned, `inner` between 0 and pi/2. Source: as `ackermann_steer`. Raises ValueError unless all
    are positive.
    """
    _positive(inner=inner, tread=tread, wheelbase=wheelbase)
    return math.atan2(1.0, 1.0 / math.tan(inner) + tread / wheelbase)


def ackermann_share(*, inner: float, outer: float, tread: float, wheelbase: float) -> float:
    """How much of the full Ackermann difference a steering linkage gives at this steer: 1 full, 0 parallel.

    (inner - outer) / (inner - outer of full Ackermann), angles in rad from straight ahead, unsigned.
    Source: common practice. Raises ValueError unless `inner`, `tread` and `wheelbase` [m] are positive.
    """
    return (inner - outer) / (inner - ackermann_outer(inner, tread=tread, wheelbase=wheelbase))


# ---------------- air


class Air(NamedTuple):
    """State of still, dry air: temperature [K] and pressure [Pa]."""

    temperature: float
    pressure: float


def standard_air(altitude: float) -> Air:
    """Standard temperature and pressure at an altitude [m, geopotential] below 11 km.

    T = 288.15 K - 6.5 K/km, p = p0 (T/T0)^5.25588. Source: US Standard Atmosphere 1976. Raises ValueError
    above 11 km.
    """
    if altitude > 11_000.0:
        raise ValueError(f"the standard lapse rate ends at 11,000 m, and the altitude is {altitude:g} m")
    temperature = 288.15 - 0.0065 * altitude
    exponent = GRAVITY * 0.0289644 / (8.31432 * 0.0065)
    return Air(temperature, ATMOSPHERE * (temperature / 288.15) ** exponent)


def saturation_pressure(temperature: float) -> float:
    """Vapor pressure [Pa] of water in saturated air at `temperature` [K]; times relative humidity for less.

    610.94 exp(17.625 t / (t + 243.04)), t in deg C, within 0.4 % from -40 to 50 C. Source: Alduchov &
    Eskridge, J. Appl. Meteor. 35 (1996) 601 (from memory). Raises ValueError below -200 C.
    """
    celsius = temperature - 273.15
    _positive(temperature_above_minus_200_C=celsius + 200.0)
    return 610.94 * math.exp(17.625 * celsius / (celsius + 243.04))


def air_density(*, pressure: float, temperature: float, vapor_pressure: float = 0.0) -> float:
    """Density of moist air [kg/m^3] from its pressure [Pa], temperature [K] and vapor pressure [Pa].

    Two ideal gases side by side: (p - e) / (R_d T) + e / (R_v T), R_d 287.042, R_v 461.524 J/(kg K).
    Source: ASHRAE Handbook, Fundamentals, 2017, ch. 1. Raises ValueError unless pressure and temperature
    are positive.
    """
    _positive(pressure=pressure, temperature=temperature)
    return ((pressure - vapor_pressure) / 287.042 + vapor_pressure / 461.524) / temperature


# ---------------- gearing


def road_speed(engine_speed: float, *, roll_out: float, overall_ratio: float) -> float:
    """Speed [m/s] at an engine speed [rad/s]: roll-out [m] times turns per second / overall ratio.

    The overall ratio is transmission times final drive. Source: the definition of roll-out. No slip. Raises
    ValueError unless roll-out and ratio are positive.
    """
    _positive(roll_out=roll_out, overall_ratio=overall_ratio)
    return engine_speed / (2.0 * math.pi) * roll_out / overall_ratio


def engine_speed(speed: float, *, roll_out: float, overall_ratio: float) -> float:
    """Engine speed [rad/s] at a speed [m/s]; the inverse of `road_speed`. Raises ValueError as there."""
    _positive(roll_out=roll_out, overall_ratio=overall_ratio)
    return speed * overall_ratio / roll_out * (2.0 * math.pi)


def overall_ratio(*, engine_speed: float, speed: float, roll_out: float) -> float:
    """Overall ratio that gives an engine speed [rad/s] at a speed [m/s] with a roll-out [m].

    Raises ValueError unless all are positive.
    """
    _positive(engine_speed=engine_speed, speed=speed, roll_out=roll_out)
    return engine_speed / (2.0 * math.pi) * roll_out / speed


# ---------------- the banked turn


class Pull(NamedTuple):
    """What a car on a bank must carry [m/s^2]: across the road (inward) and into the road."""

    across: float
    into: float


def banked_pull(speed: float, *, radius: float, bank: float) -> Pull:
    """Accelerations in the axes of the road of a car in a steady turn [m/s^2].

    across = V^2/R cos b - g sin b, into = g cos b + V^2/R sin b. `radius` [m] is horizontal, positive left;
    `bank` [rad] positive with the outer side up. In a right turn `across` is negative. Source: OpenStax
    College Physics, ch. 6. Raises ValueError when the radius is 0.
    """
    if radius == 0.0:
        raise ValueError("the radius must not be 0")
    side = math.copysign(1.0, radius)
    toward_center = speed**2 / abs(radius)
    return Pull(
        side * (toward_center * math.cos(bank) - GRAVITY * math.sin(bank)),
        GRAVITY * math.cos(bank) + toward_center * math.sin(bank),
    )


def banked_speed(*, radius: float, bank: float, grip: float) -> float:
    """Greatest speed [m/s] of a point with this grip (friction coefficient) round a banked turn.

    sqrt(g R (tan b + mu) / (1 - mu tan b)); inf where the bank holds it at any speed, 0 where it slides at
    any. `radius` [m] horizontal, either sign; `bank` [rad] positive with the outer side up. Source:
    OpenStax University Physics vol. 1, ch. 6. Raises ValueError when the bank is not between -pi/2 and pi/2
    or the grip is negative.
    """
    if not (abs(bank) < math.pi / 2.0 and grip >= 0.0):
        raise ValueError(f"no road is banked {math.degrees(bank):g} deg with a grip of {grip:g}")
    slope = math.tan(bank)
    if grip * slope >= 1.0:
        return math.inf
    return math.sqrt(GRAVITY * abs(radius) * max(slope + grip, 0.0) / (1.0 - grip * slope))
