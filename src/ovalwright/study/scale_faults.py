"""What is wrong with a weighing: readings that disagree, pads that do, something in the car that moved.

Weights are in kilograms, percents are fractions of one; arrays run LF, RF, LR, RR.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ovalwright.corners import CORNERS, Corner
from ovalwright.study.weigh import (
    CornerWeights,
    Estimate,
    Footprint,
    PadError,
    percent,
    pounds,
    spread_along,
)
from ovalwright.units import LB


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
        variance += spread_along(slope, errors.covariance(np.zeros(4), footprint)) ** 2
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
    over = {
        name: abs(slope @ change) / (2.0 * spread_along(slope, noise) + 1e-9) for name, slope in tests.items()
    }
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
