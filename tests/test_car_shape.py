"""The car as drawn against the solver's own answer, and against what rigid links and scales leave no choice
of.
"""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED, Check

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pictures.car_shape import CarShape, car_plan, car_shape
from ovalwright.study.state import Solved
from ovalwright.study.through import at_one_speed, place_at
from ovalwright.study.turn import STANDING

DEMO = Path(str(resources.files("ovalwright") / "demo"))
SETUPS = ("conventional", "hanging_rr", "giant_bar", "soft_front", "no_rr", "light")
SAME = 1e-9


@cache
def car(name: str) -> Packed:
    return with_fuel(build(assemble(DEMO / f"setup_{name}.toml")), share=0.3)


@cache
def state(name: str, where: str) -> Solved:
    """A demo car on level ground, or somewhere in a turn of a banked track."""
    packed = car(name)
    if where == "standing":
        return Solved(packed.record, STANDING, packed.settled, "solved", 0.0, 0, 0)
    track = load_track(DEMO / "track_three_eighths.toml")
    pace = at_one_speed(track, Conditions(), 27.0)
    solved = place_at(packed, pace, {"entry": 12.0, "middle": 90.0}[where]).solved
    assert solved is not None
    return solved


def shape_of(name: str, solved: Solved) -> CarShape:
    return car_shape(car_plan(car(name)), solved.record, solved.unknowns, solved.motion)


EVERYWHERE = pytest.mark.parametrize(
    ("name", "where"), [(name, where) for name in SETUPS for where in ("standing", "entry", "middle")]
)


@EVERYWHERE
def test_everything_is_drawn_where_the_solver_has_it(name: str, where: str) -> None:
    solved = state(name, where)
    shape, corners = shape_of(name, solved), solved.corners
    hubs = np.column_stack([corners["hub_x"], corners["hub_y"], corners["hub_z"]])
    assert np.abs(shape.parts["wheel"] - hubs).max() < SAME
    for i, (wheel, coil) in enumerate(zip(shape.wheels, shape.coils, strict=True)):
        at = corners[i]
        assert abs(coil.length - at["coil_length"]) < SAME
        assert abs(coil.length - coil.touching - at["coil_gap"]) < SAME or coil.state == "none"
        assert wheel.inclination == at["inclination"] and wheel.load == at["load"]
        heading = np.arctan2(wheel.forward[1], wheel.forward[0])
        assert abs(heading - at["steer"]) < 1e-3
        shock = np.linalg.norm(shape.parts["shock_top"][i] - shape.parts["shock_low"][i])
        assert abs(shock - at["shock_length"]) < SAME
    for stop in shape.stops:
        i = ("LF", "RF", "LR", "RR").index(stop.name)
        assert stop.gap == corners["stop_gap"][i] and stop.force == corners["stop_force"][i]
    assert [point.gap for point in shape.watched] == solved.gaps[: len(shape.watched)].tolist()


@pytest.mark.parametrize("name", SETUPS)
def test_on_level_ground_lean_and_clearance_are_those_of_the_points_themselves(name: str) -> None:
    solved = state(name, "standing")
    shape = shape_of(name, solved)
    for wheel in shape.wheels:
        assert abs(wheel.inclination + np.arcsin(wheel.spindle[2])) < SAME
    for point in shape.watched:
        assert abs(point.at[2] - point.gap) < SAME


@EVERYWHERE
def test_links_keep_the_length_of_their_pickup_points(name: str, where: str, check: Check) -> None:
    parts = shape_of(name, state(name, where)).parts
    drawn = car(name).drawing

    def length(one: str, other: str) -> np.ndarray:
        return np.asarray(np.linalg.norm(parts[one] - parts[other], axis=1))

    left, right = drawn.corners
    pairs = [
        (
            "ball_lower",
            "ball_upper",
            [np.linalg.norm(c["ball_lower"] - c["ball_upper"]) for c in (left, right)],
        ),
        ("bar_foot", "bar_tip", [np.linalg.norm(c["bar_foot"] - c["bar_tip"]) for c in (left, right)]),
        (
            "tie_outer",
            "ball_lower",
            [np.linalg.norm(c["tie_outer"] - c["ball_lower"]) for c in (left, right)],
        ),
    ]
    worst = max(float(np.abs(length(one, other) - drawn_as).max()) for one, other, drawn_as in pairs)
    check(
        ours=worst, expected=0.0, abs=1e-9, unit="m", kind=DERIVED, area="linkage",
        of=f"kingpins, bar links, steering arms as drawn, {name} at {where}: change of length",
        source="a rigid link keeps the distance of its pick-up points",
    )  # fmt: skip
    axle = np.linalg.norm(parts["link_axle"][:, None] - parts["wheel"][None, 2:], axis=2)
    as_drawn = np.linalg.norm(drawn.link_axle[:, None] - drawn.wheels[None, 2:], axis=2)
    assert np.abs(axle - as_drawn).max() < SAME


@pytest.mark.parametrize("name", SETUPS)
def test_the_center_of_gravity_lies_where_the_scales_put_it(name: str, check: Check) -> None:
    shape = shape_of(name, state(name, "standing"))
    loads = np.array([wheel.load for wheel in shape.wheels])
    patches = np.array([wheel.patch for wheel in shape.wheels])
    check(
        ours=shape.cg[:2], expected=loads @ patches[:, :2] / loads.sum(), abs=1e-5, unit="m",
        kind=DERIVED, area="weighing", of=f"center of gravity in plan as drawn, {name}",
        source="moments of the four wheel loads about the origin (statics)",
    )  # fmt: skip


def test_a_roll_to_the_right_lowers_the_right_side_of_the_frame() -> None:
    shape = shape_of("hanging_rr", state("hanging_rr", "middle"))
    section = shape.fixed["front section"]
    assert shape.roll > 0.0
    assert section[0, 2] > section[-1, 2]


def test_left_is_left_and_a_lifted_wheel_has_no_patch() -> None:
    shape = shape_of("conventional", state("conventional", "standing"))
    assert [wheel.center[1] > 0.0 for wheel in shape.wheels] == [True, False, True, False]
    for wheel in shape.wheels:
        assert abs(np.linalg.norm(wheel.forward) - 1.0) < SAME and abs(wheel.forward @ wheel.spindle) < SAME
        assert wheel.patch_length > 0.0 and not wheel.lifted
