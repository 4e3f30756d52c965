"""Air and road of the documents as the motion record: where on the track, how fast."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from ovalwright.documents import MIDDLE, Conditions, Station, Track
from ovalwright.documents.oval import End
from ovalwright.mechanics.handbook import (
    ATMOSPHERE,
    GRAVITY,
    air_density,
    saturation_pressure,
    standard_air,
)
from ovalwright.units import Quantity
from ovalwright.vehicle.record import MOTION

TYPICAL_SURFACE: Quantity = Conditions.model_fields["surface"].default
INWARD = {"inside": 1.0, "center": 0.0, "wall": -1.0}
"""How many half widths of the road a place lies inward of its center."""


def center_radius(track: Track, end: End) -> float:
    """Radius of the road's center in the middle of an end [m]."""
    return end.radius.si + INWARD[track.radius_at] * 0.5 * track.width.si * math.cos(end.bank.si)


def station_pressure(conditions: Conditions) -> float:
    """Pressure of the air at the track [Pa] from the altimeter setting and the altitude.

    p^(1/n) = setting^(1/n) - p0^(1/n) + standard(altitude)^(1/n), n 5.25588: a standard column that reads
    the setting at sea level (US Standard Atmosphere 1976; National Weather Service altimeter equation, from
    memory).
    """
    power = 1.0 / 5.25588
    standard = standard_air(conditions.altitude.si).pressure
    column = conditions.barometer.si**power - ATMOSPHERE**power + standard**power
    return float(column ** (1.0 / power))


def density(conditions: Conditions) -> float:
    """Density of the moist air at the track [kg/m^3]."""
    vapor = conditions.humidity.si * saturation_pressure(conditions.air.si)
    return air_density(
        pressure=station_pressure(conditions), temperature=conditions.air.si, vapor_pressure=vapor
    )


def surface_grip(conditions: Conditions) -> float:
    """Grip of the surface against a medium one.

    What is written is that of the day. Where it is left out, it is that of a medium surface as warm as this
    one, which loses `hot_slick` for each kelvin above the typical temperature. A cool evening gives grip
    back, beyond what the tires make of it: common practice, no source.
    """
    if conditions.grip.known:
        return conditions.grip.si
    return conditions.grip.si * _slicker(conditions, conditions.surface.si - TYPICAL_SURFACE.si)


def surface_grip_band(conditions: Conditions) -> float:
    """Half of the 95 % band of `surface_grip` as a share of it: of what is written; where it is left out, of
    what is typical and of what the heat of the surface makes of it.
    """
    written = conditions.grip.give_or_take / conditions.grip.si
    if conditions.grip.known:
        return written
    slick, surface = conditions.hot_slick, conditions.surface
    hotter = surface.si - TYPICAL_SURFACE.si
    return math.hypot(written, slick.give_or_take * hotter, slick.si * surface.give_or_take)


def _slicker(conditions: Conditions, hotter: float) -> float:
    """Grip left of a surface that got hotter [K], at least a tenth."""
    return max(1.0 - conditions.hot_slick.si * hotter, 0.1)


def conditions_after(conditions: Conditions, seconds: float) -> Conditions:
    """Conditions some time [s] into a run: air, surface and its grip in straight lines from one entry of
    `later` to the next, held after the last. Where no later grip is told, it follows the temperature of the
    surface. Never raises.
    """
    grip = replace(conditions.grip, si=surface_grip(conditions), evidence="unstated")
    changed = {}
    for name, start in (("air", conditions.air), ("surface", conditions.surface), ("grip", grip)):
        told = [(entry.after.si, at.si) for entry in conditions.later if (at := getattr(entry, name))]
        if told:
            times, values = zip((0.0, start.si), *told, strict=True)
            changed[name] = replace(start, si=float(np.interp(seconds, times, values)))
    if "surface" in changed and "grip" not in changed:
        hotter = changed["surface"].si - conditions.surface.si
        changed["grip"] = replace(grip, si=grip.si * _slicker(conditions, hotter))
    return conditions.model_copy(update=changed) if changed else conditions


def motion(
    track: Track, conditions: Conditions, *, speed: float, end: int = 0, station: Station = MIDDLE
) -> Any:
    """The motion record at a station of one end (0 or 1) of a track, at a speed [m/s].

    A right-turning track mirrors curvature and bank. Where a station gains or loses curvature or bank, it
    does so at the end's own rate (full value over `turn_in`, over `bank_change`).
    """
    at = track.ends[min(end, len(track.ends) - 1)]
    hand = 1.0 if track.turns == "left" else -1.0
    curvature, bank = hand / center_radius(track, at), hand * at.bank.si
    record = np.zeros(1, MOTION)[0]
    record["gravity"] = GRAVITY
    record["air_density"], record["grip"] = density(conditions), surface_grip(conditions)
    record["speed"], record["acceleration"] = speed, station.along.si
    record["curvature"] = station.curvature.si * curvature
    record["curvature_rate"] = station.curvature_change.si * curvature / at.turn_in.si
    straight = hand * track.straight_bank.si
    record["bank"] = straight + station.bank.si * (bank - straight)
    record["bank_rate"] = station.bank_change.si * (bank - straight) / at.bank_change.si
    return record
