"""What the car measured when it came back, as one line: `LF 776 lb, LR height 5 in, fuel 6 gal`.

Weights and hot pressures are told by their unit, everything else by its word; a bare number is what was read
at the corner before it, or a weight when no other reading is as large. Clauses and corners are those of
`shouted`. The same from a scale sheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ovalwright.corners import CORNERS
from ovalwright.documents import Sheet
from ovalwright.notebook.runs import Read
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.shouted import LONGEST, clauses, corners_of
from ovalwright.study.set_down import KIND_OF
from ovalwright.units import KINDS, Quantity, UnitError, read_quantity

FUEL, DRIVER = "fuel", "driver"
"""Kept with a set-down because the setup is compared at it: fuel left [m3], 1 with the driver in."""
EXAMPLE = "LF 776 lb, LR height 5 in, RR hot 24 psi, stagger 2 1/4 in, fuel 6 gal"
_AT_CORNER = {
    "weight": ("weight", "scale", "scales"),
    "height": ("height", "ride height"),
    "hot": ("hot pressure", "hot", "pressure", "air"),
    "roll_out": ("roll-out", "rollout", "roll out"),
    "camber": ("camber",),
}
_ON_CAR = {
    "cross": ("cross weight", "cross", "wedge"),
    "stagger": ("rear stagger", "stagger"),
    "toe_out": ("toe out", "toe-out", "toe"),
    FUEL: ("fuel left", "fuel"),
}
_BY_UNIT = {"weight": ("lb", "lbs", "pounds", "#", "kg"), "hot": ("psi", "kpa")}
_KINDS = {FUEL: "volume", "stagger": "growth"}
_DRIVER = {"driver in": 1.0, "with driver": 1.0, "driver out": 0.0, "no driver": 0.0, "without driver": 0.0}


def read_set_down(text: str) -> tuple[Read, ...]:
    """The readings of a line. Raises NotebookTrouble that names the clause; nothing is half taken."""
    if len(text) > LONGEST:
        raise NotebookTrouble(f"{len(text)} characters are no set-down; write such as {EXAMPLE}.")
    found: list[Read] = []
    for clause in clauses(text):
        found += _clause(clause, found[-1].what if found else "")
    if not found:
        raise NotebookTrouble(f"nothing was measured; write such as {EXAMPLE}.")
    return _once(tuple(found))


def of_sheet(sheet: Sheet) -> tuple[Read, ...]:
    """The readings of a scale sheet; its pressures are those it was weighed at."""
    found = [_read(FUEL, "", sheet.fuel), Read(DRIVER, float(sheet.driver), taken="set_down")]
    for corner in CORNERS:
        of = getattr(sheet, corner)
        told = {"weight": of.weight, "height": of.height, "hot": of.pressure, "roll_out": of.roll_out}
        found += [_read(what, corner, one) for what, one in told.items() if one is not None]
    return tuple(found)


def _once(found: tuple[Read, ...]) -> tuple[Read, ...]:
    """Raises NotebookTrouble where one thing is said twice."""
    said = set()
    for one in found:
        if (one.what, one.place) in said:
            raise NotebookTrouble(f"{_name(one.what, one.place)} is said twice; say it once.")
        said.add((one.what, one.place))
    return found


def _clause(clause: str, before: str) -> Iterator[Read]:
    """The readings of one clause; `before` is what was read in the one before it."""
    driver = _DRIVER.get(clause.lower())
    if driver is not None:
        yield Read(DRIVER, driver, taken="set_down", typed=clause)
        return
    corners, rest = corners_of(clause)
    what, amount = _split(rest, _AT_CORNER if corners else _ON_CAR)
    if corners and not what:
        what = _by_amount(amount, before)
    if not what:
        words = ", ".join(names[0] for names in (_AT_CORNER if corners else _ON_CAR).values())
        raise NotebookTrouble(f'"{clause[:60]}": says not what was measured; write one of {words}.')
    quantity = _quantity(clause, what, amount)
    yield from (_read(what, corner, quantity) for corner in corners or ("",))


def _split(rest: str, names: dict[str, tuple[str, ...]]) -> tuple[str, str]:
    """What was measured and how much; the word may stand before or behind the amount."""
    plain = rest.lower().strip()
    for what, words in names.items():
        for word in words:
            if plain.startswith(word) and not plain[len(word) :][:1].isalpha():
                return what, rest.strip()[len(word) :].strip(" :=")
            if plain.endswith(f" {word}"):
                return what, rest.strip()[: -len(word)].strip()
    return "", rest.strip()


def _by_amount(amount: str, before: str) -> str:
    """What was read at a corner, by its unit, by what was read before, or by its size."""
    unit = re.sub(r"[\d\s.,/+-]", "", amount).lower()
    if unit:
        return next((what for what, units in _BY_UNIT.items() if unit in units), "")
    if before in _AT_CORNER:
        return before
    return "weight" if re.fullmatch(r"\d{3,4}([.,]\d)?", amount) else ""


def _quantity(clause: str, what: str, amount: str) -> Quantity:
    """How much, in the trade's unit where none is written. Raises NotebookTrouble."""
    kind = KINDS[_KINDS.get(what) or KIND_OF[what]]
    inward = what == "toe_out" and re.match(r"in\b(?=.*\d)", amount)
    told = amount[2:].strip() if inward else amount
    if re.search(r"[\d\u00bc-\u00be]\s*$", told):
        told = f"{told} {kind.us}"
    try:
        return read_quantity(f"-{told}" if inward else told, kind)
    except UnitError as problem:
        raise NotebookTrouble(f'"{clause[:60]}": {problem}.') from None


def _read(what: str, place: str, quantity: Quantity) -> Read:
    return Read(what, quantity.si, place, taken="set_down", typed=quantity.text[:120])


def _name(what: str, place: str) -> str:
    return f"{place} {what.replace('_', '-')}".strip()
