"""The car through a turn: every place solved as by itself, forces in balance, no number where no state is."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED, Check

from ovalwright.documents import Conditions, Track, assemble, load_track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.study.state import solve
from ovalwright.study.stations import lateral
from ovalwright.study.through import (
    Lane,
    Pace,
    along,
    at_one_speed,
    balances,
    paced,
    place_at,
    place_of,
    through,
    through_fuel,
)
from ovalwright.study.turn import slosh

DEMO = Path(str(resources.files("ovalwright") / "demo"))
DAY = Conditions()


@cache
def car(name: str = "hanging_rr") -> Packed:
    return build(assemble(DEMO / f"setup_{name}.toml"))


@cache
def track(name: str = "three_eighths") -> Track:
    return load_track(DEMO / f"track_{name}.toml")


@cache
def pace(name: str = "three_eighths", end: int = 0) -> Pace:
    return paced(car(), track(name), DAY, end=end)


TRACKS = pytest.mark.parametrize("name", ["three_eighths", "steep_half", "flat_quarter", "bent_five_eighths"])


@TRACKS
def test_a_turn_begins_with_entry_ends_with_exit_and_is_tightest_between(name: str) -> None:
    for end in (0, 1):
        here = pace(name, end)
        (entry, a, b), (middle, c, d), (leaving, e, f) = here.phases
        assert (entry, middle, leaving) == ("entry", "middle", "exit")
        assert a == 0.0 and b == c and d == e and f == here.length and a < b < d < f
        bend = np.abs(here.roads["curvature"])
        inside = (here.distance >= c) & (here.distance <= d)
        assert bend[inside].min() >= 0.899 * bend.max()
        assert bend[~inside].max() <= bend.max() and bend[0] < 0.2 * bend.max() > bend[-1]
        places = here.places(41)
        assert places[0] == 0.0 and places[-1] == pytest.approx(here.length) and (np.diff(places) > 0.0).all()
        assert (
            np.diff(places)[places[1:] <= b].max()
            < np.diff(places)[(places[1:] > c + 5) & (places[1:] < d)].max()
        )


@TRACKS
def test_every_place_is_the_state_that_a_trim_from_standing_finds_there(name: str) -> None:
    packed = with_fuel(car(), share=0.35)
    passage = along(packed, pace(name), pace(name).places(13))
    assert passage.solved.all()
    for i in range(len(passage.distance)):
        motion = passage.motions[i].copy()
        lone = solve(slosh(packed, motion), motion)
        assert lone.found
        loads = np.array([corner["load"] for corner in lone.corners])
        assert np.abs(loads - passage.loads[i]).max() < 0.05


def test_the_loads_of_a_place_carry_the_car_on_its_bank(check: Check) -> None:
    packed = car()
    passage = through(packed, track(), DAY, speeds=pace())
    for i in np.flatnonzero(np.abs(passage.motions["bank_rate"]) < 1e-6):
        at = passage.motions[i]
        mass = float(packed.record["weight"]) / GRAVITY
        pressure = 0.5 * at["air_density"] * at["speed"] ** 2
        wings = pressure * float(packed.record["down_area"].sum())
        push = mass * (GRAVITY * np.cos(at["bank"]) + at["speed"] ** 2 * at["curvature"] * np.sin(at["bank"]))
        check(
            ours=float(passage.loads[i].sum()), expected=float(push + wings), rel=3e-3, unit="N",
            kind=DERIVED, area="banking", of=f"four loads {passage.distance[i]:.0f} m into a banked turn",
            source="W cos b + m V^2 k sin b + downforce (OpenStax College Physics, ch. 6, from memory)",
        )  # fmt: skip


def test_lateral_acceleration_is_what_the_tires_push_with() -> None:
    passage = through(car(), track(), DAY, speeds=pace())
    mass = float(car().record["weight"]) / GRAVITY
    side = passage.corners["force_y"].sum(axis=1) / mass
    middle = (passage.distance > 60.0) & (passage.distance < 150.0)
    assert np.abs(side - passage.lateral)[middle].max() < 0.03 * np.abs(passage.lateral).max()


def test_a_place_between_two_is_solved_not_interpolated_and_the_same_from_anywhere() -> None:
    packed, here = with_fuel(car(), share=0.1), pace()
    passage = through(packed, track(), DAY, speeds=here)
    for where in (3.3, 31.7, 100.0, here.length):
        alone, near = place_at(packed, here, where), place_at(packed, here, where, passage)
        assert alone.carried and near.carried
        assert np.abs(np.subtract(alone.carried.loads.corners, near.carried.loads.corners)).max() < 0.02
        motion = alone.motion
        assert float(motion["speed"]) == pytest.approx(float(here.at([where])["speed"][0]))
        assert alone.lateral == pytest.approx(lateral(motion) / GRAVITY)
        assert alone.phase == here.phase(where)


def test_a_place_reads_as_its_passage_does() -> None:
    passage = through(with_fuel(car(), share=0.5), track(), DAY, speeds=pace(), places=11)
    for i in (0, 5, 10):
        place = place_of(passage, i)
        assert place.carried is not None and place.reason is None
        assert place.carried.loads.cross == pytest.approx(float(passage.wedge[i]), abs=1e-12)
        assert [c.coil.gap for c in place.carried.corners] == passage.corners["coil_gap"][i].tolist()


def test_where_the_car_cannot_be_there_is_a_reason_and_not_one_number() -> None:
    fast = at_one_speed(track(), DAY, 40.0)
    passage = along(car(), fast, fast.places(9))
    assert passage.solved.any() and not passage.solved.all()
    lost = int(np.flatnonzero(~passage.solved)[0])
    assert np.isnan(passage.states[lost]).all() and np.isnan(passage.clearance[lost]).all()
    for field in passage.corners.dtype.names or ():
        assert np.isnan(passage.corners[field][lost]).all()
    assert np.isnan(passage.wedge[lost])
    place = place_of(passage, lost)
    assert place.carried is None and place.solved is None
    assert place.reason and "no steady state" in place.reason and "mph" in place.reason
    found = passage.solved
    for lane in passage.lanes:
        for low, high in lane.filled:
            inside = (passage.distance >= low) & (passage.distance <= high)
            assert found[inside].all()


def test_speeds_are_held_when_setups_and_days_are_compared() -> None:
    here = pace()
    other = through(car("conventional"), track(), DAY, speeds=here)
    assert other.motions["speed"] == pytest.approx(here.at(other.distance)["speed"])
    hot = through(car(), track(), DAY.model_copy(update={"grip": replace(DAY.grip, si=1.1)}), speeds=here)
    assert (hot.motions["grip"] == 1.1).all() and hot.motions["speed"] == pytest.approx(
        other.motions["speed"]
    )


def test_a_lane_is_filled_where_a_trim_finds_the_coil_on_its_seat() -> None:
    packed = with_fuel(car(), share=0.4)
    passage = through(packed, track(), DAY, speeds=pace(), places=81)
    lane = _lane(passage.lanes, "coil", "RR")
    assert lane.filled and 0.0 < lane.filled[0][0] < 30.0
    edge = lane.filled[0][0]
    for where, seated in ((edge - 2.0, False), (edge + 2.0, True)):
        at = place_at(packed, pace(), where)
        assert at.carried is not None
        assert (at.carried.corners[3].coil.state == "seated") is seated is lane.touches(where)


def test_through_the_fuel_at_one_place_the_coil_comes_up_as_it_burns() -> None:
    cars = [with_fuel(car(), share=share) for share in (1.0, 0.75, 0.5, 0.25, 0.0)]
    lane = _lane(through_fuel(cars, pace(), 3.0), "coil", "RR")
    assert len(lane.filled) == 1
    low, high = lane.filled[0]
    full = float(cars[0].record["fuel_mass"])
    assert 0.0 < low < full and high == pytest.approx(full)
    for kg, seated in ((low - 1.0, False), (low + 1.0, True)):
        at = place_at(with_fuel(car(), kg), pace(), 3.0)
        assert at.carried is not None and (at.carried.corners[3].coil.gap <= 0.0) is seated


def _lane(lanes: tuple[Lane, ...], part: str, where: str) -> Lane:
    return next(lane for lane in lanes if (lane.part, lane.where) == (part, where))


def test_a_car_without_a_spring_and_a_right_hand_track_go_through_as_well() -> None:
    right = track().changed({"turns": "right"})
    for name in ("no_rr", "giant_bar"):
        here = paced(car(name), right, DAY)
        passage = through(car(name), right, DAY, speeds=here)
        assert passage.solved.all() and (here.roads["curvature"][5:-5] < 0.0).all()
        assert ("coil", "RR") not in {(lane.part, lane.where) for lane in passage.lanes} or name != "no_rr"


def test_balance_is_told_at_entry_middle_and_exit() -> None:
    found = balances(with_fuel(car(), share=0.5), track(), DAY)
    assert list(found) == ["entry", "middle", "exit"]
    assert all(place.balance is not None and place.limit.speed for place in found.values())
