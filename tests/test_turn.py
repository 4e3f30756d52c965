"""The answers of a turn: loads, contacts, fuel, mirror, and what is said where there is no trim."""

import math
from dataclasses import replace

import numpy as np
import pytest
from evidence import DERIVED
from test_speed import DEMO, EVENING, FLAT, TWELVE

from ovalwright.documents import MIDDLE, assemble, load_track
from ovalwright.mechanics.handbook import banked_pull
from ovalwright.pack import build, with_fuel
from ovalwright.study.contacts import as_fuel_burns, over_lateral
from ovalwright.study.pulldown import pull_down
from ovalwright.study.state import racer_camber, racer_toe_out, read, solve
from ovalwright.study.stations import along, at_speed, lateral, speed_at
from ovalwright.study.turn import at_station, turn

STEEP = load_track(DEMO / "track_steep_half.toml")


@pytest.fixture(scope="module")
def car():
    return build(assemble(DEMO / "setup_conventional.toml"))


@pytest.fixture(scope="module")
def hanging():
    return build(assemble(DEMO / "setup_hanging_rr.toml"))


@pytest.mark.parametrize(("track", "speed"), [(FLAT, 17.0), (TWELVE, 26.0), (STEEP, 33.0)])
def test_normal_loads_carry_the_car(check, car, track, speed):
    at = at_station(car, track, EVENING, MIDDLE, speed=speed, balances=False)
    end, record = track.ends[0], car.record
    mass = float(record["weight"] / at.motion["gravity"])
    pull = banked_pull(speed, radius=end.radius.si, bank=end.bank.si)
    air = 0.5 * float(at.motion["air_density"]) * speed**2 * float(record["down_area"].sum())
    check(
        float(at.carried.contract.corners["force_z"].sum()),
        mass * pull.into + air,
        rel=0.004,
        unit="N",
        of=f"normal forces of four tires at {speed:g} m/s on {track.name}",
        source="a point on a banked curve, OpenStax College Physics ch. 6; downforce q A",
        kind=DERIVED,
        area="banking",
    )


def test_turn_has_every_answer_and_repeats_itself(car):
    first, again = (turn(car, TWELVE, EVENING) for _ in range(2))
    assert len(first.tanks) == 2 and first.tanks[0].fuel > first.tanks[1].fuel
    for tank, twin in zip(first.tanks, again.tanks, strict=True):
        for place, other in zip(tank.places, twin.places, strict=True):
            assert place.carried.contract.norm < 1e-9
            assert place.carried.loads == other.carried.loads
            assert place.speed == pytest.approx(0.98 * place.limit.speed)


def test_too_fast_has_a_reason_and_no_numbers(car):
    at = at_station(car, TWELVE, EVENING, MIDDLE, speed=60.0, balances=False)
    assert at.carried is None and at.reason == at.limit.sets == "front tires"


def test_coil_leaves_its_seat_at_the_fuel_found(hanging):
    (contact,) = as_fuel_burns(hanging)
    assert (contact.corner, contact.happens) == ("RR", "leaves")
    gap = [with_fuel(hanging, contact.fuel + step).standing.corners()["coil_gap"][3] for step in (0.1, -0.1)]
    assert gap[0] < 0.0 < gap[1]


def test_coil_picks_up_where_found(hanging):
    """Nearly empty on the flat the RR coil hangs at rest; force exactly zero before the pick-up."""
    packed = with_fuel(hanging, share=0.0)
    place = at_station(packed, FLAT, EVENING, MIDDLE, speed=10.0, balances=False).motion
    sweep = over_lateral(packed, place, 10.0)
    (contact,) = [c for c in sweep.contacts if (c.part, c.place) == ("coil", "RR")]
    assert contact.happens == "touches"
    force = []
    for step in (-0.05, 0.05):
        solved = solve(packed, at_speed(place, speed_at(place, contact.lateral + step)))
        force.append(float(solved.corners["coil_force"][3]))
    assert force[0] == 0.0 < force[1]


def test_speed_and_lateral_agree(check, car):
    place = at_station(car, TWELVE, EVENING, MIDDLE, speed=26.0, balances=False).motion
    assert speed_at(place, lateral(place)) == pytest.approx(26.0)
    pull = banked_pull(26.0, radius=TWELVE.ends[0].radius.si, bank=TWELVE.ends[0].bank.si)
    check(
        lateral(place),
        pull.across,
        rel=1e-9,
        unit="m/s^2",
        of="lateral acceleration in the plane of a 12 degree bank at 26 m/s",
        source="a point on a banked curve, OpenStax College Physics ch. 6",
        kind=DERIVED,
        area="banking",
    )


def test_stations_are_met_along_the_turn(car):
    places = [place.motion for place in turn(car, TWELVE, EVENING, balances=False).tanks[0].places]
    for share, place in zip((0.0, 0.5, 1.0), places, strict=True):
        mixed = along(places, share)
        assert mixed["speed"] == pytest.approx(place["speed"])
        assert mixed["curvature"] == pytest.approx(place["curvature"])


def test_travel_is_none_on_the_scales_and_bump_on_the_right(car):
    at = at_station(car, FLAT, EVENING, MIDDLE, speed=17.0, balances=False)
    _, rf, _, rr = at.carried.corners
    assert rf.shock_travel > 0.0 and rr.shock_travel > 0.0
    assert rf.wheel_travel > rf.shock_travel
    assert all(corner.wheel_travel == 0.0 for corner in read(at.carried.contract))


def test_trade_signs_of_camber_and_toe(car):
    at = at_station(car, FLAT, EVENING, MIDDLE, speed=12.0, balances=False)
    lf, rf, *_ = at.carried.corners
    assert racer_camber(rf) == -rf.inclination and racer_camber(lf) == lf.inclination
    assert racer_toe_out(lf, rf) == lf.steer - rf.steer
    assert abs(math.degrees(racer_camber(rf))) < 10.0


def test_pull_down_holds_the_body_where_the_turn_has_it(car):
    at = at_station(car, TWELVE, EVENING, MIDDLE, speed=26.0, balances=False)
    numbers = pull_down(at.packed, at.carried.contract)
    assert np.allclose(numbers.heights, at.carried.contract.corners["height"])
    assert numbers.pull == pytest.approx(sum(numbers.scale_loads) - float(at.packed.record["weight"]))
    assert numbers.drops.RF > 0.0 and numbers.pull > 0.0


WHOLE_CAR = ("link_", "axle_start", "twist_axis", "down_area")
"""Fields with two or four entries that are not those of sides or corners."""


def mirrored(record):
    """The record of the car seen in a mirror: left and right swapped, engine turning the other way."""
    other, flip = record.copy(), np.array([1.0, -1.0, 1.0])
    swap = {2: [1, 0], 4: [1, 0, 3, 2]}
    for name in record.dtype.names:
        held = record[name]
        per_corner = held.ndim > 0 and held.shape[0] in swap and not name.startswith(WHOLE_CAR)
        if per_corner:
            other[name] = held[swap[held.shape[0]]]
    for name in record.dtype.names:
        if record[name].shape[-1:] == (3,) and not name.endswith(("_inertia", "hub", "spindle", "_axis")):
            other[name] = other[name] * flip
    for name in ("arm_axis", "upper_axis", "axle_spindle"):
        other[name] = other[name] * -flip
    for name in ("hub", "spindle"):
        other[name] = other[name] * ([1.0, 1.0, -1.0] if name == "hub" else [-1.0, -1.0, 1.0])
    for name in ("bar_preload", "twist_built_in", "shaft_ratio", "tie_branch"):
        other[name] = -other[name]
    other["spin_inertia"] = record["spin_inertia"][[1, 0, 2]]
    other["twist_axis"] = record["twist_axis"] * [-1.0, 1.0]
    other["axle_start"] = record["axle_start"] * [1.0, -1.0, 1.0, -1.0]
    return other


def test_right_turn_of_the_mirrored_car_is_the_left_turn(car):
    place = at_station(car, TWELVE, EVENING, MIDDLE, speed=26.0, balances=False).motion
    right = place.copy()
    for name in ("curvature", "bank", "curvature_rate", "bank_rate"):
        right[name] = -place[name]
    state = car.settled * [1, -1, -1, 1, -1, 1, -1, 1, 1, 1, -1, 1, 1, 1]
    state[[7, 8]] = state[[8, 7]]
    twin = replace(car, record=mirrored(car.record), settled=state)
    ours, other = solve(car, place), solve(twin, right)
    assert ours.found and other.found
    assert np.allclose(other.corners["load"][[1, 0, 3, 2]], ours.corners["load"], rtol=1e-7)
    assert np.allclose(other.corners["side"][[1, 0, 3, 2]], -ours.corners["side"], rtol=1e-6, atol=1e-3)
