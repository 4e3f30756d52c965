"""One car at one fuel and one place of a turn in a row of numbers: what two setups are compared by.

Quick enough for hundreds of draws: loads, coils, stops and slips at one speed, the limit of the tires and the
balance there. `turn` tells a single car's story in full.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from ovalwright.documents import MIDDLE, Conditions, Station, Track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, motion, with_fuel
from ovalwright.solve.limit import FOUND, fastest_guess
from ovalwright.vehicle.record import Record

from .balance import moment_left
from .speed import trims_up
from .state import Solved, loads_of, solve
from .stations import at_speed, lateral
from .turn import UNDER_THE_LIMIT, chosen_speed

Array = npt.NDArray[np.float64]
Asked = float | Mapping[str, float] | None
"""Speed [m/s] for all stations, by name of station, or None for 2 % under the lower limit."""


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A place of a turn on a day: one end of a track (0 or 1), one station of it."""

    track: Track
    conditions: Conditions
    station: Station = MIDDLE
    end: int = 0

    def at(self, speed: float) -> Record:
        """Its motion record at a speed [m/s]."""
        return motion(self.track, self.conditions, speed=speed, end=self.end, station=self.station)


@dataclass(frozen=True)
class TireLimit:
    """The fastest steady state the tires allow: `speed` [m/s], the state there, and `balance`, the yaw moment
    left as a share of static weight x wheelbase (negative: tight; NaN where none was found).
    """

    speed: float
    state: Solved
    balance: float


@dataclass(frozen=True)
class Reading:
    """What is read at a speed: four loads [N], cross share and bite [N] in the turn, gap of each coil (NaN:
    none; negative: squeezed) [m], force of each stop [N], slip used over slip at peak; and the limit of the
    tires [m/s] with the balance there.
    """

    loads: Array
    cross: float
    bite: float
    gaps: Array
    stops: Array
    used: Array
    limit: float
    balance: float

    def numbers(self) -> Array:
        """All of it in one row, in the order of NUMBERS."""
        return np.concatenate([np.atleast_1d(getattr(self, field.name)) for field in fields(self)])


NUMBERS = (
    *("LF load", "RF load", "LR load", "RR load", "cross", "bite"),
    *("LF gap", "RF gap", "LR gap", "RR gap", "LF stop", "RF stop", "LR stop", "RR stop"),
    *("LF used", "RF used", "LR used", "RR used", "limit", "balance"),
)
"""Names of the numbers of a reading."""
NO_NUMBERS = np.full(len(NUMBERS), np.nan)
"""Stands for a reading where there is no steady state."""
FIRST_GAP = NUMBERS.index("LF gap")


def fueled(car: Packed, share: float, spot: Spot) -> Packed:
    """The car with a share of its fuel, shifted outward as in that turn near its limit."""
    moving = spot.at(1.0)
    fast = at_speed(moving, UNDER_THE_LIMIT * fastest_guess(car.record, moving))
    return with_fuel(car, share=share, lateral_g=lateral(fast) / GRAVITY)


def tire_limit(car: Packed, spot: Spot) -> TireLimit | None:
    """The limit of a car's tires at a spot; None where the trims lead to no fold (none at all, or none in
    reach).
    """
    status, trims = trims_up(car, spot.at(1.0))
    if status != FOUND:
        return None
    last = trims[-1]
    return TireLimit(float(last.motion["speed"]), last, balance_near(car, last))


def balance_near(car: Packed, at: Solved) -> float:
    """Balance of a car at the speed and place of a trim near its limit: the yaw moment left as a share of
    static weight x wheelbase, negative when tight. NaN where none is found.
    """
    moment = moment_left(car, at)
    return math.nan if moment is None else moment / float(car.record["weight"] * car.record["wheelbase"])


def read_at(car: Packed, spot: Spot, speed: float, limit: TireLimit | None) -> Reading | None:
    """The reading of a car at a speed [m/s], None where no steady state exists."""
    solved = solve(car, spot.at(speed))
    if not solved.found:
        return None
    corners, loads = solved.corners, loads_of(solved.corners)
    return Reading(
        loads=np.array(loads.corners),
        cross=loads.cross,
        bite=loads.bite,
        gaps=np.where(car.record["coil_rate"] > 0.0, corners["coil_gap"], np.nan),
        stops=corners["stop_force"].copy(),
        used=corners["used"].copy(),
        limit=limit.speed if limit else math.nan,
        balance=limit.balance if limit else math.nan,
    )


def together(
    cars: Sequence[Packed],
    spot: Spot,
    share: float,
    speed: Asked = None,
    tires: Callable[[Packed], Packed] = lambda car: car,
) -> tuple[float, list[Reading | None], list[TireLimit | None]]:
    """Cars with a share of their fuel at one spot and one speed: that speed [m/s], readings and limits.

    `tires` puts each car on other tires, as a draw does.
    """
    running = [tires(fueled(car, share, spot)) for car in cars]
    limits = [tire_limit(car, spot) for car in running]
    at = chosen_speed(spot.station, speed)
    if at is None:
        at = UNDER_THE_LIMIT * min((limit.speed for limit in limits if limit), default=math.nan)
    readings = [read_at(car, spot, at, limit) for car, limit in zip(running, limits, strict=True)]
    return at, readings, limits
