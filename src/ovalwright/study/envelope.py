"""The envelope of the real car: how hard it brakes, drives and turns, found by asking it on roads like the
track's.

Roads are drawn evenly (Halton, *Numerische Mathematik* 2 (1960), from memory) over the banks of a track, over
the crests and dips that a line across its banking meets, and over bends. On each one the edge of the car's
trims is found at held speed and, below that speed, under power and under brakes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.polynomial import Polynomial
from scipy.optimize import nnls
from scipy.stats import qmc

from ovalwright.documents import Conditions
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, density, slosh_of, surface_grip
from ovalwright.road import Ribbon
from ovalwright.solve.edge import AT_ALONG, AT_SPEED, FUEL_SIDE, KIND, ROW, SLOSH, TIE, reach, steady
from ovalwright.solve.envelope import Fit, fit
from ovalwright.solve.limit import fastest_guess
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.pull import BRAKES_FULL, FULL_THROTTLE, engine_pull, pull
from ovalwright.solve.sweep import burden
from ovalwright.vehicle.law import DEMAND, SPIN_A
from ovalwright.vehicle.record import MOTION, SIZE

from .lap import Driver, brake_force
from .state import engine_of

Array = npt.NDArray[Any]

ROADS = 96
"""Roads that a car is asked on."""
FEWEST = 40
"""Answers below which nothing is concluded from them."""
SLOWER, FASTER = 0.85, 1.25
"""Limits count between these shares of the least and the greatest speed."""
OTHER_WAY = 9
"""One road in so many bends the other way."""
SLOWEST = 0.5
"""Least share of a bend's limit at which power and brakes are asked for."""
STARTS, LOOSEST = (0.6, 0.8, 0.45), 1.6
"""Shares of a point mass's speed from which a limit is sought, and to which."""
INSIDE, FAR = (0.0, -1.0, 1.0, -3.0), 16.0
"""Accelerations [m/s^2] from which an edge is sought, and to which, in its direction."""
PULLS, DEGREE = 12, 4
"""Speeds at which the engine is asked, and the degree of its push over them."""

TURN, DRIVE, ENGINE, BRAKE = range(4)


class Answer(NamedTuple):
    """One limit of a car: speed [m/s], apparent gravity, push of its tires per mass along and across its way
    [m/s^2], and what ruled: TURN, DRIVE, ENGINE or BRAKE."""

    speed: float
    gravity: float
    along: float
    across: float
    rule: int


@dataclass(frozen=True)
class Push:
    """The engine's thrust per mass [m/s^2] as a polynomial of speed [m/s], the nearest beyond its ends."""

    curve: Polynomial
    slowest: float
    fastest: float

    def __call__(self, speed: Array) -> Array:
        """The thrust at speeds [m/s]."""
        return np.asarray(self.curve(np.clip(speed, self.slowest, self.fastest)))


@dataclass(frozen=True)
class Sampled:
    """An envelope, the answers of the car that it was fitted to (n, 5), and the root mean square miss of the
    engine's pull [m/s^2]."""

    fit: Fit
    answers: Array
    engine_miss: float


def sampled(
    packed: Packed,
    ribbon: Ribbon,
    conditions: Conditions,
    driver: Driver,
    speeds: tuple[float, float],
    *,
    bite: float = 1.0,
) -> Sampled:
    """The envelope of a car with its driver on roads like those of a ribbon, for laps between two speeds
    [m/s]; `bite` is the friction of the brake pads against their best.

    Raises ValueError when the car answers on too few roads.
    """
    slow, fast = SLOWER * speeds[0], speeds[1]
    car = _Car(packed, conditions, driver, bite, (slow, fast))
    s = np.arange(0.0, ribbon.length, 1.0)
    bank = ribbon.bank(s)
    bow = np.abs(ribbon.bank(s, 2)) * np.maximum(ribbon.left(s), ribbon.right(s))
    crest = float((bow + np.abs(ribbon.height(s, 2))).max())
    answers: list[Answer] = []
    for i, draw in enumerate(qmc.Halton(4, scramble=False).random(ROADS)):
        hand = -ribbon.hand if i % OTHER_WAY == OTHER_WAY - 1 else ribbon.hand
        limit = slow + draw[0] * (FASTER * fast - slow)
        car.go_to(bank.min() + draw[1] * np.ptp(bank), crest * (2.0 * draw[2] - 1.0), hand, limit)
        answers += car.answers(SLOWEST + (1.0 - SLOWEST) * draw[3])
    if len(answers) < FEWEST:
        raise ValueError(
            f"{packed.assembly.setup.file_name}: on {ROADS} roads like this track's only {len(answers)} "
            "limits of the car were found, too few for a free line; look at what drags, hangs or binds."
        )
    told = np.array(answers)
    rule = told[:, Answer._fields.index("rule")]
    push = car.push()
    taken, engine_miss = _held_back(push, told[rule == ENGINE])
    tires = fit(*told[rule != ENGINE, :4].T, push=_endless, drag=car.drag, top=car.top_speed())
    envelope = replace(tires.envelope, push=push, scrub=taken[0], press=taken[1])
    return Sampled(replace(tires, envelope=envelope), told, engine_miss)


def _endless(speed: Array) -> Array:
    """The push of an engine that never holds the tires back."""
    return np.full(np.shape(speed), np.inf)


def _held_back(push: Push, pulls: Array) -> tuple[tuple[float, float], float]:
    """What side push and load take of the engine's thrust, by their squares [s^2/m], and how far that misses
    answers of the engine (n, 5), root mean square [m/s^2]."""
    if not len(pulls):
        return (0.0, 0.0), 0.0
    speed, gravity, along, across, _ = pulls.T
    (scrub, press), miss = nnls(np.column_stack([across**2, (gravity - GRAVITY) ** 2]), push(speed) - along)
    return (float(scrub), float(press)), float(miss / np.sqrt(len(pulls)))


class _Car:
    """A car on one road after another."""

    def __init__(
        self, packed: Packed, conditions: Conditions, driver: Driver, bite: float, speeds: tuple[float, float]
    ) -> None:
        self.settled, self.driver = packed.settled, driver
        self.slow, self.fast = speeds
        self.record, self.work = packed.record.copy(), np.zeros((40, SIZE))
        self.row, self.tie, self.motion = np.zeros(ROW), np.zeros(TIE), np.zeros(1, MOTION)[0]
        self.motion["gravity"], self.motion["air_density"] = GRAVITY, density(conditions)
        self.motion["grip"] = surface_grip(conditions) * driver.grip * driver.use
        self.tie[SLOSH] = slosh_of(packed.values()[0], float(self.record["fuel_mass"]))
        self.tie[FUEL_SIDE] = self.record["fuel_cg"][1]
        engine = engine_of(packed)
        self.engine = np.array(
            [engine.speeds / engine.gear, engine.torques * engine.gear * engine.efficiency]
        )
        self.rev_spin = engine.rev_limit / engine.gear
        self.brakes = brake_force(packed, bite)
        mass = float(self.record["weight"]) / GRAVITY
        self.drag = 0.5 * density(conditions) * float(self.record["drag_area"]) / mass

    def go_to(self, bank: float, crest: float, hand: int, limit: float) -> None:
        """A road of a bank [rad] and a crest [1/m, + dip], with the bend that a point mass takes at a speed
        [m/s]."""
        motion = self.motion
        motion["bank"], motion["crest"], motion["curvature"] = bank, crest, hand
        motion["acceleration"] = 0.0
        motion["curvature"] = hand * (fastest_guess(self.record, motion) / limit) ** 2

    def answers(self, share: float) -> list[Answer]:
        """The limit at held speed, and under power and under brakes at a share of that speed, as far as they
        lie among the speeds of the lap."""
        limit = self._limit()
        found: list[Answer | None] = []
        if self.slow <= limit <= FASTER * self.fast:
            found.append(self._told(limit, 0.0, TURN))
        speed = min(share * limit, self.fast)
        if speed >= self.slow:
            found += self._driving(speed) + self._braking(speed)
        return [one for one in found if one]

    def push(self) -> Push:
        """The engine's thrust per mass on a level straight."""
        ends = self.slow, max(self.fast, 1.1 * self.slow)
        self._straight()
        pulled = [self._pulled(v, FULL_THROTTLE, 1.0) for v in np.linspace(*ends, PULLS)]
        v, along = np.array([(one.speed, one.along) for one in pulled if one]).T
        return Push(Polynomial.fit(v, along, min(DEGREE, len(v) - 1)), *ends)

    def top_speed(self) -> float:
        """Speed that the revs allow on a level straight [m/s]."""
        self._straight()
        self.motion["speed"] = self.fast
        held = steady(self.row[:SIZE], self.settled, self.record, self.motion, self.work) == CONVERGED
        return float(self.fast * self.rev_spin / self.row[SPIN_A]) if held else np.inf

    def _straight(self) -> None:
        for name in ("bank", "crest", "curvature", "acceleration"):
            self.motion[name] = 0.0

    def _limit(self) -> float:
        """The speed that the road lets it hold [m/s]; 0 where none is found."""
        self.tie[KIND] = AT_SPEED
        guess = fastest_guess(self.record, self.motion)
        for share in STARTS:
            status, speed = self._reach(share * guess, LOOSEST * guess)
            if status == CONVERGED:
                return speed
        return 0.0

    def _driving(self, speed: float) -> list[Answer | None]:
        """The tires' limit under power, and what the engine gives where that is less."""
        found = self._edge(speed, 1)
        if found is None:
            return []
        tires = self._told(speed, self.driver.throttle * found, DRIVE)
        most = engine_pull(self.row[SPIN_A], self.engine)[0] / self.record["tire"]["free_radius"][3]
        if self.row[DEMAND] <= most:
            return [tires]
        return [tires, self._pulled(speed, FULL_THROTTLE, 1.0)]

    def _braking(self, speed: float) -> list[Answer | None]:
        """The tires' limit under brakes, or what the brakes hold where that is less."""
        found = self._edge(speed, -1)
        if found is None:
            return []
        if -self.row[DEMAND] <= self.brakes:
            return [self._told(speed, self.driver.brake * found, BRAKE)]
        return [self._pulled(speed, BRAKES_FULL, self.brakes)]

    def _edge(self, speed: float, way: int) -> float | None:
        """Acceleration at the edge under power (way 1) or brakes (-1) [m/s^2]; its state lands in `row`."""
        self.tie[KIND], self.motion["speed"] = AT_ALONG, speed
        for inside in INSIDE:
            status, along = self._reach(way * inside, way * FAR)
            if status == CONVERGED:
                return along
        return None

    def _pulled(self, speed: float, what: int, most: float) -> Answer | None:
        """All that the engine or the brakes give at a speed, from the state in `row`."""
        self.tie[KIND], self.motion["speed"] = AT_ALONG, speed
        status, along = self._pull(0.0, what, most)
        rule = ENGINE if what == FULL_THROTTLE else BRAKE
        return self._told(speed, along, rule) if status == CONVERGED else None

    def _reach(self, inside: float, far: float) -> tuple[int, float]:
        found: tuple[int, float] = reach(
            self.row, inside, far, self.settled, self.tie, self.record, self.motion, self.work
        )
        return found

    def _pull(self, start: float, what: int, most: float) -> tuple[int, float]:
        found: tuple[int, float] = pull(
            self.row,
            start,
            what,
            most,
            self.engine,
            self.settled,
            self.tie,
            self.record,
            self.motion,
            self.work,
        )
        return found

    def _told(self, speed: float, acceleration: float, rule: int) -> Answer:
        motion = self.motion
        asked = burden(*(motion[name] for name in ("curvature", "bank", "grade", "crest")))
        energy = np.asarray(0.5 * speed * speed)
        return Answer(
            speed=speed,
            gravity=float(asked.gravity(energy)),
            along=acceleration + self.drag * speed * speed,
            across=float(asked.across(energy)),
            rule=rule,
        )
