"""A weight that no car reads: a pad that hangs, or a digit left out in typing."""

from __future__ import annotations

from collections.abc import Mapping

from ovalwright.study.weigh import CORNERS, Corner, CornerWeights, Fault
from ovalwright.units import show

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
LOOK = "look at the pad or the typing"


def misread(now: CornerWeights, before: CornerWeights) -> tuple[Fault, ...]:
    """The corners that read far from the weighing before, or next to nothing beside their neighbors."""
    read = dict(zip(CORNERS, map(float, now.loads), strict=True))
    last = dict(zip(CORNERS, map(float, before.loads), strict=True))
    return tuple(fault for corner in CORNERS if (fault := _of_corner(corner, read, last)))


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
