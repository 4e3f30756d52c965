"""A lap read as a racer asks for it: what rules from where to where, and what he can check on the car."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.pack import watched_points
from ovalwright.road import Line

from .lap import ON_REVS, Lap
from .lap_events import gaps_of
from .state import Four

Array = npt.NDArray[Any]

SHORT = 5.0
"""A stretch shorter than this [m] is not told apart."""


class Ruled(NamedTuple):
    """A stretch where one thing sets the speed: `start` and `end` along the driven lap from the start line
    [m], one of RULES, the tires nearest to their peak there as they come, speeds at its ends [m/s].
    """

    start: float
    end: float
    rule: str
    tires: tuple[str, ...]
    entry: float
    exit: float


class Lowest(NamedTuple):
    """The watched point of the frame that comes nearest to the road: clearance [m], negative where it drags,
    and where, along the driven lap from the start line [m].
    """

    name: str
    gap: float
    distance: float


@dataclass(frozen=True)
class OnTheCar:
    """What a lap leaves to be read on the car. Shock travel from where the car stands [m], `bump` what a zip
    tie on the shaft shows, and `rebound`; the greatest `load` of each tire [N]; `lowest` frame point, None
    without any; `top` speed [m/s]; least and greatest engine speed [rad/s]; time on the rev limiter [s].
    """

    bump: Four
    rebound: Four
    load: Four
    lowest: Lowest | None
    top: float
    least_revs: float
    most_revs: float
    on_the_limiter: float


def ruled(lap: Lap) -> tuple[Ruled, ...]:
    """The stretches of a lap from the start line on; those shorter than SHORT count to the one before."""
    ends = np.append(lap.line.distance, lap.line.length)
    speed = np.append(lap.speed, lap.speed[0])
    found, first = [], 0
    for rule, run in groupby(told_rules(lap)):
        last = first + len(list(run))
        own = [lap.ruling_tires[i] for i in range(first, last) if lap.rules[i] == rule]
        tires = tuple(dict.fromkeys(filter(None, own)))
        found.append(Ruled(float(ends[first]), float(ends[last]), rule, tires,
                           float(speed[first]), float(speed[last])))  # fmt: skip
        first = last
    return tuple(found)


def told_rules(lap: Lap) -> list[str]:
    """What rules at each station, every stretch shorter than SHORT given that of the one before."""
    ends = np.append(lap.line.distance, lap.line.length)
    kept: list[str] = []
    for rule, run in groupby(lap.rules):
        first, count = len(kept), len(list(run))
        short = kept and ends[first + count] - ends[first] < SHORT
        kept += [kept[-1] if short else rule] * count
    return kept


def on_the_car(lap: Lap) -> OnTheCar:
    """Travel, loads, clearance and revs of a lap, at their greatest."""
    bump = lap.packed.standing.corners()["shock_length"] - lap.corners["shock_length"]
    return OnTheCar(
        bump=Four(*np.maximum(bump.max(axis=0), 0.0).tolist()),
        rebound=Four(*np.maximum((-bump).max(axis=0), 0.0).tolist()),
        load=Four(*lap.corners["load"].max(axis=0).tolist()),
        lowest=_lowest(lap),
        top=float(lap.speed.max()),
        least_revs=float(lap.engine_speed.min()),
        most_revs=float(lap.engine_speed.max()),
        on_the_limiter=time_ruled_by(lap, ON_REVS),
    )


def time_ruled_by(lap: Lap, rule: str) -> float:
    """Time of a lap that one thing rules [s]."""
    return float(lap.steps[np.array(lap.rules) == rule].sum())


def _lowest(lap: Lap) -> Lowest | None:
    points = watched_points(lap.packed.values()[0])
    if not points:
        return None
    gaps = gaps_of(lap)[:, : len(points)]
    station, point = np.unravel_index(np.argmin(gaps), gaps.shape)
    return Lowest(points[point].name, float(gaps[station, point]), float(lap.line.distance[station]))


def sections_along(line: Line) -> tuple[tuple[str, float, float], ...]:
    """The sections of the road as they lie on a driven line: name, start and end along it [m]."""
    spine = np.append(line.spine, line.ribbon.length)
    distance = np.append(line.distance, line.length)

    def along(at: float) -> float:
        return float(np.interp(at % line.ribbon.length, spine, distance))

    return tuple((section.name, along(section.start), along(section.end)) for section in line.ribbon.sections)


def edges_of(line: Line) -> tuple[Array, Array]:
    """The left and the right edge of the road beside a line, as seen from above (N, 2) [m]."""
    road, at = line.ribbon, line.spine
    return road.point(at, road.left(at))[:, :2], road.point(at, -road.right(at))[:, :2]
