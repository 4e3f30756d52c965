"""A chart as a Vega-Lite description: for SVG, PNG, PDF, or a page that draws it itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from textwrap import wrap

from ovalwright.pictures import inks
from ovalwright.pictures.chart import Chart, Curve, Lane, Panel, Piece
from ovalwright.pictures.inks import PENS, Pen, ruling
from ovalwright.pictures.layout import round_ticks, word_rows
from ovalwright.pictures.vega_parts import (
    LINE,
    TEXT,
    Field,
    Spec,
    caption,
    hatched,
    line_samples,
    page,
    pixels,
    rows,
    strokes,
    text_width,
    texts,
    words_in,
)

_GUTTER, _MARGINS = 40, 26
"""Width of the numbers left of a panel, and of the padding left and right [px]."""
_PANEL, _LANE, _AXIS = 62, 22, 38
"""Heights of a panel of share 1, of a lane and of the axis [px]."""
_BREAK = "break-paths-filter-domains"


def chart_spec(chart: Chart, width: int) -> Spec:
    """The chart `width` px wide as a Vega-Lite description."""
    inner = float(width - _GUTTER - _MARGINS)
    if chart.empty:
        nothing = "Nothing to draw yet."
        return page([caption(inner, [nothing])], chart.title, f"{chart.title}. {nothing}")
    pens = [PENS[chart.rank(of)] for of in range(len(chart.names))]
    samples = [(name, pen.color, pen.dash, pen.width) for name, pen in zip(chart.legend(), pens, strict=True)]
    parts = [line_samples(inner, samples), *_zone_names(chart, inner)]
    for panel in chart.panels:
        parts += [_heading(chart, panel, inner), _panel(chart, panel, inner)]
    filled = [(of, lane) for of, lane in enumerate(chart.lanes) if lane.pieces]
    if filled:
        parts.append(caption(inner, [filled[0][1].title], bold=True))
    parts += [_lane(chart, lane, chart.key(of), inner) for of, lane in filled]
    parts += [_axis(chart, inner), *_marks(chart, inner), *_lane_key(chart, inner)]
    keys = [line for text in _keys(chart, inner) for line in wrap(text, int(inner / (0.5 * TEXT)))]
    return page([*parts, caption(inner, keys)] if keys else parts, chart.title, _told(chart))


def _told(chart: Chart) -> str:
    """The chart in a few sentences."""
    lines = [f"{chart.title}: {'; '.join(chart.legend())}."]
    lines += [f"{panel.heading}: {chart.told(panel)}." for panel in chart.panels]
    lines += [f"{chart.key(mark.of)} {mark.word}.".strip() for mark in chart.marks]
    return " ".join(lines)


def _field(chart: Chart, width: float, height: float, y: tuple[float, float] = (1.0, 0.0)) -> Field:
    return Field(width, height, chart.span, y)


def _heading(chart: Chart, panel: Panel, width: float) -> Spec:
    """The quantity and, right or below, the ends of every curve."""
    told, name = chart.told(panel), panel.heading
    below = text_width(name) + 20 + text_width(told) > width
    field = pixels(width, LINE * (2 if below else 1) + 4)
    place = rows(x=[0.0 if below else width], y=[LINE * (1.5 if below else 0.5) + 4], text=[told])
    return field.holding(
        texts(field, rows(x=[0.0], y=[LINE * 0.5 + 4], text=[name]), fontWeight="bold"),
        texts(field, place, color=inks.LABEL, align="left" if below else "right"),
    )


def _panel(chart: Chart, panel: Panel, width: float) -> Spec:
    """The curves of one quantity over zones, bands and the places of the marks."""
    low, high = chart.extent(panel)
    margin = 0.06 * (high - low)
    floor = low if panel.from_zero and low == 0.0 else low - margin
    field = _field(chart, width, round(_PANEL * panel.share), (floor, high + margin))
    ticks = round_ticks(*field.y, max(2, int(field.height // 20)))
    axis = {
        "values": ticks,
        "format": _number_format(ticks),
        "title": None,
        "minExtent": _GUTTER,
        "maxExtent": _GUTTER,
        "grid": True,
        "domain": False,
        "ticks": False,
    }
    frame = field.layer("point", rows(x=chart.span, y=field.y), axes={"y": axis}, opacity=0, aria=False)
    curves = [_curve(one, PENS[chart.rank(one.of)], field) for one in panel.curves]
    bands = [layer for one in panel.curves if one.low.size for layer in _band(one, chart.rank(one.of), field)]
    return field.holding(*_zones(chart, field), frame, *_uprights(chart, field), *bands, *curves)


def _number_format(ticks: Sequence[float]) -> str:
    """As many digits after the point as the ticks need."""
    step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
    return f",.{max(0, -math.floor(math.log10(step) + 1e-9))}f"


def _curve(one: Curve, pen: Pen, field: Field) -> Spec:
    return field.layer(
        "line",
        rows(x=one.x, y=one.y),
        color=pen.color,
        strokeDash=list(pen.dash),
        strokeWidth=pen.width,
        strokeCap="round",
        invalid=_BREAK,
        clip=True,
    )


def _band(one: Curve, rank: int, field: Field) -> Iterator[Spec]:
    """A gray band for the one on top, two fine dotted lines for the others."""
    if rank == 0:
        yield field.layer(
            "area", rows(x=one.x, y=one.low, y2=one.high), color=inks.BAND, opacity=1, invalid=_BREAK
        )
        return
    fine: Spec = {"color": PENS[rank].color, "strokeDash": [1, 3], "strokeWidth": 1, "invalid": _BREAK}
    for ends in (one.low, one.high):
        yield field.layer("line", rows(x=one.x, y=ends), **fine)


def _zones(chart: Chart, field: Field) -> Iterator[Spec]:
    """Shaded stretches and the borders of all of them."""
    bottom, top = field.y
    shaded = [(zone.start, bottom, zone.end, top) for zone in chart.zones if zone.shaded]
    data = {"values": [dict(zip(("x", "y", "x2", "y2"), box, strict=True)) for box in shaded]}
    yield field.layer("rect", data, color=inks.ZONE, opacity=0.5)
    borders = sorted({at for zone in chart.zones for at in (zone.start, zone.end)})
    yield strokes(field, [(at, bottom, at, top) for at in borders], color=inks.HAIR)


def _uprights(chart: Chart, field: Field) -> Iterator[Spec]:
    """Fine lines at the places of the marks."""
    for of in sorted({mark.of for mark in chart.marks}):
        lines = [(mark.at, field.y[0], mark.at, field.y[1]) for mark in chart.marks if mark.of == of]
        rank = chart.rank(of)
        yield strokes(
            field, lines, color=PENS[rank].color if rank else inks.RULE, strokeWidth=0.7,
            strokeDash=_fine(rank),
        )  # fmt: skip


def _fine(rank: int) -> list[float]:
    """The dash of a mark: solid for the lap or setup on top, broken for the others."""
    return [3, 3] if rank else [1, 0]


def _zone_names(chart: Chart, width: float) -> Iterator[Spec]:
    """Names of the zones above the panels, in as many lines as they need."""
    words = [words_in(zone.word, _zone_width(chart, width, zone)) for zone in chart.zones]
    most = max(map(len, words), default=0)
    if most:
        field = _field(chart, width, LINE * most + 2)
        data = rows(
            x=[zone.middle for zone in chart.zones],
            y=[0.0] * len(words),
            text=["\n".join(lines) for lines in words],
        )
        names = texts(field, data, align="center", baseline="top", dy=3, color=inks.LABEL)
        yield field.holding(*_zones(chart, field), names)


def _zone_width(chart: Chart, width: float, zone: Piece) -> float:
    return (zone.end - zone.start) / (chart.span[1] - chart.span[0]) * width


def _lane(chart: Chart, lane: Lane, key: str, width: float) -> Spec:
    """Boxes with a tint, a hatch and a word or letter for what sets the speed."""
    across = _field(chart, width, _LANE).across
    boxes = [(across(piece.start), across(piece.end), 0.0, piece.word) for piece in lane.pieces]
    field = pixels(width, _LANE)
    words = rows(
        x=[0.5 * (left + right) for left, right, *_ in boxes],
        y=[0.5 * _LANE] * len(boxes),
        text=[_lane_word(word, right - left) for left, right, _, word in boxes],
    )
    name = texts(field, rows(x=[0.0], y=[0.5 * _LANE], text=[key]), dx=-16, fontWeight="bold")
    inside = texts(field, words, halo=True, align="center", fontWeight="bold")
    return field.holding(*hatched(field, boxes, _LANE), inside, name)


def _lane_word(word: str, width: float) -> str:
    """The word where it fits on one line, else its letter, else nothing."""
    if text_width(word) + 10 <= width:
        return word
    return ruling(word).letter if width >= 9 else ""


def _lane_key(chart: Chart, width: float) -> Iterator[Spec]:
    """A small box and the words for everything that sets the speed anywhere in the lanes."""
    x, row = 0.0, 0
    placed: list[tuple[float, int, str, str]] = []
    for word in dict.fromkeys(piece.word for lane in chart.lanes for piece in lane.pieces):
        text = f"{ruling(word).letter} {word}"
        wide = 34 + text_width(text) + 16
        if x and x + wide > width:
            x, row = 0.0, row + 1
        placed.append((x, row, word, text))
        x += wide
    if placed:
        line = _LANE + 2
        field = pixels(width, line * (row + 1))
        boxes = [(x, x + 28, line * row + 4.0, word) for x, row, word, _ in placed]
        data = rows(
            x=[x + 34 for x, *_ in placed],
            y=[line * row + 12.0 for _, row, *_ in placed],
            text=[text for *_, text in placed],
        )
        yield field.holding(*hatched(field, boxes, 16), texts(field, data))


def _axis(chart: Chart, width: float) -> Spec:
    """The common axis with its numbers and its name."""
    field = _field(chart, width, _AXIS)
    found = round_ticks(*chart.span, int(width // 70))
    ticks = [tick for tick in found if not chart.whole or tick == round(tick)]
    axis = {
        "values": ticks,
        "format": _number_format(ticks),
        "title": chart.across,
        "grid": False,
        "offset": -_AXIS,
    }
    return field.holding(
        field.layer("point", rows(x=chart.span, y=field.y), axes={"x": axis}, opacity=0, aria=False)
    )


def _marks(chart: Chart, width: float) -> Iterator[Spec]:
    """Each mark with its words below the axis, led there by a line in the pen of its lap."""
    if not chart.marks:
        return
    words = [f"{chart.key(mark.of)} {mark.word}".strip() for mark in chart.marks]
    at = [_field(chart, width, 1.0).across(mark.at) for mark in chart.marks]
    widths = [text_width(word) + 10 for word in words]
    placed = word_rows(at, widths, width)
    field = pixels(width, LINE * (max(row for row, _ in placed) + 1) + 4)
    layers = []
    for of in sorted({mark.of for mark in chart.marks}):
        lines = [
            (x, 0.0, x, LINE * (row + 0.9))
            for x, (row, _), mark in zip(at, placed, chart.marks, strict=True)
            if mark.of == of
        ]
        rank = chart.rank(of)
        layers.append(strokes(field, lines, color=PENS[rank].color, strokeDash=_fine(rank)))
    for left in (False, True):
        chosen = [number for number, (_, side) in enumerate(placed) if side == left]
        data = rows(
            x=[at[one] if left else min(at[one], max(0.0, width - widths[one])) for one in chosen],
            y=[LINE * (placed[one][0] + 0.5) + 2 for one in chosen],
            text=[words[one] for one in chosen],
        )
        layers.append(texts(field, data, halo=True, align="right" if left else "left", dx=-4 if left else 4))
    yield field.holding(*layers)


def _keys(chart: Chart, width: float) -> Iterator[str]:
    """What a lone letter of a zone and what the bands mean, and the notes."""
    lone = {
        zone.word
        for zone in chart.zones
        if words_in(zone.word, _zone_width(chart, width, zone)) == [zone.word[:1].upper()]
    }
    yield from (f"{word[:1].upper()} {word}." for word in sorted(lone))
    if any(one.low.size for panel in chart.panels for one in panel.curves):
        yield "Gray field, fine dotted lines: 95 % bands."
    yield from chart.notes
