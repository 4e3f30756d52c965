"""Stagger in the turn against closed forms, tires of the rack, and cold pressures."""

import math

import numpy as np
import pytest
from evidence import DERIVED, FROM_MEMORY
from test_speed import DEMO, EVENING, FLAT, changed

from ovalwright.documents import assemble, load_rack
from ovalwright.mechanics.tire import drive_curve, rolling_radius
from ovalwright.pack import build, motion
from ovalwright.study.stagger import cold_pressure, stagger_work, tire_pairs, wanted_stagger
from ovalwright.study.state import solve


@pytest.fixture(scope="module")
def car():
    return build(assemble(DEMO / "setup_conventional.toml"))


def slow_turn():
    """A flat turn so slow that every tire is far from its peak."""
    place = motion(FLAT, EVENING, speed=6.0)
    place["bank"] = 0.0
    return place


def stiffness(record, i, load, grip):
    """Slope of drive force over slip at none [N], from the tire's curve."""
    curve = drive_curve(load, record["tire"][i], record["tire"][i]["grip"] * grip)
    return float(curve.stiffness)


@pytest.mark.parametrize("rolling", [-0.3, 0.3])
def test_moment_of_a_mismatch(check, car, rolling):
    """Stagger a little off what the turn wants, both ways."""
    base = stagger_work(solve(car, slow_turn()))
    off = base.wanted - base.rolling + rolling * 0.0254

    def grow(record):
        record["tire"]["free_radius"][3] += 0.5 * off / (2.0 * math.pi)
        record["tire"]["free_radius"][2] -= 0.5 * off / (2.0 * math.pi)

    packed = changed(car, grow)
    solved = solve(packed, slow_turn())
    ours, at = stagger_work(solved), solved.corners
    left, right = (stiffness(packed.record, i, float(at["load"][i]), 1.0) for i in (2, 3))
    tread = float(at["patch_y"][2] - at["patch_y"][3])
    roll = [
        rolling_radius(
            packed.record["tire"]["free_radius"][i], at["squash"][i], packed.record["tire"]["radius_share"][i]
        )
        for i in (2, 3)
    ]
    bend = float(solved.motion["curvature"])
    mismatch = 2.0 * (roll[1] - roll[0]) / (roll[1] + roll[0]) - tread * bend
    check(
        ours.mismatch,
        mismatch,
        rel=0.03,
        of=f"slip difference of a locked axle {rolling:+.1f} in off the stagger the turn wants",
        source="closed form de = S/C - T/R",
        kind=DERIVED,
        area="stagger",
    )
    check(
        ours.moment,
        mismatch * left * right / (left + right) * tread,
        rel=0.06,
        unit="N m",
        of=f"yaw moment of a locked axle {rolling:+.1f} in off the stagger the turn wants",
        source="closed form M = T de kL kR / (kL + kR)",
        kind=DERIVED,
        area="stagger",
    )


def test_short_stagger_is_tight_and_costs_power(car):
    def square(record):
        record["tire"]["free_radius"][3] = record["tire"]["free_radius"][2]

    work = stagger_work(solve(changed(car, square), slow_turn()))
    assert work.mismatch < 0.0 and work.moment < 0.0 and work.drag > 0.0
    assert work.to_set > 0.0


def test_wanted_stagger_on_a_bank(check):
    place = slow_turn()
    place["bank"], place["curvature"] = math.radians(24.0), 1.0 / 60.0
    ours = wanted_stagger(place, left_roll_out=2.1844, tread=1.6256)
    radius = 60.0 / math.cos(math.radians(24.0))
    cone = 2.1844 * ((radius + 0.8128) / (radius - 0.8128) - 1.0)
    check(
        ours,
        cone,
        rel=1e-9,
        unit="m",
        of="stagger a 60 m turn at 24 degrees wants",
        source="both tires parts of one cone, radius along the road surface",
        kind=DERIVED,
        area="stagger",
    )


def test_tires_of_the_rack():
    rack = load_rack(DEMO / "rack.toml")
    pairs = tire_pairs(rack, 0.05, left_pressure=97e3, right_pressure=180e3)
    off = [abs(pair.off) for pair in pairs]
    assert off == sorted(off) and len(pairs) > 1
    sides = {tire.id: tire.side for tire in rack.tires}
    assert all(sides[pair.left] == "left" and sides[pair.right] == "right" for pair in pairs)
    assert tire_pairs(replace_tires(rack), 0.05, left_pressure=1e5, right_pressure=1e5) == ()


def replace_tires(rack):
    return rack.model_copy(update={"tires": ()})


def test_cold_pressure_on_a_warmer_day(check):
    atmosphere = 1.013e5
    ours = cold_pressure(
        9.0e5, cold=7.00e5 - atmosphere, hot=9.0e5, ambient=atmosphere, shop_change=308.15 / 291.15
    )
    check(
        ours + atmosphere,
        7.41e5,
        abs=2e3,
        unit="Pa",
        of="absolute pressure set at 35 C that would be 7.00e5 Pa at 18 C",
        source="OpenStax College Physics, Example 13.6",
        kind=FROM_MEMORY,
        area="tire",
    )
    assert np.isclose(cold_pressure(2e5, cold=1e5, hot=2e5), 1e5)
