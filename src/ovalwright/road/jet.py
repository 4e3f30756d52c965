"""A quantity along the road with its first two derivatives, carried through formulas.

The rules are those of truncated Taylor series (Griewank & Walther, *Evaluating Derivatives*, 2nd ed. 2008,
ch. 13, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Jet:
    """Value, first and second derivative by one variable; arrays of one shape or numbers."""

    value: Array
    first: Array
    second: Array

    def __add__(self, other: Jet) -> Jet:
        return Jet(self.value + other.value, self.first + other.first, self.second + other.second)

    def __sub__(self, other: Jet) -> Jet:
        return self + -other

    def __neg__(self) -> Jet:
        return Jet(-self.value, -self.first, -self.second)

    def __mul__(self, other: Jet) -> Jet:
        second = self.second * other.value + 2.0 * self.first * other.first + self.value * other.second
        return Jet(self.value * other.value, self.first * other.value + self.value * other.first, second)

    def through(self, value: Array, slope: Array, bend: Array) -> Jet:
        """f of this jet, from f, f' and f'' at its value."""
        return Jet(value, slope * self.first, slope * self.second + bend * self.first**2)


def steady(value: float, like: Jet) -> Jet:
    """A constant as long as another jet."""
    none = np.zeros_like(like.value)
    return Jet(none + value, none, none)


def cosine(angle: Jet) -> Jet:
    """Cosine of an angle [rad]."""
    c, s = np.cos(angle.value), np.sin(angle.value)
    return angle.through(c, -s, -c)


def sine(angle: Jet) -> Jet:
    """Sine of an angle [rad]."""
    c, s = np.cos(angle.value), np.sin(angle.value)
    return angle.through(s, c, -s)


def hypotenuse(a: Jet, b: Jet) -> Jet:
    """sqrt(a^2 + b^2), not at nought."""
    square = a * a + b * b
    root = np.sqrt(square.value)
    return square.through(root, 0.5 / root, -0.25 / root**3)


def angle_of(rise: Jet, run: Jet) -> Jet:
    """The angle [rad] whose tangent is rise over run, in its quadrant; not both nought."""
    square = rise.value**2 + run.value**2
    area = run.value * rise.first - rise.value * run.first
    growth = run.value * rise.second - rise.value * run.second
    spread = 2.0 * (rise.value * rise.first + run.value * run.first)
    value = np.arctan2(rise.value, run.value)
    return Jet(value, area / square, (growth - area * spread / square) / square)
