"""Limit speed, what sets it, stability and balance, on the full car."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED

import ovalwright
from ovalwright.documents import assemble, load_conditions, load_track
from ovalwright.pack import build, motion
from ovalwright.solve.settle import settle, standing
from ovalwright.study.balance import balance, moment_left, understeer, wedged
from ovalwright.study.speed import POWER, fastest_growth, limit
from ovalwright.study.stagger import stagger_work
from ovalwright.study.state import demand_of, engine_of, solve
from ovalwright.study.stations import at_speed
from ovalwright.vehicle.record import SIZE

DEMO = Path(ovalwright.__file__).parent / "demo"
EVENING = load_conditions(DEMO / "conditions_evening.toml")
FLAT = load_track(DEMO / "track_flat_quarter.toml")
TWELVE = load_track(DEMO / "track_three_eighths.toml")


@pytest.fixture(scope="module")
def car():
    return build(assemble(DEMO / "setup_conventional.toml"))


def changed(packed, change):
    """A packed car with its record changed and settled again."""
    record = packed.record.copy()
    change(record)
    state = packed.settled.copy()
    assert settle(record, standing(), state, np.zeros((40, SIZE)))[0] == 0
    return replace(packed, record=record, settled=state)


def with_grip(packed, front, rear):
    def scale(record):
        record["tire"]["grip"][:2] *= front
        record["tire"]["grip"][2:] *= rear

    return changed(packed, scale)


def flat_motion():
    place = motion(FLAT, EVENING, speed=15.0)
    place["bank"] = 0.0
    return place


LOAD_TERMS = (
    "side_grip_load",
    "side_bend_load",
    "side_grip_camber",
    "camber_thrust",
    "drive_grip_load",
    "drive_bend_load",
    "drive_stiffness_load",
    "rolling_resistance",
)
"""What makes a tire's force other than in proportion to its load."""


@pytest.fixture(scope="module")
def plain_car(car):
    """The demo car without air, on tires that take load in proportion, with the stagger the turn wants:
    nothing but forces that scale with grip.
    """

    def plain(record):
        record["drag_area"] = record["side_area"] = 0.0
        record["down_area"] = 0.0
        tires = record["tire"]
        for name in LOAD_TERMS:
            tires[name] = 0.0
        tires["side_stiffness"] *= 20.0
        tires["stiffness_load"] *= 20.0

    packed = changed(car, plain)
    for _ in range(3):
        work = stagger_work(limit(packed, flat_motion()).last)
        packed = changed(packed, lambda record, off=work.wanted - work.rolling: grow_right_rear(record, off))
    return packed


def grow_right_rear(record, roll_out):
    record["tire"]["free_radius"][3] += roll_out / (2.0 * np.pi)


def test_grip_of_both_ends_makes_half_of_the_speed(check, plain_car):
    place, step = flat_motion(), 1e-3
    slopes = []
    for front, rear in ((1.0, 0.0), (0.0, 1.0)):
        fast = limit(with_grip(plain_car, 1.0 + step * front, 1.0 + step * rear), place).fold
        slow = limit(with_grip(plain_car, 1.0 - step * front, 1.0 - step * rear), place).fold
        slopes.append((np.log(fast) - np.log(slow)) / (2.0 * step))
    check(
        sum(slopes),
        0.5,
        abs=0.05,
        of="change of ln limit speed per ln grip, front and rear together, flat road, no air",
        source="all forces scale with grip, so V^2 does; load transfer onto a locked driven axle left out",
        kind=DERIVED,
        area="limit",
    )


@pytest.mark.parametrize("track", [FLAT, TWELVE])
def test_fold_is_where_trims_end(check, car, track):
    place = motion(track, EVENING, speed=1.0)
    ours = limit(car, place).fold
    low, high = 0.8 * ours, 1.2 * ours
    for _ in range(16):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if solve(car, at_speed(place, middle)).found else (low, middle)
    check(
        ours,
        low,
        rel=5e-4,
        unit="m/s",
        of=f"fold on {track.name} against bisection on whether a trim exists",
        source="bisection with Newton's method from standing still, another route than continuation",
        kind=DERIVED,
        area="limit",
    )


def test_balance_of_two_saturated_ends(check, plain_car):
    loads = plain_car.standing.corners()["load"]
    whole = float(loads.sum() * plain_car.record["wheelbase"])
    rear = float(loads[2:].sum() / loads.sum())
    at = limit(plain_car, flat_motion()).last
    grip = float(plain_car.record["tire"]["side_grip"][0])
    less, more = (moment_left(with_grip(plain_car, 1.0, g), at) / whole for g in (0.97, 1.03))
    check(
        more - less,
        -rear * (1.0 - rear) * grip * 0.06,
        rel=0.15,
        of="change of the yaw moment left (share of weight x wheelbase), rear grip from -3 to +3 %",
        source="two saturated axles, C_N = (a b / L^2)(mu_f - mu_r); drive and slip of the real car left out",
        kind=DERIVED,
        area="balance",
    )


def test_more_grip_is_never_slower(car):
    place = motion(TWELVE, EVENING, speed=1.0)
    speeds = [limit(with_grip(car, g, g), place).fold for g in (0.9, 0.95, 1.0, 1.05)]
    assert np.all(np.diff(speeds) > 0.0)


def test_wedge_tightens_and_rounds_are_its_cross(car):
    place = motion(TWELVE, EVENING, speed=1.0)
    wedge = wedged(car)
    left = balance(car, limit(car, place).last, wedge)
    assert left.per_cross[0] < 0.0 and left.per_cross[1] < 0.0
    assert wedge.rise == pytest.approx(0.005, rel=0.02) and wedge.fall == pytest.approx(-0.005, rel=0.02)
    assert left.rounds == pytest.approx(left.wedge * wedge.rounds)


def test_a_weak_engine_sets_the_limit(car):
    place = motion(TWELVE, EVENING, speed=1.0)
    strong = limit(car, place)
    curve = car.assembly.car.engine.curve
    weak = {f"engine.curve[{i}].torque": "95 lb-ft" for i in range(1, len(curve) + 1)}
    packed = build(replace(car.assembly, car=car.assembly.car.changed(weak)))
    most = limit(packed, place)
    assert most.sets == POWER and most.speed < strong.speed
    assert demand_of(engine_of(packed), most.last).engine_share == pytest.approx(1.0, abs=1e-3)


def test_unstable_speed_lies_where_a_mode_begins_to_grow(car):
    place = motion(TWELVE, EVENING, speed=1.0)
    loose = with_grip(car, 1.0, 0.85)
    most = limit(loose, place)
    assert most.sets == "rear tires" and most.unstable is not None and most.unstable < most.speed
    assert fastest_growth(solve(loose, at_speed(place, most.unstable - 0.1))) < 0.0
    assert fastest_growth(solve(loose, at_speed(place, most.unstable + 0.1))) > 0.0


def test_understeer_agrees_from_both_sides_away_from_contacts(car):
    gradient = understeer(car, motion(TWELVE, EVENING, speed=24.0))
    assert gradient.below == pytest.approx(gradient.above, abs=2e-5)
