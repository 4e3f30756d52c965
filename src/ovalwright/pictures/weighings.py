"""What a car weighed from one weighing to the next: cross, left and rear in one scale, as SVG."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from ovalwright.pictures.svg import Point, Sheet

WIDE = 330.0
_LEFT, _RIGHT = 44.0, 62.0
_HEAD, _FOOT, _GAP = 20.0, 18.0, 10.0
_MOST, _LEAST = 13.0, 3.0
"""Pixels of one percent, at the most and at the least."""
_TALL = 110.0
"""What all three together may take [px], beside their gaps."""
_ROOM = 40.0
"""A value beside its mark needs so much of the line [px]."""


@dataclass(frozen=True)
class Percent:
    """One of the three by its name, its values in percent, the oldest first."""

    name: str
    values: Sequence[float]


def weighings(days: Sequence[dt.date], weighed: Sequence[bool], told: Sequence[Percent]) -> str:
    """The percents of the car by weighing, the oldest first; hollow where worked out, not weighed."""
    spans = [max(one.values) - min(one.values) for one in told]
    per = min(max(_TALL / max(sum(spans), 1e-9), _LEAST), _MOST)
    tall = sum(per * span + _HEAD + _GAP for span in spans)
    sheet = Sheet("weighings", WIDE, tall + _FOOT)
    across = [_LEFT + (WIDE - _LEFT - _RIGHT) * i / max(len(days) - 1, 1) for i in range(len(days))]
    top = 0.0
    for one, span in zip(told, spans, strict=True):
        top += _HEAD
        _draw(sheet, one, across, weighed, top, per)
        top += per * span + _GAP
    sheet.text("axis", (_LEFT, tall + _FOOT - 4.0), days[0].isoformat())
    if days[-1] > days[0]:
        sheet.text("axis end", (WIDE - _RIGHT, tall + _FOOT - 4.0), days[-1].isoformat())
    return sheet.svg(_aloud(days, told))


def _draw(
    sheet: Sheet, one: Percent, across: Sequence[float], weighed: Sequence[bool], top: float, per: float
) -> None:
    high = max(one.values)
    points: list[Point] = [
        (x, top + per * (high - value)) for x, value in zip(across, one.values, strict=True)
    ]
    sheet.text("label", (0.0, points[0][1] + 4.5), one.name)
    if len(points) > 1:
        sheet.line("curve", points)
    taken = WIDE - _RIGHT
    for (x, y), value, is_weighed in reversed(list(zip(points, one.values, weighed, strict=True))):
        sheet.circle("event" if not is_weighed else "dot", (x, y), 4.0)
        if x < taken - _ROOM:
            sheet.text("axis halo mid", (x, y - 7.0), f"{value:.1f}")
            taken = x
    sheet.text("word", (max(across) + 10.0, points[-1][1] + 4.5), f"{one.values[-1]:.1f} %")


def _aloud(days: Sequence[dt.date], told: Sequence[Percent]) -> str:
    said = "; ".join(
        f"{one.name} {', '.join(f'{value:.1f}' for value in one.values)} percent" for one in told
    )
    return f"This car from {days[0].isoformat()} to {days[-1].isoformat()}, weighing by weighing. {said}."
