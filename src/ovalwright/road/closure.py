"""A measured lap that does not quite close, closed by the least change of its curvature."""

from __future__ import annotations

import numpy as np
from scipy.optimize import root

from ovalwright.road.profile import Array, Profile, pieced
from ovalwright.road.spine import Spine

_CLOSED = 1e-6


def closed(curvature: Profile, hand: int) -> Profile:
    """The curvature of a lap that closes, from one that is linear between its breaks and nearly does.

    Of all changes of a curve's curvature that move its end by a given bit, the one of least mean square is a
    sum of 1, x and y of the curve: the end moves by the integral of (1, -y, x) times the change. Raises
    ValueError when no such sum closes it.
    """
    spine = Spine(curvature)
    breaks = curvature.x
    plan = spine.at(np.append(breaks[:-1], 0.0))
    shape = np.stack([np.ones_like(breaks), plan.x / spine.length, plan.y / spine.length]) / spine.length
    starts, ends = curvature.c[-1], curvature.c[-1] + _gains(curvature)

    def changed(share: Array) -> Profile:
        change = share @ shape
        lengths = np.diff(breaks).tolist()
        return pieced(lengths, (starts + change[:-1]).tolist(), (ends + change[1:]).tolist(), "linear")

    def misses(share: Array) -> Array:
        gap = Spine(changed(share)).gap(hand)
        return np.array([gap.x / spine.length, gap.y / spine.length, gap.heading])

    found = root(misses, np.zeros(3), method="hybr", options={"xtol": 1e-13, "maxfev": 200})
    if not np.max(np.abs(misses(found.x))) * spine.length < _CLOSED:
        raise ValueError(
            "the lap does not come back to its start; check that it is one whole lap, once around"
        )
    return changed(found.x)


def _gains(curvature: Profile) -> Array:
    """What a profile gains from break to break."""
    width = np.diff(curvature.x)
    powers = np.arange(len(curvature.c) - 1, 0, -1)
    gains: Array = np.sum(curvature.c[:-1] * width ** powers[:, None], axis=0)
    return gains
