"""The set-down: what the car measures when it comes back, against what its setup says it should.

Weights and heights are those of the same setup standing with the fuel that is left and hot tires; pressures,
roll-outs, camber and toe are those written in the setup. What differs by more than measuring explains has
moved: a collar, a bolt, a tire, a bent part. A car whose setup was changed after its weighing stands in one
of two ways: re-set to its sheet, or as bolted in, its collars left where they were.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Assembly, Setup
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, build, rebuilt_as_bolted, with_fuel
from ovalwright.study.scale_sheet import footprint_of
from ovalwright.study.since_weighed import weighed_with
from ovalwright.study.weigh import CornerWeights, PadError, spread_of
from ovalwright.units import KINDS
from ovalwright.vehicle.record import CORNERS

Array = npt.NDArray[np.float64]

KIND_OF: dict[str, str] = {
    "weight": "corner_weight",
    "cross": "share",
    "height": "height",
    "hot": "pressure",
    "roll_out": "roll_out",
    "camber": "camber",
    "toe_out": "toe",
    "stagger": "roll_out",
}
"""Kind of quantity of everything that is compared."""
TWICE = 2.0 * math.sqrt(2.0)
"""A difference of two readings is flagged beyond 95 % of their common scatter."""

Measured = Mapping[tuple[str, str], float]
"""SI values by what was measured and where: ``("height", "LF")``, ``("toe_out", "")``."""


@dataclass(frozen=True)
class SetDownLine:
    """One thing measured: `expected` and `measured` SI, `by` their difference, `flagged` beyond `scatter`,
    which is half of the 95 % band of such a difference.
    """

    what: str
    place: str
    expected: float
    measured: float
    scatter: float

    @property
    def by(self) -> float:
        """How much more was measured than expected."""
        return self.measured - self.expected

    @property
    def flagged(self) -> bool:
        """Whether measuring does not explain it."""
        return abs(self.by) > self.scatter


def set_down(packed: Packed, measured: Measured) -> tuple[SetDownLine, ...]:
    """What was measured against what the car of `came_back` makes expect, in the order of KIND_OF.

    Of a part that is not written in the setup nothing is expected. Raises DocumentError when the car cannot
    stand.
    """
    expected, seen = _expected(packed), _with_cross(measured)
    weighing = _of_weighing(packed, seen)
    return tuple(
        SetDownLine(
            what, place, expected[what, place], value, weighing.get((what, place)) or _scatter(what, value)
        )
        for what in KIND_OF
        for place in (*CORNERS, "")
        if (what, place) in expected and (value := seen.get((what, place))) is not None
    )


def came_back(
    assembly: Assembly, *, fuel: float | None = None, driver: bool | None = None, weighed: Setup | None = None
) -> Packed:
    """The car as its setup says, standing with the fuel that is left.

    `fuel` left [m3] and whether the `driver` sits in it, as on the sheet where left out. `weighed` is the
    setup that the sheet was weighed with: what was changed since is then as bolted in, otherwise the car is
    re-set to its sheet. Raises DocumentError when it cannot stand.
    """
    car, sheet = assembly.car, assembly.sheet
    left = (sheet.fuel.si if fuel is None else fuel) * car.fuel_cell.density.si
    sits = sheet.driver if driver is None else driver
    if weighed is None:
        return build(assembly, fuel=left, driver=sits)
    base = build(replace(assembly, setup=weighed_with(weighed)), fuel=left, driver=sits)
    return rebuilt_as_bolted(base, assembly)


def mismatch(lines: Sequence[SetDownLine]) -> float:
    """How ill weights and heights fit what was expected: their differences in standard deviations, squared
    and summed (as if independent; cross follows from the weights and is left out where they are there).
    """
    names = {line.what for line in lines}
    counted = ("weight", "height") if "weight" in names else ("cross", "height")
    return sum((2.0 * line.by / line.scatter) ** 2 for line in lines if line.what in counted)


def weighing_covariance(packed: Packed, seen: Mapping[tuple[str, str], float]) -> Array:
    """Covariance [kg^2] of the four weights less those expected: two weighings on the same pads, and the fuel
    that was told with a gauge's care. A wheel that was not weighed counts as if it read as expected.
    """
    expected = stood_weights(packed)
    read = np.array([seen.get(("weight", corner), expected[i]) for i, corner in enumerate(CORNERS)])
    footprint = footprint_of(packed.assembly.car)
    pads = PadError().covariance(read - expected, footprint, weighings=2)
    told = KINDS["volume"].one_sigma(0.0, "measured") * packed.assembly.car.fuel_cell.density.si
    per_kg = stood_weights(with_fuel(packed, _fuel_of(packed) + 1.0)) - expected
    return pads + told**2 * np.outer(per_kg, per_kg)


def _fuel_of(packed: Packed) -> float:
    assert packed.moment.fuel is not None, "came_back names the fuel"
    return packed.moment.fuel


def stood_weights(packed: Packed) -> Array:
    """What the four tires of a standing car carry [kg]."""
    return np.asarray(packed.standing.corners()["load"], dtype=float) / GRAVITY


def _of_weighing(packed: Packed, seen: Mapping[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """Half of the 95 % bands of each weight [kg] and of cross (fraction of one)."""
    if not any(what in ("weight", "cross") for what, _ in seen):
        return {}
    covariance = weighing_covariance(packed, seen)
    weights = CornerWeights.of(stood_weights(packed))
    told = {("weight", one): 2.0 * math.sqrt(covariance[i, i]) for i, one in enumerate(CORNERS)}
    return told | {("cross", ""): 2.0 * spread_of("cross_percent", weights, covariance)}


def _expected(packed: Packed) -> dict[tuple[str, str], float]:
    """What the car standing at its moment would measure."""
    stood, setup = packed.standing.corners(), packed.assembly.setup
    weights = CornerWeights.of(stood_weights(packed))
    told: dict[tuple[str, str], float] = {}
    for i, corner in enumerate(CORNERS):
        wheel = getattr(setup, corner)
        told["weight", corner] = float(weights.loads[i])
        told["height", corner] = float(stood["height"][i])
        told["camber", corner] = wheel.camber.si
        if wheel.tire.hot is not None:
            told["hot", corner] = wheel.tire.hot.si
        told["roll_out", corner] = 2.0 * math.pi * float(packed.record["tire"]["free_radius"][i])
    told["cross", ""] = weights.get("cross_percent")
    told["stagger", ""] = told["roll_out", "RR"] - told["roll_out", "LR"]
    told["toe_out", ""] = setup.toe_out.si
    return told


def _with_cross(measured: Measured) -> dict[tuple[str, str], float]:
    """The same with cross and stagger where they follow from what was measured."""
    told = dict(measured)
    if all(("weight", corner) in told for corner in CORNERS):
        loads = [told["weight", corner] for corner in CORNERS]
        if sum(loads) > 0.0:
            told.setdefault(("cross", ""), (loads[1] + loads[2]) / sum(loads))
    if ("roll_out", "RR") in told and ("roll_out", "LR") in told:
        told.setdefault(("stagger", ""), told["roll_out", "RR"] - told["roll_out", "LR"])
    return told


def _scatter(what: str, value: float) -> float:
    """Half of the 95 % band of the difference of two careful readings [SI]."""
    sd = KINDS[KIND_OF[what]].one_sigma(value, "measured")
    return TWICE * sd * (math.sqrt(2.0) if what == "stagger" else 1.0)
