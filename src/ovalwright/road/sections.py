"""Where the straights and the two ends of a lap lie, read off its curvature."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from ovalwright.road.profile import Profile
from ovalwright.road.ribbon import Section

NAMES = ("front straight", "turns 1 and 2", "back straight", "turns 3 and 4")
_TURNING, _BEGUN = 0.4, 0.1
"""Shares of the tightest curvature: above the first the road is in a turn, above the second one has begun."""
_STEP = 1.0


def sections_of(curvature: Profile, hand: int, names: Sequence[str] = NAMES) -> tuple[Section, ...]:
    """Front straight, first end, back straight and second end of a lap that starts on the front straight.

    The ends are the two stretches that turn furthest; a lap without two, such as a circle, is one section.
    """
    length = float(curvature.x[-1])
    count = round(length / _STEP)
    s = np.arange(count) * (length / count)
    bend = hand * curvature(s)
    tightest = float(np.quantile(bend, 0.95))
    begun = _stretches(bend > _BEGUN * tightest)
    in_turn = bend > _TURNING * tightest
    ends = [stretch for stretch in begun if in_turn[_within(stretch, count)].any()]
    if len(ends) < 2:
        return (Section("lap", 0.0, length),)
    furthest = sorted(ends, key=lambda stretch: -float(bend[_within(stretch, count)].sum()))[:2]
    (first, back), (second, front) = ((s[a], s[b % count]) for a, b in sorted(furthest))
    return four_sections((float(front), float(first), float(back), float(second)), names)


def four_sections(begins: Sequence[float], names: Sequence[str] = NAMES) -> tuple[Section, ...]:
    """Front straight, first end, back straight and second end from where each begins [m]."""
    ends = (*begins[1:], begins[0])
    turning = (False, True, False, True)
    return tuple(Section(*one) for one in zip(names, begins, ends, turning, strict=True))


def _stretches(holds: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past the last index of each stretch around the lap; the last may run over the start."""
    turns = np.flatnonzero(holds & ~np.roll(holds, 1))
    outs = np.flatnonzero(~holds & np.roll(holds, 1))
    found = []
    for begin in turns:
        after = outs[outs > begin]
        found.append((int(begin), int(after[0]) if after.size else int(outs[0]) + len(holds)))
    return found


def _within(stretch: tuple[int, int], count: int) -> npt.NDArray[np.intp]:
    return np.arange(*stretch) % count
