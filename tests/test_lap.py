"""The lap of the full car: its limits by other algorithms, its profile by SciPy, and a point mass where the
car is made to be one."""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
from evidence import DERIVED, LIBRARY
from scipy.constants import g
from scipy.integrate import quad, solve_ivp
from scipy.optimize import newton, root
from test_speed import DEMO

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, density, slosh_of, with_fuel
from ovalwright.pack.track import ribbon_of
from ovalwright.solve import sweep
from ovalwright.solve.envelope import limit_of, point_mass
from ovalwright.solve.lap import BRAKE_EDGE, BRAKES, CAP, DRIVE_EDGE, POWER, REVS
from ovalwright.solve.limit import FOUND, MAX_POINTS, follow
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import settle, standing
from ovalwright.solve.trim import trim, trim_from
from ovalwright.study.lap import Driver, Lap, brake_force, lap, roads_of
from ovalwright.vehicle.law import DEMAND, SPIN_A, residual_and_jacobian
from ovalwright.vehicle.record import SIZE

DAY = Conditions()


@pytest.fixture(scope="module")
def car():
    return with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=0.8)


@pytest.fixture(scope="module")
def ribbon():
    return ribbon_of(load_track(DEMO / "track_three_eighths.toml"))


@pytest.fixture(scope="module")
def line(ribbon):
    return ribbon.line(0.0)


@pytest.fixture(scope="module")
def driven(car, line) -> Lap:
    return lap(car, line, DAY)


class Place:
    """One place of a lap as its driver feels it: the car with its fuel there, and plain trims."""

    def __init__(self, driven: Lap, road, speed: float) -> None:
        self.work = np.zeros((40, SIZE))
        self.settled = driven.packed.settled
        self.car, self.motion = driven.packed.record.copy(), road.copy()
        self.motion["grip"] *= driven.driver.use
        self.motion["speed"] = speed
        lateral = speed**2 * road["curvature"] * np.cos(road["bank"]) - g * np.sin(road["bank"])
        slosh = slosh_of(driven.packed.values()[0], float(self.car["fuel_mass"]))
        self.car["fuel_cg"][1] -= slosh * lateral
        self.engine = driven.engine

    def trim(self, along: float, near=None):
        """The 14 unknowns at an acceleration, from a state close by or the standing car; None without."""
        self.motion["acceleration"] = along
        u = np.zeros(SIZE) if near is None else near.copy()
        if near is None:
            status = trim(self.settled, self.car, self.motion, u, self.work)[0]
        else:
            status = trim_from(u, self.car, self.motion, self.work)[0]
        return u if status == CONVERGED else None

    def pull_left(self, u) -> float:
        """Full throttle over what a state asks of the engine [N]."""
        e = self.engine
        full = np.interp(u[SPIN_A] * e.gear, e.speeds, e.torques) * e.gear * e.efficiency
        return full / self.car["tire"]["free_radius"][3] - u[DEMAND]

    def last_trim(self, way: float):
        """The last acceleration with a trim, by halving steps, and its state."""
        along, step = -1.0 if way > 0 else 0.0, 1.0
        u = self.trim(along)
        assert u is not None
        while step > 1e-5:
            ahead = self.trim(along + way * step, u)
            if ahead is None:
                step *= 0.5
            else:
                u, along = ahead, along + way * step
        return along, u


def place_of(driven: Lap, i: int) -> Place:
    return Place(driven, roads_of(driven.line, DAY)[i], float(driven.speed[i]))


def stations(driven: Lap, mode: int, count: int) -> list[int]:
    """Some stations that one thing rules, spread over the lap."""
    ruled = np.flatnonzero(driven.kept.mode == mode)
    assert len(ruled) >= count
    return [int(i) for i in ruled[np.linspace(1, len(ruled) - 2, count).astype(int)]]


# ---------------- the limits, by other algorithms


def test_caps_against_a_path_of_trims(driven):
    """The fold found directly, and by following trims up to it through pseudo-arclength."""
    for i in stations(driven, CAP, 6):
        at = place_of(driven, i)
        at.motion["acceleration"] = 0.0
        path = np.zeros((MAX_POINTS, SIZE + 1))
        status, points = follow(at.settled, at.car, at.motion, float(driven.speed[i]), path, at.work)
        assert status == FOUND
        assert path[points - 1, SIZE] == pytest.approx(driven.speed[i], rel=2e-6)


@pytest.mark.parametrize(
    ("mode", "way", "share"), [(BRAKE_EDGE, -1.0, "brake"), (DRIVE_EDGE, 1.0, "throttle")]
)
def test_edges_against_the_last_plain_trim(driven, mode, way, share):
    for i in stations(driven, mode, 5):
        along, _ = place_of(driven, i).last_trim(way)
        assert driven.along[i] == pytest.approx(getattr(driven.driver, share) * along, abs=2e-3)


def test_pull_against_the_trim_at_full_throttle(driven):
    for i in stations(driven, POWER, 5):
        at = place_of(driven, i)
        u = at.trim(float(driven.along[i]))
        assert u is not None and at.pull_left(u) == pytest.approx(0.0, abs=1.0)


def test_edge_as_a_double_root(driven, check):
    """Moore & Spence's system: the trim, a null vector of its Jacobian, and that vector's length."""
    ours, theirs = [], []
    for mode, way, share in ((BRAKE_EDGE, -1.0, "brake"), (DRIVE_EDGE, 1.0, "throttle")):
        for i in stations(driven, mode, 3):
            at = place_of(driven, i)
            along, u = at.last_trim(way)
            ours.append(driven.along[i] / getattr(driven.driver, share))
            theirs.append(double_root(at, u, along))
    check(
        ours, theirs, abs=1e-5, unit="m/s^2", of="edge under brakes and under power",
        source="SciPy's root on Moore & Spence's system (1980, from memory) of the same force law",
        kind=LIBRARY, area="lap",
    )  # fmt: skip


def double_root(at: Place, u, along: float) -> float:
    size = np.array([3000.0, *[0.05] * 10, 20.0, 20.0, 20.0])
    weight = float(at.car["weight"])

    def law(x, a):
        r, j = np.zeros(SIZE), np.zeros((SIZE, SIZE))
        at.motion["acceleration"] = a
        residual_and_jacobian(x * size, at.car, at.motion, r, j, np.zeros(8), np.zeros((4, 8)))
        return r / weight, j * size / weight

    def system(z):
        x, v, a = z[:SIZE], z[SIZE:-1], z[-1]
        r, j = law(x, a)
        return np.concatenate([r, j @ v, [v @ v - 1.0]])

    null = np.linalg.svd(law(u / size, along)[1])[2][-1]
    found = root(system, np.concatenate([u / size, null, [along]]), method="hybr", tol=1e-12)
    assert np.abs(found.fun).max() < 1e-8
    return float(found.x[-1])


# ---------------- the profile and its time


def test_profile_under_power_against_an_integrator(driven, ribbon, check):
    """dE/ds = a(s, E) with the full throttle of the engine, out of the second turn until the revs rule."""
    modes = driven.kept.mode
    first = 2 + max(i for i in range(1, len(modes)) if modes[i] == POWER and modes[i - 1] == DRIVE_EDGE)
    last = next(i for i in range(first, len(modes)) if modes[i] != POWER) - 1
    at = slice(first, last + 1)
    fine = ribbon.line(0.0, spacing=0.25)
    fields = ("curvature", "curvature_rate", "bank", "bank_rate", "bank_bend", "grade", "crest")
    road = roads_of(driven.line, DAY)[0].copy()
    near, pull = [driven.kept.rows[first][:SIZE]], [float(driven.along[first])]

    def slope(s, energy):
        for name in fields:
            road[name] = np.interp(s, fine.distance, getattr(fine, name))
        here = Place(driven, road, float(np.sqrt(2.0 * energy[0])))

        def left(along):
            u = here.trim(along, near[0])
            assert u is not None
            return here.pull_left(u)

        along = newton(left, pull[0], x1=pull[0] - 0.05, tol=1e-7)
        near[0], pull[0] = here.trim(along, near[0]), along
        return [along]

    s = driven.line.distance[at]
    start = 0.5 * driven.speed[first] ** 2
    theirs = solve_ivp(slope, (s[0], s[-1]), [start], t_eval=s, rtol=1e-6, atol=1e-4, max_step=8.0)
    check(
        driven.speed[at], np.sqrt(2.0 * theirs.y[0]), rel=3e-4, unit="m/s",
        of="speed out of a turn at full throttle", source="SciPy's solve_ivp on the same force law",
        kind=LIBRARY, area="lap",
    )  # fmt: skip


def test_time_against_quadrature(driven, check):
    """Acceleration is even over a step, so that V^2 is straight between stations."""
    line = driven.line
    ends, energy = np.append(line.distance, line.length), np.append(driven.speed, driven.speed[0]) ** 2
    time = sum(quad(lambda s: 1.0 / np.sqrt(np.interp(s, ends, energy)), a, b)[0] for a, b in pairwise(ends))
    check(driven.time, time, rel=1e-9, unit="s", of="time of a lap", source="SciPy's quad of 1/V",
          kind=LIBRARY, area="lap")  # fmt: skip
    assert driven.time == pytest.approx(sum(section.time for section in driven.sections), rel=1e-9)
    assert driven.time == pytest.approx(driven.elapsed[-1] + driven.steps[-1], rel=1e-12)


def test_tires_push_what_the_path_takes(driven, check):
    """In the middle of a turn, where nothing changes, four tires and the air carry the mass around."""
    record, i = driven.packed.record, stations(driven, CAP, 3)[1]
    line = driven.line
    mass = sum(float(np.sum(record[name])) for name in
               ("front_mass", "rear_mass", "fuel_mass", "axle_mass", "unsprung_mass"))  # fmt: skip
    push = float(driven.corners["force_y"][i].sum())
    slip = float(driven.states[i][1])
    push -= 0.5 * density(DAY) * driven.speed[i] ** 2 * float(record["side_area"]) * slip
    bend, lean = line.curvature[i] * np.cos(line.bank[i]), g * np.sin(line.bank[i])
    expected = driven.speed[i] ** 2 * bend - lean
    check(driven.lateral[i], expected, rel=1e-9, unit="m/s^2", of="lateral acceleration in a banked turn",
          source="V^2 cos b / R - g sin b: a point on a banked curve, OpenStax College Physics ch. 6",
          kind=DERIVED, area="lap")  # fmt: skip
    check(push / mass, expected, rel=0.01, unit="m/s^2", of="what the tires push sideways, over the mass",
          source="V^2 cos b / R - g sin b: a point on a banked curve, OpenStax College Physics ch. 6",
          kind=DERIVED, area="lap")  # fmt: skip


def test_speeds_are_where_the_engine_and_brakes_hold_them(driven, car):
    """What is shown has all of the tires' grip, which scrubs a little less than the driver's share of it."""
    modes = driven.kept.mode
    assert np.allclose(driven.throttle[modes == POWER], 1.0, atol=2.5e-2)
    assert driven.throttle.max() < 1.0 + 3e-3
    assert np.abs(driven.engine_speed[modes == REVS] / driven.engine.rev_limit - 1.0).max() < 2e-3
    assert driven.engine_speed.max() <= driven.engine.rev_limit * (1.0 + 1e-9)
    assert driven.demand.min() >= -brake_force(car)
    caps = driven.kept.caps[:, -1]
    assert (driven.speed <= caps * (1.0 + 1e-9))[caps > 0.0].all()


def test_weak_brakes_hold_what_they_hold(car, line, driven, check):
    weak = lap(car, line, DAY, bite=0.3)
    ruled = weak.kept.mode == BRAKES
    assert ruled.sum() > 5 and "brakes" in weak.rules and weak.time > driven.time
    felt = [place_of(weak, i).trim(float(weak.along[i])) for i in np.flatnonzero(ruled)]
    brakes = assemble(DEMO / "setup_conventional.toml").car.brakes
    front, rear = 2.0 * brakes.front_torque.si, 2.0 * brakes.rear_torque.si
    share = float(car.record["brake_front"])
    most = 0.3 * min(front / share, rear / (1.0 - share)) / car.record["tire"]["free_radius"][3]
    check([u[DEMAND] for u in felt], -most, rel=1e-6, unit="N", of="demand where brakes rule",
          source="torque of the end that gives out first over its share and the axle's radius", kind=DERIVED,
          area="lap")  # fmt: skip


@pytest.mark.parametrize(("share", "steps"), [
    ("use", (0.8, 0.88, 0.95, 0.99)),
    ("brake", (0.3, 0.6, 0.85, 1.0)),
    ("throttle", (0.3, 0.6, 0.9, 1.0)),
    ("grip", (0.8, 0.9, 1.0, 1.1)),
])  # fmt: skip
def test_more_of_the_car_is_quicker(car, line, share, steps):
    times = [lap(car, line, DAY, Driver(**{share: step})).time for step in steps]
    assert all(less > more for less, more in pairwise(times)), times


# ---------------- a car made into a point mass

FRICTION = 1.2
HELD = 0.995


class Point(NamedTuple):
    """A car on tires that neither load nor camber change, low down; its mass [kg], its push per mass [m/s^2]
    at a speed, and the speed of its rev limit [m/s]."""

    car: object
    mass: float
    push: object
    top: float


@pytest.fixture(scope="module")
def point(car, line) -> Point:
    """Stiff tires peak at little slip angle; the rear tires' radii fit the turn, so that a locked axle does
    not scrub; pads bite all they are asked."""
    record, state = car.record.copy(), car.settled.copy()
    tire = record["tire"]
    for name in ("side_grip_load", "side_grip_camber", "camber_thrust", "rolling_resistance",
                 "drive_grip_load", "side_bend_load", "drive_bend_load", "drive_stiffness_load",
                 "radius_share"):  # fmt: skip
        tire[name] = 0.0
    tire["side_grip"] = tire["drive_grip"] = FRICTION
    tire["grip"], tire["free_radius"] = 1.0, 0.35
    tire["stiffness_factor"] *= 2.0
    tire["drive_stiffness"] *= 2.0
    wider = 0.5 * 65.0 * 0.0254 * line.curvature.max()
    tire["free_radius"][2:] *= 1.0 - wider, 1.0 + wider
    for name in ("front_cg", "rear_cg", "fuel_cg"):
        record[name][2] = 0.1
    record["front_inertia"] = record["rear_inertia"] = 1.0
    record["spin_inertia"], record["driveline_inertia"], record["engine_drag"] = 1e-3, 0.0, 0.0
    record["down_area"], record["side_area"] = 0.0, 0.0
    assert settle(record, standing(), state, np.zeros((40, SIZE)))[0] == CONVERGED
    names = ("front_mass", "rear_mass", "fuel_mass", "axle_mass", "unsprung_mass")
    mass = sum(float(np.sum(record[name])) for name in names)
    packed = replace(car, record=record, settled=state)
    engine = lap(packed, line, DAY).engine

    def push(speed):
        axle = engine.gear * engine.efficiency
        return np.interp(speed / 0.35 * engine.gear, engine.speeds, engine.torques) * axle / 0.35 / mass

    return Point(packed, mass, push, engine.rev_limit / engine.gear * 0.35)


def test_turn_of_a_car_that_is_a_point_mass(point, line, check):
    """What is left: the front tires' slip drags, and scrub of the axle; below half a percent of speed."""
    driven = lap(point.car, line, DAY, Driver(use=HELD, brake=1.0, throttle=1.0), bite=5.0)
    i = int(np.argmax(line.curvature))
    area = float(point.car.record["drag_area"])
    curvature, bank = line.curvature[i + 8], line.bank[i + 8]
    c, s, drag = np.cos(bank), np.sin(bank), 0.5 * density(DAY) * area / point.mass
    mu = FRICTION * HELD
    a = (c * curvature) ** 2 + drag**2 - (mu * s * curvature) ** 2
    b = -2.0 * g * s * c * curvature * (1.0 + mu**2)
    held = np.sqrt((-b + np.sqrt(b * b - 4.0 * a * g * g * (s * s - mu * mu * c * c))) / (2.0 * a))
    check(
        driven.speed[i + 8], held, rel=0.005, unit="m/s",
        of="speed in a banked turn of a car whose tires load and camber do not change",
        source="friction circle on a banked circle held against drag, in closed form",
        kind=DERIVED, area="lap",
    )  # fmt: skip


def test_lap_of_a_car_that_is_a_point_mass(point, line, check):
    """What is left, of either sign: tires that brake and turn at once keep more than a circle says, drive has
    to slip, and the axle scrubs down the straights on radii that fit the turns."""
    driven = lap(point.car, line, DAY, Driver(use=HELD, brake=1.0, throttle=1.0), bite=5.0)
    mu, rear = FRICTION * HELD, float(driven.corners["load"][0, 2:].sum() / driven.corners["load"][0].sum())
    mass = point_mass(mass=point.mass, friction=mu, power=1e6, top=point.top, air=density(DAY),
                      drag_area=float(point.car.record["drag_area"]))  # fmt: skip
    mass = dataclasses.replace(mass, push=point.push, drive=limit_of(friction=mu * rear))
    check(
        driven.time, sweep.lap(mass, line).time, rel=0.01, unit="s",
        of="lap of a car whose tires load and camber do not change",
        source="a point mass on a friction circle, driven by its rear half, swept by other code",
        kind=DERIVED, area="lap",
    )  # fmt: skip
