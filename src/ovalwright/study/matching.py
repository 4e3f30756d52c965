"""A model brought to agree with what was measured in a run: the few factors that the laps can tell.

Maximum a posteriori least squares: every factor has a value and a spread from before (a normal prior), every
reading its scatter, and each kind of reading an error of the model that all its readings share, so that many
laps do not make the model falsely sure (Kennedy & O'Hagan, J. R. Stat. Soc. B 63, 2001, from memory). Lap
times count by the soft L1 loss, for a lap in traffic is slow for no reason of the car. The covariance is
Laplace's: the inverse of the information of data and prior at the best fit. Directions in which the data say
less than the prior (singular value below one) are named as not told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from scipy.stats import t as student

from .bands import Band
from .falloff import fade
from .repeats import own_scatter

Array = npt.NDArray[np.float64]
Predict = Callable[[Array], Sequence[Array]]
"""From values of the factors to what each kind of reading should have been, in its unit and order."""

FEWEST_LAPS = 8
"""Laps at speed below which nothing is concluded; LAPS_A_FACTOR for each factor at least."""
LAPS_A_FACTOR = 3
MOST_STEPS = 100
"""Steps of the fit before it is given up."""
EDGE, AT_EDGE = 1e-6, 1e-3
"""Room to a bound at the start, and that at which a factor is said to have run into it, in spreads."""
CLOCK = 0.003
"""Scatter of a lap [s] below which no clock tells (transponder; common practice, no source)."""
STEP = 1e-3
"""Step of a factor for derivatives, in spreads of its prior."""
DOUBTFUL = 3.0
"""Scatters off the fit from which a reading is called doubtful."""
WEIGHT = 1.6405962
"""Weight of soft L1 rows by which their information is that of their scatter on normal laps: E[psi'] over
E[psi^2] with psi(r) = r / sqrt(1 + r^2) and r standard normal."""
MOSTLY, PARTLY = 0.8, 0.2
"""Share of a factor that lies in what the data do not tell, to be called not told, or not told apart."""


@dataclass(frozen=True)
class Factor:
    """Something of the car or the driver that laps may tell: its value and standard deviation before them,
    and the values it can have.
    """

    name: str
    before: float
    spread: float
    low: float = -math.inf
    high: float = math.inf


@dataclass(frozen=True)
class Readings:
    """One kind of reading in one unit: values (any shape, NaN where not taken), the standard deviation of
    one, that of the model's error common to all, whether some may be off for no reason of the car, and the
    degrees of freedom of the standard deviation where it was found from such readings.
    """

    what: str
    values: Array
    scatter: float
    model_error: float = 0.0
    robust: bool = False
    freedom: float = math.inf


@dataclass(frozen=True)
class Found:
    """A factor after the laps: its band, its standard deviation, and that over the one before."""

    name: str
    value: Band
    sigma: float
    narrowed: float


@dataclass(frozen=True)
class Match:
    """The fit.

    Its factors and their covariance; predictions and residuals (in scatters, NaN where not taken) by kind of
    reading; singular values, descending, of what the data tell of the factors over what was known before;
    sentences on what they do not tell; factors that ran into a bound; and steps taken.
    """

    factors: tuple[Found, ...]
    covariance: Array
    predicted: tuple[Array, ...]
    residuals: tuple[Array, ...]
    singular: Array
    untold: tuple[str, ...]
    at_bound: tuple[str, ...]
    steps: int

    def value(self, name: str) -> float:
        """The fitted value of a factor. Raises StopIteration when there is none of that name."""
        return next(one.value.value for one in self.factors if one.name == name)

    @property
    def doubtful(self) -> tuple[npt.NDArray[np.bool_], ...]:
        """Readings more than DOUBTFUL scatters off the fit, by kind."""
        return tuple(np.abs(np.nan_to_num(rest)) > DOUBTFUL for rest in self.residuals)


def lap_times(numbers: Array, times: Array, kept: npt.NDArray[np.bool_], *, model_error: float) -> Readings:
    """Lap times as readings: only the laps `kept` (at speed), with the scatter of the racer's own laps [s].

    Laps that are alike to the one before count for less. Raises ValueError when the laps are too few.
    """
    own = own_scatter(fade(numbers[kept], times[kept]))
    alike = math.sqrt((1.0 + own.correlation) / (1.0 - own.correlation))
    return Readings(
        what="lap times",
        values=np.where(kept, times, math.nan),
        scatter=max(own.sigma * alike, CLOCK),
        model_error=model_error,
        robust=True,
        freedom=max(own.laps - 2, 1),
    )


def match(
    factors: Sequence[Factor], readings: Sequence[Readings], predict: Predict, *, step: float = STEP
) -> Match:
    """Factors that agree best with the laps of a run and with what was known of them before.

    Robust readings are counted as laps. Raises ValueError when they are too few, and as `fit` does.
    """
    enough(factors, readings)
    return fit(factors, readings, predict, step=step)


def enough(factors: Sequence[Factor], readings: Sequence[Readings]) -> None:
    """Raises ValueError when there are too few laps to match so many factors."""
    laps = sum(int(np.isfinite(kind.values).sum()) for kind in readings if kind.robust)
    wanted = max(FEWEST_LAPS, LAPS_A_FACTOR * len(factors))
    if laps < wanted:
        names = ", ".join(factor.name for factor in factors)
        raise ValueError(f"to match {names} takes {wanted} laps at speed or more, and there are {laps}")


def fit(
    factors: Sequence[Factor], readings: Sequence[Readings], predict: Predict, *, step: float = STEP
) -> Match:
    """Factors that agree best with readings, however few, and with what was known of them before.

    `step` is the step for derivatives in spreads of the prior; a model that is itself solved to a tolerance
    wants a wider one. Raises ValueError in one sentence when the model cannot answer where it starts, or when
    the fit does not settle.
    """
    problem = _Problem(factors, readings, predict, step)
    start = np.clip(np.zeros(problem.unknowns), problem.low + EDGE, problem.high - EDGE)
    if not np.isfinite(problem.rows(start)).all():
        raise ValueError(
            "the model has no answer for the car as it is described, so laps cannot be matched to it"
        )
    try:
        found = least_squares(
            problem.rows, start, jac=problem.slopes, bounds=(problem.low, problem.high), method="trf",
            max_nfev=MOST_STEPS, xtol=1e-8, ftol=1e-10, gtol=1e-8,
        )  # fmt: skip
    except (ValueError, np.linalg.LinAlgError):
        found = None
    if found is None or found.status <= 0:
        raise ValueError("the fit to the laps does not settle, so nothing is concluded from them")
    return problem.told(np.asarray(found.x, dtype=float), int(found.nfev))


class _Problem:
    """Residuals and their slopes in unknowns that are standard normal before the laps: factors, then the
    model's error of each kind of reading.
    """

    def __init__(
        self, factors: Sequence[Factor], readings: Sequence[Readings], predict: Predict, step: float
    ):
        self.factors, self.readings, self.predict, self.step = factors, readings, predict, step
        self.before = np.array([factor.before for factor in factors])
        self.spread = np.array([factor.spread for factor in factors])
        self.taken = [np.isfinite(kind.values) for kind in readings]
        counts = [int(taken.sum()) for taken in self.taken]
        self.robust = np.repeat([kind.robust for kind in readings], counts)
        off = [
            np.repeat(kind.model_error / kind.scatter, n) for kind, n in zip(readings, counts, strict=True)
        ]
        self.offsets = np.zeros((sum(counts), len(readings)))
        for k, (end, values) in enumerate(zip(np.cumsum(counts), off, strict=True)):
            self.offsets[end - len(values) : end, k] = values
        self.unknowns = len(factors) + len(readings)
        self.half = float(student.ppf(0.975, max(min(kind.freedom for kind in readings), 1.0)))
        free = np.full(len(readings), np.inf)
        self.low = np.concatenate([(np.array([f.low for f in factors]) - self.before) / self.spread, -free])
        self.high = np.concatenate([(np.array([f.high for f in factors]) - self.before) / self.spread, free])

    def theta(self, z: Array) -> Array:
        return self.before + self.spread * z[: len(self.factors)]

    def model(self, z: Array) -> Array:
        """What the model says of every reading taken, in scatters."""
        said = self.predict(self.theta(z))
        rows = [
            np.asarray(one, dtype=float)[taken] / kind.scatter
            for one, taken, kind in zip(said, self.taken, self.readings, strict=True)
        ]
        return np.concatenate(rows) + self.offsets @ z[len(self.factors) :]

    def residuals(self, z: Array) -> Array:
        values = [
            kind.values[taken] / kind.scatter for kind, taken in zip(self.readings, self.taken, strict=True)
        ]
        return np.concatenate(values) - self.model(z)

    def rows(self, z: Array) -> Array:
        """Rows of the least squares problem: readings, robust ones bent, then the unknowns themselves."""
        r = self.residuals(z)
        return np.concatenate([np.where(self.robust, math.sqrt(WEIGHT) * soft(r), r), z])

    def slopes(self, z: Array) -> Array:
        """Derivatives of the rows by the unknowns."""
        r = self.residuals(z)
        bent = np.where(self.robust, math.sqrt(WEIGHT) * soft_slope(r), 1.0)
        return np.vstack([-bent[:, None] * self.of_the_model(z), np.eye(self.unknowns)])

    def of_the_model(self, z: Array) -> Array:
        """Derivatives of the model in scatters by the unknowns; central, one-sided at a bound."""
        columns = []
        for i in range(len(self.factors)):
            up, down = z.copy(), z.copy()
            up[i], down[i] = min(z[i] + self.step, self.high[i]), max(z[i] - self.step, self.low[i])
            columns.append((self.model(up) - self.model(down)) / (up[i] - down[i]))
        return np.column_stack([*columns, self.offsets])

    def told(self, z: Array, steps: int) -> Match:
        """The answer at the best fit."""
        r, slopes, many = self.residuals(z), self.of_the_model(z), len(self.factors)
        counts = np.where(self.robust, WEIGHT * (1.0 + r**2) ** -1.5, 1.0)
        information = slopes.T @ (slopes * counts[:, None])
        covariance = np.asarray(np.linalg.inv(information + np.eye(self.unknowns))[:many, :many], float)
        own, shared, errors = information[:many, :many], information[:many, many:], information[many:, many:]
        of_factors = own - shared @ np.linalg.solve(errors + np.eye(len(errors)), shared.T)
        values, directions = np.linalg.eigh(of_factors)
        theta, sigma = self.theta(z), self.spread * np.sqrt(np.diag(covariance))
        said = [np.asarray(one, dtype=float) for one in self.predict(theta)]
        offsets = z[many:] * np.array([kind.model_error for kind in self.readings])
        fitted = tuple(one + offset for one, offset in zip(said, offsets, strict=True))
        edges = np.minimum(z - self.low, self.high - z)[:many] < AT_EDGE
        return Match(
            factors=tuple(self._found(i, float(theta[i]), float(sigma[i])) for i in range(many)),
            covariance=np.asarray(covariance * np.outer(self.spread, self.spread), dtype=np.float64),
            predicted=fitted,
            residuals=tuple(
                (kind.values - one) / kind.scatter for kind, one in zip(self.readings, fitted, strict=True)
            ),
            singular=np.sqrt(np.maximum(values[::-1], 0.0)),
            untold=not_told([factor.name for factor in self.factors], directions[:, values < 1.0]),
            at_bound=tuple(factor.name for factor, edge in zip(self.factors, edges, strict=True) if edge),
            steps=steps,
        )

    def _found(self, i: int, value: float, sigma: float) -> Found:
        factor = self.factors[i]
        low, high = max(value - self.half * sigma, factor.low), min(value + self.half * sigma, factor.high)
        return Found(factor.name, Band(value, low, high), sigma, sigma / factor.spread)


def soft(r: Array) -> Array:
    """Residual whose square is the soft L1 loss, 2 (sqrt(1 + r^2) - 1), with the sign of r."""
    return np.asarray(r * np.sqrt(2.0 / (1.0 + np.sqrt(1.0 + r**2))))


def soft_slope(r: Array) -> Array:
    """Derivative of `soft`."""
    root = np.sqrt(1.0 + r**2)
    return np.asarray(np.sqrt(0.5 * (1.0 + root)) / root)


def not_told(names: Sequence[str], directions: Array) -> tuple[str, ...]:
    """Sentences on the factors that lie in directions (factors, m) which the data do not tell."""
    share = (directions**2).sum(axis=1)
    alone = [name for name, part in zip(names, share, strict=True) if part >= MOSTLY]
    said = [f"The laps do not tell {name}: it stays about as it was known before." for name in alone]
    for direction in directions.T:
        parts = zip(names, direction**2, share, strict=True)
        mixed = [name for name, part, whole in parts if part >= PARTLY and whole < MOSTLY]
        if len(mixed) > 1:
            said.append(f"The laps do not tell {' from '.join(mixed)}: only what both do together.")
    return tuple(dict.fromkeys(said))
