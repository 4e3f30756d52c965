"""The grooves of a track: offsets of the driven line from the spine of its road."""

from __future__ import annotations

import numpy as np

from ovalwright.documents import DocumentError, Track
from ovalwright.documents.oval import Groove
from ovalwright.road import Line, Ribbon
from ovalwright.road.profile import Profile, profile_of, raised, through, times

GROOVES = {"low": 0.25, "middle": 0.5, "high": 0.75}
"""Share of the way from as low as the car can run to as high (common practice, no source)."""
HALF_CAR = 1.0
"""Half the width of a car [m]: how near to an edge its middle can run (common practice, no source)."""

SPACING, MOST_STATIONS = 3.0, 1000
"""Stations of a driven line lie so far apart [m], farther where there would be more than so many."""


def groove_names(track: Track) -> tuple[str, ...]:
    """Names of the grooves a track has: the three of every track and its own."""
    return (*GROOVES, *(own.name for own in track.grooves))


def groove(track: Track, ribbon: Ribbon, name: str = "middle") -> Profile:
    """Offset of a groove from the spine [m, + left]: low, middle, high, or one of the track's own.

    Raises DocumentError for a name that is none of them.
    """
    for own in track.grooves:
        if own.name == name:
            return _own(own, ribbon)
    if name not in GROOVES:
        known = ", ".join(groove_names(track))
        raise DocumentError(f'{track.file_name}: "{name[:40]}" is no groove of it; the grooves are {known}.')
    level = np.cos(ribbon.bank(np.arange(0.0, ribbon.length, 1.0))).min()
    usable = raised(_inside(ribbon), -HALF_CAR)
    return _as_seen_from_above(ribbon, times(usable, ribbon.hand * level * (1.0 - 2.0 * GROOVES[name])))


def groove_line(track: Track, ribbon: Ribbon, name: str = "middle") -> Line:
    """The line driven in a groove. Raises DocumentError for a name that is none, and for one off the road."""
    offset = groove(track, ribbon, name)
    try:
        return ribbon.line(offset, spacing=max(SPACING, ribbon.length / MOST_STATIONS))
    except ValueError as problem:
        raise DocumentError(f"{track.file_name}, grooves: {name[:40]}: {problem}.") from None


def _as_seen_from_above(ribbon: Ribbon, level: Profile) -> Profile:
    """The offset along the surface that is `level` [m] in plan: a driver's line bends no more where the bank
    is gained.
    """
    return profile_of(lambda s: level(s) / np.cos(ribbon.bank(s)), ribbon.length)


def _inside(ribbon: Ribbon) -> Profile:
    """Width of the road from the spine to its inside edge [m]."""
    return ribbon.left if ribbon.hand > 0 else ribbon.right


def _own(own: Groove, ribbon: Ribbon) -> Profile:
    """A groove eased from place to place, from its distances to the inside edge."""
    knots: dict[float, float] = {}
    for section in ribbon.sections:
        middle = (section.start + 0.5 * ((section.end - section.start) % ribbon.length)) % ribbon.length
        if section.turning:
            knots |= {section.start: own.entry.si, middle: own.middle.si, section.end: own.exit.si}
        else:
            knots[middle] = own.straight.si
    places = sorted(knots)
    offsets = np.array([float(_inside(ribbon)(place)) - knots[place] for place in places])
    level = ribbon.hand * offsets * np.cos(ribbon.bank(np.array(places)))
    return _as_seen_from_above(ribbon, through(places, level.tolist(), ribbon.length, "quintic"))
