"""Tire air, stagger and steering against published figures; each figure's source stands beside it."""

import math

import pytest
from evidence import COMMON_PRACTICE, DERIVED, READ
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants as unit

from ovalwright.mechanics import handbook as hb

PSI = unit.psi
OPENSTAX = "OpenStax College Physics"


def kelvin(celsius):
    return celsius + 273.15


def fahrenheit(degrees):
    return unit.convert_temperature(degrees, "F", "K")


# ---------------- tire air


@pytest.mark.parametrize(
    ("gauge", "ambient", "start", "end", "zero", "hot", "tolerance", "pascal", "source"),
    [
        (2.50e5, 1.013e5, 35, -40, 273.15, 1.64e5, 600, 1, f"{OPENSTAX} ch. 13, problem 22"),
        (658, 101.3, 20, 60, 273.0, 761.66, 0.005, 1e3, "assignmentexpert 1507"),
        (42.5, 14.7, -16, 44.2, 273.0, 55.8986, 0.05, PSI, "physicsforums 320368"),
    ],
)
def test_hot_pressure(check, gauge, ambient, start, end, zero, hot, tolerance, pascal, source):
    ours = hb.pressure_at(gauge * pascal, filled_at=start + zero, now_at=end + zero, ambient=ambient * pascal)
    of = f"gauge pressure {gauge:g} of {start} deg C at {end} deg C"
    check(ours / pascal, hot, abs=tolerance, of=of, source=source, kind=READ, area="tire")


def test_hot_pressure_of_a_tire_that_has_grown(check):
    ours = hb.pressure_at(
        36.0 * PSI,
        filled_at=kelvin(12.0),
        now_at=kelvin(65.0),
        ambient=14.7 * PSI,
        volume_growth=12.2 / 11.8 - 1,
    )
    check(
        ours / PSI,
        43.5,
        abs=0.05,
        unit="psi",
        of="gauge pressure after 12 to 65 deg C and 11.8 to 12.2 L",
        source="stored homework copy 6099369",
        kind=READ,
        area="tire",
    )


@pytest.mark.parametrize(
    ("cold", "start", "end", "gain"),
    [(12, 70, 170, 5.04011), (14, 70, 185, 6.23036), (20, 70, 200, 8.51563), (26, 70, 215, 11.14073)],
)
def test_pressure_gain_of_a_run(check, cold, start, end, gain):
    at = {"filled_at": fahrenheit(start), "now_at": fahrenheit(end)}
    ours = hb.pressure_at(cold * PSI, **at)
    check(
        ours / PSI - cold,
        gain,
        abs=1e-5,
        unit="psi",
        of=f"gain of {cold} psi from {start} to {end} deg F",
        source="p T2/T1 by hand, 14.69595 psi outside",
        kind=DERIVED,
        area="tire",
    )


def test_cold_pressure_for_a_wanted_hot_one(check):
    ours = hb.pressure_at(36.756584 * PSI, filled_at=fahrenheit(210), now_at=fahrenheit(70))
    check(
        ours / PSI,
        26.0,
        rel=1e-6,
        unit="psi",
        of="cold pressure for 36.76 psi at 210 deg F",
        source="p T2/T1 by hand",
        kind=DERIVED,
        area="tire",
    )


@pytest.mark.parametrize(
    ("gauge", "ambient", "start", "end", "wrong", "apart", "of", "source"),
    [
        (30 * PSI, 101_325.0, 10, 40, 239_381.89, 3e-4, "slip in the last step", "Chegg q1960861"),
        (32 * PSI, 101_325.0, 20, 40, 35.13 * PSI, 1e-3, "14 psi outside", "qammunity 13110501"),
        (
            32 * PSI,
            101_325.0,
            20,
            40,
            32 * PSI * 313.15 / 293.15,
            1e-2,
            "gauge pressure in p/T",
            "laminart 15312188",
        ),
    ],
)
def test_hot_pressure_worked_out_wrongly(check, gauge, ambient, start, end, wrong, apart, of, source):
    ours = hb.pressure_at(gauge, filled_at=kelvin(start), now_at=kelvin(end), ambient=ambient)
    check.trap(
        ours,
        wrong,
        apart=apart,
        unit="Pa",
        of=f"hot pressure with {of}",
        source=source,
        kind=READ,
        area="tire",
    )


# ---------------- stagger


def test_radius_of_a_pair_of_tires(check):
    left, right = 27.91 * math.pi, 29.38 * math.pi
    to_axle = hb.radius_for_stagger(left_roll_out=left, right_roll_out=right, tread=60.0)
    check(
        to_axle - 30.0,
        1140,
        abs=1.0,
        unit="in",
        of="radius to the inner tire, diameters 27.91 and 29.38 in, 60 in apart",
        source="Western Racing, turn radius page",
        kind=READ,
        area="stagger",
    )
    check(
        to_axle / 12,
        97.4320,
        rel=1e-5,
        unit="ft",
        of="the same to the middle of the axle",
        source="similar triangles by hand",
        kind=DERIVED,
        area="stagger",
    )


@pytest.mark.parametrize(
    ("radius_ft", "inner_wheel", "stagger"),
    [(180, True, 2.548148), (180, False, 2.586466), (200, False, 2.324324)],
)
def test_stagger_of_a_turn(check, radius_ft, inner_wheel, stagger):
    radius = radius_ft * unit.foot + (32 * unit.inch if inner_wheel else 0.0)
    ours = hb.stagger_for_radius(86 * unit.inch, tread=64 * unit.inch, radius=radius)
    place = "the inner tire" if inner_wheel else "the middle of the axle"
    check(
        ours / unit.inch,
        stagger,
        rel=1e-6,
        unit="in",
        of=f"stagger of a {radius_ft} ft turn (to {place}), 86 in left, 64 in apart",
        source="similar triangles by hand",
        kind=DERIVED,
        area="stagger",
    )


def test_stagger_rolls_both_tires_at_the_speeds_of_their_paths(check):
    radius, tread, left = 55.0, 1.63, 2.18
    right = left + hb.stagger_for_radius(left, tread=tread, radius=radius)
    check(
        right / left,
        (radius + tread / 2) / (radius - tread / 2),
        rel=1e-12,
        of="right over left roll-out equals the ratio of the two paths",
        source="rolling without slip, by hand",
        kind=DERIVED,
        area="stagger",
    )


def test_stagger_is_right_less_left(check):
    stagger = hb.stagger_for_radius(86 * unit.inch, tread=64 * unit.inch, radius=180 * unit.foot)
    check.fact(
        stagger > 0.0,
        of="a left turn wants the larger tire on the right, and this counts as positive stagger",
        source="worldofspeed.org 2015",
        kind=READ,
        area="stagger",
    )


def test_a_quarter_inch_of_stagger_suits_only_a_huge_turn(check):
    radius = (
        hb.radius_for_stagger(left_roll_out=86.0, right_roll_out=86.25, tread=64.0) * unit.inch / unit.foot
    )
    check.fact(
        radius > 1500.0,
        of="a quarter inch of rear stagger is very little for a short track",
        source="trade",
        kind=COMMON_PRACTICE,
        area="stagger",
    )


@given(
    radius=st.floats(3.0, 1e4) | st.floats(-1e4, -3.0),
    tread=st.floats(1.0, 2.0),
    left=st.floats(1.5, 2.5),
)
def test_stagger_and_radius_undo_each_other(radius, tread, left):
    stagger = hb.stagger_for_radius(left, tread=tread, radius=radius)
    back = hb.radius_for_stagger(left_roll_out=left, right_roll_out=left + stagger, tread=tread)
    assert back == pytest.approx(radius, rel=1e-9)


def test_no_stagger_rolls_straight():
    assert hb.radius_for_stagger(left_roll_out=2.2, right_roll_out=2.2, tread=1.6) == math.inf


# ---------------- steering


def test_ackermann(check):
    geometry = {"tread": 64.0, "wheelbase": 101.0}
    pair = hb.ackermann_steer(radius=2400.0, **geometry)
    rule = "cot outer - cot inner = tread / wheelbase: examians.com"
    check(
        1 / math.tan(pair.right) - 1 / math.tan(pair.left),
        64 / 101,
        rel=1e-9,
        of="difference of the cotangents in a 200 ft turn",
        source=rule,
        kind=READ,
        area="steering",
    )
    check(
        [math.degrees(pair.left), math.degrees(pair.right)],
        [2.442301, 2.378105],
        abs=1e-6,
        unit="deg",
        of="inner and outer steer in a 200 ft turn, 64 by 101 in",
        source=f"by hand from {rule}",
        kind=DERIVED,
        area="steering",
    )
    check(
        math.degrees(hb.ackermann_outer(math.radians(20.0), **geometry)),
        16.476013,
        abs=1e-6,
        unit="deg",
        of="outer steer to an inner one of 20 deg",
        source=f"by hand from {rule}",
        kind=DERIVED,
        area="steering",
    )


@given(radius=st.floats(10.0, 1e3), tread=st.floats(1.3, 1.8), wheelbase=st.floats(2.0, 3.2))
def test_ackermann_mirrors_and_agrees_with_its_other_form(radius, tread, wheelbase):
    left = hb.ackermann_steer(radius=radius, tread=tread, wheelbase=wheelbase)
    right = hb.ackermann_steer(radius=-radius, tread=tread, wheelbase=wheelbase)
    assert (left.left, left.right) == pytest.approx((-right.right, -right.left), rel=1e-12)
    outer = hb.ackermann_outer(left.left, tread=tread, wheelbase=wheelbase)
    assert outer == pytest.approx(left.right, rel=1e-9)
    share = {"inner": left.left, "tread": tread, "wheelbase": wheelbase}
    assert hb.ackermann_share(outer=left.right, **share) == pytest.approx(1.0, abs=1e-6)
    assert hb.ackermann_share(outer=left.left, **share) == 0.0
