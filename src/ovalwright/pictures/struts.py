"""A corner's coil and shock as drawn: at its length, off its seat where it hangs, its stop where it carries;
and the same a few times larger in a circle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.pictures.car_shape import Coil, Stop
from ovalwright.pictures.said import gap_words, pounds
from ovalwright.pictures.svg import Point, Sheet, path

Array = npt.NDArray[np.float64]
Eye = Callable[[Array], Point]
FOOT, CAP = 0.075, 0.03
"""How far below and above the coil its mounts lie [m]: collar and seat as drawn."""
STOP_TALL = 0.04
"""Height of a bump stop as drawn [m]."""
WIRE, STOP_WIDE, SHOCK = 0.062, 0.03, 0.022
"""Half widths of coil, stop and shock body as drawn [m]."""
TURNS = 6
BOUND_WIRE = 0.014
"""Thickness of a turn of wire as drawn [m]."""
HATCH = 0.011
"""Between the strokes of a crosshatch [m]."""


@dataclass(frozen=True)
class _Rod:
    """A straight part on paper: its lower end, unit vectors along (upward) and across, px per meter along."""

    foot: Point
    along: Point
    across: Point
    scale: float

    def at(self, up: float, side: float = 0.0) -> Point:
        """A place so far up from the foot and to the side [m]."""
        return (
            self.foot[0] + self.scale * (up * self.along[0] + side * self.across[0]),
            self.foot[1] + self.scale * (up * self.along[1] + side * self.across[1]),
        )

    def box(self, low: float, high: float, half: float) -> list[Point]:
        """A box between two heights."""
        return [self.at(low, half), self.at(high, half), self.at(high, -half), self.at(low, -half)]

    def zigzag(self, low: float, high: float, half: float, turns: int = TURNS) -> list[Point]:
        """The wire of a coil between two heights."""
        step = (high - low) / (2 * turns)
        sides = [0.0, *(half if k % 2 else -half for k in range(1, 2 * turns)), 0.0]
        return [self.at(low + k * step, side) for k, side in enumerate(sides)]


def _rod(eye: Eye, low: Array, top: Array) -> _Rod:
    """A strut on paper; its length there is foreshortened as it leans toward the eye."""
    foot, end = eye(low), eye(top)
    dx, dy = end[0] - foot[0], end[1] - foot[1]
    size = math.hypot(dx, dy) or 1.0
    along = (dx / size, dy / size)
    return _Rod(foot, along, (-along[1], along[0]), size / float(np.linalg.norm(top - low)))


def draw_strut(sheet: Sheet, eye: Eye, coil: Coil, stop: Stop | None) -> None:
    """Coil, seat, collar, shock and stop of one corner."""
    rod = _rod(eye, coil.low, coil.top)
    length = coil.length
    body = 0.55 * length if stop is None else length - stop.gap - STOP_TALL - CAP
    sheet.line("rod", [rod.at(body), rod.at(length)])
    sheet.line("shock", rod.box(0.02, body, SHOCK), closed=True)
    if stop is not None:
        _draw_stop(sheet, rod, length, stop)
    _draw_coil(sheet, rod, coil)
    for end in (0.0, length):
        sheet.circle("joint", rod.at(end), 2.4)


def _draw_coil(sheet: Sheet, rod: _Rod, coil: Coil) -> None:
    if coil.state == "none":
        return
    seat = coil.length - CAP
    sheet.line("seat", [rod.at(seat, -1.25 * WIRE), rod.at(seat, 1.25 * WIRE)])
    sheet.line("seat", [rod.at(FOOT, -1.25 * WIRE), rod.at(FOOT, 1.25 * WIRE)])
    hangs = coil.state == "hanging"
    end = coil.touching - CAP if hangs else seat
    kind = {"hanging": "coil fine", "bound": "coil bound"}.get(coil.state, "coil")
    sheet.line(kind, rod.zigzag(FOOT, end, WIRE))


def ghost_coil(sheet: Sheet, eye: Eye, coil: Coil) -> None:
    """The coil of the other setup as a box of dashes at its length, with its seat, which may stand off it."""
    if coil.state == "none":
        return
    rod = _rod(eye, coil.low, coil.top)
    seat = coil.length - CAP
    end = coil.touching - CAP if coil.state == "hanging" else seat
    sheet.line("ghost", rod.box(FOOT, end, 1.3 * WIRE), closed=True)
    sheet.line("ghost", [rod.at(seat, -1.8 * WIRE), rod.at(seat, 1.8 * WIRE)])


def _draw_stop(sheet: Sheet, rod: _Rod, length: float, stop: Stop) -> None:
    """The stop hangs from the shaft's upper end; squeezed, it is as tall as the room it has."""
    high = length - CAP
    low = high - STOP_TALL - min(stop.gap, 0.0)
    sheet.line("stop in" if stop.engaged else "stop", rod.box(low, high, STOP_WIDE), closed=True)


# ---------------- larger, in a circle


@dataclass(frozen=True)
class Note:
    """What is drawn larger: where its leader begins [px], its number, the part's name and what it does."""

    at: Point
    number: str
    name: str
    words: str
    coil: Coil
    stop: Stop | None
    lean: Point

    def draw(self, sheet: Sheet, center: Point, radius: float) -> None:
        """Draw it in a circle on paper."""
        sheet.circle("lens", center, radius)
        window = sheet.clip(self.name.replace(" ", "-"), center, radius - 1.0)
        sheet.begin(clip=window)
        if self.stop is None and self.coil.state == "bound":
            _bound_larger(sheet, center, radius, self.lean)
        elif self.stop is None:
            _coil_larger(sheet, center, radius, self.lean, self.coil)
        else:
            _stop_larger(sheet, center, radius, self.lean, self.stop)
        sheet.end()
        sheet.circle("lens-rim", center, radius)


def notes_of(coil: Coil, stop: Stop | None, eye: Eye) -> list[Note]:
    """What of a corner deserves a circle: a stop that carries, a coil that is bound or off its seat."""
    rod = _rod(eye, coil.low, coil.top)
    bound = "coil bound" if coil.state == "bound" else ""
    if stop is not None and stop.engaged:
        where = rod.at(coil.length - CAP - 0.5 * STOP_TALL)
        words = f"in, {bound}" if bound else "in"
        return [Note(where, f"{pounds(stop.force)} lb", f"{stop.name} stop", words, coil, stop, rod.along)]
    if bound:
        where = rod.at(0.5 * (FOOT + coil.length - CAP))
        return [Note(where, f"{pounds(coil.force)} lb", coil.name, bound, coil, None, rod.along)]
    if coil.state == "hanging":
        where = rod.at(coil.length - CAP)
        return [Note(where, gap_words(coil.gap), f"{coil.name} coil", "off seat", coil, None, rod.along)]
    return []


def _larger(center: Point, radius: float, lean: Point, tall: float, up: float) -> _Rod:
    """A rod through a circle that shows `tall` meters of it, the height `up` in the middle."""
    scale = 2.0 * radius / tall
    foot = (center[0] - scale * up * lean[0], center[1] - scale * up * lean[1])
    return _Rod(foot, lean, (-lean[1], lean[0]), scale)


def _coil_larger(sheet: Sheet, center: Point, radius: float, lean: Point, coil: Coil) -> None:
    """Seat, gap and the coil's last turns; the gap is dimensioned."""
    gap = coil.gap
    tall = max(0.12, 3.0 * gap)
    rod = _larger(center, radius, lean, tall, -0.75 * gap - 0.012)
    sheet.line("shock", rod.box(-tall, tall, 0.012), closed=True)
    sheet.line("seat", [rod.at(0.0, -1.25 * WIRE), rod.at(0.0, 1.25 * WIRE)])
    sheet.line("coil fine", rod.zigzag(-gap - 0.2, -gap, WIRE, 8))
    side = 0.3 * tall
    sheet.path("dimension", "".join(
        path([rod.at(up, side - 0.06 * tall), rod.at(up, side + 0.06 * tall)]) for up in (0.0, -gap)
    ) + path([rod.at(0.0, side), rod.at(-gap, side)]))  # fmt: skip


def _bound_larger(sheet: Sheet, center: Point, radius: float, lean: Point) -> None:
    """Turns of wire that touch each other."""
    rod = _larger(center, radius, lean, 0.16, 0.0)
    for up in np.arange(-0.09, 0.09, BOUND_WIRE).tolist():
        sheet.line("stop", rod.box(up, up + BOUND_WIRE, WIRE), closed=True)


def _stop_larger(sheet: Sheet, center: Point, radius: float, lean: Point, stop: Stop) -> None:
    """A stop squeezed between its two faces, crosshatched."""
    room = STOP_TALL + stop.gap
    rod = _larger(center, radius, lean, 0.11, 0.5 * room)
    sheet.line("rod wide", [rod.at(room), rod.at(0.2)])
    sheet.line("shock", rod.box(-0.1, 0.0, SHOCK), closed=True)
    bulge = 1.12 * STOP_WIDE
    half = [(0.0, STOP_WIDE), (0.5 * room, bulge), (room, STOP_WIDE)]
    around = [*half, *((up, -across) for up, across in reversed(half))]
    sheet.line("stop in", [rod.at(*corner) for corner in around], closed=True)
    sheet.path("cross", "".join(path([rod.at(*end) for end in ends]) for ends in _crosshatch(room)))
    for up in (0.0, room):
        sheet.line("seat", [rod.at(up, -1.2 * STOP_WIDE), rod.at(up, 1.2 * STOP_WIDE)])


def _crosshatch(tall: float) -> list[list[Point]]:
    """Strokes both ways at 45 degrees within the stop's faces, as heights and places across [m]."""
    strokes = []
    for way in (1.0, -1.0):
        for begin in np.arange(-STOP_WIDE - tall, STOP_WIDE + tall, HATCH).tolist():
            low, high = max(0.0, -STOP_WIDE - way * begin), min(tall, STOP_WIDE - way * begin)
            if high - low > 0.2 * HATCH:
                strokes.append([(low, begin + way * low), (high, begin + way * high)])
    return strokes
