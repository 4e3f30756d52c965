"""One lap of the car on one line of a track: how fast, where, and what rules at every station.

Quasi-steady: no shocks, no transient. The driver uses a share of what the car could do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Conditions
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, at_moment, density, slosh_of, surface_grip
from ovalwright.road import Line
from ovalwright.solve.edge import ROW, SLOWEST
from ovalwright.solve.lap import BRAKE_EDGE, BRAKES, CAP, POWER, REVS, fastest_lap
from ovalwright.solve.lap_states import read_lap, slip_growth_of
from ovalwright.units import show
from ovalwright.vehicle.law import DEMAND, SPIN_A
from ovalwright.vehicle.record import CORNER, CORNERS, MOTION, SIZE, Record

from .lap_events import Event, events_of
from .speed import ONE_END
from .state import Engine, clearances_of, coil_of, engine_of, solve
from .stations import at_speed

Array = npt.NDArray[Any]

FRONT, REAR, BOTH = "front tires", "rear tires", "front and rear tires together"
ON_BRAKES, ON_POWER, ON_REVS = "brakes", "power", "revs"
RULES = (FRONT, REAR, BOTH, ON_BRAKES, ON_POWER, ON_REVS)
"""What may rule a station. "brakes": a wheel about to lock, or all that the brakes hold."""
STEADY = "Every place of the lap is a steady state: no shocks, no transient, no bumps."
CLEAR_OF_REVS = 1.02
"""Speeds up to this share of that at the rev limit are looked at."""


@dataclass(frozen=True)
class Driver:
    """How much of what the car could do its driver uses.

    `use`: grip, he drives as if the tires had this share of it; `brake` and `throttle`: of the deceleration
    and of the acceleration that the tires would then allow; `grip`: what his tires really had against what
    the documents say, found from a lap time (`matching_lap`). The defaults are judged (common practice, no
    source).
    """

    use: float = 0.95
    brake: float = 0.85
    throttle: float = 0.95
    grip: float = 1.0

    def __post_init__(self) -> None:
        for name, most in (("use", MOST_USED), ("brake", 1.0), ("throttle", 1.0), ("grip", 3.0)):
            if not LEAST_USED <= getattr(self, name) <= most:
                raise ValueError(
                    f"{name} of the driver is {getattr(self, name):.4g}; {LEAST_USED} to {most:g} is possible"
                )


LEAST_USED, MOST_USED = 0.1, 0.995
"""No driver uses more of the grip: at the very edge no state is steady."""
DRIVER = Driver()
USE_BAND, BRAKE_BAND, THROTTLE_BAND = 0.03, 0.15, 0.05
"""Half of the 95 % bands of the default driver (common practice, no source)."""


class NoLap(ValueError):
    """The car does not get round; the message says where and what was found, for a racer."""


class SectionTime(NamedTuple):
    """One section of a lap: time [s], speeds [m/s] where it begins, at its slowest, its fastest and where it
    ends.
    """

    name: str
    time: float
    entry: float
    slowest: float
    fastest: float
    exit: float


@dataclass(frozen=True)
class Kept:
    """What the solver keeps of a lap so that one like it is found sooner."""

    caps: Array
    rows: Array
    mode: Array


@dataclass(frozen=True, eq=False)
class Lap:
    """A lap of N stations, SI. `time` [s]; `speed` [m/s]; `along` and `lateral` accelerations [m/s^2], the
    latter in the plane of the road, + left; `corners` (N, 4) of CORNER; `states` (N, 14) and `motions`
    (N,) hold all.
    """

    packed: Packed
    line: Line
    driver: Driver
    time: float
    speed: Array
    along: Array
    lateral: Array
    motions: Array
    states: Array
    corners: Array
    kept: Kept = field(repr=False)

    @cached_property
    def steps(self) -> Array:
        """Time from each station to the next [s]."""
        return steps_of(self.line.step, self.speed)

    @cached_property
    def elapsed(self) -> Array:
        """Time at each station since the start line [s]."""
        return np.concatenate(([0.0], np.cumsum(self.steps[:-1])))

    @property
    def engine(self) -> Engine:
        """The engine and final drive of the car."""
        return engine_of(self.packed)

    @cached_property
    def demand(self) -> Array:
        """Drive at the rear tires, negative slowing [N]."""
        return np.asarray(self.states[:, DEMAND])

    @cached_property
    def engine_speed(self) -> Array:
        """Engine speed [rad/s]."""
        return np.asarray(self.states[:, SPIN_A] * self.engine.gear)

    @cached_property
    def crank_power(self) -> Array:
        """Power of the crank [W]; nothing when slowing."""
        return np.asarray(np.maximum(self.demand, 0.0) * self._pull_speed / self.engine.efficiency)

    @property
    def _pull_speed(self) -> Array:
        """Speed at which the demand works: axle speed times the radius it is stated at [m/s]."""
        return np.asarray(self.states[:, SPIN_A] * self.packed.record["tire"]["free_radius"][3])

    @cached_property
    def throttle(self) -> Array:
        """Share of the full-throttle torque asked of the engine; 0 when slowing."""
        full = np.interp(self.engine_speed, self.engine.speeds, self.engine.torques)
        asked = self.crank_power / np.maximum(self.engine_speed, 1.0)
        return np.asarray(asked / full)

    @cached_property
    def rules(self) -> tuple[str, ...]:
        """What rules at each station, one of RULES."""
        return tuple(rule for rule, _ in self._ruling)

    @cached_property
    def ruling_tires(self) -> tuple[str, ...]:
        """The tire nearest to its peak at each station that tires or brakes rule; "" elsewhere."""
        return tuple(tire for _, tire in self._ruling)

    @cached_property
    def _ruling(self) -> list[tuple[str, str]]:
        car, growth = self.packed.record.copy(), np.zeros((4, 2))
        plain = {POWER: ON_POWER, REVS: ON_REVS, BRAKES: ON_BRAKES}
        found = []
        for i, mode in enumerate(self.kept.mode):
            if mode in plain:
                found.append((plain[mode], ""))
                continue
            row = self.kept.caps[i] if mode == CAP else self.kept.rows[i]
            slip_growth_of(row, car, self.motions[i], growth)
            rule, end = _end_that_gives_up(growth, int(mode))
            used = self.corners["used"][i]
            found.append((rule, CORNERS[end.start + int(np.argmax(used[end]))]))
        return found

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """Where along the lap coils pick up, stops engage, wheels lift and the frame meets the road."""
        return events_of(self)

    @cached_property
    def sections(self) -> tuple[SectionTime, ...]:
        """The sections in the order they are driven from the start line."""
        ribbon = self.line.ribbon
        spine = np.append(self.line.spine, ribbon.length)
        elapsed, speed = np.append(self.elapsed, self.time), np.append(self.speed, self.speed[0])
        names = np.array(self.line.section_of())
        found = []
        for section in ribbon.sections:
            begin, end = (
                float(np.interp(at % ribbon.length, spine, elapsed)) for at in (section.start, section.end)
            )
            ends = [float(np.interp(at % ribbon.length, spine, speed)) for at in (section.start, section.end)]
            inside = np.concatenate((self.speed[names == section.name], ends))
            taken = (end - begin) % self.time or self.time
            found.append(
                SectionTime(section.name, taken, ends[0], float(inside.min()), float(inside.max()), ends[1])
            )
        return tuple(found)


def steps_of(step: Array, speed: Array) -> Array:
    """Time from each station to the next [s]; acceleration is even over a step."""
    return np.asarray(2.0 * step / (speed + np.roll(speed, -1)))


def _end_that_gives_up(growth: Array, mode: int) -> tuple[str, slice]:
    """Which tires' slip runs away beyond the edge: front or rear, or wheels that lock under brakes."""
    front, rear = (np.abs(growth[end].mean(axis=0)) for end in (slice(0, 2), slice(2, 4)))
    ahead, behind = float(np.linalg.norm(front)), float(np.linalg.norm(rear))
    if ahead > ONE_END * behind:
        rule, end, share = FRONT, slice(0, 2), front
    elif behind > ONE_END * ahead:
        rule, end, share = REAR, slice(2, 4), rear
    else:
        rule, end, share = BOTH, slice(0, 4), front + rear
    if mode == BRAKE_EDGE and share[1] > share[0]:
        rule = ON_BRAKES
    return rule, end


# ---------------- the lap


def roads_of(line: Line, conditions: Conditions, grip: float = 1.0) -> Array:
    """The stations of a line as motion records, at rest; `grip` multiplies that of the surface."""
    roads = np.zeros(len(line.distance), MOTION)
    for name in ("curvature", "curvature_rate", "bank", "bank_rate", "bank_bend", "grade", "crest"):
        roads[name] = getattr(line, name)
    roads["gravity"], roads["air_density"] = GRAVITY, density(conditions)
    roads["grip"] = surface_grip(conditions) * grip
    return roads


def brake_force(packed: Packed, bite: float = 1.0) -> float:
    """The most force the brakes hold [N], pads biting by a share of their best."""
    brakes, share = packed.values()[0].brakes, float(packed.record["brake_front"])
    torques = [
        2.0 * torque / part
        for torque, part in ((brakes.front_torque, share), (brakes.rear_torque, 1.0 - share))
        if part > 0.0
    ]
    return float(bite * min(torques) / packed.record["tire"]["free_radius"][3])


def lap(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    driver: Driver = DRIVER,
    *,
    like: Lap | None = None,
    bite: float = 1.0,
) -> Lap:
    """The fastest lap of a car on a line that its driver drives.

    `like` is a lap of a car like it on the same line, to start from: it changes how soon, not what, is found.
    `bite` is the friction of the brake pads against their best. Raises NoLap when the car does not get round.
    """
    if packed.moment.lateral_g != 0.0:
        packed = at_moment(packed, replace(packed.moment, lateral_g=0.0))
    roads = roads_of(line, conditions, driver.grip)
    found = _solved(packed, line, roads, driver, like, bite, careful=False)
    if not isinstance(found, Lap):
        found = _solved(packed, line, roads, driver, None, bite, careful=True)
    if not isinstance(found, Lap):
        raise NoLap(_why_not(packed, line, roads, found))
    if found.speed.min() <= SLOWEST * (1.0 + 1e-9):
        raise NoLap(
            f"{packed.assembly.setup.file_name}: the engine hardly moves the car; look at its curve, at the "
            "final drive, and at the gear."
        )
    return found


def _solved(
    packed: Packed, line: Line, roads: Array, driver: Driver, like: Lap | None, bite: float, careful: bool
) -> Lap | int:
    """The lap, or the station without an answer."""
    count = len(roads)
    record, work, spare = packed.record.copy(), np.zeros((40, SIZE)), np.zeros(2, MOTION)
    engine = engine_of(packed)
    spins = np.array([engine.speeds / engine.gear, engine.torques * engine.gear * engine.efficiency])
    top = CLEAR_OF_REVS * engine.rev_limit / engine.gear * float(record["tire"]["free_radius"][3])
    limits = np.array([driver.use, driver.brake, driver.throttle, brake_force(packed, bite),
                       engine.rev_limit / engine.gear, top, float(careful)])  # fmt: skip
    known = like is not None and len(like.speed) == count
    caps = like.kept.caps.copy() if like and known else np.zeros((count, ROW))
    rows, mode = np.zeros((count, ROW)), np.zeros(count, np.int64)
    kept = like.kept if like and known else Kept(caps, np.zeros((count, ROW)), np.full(count, -1))
    cap, energy, along = np.zeros(count), np.zeros(count), np.zeros(count)
    bad = fastest_lap(roads, line.step, packed.settled, record, limits, spins, _slosh(packed), caps, cap,
                      energy, along, mode, rows, kept.rows, kept.mode, spare, work)  # fmt: skip
    if bad >= 0:
        return int(bad)
    return _read(packed, line, roads, driver, energy, along, Kept(caps, rows, mode))


def _slosh(packed: Packed) -> Array:
    """How far the fuel moves outward per lateral acceleration [m per m/s^2], and where it is without [m]."""
    record = packed.record
    return np.array([slosh_of(packed.values()[0], float(record["fuel_mass"])), record["fuel_cg"][1]])


def _read(
    packed: Packed, line: Line, roads: Array, driver: Driver, energy: Array, along: Array, kept: Kept
) -> Lap | int:
    """The car with all of its grip at every station, or the station without a trim."""
    count = len(roads)
    motions, states = np.zeros(count, MOTION), np.zeros((count, SIZE))
    corners = np.zeros((count, 4), CORNER)
    starts = np.where((kept.mode == CAP)[:, None], kept.caps, kept.rows)
    bad = read_lap(roads, energy, along, packed.settled, packed.record.copy(), _slosh(packed), starts,
                   motions, states, corners, np.zeros((40, SIZE)))  # fmt: skip
    if bad >= 0:
        return int(bad)
    speed = np.sqrt(2.0 * energy)
    lateral = speed**2 * roads["curvature"] * np.cos(roads["bank"]) - GRAVITY * np.sin(roads["bank"])
    time = float(steps_of(line.step, speed).sum())
    return Lap(packed, line, driver, time, speed, along, lateral, motions, states, corners, kept)


def slow_lap(packed: Packed, line: Line, conditions: Conditions, driver: Driver, speed: float) -> Lap:
    """A lap at one speed [m/s], as under yellow. Raises NoLap when the car has no steady state somewhere."""
    if packed.moment.lateral_g != 0.0:
        packed = at_moment(packed, replace(packed.moment, lateral_g=0.0))
    roads = roads_of(line, conditions, driver.grip)
    count = len(roads)
    kept = Kept(np.zeros((count, ROW)), np.zeros((count, ROW)), np.full(count, POWER))
    energy = np.full(count, 0.5 * speed * speed)
    found = _read(packed, line, roads, driver, energy, np.zeros(count), kept)
    if isinstance(found, Lap):
        return found
    raise NoLap(_why_not(packed, line, roads, found))


def _why_not(packed: Packed, line: Line, roads: Array, station: int) -> str:
    """One sentence on a station where the car has no steady state, with what touches in states close by."""
    distance = show(float(line.distance[station]), "road_length")
    where = f"{distance} from the start line ({line.section_of()[station]})"
    touching = _touching(packed, roads[station])
    look = (
        f"close to it {' and '.join(touching)}; give them room"
        if touching
        else "look at the turn's own answer there, at the grip, and at the gear"
    )
    return (
        f"{packed.assembly.setup.file_name}: the car does not get round: {where} no steady state was found; "
        f"{look}."
    )


def _touching(packed: Packed, road: Record) -> list[str]:
    """What drags, binds or is off the ground at the fastest of some steady states at a station."""
    engine = engine_of(packed)
    top = engine.rev_limit / engine.gear * float(packed.record["tire"]["free_radius"][3])
    for share, along in TRIED:
        motion = at_speed(road, share * top)
        motion["acceleration"] = along
        solved = solve(packed, motion)
        if solved.found:
            dragging = [
                f"the {point.name} drags" for point in clearances_of(packed, solved) if point.gap < 0.0
            ]
            coils = [(name, coil_of(packed.record, i, solved.corners[i])) for i, name in enumerate(CORNERS)]
            bound = [f"the {name} coil binds" for name, coil in coils if coil.state == "bound"]
            lifted = [
                f"the {name} wheel lifts"
                for name, corner in zip(CORNERS, solved.corners, strict=True)
                if corner["squash"] <= 0.0
            ]
            return [*dragging, *bound, *lifted]
    return []


TRIED = tuple((share, along) for share in (0.97, 0.9, 0.8, 0.65, 0.5) for along in (2.0, 0.0, -3.0))
"""Shares of the speed at the rev limit and accelerations [m/s^2] at which a station without an answer is
tried.
"""


# ---------------- his own lap time


def matching_lap(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    time: float,
    driver: Driver = DRIVER,
    progress: Callable[[float], None] | None = None,
) -> Lap:
    """The lap of a given time [s]: one factor on the grip of all tires, everything else as it is.

    Raises NoLap when no grip between a half and twice that of the documents makes it.
    """

    def driven(grip: float, like: Lap | None) -> Lap:
        for aside in ASIDE:
            try:
                return lap(packed, line, conditions, replace(driver, grip=grip * (1.0 + aside)), like=like)
            except NoLap as problem:
                why = problem
        raise why

    found = driven(driver.grip, None)
    low, high = 0.5, 2.0
    for count in range(MATCH_STEPS):
        if abs(found.time - time) < MATCHED:
            return found
        grip = found.driver.grip
        low, high = (grip, high) if found.time > time else (low, grip)
        grip *= (found.time / time) ** GRIP_POWER
        if not low < grip < high:
            grip = 0.5 * (low + high)
        if not 0.501 < grip < 1.999:
            break
        if progress:
            progress((count + 1) / MATCH_STEPS)
        found = driven(grip, found)
    raise NoLap(
        f"a lap of {time:.3f} s was not matched: with {grip:.2f} times the grip the car needs "
        f"{found.time:.3f} s; "
        "check the lap time, the length and radius of the track, the groove, and the gear."
    )


MATCH_STEPS = 25
ASIDE = (0.0, 0.03, -0.03)
"""How far beside a grip is driven with which the car does not get round, as a share of it."""
MATCHED = 0.0005
"""A lap is matched within this [s]."""
GRIP_POWER = 2.4
"""How much more grip, to a power, makes a lap quicker; T goes with grip to -1/2 without power or bank."""
