"""The quickest way round an oval or half of one by direct collocation: equations and solver apart from ours.

Car on a ruled road in the manner of Perantoni & Limebeer, J. Dyn. Sys. Meas. Control 137 (2015) (from
memory): states n (offset), xi (heading against the road's lines) and V by distance along the spine, pushes
of the tires as controls, three Radau points an interval (Kelly, SIAM Review 59 (2017) 849, from memory), mesh
cut where the road begins to change, CasADi and IPOPT.
"""

from __future__ import annotations

from typing import NamedTuple

import casadi as ca
import numpy as np
from scipy.constants import g

DEGREE = 3


class Found(NamedTuple):
    """Time [s]; distances [m], offsets [m] and speeds [m/s] at the points of what was driven."""

    time: float
    spine: np.ndarray
    offset: np.ndarray
    speed: np.ndarray


def road_of(oval):
    """Spans (length, place -> curvature and bank with two derivatives of each) of half a lap."""
    flat, steep, full = np.radians(oval.flat), np.radians(oval.steep), 1.0 / oval.radius
    ease = np.polynomial.Polynomial([0, 0, 0, 10, -15, 6])

    def level(bend, bank):
        return lambda s: (bend, 0.0, bank, 0.0, 0.0)

    def easing(out):
        def at(s):
            u = s / oval.clothoid
            u, sign = (1.0 - u, -1.0) if out else (u, 1.0)
            rise = steep - flat
            return (
                full * u,
                sign * full / oval.clothoid,
                flat + rise * ease(u),
                sign * rise * ease.deriv()(u) / oval.clothoid,
                rise * ease.deriv(2)(u) / oval.clothoid**2,
            )

        return at

    arc = np.pi * oval.radius - oval.clothoid
    half = oval.straight / 2.0
    spans = [(half, level(0.0, flat)), (oval.clothoid, easing(False)), (arc, level(full, steep))]
    return [*spans, (oval.clothoid, easing(True)), (half, level(0.0, flat))]


def demanded(place, n, xi, v, side):
    """Rates of n and xi and of V without push, and load per mass, by time; pace of s by time comes first."""
    bend, bend1, bank, bank1, bank2 = place
    cb, sb, c, q = np.cos(bank), np.sin(bank), ca.cos(xi), ca.sin(xi)
    a, b = 1.0 - n * bend * cb, n * bank1
    h = ca.sqrt(a * a + b * b)
    a1 = -n * (bend1 * cb - bend * bank1 * sb)
    pace = v * c / h
    swing = pace * (bend * cb * a - n * bank1**2) / h
    turn = (side + g * (c * sb - q * b * cb / h)) / v - swing
    slope = g * (b * cb * c / h + q * sb)
    bow = c * c * ((a1 + b * bend * sb) * b + (a * bend * sb - n * bank2) * a) / h**3
    warp = 2.0 * c * q * (-bend * cb * b - bank1 * a) / h**2
    return pace, v * q, turn, slope, g * a * cb / h + v * v * (bow + warp)


def free_half_lap(oval, limits, *, intervals, width=None):
    """The quickest half lap, repeated; its time is that of the whole lap. `limits` as in `free_lap`."""
    half = 0.5 * (width or oval.width)
    found = free_lap(road_of(oval), limits, intervals=intervals, edges=(-half, half))
    return found._replace(time=2.0 * found.time)


def free_lap(spans, limits, *, intervals, edges):
    """The quickest closed lap of spans (length, place -> curvature, its slope, bank, its slope, its bend).

    `limits(V, G, drive, brake, left, right)` gives what may not exceed 0 and the loss by drag; pushes are per
    mass, each of one sign. `edges`: least and greatest offset [m].
    """
    low, high = edges
    tau = np.array([0.0, *ca.collocation_points(DEGREE, "radau")])
    basis = [np.polynomial.Polynomial.fromroots(np.delete(tau, j)) for j in range(DEGREE + 1)]
    basis = [p / p(tau[j]) for j, p in enumerate(basis)]
    slopes = np.array([[p.deriv()(t) for t in tau[1:]] for p in basis])
    weights = [p.integ()(1.0) for p in _through(tau[1:])]
    problem = ca.Opti()
    scale = np.array([1.0, 0.1, 30.0])

    def fresh():
        state = problem.variable(3)
        problem.set_initial(state, [0.0, 0.0, 0.6])
        problem.subject_to(problem.bounded(low, state[0], high))
        problem.subject_to(problem.bounded(-8.0, state[1], 8.0))
        problem.subject_to(state[2] >= 0.1)
        return state

    first = start = fresh()
    total = sum(length for length, _ in spans)
    time, gone, spine, kept = 0.0, 0.0, [], []
    for length, place_at in spans:
        count = max(2, round(intervals * length / total))
        h = length / count
        for k in range(count):
            states = [start] + [fresh() for _ in range(DEGREE)]
            for i in range(1, DEGREE + 1):
                at = (k + tau[i]) * h
                n, xi, v = (states[i][j] * scale[j] for j in range(3))
                push = problem.variable(4)
                problem.set_initial(push, 0.1)
                problem.subject_to(push >= 0.0)
                drive, brake, left, right = (10.0 * push[j] for j in range(4))
                pace, drift, turn, slope, load = demanded(place_at(at), n, xi, v, left - right)
                over, loss = limits(v, load, drive, brake, left, right)
                problem.subject_to(ca.vertcat(*over) <= 0.0)
                rates = [drift, turn, drive - brake - loss + slope]
                for j, rate in enumerate(rates):
                    moved = sum(slopes[m, i - 1] * states[m][j] for m in range(DEGREE + 1))
                    problem.subject_to(moved * scale[j] == h * rate / pace)
                time += weights[i - 1] * h / pace
                spine.append(gone + at)
                kept.append(states[i])
            start = states[-1]
        gone += length
    problem.subject_to(start == first)
    problem.minimize(time)
    problem.solver(
        "ipopt", {"expand": True, "print_time": False}, {"print_level": 0, "sb": "yes", "tol": 1e-8}
    )
    found = problem.solve()
    values = np.array([found.value(state) for state in kept]) * scale
    return Found(float(found.value(time)), np.array(spine), values[:, 0], values[:, 2])


def _through(points):
    """Lagrange's polynomials of points."""
    for j, point in enumerate(points):
        p = np.polynomial.Polynomial.fromroots(np.delete(points, j))
        yield p / p(point)


def circle_limits(*, mass, friction, power, drag_area, air=1.2):
    """A friction circle, a constant power and drag."""

    def limits(v, load, drive, brake, left, right):
        push = (drive - brake) ** 2 + (left - right) ** 2
        over = [push / (friction * load) ** 2 - 1.0, (drive - brake) * v * mass / power - 1.0]
        return over, 0.5 * air * drag_area * v * v / mass

    return limits
