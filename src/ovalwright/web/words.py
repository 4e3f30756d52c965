"""Numbers as the bench shows them: the trade's rounding, a true minus, a unit always."""

from __future__ import annotations

import dataclasses
import math

from ovalwright.units import KINDS, show

NOTHING = "none"
AT_THE_LIMIT, REAR_AGAINST_FRONT = "at the limit", "rear against front"
"""The two scales of tight and loose; whatever is called so names its own."""
TWO_SCALES = (
    f"Tight and loose {AT_THE_LIMIT}: the turning moment that is left over at the greatest side force, in % "
    f"of weight x wheelbase. {REAR_AGAINST_FRONT.capitalize()}: the grip used at the rear less that at the "
    "front where the lap is slowest, in % of grip. The words mean the same on both, the percents do not."
)
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
