"""How fast the free line is found, and that it is as quick as what peers find.

`python benchmarks/free_line.py` finds the free line of a point mass on three ovals with ours and with direct
collocation by CasADi and IPOPT, which is spared half of each oval by its symmetry; and on the shortest one
with a plain peer: SciPy's `minimize` (L-BFGS-B with differences on the knots of a periodic spline of the
offset, each lap timed by the same sweep). Takes two minutes, nearly all of them the plain peer's.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from collocation import circle_limits, free_half_lap
from ovals import OVALS, Oval, ribbon_of
from ways import CARS, car

from ovalwright.road import Ribbon
from ovalwright.solve.envelope import Envelope
from ovalwright.solve.line import free_line
from ovalwright.solve.sweep import lap

KNOTS = 24
ROUNDS = 25
REPEATS = 5
INTERVALS = 80
SHORTEST = "C"
ALIKE = 1e-3
"""Share of a lap by which ours, swept between its nodes, may be slower than a peer's plan at its own."""


def by_splines(envelope: Envelope, ribbon: Ribbon) -> float:
    """Lap time [s] of the best spline that L-BFGS-B finds from a line low on the road."""
    edge = float(min(ribbon.left(0.0), ribbon.right(0.0)))
    places = np.linspace(0.0, ribbon.length, KNOTS + 1)
    stations = np.linspace(0.0, ribbon.length, round(ribbon.length / 2.0), endpoint=False)

    def time_of(knots: np.ndarray) -> float:
        spline = CubicSpline(places, np.append(knots, knots[0]), bc_type="periodic")
        offset = np.clip(spline(stations), -0.98 * edge, 0.98 * edge)
        return lap(envelope, ribbon.line(offset, spacing=2.0), grain=2.0).time

    found = minimize(
        time_of,
        np.full(KNOTS, 0.5 * edge),
        method="L-BFGS-B",
        bounds=[(-0.98 * edge, 0.98 * edge)] * KNOTS,
        options={"maxiter": ROUNDS, "eps": 1e-2},
    )
    return float(found.fun)


def timed(find: Callable[[], float]) -> tuple[float, float]:
    """What is found, and the seconds that takes."""
    start = time.perf_counter()
    found = find()
    return found, time.perf_counter() - start


def main() -> int:
    """Print a row for each comparison; 1 if ours did not converge or a peer is quicker round the lap."""
    good = True
    for name, oval in OVALS.items():
        envelope, ribbon = car(name), ribbon_of(oval, easement="quintic")
        spent = [timed(lambda e=envelope, r=ribbon: free_line(e, r).time)[1] for _ in range(REPEATS)]
        ours, mine = free_line(envelope, ribbon), float(np.median(spent))
        print(f"oval {name}, {ribbon.length:.0f} m")
        print(f"  ours: {ours.time:.4f} s (planned {ours.planned:.4f} s), {mine:.2f} s")
        peers = {"half a lap by IPOPT": lambda n=name, o=oval: by_collocation(n, o)}
        if name == SHORTEST:
            peers[f"splines of {KNOTS} knots"] = lambda e=envelope, r=ribbon: by_splines(e, r)
        for peer, find in peers.items():
            found, took = timed(find)
            print(f"  {peer}: {found:.4f} s, {took:.2f} s, {took / mine:.1f} times as long")
            good &= ours.time < found * (1.0 + ALIKE)
        good &= ours.converged
    return 0 if good else 1


def by_collocation(name: str, oval: Oval) -> float:
    """Lap time [s] of the same car by direct collocation."""
    return float(free_half_lap(oval, circle_limits(**CARS[name]), intervals=INTERVALS).time)


if __name__ == "__main__":
    sys.exit(main())
