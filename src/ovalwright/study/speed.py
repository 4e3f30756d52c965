"""How fast a car can go at a place in a turn, what sets that, and where it stops being stable at fixed steer.

The limit is the fold of the trims (two trims meet and vanish there), or the speed from which the engine can
no longer hold the car, whichever comes first. What gives up is read off the last steps before the fold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.pack import Packed
from ovalwright.solve.limit import (
    FOUND,
    MAX_POINTS,
    NO_START,
    TOO_FAST,
    WHOLE,
    fastest_guess,
    follow,
    modes,
    plane_inertia,
    plane_stability,
)
from ovalwright.vehicle.law import DEMAND
from ovalwright.vehicle.record import CORNERS, SIZE, Record

from .roots import crossing
from .state import Solved, clearances_of, demand_of, engine_of, solve
from .stations import at_speed, lateral

Array = npt.NDArray[Any]

FRONT, REAR, BOTH = "front tires", "rear tires", "front and rear tires together"
POWER, REVS, DRAG, ROLL_OVER = "power", "the rev limit", "a drag too great", "roll-over"
NONE, LOST, NO_TRIM = "nothing below 120 m/s", "the search broke off", "no trim at any speed"
ONE_END = 3.0
"""One end gives up when its slip grows this many times faster than the other's (judged)."""
STEP_DOWN = (0.8, 0.6, 0.45, 0.3, 0.2)
"""Shares of a speed at which to look lower."""
FINE = 1e-3
"""How exactly a speed is found [m/s]."""


@dataclass(frozen=True)
class Limit:
    """The limit of a car at a place.

    `speed` [m/s] None when nothing sets one; `lateral` acceleration there in the plane of the road [m/s^2];
    `sets` what gives up, `tire` the most used tire of that end; `growth` of slip over its peak toward the
    fold, front and rear, per step; `fold` the speed of the tires' own limit; `power` the speed from which
    the engine cannot pull the car any more, `revs` the speed at its rev limit, each None if not below the
    fold; `unstable` the lowest speed at which the car with fixed steer spins or weaves, None if not below
    the limit; `drags` frame points on the road at the limit; `last` the solved state there.
    """

    speed: float | None
    lateral: float | None
    sets: str
    tire: str | None
    growth: tuple[float, float]
    fold: float | None
    power: float | None
    revs: float | None
    unstable: float | None
    drags: tuple[str, ...]
    last: Solved | None


def limit(packed: Packed, motion: Record) -> Limit:
    """The limit at the place of `motion`; its speed is not used."""
    status, trims = trims_up(packed, motion)
    if status == NO_START:
        return Limit(None, None, NO_TRIM, None, (0.0, 0.0), None, None, None, None, (), None)
    engine, last, growth = engine_of(packed), trims[-1], _growth(trims)
    power = first_crossing(packed, motion, trims, lambda at: demand_of(engine, at).engine_share - 1.0)
    revs = first_crossing(packed, motion, trims, lambda at: demand_of(engine, at).rev_share - 1.0)
    fold = None if status == TOO_FAST else float(last.motion["speed"])
    sets, tire = _what_gives_up(last, growth) if status == FOUND else (LOST, None)
    ends = [(fold, sets), (power, POWER), (revs, REVS)]
    speed, sets = min(((v, name) for v, name in ends if v is not None), default=(None, NONE))
    if speed is None:
        return Limit(None, None, NONE, None, growth, None, None, None, None, (), last)
    if speed != fold:
        tire, last = None, solve(packed, at_speed(motion, speed))
    return Limit(
        speed=speed,
        lateral=lateral(at_speed(motion, speed)),
        sets=sets,
        tire=tire,
        growth=growth,
        fold=fold,
        power=power,
        revs=revs,
        unstable=unstable_speed(packed, motion, [at for at in trims if at.motion["speed"] < speed] + [last]),
        drags=tuple(point.name for point in clearances_of(packed, last) if point.gap < 0.0),
        last=last,
    )


def trims_up(packed: Packed, motion: Record) -> tuple[int, list[Solved]]:
    """The trims from a moderate speed up to the fold, slow to fast, and the solver's status."""
    path, moving = np.zeros((MAX_POINTS, WHOLE)), motion.copy()
    guess = fastest_guess(packed.record, moving)
    status, points = follow(packed.settled, packed.record, moving, guess, path, np.zeros((40, SIZE)))
    trims = []
    for row in path[:points]:
        at = at_speed(motion, row[SIZE])
        trims.append(Solved(packed.record, at, row[:SIZE].copy(), "solved", 0.0, 0, 0))
    return status, trims


# ---------------- what gives up


def _used_slips(solved: Solved) -> Array:
    """Slip angle and slip of the four tires over those at their peaks, (4, 2)."""
    at = solved.corners
    return np.column_stack((at["slip_angle"] / at["peak_slip_angle"], at["slip"] / at["peak_slip"]))


def _growth(trims: list[Solved]) -> tuple[float, float]:
    """How much the used slip of the front and of the rear tires grew in the last step."""
    if len(trims) < 2:
        return 0.0, 0.0
    step = _used_slips(trims[-1]) - _used_slips(trims[-2])
    front, rear = (np.linalg.norm(half.mean(axis=0)) for half in (step[:2], step[2:]))
    return float(front), float(rear)


def _what_gives_up(last: Solved, growth: tuple[float, float]) -> tuple[str, str | None]:
    """What sets the limit at the fold, and the most used tire of the end that gives up."""
    at = last.corners
    load = at["load"]
    if min(load[0] + load[2], load[1] + load[3]) < 0.01 * load.sum():
        return ROLL_OVER, None
    front, rear = growth
    if front > ONE_END * rear:
        sets, end = FRONT, slice(0, 2)
    elif rear > ONE_END * front:
        sets, end = REAR, slice(2, 4)
    else:
        sets, end = BOTH, slice(0, 4)
    if sets == REAR and last.unknowns[DEMAND] > 0.0:
        sideways, driving = np.abs(_used_slips(last)[2:]).mean(axis=0)
        if driving > ONE_END * sideways:
            sets = DRAG
    return sets, CORNERS[end.start + int(np.argmax(at["used"][end]))]


# ---------------- power and stability along the trims


def first_crossing(
    packed: Packed, motion: Record, trims: list[Solved], over: Callable[[Solved], float]
) -> float | None:
    """Lowest speed [m/s] at which `over` of the trim turns positive, None if it does not.

    Where it is positive at the slowest of the trims already, slower ones are looked at; 0 if it is
    positive at all of them.
    """
    above = next((i for i, solved in enumerate(trims) if over(solved) > 0.0), None)
    if above is None:
        return None
    high = float(trims[above].motion["speed"])
    if above > 0:
        low = float(trims[above - 1].motion["speed"])
    else:
        lower = [solve(packed, at_speed(motion, share * high)) for share in STEP_DOWN]
        below = next((s for s in lower if s.found and over(s) <= 0.0), None)
        if below is None:
            return 0.0
        low = float(below.motion["speed"])

    def miss(speed: float) -> float:
        return over(solve(packed, at_speed(motion, speed)))

    high *= 1.0 - 1e-9
    if not (miss(low) <= 0.0 < miss(high)):
        return high
    return crossing(miss, low, high, within=FINE)


def unstable_speed(packed: Packed, motion: Record, trims: list[Solved]) -> float | None:
    """Lowest speed [m/s] up to that of the last of the trims at which the car at fixed steer and throttle is
    unstable; None if stable, as a car is that its engine cannot move.

    Plane motion with body, axle and wheels following at once (Pacejka, *Tire and Vehicle Dynamics*, ch. 1,
    from memory). No shocks, no transient, no driver.
    """
    moves = float(trims[-1].motion["speed"]) > 0.0
    return first_crossing(packed, motion, trims, fastest_growth) if moves else None


def fastest_growth(solved: Solved) -> float:
    """Greatest real part [1/s] of the modes of side slip and yaw at fixed steer; positive grows."""
    work = np.zeros((40, SIZE))
    motion = solved.motion.copy()
    answer = plane_stability(solved.unknowns, solved.record, motion, work)
    roots = modes(answer, plane_inertia(solved.record), float(motion["speed"]))
    return float(np.max(np.real(roots)))
