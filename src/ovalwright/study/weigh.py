"""The car on the scales: what four pad readings say about the car, how surely, and what is wrong with them.

**Cross weight** is the load on RF and LR as a share of the total; **bite** is LR - RR; **wedge** is
(RF + LR) - (LF + RR). A car on four pads gives four facts and no more: total, left, rear and cross.

Weights are in kilograms, as a scale shows them; lengths in meters, percents are fractions of one. Arrays run
LF, RF, LR, RR. Axes are ISO 8855 with the origin on the ground under the middle of the front axle: x
forward (the rear axle is at -wheelbase), y left.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.units import KINDS, parse, show

Vector = NDArray[np.float64]
Corner = Literal["LF", "RF", "LR", "RR"]
CORNERS: tuple[Corner, ...] = ("LF", "RF", "LR", "RR")
LB = parse("1 lb", KINDS["mass"])
INCH = parse("1 in", KINDS["height"])

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
    return _spread(slope, covariance)


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
    return Aboard(mass=Estimate(total, _spread(np.ones(4), covariance)), x=x, y=y)


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
        Estimate(x, float(np.hypot(_spread((footprint.x - x) / total, covariance), tape_x))),
        Estimate(y, float(np.hypot(_spread((footprint.y - y) / total, covariance), tape_y))),
    )


def _total(loads: Vector) -> float:
    total = float(loads.sum())
    if not total > 0.0:
        raise ValueError(f"the four pads sum to {pounds(total)}: a car's total must be above zero")
    return total


def _spread(slope: Vector, covariance: NDArray[np.float64]) -> float:
    return float(np.sqrt(slope @ covariance @ slope))


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Something wrong with a weighing: `sentence` for the racer, `amount` in `unit` (kg or 1)."""

    sentence: str
    amount: float
    unit: Literal["kg", "1"]


def sum_fault(weights: CornerWeights, shown_total: float, pads: PadError | None = None) -> Fault | None:
    """Do the corners sum to the total [kg] that the scale shows, within what five readings may be off?"""
    off = weights.total - shown_total
    if abs(off) <= 2.0 * np.sqrt(5.0) * (pads or PadError()).reading:
        return None
    return Fault(
        sentence=f"The four corners sum to {pounds(weights.total)} but the scale shows "
        f"{pounds(shown_total)}, {pounds(abs(off))} apart: "
        "read the four pads again, and if it stays, the scale is at fault.",
        amount=off,
        unit="kg",
    )


def repeat_fault(
    readings: Sequence[CornerWeights], footprint: Footprint, *, most: float = 6.0 * LB
) -> Fault | None:
    """Do repeated weighings of one car agree within `most` [kg] at each corner, or how do they differ?

    `most` is +/-3 lb around the middle (common practice, no source).

    Raises:
        ValueError: fewer than two readings.
    """
    if len(readings) < 2:
        raise ValueError("one reading cannot repeat: give at least two weighings of the same car")
    table = np.array([reading.loads for reading in readings])
    low, high = table.min(axis=0), table.max(axis=0)
    corner = int(np.argmax(high - low))
    if high[corner] - low[corner] <= most:
        return None
    change = table[table[:, corner].argmax()] - table[table[:, corner].argmin()]
    pattern = footprint.jacking / np.linalg.norm(footprint.jacking)
    along = float(abs(change @ pattern) / np.linalg.norm(change))
    cause = (
        "the change runs along the diagonal, as from bind or tires set down sideways: roll off and on again"
        if along > 0.9
        else "the change is not along the diagonal: look for what changed in the car or a pad"
    )
    return Fault(
        sentence=f"{CORNERS[corner]} read {pounds(low[corner])} and {pounds(high[corner])}, "
        f"{pounds(high[corner] - low[corner])} apart where {pounds(most)} is the most to accept; {cause}.",
        amount=float(high[corner] - low[corner]),
        unit="kg",
    )


@dataclass(frozen=True, kw_only=True)
class PadSwap:
    """What swapping two pads shows: what the first reads over what the second reads, and the car either way.

    A swap tells the ratio of two pads, never which of them is right; a known weight does.
    """

    ratio: Estimate
    if_first_is_off: CornerWeights
    if_second_is_off: CornerWeights
    fault: Fault | None


def pad_swap(
    *,
    before: CornerWeights,
    after: CornerWeights,
    first: Corner,
    second: Corner,
    footprint: Footprint,
    pads: PadError | None = None,
) -> PadSwap:
    """Ratio of two pads' factors from two weighings, the pads under `first` and `second` swapped in between.

    With pad factors f1, f2 and true loads a, b: before reads (f1 a, f2 b), after reads (f2 a, f1 b), so that
    f1 / f2 = sqrt((before a / after a) (after b / before b)). DERIVED.

    Raises:
        ValueError: the same corner twice, or a reading at either that is not above zero.
    """
    i, j = CORNERS.index(first), CORNERS.index(second)
    old, new = before.loads, after.loads
    if i == j or min(old[i], old[j], new[i], new[j]) <= 0.0:
        raise ValueError(f"swapped pads {first} and {second}: name two corners that both read above zero")
    ratio = float(np.sqrt(old[i] / new[i] * new[j] / old[j]))
    errors = pads or PadError()
    variance = 0.0
    for loads in (old, new):
        slope = np.zeros(4)
        slope[i], slope[j] = 0.5 / loads[i], -0.5 / loads[j]
        variance += _spread(slope, errors.covariance(np.zeros(4), footprint)) ** 2
    sd = ratio * float(np.sqrt(variance))
    return PadSwap(
        ratio=Estimate(ratio, sd),
        if_first_is_off=_rescaled(before, first, 1.0 / ratio),
        if_second_is_off=_rescaled(before, second, ratio),
        fault=_swap_fault(ratio, 2.0 * float(np.hypot(sd, np.sqrt(2.0) * errors.gain)), first, second),
    )


def _swap_fault(ratio: float, band: float, first: Corner, second: Corner) -> Fault | None:
    if abs(ratio - 1.0) <= band:
        return None
    return Fault(
        sentence=f"The pad first under {first} reads {percent(abs(ratio - 1.0))} "
        f"{'more' if ratio > 1.0 else 'less'} than the pad first under {second} for the same load, "
        f"give or take {percent(band)}: "
        "set a known weight on each to see which one is off.",
        amount=ratio - 1.0,
        unit="1",
    )


def _rescaled(weights: CornerWeights, corner: Corner, factor: float) -> CornerWeights:
    loads = weights.loads
    loads[CORNERS.index(corner)] *= factor
    return CornerWeights.of(loads)


def level_effect(footprint: Footprint, *, heights: Vector, rates: Vector) -> Vector:
    """Load change [kg] at each corner when the pads stand `heights` [m] above level, frame rigid.

    rates: corner rates with the tire in series [N/m], LF RF LR RR. The loads can only move along the jacking
    pattern p, by p (p . heights) / sum(p^2 / rate); with a corner without a rate, not at all. DERIVED.
    """
    if np.any(rates <= 0.0):
        return np.zeros(4)
    p = footprint.jacking
    moved: Vector = p * (p @ heights) / np.sum(p**2 / rates) / GRAVITY
    return moved


def level_fault(
    weights: CornerWeights,
    footprint: Footprint,
    *,
    heights: Vector,
    rates: Vector,
    most: float = 0.0625 * INCH,
) -> Fault | None:
    """What pads out of level by more than `most` [m] (common practice, no source) do to cross."""
    worst = heights - np.median(heights)
    corner = int(np.argmax(np.abs(worst)))
    if abs(worst[corner]) <= most:
        return None
    shown = weights.get("cross_percent")
    level = CornerWeights.of(weights.loads - level_effect(footprint, heights=heights, rates=rates)).get(
        "cross_percent"
    )
    return Fault(
        sentence=f"The {CORNERS[corner]} pad stands {show(abs(worst[corner]), 'gap')} "
        f"{'high' if worst[corner] > 0.0 else 'low'}, so cross reads {percent(shown)} where level pads "
        f"would read {percent(level)}: shim the pads level within {show(most, 'gap')}.",
        amount=shown - level,
        unit="1",
    )


def moved_mass_fault(
    footprint: Footprint, *, before: CornerWeights, after: CornerWeights, pads: PadError | None = None
) -> Fault | None:
    """Did something move that jack bolts, springs and tires cannot move: total, or the CG in plan?

    With equal treads this is left and rear percent. With unequal treads a jack bolt does move left percent a
    little (the rear takes the front's change times tread_front / tread_rear), so the moments are compared.
    """
    change = after.loads - before.loads
    noise = (pads or PadError()).covariance(change, footprint, weighings=2)
    tread = (footprint.tread_front + footprint.tread_rear) / 2.0
    x, y = (float(places @ before.loads) / before.total for places in (footprint.x, footprint.y))
    tests = {
        "total": np.ones(4),
        "left": (footprint.y - y) / (before.total * tread),
        "rear": -(footprint.x - x) / (before.total * footprint.wheelbase),
    }
    over = {name: abs(slope @ change) / (2.0 * _spread(slope, noise) + 1e-9) for name, slope in tests.items()}
    name = max(over, key=lambda key: over[key])
    if over[name] <= 1.0:
        return None
    amount = float(tests[name] @ change)
    size = pounds(abs(amount)) if name == "total" else percent(abs(amount))
    return Fault(
        sentence=f"{name.capitalize()} moved by {size} between two weighings where only jack bolts "
        "were turned, and jack bolts cannot do that: look for bind, a car rolled on off center, "
        "something moved in the car, or a misread pad.",
        amount=amount,
        unit="kg" if name == "total" else "1",
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class ScaleMatch:
    """How another scale reads against ours, pad by pad: other = factor x ours + offset [kg].

    mean, covariance: of factor - 1 (four) and offset (four); noise: covariance of one comparison [kg^2].
    """

    mean: Vector
    covariance: NDArray[np.float64]
    noise: NDArray[np.float64]

    @property
    def factors(self) -> dict[Corner, Estimate]:
        """Factor of each pad of the other scale."""
        return {corner: self._estimate(i, 1.0) for i, corner in enumerate(CORNERS)}

    @property
    def offsets(self) -> dict[Corner, Estimate]:
        """Offset of each pad of the other scale [kg]."""
        return {corner: self._estimate(4 + i, 0.0) for i, corner in enumerate(CORNERS)}

    def _estimate(self, i: int, start: float) -> Estimate:
        return Estimate(start + float(self.mean[i]), float(np.sqrt(self.covariance[i, i])))

    def expect(self, quantity: str, weights: CornerWeights) -> Estimate:
        """What the other scale will show, of WEIGHTS [kg] or PERCENTS, for a car that ours weighs so."""
        design = _pads_design(weights.loads)
        shown = CornerWeights.of(weights.loads + design @ self.mean)
        covariance = design @ self.covariance @ design.T + self.noise
        return Estimate(shown.get(quantity), spread_of(quantity, shown, covariance))


def match_scales(
    pairs: Sequence[tuple[CornerWeights, CornerWeights]],
    footprint: Footprint,
    pads: PadError | None = None,
    *,
    factor_sd: float = 0.05,
    offset_sd: float = 5.0 * LB,
) -> ScaleMatch:
    """Compare two scales from cars weighed on both, each pair (ours, theirs) in one trim.

    Bayesian linear regression of the four differences on factor - 1 and offset of each pad, starting from
    "the same scale" within `factor_sd` and `offset_sd` [kg] (one further off would be seen at once;
    judgement, no source). One pair is enough for an answer; more, and lighter or heavier cars, narrow its
    band. Source: the Gaussian update, Rasmussen & Williams, Gaussian Processes for Machine Learning,
    section 2.1, from memory.

    Raises:
        ValueError: no pair.
    """
    if not pairs:
        raise ValueError("no car was weighed on both scales: weigh one on each, in the same trim")
    noise = (pads or PadError()).covariance(np.zeros(4), footprint, weighings=2)
    mean, covariance = np.zeros(8), np.diag(np.repeat([factor_sd**2, offset_sd**2], 4))
    for ours, theirs in pairs:
        design = _pads_design(ours.loads)
        surprise = design @ covariance @ design.T + noise
        gain = np.linalg.solve(surprise, design @ covariance).T
        mean = mean + gain @ (theirs.loads - ours.loads - design @ mean)
        covariance = covariance - gain @ design @ covariance
    return ScaleMatch(mean=mean, covariance=covariance, noise=noise)


def _pads_design(loads: Vector) -> NDArray[np.float64]:
    return np.hstack([np.diag(loads), np.eye(4)])


def scale_fault(match: ScaleMatch, weights: CornerWeights) -> Fault | None:
    """Will the other scale show another left percent or total for this car, beyond its band?"""
    for quantity in ("left_percent", "total_weight"):
        theirs, mine = match.expect(quantity, weights), weights.get(quantity)
        if abs(theirs.value - mine) > theirs.give_or_take:
            show = percent if quantity in PERCENTS else pounds
            name = "left" if quantity in PERCENTS else "a total of"
            return Fault(
                sentence=f"Where your scale shows {name} {show(mine)}, the other will show "
                f"{show(theirs.value)}, give or take {show(theirs.give_or_take)}: "
                "set the car on your own scale and keep this difference in hand.",
                amount=theirs.value - mine,
                unit="1" if quantity in PERCENTS else "kg",
            )
    return None


def pounds(load: float) -> str:
    """A weight [kg] as a racer reads it."""
    return show(load, "corner_weight")


def percent(fraction: float) -> str:
    """A fraction of one as a racer reads it."""
    return f"{100.0 * fraction:.2f} %"
