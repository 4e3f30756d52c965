"""Another scale beside one's own: how it reads against it, pad by pad, and what it will show.

Weights are in kilograms, percents are fractions of one; arrays run LF, RF, LR, RR.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ovalwright.corners import CORNERS, Corner
from ovalwright.study.scale_faults import Fault
from ovalwright.study.weigh import (
    PERCENTS,
    CornerWeights,
    Estimate,
    Footprint,
    PadError,
    Vector,
    percent,
    pounds,
    spread_of,
)
from ovalwright.units import LB


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
