"""How fast distinct setups settle and trim, and that every answer is right.

`python benchmarks/pairs.py [count]` draws distinct setups of the demo car (springs, seats, panhard and link
holes, bar, pressures), each with its own speed, radius and bank, low speed on steep banking among them.
Each is settled and trimmed from the same deterministic start; nothing is precomputed per car. Every
solution is checked again by a plain residual. What does not solve must have a true reason: a limit speed
below the one asked for. The peer, in the same run, is SciPy's `root` on the same compiled residual and
Jacobian from the same starting point.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import root

import ovalwright
from ovalwright.documents import assemble
from ovalwright.pack import build
from ovalwright.solve.batch import settle_and_trim
from ovalwright.solve.limit import FOUND, MAX_POINTS, fastest_guess, follow
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import standing
from ovalwright.solve.trim import start_turn
from ovalwright.vehicle.law import residual, residual_and_jacobian
from ovalwright.vehicle.record import MOTION, SIZE

DEMO = Path(ovalwright.__file__).parent / "demo"
INCH = 0.0254
COUNT = 100_000
PEER = 400
SEED = 20261125


def draw_cars(count: int, rng: np.random.Generator) -> np.ndarray[Any, Any]:
    """Distinct setups of the demo car: no two share springs, seats, links, bar or pressures."""
    base = build(assemble(DEMO / "setup_conventional.toml")).record
    cars = np.empty(count, base.dtype)
    cars[:] = base
    squeeze = base["coil_free"] - strut_lengths(base)
    factor = rng.uniform(0.6, 1.6, (count, 4))
    cars["coil_rate"] *= factor
    cars["coil_free"] = strut_lengths(base) + squeeze / factor + rng.uniform(-0.5, 0.5, (count, 4)) * INCH
    cars["bar_rate"] *= rng.uniform(0.3, 2.5, count)
    cars["link_frame"][:, :, 2] += rng.uniform(-1.5, 1.5, (count, 4)) * INCH
    cars["link_axle"][:, :, 2] += rng.uniform(-1.0, 1.0, (count, 4)) * INCH
    ends = cars["axle_origin"][:, None, :] + cars["link_axle"] - cars["link_frame"]
    cars["link_length"] = np.linalg.norm(ends, axis=2)
    cars["axle_start"] = 0.0
    cars["tire"]["rate"] *= rng.uniform(0.85, 1.15, (count, 4))
    return cars


def strut_lengths(car: Any) -> np.ndarray[Any, Any]:
    """Lengths of the four coils as drawn [m]."""
    low = car["coil_low"].copy()
    low[2:] += car["axle_origin"]
    return np.linalg.norm(low - car["coil_top"], axis=1)


def draw_turns(count: int, rng: np.random.Generator) -> np.ndarray[Any, Any]:
    """Turns of every short oval: radius 30 to 120 m, bank 0 to 35 degrees, from a crawl to 82 % of a point
    mass's limit."""
    turns = np.zeros(count, MOTION)
    turns["gravity"], turns["grip"], turns["air_density"] = 9.80665, 1.0, 1.2
    turns["curvature"] = 1.0 / rng.uniform(30.0, 120.0, count)
    turns["bank"] = np.radians(rng.uniform(0.0, 35.0, count))
    grip, t = 1.15, np.tan(turns["bank"])
    fastest = np.sqrt(9.80665 * (t + grip) / (turns["curvature"] * np.maximum(1.0 - grip * t, 0.35)))
    turns["speed"] = np.minimum(rng.uniform(0.1, 0.82, count) * fastest, 55.0)
    return turns


def worst_residual(cars: Any, turns: Any, pairs: Any) -> float:
    """Largest residual of all solved pairs, scales and turn, as a share of the car's weight, computed
    afresh."""
    scales, r, out, m = standing(), np.zeros(SIZE), np.zeros(8), np.zeros((4, 8))
    worst = 0.0
    for i in np.flatnonzero(pairs.status == CONVERGED):
        residual(pairs.trimmed[i], cars[i], turns[i], r, out, m)
        worst = max(worst, float(np.abs(r).max() / cars[i]["weight"]))
        residual(pairs.settled[i], cars[i], scales, r, out, m)
        worst = max(worst, float(np.abs(r[3:11]).max() / cars[i]["weight"]))
    return worst


def beyond_limit(car: Any, turn: Any, settled: Any) -> bool:
    """Whether the trims of this car end below the speed asked for: then there was nothing to find."""
    path, asked = np.zeros((MAX_POINTS, SIZE + 1)), float(turn["speed"])
    status, points = follow(settled, car, turn, fastest_guess(car, turn), path, np.zeros((40, SIZE)))
    return status == FOUND and path[points - 1, SIZE] < asked


def peer_rate(cars: Any, turns: Any) -> tuple[float, float]:
    """Pairs per second and share solved of SciPy's root on the same residual, Jacobian and starting point,
    one core."""
    r, j, out, m = np.zeros(SIZE), np.zeros((SIZE, SIZE)), np.zeros(8), np.zeros((4, 8))
    scales = standing()
    solved = 0

    def solve(u: Any, cut: slice, car: Any, motion: Any) -> Any:
        def equations(x: Any) -> tuple[Any, Any]:
            u[cut] = x
            residual_and_jacobian(u, car, motion, r, j, out, m)
            return r[cut] / car["weight"], j[cut, cut] / car["weight"]

        answer = root(equations, u[cut].copy(), jac=True, method="hybr", tol=1e-12)
        u[cut] = answer.x
        equations(answer.x)
        return float(np.linalg.norm(r[cut]) / car["weight"])

    begin = time.perf_counter()
    for car, turn in zip(cars, turns, strict=True):
        u = np.zeros(SIZE)
        if solve(u, slice(3, 11), car, scales) < 1e-9:
            start_turn(u, car, turn)
            solved += solve(u, slice(0, SIZE), car, turn) < 1e-9
    return len(cars) / (time.perf_counter() - begin), solved / len(cars)


def main() -> None:
    """Run the benchmark and print its table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    rng = np.random.default_rng(SEED)
    cars, turns = draw_cars(count, rng), draw_turns(count, rng)
    settle_and_trim(cars[:2], turns[:2])
    begin = time.perf_counter()
    pairs = settle_and_trim(cars, turns.copy())
    rate = count / (time.perf_counter() - begin)
    peer, peer_solved = peer_rate(cars[:PEER], turns[:PEER])
    failed = np.flatnonzero(pairs.status != CONVERGED)
    true_reason = sum(
        beyond_limit(cars[i], turns[i : i + 1][0].copy(), pairs.settled[i]) for i in failed[:400]
    )
    slow_steep = (turns["speed"] < 10.0) & (turns["bank"] > np.radians(24.0))
    jacobians, residuals = pairs.cost[pairs.status == CONVERGED].mean(axis=0)
    print(f"distinct setups                     {count}")
    print(f"pairs a second (all cores)          {rate:,.0f}")
    print(f"peer: SciPy root, pairs a second    {peer:,.0f}   solved {peer_solved:.2%}")
    print(f"ratio                               {rate / peer:,.1f}")
    print(f"Jacobians and residuals a pair      {jacobians:.2f} and {residuals:.2f}")
    print(f"solved                              {1 - len(failed) / count:.3%}")
    steep = np.mean(pairs.status[slow_steep] == CONVERGED)
    print(f"solved, under 10 m/s over 24 deg    {steep:.3%} of {slow_steep.sum()}")
    print(f"unsolved with a true reason         {true_reason} of {min(len(failed), 400)}")
    print(f"worst residual, share of weight     {worst_residual(cars, turns, pairs):.1e}")


if __name__ == "__main__":
    main()
