"""Periodic smoothing splines: the smoothest closed curve that readings around a lap bear out."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import BSpline
from scipy.linalg import eigh

from ovalwright.road.profile import Array

_ORDER = 5
_KNOTS_PER_WAVE = 4
_MOST_KNOTS = 480
_TRIED = 60


def smoothed(at: Array, values: Array, period: float, *, finest: float) -> BSpline:
    """The periodic spline of degree five through readings `values` (N,) or (N, D) at distances `at` (N,).

    It minimizes the mean square misfit plus a share of its mean square third derivative (smoothing splines:
    Wahba, *Spline Models for Observational Data*, 1990, from memory). That share is the one of least
    generalized cross-validation (Craven & Wahba, *Numer. Math.* 31 (1979) 377, from memory), and never so
    small that a wave shorter than `finest` [m] keeps half of its height.
    """
    count = int(np.clip(np.ceil(_KNOTS_PER_WAVE * period / finest), 4 * _ORDER, _MOST_KNOTS))
    knots = period / count * np.arange(-_ORDER, count + _ORDER + 1)
    design = BSpline.design_matrix(np.mod(at, period), knots, _ORDER)
    wrap = np.eye(count)[np.arange(count + _ORDER) % count]
    columns = values.reshape(len(at), -1)
    held = wrap.T @ (design.T @ design @ wrap) / len(at)
    seen = wrap.T @ (design.T @ columns) / len(at)
    stiff, modes = eigh(_stiffness(count, period), held + 1e-9 / count * np.eye(count))
    pull = modes.T @ seen
    waves = np.geomspace(finest, period, _TRIED)
    kept = 1.0 / (1.0 + np.outer((waves / (2.0 * np.pi)) ** 6, np.maximum(stiff, 0.0)))
    misfit = np.mean(columns**2, axis=0).sum() + np.einsum("wk,kd->w", kept**2 - 2.0 * kept, pull**2)
    freedom = 1.0 - np.minimum(kept.sum(axis=1) / len(at), 0.999)
    best = kept[int(np.argmin(misfit / freedom**2))]
    weights = wrap @ (modes @ (best[:, None] * pull))
    return BSpline(knots, weights.reshape(-1, *values.shape[1:]), _ORDER, extrapolate="periodic")


def _stiffness(count: int, period: float) -> Array:
    """Mean square third derivative of a periodic spline of degree five, as a form of its coefficients.

    The third derivative is the spline of degree two whose coefficients are the third differences; products of
    its neighboring B-splines integrate to 66, 26 and 1 over 120 (values of the quintic B-spline).
    """
    here = np.eye(count)
    step = np.roll(here, 1, axis=1) - here
    third = np.linalg.matrix_power(step, 3) * (count / period) ** 3
    shared = sum(
        share / 120.0 * np.roll(here, shift, axis=1)
        for shift, share in ((0, 66.0), (1, 26.0), (-1, 26.0), (2, 1.0), (-2, 1.0))
    )
    form: Array = third.T @ shared @ third / count
    return form
