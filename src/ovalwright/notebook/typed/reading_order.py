"""Temperatures and pressures of four tires in the order they are read off, as one line of numbers.

An order is told once, in words, and remembered so: `LF out mid in, RF in mid out, LR out mid in, RR in mid
out`. Inside is toward the infield on every tire. Numbers are parted by spaces, slashes, commas, dashes or
line ends; a comma before a single digit is a decimal mark; `-` alone stands for one that was not read. A
corner may be named before its numbers (`RF 201 196 188`): then that is where they belong.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from ovalwright.corners import CORNERS
from ovalwright.documents.headings import PARTS
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, Kind, UnitError, read_quantity

DEFAULT = "LF out mid in, RF out mid in, LR out mid in, RR out mid in"
"""Tire by tire from the left front, each from its outside in (common practice, no source)."""
LONGEST = 2000
_SHORT = {"inside": "in", "middle": "mid", "outside": "out"}
_PARTS = {
    **dict.fromkeys(("in", "inside", "inner", "i"), "inside"),
    **dict.fromkeys(("mid", "middle", "m", "center", "c"), "middle"),
    **dict.fromkeys(("out", "outside", "outer", "o"), "outside"),
}
_EXAMPLE = f"write such as {DEFAULT}"

Spot = tuple[str, str]


@dataclass(frozen=True)
class ReadingOrder:
    """Corner and third of the tread (`inside`, `middle`, `outside`) of each number, in the order read."""

    spots: tuple[Spot, ...]

    def __str__(self) -> str:
        """As it is told and remembered."""
        parts = {corner: [_SHORT[part] for at, part in self.spots if at == corner] for corner in self.corners}
        return ", ".join(f"{corner} {' '.join(read)}" for corner, read in parts.items())

    @property
    def corners(self) -> tuple[str, ...]:
        """The tires in the order they are gone round."""
        return tuple(dict.fromkeys(corner for corner, _ in self.spots))


@dataclass(frozen=True)
class TireReading:
    """One number read off a tire: its corner, its third of the tread or nothing, SI, and as typed."""

    corner: str
    part: str
    si: float
    typed: str


@dataclass(frozen=True)
class TireReadings:
    """What was read, in the order read; what was not read is left out."""

    readings: tuple[TireReading, ...]

    def of(self, corner: str, part: str = "") -> float:
        """One of them, SI; NaN where it was not read."""
        found = (one.si for one in self.readings if (one.corner, one.part) == (corner, part))
        return next(found, math.nan)

    def tread(self, corner: str) -> tuple[float, float, float]:
        """Inside, middle and outside of one tire, SI; NaN where not read."""
        inside, middle, outside = (self.of(corner, part) for part in PARTS)
        return inside, middle, outside


def read_order(text: str) -> ReadingOrder:
    """An order as it is told: corners, each with the thirds of its tread; a corner alone is read from outside
    in.

    Raises NotebookTrouble, one sentence.
    """
    read: dict[str, list[str]] = {}
    corner = ""
    for word in re.findall(r"[^\s,;/.:>-]+", text):
        if word.upper() in CORNERS:
            corner = word.upper()
            if corner in read:
                raise NotebookTrouble(f"The order names {corner} twice; {_EXAMPLE}.")
            read[corner] = []
            continue
        part = _PARTS.get(word.lower())
        if part is None or not corner:
            what = f'"{word[:30]}" is no third of a tread' if corner else f'"{word[:30]}" is no corner'
            raise NotebookTrouble(f"The order cannot be read: {what}; {_EXAMPLE}.")
        if part in read[corner]:
            raise NotebookTrouble(f"The order reads {corner} {_SHORT[part]} twice; {_EXAMPLE}.")
        read[corner].append(part)
    if not read:
        raise NotebookTrouble(f"The order names no corner; {_EXAMPLE}.")
    spots = ((corner, part) for corner, parts in read.items() for part in parts or reversed(PARTS))
    return ReadingOrder(tuple(spots))


def read_temperatures(text: str, order: str | ReadingOrder = DEFAULT, *, unit: str = "F") -> TireReadings:
    """Temperatures [K] in the order read, in `unit` where none is typed (`C` behind the last is for all).

    Raises NotebookTrouble, one sentence that says how many are missing and where.
    """
    spots = (order if isinstance(order, ReadingOrder) else read_order(order)).spots
    return _read(text, spots, KINDS["temperature"], unit, "temperatures")


def read_pressures(text: str, order: str | ReadingOrder = DEFAULT, *, unit: str = "psi") -> TireReadings:
    """Pressures [Pa], one a tire, going round as in the order. Raises NotebookTrouble, one sentence."""
    corners = (order if isinstance(order, ReadingOrder) else read_order(order)).corners
    return _read(text, tuple((corner, "") for corner in corners), KINDS["pressure"], unit, "pressures")


# ---------------- numbers to their places

_TOKEN = re.compile(
    r"(?P<number>(?:(?<!\d)[+\-\u2212])?\d+(?:\.\d+|,\d(?!\d))?)\s*°?\s*(?P<unit>psi|kpa|bar|f|c|k)?(?![a-z\d])"
    rf"|(?P<corner>{'|'.join(CORNERS)})(?![a-z])|(?P<none>[-x?_]+)(?![\w.])|(?P<end>[/;|\n])|(?P<gap>[\s,:=]+|(?<=\d)-(?=\d))",
    re.IGNORECASE,
)
_UNITS = {"psi": "psi", "kpa": "kPa", "bar": "bar", "f": "F", "c": "C", "k": "K"}


@dataclass(frozen=True)
class _Number:
    typed: str
    unit: str


def _read(text: str, spots: Sequence[Spot], kind: Kind, unit: str, what: str) -> TireReadings:
    groups = _groups(text, what, kind)
    placed = _placed(groups, spots, what)
    units = {number.unit for _, number in placed if number.unit}
    if len(units) > 1 and any(number.typed and not number.unit for _, number in placed):
        raise NotebookTrouble(
            f"Some {what} are in {' and '.join(sorted(units))}, some in nothing; write one unit."
        )
    usual = next(iter(units), unit)
    readings = []
    for (corner, part), number in placed:
        if number.typed:
            typed = f"{number.typed} {number.unit or usual}"
            readings.append(TireReading(corner, part, _si(typed, kind, _called((corner, part))), typed))
    return TireReadings(tuple(readings))


def _si(typed: str, kind: Kind, where: str) -> float:
    try:
        return read_quantity(typed, kind).si
    except UnitError as problem:
        raise NotebookTrouble(f"{where}: {problem}.") from None


def _groups(text: str, what: str, kind: Kind) -> list[tuple[str, list[_Number]]]:
    """Numbers as they are grouped: by a corner before them, by slashes or line ends; a group may be empty."""
    groups: list[tuple[str, list[_Number]]] = [("", [])]
    if len(text) > LONGEST:
        raise NotebookTrouble(f"The {what} are longer than {LONGEST} characters; write those of one car.")
    at, typed = 0, text.strip()
    while at < len(typed):
        token = _TOKEN.match(typed, at)
        if token is None:
            rest = " ".join(typed[at:].split())[:20]
            raise NotebookTrouble(
                f'The {what} cannot be read at "{rest}"; write numbers such as {_example(kind)}.'
            )
        at = token.end()
        if token["number"]:
            number = token["number"].replace(",", ".").replace("\u2212", "-")
            groups[-1][1].append(_Number(number, _UNITS.get((token["unit"] or "").lower(), "")))
        elif token["none"]:
            groups[-1][1].append(_Number("", ""))
        elif token["corner"]:
            groups.append((token["corner"].upper(), []))
        elif token["end"]:
            groups.append(("", []))
    return [group for group in groups if group[0] or group[1]]


def _example(kind: Kind) -> str:
    return "178 185 190 / 201 196 188" if kind.name == "temperature" else "13 28.5 14 26"


def _placed(
    groups: Sequence[tuple[str, list[_Number]]], spots: Sequence[Spot], what: str
) -> list[tuple[Spot, _Number]]:
    """Each number at its place. Raises NotebookTrouble where they are too few or too many."""
    of_corner = {corner: [spot for spot in spots if spot[0] == corner] for corner, _ in spots}
    if any(corner for corner, _ in groups):
        return _by_name(groups, of_corner, what)
    numbers = [number for _, group in groups for number in group]
    if len(groups) == len(of_corner) and len(groups) > 1:
        for (corner, own), (_, group) in zip(of_corner.items(), groups, strict=True):
            _check_count(group, own, f"{what} of {corner}")
    _check_count(numbers, spots, what)
    return list(zip(spots, numbers, strict=True))


def _by_name(
    groups: Sequence[tuple[str, list[_Number]]], of_corner: dict[str, list[Spot]], what: str
) -> list[tuple[Spot, _Number]]:
    placed: list[tuple[Spot, _Number]] = []
    seen: set[str] = set()
    for corner, group in groups:
        if not corner:
            raise NotebookTrouble(
                f"Some {what} stand behind a corner and {group[0].typed or 'others'} does not; "
                "name every corner or none."
            )
        if corner in seen or corner not in of_corner:
            why = "is there twice" if corner in seen else "is not in the order they are read in"
            raise NotebookTrouble(f"{corner} {why}; write each tire once.")
        seen.add(corner)
        _check_count(group, of_corner[corner], f"{what} of {corner}")
        placed += zip(of_corner[corner], group, strict=True)
    return placed


def _check_count(numbers: Sequence[_Number], spots: Sequence[Spot], what: str) -> None:
    found, wanted = len(numbers), len(spots)
    if found < wanted:
        missing = [_called(spot) for spot in spots[found:]]
        where = missing[0] if len(missing) == 1 else f"{missing[0]} to {missing[-1]}"
        raise NotebookTrouble(
            f"{found} of {wanted} {what} are there; {wanted - found} missing, {where} if the rest is in "
            "order; write - for one that was not read."
        )
    if found > wanted:
        extra = numbers[wanted].typed or "-"
        raise NotebookTrouble(
            f"{found} {what} are there and {wanted} are read, {found - wanted} too many from {extra} on; "
            "leave out what does not belong."
        )


def _called(spot: Spot) -> str:
    corner, part = spot
    return f"{corner} {_SHORT[part]}" if part else corner
