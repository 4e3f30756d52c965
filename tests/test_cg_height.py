"""CG height from a raised axle: exact form, bands, how high to lift, a driver leaning, fuel sliding."""

from dataclasses import replace

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, FROM_MEMORY, READ
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.constants import inch, pound

from ovalwright.study.cg_height import (
    LiftError,
    RaisedAxle,
    cg_height,
    expected,
    fuel_slide,
    lift_for,
    shift_error,
)

GAIN = (
    10.205117  # what the front scales gain, lb, with the rear of a 2800 lb car 10 in up and its CG at 17 in
)
TEST = RaisedAxle(
    level_low=1400 * pound,
    level_high=1400 * pound,
    low_raised=(1400 + GAIN) * pound,
    lift=10 * inch,
    wheelbase=105 * inch,
    center_low=13 * inch,
    center_high=13 * inch,
)
FORM = "raised-axle formula, R. Gray 1997 eq. 8, and openbooks.link, height of a vehicle's CG, eqs. 2-3"
BODY_BUILDER = "VW body-builder guidelines, centre of gravity heights, eqs. 1-9"


def loads_by_moments(*, total, level_low, height, lift, wheelbase, center_low, center_high):
    """Turn the rigid car about its low axle until the other stands `lift` higher; then take moments."""
    behind = wheelbase * (1.0 - level_low / total)
    low, high, cg = (
        np.array([0.0, center_low]),
        np.array([-wheelbase, center_high]),
        np.array([-behind, height]),
    )

    def turned(point, angle):
        x, z = point - low
        return low + np.array([x * np.cos(angle) + z * np.sin(angle), z * np.cos(angle) - x * np.sin(angle)])

    below, above = 0.0, 1.4
    for _ in range(200):
        angle = (below + above) / 2
        below, above = (angle, above) if turned(high, angle)[1] - center_high < lift else (below, angle)
    return total * (1.0 - turned(cg, angle)[0] / turned(high, angle)[0])


def body_builder_height(total, level_low, low_raised, lift, wheelbase):
    """Height above the axle line by the guidelines' route: shortened wheelbase, two centers, one triangle."""
    level, raised = wheelbase * (total - level_low) / total, np.sqrt(wheelbase**2 - lift**2)
    behind = (total - low_raised) / total * raised
    along = lift / raised * behind
    return (level - np.hypot(along, behind)) / np.tan(np.arcsin(lift / wheelbase))


def test_exact_form(check):
    row = {"kind": READ, "area": "weighing", "unit": "in"}
    check(
        cg_height(TEST).value / inch,
        13 + 105 * GAIN / (2800 * np.tan(np.arcsin(10 / 105))),
        rel=1e-12,
        of="CG height, rear up 10 in",
        source=FORM,
        **row,
    )
    check(
        cg_height(TEST).value / inch,
        17.0,
        abs=1e-6,
        of="CG height, round trip of a car built with its CG at 17 in",
        source="worked by hand",
        **{**row, "kind": DERIVED},
    )
    check.trap(
        cg_height(TEST).value / inch - 13,
        105**2 * GAIN / (2800 * 10),
        apart=0.004,
        of="CG above the axles by the small-angle form",
        source="R. Gray 1997 eq. 9, tan taken as lift over wheelbase",
        **row,
    )


def test_either_axle_may_be_raised(check):
    """The front of a nose-heavy car goes up; the guidelines do the same."""
    front_up = RaisedAxle(
        level_low=1300 * pound,
        level_high=1500 * pound,
        low_raised=1322 * pound,
        lift=20 * inch,
        wheelbase=105 * inch,
        center_low=13 * inch,
        center_high=13 * inch,
    )
    check(
        cg_height(front_up).value / inch - 13,
        body_builder_height(2800, 1300, 1322, 20, 105),
        rel=1e-9,
        unit="in",
        of="CG above the axles, front up 20 in",
        source=BODY_BUILDER,
        kind=READ,
        area="weighing",
    )


def test_unequal_wheels_against_milliken(check):
    """They average the wheel radii by the level loads, which differs from the exact turn in second order."""
    test = replace(TEST, center_low=12.6 * inch, center_high=13.4 * inch)
    axle_line = 12.6 * 0.5 + 13.4 * 0.5
    above = (1400 + GAIN) * 105 - 2800 * 52.5
    check(
        cg_height(test).value / inch,
        axle_line + above / (2800 * np.tan(np.arcsin(10 / 105))),
        abs=0.02,
        unit="in",
        of="CG height with unequal wheels",
        source="Milliken & Milliken, Race Car Vehicle Dynamics, ch. 18, CG height",
        kind=FROM_MEMORY,
        area="weighing",
    )


@given(
    st.floats(0.35, 0.65),
    st.floats(10.0, 30.0),
    st.floats(2.0, 40.0),
    st.floats(80.0, 130.0),
    st.floats(11.0, 15.0),
    st.floats(11.0, 15.0),
)
def test_round_trip_of_any_car(low_share, height, lift, wheelbase, center_low, center_high):
    car = {
        "lift": lift * inch,
        "wheelbase": wheelbase * inch,
        "center_low": center_low * inch,
        "center_high": center_high * inch,
    }
    total = 12_000.0
    raised = loads_by_moments(total=total, level_low=low_share * total, height=height * inch, **car)
    test = RaisedAxle(
        level_low=low_share * total, level_high=(1 - low_share) * total, low_raised=raised, **car
    )
    assert cg_height(test).value == pytest.approx(height * inch, abs=1e-8)
    again = expected(replace(test, low_raised=0.0), height=height * inch, lift=lift * inch)
    assert again.low_raised == pytest.approx(raised, rel=1e-9)


def test_one_pound_is_four_tenths_of_an_inch(check):
    heavier = replace(TEST, low_raised=TEST.low_raised + pound)
    check(
        (cg_height(heavier).value - cg_height(TEST).value) / inch,
        0.392,
        abs=0.0005,
        unit="in/lb",
        of="CG height per pound of scale error at a 10 in lift",
        source="slope of the raised-axle formula, worked by hand",
        kind=DERIVED,
        area="weighing",
    )


def test_bands_of_ten_and_twenty_inches(check):
    for lift, spread in ((10, 1.2), (20, 0.6)):
        test = expected(TEST, height=17 * inch, lift=lift * inch)
        check(
            cg_height(test, LiftError(tape=0.0, lift=0.0)).sd / inch,
            spread,
            rel=0.1,
            unit="in",
            of=f"spread of the CG height, {lift} in lift, 3 lb on the gain",
            source="of the order of 1.2 in at 10 in, half of it at 20 in",
            kind=COMMON_PRACTICE,
            area="bands",
        )


def test_band_against_simulated_tests(check):
    test, error = expected(TEST, height=17 * inch, lift=20 * inch), LiftError()
    rng = np.random.default_rng(2)
    low, high, raised = (
        load + error.load * rng.normal(size=20_000)
        for load in (test.level_low, test.level_high, test.low_raised)
    )
    lift = test.lift + error.lift * rng.normal(size=20_000)
    wheelbase, center, other = (
        length + error.tape * rng.normal(size=20_000)
        for length in (test.wheelbase, test.center_low, test.center_high)
    )
    heights = [
        cg_height(
            RaisedAxle(
                level_low=a, level_high=b, low_raised=c, lift=d, wheelbase=e, center_low=f, center_high=h
            )
        ).value
        for a, b, c, d, e, f, h in zip(low, high, raised, lift, wheelbase, center, other, strict=True)
    ]
    check(
        cg_height(test, error).sd / np.std(heights),
        1.0,
        abs=0.02,
        of="spread of the CG height over that of 20,000 simulated tests",
        source="simulated weighings, NumPy random generator",
        kind=DERIVED,
        area="bands",
    )


def test_how_high_to_lift():
    advice = lift_for(1.0 * inch, TEST, height=17 * inch)
    assert advice.reachable
    assert 10 * inch < advice.lift < 30 * inch
    assert advice.give_or_take == pytest.approx(1.0 * inch, rel=1e-6)
    assert lift_for(1.0 * inch, TEST, height=17 * inch, lifts=4).lift < advice.lift
    hopeless = lift_for(0.05 * inch, TEST, height=17 * inch)
    assert not hopeless.reachable
    assert hopeless.lift == pytest.approx(30 * inch)


@given(st.floats(2.0, 29.0))
def test_higher_is_surer(lift):
    tests = [expected(TEST, height=17 * inch, lift=up * inch) for up in (lift, lift + 1.0)]
    low, high = (cg_height(test).sd for test in tests)
    assert high < low


def test_bad_tests_are_refused_in_a_sentence():
    with pytest.raises(ValueError, match=r"lifted 0\.00 in on a wheelbase of 105\.00 in"):
        replace(TEST, lift=0.0)
    with pytest.raises(ValueError, match="give what each axle weighs with the car level"):
        replace(TEST, level_low=0.0, level_high=0.0)
    with pytest.raises(ValueError, match="give a fraction above 0 and at most 1"):
        fuel_slide(cell_length=0.5, cell_height=0.25, fill=0.0, tilt=0.1)


@given(st.floats(-0.5, 0.5), st.floats(-0.3, 0.3), st.floats(5.0, 30.0))
def test_shifted_mass_spoils_the_height_as_moments_say(toward_low, up, lift):
    """A tenth of the car moves once it is tilted: its moment is that of a car with the CG moved so."""
    share, total, wheelbase = 0.1, 12_000.0, 2.667
    car = {"lift": lift * inch, "wheelbase": wheelbase, "center_low": 0.33, "center_high": 0.34}
    honest = {"total": total, "level_low": 5_800.0, "height": 0.42}
    moved = {
        "total": total,
        "level_low": 5_800.0 + share * total * toward_low / wheelbase,
        "height": 0.42 + share * up,
    }
    assume(0 < moved["level_low"] < total)
    test = RaisedAxle(
        level_low=5_800.0, level_high=total - 5_800.0, low_raised=loads_by_moments(**moved, **car), **car
    )
    straight = replace(test, low_raised=loads_by_moments(**honest, **car))
    error = shift_error(mass=share, total_mass=1.0, toward_low=toward_low, up=up, tilt=test.tilt)
    assert cg_height(test).value - cg_height(straight).value == pytest.approx(error, abs=1e-8)


def test_driver_leaning(check):
    """195 lb leaning 2 in toward the low axle in a 2800 lb car with 10 in of lift."""
    car = {
        "total": 2800.0,
        "height": 17.0,
        "lift": 10.0,
        "wheelbase": 105.0,
        "center_low": 13,
        "center_high": 13,
    }
    sat, leaned = (
        body_builder_height(
            2800, 1400, loads_by_moments(level_low=1400 + 195 * lean / 105, **car), lift=10, wheelbase=105
        )
        for lean in (0.0, 2.0)
    )
    check(
        shift_error(mass=195, total_mass=2800, toward_low=2.0, up=0.0, tilt=TEST.tilt),
        leaned - sat,
        rel=1e-6,
        unit="in",
        of="error of the CG height from a driver leaning 2 in",
        source=f"moments about the low axle, then {BODY_BUILDER}",
        kind=DERIVED,
        area="weighing",
    )


def test_fuel_slide_is_the_free_surface_shift(check):
    length, height, fill, tilt = 0.6, 0.25, 0.5, 0.2
    along, up = fuel_slide(cell_length=length, cell_height=height, fill=fill, tilt=tilt)
    inertia_over_volume = length**2 / (12 * fill * height)
    row = {"kind": FROM_MEMORY, "area": "weighing", "unit": "m", "rel": 1e-9}
    source = "wall-sided formula, Derrett & Barrass, Ship Stability for Masters and Mates"
    check(along, inertia_over_volume * np.tan(tilt), of="fuel running to the low end", source=source, **row)
    check(up, inertia_over_volume * np.tan(tilt) ** 2 / 2, of="fuel rising as it runs", source=source, **row)


@given(st.floats(0.05, 0.99), st.floats(0.1, 1.2))
def test_fuel_slide_against_filled_cells(fill, tilt):
    """Cut the cell into small squares and fill the lowest first (slight tilts: wall-sided formula)."""
    length, height, n = 0.6, 0.25, 160
    x, z = np.meshgrid(
        (np.arange(n) + 0.5) / n * length - length / 2, (np.arange(n) + 0.5) / n * height, indexing="ij"
    )
    depth = z.ravel() * np.cos(tilt) - x.ravel() * np.sin(tilt)
    wet = np.argsort(depth)[: max(round(fill * n * n), 1)]
    along, up = fuel_slide(cell_length=length, cell_height=height, fill=fill, tilt=tilt)
    assert along == pytest.approx(x.ravel()[wet].mean(), abs=0.004)
    assert up == pytest.approx(z.ravel()[wet].mean() - fill * height / 2, abs=0.004)


def test_full_cell_and_level_car_do_not_slide():
    assert fuel_slide(cell_length=0.6, cell_height=0.25, fill=1.0, tilt=0.2) == (0.0, 0.0)
    assert fuel_slide(cell_length=0.6, cell_height=0.25, fill=0.4, tilt=0.0) == (0.0, 0.0)
