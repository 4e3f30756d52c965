"""What one clause of a shouted line means for a setup: a pattern of words and the keys it changes.

`quick` has the table of what may be said.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ovalwright.documents import Rack, Setup
from ovalwright.documents.rack import Owned
from ovalwright.documents.setup import LinkShift
from ovalwright.notebook.shouted import (
    Unclear,
    corners_of,
    leading_amount,
    new_text,
    read_amount,
)
from ovalwright.notebook.steps import step_between, stepped
from ovalwright.units import KINDS, Quantity

Changes = dict[str, object]
Rule = tuple[re.Pattern[str], Callable[..., Changes]]
EXAMPLE = "write such as RR +1/2, LR 12.5 psi, RF spring 250"
AT_A_CORNER = "write such as RR +1/2 round, RR 12.5 psi, RR spring 250, RR tire T5, RF camber -3.5"


def meaning(words: str, setup: Setup, rack: Rack | None) -> Changes:
    """What a clause changes. Raises Unclear."""
    car = _Car(setup, rack)
    for pattern, rule in _OF_THE_CAR:
        if match := pattern.fullmatch(words):
            return rule(car, match)
    for pattern, why in _NOT_SET:
        if pattern.search(words):
            raise Unclear(why)
    who, rest = corners_of(words)
    if not who:
        raise Unclear(f"names nothing that is set; {EXAMPLE}")
    changes: Changes = {}
    for corner in who:
        changes |= _at_corner(car, corner, rest)
    return changes


@dataclass(frozen=True)
class _Car:
    """The setup as it is now, and the rack where it is known."""

    setup: Setup
    rack: Rack | None

    def wheel(self, corner: str) -> Any:
        return getattr(self.setup, corner)

    def mark(self, typed: str, shelf: str, now: str | None, what: str) -> str:
        """A mark as it stands on the rack, else as typed. Raises Unclear when it is not on the rack."""
        was, arrow, mark = (_bare(text) for text in typed.rpartition("->"))
        if arrow and now and was.lower() not in (now.lower(), "none"):
            raise Unclear(f"it is {now} in this setup, not {was}; write the new one alone")
        if self.rack is None:
            return mark
        parts: Sequence[Owned] = getattr(self.rack, shelf)
        known = {part.id.lower(): part.id for part in parts}
        if mark.lower() in known:
            return known[mark.lower()]
        near = difflib.get_close_matches(mark.lower(), known, n=2)
        hint = " or ".join(known[name] for name in near) or f"the mark of a {what} on the rack"
        raise Unclear(f'"{mark}" is no {what} on the rack; write {hint}')

    def marked(self, typed: str, shelf: str) -> bool:
        """Whether what is typed is meant as a mark: said to be one, on the rack, or no amount."""
        last = typed.rpartition("->")[2].strip()
        on_rack = {part.id.lower() for part in getattr(self.rack, shelf, ())}
        return last.lower().startswith("mark ") or _bare(last).lower() in on_rack or not read_amount(last)


def _bare(text: str) -> str:
    """A mark without the word mark, the number behind it and quotes."""
    return re.sub(r"^(?:mark|no\.?) (?=\S)|\s*\([^()]*\)$", "", text.strip(), flags=re.IGNORECASE).strip("\"' ")


def _rules(*rows: tuple[str, Callable[..., Any]]) -> tuple[Rule, ...]:
    return tuple((re.compile(pattern, re.IGNORECASE), rule) for pattern, rule in rows)


# ---------------- at a corner


def _at_corner(car: _Car, corner: str, rest: str) -> Changes:
    for pattern, rule in _AT_A_CORNER:
        if match := pattern.fullmatch(rest):
            return rule(car, corner, match)
    raise Unclear(f"does not say what to do at {corner}; {AT_A_CORNER}")


def _no_spring(car: _Car, corner: str, _: re.Match[str]) -> Changes:
    return {f"{corner}.coil": "none"}


def _spring(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    coil, what = car.wheel(corner).coil, match["what"]
    marked = car.marked(what, "springs")
    text = (
        car.mark(what, "springs", coil.spring if coil else None, "spring")
        if marked
        else new_text(what, KINDS["spring_rate"], coil.rate if coil else None)
    )
    key = "spring" if marked else "rate"
    return {f"{corner}.coil.{key}": text} if coil else {f"{corner}.coil": {key: text}}


def _rubber(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    now = _needs_spring(car, corner).rubber
    return {f"{corner}.coil.rubber": new_text(match["what"], KINDS["stop_rate"], now)}


def _no_rubber(car: _Car, corner: str, _: re.Match[str]) -> Changes:
    """Its key is taken out; where the file that the setup is like has one, it is written as nothing."""
    coil = _needs_spring(car, corner)
    written = {key: value for key, value in coil.model_dump(exclude_unset=True).items() if value is not None}
    written.pop("rubber", None)
    without: Changes = {f"{corner}.coil": written}
    still = getattr(car.setup.changed(without), corner).coil.rubber
    return {f"{corner}.coil.rubber": "0 lb/in"} if still else without


def _needs_spring(car: _Car, corner: str) -> Any:
    coil = car.wheel(corner).coil
    if coil is None:
        raise Unclear(f"{corner} has no spring; write such as {corner} spring 250")
    return coil


def _stop(field: str) -> Callable[..., Changes]:
    def rule(car: _Car, corner: str, match: re.Match[str]) -> Changes:
        wheel = car.wheel(corner)
        name = "stop" if wheel.stop else "bump_spring"
        if getattr(wheel, name) is None:
            raise Unclear(f"{corner} has no bump stop and no bump spring; write one into the setup first")
        now = getattr(getattr(wheel, name), field)
        return {f"{corner}.{name}.{field}": new_text(match["what"], KINDS["gap"], now)}

    return rule


def _no_stop(car: _Car, corner: str, _: re.Match[str]) -> Changes:
    wheel = car.wheel(corner)
    name = "stop" if wheel.stop else "bump_spring"
    if getattr(wheel, name) is None:
        raise Unclear(f"{corner} has no bump stop and no bump spring; leave it out")
    return {f"{corner}.{name}": "none"}


def _tire(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.tire
    if not car.marked(match["what"], "tires"):
        raise Unclear("a tire goes by its mark; write such as LR tire T5")
    return {f"{corner}.tire.tire": car.mark(match["what"], "tires", now, "tire")}


def _shock(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).shock.shock
    return {f"{corner}.shock.shock": car.mark(match["what"], "shocks", now, "shock")}


def _roll_out(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.roll_out
    return {f"{corner}.tire.roll_out": new_text(match["what"], KINDS["roll_out"], now)}


def _angle(name: str) -> Callable[..., Changes]:
    def rule(car: _Car, corner: str, match: re.Match[str]) -> Changes:
        if name == "caster" and corner in ("LR", "RR"):
            raise Unclear("caster is of a front wheel; write such as RF caster 5")
        now = getattr(car.wheel(corner), name)
        return {f"{corner}.{name}": new_text(match["what"], KINDS[name], now, signed=True)}

    return rule


def _hot(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.hot
    return {f"{corner}.tire.hot": new_text(match["what"], KINDS["pressure"], now)}


def _pressure(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    """The cold pressure; the hot one that is written moves along unless cold alone is said."""
    tire, kind = car.wheel(corner).tire, KINDS["pressure"]
    cold = new_text(match["what"], kind, tire.cold)
    changes: Changes = {f"{corner}.tire.cold": cold}
    if tire.hot is not None and not match["cold"]:
        apart = f"{kind.to_us(Quantity(cold, 0.0, 0.0).si):g} psi"
        step = step_between(tire.cold.text, cold, kind) or apart
        changes[f"{corner}.tire.hot"] = stepped(tire.hot.text, step, kind)
    return changes


def _bare_amount(car: _Car, corner: str, match: re.Match[str]) -> Changes:
    """A pressure by its unit; rounds by theirs, or by a sign alone."""
    found = leading_amount(match["what"])
    assert found is not None
    amount, tail = found
    if "->" in match["what"]:
        last = read_amount(match["what"].rpartition("->")[2])
        amount, tail = (last, "") if last else found
    raise Unclear(f"{amount} {tail}")
