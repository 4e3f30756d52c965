"""From places read around a lap, once or several times, to the closed curve they lie about."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline
from scipy.spatial import cKDTree

from ovalwright.road.closure import closed
from ovalwright.road.profile import Array, Profile, through
from ovalwright.road.smooth import smoothed

FINEST = 30.0
"""Shortest wave of the road [m] that is told from scatter: transitions of ovals are longer (common practice,
no source)."""
SHORTEST, LONGEST = 60.0, 20_000.0
"""Laps [m] that can be."""
_INFIELD = 0.6
"""Share of half the lap's extent within which a place is in the infield and not on the road."""
_THINNEST = 1e-3
_SECTORS = 72
_ROUNDS = 3
_DENSE = 0.25
_GRID = 2.0
_FAR, _NEAR = 5.0, 2.0
"""A place further off than so many times the usual, and than so many meters, does not count."""
_WHOLE = 0.95
_FEWEST = 24


@dataclass(frozen=True, eq=False)
class Followed:
    """A lap found in places read around it.

    `curvature` [1/m] begins at the first place and closes; `hand` is 1 for left, `laps` how often it was gone
    around. `kept` are the places that count, `at` their distances along the curve [m] and `scatter` their
    root mean square distance from it [m].
    """

    curvature: Profile
    hand: int
    laps: float
    at: Array
    kept: Array
    scatter: float

    @property
    def length(self) -> float:
        """Length of the lap [m]."""
        return float(self.curvature.x[-1])


def follow(x: Array, y: Array) -> Followed:
    """The lap that places x, y [m], in the order they were read, go around.

    The road must lie around one point from which all of it can be seen, as that of an oval does. Raises
    ValueError, one sentence, when the places are no lap.
    """
    places = np.column_stack([x - np.median(x), y - np.median(y)]) if len(x) else np.zeros((0, 2))
    if len(places) < _FEWEST:
        raise ValueError(
            f"{len(places)} places are too few for a lap; {_FEWEST} or more all around are enough"
        )
    seen = _about_middle(places)
    on_road = np.hypot(*seen.T) > _INFIELD
    angle, laps, hand = _around(seen[on_road])
    curve, period = _first_loop(places[on_road], angle, hand)
    kept = on_road
    for _ in range(_ROUNDS):
        at, _ = _nearest(curve, period, places)
        curve = smoothed(at[kept], places[kept], period, finest=FINEST)
        curve, period = _by_length(curve, period)
        _, off = _nearest(curve, period, places)
        kept = on_road & (np.abs(off) <= max(_FAR * np.median(np.abs(off[on_road])), _NEAR))
    at, off = _nearest(curve, period, places)
    start = float(at[kept][0])
    scatter = float(np.sqrt(np.mean(off[kept] ** 2)))
    curvature = closed(_curvature(curve, period, start), hand)
    return Followed(curvature, hand, laps, np.mod(at[kept] - start, period), kept, scatter)


def _about_middle(places: Array) -> Array:
    """Places seen from the middle of the lap along its two axes, in shares of half its extent."""
    low, high = np.quantile(places, [0.02, 0.98], axis=0)
    out = places - 0.5 * (low + high)
    _, axes = np.linalg.eigh(out.T @ out)
    axes[:, 0] *= np.sign(np.linalg.det(axes))
    turned = out @ axes
    half = 0.5 * np.diff(np.quantile(turned, [0.02, 0.98], axis=0), axis=0)
    if half.min() <= _THINNEST * half.max():
        raise ValueError("the places lie on one line; go all around the lap")
    seen: Array = turned / half
    return seen


def _around(seen: Array) -> tuple[Array, float, int]:
    """Angle of each place about the middle [rad], how often it goes around, and which way."""
    angle = np.unwrap(np.arctan2(seen[:, 1], seen[:, 0]))
    turned = float(angle[-1] - angle[0]) / (2.0 * np.pi)
    if abs(turned) < _WHOLE:
        raise ValueError(f"the places go around {100.0 * abs(turned):.0f} % of a lap; go all around it once")
    backward = np.max(np.maximum.accumulate(np.sign(turned) * angle) - np.sign(turned) * angle)
    if backward > 0.5 * np.pi:
        raise ValueError("the places turn back on themselves; keep to laps driven or walked one way around")
    return angle, abs(turned), 1 if turned > 0.0 else -1


def _first_loop(places: Array, angle: Array, hand: int) -> tuple[BSpline, float]:
    """A first closed curve: the middle of the places in each sector, joined in the order they are passed."""
    sector = np.floor(np.mod(hand * angle, 2.0 * np.pi) / (2.0 * np.pi) * _SECTORS).astype(int)
    sector = np.clip(sector, 0, _SECTORS - 1)
    filled = np.unique(sector)
    corners = np.array([np.median(places[sector == one], axis=0) for one in filled])
    ring = np.vstack([corners, corners[:1]])
    gone = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))))
    period = float(gone[-1])
    if not SHORTEST <= period <= LONGEST:
        raise ValueError(
            f"a lap of {period:.0f} m is no oval; check the units of the places, {SHORTEST:.0f} m to "
            f"{LONGEST / 1000.0:.0f} km can be"
        )
    fine = np.arange(0.0, period, 1.0)
    loop = np.column_stack([np.interp(fine, gone, ring[:, axis]) for axis in (0, 1)])
    return _by_length(smoothed(fine, loop, period, finest=FINEST), period)


def _by_length(curve: BSpline, period: float) -> tuple[BSpline, float]:
    """The same curve counted by its own length."""
    parameter = np.linspace(0.0, period, int(period / _DENSE) + 2)
    speed = np.linalg.norm(curve(0.5 * (parameter[1:] + parameter[:-1]), 1), axis=1)
    gone = np.concatenate(([0.0], np.cumsum(speed * np.diff(parameter))))
    length = float(gone[-1])
    even = np.linspace(0.0, length, int(length) + 2)
    ring = curve(np.interp(even, gone, parameter))
    ring[-1] = ring[0]
    return make_interp_spline(even, ring, k=5, bc_type="periodic"), length


def _nearest(curve: BSpline, period: float, places: Array) -> tuple[Array, Array]:
    """Distance along the curve of its point nearest to each place, and how far left of it that lies [m]."""
    dense = np.arange(0.0, period, _DENSE)
    _, index = cKDTree(curve(dense)).query(places)
    at = dense[index]
    ahead = curve(at, 1)
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    out = places - curve(at)
    at = np.mod(at + np.einsum("ij,ij->i", out, ahead), period)
    return at, ahead[:, 0] * out[:, 1] - ahead[:, 1] * out[:, 0]


def _curvature(curve: BSpline, period: float, start: float) -> Profile:
    """Curvature of the curve from a start on, linear between points two meters apart."""
    count = max(_FEWEST, round(period / _GRID))
    s = np.arange(count) * (period / count)
    first, second = curve(np.mod(s + start, period), 1), curve(np.mod(s + start, period), 2)
    turn = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    values = turn / np.linalg.norm(first, axis=1) ** 3
    return through(s.tolist(), values.tolist(), period, "linear")
