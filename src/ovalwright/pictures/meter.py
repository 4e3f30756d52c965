"""A ruler with pointers for one weighed number, and a clock of quarter rounds for a jack bolt, as SVG."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ovalwright.pictures.hatch import hatch
from ovalwright.pictures.svg import Point, Sheet

WIDE, HIGH = 216.0, 46.0
_MARGIN, _LINE = 6.0, 26.0
_RULE = 12.0
_POINTER = 7.0
_TICKS = 8
_LETTER = 6.8
"""Width of a letter, about."""


@dataclass(frozen=True)
class Bound:
    """A limit: from `value` on it is out of rule, above it where `is_most`, else below; in `words`."""

    value: float
    is_most: bool
    words: str


@dataclass(frozen=True)
class Meter:
    """One number over its ruler from `low` to `high`, all in the units shown, with the figures of its ends.

    `solid` is where it stands at the start, `hollow` at the flag; either may be missing.
    """

    low: float
    high: float
    ends: tuple[str, str]
    solid: float | None = None
    hollow: float | None = None
    bound: Bound | None = None


def meter(name: str, told: Meter, sentence: str) -> str:
    """The ruler, with oblique bars where it is out of rule; `sentence` is what is read aloud."""
    sheet = Sheet(name, WIDE, HIGH)
    stands = [one for one in (told.solid, told.hollow) if one is not None]
    if told.bound is not None:
        _out_of_rule(sheet, told, told.bound)
    sheet.line("outline", [(_MARGIN, _LINE), (WIDE - _MARGIN, _LINE)])
    for i in range(_TICKS + 1):
        x = _MARGIN + i * (WIDE - 2 * _MARGIN) / _TICKS
        sheet.line("outline", [(x, _LINE), (x, _LINE - (6.0 if i % _TICKS == 0 else 4.0))])
    for end, kind, words in zip((_MARGIN, WIDE - _MARGIN), ("label", "label end"), told.ends, strict=True):
        if not any(abs(_across(told, one) - end) < len(words) * _LETTER + _POINTER for one in stands):
            sheet.text(kind, (end, HIGH - 3.0), words)
    for value, kind in ((told.hollow, "pointer hollow"), (told.solid, "pointer")):
        if value is not None:
            x = _across(told, value)
            sheet.line(kind, [(x, _LINE + 1.0), (x - _POINTER, HIGH - 6.0), (x + _POINTER, HIGH - 6.0)],
                       closed=True)  # fmt: skip
    return sheet.svg(sentence)


def _across(told: Meter, value: float) -> float:
    """Where a value stands; what is beyond the ruler stands at its end."""
    share = (value - told.low) / (told.high - told.low)
    return _MARGIN + min(max(share, 0.0), 1.0) * (WIDE - 2 * _MARGIN)


def _out_of_rule(sheet: Sheet, told: Meter, bound: Bound) -> None:
    at, top = _across(told, bound.value), _LINE - _RULE
    left, right = (at, WIDE - _MARGIN) if bound.is_most else (_MARGIN, at)
    if right - left > 1.0:
        sheet.box("forbidden", left, top, right - left, _RULE)
        for x, y, x2, y2 in hatch("/", left, right, _RULE):
            sheet.line("bars", [(x, top + y), (x2, top + y2)])
    sheet.line("limit", [(at, top - 2.0), (at, _LINE + 2.0)])
    long = _LETTER * len(bound.words)
    if at + 4.0 + long <= WIDE:
        sheet.text("forbids", (at + 4.0, top - 2.0), bound.words)
    else:
        sheet.text("forbids end", (max(at - 4.0, long), top - 2.0), bound.words)


def quarter_clock(name: str, rounds: float, sentence: str) -> str:
    """Rounds of a jack bolt: filled clockwise where it gets longer, the other way where shorter."""
    sheet, center, radius = Sheet(name, 48.0, 48.0), (24.0, 24.0), 20.0
    sheet.circle("outline", center, radius)
    for quarter in range(4):
        sheet.line("outline", [_on(center, radius, quarter / 4), _on(center, radius - 4.0, quarter / 4)])
    part = math.copysign(abs(rounds) % 1.0 or float(rounds != 0.0), rounds)
    if part:
        steps = max(int(24 * abs(part)), 2)
        rim = [_on(center, radius - 1.0, part * i / steps) for i in range(steps + 1)]
        sheet.line("patch", [center, *rim], closed=True)
    return sheet.svg(sentence)


def _on(center: Point, radius: float, turn: float) -> Point:
    """A point of the rim so many turns clockwise from the top."""
    angle = 2.0 * math.pi * turn
    return center[0] + radius * math.sin(angle), center[1] - radius * math.cos(angle)
