"""What was measured, as it is typed: one reading or several, how sure, measured or a maker's figure.

Several readings are parted by semicolons or blanks, those of a point of the car by semicolons. A comma that
can be meant in more than one way is asked about, and so are readings that cannot be of one thing.
"""

from __future__ import annotations

import contextlib
import math
import re
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from ovalwright.notebook.garage.measuring_tools import Tool
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.readings import Comma, one_number, parted, points
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
FAR = 10.0
"""Bands that readings of one thing may lie apart (common practice, no source)."""
_FINEST = 20
"""Digits after the point, at the most."""
_HAS_UNIT = re.compile(r"[^\W\d_]|[%\"'°]")
_MARKS = frozenset("\"'°")
"""Units that are signs, not words."""


class GiveTrouble(NotebookTrouble):
    """A give-or-take that cannot be read."""


@dataclass(frozen=True)
class Reading:
    """A number as it is written in a file, and what it is then; `told` is how several were put together,
    `tool` half of the 95 % band of one reading alone, SI.
    """

    written: dict[str, str]
    value: Quantity | Place
    told: str = ""
    tool: float = field(default=0.0, compare=False)


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
    used = tool.give if tool and origin == "measured" else ""
    readings, values = _readings(typed, kind, is_point, (one_number(give), used))
    unit = _unit_of(readings[-1], kind)
    off = _with_unit(one_number(give), unit) if give.strip() else used
    written = {"value": readings[-1], "from": origin} | ({"give_or_take": off} if off else {})
    try:
        value = _read(written, kind, is_point)
    except UnitError as problem:
        raise GiveTrouble(f"{str(problem).rstrip('.')}.") from None
    if len(readings) == 1:
        return Reading(written, value, tool=_widest(value))
    apart = _in_unit(float(np.ptp(values, axis=0).max()), kind, unit, span=True)
    told = f"mean of {len(readings)} readings that lie {f'{apart:.3g} {unit}'.strip()} apart"
    half = _widest(value) if give.strip() else half_of_mean(values, _widest(value))
    return replace(_of(values.mean(axis=0), half, kind, unit, origin, told), tool=_widest(value))


def together_with(new: Reading, old: Quantity | Place, kind: Kind) -> Reading:
    """A reading and what was measured before, each weighed by how sure it is (the mean of least variance)."""
    halves = np.array([_widest(new.value), _widest(old)])
    certain = halves == 0.0
    weights = certain.astype(float) if certain.any() else halves**-2.0
    weights /= weights.sum()
    both = np.array([np.atleast_1d(one.si) for one in (new.value, old)])
    apart = float(np.ptp(both, axis=0).max())
    half = half_of_both(halves, weights, apart, new.tool)
    unit = _unit_of(new.written["value"], kind)
    told = f"{new.written['value']} together with the {old.text} measured before"
    told = f"{new.told}; {told}" if new.told else told
    return _of(weights @ both, half, kind, unit, "measured", told)


def _of(mean: np.ndarray, half: float, kind: Kind, unit: str, origin: Origin, told: str) -> Reading:
    """A mean (axes) with half of its band, as it is written in a unit; in percent only if usual."""
    unit = kind.us if unit.endswith("%") else unit
    axes = [_in_unit(float(axis), kind, unit) for axis in mean]
    digits = _digits(_in_unit(half, kind, unit, span=True), max(map(abs, axes)))
    numbers = ", ".join(f"{axis:.{digits}f}" for axis in axes)
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

    By Student's t from their scatter, which is never taken for less than the tool's own, together with the
    part of the tool's error that every reading repeats (GUM, JCGM 100:2008, 4.3 and G.3, from memory).
    """
    count = len(values)
    scatter = max(float(values.std(axis=0, ddof=1).max()), math.sqrt(1.0 - REPEATS) * tool / IN_BAND)
    return math.hypot(_student(count) * scatter / math.sqrt(count), math.sqrt(REPEATS) * tool)


def half_of_both(halves: np.ndarray, weights: np.ndarray, apart: float, tool: float) -> float:
    """Half of the 95 % band of the weighted mean of two numbers (2,) that lie `apart`, the later by a tool.

    As of readings at one time: what the tool repeats is in both and does not average out (GUM, JCGM 100:2008,
    5.2, from memory), and where they lie further apart than their bands allow, that counts as their scatter.
    What was measured before with a better tool is never made surer than it was.
    """
    repeats = min(math.sqrt(REPEATS) * tool, float(halves.min()))
    own = np.sqrt(halves**2 - repeats**2)
    if apart > np.hypot(*own):
        return math.hypot(_student(2) * apart * math.sqrt(float(weights.prod())), repeats)
    return min(math.hypot(*(weights * own), repeats), float(halves.min()))


def _student(count: int) -> float:
    """Student's t of so many readings, 95 %, with what is known of a tool."""
    from scipy.special import stdtrit

    return float(stdtrit(count - 1 + KNOWN_OF_A_TOOL, UPPER_END))


# ---------------- which readings


def _readings(typed: str, kind: Kind, is_point: bool, gives: tuple[str, str]) -> tuple[list[str], np.ndarray]:
    """The readings, each with a unit, and what they are (n, axes), SI. Raises NotebookTrouble."""
    ways: dict[Comma, list[str]] = {"several": points(typed)} if is_point else dict(parted(typed))
    good: dict[Comma, tuple[list[str], np.ndarray]] = {}
    troubles = []
    for comma, pieces in ways.items():
        try:
            good[comma] = _alike(pieces, kind, is_point, gives)
        except (UnitError, NotebookTrouble) as problem:
            troubles.append(f"{str(problem).rstrip('.')}.")
    if not good:
        raise NotebookTrouble(troubles[0])
    if "thousands" in good and "several" not in good:
        good.pop("decimal", None)
    if len(good) > 1 or ("thousands" in ways and "decimal" in good):
        told = " or ".join(f'"{"; ".join(ways[comma])[:60]}"' for comma in good)
        raise NotebookTrouble(
            f'the comma in "{typed.strip()[:60]}" can be meant in more than one way; write {told}.'
        )
    readings, values = next(iter(good.values()))
    if np.ptp(values, axis=0).max() > (FAR * _band(readings, kind, is_point, gives) or math.inf):
        raise _too_far(readings, values)
    return readings, values


def _alike(
    pieces: list[str], kind: Kind, is_point: bool, gives: tuple[str, str]
) -> tuple[list[str], np.ndarray]:
    """Readings with their units, and what they are. Raises UnitError, NotebookTrouble; the latter also where
    the least is not half of the largest, and further off than a tool shows.
    """
    if not pieces:
        raise NotebookTrouble(f'nothing is typed; write such as "{example(kind, is_point)}".')
    if len(pieces) > MOST_READINGS:
        raise NotebookTrouble(f"{len(pieces)} readings are too many; write {MOST_READINGS} at the most.")
    unit = _unit_of(pieces[-1], kind)
    readings = [one if _HAS_UNIT.search(one) else f"{one} {unit}".strip() for one in pieces]
    held = [_read({"value": one, "from": "measured"}, kind, is_point) for one in readings]
    values = np.array([np.atleast_1d(one.si) for one in held])
    apart, largest = np.ptp(values, axis=0), np.abs(values - kind.to_si(0.0)).max(axis=0)
    seen = 2.0 * _band(readings, kind, is_point, gives)
    if (apart > np.maximum(seen, 0.5 * (1.0 + 1e-9) * largest)).any():
        raise _too_far(readings, values)
    return readings, values


def _too_far(readings: list[str], values: np.ndarray) -> NotebookTrouble:
    order = values[:, np.ptp(values, axis=0).argmax()].argsort()
    return NotebookTrouble(
        f"{readings[order[0]]} and {readings[order[-1]]} lie too far apart to be readings of one thing; put "
        "a semicolon between readings, write one number as 1250 or 12.5, or say how far they may be off."
    )


def _band(readings: list[str], kind: Kind, is_point: bool, gives: tuple[str, str]) -> float:
    """Half of the widest band of a reading, by what is typed of it and by its tool, else of a careful one."""
    typed, used = gives
    offs = [_with_unit(typed, _unit_of(readings[-1], kind)) if typed else "", used]
    found = [0.0]
    for off in filter(None, offs) if any(offs) else ("",):
        for one in readings:
            written = {"value": one, "from": "measured"} | ({"give_or_take": off} if off else {})
            with contextlib.suppress(UnitError):
                found.append(_widest(_read(written, kind, is_point)))
    return max(found)


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


def _digits(off: float, size: float) -> int:
    """Digits after the point that show two figures of how far a number may be off, six of a certain one."""
    last = math.log10(off) - 1.0 if off > 0.0 else math.log10(size) - 5.0 if size > 0.0 else 0.0
    return min(max(-math.floor(last), 0), _FINEST)


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
