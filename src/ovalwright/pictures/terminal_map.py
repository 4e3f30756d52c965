"""A map of the track as a plan of characters: letters along the driven line say what sets the speed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from textwrap import wrap

import numpy as np
from numpy.typing import NDArray

from ovalwright.pictures.chart import Floats
from ovalwright.pictures.inks import ruling
from ovalwright.pictures.layout import check_width, round_ticks
from ovalwright.pictures.track import TrackMap

_TALL = 2.0
"""Height of a character, in widths."""
_MOST_ROWS = 40

Cells = NDArray[np.str_]


def map_lines(track: TrackMap, width: int = 80) -> list[str]:
    """The map in lines of at most `width` characters. Raises ValueError below 32."""
    check_width(width)
    if track.empty:
        return [*wrap(track.title, width), "Nothing to draw yet."]
    low, high = track.bounds
    per_column = max((high[0] - low[0]) / (width - 4), (high[1] - low[1]) / (_TALL * _MOST_ROWS), 1e-9)
    size = np.array([per_column, per_column * _TALL])
    columns, count = width, int((high[1] - low[1]) / size[1]) + 4
    shift = 0.5 * (columns - 1 - (high[0] - low[0]) / per_column)

    def cell(points: Floats) -> NDArray[np.int_]:
        """Column and row of points, the row counted from above."""
        flat = np.column_stack(
            [(points[:, 0] - low[0]) / size[0] + shift, (high[1] - points[:, 1]) / size[1] + 1.0]
        )
        return np.asarray(np.rint(flat), dtype=np.int_)

    cells: Cells = np.full((count, columns), " ")
    for points, glyph in _strokes(track):
        for column, row in cell(_dense(points, per_column)):
            cells[row, column] = glyph
    for place in track.sections:
        if place.known:
            _name(cells, cell(place.ends)[1], place.inward, place.word)
    for place in track.start:
        if place.known:
            column, row = cell(place.ends)[0]
            if track.ahead[0, 0] >= 0.0:
                _put(cells, row + 1, column, f"{place.word} >", 0.0)
            else:
                _put(cells, row + 1, column, f"< {place.word}", 1.0)
    length = round_ticks(0.0, 20 * per_column, 2)[-1]
    bar = "-" * max(round(length / per_column) - 2, 0)
    keys = ", ".join(f"{ruling(word).letter} {word}" for word in track.words)
    return [
        *wrap(track.title, width),
        *"\n".join("".join(row).rstrip() for row in cells).strip("\n").split("\n"),
        f"|{bar}| {length:,g} {track.unit}",
        *wrap(f"What sets the speed: {keys}", width, subsequent_indent="  "),
    ]


def _strokes(track: TrackMap) -> Iterator[tuple[Floats, str]]:
    """Lines with their characters, the last drawn on top."""
    for edge in track.edges:
        yield edge, "."
    for places, glyph in ((track.borders, ":"), (track.start, "|")):
        yield from ((place.ends, glyph) for place in places)
    for one in track.stretches:
        yield one.points, ruling(one.word).letter


def _dense(points: Floats, step: float) -> Floats:
    """Finite points of a line, close enough that no character between them is left out."""
    found = [points[-1:]] if len(points) else []
    for one, other in pairwise(points):
        count = int(np.nan_to_num(np.linalg.norm(other - one)) / step) + 1
        found.append(one + np.arange(count)[:, None] / count * (other - one))
    every = np.concatenate(found) if found else points
    return np.asarray(every[np.isfinite(every).all(axis=1)], dtype=np.float64)


def _name(cells: Cells, at: NDArray[np.int_], inward: Floats, word: str) -> None:
    """The name of a section on the infield, beside or above or below the inner edge."""
    column, row = at
    if abs(inward[0]) > 0.5:
        lines = wrap(word, 16)
        for number, line in enumerate(lines):
            side = 3 if inward[0] > 0 else -3
            _put(cells, row - len(lines) // 2 + number, column + side, line, 0.0 if side > 0 else 1.0)
    else:
        _put(cells, row - 2 if inward[1] > 0 else row + 2, column, word, 0.5)


def _put(cells: Cells, row: int, column: int, text: str, share: float) -> None:
    """Write with that share of the text left of a column, inside the plan and over nothing that is drawn."""
    height, width = cells.shape
    start = max(0, min(column - round(share * (len(text) - 1)), width - len(text)))
    room = cells[row, start : start + len(text)] if 0 <= row < height else np.array([])
    if len(room) == len(text) and (room == " ").all():
        cells[row, start : start + len(text)] = list(text)
