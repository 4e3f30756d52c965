"""Places in a turn as motions: what the road asks sideways, how fast one place is at a lateral acceleration,
and the places between two stations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ovalwright.vehicle.record import MOTION, Record


def lateral(motion: Record) -> float:
    """Lateral acceleration [m/s^2] in the plane of the road, positive left: V^2 k cos b - g sin b.

    Gravity's part counts: it is what the tires must bring per unit of mass. Source: OpenStax College
    Physics, ch. 6 (the forces on a banked curve).
    """
    push = motion["speed"] ** 2 * motion["curvature"] * math.cos(motion["bank"])
    return float(push - motion["gravity"] * math.sin(motion["bank"]))


def speed_at(motion: Record, sideways: float) -> float:
    """Speed [m/s] at which a motion's path asks `sideways` [m/s^2] in the plane of the road; the inverse of
    `lateral`. 0 where not even standing still asks so little; inf on a straight.
    """
    bend = motion["curvature"] * math.cos(motion["bank"])
    if bend == 0.0:
        return math.inf
    return math.sqrt(max((sideways + motion["gravity"] * math.sin(motion["bank"])) / bend, 0.0))


def hand(motion: Record) -> float:
    """+1 in a left turn, -1 in a right one."""
    return math.copysign(1.0, float(motion["curvature"]))


def at_speed(motion: Record, speed: float) -> Record:
    """The same place at another speed [m/s]."""
    changed = motion.copy()
    changed["speed"] = speed
    return changed


def between(before: Record, after: Record, share: float) -> Record:
    """The motion a share (0 to 1) of the way from one station to the next.

    Curvature, bank, their changes and the acceleration along the road go in a straight line, and so does
    1/V^2, which at one lateral acceleration is what curvature does.
    """
    mixed = before.copy()
    for name in MOTION.names or ():
        mixed[name] = before[name] + share * (after[name] - before[name])
    slow = before["speed"] ** -2.0 + share * (after["speed"] ** -2.0 - before["speed"] ** -2.0)
    mixed["speed"] = slow**-0.5
    return mixed


def along(stations: Sequence[Record], share: float) -> Record:
    """The motion at a share of the turn, 0 at the first and 1 at the last of the stations, evenly spaced."""
    legs = len(stations) - 1
    leg = min(int(share * legs), legs - 1)
    return between(stations[leg], stations[leg + 1], share * legs - leg)
