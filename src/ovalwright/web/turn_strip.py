"""The strips under the car: wedge along the turn, and what touches along it and through the fuel."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np

from ovalwright.pictures.strip import (
    LAPTOP_FUEL,
    LAPTOP_STRIP,
    PHONE_FUEL,
    PHONE_STRIP,
    RIGHT,
    Event,
    Track,
    Turned,
    fuel_strip,
    left_of,
    strip,
    wedge_span,
)
from ovalwright.pictures.svg import Room
from ovalwright.study.state import loads_of
from ovalwright.study.through import Lane, Passage
from ovalwright.units import GALLON
from ovalwright.web.joined import Joined
from ovalwright.web.moment import Moment, capacity, fuel_lanes, pace_of, tank

PART = {"coil": "coil", "stop": "stop", "bind": "bound", "wheel": "wheel", "frame": ""}
BEGINS = {
    "coil": "coil picks up",
    "stop": "stop comes in",
    "bind": "coil binds",
    "wheel": "comes down",
    "frame": "drags",
}
ENDS = {
    "coil": "coil leaves its seat",
    "stop": "stop comes free",
    "bind": "coil unbinds",
    "wheel": "lifts",
    "frame": "is clear",
}
MOST_LANES, ON_A_PHONE = 3, 2
ROOM_OF_WORDS = 0.22
"""Share of the strip that the words of an event take."""


def turn_strip(moment: Moment, *, ghost: bool, phone: bool, give: float = math.nan) -> str:
    """Wedge along the turn with the place in hand, `give` half of its band there, the other setup dashed."""
    joined, passage = moment.tank.joined, moment.tank.passage
    pace = pace_of(joined)
    behind = moment.tank.behind_passage if ghost else None
    lanes = _along(passage)[: ON_A_PHONE if phone else MOST_LANES]
    turned = Turned(
        distance=passage.distance,
        wedge=passage.wedge,
        phases=pace.phases,
        lanes=[Track(_name(lane), lane.filled) for lane in lanes],
        place=moment.distance,
        on_scales=loads_of(joined.trial.bolted.weighed.corners()).cross,
        ghost=None if behind is None else behind.wedge,
        ghost_name=joined.behind_is,
        events=_events(lanes, passage),
        give=give,
    )
    return strip(turned, strip_room(phone=phone), span=_span(joined), name="strip")


def strip_room(*, phone: bool) -> Room:
    """Paper for the strip along the turn."""
    return PHONE_STRIP if phone else LAPTOP_STRIP


def phase_on_strip(begin: float, end: float, room: Room) -> tuple[float, float]:
    """From where to where a phase is pressed on the paper of the strip [px]; `begin` and `end` are shares of
    the turn, whose first and last reach out to the edge of the paper.
    """
    left = left_of(room)
    wide = room.width - left - RIGHT
    return (left + wide * begin if begin > 0.0 else 0.0), (left + wide * end if end < 1.0 else room.width)


@lru_cache(maxsize=32)
def _span(joined: Joined) -> tuple[float, float]:
    """An axis that holds the wedge with the tank full and empty, so that it never moves under the thumb."""
    scales = loads_of(joined.trial.bolted.weighed.corners()).cross
    return wedge_span(*(one.wedge for one in _ends(joined)), scales)


@lru_cache(maxsize=32)
def heaviest(joined: Joined) -> float:
    """The greatest load of a tire [N] along the turn with the tank full and empty, for one scale of all."""
    return float(
        np.nanmax([np.max(one.loads, initial=0.0, where=one.solved[:, None]) for one in _ends(joined)])
    )


def _ends(joined: Joined) -> list[Passage]:
    """The setup in hand and the one behind it all along the turn, with the tank full and empty."""
    ends = [tank(joined, gallons) for gallons in (capacity(joined), 0.0)]
    return [one for end in ends for one in (end.passage, end.behind_passage) if one is not None]


def fuel_strip_of(moment: Moment, *, phone: bool) -> str:
    """What touches at this place through the fuel."""
    joined = moment.tank.joined
    per_gallon = GALLON * joined.trial.bolted.values()[0].fuel_cell.density
    most = capacity(joined)
    full = most * per_gallon
    lanes = _worth_showing(fuel_lanes(joined, moment.distance), lambda lane: _is_whole(lane, full))
    lanes = lanes if moment.now.carried is not None else []
    tracks = [
        Track(_name(lane), tuple((a / per_gallon, b / per_gallon) for a, b in lane.filled)) for lane in lanes
    ]
    room = PHONE_FUEL if phone else LAPTOP_FUEL
    return fuel_strip(most, moment.tank.gallons, tracks[: 1 if phone else MOST_LANES], room)


@lru_cache(maxsize=32)
def _along(passage: Passage) -> list[Lane]:
    """The lanes of a passage that are worth showing."""
    known = passage.distance[passage.solved].tolist()
    if not known:
        return []
    return _worth_showing(passage.lanes, lambda lane: all(map(lane.touches, known)))


def _worth_showing(lanes: Sequence[Lane], is_whole: Callable[[Lane], bool]) -> list[Lane]:
    """Those that change on the way first; coils that hang and stops that carry all the way after them."""

    def changes(lane: Lane) -> bool:
        return bool(lane.filled) and not is_whole(lane)

    def is_odd(lane: Lane) -> bool:
        return not lane.filled if lane.part in ("coil", "wheel") else bool(lane.filled)

    moving = [lane for lane in lanes if changes(lane)]
    return [*moving, *(lane for lane in lanes if not changes(lane) and is_odd(lane))][:MOST_LANES]


def _is_whole(lane: Lane, full: float) -> bool:
    """Whether a part touches with every load of fuel, from nothing to a full cell [kg]."""
    near = 1e-6 * full
    return len(lane.filled) == 1 and lane.filled[0][0] <= near and lane.filled[0][1] >= full - near


def _name(lane: Lane) -> str:
    return f"{lane.where} {PART[lane.part]}".strip()


def _events(lanes: Sequence[Lane], passage: Passage) -> tuple[Event, ...]:
    """Where along the turn a part begins to touch, or leaves; words only where there is room for them."""
    length = passage.pace.length
    found = []
    for lane in lanes:
        for begin, end in lane.filled:
            if begin > 0.0 and not _is_edge(passage, begin):
                found.append((begin, f"{lane.where} {BEGINS[lane.part]}"))
            if end < length and not _is_edge(passage, end):
                found.append((end, f"{lane.where} {ENDS[lane.part]}"))
    told, free = [], 0.0
    for at, words in sorted(found):
        told.append(Event(at, words if at >= free else ""))
        free = max(free, at + ROOM_OF_WORDS * length) if at >= free else free
    return tuple(told)


def _is_edge(passage: Passage, at: float) -> bool:
    """Whether the states end there: then it is not known that a part touches or leaves."""
    near = int(np.argmin(np.abs(passage.distance - at)))
    beside = passage.solved[max(near - 1, 0) : near + 2]
    return bool(abs(passage.distance[near] - at) < 1e-6 and not beside.all())
