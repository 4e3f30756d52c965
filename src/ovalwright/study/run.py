"""A run of many laps: fuel burns, tires warm, grow and wear, brakes warm, and every lap is a lap of that car.

What heats and wears a tire is the work it slides away on the lap just driven (`mechanics.heat`). While little
changes from lap to lap, only some laps are solved and the times between them lie on straight lines; how good
that is stands in docs/run.md and is tested.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Assembly, Conditions
from ovalwright.mechanics import heat
from ovalwright.pack import Packed, Rubber, at_moment, conditions_after, rebuilt_as_bolted, roll_outs
from ovalwright.pack.heat import Warming, warming
from ovalwright.pack.road import station_pressure
from ovalwright.road import Line
from ovalwright.vehicle.law import SPIN_A
from ovalwright.vehicle.record import CORNERS

from .lap import DRIVER, Driver, Lap, NoLap, lap, slow_lap

Array = npt.NDArray[np.float64]
Flag = Literal["green", "yellow"]
Progress = Callable[[float], None]

PACE_LAPS = 3
"""Laps under yellow before the green (common practice, no source)."""
YELLOW_PACE = 0.5
"""Speed under yellow against the best lap's mean (common practice, no source)."""


@dataclass(frozen=True)
class Care:
    """How closely a run is solved: how many laps a solved one stands for at the most, by how many laps a
    stretch has seen; how far a lap may lie off the line through the two solved before it [s] and any after
    it go unsolved; within how much the tread of a lap must be as warm as it was taken to be [K].
    """

    strides: tuple[tuple[int, int], ...]
    surprise: float
    foreseen: float


USUAL = Care(((4, 1), (8, 2), (1000, 4)), 0.01, 0.5)
EVERY_LAP = Care(((1, 1),), 0.01, 0.5)
LOOSE = Care(((2, 1), (6, 2), (14, 4), (1000, 9)), 0.05, 2.0)
"""For many runs that are compared with each other: good to 0.02 s in their differences (tested)."""
MOST_LOOKS = 6
"""Most looks at one lap until its tread is as warm as it was taken to be."""
UNSETTLED = "Grip and heat of the treads did not agree"


@dataclass(frozen=True)
class Stop:
    """What is done before a stretch of laps: another setup bolted in, fuel filled up to [kg], fresh tires on
    some corners (as the setup's own, cold), and how long it takes [s].
    """

    setup: Assembly | None = None
    fuel: float | None = None
    tires: tuple[str, ...] = ()
    seconds: float = 60.0


@dataclass(frozen=True)
class Stretch:
    """Laps under one flag, after a stop if there is one."""

    laps: int
    flag: Flag = "green"
    stop: Stop | None = None


@dataclass(frozen=True, eq=False)
class RunLap:
    """One lap of a run, SI. (4,) in the order of CORNERS.

    `stint` from 1, a stop begins another; `fuel` [kg] and `clock` [s] at its start, `burned` [kg] on it;
    `tread`, `carcass`, `gas`, `disc`, `fluid` [K] mean over the lap; `pressure` [Pa] and `roll_out` [m] it
    was driven at; `wear` [m] at its end; `grip` against a scuffed tire at its best, of which `by_heat` and
    `by_wear` are the parts of tread temperature and wear; `slid` [J], work slid away; `balance`: grip used
    at the rear less that at the front, mean of the slowest places of the turns, negative is tight. `nodes`
    (4, 6) are all temperatures at its start [K]; `solved` holds the lap where it was solved.
    """

    number: int
    flag: Flag
    stint: int
    time: float
    clock: float
    fuel: float
    burned: float
    tread: Array
    carcass: Array
    gas: Array
    disc: Array
    fluid: Array
    pressure: Array
    roll_out: Array
    wear: Array
    grip: Array
    by_heat: Array
    by_wear: Array
    slid: Array
    balance: float
    nodes: Array = field(repr=False)
    solved: Lap | None = field(default=None, repr=False)

    @property
    def stagger(self) -> float:
        """Rear stagger [m]."""
        return float(self.roll_out[3] - self.roll_out[2])


@dataclass(frozen=True, eq=False)
class Run:
    """All counted laps of a run; `notes` say what a racer must know beside it."""

    packed: Packed
    line: Line
    driver: Driver
    laps: tuple[RunLap, ...]
    notes: tuple[str, ...]

    @cached_property
    def times(self) -> Array:
        """Lap times [s]."""
        return np.array([one.time for one in self.laps])

    @cached_property
    def numbers(self) -> npt.NDArray[np.int64]:
        """Lap numbers, from 1."""
        return np.array([one.number for one in self.laps], dtype=np.int64)

    @cached_property
    def green(self) -> npt.NDArray[np.bool_]:
        """Which laps were under green."""
        return np.array([one.flag == "green" for one in self.laps])

    @property
    def total(self) -> float:
        """Time of all laps [s]."""
        return float(self.times.sum())

    def of(self, name: str) -> Array:
        """A quantity of every lap by its name in RunLap: (laps,) or (laps, 4)."""
        return np.array([getattr(one, name) for one in self.laps])


class NoFuel(NoLap):
    """The cell runs dry before the end; the message says on which lap."""


def run(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    plan: Sequence[Stretch] | int,
    driver: Driver = DRIVER,
    *,
    pace_laps: int = PACE_LAPS,
    each_lap: bool = False,
    care: Care = USUAL,
    tires: Callable[[Packed], Packed] | None = None,
    progress: Progress | None = None,
) -> Run:
    """N laps of a car from its own fuel, on the tires of its setup at the day's air temperature.

    `plan` is a number of green laps or stretches; `pace_laps` under yellow come before and are not counted;
    `each_lap` solves every lap, else `care` says which; `tires` puts other tires on the car of each lap, as a
    draw of what is not known does. Raises NoLap when the car does not get round, NoFuel when it runs dry.
    """
    stretches = (Stretch(plan),) if isinstance(plan, int) else tuple(plan)
    count = sum(stretch.laps for stretch in stretches)
    if count < 1 or any(stretch.laps < 0 for stretch in stretches):
        raise ValueError("a run needs at least one lap, and no stretch less than none")
    state = _Run(packed, line, conditions, driver, tires, EVERY_LAP if each_lap else care)
    state.pace(pace_laps)
    for stretch in stretches:
        if stretch.stop:
            state.stop(stretch.stop)
        if stretch.flag == "yellow":
            state.yellow(stretch.laps)
        else:
            state.drive(stretch.laps, lambda: progress(len(state.laps) / count) if progress else None)
    return Run(packed, line, driver, tuple(state.laps), tuple(state.notes))


class _Run:
    """A car on its way through a run."""

    def __init__(
        self,
        packed: Packed,
        line: Line,
        conditions: Conditions,
        driver: Driver,
        tires: Callable[[Packed], Packed] | None,
        care: Care,
    ) -> None:
        self.care = care
        self.packed, self.line, self.day, self.driver, self.tires = packed, line, conditions, driver, tires
        self.warming = _warming(packed)
        self.filled_at = conditions.air.si
        self.temperature = self.warming.at_rest(conditions.air.si)
        self.used, self.driven = np.zeros((4, 2)), np.zeros(4)
        self.rise = np.zeros(4)
        self.fuel, self.clock = float(packed.record["fuel_mass"]), 0.0
        self.laps: list[RunLap] = []
        self.stint = 1
        self.notes: list[str] = []
        self.like: Lap | None = None

    # ---------------- the car of this moment

    @property
    def conditions(self) -> Conditions:
        return conditions_after(self.day, self.clock)

    def rubber(self) -> Rubber:
        """The tires as they will be over the coming lap, by the mean tread temperature of the last one."""
        w, nodes, lap_tread = self.warming, self.temperature, self.temperature[:, heat.TREAD] + self.rise
        grip = [float(w.grip(lap_tread, self.used, self.driven[i])[i]) for i in range(4)]
        growth = [
            float(w.grown(nodes[:, heat.CARCASS], self.driven[i], measured_at=self.filled_at)[i])
            for i in range(4)
        ]
        pressure = w.pressure(
            nodes[:, heat.GAS], filled_at=self.filled_at, ambient=station_pressure(self.day)
        )
        return Rubber(
            pressure=pressure,
            growth=np.array(growth),
            wear=self.used[:, 0].copy(),
            grip=np.array(grip),
            stiffness=w.stiffness(lap_tread),
            rolling=w.rolling(nodes[:, heat.CARCASS]),
        )

    def car(self) -> Packed:
        """The car with its fuel and tires of now."""
        moment = replace(self.packed.moment, fuel=self.fuel, rubber=self.rubber(), hot=True, state=None)
        car = at_moment(self.packed, moment)
        return self.tires(car) if self.tires else car

    def bite(self) -> float:
        """Friction of the pads against their best, the weaker axle's."""
        each = self.warming.bite(self.temperature[:, heat.DISC])
        return float(min(each[:2].mean(), each[2:].mean()))

    # ---------------- what happens to it

    def pace(self, laps: int) -> None:
        """Laps under yellow that are not counted."""
        if laps:
            self.yellow(laps)
            self.laps.clear()
            self.clock = 0.0

    def stop(self, stop: Stop) -> None:
        """A stop: the car stands, and is changed."""
        self.stint += 1
        self.clock += stop.seconds
        still = np.array([stop.seconds])
        self._march(
            still, np.zeros(1), np.zeros((1, 4, 3)), np.zeros((1, 4)), np.zeros((4, 6)), np.zeros((4, 4))
        )
        if stop.fuel is not None:
            self.fuel = stop.fuel
        if stop.setup is not None:
            self.packed = rebuilt_as_bolted(self.packed, stop.setup)
            self.warming = _warming(self.packed)
        for corner in stop.tires:
            i = CORNERS.index(corner)
            self.temperature[i, : heat.DISC] = self.conditions.air.si
            self.used[i], self.driven[i], self.rise[i] = 0.0, 0.0, 0.0
        self.like = None

    def yellow(self, laps: int) -> None:
        """Slow laps at one speed."""
        if laps < 1:
            return
        car = self.car()
        green = self.like or lap(car, self.line, self.conditions, self.driver, bite=self.bite())
        slow = slow_lap(
            car, self.line, self.conditions, self.driver, YELLOW_PACE * self.line.length / green.time
        )
        self.like = green
        burn = self.warming.yellow_fuel * _burned(self.warming, green)
        work = _work(slow, self.packed)
        for _ in range(laps):
            self._record("yellow", slow, slow, work, burn)

    def drive(self, laps: int, progress: Callable[[], None]) -> None:
        """Laps at speed: solved where much changes, in between by the work of the last solved one."""
        first, done = len(self.laps), 0
        last: Array | None = None
        trend, stride = np.zeros(1), 1
        while done < laps:
            found = self._solved()
            work, burn = _work(found, self.packed), _burned(self.warming, found)
            if last is not None:
                trend = (work - last) / stride
            even = self._on_the_line(first, found.time)
            last, stride = work, min(_stride(done, laps, self.care.strides), 2 * stride) if even else 1
            for k in range(stride):
                foreseen = np.maximum(work + k * trend, 0.0)
                self._record("green", found, found if k == 0 else None, foreseen, burn)
            done += stride
            progress()
        self.laps[first:] = _between(self.laps[first:])

    def _on_the_line(self, first: int, time: float) -> bool:
        """Whether the coming lap lies where the two solved before it in this stretch point to."""
        solved = [one for one in self.laps[first:] if one.solved][-2:]
        if len(solved) < 2:
            return False
        a, b = solved
        ahead = (len(self.laps) + 1 - b.number) / (b.number - a.number)
        return abs(time - b.time - ahead * (b.time - a.time)) < self.care.surprise

    def _solved(self) -> Lap:
        """The coming lap, on tires as warm as it makes them: less grip slides more and heats more, so it is
        looked at again, half way to what came out, until both agree.
        """
        conditions, bite = self.conditions, self.bite()
        found = lap(self.car(), self.line, conditions, self.driver, like=self.like, bite=bite)
        for look in range(MOST_LOOKS):
            rise = self._rise_of(found)
            close = np.abs(rise - self.rise).max() < self.care.foreseen
            self.rise = 0.5 * (rise + self.rise) if look else rise
            if close:
                break
            found = lap(self.car(), self.line, conditions, self.driver, like=found, bite=bite)
        else:
            self._say_once(
                UNSETTLED, f"{UNSETTLED} on lap {len(self.laps) + 1}: times from there on are rough."
            )
        self.like = found
        return found

    def _say_once(self, begins: str, note: str) -> None:
        """Keep a note unless one that begins alike is kept."""
        if not any(kept.startswith(begins) for kept in self.notes):
            self.notes.append(note)

    def _rise_of(self, found: Lap) -> Array:
        """How far the mean tread of a lap lies above that at its start [K]."""
        temperature, used, mean = self.temperature.copy(), self.used.copy(), np.zeros((4, 6))
        air, road = self.conditions.air.si, self.conditions.surface.si
        work = _work(found, self.packed)
        tread, books = np.zeros((len(found.speed), 4)), np.zeros((4, 4))
        heat.heat_lap(self.warming.bodies, air, road, found.steps, found.speed, work, temperature, used,
                      tread, mean, books)  # fmt: skip
        return np.asarray(mean[:, heat.TREAD] - self.temperature[:, heat.TREAD])

    def _record(self, flag: Flag, driven: Lap, solved: Lap | None, work: Array, burn: float) -> None:
        """One lap driven with the work of a solved one, written down."""
        if self.fuel <= burn:
            raise NoFuel(
                f"the cell runs dry on lap {len(self.laps) + 1}: it started with less than the run burns; "
                "fill more, plan a stop, or run fewer laps."
            )
        rubber, nodes = self.rubber(), self.temperature.copy()
        start = nodes[:, heat.TREAD]
        by_heat, by_wear = self.warming.by_heat(start + self.rise), self.warming.by_wear(self.used[:, 0])
        fuel, clock = self.fuel, self.clock
        tread, mean, books = np.zeros((len(driven.speed), 4)), np.zeros((4, 6)), np.zeros((4, 4))
        self._march(driven.steps, driven.speed, work, tread, mean, books)
        self.rise = mean[:, heat.TREAD] - start
        self.driven += self.line.length
        self.clock += driven.time
        self.fuel -= burn
        self._warn(len(self.laps) + 1)
        self.laps.append(
            RunLap(
                number=len(self.laps) + 1,
                flag=flag,
                stint=self.stint,
                time=driven.time,
                clock=clock,
                fuel=fuel,
                burned=burn,
                tread=mean[:, heat.TREAD],
                carcass=mean[:, heat.CARCASS],
                gas=mean[:, heat.GAS],
                disc=mean[:, heat.DISC],
                fluid=mean[:, heat.FLUID],
                pressure=rubber.pressure,
                roll_out=roll_outs(self.packed, rubber),
                wear=self.used[:, 0].copy(),
                grip=rubber.grip,
                by_heat=by_heat,
                by_wear=by_wear,
                slid=(work[:, :, 0] * driven.steps[:, None]).sum(axis=0),
                balance=balance_of(driven),
                nodes=nodes,
                solved=solved,
            )
        )

    def _march(
        self, steps: Array, speed: Array, work: Array, tread: Array, mean: Array, books: Array
    ) -> None:
        air, road = self.conditions.air.si, self.conditions.surface.si
        heat.heat_lap(self.warming.bodies, air, road, steps, speed, work, self.temperature, self.used, tread,
                      mean, books)  # fmt: skip

    def _warn(self, number: int) -> None:
        worn = self.used[:, 0] >= self.warming.tread_depth
        for what, holds in (
            ("tread is gone", worn),
            ("brake fluid boils", self.warming.boiling(self.temperature[:, heat.FLUID])),
        ):
            for corner, here in zip(CORNERS, holds, strict=True):
                if here:
                    self._say_once(f"{corner}: the {what}", f"{corner}: the {what} on lap {number}.")


def _warming(packed: Packed) -> Warming:
    car, setup, _ = packed.values()
    return warming(car, setup)


def _stride(done: int, laps: int, strides: tuple[tuple[int, int], ...]) -> int:
    """How many laps the next solved one stands for; the last lap is always solved."""
    stride = next((of for until, of in strides if done < until), strides[-1][1])
    left = laps - done
    return left - 1 if 1 < left <= stride else min(stride, left)


def _work(found: Lap, packed: Packed) -> Array:
    """What heats each corner from each station to the next (N, 4, 3) [W]."""
    record, speed = found.packed.record, found.speed
    sliding = heat.sliding_power(found.corners, speed[:, None])
    rolling = heat.rolling_power(found.corners["load"], speed[:, None], record["tire"]["rolling_resistance"])
    braked = np.maximum(-found.demand, 1e-9)
    engine = np.minimum(
        record["engine_drag"] * found.states[:, SPIN_A] / record["tire"]["free_radius"][3] / braked, 1.0
    )
    braking = heat.braking_power(
        found.demand * (1.0 - engine), speed, front=float(record["brake_front"]), engine=0.0
    )
    return _over_steps(np.stack((sliding, rolling, braking), axis=2))


def _burned(warm: Warming, found: Lap) -> float:
    """Fuel of a lap [kg]."""
    return heat.fuel_burned(_over_steps(found.crank_power), found.steps, per_energy=warm.fuel_rate)


def _over_steps(values: Array) -> Array:
    """Means over the steps around a lap of values at its stations: at brake points they jump."""
    return np.asarray(0.5 * (values + np.roll(values, -1, axis=0)))


def balance_of(found: Lap) -> float:
    """Grip used at the rear axle less that at the front, mean over the slowest place of each turn; negative
    is tight. Grip used: force over greatest side force, both summed over the axle.
    """
    corners, names = found.corners, np.array(found.line.section_of())
    force = np.hypot(corners["drive"], corners["side"])
    used = [force[:, end].sum(axis=1) / corners["side_peak"][:, end].sum(axis=1) for end in ((0, 1), (2, 3))]
    places = []
    for section in found.line.ribbon.sections:
        inside = np.flatnonzero(names == section.name)
        if section.turning and len(inside):
            places.append(inside[np.argmin(found.speed[inside])])
    places = places or [int(np.argmin(found.speed))]
    return float(np.mean(used[1][places] - used[0][places]))


def _between(laps: list[RunLap]) -> list[RunLap]:
    """Times and balance of the laps that were not solved, on straight lines between those that were."""
    if not laps:
        return laps
    solved = [i for i, one in enumerate(laps) if one.solved]
    times = np.interp(range(len(laps)), solved, [laps[i].time for i in solved])
    balances = np.interp(range(len(laps)), solved, [laps[i].balance for i in solved])
    slid = np.array([laps[i].slid for i in solved])
    work = np.column_stack([np.interp(range(len(laps)), solved, slid[:, i]) for i in range(4)])
    return [
        replace(one, time=float(times[i]), balance=float(balances[i]), slid=work[i])
        for i, one in enumerate(laps)
    ]
