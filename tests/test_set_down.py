"""The set-down: what the car measures when it comes back against what its setup makes expect."""

from pathlib import Path

import numpy as np
import pytest

import ovalwright.demo
from ovalwright.documents import assemble
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.notebook.typed.came_back import sign_said
from ovalwright.pack import build, turn_jack_bolts
from ovalwright.study.set_down import set_down
from ovalwright.study.what_moved import what_moved
from ovalwright.units import show
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


# ---------------- the pattern


def patterns(assembly, measured, **of):
    return what_moved(assembly, set_down(assembly, measured, **of), **of)


def said_of(assembly, measured):
    (sign,) = patterns(assembly, measured)
    return sign, sign_said(sign, show)


def off_by(assembly, pounds):
    expected = weights_of(build(assembly))
    return {
        key: kilograms + 0.45359237 * by
        for (key, kilograms), by in zip(expected.items(), pounds, strict=True)
    }


def test_nothing_is_judged_where_nothing_moved(assembly):
    assert patterns(assembly, off_by(assembly, (1, -1, 2, 0))) == ()


def test_a_whole_car_that_is_heavier_is_fuel_the_driver_or_the_scales_and_no_bolt(assembly):
    sign, said = said_of(assembly, off_by(assembly, (11, 8, 12, 9)))
    assert sign.pattern == "whole" and sign.by == pytest.approx(40 * 0.45359237)
    assert "weighs 40 lb more" in said.replace("40.0", "40") and "no bolt" in said
    assert "fuel left" in said and "scales" in said


def test_a_clean_diagonal_names_the_bolts_and_their_rounds(assembly):
    base = build(assembly)
    slipped = turn_jack_bolts(base, {"LR": -3.0})
    sign, said = said_of(assembly, weights_of(slipped))
    assert sign.pattern == "diagonal"
    rounds = {one.corner: one.rounds for one in sign.bolts}
    assert rounds["LR"] == pytest.approx(-3.0, abs=0.1)
    alone = [turn_jack_bolts(base, {one: turned}).standing for one, turned in rounds.items()]
    crosses = [float(at.corners()["load"][1:3].sum() / at.corners()["load"].sum()) for at in alone]
    np.testing.assert_allclose(crosses, crosses[0], atol=4e-4, rtol=0.0)
    assert "LF and RR" in said and "LR -3 rounds" in said and "heights tell which" in said


def test_a_bolt_that_would_turn_out_of_its_thread_is_not_named(assembly):
    sign, said = said_of(assembly, off_by(assembly, (-28.5, 29.5, 28.5, -29.6)))
    rounds = {one.corner: one.rounds for one in sign.bolts}
    assert set(rounds) == {"LR", "RR"} and 4.0 < rounds["LR"] < 6.5
    assert "onto RF and LR" in said and "LR +5" in said


def test_heights_tell_which_corner_of_the_four(assembly):
    for corner, rounds in (("LR", -5.0), ("RR", 5.0)):
        slipped = turn_jack_bolts(build(assembly), {corner: rounds})
        heights = slipped.standing.corners()["height"]
        measured = weights_of(slipped) | {
            ("height", one): float(height) for one, height in zip(CORNERS, heights, strict=True)
        }
        (sign,) = patterns(assembly, measured)
        assert [one.corner for one in sign.bolts if one.agrees] == [corner]
        assert f"The heights agree with {corner}" in sign_said(sign, show)


def test_one_wheel_alone_is_its_scale_and_two_ends_are_no_bolt(assembly):
    sign, said = said_of(assembly, off_by(assembly, (30, 0, 0, 0)))
    assert (sign.pattern, sign.place) == ("one_wheel", "LF") and "pad is level" in said
    (ends,) = patterns(assembly, off_by(assembly, (-12, -12, 12, 12)))
    assert ends.pattern == "ends" and ends.by == pytest.approx(24 * 0.45359237)
    assert "to the rear" in sign_said(ends, show)


def test_two_weights_tell_no_pattern(assembly):
    two = {key: value for key, value in off_by(assembly, (0, 20, 0, 0)).items() if key[1] in ("LF", "RF")}
    sign, said = said_of(assembly, two)
    assert (sign.pattern, sign.place) == ("some_weights", "RF") and "weigh all four" in said


def test_a_corner_that_stands_low_with_the_cross_as_it_was_is_no_bolt(assembly):
    base = build(assembly)
    low = {("height", "RF"): float(base.standing.corners()["height"][1]) - 0.0127}
    sign, said = said_of(assembly, weights_of(base) | low)
    assert (sign.pattern, sign.place) == ("height", "RF")
    assert "RF stands 0.5 in lower" in said.replace("0.50", "0.5") and "would have moved it" in said
    assert patterns(assembly, low)[0].pattern == "height_alone"
