"""The outside references against published figures, before a test of the full model leans on them."""

import math

import pytest
from closed_forms import (
    FrontView,
    Loads,
    anti_dive,
    anti_squat,
    banked_wheel_loads,
    characteristic_speed,
    front_load,
    locked_axle,
    roll_center,
    roll_gradient,
    understeer_gradient,
    unsprung_transfer,
)

G = 9.80665
LBFT_PER_DEG_IN = 12.0 * 180.0 / math.pi


# Barton & Fieldhouse, Automotive Chassis Engineering, 2018, p. 174: 0.6 g, g 9.81, tread 1.46 m.
@pytest.mark.parametrize(
    ("mass", "height", "newtons"),
    [
        (0.54 * 1280, 0.07, 195),  # front, through the roll center
        (0.46 * 1280, 0.32, 760),  # rear, through the roll center
        (140, 0.280, 158),  # front, unsprung
        (180, 0.300, 218),  # rear, unsprung
    ],
)
def test_transfer_straight_through_the_links(mass, height, newtons):
    ours = unsprung_transfer(side_force=mass * 0.6 * 9.81, height=height, tread=1.46)
    assert ours == pytest.approx(newtons, abs=0.6)


def test_roll_gradient_with_the_weights_own_moment():
    # Same page: 0.0194 rad per m/s^2, 10.9 deg per g.
    ours = roll_gradient(sprung_weight=1280 * 9.81, arm=0.365, roll_rate=28_650)
    assert ours / 9.81 == pytest.approx(0.0194, abs=5e-5)
    assert math.degrees(ours) == pytest.approx(10.9, abs=0.05)


# Problem of askfilo.com (dynamic wheel loads on a 10 deg bank), by hand, without and with the weight leaning.
@pytest.mark.parametrize(
    ("weight_rolls", "loads"),
    [(False, (433.64, 1043.82, 687.43, 1244.64)), (True, (424.89, 1052.57, 680.87, 1251.20))],
)
def test_wheel_loads_on_a_bank(weight_rolls, loads):
    ours = banked_wheel_loads(
        Loads(650, 650, 850, 850),
        across=0.686700,
        into=1.136510,
        cg_height=17,
        roll_centers=(6, 6),
        roll_rates=(800 * LBFT_PER_DEG_IN, 600 * LBFT_PER_DEG_IN),
        tread=60,
        weight_rolls=weight_rolls,
    )
    assert tuple(ours) == pytest.approx(loads, abs=0.02)
    assert sum(ours) == pytest.approx(3409.53, abs=0.01)


@pytest.mark.parametrize(("braking", "pounds"), [(0.8, 1762.667), (1.0, 1853.333)])
def test_front_load_when_braking(braking, pounds):
    # Moments about the rear contact, by hand: 2800 lb, 105 in, CG 17 in, half in front.
    ours = front_load(weight=2800, front_share=0.5, wheelbase=105, cg_height=17, braking=braking)
    assert ours == pytest.approx(pounds, abs=0.001)


# Council of Engineers Thailand, exam bank Dynamics of Vehicles, answer keys, g 9.81.
@pytest.mark.parametrize(
    ("front", "rear", "wheelbase", "height", "braking", "newtons", "rounding"),
    [
        (5395.5, 4414.5, 2.5, 0.4, -5 / 9.81, 4600, 50),
        (6500, 4000, 2.7, 0.35, (60 / 3.6) ** 2 / (2 * 50 * 9.81), 6900, 50),
    ],
)
def test_front_load_of_exam_questions(front, rear, wheelbase, height, braking, newtons, rounding):
    weight = front + rear
    ours = front_load(
        weight=weight, front_share=front / weight, wheelbase=wheelbase, cg_height=height, braking=braking
    )
    assert ours == pytest.approx(newtons, abs=rounding)


def test_understeer_of_a_two_axle_car():
    # Wong, Theory of Ground Vehicles, 3rd ed., Example 5.1 (from memory): 0.016 rad, 41.5 m/s.
    gradient = understeer_gradient(
        front_load=0.535 * 20_105,
        rear_load=0.465 * 20_105,
        front_stiffness=2 * 38_920,
        rear_stiffness=2 * 38_250,
    )
    assert gradient == pytest.approx(0.016, abs=5e-5)
    assert characteristic_speed(wheelbase=2.8, gradient=gradient, gravity=9.81) == pytest.approx(
        41.5, abs=0.06
    )


# Energy balance and series by hand: 86 in left, 64 in apart, 200 ft, 35 m/s, 120 kN per unit slip.
@pytest.mark.parametrize(
    ("stagger", "slip", "moment", "thrust", "power"),
    [
        (0.0, -0.02666667, -2600.960, 0.000, 1493.333),
        (1.0, -0.01510780, -1473.554, 10.479, 479.258),
        (2.0, -0.003678802, -358.816, 5.074, 28.416),
        (2.5, 0.001986980, 193.802, -3.416, 8.290),
        (3.0, 0.007620292, 743.253, -15.676, 121.925),
    ],
)
def test_locked_axle_with_stagger(stagger, slip, moment, thrust, power):
    tread, radius, speed = 64 * 0.0254, 200 * 0.3048, 35.0
    ours = locked_axle(
        left_roll_out=86 * 0.0254,
        right_roll_out=(86 + stagger) * 0.0254,
        tread=tread,
        radius=radius,
        speed=speed,
        stiffness=120e3,
    )
    assert ours.slip_difference == pytest.approx(slip, rel=1e-6)
    assert (ours.moment, ours.thrust, ours.power) == pytest.approx((moment, thrust, power), abs=6e-4)
    assert ours.power == pytest.approx(-ours.thrust * speed - ours.moment * speed / radius, abs=1e-8)


def test_roll_center_of_equal_and_unequal_sides():
    # Line construction by hand, checked there with a numeric four-bar.
    right = FrontView((17, 17.2), (26, 19.0), (9, 9.0), (30, 8.0), (33, 0))
    mirrored = FrontView(*((-x, z) for x, z in right))
    assert right.instant_center == pytest.approx((-17.653846, 10.269231), abs=1e-6)
    assert right.swing_arm == pytest.approx(50.653846, abs=1e-6)
    assert roll_center(mirrored, right) == pytest.approx((0.0, 6.690205), abs=1e-6)
    uneven = mirrored._replace(upper_inner=(-16, 17.5), lower_inner=(-9, 9.2))
    assert uneven.instant_center == pytest.approx((26.0, 11.2), abs=1e-6)
    assert roll_center(uneven, right) == pytest.approx((1.084659, 6.470308), abs=1e-6)


def test_anti_dive_and_anti_squat():
    # Gillespie ch. 7 form (from memory), by hand.
    dive = anti_dive(brake_share=0.62, center_height=7, center_behind=30, wheelbase=105, cg_height=17)
    assert dive == pytest.approx(0.89352941, rel=1e-7)
    assert anti_squat(line_slope=8.5 / 40, wheelbase=105, cg_height=17) == pytest.approx(1.3125, rel=1e-12)
