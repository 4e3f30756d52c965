"""One ordinary trim for one speed and path, or none; the fold is where it ends.

Past the peak of its tires a car has other trims (a plow with huge steer, a drift) that satisfy the same
equations. The sign of the Jacobian's determinant is fixed on the ordinary branch (Pacejka, *Tire and
Vehicle Dynamics*, ch. 1; Seydel, *Practical Bifurcation and Stability Analysis*; from memory).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from evidence import DERIVED

import ovalwright
from ovalwright.documents import assemble
from ovalwright.pack import build
from ovalwright.solve.limit import FOUND, MAX_POINTS, fastest_guess, follow
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.trim import trim, trim_from
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.record import CORNER, MOTION, SIZE

DEMO = Path(ovalwright.__file__).parent / "demo"
SETUPS = ("conventional", "soft_front", "hanging_rr", "no_rr", "giant_bar", "light")
SPREAD = np.array([4000.0, 0.25, 0.03, 0.03, 0.05, 0.03, 0.01, 0.12, 0.12, 0.05, 0.05, 40.0, 40.0, 40.0])

ON_ITS_SIDE = 0.15
"""How far above the road a wheel hangs of a car that has rolled over [m]."""


def work() -> Any:
    return np.zeros((40, SIZE))


def turn(speed: float, radius: float, bank: float, along: float = 0.0) -> Any:
    motion = np.zeros(1, MOTION)[0]
    motion["speed"], motion["curvature"], motion["bank"] = speed, 1.0 / radius, np.radians(bank)
    motion["acceleration"] = along
    motion["gravity"], motion["grip"], motion["air_density"] = 9.80665, 1.0, 1.2
    return motion


def limit_of(settled: Any, record: Any, motion: Any) -> tuple[int, float]:
    path = np.zeros((MAX_POINTS, SIZE + 1))
    status, points = follow(settled, record, motion, fastest_guess(record, motion), path, work())
    return status, float(path[points - 1, SIZE])


def states(count: int, seed: int) -> list[tuple[Any, Any, Any, float]]:
    """Cars of the demo in turns of every kind, from slow to 2 % under their limit."""
    rng = np.random.default_rng(seed)
    cars = [build(assemble(DEMO / f"setup_{name}.toml")) for name in SETUPS]
    found = []
    while len(found) < count:
        car = cars[rng.integers(len(cars))]
        motion = turn(20.0, rng.uniform(35.0, 110.0), rng.uniform(0.0, 32.0), rng.uniform(-4.0, 2.0))
        status, top = limit_of(car.settled, car.record, motion.copy())
        if status == FOUND and top < 70.0:
            motion["speed"] = rng.uniform(0.3, 0.98) * top
            found.append((car.settled, car.record, motion, top))
    return found


def on_its_side(u: Any, record: Any, motion: Any) -> bool:
    corners = np.zeros(4, CORNER)
    read_corners(u, record, motion, corners)
    return bool(corners["squash"].min() < -ON_ITS_SIDE)


def ordinary_roots(
    settled: Any, record: Any, motion: Any, starts: int, rng: np.random.Generator
) -> list[Any]:
    """The different trims that random starts end in, those refused for their branch left out.

    Left out too is a car that has rolled over its right side until a wheel hangs ON_ITS_SIDE above the road:
    with no coil or stop to end its roll it may be steady there too, and no start of the product leads there.
    """
    first = np.zeros(SIZE)
    assert trim(settled, record, motion, first, work())[0] == CONVERGED
    roots = [first]
    for _ in range(starts):
        u = first + rng.uniform(-1.0, 1.0, SIZE) * SPREAD
        if trim_from(u, record, motion, work())[0] == CONVERGED and not on_its_side(u, record, motion):
            new = all(np.max(np.abs(u - other) / SPREAD) > 1e-5 for other in roots)
            if new:
                roots.append(u.copy())
    return roots


def count_doubles(cars: int, starts: int, seed: int) -> int:
    rng = np.random.default_rng(seed)
    return sum(len(ordinary_roots(s, r, m, starts, rng)) > 1 for s, r, m, _ in states(cars, seed))


def test_random_starts_never_end_in_two_ordinary_trims(check: Any) -> None:
    """12 states, 100 starts each; the proof run takes 200 states and 1,000 starts."""
    doubles = count_doubles(12, 100, 7)
    check.fact(
        doubles == 0,
        of="random starts end in one ordinary trim or are refused",
        source="uniqueness of the ordinary branch below the fold, Pacejka ch. 1 (from memory)",
        kind=DERIVED,
        area="trim",
    )


@pytest.mark.proof
def test_random_starts_never_end_in_two_ordinary_trims_at_length(check: Any) -> None:
    doubles = count_doubles(200, 1000, 11)
    check.fact(
        doubles == 0,
        of="200 states x 1,000 random starts: one ordinary trim each",
        source="uniqueness of the ordinary branch below the fold, Pacejka ch. 1 (from memory)",
        kind=DERIVED,
        area="trim",
    )


def trims_rolling(settled: Any, record: Any, motion: Any) -> bool:
    """Whether the car trims with all wheels rolling. Past the fold of a braked car a locked LF may carry
    on."""
    code = trim(settled, record, motion, np.zeros(SIZE), work())[0]
    return bool(code == CONVERGED and motion["lock_left"] + motion["lock_right"] == 0.0)


def bisected_limit(settled: Any, record: Any, motion: Any, top: float) -> float:
    """The fastest speed that trims, by bisection from a bracket of 5 % around the fold."""
    low, high = 0.95 * top, 1.05 * top
    while high - low > 1e-4 * top:
        middle = motion["speed"] = 0.5 * (low + high)
        if trims_rolling(settled, record, motion):
            low = middle
        else:
            high = middle
    return float(low)


def around_the_fold(count: int, seed: int, check: Any, *, bisected: float, under: float, over: float) -> None:
    """Shares of states whose fold a bisection meets within 0.05 %, that trim 0.5 % under it, and over it."""
    met, below, above, tried = 0, 0, 0, 0
    for k, (settled, record, motion, top) in enumerate(states(count, seed)):
        if k < max(6, count // 10):
            tried += 1
            met += abs(bisected_limit(settled, record, motion.copy(), top) / top - 1.0) < 5e-4
        motion["speed"] = 0.995 * top
        below += trim(settled, record, motion, np.zeros(SIZE), work())[0] == CONVERGED
        motion["speed"] = 1.005 * top
        above += trims_rolling(settled, record, motion)
    for of, share, low, high in (
        ("fold within 0.05 % of bisection", met / tried, bisected, 1.0),
        ("trims 0.5 % under the fold", below / count, under, 1.0),
        ("trims 0.5 % over the fold", above / count, 0.0, over),
    ):
        check.between(
            share,
            low,
            high,
            of=f"{of}, share of {count} states",
            source="fold of a solution path, Keller 1977 (from memory); bisection as the plain peer",
            kind=DERIVED,
            area="trim",
        )


def test_the_fold_is_where_trims_end(check: Any) -> None:
    """40 states; the proof run takes 1,000."""
    around_the_fold(40, 3, check, bisected=1.0, under=1.0, over=0.0)


@pytest.mark.proof
def test_the_fold_is_where_trims_end_at_length(check: Any) -> None:
    """Of 1,000 states 4 do not trim 0.5 % under their fold, and 6 trim over it with all wheels rolling: a
    wheel that lifts or a contact that changes near the limit folds the path twice, and the second fold is the
    higher one. `docs/findings.md` says so.
    """
    around_the_fold(1000, 5, check, bisected=0.95, under=0.995, over=0.006)
