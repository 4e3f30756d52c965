"""What a test of one change can tell: A, then B, then A again, or A-B-B-A, and laps that scatter.

The mean of the outer legs taken from that of the inner ones is free of a drift that runs evenly through the
test: legs of one length (Box, Hunter & Hunter, Statistics for Experimenters, 1978, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from .bands import Band
from .falloff import FEWEST, Fade

Array = npt.NDArray[np.float64]
Plan = Literal["A-B-A", "A-B-B-A"]

LEGS: dict[Plan, tuple[int, int]] = {"A-B-A": (2, 1), "A-B-B-A": (2, 2)}
"""Legs of A and of B."""
SURE, POWER = 0.95, 0.80
"""Chance of not seeing a difference where there is none, and of seeing the one asked for."""
MOST_LAPS = 1000
"""Laps a leg beyond which no test is proposed."""
MOST_CORRELATED = 0.9


@dataclass(frozen=True)
class Scatter:
    """The racer's own laps about his own fade: one standard deviation [s], how alike two laps that follow are
    (correlation, 0 where they are not), and the laps it rests on.
    """

    sigma: float
    correlation: float
    laps: int


def own_scatter(run: Fade) -> Scatter:
    """Scatter of the laps of a run about its fade, in the shape that fits best.

    The correlation is that of laps that follow each other, less the bias of a fitted line, -(1 + 4 r) / n
    (after Kendall, Biometrika 41, 1954, from memory), and never negative.
    """
    held = np.clip(run.residuals, -3.0 * run.scatter, 3.0 * run.scatter)
    pairs = np.flatnonzero(np.diff(run.numbers) == 1)
    n, total = len(held), float(held @ held) / len(held)
    if total == 0.0 or len(pairs) < FEWEST:
        return Scatter(run.scatter, 0.0, n)
    raw = float(np.mean(held[pairs] * held[pairs + 1])) / total
    unbiased = (n * raw + 1.0) / (n - 4.0) if n > 4 else raw
    return Scatter(run.scatter, float(np.clip(unbiased, 0.0, MOST_CORRELATED)), n)


# ---------------- planning a test


@dataclass(frozen=True)
class Trial:
    """A planned test: laps at speed in each leg, how many times the plan is run, the scatter of a lap [s] and
    the correlation of laps that follow.
    """

    sigma: float
    laps: int
    plan: Plan = "A-B-A"
    rounds: int = 1
    correlation: float = 0.0

    def __post_init__(self) -> None:
        if not (self.laps >= 2 and self.rounds >= 1 and self.sigma >= 0.0 and 0.0 <= self.correlation < 1.0):
            raise ValueError(
                "a test needs two laps a leg or more, one round or more, and a scatter not below zero"
            )

    @property
    def standard_error(self) -> float:
        """Standard deviation [s] of the measured difference of B from A.

        Laps that follow each other with correlation phi count as (1 - phi) / (1 + phi) of a lap each.
        """
        a, b = LEGS[self.plan]
        alone = self.sigma * math.sqrt((1.0 / a + 1.0 / b) / (self.laps * self.rounds))
        return alone * math.sqrt((1.0 + self.correlation) / (1.0 - self.correlation))

    @property
    def freedom(self) -> int:
        """Degrees of freedom of the scatter as measured within the legs."""
        return sum(LEGS[self.plan]) * self.rounds * (self.laps - 1)

    @property
    def smallest(self) -> float:
        """The smallest difference [s] that is seen with POWER when a false one is seen with 1 - SURE."""
        from scipy import stats

        quantiles = stats.t.ppf([0.5 + 0.5 * SURE, POWER], self.freedom)
        return float(quantiles.sum()) * self.standard_error

    def power(self, difference: float) -> float:
        """Chance that a true difference [s] is seen: the noncentral t distribution, both sides."""
        from scipy import stats

        if self.standard_error == 0.0:
            return 1.0 if difference else 0.0
        edge, shift = stats.t.ppf(0.5 + 0.5 * SURE, self.freedom), abs(difference) / self.standard_error
        far = stats.nct.sf(edge, self.freedom, shift) + stats.nct.cdf(-edge, self.freedom, shift)
        return float(far)


def laps_needed(
    difference: float, sigma: float, *, plan: Plan = "A-B-A", rounds: int = 1, correlation: float = 0.0
) -> int | None:
    """Laps a leg [-] to see a difference [s]; None where MOST_LAPS are not enough."""
    sought = abs(difference)

    def short(laps: int) -> bool:
        return Trial(sigma, laps, plan, rounds, correlation).smallest > sought

    if short(MOST_LAPS):
        return None
    low, high = 2, MOST_LAPS
    while low < high:
        middle = (low + high) // 2
        low, high = (middle + 1, high) if short(middle) else (low, middle)
    return low


# ---------------- reading a test


@dataclass(frozen=True)
class Leg:
    """One leg of a test: which car, A or B, times of its laps at speed [s], and the laps its tires had run
    before each.
    """

    car: Literal["A", "B"]
    times: Sequence[float]
    on_tires: Sequence[float]


@dataclass(frozen=True)
class Difference:
    """B less A [s], + slower, with its 95 % band; what a lap on the tires costs [s/lap]; the scatter of a lap
    [s]; and whether the band leaves out zero.
    """

    effect: Band
    per_lap: float
    scatter: float
    seen: bool


def difference(legs: Sequence[Leg]) -> Difference:
    """What a change made of the laps: one regression on the laps on the tires and on B.

    Raises ValueError when there is no leg of A before and after B, when a leg has fewer than two laps, or
    when B alone ran on fresher tires: then tires and change cannot be told apart.
    """
    from scipy import stats

    order = [leg.car for leg in legs]
    if order.count("B") == 0 or order.count("A") < 2 or order[0] != "A" or order[-1] != "A":
        raise ValueError("a test needs the car as it was before and after the change: run A, B, then A again")
    if min(len(leg.times) for leg in legs) < 2 or any(len(leg.times) != len(leg.on_tires) for leg in legs):
        raise ValueError(
            "every leg of a test needs two laps at speed or more, each with the laps on its tires"
        )
    _same_tires(legs)
    times = np.concatenate([np.asarray(leg.times, dtype=float) for leg in legs])
    age = np.concatenate([np.asarray(leg.on_tires, dtype=float) for leg in legs])
    is_b = np.concatenate([np.full(len(leg.times), float(leg.car == "B")) for leg in legs])
    design = np.column_stack([np.ones(len(times)), age - age.mean(), is_b])
    found, _, rank, _ = np.linalg.lstsq(design, times, rcond=None)
    if rank < 3:
        raise ValueError("the laps on the tires are the same on every lap: count them from lap to lap")
    free = len(times) - 3
    residuals = times - design @ found
    scatter = math.sqrt(float(residuals @ residuals) / free)
    half = (
        float(stats.t.ppf(0.5 + 0.5 * SURE, free))
        * scatter
        * math.sqrt(np.linalg.inv(design.T @ design)[2, 2])
    )
    effect = Band(float(found[2]), float(found[2]) - half, float(found[2]) + half)
    return Difference(effect, float(found[1]), scatter, effect.sure_of_sign)


def _same_tires(legs: Sequence[Leg]) -> None:
    """Refuse a test in which B, and no later A, began on fresher tires than the leg before it."""
    fresher = [i for i, leg in enumerate(legs) if i and leg.on_tires[0] < legs[i - 1].on_tires[-1]]
    if fresher and all(legs[i].car == "B" for i in fresher):
        raise ValueError(
            "only B ran on fresher tires, so tires and change are not told apart; change all or none"
        )


# ---------------- best laps


@cache
def best_of_normal(laps: int) -> tuple[float, float]:
    """Mean and standard deviation of the best of so many normal laps, in standard deviations of a lap from
    their mean (negative: quicker), by quadrature. Raises ValueError for less than one lap.
    """
    from scipy import integrate, stats

    if laps < 1:
        raise ValueError("the best of no laps is nothing: give one lap or more")

    def moment(power: int) -> float:
        def weighed(x: float) -> float:
            return float(x**power * laps * stats.norm.pdf(x) * stats.norm.sf(x) ** (laps - 1))

        return float(integrate.quad(weighed, -12.0, 12.0, epsabs=1e-12, epsrel=1e-12, limit=200)[0])

    mean = moment(1)
    return mean, math.sqrt(moment(2) - mean**2)
