"""Two setups side by side: as bolted in, and re-set to the heights and cross of the first, both always.

They are compared at one speed, 2 % under the lower of their limits, at every station and fuel; what differs
carries the band of the difference, from the same draws of what is not known for both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.documents import STATIONS, Assembly, Conditions, Station, Track
from ovalwright.pack import Packed, build, rebuilt_as_bolted, rebuilt_reset, with_fuel

from .balance import Wedge, balance, wedged
from .bands import Band, Progress, band_of_solved, over_draws
from .reading import (
    FIRST_GAP,
    NO_NUMBERS,
    NUMBERS,
    Asked,
    Reading,
    Spot,
    TireLimit,
    fueled,
    together,
)
from .turn import FULL, NEARLY_EMPTY
from .uncertain import Draw, Unknowns, document_entries

Array = npt.NDArray[np.float64]

FUELS = (FULL, NEARLY_EMPTY)
"""Shares of the cell."""
SETS_ITSELF = (
    *("jack_bolt", ".turned", "bar.preload", "bar.preload_torque", ".packers"),
    *("stop.gap", "bump_spring.gap", "coil.gap"),
)
"""Numbers that themselves set height, cross or preload: re-setting the car would undo or miss them."""
SAME_BALANCE = 5e-5
"""Change of balance [share of weight x wheelbase] too small to call tighter or looser without a band."""
TIGHTER, LOOSER, WITHIN_BAND, NO_ANSWER = "tighter", "looser", "too close to call", "no answer"


@dataclass(frozen=True)
class Change:
    """What differs from the first setup: every number of NUMBERS with its band, the static cross that would
    change the balance as much (share; NaN where cross does nothing), the verdict in a word, and the share of
    the draws in which one of the two has no steady state.
    """

    numbers: dict[str, Band]
    wedge: Band
    verdict: str
    unsolved: float


@dataclass(frozen=True)
class Row:
    """One fuel [kg, share of the cell] and station: the common speed [m/s] and what each car does there.

    A reading is None where the car has no steady state at that speed; `reset` is None too where re-setting
    does not apply.
    """

    station: str
    fuel: float
    fuel_share: float
    speed: float
    base: Reading | None
    bolted: Reading | None
    reset: Reading | None
    bolted_change: Change | None
    reset_change: Change | None


@dataclass(frozen=True)
class OnTheScales:
    """Loads LF RF LR RR [N] and heights [m] as weighed."""

    loads: Array
    heights: Array

    @property
    def cross(self) -> float:
        """Share of the load on RF and LR."""
        return float((self.loads[1] + self.loads[2]) / self.loads.sum())


@dataclass(frozen=True)
class Comparison:
    """All of it. `reset_applies` False: the change itself sets height, cross or preload.

    `draws` and `failed` count what the bands rest on; `hanging` is the share of draws in which each coil is
    off its seat, by (car, station, fuel share).
    """

    rows: tuple[Row, ...]
    reset_applies: bool
    base_scales: OnTheScales
    bolted_scales: OnTheScales
    reset_scales: OnTheScales | None
    notes: tuple[str, ...]
    draws: int
    failed: int
    hanging: dict[tuple[str, str, float], Array]


@dataclass(frozen=True)
class Trial:
    """The cars of one comparison: the base, the other as bolted in, and re-set (None: not applicable)."""

    base: Packed
    bolted: Packed
    reset: Packed | None

    def cars(self) -> tuple[Packed, ...]:
        """Those that are there."""
        return (self.base, self.bolted) if self.reset is None else (self.base, self.bolted, self.reset)


def compare(
    base: Packed,
    other: Assembly,
    track: Track,
    conditions: Conditions,
    *,
    stations: Sequence[Station] = STATIONS,
    fuels: Sequence[float] = FUELS,
    end: int = 0,
    speed: Asked = None,
    draws: int = 0,
    progress: Progress | None = None,
) -> Comparison:
    """Compare the setup of `base` with that of `other` on the same car.

    `fuels` are shares of the cell; `speed` [m/s] (also by name of station) instead of 2 % under the lower
    limit; `draws` (64 is usual) asks for bands. Raises DocumentError when `other` cannot be built.
    """
    trial = tried(base, other)
    spots = tuple(Spot(track=track, conditions=conditions, station=station, end=end) for station in stations)
    places = [(spot, share) for share in fuels for spot in spots]
    solved = [together(trial.cars(), spot, share, speed) for spot, share in places]
    found, failed, asked = _drawn(base.assembly, other, base, places, speed, draws, progress)
    wedges = {share: wedged(with_fuel(base, share=share)) for share in fuels}
    rows = []
    for k, ((spot, share), (at, readings, limits)) in enumerate(zip(places, solved, strict=True)):
        slope = wedge_slope(fueled(base, share, spot), limits[0], wedges[share])
        readings = [*readings, None][:3]
        changes = [_change(readings, found[:, k], car, slope) for car in (1, 2)]
        full = base.values()[0].fuel_cell
        rows.append(
            Row(
                station=spot.station.name,
                fuel=share * full.capacity * full.density,
                fuel_share=share,
                speed=at,
                base=readings[0],
                bolted=readings[1],
                reset=readings[2],
                bolted_change=changes[0],
                reset_change=changes[1] if trial.reset else None,
            )
        )
    return Comparison(
        rows=tuple(rows),
        reset_applies=trial.reset is not None,
        base_scales=_scales(base),
        bolted_scales=_scales(trial.bolted),
        reset_scales=_scales(trial.reset) if trial.reset else None,
        notes=trial.bolted.notes,
        draws=asked,
        failed=failed,
        hanging=_hanging(found, places),
    )


def tried(base: Packed, other: Assembly, draw: Draw | None = None) -> Trial:
    """The other setup put into the base car, as bolted in and (where it applies) re-set."""
    values = draw.values(other) if draw else None
    bolted = rebuilt_as_bolted(base, other, values=values)
    reset = rebuilt_reset(base, other, values=values) if reset_applies(base.assembly, other) else None
    return Trial(base, bolted, reset)


def reset_applies(base: Assembly, other: Assembly) -> bool:
    """Whether anything changed besides what itself sets height, cross or preload."""
    was, now = (_held(assembly) for assembly in (base, other))
    changed = [path for path in was.keys() | now.keys() if was.get(path) != now.get(path)]
    return not changed or any(not path.endswith(SETS_ITSELF) for path in changed)


def wedge_slope(car: Packed, limit: TireLimit | None, wedge: Wedge | None) -> float:
    """Change of balance at a limit per static cross share; NaN where cross does nothing there."""
    left = balance(car, limit.state, wedge) if limit else None
    return math.nan if left is None or left.per_cross is None else 0.5 * sum(left.per_cross)


def verdict_of(balance: Band, *, with_band: bool) -> str:
    """Tighter or looser from a change of balance; never a word inside the band."""
    if not math.isfinite(balance.value):
        return NO_ANSWER
    decided = balance.sure_of_sign if with_band else abs(balance.value) > SAME_BALANCE
    if not decided:
        return WITHIN_BAND
    return TIGHTER if balance.value < 0.0 else LOOSER


def _held(assembly: Assembly) -> dict[str, object]:
    return {path: entry.value.si for path, entry in document_entries(assembly) if path.startswith("setup.")}


def _scales(car: Packed) -> OnTheScales:
    corners = car.weighed.corners()
    return OnTheScales(corners["load"].copy(), corners["height"].copy())


def _drawn(
    first: Assembly,
    other: Assembly,
    base: Packed,
    places: Sequence[tuple[Spot, float]],
    speed: Asked,
    draws: int,
    progress: Progress | None,
) -> tuple[Array, int, int]:
    """Numbers over draws (draw, place, car, number), failed draws, draws asked for."""
    if not draws:
        return np.empty((0, len(places), 3, len(NUMBERS))), 0, 0
    spot = places[0][0]
    stations = tuple(dict.fromkeys(spot.station for spot, _ in places))
    unknowns = Unknowns((first, other), spot.track, spot.conditions, stations)

    def answer(draw: Draw) -> Array:
        cars = tried(as_drawn(base, draw), other, draw).cars()
        rows = [together(cars, draw.spot(spot), share, speed, draw.tires)[1] for spot, share in places]
        return np.array([[r.numbers() if r else NO_NUMBERS for r in [*row, None][:3]] for row in rows])

    asked = unknowns.draws(draws)
    found, failed = over_draws(answer, asked, progress)
    return found.reshape(-1, len(places), 3, len(NUMBERS)), failed, len(asked)


def as_drawn(base: Packed, draw: Draw) -> Packed:
    """A car with the numbers of a draw, re-settled to its measured sheet, at the same moment."""
    moment = base.moment
    built = build(
        base.assembly,
        driver=moment.driver,
        hot=moment.hot,
        state=moment.state,
        values=draw.values(base.assembly),
    )
    return built if moment.fuel is None else with_fuel(built, moment.fuel)


def _change(readings: Sequence[Reading | None], found: Array, car: int, slope: float) -> Change | None:
    """The change from the base to a car at one place, with bands where there are draws."""
    first, second = readings[0], readings[car]
    if first is None or second is None:
        return None
    difference = second.numbers() - first.numbers()
    spread = found[:, car] - found[:, 0]
    numbers = {name: band_of_solved(difference[i], spread[:, i]) for i, name in enumerate(NUMBERS)}
    balance = numbers["balance"]
    ends = sorted((balance.low / slope, balance.high / slope))
    wedge = Band(balance.value / slope, *ends)
    unsolved = float(np.isnan(spread[:, 0]).mean()) if len(found) else 0.0
    return Change(numbers, wedge, verdict_of(balance, with_band=len(found) > 0), unsolved)


def _hanging(found: Array, places: Sequence[tuple[Spot, float]]) -> dict[tuple[str, str, float], Array]:
    """Share of the draws in which each coil LF RF LR RR is off its seat."""
    if not len(found):
        return {}
    return {
        (name, spot.station.name, share): (found[:, k, car, FIRST_GAP : FIRST_GAP + 4] > 0.0).mean(axis=0)
        for k, (spot, share) in enumerate(places)
        for car, name in enumerate(("base", "bolted", "reset"))
    }
