"""A lap list matched to the car's own run: how much grip there was, how hot the tires got, how they aged.

The run is computed as the list says it went, with its yellows and stops, made linear in the factors, fitted
(`matching`), and computed again where the fit is, until both agree. What was known before stays in: lap times
alone hardly tell a driver's use of the grip from the grip.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Conditions, LapList
from ovalwright.mechanics import heat
from ovalwright.pack import Packed
from ovalwright.road import Line
from ovalwright.vehicle.record import CORNERS

from .bands import Band
from .falloff import WARM_UP, at_speed, summary
from .lap import DRIVER, GRIP_POWER, MOST_USED, USE_BAND, Driver, NoLap
from .matching import Factor, Match, Readings, enough, lap_times, match
from .run import Flag, Run, Stop, Stretch, run
from .uncertain import IN_BAND

Array = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]

GRIP, USE, HEAT, AGE = (
    "grip of the tires",
    "the driver's use of it",
    "heat into the tires",
    "loss by age and wear",
)
SPREADS = {GRIP: 0.15, HEAT: 0.2, AGE: 0.7}
"""One standard deviation of the logarithm of what the documents are taken times (common practice, no
source)."""
STEPS = {GRIP: 0.03, USE: -0.01, HEAT: 0.1, AGE: 0.3}
"""Steps for slopes."""
FAR = 2.0
"""Most spreads a factor moves from one pass to the next."""
PASSES = 5
SAME = 0.01
"""The run at the fit is where the slopes said it would be [s], root mean square of the laps counted."""
MOST_LAPS = 300
READ_AFTER = 60.0
"""Seconds a car has stood when its tires are read (common practice, no source)."""
ERRORS = {
    "lap times": (math.nan, 0.05),
    "hot pressures": (0.5 * 6894.757, 0.7 * 6894.757),
    "roll-outs": (0.0016, 0.003),
    "tread temperatures": (4.0, 8.0),
}
"""Of each kind of reading, one standard deviation of a reading and of the model, SI (common practice, no
source)."""
CHECK = (
    "check length, radius and groove of the track, the gear and the fuel, and whether the list is of this car"
)
MOST_OFF = 0.5
"""Logarithm of the grip beyond which nothing is matched."""
FAR_OFF = 0.2
"""Logarithm of the grip from which on something else than grip is likely."""
TOGETHER = 0.7
"""Correlation from which on two factors are said to be told only together."""


@dataclass(frozen=True, eq=False)
class LapMatch:
    """The list and the car's run brought together.

    `grip`, `heat`, `age`: what the documents are taken times; `use`: share of the grip; each with its 95 %
    band. `run` is that of the car so matched, `driver` who drove it; `counted` which laps of the list did,
    `left` what each lap took beyond the run and `scatter` one standard deviation of a lap [s]. `kinds`,
    `read` and `said` are the kinds of reading, what was read, NaN where nothing was, and what the run has
    there. `untold` are sentences on what the list does not tell; `goes_away` is the lap after which it gets
    slower faster, None where there is none; `runs` were computed.
    """

    grip: Band
    use: Band
    heat: Band
    age: Band
    run: Run
    driver: Driver
    counted: npt.NDArray[np.bool_]
    left: Array
    scatter: float
    kinds: tuple[str, ...]
    read: tuple[Array, ...]
    said: dict[str, Array]
    fit: Match
    untold: tuple[str, ...]
    goes_away: int | None
    runs: int


def match_laps(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    listed: LapList,
    driver: Driver = DRIVER,
    progress: Progress | None = None,
) -> LapMatch:
    """Match a lap list to the run of a car with its fuel at the start on a line and a day.

    Raises ValueError in one sentence when the laps are too few, too many, or the fit does not settle; NoLap
    when the car does not get round as the list wants it.
    """
    kept = at_speed(listed.times, listed.green) & (np.array(listed.numbers) > WARM_UP)
    factors, readings = factors_of(driver), readings_of(listed, kept)
    enough(factors, readings)
    model = AsListed(packed, line, conditions, listed, driver, progress)
    theta = np.array([factor.before for factor in factors])
    found = model.runs([theta])[0]
    theta, found = model.nearer(theta, _toward(theta, found, readings[0], listed), found)
    for _ in range(PASSES):
        base, slopes = model.said(found), model.slopes(theta, found)
        fit = match(factors, readings, linear(theta, base, slopes))
        aim = np.array([one.value.value for one in fit.factors])
        reach = FAR * np.array([factor.spread for factor in factors])
        was, (theta, found) = theta, model.nearer(theta, theta + np.clip(aim - theta, -reach, reach), found)
        wrong = model.said(found)[0] - linear(was, base, slopes)(aim)[0]
        if np.allclose(theta, aim, rtol=0.0, atol=1e-9) and math.sqrt(np.mean(wrong[kept] ** 2)) < SAME:
            return model.told(fit, found, kept, readings)
    raise ValueError(f"{listed.name}: the run and the list do not come together: {CHECK}")


def factors_of(driver: Driver) -> tuple[Factor, ...]:
    """What is known before: logarithms of what the documents are taken times, and the driver's use."""
    use = Factor(USE, driver.use, USE_BAND / IN_BAND, 0.6, MOST_USED)
    grip, warm, age = (Factor(name, 0.0, spread, -0.9, 0.9) for name, spread in SPREADS.items())
    return grip, use, warm, replace(age, low=-3.0, high=3.0)


def _toward(theta: Array, found: Run, laps: Readings, listed: LapList) -> Array:
    """The factors with the grip by which the run would be about as quick as the list. Raises ValueError when
    that is more or less than grip can be.
    """
    taken = np.isfinite(laps.values)
    ours, theirs = found.times[np.array(listed.numbers)[taken] - 1].mean(), laps.values[taken].mean()
    guess = GRIP_POWER * math.log(ours / theirs)
    if abs(guess) > MOST_OFF:
        raise ValueError(
            f"{listed.name}: its laps take {theirs:.2f} s and those of the run {ours:.2f} s, which no grip "
            f"explains: {CHECK}"
        )
    return np.array([guess, *theta[1:]])


def linear(at: Array, base: Sequence[Array], slopes: Sequence[Array]) -> Callable[[Array], list[Array]]:
    """The run in straight lines about `at`."""
    return lambda theta: [here + slope @ (theta - at) for here, slope in zip(base, slopes, strict=True)]


# ---------------- the list


def plan_of(listed: LapList) -> tuple[Stretch, ...]:
    """The run that a list is of: a lap that is missing counts as the one before it, pit laps as yellow; the
    car stands READ_AFTER where tires were read. Raises ValueError on more than MOST_LAPS.
    """
    last = listed.laps[-1].number
    if last > MOST_LAPS:
        raise ValueError(
            f"{listed.name}: {last} laps are more than a match takes; give a list of one run, numbered "
            f"from 1, with {MOST_LAPS} laps at most"
        )
    known = {one.number: one for one in listed.laps}
    plan: list[Stretch] = []
    flag: Flag = "green"
    stop: Stop | None = None
    for number in range(1, last + 1):
        one = known.get(number)
        flag = flag if one is None else "yellow" if one.flag in ("yellow", "pit") else "green"
        if plan and stop is None and plan[-1].flag == flag:
            plan[-1] = replace(plan[-1], laps=plan[-1].laps + 1)
        else:
            plan.append(Stretch(1, flag, stop))
        stop = Stop(seconds=READ_AFTER) if one and one.tires else None
    return (*plan, Stretch(1, "yellow", stop)) if stop else tuple(plan)


def readings_of(listed: LapList, kept: npt.NDArray[np.bool_]) -> tuple[Readings, ...]:
    """Lap times, hot pressures, roll-outs and tread temperatures (laps, 4), NaN where not taken.

    A tread has one temperature in a run: the mean of the thirds that were read. Raises ValueError when the
    laps are too few.
    """
    times = lap_times(
        np.array(listed.numbers, dtype=float),
        np.array(listed.times),
        kept,
        model_error=ERRORS["lap times"][1],
    )
    thirds = np.array([lap.temperatures for lap in listed.laps])
    read = np.isfinite(thirds)
    mean = np.where(read, thirds, 0.0).sum(axis=1) / np.where(read.any(axis=1), read.sum(axis=1), math.nan)
    tires = (
        ("hot pressures", np.array([lap.tire("pressure") for lap in listed.laps])),
        ("roll-outs", np.array([lap.tire("roll_out") for lap in listed.laps])),
        ("tread temperatures", mean),
    )
    return (times, *(Readings(what, values, *ERRORS[what]) for what, values in tires))


# ---------------- the run


class AsListed:
    """The car's run as a list says it went, for values of the factors."""

    def __init__(
        self,
        packed: Packed,
        line: Line,
        day: Conditions,
        listed: LapList,
        driver: Driver,
        progress: Progress | None,
    ) -> None:
        self.packed, self.line, self.day, self.listed, self.driver = packed, line, day, listed, driver
        self.plan, self.at = plan_of(listed), np.array(listed.numbers) - 1
        self.progress, self.count = progress, 0

    def car(self, theta: Array) -> Packed:
        """The car with heat and age of its tires taken times what the factors say."""
        warm, age = math.exp(theta[2]), math.exp(theta[3])
        drawn = dict(self.packed.drawn)
        setup = self.packed.values()[1]
        for corner in CORNERS:
            told = getattr(setup, corner).tire.heat
            path = f"setup.{corner}.tire.heat"
            drawn[f"{path}.sliding_share"] = min(told.sliding_share * warm, 1.0)
            drawn[f"{path}.hot_loss"], drawn[f"{path}.worn_loss"] = told.hot_loss * age, told.worn_loss * age
        return replace(self.packed, drawn=drawn)

    def who(self, theta: Array) -> Driver:
        """The driver with the grip and the use of it that the factors say."""
        return replace(self.driver, grip=self.driver.grip * math.exp(theta[0]), use=float(theta[1]))

    def runs(self, thetas: Sequence[Array]) -> list[Run]:
        """The run for each set of factors. Raises NoLap."""

        def one(theta: Array) -> Run:
            return run(self.car(theta), self.line, self.day, self.plan, self.who(theta))

        found = []
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            for each in pool.map(one, thetas):
                found.append(each)
                self.count += 1
                if self.progress:
                    self.progress(self.count, max(self.count, 2 + 2 * (len(STEPS) + 1)))
        return found

    def nearer(self, start: Array, aim: Array, at_start: Run) -> tuple[Array, Run]:
        """The run at `aim`, or half way there and half of that again while the car does not get round.

        Raises NoLap when it never does.
        """
        for halved in range(4):
            theta = start + (aim - start) * 0.5**halved
            if np.array_equal(theta, start):
                return start, at_start
            try:
                return theta, self.runs([theta])[0]
            except NoLap as problem:
                why = problem
        wanted = math.exp(aim[0])
        raise NoLap(f"with {wanted:.2f} times the grip, as {self.listed.name} would have it: {why}")

    def said(self, driven: Run) -> list[Array]:
        """What every reading of the list would have been: times, pressures, roll-outs, treads.

        Tires are those of the next lap's start, for which the car stood where they were read.
        """
        after = np.minimum(self.at + 1, len(driven.laps) - 1)
        nodes = driven.of("nodes")
        return [
            driven.times[self.at],
            driven.of("pressure")[after],
            driven.of("roll_out")[after],
            nodes[after, :, heat.TREAD],
        ]

    def slopes(self, theta: Array, found: Run) -> list[Array]:
        """How the readings go with each factor: one run beside, on the side away from what the car may not
        get round.
        """
        beside = [theta + step * (np.arange(len(theta)) == i) for i, step in enumerate(STEPS.values())]
        base, moved = self.said(found), [self.said(one) for one in self.runs(beside)]
        return [
            np.stack(
                [(each[k] - base[k]) / h for each, h in zip(moved, STEPS.values(), strict=True)], axis=-1
            )
            for k in range(len(base))
        ]

    def told(
        self, fit: Match, found: Run, kept: npt.NDArray[np.bool_], readings: Sequence[Readings]
    ) -> LapMatch:
        """The answer."""
        bands = {one.name: one.value for one in fit.factors}
        times = np.array(self.listed.times)
        fade = summary(self.listed.numbers, times, self.listed.green).fade
        return LapMatch(
            grip=_exp(bands[GRIP], self.driver.grip),
            use=bands[USE],
            heat=_exp(bands[HEAT]),
            age=_exp(bands[AGE]),
            run=found,
            driver=found.driver,
            counted=kept,
            left=times - found.times[self.at],
            scatter=readings[0].scatter,
            kinds=tuple(kind.what for kind in readings),
            read=tuple(kind.values for kind in readings),
            said={kind.what: ours for kind, ours in zip(readings, self.said(found), strict=True)},
            fit=fit,
            untold=(*fit.untold, *told_together(fit)),
            goes_away=fade.goes_away.lap if fade and fade.goes_away else None,
            runs=self.count,
        )


def _exp(band: Band, times: float = 1.0) -> Band:
    return Band(*(times * math.exp(value) for value in (band.value, band.low, band.high)))


def told_together(fit: Match) -> tuple[str, ...]:
    """Sentences on pairs of factors that the list tells only together."""
    sigma = np.sqrt(np.diag(fit.covariance))
    correlation = fit.covariance / np.outer(sigma, sigma)
    return tuple(
        f"The list tells {a.name} and {b.name} only together: "
        f"{'more of one is less of the other' if correlation[i, j] < 0.0 else 'more of one is more of both'}."
        for (i, a), (j, b) in combinations(enumerate(fit.factors), 2)
        if abs(correlation[i, j]) >= TOGETHER
    )
