"""Two setups over a run, A against B: always on one line, on the same day, with the same driver.

What is not known is drawn once for both, so that the difference is surer than either. Freeing the line is
worth more than most setups; it is never freed here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ovalwright.documents import WORKED_OUT, Assembly, Conditions, Track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.road import Line
from ovalwright.units import Quantity

from .bands import Band, Progress, band_of, over_draws
from .compare import as_drawn, reset_applies, tried
from .falloff import EARLY, LATE, Crossover, crossover, mean_of
from .lap import BRAKE_BAND, DRIVER, MOST_USED, THROTTLE_BAND, USE_BAND, Driver, NoLap
from .repeats import laps_needed
from .run import LOOSE, Run, Stretch, run
from .run_match import matching_run
from .run_reading import USUAL_SCATTER
from .uncertain import IN_BAND, Draw, Unknowns, document_entries

Array = npt.NDArray[np.float64]

QUALIFYING = 2
"""Laps of qualifying (common practice, no source)."""
FIGURES = ("best lap", "laps 3 to 7", "laps 20 to 25", "total")
"""What two runs are compared by [s]."""
NEARLY = 0.05
"""Within what a draw's best lap [s] is the one it was matched to."""
WIDE = 6.0
"""Distance between stations in draws [m], where only differences count: good to 0.02 s in them (tested)."""
GRIP_CAUSES = ("grip of the tires", "conditions.grip")
"""What a lap time that was matched has settled."""


@dataclass(frozen=True)
class Against:
    """Runs of A and B. `figures` by name: A, B, and B less A (negative: B quicker) [s], each with its band.

    `crossover` tells from which lap B is quicker and ahead; `quicker` and `ahead` hold its band over the
    draws in which it happens, and `gets_ahead` the share of draws in which B is ahead at the end.
    `own_sheet`: B stands as on a sheet of its own, weighed or worked out; else it is A
    `reset` to A's heights and cross, or as bolted in.
    `laps_to_see` is how many laps a leg an A-B-A test needs to see the difference of laps 3 to 7; None where
    a thousand do not.
    """

    a: Run
    b: Run
    figures: dict[str, tuple[Band, Band, Band]]
    crossover: Crossover
    quicker: Band
    ahead: Band
    gets_ahead: float
    own_sheet: bool
    reset: bool
    laps_to_see: int | None
    draws: int
    failed: int
    lap_bands: Array
    """Ends of the band of every lap of B less that of A [s], (laps, 2); no laps without draws."""

    @property
    def b_stands(self) -> str:
        """How B stands on the scales, in a sentence."""
        if self.own_sheet and self.b.packed.assembly.sheet.scale == WORKED_OUT:
            return "B stands as on its own sheet, which is worked out: it was not weighed itself."
        if self.own_sheet:
            return "B stands as on its own sheet: it was weighed itself."
        if self.reset:
            return "B is re-set on the scales to the heights and cross of A."
        return "B is as bolted in: nothing but the change was touched, and nothing is re-set."


def against(
    base: Packed,
    other: Assembly,
    line: Line,
    track: Track,
    conditions: Conditions,
    plan: Sequence[Stretch] | int,
    driver: Driver = DRIVER,
    *,
    draws: int = 0,
    scatter: float = USUAL_SCATTER,
    impound: bool = False,
    best: float | None = None,
    progress: Progress | None = None,
) -> Against:
    """Run the setup of `base` and that of `other` on the same car, line and day.

    `draws` (64 is usual) asks for bands; a driver whose `grip` was matched to a lap time has settled the
    grip. `scatter` is one standard deviation of the racer's own laps [s]. Under `impound` B is never re-set.
    `best` is the lap [s] that the driver's grip was matched to: in every draw A's best lap is that one again.
    Raises NoLap when either does not get round, DocumentError when `other` cannot be built.
    """
    cars = pair(base, other, impound=impound)
    a, b = (
        run(car, line, conditions, plan, driver, progress=_half(i, progress)) for i, car in enumerate(cars)
    )
    found, times, failed, asked = _drawn(
        base, other, line, track, conditions, plan, driver, draws, impound, best, progress
    )
    one, two = _row(a), _row(b)
    figures = {
        name: (
            band_of(one[i], found[:, 0, i]),
            band_of(two[i], found[:, 1, i]),
            band_of(two[i] - one[i], found[:, 1, i] - found[:, 0, i]),
        )
        for i, name in enumerate(FIGURES)
    }
    crossed = crossover(a.times, b.times)
    laps = found[:, 2, :2] if len(found) else np.empty((0, 2))
    early = abs(figures["laps 3 to 7"][2].value)
    own_sheet = has_own_sheet(base.assembly, other)
    return Against(
        a=a,
        b=b,
        figures=figures,
        crossover=crossed,
        quicker=band_of(_number(crossed.quicker), laps[:, 0]),
        ahead=band_of(_number(crossed.ahead), laps[:, 1]),
        gets_ahead=float(np.isfinite(laps[:, 1]).mean()) if len(laps) else float(crossed.ahead is not None),
        own_sheet=own_sheet,
        reset=not (own_sheet or impound) and reset_applies(base.assembly, other),
        laps_to_see=laps_needed(early, scatter) if np.isfinite(early) and early > 0.0 else None,
        draws=asked,
        failed=failed,
        lap_bands=_lap_bands(b.times - a.times, times),
    )


def _lap_bands(less: Array, drawn: Array) -> Array:
    """Ends of the band of every lap of B less A, from draws (draw, 2, laps)."""
    if not len(drawn):
        return np.empty((0, 2))
    bands = [band_of(float(one), drawn[:, 1, lap] - drawn[:, 0, lap]) for lap, one in enumerate(less)]
    return np.array([(band.low, band.high) for band in bands])


def _half(first: int, progress: Progress | None) -> Callable[[float], None] | None:
    """What one of two runs tells of how far both are, in percent."""
    return (lambda share: progress(round(50.0 * (first + share)), 100)) if progress else None


def has_own_sheet(base: Assembly, other: Assembly) -> bool:
    """Whether the other setup has a sheet of its own, weighed or worked out."""
    return other.sheet != base.sheet


def pair(
    base: Packed, other: Assembly, draw: Draw | None = None, *, impound: bool = False
) -> tuple[Packed, Packed]:
    """A and B with the same fuel: B as on its own sheet, else re-set as A was, else (where re-setting would
    undo the change, or under impound) as bolted in.
    """
    if not has_own_sheet(base.assembly, other):
        trial = tried(base, other, draw)
        return base, trial.bolted if impound else trial.reset or trial.bolted
    moment = base.moment
    built = build(
        other,
        driver=moment.driver,
        hot=moment.hot,
        state=moment.state,
        values=draw.values(other) if draw else None,
    )
    return base, with_fuel(built, float(base.record["fuel_mass"]))


def only_pressures(base: Assembly, other: Assembly) -> tuple[str, ...]:
    """What differs between two setups besides tire pressures: empty where an impound rule that lets only
    pressures change is kept.
    """
    was, now = (
        {path: entry.value for path, entry in document_entries(assembly) if path.startswith("setup.")}
        for assembly in (base, other)
    )
    return tuple(
        path
        for path in sorted(was.keys() | now.keys())
        if not path.endswith(("tire.cold", "tire.hot")) and _differs(was.get(path), now.get(path))
    )


def _differs(one: object, two: object) -> bool:
    if isinstance(one, Quantity) and isinstance(two, Quantity):
        return one.si != two.si
    return one != two


def drivers(driver: Driver, count: int, seed: int = 1) -> list[Driver]:
    """A driver in draws of what is not known of him."""
    z = np.random.default_rng(seed).standard_normal((count, 3)) / IN_BAND
    spread = z * (USE_BAND, BRAKE_BAND, THROTTLE_BAND)
    return [
        replace(
            driver,
            use=float(np.clip(driver.use + use, 0.5, MOST_USED)),
            brake=float(np.clip(driver.brake + brake, 0.2, 1.0)),
            throttle=float(np.clip(driver.throttle + throttle, 0.2, 1.0)),
        )
        for use, brake, throttle in spread
    ]


def _drawn(
    base: Packed,
    other: Assembly,
    line: Line,
    track: Track,
    conditions: Conditions,
    plan: Sequence[Stretch] | int,
    driver: Driver,
    draws: int,
    impound: bool,
    best: float | None,
    progress: Progress | None,
) -> tuple[Array, Array, int, int]:
    """Figures of A, of B and of how they cross (draw, 3, FIGURES), lap times of both (draw, 2, laps), failed
    draws, draws asked for.
    """
    if not draws:
        return np.empty((0, 3, len(FIGURES))), np.empty((0, 2, 0)), 0, 0
    wide, laps = line.at_spacing(WIDE), plan if isinstance(plan, int) else sum(one.laps for one in plan)
    unknowns = Unknowns((base.assembly, other), track, conditions, ())
    asked = unknowns.draws(draws)
    at_wheel = dict(zip((id(draw) for draw in asked), drivers(driver, len(asked)), strict=True))

    def first(car: Packed, day: Conditions, who: Driver, tires: Callable[[Packed], Packed]) -> Run:
        if best is None:
            return run(car, wide, day, plan, who, tires=tires, care=LOOSE)
        return matching_run(car, wide, day, plan, best, who, within=NEARLY, tires=tires, care=LOOSE)

    def answer(draw: Draw) -> Array:
        settled = dict.fromkeys(GRIP_CAUSES, 0.0) if driver.grip != 1.0 else {}
        drawn = Draw({**draw.z, **settled})
        cars = pair(as_drawn(base, drawn), other, drawn, impound=impound)
        day = drawn.conditions(conditions)
        try:
            a = first(cars[0], day, at_wheel[id(draw)], drawn.tires)
            b = run(cars[1], wide, day, plan, a.driver, tires=drawn.tires, care=LOOSE)
        except NoLap:
            return np.full(3 * len(FIGURES) + 2 * laps, np.nan)
        crossed = crossover(a.times, b.times)
        last = (_number(crossed.quicker), _number(crossed.ahead), np.nan, np.nan)
        return np.concatenate([_row(a), _row(b), last, a.times, b.times])

    told, failed = over_draws(answer, asked, progress)
    told = told.reshape(-1, 3 * len(FIGURES) + 2 * laps)
    went_round = np.isfinite(told[:, 0])
    figures, times = np.split(told[went_round], [3 * len(FIGURES)], axis=1)
    unfinished = failed + int((~went_round).sum())
    return figures.reshape(-1, 3, len(FIGURES)), times.reshape(-1, 2, laps), unfinished, len(asked)


def _row(driven: Run) -> Array:
    """The figures of one run [s]; NaN where it has no such laps."""
    numbers, times = driven.numbers[driven.green].astype(float), driven.times[driven.green]
    early, late = (mean_of(numbers, times, span) for span in (EARLY, LATE))
    return np.array([times.min(), early, late, driven.total])


def _number(lap: int | None) -> float:
    return float("nan") if lap is None else float(lap)
