"""What is said of a corner in a shouted line, as changes of a setup."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from ovalwright.documents import Rack, Setup
from ovalwright.documents.rack import Owned
from ovalwright.notebook.typed.shouted import Unclear, leading_amount, new_text, read_amount
from ovalwright.notebook.typed.steps import step_between, stepped
from ovalwright.units import KINDS, Quantity, parse, read_exact

Changes = dict[str, object]
Rule = tuple[re.Pattern[str], Callable[..., Changes]]
AT_A_CORNER = "write such as RR +1/2 round, RR 12.5 psi, RR spring 250, RR tire T5, RF camber -3.5"


@dataclass(frozen=True)
class Car:
    """The setup as it is now, and the rack where it is known."""

    setup: Setup
    rack: Rack | None

    def wheel(self, corner: str) -> Any:
        return getattr(self.setup, corner)

    def mark(self, typed: str, shelf: str, now: str | None, what: str) -> str:
        """A mark as it stands on the rack, else as typed. Raises Unclear when it is not on the rack."""
        mark = _bare(typed.rpartition("->")[2])
        self.check_old(typed, now)
        if self.rack is None:
            return mark
        parts: Sequence[Owned] = getattr(self.rack, shelf)
        known = {part.id.lower(): part.id for part in parts}
        if mark.lower() in known:
            return known[mark.lower()]
        near = difflib.get_close_matches(mark.lower(), known, n=2)
        hint = " or ".join(known[name] for name in near) or f"the mark of a {what} on the rack"
        raise Unclear(f'"{mark}" is no {what} on the rack; write {hint}')

    def check_old(self, typed: str, now: str | None) -> None:
        """Raises Unclear where `old -> new` names another mark than the one in this setup."""
        was, arrow, _ = typed.rpartition("->")
        if arrow and now and _bare(was).lower() != now.lower():
            raise Unclear(f"it is {now} in this setup, not {_bare(was)}; write the new one alone")

    def marked(self, typed: str, shelf: str) -> bool:
        """Whether what is typed is meant as a mark: said to be one, on the rack, or no amount."""
        last = typed.rpartition("->")[2].strip()
        on_rack = {part.id.lower() for part in getattr(self.rack, shelf, ())}
        return last.lower().startswith("mark ") or _bare(last).lower() in on_rack or not read_amount(last)


def _bare(text: str) -> str:
    """A mark without the word mark, the number behind it and quotes."""
    return re.sub(r"^(?:mark|no\.?) (?=\S)|\s*\([^()]*\)$", "", text.strip(), flags=re.IGNORECASE).strip(
        "\"' "
    )


def rules(*rows: tuple[str, Callable[..., Any]]) -> tuple[Rule, ...]:
    """Patterns of words, whatever their case, each with what it means."""
    return tuple((re.compile(pattern, re.IGNORECASE), rule) for pattern, rule in rows)


def at_corner(car: Car, corner: str, rest: str) -> Changes:
    """What is said of a corner changes. Raises Unclear."""
    for pattern, rule in _AT_A_CORNER:
        if match := pattern.fullmatch(rest):
            return rule(car, corner, match)
    raise Unclear(f"does not say what to do at {corner}; {AT_A_CORNER}")


def _no_spring(car: Car, corner: str, _: re.Match[str]) -> Changes:
    return {f"{corner}.coil": "none"}


def _spring(car: Car, corner: str, match: re.Match[str]) -> Changes:
    coil, what = car.wheel(corner).coil, match["what"]
    marked, now = car.marked(what, "springs"), coil.spring if coil else None
    if marked:
        text = car.mark(what, "springs", now, "spring")
    else:
        car.check_old(what, now)
        text = new_text(what, KINDS["spring_rate"], _rate(car, coil))
    key = "spring" if marked else "rate"
    return {f"{corner}.coil.{key}": text} if coil else {f"{corner}.coil": {key: text}}


def _rate(car: Car, coil: Any) -> Quantity | None:
    """The rate of a coil as written, else of the spring on the rack."""
    if coil is None or coil.rate is not None:
        return coil.rate if coil else None
    own = [spring.rate for spring in (car.rack.springs if car.rack else ()) if spring.id == coil.spring]
    return own[0] if own else None


def _rubber(car: Car, corner: str, match: re.Match[str]) -> Changes:
    now = _needs_spring(car, corner).rubber
    return {f"{corner}.coil.rubber": new_text(match["what"], KINDS["stop_rate"], now)}


def _no_rubber(car: Car, corner: str, _: re.Match[str]) -> Changes:
    """Its key is taken out; where the file that the setup is like has one, it is written as nothing."""
    coil = _needs_spring(car, corner)
    written = {key: value for key, value in coil.model_dump(exclude_unset=True).items() if value is not None}
    written.pop("rubber", None)
    without: Changes = {f"{corner}.coil": written}
    still = getattr(car.setup.changed(without), corner).coil.rubber
    return {f"{corner}.coil.rubber": "0 lb/in"} if still else without


def _needs_spring(car: Car, corner: str) -> Any:
    coil = car.wheel(corner).coil
    if coil is None:
        raise Unclear(f"{corner} has no spring; write such as {corner} spring 250")
    return coil


def _stop(field: str, kind: str = "gap") -> Callable[..., Changes]:
    def rule(car: Car, corner: str, match: re.Match[str]) -> Changes:
        wheel = car.wheel(corner)
        name = "stop" if wheel.stop else "bump_spring"
        if not hasattr(getattr(wheel, name), field):
            raise Unclear(f"{corner} has none; write such as {corner} stop in: gap 1 3/4 in")
        now = getattr(getattr(wheel, name), field)
        return {f"{corner}.{name}.{field}": new_text(match["what"], KINDS[kind], now)}

    return rule


def _stop_in(_: Car, corner: str, match: re.Match[str]) -> Changes:
    return {f"{corner}.stop": {"gap": new_text(match["what"], KINDS["gap"], None)}}


def _bump_spring_in(_: Car, corner: str, match: re.Match[str]) -> Changes:
    rate = new_text(match["rate"], KINDS["stop_rate"], None)
    return {f"{corner}.bump_spring": {"rate": rate, "gap": new_text(match["what"], KINDS["gap"], None)}}


def _stop_out(car: Car, corner: str, match: re.Match[str]) -> Changes:
    """Whichever is there; what is out already stays out."""
    wheel = car.wheel(corner)
    said = "stop" if wheel.stop and "bump spring" not in match[0].lower() else "bump_spring"
    return {f"{corner}.{said}": "none"} if getattr(wheel, said) else {}


def _tire(car: Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.tire
    if not car.marked(match["what"], "tires"):
        raise Unclear("a tire goes by its mark; write such as LR tire T5")
    return {f"{corner}.tire.tire": car.mark(match["what"], "tires", now, "tire")}


def _shock(car: Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).shock.shock
    return {f"{corner}.shock.shock": car.mark(match["what"], "shocks", now, "shock")}


def _roll_out(car: Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.roll_out
    return {f"{corner}.tire.roll_out": new_text(match["what"], KINDS["roll_out"], now)}


def _angle(name: str) -> Callable[..., Changes]:
    def rule(car: Car, corner: str, match: re.Match[str]) -> Changes:
        if name == "caster" and corner in ("LR", "RR"):
            raise Unclear("caster is of a front wheel; write such as RF caster 5")
        now = getattr(car.wheel(corner), name)
        return {f"{corner}.{name}": new_text(match["what"], KINDS[name], now, signed=True)}

    return rule


def _air_in_words(car: Car, corner: str, match: re.Match[str]) -> Changes:
    """`up 1 psi`, `1/2 psi less`."""
    sign = "+" if match["way"].lower() in ("up", "more") else "-"
    return _cold(car, corner, f"{sign}{match['what']}", alone=False)


def _hot(car: Car, corner: str, match: re.Match[str]) -> Changes:
    now = car.wheel(corner).tire.hot
    return {f"{corner}.tire.hot": new_text(match["what"], KINDS["pressure"], now)}


def _pressure(car: Car, corner: str, match: re.Match[str]) -> Changes:
    return _cold(car, corner, match["what"], alone=bool(match["alone"]))


def _cold(car: Car, corner: str, what: str, *, alone: bool) -> Changes:
    """The cold pressure; the hot one that is written moves along unless cold alone is said."""
    tire, kind = car.wheel(corner).tire, KINDS["pressure"]
    cold = new_text(what, kind, tire.cold)
    changes: Changes = {f"{corner}.tire.cold": cold}
    if tire.hot is not None and not alone:
        step = step_between(tire.cold.text, cold, kind)
        apart = kind.to_us(parse(cold, kind) - tire.cold.si)
        changes[f"{corner}.tire.hot"] = stepped(tire.hot.text, step or f"{apart:.6g} psi", kind)
    return changes


def _amount(car: Car, corner: str, match: re.Match[str]) -> Changes:
    """An amount alone: a pressure by its unit; rounds by theirs, or by a sign."""
    what = match["what"]
    found = leading_amount(what.rpartition("->")[2].strip())
    if found is None:
        raise Unclear(f"does not say what to do at {corner}; {AT_A_CORNER}")
    amount, tail = found
    typed = what[: len(what) - len(tail)].strip()
    if amount.unit in ("psi", "kPa", "bar") and tail in ("", "in", "into", "cold", "hot"):
        if tail == "hot":
            return {f"{corner}.tire.hot": new_text(typed, KINDS["pressure"], car.wheel(corner).tire.hot)}
        return _cold(car, corner, typed, alone=tail == "cold")
    sign = amount.sign or {"in": "+", "into": "+", "out": "-"}.get(tail, "")
    if amount.unit == "round" or (not amount.unit and amount.sign):
        if not sign or tail not in ("", "in", "into", "out") or (amount.sign and tail) or "->" in what:
            raise Unclear(
                f"does not say which way; {corner} +1/2 round loads the coil, -1/2 round unloads it"
            )
        return _rounds(car, corner, f"{sign}{amount.text(KINDS['rounds'])}")
    raise Unclear(f"does not say of what at {corner}; {AT_A_CORNER}")


def _bolt(car: Car, corner: str, match: re.Match[str]) -> Changes:
    amount = read_amount(match["what"])
    if amount and not amount.sign and not read_exact(amount.text(KINDS["rounds"])).number:
        return {f"{corner}.turned": "0 round"}
    if amount is None or not amount.sign or amount.unit not in ("", "round"):
        raise Unclear(f"a jack bolt is turned by rounds with their sign; write {corner} +1/2 round")
    return _rounds(car, corner, f"{amount.sign}{amount.text(KINDS['rounds'])}")


def _rounds(car: Car, corner: str, step: str) -> Changes:
    return {f"{corner}.turned": stepped(car.wheel(corner).turned.text, step, KINDS["rounds"])}


_AT_A_CORNER = rules(
    (r"(?:no|without) (?:bump stop|stop|bump spring)", _stop_out),
    (r"(?:bump stop|stop|bump spring) (?:off|out|none)", _stop_out),
    (r"(?:bump )?stop in:? (?:at )?gap (?P<what>.+)", _stop_in),
    (r"bump spring in:? (?P<rate>.+?) (?:at )?gap (?P<what>.+)", _bump_spring_in),
    (r"(?:bump )?stop k0 (?P<what>.+)", _stop("k0", "stop_rate")),
    (r"(?:bump stop|stop|bump spring) limit (?P<what>.+)", _stop("limit", "travel")),
    (r"bump spring rate (?P<what>.+)", _stop("rate", "stop_rate")),
    (r"(?:no|without) (?:spring|coil)|(?:spring|coil) (?:off|out|none)", _no_spring),
    (r"(?:no|without) (?:spring )?rubber|(?:spring )?rubber (?:off|out|none)", _no_rubber),
    (r"(?:spring )?rubber (?:in )?(?P<what>.+)", _rubber),
    (r"(?:spring|coil) (?P<what>.+)", _spring),
    (r"(?P<what>[+-]?\d.*) spring", _spring),
    (r"packers? (?P<what>.+)", _stop("packers")),
    (r"(?P<what>[+-]?\d.*) packers?", _stop("packers")),
    (r"(?:(?:bump )?stop |bump spring )?gap (?P<what>.+)", _stop("gap")),
    (r"tire (?P<what>.+)", _tire),
    (r"shock (?P<what>.+)", _shock),
    (r"roll-?out (?P<what>.+)", _roll_out),
    (r"camber (?P<what>.+)", _angle("camber")),
    (r"caster (?P<what>.+)", _angle("caster")),
    (r"hot (?:pressure |air )?(?P<what>.+)", _hot),
    (r"(?:air )?(?P<way>up|down) (?P<what>\.?\d\S*(?: \d+/\d+)? ?(?:psi|kpa|bar))", _air_in_words),
    (r"(?P<what>\.?\d\S*(?: \d+/\d+)? ?(?:psi|kpa|bar)) (?P<way>up|down|more|less)", _air_in_words),
    (r"(?:cold |air |pressure )+(?P<what>.+?)(?P<alone> cold)?", _pressure),
    (r"(?:jack bolt|bolt|turned) (?P<what>.+)", _bolt),
    (r"(?P<what>(?:by )?[+-]? ?\.?\d.*)", _amount),
)
