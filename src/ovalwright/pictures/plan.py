"""A closed line from above as characters, the front straight below."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

_TALL = 2.0
"""Height of a character, in widths."""
_INWARD = 0.3
"""Share of the way to the middle at which a name stands."""


def plan_lines(
    places: npt.NDArray[np.float64], names: Sequence[tuple[str, int]], *, width: int = 64, most_rows: int = 18
) -> list[str]:
    """Lines of at most `width` characters: a dot along the line, S where it starts.

    places: (N, 2), closed, first along x; names: a word and the place it stands beside, inward.
    """
    laid = places if _area(places) > 0.0 else -places
    low, high = laid.min(axis=0), laid.max(axis=0)
    size = max((high[0] - low[0]) / (width - 1), (high[1] - low[1]) / (_TALL * (most_rows - 1)), 1e-9)
    columns = np.rint((laid[:, 0] - low[0]) / size).astype(int)
    rows = np.rint((high[1] - laid[:, 1]) / (_TALL * size)).astype(int)
    cells = np.full((rows.max() + 1, width), " ")
    cells[rows, columns] = "."
    cells[rows[0], columns[0]] = "S"
    for word, at in names:
        row = round(rows[at] + _INWARD * (0.5 * rows.max() - rows[at]))
        column = round(columns[at] + _INWARD * (0.5 * columns.max() - columns[at]) - 0.5 * len(word))
        for letter, where in zip(word, range(max(column, 0), width), strict=False):
            cells[row, where] = letter
    return ["".join(row).rstrip() for row in cells]


def _area(places: npt.NDArray[np.float64]) -> float:
    """Area the line goes around, positive to the left."""
    x, y = places.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
