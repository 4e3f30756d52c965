"""The car on the scales: what four pad readings say about the car, and how surely.

**Cross weight** is the load on RF and LR as a share of the total; **bite** is LR - RR; **wedge** is
(RF + LR) - (LF + RR). A car on four pads gives four facts and no more: total, left, rear and cross.

Weights are in kilograms, as a scale shows them; lengths in meters, percents are fractions of one. Arrays run
LF, RF, LR, RR. Axes are ISO 8855 with the origin on the ground under the middle of the front axle: x
forward (the rear axle is at -wheelbase), y left.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ovalwright.corners import CORNERS
from ovalwright.units import INCH, LB, show

Vector = NDArray[np.float64]

# Every weighed quantity is the sum of these signs x weights; a percent is such a sum over the total.
WEIGHTS: Mapping[str, tuple[float, float, float, float]] = {
    "total_weight": (1, 1, 1, 1),
    "left_weight": (1, 0, 1, 0),
    "right_weight": (0, 1, 0, 1),
    "front_weight": (1, 1, 0, 0),
    "rear_weight": (0, 0, 1, 1),
    "cross_weight": (0, 1, 1, 0),
    "bite": (0, 0, 1, -1),
    "wedge": (-1, 1, 1, -1),
    "LF": (1, 0, 0, 0),
    "RF": (0, 1, 0, 0),
    "LR": (0, 0, 1, 0),
    "RR": (0, 0, 0, 1),
}
PERCENTS: Mapping[str, str] = {
    f"{part}_percent": f"{part}_weight" for part in ("left", "right", "front", "rear", "cross")
}


def signs_of(quantity: str) -> Vector:
    """Signs on LF, RF, LR, RR that sum to the weight behind `quantity`, of WEIGHTS or PERCENTS.

    Raises:
        ValueError: `quantity` is neither.
    """
    name = PERCENTS.get(quantity, quantity)
    if name not in WEIGHTS:
        raise ValueError(f"{quantity!r} is not weighed; choose from {', '.join([*WEIGHTS, *PERCENTS])}")
    return np.array(WEIGHTS[name], dtype=float)


class Estimate(NamedTuple):
    """A value with its standard deviation, both in the same unit."""

    value: float
    sd: float

    @property
    def give_or_take(self) -> float:
        """Half of the 95 % band: two standard deviations."""
        return 2.0 * self.sd


@dataclass(frozen=True, kw_only=True)
class CornerWeights:
    """Load on each pad [kg].

    Raises:
        ValueError: a load is not a finite number.
    """

    LF: float
    RF: float
    LR: float
    RR: float

    def __post_init__(self) -> None:
        for corner in CORNERS:
            if not math.isfinite(getattr(self, corner)):
                raise ValueError(f"{corner} reads {getattr(self, corner)}: give its load as a finite number")

    @classmethod
    def of(cls, loads: Vector) -> CornerWeights:
        """From an array LF, RF, LR, RR [kg]."""
        return cls(**dict(zip(CORNERS, (float(load) for load in loads), strict=True)))

    @classmethod
    def from_percents(cls, *, total: float, left: float, rear: float, cross: float) -> CornerWeights:
        """The four loads that make this total [kg] and these percents (fractions of one).

        Source: the four definitions solved for the loads; unequal treads do not enter.
        """
        front = 1.0 - rear
        half = total / 2.0
        return cls(
            LF=half * (left + front - cross),
            RF=half * (front - left + cross),
            LR=half * (left + cross - front),
            RR=half * (2.0 - front - left - cross),
        )

    @property
    def loads(self) -> Vector:
        """LF, RF, LR, RR [kg]."""
        return np.array([self.LF, self.RF, self.LR, self.RR])

    @property
    def total(self) -> float:
        """Sum of the four [kg]."""
        return float(self.loads.sum())

    def get(self, quantity: str) -> float:
        """One weighed quantity by name: a weight [kg] of WEIGHTS or a fraction of one, of PERCENTS.

        Raises:
            ValueError: unknown quantity, or a percent of nothing (total not above zero).
        """
        load = float(signs_of(quantity) @ self.loads)
        return load / _total(self.loads) if quantity in PERCENTS else load


@dataclass(frozen=True, kw_only=True)
class Footprint:
    """Where the four tires stand [m]; `rear_offset`: rear axle's middle left of the front's."""

    wheelbase: float
    tread_front: float
    tread_rear: float
    rear_offset: float = 0.0

    @property
    def x(self) -> Vector:
        """Stations of the tires, forward of the front axle [m]."""
        return np.array([0.0, 0.0, -self.wheelbase, -self.wheelbase])

    @property
    def y(self) -> Vector:
        """Tires left of the middle of the front axle [m]."""
        front, rear = self.tread_front / 2.0, self.tread_rear / 2.0
        return np.array([front, -front, self.rear_offset + rear, self.rear_offset - rear])

    @property
    def jacking(self) -> Vector:
        """The one pattern of load changes, per unit at LF, that leaves total and both moments as they are."""
        ratio = self.tread_front / self.tread_rear
        return np.array([1.0, -1.0, -ratio, ratio])

    def stand(self, *, mass: float, x: float, y: float, cross_percent: float) -> Vector:
        """Load [kg] that a mass [kg] at x, y [m] puts on each tire while cross stays at `cross_percent`.

        Weight and its two moments give three facts; the jack bolts give the fourth, cross. Linear in `mass`.
        """
        facts = np.array([np.ones(4), self.x, self.y, signs_of("cross_weight")])
        return np.linalg.solve(facts, mass * np.array([1.0, x, y, cross_percent]))


@dataclass(frozen=True, kw_only=True)
class PadError:
    """Standard deviations of one weighing.

    gain: each pad's own factor (1, the same whenever that pad is used); reading: each pad, each time [kg];
    bind: tires and suspension that have not settled, per front corner along the jacking pattern [kg]; it
    moves cross and bite and hardly anything else. Defaults: pads within 0.1 % and half a pound, bind 4 lb
    for one roll-on (2 lb when rolled on and read twice): common practice, no source.
    """

    gain: float = 0.001
    reading: float = 0.5 * LB
    bind: float = 4.0 * LB

    def covariance(self, loads: Vector, footprint: Footprint, *, weighings: int = 1) -> NDArray[np.float64]:
        """Covariance [kg^2] of one weighing, or of the difference `loads` of two on the same pads."""
        pads = np.diag((self.gain * loads) ** 2 + weighings * self.reading**2)
        return pads + weighings * self.bind**2 * np.outer(footprint.jacking, footprint.jacking)


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """What one weighing says.

    Weights [kg], percents (fractions of one), CG in plan [m], each with its spread.
    """

    weights: CornerWeights
    total: Estimate
    left_percent: Estimate
    rear_percent: Estimate
    cross_percent: Estimate
    bite: Estimate
    wedge: Estimate
    cg_x: Estimate
    cg_y: Estimate


TAPE = 0.125 * INCH  # standard deviation of wheelbase and treads by tape (common practice, no source)


def estimate(quantity: str, weights: CornerWeights, footprint: Footprint, pads: PadError) -> Estimate:
    """One weighed quantity (WEIGHTS [kg] or PERCENTS) with the spread that the pads give it."""
    covariance = pads.covariance(weights.loads, footprint)
    return Estimate(weights.get(quantity), spread_of(quantity, weights, covariance))


def spread_of(quantity: str, weights: CornerWeights, covariance: NDArray[np.float64]) -> float:
    """Standard deviation of one weighed quantity (WEIGHTS [kg] or PERCENTS) from that of the weights [kg^2].

    Source: first-order propagation through the ratio, JCGM 100:2008 section 5.2.2 (exact for plain loads).
    """
    slope = signs_of(quantity)
    if quantity in PERCENTS:
        slope = (slope - weights.get(quantity)) / weights.total
    return spread_along(slope, covariance)


def weigh(
    weights: CornerWeights, footprint: Footprint, pads: PadError | None = None, *, tape: float = TAPE
) -> Weighed:
    """Everything four readings [kg] say about a car, with bands from the pads and the tape (`tape`, 1 sd
    [m]).

    CG: x = -wheelbase x rear percent; y = sum of (place x load) / total, exact with unequal treads.

    Raises:
        ValueError: the four readings sum to nothing.
    """
    errors = pads or PadError()
    cg_x, cg_y = _place(weights.loads, errors.covariance(weights.loads, footprint), footprint, tape=tape)
    named = {
        name: estimate(name, weights, footprint, errors)
        for name in ("left_percent", "rear_percent", "cross_percent", "bite", "wedge")
    }
    total = estimate("total_weight", weights, footprint, errors)
    return Weighed(weights=weights, total=total, cg_x=cg_x, cg_y=cg_y, **named)


@dataclass(frozen=True, kw_only=True)
class Aboard:
    """Something weighed by difference, the driver for one: mass [kg] and place in plan [m]."""

    mass: Estimate
    x: Estimate
    y: Estimate


def by_difference(
    *,
    having: CornerWeights,
    without: CornerWeights,
    footprint: Footprint,
    pads: PadError | None = None,
    tape: float = TAPE,
) -> Aboard:
    """Mass and place of what was in the car in one weighing and out of it in the other, on the same pads.

    The pads' own factors act on the difference alone, and bind does not move a place, so the place comes out
    far better than the four differences look.

    Raises:
        ValueError: the car weighs no more with it than without it.
    """
    errors = pads or PadError()
    loads = having.loads - without.loads
    total = float(loads.sum())
    if not total > 0.0:
        raise ValueError(
            f"the car weighs {pounds(having.total)} with and {pounds(without.total)} without: "
            "the first must be the heavier"
        )
    covariance = errors.covariance(loads, footprint, weighings=2)
    x, y = _place(loads, covariance, footprint, tape=tape)
    return Aboard(mass=Estimate(total, spread_along(np.ones(4), covariance)), x=x, y=y)


def _place(
    loads: Vector, covariance: NDArray[np.float64], footprint: Footprint, *, tape: float
) -> tuple[Estimate, Estimate]:
    """CG in plan [m] of what makes these loads [kg]; tape errors of wheelbase and treads included."""
    total = _total(loads)
    x, y = float(footprint.x @ loads) / total, float(footprint.y @ loads) / total
    lf, rf, lr, rr = loads / total
    tape_x = tape * abs(lr + rr)
    tape_y = tape * np.hypot(lf - rf, lr - rr) / 2.0
    return (
        Estimate(x, float(np.hypot(spread_along((footprint.x - x) / total, covariance), tape_x))),
        Estimate(y, float(np.hypot(spread_along((footprint.y - y) / total, covariance), tape_y))),
    )


def _total(loads: Vector) -> float:
    total = float(loads.sum())
    if not total > 0.0:
        raise ValueError(f"the four pads sum to {pounds(total)}: a car's total must be above zero")
    return total


def spread_along(slope: Vector, covariance: NDArray[np.float64]) -> float:
    """Standard deviation of slope @ loads, whose errors have this covariance, in the units of both."""
    return float(np.sqrt(slope @ covariance @ slope))


def pounds(load: float) -> str:
    """A weight [kg] as a racer reads it."""
    return show(load, "corner_weight")


def percent(fraction: float) -> str:
    """A fraction of one as a racer reads it."""
    return f"{100.0 * fraction:.2f} %"
