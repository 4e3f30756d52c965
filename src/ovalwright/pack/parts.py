"""Bolted parts of the documents as fields of the record: coils, stops, bar, chassis, air, brakes, watched
points.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ovalwright.mechanics.handbook import bar_rate, bar_rate_from_arm
from ovalwright.solve.settle import standing
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.law import ARM_L, AXLE_HEAVE
from ovalwright.vehicle.record import CORNER, CORNERS, Record

from .drawing import at_middle
from .values import Values

FRAME_RATE = 5e5
"""Rate of a frame point on asphalt [N/m]: stiff enough to show (from memory)."""
FRAME_FRICTION = 0.4
"""Friction of a dragging frame point (from memory)."""
DROOP_RATE = 3.5e6
"""Rate of a shock at its full length [N/m], 20,000 lb/in (from memory)."""
BOUND_SPRING = 3.5e6
"""Rate on top of a bump spring that is solid [N/m], 20,000 lb/in, as a bound coil's (from memory)."""
STOP_EXPONENT = 1.3
"""How fast a bump stop stiffens (common practice, no source)."""
WATCHED = 8
"""Most frame points a record holds."""
HUNG = 1e-6
"""A wheel is lowered to this [m]."""
CLOSED_AT = 5500.0 * math.pi / 30.0
"""Engine speed at which the torque of the closed throttle is stated [rad/s]; it grows as the speed, within
3 % of Barnes and Moss' friction from 4000 to 7000 rpm (Heywood, *Internal Combustion Engine Fundamentals*,
from memory).
"""
NEVER = 10.0
"""A length [m] no strut ever has: a limit that is not there."""


def set_chassis(record: Record, car: Values, setup: Values, sheet: Values) -> None:
    """Fill what belongs to the car and to the gears and brakes: chassis, steering, air, driveline, watched
    points.
    """
    record["wheelbase"] = car.wheelbase
    record["twist_rate"] = car.chassis.twist_rate
    record["twist_axis"] = (0.0, car.chassis.twist_axis_height)
    record["pitman"] = 0.0
    if car.steering.form == "box":
        record["pitman"] = -math.copysign(car.steering.pitman_arm, car.steering.arm_pivot_behind_tie_rod)
    air = car.aero
    record["drag_area"], record["drag_height"] = air.drag_area, air.drag_height
    record["down_area"] = (air.front_downforce_area, air.rear_downforce_area)
    record["side_area"], record["side_point"] = air.side_area, at_middle(air.side_point, car)
    record["brake_front"] = setup.brake_front
    record["shaft_ratio"] = setup.final_drive if car.engine.rotation == "clockwise" else -setup.final_drive
    held = car.engine.closed_throttle_torque / CLOSED_AT / car.engine.efficiency
    record["engine_drag"] = held * setup.final_drive**2
    record["driveline_inertia"] = (car.engine.inertia + car.engine.driveline_inertia) * setup.final_drive**2
    _set_height_points(record, car, sheet)
    _set_watched(record, car)


def _set_height_points(record: Record, car: Values, sheet: Values) -> None:
    """Where ride heights are read. A point whose place was left out is taken at the height that was read
    there.
    """
    for i, corner in enumerate(CORNERS):
        record["height_point"][i] = at_middle(getattr(car.height_points, corner), car)
        read = getattr(sheet, corner).height
        if read is not None and not car.height_points.known(corner):
            record["height_point"][i][2] = read


def _set_watched(record: Record, car: Values) -> None:
    """The frame points, the tail and the lowest first where there are more than a record holds."""
    record["ground_rate"], record["ground_friction"] = 0.0, FRAME_FRICTION
    for i, point in enumerate(watched_points(car)):
        record["ground_point"][i] = at_middle(point.place, car)
        record["ground_front"][i] = 1.0 if point.half == "front" else 0.0
        record["ground_rate"][i] = FRAME_RATE


def watched_points(car: Values) -> list[Any]:
    """Frame points in the order the record holds them."""
    points = list(car.frame_points)
    if len(points) <= WATCHED:
        return points
    return sorted(points, key=lambda point: (not point.tail, point.place[2]))[:WATCHED]


def set_coils(record: Record, setup: Values, *, gas: bool) -> None:
    """Rates and bind of the coils, and the push of the shocks' gas; where the seats are is not touched."""
    for i, corner in enumerate(CORNERS):
        wheel = getattr(setup, corner)
        coil = wheel.coil
        record["gas_force"][i] = wheel.shock.gas_force if gas else 0.0
        record["coil_bind"][i], record["bind_rate"][i] = NEVER, 0.0
        record["coil_rate"][i] = 0.0
        if coil is None:
            continue
        record["coil_rate"][i] = coil.rate + (coil.rubber or 0.0)
        record["bind_rate"][i] = coil.bound_rate
        if coil.free_length is not None:
            record["coil_bind"][i] = coil.free_length - coil.bind_height


def no_travel_limits(record: Record) -> None:
    """No stop and no droop limit yet: they are placed at the car as it stands."""
    record["stop_rate"], record["stop_length"], record["stop_solid"] = 0.0, -NEVER, 1.0
    record["droop_rate"], record["droop_length"] = DROOP_RATE, NEVER


def set_stops(record: Record, shock_lengths: Any, setup: Values) -> None:
    """Bump stops and bump springs at a car that stands on shocks of these lengths [m]; gaps and packers are
    shaft travel.
    """
    for i, corner in enumerate(CORNERS):
        wheel = getattr(setup, corner)
        stop = wheel.stop or wheel.bump_spring
        record["stop_rate"][i] = record["stop_bound_rate"][i] = 0.0
        if stop is None:
            continue
        record["stop_length"][i] = shock_lengths[i] - stop.gap + stop.packers
        record["stop_rate"][i] = stop.k0 if wheel.stop else stop.rate
        record["stop_exponent"][i] = STOP_EXPONENT if wheel.stop else 0.0
        record["stop_solid"][i] = stop.limit
        record["stop_bound_rate"][i] = 0.0 if wheel.stop else BOUND_SPRING


def set_droop(record: Record, u: Any, car: Values, setup: Values) -> None:
    """Droop limits below a standing state: wheel travel, turned into shock length through the very links."""
    usual = (car.droop.front, car.droop.front, car.droop.rear, car.droop.rear)
    stated = [getattr(setup, corner).shock.droop for corner in CORNERS]
    drop = np.array([travel if own is None else own for travel, own in zip(usual, stated, strict=True)])
    lengths = drooped_shocks(record, u, drop)
    record["droop_length"] = np.where(np.isfinite(lengths), lengths, NEVER)


def drooped_shocks(record: Record, u: Any, drop: Any) -> Any:
    """Shock lengths LF RF LR RR [m] with the wheels lower by `drop` [m] than in a standing state.

    The rear wheels hang together. NaN where the links cannot reach so far, or none was found that do.
    """
    hung = u.copy()
    hung[AXLE_HEAVE] -= 0.5 * (drop[2] + drop[3])
    corners = np.zeros(4, CORNER)
    read_corners(u, record, standing(), corners)
    goal = corners["hub_z"][:2] - drop[:2]
    step = np.full(2, -0.02)
    before = corners["hub_z"][:2].copy()
    for _ in range(12):
        hung[ARM_L : ARM_L + 2] += step
        read_corners(hung, record, standing(), corners)
        rise = corners["hub_z"][:2] - before
        before = corners["hub_z"][:2].copy()
        short = goal - before
        if np.abs(short).max() < HUNG:
            break
        step = np.clip(np.divide(step * short, rise, out=np.zeros(2), where=rise != 0.0), -0.2, 0.2)
    lengths = np.array(corners["shock_length"])
    lengths[:2][np.abs(short) >= HUNG] = np.nan
    return lengths


def bar_arm_length(record: Record) -> float:
    """Arm of the bar as drawn, mean of both sides [m]."""
    return float(record["bar_arm"].mean())


def bar_torque_rate(record: Record, setup: Values) -> float:
    """Torque per angle between the bar's arms [N m/rad]; 0 without a bar."""
    bar = setup.bar
    if bar is None:
        return 0.0
    if bar.rate is not None:
        arm = bar.arm if bar.known("arm") else bar_arm_length(record)
        return bar_rate_from_arm(bar.rate, arm=arm)
    return bar_rate(outer=bar.diameter, bore=bar.bore or 0.0, length=bar.length, shear_modulus=bar.modulus)


def bar_twist(record: Record, setup: Values) -> float:
    """Angle the adjuster puts in from neutral [rad], + pushes LF and RR down (the document's rounds push RF
    and LR).

    Rounds count from where the link has just taken up its play; nothing put in leaves the link in the
    middle of it.
    """
    bar = setup.bar
    rate = bar_torque_rate(record, setup)
    if bar is None or rate == 0.0:
        return 0.0
    if bar.preload_torque is not None:
        angle = bar.preload_torque / rate
    else:
        angle = bar.preload * bar.link_pitch / bar_arm_length(record)
    if angle == 0.0:
        return 0.0
    return -float(angle + math.copysign(bar_play(record, setup), angle))


def bar_play(record: Record, setup: Values) -> float:
    """Half the free play of the bar as an angle [rad]."""
    return 0.0 if setup.bar is None else float(0.5 * setup.bar.slack / bar_arm_length(record))


def set_bar_rate(record: Record, setup: Values, *, hooked: bool) -> None:
    """The bar's rate, none when it is not hooked up, and its play."""
    record["bar_rate"] = bar_torque_rate(record, setup) if hooked else 0.0
    record["bar_slack"] = bar_play(record, setup)
