"""Fields of a form as a page shows them: what was typed, an example, and in one sentence what is wrong."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ovalwright.units import KINDS, read_quantity

HAS_UNIT = re.compile(r"[^\W\d_]|[%\"':]")


@dataclass(frozen=True)
class Field:
    """A field as it stands: what was typed, an example of what to type, what is wrong with it, the keypad of
    a phone that is enough for it.
    """

    key: str
    label: str
    value: str
    example: str
    wrong: str = ""
    keypad: str = ""


@dataclass(frozen=True)
class Choice:
    """One of several to choose from."""

    code: str
    name: str
    is_on: bool


def quantity_of(text: str, kind: str) -> tuple[float, str]:
    """SI value of what was typed, and the text with the unit it is usually read in where none was typed.

    Raises UnitError.
    """
    told = text if HAS_UNIT.search(text) else f"{text} {KINDS[kind].us}"
    return read_quantity(told, KINDS[kind]).si, told
