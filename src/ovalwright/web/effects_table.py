"""What each thing does as a page shows it: the effects of every step and what it does to a lap and to a run,
asked for in long work and given back without the cars they were found with.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.adjustments import Adjustment, adjustments
from ovalwright.study.against import WIDE
from ovalwright.study.effects import Effect, effects
from ovalwright.study.lap import Lap, NoLap, lap
from ovalwright.study.moved import Moved, why
from ovalwright.study.run import LOOSE, run

DRAWS = 64
LAPS = 40
"""Laps of the run that every step is tried on."""
PLACES = ("entry", "middle", "exit")
NONE, NOWHERE = (math.nan, math.nan), ("", math.nan)


@dataclass(frozen=True)
class OneStep:
    """One step of one adjustment. By station what it does as bolted in and re-set (None: it sets height or
    cross itself), and why, of the reading that counts and as bolted in; change of the lap and of the run [s],
    each as bolted in and re-set, NaN where it was not asked for or there is none; `section` of the lap that
    changes most and by how much [s], no name where none is known; `problem` says why it could not be built.
    """

    name: str
    part: str
    bolted: dict[str, Moved]
    reset: dict[str, Moved] | None
    why: dict[str, str]
    why_bolted: dict[str, str]
    section: tuple[str, float]
    lap: tuple[float, float]
    run: tuple[float, float]
    problem: str

    def told(self, station: str) -> Moved | None:
        """The reading that counts at a station: re-set where that applies."""
        return (self.reset or self.bolted).get(station)

    def counts(self, ways: tuple[float, float]) -> float:
        """Of a number as bolted in and re-set the one that counts."""
        return ways[0] if self.reset is None else ways[1]


@dataclass(frozen=True)
class EffectsTable:
    """All steps; `lap` and `run` of the setup as it stands [s], NaN where none was found, and then `no_run`
    says why; `draws` behind the bands.
    """

    rows: tuple[OneStep, ...]
    speeds: dict[str, float]
    lap: float
    run: float
    no_run: str
    draws: int
    failed: int
    notes: tuple[str, ...]


def quick_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table without bands, laps and runs. Raises DocumentError."""
    return _table(build(assembly), track, end, share, None, 0, progress)


def whole_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table with the bands and with what each step does to a lap and to a run. Raises DocumentError."""
    car = build(assembly)
    steps = len(adjustments(assembly))
    in_all = 2 * steps + DRAWS
    progress(0, in_all)
    timed = _Timed(car, track, share)
    timed.all(lambda done: progress(done, in_all))
    return _table(car, track, end, share, timed, DRAWS, lambda done, all: progress(steps + done, steps + all))


def _table(
    car: Packed,
    track: Track,
    end: int,
    share: float,
    timed: _Timed | None,
    draws: int,
    progress: Callable[[int, int], None],
) -> EffectsTable:
    found = effects(car, track, Conditions(), fuel_share=share, end=end, draws=draws, progress=progress)
    return EffectsTable(
        rows=tuple(_row(effect, timed) for effect in found.rows),
        speeds=found.speeds,
        lap=timed.base_lap if timed else math.nan,
        run=timed.base_run if timed else math.nan,
        no_run=timed.no_run if timed else "",
        draws=found.draws,
        failed=found.failed,
        notes=found.notes,
    )


def _row(effect: Effect, timed: _Timed | None) -> OneStep:
    return OneStep(
        name=effect.step.name,
        part=effect.step.part,
        bolted=effect.bolted,
        reset=effect.reset,
        why={place: effect.problem or why(moved) for place in PLACES if (moved := effect.told(place))},
        why_bolted={place: why(moved) for place, moved in effect.bolted.items()},
        section=timed.sections.get(effect.step.name, NOWHERE) if timed else NOWHERE,
        lap=timed.laps.get(effect.step.name, NONE) if timed else NONE,
        run=timed.runs.get(effect.step.name, NONE) if timed else NONE,
        problem=effect.problem,
    )


class _Timed:
    """What every step does to a lap in the middle groove with a share of the fuel, and to a run of LAPS from
    a full cell: changes [s] by name of the step, as bolted in and re-set, and the section of the lap that
    changes most.
    """

    def __init__(self, car: Packed, track: Track, share: float) -> None:
        self.car, self.share = car, share
        self.line, self.day = groove_line(track, ribbon_of(track)), Conditions()
        self.wide = self.line.at_spacing(WIDE)
        self.base = self._lap(car)
        self.no_run = ""
        self.base_lap, self.base_run = _time(self.base), self._run(car)
        self.laps: dict[str, tuple[float, float]] = {}
        self.runs: dict[str, tuple[float, float]] = {}
        self.sections: dict[str, tuple[str, float]] = {}

    def all(self, progress: Callable[[int], None]) -> None:
        """Drive every step of a setup that gets round."""
        base = self.base
        if base is None:
            return
        steps = adjustments(self.car.assembly)
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            for done, _ in enumerate(pool.map(lambda step: self._drive(step, base), steps), start=1):
                progress(done)

    def _drive(self, step: Adjustment, base: Lap) -> None:
        try:
            cars = (step.as_bolted(self.car), step.reset(self.car))
        except ValueError:
            return
        laps = [None if car is None else self._lap(car, base) for car in cars]
        self.laps[step.name] = (_time(laps[0]) - base.time, _time(laps[1]) - base.time)
        counts = laps[0] if cars[1] is None else laps[1]
        if counts is not None:
            self.sections[step.name] = _changed_most(base, counts)
        if not self.no_run:
            runs = [math.nan if car is None else self._run(car) - self.base_run for car in cars]
            self.runs[step.name] = (runs[0], runs[1])

    def _lap(self, car: Packed, like: Lap | None = None) -> Lap | None:
        try:
            return lap(with_fuel(car, share=self.share), self.line, self.day, like=like)
        except NoLap:
            return None

    def _run(self, car: Packed) -> float:
        try:
            return run(with_fuel(car, share=1.0), self.wide, self.day, LAPS, care=LOOSE).total
        except NoLap as problem:
            if car is self.car:
                self.no_run = str(problem)
            return math.nan


def _time(found: Lap | None) -> float:
    return math.nan if found is None else found.time


def _changed_most(was: Lap, now: Lap) -> tuple[str, float]:
    """The section whose time changes most, and by how much [s]."""
    changes = {a.name: b.time - a.time for a, b in zip(was.sections, now.sections, strict=True)}
    name = max(changes, key=lambda one: abs(changes[one]))
    return name, changes[name]
