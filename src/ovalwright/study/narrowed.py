"""What a measurement has narrowed: the answers of a car as it was known before and as it is known now."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ovalwright.documents import MIDDLE, Conditions, Station, Track
from ovalwright.pack import Packed

from .bands import INTERACTIVE, Band, Progress, band_of_solved, over_draws
from .compare import as_drawn
from .reading import NO_NUMBERS, NUMBERS, Spot, together
from .turn import FULL
from .uncertain import Draw, Unknowns

THREE = ("cross", "balance", "limit")
"""The numbers that matter most, by their names in NUMBERS: wedge, balance and speed at the limit."""


ALIKE = 0.02
"""Bands whose widths differ by less than this share are alike."""


@dataclass(frozen=True)
class Narrowed:
    """Each of THREE with its band as the car was known before and as it is known now; both rest on the same
    `draws` less `failed` draws.
    """

    before: Mapping[str, Band]
    after: Mapping[str, Band]
    draws: int
    failed: int


def narrowed(
    before: Packed,
    after: Packed,
    track: Track,
    conditions: Conditions,
    *,
    station: Station = MIDDLE,
    fuel_share: float = FULL,
    draws: int = INTERACTIVE,
    progress: Progress | None = None,
) -> Narrowed:
    """The bands of one car at one station, before and after a number of its documents was measured.

    Every draw is of both, so that what was not measured moves both alike and the bands differ by the
    measurement alone (common random numbers; Glasserman and Yao, Manage. Sci. 38, 1992, from memory).
    """
    spot = Spot(track=track, conditions=conditions, station=station)
    cars = (before, after)
    unknowns = Unknowns(tuple(car.assembly for car in cars), track, conditions, (station,))
    columns = [NUMBERS.index(name) for name in THREE]

    def numbers(car: Packed, at: Spot, draw: Draw) -> np.ndarray:
        reading = together((car,), at, fuel_share, None, draw.tires)[1][0]
        return (reading.numbers() if reading else NO_NUMBERS)[columns]

    def answer(draw: Draw) -> np.ndarray:
        return np.array([numbers(as_drawn(car, draw), draw.spot(spot), draw) for car in cars])

    asked = unknowns.draws(draws)
    found, failed = over_draws(answer, asked, progress)
    found = found.reshape(-1, len(cars), len(THREE))
    was, now = (_bands(numbers(car, spot, Draw({})), found[:, i]) for i, car in enumerate(cars))
    return Narrowed(was, now, len(asked), failed)


def _bands(values: np.ndarray, found: np.ndarray) -> dict[str, Band]:
    return {name: band_of_solved(float(values[k]), found[:, k]) for k, name in enumerate(THREE)}


def verdict(was: Band, now: Band) -> str:
    """What became of a band, in words; nothing where one of the two has none."""
    widths = [one.high - one.low for one in (was, now)]
    change = widths[1] / widths[0] - 1.0 if widths[0] > 0.0 else math.nan
    if math.isnan(change):
        return ""
    if abs(change) < ALIKE:
        return "as sure as before"
    return f"{abs(100.0 * change):.0f} % {'narrower' if change < 0.0 else 'wider'}"
