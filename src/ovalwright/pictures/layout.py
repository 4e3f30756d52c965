"""Where words go: what fits in a stretch, rows for words that would collide, round ticks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap

NARROWEST = 32
"""Columns that a picture in a terminal needs."""


def check_width(columns: int) -> None:
    """Raise ValueError when a window is too narrow to draw in."""
    if columns < NARROWEST:
        raise ValueError(f"A picture needs {NARROWEST} columns, and the window has {columns}; make it wider.")


def fitted(word: str, room: int) -> list[str]:
    """Words in lines of `room` characters, or the first word alone; a lone word shrinks to its letter."""
    lines = wrap(word, max(room, 1), break_long_words=False)
    if not lines or max(map(len, lines)) <= room:
        return lines
    if len(lines[0]) <= room:
        return lines[:1]
    return [] if " " in word else [word[:1].upper()]


def word_rows(at: Sequence[float], widths: Sequence[float], room: float) -> list[tuple[int, bool]]:
    """Row of each word below its mark, and whether it stands left of the mark; no two words overlap.

    Words stand right of their marks while they fit in `room`. Each takes the highest row where it neither
    meets a word or a line from a mark down to its word, nor has its own line through a word above.
    """
    left = [place + width > room and place >= width for place, width in zip(at, widths, strict=True)]
    starts = [
        place - width if side else min(place, max(0.0, room - width))
        for place, width, side in zip(at, widths, left, strict=True)
    ]
    found: dict[int, int] = {}
    for one in sorted(range(len(at)), key=lambda one: (left[one], at[one] if left[one] else -at[one])):
        start, end = starts[one], starts[one] + widths[one]

        def meets(row: int, start: float = start, end: float = end) -> bool:
            """Whether from start to end there is a word in that row, or a line that runs further down."""
            return any(
                (under == row and start < starts[other] + widths[other] and starts[other] < end)
                or (under > row and start < at[other] < end)
                for other, under in found.items()
            )

        free = [row for row in range(len(at)) if not meets(row)]
        clear = [row for row in free if not any(meets(above, at[one], at[one]) for above in range(row))]
        found[one] = (clear or free)[0]
    return [(found[one], left[one]) for one in range(len(at))]


def round_ticks(low: float, high: float, most: int) -> list[float]:
    """At most about `most` multiples of 1, 2 or 5 times a power of ten from low to high."""
    width = high - low
    if not width > 0.0:
        return [low]
    power = 10.0 ** math.floor(math.log10(width / max(most, 1)))
    step = next(power * times for times in (1, 2, 5, 10, 20) if power * times * most >= width)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]
