"""The kinds of quantity: what a field of a document holds, its units, ranges and measuring error."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ovalwright.units.text import (
    NOUNS,
    TEMPERATURE,
    Dimension,
    UnitError,
    meanings,
    read_number,
    shortened,
    unit_factor,
)

Evidence = Literal["measured", "maker", "typical", "scales", "unstated"]
System = Literal["us", "si"]
STATED_EVIDENCE: tuple[Evidence, ...] = ("measured", "maker", "typical", "scales")

_TEMPERATURES = {"F": (5 / 9, 459.67), "C": (1.0, 273.15), "K": (1.0, 0.0)}
_TEMPERATURE = re.compile(r"(?:deg|°)?\s*([FCK])")


@dataclass(frozen=True)
class Kind:
    """What a field holds.

    ``us`` and ``si`` are the units it is shown in, with digits after the point. ``usual`` and ``possible``
    are ranges and ``tag``, ``measured`` are one standard deviation as (absolute, share of the value), all
    in the US unit; ``tag`` is the error of a value whose origin is not stated or is a maker's, ``measured``
    of a careful reading. A ``span`` is a difference of two temperatures: 18 F are 10 K.
    """

    name: str
    us: str
    si: str
    us_digits: int
    si_digits: int
    usual: tuple[float, float]
    possible: tuple[float, float]
    tag: tuple[float, float]
    measured: tuple[float, float]
    example: str
    span: bool = False

    @property
    def positive(self) -> bool:
        """Whether a negative value is impossible."""
        return self.possible[0] >= 0

    def to_si(self, us_value: float) -> float:
        """A number in the US unit of this kind as SI."""
        return self.in_si(us_value, self.us)

    def to_us(self, si_value: float) -> float:
        """An SI number in the US unit of this kind."""
        return self.from_si(si_value, self.us)

    def in_si(self, value: float, unit: str) -> float:
        if unit in _TEMPERATURES:
            scale, shift = self.scale_of(unit)
            return (value + shift) * scale
        return value * unit_factor(unit, self.dimension)

    def from_si(self, value: float, unit: str) -> float:
        if unit in _TEMPERATURES:
            scale, shift = self.scale_of(unit)
            return value / scale - shift
        return value / unit_factor(unit, self.dimension)

    def scale_of(self, unit: str) -> tuple[float, float]:
        """Size of a degree in K, and degrees from absolute zero to its zero, none for a span."""
        scale, shift = _TEMPERATURES[unit]
        return scale, 0.0 if self.span else shift

    @property
    def dimension(self) -> Dimension:
        """Exponents of kilogram, meter, second, kelvin and angle."""
        return TEMPERATURE if self.us in _TEMPERATURES else _dimension_of(self.si)

    @property
    def noun(self) -> str:
        """The kind in words, for a sentence."""
        return NOUNS.get(self.dimension, f"a value in {self.us}")

    def one_sigma(self, si_value: float, evidence: Evidence) -> float:
        """Standard deviation, SI, of a reading of this kind."""
        absolute, share = self.measured if evidence == "measured" else self.tag
        step = abs(self.to_si(absolute) - self.to_si(0.0))
        return math.hypot(step, share * si_value)


def _dimension_of(unit: str) -> Dimension:
    """Dimension of one of our display units; of several meanings the force or the acceleration is meant."""
    readings = meanings(unit)
    return next((found for _, found in readings if found in NOUNS), readings[0][1])


def _kinds() -> Iterator[Kind]:
    """Ranges: judged from rule books and shop practice (common practice, no source).

    Errors: shop instruments.
    """
    inf = math.inf
    point, tape, height = (0.10, 0.0), (0.125, 0.0), (0.0625, 0.0)
    scale = (4.0, 0.001)
    row = Kind
    # Lengths
    yield row("point", "in", "mm", 2, 1, (-180, 120), (-400, 400), point, (0.03, 0), "15.2 in")
    yield row("wheelbase", "in", "mm", 2, 0, (90, 125), (40, 250), tape, tape, "105 in")
    yield row("tread", "in", "mm", 2, 0, (54, 72), (20, 120), tape, tape, "65 in")
    yield row("height", "in", "mm", 2, 1, (0, 40), (-20, 120), height, height, "4 1/4 in")
    yield row("roll_out", "in", "mm", 2, 0, (76, 95), (30, 160), height, (0.045, 0), "86 1/4 in")
    yield row("toe", "in", "mm", 3, 1, (-0.75, 0.75), (-6, 6), (1 / 32, 0), (1 / 32, 0), "1/16 in")
    yield row("travel", "in", "mm", 3, 1, (0, 12), (0, 60), height, height, "2 3/4 in")
    yield row("coil_length", "in", "mm", 2, 1, (4, 22), (0.5, 60), height, height, "10 in")
    yield row("bind_height", "in", "mm", 2, 1, (1, 9), (0.1, 40), height, (0.03, 0), "3.4 in")
    yield row("gap", "in", "mm", 3, 1, (0, 6), (0, 40), height, (0.03, 0), "1/4 in")
    yield row("shift", "in", "mm", 3, 1, (-6, 6), (-40, 40), height, height, "1/2 in")
    yield row("bar_size", "in", "mm", 3, 1, (0.5, 2.5), (0, 10), (0.003, 0), (0.002, 0), "1 1/4 in")
    yield row("bar_length", "in", "mm", 2, 0, (5, 50), (1, 90), height, height, "38 in")
    yield row("pitch", "in", "mm", 4, 2, (0.04, 0.25), (0.005, 2), (0, 0), (0, 0), "1/8 in")
    yield row("tire_width", "in", "mm", 2, 0, (6, 14), (1, 200), tape, height, "10 in")
    yield row("wear", "in", "mm", 3, 1, (0, 0.3), (0, 2), (0.01, 0), (0.005, 0), "0.04 in")
    yield row("growth", "in", "mm", 2, 1, (-1, 2), (-10, 10), (0.06, 0), (0.06, 0), "0.4 in")
    yield row("road_length", "ft", "m", 0, 0, (30, 3000), (5, 30000), (0, 0.02), (0, 0.005), "220 ft")
    yield row("track_length", "mi", "km", 3, 3, (0.1, 2.7), (0.02, 30), (0, 0.01), (0, 0.003), "0.375 mi")
    yield row("road_width", "ft", "m", 0, 1, (24, 90), (8, 400), (2, 0), (0.5, 0), "45 ft")
    yield row("from_edge", "ft", "m", 1, 1, (3, 70), (0, 400), (0, 0), (0, 0), "12 ft")
    yield row("along", "ft", "m", 0, 1, (0, 15000), (0, 100000), (0, 0), (0, 0), "140 ft")
    yield row("rise", "ft", "m", 1, 2, (-100, 100), (-2000, 20000), (0, 0), (0, 0), "1.5 ft")
    yield row("bend", "deg/100ft", "deg/m", 2, 3, (-80, 80), (-400, 400), (0, 0), (0, 0), "32 deg/100ft")
    yield row("slope", "%", "%", 1, 1, (-3, 3), (-20, 20), (0.3, 0), (0.1, 0), "0.5 %")
    yield row("radius", "ft", "m", 0, 1, (50, 1200), (15, 20000), (0, 0.04), (0, 0.02), "160 ft")
    yield row("altitude", "ft", "m", 0, 0, (-300, 9000), (-2000, 20000), (50, 0), (20, 0), "600 ft")
    yield row("gyration", "in", "mm", 1, 0, (10, 80), (2, 200), (2, 0), (1, 0), "52 in")
    # Weights and inertias
    yield row("mass", "lb", "kg", 1, 1, (0, 900), (0, 20000), (0.5, 0.005), (0.5, 0.001), "195 lb")
    yield row("corner_weight", "lb", "kg", 1, 1, (200, 1600), (0, 20000), scale, (2, 0.001), "712 lb")
    yield row(
        "total_weight", "lb", "kg", 0, 0, (1000, 4500), (50, 60000), (2, 0.0003), (2, 0.0003), "2800 lb"
    )
    yield row("inertia", "kg m^2", "kg m^2", 3, 3, (0, 5), (0, 5000), (0, 0.1), (0, 0.03), "1.3 kg m^2")
    yield row("volume", "gal", "L", 1, 1, (0, 40), (0, 400), (1, 0), (0.4, 0), "22 gal")
    yield row("density", "lb/gal", "kg/L", 2, 3, (5.5, 9), (0.5, 40), (0.12, 0), (0.03, 0), "6.15 lb/gal")
    # Forces, rates, torques
    yield row("force", "lb", "N", 0, 0, (0, 500), (0, 50000), (3, 0.1), (1, 0.03), "35 lb")
    yield row(
        "spring_rate", "lb/in", "N/mm", 0, 1, (50, 1500), (0, 200000), (0, 0.02), (2, 0.01), "225 lb/in"
    )
    yield row("stop_rate", "lb/in", "N/mm", 0, 1, (50, 4000), (0, 400000), (0, 0.2), (0, 0.05), "350 lb/in")
    yield row(
        "bound_rate", "lb/in", "N/mm", 0, 0, (3000, 100000), (100, 1e7), (0, 0.5), (0, 0.2), "20000 lb/in"
    )
    yield row("bar_rate", "lb/in", "N/mm", 0, 1, (50, 6000), (0, 400000), (0, 0.08), (0, 0.03), "430 lb/in")
    yield row(
        "tire_rate", "lb/in", "N/mm", 0, 1, (500, 2200), (50, 50000), (0, 0.15), (0, 0.04), "1100 lb/in"
    )
    yield row(
        "rate_gain", "lb/in/psi", "N/mm/kPa", 1, 3, (10, 80), (0, 1000), (0, 0.15), (0, 0.05), "40 lb/in/psi"
    )
    yield row("growth_rate", "in/psi", "mm/kPa", 3, 3, (0, 0.4), (0, 5), (0, 0.3), (0.01, 0), "0.12 in/psi")
    yield row("torque", "lb-ft", "N m", 0, 0, (0, 6000), (0, 1e6), (0, 0.05), (0, 0.03), "396 lb-ft")
    yield row(
        "preload_torque", "lb-ft", "N m", 0, 0, (-500, 500), (-1e5, 1e5), (5, 0.05), (3, 0.02), "40 lb-ft"
    )
    yield row(
        "twist_rate",
        "lb-ft/deg",
        "N m/deg",
        0,
        0,
        (2000, 30000),
        (100, 1e7),
        (0, 0.2),
        (0, 0.1),
        "7000 lb-ft/deg",
    )
    yield row("modulus", "psi", "GPa", 0, 1, (1e7, 1.25e7), (1e5, 1e8), (2e5, 0), (2e5, 0), "11500000 psi")
    yield row("steer_give", "deg/klb", "deg/kN", 3, 3, (0, 1), (0, 20), (0, 0.5), (0, 0.2), "0.2 deg/1000lb")
    # Angles and ratios
    yield row("camber", "deg", "deg", 1, 1, (-8, 10), (-30, 30), (0.1, 0), (0.1, 0), "-3.5 deg")
    yield row("caster", "deg", "deg", 1, 1, (-4, 14), (-30, 40), (0.4, 0), (0.4, 0), "5 deg")
    yield row("angle", "deg", "deg", 1, 1, (-45, 45), (-89, 89), (0.5, 0), (0.2, 0), "10 deg")
    yield row("bank", "deg", "deg", 1, 1, (-2, 36), (-45, 60), (0.7, 0), (0.2, 0), "12 deg")
    yield row(
        "camber_gain", "deg/in", "deg/mm", 2, 4, (-2.5, 0.5), (-20, 20), (0.06, 0), (0.02, 0), "-1.1 deg/in"
    )
    yield row(
        "roll_steer", "deg/deg", "deg/deg", 3, 3, (-0.2, 0.2), (-2, 2), (0.02, 0), (0.005, 0), "0.02 deg/deg"
    )
    yield row("motion_ratio", "", "", 3, 3, (0.3, 1.1), (0.02, 5), (0.01, 0), (0.005, 0), "0.67")
    yield row("ratio", "", "", 2, 2, (1, 30), (0.05, 200), (0.05, 0), (0.01, 0), "12")
    yield row("share", "%", "%", 1, 1, (0, 100), (0, 100), (2, 0), (0.5, 0), "66 %")
    yield row("percent", "%", "%", 1, 1, (-60, 160), (-1000, 1000), (2, 0), (1, 0), "52.5 %")
    yield row("factor", "", "", 3, 3, (0.5, 1.5), (0.01, 10), (0, 0.03), (0, 0.01), "1.02")
    yield row("change", "", "", 2, 2, (-2, 2), (-20, 20), (0.1, 0), (0.05, 0), "0.5")
    yield row("rounds", "round", "round", 2, 2, (-10, 10), (-200, 200), (0.05, 0), (0.05, 0), "1/2 round")
    # Air, pressure, motion
    yield row("pressure", "psi", "kPa", 1, 0, (5, 60), (0, 300), (0.3, 0), (0.15, 0), "12 psi")
    yield row("barometer", "inHg", "kPa", 2, 1, (28.5, 31), (10, 40), (0.05, 0), (0.02, 0), "29.92 inHg")
    yield row("temperature", "F", "C", 0, 0, (10, 160), (-80, 400), (3, 0), (1, 0), "75 F")
    yield row(
        "temperature_span", "F", "K", 0, 0, (5, 500), (0.1, 5000), (5, 0.1), (2, 0.02), "180 F", span=True
    )
    yield row("brake_temperature", "F", "C", 0, 0, (50, 1400), (-80, 3000), (40, 0), (20, 0), "900 F")
    yield row("aero_area", "ft^2", "m^2", 1, 2, (-6, 40), (-200, 400), (0, 0.15), (0, 0.05), "8.5 ft^2")
    yield row("area_gain", "ft^2/in", "m^2/m", 2, 2, (-3, 6), (-50, 50), (0, 0.5), (0, 0.2), "1 ft^2/in")
    yield row("side_area", "ft^2/deg", "m^2/deg", 2, 3, (0, 2), (0, 50), (0, 0.3), (0, 0.1), "0.7 ft^2/deg")
    yield row("slosh", "in/g", "mm/g", 1, 0, (0, 12), (0, 100), (1.5, 0), (0.5, 0), "3 in/g")
    yield row("speed", "mph", "km/h", 1, 1, (20, 220), (0, 400), (0.5, 0), (0.2, 0), "75 mph")
    yield row("shaft_speed", "in/s", "mm/s", 1, 0, (0.5, 20), (0, 200), (0.1, 0), (0.05, 0), "3 in/s")
    yield row("acceleration", "g", "g", 2, 2, (-1.5, 1), (-5, 5), (0.03, 0), (0.01, 0), "-0.3 g")
    yield row("spin", "rpm", "rpm", 0, 0, (500, 10000), (0, 50000), (50, 0), (20, 0), "6200 rpm")
    yield row("lap_time", "s", "s", 3, 3, (10, 60), (3, 600), (0.1, 0), (0.003, 0), "15.62 s")
    yield row("lap_gain", "s", "s", 3, 3, (0, 5), (0.001, 60), (0, 0), (0, 0), "0.1 s")
    yield row("per_lap", "lb/lap", "kg/lap", 2, 3, (0, 5), (0, 100), (0, 0), (0, 0), "1 lb/lap")
    # Heat, wear, fuel
    yield row("durometer", "", "", 0, 0, (40, 80), (0, 100), (2, 0), (1, 0), "58")
    yield row("heat_capacity", "kJ/K", "kJ/K", 1, 1, (0.2, 50), (0.01, 5000), (0, 0.2), (0, 0.05), "5.5 kJ/K")
    yield row("heat_transfer", "W/K", "W/K", 0, 0, (0, 300), (0, 10000), (0, 0.4), (0, 0.15), "60 W/K")
    yield row("wear_rate", "in/MJ", "mm/MJ", 4, 3, (0, 0.02), (0, 10), (0, 0.5), (0, 0.1), "0.002 in/MJ")
    yield row("heat_growth", "in/F", "mm/K", 4, 3, (0, 0.01), (-1, 1), (0, 0.3), (0, 0.1), "0.0015 in/F")
    yield row("heat_loss", "%/F", "%/K", 2, 2, (0, 1), (-10, 10), (0, 0.3), (0, 0.1), "0.1 %/F")
    yield row(
        "fuel_rate", "lb/hp/h", "kg/kW/h", 2, 3, (0.35, 1.6), (0.05, 10), (0, 0.05), (0, 0.02), "0.48 lb/hp/h"
    )
    yield row("time", "min", "min", 0, 0, (0, 600), (0, 10000), (1, 0), (0.5, 0), "45 min")
    yield row("count", "", "", 0, 0, (0, 1000), (0, 1e6), (0, 0), (0, 0), "4")
    yield row("plain", "", "", 3, 3, (-inf, inf), (-1e12, 1e12), (0, 0), (0, 0), "1")


KINDS: dict[str, Kind] = {kind.name: kind for kind in _kinds()}


def parse(value: object, kind: Kind) -> float:
    """SI value of what was written for a field of this kind. Raises UnitError with what would be right."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise UnitError(f"{described(value)} is no quantity; {_wanted(kind)}")
    try:
        number, unit = read_number(value) if isinstance(value, str) else (_finite(value), "")
    except UnitError as problem:
        raise UnitError(f"{problem}; {_wanted(kind)}") from None
    try:
        si = _to_si(number, unit, kind)
    except UnitError as problem:
        raise UnitError(f'"{shortened(str(value))}": {problem}; {_wanted(kind)}') from None
    if not math.isfinite(si):
        raise UnitError(f'"{shortened(str(value))}" is not a finite number; {_wanted(kind)}')
    return si


def _to_si(number: float, unit: str, kind: Kind) -> float:
    if kind.dimension == TEMPERATURE:
        match = _TEMPERATURE.fullmatch(unit)
        if match is None:
            raise UnitError(f"{unit} is no temperature" if unit else "no unit is given")
        scale, shift = kind.scale_of(match[1])
        return (number + shift) * scale
    return number * unit_factor(unit, kind.dimension)


def _finite(value: float) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise UnitError(f"{value} is not a finite number")
    return number


def _wanted(kind: Kind) -> str:
    return f'write {kind.noun} such as "{kind.example}"'


def described(value: object) -> str:
    names = {bool: "true or false", dict: "a table", list: "a list", str: "text"}
    return names.get(type(value), f"a {type(value).__name__}")


def check_possible(si: float, text: str, kind: Kind) -> None:
    """Raise UnitError when the value cannot be, for instance a negative spring rate."""
    low, high = (kind.to_si(limit) for limit in kind.possible)
    slack = 1e-9 * max(abs(low), abs(high))
    if not low - slack <= si <= high + slack:
        raise UnitError(
            f'"{shortened(text)}" cannot be; {kind.noun} from {_range(kind, kind.possible)} is possible here'
        )


def unusual(si: float, kind: Kind) -> str:
    """A phrase when the value is outside the usual range, else an empty string."""
    low, high = (kind.to_si(limit) for limit in kind.usual)
    slack = 1e-9 * max(abs(low), abs(high))
    if math.isfinite(low) and not low - slack <= si <= high + slack:
        return f"outside the usual {_range(kind, kind.usual)}"
    return ""


def _range(kind: Kind, limits: tuple[float, float]) -> str:
    return f"{limits[0]:,.10g} to {limits[1]:,.10g} {kind.us}".strip()


def shown(si: float, kind: Kind, *, system: System = "us") -> float:
    """The number that is shown for an SI value, in the unit of the system."""
    return kind.from_si(si, kind.us if system == "us" else kind.si)


def show(si: float, kind: Kind | str, *, system: System = "us") -> str:
    """An SI value as text with its unit, rounded as the trade rounds it, for instance ``"225 lb/in"``."""
    kind = KINDS[kind] if isinstance(kind, str) else kind
    digits = kind.us_digits if system == "us" else kind.si_digits
    unit = kind.us if system == "us" else kind.si
    number = f"{shown(si, kind, system=system):,.{digits}f}"
    return f"{_no_minus_zero(number)} {unit}".strip()


def _no_minus_zero(number: str) -> str:
    return number.lstrip("-") if not number.strip("-0.,") else number
