"""Inks, dashes and letters of all pictures: calm colors, each doubled by a dash, a pattern or a letter."""

from __future__ import annotations

from dataclasses import dataclass

PAPER, INK, LABEL, RULE, HAIR = "#FFFFFF", "#14181B", "#474F55", "#757D83", "#DAD7CE"
BAND, ZONE = "#D9D5C9", "#E4DFCF"
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"


@dataclass(frozen=True)
class Pen:
    """How a curve of one lap or setup is drawn."""

    color: str
    dash: tuple[float, ...]
    width: float
    word: str


PENS = (
    Pen(INK, (1, 0), 2.2, "solid"),
    Pen("#0B6A75", (8, 5), 2.0, "dashed"),
    Pen("#9A4A12", (1, 4), 2.4, "dotted"),
    Pen("#6A3D8F", (12, 4, 1, 4), 2.0, "dash and dot"),
    Pen("#1F4FB5", (4, 3), 1.6, "short dashes"),
    Pen("#8A1F4B", (16, 4), 1.6, "long dashes"),
)
"""By the rank of the lap or setup, the one in question first; at least 4.5 to 1 on paper, so that they may
color text too.
"""


@dataclass(frozen=True)
class Ruling:
    """How a stretch is drawn where one thing sets the speed: letter, color, dash on a map, hatch on a lane.

    hatch is any of ``/`` ``\\`` ``|`` ``-`` ``.``, drawn over each other.
    """

    letter: str
    color: str
    tint: str
    dash: tuple[float, ...]
    hatch: str


RULINGS = {
    "power": Ruling("P", "#14181B", "#FFFFFF", (1, 0), ""),
    "front tires": Ruling("F", "#0839C1", "#DDEAF6", (10, 6), "/"),
    "rear tires": Ruling("R", "#AC5B10", "#F8E7D4", (1, 7), "."),
    "front and rear tires together": Ruling("T", "#552674", "#EBE2F2", (12, 6, 1, 6), "/."),
    "brakes": Ruling("B", "#96041F", "#F5DDE6", (3, 5), "|"),
    "revs": Ruling("V", "#498156", "#E2EFE5", (20, 6), "-"),
    "lifting": Ruling("L", "#676F7B", "#E8EBED", (6, 10), "\\"),
}
"""By what sets the speed; colors at least 4.5 to 1 on paper."""


def ruling(word: str) -> Ruling:
    """The ruling of a word; one that is not in the table is drawn plain with its first letter."""
    return RULINGS.get(word) or Ruling(word[:1].upper() or "?", LABEL, PAPER, (2, 2), "")
