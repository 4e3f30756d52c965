"""The nut-and-bolt check: a fixed way round the car, a box for every fastener, cautions first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from ovalwright.notebook.cautions import BOOK, MOVING, STANDS, WHEELS
from ovalwright.sheets.page import Leaf, Stamp

MARKED = "A wrench on each fastener, then a paint mark across it; a mark that has moved is a bolt that has."


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to put a wrench on: where on the way round, what, its torque as typed, and a mind-this."""

    where: str
    what: str
    torque: str = ""
    mind: str = ""


def _way(where: str, *things: str) -> tuple[Item, ...]:
    return tuple(Item(where=where, what=thing) for thing in things)


_FRONT = (
    "upper arm, shaft and cross bolts",
    "lower arm pivots",
    "ball joints, nuts and cotter pins",
    "tie rod ends, jam nuts",
    "shock, both ends",
    "coil seated, jack bolt locked",
    "bar link, jam nuts",
    "caliper, brake line",
    "hub nut, play",
)
_REAR = (
    "trailing arm, both ends, jam nuts",
    "shock, both ends",
    "coil seated, jack bolt locked",
    "caliper, brake line",
    "drive plate, hub, play",
)
ROUTE = (
    *_way("LF", *_FRONT),
    *_way("RF", *_FRONT),
    *_way("steering", "rack or box", "column joints", "wheel and its release"),
    *_way("engine", "mounts", "belts and pulleys", "headers", "oil and water lines", "throttle returns"),
    *_way("driver", "seat", "belts and their anchors", "window net", "pedals", "extinguisher"),
    *_way("driveline", "gearbox mount", "driveshaft, U-joint caps", "driveshaft loop"),
    *_way("LR", *_REAR),
    *_way("RR", *_REAR),
    *_way("rear end", "third link, jam nuts", "panhard, both ends", "cover and plugs, no leak"),
    *_way("fuel", "cell straps", "lines and fittings", "filler and vent"),
    *_way("lead", "every piece: bolts, paint, number, safety wire"),
    *_way("body", "hood pins", "bumpers", "spoiler", "mirrors"),
    *_way("wheels", "fasteners, all four, star pattern"),
)
"""Once around the car as a shop walks it (common practice, no source); a racer's own list replaces it."""


def bolt_check(stamp: Stamp, items: Sequence[Item] = ROUTE) -> Leaf:
    """The check, in the order of `items`, a part for each place; who and when are left to the pen."""
    return Leaf(
        template="bolts",
        stamp=stamp,
        data={
            "how": MARKED,
            "places": [
                {"where": where, "rows": [(one.what, one.torque, one.mind) for one in there]}
                for where, there in groupby(items, key=lambda one: one.where)
            ],
            "cautions": [STANDS, MOVING, WHEELS, BOOK],
        },
    )
