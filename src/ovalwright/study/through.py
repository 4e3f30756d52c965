"""The car through one turn of a track, place by place: at every place of the driven line a solved state, or
why there is none.

The speeds are those of a lap (`paced`), held the same when other setups, fuels or conditions are looked at on
the same road: so that what changes is the car.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ovalwright.documents import STATIONS, Conditions, Track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, density, slosh_of, surface_grip, watched_points, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Line
from ovalwright.road.ribbon import Section
from ovalwright.solve.lap_states import read_lap
from ovalwright.units import show
from ovalwright.vehicle.answer import clearances
from ovalwright.vehicle.record import CORNER, CORNERS, MOTION, SIZE, Record

from .balance import wedged
from .lap import DRIVER, Driver, Lap, lap, roads_of
from .speed import limit
from .state import Solved, solve
from .stations import lateral
from .turn import AtStation, ReadState, at_station, read_state

Array = npt.NDArray[np.float64]
TIGHTEST = 0.9
"""Share of the tightest curvature from which on a place belongs to the middle of the turn."""
PLACES = 41
PHASES = ("entry", "middle", "exit")
ROAD_FIELDS = (
    "curvature", "curvature_rate", "bank", "bank_rate", "bank_bend", "grade", "crest", "acceleration",
)  # fmt: skip


# ---------------- the road and how fast it is driven


@dataclass(frozen=True, eq=False)
class Pace:
    """The road of one turn and how fast it is driven.

    `distance` (M,) [m] from where the turn begins along the driven line; `roads` (M,) MOTION records at their
    speeds and accelerations; `middle` where the middle begins and ends [m]; `name` of the turn on its track,
    `end` its number.
    """

    name: str
    end: int
    distance: Array
    roads: npt.NDArray[np.void]
    middle: tuple[float, float]

    @property
    def length(self) -> float:
        """From the start of entry to the end of exit [m]."""
        return float(self.distance[-1])

    @property
    def phases(self) -> tuple[tuple[str, float, float], ...]:
        """Entry, middle and exit, each with where it begins and ends [m]."""
        edges = (0.0, *self.middle, self.length)
        return tuple((name, edges[i], edges[i + 1]) for i, name in enumerate(PHASES))

    @property
    def steepest(self) -> float:
        """Greatest bank of the turn [rad], without sign."""
        return float(np.abs(self.roads["bank"]).max())

    def phase(self, distance: float) -> str:
        """Which phase a place belongs to."""
        return PHASES[int(distance >= self.middle[0]) + int(distance > self.middle[1])]

    def places(self, count: int) -> Array:
        """So many places from the start of entry to the end of exit [m], closer together in short phases."""
        lengths = np.array([end - begin for _, begin, end in self.phases])
        shares = np.concatenate(([0.0], np.cumsum(np.sqrt(lengths))))
        edges = np.concatenate(([0.0], np.cumsum(lengths)))
        known = np.concatenate(([True], lengths > 0.0))
        return np.interp(np.linspace(0.0, shares[-1], count), shares[known], edges[known])

    def at(self, distances: Sequence[float] | Array) -> npt.NDArray[np.void]:
        """The road at places [m] as MOTION records (N,): between two stations of the line everything goes in
        proportion, and so does the square of the speed.
        """
        where = np.clip(np.asarray(distances, dtype=np.float64), 0.0, self.length)
        found = np.zeros(len(where), MOTION)
        found[:] = self.roads[0]
        for name in ROAD_FIELDS:
            found[name] = np.interp(where, self.distance, self.roads[name])
        found["speed"] = np.sqrt(np.interp(where, self.distance, self.roads["speed"] ** 2))
        return found

    def on(self, conditions: Conditions) -> Pace:
        """The same road at the same speeds on another day."""
        roads = self.roads.copy()
        roads["air_density"], roads["grip"] = density(conditions), surface_grip(conditions)
        return Pace(self.name, self.end, self.distance, roads, self.middle)


def paced(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    end: int = 0,
    groove: str = "middle",
    driver: Driver = DRIVER,
    like: Lap | None = None,
) -> Pace:
    """The road of a turn at the speeds of the car's own lap.

    A driver who uses 95 % of the grip turns at 98 % of the limit speed. Raises NoLap when the car does not
    get round, DocumentError when the track cannot be laid.
    """
    line = groove_line(track, ribbon_of(track), groove)
    driven = lap(packed, line, conditions, driver, like=like)
    return _pace(line, conditions, end, driven.speed, driven.along)


def at_one_speed(track: Track, conditions: Conditions, speed: float, *, end: int = 0,
                 groove: str = "middle") -> Pace:  # fmt: skip
    """The road of a turn at one speed [m/s] all along, as behind a slower car."""
    line = groove_line(track, ribbon_of(track), groove)
    count = len(line.distance)
    return _pace(line, conditions, end, np.full(count, speed), np.zeros(count))


def _pace(line: Line, conditions: Conditions, end: int, speed: Array, along: Array) -> Pace:
    turns = [section for section in line.ribbon.sections if section.turning] or list(line.ribbon.sections)
    turn = turns[min(end, len(turns) - 1)]
    begin, length = _stretch(line, turn)
    inside = np.flatnonzero((line.distance - begin) % line.length < length)
    inside = inside[np.argsort((line.distance[inside] - begin) % line.length)]
    distance = np.concatenate(([0.0], (line.distance[inside] - begin) % line.length, [length]))
    roads = roads_of(line, conditions)
    roads["speed"], roads["acceleration"] = speed, along
    here = _between(line, roads, (begin + distance) % line.length)
    here["gravity"], here["air_density"], here["grip"] = (
        GRAVITY, roads["air_density"][0], roads["grip"][0])  # fmt: skip
    keep = np.concatenate(([True], np.diff(distance) > 1e-6))
    distance, here = distance[keep], here[keep]
    bend = np.abs(here["curvature"])
    tight = distance[bend >= TIGHTEST * bend.max()]
    return Pace(turn.name, end, distance, here, (float(tight[0]), float(tight[-1])))


def _stretch(line: Line, turn: Section) -> tuple[float, float]:
    """Where on the driven line a section begins, and how long it is there [m]."""
    spine, driven = np.append(line.spine, line.ribbon.length), np.append(line.distance, line.length)
    begin, end = (float(np.interp(at % line.ribbon.length, spine, driven)) for at in (turn.start, turn.end))
    return begin, (end - begin) % line.length or line.length


def _between(line: Line, roads: npt.NDArray[np.void], where: Array) -> npt.NDArray[np.void]:
    """Stations of a line at any distances of its lap."""
    knots = np.append(line.distance, line.length)
    found = np.zeros(len(where), MOTION)
    for name in ROAD_FIELDS:
        found[name] = np.interp(where, knots, np.append(roads[name], roads[name][0]))
    square = np.append(roads["speed"], roads["speed"][0]) ** 2
    found["speed"] = np.sqrt(np.interp(where, knots, square))
    return found


# ---------------- the car along it


@dataclass(frozen=True, eq=False)
class Passage:
    """The car at N places along a turn, or at one place with other fuels. NaN where no state was found.

    `distance` (N,) [m]; `solved` (N,) whether there is a steady state; `motions` (N,), `states` (N, 14),
    `corners` (N, 4) of CORNER, `clearance` (N, 8) of the frame points [m].
    """

    packed: Packed
    pace: Pace
    distance: Array
    solved: npt.NDArray[np.bool_]
    motions: npt.NDArray[np.void]
    states: Array
    corners: npt.NDArray[np.void]
    clearance: Array

    @cached_property
    def loads(self) -> Array:
        """Four wheel loads (N, 4) [N]."""
        return np.asarray(self.corners["load"])

    @cached_property
    def wedge(self) -> Array:
        """RF and LR over all four loads (N,)."""
        return np.asarray((self.loads[:, 1] + self.loads[:, 2]) / self.loads.sum(axis=1))

    @cached_property
    def lateral(self) -> Array:
        """Lateral acceleration in the plane of the road (N,) [m/s^2], + left."""
        at = self.motions
        push = at["speed"] ** 2 * at["curvature"] * np.cos(at["bank"])
        return np.asarray(push - at["gravity"] * np.sin(at["bank"]))

    @cached_property
    def lanes(self) -> tuple[Lane, ...]:
        """What touches where along the turn."""
        return lanes_of(self.packed, self.distance, self.solved, self.corners, self.clearance)


def through(
    packed: Packed,
    track: Track,
    conditions: Conditions,
    *,
    speeds: Pace | None = None,
    places: int = PLACES,
    end: int = 0,
) -> Passage:
    """The car with its fuel through one turn (0 or 1) of a track, at so many places (`Pace.places`).

    `speeds` is the road with the speeds to be held (`paced` of the base setup); the car's own lap when left
    out. Never raises for a place without a steady state: `solved` is false there. Raises NoLap and
    DocumentError as `paced` does.
    """
    pace = paced(packed, track, conditions, end=end) if speeds is None else speeds.on(conditions)
    return along(packed, pace, pace.places(places))


def along(
    packed: Packed, pace: Pace, distances: Sequence[float] | Array, near: Passage | None = None
) -> Passage:
    """The car at places [m] of a turn, each solved: from the state before it, else from the standing car.

    Fuel shifts outward with the lateral acceleration of each place. `near` is a passage of a car like it: the
    first place starts from its nearest state, which changes how soon, not what, is found.
    """
    where = np.asarray(distances, dtype=np.float64)
    count, roads = len(where), pace.at(where)
    energy, forward = 0.5 * roads["speed"] ** 2, roads["acceleration"].copy()
    record, work = packed.record.copy(), np.zeros((40, SIZE))
    motions, corners = np.zeros(count, MOTION), np.zeros((count, 4), CORNER)
    chain, solved = np.zeros((count + 1, SIZE)), np.ones(count, np.bool_)
    chain[0] = _start(packed, roads[0], where[0], near)
    before, states = chain[:-1], chain[1:]
    begin, slosh = 0, _slosh(packed)
    while begin < count:
        cut = slice(begin, count)
        bad = read_lap(roads[cut], energy[cut], forward[cut], packed.settled, record, slosh, before[cut],
                       motions[cut], states[cut], corners[cut], work)  # fmt: skip
        if bad < 0:
            break
        solved[begin + bad] = False
        begin += bad + 1
        chain[begin] = packed.settled
    gaps = np.empty((count, len(record["ground_rate"])))
    for i in np.flatnonzero(solved):
        clearances(states[i], record, motions[i], gaps[i])
    states = np.where(solved[:, None], states, np.nan)
    for field in CORNER.names or ():
        corners[field][~solved] = np.nan
    gaps[~solved] = np.nan
    motions["speed"], motions["acceleration"] = roads["speed"], roads["acceleration"]
    return Passage(packed, pace, where, solved, motions, states, corners, gaps)


def _start(packed: Packed, road: Record, distance: float, near: Passage | None) -> Array:
    """A state from which the first place is found soon."""
    if near is not None and near.solved.any():
        away = np.where(near.solved, np.abs(near.distance - distance), np.inf)
        return np.asarray(near.states[int(np.argmin(away))])
    first = solve(packed, road.copy())
    return first.unknowns if first.found else packed.settled


def _slosh(packed: Packed) -> Array:
    """How far the fuel moves outward per lateral acceleration [m per m/s^2], and where it is without [m]."""
    car, record = packed.values()[0], packed.record
    return np.array([slosh_of(car, float(record["fuel_mass"])), car.fuel_cell.left])


# ---------------- one place in full


@dataclass(frozen=True, eq=False)
class Place:
    """One place of a turn: `distance` [m], its phase, `motion`; `lateral` acceleration in the plane of the
    road [g]; `carried` everything read of its state, None where there is none, and `reason` says why.
    """

    packed: Packed
    distance: float
    phase: str
    motion: Record
    lateral: float
    carried: ReadState | None

    @property
    def solved(self) -> Solved | None:
        """The state itself, to draw the car from."""
        return None if self.carried is None else self.carried.contract

    @cached_property
    def reason(self) -> str | None:
        """Why there is no state here, one sentence; None where there is one."""
        if self.carried is not None:
            return None
        speed = show(float(self.motion["speed"]), "speed")
        most = limit(self.packed, self.motion)
        if most.speed is None or most.speed >= float(self.motion["speed"]):
            return f"At {speed} the solver found no steady state here."
        ends = show(most.speed, "speed")
        return f"At {speed} there is no steady state here: the limit is {ends}, set by {most.sets}."


def place_of(passage: Passage, i: int) -> Place:
    """Everything about one of the places of a passage."""
    motion, packed = passage.motions[i], passage.packed
    record = packed.record.copy()
    shift, side = _slosh(packed)
    record["fuel_cg"][1] = side - shift * lateral(motion)
    carried = None
    if passage.solved[i]:
        state = Solved(record, motion.copy(), passage.states[i].copy(), "solved", 0.0, 0, 0)
        carried = read_state(packed, state)
    where = float(passage.distance[i])
    return Place(
        packed=packed,
        distance=where,
        phase=passage.pace.phase(where),
        motion=motion.copy(),
        lateral=lateral(motion) / GRAVITY,
        carried=carried,
    )


def place_at(packed: Packed, pace: Pace, distance: float, near: Passage | None = None) -> Place:
    """The car at any place [m] of a turn, solved there; `near` as for `along`."""
    return place_of(along(packed, pace, [distance], near), 0)


def balances(packed: Packed, track: Track, conditions: Conditions, *, end: int = 0) -> dict[str, AtStation]:
    """Limit and balance at entry, middle and exit, each with its worth in wedge; as `turn` has them."""
    wedge = wedged(packed)
    return {
        station.name: at_station(packed, track, conditions, station, end=end, wedge=wedge)
        for station in STATIONS
    }


# ---------------- what touches where


@dataclass(frozen=True)
class Lane:
    """Where one part touches along a turn [m] or over fuel [kg]: `part` "coil", "stop", "bind", "wheel" or
    "frame", `where` the corner or frame point; `filled` stretches from, to.
    """

    part: str
    where: str
    filled: tuple[tuple[float, float], ...]

    def touches(self, at: float) -> bool:
        """Whether it touches at a place."""
        return any(low <= at <= high for low, high in self.filled)


def lanes_of(
    packed: Packed, at: Array, solved: npt.NDArray[np.bool_], corners: npt.NDArray[np.void], gaps: Array
) -> tuple[Lane, ...]:
    """Contacts over a row of states: between two of them a gap goes in proportion."""
    record, found = packed.record, []
    for i, corner in enumerate(CORNERS):
        if record["coil_rate"][i] > 0.0:
            coil = corners["coil_gap"][:, i]
            found.append(("coil", corner, coil))
            found.append(("bind", corner, coil + float(record["coil_bind"][i])))
        if record["stop_rate"][i] > 0.0:
            found.append(("stop", corner, corners["stop_gap"][:, i]))
        found.append(("wheel", corner, -corners["squash"][:, i]))
    for i, point in enumerate(watched_points(packed.values()[0])):
        found.append(("frame", point.name, gaps[:, i]))
    places, known = at.tolist(), solved.tolist()
    return tuple(Lane(part, where, _filled(places, gap.tolist(), known)) for part, where, gap in found)


def _filled(
    at: Sequence[float], gap: Sequence[float], solved: Sequence[bool]
) -> tuple[tuple[float, float], ...]:
    """Stretches where a gap is closed, broken where there is no state."""
    stretches: list[list[float]] = []
    open_end = False
    for i in range(len(at)):
        shut = solved[i] and gap[i] <= 0.0
        known = i > 0 and solved[i] and solved[i - 1]
        if known and (gap[i] <= 0.0) != (gap[i - 1] <= 0.0):
            share = gap[i - 1] / (gap[i - 1] - gap[i])
            crossing = at[i - 1] + share * (at[i] - at[i - 1])
            if shut:
                stretches.append([crossing, crossing])
            else:
                stretches[-1][1] = crossing
        elif shut and not (open_end and known):
            stretches.append([at[i], at[i]])
        if shut:
            stretches[-1][1] = at[i]
        open_end = shut
    return tuple((low, high) for low, high in stretches)


def through_fuel(cars: Sequence[Packed], pace: Pace, distance: float) -> tuple[Lane, ...]:
    """What touches at one place [m] over the fuel [kg]: `cars` are the same car with some loads of it
    (`with_fuel`); where something touches or leaves between two of them, loads between are solved as well.
    """
    states: list[Passage] = []
    for car in cars:
        states.append(along(car, pace, [distance], states[-1] if states else None))
    lanes = _over_fuel(states)
    for _ in range(CLOSER):
        loads = [float(state.packed.record["fuel_mass"]) for state in states]
        edges = {edge for lane in lanes for stretch in lane.filled for edge in stretch}
        between = [kg for kg in sorted(edges) if min(abs(kg - load) for load in loads) > NEAR_LOAD]
        if not between:
            break
        states += [along(with_fuel(cars[0], kg), pace, [distance], states[0]) for kg in between]
        lanes = _over_fuel(states)
    return lanes


CLOSER = 3
"""How often the load at which something touches is sought anew."""
NEAR_LOAD = 0.05
"""Loads of fuel nearer to each other [kg] are not told apart."""


def _over_fuel(states: Sequence[Passage]) -> tuple[Lane, ...]:
    ordered = sorted(states, key=lambda state: float(state.packed.record["fuel_mass"]))
    corners = np.empty((len(states), 4), CORNER)
    for row, state in zip(corners, ordered, strict=True):
        row[:] = state.corners[0]
    return lanes_of(
        states[0].packed,
        np.array([float(state.packed.record["fuel_mass"]) for state in ordered]),
        np.concatenate([state.solved for state in ordered]),
        corners,
        np.concatenate([state.clearance for state in ordered]),
    )
