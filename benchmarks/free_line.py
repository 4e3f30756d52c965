"""How fast the free line is found, and that it is as quick as what peers find.

`python benchmarks/free_line.py` finds the free line of a point mass on three ovals with ours and with direct
collocation by CasADi and IPOPT, which is spared half of each oval by its symmetry; and on the shortest one
with a plain peer: SciPy's `minimize` (L-BFGS-B with differences on the knots of a periodic spline of the
offset, each lap timed by the same sweep). Then the demo car on every demo track, on a gear that suits the
track: how long it takes to ask the car for its envelope and in all, and what the free line is worth. Takes
two to three minutes, most of them the plain peer's.
"""

from __future__ import annotations

import contextlib
import dataclasses
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
from collocation import circle_limits, free_half_lap
from ovals import OVALS, Oval, ribbon_of
from ways import CARS, car

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import Packed, build, rebuilt_as_bolted, with_fuel
from ovalwright.pack.track import ribbon_of as ribbon_of_track
from ovalwright.road import Line, Ribbon
from ovalwright.solve.envelope import Envelope
from ovalwright.solve.line import free_line
from ovalwright.solve.sweep import lap
from ovalwright.study.adjustments import put
from ovalwright.study.envelope import sampled
from ovalwright.study.free import FREE, free_lap
from ovalwright.study.lap import DRIVER, NoLap
from ovalwright.study.lap import lap as car_lap

T = TypeVar("T")
KNOTS = 24
ROUNDS = 25
REPEATS = 5
INTERVALS = 80
SHORTEST = "C"
ALIKE = 1e-3
"""Share of a lap by which ours, swept between its nodes, may be slower than a peer's plan at its own."""

DEMO = Path(__file__).resolve().parent.parent / "src" / "ovalwright" / "demo"
TRACKS = ("flat_quarter", "three_eighths", "steep_half", "bent_five_eighths")
MPH = 0.44704
TALLER = 0.97
"""Each gear that is tried turns the engine at this share of the revs of the one before."""
GEARS = 18


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


def timed(find: Callable[[], T]) -> tuple[T, float]:
    """What is found, and the seconds that takes."""
    start = time.perf_counter()
    found = find()
    return found, time.perf_counter() - start


def geared_for(packed: Packed, line: Line) -> Packed:
    """The car on the gear of the quickest lap of a line, of a ladder that begins with its own."""
    fitted = packed.assembly.setup.final_drive
    laps = []
    for step in range(GEARS):
        ratio = dataclasses.replace(fitted, si=fitted.si * TALLER**step)
        car = rebuilt_as_bolted(packed, put(packed.assembly, {"final_drive": ratio}))
        with contextlib.suppress(NoLap):
            laps.append(car_lap(car, line, Conditions()))
    return min(laps, key=lambda one: one.time).packed


def on_demo_track(packed: Packed, name: str) -> bool:
    """The demo car's rows for one track; False if no free line is quicker than its grooves."""
    track, day = load_track(DEMO / f"track_{name}.toml"), Conditions()
    ribbon = ribbon_of_track(track)
    car = geared_for(packed, ribbon.line(0.0))
    ours = free_lap(car, track, day)
    middle = ours.grooves["middle"]
    speeds = float(middle.speed.min()), float(middle.speed.max())
    asking = np.median([timed(lambda: sampled(car, ribbon, day, DRIVER, speeds))[1] for _ in range(REPEATS)])
    spent = np.median([timed(lambda: free_lap(car, track, day))[1] for _ in range(REPEATS)])
    fit, laps = ours.sampled.fit, {**ours.grooves, ours.name: ours.lap}
    print(f"demo car on {name}, {ribbon.length:.0f} m, final drive {car.assembly.setup.final_drive.si:.2f}")
    for groove, one in laps.items():
        print(f"  {groove}: {one.time:.3f} s, {one.speed.min() / MPH:.1f} to {one.speed.max() / MPH:.1f} mph")
    print(f"  worth {ours.worth:.2f} s or {ours.worth / middle.time:.1%} against the middle groove")
    print(
        f"  planned {ours.plan.planned:.3f} s; driven {ours.share:.0%} of the way from the quickest groove, "
        f"eased over {ours.ease:.0f} m; there the car is {ours.envelope_miss:+.2%} off its envelope"
    )
    print(
        f"  {len(ours.sampled.answers)} answers, which the envelope misses by {fit.rms:.1%} "
        f"(worst {fit.worst:.1%}), asked in {asking:.2f} s; all {spent:.2f} s"
    )
    return ours.name == FREE


def main() -> int:
    """Print a row for each comparison; 1 if ours did not converge, or a peer or a groove is quicker."""
    packed = with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=0.8)
    good = min([on_demo_track(packed, name) for name in TRACKS])
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
