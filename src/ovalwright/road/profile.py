"""A quantity along one lap as a periodic piecewise polynomial of the distance along the spine."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.interpolate import BPoly, CubicSpline, PchipInterpolator, PPoly

Array = npt.NDArray[np.float64]
Profile: TypeAlias = PPoly
"""Called with distances [m] it gives the quantity there, called with (distances, k) its k-th derivative."""
Given: TypeAlias = float | Sequence[float] | Array | Callable[[Array], Any]

Easement = Literal["linear", "cubic", "quintic"]
_EASED: dict[Easement, tuple[float, ...]] = {
    "linear": (0.0, 1.0),
    "cubic": (0.0, 0.0, 3.0, -2.0),
    "quintic": (0.0, 0.0, 0.0, 10.0, -15.0, 6.0),
}
"""Share gained against share of the way gone, lowest power first. The slope of the cubic and the quintic,
and the bend of the quintic too, are nought at both ends."""
_BESIDE = 1e-6
"""Where either side of a place is read [m]."""


def pieced(
    lengths: Sequence[float],
    starts: Sequence[float],
    ends: Sequence[float],
    easement: Easement,
    *,
    first: float = 0.0,
) -> Profile:
    """A profile that goes over each length [m] from its start to its end value, eased as said.

    The first piece begins at the distance `first` [m]; pieces without length are passed over. Raises
    ValueError when no length is left.
    """
    kept = [piece for piece in zip(lengths, starts, ends, strict=True) if piece[0] > 0.0]
    if not kept:
        raise ValueError("a lap without length cannot be; give at least one piece that is longer than nought")
    way, begin, end = (np.array(column) for column in zip(*kept, strict=True))
    rows = np.array([share * (end - begin) / way**power for power, share in enumerate(_EASED[easement])])
    rows[0] += begin
    return _periodic(rows[::-1], first + np.concatenate(([0.0], np.cumsum(way))))


def through(places: Sequence[float], values: Sequence[float], length: float, easement: Easement) -> Profile:
    """A profile of one lap [m] through values at ascending places in [0, length), eased between them."""
    at, held = np.asarray(places, float), np.asarray(values, float)
    ways = np.diff(np.append(at, at[0] + length))
    return pieced(ways.tolist(), held.tolist(), np.roll(held, -1).tolist(), easement, first=float(at[0]))


def faired(places: Array, values: Array, length: float) -> Profile:
    """A profile of one lap [m] through values at ascending places in [0, length), smooth to its bend.

    Slopes are those of a shape-preserving cubic (SciPy's PCHIP, after Fritsch & Carlson 1980), which runs
    past no value; bends are the means of its two sides; quintics join them.
    """
    around = np.concatenate((places[-3:] - length, places, places[:4] + length))
    cubic = PchipInterpolator(around, np.concatenate((values[-3:], values, values[:4])))
    knots = np.append(places, places[0] + length)
    bends = 0.5 * (cubic(knots - _BESIDE, 2) + cubic(knots + _BESIDE, 2))
    joined = BPoly.from_derivatives(knots, np.stack([cubic(knots), cubic(knots, 1), bends], axis=1))
    made = PPoly.from_bernstein_basis(joined)
    return _periodic(made.c, made.x)


def constant(value: float, length: float) -> Profile:
    """The same value all around a lap [m]."""
    return _periodic(np.array([[value]]), np.array([0.0, length]))


def spline(values: Array, length: float) -> Profile:
    """The periodic cubic spline through values spaced evenly around a lap [m], the first at its start."""
    knots = np.linspace(0.0, length, len(values) + 1)
    fitted = CubicSpline(knots, np.append(values, values[0]), bc_type="periodic")
    return _periodic(fitted.c, fitted.x)


def profile_of(given: Given, length: float, *, spacing: float = 1.0) -> Profile:
    """The profile of one lap [m] from a number, evenly spaced values, a function of distance, or a profile.

    A function is read about every `spacing` [m]; through values runs a periodic cubic spline.
    """
    if isinstance(given, PPoly):
        return given
    if callable(given):
        count = max(8, round(length / spacing))
        values = np.zeros(count)
        values[:] = given(np.linspace(0.0, length, count, endpoint=False))
        return spline(values, length)
    held: Array = np.array(given, dtype=np.float64)
    return constant(float(held), length) if held.ndim == 0 else spline(held, length)


def integral(profile: Profile) -> Profile:
    """What a profile adds up to from the start line on; it must add up to nought over the lap."""
    total = profile.antiderivative()
    from_first = _periodic(total.c, total.x)
    return raised(from_first, -float(from_first(0.0)))


def raised(profile: Profile, by: float) -> Profile:
    """The profile with a number added to it."""
    coefficients = profile.c.copy()
    coefficients[-1] += by
    return _periodic(coefficients, profile.x)


def times(profile: Profile, factor: float) -> Profile:
    """The profile multiplied by a number."""
    return _periodic(factor * profile.c, profile.x)


def _periodic(coefficients: Array, breaks: Array) -> Profile:
    return PPoly(coefficients, breaks, extrapolate="periodic")
