"""Numbers and units as they are typed: ``"15 3/8 in"`` to 15.375 and ``in``, ``lb-ft/deg`` to its SI factor.

Factors are the exact values of NIST SP 811, appendix B.8. Units outside the short table are looked up
with pint, which is imported only then.
"""

from __future__ import annotations

import difflib
import itertools
import math
import re
from collections.abc import Iterator
from fractions import Fraction
from functools import cache, lru_cache
from typing import Any, NamedTuple

# Exponents of kilogram, meter, second, kelvin, angle; an angle counts, so that lb-ft and lb-ft/deg differ.
Dimension = tuple[int, int, int, int, int]

PURE: Dimension = (0, 0, 0, 0, 0)
MASS: Dimension = (1, 0, 0, 0, 0)
LENGTH: Dimension = (0, 1, 0, 0, 0)
TIME: Dimension = (0, 0, 1, 0, 0)
TEMPERATURE: Dimension = (0, 0, 0, 1, 0)
ANGLE: Dimension = (0, 0, 0, 0, 1)
SPEED: Dimension = (0, 1, -1, 0, 0)
ACCELERATION: Dimension = (0, 1, -2, 0, 0)
FORCE: Dimension = (1, 1, -2, 0, 0)
PRESSURE: Dimension = (1, -1, -2, 0, 0)
ENERGY: Dimension = (1, 2, -2, 0, 0)
POWER: Dimension = (1, 2, -3, 0, 0)
VOLUME: Dimension = (0, 3, 0, 0, 0)
SPIN: Dimension = (0, 0, -1, 0, 1)

LB, LBF, INCH, FOOT, G0 = 0.45359237, 4.4482216152605, 0.0254, 0.3048, 9.80665
GALLON, PSI = 3.785411784e-3, LBF / INCH**2

_Meaning = tuple[float, Dimension]
_ATOMS: dict[str, tuple[_Meaning, ...]] = {
    "lb": ((LB, MASS), (LBF, FORCE)),
    "lbm": ((LB, MASS),),
    "lbf": ((LBF, FORCE),),
    "oz": ((LB / 16, MASS),),
    "kg": ((1.0, MASS),),
    "N": ((1.0, FORCE),),
    "kN": ((1000.0, FORCE),),
    "in": ((INCH, LENGTH),),
    "ft": ((FOOT, LENGTH),),
    "mi": ((1609.344, LENGTH),),
    "mm": ((0.001, LENGTH),),
    "cm": ((0.01, LENGTH),),
    "m": ((1.0, LENGTH),),
    "km": ((1000.0, LENGTH),),
    "s": ((1.0, TIME),),
    "min": ((60.0, TIME),),
    "h": ((3600.0, TIME),),
    "mph": ((0.44704, SPEED),),
    "g": ((G0, ACCELERATION), (0.001, MASS)),
    "psi": ((LBF / INCH**2, PRESSURE),),
    "Pa": ((1.0, PRESSURE),),
    "kPa": ((1000.0, PRESSURE),),
    "bar": ((1e5, PRESSURE),),
    "inHg": ((3386.389, PRESSURE),),
    "deg": ((math.pi / 180, ANGLE),),
    "rad": ((1.0, ANGLE),),
    "rpm": ((2 * math.pi / 60, SPIN),),
    "gal": ((GALLON, VOLUME),),
    "L": ((0.001, VOLUME),),
    "hp": ((550 * FOOT * LBF, POWER),),
    "kW": ((1000.0, POWER),),
    "W": ((1.0, POWER),),
    "%": ((0.01, PURE),),
    "round": ((1.0, PURE),),
    "lap": ((1.0, PURE),),
    "K": ((1.0, TEMPERATURE),),
    "C": ((1.0, TEMPERATURE),),
    "F": ((5 / 9, TEMPERATURE),),
    "kJ": ((1000.0, ENERGY),),
    "MJ": ((1e6, ENERGY),),
    "klb": ((1000 * LB, MASS), (1000 * LBF, FORCE)),
    "GPa": ((1e9, PRESSURE),),
}
_SPELLINGS = {
    "lbs": "lb", "pound": "lb", "pounds": "lb", "inch": "in", "inches": "in", '"': "in", "feet": "ft",
    "foot": "ft", "'": "ft", "mile": "mi", "miles": "mi", "degree": "deg", "degrees": "deg", "°": "deg",
    "rounds": "round", "turn": "round", "turns": "round", "laps": "lap", "gallon": "gal",
    "gallons": "gal", "percent": "%", "l": "L", "sec": "s", "seconds": "s", "hr": "h", "hour": "h",
    "kph": "km/h", "Nm": "N m", "lbft": "lb ft", "ftlb": "ft lb",
}  # fmt: skip
NOUNS: dict[Dimension, str] = {
    PURE: "a plain number",
    MASS: "a weight",
    FORCE: "a force",
    LENGTH: "a length",
    (0, 2, 0, 0, 0): "an area",
    VOLUME: "a volume",
    ANGLE: "an angle",
    TIME: "a time",
    SPEED: "a speed",
    ACCELERATION: "an acceleration",
    PRESSURE: "a pressure",
    POWER: "a power",
    SPIN: "a speed of rotation",
    TEMPERATURE: "a temperature",
    (1, 0, -2, 0, 0): "a spring rate",
    ENERGY: "a torque",
    (1, 2, -2, 0, -1): "a twist rate",
    (1, -3, 0, 0, 0): "a density",
    (1, 2, -2, -1, 0): "a heat capacity",
    (1, 2, -3, -1, 0): "a heat transfer",
    (0, -2, 2, 0, 0): "a fuel consumption",
    (-1, -1, 2, 0, 0): "a wear rate",
    (0, 1, 0, -1, 0): "a growth by heat",
    (0, 0, 0, -1, 0): "a loss by heat",
}

_INTEGER = r"(?:\d{1,3}(?:,\d{3})+|\d+)"
_NUMBER = re.compile(
    rf"(?P<sign>[+\-\u2212]?)\s*(?:(?:(?P<whole>{_INTEGER})(?:\s+|-))?(?P<over>\d+)\s*/\s*(?P<under>\d+)"
    rf"|(?P<decimal>(?:{_INTEGER}(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?))(?P<rest>.*)",
    re.DOTALL,
)
_UNIT_TOKEN = re.compile(
    r"\s*(?:(?P<sep>[/*·\-])|(?P<atom>[A-Za-z]+|[%°'\"]|\d+)(?P<power>\^?-?[1-4]|[²³⁴])?)"
)
_POWERS = {"²": 2, "³": 3, "⁴": 4}
_LONGEST = 120


class UnitError(ValueError):
    """A quantity that cannot be read; its text says what was found and what would be right."""


def read_number(text: str) -> tuple[float, str]:
    """Split ``"15 3/8 in"`` into ``(15.375, "in")``.

    Raises UnitError when it does not start with a number.
    """
    if len(text) > _LONGEST:
        raise UnitError(f'"{text[:20]}..." is {len(text)} characters long, which is no number with a unit')
    match = _NUMBER.match(text.strip())
    if match is None:
        raise UnitError(f'"{shortened(text)}" does not start with a number')
    value = _value_of(match)
    rest = match["rest"]
    if rest[:1] in (",", ".") or rest[:1].isdigit():
        raise UnitError(f'"{shortened(text)}" has a number that cannot be read')
    if not math.isfinite(value):
        raise UnitError(f'"{shortened(text)}" is not a finite number')
    return (-value if match["sign"] in ("-", "\u2212") else value), rest.strip()


class Typed(NamedTuple):
    """A number exactly as typed, its unit, and whether it was typed as a fraction."""

    number: Fraction
    unit: str
    as_fraction: bool


def read_exact(text: str) -> Typed:
    """What `read_number` reads, without rounding. Raises UnitError when it does not start with a number."""
    value, unit = read_number(text)
    match = _NUMBER.match(text.strip())
    assert match is not None
    sign = -1 if value < 0.0 else 1
    if match["over"] is not None:
        whole = int((match["whole"] or "0").replace(",", ""))
        return Typed(sign * (whole + Fraction(int(match["over"]), int(match["under"]))), unit, True)
    decimal = match["decimal"].replace(",", "")
    return Typed(sign * (Fraction(abs(value)) if "e" in decimal.lower() else Fraction(decimal)), unit, False)


def _value_of(match: re.Match[str]) -> float:
    if match["decimal"] is not None:
        return float(match["decimal"].replace(",", ""))
    under = int(match["under"])
    if under == 0:
        raise UnitError(f'"{match[0].strip()}" divides by zero')
    return float((match["whole"] or "0").replace(",", "")) + int(match["over"]) / under


def unit_factor(unit: str, dimension: Dimension) -> float:
    """SI value of one ``unit`` read as ``dimension``. Raises UnitError when the unit is something else."""
    readings = meanings(unit)
    for factor, found in readings:
        if found == dimension:
            return factor
    if not unit:
        raise UnitError("no unit is given")
    nouns = dict.fromkeys(NOUNS[found] for _, found in readings if found in NOUNS)
    raise UnitError(f"{unit} is {' or '.join(nouns) or 'something else'}")


@lru_cache(maxsize=4096)
def meanings(unit: str) -> tuple[_Meaning, ...]:
    """Every reading of a unit such as ``lb-ft/deg``; ``lb`` and ``g`` have two each."""
    choices: list[list[_Meaning]] = []
    for atom, power in _atoms(unit):
        choices.append([(f**power, _raised(d, power)) for f, d in _atom(atom)])
    if len(choices) > 8:
        raise UnitError(f'"{shortened(unit)}" is no unit')
    return tuple(
        (
            math.prod(f for f, _ in pick),
            _raised(tuple(map(sum, zip(PURE, *(d for _, d in pick), strict=True))), 1),
        )
        for pick in itertools.product(*choices)
    )


def _raised(dimension: tuple[int, ...], power: int) -> Dimension:
    kg, m, s, kelvin, angle = dimension
    return (kg * power, m * power, s * power, kelvin * power, angle * power)


def _atoms(unit: str) -> Iterator[tuple[str, int]]:
    """Split a unit into (atom, exponent).

    Everything after a slash is divided by until the next product sign.
    """
    position, sign = 0, 1
    text = unit.strip()
    while position < len(text):
        match = _UNIT_TOKEN.match(text, position)
        if match is None or match.end() == position:
            raise UnitError(f'"{shortened(unit)}" is no unit')
        position = match.end()
        if match["sep"]:
            sign = -1 if match["sep"] == "/" else sign
            continue
        power = _POWERS.get(match["power"] or "", 0) or int((match["power"] or "1").lstrip("^"))
        spelled = _SPELLINGS.get(match["atom"], match["atom"])
        if spelled == match["atom"]:
            yield spelled, sign * power
        else:
            yield from ((atom, sign * power * inner) for atom, inner in _atoms(spelled))


def _atom(atom: str) -> tuple[_Meaning, ...]:
    if atom.isdigit():
        if int(atom[:8]) == 0 or len(atom) > 6:
            raise UnitError(f'"{shortened(atom)}" is no part of a unit')
        return ((float(atom), PURE),)
    return _ATOMS.get(atom) or _unusual(atom)


@lru_cache(maxsize=1024)
def _unusual(atom: str) -> tuple[_Meaning, ...]:
    """A unit outside the table, as pint knows it."""
    registry = _registry()
    readings = registry.parse_unit_name(atom) if atom.isascii() and len(atom) < 24 else ()
    if not readings:
        near = difflib.get_close_matches(atom, [*_ATOMS, *_SPELLINGS], n=1)
        hint = f", perhaps {near[0]}" if near else ""
        raise UnitError(f'"{shortened(atom)}" is no unit{hint}')
    prefix, name, _ = readings[0]
    factor, base = registry.get_base_units(prefix + name)
    dimensions = {str(key): int(power) for key, power in registry.get_dimensionality(prefix + name).items()}
    known = [dimensions.pop(key, 0) for key in ("[mass]", "[length]", "[time]")]
    if dimensions:
        raise UnitError(f'"{shortened(atom)}" is no unit of this trade')
    angle = 1 if "radian" in str(base) else 0
    return ((float(factor), (known[0], known[1], known[2], 0, angle)),)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def shortened(text: str) -> str:
    clean = " ".join(text.split())
    return clean if len(clean) <= 40 else clean[:37] + "..."
