"""Stagger: what this turn wants, what the stagger in the car does, which tires give it, and cold pressures.

Stagger is right less left roll-out. On the road the axle rolls on its loaded tires, so what counts in the
turn is their rolling circumference; both are shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ovalwright.documents import Rack
from ovalwright.mechanics.handbook import ATMOSPHERE, stagger_for_radius
from ovalwright.mechanics.tire import rolling_radius
from ovalwright.solve.trim import trim_from
from ovalwright.vehicle.law import DEMAND
from ovalwright.vehicle.record import SIZE, Record

from .state import STATUS, Solved

_rolling_radius = getattr(rolling_radius, "py_func", rolling_radius)
"""The law of the tire, interpreted: for four numbers it is not worth compiling."""

TURN = 2.0 * math.pi
ALIKE = 1e-8
"""Difference of slip below which two tires roll alike."""


@dataclass(frozen=True)
class StaggerWork:
    """What stagger does in a solved state, against the same car on tires that roll this turn freely.

    `stagger` of the free tires, `rolling` of the loaded ones, `wanted` by the radius at the loaded ones,
    `to_set`: the free stagger that would roll it [m]; `mismatch` RR slip less LR slip; `moment` about z
    [N m], negative turns the car right (tight in a left turn); `drag` [N] and `power` [W] that the engine
    brings for it.
    """

    stagger: float
    rolling: float
    wanted: float
    to_set: float
    mismatch: float
    moment: float
    drag: float
    power: float


def wanted_stagger(motion: Record, *, left_roll_out: float, tread: float) -> float:
    """Stagger [m] with which a locked axle rolls the turn of a motion without slip: the path's curvature in
    the plane of the road is cos(bank) / R. 0 on a straight; negative in a right turn.
    """
    bend = float(motion["curvature"]) * math.cos(motion["bank"])
    if bend == 0.0:
        return 0.0
    return stagger_for_radius(left_roll_out, tread=tread, radius=1.0 / bend)


def axle_moment(solved: Solved) -> float:
    """Yaw moment [N m] of the two rear tires' drive forces about the middle between their patches."""
    at = solved.corners
    return 0.5 * float((at["drive"][3] - at["drive"][2]) * (at["patch_y"][2] - at["patch_y"][3]))


def stagger_work(solved: Solved) -> StaggerWork | None:
    """What the stagger does in a solved state; None with a rear wheel off the ground or no twin found."""
    record, at = solved.record, solved.corners
    if min(at["squash"][2], at["squash"][3]) <= 0.0:
        return None
    twin = _rolling_freely(solved)
    if not twin.found:
        return None
    free = record["tire"]["free_radius"]
    left, right = (
        TURN * float(_rolling_radius(free[i], at["squash"][i], record["tire"]["radius_share"][i]))
        for i in (2, 3)
    )
    stagger, rolling = TURN * float(free[3] - free[2]), right - left
    tread = float(at["patch_y"][2] - at["patch_y"][3])
    wanted = wanted_stagger(solved.motion, left_roll_out=left, tread=tread)
    drag = float(solved.unknowns[DEMAND] - twin.unknowns[DEMAND])
    return StaggerWork(
        stagger=stagger,
        rolling=rolling,
        wanted=wanted,
        to_set=stagger + wanted - rolling,
        mismatch=float(at["slip"][3] - at["slip"][2]),
        moment=axle_moment(solved) - axle_moment(twin),
        drag=drag,
        power=drag * float(solved.motion["speed"]),
    )


def _rolling_freely(solved: Solved) -> Solved:
    """The same car with the rolling radii of the rear tires changed until both slip alike; statics stay."""
    record = solved.record.copy()
    twin = solved
    for _ in range(3):
        at, tires = twin.corners, record["tire"]
        if abs(at["slip"][3] - at["slip"][2]) < ALIKE:
            break
        ratio = (1.0 + at["slip"][2]) / (1.0 + at["slip"][3])
        change = (1.0 - ratio) / (1.0 + ratio)
        for i, scale in ((2, 1.0 + change), (3, 1.0 - change)):
            squash = at["squash"][i]
            radius = _rolling_radius(tires["free_radius"][i], squash, tires["radius_share"][i])
            tires["radius_share"][i] = (tires["free_radius"][i] - scale * radius) / squash
        unknowns = twin.unknowns.copy()
        status, norm, iterations, evaluations = trim_from(
            unknowns, record, solved.motion, np.zeros((40, SIZE))
        )
        twin = Solved(record, solved.motion, unknowns, STATUS[status], norm, iterations, evaluations)
        if not twin.found:
            break
    return twin


# ---------------- tires of the rack


@dataclass(frozen=True)
class TirePair:
    """Two tires for the rear axle, the stagger they give [m] and how far it is off the wanted one."""

    left: str
    right: str
    stagger: float
    off: float


def tire_pairs(
    rack: Rack, wanted: float, *, left_pressure: float, right_pressure: float, most: int = 10
) -> tuple[TirePair, ...]:
    """Pairs of the rack's left- and right-side tires, nearest to the wanted stagger [m] first.

    Roll-outs are taken to the pressures [Pa] with each tire's own growth.
    """
    left = _roll_outs(rack, "left", left_pressure)
    right = _roll_outs(rack, "right", right_pressure)
    pairs = [TirePair(a, b, right[b] - left[a], right[b] - left[a] - wanted) for a in left for b in right]
    return tuple(sorted(pairs, key=lambda pair: (abs(pair.off), pair.left, pair.right))[:most])


def _roll_outs(rack: Rack, side: str, pressure: float) -> dict[str, float]:
    return {
        tire.id: tire.roll_out.si + tire.growth.si * (pressure - tire.roll_out_pressure.si)
        for tire in rack.tires
        if tire.side == side
    }


# ---------------- pressures


def cold_pressure(
    wanted_hot: float, *, cold: float, hot: float, ambient: float = ATMOSPHERE, shop_change: float = 1.0
) -> float:
    """Gauge pressure [Pa] to set cold for a wanted hot one, from one run that went `cold` to `hot` [Pa].

    (wanted + p_a) (cold + p_a) / (hot + p_a) - p_a: a gas in a fixed room gains in proportion (ideal gas
    law, OpenStax College Physics, ch. 13). `shop_change`: absolute temperature of the air in which the
    tires are set over that of the run. Raises ValueError unless both absolute pressures are positive.
    """
    if not (hot + ambient > 0.0 and cold + ambient > 0.0):
        raise ValueError("both pressures must be above a vacuum")
    return (wanted_hot + ambient) * (cold + ambient) / (hot + ambient) * shop_change - ambient
