"""Tight or loose: the yaw moment left at the limit, its worth in wedge, and the understeer gradient below.

Negative is tight, positive loose, in left and right turns alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ovalwright.pack import Packed, turn_jack_bolts
from ovalwright.solve.balance import moment_at_limit
from ovalwright.solve.newton import CONVERGED
from ovalwright.vehicle.record import SIZE, Record

from .state import Solved, loads_of, solve
from .stations import at_speed, hand, lateral, speed_at

NEUTRAL = 5e-4
"""Balance [share of weight x wheelbase] below which a car is called neutral."""
CROSS_STEP = 0.005
"""Change of static cross to each side from which its worth is read."""
PROBE = 0.25
"""Rounds turned to see what a jack bolt does to cross."""
GRADIENT_STEP = 0.02
"""Step of lateral acceleration for the understeer gradient [m/s^2]."""
ROUND_ORDER = ("LR", "RF", "RR", "LF")
"""Which jack bolt stands for wedge: the first that moves it."""


def word(share: float) -> str:
    """Tight, neutral or loose."""
    if abs(share) < NEUTRAL:
        return "neutral"
    return "tight" if share < 0.0 else "loose"


@dataclass(frozen=True)
class Wedge:
    """The same car with half a percent more and less static cross, by the jack bolt at `corner`.

    `rounds` per share of cross; `up` and `down` the cars, `rise` and `fall` what cross really changed by.
    """

    corner: str
    rounds: float
    up: Packed
    down: Packed
    rise: float
    fall: float


@dataclass(frozen=True)
class Balance:
    """Balance at the limit of a place.

    `moment` [N m] and `share` of static weight times wheelbase: the yaw moment left at the greatest side
    force, negative = tight. `per_cross` (with cross taken out, put in): change of `share` per share of
    static cross. `wedge`: the static cross whose change makes this much balance, positive = as much as
    that cross put in; `rounds` of the jack bolt at `corner` that put it in. None where no bolt moves
    cross, or it does not act.
    """

    moment: float
    share: float
    word: str
    speed: float
    per_cross: tuple[float, float] | None
    wedge: float | None
    corner: str | None
    rounds: float | None


def wedged(packed: Packed) -> Wedge | None:
    """The car with static cross changed by half a percent to both sides; None where no jack bolt moves it."""
    cross = loads_of(packed.weighed.corners()).cross
    for corner in ROUND_ORDER:
        if packed.record["coil_rate"][CORNERS_AT[corner]] == 0.0:
            continue
        probe = loads_of(turn_jack_bolts(packed, {corner: PROBE}).weighed.corners()).cross - cross
        if abs(probe) < 1e-5:
            continue
        rounds = PROBE / probe
        up = turn_jack_bolts(packed, {corner: CROSS_STEP * rounds})
        down = turn_jack_bolts(packed, {corner: -CROSS_STEP * rounds})
        rise = loads_of(up.weighed.corners()).cross - cross
        fall = loads_of(down.weighed.corners()).cross - cross
        return Wedge(corner, rounds, up, down, rise, fall)
    return None


CORNERS_AT = {"LF": 0, "RF": 1, "LR": 2, "RR": 3}


def moment_left(packed: Packed, at: Solved) -> float | None:
    """Yaw moment left [N m, negative = tight] of a car at the speed and place of `at`, a trim near the
    limit; None where none was found.

    Moment method of Milliken & Milliken, *Race Car Vehicle Dynamics*, ch. 8 (from memory).
    """
    motion = at.motion.copy()
    status, moment, _ = moment_at_limit(at.unknowns, packed.record, motion, np.zeros((40, SIZE)))
    return moment if status == CONVERGED else None


def balance(packed: Packed, at: Solved, wedge: Wedge | None) -> Balance | None:
    """Balance of a car at its limit `at`, with its worth in wedge; None where no greatest side force was
    found.
    """
    moment = moment_left(packed, at)
    if moment is None:
        return None
    whole = float(packed.record["weight"] * packed.record["wheelbase"])
    share = moment / whole
    per_cross = _per_cross(wedge, at, share, whole)
    slope = None if per_cross is None else 0.5 * sum(per_cross)
    worth = share / slope if slope else None
    rounds = worth * wedge.rounds if wedge and worth is not None else None
    return Balance(
        moment=moment,
        share=share,
        word=word(share),
        speed=float(at.motion["speed"]),
        per_cross=per_cross,
        wedge=worth,
        corner=wedge.corner if wedge else None,
        rounds=rounds,
    )


def _per_cross(wedge: Wedge | None, at: Solved, share: float, whole: float) -> tuple[float, float] | None:
    """Change of balance per share of static cross, with cross taken out and put in."""
    if wedge is None:
        return None
    less, more = moment_left(wedge.down, at), moment_left(wedge.up, at)
    if less is None or more is None:
        return None
    return (less / whole - share) / wedge.fall, (more / whole - share) / wedge.rise


@dataclass(frozen=True)
class Gradient:
    """Understeer gradient [rad per m/s^2] at a speed [m/s], with less and with more lateral acceleration.

    Positive: more steer the faster. The two differ where a coil picks up.
    """

    below: float
    above: float
    speed: float
    lateral: float


def understeer(packed: Packed, motion: Record) -> Gradient | None:
    """Understeer gradient at constant radius at a motion: change of the mean steer of the front wheels per
    lateral acceleration in the plane of the road (ISO 4138:2021, definition from memory).

    None where the car has no trim there or close by.
    """
    here = lateral(motion)
    steps = (-GRADIENT_STEP, 0.0, GRADIENT_STEP)
    speeds = [speed_at(motion, here + hand(motion) * step) for step in steps]
    trims = [solve(packed, at_speed(motion, speed)) for speed in speeds]
    if not all(solved.found for solved in trims):
        return None
    low, middle, high = (hand(motion) * float(solved.corners["steer"][:2].mean()) for solved in trims)
    return Gradient(
        below=(middle - low) / GRADIENT_STEP,
        above=(high - middle) / GRADIENT_STEP,
        speed=float(motion["speed"]),
        lateral=here,
    )
