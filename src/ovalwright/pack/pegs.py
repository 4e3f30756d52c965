"""A road laid through the pegs of a survey, and a ribbon pegged out as a survey that can be kept."""

from __future__ import annotations

import math

import numpy as np

from ovalwright.documents import DocumentError, Track
from ovalwright.road import Ribbon
from ovalwright.road.closure import closed
from ovalwright.road.profile import Array, Profile, faired, through, times
from ovalwright.road.sections import sections_of
from ovalwright.road.spine import Spine
from ovalwright.units import show

_REMARK, _REFUSE = 0.002, 0.08
"""Shares of the lap by which its end may miss its start before that is said, and is refused."""
_OFF = math.radians(45.0)


def ribbon_of_pegs(track: Track) -> tuple[Ribbon, tuple[str, ...]]:
    """The ribbon through a track's pegs, and a sentence for what was adjusted.

    Raises DocumentError when the pegs are far from a lap.
    """
    hand = 1 if track.turns == "left" else -1
    length, at = track.length.si, np.array([peg.at.si for peg in track.pegs])
    measured = times(_from_start(at, [peg.bend.si for peg in track.pegs], length), hand)
    gap = Spine(measured).gap(hand)
    if gap.distance > _REFUSE * length or abs(gap.heading) > _OFF:
        raise DocumentError(
            f"{track.place('pegs')}, pegs: their bends end the lap {show(gap.distance, 'road_length')} from "
            f"its start and {show(abs(gap.heading), 'angle')} off its heading; check distances and bends, "
            "which must turn through 360 degrees."
        )
    curvature = closed(measured, hand)
    bank = faired(at, np.array([hand * peg.bank.si for peg in track.pegs]), length)
    half = faired(at, np.array([0.5 * (peg.width or track.width).si for peg in track.pegs]), length)
    ribbon = Ribbon(
        curvature=curvature,
        bank=bank,
        height=faired(at, np.array([peg.height.si for peg in track.pegs]), length),
        left=half,
        right=half,
        sections=sections_of(curvature, hand),
        hand=hand,
    )
    return ribbon, _remarks(track, gap.distance, length)


def _from_start(at: Array, values: list[float], length: float) -> Profile:
    """The profile in proportion between pegs, cut so that it begins at the start line."""
    profile = through(at.tolist(), values, length, "linear")
    if at[0] == 0.0:
        return profile
    places = [0.0, *at.tolist()]
    return through(places, [float(profile(0.0)), *values], length, "linear")


def _remarks(track: Track, gap: float, length: float) -> tuple[str, ...]:
    if gap < _REMARK * length:
        return ()
    return (
        f"{track.place('pegs')}, pegs: their bends end the lap {show(gap, 'road_length')} from its start; "
        "the difference is spread over the lap.",
    )
