"""Pull-down numbers: what to reproduce on the scales so that the car sits there as it does in the turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ovalwright.pack import Packed
from ovalwright.solve.newton import CONVERGED, newton
from ovalwright.solve.settle import standing
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.law import ARM_L, AXLE_ROLL, SPIN_L, STEER
from ovalwright.vehicle.record import CORNER, SIZE

from .state import Four, Solved

NOTE = (
    "On the scales no side force acts on the links, so heights and loads cannot both agree with the turn: "
    "pull the car to the heights, and read the loads against the scale loads given here."
)


@dataclass(frozen=True)
class PullDown:
    """Numbers for the shop, LF RF LR RR.

    `heights` of the ride height points and `drops` from ride height [m]; `shocks` lengths and
    `shock_travel` in bump [m] in the turn; `scale_loads` [N] the pads show with the body held at those
    heights, wheels straight; `turn_loads` [N] the tires carry in the turn; `pull` [N] all straps together.
    """

    heights: Four
    drops: Four
    shocks: Four
    shock_travel: Four
    scale_loads: Four
    turn_loads: Four
    pull: float


def pull_down(packed: Packed, solved: Solved) -> PullDown | None:
    """Pull-down numbers of a solved state; None where the body cannot be held so on the scales.

    The body is held at its pose in the turn; arms and axle find their own balance under it.
    """
    u = solved.unknowns.copy()
    u[STEER], u[SPIN_L:] = 0.0, 0.0
    status, *_ = newton(u, ARM_L, AXLE_ROLL + 1, packed.record, standing(), np.zeros((40, SIZE)))
    if status != CONVERGED:
        return None
    held = np.zeros(4, CORNER)
    read_corners(u, packed.record, standing(), held)
    turn, ride = solved.corners, packed.weighed.corners()
    return PullDown(
        heights=Four(*map(float, turn["height"])),
        drops=Four(*map(float, ride["height"] - turn["height"])),
        shocks=Four(*map(float, turn["shock_length"])),
        shock_travel=Four(*map(float, ride["shock_length"] - turn["shock_length"])),
        scale_loads=Four(*map(float, held["load"])),
        turn_loads=Four(*map(float, turn["load"])),
        pull=float(held["load"].sum() - packed.record["weight"]),
    )
