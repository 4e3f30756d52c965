"""Text as paper takes it, and the cautions that are printed where work can hurt."""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right

_ENDS_OF_LINES = re.compile("\r\n|[\r\v\f\x85\u2028\u2029]")
_STANDS_FOR_NOTHING = {"Cc": " ", "Cf": "", "Cs": "\ufffd", "Co": "\ufffd", "Cn": "\ufffd"}
_MODIFIERS = re.compile("[\ufe00-\ufe0f\U0001f3fb-\U0001f3ff]")
DRAWN = (
    "21-4FF 531-60C 621-63A 640-66D 904-97F 10D0-10FF 13A0-13FD 1D00-2040 2054-211E 2126-2151 2153-2184 "
    "2190-23FF 2460-262F 2638-268B 270C-2727 2729-274B 2761-277F 2798-27AF 27B1-27FF 2801-2BFF 2C60-2CFF "
    "AB70-ABBF FB00-FB4F FB52-FB81 FE70-FEFC FFFD-FFFD 1D400-1D7FF"
)
"""Ranges of Unicode that the fonts typst brings along can draw, found by laying out every character."""
_DRAWN = [tuple(int(end, 16) for end in one.split("-")) for one in DRAWN.split()]
_STARTS = [start for start, _ in _DRAWN]


def printable(text: str) -> str:
    """The text with what the fonts of the sheets have no shape for spelled out, so that nothing is lost.

    Pictures become their names (`[chequered flag]`), letters their numbers (`[U+4E2D]`). Line ends become
    plain ones, tabs and other controls spaces; marks of writing direction and of skin are dropped.
    """
    plain = _MODIFIERS.sub("", _ENDS_OF_LINES.sub("\n", text))
    return "".join(_shown(character) for character in plain)


def _shown(character: str) -> str:
    if character == "\n" or " " <= character <= "~":
        return character
    category = unicodedata.category(character)
    if category in _STANDS_FOR_NOTHING:
        return _STANDS_FOR_NOTHING[category]
    if category == "Zs":
        return " "
    if _drawn(ord(character)):
        return character
    name = unicodedata.name(character, "")
    return f"[{name.lower()}]" if category == "So" and name else f"[U+{ord(character):04X}]"


def _drawn(point: int) -> bool:
    place = bisect_right(_STARTS, point) - 1
    return place >= 0 and point <= _DRAWN[place][1]
