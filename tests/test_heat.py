"""The march of heat through tires and brakes: against other solvers, closed forms and the energy put in."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from evidence import DERIVED, FROM_MEMORY, LIBRARY, READ
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar
from stint import ALONE, HP, LB, PSI, ZERO, Stint, bodies, half_laps

from ovalwright.mechanics import heat
from ovalwright.mechanics.handbook import pressure_at
from ovalwright.units import KINDS, parse
from ovalwright.vehicle.record import CORNER

HAND = "four-node tire on a repeated half lap, matrix exponential and RK45 to 1e-10"


# ---------------- the march


@pytest.mark.parametrize(
    ("laps", "expected", "pressure"),
    [
        (1, (44.58231, 28.39980, 25.83845, 25.00234), 14.08070),
        (5, (78.53012, 51.17687, 37.92752, 25.20660), 15.24423),
        (10, (98.44307, 76.60738, 53.59193, 26.00389), 16.75188),
        (20, (122.13509, 108.98605, 74.43161, 28.65214), 18.75763),
        (40, (141.33526, 135.31778, 92.97113, 34.55335), 20.54200),
    ],
)
def test_warm_up_of_a_four_node_tire(check, laps, expected, pressure) -> None:
    stint = Stint(bodies())
    stint.drive(*half_laps(2 * laps))
    of = f"tread, carcass, gas, rim after {laps} laps"
    check(stint.celsius[:4], expected, abs=6e-6, unit="C", of=of, source=HAND, kind=DERIVED, area="run")
    hot = pressure_at(14 * PSI, filled_at=25 + ZERO, now_at=stint.temperature[0, heat.GAS])
    of = f"pressure of 14 psi after {laps} laps"
    check(hot / PSI, pressure, abs=1e-5, unit="psi", of=of, source=HAND, kind=DERIVED, area="run")


def test_the_settled_lap_of_a_four_node_tire(check) -> None:
    stint = Stint(bodies())
    steps, work = half_laps(1)
    for _ in range(1000):
        tread = stint.drive(steps, work)[:, 0] - ZERO
    ends = [tread[0], tread[9], stint.celsius[heat.GAS]]
    check(
        ends,
        [149.344730, 154.164478, 104.523],
        abs=5e-4,
        unit="C",
        of="tread into the turn and out of it, gas, once settled",
        source=HAND,
        kind=DERIVED,
        area="run",
    )
    hot = pressure_at(14 * PSI, filled_at=25 + ZERO, now_at=stint.temperature[0, heat.GAS])
    check(
        hot / PSI,
        21.6539,
        abs=1e-4,
        unit="psi",
        of="settled pressure of 14 psi",
        source=HAND,
        kind=DERIVED,
        area="run",
    )


def test_one_long_step_goes_where_many_short_ones_go(check) -> None:
    stint = Stint(bodies())
    stint.drive([6000.0] * 4, np.tile([6493.75, 900.0, 0.0], (4, 1)))
    check(
        stint.celsius[:4],
        [151.767975, 146.375184, 104.521672, 45.926756],
        abs=1e-6,
        unit="C",
        of="steady tread, carcass, gas, rim under the mean heat, in four steps of 6,000 s",
        source="linear equations by hand",
        kind=DERIVED,
        area="run",
    )


def test_a_tire_of_one_node(check) -> None:
    one = bodies(capacity=(4200, *[ALONE] * 5), link=0.0, air=(140, 0, 0, 0, 0, 0), road=0.0)
    stint = Stint(one)
    steps, work = half_laps(1)
    for _ in range(100):
        tread = stint.drive(steps, work * [1.0, 0.0, 0.0])[:, 0]
    source = "rise of a first-order body under two heats in turn, closed form"
    rise = np.array([tread[9], tread[0], stint.mean[0, 0]]) - stint.air
    expected = [48.781093, 43.959996, 46.383929]
    of = "greatest, least and mean rise, once settled"
    check(rise, expected, abs=1e-6, unit="K", of=of, source=source, kind=DERIVED, area="run")
    cold = Stint(one)
    cold.drive([30.0, 60.0], np.tile([1400.0, 0.0, 0.0], (2, 1)))
    share = (cold.temperature[0, 0] - cold.air) / 10.0
    of = "share of the warm-up after three time constants"
    check(share, 1 - math.exp(-3), abs=1e-9, of=of, source=source, kind=DERIVED, area="run")


def six_nodes(at: Any, air: float, road: float, speed: float, into: np.ndarray) -> Any:
    """Rate of change of six temperatures, written out node by node."""
    wind = 0.15 + 0.85 * (speed / 35.7632) ** 0.7
    patch = at["road"] * math.sqrt(speed / 35.7632)
    exchange = np.diag(np.append(at["link"], 0.0)) + np.diag(np.append(0.0, at["link"]))
    exchange -= np.diag(at["link"], 1) + np.diag(at["link"], -1)

    def rate(_: float, t: np.ndarray) -> np.ndarray:
        flow = into - exchange @ t - at["air"] * wind * (t - air)
        flow[0] -= patch * (t[0] - road)
        flow[4] -= at["radiating"] * 5.670374419e-8 * (t[4] ** 4 - air**4)
        return flow / at["capacity"]

    return rate


def test_a_lap_with_brakes_against_a_stiff_solver(check) -> None:
    made = bodies(
        capacity=(5500, 11000, 120, 6000, 2700, 2500),
        link=(60, 20, 5, 1, 2.5),
        air=(35, 20, 0, 12, 25, 6),
        road=65,
        radiating=0.06,
        sliding_share=0.5,
        carcass_share=0.6,
    )
    rng = np.random.default_rng(4)
    speed, step = rng.uniform(15, 45, 40), np.full(40, 0.4)
    work = rng.uniform(0, [20e3, 3e3, 60e3], (40, 3))
    stint = Stint(made, air=300.0, road=313.0)
    start = [380.0, 370.0, 350.0, 320.0, 800.0, 400.0]
    stint.temperature[:] = start
    stint.drive(step, work, speed)
    t = np.array(start)
    for v, h, (sliding, rolling, braking) in zip(speed, step, work, strict=True):
        into = np.array([0.5 * sliding + 0.4 * rolling, 0.6 * rolling, 0, 0, braking, 0])
        rate = six_nodes(made[0], 300.0, 313.0, v, into)
        t = solve_ivp(rate, (0, h), t, method="Radau", rtol=1e-9, atol=1e-8).y[:, -1]
    check(
        stint.temperature[0],
        t,
        abs=0.1,
        unit="K",
        of="six nodes after a lap of changing speed, with radiating discs",
        source="SciPy solve_ivp, Radau",
        kind=LIBRARY,
        area="run",
    )


# ---------------- energy and wear


@given(seed=st.integers(0, 10_000), count=st.integers(1, 60), longest=st.sampled_from([0.1, 5.0, 900.0]))
def test_heat_put_in_is_friction_work_and_nothing_is_lost(seed, count, longest) -> None:
    rng = np.random.default_rng(seed)
    made = bodies(
        capacity=rng.uniform(50, 12000, (4, 6)),
        link=rng.uniform(0, 100, (4, 5)),
        air=rng.uniform(0, 60, (4, 6)),
        road=rng.uniform(0, 100, 4),
        radiating=0.06,
        sliding_share=rng.uniform(0, 1, 4),
        carcass_share=rng.uniform(0, 1, 4),
        wear=1e-11,
    )
    stint = Stint(made)
    step, work = rng.uniform(0.01, longest, count), rng.uniform(0, 2e3, (count, 4, 3))
    stint.drive(step, work, rng.uniform(0, 60, count))
    put_in, *went = stint.books.T
    assert np.all(np.isfinite(stint.temperature))
    assert put_in == pytest.approx(np.einsum("k,kij->i", step, work), rel=1e-12)
    turned_over = np.abs(stint.books).sum() + (made["capacity"] * stint.temperature).sum()
    assert np.abs(put_in - sum(went)).max() < 1e-12 * turned_over * count
    assert stint.temperature.min() >= stint.air - 1e-9


def test_energy_of_forty_laps_is_the_friction_work(check) -> None:
    stint, total, went = Stint(bodies(sliding_share=0.5)), 0.0, 0.0
    steps, work = half_laps(2)
    for _ in range(40):
        stint.drive(steps, work)
        total += stint.books[0, 0]
        went += stint.books[0, 1:].sum()
    work_done = 80 * (4.5 * 11000 + 3.5 * 700 + 8 * 900)
    for ours, of in ((total, "heat put in"), (went, "heat stored, to the road and to the air")):
        check(
            ours,
            work_done,
            rel=1e-11,
            unit="J",
            of=f"{of} in forty laps, against force times sliding speed times time",
            source="conservation of energy",
            kind=DERIVED,
            area="run",
        )


def test_power_slid_away_is_force_times_sliding_velocity(check) -> None:
    rng = np.random.default_rng(2)
    corners = np.zeros(8, CORNER)
    ahead, radius = rng.uniform(20, 45, 8), 0.34
    corners["slip"], corners["slip_angle"] = rng.uniform(-0.1, 0.1, 8), rng.uniform(-0.15, 0.15, 8)
    corners["drive"], corners["side"] = corners["slip"] * 3e4, corners["slip_angle"] * 4e4
    spin = ahead * (1 + corners["slip"]) / radius
    from_axle = corners["drive"] * radius * spin
    to_car = corners["drive"] * ahead - corners["side"] * ahead * np.tan(corners["slip_angle"])
    check(
        heat.sliding_power(corners, ahead),
        from_axle - to_car,
        rel=1e-9,
        unit="W",
        of="sliding power, against axle torque times spin less force times velocity of the wheel",
        source="conservation of energy",
        kind=DERIVED,
        area="run",
    )


def test_wear_follows_the_energy_and_temperature_is_in_the_exponent(check) -> None:
    worn = []
    for degrees in (88.0, 128.0):
        still = bodies(capacity=1e12, best=88 + ZERO, wear=2e-11, wear_heat=40.0)
        stint = Stint(still)
        stint.temperature[:] = degrees + ZERO
        stint.drive([10.0], [[2e4, 0.0, 0.0]])
        worn.append(stint.used[0, 0])
        check(
            stint.used[0],
            np.array([2e-11 * 2e5, 10.0]) * math.exp((degrees - 88) / 40),
            rel=1e-6,
            of=f"tread lost and time at heat, 200 kJ in 10 s at {degrees:.0f} C",
            source="wear = k E exp((T - T0) / B), form of Grosch, Rubber Chem. Technol. 81 (2008) 470",
            kind=FROM_MEMORY,
            area="run",
        )
    assert worn[1] > 2.7 * worn[0]


# ---------------- a run with feedback


class Fading:
    """One-node tire whose grip falls with heat and wear while less grip makes more heat."""

    HEATING, EXPONENT, BEST, DEPTH = 8200.0, 3, 95.0 + ZERO, 5.0

    def __init__(self) -> None:
        rate = 2.2e-4 / 60 / 1000
        self.stint = Stint(
            bodies(
                capacity=(12000, *[ALONE] * 5),
                link=0.0,
                air=(95, 0, 0, 0, 0, 0),
                road=0.0,
                best=self.BEST,
                wear=rate,
                wear_heat=40.0,
            )
        )

    def grip(self, tread: float) -> float:
        """mu / 1.10."""
        warm = heat.grip_of_heat(tread, best=self.BEST, window=60 / math.sqrt(0.1))
        return float(warm * heat.left_on(self.stint.used[0, 0] / self.DEPTH, 0.12))

    def drive(self, seconds: float, grip: float) -> None:
        self.stint.drive([seconds], [[self.HEATING / grip**self.EXPONENT, 0.0, 0.0]])

    def lap(self, parts: int = 60) -> float:
        """Lap time [s] in equal parts of the lap, each with the heat of its own middle."""
        total = 0.0
        for _ in range(parts):
            before, used = self.stint.temperature.copy(), self.stint.used.copy()
            first = self.grip(before[0, 0])
            self.drive(0.5 * 15.0 / math.sqrt(first) / parts, first)
            middle = self.grip(self.stint.temperature[0, 0])
            self.stint.temperature[:], self.stint.used[:] = before, used
            taken = 15.0 / math.sqrt(middle) / parts
            self.drive(taken, middle)
            total += taken
        return total


FALL_OFF = "one-node run with feedback, DOP853 to 1e-12"


def test_a_run_that_comes_in_and_fades(check) -> None:
    fading = Fading()
    times = np.array([fading.lap() for _ in range(40)])
    laps = np.array([1, 2, 5, 8, 10, 13, 20, 30, 40])
    expected = [15.88926, 15.55213, 15.14902, 15.03468, 15.00932, 15.00076, 15.02051, 15.05106, 15.06792]
    figures = [
        (times[laps - 1], expected, 2e-4, "s", f"lap times of laps {', '.join(map(str, laps))}"),
        (times.argmin() + 1, 13, 0, "", "best lap"),
        (times.sum(), 603.46794, 2e-3, "s", "total of 40 laps"),
        (fading.stint.celsius[0], 112.5651, 5e-3, "C", "tread after 40 laps"),
        (5 - fading.stint.used[0, 0], 4.97894, 2e-5, "mm", "tread left after 40 laps"),
        (10 * np.polyfit(np.arange(11, 41), times[10:], 1)[0], 0.02624, 2e-5, "s", "slope per 10 laps"),
    ]
    for ours, outside, off, unit, of in figures:
        check(ours, outside, abs=off, unit=unit, of=of, source=FALL_OFF, kind=DERIVED, area="run")


def test_the_tread_runs_away_where_heat_rises_faster_than_it_leaves(check) -> None:
    """Heat H (T - air) grip(T)^3 keeps T steady; its greatest value is the most the tire can shed."""
    loss, best, window = 95.0, Fading.BEST, 60 / math.sqrt(0.1)

    def kept(tread: float) -> float:
        return loss * (tread - 25 - ZERO) * (1 - ((tread - best) / window) ** 2) ** 3

    top = minimize_scalar(
        lambda t: -kept(t), bounds=(best, best + 90), method="bounded", options={"xatol": 1e-9}
    )
    grip = float(heat.grip_of_heat(top.x, best=best, window=window))
    ours = heat.feedback(
        top.x, -top.fun / grip**3, best=best, window=window, sensitivity=3.0, conductance=loss
    )
    check(
        ours,
        1.0,
        abs=1e-5,
        of="feedback at the greatest heat that any temperature can shed",
        source="steady state by SciPy minimize_scalar",
        kind=LIBRARY,
        area="run",
    )
    for share, runs_away in ((0.97, False), (1.03, True)):
        fading = Fading()
        fading.HEATING = -top.fun * share
        fading.stint.bodies["wear"] = 0.0
        for _ in range(400):
            fading.lap(parts=4)
        check.fact(
            bool(fading.stint.temperature[0, 0] > top.x) == runs_away,
            of=f"the tread {'runs away' if runs_away else 'stays'} at {share:.0%} of that heat",
            source="marched for 400 laps",
            kind=DERIVED,
            area="run",
        )


@pytest.mark.parametrize("speed", [0.0, 12.0, 36.0])
def test_what_holds_the_tread_back(check, speed) -> None:
    at = bodies(link=(60, 20, 5, 1, 2.5), air=(35, 20, 0, 12, 25, 6), road=65)[0]
    still = six_nodes(at, 0.0, 0.0, speed, np.zeros(6))
    matrix = np.column_stack([-at["capacity"] * still(0.0, unit) for unit in np.eye(6)])
    check(
        heat.tread_conductance(at, speed),
        1.0 / np.linalg.inv(matrix)[0, 0],
        rel=1e-9,
        unit="W/K",
        of=f"heat into the tread per kelvin at {speed:.0f} m/s",
        source="NumPy linalg, inverse of the six equations",
        kind=LIBRARY,
        area="run",
    )


# ---------------- brakes and fuel


def test_work_of_the_brakes(check) -> None:
    step = np.full(900, 0.002)
    slow = (45.0 - 27.0) / step.sum()
    speed = 45.0 - slow * (np.arange(900) + 0.5) * 0.002
    power = heat.braking_power(np.full(900, -1300 * slow), speed, front=0.66, engine=0.0)
    source = "kinetic energy, 1,300 kg from 45 to 27 m/s, one front disc 33 %, 9.0 kg of 460 J/(kg K)"
    energy = power[:, 0] @ step
    of = "work of one front brake"
    check(energy, 277_992, rel=1e-9, unit="J", of=of, source=source, kind=DERIVED, area="run")
    disc = bodies(capacity=(*[ALONE] * 4, 9.0 * 460, ALONE), link=0.0, air=0.0, road=0.0)
    stint, work = Stint(disc), np.zeros((900, 4, 3))
    work[:, :, 2] = power
    stint.drive(step, work, speed)
    rise = stint.temperature[0, heat.DISC] - stint.air
    of = "rise of the disc in one stop"
    check(rise, 67.14783, abs=1e-5, unit="K", of=of, source=source, kind=DERIVED, area="run")


def test_discs_that_do_not_cool_between_turns(check) -> None:
    capacity = 9.0 * 460
    disc = bodies(
        capacity=(*[ALONE] * 4, capacity, ALONE), link=0.0, air=(0, 0, 0, 0, capacity / 120, 0), road=0.0
    )
    stint, at_once = Stint(disc), 1e-6
    rise = {}
    for stop in range(1, 401):
        stint.drive([at_once], [[0.0, 0.0, 67.14783 * capacity / at_once]])
        peak = stint.temperature[0, heat.DISC] - stint.air
        stint.drive([8.0 - at_once], np.zeros((1, 3)))
        rise[stop] = (peak, stint.temperature[0, heat.DISC] - stint.air)
    check(
        [rise[10][0], *rise[400]],
        [506.6127, 1041.1643, 974.0165],
        abs=2e-4,
        unit="K",
        of="peak rise after 10 stops 8 s apart, peak and trough once settled, cooling in 120 s",
        source="dT (1 - q^n) / (1 - q), q = exp(-t/tau) (Limpert, Brake Design and Safety)",
        kind=FROM_MEMORY,
        area="run",
    )


def test_rotors_of_published_stops(check) -> None:
    pound_degree = 4186.8 * LB
    cases = [
        (3000 * LB, 60 * 0.44704, 40 * 0.130 * pound_degree, 90.3 / 1.8, 0.015, "scribd 12801615"),
        (1500.0, 30.0, 32 * 448.0, 47.084263, 1e-6, "tutorsglobe 51405278, its question, reworked"),
    ]
    for mass, speed, four, expected, rel, source in cases:
        disc = bodies(capacity=(*[ALONE] * 4, four / 4, ALONE), link=0.0, air=0.0, road=0.0)
        stint = Stint(disc)
        power = heat.braking_power(
            np.array([-mass * speed / 2]), np.array([speed / 2]), front=0.5, engine=0.0
        )
        stint.drive([2.0], np.stack([0 * power, 0 * power, power], axis=-1))
        of = f"rise of the rotors, {mass:.0f} kg from {speed:.1f} m/s to rest"
        ours = stint.temperature[0, heat.DISC] - stint.air
        check(ours, expected, rel=rel, unit="K", of=of, source=source, kind=READ, area="run")


def test_engine_and_balance_share_the_slowing() -> None:
    power = heat.braking_power(np.array([-1000.0, 500.0]), np.array([30.0, 30.0]), front=0.7, engine=0.2)
    assert power == pytest.approx(np.array([[8400, 8400, 3600, 3600], [0, 0, 0, 0]]))


def test_fuel_of_a_dynamometer_hour(check) -> None:
    rate = parse("0.45 lb/hp/h", KINDS["fuel_rate"])
    burned = heat.fuel_burned(np.full(10, 600 * HP), np.full(10, 0.1), per_energy=rate)
    of = "fuel of 600 hp in one second at 0.45 lb/hp/h"
    check(1e3 * burned, 34.0194, abs=1e-4, unit="g", of=of, source="units by hand", kind=DERIVED, area="run")
    closed = heat.fuel_burned(np.array([-5e4, 1e5]), np.array([1.0, 1.0]), per_energy=rate)
    assert closed == pytest.approx(1e5 * rate)
