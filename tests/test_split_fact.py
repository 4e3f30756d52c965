"""A fact of the trade: on a very steep half-mile an unusual rear spring split was worth three tenths."""

from __future__ import annotations

import numpy as np
from evidence import COMMON_PRACTICE
from scipy.constants import inch, pound_force
from test_lap_facts import DAY, DEMO, STEEP, middle

from ovalwright.documents import assemble
from ovalwright.pack import Packed, build, rebuilt_reset, with_fuel
from ovalwright.study.adjustments import put
from ovalwright.study.lap import Driver, Lap, lap
from ovalwright.units import Quantity

GEAR = 3.9
LB_PER_IN = pound_force / inch


def clear(car: Packed) -> Packed:
    """The car with a frame that passes through the road, so that nothing but its tires carries it."""
    for at in (car.record, car.weighed.record):
        at["ground_rate"] = 0.0
    return car


def steep_lap(left: float | None = None, right: float | None = None) -> Lap:
    """A lap of the demo car on the half-mile at 35 degrees with other rear coils [lb/in], re-set."""
    written = assemble(DEMO / "setup_conventional.toml")
    assembly = put(written, {"final_drive": Quantity(f"{GEAR}", GEAR, 0.0)})
    car = build(assembly)
    if left and right:
        coils = {"setup.LR.coil.rate": left * LB_PER_IN, "setup.RR.coil.rate": right * LB_PER_IN}
        car = rebuilt_reset(car, assembly, values=coils)
    return lap(with_fuel(clear(car), share=0.5), middle(STEEP), DAY, Driver())


def wedge(driven: Lap) -> float:
    """Cross in percent where the car is slowest."""
    load = driven.corners["load"][int(np.argmin(driven.speed))]
    return float(100.0 * (load[1] + load[2]) / load.sum())


def test_a_rear_split_on_a_very_steep_half_mile(check) -> None:
    plain, split, stiff = steep_lap(), steep_lap(500.0, 175.0), steep_lap(500.0, 500.0)
    told = {
        "source": "an unusual rear spring split was worth 0.3 s on a paved half-mile at about 35 degrees",
        "kind": COMMON_PRACTICE,
        "area": "lap",
    }
    check.between(plain.time - split.time, 0.1, 0.6, unit="s", of="LR 500, RR 175 lb/in: gained", **told)
    check.between(plain.time - stiff.time, -0.5, 0.1, unit="s", of="LR 500, RR 500 lb/in: gained", **told)
    check.between(
        wedge(split) - wedge(plain), 4.0, 15.0, unit="%", of="the split's wedge in the middle", **told
    )
