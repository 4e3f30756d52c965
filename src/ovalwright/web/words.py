"""Numbers as the bench shows them: the trade's rounding, a true minus, a unit always."""

from __future__ import annotations

import dataclasses
import math

from ovalwright.units import KINDS, show

NOTHING = "none"
MINUS = "\N{MINUS SIGN}"


def amount(si: float | None, kind: str) -> str:
    """An SI value with its unit; a word where there is none."""
    if si is None or not math.isfinite(si):
        return NOTHING
    return minus(show(si, kind))


def step(si: float, kind: str) -> str:
    """A difference of two values of a kind, with its sign; what rounds to nothing has none."""
    text = show(si, dataclasses.replace(KINDS[kind], span=True))
    if not any(digit in text.split(" ")[0] for digit in "123456789"):
        return text.lstrip("-")
    return minus(text) if text.startswith("-") else f"+{text}"


def counted(number: int, one: str, many: str = "") -> str:
    """`1 run`, `2 runs`."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def minus(text: str) -> str:
    """A number as it is printed: with a minus, not a hyphen."""
    return MINUS + text[1:] if text.startswith("-") else text
