"""Numbers as the trade says them: halves, quarters, eighths and sixteenths for rounds and inches."""

from __future__ import annotations

from fractions import Fraction

FINEST = 64
"""The finest part that is said as a fraction."""
CLOSE = 1e-7
"""A number this near such a fraction is that fraction."""


def as_fraction(value: float) -> str:
    """`1 1/4` for 1.25 and `-1/16` for -0.0625; a number that is no such fraction as the decimal it is."""
    near = Fraction(round(value * FINEST), FINEST)
    return mixed(near) if abs(value - near) <= CLOSE * max(1.0, abs(value)) else f"{value:.6g}"


def mixed(value: Fraction) -> str:
    """A number as a whole and a part, `1 1/4`, where the part is one of the rule's or has no decimal."""
    if FINEST % value.denominator and 10**12 % value.denominator == 0:
        return decimal(value)
    whole, part = divmod(abs(value), 1)
    texts = (str(whole) if whole or not part else "", str(part) if part else "")
    return ("-" if value < 0 else "") + " ".join(filter(None, texts))


def decimal(value: Fraction) -> str:
    """A number as a decimal: exact where it ends within twelve places, else to six figures."""
    scaled = value * 10**12
    if scaled.denominator != 1:
        return f"{float(value):.6g}"
    whole, part = divmod(abs(int(scaled)), 10**12)
    places = f".{part:012d}".rstrip("0").rstrip(".")
    return f"{'-' if value < 0 else ''}{whole}{places}"
