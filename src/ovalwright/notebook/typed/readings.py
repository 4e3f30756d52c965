"""Several readings in one field: where one ends and the next begins, in every way that can be meant.

Semicolons, blanks and line ends part readings; so does a comma that has not a digit on either side. One that
stands tight between two digits may group thousands, be a decimal comma or part readings: all three are told,
as far as the figures have the shape for it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

Comma = Literal["thousands", "decimal", "several"]
"""What tight commas are taken for; "several" also where there are none."""

_APART = re.compile(r"[;\n]|(?<!\d),|,(?!\d)")
_TIGHT = re.compile(r"[\d./]+(?:,[\d./]+)+")
"""Figures with commas tight between them."""
_GROUPED = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?")
_DECIMAL = re.compile(r"\d+,\d+")
_ZERO_AHEAD = re.compile(r",0\d")
_LOOSE = re.compile(r"\s*/\s*|^([+\-\u2212])\s+")
_BEGINS = re.compile(r"[+\-\u2212]?[\d.]")
_WHOLE = re.compile(r"[+\-\u2212]?\d+")
_FRACTION = re.compile(r"\d+/\d+")


def parted(typed: str) -> Mapping[Comma, list[str]]:
    """The readings in what was typed, by what its tight commas are taken for."""
    pieces = [piece for piece in _APART.split(typed.strip()) if piece.strip()]
    tight = [one for piece in pieces for one in _TIGHT.findall(piece)]
    found: dict[Comma, list[str]] = {}
    if tight and all(_GROUPED.fullmatch(one) for one in tight):
        found["thousands"] = _by_blanks([piece.replace(",", "") for piece in pieces])
    if tight and all(_DECIMAL.fullmatch(one) for one in tight):
        found["decimal"] = _by_blanks([piece.replace(",", ".") for piece in pieces])
    if not any(map(_ZERO_AHEAD.search, tight)) or not found:
        found["several"] = _by_blanks([one for piece in pieces for one in piece.split(",")])
    return found


def points(typed: str) -> list[str]:
    """The points in what was typed, which have commas of their own."""
    return [" ".join(piece.split()) for piece in re.split(r"[;\n]", typed) if piece.strip()]


def one_number(typed: str) -> str:
    """A single number without its tight commas: thousands where they group them, else a decimal comma."""
    return _TIGHT.sub(
        lambda found: found[0].replace(",", "" if _GROUPED.fullmatch(found[0]) else "."), typed.strip()
    )


def _by_blanks(pieces: list[str]) -> list[str]:
    """Readings parted at blanks: each figure begins one, but for the fraction after a whole number."""
    found: list[str] = []
    for piece in pieces:
        own: list[str] = []
        for word in _LOOSE.sub(lambda glued: glued[1] or "/", piece.strip()).split():
            goes_on = _FRACTION.match(word) and own and _WHOLE.fullmatch(own[-1])
            if own and (goes_on or not _BEGINS.match(word)):
                own[-1] += f" {word}"
            else:
                own.append(word)
        found += own
    return found
