"""The set-down: what the car measures when it comes back against what its setup makes expect."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED

import ovalwright.demo
from ovalwright.documents import Setup, assemble
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.store import Store
from ovalwright.notebook.typed.came_back import keep_set_down, set_down_of, sign_said, stands_said
from ovalwright.pack import build, turn_jack_bolts, with_fuel
from ovalwright.study.set_down import came_back, mismatch, set_down
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
    lines = set_down(came_back(assembly, fuel=fuel), weights_of(packed))
    assert [line.what for line in lines] == ["weight"] * 4 + ["cross"]
    assert not any(line.flagged for line in lines)
    np.testing.assert_allclose([line.by for line in lines], 0.0, atol=1e-6)


def test_the_fuel_that_is_gone_is_expected_to_be_gone(assembly):
    full = set_down(came_back(assembly), {("weight", "RR"): 250.0})[0]
    empty = set_down(came_back(assembly, fuel=0.0), {("weight", "RR"): 250.0})[0]
    assert empty.expected < full.expected - 1.0


def test_a_collar_that_slipped_three_rounds_is_seen_and_one_is_within_the_scatter_of_weighing(assembly):
    for rounds, seen in ((-3.0, True), (-1.0, False)):
        slipped = turn_jack_bolts(build(assembly), {"LR": rounds})
        lines = {(line.what, line.place): line for line in set_down(came_back(assembly), weights_of(slipped))}
        cross = lines["cross", ""]
        assert cross.by < -0.003, "rounds out at the LR take wedge out"
        assert cross.flagged == seen
        assert lines["weight", "LR"].flagged == seen


def test_scatter_of_two_weighings_is_that_of_pads_drawn_one_by_one(assembly, check):
    packed = came_back(assembly)
    loads = np.array(list(weights_of(packed).values()))
    draw, lb, feet = np.random.default_rng(20261126), 0.45359237, packed.assembly.car.tread
    ratio = feet.front.si / feet.rear.si
    bound = np.array([1.0, -1.0, -ratio, ratio])
    gallons = 0.4 * 231 * 0.0254**3 * assembly.car.fuel_cell.density.si
    per_kg = np.array(list(weights_of(with_fuel(packed, packed.moment.fuel + 1.0)).values())) - loads

    def weighing():
        return draw.normal(0, 0.5 * lb, (40_000, 4)) + draw.normal(0, 4 * lb, (40_000, 1)) * bound

    read = loads + weighing() - weighing() + draw.normal(0, gallons, (40_000, 1)) * per_kg
    cross = read[:, 1:3].sum(axis=1) / read.sum(axis=1)
    lines = {(line.what, line.place): line for line in set_down(packed, weights_of(packed))}
    for name, drawn in (("cross", cross), *zip(CORNERS, read.T, strict=True)):
        told = lines[("cross", "")] if name == "cross" else lines["weight", name]
        check(
            told.scatter / 2.0,
            float(np.std(drawn)),
            rel=0.02,
            unit="1" if name == "cross" else "kg",
            of=f"standard deviation of {name} between two weighings",
            source="pads, bind and fuel drawn 40,000 times with NumPy, each with its own scatter",
            kind=DERIVED,
            area="weighing",
        )


def test_a_spring_swapped_with_the_collars_left_alone_is_expected_as_bolted_in(assembly):
    now = assemble(Setup.load(DEMO / "setup_conventional.toml").changed({"LR.coil.spring": "B07"}))
    bolted = came_back(now, weighed=assembly.setup)
    assert mismatch(set_down(bolted, weights_of(bolted))) < 1e-6
    against_reset = set_down(came_back(now), weights_of(bolted))
    assert mismatch(against_reset) > 4.0 and any(line.flagged for line in against_reset)


def test_stagger_follows_from_roll_outs_and_pressures_are_those_of_the_setup(assembly):
    inch, psi = 0.0254, 6894.757
    measured = {
        ("roll_out", "LR"): 84.0 * inch,
        ("roll_out", "RR"): 87.0 * inch,
        ("hot", "RR"): 29.0 * psi,
        ("camber", "RF"): np.radians(-3.3),
        ("toe_out", ""): 3 / 32 * inch,
    }
    lines = {(line.what, line.place): line for line in set_down(came_back(assembly), measured)}
    assert lines["stagger", ""].measured == pytest.approx(3.0 * inch)
    assert lines["hot", "RR"].by == pytest.approx(3.0 * psi, rel=1e-4) and lines["hot", "RR"].flagged
    assert not lines["camber", "RF"].flagged
    assert not lines["toe_out", ""].flagged


# ---------------- the pattern


def patterns(assembly, measured, **of):
    packed = came_back(assembly, **of)
    return what_moved(packed, set_down(packed, measured))


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


# ---------------- of a run in the notebook


def test_a_run_tells_whether_its_changed_car_was_re_set(tmp_path):
    stood = {}
    with (
        Store.open(tmp_path / "n.sqlite", by="owner") as store,
        store.entry("a week") as session,
    ):
        first = shelf.keep_file(session, DEMO / "setup_conventional.toml")
        softer = shelf.child(session, first, {"LR.coil.spring": "B07"}, reason="tight")
        now, was = (shelf.assembly_of(session, one) for one in (softer, first))
        event = runs.new_event(session, "Opening", dt.date(2026, 5, 2))
        for name, car in (
            ("bolted", came_back(now, weighed=was.setup)),
            ("re-set", came_back(now)),
            ("bent", turn_jack_bolts(came_back(now), {"LR": 9.0})),
        ):
            run = runs.new_run(session, event, softer)
            read = [runs.Read("weight", load, corner) for (_, corner), load in weights_of(car).items()]
            keep_set_down(session, run, tuple(replace(one, taken="set_down") for one in read))
            stood[name] = set_down_of(session, run)
    assert stood["bolted"].stands == "as bolted in" and not stood["bolted"].signs
    assert stood["re-set"].stands == "re-set" and not stood["re-set"].signs
    assert stood["bent"].stands == "either" and stood["bent"].signs[0].pattern == "diagonal"
    assert "brought back" in stands_said(stood["bolted"])[0]
