"""Coils and bars against published figures; each figure's source stands beside it."""

import math

import pytest
from evidence import DERIVED, FROM_MEMORY, LIBRARY, READ
from scipy import constants as unit

from ovalwright.mechanics import handbook as hb

PSI = unit.psi
LB_PER_IN = unit.lbf / unit.inch
LBFT_PER_DEG = unit.lbf * unit.foot / unit.degree
GPA = 1e9

WAHL = "Wahl, Mechanical Springs, 2nd ed. 1963, by ajdesigner.com suspension spring page"
MAKER = "Hypercoils, tech tips (spring maker)"


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
