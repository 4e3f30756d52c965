"""What every step does to a lap and to a run: changes of time, where on the lap, and how sure they are."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Conditions, DocumentError, Track
from ovalwright.pack import Packed, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.adjustments import Adjustment, adjustments
from ovalwright.study.against import WIDE, drivers
from ovalwright.study.bands import Band, band_of, over_draws
from ovalwright.study.compare import as_drawn
from ovalwright.study.lap import DRIVER, Driver, Lap, NoLap, lap
from ovalwright.study.run import LOOSE, run
from ovalwright.study.uncertain import Draw, Unknowns

ROUNDS = (0.5, 1.0)
"""Rounds of a jack bolt to choose from: a quarter is hardly felt."""
LAPS = 40
"""Laps of the run that every step is tried on."""
LAP_DRAWS = 24
"""Draws behind the band of a lap: each drives every step once more."""
NONE = (math.nan, math.nan)
NOWHERE = ("", math.nan)
NO_BAND = Band(math.nan)

Array = npt.NDArray[np.float64]


class Timed:
    """What every step does to a lap in the middle groove with a share of the fuel, and to a run of LAPS from
    a full cell: changes [s] by name of the step, as bolted in and re-set; the section of the lap that changes
    most; and the band of the change of the lap, re-set where that applies.
    """

    def __init__(self, car: Packed, track: Track, share: float) -> None:
        self.car, self.track, self.share = car, track, share
        self.steps = adjustments(car.assembly, rounds=ROUNDS)
        self.line, self.day = groove_line(track, ribbon_of(track)), Conditions()
        self.wide = self.line.at_spacing(WIDE)
        self.base = self._lap(car)
        self.no_run = ""
        self.base_lap, self.base_run = _time(self.base), self._run(car)
        self.laps: dict[str, tuple[float, float]] = {}
        self.runs: dict[str, tuple[float, float]] = {}
        self.sections: dict[str, tuple[str, float]] = {}
        self.bands: dict[str, Band] = {}

    def all(self, progress: Callable[[int], None]) -> None:
        """Drive every step of a setup that gets round, then find the bands of its laps."""
        base, steps = self.base, self.steps
        if base is None:
            return
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            for done, _ in enumerate(pool.map(lambda step: self._drive(step, base), steps), start=1):
                progress(done)
        self._find_bands(lambda done: progress(len(steps) + done))

    def counts(self, step: Adjustment) -> float:
        """Change of the lap by a step, re-set where that applies [s]."""
        return self.laps.get(step.name, NONE)[int(step.resets)]

    # ---------------- as it is known

    def _drive(self, step: Adjustment, base: Lap) -> None:
        try:
            cars = (step.as_bolted(self.car), step.reset(self.car))
        except DocumentError:
            return
        laps = [None if car is None else self._lap(car, base) for car in cars]
        self.laps[step.name] = (_time(laps[0]) - base.time, _time(laps[1]) - base.time)
        counts = laps[int(step.resets)]
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

    # ---------------- in draws of what is not known

    def _find_bands(self, progress: Callable[[int], None]) -> None:
        changed = [step.changed for step in self.steps if step.changed is not None]
        draws = Unknowns((self.car.assembly, *changed), self.track, self.day, ()).draws(LAP_DRAWS)
        who = {id(draw): driver for draw, driver in zip(draws, drivers(DRIVER, len(draws)), strict=True)}
        found, _ = over_draws(
            lambda draw: self._changes(draw, who[id(draw)]), draws, lambda done, _: progress(done)
        )
        found = found.reshape(-1, len(self.steps))
        self.bands = {step.name: band_of(self.counts(step), found[:, k]) for k, step in enumerate(self.steps)}

    def _changes(self, draw: Draw, driver: Driver) -> Array:
        """What every step does to the lap of one drawn car [s]; NaN where either does not get round."""
        car, day = as_drawn(self.car, draw), draw.conditions(self.day)

        def driven(one: Packed, like: Lap | None) -> Lap:
            tired = draw.tires(with_fuel(one, share=self.share))
            return lap(tired, self.wide, day, driver, like=like)

        changes = np.full(len(self.steps), np.nan)
        try:
            base = driven(car, None)
        except NoLap:
            return changes
        for k, step in enumerate(self.steps):
            values = draw.values(step.changed) if step.changed is not None else None
            try:
                one = step.reset(car, values=values) or step.as_bolted(car, values=values)
                changes[k] = driven(one, base).time - base.time
            except (DocumentError, NoLap):
                continue
        return changes


def _time(found: Lap | None) -> float:
    return math.nan if found is None else found.time


def _changed_most(was: Lap, now: Lap) -> tuple[str, float]:
    """The section whose time changes most, and by how much [s]."""
    changes = {a.name: b.time - a.time for a, b in zip(was.sections, now.sections, strict=True)}
    name = max(changes, key=lambda one: abs(changes[one]))
    return name, changes[name]
