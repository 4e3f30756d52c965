"""The banked turn against published figures, and what no part can be."""

import math

import numpy as np
import pytest
from evidence import DERIVED, FROM_MEMORY, READ
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants as unit

from ovalwright.mechanics import handbook as hb

LB_PER_IN = unit.lbf / unit.inch
OPENSTAX = "OpenStax College Physics"


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
