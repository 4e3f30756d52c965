"""What a track is: its lengths, its stretches with their radius and bank, and its grooves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Track
from ovalwright.pack.grooves import groove, groove_line, groove_names
from ovalwright.pack.track import lay
from ovalwright.road import Ribbon, Section
from ovalwright.road.line import driven_length, path_of
from ovalwright.road.profile import constant, times

_PLAN_STEP = 5.0
_STRAIGHT = 1e-4
"""Curvature [1/m] that is none: a radius of 10 km."""


@dataclass(frozen=True)
class Stretch:
    """One section at the center of the road: length [m], angle turned through [rad, + left], and in its
    middle the radius [m, infinite where it is straight] and the bank [rad, outer side up].
    """

    name: str
    length: float
    turned: float
    radius: float
    bank: float


@dataclass(frozen=True)
class GrooveLap:
    """A groove: length of its lap [m], and the radius [m] in the middle of each end."""

    name: str
    length: float
    radii: tuple[float, ...]


@dataclass(frozen=True)
class Road:
    """A track laid out. Lengths of a lap along inside edge, center and wall [m]; width, and the height from
    the lowest to the highest place of the center [m]; the plan of the center, x and y [m].
    """

    name: str
    hand: int
    inside: float
    center: float
    wall: float
    width: float
    climb: float
    stretches: tuple[Stretch, ...]
    grooves: tuple[GrooveLap, ...]
    remarks: tuple[str, ...]
    plan: npt.NDArray[np.float64]


def road(track: Track) -> Road:
    """The road of a track. Raises DocumentError, one sentence, when it cannot be laid or driven."""
    laid = lay(track)
    ribbon = laid.ribbon
    left, right = ribbon.left, times(ribbon.right, -1.0)
    inside, wall = (left, right) if ribbon.hand > 0 else (right, left)
    s = np.arange(0.0, ribbon.length, _PLAN_STEP)
    height = ribbon.height(s)
    plan = ribbon.plan(s)
    return Road(
        name=track.name,
        hand=ribbon.hand,
        inside=driven_length(ribbon, inside),
        center=driven_length(ribbon, constant(0.0, ribbon.length)),
        wall=driven_length(ribbon, wall),
        width=track.width.si,
        climb=float(np.ptp(height)),
        stretches=tuple(_stretch(ribbon, section) for section in ribbon.sections),
        grooves=tuple(_groove(track, ribbon, name) for name in groove_names(track)),
        remarks=laid.remarks,
        plan=np.column_stack([plan.x, plan.y]),
    )


def _stretch(ribbon: Ribbon, section: Section) -> Stretch:
    length = (section.end - section.start) % ribbon.length or ribbon.length
    middle = _middle(ribbon, section)
    bend = abs(float(ribbon.curvature(middle)))
    return Stretch(
        name=section.name,
        length=length,
        turned=float(ribbon.curvature.integrate(section.start, section.start + length)),
        radius=1.0 / bend if bend > _STRAIGHT else np.inf,
        bank=ribbon.hand * float(ribbon.bank(middle)),
    )


def _groove(track: Track, ribbon: Ribbon, name: str) -> GrooveLap:
    offset, line = groove(track, ribbon, name), groove_line(track, ribbon, name)
    middles = [_middle(ribbon, section) for section in ribbon.sections if section.turning]
    bends = path_of(ribbon, offset, np.array(middles)).curvature
    return GrooveLap(name, line.length, tuple((1.0 / np.abs(bends)).tolist()))


def _middle(ribbon: Ribbon, section: Section) -> float:
    """Distance of the middle of a section from the start line [m]."""
    length = (section.end - section.start) % ribbon.length or ribbon.length
    return (section.start + 0.5 * length) % ribbon.length
