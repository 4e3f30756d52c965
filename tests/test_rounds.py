"""Jack bolts: quarter rounds to a wanted cross and wanted heights, from the car let settle."""

from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE

from ovalwright.corners import CORNERS
from ovalwright.documents import assemble
from ovalwright.pack import build, turn_jack_bolts
from ovalwright.study.rounds import CROSS_CLOSE, HEIGHT_CLOSE, plan_rounds

DEMO = Path(__file__).resolve().parent.parent / "src" / "ovalwright" / "demo"


@pytest.fixture(scope="module")
def conventional():
    return build(assemble(DEMO / "setup_conventional.toml"))


@pytest.fixture(scope="module")
def without_rr():
    return build(assemble(DEMO / "setup_no_rr.toml"))


def shares(loads):
    total = loads.sum()
    return (loads[0] + loads[2]) / total, (loads[2] + loads[3]) / total


@pytest.mark.parametrize("wanted", [0.50, 0.54, 0.57])
def test_the_plan_brings_cross_and_leaves_heights(conventional, wanted):
    plan = plan_rounds(conventional, cross=wanted)
    assert abs(plan.cross_miss) < 2 * CROSS_CLOSE
    assert np.all(np.abs(plan.height_miss) < HEIGHT_CLOSE)
    assert plan.reached


def test_rounds_are_quarters_and_the_car_after_is_that_car_settled(conventional):
    plan = plan_rounds(conventional, cross=0.55)
    assert all(4 * rounds == round(4 * rounds) for rounds in plan.rounds.values())
    settled = turn_jack_bolts(conventional, plan.rounds).weighed.corners()
    assert plan.after.loads == pytest.approx(settled["load"], rel=2e-3)


def test_more_cross_is_lr_and_rf_loaded_lf_and_rr_unloaded(conventional, check):
    plan = plan_rounds(conventional, cross=0.56)
    check.fact(
        plan.rounds["LR"] > 0 and plan.rounds["RF"] > 0 and plan.rounds["LF"] < 0 and plan.rounds["RR"] < 0,
        of="more cross at the same heights: LR and RF loaded, LF and RR unloaded",
        source=COMMON_PRACTICE,
        kind=COMMON_PRACTICE,
        area="settle",
    )


def test_bolts_move_neither_total_nor_left_nor_rear(conventional, check):
    plan = plan_rounds(conventional, cross=0.58)
    before, after = shares(plan.before.loads), shares(plan.after.loads)
    check.fact(
        after == pytest.approx(before, abs=3e-4),
        of="jack bolts leave left and rear percent as they are",
        source=COMMON_PRACTICE,
        kind=COMMON_PRACTICE,
        area="settle",
    )
    assert plan.after.loads.sum() == pytest.approx(plan.before.loads.sum(), rel=1e-6)


def test_with_the_bar_hooked_up_front_bolts_do_less_and_rear_ones_more(conventional, check):
    free, hooked = (plan_rounds(conventional, hooked=on).per_round for on in (False, True))
    check.fact(
        abs(hooked["RF"].cross) < 0.8 * abs(free["RF"].cross) and hooked["LR"].cross > free["LR"].cross,
        of="a hooked up bar takes effect from the front jack bolts and gives some to the rear ones",
        source=COMMON_PRACTICE,
        kind=COMMON_PRACTICE,
        area="settle",
    )


def test_a_wanted_height_is_reached_with_cross_kept(conventional):
    corner = CORNERS.index("LF")
    start = plan_rounds(conventional)
    lower = float(start.before.heights[corner]) - 0.00635
    others = dict(zip(CORNERS, start.before.heights, strict=True))
    plan = plan_rounds(conventional, heights={**others, "LF": lower, "RF": float(others["RF"]) - 0.00635})
    assert plan.after.heights[corner] == pytest.approx(lower, abs=HEIGHT_CLOSE)
    assert plan.after.cross == pytest.approx(plan.before.cross, abs=2 * CROSS_CLOSE)


def test_nothing_wanted_turns_nothing(conventional):
    assert set(plan_rounds(conventional).rounds.values()) == {0.0}


def test_the_bolt_of_a_corner_without_a_coil_is_left_alone(without_rr):
    cross = float(plan_rounds(without_rr).before.cross)
    plan = plan_rounds(without_rr, cross=cross - 0.01)
    assert plan.rounds["RR"] == 0.0
    assert "RR" in plan.idle


def test_a_cross_out_of_reach_is_said_not_invented(conventional):
    plan = plan_rounds(conventional, cross=0.85)
    assert not plan.reached
    assert plan.after.cross < 0.85 - CROSS_CLOSE
