"""Pads out of level, against what the car as built settles to on them."""

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED
from fuzz_documents import DEMO
from scipy.constants import inch

from ovalwright.corners import CORNERS
from ovalwright.documents import Setup, assemble
from ovalwright.study.pads import level_fault_of
from ovalwright.study.scale_sheet import footprint_of


@pytest.fixture(scope="module")
def car():
    return assemble(Setup.load(DEMO / "setup_conventional.toml"))


def test_an_eighth_under_one_rear_pad(check, car):
    fault = level_fault_of(car, {"LR": inch / 8})
    check.between(
        100 * fault.amount, 0.125, 0.5, unit="%", of="cross error of one rear pad 1/8 in high",
        source="of the order of a quarter of a percent", kind=COMMON_PRACTICE, area="weighing",
    )  # fmt: skip
    assert "LR pad stands 0.125 in high" in fault.sentence
    assert level_fault_of(car, {"LR": inch / 20}) is None


def test_pads_act_on_the_diagonal_alone(check, car):
    """Heave, roll and pitch let a frame follow three pads; only what is left over moves weight. Springs that
    are not quite straight lines take their share of the tolerance."""
    pattern = footprint_of(car.car).jacking
    moved = np.array([level_fault_of(car, {corner: inch / 8}).amount for corner in CORNERS])
    check(
        moved / moved[0], pattern / pattern[0], rel=0.05, of="cross by one pad high, over that by LF's",
        source="the one pattern that total and both moments allow", kind=DERIVED, area="weighing",
    )  # fmt: skip
    both = level_fault_of(car, {"LR": inch / 8, "RF": inch / 8}).amount
    assert both == pytest.approx(moved[1] + moved[2], rel=0.02)
