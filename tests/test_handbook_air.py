"""Air and gearing against published figures; each figure's source stands beside it."""

import math

import pytest
from evidence import DERIVED, FROM_MEMORY, READ
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants as unit

from ovalwright.mechanics import handbook as hb

PSI = unit.psi
RPM = 2.0 * math.pi / unit.minute


def kelvin(celsius):
    return celsius + 273.15


def fahrenheit(degrees):
    return unit.convert_temperature(degrees, "F", "K")


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
