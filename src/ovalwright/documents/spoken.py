"""Answers as a racer writes them, put plainly: corners by name, quarter mile, flat, no bar, 84 1/2".

What is read into them is shown beside the answer, so that a wrong reading is seen (common practice, no
source).
"""

from __future__ import annotations

import re
import unicodedata

from ovalwright.corners import CORNERS

_VULGAR = re.compile("[\u00bc-\u00be\u2150-\u215e]")
_CORNER = re.compile(r"\b(LF|RF|LR|RR)\b\s*[:=]?", re.IGNORECASE)
_RANGE = re.compile(r"(?<![\d/.])(\d+(?:\.\d+)?)(?:\s+to\s+|-)(\d+(?:\.\d+)?)(?=\s*(?:deg\w*|\u00b0)?\s*$)")
_NO_BAR = re.compile(r"(no|none|nope|missing|without|n/?a|-+|0+(\.0*)?)\b.*|-+|0")

_ALWAYS = (
    (r"(?:\b(?:about|around|roughly|approx(?:imately)?|circa|ca)\b\.?|[~\u2248])\s*(?=\S)", ""),
    (r"(?<=\d)\s*-?ish\b|\s+or\s+so\b", ""),
    (r"(?<=\d)\s*(?:\"|\'\'|\u2033|\u201d)", " in"),
    (r"#", " lb"),
    (r"\s+(?:x|\u00d7|and|by)\s+", ", "),
    (r"\.(?=\s|,|$)", ""),
)
_OF_ONE = {
    "size": ((r"\b(?:wheelbase|wb|front|rear|tread)\b\s*[:=]?", " "),),
    "fuel": (
        (r"\s*\b(?:out\s+of|of|in)\b\s*(?=\d)", ", "),
        (r"\bcell\b", ""),
        (r"\b(?:none|empty)\b", "0"),
    ),
    "driver": (
        (r"[\s,(]+(?:yes|yep|yeah|he did)\b\W*$", ""),
        (r"\s+(?:with|in)\s+.*(?:gear|suit|helmet).*$", ""),
    ),
    "springs": (
        (r"(?<![/\w])(?:lbs?|pounds?)\b(?!\s*(?:/|per\b))", "lb/in"),
        (r"\b(?:none|no\s+(?:spring|coil)|no)\b", "0"),
    ),
    "bar": ((r"\bone\b", "1"),),
    "track": (
        (r"\b(?:banked|banking|banks?|with|at|a)\b", " "),
        (r"\bflat\b", ", 0 deg"),
        (r"\bthree[\s-]+eighths?\b", "3/8"),
        (r"\bfive[\s-]+eighths?\b", "5/8"),
        (r"\bquarter\b", "1/4"),
        (r"\bthird\b", "1/3"),
        (r"\bhalf\b", "1/2"),
        (r"\bof\b", " "),
    ),
}
_AXLES = (
    (r"leaf|leaves", "leaf springs"),
    (r"truck", "truck arms"),
    (r"(?:four|4)[\s-]*(?:link|bar)|metric", "four-link"),
    (r"(?:three|3|tri)[\s-]*(?:link|bar|point)|pull[\s-]*bar", "three-link"),
)


def plainly(key: str, text: str) -> str:
    """An answer to the question of that key in numbers, units and commas; "none" for no bar."""
    plain = " ".join(_VULGAR.sub(_fraction, text).split())
    if key == "bar" and _NO_BAR.fullmatch(plain.lower().rstrip(".")):
        return "none"
    plain = _in_order(plain)
    for pattern, said in (*_ALWAYS, *_OF_ONE.get(key, ())):
        plain = re.sub(pattern, said, plain, flags=re.IGNORECASE)
    if key == "fuel":
        plain = _shares_of_the_cell(plain)
    if key == "track":
        plain = _RANGE.sub(lambda found: f"{(float(found[1]) + float(found[2])) / 2:g}", plain)
    return re.sub(r"\s*,(?:\s*,)+\s*", ", ", plain).strip(" ,")


def axle_in(text: str) -> str:
    """What holds the rear axle, by the words in a text; nothing where none is known."""
    return next((axle for pattern, axle in _AXLES if re.search(pattern, text.lower())), "")


def _fraction(found: re.Match[str]) -> str:
    return " " + unicodedata.normalize("NFKC", found[0]).replace("\N{FRACTION SLASH}", "/")


def _in_order(text: str) -> str:
    """Four values that stand behind the names of their corners, in the usual order."""
    pieces = _CORNER.split(text)
    found = {name.upper(): value.strip(" ,;") for name, value in zip(pieces[1::2], pieces[2::2], strict=True)}
    if pieces[0].strip() or tuple(sorted(found)) != tuple(sorted(CORNERS)):
        return text
    return ", ".join(found[corner] for corner in CORNERS)


def _shares_of_the_cell(text: str) -> str:
    """`full, 22 gal` as `22 gal, 22 gal`, `half` as half of it."""
    found = re.fullmatch(r"(full|half)\b[\s,]*(\d+(?:\.\d+)?)(.*)", text, re.IGNORECASE)
    if not found:
        return text
    share = 1.0 if found[1].lower() == "full" else 0.5
    return f"{share * float(found[2]):g}{found[3]}, {found[2]}{found[3]}"
