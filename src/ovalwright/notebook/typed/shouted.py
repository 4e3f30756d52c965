"""A line as it is shouted across the pits, taken apart: clauses, corners, amounts.

Clauses are parted by commas, semicolons, line ends, or an "and" before the next thing that is set. A comma
between two digits is a decimal mark, unless spaces or a third number show that three numbers are a place.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from ovalwright.notebook.typed.steps import stepped
from ovalwright.units import Kind, Quantity, UnitError, parse

LONGEST = 1000
"""Characters of a line; nobody shouts more."""


class Unclear(Exception):
    """Why a clause cannot be understood, and what would be right: half a sentence."""


# ---------------- clauses

_DASHES = dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d", "-")
_SPELLED = {
    **_DASHES,
    "\u2192": "->",
    "\u2044": "/",
    "\u2033": '"',
    "\u201d": '"',
    "\u201c": '"',
    "\u00a0": " ",
}
_COMMA_OF_PLACE = "\x1f"
_NUMBER = r"-?(?:(?:\d+ )?\d+/\d+|\d+(?:[.,]\d+)?)"
_PLACE = re.compile(
    rf"(?<![^\s:])(?:({_NUMBER})\s*,\s+({_NUMBER})\s*,\s+({_NUMBER})|(-?\d+(?:\.\d+)?),(-?\d+(?:\.\d+)?),"
    r"(-?\d+(?:\.\d+)?))(?![\d,/])"
)
_NEXT = r"(?:[lr][fr]\b|left|right|front|rear|all|bar|toe|gear|panhard|lead|move|brake)"
_PARTED = re.compile(rf"[;\n]|,(?!\d)|(?<!\d),|\s+and\s+(?={_NEXT})", re.IGNORECASE)
_POLITE = re.compile(r"^(?:(?:please|put|set|make|go|try|give) )+", re.IGNORECASE)
_CORNER_ENDS = re.compile(
    r"(?:^|\s)(?:[lr][fr]|(?:left|right) (?:front|rear)|fronts|rears|lefts|rights)$", re.I
)


def clauses(text: str) -> list[str]:
    """The clauses of a line, white space and typographic signs made plain."""
    plain = "".join(_SPELLED.get(sign, _fraction(sign)) for sign in text).replace("\u2044", "/")
    plain = re.sub(r"(?<=\d)\s*/\s*(?=\d)", "/", re.sub(r"[^\S\n]+", " ", plain))
    plain = re.sub(r"(?<!\S)([+-]) (?=\d)", r"\1", plain)
    plain = _PLACE.sub(_as_place, plain)
    found: list[str] = []
    joined = ""
    for piece in re.split(f"({_PARTED.pattern})", plain, flags=re.IGNORECASE):
        if piece.strip().lower() == "and" and _CORNER_ENDS.search(joined):
            joined += piece
        elif _PARTED.fullmatch(piece) or piece.strip().lower() == "and":
            found.append(joined)
            joined = ""
        else:
            joined += piece
    whole = (clause.replace(_COMMA_OF_PLACE, ",").strip(" \t.!") for clause in (*found, joined))
    return [clause for clause in (part for one in whole for part in _by_corner(one)) if clause]


def _by_corner(clause: str) -> Iterator[str]:
    """`LR +1/2 RR -1/2` is two clauses: one that begins with a corner ends before the next."""
    clause = _POLITE.sub("", clause)
    while match := _NEXT_CORNER.match(clause):
        yield match[0].strip()
        clause = clause[match.end() :].strip()
    yield clause


def _fraction(sign: str) -> str:
    """` 1/2 ` for one sign that is a fraction."""
    if unicodedata.decomposition(sign).startswith("<fraction>"):
        return f" {unicodedata.normalize('NFKC', sign)} "
    return sign


def _as_place(match: re.Match[str]) -> str:
    numbers = [number.replace(",", ".") for number in match.groups() if number is not None]
    return f"{_COMMA_OF_PLACE} ".join(numbers)


# ---------------- corners

_CORNERS = {
    "lf": ("LF",), "left front": ("LF",), "rf": ("RF",), "right front": ("RF",),
    "lr": ("LR",), "left rear": ("LR",), "rr": ("RR",), "right rear": ("RR",),
    "fronts": ("LF", "RF"), "both fronts": ("LF", "RF"), "rears": ("LR", "RR"), "both rears": ("LR", "RR"),
    "lefts": ("LF", "LR"), "left sides": ("LF", "LR"), "rights": ("RF", "RR"), "right sides": ("RF", "RR"),
    "all": ("LF", "RF", "LR", "RR"), "all four": ("LF", "RF", "LR", "RR"),
}  # fmt: skip
_ONE = f"(?:{'|'.join(sorted(_CORNERS, key=len, reverse=True))})(?![a-z])"
_SOME = rf"(?P<who>{_ONE}(?:\s*(?:/|&|\band\b|\s)\s*{_ONE})*)"
_LEADING = re.compile(rf"(?:the )?{_SOME}[\s:=]*(?P<rest>.*)", re.IGNORECASE)
_NEXT_CORNER = re.compile(
    rf"{_ONE}(?:\s*(?:/|&|\band\b|\s)\s*{_ONE})*[\s:=]*(?!{_ONE})\S.*?\s(?={_ONE}[\s:=]+(?!{_ONE})\S)",
    re.IGNORECASE,
)
_TRAILING = re.compile(rf"(?P<rest>.*?) (?:(?:at|on|of) )?(?:the )?{_SOME}", re.IGNORECASE)


def corners_of(clause: str) -> tuple[tuple[str, ...], str]:
    """The corners a clause names, at its beginning or its end, and what else it says."""
    match = _LEADING.fullmatch(clause) or _TRAILING.fullmatch(clause)
    if match is None:
        return (), clause
    named = re.findall(_ONE, match["who"], re.IGNORECASE)
    who = dict.fromkeys(corner for name in named for corner in _CORNERS[name.lower()])
    return tuple(who), match["rest"].strip()


# ---------------- amounts

_UNITS = {
    "lb/in": "lb/in", "lbs/in": "lb/in", "n/mm": "N/mm", "psi": "psi", "kpa": "kPa", "bar": "bar",
    "rounds": "round", "round": "round", "turns": "round", "turn": "round", "inches": "in", "inch": "in",
    "in": "in", '"': "in", "mm": "mm", "cm": "cm", "degrees": "deg", "degree": "deg", "deg": "deg",
    "°": "deg", "%": "%", "percent": "%", "lb-ft": "lb-ft", "lbs": "lb", "lb": "lb", "pounds": "lb",
    "pound": "lb", "#": "lb", "kg": "kg",
}  # fmt: skip
_UNIT = "|".join(re.escape(unit) for unit in sorted(_UNITS, key=len, reverse=True))
AMOUNT = re.compile(
    r"(?P<by>by )?(?P<sign>[+-]?)\s*(?P<number>\d+[ -]\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)*|\.\d+)"
    rf"(?:\s*(?P<unit>{_UNIT})(?![\w/]))?",
    re.IGNORECASE,
)
_THOUSANDS = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?")
_RATES = ("spring_rate", "stop_rate", "bar_rate", "tire_rate")


@dataclass(frozen=True)
class Amount:
    """A number as typed, with its sign (`+`, `-` or none), its unit or none; `by`: it is a step."""

    sign: str
    number: str
    unit: str
    by: bool

    def text(self, kind: Kind) -> str:
        """Without its sign, as it is written in a file, in the unit of its kind where it has none."""
        unit = self.unit or kind.us
        if unit == "lb" and kind.us == "lb/in":
            unit = "lb/in"
        return f"{self._point(kind)} {unit}".strip()

    def _point(self, kind: Kind) -> str:
        """The number with a decimal point; only a rate goes into the thousands."""
        if _THOUSANDS.fullmatch(self.number) and (kind.name in _RATES or "." in self.number):
            return self.number.replace(",", "")
        if len(re.findall("[.,]", self.number)) > 1:
            raise Unclear(f'"{self.number}" is no one number; write {kind.noun} such as "{kind.example}"')
        return self.number.replace(",", ".")


def read_amount(text: str) -> Amount | None:
    """An amount that is all of a text, else None."""
    match = AMOUNT.fullmatch(text.strip())
    return _amount(match) if match else None


def leading_amount(text: str) -> tuple[Amount, str] | None:
    """An amount at the beginning of a text, and what follows it."""
    match = AMOUNT.match(text)
    return (_amount(match), text[match.end() :].strip().lower()) if match else None


def _amount(match: re.Match[str]) -> Amount:
    return Amount(
        match["sign"], match["number"], _UNITS.get((match["unit"] or "").lower(), ""), bool(match["by"])
    )


def new_text(what: str, kind: Kind, now: Quantity | None, *, signed: bool = False) -> str:
    """What a quantity that is `now` shall be, as it is written in a file.

    `what` is an amount, `old -> new`, or a step with its sign; of a `signed` kind (camber, toe) a sign
    belongs to the amount, and a step is `by +1/4`. Raises Unclear.
    """
    was, arrow, typed = what.rpartition("->")
    amount = read_amount(typed)
    if amount is None:
        raise Unclear(f'"{typed.strip()}" is no amount; write {kind.noun} such as "{kind.example}"')
    try:
        if arrow:
            _check_old(was.strip(), amount, kind, now)
        elif amount.by or (amount.sign and not signed):
            return stepped(_known(now, kind).text, f"{amount.sign}{amount.text(kind)}", kind)
        text = f"{amount.sign.replace('+', '')}{amount.text(kind)}"
        parse(text, kind)
    except UnitError as problem:
        raise Unclear(str(problem)) from None
    return text


def _known(now: Quantity | None, kind: Kind) -> Quantity:
    if now is None or (not now.known and now.si):
        raise Unclear(
            f'the setup does not say what it is now; write the amount itself, such as "{kind.example}"'
        )
    return now


def _check_old(was: str, amount: Amount, kind: Kind, now: Quantity | None) -> None:
    """What is said to have been must be what is."""
    old = read_amount(was)
    if old is None or now is None:
        return
    text = f"{old.sign.replace('+', '')}{Amount('', old.number, old.unit or amount.unit, False).text(kind)}"
    if not math.isclose(parse(text, kind), now.si, rel_tol=1e-9, abs_tol=1e-12):
        raise Unclear(f"it is {now.text} in this setup, not {was}; write the amount it shall be alone")
