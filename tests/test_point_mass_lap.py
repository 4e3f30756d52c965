"""The point mass on a fixed line against closed forms and against an integration by other code."""

import dataclasses

import numpy as np
import pytest
from evidence import DERIVED
from hypothesis import given, settings
from hypothesis import strategies as st
from ovals import OVALS, ribbon_of
from scipy.constants import foot, g, mile
from ways import CARS, car, circle, stadium, stretch, way

from ovalwright.solve.envelope import limit_of, point_mass
from ovalwright.solve.sweep import lap, run

MPH = mile / 3600.0
FINE = 0.25
"""Step [m] of the comparisons with closed forms."""
CIRCLE = "friction circle on a banked circle, in closed form"
STADIUM = "two straights and two half circles, in closed form"
SWEPT = "sweep with Runge-Kutta steps, 60 to the meter, own code apart from this one"


def sliding(friction, *, mass=1300.0, power=1e9, **more):
    """A point mass that only its tires limit."""
    return point_mass(mass=mass, friction=friction, power=power, **more)


@pytest.mark.parametrize(
    ("radius", "bank", "friction", "speed", "time"),
    [
        (60.0, 0.0, 1.1, 25.440890, 14.818315),
        (200.0 * foot, 0.0, 1.1, 57.363078 * MPH, 14.936402),
        (200.0 * foot, 12.0, 1.1, 71.585903 * MPH, 11.968809),
        (60.0, 12.0, 1.1, 31.748804, None),
        (75.0, 14.0, 1.15, 37.985942, None),
    ],
)
def test_circle_without_drag(check, radius, bank, friction, speed, time):
    ours = lap(sliding(friction), circle(radius, bank=np.radians(bank)))
    of = f"circle of {radius:.4g} m, {bank:g} deg, grip {friction}"
    check(ours.speed, speed, rel=1e-6, unit="m/s", of=of, source=CIRCLE, kind=DERIVED, area="lap")
    if time:
        check(ours.time, time, rel=1e-6, unit="s", of=of, source=CIRCLE, kind=DERIVED, area="lap")


@pytest.mark.parametrize(
    ("oval", "lift", "speed", "time"),
    [
        ("A", 0.0, 25.438148, 14.819912),
        ("A", 0.30, 25.555158, None),
        ("B", 0.0, 37.973527, 12.409669),
        ("B", 0.30, 38.305268, None),
        ("C", 0.0, 24.197832, None),
        ("C", 0.30, 24.290467, None),
    ],
)
def test_circle_held_against_drag(check, oval, lift, speed, time):
    shape = OVALS[oval]
    mass = point_mass(**CARS[oval], lift_area=lift)
    ours = lap(mass, circle(shape.radius, bank=np.radians(shape.steep)))
    of = f"turn of oval {oval} held against drag, C_l A {lift:g} m^2"
    check(ours.speed, speed, rel=1e-7, unit="m/s", of=of, source=CIRCLE, kind=DERIVED, area="lap")
    if time:
        check(ours.time, time, rel=1e-7, unit="s", of=of, source=CIRCLE, kind=DERIVED, area="lap")
    if oval == "A" and not lift:
        power = ours.along[0] * ours.speed[0] * 1300.0
        check(power, 7407.5, rel=1e-4, unit="W", of=of, source=CIRCLE, kind=DERIVED, area="lap")


def constant(value):
    """A limit that neither speed nor load changes."""
    return limit_of(flat=value)


POINT = point_mass(mass=1300.0, friction=1.1, power=300e3)


@pytest.mark.parametrize(
    ("name", "envelope", "road", "time", "top"),
    [
        (
            "drive 4, brakes 9 m/s^2",
            dataclasses.replace(POINT, brake=constant(9.0), drive=constant(4.0)),
            (60.0, 150.0),
            24.210079,
            38.444871,
        ),
        (
            "300 kW, brakes 9 m/s^2",
            dataclasses.replace(POINT, brake=constant(9.0)),
            (60.0, 150.0),
            23.561465,
            42.381120,
        ),
        ("300 kW", POINT, (60.0, 150.0), 23.431627, 43.268529),
        ("300 kW, revs end at 40 m/s", dataclasses.replace(POINT, top=40.0), (60.0, 150.0), 23.505202, 40.0),
        (
            "400 kW, traction first",
            point_mass(mass=1250.0, friction=1.0, power=400e3),
            (40.0, 90.0),
            19.175674,
            35.637979,
        ),
    ],
)
def test_stadium(check, name, envelope, road, time, top):
    ours = lap(envelope, stadium(*road, FINE), grain=FINE)
    of = f"stadium of {road[0]:g} m radius, {name}"
    check(ours.time, time, rel=2e-6, unit="s", of=of, source=STADIUM, kind=DERIVED, area="lap")
    check(ours.speed.max(), top, rel=1e-3, unit="m/s", of=of, source=STADIUM, kind=DERIVED, area="lap")


@pytest.mark.parametrize(
    ("radius", "bank", "friction", "entry", "length", "exit", "time"),
    [
        (60.0, 0.0, 1.1, 0.0, 47.123890, 25.440890, 3.091941),
        (60.0, 0.0, 1.1, 25.440890 / 2.0, 39.543482, 25.440890, None),
        (60.0, 12.0, 1.1, 0.0, 62.827336, 31.748804, 3.471605),
        (60.0, 12.0, 1.1, 15.0, 52.524904, 31.748804, 2.075082),
        (75.0, 14.0, 1.15, 20.0, 66.010482, 37.985942, 2.120098),
    ],
)
def test_run_up_to_the_limit_of_a_circle(check, radius, bank, friction, entry, length, exit, time):
    road = stretch(length, 1.0 / radius, 1.0 / radius, FINE, bank=np.radians(bank))
    ours = run(sliding(friction), road, entry=entry)
    of = f"run-up from {entry:.4g} m/s on a circle of {radius:g} m, {bank:g} deg"
    check(ours.speed[-1], exit, rel=2e-5, unit="m/s", of=of, source=CIRCLE, kind=DERIVED, area="lap")
    assert ours.speed[-4] < exit * (1.0 - 1e-6), "the limit is reached at the end, not before"
    if time:
        check(ours.time, time, rel=2e-4, unit="s", of=of, source=CIRCLE, kind=DERIVED, area="lap")


@pytest.mark.parametrize(
    ("slow", "length", "cost"),
    [(1.0, 11.855077, 0.006236), (2.0, 16.703868, 0.017957), (4.0, 23.427610, 0.052659)],
)
def test_what_a_slow_entry_costs(check, slow, length, cost):
    """Beside the cost: V^2 is the limit's times the sine of an angle that is right at the length printed."""
    limit, arc = np.sqrt(1.1 * g * 60.0), np.pi / 2.0 * 60.0
    ours = run(sliding(1.1), stretch(arc, 1.0 / 60.0, 1.0 / 60.0, 0.1), entry=limit - slow)
    of = f"entry {slow:g} m/s under the limit of a 60 m circle"
    check(ours.time - arc / limit, cost, rel=2e-3, unit="s", of=of, source=CIRCLE, kind=DERIVED, area="lap")
    gone = np.cumsum(np.full_like(ours.speed, arc / (len(ours.speed) - 1))) - arc / (len(ours.speed) - 1)
    short = np.maximum(length - gone, 0.0)
    of += ", speed on the way back to it"
    expected = limit * np.sqrt(np.cos(2.0 * short / 60.0))
    check(ours.speed, expected, rel=2e-5, unit="m/s", of=of, source=CIRCLE, kind=DERIVED, area="lap")


@pytest.mark.parametrize(
    ("radius", "clothoid", "speed", "time"),
    [(60.0, 30.0, 33.416134, 1.045793), (75.0, 45.0, 38.748391, 1.380217)],
)
def test_trail_braking_on_a_clothoid(check, radius, clothoid, speed, time):
    limit = np.sqrt(1.1 * g * radius)
    ours = run(sliding(1.1), stretch(clothoid, 0.0, 1.0 / radius, 0.1), exit=limit, entry=100.0)
    of = f"braking along a clothoid of {clothoid:g} m into {radius:g} m"
    source = "friction circle backward from the arc, by quadrature"
    check(ours.speed[0], speed, rel=2e-5, unit="m/s", of=of, source=source, kind=DERIVED, area="lap")
    check(ours.time, time, rel=2e-5, unit="s", of=of, source=source, kind=DERIVED, area="lap")


def test_braking_with_drag_and_top_speed(check):
    mass = dataclasses.replace(
        point_mass(mass=1300.0, friction=1.1, power=300e3, drag_area=0.75, air=1.225), brake=constant(9.0)
    )
    of = "braking from 50 to 30 m/s with 11.7 kN and drag, speed where it begins"
    ours = run(mass, stretch(83.351168, 0.0, 0.0, FINE), exit=30.0)
    check(ours.speed[0], 50.0, rel=1e-6, unit="m/s", of=of, source=STADIUM, kind=DERIVED, area="lap")
    flat_out = lap(mass, way(np.full(40, 50.0), 0.0))
    of = "top speed, 300 kW against C_d A 0.75 m^2"
    check(flat_out.speed, 86.759685, rel=1e-7, unit="m/s", of=of, source=STADIUM, kind=DERIVED, area="lap")


def test_grip_scales_the_lap_by_its_root(check):
    road = stadium(60.0, 150.0, 1.0)
    ours = lap(sliding(1.1 * 0.95), road).time / lap(sliding(1.1), road).time
    of = "lap at 95 % of grip, no drag and no end of power"
    check(ours, 1.025978, rel=1e-6, of=of, source="T ~ grip^-1/2", kind=DERIVED, area="lap")


# ---------------- ovals with easements, bank, power and drag

FIXED = {"A": 24.195065, "B": 20.799176, "C": 18.759423}
SPEEDS = {"A": (25.43815, 46.257), "B": (37.97353, 54.800), "C": (24.19783, 37.121)}


@pytest.mark.parametrize("name", OVALS)
def test_oval_on_its_center(check, name):
    ours = lap(car(name), ribbon_of(OVALS[name]).line(0.0))
    of = f"lap of oval {name} on its center"
    check(ours.time, FIXED[name], rel=2e-4, unit="s", of=of, source=SWEPT, kind=DERIVED, area="lap")


@pytest.mark.parametrize("name", OVALS)
def test_oval_in_small_steps(check, name):
    ours = lap(car(name), ribbon_of(OVALS[name]).line(0.0, spacing=0.25), grain=0.25)
    of = f"oval {name} on its center, steps of 0.25 m"
    check(ours.time, FIXED[name], rel=1.2e-5, unit="s", of=of, source=SWEPT, kind=DERIVED, area="lap")
    extremes, of = [ours.speed.min(), ours.speed.max()], f"{of}: slowest and fastest"
    check(extremes, SPEEDS[name], rel=3e-4, unit="m/s", of=of, source=SWEPT, kind=DERIVED, area="lap")


@pytest.mark.parametrize(
    ("name", "share", "time", "spacing"),
    [
        ("A", -0.25, 24.408601, 3.0),
        ("A", 0.25, 23.978401, 3.0),
        ("B", -0.25, 21.529228, 0.1),
        ("B", 0.25, 20.581189, 0.2),
        ("C", -0.25, 19.234707, 0.1),
        ("C", 0.25, 18.507854, 0.2),
    ],
)
def test_oval_beside_its_center(check, name, share, time, spacing):
    """Beside the center of a bank that a cubic eases, load steps where the arc begins: only small steps see
    it (a collocation of 120 intervals found laps 0.08 % too quick high on the bank)."""
    ours = lap(car(name), ribbon_of(OVALS[name]).line(share * OVALS[name].width, spacing=spacing), grain=0.5)
    of = f"lap of oval {name}, a quarter of its width {'down' if share > 0.0 else 'up'}"
    check(ours.time, time, rel=2e-4, unit="s", of=of, source=SWEPT, kind=DERIVED, area="lap")


MARGINS = {
    "A": (24.7323, 24.382978, 24.271420, 24.457049),
    "B": (21.3462, 20.890000, 20.829106, 20.919095),
    "C": (19.1907, 18.858973, 18.788899, 18.887502),
}


@pytest.mark.parametrize("name", OVALS)
def test_driver_who_uses_a_share(check, name):
    line = ribbon_of(OVALS[name]).line(0.0)
    shares = ({"grip": 0.95}, {"brake": 0.8}, {"drive": 0.8}, {"brake": 0.8, "drive": 0.8})
    ours = [lap(car(name).driven(**share), line).time for share in shares]
    of = f"oval {name}: 95 % of grip; 80 % of brakes, of traction, of both"
    check(ours, MARGINS[name], rel=2e-4, unit="s", of=of, source=SWEPT, kind=DERIVED, area="lap")


WORTH = {
    "A": (-0.1032, 0.0111, -0.0118, 0.0006),
    "B": (-0.1065, 0.0093, -0.0106, 0.0013),
    "C": (-0.0835, 0.0084, -0.0089, 0.0005),
}


@pytest.mark.parametrize("name", OVALS)
def test_worth_of_one_percent(check, name):
    line = ribbon_of(OVALS[name]).line(0.0)
    ours = [
        0.5 * (lap(car(name, **{figure: 1.01}), line).time - lap(car(name, **{figure: 0.99}), line).time)
        for figure in ("friction", "mass", "power", "drag_area")
    ]
    of = f"oval {name}: 1 % more grip, mass, power, drag"
    check(ours, WORTH[name], abs=2.5e-4, unit="s", of=of, source=SWEPT, kind=DERIVED, area="lap")


@pytest.mark.parametrize(("name", "worth"), [("A", -0.427), ("B", -0.512), ("C", -0.445)])
def test_exponent_of_grip(check, name, worth):
    line = ribbon_of(OVALS[name]).line(0.0)
    more, less = (lap(car(name, friction=factor), line).time for factor in (1.01, 0.99))
    ours = np.log(more / less) / np.log(1.01 / 0.99)
    of = f"oval {name}: exponent of grip in lap time"
    check(ours, worth, abs=2e-3, of=of, source=SWEPT, kind=DERIVED, area="lap")


# ---------------- grade, crest and what cannot be driven


def test_hill_gives_back_what_it_takes(check):
    """Coasting over a hill: E + g z is kept where nothing is lost."""
    rise = 0.05 * np.sin(np.linspace(0.0, 2.0 * np.pi, 401))
    mass = dataclasses.replace(sliding(1.1), push=lambda speed: 0.0 * speed)
    ours = run(mass, way(np.full(401, 0.5), 0.0, grade=rise), entry=30.0)
    height = np.concatenate([[0.0], np.cumsum(0.5 * 0.5 * (np.sin(rise)[1:] + np.sin(rise)[:-1]))])
    of = "coasting over a hill"
    source = "energy kept"
    check(ours.speed, np.sqrt(900.0 - 2.0 * g * height), rel=1e-5, unit="m/s", of=of, source=source,
          kind=DERIVED, area="lap")  # fmt: skip


def test_crest_lightens(check):
    ours = lap(sliding(1.1), circle(200.0, crest=-1.0 / 400.0))
    of, source = "load off over a crest of 400 m", "V^2 over the crest's radius"
    check(g - ours.gravity, ours.speed**2 / 400.0, rel=1e-9, unit="m/s^2", of=of, source=source,
          kind=DERIVED, area="lap")  # fmt: skip
    held = np.sqrt(1.1 * g / (1.0 / 200.0 + 1.1 / 400.0))
    check(
        ours.speed,
        held,
        rel=1e-7,
        unit="m/s",
        of="circle of 200 m on it",
        source=source,
        kind=DERIVED,
        area="lap",
    )


def test_too_steep_a_road_is_said():
    weak = point_mass(mass=1300.0, friction=1.1, power=300e3, drag_area=0.7)
    with pytest.raises(ValueError, match="too steep"):
        lap(weak, circle(60.0, grade=1.2))


@settings(max_examples=15)
@given(
    st.floats(0.6, 2.0),
    st.floats(0.0, 0.8),
    st.floats(20.0, 200.0),
    st.floats(40e3, 500e3),
    st.floats(0.5, 1.0),
)
def test_profile_is_never_over_a_limit(friction, lean, radius, power, share):
    """Whatever the car: nowhere over its cap or its tires, and slower with less of each."""
    mass = point_mass(mass=1200.0, friction=friction, power=power, drag_area=0.8)
    road = stadium(radius, 2.0 * radius, 4.0)
    bank = np.arctan(lean * friction * share)
    road = dataclasses.replace(road, bank=np.full_like(road.step, bank))
    ours, less = lap(mass, road, grain=4.0), lap(mass.driven(grip=share), road, grain=4.0)
    assert (ours.speed <= ours.cap * (1.0 + 1e-9)).all()
    assert less.time >= ours.time * (1.0 - 1e-9)
