"""A weight that no car reads: a pad that hangs, a digit left out in typing, two pads that are swapped."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from ovalwright.corners import CORNERS, Corner
from ovalwright.study.scale_faults import Fault
from ovalwright.study.weigh import CornerWeights
from ovalwright.units import LB, show

MOST_CHANGE = 0.5
"""By which share a corner may change from one weighing to the next; common practice, no source."""
LEAST_SHARE = 0.2
"""How little of the mean of its two neighbors a corner may carry; common practice, no source."""
NEIGHBORS: Mapping[Corner, tuple[Corner, Corner]] = {
    "LF": ("RF", "LR"),
    "RF": ("LF", "RR"),
    "LR": ("LF", "RR"),
    "RR": ("RF", "LR"),
}
LEAST_SWAP = 30.0 * LB
"""How far a pad must read from the weighing before to be called swapped [kg]; common practice, no source."""
SWAPPED_LEAVES = 0.2
"""Which share of that may be left with two pads swapped back; common practice, no source."""
LOOK = "look at the pad or the typing"


def misread(now: CornerWeights, before: CornerWeights) -> tuple[Fault, ...]:
    """Two pads that look swapped; else the corners that read far from the weighing before, or next to nothing
    beside their neighbors.
    """
    pair = swapped(now, before)
    if pair:
        return (_of_the_swap(pair, now, before),)
    read = dict(zip(CORNERS, map(float, now.loads), strict=True))
    last = dict(zip(CORNERS, map(float, before.loads), strict=True))
    return tuple(fault for corner in CORNERS if (fault := _of_corner(corner, read, last)))


def swapped(now: CornerWeights, before: CornerWeights) -> tuple[Corner, Corner] | None:
    """The two pads that, swapped back, bring all four near to the weighing before, where one was far off it.

    Bolts, springs and heights move all four corners, along the diagonals, and a swap moves two: none of them
    looks like one. Mass may: lead bolted from one corner right to another, by as much as these two differed.
    """
    off = _farthest(now, before)
    back = {pair: _farthest(swapped_back(now, *pair), before) for pair in combinations(CORNERS, 2)}
    pair = min(back, key=lambda one: back[one])
    return pair if off >= LEAST_SWAP and back[pair] <= SWAPPED_LEAVES * off else None


def swapped_back(read: CornerWeights, one: Corner, other: Corner) -> CornerWeights:
    """The weights with what two pads read the other way round."""
    loads = read.loads
    i, j = CORNERS.index(one), CORNERS.index(other)
    loads[[i, j]] = loads[[j, i]]
    return CornerWeights.of(loads)


def _farthest(now: CornerWeights, before: CornerWeights) -> float:
    return float(np.abs(now.loads - before.loads).max())


def _of_the_swap(pair: tuple[Corner, Corner], now: CornerWeights, before: CornerWeights) -> Fault:
    one, other = pair
    back = swapped_back(now, one, other)
    return Fault(
        sentence=f"{one} and {other} look swapped: the other way round {one} reads {_pounds(back.get(one))} "
        f"and {other} {_pounds(back.get(other))}, where {_pounds(before.get(one))} and "
        f"{_pounds(before.get(other))} were read the last time: look which pad is which, or at the typing.",
        amount=_farthest(now, before),
        unit="kg",
    )


def _of_corner(corner: Corner, read: Mapping[Corner, float], last: Mapping[Corner, float]) -> Fault | None:
    changed = read[corner] - last[corner]
    if abs(changed) > MOST_CHANGE * last[corner]:
        was = f"where {_pounds(last[corner])} was read the last time"
        return Fault(sentence=f"{corner} {_pounds(read[corner])} {was}: {LOOK}.", amount=changed, unit="kg")
    one, other = NEIGHBORS[corner]
    lacking = LEAST_SHARE * 0.5 * (read[one] + read[other]) - read[corner]
    if lacking > 0.0:
        beside = f"beside {_pounds(read[one])} on {one} and {_pounds(read[other])} on {other}"
        return Fault(
            sentence=f"{corner} {_pounds(read[corner])} {beside}: {LOOK}.", amount=-lacking, unit="kg"
        )
    return None


def _pounds(mass: float) -> str:
    return show(mass, "total_weight")
