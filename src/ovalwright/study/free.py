"""The free line of the real car: the quickest way round that the road leaves it, and its lap there.

The line is planned with the car's envelope, eased so that a car can follow it, and then driven by the full
car. It is a bound beside the lines that are driven, and no place to compare setups.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from ovalwright.documents import Conditions, Track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed
from ovalwright.pack.grooves import GROOVES, HALF_CAR, groove
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Ribbon
from ovalwright.solve.line import FreeLine, free_line
from ovalwright.solve.sweep import burden
from ovalwright.solve.sweep import lap as envelope_lap

from .envelope import Array, Sampled, sampled
from .lap import DRIVER, Driver, Lap, NoLap, lap

FREE, MIDDLE = "free", "middle"
TRIES = ((1.0, 4.0), (1.0, 7.0), (1.0, 12.0), (0.75, 7.0), (0.5, 7.0), (0.25, 7.0))
"""Tried in this order until the car gets round about as planned: share of the way from the quickest groove to
the planned line, and half width [m] of the bell that eases it. A car that takes its set in some tenths of a
second (common practice, no source) bends its path over 10 m and more."""
AS_PLANNED = 1.015
"""A lap of up to so many times the planned time is about as planned."""
LIGHT, LIGHTER = 0.6, 0.9
"""A planned line leaves this share of the weight on the road, or where a groove is about as light, this share
of what the groove leaves: the envelope knows nothing of a wheel that lifts as the road rolls the car."""


@dataclass(frozen=True, eq=False)
class FreeLap:
    """The quickest lap that was found on a track.

    `lap` is driven on the line `name`: "free", or the quickest groove when no free line was quicker.
    `grooves` holds the laps of the grooves that the car laps, `plan` the line as planned with the envelope
    `sampled`. What was driven leads `share` of the way from the quickest groove to that line, eased by a bell
    of half width `ease` [m]; `envelope_miss` is how much slower the car was there than its envelope, a share
    of the lap. The plan leaves the share `lightest` of the weight on the road.
    """

    lap: Lap
    name: str
    grooves: dict[str, Lap]
    plan: FreeLine
    sampled: Sampled
    lightest: float
    share: float
    ease: float
    envelope_miss: float

    @property
    def worth(self) -> float:
        """What the line is worth against the middle groove [s], positive when quicker; nan without one."""
        middle = self.grooves.get(MIDDLE)
        return middle.time - self.lap.time if middle else np.nan

    @property
    def warning(self) -> str:
        """What a racer must know beside it."""
        if self.name != FREE:
            return (
                f"No free line was found that is quicker than the {self.name} groove, so that one is shown."
            )
        text = (
            "The free line is a bound, not what he will drive: no traffic, no fading, every inch of the road"
        )
        if np.isfinite(self.worth):
            share = self.worth / self.grooves[MIDDLE].time
            text += f"; it is worth {self.worth:.2f} s ({share:.1%}) against the middle groove"
        return text + ". Compare setups on one fixed line: freeing it outweighs what they differ by."


def free_lap(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    driver: Driver = DRIVER,
    *,
    bite: float = 1.0,
) -> FreeLap:
    """The free line of a car on a track and its lap there, never slower than on the low, middle or high
    groove.

    `bite` is the friction of the brake pads against their best. Raises NoLap when the car laps no groove, and
    ValueError when no envelope or no line can be drawn.
    """
    ribbon = ribbon_of(track)
    grooves = _on_grooves(packed, track, ribbon, conditions, driver, bite)
    slow = min(float(one.speed.min()) for one in grooves.values())
    fast = max(float(one.speed.max()) for one in grooves.values())
    car = sampled(packed, ribbon, conditions, driver, (slow, fast), bite=bite)
    lightest = min(LIGHT, *(LIGHTER * _lightest(one) for one in grooves.values()))
    plan = free_line(car.fit.envelope, ribbon, clear=HALF_CAR, lightest=lightest)
    best = min(grooves, key=lambda name: grooves[name].time)
    places = np.arange(len(plan.offset)) * ribbon.length / len(plan.offset)
    from_groove = groove(track, ribbon, best)(places)
    quickest = FreeLap(grooves[best], best, grooves, plan, car, lightest, 0.0, 0.0, np.nan)
    for share, ease in TRIES:
        offset = from_groove + share * (plan.offset - from_groove)
        line = ribbon.line(eased(ribbon, offset, ease))
        try:
            free = lap(packed, line, conditions, driver, bite=bite)
        except NoLap:
            continue
        if free.time < quickest.lap.time:
            miss = free.time / envelope_lap(car.fit.envelope, line).time - 1.0
            quickest = FreeLap(free, FREE, grooves, plan, car, lightest, share, ease, miss)
        if free.time < AS_PLANNED * plan.planned:
            break
    return quickest


def _on_grooves(
    packed: Packed, track: Track, ribbon: Ribbon, conditions: Conditions, driver: Driver, bite: float
) -> dict[str, Lap]:
    """Laps of the grooves that every track has, as far as the car gets round."""
    found: dict[str, Lap] = {}
    for name in GROOVES:
        try:
            line = ribbon.line(groove(track, ribbon, name))
            found[name] = lap(packed, line, conditions, driver, bite=bite)
        except NoLap as problem:
            failed = problem
    if not found:
        raise failed
    return found


def _lightest(driven: Lap) -> float:
    """Least share of its weight that a car leaves on the road."""
    line = driven.line
    asked = burden(line.curvature, line.bank, line.grade, line.crest)
    return float(asked.gravity(0.5 * driven.speed**2).min()) / GRAVITY


def eased(ribbon: Ribbon, offset: Array, ease: float) -> Array:
    """Offsets [m], evenly spaced along the spine from the start line, as means under a bell (Gauss) of a half
    width [m], taken as shares of the width of the road, so that they stay on it.
    """
    spacing = ribbon.length / len(offset)
    spine = np.arange(len(offset)) * spacing
    right, width = ribbon.right(spine), ribbon.left(spine) + ribbon.right(spine)
    share = gaussian_filter1d((offset + right) / width, ease / spacing, mode="wrap")
    return np.asarray(share * width - right)
