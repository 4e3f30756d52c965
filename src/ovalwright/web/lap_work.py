"""The long work behind lap and run: one lap, the run, two laps of qualifying, the gears, one setup or two.

What comes back holds numbers and charts only, in SI, so that it may pass from one process to another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import lay
from ovalwright.pictures.chart import UNSURE, Chart, Piece
from ovalwright.pictures.lap import LapTrace, lap_chart
from ovalwright.pictures.run import RunTrace, come_in, run_chart, slowest_shown
from ovalwright.road import Line
from ovalwright.study.against import QUALIFYING, Against, pair
from ovalwright.study.against import against as against_study
from ovalwright.study.bands import Band
from ovalwright.study.gears import Gears
from ovalwright.study.gears import gears as gears_study
from ovalwright.study.held_back import held_back
from ovalwright.study.lap import DRIVER, Driver, Lap, SectionTime
from ovalwright.study.lap import lap as lap_study
from ovalwright.study.lap_band import lap_band
from ovalwright.study.lap_reading import OnTheCar, Ruled, on_the_car, ruled, sections_along, told_rules
from ovalwright.study.run import Run
from ovalwright.study.run import run as run_study
from ovalwright.study.run_match import matching_run
from ovalwright.study.run_reading import GripLost, RunReading, read_run
from ovalwright.web.day_here import conditions_of
from ovalwright.web.long_work import Progress

TYPICAL = Conditions()

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Asked:
    """What is driven: counted `laps`, `fuel` at the start and for qualifying [kg], the groove, the best lap
    [s] that the driver's grip is matched to, if one is known, and the temperatures of air and track [K].
    """

    laps: int
    fuel: float
    trim_fuel: float
    groove: str
    best: float | None = None
    air: float = TYPICAL.air.si
    surface: float = TYPICAL.surface.si

    @property
    def day(self) -> Conditions:
        """The day it is driven on."""
        return conditions_of(self.air, self.surface)


@dataclass(frozen=True)
class LapTold:
    """One lap: its time with its band [s], its sections, what rules where, what touches, what to check."""

    time: float
    band: Band
    sections: tuple[SectionTime, ...]
    ruled: tuple[Ruled, ...]
    events: tuple[tuple[float, str], ...]
    on_the_car: OnTheCar


@dataclass(frozen=True)
class RunTold:
    """A run: `reading` has its numbers; fuel [m^3], stagger [m] and `cross`, standing with that fuel, at the
    start and at the flag; (4,) in the order LF RF LR RR at the end: tread [K], pressure [Pa], wear [m].
    """

    laps: int
    reading: RunReading
    lost: tuple[GripLost, ...]
    fuel: tuple[float, float]
    stagger: tuple[float, float]
    cross: tuple[float, float]
    best_balance: float
    tread: Array
    pressure: Array
    wear: Array
    times: Array


@dataclass(frozen=True)
class GearTold:
    """A lap with one gear; `time` [s] is NaN where there is none, and `why` tells."""

    name: str
    ratio: float
    fitted: bool
    time: float
    top_revs: float
    on_the_limiter: float
    why: str


@dataclass(frozen=True)
class GearsTold:
    """Every gear, the tallest first; the quickest, and one as good that spares the engine, by their names."""

    rows: tuple[GearTold, ...]
    best: str
    kinder: str
    owned: bool


@dataclass(frozen=True)
class Compared:
    """B against A: figures with their bands [s], from which lap B is quicker and ahead, how B stands.

    `two_laps_give` is half the band of the difference over the first two laps [s]; NaN without draws.
    """

    figures: dict[str, tuple[Band, Band, Band]]
    quicker: int | None
    ahead: int | None
    quicker_band: Band
    gets_ahead: float
    draws: int
    failed: int
    b_stands: str
    laps_to_see: int | None
    two_laps_give: float


@dataclass(frozen=True)
class Driven:
    """Everything that was driven, A first where there are two; `held` says where the driver had to use less
    of the grip, `notes` the rest that the racer must know.
    """

    lap_chart: Chart
    run_chart: Chart
    laps: tuple[LapTold, ...]
    runs: tuple[RunTold, ...]
    trims: tuple[RunTold, ...]
    gears: GearsTold
    compared: Compared | None
    driver: Driver
    held: tuple[str, ...]
    notes: tuple[str, ...]


NO_MATCH = "So A is not driven at your best lap here: that takes the grip that cannot be driven to its limit."


class _Parts:
    """How far several parts of the work are, told as one; each counts by about how long it takes."""

    def __init__(self, progress: Progress, lengths: Sequence[int]) -> None:
        self.progress, self.left, self.gone, self.whole = progress, list(lengths), 0, sum(lengths)

    def next(self) -> Progress:
        """The next part begins; what it tells counts within it."""
        length, gone = self.left.pop(0), self.gone
        self.gone += length

        def within(done: int, total: int) -> None:
            self.progress(round(100 * (gone + length * min(done / max(total, 1), 1.0)) / self.whole), 100)

        within(0, 1)
        return within

    def again(self) -> _Parts:
        """What is left from here on, to be begun as often as need be."""
        rest = copy(self)
        rest.left = list(self.left)
        return rest


def drive(
    a: Assembly,
    b: Assembly | None,
    names: tuple[str, ...],
    oval: Track,
    asked: Asked,
    draws: int,
    *,
    progress: Progress,
) -> Driven:
    """Setup A, or A against B, around a track. Raises DocumentError, NoLap where a car gets not round."""
    parts = _Parts(progress, (4 if asked.best else 1, 1, 1, 4 + draws, 1))
    line = groove_line(oval, lay(oval).ribbon, asked.groove)
    base = with_fuel(build(a), asked.fuel)
    cars = pair(base, b) if b is not None else (base,)
    matched = _driver(base, line, asked, parts.next())

    def driven(by: Driver) -> Driven:
        return _driven(base, b, cars, names, line, oval, asked, by, draws, parts.again())

    found, held = held_back(driven, matched)
    if held and asked.best:
        held = (*held, NO_MATCH)
    return replace(found, held=held)


def _driven(
    base: Packed, b: Assembly | None, cars: Sequence[Packed], names: tuple[str, ...], line: Line, oval: Track,
    asked: Asked, driver: Driver, draws: int, parts: _Parts,
) -> Driven:  # fmt: skip
    """All of it by one driver. Raises NoLap where he does not get round."""
    day, tell = asked.day, parts.next()
    laps = [lap_study(car, line, day, driver) for car in cars]
    bands = [Band(asked.best)] if asked.best else [lap_band(laps[0], day, tell)]
    bands += [Band(one.time) for one in laps[1:]]
    found = gears_study(cars[-1], line, day, driver, progress=parts.next())
    answer, runs = _runs(base, b, line, oval, asked, driver, draws, parts.next())
    tell = parts.next()
    trims = []
    for number, car in enumerate(cars):
        tell(number, len(cars))
        trims.append(run_study(with_fuel(car, asked.trim_fuel), line, day, QUALIFYING, driver))
    compared = _compared(answer) if answer else None
    return Driven(
        lap_chart=_lap_chart(names, laps),
        run_chart=_run_chart(names, runs, answer),
        laps=tuple(_lap_told(one, band) for one, band in zip(laps, bands, strict=True)),
        runs=tuple(_run_told(one) for one in runs),
        trims=tuple(_run_told(one) for one in trims),
        gears=_gears_told(found),
        compared=compared,
        driver=driver,
        held=(),
        notes=tuple(dict.fromkeys(note for one in (*runs, *trims) for note in one.notes)),
    )


def at_once(
    a: Assembly, b: Assembly | None, names: tuple[str, ...], oval: Track, asked: Asked
) -> tuple[Chart, tuple[LapTold, ...], tuple[str, ...]]:
    """One lap of each as the files say that tires grip, which takes a blink, and where their driver was held
    back. Raises DocumentError, NoLap.
    """
    line = groove_line(oval, lay(oval).ribbon, asked.groove)
    base = with_fuel(build(a), asked.fuel)
    cars = pair(base, b) if b is not None else (base,)
    laps, held = held_back(lambda by: [lap_study(car, line, asked.day, by) for car in cars], DRIVER)
    return _lap_chart(names, laps), tuple(_lap_told(one, Band(one.time)) for one in laps), held


def _driver(base: Packed, line: Line, asked: Asked, tell: Progress) -> Driver:
    if asked.best is None:
        return DRIVER
    return matching_run(base, line, asked.day, asked.laps, asked.best, DRIVER, progress=tell).driver


def _run(car: Packed, line: Line, asked: Asked, driver: Driver, tell: Progress) -> Run:
    def progress(share: float) -> None:
        tell(round(100 * share), 100)

    return run_study(car, line, asked.day, asked.laps, driver, progress=progress)


def _runs(
    base: Packed, b: Assembly | None, line: Line, oval: Track, asked: Asked, driver: Driver, draws: int,
    tell: Progress,
) -> tuple[Against | None, list[Run]]:  # fmt: skip
    if b is None:
        return None, [_run(base, line, asked, driver, tell)]
    answer = against_study(
        base, b, line, oval, asked.day, asked.laps, driver, draws=draws, best=asked.best, progress=tell
    )
    return answer, [answer.a, answer.b]


# ---------------- what goes back


def _lap_chart(names: Sequence[str], laps: Sequence[Lap]) -> Chart:
    traces = [
        LapTrace(
            name,
            one.line.distance,
            one.line.length,
            one.speed,
            one.corners["load"],
            one.lateral,
            told_rules(one),
            [(event.distance, event.text) for event in one.events],
            sections_along(one.line),
        )
        for name, one in zip(names, laps, strict=True)
    ]
    return lap_chart(traces, title="One lap")


def _run_chart(names: Sequence[str], runs: Sequence[Run], answer: Against | None) -> Chart:
    """Lap times, that of B with the band of its difference to A, and treads; where neither can be called, a
    zone.
    """
    slowest = slowest_shown([one.times for one in runs])
    bands = [np.empty((0, 2)) for _ in runs]
    if answer is not None and answer.lap_bands.size:
        bands[1] = answer.a.times[:, None] + answer.lap_bands
    told = zip(names, runs, bands, strict=True)
    chart = run_chart([_run_trace(name, one, slowest, ends) for name, one, ends in told], title="The run")
    band = answer.quicker if answer else None
    if band is None or not math.isfinite(band.low):
        return chart
    return replace(chart, zones=(*chart.zones, Piece(band.low, band.high, UNSURE, True)))


def _run_trace(name: str, one: Run, slowest: float, ends: Array) -> RunTrace:
    times = come_in(one.times, slowest)
    low, high = (np.where(np.isfinite(times), side, np.nan) for side in ends.T) if ends.size else ((), ())
    return RunTrace(name, times, low, high, goes_away=read_run(one).went_away, beside=one.of("tread"))


def _lap_told(one: Lap, band: Band) -> LapTold:
    return LapTold(
        one.time,
        band,
        tuple(one.sections),
        ruled(one),
        tuple((event.distance, event.text) for event in one.events),
        on_the_car(one),
    )


def _run_told(one: Run) -> RunTold:
    first, last, reading = one.laps[0], one.laps[-1], read_run(one)
    density = one.packed.values()[0].fuel_cell.density
    best = one.laps[reading.summary.best_lap - 1]
    end = last.fuel - last.burned
    return RunTold(
        laps=len(one.laps),
        reading=reading,
        lost=reading.lost,
        fuel=(first.fuel / density, end / density),
        stagger=(first.stagger, last.stagger),
        cross=(_cross(one.packed), _cross(with_fuel(one.packed, end))),
        best_balance=best.balance,
        tread=last.tread,
        pressure=last.pressure,
        wear=last.wear,
        times=one.times,
    )


def _cross(car: Packed) -> float:
    loads = car.standing.corners()["load"]
    return float((loads[1] + loads[2]) / loads.sum())


def _gears_told(found: Gears) -> GearsTold:
    rows = tuple(
        GearTold(
            one.name,
            one.ratio,
            one.fitted,
            one.lap.time if one.lap else math.nan,
            float(one.lap.engine_speed.max()) if one.lap else math.nan,
            one.on_the_limiter,
            one.why,
        )
        for one in found.rows
    )
    best, kinder = found.best, found.kinder
    return GearsTold(rows, best.name if best else "", kinder.name if kinder else "", found.owned)


def _compared(answer: Against) -> Compared:
    return Compared(
        figures=answer.figures,
        quicker=answer.crossover.quicker,
        ahead=answer.crossover.ahead,
        quicker_band=answer.quicker,
        gets_ahead=answer.gets_ahead,
        draws=answer.draws,
        failed=answer.failed,
        b_stands=answer.b_stands,
        laps_to_see=answer.laps_to_see,
        two_laps_give=_two_laps_give(answer.lap_bands),
    )


def _two_laps_give(lap_bands: Array) -> float:
    """Half the band of both qualifying laps together [s], as if both were off the same way."""
    first = lap_bands[:QUALIFYING]
    return 0.5 * float((first[:, 1] - first[:, 0]).sum()) if len(first) else math.nan
