"""Wedge along a turn over lanes of what touches where, and the same lanes over the fuel at one place."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.pictures.layout import round_ticks
from ovalwright.pictures.said import number, percent
from ovalwright.pictures.svg import Point, Room, Sheet, path
from ovalwright.units import FOOT

Array = npt.NDArray[np.float64]
Along = Callable[[float], float]
PHONE_STRIP, LAPTOP_STRIP = Room(360.0, 144.0, True), Room(926.0, 194.0, False)
PHONE_FUEL, LAPTOP_FUEL = Room(360.0, 48.0, True), Room(404.0, 48.0, False)
LEFT_OF_FUEL, RIGHT = 96.0, 26.0
"""Paper left of the full cell, for half a thumb and the gallons, and right of every strip [px]."""
LETTER, LINE_TALL = 6.4, 17.0
"""How wide a letter of an axis is, about, and how tall a line of them [px]."""


def left_of(room: Room) -> float:
    """Paper left of the start of the strip along the turn [px], for the names of its lanes."""
    return 58.0 if room.phone else 116.0


FOOT_TALL, RAIL = 46.0, 20.0
"""Height of the foot of a strip, and how far down in it the slider's rail lies, with its scale below [px]."""
NARROWEST = 0.06
"""Least span of wedge that a strip shows."""
LANE, GIVE_WIDE = 10.0, 7.0
"""Height of a lane; half the width of a band at one place [px]."""


@dataclass(frozen=True)
class Track:
    """One lane: its name and the stretches, from and to, in which the part touches."""

    name: str
    filled: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Event:
    """A place on the curve that has words: where something picks up or engages."""

    at: float
    words: str


@dataclass(frozen=True, eq=False)
class Turned:
    """What a strip shows. `distance` (N,) [m], `wedge` (N,), a share, NaN where there is no state.

    `phases` are names with where they begin and end [m]; `place` is the one in hand [m]; `on_scales` the
    share on the scales; `ghost` (N,) another setup's wedge; `band` (low, high) of the hand's, `give` half of
    one at the place in hand alone.
    """

    distance: Array
    wedge: Array
    phases: Sequence[tuple[str, float, float]]
    lanes: Sequence[Track]
    place: float
    on_scales: float | None = None
    ghost: Array | None = None
    ghost_name: str = ""
    band: tuple[Array, Array] | None = None
    events: Sequence[Event] = ()
    give: float = math.nan

    @property
    def here(self) -> float:
        """Wedge at the place in hand, NaN without a state."""
        return float(np.interp(self.place, self.distance, self.wedge))

    @property
    def phase(self) -> str:
        """Name of the phase in hand."""
        return next((name for name, begin, end in self.phases if begin <= self.place <= end), "")


def wedge_span(*curves: Array | float | None) -> tuple[float, float]:
    """Lowest and highest wedge of an axis that holds some curves, in whole steps of 2 %: give it all fuels
    and setups of a page, so that nothing is rescaled while a thumb moves.
    """
    every = np.concatenate([np.ravel(curve) for curve in curves if curve is not None])
    every = every[np.isfinite(every)]
    if not every.size:
        return 0.48, 0.56
    low, high = float(every.min()), float(every.max())
    short = max(NARROWEST - (high - low), 0.0)
    step = 0.02
    return step * math.floor((low - 0.5 * short) / step), step * math.ceil((high + 0.5 * short) / step)


def strip(
    turned: Turned,
    room: Room = LAPTOP_STRIP,
    *,
    span: tuple[float, float] | None = None,
    name: str = "strip",
) -> str:
    """Wedge along the turn with its lanes and the place in hand."""
    sheet = Sheet(name, room.width, room.height)
    low, high = span or wedge_span(turned.wedge, turned.ghost, turned.on_scales)
    length = float(turned.distance[-1])
    end = room.height - FOOT_TALL
    top, bottom = 24.0, end - len(turned.lanes) * (LANE + 4.0) - 8.0

    def x(distance: float) -> float:
        return left_of(room) + (room.width - left_of(room) - RIGHT) * distance / length

    def y(wedge: float) -> float:
        return bottom - (bottom - top) * (wedge - low) / (high - low)

    def curve(kind: str, wedge: Array) -> None:
        pieces = _pieces(
            [(x(d), y(w)) for d, w in zip(turned.distance.tolist(), wedge.tolist(), strict=True)]
        )
        sheet.path(kind, "".join(path(piece) for piece in pieces))

    if turned.band is not None:
        _band(sheet, [(x(d), y(w)) for d, w in zip(turned.distance, turned.band[0], strict=True)],
              [(x(d), y(w)) for d, w in zip(turned.distance, turned.band[1], strict=True)])  # fmt: skip
    if math.isfinite(turned.here + turned.give):
        ends = [min(max(y(turned.here + way * turned.give), top), bottom) for way in (1.0, -1.0)]
        sheet.box("band", x(turned.place) - GIVE_WIDE, ends[0], 2.0 * GIVE_WIDE, ends[1] - ends[0])
    _grid(sheet, room, low, high, y)
    _phases(sheet, turned, x, bottom)
    if turned.on_scales is not None and low <= turned.on_scales <= high:
        level = y(turned.on_scales)
        sheet.line("scales-line", [(left_of(room), level), (room.width - RIGHT, level)])
    if turned.ghost is not None:
        curve("ghost", turned.ghost)
        _name_ghost(sheet, turned, x, y, bottom)
    curve("curve", turned.wedge)
    if turned.on_scales is not None and low <= turned.on_scales <= high:
        words = f"{'scales' if room.phone else 'on the scales'} {percent(turned.on_scales)}"
        _name_scales(sheet, turned, room, words, x, y, (top, bottom))
    for event in turned.events:
        at = np.interp(event.at, turned.distance, turned.wedge)
        if np.isfinite(at):
            sheet.line("thin", [(x(event.at), y(float(at))), (x(event.at), bottom + 6.0)])
            sheet.circle("event", (x(event.at), y(float(at))), 4.0)
            if event.words and not room.phone:
                _name_event(sheet, room, event.words, (x(event.at), y(float(at))), bottom)
    _lanes(sheet, room, turned.lanes, left_of(room), bottom + 6.0, x)
    _without_state(sheet, turned, x, y, (bottom + 5.0, end - 3.0))
    _scale(sheet, room, x, round_ticks(0.0, length / FOOT, 5 if room.phone else 9), FOOT)
    _stands(sheet, room, "Turn", f"{number(turned.place / FOOT)} ft")
    sheet.line("now", [(x(turned.place), top), (x(turned.place), end + RAIL)])
    if math.isfinite(turned.here):
        sheet.circle("now-dot", (x(turned.place), y(turned.here)), 5.0)
    return sheet.svg(_sentence(turned))


def _name_event(sheet: Sheet, room: Room, words: str, at: Point, bottom: float) -> None:
    """What begins or ends at a place of the curve: at the foot, or over a curve that is low; right of it, or
    left where the paper ends.
    """
    x, y = at
    foot = y - 9.0 if y > bottom - 2.0 * LINE_TALL else bottom - 6.0
    fits = x + 8.0 + LETTER * len(words) < room.width
    sheet.text(f"label halo{'' if fits else ' end'}", (x + 8.0 if fits else x - 8.0, foot), words)


def _name_scales(
    sheet: Sheet, turned: Turned, room: Room, words: str, x: Along, y: Along, within: tuple[float, float]
) -> None:
    """The name of the line of the scales, at the end and on the side where the curves leave most room."""
    assert turned.on_scales is not None
    level, wide = y(turned.on_scales), LETTER * len(words)
    places = []
    for held, left in (("end", room.width - RIGHT - wide), ("start", left_of(room))):
        inside = [left <= x(d) <= left + wide for d in turned.distance]
        for foot in (level - 4.0, level + 13.0):
            curves = [curve for curve in (turned.wedge, turned.ghost) if curve is not None]
            rows = [y(w) for curve in curves for w in curve[inside] if math.isfinite(w)]
            clear = min((max(row - foot, foot - 11.0 - row) for row in rows), default=99.0)
            if within[0] + 11.0 <= foot <= within[1]:
                places.append((clear, held, foot))
    clear, held, foot = max(places, default=(0.0, "", 0.0))
    if clear > 0.0:
        at = room.width - RIGHT if held == "end" else left_of(room) + 2.0
        sheet.text(f"axis halo{' end' if held == 'end' else ''}", (at, foot), words)


def _pieces(points: Sequence[Point]) -> list[list[Point]]:
    """A line in pieces, broken where it is not a number."""
    pieces: list[list[Point]] = [[]]
    for point in points:
        if math.isfinite(point[1]):
            pieces[-1].append(point)
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if piece]


def _band(sheet: Sheet, low: Sequence[Point], high: Sequence[Point]) -> None:
    known = [k for k in range(len(low)) if math.isfinite(low[k][1]) and math.isfinite(high[k][1])]
    if known:
        sheet.line("band", [*(low[k] for k in known), *(high[k] for k in reversed(known))], closed=True)


def _grid(sheet: Sheet, room: Room, low: float, high: float, y: Along) -> None:
    most = int((y(low) - y(high)) / LINE_TALL)
    ticks = round_ticks(100.0 * low, 100.0 * high, max(min(most, 5), 1))
    sheet.path(
        "hair",
        "".join(path([(left_of(room), y(0.01 * t)), (room.width - RIGHT, y(0.01 * t))]) for t in ticks),
    )
    for tick in ticks:
        unit = " %" if tick == ticks[-1] else ""
        sheet.text("axis end", (left_of(room) - 5.0, y(0.01 * tick) + 4.0), f"{number(tick)}{unit}")
    sheet.text("axis end", (left_of(room) - 5.0, 13.0), "wedge")


def _phases(sheet: Sheet, turned: Turned, x: Along, bottom: float) -> None:
    for name, begin, end in turned.phases:
        here = name == turned.phase
        if begin > 0.0:
            sheet.line("rule", [(x(begin), 2.0), (x(begin), bottom)])
        if here:
            sheet.line("here", [(x(begin), 2.0), (x(end), 2.0)])
        if x(end) - x(begin) > 36.0:
            kind = "word mid" if here else "label mid"
            sheet.text(kind, (0.5 * (x(begin) + x(end)), 17.0), name.capitalize())


def _name_ghost(sheet: Sheet, turned: Turned, x: Along, y: Along, bottom: float) -> None:
    assert turned.ghost is not None
    known = np.flatnonzero(np.isfinite(turned.ghost))
    if known.size and turned.ghost_name:
        k = int(known[int(0.45 * (known.size - 1))])
        foot = y(turned.ghost[k]) + (13.0 if turned.ghost[k] < turned.wedge[k] else -5.0)
        above = y(turned.ghost[k]) - 5.0
        at = (x(turned.distance[k]), foot if foot <= bottom else above)
        sheet.text("axis halo mid", at, turned.ghost_name)


def _lanes(sheet: Sheet, room: Room, lanes: Sequence[Track], left: float, top: float, x: Along) -> None:
    """Filled where the part touches, empty where not."""
    for k, lane in enumerate(lanes):
        y = top + k * (LANE + 4.0)
        sheet.text("axis end", (left - 5.0, y + LANE - 1.0), _shortened(lane.name, left - 5.0))
        sheet.box("lane", left, y, room.width - left - RIGHT, LANE)
        for low, high in lane.filled:
            ends = sorted((x(low), x(high)))
            sheet.box("load", ends[0], y, max(ends[1] - ends[0], 1.0), LANE)


def _without_state(sheet: Sheet, turned: Turned, x: Along, y: Along, lanes: tuple[float, float]) -> None:
    """Where there is no steady state, nothing is said to touch or not: the lanes are cut there, and named."""
    at, known = turned.distance, np.isfinite(turned.wedge)
    edges = np.flatnonzero(np.diff(np.concatenate(([True], known, [True])).astype(int)))
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        left, right = x(float(at[max(first - 1, 0)])), x(float(at[min(end, len(at) - 1)]))
        if turned.lanes:
            sheet.box("paper", left, lanes[0], right - left, lanes[1] - lanes[0])
        if right - left > 2.0 * LETTER * len("none"):
            sheet.text("word", (left + 8.0, lanes[0] - 8.0), "none")


def _shortened(name: str, wide: float) -> str:
    """As many words of a name as there is room for, the first at least."""
    words = name.split()
    while len(words) > 1 and LETTER * len(" ".join(words)) > wide:
        words.pop()
    said = " ".join(words)
    return said if said == name else f"{said}\u2026"


def _scale(sheet: Sheet, room: Room, x: Along, ticks: Sequence[float], unit: float) -> None:
    """Ticks under the rail of the slider, with their figures; `unit` is that of `x` in one of theirs."""
    rail = room.height - FOOT_TALL + RAIL
    sheet.path(
        "rail", "".join(path([(x(tick * unit), rail), (x(tick * unit), rail + 8.0)]) for tick in ticks)
    )
    for tick in ticks:
        sheet.text("axis mid", (x(tick * unit), room.height - 4.0), number(tick))


def _stands(sheet: Sheet, room: Room, label: str, words: str) -> None:
    """Left of the rail what the slider moves, and where it stands in words."""
    rail = room.height - FOOT_TALL + RAIL
    sheet.text("label", (0.0, rail - 4.0), label)
    sheet.text("stands", (0.0, rail + 14.0), words)


def _sentence(turned: Turned) -> str:
    place = f"{number(turned.place / FOOT)} feet into the turn, {turned.phase}"
    here = f"wedge {percent(turned.here)} percent" if math.isfinite(turned.here) else "no steady state"
    touching = [lane.name for lane in turned.lanes if any(a <= turned.place <= b for a, b in lane.filled)]
    words = f"; touching: {', '.join(touching)}" if touching else ""
    return f"Wedge along the turn: {place}, {here}{words}."


# ---------------- over the fuel


def fuel_strip(
    capacity: float,
    fuel: float,
    lanes: Sequence[Track],
    room: Room = LAPTOP_FUEL,
    *,
    name: str = "fuel",
) -> str:
    """Lanes over fuel at one place, the full cell at the left, empty at the right; all in gallons. Each lane
    makes the paper taller.
    """
    room = Room(room.width, room.height + len(lanes) * (LANE + 4.0), room.phone)
    sheet = Sheet(name, room.width, room.height)
    end = room.height - FOOT_TALL
    rail = end + RAIL

    def x(gallons: float) -> float:
        return LEFT_OF_FUEL + (room.width - LEFT_OF_FUEL - RIGHT) * (1.0 - gallons / capacity)

    _lanes(sheet, room, lanes, LEFT_OF_FUEL, end - len(lanes) * (LANE + 4.0), x)
    sheet.line("tone", [(x(capacity), rail - 12.0), (x(0.0), rail), (x(capacity), rail)], closed=True)
    sheet.line("now", [(x(fuel), end - len(lanes) * (LANE + 4.0)), (x(fuel), rail)])
    _scale(sheet, room, x, round_ticks(0.0, capacity, 5), 1.0)
    _stands(sheet, room, "Fuel", f"{fuel:g} gal")
    touching = [lane.name for lane in lanes if any(a <= fuel <= b for a, b in lane.filled)]
    words = f", touching: {', '.join(touching)}" if touching else ""
    return sheet.svg(f"Over the fuel at this place: {number(fuel, 1)} gallons{words}.")
