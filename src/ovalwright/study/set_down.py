"""The set-down: what the car measures when it comes back, against what its setup says it should.

Weights and heights are those of the same setup standing with the fuel that is left and hot tires; pressures,
roll-outs, camber and toe are those written in the setup. What differs by more than measuring explains has
moved: a collar, a bolt, a tire, a bent part.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ovalwright.documents import Assembly
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, build
from ovalwright.units import KINDS
from ovalwright.vehicle.record import CORNERS

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
CROSS_SCATTER = 0.002
"""One standard deviation of cross between two weighings (common practice, no source)."""

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


def set_down(
    assembly: Assembly, measured: Measured, *, fuel: float | None = None, driver: bool | None = None
) -> tuple[SetDownLine, ...]:
    """What was measured against what the setup makes expect, in the order of KIND_OF.

    `fuel` left [m3] and whether the `driver` sits in it, as on the sheet where left out. Of a part that is
    not written in the setup nothing is expected. Raises DocumentError when the car cannot stand.
    """
    expected = _expected(came_back(assembly, fuel=fuel, driver=driver))
    seen = _with_cross(measured)
    return tuple(
        SetDownLine(what, place, expected[what, place], seen[what, place], _scatter(what, seen[what, place]))
        for what in KIND_OF
        for place in (*CORNERS, "")
        if (what, place) in seen and (what, place) in expected
    )


def came_back(assembly: Assembly, *, fuel: float | None = None, driver: bool | None = None) -> Packed:
    """The car as its setup says, standing with the fuel that is left. Raises DocumentError."""
    car, sheet = assembly.car, assembly.sheet
    left = sheet.fuel.si if fuel is None else fuel
    sits = sheet.driver if driver is None else driver
    return build(assembly, fuel=left * car.fuel_cell.density.si, driver=sits)


def _expected(packed: Packed) -> dict[tuple[str, str], float]:
    """What the car standing at its moment would measure."""
    stood, setup = packed.standing.corners(), packed.assembly.setup
    told: dict[tuple[str, str], float] = {}
    for i, corner in enumerate(CORNERS):
        wheel = getattr(setup, corner)
        told["weight", corner] = float(stood["load"][i]) / GRAVITY
        told["height", corner] = float(stood["height"][i])
        told["camber", corner] = wheel.camber.si
        if wheel.tire.hot is not None:
            told["hot", corner] = wheel.tire.hot.si
        told["roll_out", corner] = 2.0 * math.pi * float(packed.record["tire"]["free_radius"][i])
    loads = np.asarray(stood["load"], dtype=float)
    told["cross", ""] = float((loads[1] + loads[2]) / loads.sum())
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
    if what == "cross":
        return TWICE * CROSS_SCATTER
    kind = KINDS[KIND_OF[what]]
    absolute, share = kind.measured
    sd = absolute * abs(kind.in_si(1.0, kind.us) - kind.in_si(0.0, kind.us)) + share * abs(value)
    return TWICE * sd * (math.sqrt(2.0) if what == "stagger" else 1.0)
