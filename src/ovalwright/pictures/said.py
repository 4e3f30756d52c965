"""Numbers as they stand on a drawing: rounded in one place, a true minus, never a negative nothing."""

from __future__ import annotations

import math

from ovalwright.units import INCH, LBF

POUND = LBF
MINUS = "\u2212"
JUST = 0.03
"""Gaps below this [in] are told in words."""


def number(value: float, places: int = 0, *, sign: bool = False) -> str:
    """A number with so many decimals; `sign` shows a plus as well."""
    text = f"{abs(value):,.{places}f}"
    if not any(digit in text for digit in "123456789"):
        return text
    return f"{MINUS if value < 0.0 else '+' if sign else ''}{text}"


def pounds(newtons: float) -> str:
    """A force in whole pounds, without the unit."""
    return number(newtons / POUND)


def percent(share: float) -> str:
    """A share in percent with one decimal, without the sign."""
    return number(100.0 * share, 1)


def degrees(radians: float, *, sign: bool = False) -> str:
    """An angle with one decimal and its degree sign."""
    return f"{number(math.degrees(radians), 1, sign=sign)}\u00b0"


def gap_words(meters: float) -> str:
    """A gap in inches; one too small to measure in words."""
    inches = meters / INCH
    return f"{inches:.2f} in" if inches >= JUST else "just touching"
