"""The car at the greatest side force of its tires, where balance is read, and what a change of balance there
is made of: tires that hold more or less, tires that pull unevenly, weight that sits elsewhere.

Yaw moments about the center of gravity of the car as it stands; what each tire gives goes back to its forces,
so that the parts add up to the change (statics).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from ovalwright.pack import Packed
from ovalwright.solve.balance import hold
from ovalwright.solve.newton import CONVERGED
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.law import MZ, SLIP, STEER
from ovalwright.vehicle.record import CORNER, SIZE

from .balance import moment_left
from .state import Solved
from .stations import hand

Array = npt.NDArray[np.float64]

ANGLE = 0.03
"""Side slip and steer angle [rad] that count as one in the search."""
FLAT = 1e-6
"""Slope of side force at which the greatest is reached."""
SAME = 1e-5
"""How close [share of weight x wheelbase] both searches must come to one moment."""
LOST = 1e3
"""Side acceleration [m/s^2] lost where the held car has no equilibrium."""


@dataclass(frozen=True, eq=False)
class AtLimit:
    """The four corners (CORNER) and the yaw moment left [N m, negative is tight] at the greatest side force
    to the inside; `hand` +1 in a left turn; `whole` weight x wheelbase [N m]; `thrust` (4) [1/rad] and
    `fade` (4) [1/rad^2] are what leaning does to the side force of each tire.
    """

    corners: npt.NDArray[np.void]
    moment: float
    hand: float
    whole: float
    thrust: Array
    fade: Array


@dataclass(frozen=True, eq=False)
class Parts:
    """What a change of balance is made of: `front` and `rear` by side force, `pull` by drive and drag to the
    left and right, `body` by weight that sits elsewhere and the rest [share of weight x wheelbase, negative
    is tighter]. (4) by corner: `held`, side force to the inside, and `by_lean`, as much of it as leaning
    made [N]; `pulled`, force ahead [N]; `lean` into the turn [rad].
    """

    front: float
    rear: float
    pull: float
    body: float
    held: Array
    by_lean: Array
    pulled: Array
    lean: Array

    @property
    def balance(self) -> float:
        """The sum of all parts."""
        return self.front + self.rear + self.pull + self.body


def at_limit(car: Packed, at: Solved) -> AtLimit | None:
    """A car at the speed and place of a trim near its limit, side slip and steer set for the most side force;
    None where the search for it does not end at the moment that `moment_left` finds.

    Moment method of Milliken & Milliken, *Race Car Vehicle Dynamics*, ch. 8 (from memory).
    """
    sought = moment_left(car, at)
    if sought is None:
        return None
    motion, work, slope = at.motion.copy(), np.zeros((40, SIZE)), np.zeros(2)
    inside, gain = hand(motion), float(car.record["steer_gain"])
    known, side = at.unknowns.copy(), 0.0

    def held(x: Array) -> tuple[float, Array]:
        u = known.copy()
        u[SLIP], u[STEER] = ANGLE * x[0], ANGLE * x[1] / gain
        motion["side_extra"] = side
        if hold(u, car.record, motion, work, slope) != CONVERGED:
            return LOST, np.zeros(2)
        found[:] = u
        return -inside * float(motion["side_extra"]), -inside * ANGLE * slope

    found = known.copy()
    begin = np.array([known[SLIP], known[STEER] * gain]) / ANGLE
    best = minimize(held, begin, jac=True, method="BFGS", options={"gtol": FLAT}).x
    if held(best)[0] == LOST:
        return None
    moment, whole = inside * float(work[0, MZ]), float(car.record["weight"] * car.record["wheelbase"])
    if abs(moment - sought) > SAME * whole:
        return None
    corners = np.zeros(4, CORNER)
    read_corners(found, car.record, motion, corners)
    tires = car.record["tire"]
    fade = 2.0 * tires["side_grip_camber"] * corners["inclination"] * corners["side"]
    return AtLimit(corners, moment, inside, whole, tires["camber_thrust"] * corners["load"], fade)


def parts(was: AtLimit, now: AtLimit) -> Parts:
    """What makes the balance of one car at a limit another than that of a second at the same place."""
    a, b = was.corners, now.corners
    x, y = ((a["load"] * a[key]).sum() / a["load"].sum() for key in ("patch_x", "patch_y"))
    turned = [(one["patch_x"] - x) * one["force_y"] for one in (a, b)]
    pulled = [-(one["patch_y"] - y) * one["force_x"] + one["couple_z"] for one in (a, b)]
    across = was.hand * (turned[1] - turned[0]) / was.whole
    along = float(was.hand * (pulled[1] - pulled[0]).sum() / was.whole)
    front, rear = float(across[:2].sum()), float(across[2:].sum())
    lean = b["inclination"] - a["inclination"]
    return Parts(
        front=front,
        rear=rear,
        pull=along,
        body=(now.moment - was.moment) / was.whole - front - rear - along,
        held=was.hand * (b["side"] - a["side"]),
        by_lean=was.hand * (was.thrust - was.fade) * lean,
        pulled=b["force_x"] - a["force_x"],
        lean=was.hand * lean,
    )
