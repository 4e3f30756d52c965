"""How sure the answers about one car are, and what to measure next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ovalwright.documents import MIDDLE, STATIONS, Assembly, Conditions, Station, Track
from ovalwright.pack import Packed

from .bands import INTERACTIVE, Band, Measurement, Progress, band_of_solved, next_measurement, over_draws
from .compare import FUELS, as_drawn, tried
from .reading import FIRST_GAP, NO_NUMBERS, NUMBERS, Asked, Spot, together
from .uncertain import Draw, Unknowns


@dataclass(frozen=True)
class SurePlace:
    """One fuel (share of the cell) and station: every number of NUMBERS with its band, and the share of the
    draws in which each coil LF RF LR RR is off its seat, and in which there is no steady state.
    """

    station: str
    fuel_share: float
    speed: float
    numbers: dict[str, Band]
    hanging: tuple[float, float, float, float]
    unsolved: float


@dataclass(frozen=True)
class Sureness:
    """The bands of a car's answers; they rest on `draws` less `failed` draws."""

    places: tuple[SurePlace, ...]
    draws: int
    failed: int


def how_sure(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    stations: Sequence[Station] = STATIONS,
    fuels: Sequence[float] = FUELS,
    end: int = 0,
    speed: Asked = None,
    draws: int = INTERACTIVE,
    progress: Progress | None = None,
) -> Sureness:
    """Bands of loads, cross, bite, coil gaps, stop forces, limit and balance of one car.

    `fuels` are shares of the cell; without `speed` [m/s] each draw runs 2 % under its own limit.
    """
    spots = [Spot(track=track, conditions=conditions, station=station, end=end) for station in stations]
    places = [(spot, share) for share in fuels for spot in spots]
    unknowns = Unknowns((packed.assembly,), track, conditions, tuple(stations))

    def answer(draw: Draw) -> np.ndarray:
        cars = (as_drawn(packed, draw),)
        rows = [together(cars, draw.spot(spot), share, speed, draw.tires)[1][0] for spot, share in places]
        return np.array([row.numbers() if row else NO_NUMBERS for row in rows])

    asked = unknowns.draws(draws)
    found, failed = over_draws(answer, asked, progress)
    found = found.reshape(-1, len(places), len(NUMBERS))
    told = []
    for k, (spot, share) in enumerate(places):
        at, readings, _ = together((packed,), spot, share, speed)
        here = readings[0].numbers() if readings[0] else NO_NUMBERS
        gaps = found[:, k, FIRST_GAP : FIRST_GAP + 4]
        hanging = (gaps > 0.0).mean(axis=0) if len(found) else np.full(4, np.nan)
        told.append(
            SurePlace(
                station=spot.station.name,
                fuel_share=share,
                speed=at,
                numbers={name: band_of_solved(here[i], found[:, k, i]) for i, name in enumerate(NUMBERS)},
                hanging=(float(hanging[0]), float(hanging[1]), float(hanging[2]), float(hanging[3])),
                unsolved=float(np.isnan(found[:, k, 0]).mean()) if len(found) else math.nan,
            )
        )
    return Sureness(tuple(told), len(asked), failed)


def what_to_measure(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    wanted: str = "cross",
    station: Station = MIDDLE,
    fuel_share: float = 1.0,
    end: int = 0,
    speed: Asked = None,
    other: Assembly | None = None,
    reset: bool = True,
    progress: Progress | None = None,
) -> tuple[Measurement, ...]:
    """Measurements ranked by how much each would narrow one number of NUMBERS at a station, the best first.

    With `other`, the wanted number is the difference that the other setup makes, re-set or as bolted in.
    """
    spot = Spot(track=track, conditions=conditions, station=station, end=end)
    assemblies = (packed.assembly,) if other is None else (packed.assembly, other)
    unknowns = Unknowns(assemblies, track, conditions, (station,))
    number = NUMBERS.index(wanted)

    def answer(draw: Draw) -> float:
        base = as_drawn(packed, draw)
        cars: tuple[Packed, ...] = (base,)
        if other is not None:
            trial = tried(base, other, draw)
            cars = (base, trial.reset if reset and trial.reset else trial.bolted)
        _, readings, _ = together(cars, draw.spot(spot), fuel_share, speed, draw.tires)
        rows = [float(r.numbers()[number]) if r else math.nan for r in readings]
        return rows[0] if other is None else rows[1] - rows[0]

    return next_measurement(answer, unknowns, progress)
