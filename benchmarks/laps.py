"""How fast a lap of the full car is found, and a plain peer on the same model in the same run.

`python benchmarks/laps.py [count]` laps cars like the demo car on the demo three-eighths: cold, and from a
lap of the demo car, as a comparison of setups or a run of laps does. The peer finds what a lap needs at some
of its stations with SciPy's `root` on the same compiled residual and Jacobian: the edge at held speed and
under brakes by bisection between trims, the pull at full throttle by `brentq`; its time is scaled to the
stations of the lap. Times are processor times of one core.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import brentq, root

import ovalwright
from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Line
from ovalwright.solve.lap import BRAKE_EDGE, BRAKES, CAP, DRIVE_EDGE, POWER, REVS
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import settle, standing
from ovalwright.study.lap import Lap, lap
from ovalwright.vehicle.law import DEMAND, SPIN_A, residual_and_jacobian
from ovalwright.vehicle.record import SIZE

DEMO = Path(ovalwright.__file__).parent / "demo"
COUNT, EACH = 60, 3
FINE = 1e-4
"""How closely the peer brackets an edge [m/s or m/s^2]; ours is solved to rounding."""
SEED = 20261125


def another(packed: Packed, rng: np.random.Generator) -> Packed:
    """The car with springs and tire rates a few percent off."""
    record, state = packed.record.copy(), packed.settled.copy()
    record["coil_rate"] *= rng.uniform(0.97, 1.03, 4)
    record["tire"]["rate"] *= rng.uniform(0.97, 1.03, 4)
    assert settle(record, standing(), state, np.zeros((40, SIZE)))[0] == CONVERGED
    return replace(packed, record=record, settled=state)


def median_ms(task: Callable[[Any], object], on: Iterable[Any]) -> float:
    """Median processor time of a task on one thing after another [ms]."""
    times = []
    for one in on:
        begin = time.process_time()
        task(one)
        times.append(time.process_time() - begin)
    return 1e3 * float(np.median(times))


class Peer:
    """Trims of one station by SciPy, from the state that the lap has there."""

    def __init__(self, driven: Lap, i: int) -> None:
        self.car, self.start, self.engine = driven.packed.record.copy(), driven.states[i], driven.engine
        self.motion = driven.motions[i].copy()
        self.speed, self.along = float(driven.speed[i]), float(driven.along[i])
        self.motion["grip"] *= driven.driver.use
        self.scratch = np.zeros(SIZE), np.zeros((SIZE, SIZE)), np.zeros(8), np.zeros((4, 8))

    def trim(self, speed: float, along: float) -> Any:
        """The 14 unknowns, or None."""
        self.motion["speed"], self.motion["acceleration"] = speed, along
        weight = float(self.car["weight"])

        def equations(u: Any) -> tuple[Any, Any]:
            r, j, out, m = self.scratch
            residual_and_jacobian(u, self.car, self.motion, r, j, out, m)
            return r / weight, j / weight

        answer = root(equations, self.start, jac=True, method="hybr", tol=1e-11)
        return answer.x if np.abs(answer.fun).max() < 1e-8 else None

    def edge(self, has_trim: Callable[[float], bool], inside: float, outside: float) -> float:
        """Bisect to the last place with a trim."""
        while abs(outside - inside) > FINE:
            middle = 0.5 * (inside + outside)
            inside, outside = (middle, outside) if has_trim(middle) else (inside, middle)
        return inside

    def cap(self) -> float:
        """Most speed that is held [m/s]."""
        v = self.speed
        return self.edge(lambda speed: self.trim(speed, 0.0) is not None, 0.9 * v, 1.1 * v)

    def brakes(self) -> float:
        """Hardest braking [m/s^2]."""
        return self.edge(lambda a: self.trim(self.speed, a) is not None, 0.8 * self.along, 2.0 * self.along)

    def pull(self) -> float:
        """Acceleration at full throttle [m/s^2]."""

        def left(along: float) -> float:
            u, e = self.trim(self.speed, along), self.engine
            if u is None:
                return -1e4
            full = np.interp(u[SPIN_A] * e.gear, e.speeds, e.torques) * e.gear * e.efficiency
            return float(full / self.car["tire"]["free_radius"][3] - u[DEMAND])

        return float(brentq(left, self.along - 1.0, self.along + 0.5, xtol=FINE))


PEERS = {CAP: Peer.cap, BRAKE_EDGE: Peer.brakes, BRAKES: Peer.brakes,
         POWER: Peer.pull, REVS: Peer.pull, DRIVE_EDGE: Peer.pull}  # fmt: skip


def peer_ms(driven: Lap) -> float:
    """What the peer takes for a lap [ms], every kind of station timed on some of them."""
    total = 0.0
    for mode in (CAP, BRAKE_EDGE, POWER):
        alike = [kind for kind, solve in PEERS.items() if solve is PEERS[mode]]
        ruled = np.flatnonzero(np.isin(driven.kept.mode, alike))
        own = np.flatnonzero(driven.kept.mode == mode)
        some = own[np.linspace(0, len(own) - 1, EACH + 2).astype(int)[1:-1]]
        total += len(ruled) * median_ms(PEERS[mode], [Peer(driven, int(i)) for i in some])
    return total


def main() -> None:
    """Run the benchmark and print its table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    rng = np.random.default_rng(SEED)
    day = Conditions()
    car = with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=0.8)
    line: Line = ribbon_of(load_track(DEMO / "track_three_eighths.toml")).line(0.0)
    like = lap(car, line, day)
    cars = [another(car, rng) for _ in range(count)]
    cold = median_ms(lambda one: lap(one, line, day), cars)
    warm = median_ms(lambda one: lap(one, line, day, like=like), cars)
    again = median_ms(lambda one: lap(one, line, day, like=like), [car] * count)
    peer = peer_ms(like)
    print(f"stations of the lap                 {len(line.step)}")
    print(f"cold lap, median                    {cold:.1f} ms")
    print(f"warm lap of a car like it, median   {warm:.1f} ms")
    print(f"the same lap again, median          {again:.1f} ms")
    print(f"peer: SciPy root and bisection      {peer:,.0f} ms")
    print(f"ratio to a cold lap, a warm lap     {peer / cold:,.0f}, {peer / warm:,.0f}")


if __name__ == "__main__":
    main()
