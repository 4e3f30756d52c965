"""Numbers as the trade says them: halves, quarters, eighths and sixteenths for rounds and inches."""

from __future__ import annotations

from fractions import Fraction

FINEST = 64
"""The finest part that is said as a fraction."""
CLOSE = 1e-7
"""A number this near such a fraction is that fraction."""


def as_fraction(value: float) -> str:
    """`1 1/4` for 1.25 and `-1/16` for -0.0625; a number that is no such fraction as the decimal it is."""
    parts = round(value * FINEST)
    if abs(value * FINEST - parts) > CLOSE * max(FINEST, abs(value)):
        return f"{value:.6g}"
    whole, part = divmod(abs(parts), FINEST)
    texts = (str(whole) if whole or not part else "", str(Fraction(part, FINEST)) if part else "")
    return ("-" if parts < 0 else "") + " ".join(filter(None, texts))
