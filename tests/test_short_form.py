"""The linkage constructed from a short form has just the properties it was asked for, and drives like the
full one.
"""

from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import degree, inch, pound

import ovalwright
from ovalwright.documents import DocumentError, assemble, load_car, load_conditions, load_track
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.mechanics.linkage import arm_strut, axle, bar_arm, upright
from ovalwright.pack import Values, build, motion
from ovalwright.pack.drawing import draw, set_linkage, wheels_over_patches
from ovalwright.pack.seats import new_record
from ovalwright.solve.trim import trim
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.record import CORNER

DEMO = Path(ovalwright.__file__).parent / "demo"
SHORT = assemble(DEMO / "setup_conventional.toml", car=load_car(DEMO / "car_short.toml"))
HEIGHT = 15.5 * inch
STRAIGHT = {"setup.toe_out": 0.0, "setup.rear_lead": 0.0}
RADII = (12.6 * inch, 13.2 * inch, 12.5 * inch, 13.3 * inch)


def drawn(**values):
    """A record of the short-form car as drawn with some properties changed, and the numbers it was drawn
    from.
    """
    paths = STRAIGHT | {key.replace("__", "."): value for key, value in values.items()}
    car, setup = Values(SHORT.car, "car", paths), Values(SHORT.setup, "setup", paths)
    wheels = wheels_over_patches(car, setup, RADII)
    record = new_record()
    drawing = draw(car, setup, wheels=wheels, cg_height=HEIGHT)
    set_linkage(record, drawing, car)
    return record, drawing, car, setup


def front_motion(record, side, tread):
    """Velocity of the contact patch and angular velocity of the upright per unit rise of the patch, and
    that rise per radian of arm angle.
    """
    still = (0.0, 0.0, 0.0)
    at = upright(side, (1.0, 0.0), still, record)
    patch = np.array([at.wheel[0], 0.5 * tread * (1 - 2 * side), 0.0])
    patch[0] = 0.5 * 105.25 * inch
    velocity = np.array(at.speed) + np.cross(at.spin, patch - np.array(at.ball))
    return velocity / velocity[2], np.array(at.spin) / velocity[2], velocity[2]


inches = {
    "roll_center_height": st.floats(-3.0, 8.0),
    "roll_center_left": st.floats(-12.0, 12.0),
    "scrub": st.floats(1.0, 6.5),
    "trail": st.floats(-1.0, 3.0),
}
ANY_FRONT = st.fixed_dictionaries(
    {name: span.map(lambda x: x * inch) for name, span in inches.items()}
    | {
        "anti_dive": st.floats(-0.3, 0.6),
        "camber_gain": st.floats(-2.5, 0.5).map(lambda x: x * degree / inch),
        "coil_ratio": st.floats(0.35, 1.0),
        "bar_ratio": st.floats(0.3, 1.0),
        "coil_angle": st.floats(0.0, 40.0).map(lambda x: x * degree),
        "caster": st.floats(-2.0, 12.0).map(lambda x: x * degree),
        "kingpin": st.floats(0.0, 16.0).map(lambda x: x * degree),
        "bump_steer": st.floats(-0.06, 0.06),
    }
)
BOTH = ("roll_center_height", "roll_center_left", "anti_dive")


@given(wanted=ANY_FRONT)
def test_the_front_has_just_the_properties_asked_for(wanted):
    paths = {}
    for name, number in wanted.items():
        for where in ("",) if name in BOTH else ("LF.", "RF."):
            paths[f"car.front.short.{where}{name}"] = number
    record, drawing, car, setup = drawn(**paths)
    slopes = []
    for side, outward in ((0, 1.0), (1, -1.0)):
        path, turn, rise = front_motion(record, side, car.tread.front)
        slopes.append(path[1])
        assert -turn[0] * outward == pytest.approx(wanted["camber_gain"], rel=1e-9, abs=1e-9)
        assert turn[2] * outward * setup.toe_gauge == pytest.approx(wanted["bump_steer"], abs=1e-9)
        dive = path[0] * 0.62 * car.wheelbase / HEIGHT
        assert dive == pytest.approx(wanted["anti_dive"], abs=1e-9)
        points = drawing.corners[side]
        low, top = points["coil_low"], points["coil_top"]
        _, coil = arm_strut(side, (1.0, 0.0), tuple(low), tuple(top), record)
        assert -coil / rise == pytest.approx(wanted["coil_ratio"], rel=1e-9)
        assert abs(top[1] - low[1]) / (top[2] - low[2]) == pytest.approx(
            np.tan(wanted["coil_angle"]), abs=1e-9
        )
        _, _, bar = bar_arm(side, (1.0, 0.0), record)
        assert bar * record["bar_arm"][side] / rise == pytest.approx(wanted["bar_ratio"], rel=1e-9)
        lower, upper = points["ball_lower"], points["ball_upper"]
        king = (upper - lower) / (upper - lower)[2]
        assert -king[0] == pytest.approx(np.tan(wanted["caster"]), abs=1e-12)
        assert -king[1] * outward == pytest.approx(np.tan(wanted["kingpin"]), abs=1e-12)
        ground = lower - lower[2] * king
        patch = np.array([0.5 * car.wheelbase, outward * 0.5 * car.tread.front, 0.0])
        assert ground[0] - patch[0] == pytest.approx(wanted["trail"], abs=1e-9)
        assert (patch[1] - ground[1]) * outward == pytest.approx(wanted["scrub"], abs=1e-9)
    half, left = 0.5 * car.tread.front, wanted["roll_center_left"]
    assert slopes[0] * (half - left) == pytest.approx(wanted["roll_center_height"], abs=1e-9)
    assert -slopes[1] * (half + left) == pytest.approx(wanted["roll_center_height"], abs=1e-9)


ANY_REAR = st.fixed_dictionaries(
    {
        "roll_center_height": st.floats(6.0, 14.0).map(lambda x: x * inch),
        "panhard_behind_axle": st.floats(-6.0, 9.0).map(lambda x: x * inch),
        "anti_squat": st.floats(0.1, 1.5),
        "roll_steer": st.floats(-0.1, 0.1),
        "coil_base": st.floats(30.0, 46.0).map(lambda x: x * inch),
        "coil_lean": st.floats(0.0, 20.0).map(lambda x: x * degree),
        "coil_ratio": st.floats(0.75, 0.93),
    }
)


@given(wanted=ANY_REAR)
def test_the_rear_has_just_the_properties_asked_for(wanted):
    values = {f"car.rear.short.{name}": number for name, number in wanted.items()}
    record, drawing, car, _ = drawn(**values)
    _, go = axle(0.0, 0.0, record, np.zeros(8), np.zeros((4, 8)))
    middle = 0.5 * (drawing.wheels[2] + drawing.wheels[3])
    patch = np.array([0.0, 0.0, -middle[2]])
    rise = np.array(go.heave_speed) + np.cross(go.heave_spin, patch)
    assert -rise[0] / rise[2] * car.wheelbase / HEIGHT == pytest.approx(wanted["anti_squat"], abs=1e-9)
    roll_center = middle[2] + go.roll_speed[1] / go.roll_spin[0]
    assert roll_center == pytest.approx(wanted["roll_center_height"], abs=1e-9)
    assert go.roll_spin[2] / go.roll_spin[0] == pytest.approx(wanted["roll_steer"], abs=1e-9)
    low, top = drawing.rear_coils[:2], drawing.rear_coils[2:]
    assert low[0, 1] - low[1, 1] == pytest.approx(wanted["coil_base"])
    for i in range(2):
        along = (top[i] - low[i]) / np.linalg.norm(top[i] - low[i])
        speed = np.array(go.heave_speed) + np.cross(go.heave_spin, low[i] - middle)
        assert speed @ along == pytest.approx(wanted["coil_ratio"], rel=1e-9)
        assert abs(along[1] / along[2]) == pytest.approx(np.tan(wanted["coil_lean"]), abs=1e-9)


def test_roll_center_by_the_front_view_rule(check):
    """With no anti-dive and no bump steer the arms lie square across the car, and the textbook's rule is
    exact.
    """
    flat = {"car.front.short.anti_dive": 0.0}
    for side in ("LF", "RF"):
        flat[f"car.front.short.{side}.bump_steer"] = 0.0
    _, drawing, car, _ = drawn(**flat)
    lines = []
    for side, outward in ((0, 1.0), (1, -1.0)):
        points = drawing.corners[side]
        arms = []
        for arm in ("lower", "upper"):
            ball, pivot = points[f"ball_{arm}"], 0.5 * (points[f"{arm}_front"] + points[f"{arm}_rear"])
            slope = (ball - pivot)[2] / (ball - pivot)[1]
            arms.append((slope, ball[2] - slope * ball[1]))
        y = (arms[1][1] - arms[0][1]) / (arms[0][0] - arms[1][0])
        z = arms[0][0] * y + arms[0][1]
        patch = outward * 0.5 * car.tread.front
        lines.append((z / (y - patch), patch))
    (a, left), (b, right) = lines
    place = (a * left - b * right) / (a - b)
    form = car.front.short
    check(
        ours=np.array([form.roll_center_left, form.roll_center_height]) / inch,
        expected=np.array([place, a * (place - left)]) / inch,
        abs=1e-6,
        unit="in",
        of="roll center of a constructed front by lines through instant centers and patches",
        source="Gillespie, Fundamentals of Vehicle Dynamics, ch. 7 (from memory): instant center rule",
        kind=DERIVED,
        area="linkage",
    )


@pytest.mark.parametrize(
    ("track", "speed"), [("flat_quarter", 17.0), ("three_eighths", 25.0), ("steep_half", 38.0)]
)
def test_the_demo_car_by_its_properties_carries_what_it_carries_by_its_points(track, speed):
    full = build(assemble(DEMO / "setup_conventional.toml"))
    short = build(SHORT)
    turn = motion(
        load_track(DEMO / f"track_{track}.toml"),
        load_conditions(DEMO / "conditions_evening.toml"),
        speed=speed,
    )
    loads = []
    for packed in (full, short):
        state, corners = np.zeros(14), np.zeros(4, CORNER)
        assert trim(packed.settled, packed.record, turn, state, np.zeros((40, 14)))[0] == 0
        read_corners(state, packed.record, turn, corners)
        loads.append(corners["load"])
    # The short form leaves arm lengths open; 2 in and more of travel show it.
    assert np.abs(loads[0] - loads[1]).max() < 20.0 * pound * GRAVITY


def test_a_coil_that_cannot_have_its_ratio_is_told_in_one_sentence():
    with pytest.raises(DocumentError, match=r"rear\.short\.coil_ratio: .* write at most"):
        drawn(**{"car.rear.short.coil_ratio": 3.0})
    with pytest.raises(DocumentError, match=r"front\.short\.LF\.coil_angle: the coil is not squeezed"):
        drawn(**{"car.front.short.LF.coil_angle": 100.0 * degree})
