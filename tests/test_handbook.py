"""Textbook formulas against published figures; each figure's source stands beside it."""

import math

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, FROM_MEMORY, LIBRARY, READ
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants as unit

from ovalwright.mechanics import handbook as hb

PSI = unit.psi
LB_PER_IN = unit.lbf / unit.inch
LBFT_PER_DEG = unit.lbf * unit.foot / unit.degree
RPM = 2.0 * math.pi / unit.minute
GPA = 1e9

WAHL = "Wahl, Mechanical Springs, 2nd ed. 1963, by ajdesigner.com suspension spring page"
MAKER = "Hypercoils, tech tips (spring maker)"
OPENSTAX = "OpenStax College Physics"


def kelvin(celsius):
    return celsius + 273.15


def fahrenheit(degrees):
    return unit.convert_temperature(degrees, "F", "K")


def shigley_spring(shear_modulus=11.85e6 * PSI):
    """The music-wire spring of Shigley's Example 10-1: OD 7/16 in, wire 0.037 in, 10.5 active coils."""
    return hb.coil_rate(
        wire=0.037 * unit.inch,
        mean_diameter=(7 / 16 - 0.037) * unit.inch,
        active_coils=10.5,
        shear_modulus=shear_modulus,
    )


# ---------------- coils


@pytest.mark.parametrize(
    ("wire", "diameter", "coils", "modulus", "rate", "of", "source", "kind"),
    [
        (0.1, 1.0, 10, 11.5e6, 14.375, "coil of 0.1 in wire", WAHL, READ),
        (0.1, 0.625, 8, 11.5e6, 73.60, "coil, squared and ground", "edu.com solution 974936", READ),
        (0.037, 0.4005, 10.5, 11.85e6, 4.1156, "music-wire coil", "Shigley, Example 10-1", FROM_MEMORY),
        (0.5, 4.5, 6, 11.5e6, 164.323274, "coil of a race car's size", "G d^4 / 8 D^3 N by hand", DERIVED),
    ],
)
def test_coil_rate(check, wire, diameter, coils, modulus, rate, of, source, kind):
    ours = hb.coil_rate(
        wire=wire * unit.inch,
        mean_diameter=diameter * unit.inch,
        active_coils=coils,
        shear_modulus=modulus * PSI,
    )
    check(
        ours / LB_PER_IN,
        rate,
        rel=2e-5,
        unit="lb/in",
        of=f"rate of a {of}",
        source=source,
        kind=kind,
        area="springs",
    )


def test_coil_rate_in_metric_sizes(check):
    ours = hb.coil_rate(wire=0.004, mean_diameter=0.026, active_coils=9, shear_modulus=79.3e9)
    check(
        ours / 1e3,
        16.042078,
        rel=1e-6,
        unit="N/mm",
        of="rate of a coil of 4 mm wire",
        source="problem of mis.kyeop.go.ke 50917770, answered by hand",
        kind=DERIVED,
        area="springs",
    )


def test_coil_rate_remembered_wrong(check):
    check.trap(
        shigley_spring() / LB_PER_IN,
        4.13,
        apart=0.003,
        unit="lb/in",
        of="rate of a music-wire coil as often quoted",
        source="Shigley, Example 10-1",
        kind=FROM_MEMORY,
        area="springs",
    )


def test_rate_follows_the_shear_modulus(check):
    soft, hard = shigley_spring(11.385462e6 * PSI), shigley_spring(12.0e6 * PSI)
    check(
        hard / soft,
        12.0e6 * PSI / 78_500e6,
        rel=1e-6,
        of="rate of one coil with the largest over the smallest modulus in use",
        source="moduli of a forum formula (12.0e6 psi) and of atspere.lv (78,500 MPa)",
        kind=READ,
        area="springs",
    )


@pytest.mark.parametrize(
    ("wire", "coils", "allowance", "height", "convention", "source", "kind"),
    [
        (0.1, 10, 0.0, 1.000, "squared and ground", "edu.com solution 974936", READ),
        (0.037, 12.5, 1.0, 0.500, "squared, not ground", "Shigley, Example 10-1", FROM_MEMORY),
        (0.5, 14, -0.25, 6.875, "tips counted off", MAKER, READ),
    ],
)
def test_solid_height_in_three_conventions(check, wire, coils, allowance, height, convention, source, kind):
    ours = hb.solid_height(wire=wire * unit.inch, total_coils=coils, end_allowance=allowance)
    check(
        ours / unit.inch,
        height,
        abs=0.0006,
        unit="in",
        of=f"height at coil bind, ends {convention}",
        source=source,
        kind=kind,
        area="springs",
    )


def test_free_length_of_a_spring_solid_under_a_known_load(check):
    rate = hb.coil_rate(wire=0.1 * unit.inch, mean_diameter=0.625 * unit.inch, active_coils=8)
    free = hb.solid_height(wire=0.1 * unit.inch, total_coils=10) + 62.90 * unit.lbf / rate
    check(
        free / unit.inch,
        1.855,
        abs=0.0006,
        unit="in",
        of="free length of a coil solid at 62.90 lb",
        source="edu.com solution 974936",
        kind=READ,
        area="springs",
    )


@pytest.mark.parametrize(
    ("rates", "expected", "tolerance", "of", "source", "kind"),
    [
        ((200, 500), 143, 0.5, "two stacked coils", MAKER, READ),
        ((200, 1200), 171.428571, 1e-6, "a coil on its tire", "Gillespie ch. 5, ride rate", FROM_MEMORY),
        ((8000, 12000), 4800, 1e-9, "the two halves of a chassis in twist", "series law by hand", DERIVED),
    ],
)
def test_springs_in_series(check, rates, expected, tolerance, of, source, kind):
    ours = hb.in_series(*rates)
    check(ours, expected, abs=tolerance, of=f"rate of {of}", source=source, kind=kind, area="springs")


def test_load_of_a_coil_is_rate_times_travel(check):
    rate = hb.in_series(300 / 2.75)
    check(
        rate,
        109,
        abs=0.5,
        unit="lb/in",
        of="rate from 300 lb at 2.75 in",
        source=MAKER,
        kind=READ,
        area="springs",
    )
    check.trap(
        2.75 * rate,
        2.75 / 109,
        unit="lb",
        of="load printed as travel over rate",
        source=MAKER,
        kind=READ,
        area="springs",
    )


@pytest.mark.parametrize(
    ("rate", "ratio", "expected", "tolerance", "source"),
    [
        (8, 0.75, 4.5, 1e-9, "racecompengineering.com, motion ratio"),
        (600, 0.50, 150, 1e-9, "miracerros.com, wheel rate"),
        (167, 0.95, 150, 1.0, "miracerros.com, wheel rate"),
    ],
)
def test_wheel_rate(check, rate, ratio, expected, tolerance, source):
    ours = hb.wheel_rate(rate, motion_ratio=ratio)
    of = f"wheel rate of a coil of {rate} at motion ratio {ratio}"
    check(ours, expected, abs=tolerance, of=of, source=source, kind=READ, area="springs")


def test_wheel_rate_with_the_ratio_upside_down(check):
    check.trap(
        hb.wheel_rate(8, motion_ratio=0.75),
        8 / 0.75**2,
        unit="kgf/mm",
        of="wheel rate with wheel travel over spring travel, as the page also writes the ratio",
        source="racecompengineering.com, motion ratio",
        kind=READ,
        area="springs",
    )


# ---------------- bars


def torsion_constant(modulus_psi):
    """C of the trade's wheel rate of a torsion bar, C d^4 / (L r^2) in lb and in."""
    rate = hb.arm_rate(
        hb.bar_rate(outer=unit.inch, length=36 * unit.inch, shear_modulus=modulus_psi * PSI),
        arm=10 * unit.inch,
    )
    return rate / LB_PER_IN * 36 * 10**2


def test_torsion_bar_constant(check):
    check(
        torsion_constant(11.408e6),
        1_120_000,
        rel=1e-4,
        of="C of a torsion bar's wheel rate C d^4/(L r^2), lb and in",
        source="elcovaforums, torsion bar rates",
        kind=READ,
        area="bars",
    )
    check.trap(
        torsion_constant(11.408e6),
        1_129_000,
        apart=0.005,
        of="a second C for hollow bars of the same steel",
        source="ehow, torsion bar rates",
        kind=READ,
        area="bars",
    )


def test_hollow_against_solid_bar(check):
    hollow = hb.polar_moment(0.026, bore=0.020)
    solid = hb.polar_moment(0.021)
    source = "forum comparison of a 26/20 mm tube and a 21 mm bar"
    check(
        hollow / solid,
        1.52,
        abs=0.01,
        of="stiffness of tube over solid bar",
        source=source,
        kind=READ,
        area="bars",
    )
    check(
        hb.polar_moment(0.026, bore=0.0226350) / solid,
        1.0,
        rel=1e-5,
        of="bore that makes the 26 mm tube as stiff as the 21 mm bar is (26^4 - 21^4)^(1/4) mm",
        source="bending and torsion of tubes, by hand",
        kind=DERIVED,
        area="bars",
    )
    check.trap(
        hb.polar_moment(0.026, bore=0.02362) / solid,
        1.0,
        apart=0.05,
        of="bore of 23.62 mm for equal stiffness",
        source=source,
        kind=READ,
        area="bars",
    )


def test_twist_of_a_hollow_shaft(check):
    rate = hb.bar_rate(outer=0.400, bore=0.300, length=2.0, shear_modulus=80 * GPA)
    check(
        math.degrees(300e3 / rate),
        0.2501186,
        rel=1e-6,
        unit="deg",
        of="twist of a 400/300 mm shaft, 2 m, 300 kN m",
        source="problem of tutorsglobe 5829354, answered by T L / G J by hand",
        kind=DERIVED,
        area="bars",
    )


def test_torque_of_a_solid_shaft_is_not_a_stress(check):
    torque = hb.bar_rate(outer=0.060, length=1.0, shear_modulus=80 * GPA) * math.radians(1.0)
    check(
        torque,
        1776.529,
        rel=1e-6,
        unit="N m",
        of="torque that twists 60 mm, 1 m, by 1 deg",
        source="G J angle / L by hand",
        kind=DERIVED,
        area="bars",
    )
    check.trap(
        torque,
        42_000,
        unit="N m",
        of="the same torque, printed as G r angle / L",
        source="mathhelpforum 41623",
        kind=READ,
        area="bars",
    )


@pytest.mark.parametrize(
    ("outer", "bore", "torsion", "at_arm"),
    [
        (1.00, 0.0, 45.61329, 313.61385),
        (1.25, 0.0, 111.36056, 765.65881),
        (1.50, 1.00, 185.30397, 1274.05627),
    ],
)
def test_bars_of_a_stock_car(check, outer, bore, torsion, at_arm):
    rate = hb.bar_rate(
        outer=outer * unit.inch, bore=bore * unit.inch, length=36 * unit.inch, shear_modulus=11.5e6 * PSI
    )
    arm = hb.arm_rate(rate, arm=10 * unit.inch)
    source = "G J / L and its share at a 10 in arm, by hand"
    of = f"bar {outer:g} in with {bore:g} in bore, 36 in long"
    check(
        rate / LBFT_PER_DEG,
        torsion,
        rel=1e-6,
        unit="lb-ft/deg",
        of=of,
        source=source,
        kind=DERIVED,
        area="bars",
    )
    check(
        arm / LB_PER_IN,
        at_arm,
        rel=1e-6,
        unit="lb/in",
        of=f"{of}, at one arm, other held",
        source=source,
        kind=DERIVED,
        area="bars",
    )
    assert hb.bar_rate_from_arm(arm, arm=10 * unit.inch) == pytest.approx(rate, rel=1e-12)


@pytest.mark.parametrize(
    ("outer", "wall", "percent"), [(1.75, 0.095, -0.328), (1.50, 0.25, -3.846), (2.00, 0.120, -0.406)]
)
def test_thin_tube_formula_is_short_by_a_known_share(check, outer, wall, percent):
    thin = 2.0 * math.pi * ((outer - wall) / 2.0) ** 3 * wall
    exact = hb.polar_moment(outer, bore=outer - 2.0 * wall)
    check(
        100.0 * (thin / exact - 1.0),
        percent,
        abs=0.0006,
        unit="%",
        of=f"thin-tube polar moment of {outer:g} x {wall:g} against the exact one",
        source="series of (D^4 - d^4) by hand",
        kind=DERIVED,
        area="bars",
    )


def test_polar_moment_against_an_integral(check):
    from scipy.integrate import quad

    expected, _ = quad(lambda r: 2.0 * math.pi * r**3, 0.5, 0.75)
    check(
        hb.polar_moment(1.5, bore=1.0),
        expected,
        rel=1e-12,
        unit="in^4",
        of="polar moment of a 1.5 in bar with a 1 in bore, integral of r^2 dA",
        source="SciPy quad",
        kind=LIBRARY,
        area="bars",
    )


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


# ---------------- air


def density_at(altitude):
    air = hb.standard_air(altitude)
    return hb.air_density(pressure=air.pressure, temperature=air.temperature)


@pytest.mark.parametrize(
    ("feet", "psi", "tolerance", "source"),
    [
        (1000, 14.175, 5e-4, "ASHRAE 2017 ch. 1 table 1, by PsychroLib's tests"),
        (3000, 13.173, 5e-4, "ASHRAE 2017 ch. 1 table 1, by PsychroLib's tests"),
        (10000, 10.108, 5e-4, "ASHRAE 2017 ch. 1 table 1, by PsychroLib's tests"),
        (5000, 12.228, 5e-5, "engineeringtoolbox d_604"),
    ],
)
def test_standard_pressure(check, feet, psi, tolerance, source):
    ours = hb.standard_air(feet * unit.foot).pressure / PSI
    check(
        ours,
        psi,
        rel=tolerance,
        unit="psi",
        of=f"standard pressure at {feet} ft",
        source=source,
        kind=READ,
        area="air",
    )


@pytest.mark.parametrize(
    ("altitude", "pressure", "density"),
    [(0, 101_325, 1.224999), (1000, 89_874.571, 1.111642), (2000, 79_495.216, 1.00649)],
)
def test_standard_atmosphere_layer_formula(check, altitude, pressure, density):
    source = "US Standard Atmosphere 1976, layer formulas by scipp.ucsc.edu"
    of = f"at {altitude} m, geopotential"
    check(
        hb.standard_air(altitude).pressure,
        pressure,
        rel=2e-6,
        unit="Pa",
        of=f"pressure {of}",
        source=source,
        kind=READ,
        area="air",
    )
    check(
        density_at(altitude),
        density,
        rel=5e-5,
        unit="kg/m^3",
        of=f"density {of}",
        source=source,
        kind=READ,
        area="air",
    )


@pytest.mark.parametrize(("feet", "slugs"), [(5000, 20.48e-4), (10000, 17.56e-4)])
def test_standard_density(check, feet, slugs):
    slug_per_cubic_foot = unit.slug / unit.foot**3
    check(
        density_at(feet * unit.foot) / slug_per_cubic_foot,
        slugs,
        rel=4e-4,
        unit="slug/ft^3",
        of=f"standard density at {feet} ft",
        source="engineeringtoolbox d_604",
        kind=READ,
        area="air",
    )


def test_standard_temperature_printed_wrong(check):
    ours = hb.standard_air(4572.0).temperature - 273.15
    check(
        ours,
        15.0 - 6.5 * 4.572,
        abs=1e-9,
        unit="deg C",
        of="temperature at 15,000 ft",
        source="US Standard Atmosphere 1976, 6.5 K/km",
        kind=FROM_MEMORY,
        area="air",
    )
    check.trap(
        ours,
        -25.96,
        unit="deg C",
        of="temperature at 4572 m",
        source="engineersedge 15729 table 2",
        kind=READ,
        area="air",
    )


def test_dry_air(check):
    check(
        hb.air_density(pressure=101_325.0, temperature=kelvin(15.0)),
        1.2250,
        abs=1e-4,
        unit="kg/m^3",
        of="density of dry air at 15 deg C",
        source="airgunguild.com",
        kind=READ,
        area="air",
    )
    check(
        hb.air_density(pressure=14.696 * PSI, temperature=fahrenheit(77.0)) * unit.foot**3 / unit.lb,
        1 / 13.5251,
        rel=1e-3,
        unit="lb/ft^3",
        of="density of dry air at 77 deg F",
        source="ASHRAE 2017 ch. 1 table 2, by PsychroLib's tests",
        kind=READ,
        area="air",
    )


@pytest.mark.parametrize(
    ("temperature", "pressure", "density"),
    [
        (kelvin(30.0), 95_461.0, 1.08411986348219),
        (fahrenheit(86.0), 14.175 * PSI, 0.0692907720594378 * unit.lb / unit.foot**3),
    ],
)
def test_moist_air(check, temperature, pressure, density):
    humidity_ratio = 0.02
    vapor = pressure * humidity_ratio / (0.621945 + humidity_ratio)
    check(
        hb.air_density(pressure=pressure, temperature=temperature, vapor_pressure=vapor),
        density,
        rel=2e-5,
        unit="kg/m^3",
        of=f"density of air at {temperature - 273.15:.0f} deg C, {pressure:.0f} Pa, humidity ratio 0.02",
        source="ASHRAE 2017 ch. 1 eq 11, by PsychroLib's tests",
        kind=READ,
        area="air",
    )


@pytest.mark.parametrize(("celsius", "pressure"), [(5, 872.6), (25, 3169.7), (50, 12_351.3)])
def test_saturation_pressure(check, celsius, pressure):
    check(
        hb.saturation_pressure(kelvin(celsius)),
        pressure,
        rel=4e-3,
        unit="Pa",
        of=f"vapor pressure of water at {celsius} deg C",
        source="ASHRAE 2017 ch. 1 table 3, by PsychroLib's tests",
        kind=READ,
        area="air",
    )


@pytest.mark.parametrize(
    ("celsius", "pressure", "humidity", "density"),
    [(20, 101_325, 0.5, 1.1993139), (30, 98_000, 0.7, 1.1136131), (25, 100_000, 0.4, 1.1632187)],
)
def test_density_of_humid_air_against_the_weighing_standard(check, celsius, pressure, humidity, density):
    vapor = humidity * hb.saturation_pressure(kelvin(celsius))
    check(
        hb.air_density(pressure=pressure, temperature=kelvin(celsius), vapor_pressure=vapor),
        density,
        rel=1e-3,
        unit="kg/m^3",
        of=f"density of air at {celsius} deg C, {pressure} Pa, {humidity:.0%} humidity",
        source="CIPM-2007, Picard et al., Metrologia 45 (2008) 149",
        kind=FROM_MEMORY,
        area="air",
    )


def test_moist_air_table(check):
    mmhg = unit.torr
    source = "moist-air table of constructionwork.com"
    ours = hb.air_density(
        pressure=760 * mmhg, temperature=kelvin(20.0), vapor_pressure=hb.saturation_pressure(kelvin(10.0))
    )
    check(
        ours,
        1.199,
        abs=6e-4,
        unit="kg/m^3",
        of="density at 760 mmHg, 20 deg C, dew point 10",
        source=source,
        kind=READ,
        area="air",
    )
    check.trap(
        ours,
        1.1900,
        unit="kg/m^3",
        of="the same by the printed formula, which takes off all of the vapor pressure",
        source=source,
        kind=READ,
        area="air",
    )


# ---------------- gearing


def test_speed_in_gear(check):
    source = "the370z.com 305607"
    gear = {"roll_out": 6.96 * unit.foot, "overall_ratio": 0.794 * 3.692}
    check(
        hb.road_speed(3000 * RPM, **gear) / unit.mph,
        80.9,
        abs=0.05,
        unit="mph",
        of="speed at 3000 rpm, 6.96 ft, 0.794 x 3.692",
        source=source,
        kind=READ,
        area="gearing",
    )
    check(
        hb.engine_speed(73 * unit.mph, **gear) / RPM,
        2706,
        abs=0.5,
        unit="rpm",
        of="engine speed at 73 mph",
        source=source,
        kind=READ,
        area="gearing",
    )


def test_speed_in_top_gear(check):
    ours = hb.road_speed(2200 * RPM, roll_out=2.288, overall_ratio=0.76 * 4.10)
    check(
        ours / unit.kmh,
        96.9,
        abs=0.05,
        unit="km/h",
        of="speed at 2200 rpm, 2.288 m, 0.76 x 4.10",
        source="fordterritory.info",
        kind=READ,
        area="gearing",
    )


def test_the_336_of_the_gear_charts(check):
    ours = hb.road_speed(7000 * RPM, roll_out=86 * unit.inch, overall_ratio=5.14) / unit.mph
    diameter = 86 / math.pi
    check(
        ours,
        7000 * diameter / (336 * 5.14),
        rel=5e-4,
        unit="mph",
        of="speed at 7000 rpm by the 336 of the gear charts",
        source="race-track.com topic 541",
        kind=READ,
        area="gearing",
    )
    check(
        7000 * diameter / (5.14 * ours),
        63_360 / (60 * math.pi),
        rel=1e-9,
        of="the constant that 336 rounds",
        source="inches in a mile over minutes in an hour and pi",
        kind=DERIVED,
        area="gearing",
    )


@given(speed=st.floats(1.0, 100.0), roll_out=st.floats(1.5, 2.5), ratio=st.floats(2.0, 8.0))
def test_gear_speed_and_ratio_undo_each_other(speed, roll_out, ratio):
    turning = hb.engine_speed(speed, roll_out=roll_out, overall_ratio=ratio)
    assert hb.road_speed(turning, roll_out=roll_out, overall_ratio=ratio) == pytest.approx(speed, rel=1e-12)
    assert hb.overall_ratio(engine_speed=turning, speed=speed, roll_out=roll_out) == pytest.approx(
        ratio, rel=1e-12
    )


# ---------------- the banked turn


@pytest.mark.parametrize(
    ("radius", "bank", "grip", "speed", "tolerance", "source", "kind"),
    [
        (200, 20, 0.25, 36, 0.5, "physicsforums 866432", READ),
        (256, 9.2, 1.0, 59, 0.5, "pages.cthome.net, speed page", READ),
        (100, 65.0, 0.0, 45.8, 0.06, f"{OPENSTAX}, Example 6.5", FROM_MEMORY),
        (1200, 4.14, 0.0, 105 / 3.6, 0.03, f"{OPENSTAX} ch. 6, problem 25", FROM_MEMORY),
        (316, 31, 0.70, 83.3842, 0.04, "problem of jiskha 1343318473, by hand", DERIVED),
        (15, -10, 0.5, 6.612487, 0.003, "problem of physicsforums member 252510, by hand", DERIVED),
        (60, 30, 0.35, 26.141401, 0.01, "problem of askanewquestion 1175524, by hand", DERIVED),
        (33, 25.428675, 0.35, 17.895256, 0.01, "problem of coursehero 504922, by hand", DERIVED),
        (33, 25.428675, 0.0, 12.4, 0.01, "problem of coursehero 504922", READ),
    ],
)
def test_banked_speed(check, radius, bank, grip, speed, tolerance, source, kind):
    ours = hb.banked_speed(radius=radius, bank=math.radians(bank), grip=grip)
    of = f"greatest speed at {radius} m, {bank} deg, grip {grip}"
    check(ours, speed, abs=tolerance, unit="m/s", of=of, source=source, kind=kind, area="banking")


@pytest.mark.parametrize("grip", [0.81, 0.88])
def test_bank_that_replaces_grip(check, grip):
    bank = math.atan(grip)
    check(
        hb.banked_speed(radius=50, bank=bank, grip=0.0),
        hb.banked_speed(radius=50, bank=0.0, grip=grip),
        rel=1e-12,
        unit="m/s",
        of=f"a frictionless bank of atan({grip}) is as fast as flat ground with grip {grip}",
        source="problem of Chegg q2029735 / physicsforums 263777, by hand",
        kind=DERIVED,
        area="banking",
    )


@pytest.mark.parametrize(
    ("radius", "bank", "grip", "wrong_mph", "of", "source"),
    [
        (256, 9.2, 1.0, 133.0, "133 mph for 59 m/s", "pages.cthome.net, speed page"),
        (256.3, 9.2, 0.0, 41.70, "no-friction speed of a 9.2 deg turn", "studyquestionhub 1121691"),
        (1000 * unit.foot, 31.0, 0.9, 149.42, "speed without the added normal force", "jiskha 1780365"),
        (1200, 20.9, 0.0, 105 * unit.kmh / unit.mph, "a bank of 20.9 deg for 105 km/h", "qammunity 19901672"),
    ],
)
def test_banked_speed_worked_out_wrongly(check, radius, bank, grip, wrong_mph, of, source):
    ours = hb.banked_speed(radius=radius, bank=math.radians(bank), grip=grip) / unit.mph
    check.trap(ours, wrong_mph, apart=0.005, unit="mph", of=of, source=source, kind=READ, area="banking")


def test_what_a_car_must_carry_on_a_bank(check):
    ours = hb.banked_pull(140 * unit.mph, radius=1500 * unit.foot, bank=math.radians(10.0))
    source = "problem of askfilo.com, dynamic wheel loads on a 10 deg bank, by hand"
    check(
        ours.across / unit.g,
        0.686700,
        abs=1e-5,
        unit="g",
        of="pull across the road at 140 mph, 1500 ft, 10 deg",
        source=source,
        kind=DERIVED,
        area="banking",
    )
    check(
        ours.into / unit.g * 3000,
        3409.5309,
        rel=1e-5,
        unit="lb",
        of="load into the road of 3000 lb there",
        source=source,
        kind=DERIVED,
        area="banking",
    )


@given(speed=st.floats(1.0, 90.0), radius=st.floats(20.0, 500.0), bank=st.floats(-0.2, 0.7))
def test_a_bank_turns_the_pull_but_does_not_change_its_size(speed, radius, bank):
    pull = hb.banked_pull(speed, radius=radius, bank=bank)
    assert math.hypot(*pull) == pytest.approx(math.hypot(unit.g, speed**2 / radius), rel=1e-12)
    mirrored = hb.banked_pull(speed, radius=-radius, bank=bank)
    assert (mirrored.across, mirrored.into) == pytest.approx((-pull.across, pull.into), rel=1e-12)


@given(radius=st.floats(20.0, 500.0), bank=st.floats(-0.2, 0.6), grip=st.floats(0.3, 1.2))
def test_at_the_banked_speed_all_grip_is_used(radius, bank, grip):
    speed = hb.banked_speed(radius=radius, bank=bank, grip=grip)
    pull = hb.banked_pull(speed, radius=radius, bank=bank)
    assert pull.across == pytest.approx(grip * pull.into, rel=1e-9)


def test_a_bank_too_steep_to_leave_and_one_too_adverse_to_hold():
    assert hb.banked_speed(radius=100, bank=math.radians(50), grip=1.0) == math.inf
    assert hb.banked_speed(radius=100, bank=math.radians(-30), grip=0.3) == 0.0


# ---------------- what no part can be


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: hb.coil_rate(wire=0.0, mean_diameter=0.1, active_coils=6), "wire must be greater than 0"),
        (
            lambda: hb.coil_rate(wire=math.nan, mean_diameter=0.1, active_coils=6),
            "wire must be greater than 0",
        ),
        (lambda: hb.in_series(200.0, 0.0), "rate 2 must be greater than 0"),
        (lambda: hb.polar_moment(0.03, bore=0.03), "bore .* must be smaller"),
        (lambda: hb.arm_rate(1000.0, arm=0.0), "arm must be greater than 0"),
        (lambda: hb.pressure_at(1e5, filled_at=-1.0, now_at=300.0), "filled at must be greater than 0"),
        (lambda: hb.stagger_for_radius(2.2, tread=1.6, radius=0.5), "wider than half the tread"),
        (lambda: hb.ackermann_steer(radius=0.5, tread=1.6, wheelbase=2.6), "wider than half the tread"),
        (lambda: hb.standard_air(12_000.0), "ends at 11,000 m"),
        (lambda: hb.banked_pull(30.0, radius=0.0, bank=0.1), "must not be 0"),
        (lambda: hb.banked_speed(radius=50.0, bank=2.0, grip=1.0), "no road is banked"),
    ],
)
def test_impossible_parts_are_refused_by_name(call, says):
    with pytest.raises(ValueError, match=says):
        call()


def test_unusual_parts_are_computed():
    giant = hb.bar_rate(outer=3 * unit.inch, length=36 * unit.inch)
    assert giant / hb.bar_rate(outer=1.5 * unit.inch, length=36 * unit.inch) == pytest.approx(16.0)
    assert np.isfinite(hb.wheel_rate(2250 * LB_PER_IN, motion_ratio=1.2))
