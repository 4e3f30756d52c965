"""Text as paper takes it, and the cautions that are printed where work can hurt."""

from __future__ import annotations

import re
import unicodedata

_ENDS_OF_LINES = re.compile("\r\n|[\r\v\f\x85\u2028\u2029]")
_STANDS_FOR_NOTHING = {"Cc": " ", "Cf": "", "Cs": "\ufffd", "Co": "\ufffd", "Cn": "\ufffd"}
_PICTURES = 0x1F000
"""From here on Unicode holds little pictures; no font of the sheets has them."""

STANDS = "Car on stands, on level floor, wheels chocked, before anyone goes under or reaches in."
COILS = "A loaded coil or bump spring is let down with the right tool; nobody stands in its line."
LEAD = "Lead is bolted, marked and safety-wired as the rule book asks; a loose piece is a projectile."
WHEELS = "Wheel fasteners to the torque their maker gives, by hand, and again after the first laps."
MOVING = "Nobody touches a moving car; nobody reaches under one that is held by a jack."
FUEL = "No flame or spark near fuel, an extinguisher in reach; exhaust, brakes and water are hot."
BOOK = "The rule book and the chassis builder come first, before anything printed here."
CLEARANCE = "A prediction is no clearance to drive: look the car over, then try it slowly."


def printable(text: str) -> str:
    """The text with what no paper can show replaced: pictures by their names, strange characters by a mark.

    Line ends become plain ones, tabs and other controls spaces; marks of writing direction are dropped.
    """
    return "".join(_shown(character) for character in _ENDS_OF_LINES.sub("\n", text))


def _shown(character: str) -> str:
    if character == "\n" or " " <= character <= "~":
        return character
    category = unicodedata.category(character)
    if category in _STANDS_FOR_NOTHING:
        return _STANDS_FOR_NOTHING[category]
    if ord(character) >= _PICTURES and category in ("So", "Sk"):
        return f"[{unicodedata.name(character, 'picture').lower()}]"
    return character
