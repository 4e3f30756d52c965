"""A chart as lines of text, readable without color: a line, letters for further curves and for lanes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray

from ovalwright.pictures.chart import Chart, Floats, Panel, Piece
from ovalwright.pictures.inks import ruling
from ovalwright.pictures.layout import check_width, fitted, round_ticks, word_rows

_GUTTER = 8
_ROWS = 4.0
"""Rows of a panel of share 1."""

Cells = NDArray[np.str_]


def chart_lines(chart: Chart, width: int = 80) -> list[str]:
    """The chart in lines of at most `width` characters. Raises ValueError below 32."""
    check_width(width)
    lines = [*wrap(chart.title, width)]
    for of, name in enumerate(chart.legend()):
        how = "" if len(chart.names) == 1 else " (letters)" if chart.rank(of) else " (the line)"
        lines += wrap(f"{name}{how}", width, subsequent_indent="   ")
    if chart.empty:
        return [*lines, "Nothing to draw yet."]
    columns = width - _GUTTER
    lines += _zone_lines(chart, columns)
    for panel in chart.panels:
        lines += _panel_lines(chart, panel, columns, width)
    for of, lane in enumerate(chart.lanes):
        if lane.pieces:
            lines.append(_gutter(chart.key(of)) + _lane(chart, lane.pieces, columns))
    lines += _axis_lines(chart, columns)
    lines += _mark_lines(chart, columns)
    for text in _keys(chart, columns):
        lines += wrap(text, width, subsequent_indent="  ")
    return [line.rstrip() for line in lines]


def _gutter(text: str) -> str:
    """What stands left of a row, seven characters and the axis."""
    return f"{text[: _GUTTER - 1]:>{_GUTTER - 1}}|"


def _column(chart: Chart, at: float, columns: int) -> int:
    start, end = chart.span
    return int(np.clip((at - start) / (end - start) * columns, 0, columns - 1))


def _panel_lines(chart: Chart, panel: Panel, columns: int, width: int) -> Iterator[str]:
    """A heading with the ends of every curve, then the curves from the highest row down."""
    yield ""
    yield from wrap(f"{panel.heading}:  {chart.told(panel)}", width, subsequent_indent="  ")
    low, high = chart.extent(panel)
    rows = max(3, round(_ROWS * panel.share))
    cells: Cells = np.full((rows, columns), " ")
    edges = np.linspace(*chart.span, columns + 1)
    for one in panel.curves:
        if one.low.size:
            _draw(cells, _reach(edges, one.x, one.low, one.high), (low, high), ".")
    for one in panel.curves:
        glyph = chart.key(one.of) if chart.rank(one.of) else ""
        _draw(cells, _reach(edges, one.x, one.y, one.y), (low, high), glyph)
    ends = {0: panel.number(high), rows - 1: panel.number(low)}
    for row in range(rows):
        yield _gutter(ends.get(row, "")) + "".join(cells[row])


def _reach(edges: Floats, x: Floats, low: Floats, high: Floats) -> Iterator[tuple[float, float]]:
    """Lowest and highest value in each column, at its edges and at the points between them; NaN for none."""
    if x.size == 0:
        return
    at = (
        np.interp(edges, x, low, left=np.nan, right=np.nan),
        np.interp(edges, x, high, left=np.nan, right=np.nan),
    )
    for column in range(edges.size - 1):
        inside = (x >= edges[column]) & (x <= edges[column + 1])
        values = np.concatenate(
            [at[0][column : column + 2], at[1][column : column + 2], low[inside], high[inside]]
        )
        values = values[np.isfinite(values)]
        yield (float(values.min()), float(values.max())) if values.size else (np.nan, np.nan)


def _draw(
    cells: Cells, reach: Iterator[tuple[float, float]], extent: tuple[float, float], glyph: str
) -> None:
    """Write every cell that a curve passes with its glyph, or as a line of fine strokes without one.

    The middle of the top row is the upper end of the extent, that of the lowest row the lower end.
    """
    last = cells.shape[0] - 1
    per_row = last / (extent[1] - extent[0])
    for column, (low, high) in enumerate(reach):
        if np.isfinite(low):
            top, bottom = ((extent[1] - value) * per_row + 0.5 for value in (high, low))
            for row in range(min(int(top), last), min(int(bottom), last) + 1):
                cells[row, column] = glyph or _stroke(max(top - row, 0.0), min(bottom - row, 1.0))


def _stroke(top: float, bottom: float) -> str:
    """The part of a row that a line passes, as one of four strokes."""
    return "|" if bottom - top > 0.7 else "'-_"[min(int(1.5 * (top + bottom)), 2)]


def _lane(chart: Chart, pieces: Sequence[Piece], columns: int) -> str:
    """Letters of what sets the speed, with the word where it fits."""
    cells = [" "] * columns
    for piece in pieces:
        start, end = (_column(chart, at, columns) for at in (piece.start, piece.end))
        end = columns if piece.end >= chart.span[1] else max(end, start + 1)
        word = f" {piece.word} " if len(piece.word) + 4 <= end - start else ""
        cells[start:end] = f"{word:{ruling(piece.word).letter}^{end - start}}"
    return "".join(cells)


def _zone_lines(chart: Chart, columns: int) -> Iterator[str]:
    """Names of sections or yellow laps between uprights, in as many lines as they need."""
    placed = []
    for piece in chart.zones:
        start, end = (_column(chart, at, columns) for at in (piece.start, piece.end))
        end = max(end, start + 1)
        placed.append((start, end, fitted(piece.word, end - start - 1)))
    for row in range(max((len(words) for *_, words in placed), default=0)):
        cells = [" "] * columns
        for start, end, words in placed:
            text = words[row] if row < len(words) else ""
            cells[end:] = "|".ljust(columns - end)
            cells[start:end] = f"|{text:^{end - start - 1}}" if end - start > 1 else text[:1] or "|"
        yield _gutter("") + "".join(cells[:columns])


def _axis_lines(chart: Chart, columns: int) -> Iterator[str]:
    """A line with ticks, their numbers, and what the axis is."""
    ticks = [
        tick for tick in round_ticks(*chart.span, columns // 9) if not chart.whole or tick == round(tick)
    ]
    line, numbers = ["-"] * columns, [" "] * (columns + 1)
    for tick in ticks:
        at, text = _column(chart, tick, columns), f"{tick:,.10g}"
        line[at] = "+"
        start = min(max(at - len(text) // 2, 0), columns - len(text))
        numbers[start : start + len(text)] = text
    yield " " * (_GUTTER - 1) + "+" + "".join(line)
    yield " " * _GUTTER + "".join(numbers)
    yield " " * _GUTTER + chart.across[:columns]


def _mark_lines(chart: Chart, columns: int) -> Iterator[str]:
    """Uprights at the places of the marks, each down to its words."""
    words = [f"{chart.key(mark.of)} {mark.word}".strip() for mark in chart.marks]
    words = [word if len(word) < columns else f"{word[: columns - 3]}.." for word in words]
    at = [_column(chart, mark.at, columns) for mark in chart.marks]
    rows = word_rows(at, [len(word) + 2.0 for word in words], columns)
    for row in range(max((row for row, _ in rows), default=-1) + 1):
        cells = [" "] * columns
        for place, (under, _) in zip(at, rows, strict=True):
            if under >= row:
                cells[place] = "|"
        for place, word, (under, left) in zip(at, words, rows, strict=True):
            if under == row:
                start = place - len(word) if left else min(place + 1, columns - len(word))
                cells[start : start + len(word)] = word
        yield " " * _GUTTER + "".join(cells)


def _keys(chart: Chart, columns: int) -> Iterator[str]:
    """What the letters of the lanes and the dots of the bands mean."""
    found = {piece.word: ruling(piece.word).letter for lane in chart.lanes for piece in lane.pieces}
    if found:
        yield f"{chart.lanes[0].title}: " + ", ".join(f"{key} {word}" for word, key in found.items())
    for zone in chart.zones:
        room = max(_column(chart, zone.end, columns) - _column(chart, zone.start, columns), 1) - 1
        if fitted(zone.word, room) == [zone.word[:1].upper()]:
            found[zone.word] = zone.word[:1].upper()
    if any(one.low.size for panel in chart.panels for one in panel.curves):
        yield "Dots: 95 % bands."
    yield from chart.notes
