"""Strokes of a hatch in a box, which tell what a color alone would not."""

from __future__ import annotations

from collections.abc import Iterator

APART = 7.0
"""Distance between strokes [px]."""

Stroke = tuple[float, float, float, float]
"""A straight line x, y, x2, y2 [px], down from the top of the box."""


def hatch(kind: str, left: float, right: float, height: float) -> Iterator[Stroke]:
    """Strokes of a hatch ``/ \\ | - .`` in a box from left to right [px], clipped to it."""
    if kind == "-":
        yield from ((left, at, right, at) for at in (height / 3, 2 * height / 3))
    elif kind == ".":
        for row in range(1, 4):
            x = left + 2.5 + 0.5 * (row % 2) * APART
            while x < right - 2.0:
                yield (x, row * height / 4, x + 0.01, row * height / 4)
                x += APART
    else:
        lean = {"/": height, "\\": -height, "|": 0.0}[kind]
        foot = left - abs(lean) + 0.5 * APART
        while foot < right + abs(lean):
            yield from _clipped(foot, foot + lean, left, right, height)
            foot += APART


def _clipped(foot: float, head: float, left: float, right: float, height: float) -> Iterator[Stroke]:
    """A stroke from the foot (below) to the head, as far as it runs between left and right."""
    if foot == head:
        if left < foot < right:
            yield (foot, height, foot, 0.0)
        return
    ends = sorted(max(0.0, min(1.0, (edge - foot) / (head - foot))) for edge in (left, right))
    if ends[1] > ends[0]:
        a, b = (foot + share * (head - foot) for share in ends)
        yield (a, height * (1 - ends[0]), b, height * (1 - ends[1]))
