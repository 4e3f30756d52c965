"""A clause that compares: a field, over, under, between or is, and a quantity with or without its unit."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ovalwright.corners import CORNERS
from ovalwright.notebook.asked.fields import EXAMPLES, FIELDS, Field
from ovalwright.notebook.asked.question import Clause, Measured, short
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, UnitError, parse, read_number

SAME = 1e-9
"""Two numbers nearer than this share of each other are the same number, typed in two units."""
_TOLD = "tell it as "


_NUMBER_WORDS = r"over|above|more than|at least|under|below|less than|at most|between|from|is|was|of|=|>|<"
_COMPARED = re.compile(
    rf"(?P<field>.*?)(?:^|\s+)(?:(?:is|was|of)\s+)?(?P<how>{_NUMBER_WORDS})(?=\s|\d|$)\s*(?P<value>.*)", re.I
)
_BOTH = re.compile(r"(?P<low>.+?)\s+(?:and|to)\s+(?P<high>.+)", re.I)
_PER_LAPS = re.compile(r"\s*(?:/|per|a|an|in|every)\s*(?P<laps>10|ten)?\s*laps?$", re.I)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2}(?:\.\d+)?)")
_OVER, _AT_LEAST = ("over", "above", "more than", ">"), ("at least",)
_UNDER, _AT_MOST = ("under", "below", "less than", "<"), ("at most",)


def number_clause(piece: str, bare: str) -> Clause | None:
    """A comparison, or a field and its value side by side; None when it is neither."""
    match = _COMPARED.fullmatch(bare)
    if match is None:
        return _side_by_side(piece, bare)
    said, how, value = match["field"].strip(), match["how"].lower(), match["value"].strip()
    fields = FIELDS.get(said.lower()) or (FIELDS["air"] if not said and _is_temperature(value) else ())
    if not fields:
        if not re.match(r"[-+.]?\d", value) or how in ("is", "was", "of", "from"):
            return None
        raise NotebookTrouble(
            f'"{short(piece)}": {_no_field(said)}; ask for {EXAMPLES}, or put words to be found in quotes.'
        )
    if not re.match(r"[-+.]?\d", value):
        if how in ("is", "was", "of", "from"):
            return None
        raise NotebookTrouble(
            f'"{short(piece)}": no number follows; {_TOLD}"{said} {how} {_sample(fields[0])}".'
        )
    return _measured(piece, fields, how, value)


def _side_by_side(piece: str, bare: str) -> Clause | None:
    match = re.fullmatch(r"(?P<field>\D+?)\s+(?P<value>[-+.]?\d.*)", bare)
    fields = FIELDS.get(match["field"].lower()) if match else None
    if match is None or not fields or match["field"].upper() in CORNERS:
        return None
    try:
        return _measured(piece, fields, "is", match["value"])
    except NotebookTrouble:
        return None


def _measured(piece: str, fields: tuple[Field, ...], how: str, value: str) -> Clause:
    if how in ("between", "from"):
        both = _BOTH.fullmatch(value)
        if both is None:
            raise NotebookTrouble(
                f'"{short(piece)}": two numbers are needed; {_TOLD}"between 15.2 and 15.6".'
            )
        last = _typed(piece, fields, both["high"])
        first = _typed(piece, (last.field,), both["low"], unit=last.unit)
        low, high = sorted((first, last), key=lambda one: one.si)
        said = f"between {low.said} and {high.said}"
        return _between(piece, low.field, said, low.si - _same(low.si), high.si + _same(high.si))
    one = _typed(piece, fields, value)
    near = _same(one.si)
    said = f"{how} {one.said}"
    if how in _OVER:
        return _between(piece, one.field, said, one.si + near, None)
    if how in _AT_LEAST:
        return _between(piece, one.field, said, one.si - near, None)
    if how in _UNDER:
        return _between(piece, one.field, said, None, one.si - near)
    if how in _AT_MOST:
        return _between(piece, one.field, said, None, one.si + near)
    half = one.half + near
    return _between(piece, one.field, f"is {one.said}, as near as typed", one.si - half, one.si + half)


def _between(piece: str, field: Field, said: str, low: float | None, high: float | None) -> Measured:
    return Measured(piece, f"{field.said} {said}", field, low, high)


@dataclass(frozen=True)
class _Typed:
    """A quantity: of which field, SI, half a step of its last digit, its unit, and as it is repeated."""

    field: Field
    si: float
    half: float
    unit: str
    said: str


def _typed(piece: str, fields: tuple[Field, ...], value: str, *, unit: str = "") -> _Typed:
    """A quantity read as the first field whose unit it has. Raises NotebookTrouble."""
    said: UnitError | None = None
    for field in fields:
        try:
            return _as_field(field, value, unit)
        except UnitError as problem:
            said = said or problem
    if _is_temperature(value) and fields in [FIELDS[corner.lower()] for corner in CORNERS]:
        raise NotebookTrouble(
            f'"{short(piece)}": tire temperatures stand in each run and are not searched by number; ask for '
            'air or surface, such as "air over 60 F", or look at the run.'
        )
    raise NotebookTrouble(f'"{short(piece)}": {said}.')


def _as_field(field: Field, value: str, unit: str) -> _Typed:
    kind = KINDS[field.kind]
    text, laps = value.rstrip(". "), 10
    if field.keys == ("fall_off",) and (match := _PER_LAPS.search(text)):
        text, laps = text[: match.start()], 10 if match["laps"] else 1
    text = re.sub(r"(?<=\d),(?=\d{1,2}(?!\d))", ".", text)
    if kind.name == "lap_time" and (clock := _CLOCK.match(text)):
        text = f"{60 * int(clock[1]) + float(clock[2])!r}{text[clock.end() :]}"
    number, typed = read_number(text)
    if kind.name == "count" and typed in ("lap", "laps"):
        typed = ""
    if kind.us == "F" and re.fullmatch(r"(?:deg|°)?\s*[fck]", typed):
        typed = typed.upper().replace("DEG", "deg")
    used = typed or unit or kind.us
    figures = text[: len(text) - len(typed)].strip() if typed else text
    scale = 10.0 / laps
    si = parse(f"{figures} {used}".strip(), kind) * scale
    step = abs(parse(f"{_step(figures)!r} {used}".strip(), kind) - parse(f"0 {used}".strip(), kind))
    shown = field.unit or used
    return _Typed(field, si, 0.5 * step * scale, used, f"{number * scale:.10g} {shown}".strip())


def _step(figures: str) -> float:
    """One step of the last digit typed; a fraction is meant to the nearest 1/64."""
    if "/" in figures:
        return 1.0 / 64.0
    return float(10.0 ** -len(figures.partition(".")[2]))


def _same(si: float) -> float:
    return SAME * max(abs(si), SAME)


def _is_temperature(value: str) -> bool:
    return re.fullmatch(r"[-+]?[\d.,]+\s*(?:deg|°)?\s*[FCfc]", value) is not None


def _no_field(said: str) -> str:
    return f'"{short(said)}" is no number of a run or a setup' if said else "it does not say of what"


def _sample(field: Field) -> str:
    return "0.2" if field.unit else KINDS[field.kind].example
