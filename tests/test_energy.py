"""No linkage makes energy: work of the virtual-work maps around closed paths, and along open ones.

The car hangs in the air, so that only gravity, coils, gas, stops, bar and frame act: all of them store what
they take. Work is integrated from the residual; energy comes from positions, lengths and the scalar laws.
"""

import numpy as np
import pytest
from cars import INCH, LF, RF, RR, at, big_bar, boxed, changed, hang, late_model, stops, wedge
from evidence import DERIVED

from ovalwright.mechanics.contact import coil_force, ramp, slack_angle, stop_force, touch_band
from ovalwright.solve.settle import standing
from ovalwright.vehicle.answer import bar_angle, read_corners
from ovalwright.vehicle.law import (
    ARM_L,
    ARM_R,
    AXLE_HEAVE,
    AXLE_ROLL,
    HEAVE,
    PITCH,
    ROLL,
    STEER,
    TWIST,
    TWISTING,
    WORK_A,
    WORK_H,
    WORK_L,
    WORK_R,
    residual,
)
from ovalwright.vehicle.record import CORNER, SIZE

SOURCE = "conservation of energy: springs and gravity around a closed path"
NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
MOTION = standing()
FRONT = {ARM_L: WORK_L, ARM_R: WORK_R, TWIST: TWISTING}
REAR = {AXLE_HEAVE: WORK_H, AXLE_ROLL: WORK_A}
PHASES = (0.3, 1.1, 2.0)


def hung(car):
    """The car with its axle's center of gravity midway between the wheels."""
    car["axle_cg"] = car["axle_wheel"].mean(axis=0)
    return car


CARS = {
    "coils, bar and frame": lambda: hung(late_model()),
    "stops, big slack bar, box": lambda: hung(
        stops(boxed(big_bar(late_model())), {LF: 0.2, RF: 0.3, RR: 0.2})
    ),
    "RR coil off its seat": lambda: hung(hang(wedge(late_model()), RR, 0.3 * INCH)),
    "panhard moved, soft frame": lambda: hung(
        changed(late_model(panhard_axle=3.0, panhard_frame=-2.0, axle_yaw=0.01), twist_rate=4e4)
    ),
    "steep links": lambda: hung(steep(late_model())),
}


def steep(car):
    """Trailing arms and top link at angles no one would bolt in, the lengths as drawn."""
    car["link_frame"][:3] = [at(-82, 18, 15.0), at(-79, -24, 6.0), at(-88, 4, 24.0)]
    car["link_length"] = np.linalg.norm(car["axle_origin"] + car["link_axle"] - car["link_frame"], axis=1)
    return car


def start():
    """In the air, leaning, nose down, a little steer."""
    u = np.zeros(SIZE)
    u[HEAVE], u[ROLL], u[PITCH], u[STEER] = 1.0, 0.04, 0.03, 0.02
    return u


def pieces(car, path, count=600):
    """Generalized force and way at the Gauss points of a path u(t), 0 <= t <= 1, with their weights."""
    r, out, m = np.zeros(SIZE), np.zeros(8), np.zeros((4, 8))
    for k in range(count):
        for node, weight in zip(NODES, WEIGHTS, strict=True):
            t = (k + 0.5 * (node + 1.0)) / count
            u, way = path(t)
            residual(u, car, MOTION, r, out, m)
            yield 0.5 * weight / count, r, way


def work(car, path, pairs):
    """Work of everything that acts, along a path."""
    return sum(w * sum(r[pairs[i]] * way[i] for i in pairs) for w, r, way in pieces(car, path))


def loop(pairs, sizes):
    """A closed path: each coordinate swings once or twice around at its own phase."""

    def path(t):
        u, way = start(), np.zeros(SIZE)
        for n, (i, size, phase) in enumerate(zip(pairs, sizes, PHASES, strict=False)):
            turns = 2.0 * np.pi * (1 + n % 2)
            u[i] += size * np.sin(turns * t + phase)
            way[i] = size * turns * np.cos(turns * t + phase)
        return u, way

    return path


def line(ends, steer):
    """A straight path between two sets of coordinates, at a steer."""

    def path(t):
        u, way = start(), np.zeros(SIZE)
        u[STEER] = steer
        for i, (a, b) in ends.items():
            u[i] += a + (b - a) * t
            way[i] = b - a
        return u, way

    return path


def stored(force, end):
    """Integral of a push from nothing to a squeeze, in many small Gauss pieces."""
    edges = np.linspace(0.0, end, 401)
    middles, halves = 0.5 * (edges[1:] + edges[:-1]), 0.5 * np.diff(edges)
    return sum(
        h * w * force(x + h * n)
        for x, h in zip(middles, halves, strict=True)
        for n, w in zip(NODES, WEIGHTS, strict=True)
    )


def energy(car, u):
    """Energy of springs, frame and height [J], from lengths and positions."""
    corners = np.zeros(4, CORNER)
    read_corners(u, car, MOTION, corners)
    total = 0.0
    for i in range(4):
        coil = tuple(float(car[name][i]) for name in ("coil_rate", "coil_bind", "bind_rate"))
        total += stored(lambda x, c=coil: coil_force(x, *c), car["coil_free"][i] - corners["coil_length"][i])
        names = ("stop_rate", "stop_solid", "stop_exponent", "stop_bound_rate")
        stop = tuple(float(car[name][i]) for name in names)
        total += stored(
            lambda x, c=stop: stop_force(x, *c), car["stop_length"][i] - corners["shock_length"][i]
        )
        rate = float(car["droop_rate"][i])
        stretch = corners["shock_length"][i] - car["droop_length"][i]
        total += stored(lambda x, k=rate: k * ramp(x, touch_band(k)), stretch)
        total -= car["gas_force"][i] * corners["shock_length"][i]
    angle = bar_angle(u, car, MOTION) + car["bar_preload"]
    total += stored(lambda x: car["bar_rate"] * slack_angle(x, float(car["bar_slack"])), angle)
    total += 0.5 * car["twist_rate"] * (u[TWIST] - car["twist_built_in"]) ** 2
    weights = (*car["unsprung_mass"], 0.5 * car["axle_mass"], 0.5 * car["axle_mass"])
    total += MOTION["gravity"] * np.dot(weights, corners["hub_z"])
    return total + MOTION["gravity"] * car["front_mass"] * front_height(car, u)


def front_height(car, u):
    """Height of the front half's center of gravity [m]: twisted, rolled, pitched, lifted."""
    axis_y, axis_z = car["twist_axis"]
    x, y, z = car["front_cg"]
    c, s = np.cos(u[TWIST]), np.sin(u[TWIST])
    y, z = axis_y + c * (y - axis_y) - s * (z - axis_z), axis_z + s * (y - axis_y) + c * (z - axis_z)
    y, z = np.cos(u[ROLL]) * y - np.sin(u[ROLL]) * z, np.sin(u[ROLL]) * y + np.cos(u[ROLL]) * z
    return u[HEAVE] - np.sin(u[PITCH]) * x + np.cos(u[PITCH]) * z


@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize(
    ("part", "pairs", "sizes"),
    [
        ("front: both arms and frame twist", FRONT, (0.12, 0.10, 0.01)),
        ("axle: heave and roll", REAR, (0.06, 0.06)),
    ],
)
def test_closed_path(check, name, part, pairs, sizes):
    car = CARS[name]()
    path = loop(pairs, sizes)
    around = [energy(car, path(t)[0]) for t in np.linspace(0.0, 1.0, 13)]
    swing = max(around) - min(around)
    assert swing > 20.0
    check(
        work(car, path, pairs) / swing,
        0.0,
        abs=1e-6,
        of=f"net work around a closed path, of the energy stored on it: {part}; {name}",
        source=SOURCE,
        kind=DERIVED,
        area="linkage",
    )


@pytest.mark.parametrize("name", CARS)
@pytest.mark.parametrize(
    ("part", "pairs", "ends"),
    [
        ("front", FRONT, {ARM_L: (-0.08, 0.12), ARM_R: (0.10, -0.05), TWIST: (-0.01, 0.012)}),
        ("axle", REAR, {AXLE_HEAVE: (-0.05, 0.05), AXLE_ROLL: (0.06, -0.05)}),
    ],
)
def test_open_path(check, name, part, pairs, ends):
    car = CARS[name]()
    works, energies = [], []
    for steer in (-0.03, 0.0, 0.04) if part == "front" else (0.02,):
        path = line(ends, steer)
        works.append(work(car, path, pairs))
        energies.append(energy(car, path(0.0)[0]) - energy(car, path(1.0)[0]))
    check(
        works,
        energies,
        rel=1e-6,
        unit="J",
        of=f"work along a path against energy from lengths, at {len(works)} steer: {part}; {name}",
        source=SOURCE,
        kind=DERIVED,
        area="linkage",
    )


def test_a_wrong_map_is_seen():
    """A roll motion one part in 1,000 too large makes energy around a closed path."""
    car = CARS["steep links"]()
    path = loop(REAR, (0.06, 0.06))
    extra = sum(w * 1e-3 * r[WORK_A] * way[AXLE_ROLL] for w, r, way in pieces(car, path))
    around = [energy(car, path(t)[0]) for t in np.linspace(0.0, 1.0, 13)]
    assert abs(work(car, path, REAR) + extra) / (max(around) - min(around)) > 1e-6
