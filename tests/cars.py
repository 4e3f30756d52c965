"""Cars and states for the proof: one late-model-type car of our own invention, and what can be done to it.

Built straight as compiled records, in trade units. Tire: the published set of Magic Formula coefficients
of Pacejka, *Tire and Vehicle Dynamics*, 2nd ed., app. 3 (205/60R15), from memory; all other numbers are
of a common size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy import constants as unit

from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import settle, standing
from ovalwright.solve.trim import trim
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.geometry import half_masses, set_axle, set_bar, set_front_corner, spin_axis
from ovalwright.vehicle.record import CAR, CORNER, MOTION, SIZE, blank

INCH, LB = unit.inch, unit.lbf
RATE = LB / INCH
DEGREE = unit.degree
WHEELBASE = 104.0 * INCH
TIRE = {
    "side_shape": 1.34, "side_grip": 1.2627, "side_grip_load": -0.1523, "side_grip_camber": 7.7,
    "side_bend": -2.9248, "side_bend_load": -0.3414, "side_stiffness": 27.7353, "stiffness_load": 2.4138,
    "camber_thrust": 1.2, "drive_shape": 1.3391, "drive_grip": 1.3263, "drive_grip_load": -0.1605,
    "drive_bend": -2.4039, "drive_bend_load": -0.8367, "drive_stiffness": 26.4499,
    "drive_stiffness_load": -7.3690, "drive_mix": 11.178, "drive_mix_slip": 12.984, "drive_mix_shape": 1.175,
    "side_mix": 14.641, "side_mix_slip": 10.205, "side_mix_shape": 1.109, "nominal_load": 4000.0,
    "stiffness_factor": 1.0, "grip": 1.0, "radius_share": 0.4, "rolling_resistance": 0.018,
    "side_rate": 700.0 * RATE,
}  # fmt: skip
LF, RF, LR, RR = range(4)


def at(x: float, y: float, z: float) -> np.ndarray:
    """A point in inches: x from the front axle line, + forward; y + left; z up from the ground."""
    return np.array([x * INCH + 0.5 * WHEELBASE, y * INCH, z * INCH])


def front_points(side: int) -> dict[str, np.ndarray]:
    """Pick-up points of a front corner as drawn; the two sides differ a little, as on most such cars."""
    s, right = (1.0, 0.0) if side == 0 else (-1.0, 1.0)
    return {
        "lower_front": at(5.4, 9.5 * s, 6.3),
        "lower_rear": at(-7.2, 9.5 * s, 6.1),
        "ball_lower": at(0.3 + 0.2 * right, 27.0 * s, 6.9),
        "upper_front": at(3.5 - 0.4 * right, 16.0 * s, 15.3 - 0.3 * right),
        "upper_rear": at(-5.5 - 0.4 * right, 16.0 * s, 14.9 - 0.3 * right),
        "ball_upper": at(-0.3 - 0.2 * right, (25.1 - 0.1 * right) * s, 17.2 + 0.1 * right),
        "tie_inner": at(6.2, 11.6 * s, 7.6 - 0.1 * right),
        "tie_outer": at(6.2, 27.6 * s, 8.7),
        "wheel": at(0.0, (33.4 - 1.6 * right) * s, 12.95 + 0.2 * right),
    }


def late_model(*, panhard_axle: float = 0.0, panhard_frame: float = 0.0, axle_yaw: float = 0.0) -> Any:
    """The car as a record; the panhard bar's ends may be raised [in], the axle led [rad, + RR ahead]."""
    car = blank(CAR)[0]
    car["wheelbase"], car["weight"] = WHEELBASE, 1270.0 * unit.g
    set_front_corner(car, 0, front_points(0), inclination=4.2 * DEGREE, steer=-0.10 * DEGREE)
    set_front_corner(car, 1, front_points(1), inclination=3.4 * DEGREE, steer=0.05 * DEGREE)
    for side, s in ((0, 1.0), (1, -1.0)):
        set_bar(
            car, side, foot=at(1, 22.6 * s, 7.1), tip=at(1, 22.6 * s, 10.1), center=at(14, 22.6 * s, 10.1)
        )
    origin = at(-104.0, 0.0, 13.3)
    set_axle(
        car,
        origin=origin,
        link_frame=np.array(
            [at(-80, 20, 9.7), at(-80, -20, 8.8), at(-85.5, 0, 18.5), at(-108.5, -22, 10.6 + panhard_frame)]
        ),
        link_axle=np.array(
            [at(-103, 23, 8.7), at(-103, -23, 8.5), at(-104, 0, 20.1), at(-108.5, 19, 9.7 + panhard_axle)]
        ),
        wheels=np.array([at(-104, 32.4, 13.3), at(-104, -32.6, 13.3)]),
        spindles=np.array([spin_axis(0.2 * DEGREE, 0.0), spin_axis(0.5 * DEGREE, 0.0)]),
        cg=at(-103.5, 0.4, 13.5),
        yaw=axle_yaw,
    )
    low = np.array(
        [
            at(0.8, 22.6, 7.8),
            at(0.8, -22.6, 7.8),
            at(-102.5, 21, 10.4) - origin,
            at(-102.5, -21, 10.4) - origin,
        ]
    )
    top = np.array(
        [at(-0.2, 18.1, 20.4), at(-0.2, -18.1, 20.4), at(-103.8, 18.5, 24.2), at(-103.8, -18.5, 24.2)]
    )
    car["coil_low"], car["coil_top"], car["shock_low"], car["shock_top"] = (
        low,
        top,
        low + np.array([0.02, 0.0, 0.01]),
        top,
    )
    drawn = drawn_lengths(car, "coil")
    car["coil_rate"] = np.array([300.0, 325.0, 200.0, 225.0]) * RATE
    car["coil_free"] = drawn + np.array([1000.0, 950.0, 640.0, 600.0]) * LB / car["coil_rate"]
    car["coil_bind"], car["bind_rate"] = 8.0 * INCH, 2e4 * RATE
    car["gas_force"] = np.array([30.0, 30.0, 25.0, 35.0]) * LB
    shock = drawn_lengths(car, "shock")
    car["stop_length"], car["droop_length"] = shock - 3.0 * INCH, shock + 3.5 * INCH
    car["stop_rate"], car["stop_solid"], car["stop_exponent"] = 350.0 * RATE, 0.95 * INCH, 1.3
    car["droop_rate"] = 2e4 * RATE
    set_bar_rate(car, 900.0)
    car["unsprung_mass"], car["axle_mass"], car["spin_inertia"] = [43.0, 44.0], 154.0, [1.3, 1.3, 2.9]
    car["front_mass"], car["front_cg"], car["rear_mass"], car["rear_cg"] = half_masses(
        969.0,
        np.array([0.02, 0.09, 16 * INCH]),
        front_station=at(-20, 0, 0)[0],
        rear_station=at(-85, 0, 0)[0],
    )
    car["front_inertia"], car["rear_inertia"] = [120.0, 420.0, 470.0], [110.0, 380.0, 420.0]
    car["fuel_mass"], car["fuel_cg"] = 60.0, at(-132, 2, 14)
    car["twist_rate"], car["twist_axis"] = 9500.0 / DEGREE, [0.0, 12.0 * INCH]
    car["drag_area"], car["drag_height"] = 0.79, 20.0 * INCH
    car["down_area"], car["side_area"], car["side_point"] = [0.23, 0.37], 3.7, at(-55, 0, 24)
    car["brake_front"], car["engine_drag"], car["shaft_ratio"] = 0.62, 6.0, 4.86
    car["driveline_inertia"] = 6.0
    car["ground_point"][:2], car["ground_friction"] = [at(-138, 12, 6.5), at(-138, -12, 6.5)], 0.5
    car["height_point"] = np.array([at(-25, 22, 4.5), at(-25, -22, 5), at(-80, 22, 5), at(-80, -22, 5.5)])
    for corner, (rollout, pressure) in enumerate(((84.5, 12.0), (86.5, 22.0), (85.0, 12.0), (87.3, 20.0))):
        tire = car["tire"][corner]
        for name, figure in TIRE.items():
            tire[name] = figure
        tire["free_radius"], tire["rate"] = rollout * INCH / (2 * np.pi), (300.0 + 40.0 * pressure) * RATE
    return car


def drawn_lengths(car: Any, kind: str) -> np.ndarray:
    """Lengths of the four coils or shocks as drawn [m]."""
    low = car[f"{kind}_low"].copy()
    low[2:] += car["axle_origin"]
    return np.linalg.norm(low - car[f"{kind}_top"], axis=1)


def set_bar_rate(car: Any, rate: float) -> None:
    """A bar of this rate [lb/in] at one arm with the other held."""
    car["bar_rate"] = rate * RATE * car["bar_arm"][0] ** 2


def turn(speed: float, radius: float, bank: float = 0.0, **more: float) -> Any:
    """A station: speed [m/s], horizontal radius [m, + left], bank [deg, + outer side up of a left turn]."""
    motion = blank(MOTION)[0]
    motion["gravity"], motion["air_density"], motion["grip"] = unit.g, 1.2, 1.0
    motion["speed"], motion["curvature"], motion["bank"] = speed, 1.0 / radius, bank * DEGREE
    for name, figure in more.items():
        motion[name] = figure
    return motion


@dataclass(frozen=True)
class Solved:
    """A car, its motion, its 14 unknowns and what its corners do."""

    car: Any
    motion: Any
    unknowns: np.ndarray
    corners: Any


def at_rest(car: Any) -> np.ndarray:
    """The 14 unknowns of the car on the scales."""
    u = np.zeros(SIZE)
    status, size, *_ = settle(car, standing(), u, np.zeros((40, SIZE)))
    assert status == CONVERGED, f"did not settle: {status}, {size}"
    return u


def solved(car: Any, motion: Any) -> Solved:
    """The car settled, or settled and trimmed."""
    u = at_rest(car)
    if motion["standing"] < 0.5:
        settled, u = u, np.zeros(SIZE)
        status, size, *_ = trim(settled, car, motion, u, np.zeros((40, SIZE)))
        assert status == CONVERGED, f"no trim: {status}, {size}"
    corners = np.zeros(4, CORNER)
    read_corners(u, car, motion, corners)
    return Solved(car, motion, u, corners)


# ---------------- what can be done to the car


def hang(car: Any, corner: int, gap: float) -> Any:
    """Set a coil's seat so that it hangs off by a gap [m] on the scales."""
    rate, car["coil_rate"][corner] = car["coil_rate"][corner], 0.0
    corners = solved(car, standing()).corners
    car["coil_rate"][corner] = rate
    car["coil_free"][corner] = corners["coil_length"][corner] - gap
    return car


def wedge(car: Any) -> Any:
    """A car that stands on its LR: stiff and jacked, RR soft."""
    car["coil_rate"][LR:] = np.array([350.0, 150.0]) * RATE
    drawn = drawn_lengths(car, "coil")
    car["coil_free"][LR:] = drawn[LR:] + np.array([1050.0, 150.0]) * LB / car["coil_rate"][LR:]
    return car


def without(car: Any, corner: int) -> Any:
    """The car with one coil taken out."""
    car["coil_rate"][corner] = 0.0
    return car


def stops(car: Any, gaps: dict[int, float]) -> Any:
    """Bump stops that touch after these shock travels from the car as drawn [in]."""
    for corner, gap in gaps.items():
        car["stop_length"][corner] = drawn_lengths(car, "shock")[corner] - gap * INCH
    return car


def changed(car: Any, **fields: Any) -> Any:
    """The car with fields of its record changed."""
    for name, figure in fields.items():
        car[name] = figure
    return car


def big_bar(car: Any) -> Any:
    """A bar of 2 1/4 in, a little preload, and soft coils that ride on stops."""
    set_bar_rate(car, 4500.0)
    car["bar_preload"], car["bar_slack"] = -0.01, 0.004
    drawn = drawn_lengths(car, "coil")
    car["coil_rate"][:2] = np.array([170.0, 190.0]) * RATE
    car["coil_free"][:2] = drawn[:2] + np.array([900.0, 900.0]) * LB / car["coil_rate"][:2]
    return stops(car, {LF: 0.6, RF: 0.7})


def boxed(car: Any) -> Any:
    """Steering by a box: the center link moves on the pitman arm's circle."""
    car["pitman"] = 5.5 * INCH
    return car


def dragging(car: Any) -> Any:
    """A car whose tail points may touch the road."""
    car["ground_rate"][:2] = 4e5
    return car


@dataclass(frozen=True)
class Case:
    """One car in one state."""

    name: str
    car: Callable[[], Any]
    motion: Any = field(default_factory=standing)


def _cases(car: Callable[[], Any], C: type[Case]) -> list[Case]:
    return [
        C("on the scales", car),
        C("on the scales, tank empty", lambda: changed(car(), fuel_mass=0.0)),
        C("on the scales, RR coil hanging 1/2 in", lambda: hang(wedge(car()), RR, 0.5 * INCH)),
        C(
            "on the scales, twisted frame",
            lambda: changed(car(), twist_rate=900 / DEGREE, twist_built_in=0.01),
        ),
        C("flat", car, turn(22.0, 60.0)),
        C("flat, to the right", car, turn(17.0, -60.0)),
        C("flat, tight and slow: much steer", car, turn(9.0, 14.0)),
        C("flat, steering box", lambda: boxed(car()), turn(12.0, 20.0)),
        C("12 degrees", car, turn(27.0, 60.0, 12.0)),
        C("24 degrees", car, turn(33.0, 60.0, 24.0)),
        C("35 degrees", car, turn(40.0, 70.0, 35.0)),
        C("35 degrees, slow", car, turn(10.0, 70.0, 35.0)),
        C(
            "flat, brakes on the uprights",
            lambda: changed(car(), brake_front=1.0, engine_drag=0.0),
            turn(20.0, 80.0, acceleration=-4.0),
        ),
        C(
            "12 degrees, brakes on the housing",
            lambda: changed(car(), brake_front=0.0, engine_drag=0.0),
            turn(22.0, 70.0, 12.0, acceleration=-2.0),
        ),
        C("24 degrees, all brakes and the engine", car, turn(30.0, 60.0, 24.0, acceleration=-3.0)),
        C("flat, power", car, turn(18.0, 80.0, acceleration=3.0)),
        C(
            "24 degrees, power with propshaft torque",
            car,
            turn(28.0, 60.0, 24.0, acceleration=2.5),
        ),
        C("flat, soft frame", lambda: changed(car(), twist_rate=900 / DEGREE), turn(21.0, 60.0)),
        C(
            "24 degrees, soft frame, power",
            lambda: changed(car(), twist_rate=900 / DEGREE, twist_axis=[0.02, 0.5]),
            turn(30.0, 60.0, 24.0, acceleration=2.0),
        ),
        C(
            "flat, RR coil hangs on the scales and picks up",
            lambda: hang(wedge(car()), RR, 0.25 * INCH),
            turn(20, 60),
        ),
        C("flat, RR coil hangs still", lambda: hang(wedge(car()), RR, 1.0 * INCH), turn(8.0, 60.0)),
        C("12 degrees, no RR coil", lambda: without(wedge(car()), RR), turn(24.0, 60.0, 12.0)),
        C(
            "35 degrees, no RR coil, tail on the ground",
            lambda: dragging(without(wedge(car()), RR)),
            turn(36.0, 70.0, 35.0),
        ),
        C(
            "24 degrees, RF and RR stops engaged",
            lambda: stops(car(), {RF: 0.8, RR: 1.5}),
            turn(34.0, 60.0, 24.0),
        ),
        C("12 degrees, big bar with slack, on stops", lambda: big_bar(car()), turn(27.0, 60.0, 12.0)),
        C(
            "24 degrees, RF coil bound",
            lambda: changed(car(), coil_bind=np.array([9.0, 3.9, 9.0, 9.0]) * INCH),
            turn(34.0, 60.0, 24.0),
        ),
        C("flat, panhard raised 2 in on the axle", lambda: late_model(panhard_axle=2.0), turn(22.0, 60.0)),
        C(
            "24 degrees, panhard lowered 2 in on the frame",
            lambda: late_model(panhard_frame=-2.0),
            turn(33, 60, 24),
        ),
        C("flat, RR led 1/4 in", lambda: late_model(axle_yaw=0.25 / 65.0), turn(22.0, 60.0)),
        C(
            "into the bank: warp, spiral, brakes",
            car,
            turn(26.0, 90.0, 9.0, acceleration=-3.0, bank_rate=0.005, bank_bend=1e-4, curvature_rate=2e-4),
        ),
        C(
            "off the bank: warp, spiral, power",
            car,
            turn(27.0, 80.0, 15.0, acceleration=2.0, bank_rate=-0.005, curvature_rate=-2e-4),
        ),
        C("flat, uphill in a dip", car, turn(22.0, 60.0, crest=0.004, grade=0.05)),
        C("24 degrees, downhill over a crest", car, turn(30.0, 60.0, 24.0, crest=-0.003, grade=-0.04)),
        C(
            "flat, LF wheel in the air",
            lambda: big_bar(changed(wedge(car()), twist_rate=40000 / DEGREE)),
            turn(24.0, 60.0),
        ),
    ]


CASES = _cases(late_model, Case)
"""The cars and states of the rigid-body proof."""
