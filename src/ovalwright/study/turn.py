"""What the car does in a turn: at entry, middle and exit, with the tank full and nearly empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ovalwright.documents import STATIONS, Conditions, Station, Track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, at_moment, with_fuel
from ovalwright.pack import motion as motion_at
from ovalwright.solve.limit import fastest_guess
from ovalwright.solve.settle import standing
from ovalwright.vehicle.record import CORNERS, Record

from .balance import Balance, Wedge, balance, wedged
from .contacts import Sweep, over_lateral, through_turn
from .pulldown import PullDown, pull_down
from .speed import Limit, limit
from .stagger import StaggerWork, stagger_work
from .state import (
    Body,
    Clearance,
    Coil,
    Corner,
    Demand,
    Loads,
    Solved,
    body_of,
    clearances_of,
    coil_of,
    demand_of,
    engine_of,
    loads_of,
    read,
    solve,
)
from .stations import at_speed, lateral

STANDING = standing()
FULL, NEARLY_EMPTY = 1.0, 0.05
"""Shares of the fuel cell at which a turn is looked at."""
UNDER_THE_LIMIT = 0.98
"""Share of its limit speed at which a place is looked at when no speed is given."""
GRIP_NOTE = (
    "The grip of the tires or of the track was not measured: limit speeds and balance at the limit hang "
    "on it; loads at one given speed hardly do."
)
NO_TRANSIENT = "no shocks, no transient"
"""What must be said beside every balance at entry and exit."""


@dataclass(frozen=True)
class ReadState:
    """A solved state, read: see the parts for units. `contract` is the state itself."""

    loads: Loads
    corners: tuple[Corner, ...]
    body: Body
    demand: Demand
    clearances: tuple[Clearance, ...]
    contract: Solved

    @property
    def lifted(self) -> tuple[str, ...]:
        """Wheels off the ground."""
        return tuple(corner.name for corner in self.corners if corner.lifted)

    @property
    def extrapolated(self) -> tuple[str, ...]:
        """Tires heavier than any data."""
        return tuple(corner.name for corner in self.corners if corner.extrapolated)

    @property
    def drags(self) -> tuple[Clearance, ...]:
        """Frame points on the road."""
        return tuple(point for point in self.clearances if point.gap < 0.0)


@dataclass(frozen=True)
class Carried(ReadState):
    """The same with what the stagger does in it; None with a rear wheel off the ground."""

    stagger: StaggerWork | None


@dataclass(frozen=True)
class Limited:
    """The limit at a place and the balance at it, None where there is none; `packed` is the car with its fuel
    pushed outward there.
    """

    packed: Packed
    limit: Limit
    balance: Balance | None


@dataclass(frozen=True)
class AtStation:
    """One place: `speed` [m/s] (None where none could be chosen), `lateral` acceleration in the plane of
    the road [m/s^2], the limit and the balance at it; `carried` None where the car has no trim, and
    `reason` then says why. `packed` is the car with
    its fuel pushed outward there; `notes` go beside the balance.
    """

    name: str
    packed: Packed
    motion: Record
    speed: float | None
    lateral: float | None
    limit: Limit
    balance: Balance | None
    carried: Carried | None
    reason: str | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Tank:
    """The car with one load of fuel [kg]: standing (loads, coils, height) and at each place."""

    fuel: float
    packed: Packed
    standing: Loads
    coils: tuple[Coil, ...]
    heights: tuple[float, ...]
    places: tuple[AtStation, ...]


@dataclass(frozen=True)
class Turn:
    """The answers of a turn; `scales` are the loads on the scale sheet's own conditions."""

    scales: Loads
    tanks: tuple[Tank, ...]
    notes: tuple[str, ...]


def turn(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    fuels: Sequence[float] | None = None,
    stations: Sequence[Station] = STATIONS,
    speed: float | Mapping[str, float] | None = None,
    end: int = 0,
    balances: bool = True,
) -> Turn:
    """What four tires, coils, stops, body and frame do at each station of one end of a track, per fuel.

    `fuels` [kg] (default: full and nearly empty); `speed` [m/s] for all stations or by station name. A
    station without a speed is looked at 2 % under its own limit.
    """
    loads = [with_fuel(packed, share=s) for s in (FULL, NEARLY_EMPTY)] if fuels is None else [
        with_fuel(packed, kg) for kg in fuels
    ]  # fmt: skip
    tanks = []
    for filled in loads:
        wedge = wedged(filled) if balances else None
        places = tuple(
            at_station(filled, track, conditions, station, speed=chosen_speed(station, speed), end=end,
                       wedge=wedge, balances=balances)
            for station in stations
        )  # fmt: skip
        stood = filled.standing.corners()
        tanks.append(
            Tank(
                fuel=float(filled.record["fuel_mass"]),
                packed=filled,
                standing=loads_of(stood),
                coils=tuple(coil_of(filled.record, i, at) for i, at in enumerate(stood)),
                heights=tuple(float(height) for height in stood["height"]),
                places=places,
            )
        )
    return Turn(loads_of(packed.weighed.corners()), tuple(tanks), notes_for(packed, conditions))


def chosen_speed(station: Station, speed: float | Mapping[str, float] | None) -> float | None:
    """The speed [m/s] asked for at a station, else the station's own, else None."""
    if isinstance(speed, Mapping):
        speed = speed.get(station.name)
    if speed is not None:
        return float(speed)
    return None if station.speed is None else station.speed.si


def notes_for(packed: Packed, conditions: Conditions) -> tuple[str, ...]:
    """What every answer about this car on this day must say."""
    setup = packed.values()[1]
    grips = [getattr(setup, corner).tire.part.grip for corner in CORNERS] + [conditions.grip]
    typical = any(grip.evidence == "typical" for grip in grips)
    return (*packed.notes, GRIP_NOTE) if typical else packed.notes


def slosh(packed: Packed, motion: Record) -> Packed:
    """The car with its fuel pushed outward by the lateral acceleration of a motion; a full cell holds it."""
    cell = packed.values()[0].fuel_cell
    if packed.record["fuel_mass"] >= cell.capacity * cell.density:
        return packed
    return at_moment(packed, replace(packed.moment, lateral_g=lateral(motion) / GRAVITY))


def at_station(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    station: Station,
    *,
    speed: float | None = None,
    end: int = 0,
    wedge: Wedge | None = None,
    balances: bool = True,
) -> AtStation:
    """One fuel at one station; `speed` [m/s], None for 2 % under the limit there."""
    motion = motion_at(track, conditions, speed=1.0, end=end, station=station)
    found = limited(packed, motion, speed=speed, wedge=wedge, balances=balances)
    running, most, left = found.packed, found.limit, found.balance
    if speed is None and most.speed:
        speed = UNDER_THE_LIMIT * most.speed
    passing = station.along.si != 0.0 or station.curvature_change.si != 0.0
    notes = (NO_TRANSIENT,) if passing else ()
    if speed is None:
        return AtStation(station.name, running, motion, None, None, most, left, None, most.sets, notes)
    at = at_speed(motion, speed)
    solved = solve(running, at)
    carried = carry(running, solved) if solved.found else None
    reason = None if solved.found else why_not(most, speed)
    return AtStation(station.name, running, at, speed, lateral(at), most, left, carried, reason, notes)


def limited(
    packed: Packed,
    motion: Record,
    *,
    speed: float | None = None,
    wedge: Wedge | None = None,
    balances: bool = True,
) -> Limited:
    """Limit and balance at a place, the fuel pushed outward as at a `speed` [m/s], else near the limit."""
    fast = at_speed(motion, speed or UNDER_THE_LIMIT * fastest_guess(packed.record, motion))
    running = slosh(packed, fast)
    most = limit(running, motion)
    left = balance(running, most.last, wedge) if balances and most.last and most.fold else None
    return Limited(running, most, left)


def why_not(most: Limit, speed: float) -> str:
    """Why there is no trim at a speed [m/s]: what sets the limit below it."""
    if most.fold is not None and speed > most.fold:
        return most.sets
    return "the solver found no steady state"


def carry(packed: Packed, solved: Solved) -> Carried:
    """Read a solved state, and solve what the stagger does in it."""
    return Carried(**vars(read_state(packed, solved)), stagger=stagger_work(solved))


def read_state(packed: Packed, solved: Solved) -> ReadState:
    """Read a solved state; travel is from the heights on the scales."""
    weighed = packed.weighed
    ride = replace(solved, record=weighed.record, unknowns=weighed.settled, motion=STANDING)
    return ReadState(
        loads=loads_of(solved.corners),
        corners=read(solved, ride),
        body=body_of(solved),
        demand=demand_of(engine_of(packed), solved),
        clearances=clearances_of(packed, solved),
        contract=solved,
    )


def moving_through(tank: Tank) -> Sweep | None:
    """Where along the turn coils pick up and stops engage; None unless every place has a trim."""
    if len(tank.places) < 2 or not all(place.carried for place in tank.places):
        return None
    return through_turn(tank.places[len(tank.places) // 2].packed, [place.motion for place in tank.places])


def rising(tank: Tank, name: str = "middle") -> Sweep | None:
    """At which lateral acceleration coils pick up and stops engage at one place, up to its limit."""
    place = next((p for p in tank.places if p.name == name), None)
    if place is None or not place.limit.lateral:
        return None
    return over_lateral(place.packed, place.motion, 0.999 * abs(place.limit.lateral))


def pulled_down(tank: Tank, name: str = "middle") -> PullDown | None:
    """Pull-down numbers of one place; None where the car has no trim there."""
    place = next((p for p in tank.places if p.name == name), None)
    return pull_down(place.packed, place.carried.contract) if place and place.carried else None
