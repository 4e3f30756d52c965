"""The set-down: what the car measures when it comes back against what its setup makes expect."""

from pathlib import Path

import numpy as np
import pytest

import ovalwright.demo
from ovalwright.documents import assemble
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import build, turn_jack_bolts
from ovalwright.study.set_down import set_down
from ovalwright.vehicle.record import CORNERS

DEMO = Path(ovalwright.demo.__path__[0])
LITRE = 1e-3


@pytest.fixture(scope="module")
def assembly():
    return assemble(DEMO / "setup_conventional.toml")


def weights_of(packed):
    loads = packed.standing.corners()["load"] / GRAVITY
    return {("weight", corner): float(load) for corner, load in zip(CORNERS, loads, strict=True)}


def test_a_car_that_came_back_as_it_left_is_not_flagged(assembly):
    fuel = 30.0 * LITRE
    packed = build(assembly, fuel=fuel * assembly.car.fuel_cell.density.si)
    lines = set_down(assembly, weights_of(packed), fuel=fuel)
    assert [line.what for line in lines] == ["weight"] * 4 + ["cross"]
    assert not any(line.flagged for line in lines)
    np.testing.assert_allclose([line.by for line in lines], 0.0, atol=1e-6)


def test_the_fuel_that_is_gone_is_expected_to_be_gone(assembly):
    full = set_down(assembly, {("weight", "RR"): 250.0})[0]
    empty = set_down(assembly, {("weight", "RR"): 250.0}, fuel=0.0)[0]
    assert empty.expected < full.expected - 1.0


def test_a_collar_that_slipped_two_rounds_is_seen_and_one_is_within_the_scatter_of_weighing(assembly):
    for rounds, seen in ((-2.0, True), (-1.0, False)):
        slipped = turn_jack_bolts(build(assembly), {"LR": rounds})
        lines = {(line.what, line.place): line for line in set_down(assembly, weights_of(slipped))}
        cross = lines["cross", ""]
        assert cross.by < -0.003, "rounds out at the LR take wedge out"
        assert cross.flagged == seen
        assert lines["weight", "LR"].flagged == seen


def test_stagger_follows_from_roll_outs_and_pressures_are_those_of_the_setup(assembly):
    inch, psi = 0.0254, 6894.757
    measured = {
        ("roll_out", "LR"): 84.0 * inch,
        ("roll_out", "RR"): 87.0 * inch,
        ("hot", "RR"): 29.0 * psi,
        ("camber", "RF"): np.radians(-3.3),
        ("toe_out", ""): 3 / 32 * inch,
    }
    lines = {(line.what, line.place): line for line in set_down(assembly, measured)}
    assert lines["stagger", ""].measured == pytest.approx(3.0 * inch)
    assert lines["hot", "RR"].by == pytest.approx(3.0 * psi, rel=1e-4) and lines["hot", "RR"].flagged
    assert not lines["camber", "RF"].flagged
    assert not lines["toe_out", ""].flagged
