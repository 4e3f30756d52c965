"""What the times of a run tell: its best, its fall-off, and the lap when it goes away, if there is one.

Fall-off is the median slope of all pairs of laps after the warm-up (Theil 1950; Sen, J. Am. Stat. Assoc.
63, 1968, from memory): a few laps in traffic do not move it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from .bands import Band

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Shape = Literal["even", "growing", "goes away"]

EARLY, LATE = (3, 7), (20, 25)
"""Laps whose mean the trade looks at: the first good ones, and those of a long run."""
WARM_UP = 2
"""Laps that are never counted to the fade: the tires come in (common practice, no source)."""
COMING_IN = (1.5, 3.0, 6.0)
"""Laps in which what the tires still lack falls to 1/e while they come in: the values tried."""
LEFT = 0.2
"""Share of the scatter of a lap below which tires that come in no longer count."""
FEWEST = 6
"""Laps at speed below which no fall-off is stated."""
TOO_SLOW = 1.2
"""A lap slower than the median by this factor is no lap at speed, whatever its flag says."""
TO_SIGMA = 1.4826
"""Standard deviation of normal scatter over its median absolute deviation: 1 / 0.67449."""
HUBER = 1.345
"""Residual, in standard deviations, from which on a lap counts less; 95 % as sure as least squares on normal
scatter (Huber, Ann. Math. Stat. 35, 1964, from memory)."""
ITERATIONS = 50
FINEST = 1e-4
"""Least scatter of a lap [s] reckoned with: a clock shows no finer."""
EACH_SIDE = 4
"""Laps before and after a break of the fade, so that both slopes are told by laps."""
OVER_EVEN, OVER_GROWING = 6.0, 2.0
"""Margins of the Bayesian information criterion (Schwarz, Ann. Stat. 6, 1978, from memory) by which a break
must beat one straight fade and one that grows evenly: strong and positive evidence (Kass & Raftery, J. Am.
Stat. Assoc. 90, 1995, from memory). Of a hundred fades without a break, one or two are then given one."""
LEAST_BREAK = 0.01
"""Growth of the fade at a break, s per lap, below which a racer does not call it going away."""


@dataclass(frozen=True)
class Break:
    """Where the fade changes its slope: the last lap of the old slope, and both slopes [s/lap]."""

    lap: int
    before: float
    after: float


@dataclass(frozen=True)
class Fade:
    """How a run fades, from lap `first` on, where tires that come in no longer count.

    `slope` [s/lap] is the median of all pairs, with the 95 % band of Sen, and `start` [s] the time at lap 0
    by it; they rest on `laps`. `shape` is that which fits best, with its break where it `goes_away`. `smooth`
    are the times of laps `numbers` by that shape [s], `residuals` what the laps left of it [s], and `scatter`
    is one standard deviation of a lap about it [s].
    """

    first: int
    start: float
    slope: Band
    laps: int
    shape: Shape
    goes_away: Break | None
    numbers: Array
    smooth: Array
    residuals: Array
    scatter: float

    @property
    def per_ten(self) -> Band:
        """Fall-off per ten laps [s], + slower."""
        return Band(10.0 * self.slope.value, 10.0 * self.slope.low, 10.0 * self.slope.high)


@dataclass(frozen=True)
class RunSummary:
    """A run in the numbers the trade looks at; NaN where the run has no such laps.

    `best` [s] at lap `best_lap`, `early` and `late` means of laps EARLY and LATE [s], `total` [s] of all laps
    listed. `fade` is None where too few laps are at speed, and `why` says how many are needed.
    """

    laps: int
    at_speed: int
    best: float
    best_lap: int
    early: float
    late: float
    total: float
    fade: Fade | None
    why: str


def at_speed(
    times: Sequence[float] | Array, green: Sequence[bool] | npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Which laps were run at speed: green, and no more than a fifth slower than the median of those."""
    told = np.asarray(times, dtype=float)
    counted: Flags = np.asarray(green, dtype=bool) & np.isfinite(told)
    if not counted.any():
        return counted
    counted &= told <= TOO_SLOW * np.median(told[counted])
    return counted


def summary(
    numbers: Sequence[int] | Array,
    times: Sequence[float] | Array,
    green: Sequence[bool] | Flags | None = None,
    *,
    scatter: float = FINEST,
) -> RunSummary:
    """Summary of a run from lap numbers, times [s] and which laps were green (all, when left out).

    `scatter` is the least scatter of a lap [s] reckoned with: computed times have none of their own.
    Raises ValueError when no lap was run at speed, or the lists are not of one length.
    """
    laps, all_times = np.asarray(numbers, dtype=float), np.asarray(times, dtype=float)
    flags = np.ones(len(laps), dtype=bool) if green is None else np.asarray(green, dtype=bool)
    if not len(laps) == len(all_times) == len(flags):
        raise ValueError("numbers, times and flags of a run must be of one length")
    kept = at_speed(all_times, flags)
    if not kept.any():
        raise ValueError("no lap of the run is green: nothing can be said of its speed")
    k, t = laps[kept], all_times[kept]
    told, why = None, ""
    try:
        told = fade(k, t, scatter)
    except ValueError as few:
        why = str(few)
    return RunSummary(
        laps=len(laps),
        at_speed=len(k),
        best=float(t.min()),
        best_lap=int(k[np.argmin(t)]),
        early=mean_of(k, t, EARLY),
        late=mean_of(k, t, LATE),
        total=float(np.nansum(all_times)),
        fade=told,
        why=why,
    )


def mean_of(numbers: Array, times: Array, span: tuple[int, int]) -> float:
    """Mean [s] of the laps of a span, NaN where fewer than half of them are there."""
    inside = (numbers >= span[0]) & (numbers <= span[1])
    return float(times[inside].mean()) if 2 * inside.sum() >= span[1] - span[0] + 1 else math.nan


# ---------------- the fade


def fade(numbers: Array, times: Array, scatter: float = FINEST) -> Fade:
    """How the laps at speed of a run fade, with a least scatter [s]. Raises ValueError, which says how many
    laps are needed, on too few.
    """
    from scipy.stats import theilslopes

    k, t = numbers[numbers > WARM_UP], times[numbers > WARM_UP]
    if len(k) < FEWEST:
        wanted = f"{FEWEST} laps at speed or more from lap {WARM_UP + 1} on"
        raise ValueError(f"a fall-off needs {wanted}, and there are {len(k)}")
    shape, fit = shape_of(k, t, scatter)
    late = k >= settled(k, t, fit, scatter)
    slope, start, low, high = theilslopes(t[late], k[late], alpha=0.95, method="separate")
    return Fade(
        first=int(k[late][0]),
        start=float(start),
        slope=Band(float(slope), float(low), float(high)),
        laps=int(late.sum()),
        shape=shape,
        goes_away=break_of(fit, k) if shape == "goes away" else None,
        numbers=k,
        smooth=fit.times,
        residuals=t - fit.times,
        scatter=spread(t - fit.times, parameters=fit.parameters),
    )


def settled(numbers: Array, times: Array, shape: Fit, least: float) -> int:
    """The lap from which tires that come in no longer count: the first at which what is left of it, fitted
    beside the shape of the fade, is less than LEFT of the scatter. The first lap where too few are left.

    The coming in is always fitted, whether the laps tell it or not: else a slow one passes for a smaller
    fall-off, and the band holds the truth in two runs of three instead of nine of ten.
    """
    scale = max(spread(times - shape.times, parameters=shape.parameters), least)
    found = best_of(with_coming_in(shape.alone[None], numbers), times, scale, rising=False)
    if len(numbers) < FEWEST + EACH_SIDE or not math.isfinite(found.information):
        return int(numbers[0])
    late = numbers[found.coefficients[-1] * found.design[:, -1] < LEFT * scale]
    return int(late[0]) if len(late) >= FEWEST else int(numbers[0])


def spread(residuals: Array, *, parameters: int = 0) -> float:
    """Standard deviation of residuals by their median size, for `parameters` fitted; blind to outliers."""
    free = len(residuals) / max(len(residuals) - parameters, 1)
    return float(TO_SIGMA * np.median(np.abs(residuals)) * math.sqrt(free))


def scatter_of_steps(times: Array) -> float:
    """Standard deviation of a lap [s] from the steps from lap to lap, whatever the shape of the fade."""
    steps = np.diff(times)
    return spread(steps - np.median(steps)) / math.sqrt(2.0)


# ---------------- does it go away


@dataclass(frozen=True)
class Fit:
    """The best of several linear fits: its design (n, p), coefficients, how many parameters it has with those
    that chose the design, information criterion, and the design without tires that come in.
    """

    design: Array
    coefficients: Array
    parameters: int
    information: float
    alone: Array

    @property
    def times(self) -> Array:
        """Times by the fit [s]."""
        return np.asarray(self.design @ self.coefficients, dtype=float)


def shape_of(numbers: Array, times: Array, least: float) -> tuple[Shape, Fit]:
    """Whether a fade is even, grows evenly (a parabola), or breaks at a lap from which it is steeper.

    All three are fitted with Huber's loss at one scatter, each with and without tires that come in. It goes
    away when a break to a steeper slope, with EACH_SIDE laps on both sides, beats the even fade by OVER_EVEN
    and the growing one by OVER_GROWING in the information criterion, and steepens by LEAST_BREAK at least.
    """
    line, scale = even(numbers), max(scatter_of_steps(times), least)
    if len(numbers) < FEWEST + EACH_SIDE:
        return "even", best_of(line, times, scale)
    shapes: dict[Shape, Array] = {"even": line, "growing": growing(numbers), "goes away": breaking(numbers)}
    for _ in range(2):
        fits = {name: best_shape(designs, numbers, times, scale) for name, designs in shapes.items()}
        widest = fits["goes away"]
        scale = max(spread(times - widest.times, parameters=widest.parameters), least)
    told = {name: fit.information for name, fit in fits.items()}
    steepens = break_of(widest, numbers)
    wins = told["goes away"] + OVER_EVEN < told["even"] and told["goes away"] + OVER_GROWING < told["growing"]
    if wins and steepens.after - steepens.before >= LEAST_BREAK and steepens.after > 0.0:
        return "goes away", widest
    grows = told["growing"] + OVER_EVEN < told["even"] and fits["growing"].coefficients[2] > 0.0
    return ("growing", fits["growing"]) if grows else ("even", fits["even"])


def break_of(fit: Fit, numbers: Array) -> Break:
    """The break of a fit by `breaking`."""
    before, steeper = fit.coefficients[1:3]
    last = numbers[np.flatnonzero(fit.design[:, 2] > 0.0)[0] - 1]
    return Break(int(last), float(before), float(before + steeper))


def even(numbers: Array) -> Array:
    """Design (1, n, 2) of an even fade about the middle of the run."""
    return np.column_stack([np.ones(len(numbers)), numbers - numbers.mean()])[None]


def growing(numbers: Array) -> Array:
    """Design (1, n, 3) of a fade that grows evenly."""
    line = even(numbers)
    return np.concatenate([line, line[:, :, 1:] ** 2], axis=2)


def breaking(numbers: Array) -> Array:
    """Designs (m, n, 3) of a fade with a break at each lap that has EACH_SIDE laps on both sides."""
    places = numbers[EACH_SIDE - 1 : len(numbers) - EACH_SIDE]
    hinges = np.maximum(numbers[None, :] - places[:, None], 0.0)
    return np.concatenate([np.repeat(even(numbers), len(places), axis=0), hinges[:, :, None]], axis=2)


def with_coming_in(designs: Array, numbers: Array) -> Array:
    """Every design with a last column for tires that come in, once for each of COMING_IN."""
    decay = np.exp(-(numbers[None, :] - numbers[0]) / np.array(COMING_IN)[:, None])
    many = np.repeat(designs, len(COMING_IN), axis=0)
    return np.concatenate([many, np.tile(decay, (len(designs), 1))[:, :, None]], axis=2)


def best_shape(designs: Array, numbers: Array, times: Array, scale: float) -> Fit:
    """The best fit of one shape; a break's place is counted as one parameter more."""
    place = 1 if len(designs) > 1 else 0
    plain = best_of(designs, times, scale, hidden=place)
    coming = best_of(with_coming_in(designs, numbers), times, scale, hidden=place + 1, rising=False)
    return min(plain, coming, key=lambda fit: fit.information)


def best_of(designs: Array, times: Array, scale: float, *, hidden: int = 0, rising: bool = True) -> Fit:
    """The design that fits best by Huber's cost and the information criterion with `hidden` parameters more;
    without `rising`, only fits whose last coefficient is positive (tires get quicker as they come in).
    """
    found, cost = huber_fit(designs, times, scale)
    allowed = cost if rising else np.where(found[:, -1] > 0.0, cost, np.inf)
    at = int(np.argmin(allowed))
    parameters = designs.shape[2] + hidden
    information = float(allowed[at] + parameters * math.log(len(times)))
    return Fit(
        designs[at], found[at], parameters, information, designs[at][:, : designs.shape[2] - (not rising)]
    )


def huber_fit(designs: Array, times: Array, scale: float) -> tuple[Array, Array]:
    """Coefficients (m, p) and twice Huber's cost (m,) of m linear fits at once, designs (m, n, p).

    Re-weighted least squares; the cost of a residual r is r^2 up to HUBER scales and linear beyond, in units
    of the scale [s].
    """
    weights = np.ones(designs.shape[:2])
    found = np.zeros((designs.shape[0], designs.shape[2]))
    for _ in range(ITERATIONS):
        weighted = designs.transpose(0, 2, 1) * weights[:, None, :]
        was = found
        solved = np.linalg.solve(weighted @ designs, (weighted @ times)[:, :, None])
        found = np.asarray(solved[:, :, 0], dtype=float)
        size = np.abs(times - (designs @ found[:, :, None])[:, :, 0]) / scale
        weights = np.minimum(1.0, HUBER / np.maximum(size, 1e-12))
        if np.allclose(found, was, rtol=1e-8, atol=1e-8):
            break
    return found, np.where(size <= HUBER, size**2, 2.0 * HUBER * size - HUBER**2).sum(axis=1)


# ---------------- two runs


@dataclass(frozen=True)
class Crossover:
    """Two runs of one length: the lap from which B is quicker on every lap to the end, the lap from which it
    is ahead on total time to the end, None where it never is, and B's lead at the end [s], - behind. A gain
    that no clock shows (FINEST) is none.
    """

    quicker: int | None
    ahead: int | None
    lead: float


def crossover(a: Sequence[float] | Array, b: Sequence[float] | Array) -> Crossover:
    """When run B overtakes run A, from their times of laps 1, 2, ... [s]; as many laps as both have.

    Raises ValueError when a time is missing.
    """
    laps = min(len(a), len(b))
    gains = np.asarray(a[:laps], dtype=float) - np.asarray(b[:laps], dtype=float)
    if laps == 0 or not np.isfinite(gains).all():
        raise ValueError("two runs can be compared only over laps that both have, every one with its time")
    lead = np.cumsum(gains)
    return Crossover(_to_the_end(gains), _to_the_end(lead), float(lead[-1]))


def _to_the_end(gains: Array) -> int | None:
    """The lap from which all gains [s] are positive to the end."""
    behind = np.flatnonzero(gains <= FINEST)
    first = int(behind[-1]) + 2 if len(behind) else 1
    return first if first <= len(gains) else None
