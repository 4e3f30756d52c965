"""A wheel that lifts and comes down again: its grip comes with its load, and neither jumps."""

from __future__ import annotations

from importlib import resources

import numpy as np
import pytest

from ovalwright.documents import assemble
from ovalwright.mechanics.tire import GRIPPING_LOAD, TOUCH_LOAD, force, magic, side_curve, touching
from ovalwright.pack import build

SLIP_ANGLE = 0.07


@pytest.fixture(scope="module")
def tire():
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        return build(assemble(folder / "setup_conventional.toml")).record["tire"][0]


def side(load: float, tire) -> float:
    return float(force(load, SLIP_ANGLE, 0.0, 0.0, tire, 1.0).side)


def test_side_force_comes_with_the_load_without_a_jump(tire):
    loads = np.linspace(-10.0, 300.0, 3101)
    pushed = np.array([side(load, tire) for load in loads])
    steps = np.diff(pushed) / np.diff(loads)
    steepest = side(300.0, tire) / 300.0
    assert (pushed[loads <= 0.0] == 0.0).all()
    assert (steps > -1e-9).all()
    assert steps.max() < 1.06 * steepest


def test_a_tire_that_carries_anything_to_speak_of_is_the_plain_one(tire):
    for load in 2.0 * TOUCH_LOAD + GRIPPING_LOAD + np.array([0.0, 100.0, 3000.0]):
        plain = float(magic(SLIP_ANGLE, side_curve(load, 0.0, tire, 1.0)))
        assert side(load, tire) == pytest.approx(plain, rel=1e-12)
    assert float(touching(TOUCH_LOAD)) < 0.2
    assert float(touching(-1.0)) == float(touching(0.0)) == 0.0
