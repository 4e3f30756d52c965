"""What one step of every adjustment does at entry, middle and exit, as bolted in and re-set, ranked by size.

All cars are looked at at one speed, 2 % under the limit of the setup as it stands, and balanced at that
limit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ovalwright.documents import STATIONS, Assembly, Conditions, DocumentError, Station, Track
from ovalwright.pack import Packed, with_fuel

from .adjustments import Adjustment, adjustments
from .at_limit import AtLimit, Parts, at_limit, parts
from .balance import wedged
from .bands import Band, Progress, band_of, over_draws
from .compare import as_drawn, verdict_of, wedge_slope
from .moved import Moved, why
from .reading import Spot, TireLimit, balance_near, fueled, tire_limit
from .state import loads_of, solve
from .turn import UNDER_THE_LIMIT
from .uncertain import Draw, Unknowns

Array = npt.NDArray[np.float64]

FIGURES = 6
"""Four loads, cross, balance: what is kept of every car at every station."""
CROSS, BALANCE = 4, 5


@dataclass(frozen=True)
class Effect:
    """One step: by station what it does as bolted in and re-set (None: not applicable), or why it could not
    be built. `static` is the cross it makes on the scales as bolted in (share).
    """

    step: Adjustment
    bolted: dict[str, Moved]
    reset: dict[str, Moved] | None
    static: float
    problem: str = ""

    def told(self, station: str) -> Moved | None:
        """The reading that counts at a station: re-set where that applies."""
        return (self.reset or self.bolted).get(station)

    def size(self) -> float:
        """Largest change of balance at any station, re-set where that applies."""
        sizes = [abs(moved.balance.value) for moved in (self.reset or self.bolted).values()]
        return max((size for size in sizes if math.isfinite(size)), default=0.0)

    def why(self, station: str) -> str:
        """One sentence from the solver's own numbers, in US units."""
        moved = self.told(station)
        return self.problem if moved is None else f"{self.step.name}: {why(moved)}"


@dataclass(frozen=True)
class Effects:
    """All steps, the strongest first; `speeds` [m/s] and what the bands rest on."""

    rows: tuple[Effect, ...]
    speeds: dict[str, float]
    draws: int
    failed: int
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Place:
    """A spot with the speed, the limit and the tires of the setup there as it stands; NaN and None where it
    has none, or nobody asked for the tires.
    """

    spot: Spot
    speed: float
    limit: TireLimit | None
    tires: AtLimit | None = None


@dataclass(frozen=True)
class _Cars:
    """A step as bolted in and re-set, None where that does not apply, or why it could not be built."""

    bolted: Packed | None = None
    reset: Packed | None = None
    problem: str = ""


def effects(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    stations: Sequence[Station] = STATIONS,
    fuel_share: float | None = None,
    end: int = 0,
    steps: Sequence[Adjustment] | None = None,
    draws: int = 0,
    progress: Progress | None = None,
) -> Effects:
    """One step of every adjustment of the setup (or of `steps`), ranked by what it does to the balance.

    `fuel_share` of the cell, None for the fuel in `packed`. `draws` asks for bands; each draw takes about as
    long as the whole table without them. `progress` is told of every step, then of every draw.
    """
    chosen = tuple(adjustments(packed.assembly) if steps is None else steps)
    spots = tuple(Spot(track=track, conditions=conditions, station=s, end=end) for s in stations)
    share = _share_in(packed) if fuel_share is None else fuel_share
    places = [_with_tires(packed, place, share) for place in _places(packed, spots, share, Draw({}))]
    base = _figures(packed, places, share, Draw({}))
    wedge = wedged(with_fuel(packed, share=share))
    slopes = [wedge_slope(fueled(packed, share, p.spot), p.limit, wedge) for p in places]
    tell = progress or (lambda done, total: None)
    built, tried = [], []
    for done, step in enumerate(chosen, start=1):
        built.append(_built(packed, step, Draw({})))
        tried.append(_both_ways(built[-1], places, share, Draw({})))
        tell(done, len(chosen) + draws)
    here = np.array(tried) - base
    unknowns = Unknowns(_assemblies(packed, chosen), track, conditions, tuple(stations))
    asked = unknowns.draws(draws) if draws else []

    def answer(draw: Draw) -> Array:
        car = as_drawn(packed, draw)
        at = _places(car, spots, share, draw)
        zero = _figures(car, at, share, draw)
        return np.array([_both_ways(_built(car, step, draw), at, share, draw) for step in chosen]) - zero

    found, failed = over_draws(answer, asked, lambda done, all: tell(len(chosen) + done, len(chosen) + all))
    found = found.reshape(-1, *here.shape)
    rows = [
        _effect(packed, step, cars, here[k], found[:, k], places, share, slopes)
        for k, (step, cars) in enumerate(zip(chosen, built, strict=True))
    ]
    return Effects(
        rows=tuple(sorted(rows, key=lambda row: -row.size())),
        speeds={p.spot.station.name: p.speed for p in places},
        draws=len(asked),
        failed=failed,
        notes=packed.notes,
    )


def _share_in(packed: Packed) -> float:
    cell = packed.values()[0].fuel_cell
    return float(packed.record["fuel_mass"] / (cell.capacity * cell.density))


def _assemblies(packed: Packed, steps: Sequence[Adjustment]) -> tuple[Assembly, ...]:
    changed = [step.changed for step in steps if step.changed is not None]
    return (packed.assembly, *changed)


def _places(car: Packed, spots: Sequence[Spot], share: float, draw: Draw) -> list[_Place]:
    """Speeds and limits of the setup as it stands."""
    places = []
    for spot in spots:
        here = draw.spot(spot)
        limit = tire_limit(draw.tires(fueled(car, share, here)), here)
        places.append(_Place(here, UNDER_THE_LIMIT * limit.speed if limit else math.nan, limit))
    return places


def _with_tires(car: Packed, place: _Place, share: float) -> _Place:
    if place.limit is None:
        return place
    return replace(place, tires=at_limit(fueled(car, share, place.spot), place.limit.state))


def _figures(car: Packed, places: Sequence[_Place], share: float, draw: Draw) -> Array:
    """Loads, cross and balance of a car at every place, (places, FIGURES); NaN where there is no trim."""
    figures = np.full((len(places), FIGURES), np.nan)
    for row, place in zip(figures, places, strict=True):
        if place.limit is None:
            continue
        running = draw.tires(fueled(car, share, place.spot))
        solved = solve(running, place.spot.at(place.speed))
        if solved.found:
            loads = loads_of(solved.corners)
            row[:] = (*loads.corners, loads.cross, balance_near(running, place.limit.state))
    return figures


def _built(car: Packed, step: Adjustment, draw: Draw) -> _Cars:
    values = draw.values(step.changed) if step.changed is not None and draw.z else None
    bolted = None
    try:
        bolted = step.as_bolted(car, values=values)
        return _Cars(bolted, step.reset(car, values=values))
    except DocumentError as problem:
        return _Cars(bolted, problem=str(problem))


def _both_ways(cars: _Cars, places: Sequence[_Place], share: float, draw: Draw) -> Array:
    """Figures of a step as bolted in and re-set, (2, places, FIGURES); NaN where not applicable."""
    both = np.full((2, len(places), FIGURES), np.nan)
    for way, car in enumerate((cars.bolted, cars.reset)):
        if car is not None:
            both[way] = _figures(car, places, share, draw)
    return both


def _effect(
    base: Packed,
    step: Adjustment,
    cars: _Cars,
    here: Array,
    found: Array,
    places: Sequence[_Place],
    share: float,
    slopes: Sequence[float],
) -> Effect:
    if cars.bolted is None or cars.problem:
        return Effect(step, {}, None, math.nan, cars.problem)
    ways = [
        {
            place.spot.station.name: _moved(
                here[way, i], found[:, way, i], slopes[i], _parts(car, place, share)
            )
            for i, place in enumerate(places)
        }
        for way, car in enumerate((cars.bolted, cars.reset))
    ]
    was, now = (loads_of(car.weighed.corners()).cross for car in (base, cars.bolted))
    return Effect(step, ways[0], ways[1] if cars.reset is not None else None, now - was)


def _parts(car: Packed | None, place: _Place, share: float) -> Parts | None:
    if car is None or place.limit is None or place.tires is None:
        return None
    now = at_limit(fueled(car, share, place.spot), place.limit.state)
    return parts(place.tires, now) if now else None


def _moved(here: Array, found: Array, slope: float, made_of: Parts | None) -> Moved:
    bands = [band_of(value, found[:, i]) for i, value in enumerate(here)]
    balance = bands[BALANCE]
    ends = sorted((balance.low / slope, balance.high / slope))
    return Moved(
        loads=(bands[0], bands[1], bands[2], bands[3]),
        cross=bands[CROSS],
        balance=balance,
        wedge=Band(balance.value / slope, *ends),
        verdict=verdict_of(balance, with_band=len(found) > 0),
        parts=made_of,
    )
