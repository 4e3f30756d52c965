"""What was measured, as it is typed: one reading or several, how sure, measured or a maker's figure.

Several readings are parted by commas, semicolons or line ends; those of a point of the car, which has commas
of its own, by semicolons or line ends.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ovalwright.notebook.garage.measuring_tools import Tool
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import (
    Kind,
    Place,
    Quantity,
    UnitError,
    read_number,
    read_place,
    read_quantity,
    show,
    unusual,
)

Origin = Literal["measured", "maker"]

MOST_READINGS = 50
IN_BAND = 1.96
"""Standard deviations in half of a 95 % band."""
UPPER_END = 0.975
KNOWN_OF_A_TOOL = 4
"""What is known of the scatter of a tool, as so many readings more (common practice, no source)."""
REPEATS = 0.5
"""Share of a tool's own variance that is the same at every reading (common practice, no source)."""
_THOUSANDS = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?![\d,])")
_ALL_OF_THREE = re.compile(r"\d{3}(?:,\d{3})+")
_DECIMAL_COMMA = re.compile(r"\s*[+-]?\d+,\d{1,2}(?![\d,])[^,;\n]*")
_HAS_UNIT = re.compile(r"[^\W\d_]|[%\"'°]")
_MARKS = frozenset("\"'°")
"""Units that are signs, not words."""


class GiveTrouble(NotebookTrouble):
    """A give-or-take that cannot be read."""


@dataclass(frozen=True)
class Reading:
    """A number as it is written in a file, and what it is then; `told` is how several were put together."""

    written: dict[str, str]
    value: Quantity | Place
    told: str = ""


def read_measured(
    typed: str,
    kind: Kind,
    *,
    is_point: bool = False,
    give: str = "",
    tool: Tool | None = None,
    origin: Origin = "measured",
) -> Reading:
    """One number of what was typed: the mean of several readings, and how far that may be off.

    `give` is half of the 95 % band as typed; without it the tool tells, together with the scatter of several
    readings; a maker's figure without it is as sure as a tag. Raises NotebookTrouble, GiveTrouble.
    """
    readings = _parted(typed, kind, is_point)
    unit = _unit_of(readings[-1], kind)
    try:
        held = [_read({"value": one, "from": origin}, kind, is_point) for one in readings]
    except UnitError as problem:
        raise NotebookTrouble(f"{str(problem).rstrip('.')}.") from None
    off = (
        _with_unit(give.strip(), unit) if give.strip() else tool.give if tool and origin == "measured" else ""
    )
    written = {"value": readings[-1], "from": origin} | ({"give_or_take": off} if off else {})
    try:
        value = _read(written, kind, is_point)
    except UnitError as problem:
        raise GiveTrouble(f"{str(problem).rstrip('.')}.") from None
    if len(held) == 1:
        return Reading(written, value)
    values = np.array([np.atleast_1d(one.si) for one in held])
    apart = _in_unit(float(np.ptp(values, axis=0).max()), kind, unit, span=True)
    told = f"mean of {len(held)} readings that lie {f'{apart:.3g} {unit}'.strip()} apart"
    half = _widest(value) if give.strip() else half_of_mean(values, _widest(value))
    return _of(values.mean(axis=0), half, kind, unit, origin, told)


def together_with(new: Reading, old: Quantity | Place, kind: Kind) -> Reading:
    """A reading and what was measured before, each weighed by how sure it is (the mean of least variance)."""
    halves = np.array([_widest(new.value), _widest(old)])
    if not halves.all():
        return new
    weights = halves**-2.0 / (halves**-2.0).sum()
    mean = weights @ np.array([np.atleast_1d(one.si) for one in (new.value, old)])
    half = float((halves**-2.0).sum() ** -0.5)
    unit = _unit_of(new.written["value"], kind)
    told = f"{new.written['value']} together with the {old.text} measured before"
    return _of(mean, half, kind, unit, "measured", f"{new.told}; {told}" if new.told else told)


def _of(mean: np.ndarray, half: float, kind: Kind, unit: str, origin: Origin, told: str) -> Reading:
    """A mean (axes) with half of its band, as it is written in a unit."""
    digits = _digits(_in_unit(half, kind, unit, span=True))
    numbers = ", ".join(f"{_in_unit(float(axis), kind, unit):.{digits}f}" for axis in mean)
    written = {
        "value": f"{numbers} {unit}".strip(),
        "from": origin,
        "give_or_take": f"{_in_unit(half, kind, unit, span=True):.{digits}f} {unit}".strip(),
    }
    return Reading(written, _read(written, kind, len(mean) > 1), told)


def example(kind: Kind, is_point: bool) -> str:
    """What to type for one reading."""
    return "5.50, 9.60, 6.20 in" if is_point else kind.example


def half_of_mean(values: np.ndarray, tool: float) -> float:
    """Half of the 95 % band of the mean of readings (n, axes), the worst axis; one of them is good to `tool`.

    By Student's t from their scatter, which is never taken for less than the tool's, together with the part
    of the tool's error that every reading repeats (GUM, JCGM 100:2008, 4.3 and G.3, from memory).
    """
    from scipy.special import stdtrit

    count = len(values)
    scatter = max(float(values.std(axis=0, ddof=1).max()), tool / IN_BAND)
    factor = float(stdtrit(count - 1 + KNOWN_OF_A_TOOL, UPPER_END))
    return math.hypot(factor * scatter / math.sqrt(count), math.sqrt(REPEATS) * tool)


def _parted(typed: str, kind: Kind, is_point: bool) -> list[str]:
    """The readings, each with a unit: its own, else that of the last one, else the usual one of its kind."""
    text = typed.strip()
    if not is_point:
        text = text.replace(",", ".") if _DECIMAL_COMMA.fullmatch(text) else text
        text = _THOUSANDS.sub(lambda found: _one_or_several(found[0], kind), text)
    pieces = re.split(r"[;\n]" if is_point else r"[;,\n]", text)
    found = [" ".join(piece.split()) for piece in pieces if piece.strip()]
    if not found:
        raise NotebookTrouble(f'nothing is typed; write such as "{example(kind, is_point)}".')
    if len(found) > MOST_READINGS:
        raise NotebookTrouble(f"{len(found)} readings are too many; write {MOST_READINGS} at the most.")
    unit = _unit_of(found[-1], kind)
    return [one if _HAS_UNIT.search(one) else f"{one} {unit}".strip() for one in found]


def _one_or_several(number: str, kind: Kind) -> str:
    """A number without its commas; `201,203` of a kind that cannot be so much is two readings."""
    whole = number.replace(",", "")
    return number if _ALL_OF_THREE.fullmatch(number) and float(whole) > kind.possible[1] else whole


def _unit_of(text: str, kind: Kind) -> str:
    """The unit at the end of a reading or of a point; the usual one of its kind where there is none."""
    try:
        unit = read_number(text.rpartition(",")[2])[1]
    except UnitError:
        return kind.us
    return unit if unit and not _MARKS & set(unit) else kind.us


def _with_unit(give: str, unit: str) -> str:
    return give if _HAS_UNIT.search(give) else f"{give} {unit}".strip()


def _read(written: dict[str, str], kind: Kind, is_point: bool) -> Quantity | Place:
    return read_place(written, kind) if is_point else read_quantity(written, kind)


def _in_unit(si: float, kind: Kind, unit: str, *, span: bool = False) -> float:
    return replace(kind, span=span or kind.span).from_si(si, unit)


def _digits(off: float) -> int:
    """Digits after the point that show two figures of how far a number may be off."""
    return 3 if off <= 0.0 else min(max(1 - math.floor(math.log10(off)), 0), 4)


# ---------------- a word on it


def looks_odd(new: Quantity | Place, old: Quantity | Place, kind: Kind) -> str:
    """A sentence that asks to look again at a number that is unusual, or more than twice as far from the one
    that stood there as both bands together reach; nothing of any other.
    """
    if isinstance(new, Quantity) and (why := unusual(new.si, kind)):
        return f"{show(new.si, kind)} is {why}; look again."
    for (value, give), (was, was_give) in zip(_axes(new), _axes(old), strict=True):
        if abs(value - was) > 2.0 * math.hypot(give, was_give) > 0.0:
            return f"{new.text} is far from the {old.text} that stood there; look again."
    return ""


def _axes(held: Quantity | Place) -> list[tuple[float, float]]:
    if isinstance(held, Place):
        return list(zip(held.si, held.give_or_take, strict=True))
    return [(held.si, _widest(held))]


def _widest(held: Quantity | Place) -> float:
    """Half of the band, on its wider side or of its worst axis."""
    if isinstance(held, Place):
        return max(held.give_or_take)
    low, high = held.band
    return max(high - held.si, held.si - low)
