"""Where along a lap something touches, lets go or lifts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.pack import watched_points
from ovalwright.vehicle.answer import clearances
from ovalwright.vehicle.record import CORNERS

if TYPE_CHECKING:
    from .lap import Lap

Array = npt.NDArray[Any]


class Event(NamedTuple):
    """Something that happens on the way: `distance` along the driven lap from the start line [m], in words,
    and whether a part takes up load there (or lets go of it).
    """

    distance: float
    text: str
    takes_up: bool


def events_of(lap: Lap) -> tuple[Event, ...]:
    """Every change of contact along a lap, in the order of the lap."""
    record, corners = lap.packed.record, lap.corners
    found: list[Event] = []
    for i, name in enumerate(CORNERS):
        if record["coil_rate"][i] > 0.0:
            gap = corners["coil_gap"][:, i]
            found += _crossings(lap, gap, f"{name} coil picks up", f"{name} coil hangs off its seat")
            squeezed = gap + float(record["coil_bind"][i])
            found += _crossings(lap, squeezed, f"{name} coil binds", f"{name} coil comes out of bind")
        if record["stop_rate"][i] > 0.0:
            gap = corners["stop_gap"][:, i]
            found += _crossings(lap, gap, f"{name} stop engages", f"{name} stop lets go")
        found += _crossings(lap, -corners["squash"][:, i], f"{name} wheel comes down", f"{name} wheel lifts")
    gaps = gaps_of(lap)
    for i, point in enumerate(watched_points(lap.packed.values()[0])):
        found += _crossings(lap, gaps[:, i], f"{point.name} touches the road", f"{point.name} comes clear")
    return tuple(sorted(found))


def gaps_of(lap: Lap) -> Array:
    """Clearance of the eight watched points of the body at every station (N, 8) [m]; those beyond the car's
    own mean nothing.
    """
    gaps = np.zeros((len(lap.speed), 8))
    for i, motion in enumerate(lap.motions):
        clearances(lap.states[i], lap.packed.record, motion, gaps[i])
    return gaps


def _crossings(lap: Lap, gap: Array, closes: str, opens: str) -> list[Event]:
    """Where a gap closes or opens on the way from each station to the next."""
    ahead = np.roll(gap, -1)
    found = []
    for i in np.flatnonzero((gap > 0.0) != (ahead > 0.0)):
        share = gap[i] / (gap[i] - ahead[i])
        at = (lap.line.distance[i] + share * lap.line.step[i]) % lap.line.length
        takes_up = bool(gap[i] > 0.0)
        found.append(Event(float(at), closes if takes_up else opens, takes_up))
    return found
