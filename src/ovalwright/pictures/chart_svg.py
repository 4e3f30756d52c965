"""A chart for a page: panels over one axis with their lanes, in the classes of the page's drawings."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from ovalwright.pictures.chart import UNSURE, Chart, Curve, Floats, Lane, Panel, Piece
from ovalwright.pictures.hatch import hatch
from ovalwright.pictures.inks import ruling
from ovalwright.pictures.layout import round_ticks
from ovalwright.pictures.said import number
from ovalwright.pictures.svg import Point, Room, Sheet, path

PHONE_CHART, LAPTOP_CHART = Room(340.0, 130.0, True), Room(900.0, 190.0, False)
"""Paper of the first panel; the others take their share of its height."""
LEFT, RIGHT, HEAD, FOOT = 44.0, 8.0, 20.0, 22.0
LANE, GAP = 20.0, 4.0
CURVES = ("curve", "ghost second", "ghost third")
"""How the curves of the last, the one before and further laps or setups are drawn."""
FINEST = 1.2
"""Points of a curve nearer than this to the line between others are left out [px]."""
LETTER = 7.5

Along = Callable[[float], float]


def chart_svg(
    chart: Chart,
    room: Room = LAPTOP_CHART,
    *,
    name: str = "chart",
    panels: Sequence[Panel] | None = None,
    lanes: bool = True,
) -> str:
    """The chart, or some of its panels, with its lanes below; `name` begins its ids."""
    shown = tuple(chart.panels if panels is None else panels)
    strips = chart.lanes if lanes else ()
    heights = [room.height * panel.share / shown[0].share for panel in shown]
    height = HEAD + sum(one + HEAD for one in heights) + len(strips) * (LANE + GAP) + FOOT
    sheet = Sheet(name, room.width, height)
    low, high = chart.span

    def x(value: float) -> float:
        return LEFT + (room.width - LEFT - RIGHT) * (value - low) / (high - low)

    top = HEAD
    for panel, tall in zip(shown, heights, strict=True):
        _panel(sheet, chart, panel, room, x, top, tall)
        top += tall + HEAD
    top -= HEAD - GAP
    for of, lane in enumerate(strips):
        _lane(sheet, lane, chart.key(of), x, top)
        top += LANE + GAP
    _axis(sheet, chart, room, x, top + 14.0)
    return sheet.svg(_sentence(chart, shown))


def _sentence(chart: Chart, shown: Sequence[Panel]) -> str:
    told = "; ".join(f"{panel.heading}: {chart.told(panel)}" for panel in shown)
    marks = "; ".join(f"{chart.key(mark.of)} {mark.word}".strip() for mark in chart.marks)
    return f"{chart.title}. {told}.{f' {marks}.' if marks else ''}"


# ---------------- a panel


def _panel(sheet: Sheet, chart: Chart, panel: Panel, room: Room, x: Along, top: float, tall: float) -> None:
    low, high = _span(chart, panel)

    def y(value: float) -> float:
        return top + tall * (high - value) / (high - low)

    for zone in chart.zones:
        if zone.word != UNSURE and zone.shaded:
            sheet.box("zone", x(zone.start), top, x(zone.end) - x(zone.start), tall)
    _grid(sheet, panel, room, (low, high), y)
    for curve in panel.curves:
        _band(sheet, curve, x, y)
    for zone in chart.zones:
        if zone.word == UNSURE and panel is chart.panels[0]:
            _unsure(sheet, zone, x, top, tall)
    for curve in panel.curves:
        pieces = _pieces(curve.x, curve.y, x, y)
        sheet.path(CURVES[min(chart.rank(curve.of), len(CURVES) - 1)], "".join(map(path, pieces)))
    for mark in chart.marks:
        at = x(mark.at)
        sheet.line("rule second" if chart.rank(mark.of) else "rule", [(at, top), (at, top + tall)])
    sheet.text("axis", (2.0, top - 6.0), panel.heading)
    if panel is chart.panels[0]:
        _zone_names(sheet, chart, x, top)
    _name_curves(sheet, chart, panel, x, y)


def _span(chart: Chart, panel: Panel) -> tuple[float, float]:
    low, high = chart.extent(panel)
    spare = 0.06 * (high - low)
    return (low if panel.from_zero and low == 0.0 else low - spare), high + spare


def _grid(sheet: Sheet, panel: Panel, room: Room, span: tuple[float, float], y: Along) -> None:
    ticks = round_ticks(*span, 3 if room.phone else 5)
    sheet.path("hair", "".join(path([(LEFT, y(one)), (room.width - RIGHT, y(one))]) for one in ticks))
    digits = max(0, -math.floor(math.log10(ticks[1] - ticks[0]) + 1e-9)) if len(ticks) > 1 else panel.digits
    for tick in ticks:
        sheet.text("axis end", (LEFT - 5.0, y(tick) + 4.0), number(tick, digits))


def _band(sheet: Sheet, curve: Curve, x: Along, y: Along) -> None:
    if curve.low.size and curve.high.size:
        known = np.isfinite(curve.low) & np.isfinite(curve.high)
        edges = [[(x(a), y(b)) for a, b in zip(curve.x[known], side[known], strict=True)]
                 for side in (curve.low, curve.high)]  # fmt: skip
        if known.any():
            sheet.line("band", [*edges[0], *reversed(edges[1])], closed=True)


def _pieces(across: Floats, values: Floats, x: Along, y: Along) -> list[list[Point]]:
    """A curve in pieces, broken where it has no value, without the points that no eye would miss."""
    pieces: list[list[Point]] = [[]]
    for a, b in zip(across, values, strict=True):
        if math.isfinite(b):
            pieces[-1].append((x(float(a)), y(float(b))))
        elif pieces[-1]:
            pieces.append([])
    return [_thinned(piece) for piece in pieces if piece]


def _thinned(points: list[Point]) -> list[Point]:
    """The ends of a line and those points between that lie off the line drawn without them."""
    kept, first = [points[0]], 0
    for at in range(2, len(points)):
        if any(_off(points[first], points[at], one) > 0.25 * FINEST for one in points[first + 1 : at]):
            first = at - 1
            kept.append(points[first])
    return [*kept, points[-1]] if len(points) > 1 else kept


def _off(start: Point, end: Point, one: Point) -> float:
    share = (one[0] - start[0]) / (end[0] - start[0]) if end[0] > start[0] else 0.0
    return abs(one[1] - (start[1] + share * (end[1] - start[1])))


def _name_curves(sheet: Sheet, chart: Chart, panel: Panel, x: Along, y: Along) -> None:
    """The letter of each curve at its end, where there are several: the highest above it, others below."""
    ends = {}
    for curve in panel.curves:
        known = np.flatnonzero(np.isfinite(curve.y))
        if chart.key(curve.of) and known.size:
            last = int(known[-1])
            ends[curve.of] = x(float(curve.x[last])) - 3.0, y(float(curve.y[last]))
    highest = min((at[1] for at in ends.values()), default=0.0)
    for of, (across, down) in ends.items():
        above = down == highest and of == min(one for one, at in ends.items() if at[1] == highest)
        sheet.text("word halo end", (across, down + (-5.0 if above else 13.0)), chart.key(of))


# ---------------- zones, lanes, axis


def _unsure(sheet: Sheet, zone: Piece, x: Along, top: float, tall: float) -> None:
    """A stretch where neither can be called, slanted, over the bands that leave it open."""
    strokes = hatch("/", x(zone.start), x(zone.end), tall)
    sheet.path("strokes", "".join(path([(a, top + b), (c, top + d)]) for a, b, c, d in strokes))


def _zone_names(sheet: Sheet, chart: Chart, x: Along, top: float) -> None:
    taken = LETTER * len(chart.panels[0].heading) + 8.0
    for zone in chart.zones:
        middle, half = x(zone.middle), 0.5 * LETTER * len(zone.word)
        if 2.0 * half <= x(zone.end) - x(zone.start) and middle - half > taken:
            sheet.text("label mid", (middle, top - 6.0), zone.word)


def _lane(sheet: Sheet, lane: Lane, key: str, x: Along, top: float) -> None:
    """What sets the speed where: each in its own pattern, with its word where it fits, else its letter."""
    if key:
        sheet.text("word end", (LEFT - 6.0, top + LANE - 5.0), key)
    for piece in lane.pieces:
        left, right = x(piece.start), x(piece.end)
        sheet.box("lane paper-lane", left, top, right - left, LANE)
        for kind in ruling(piece.word).hatch:
            strokes = hatch(kind, left, right, LANE)
            data = "".join(path([(a, top + b), (c, top + d)]) for a, b, c, d in strokes)
            if data:
                sheet.path("dots" if kind == "." else "strokes", data)
        word = piece.word if LETTER * len(piece.word) + 6.0 < right - left else ruling(piece.word).letter
        if right - left > 12.0:
            sheet.text("word halo mid", (0.5 * (left + right), top + LANE - 5.0), word)


def _axis(sheet: Sheet, chart: Chart, room: Room, x: Along, y: float) -> None:
    ticks = [tick for tick in round_ticks(*chart.span, 4 if room.phone else 9) if _is_shown(chart, tick)]
    for tick in ticks:
        last = tick == ticks[-1]
        words = (
            f"{number(tick)} {chart.across.split(', ')[-1]}"
            if last and ", " in chart.across
            else number(tick)
        )
        close = x(tick) > room.width - 40.0
        sheet.text("axis end" if close else "axis mid", (room.width - 2.0 if close else x(tick), y), words)
    if ", " not in chart.across:
        sheet.text("axis", (2.0, y), chart.across)


def _is_shown(chart: Chart, tick: float) -> bool:
    return not chart.whole or tick == round(tick)
