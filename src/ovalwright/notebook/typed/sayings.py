"""What one clause of a shouted line means for a setup: a pattern of words and the keys it changes.

`quick` has the table of what may be said; what is said of a corner is in `at_corner`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from typing import Any

from ovalwright.documents import Rack, Setup
from ovalwright.documents.setup import LinkShift
from ovalwright.notebook.typed.at_corner import Car, Changes, at_corner, rules
from ovalwright.notebook.typed.shouted import Unclear, corners_of, new_text, read_amount
from ovalwright.units import KINDS, as_fraction

EXAMPLE = "write such as RR +1/2, LR 12.5 psi, RF spring 250"


def meaning(words: str, setup: Setup, rack: Rack | None) -> Changes:
    """What a clause changes; marks and spots are looked up on the rack where it is known. Raises Unclear."""
    car = Car(setup, rack)
    for pattern, rule in _OF_THE_CAR:
        if match := pattern.fullmatch(words):
            return rule(car, match)
    who, rest = corners_of(words)
    changes: Changes = {}
    for corner in who:
        changes |= at_corner(car, corner, rest)
    if who:
        return changes
    why = next((why for word, why in _NOT_SET.items() if re.search(word, words, re.IGNORECASE)), "")
    raise Unclear(why or f"names nothing that is set; {EXAMPLE}")


def _no_bar(_: Car, __: re.Match[str]) -> Changes:
    return {"bar": "none"}


def _hooked(hooked: bool) -> Callable[..., Changes]:
    def rule(car: Car, _: re.Match[str]) -> Changes:
        _needs_bar(car)
        return {"bar.hooked": hooked}

    return rule


def _needs_bar(car: Car) -> Any:
    if car.setup.bar is None:
        raise Unclear("there is no bar in this setup; write such as bar 1 1/8 in")
    return car.setup.bar


def _bar(car: Car, match: re.Match[str]) -> Changes:
    """A bar by its mark, size or rate; a step is rounds of preload."""
    bar, what = car.setup.bar, match["what"]
    amount = read_amount(what.rpartition("->")[2])
    if amount and amount.sign and "->" not in what:
        return _preload(car, match)
    if car.marked(what, "bars"):
        key, text = "bar", car.mark(what, "bars", bar.bar if bar else None, "bar")
    else:
        key = "rate" if amount and amount.unit in ("lb/in", "N/mm") else "diameter"
        kind = KINDS["bar_rate" if key == "rate" else "bar_size"]
        car.check_old(what, bar.bar if bar else None)
        text = new_text(what, kind, getattr(bar, key) if bar else None)
    return {f"bar.{key}": text} if bar else {"bar": {key: text}}


def _preload(car: Car, match: re.Match[str]) -> Changes:
    bar = _needs_bar(car)
    if bar.preload_torque is not None:
        raise Unclear("the preload of this setup is a torque; change preload_torque in the setup")
    return {"bar.preload": new_text(match["what"], KINDS["rounds"], bar.preload)}


def _arm(car: Car, match: re.Match[str]) -> Changes:
    return {"bar.arm": new_text(match["what"], KINDS["bar_length"], _needs_bar(car).arm)}


def _toe(car: Car, match: re.Match[str]) -> Changes:
    what = match["what"]
    if match["way"].lower() == "in":
        amount = read_amount(what)
        if amount is None:
            raise Unclear("does not say how much; write such as toe in 1/8 in")
        flipped = "" if amount.sign == "-" else "-"
        what = f"{'by ' if amount.by else ''}{flipped}{amount.number} {amount.unit}".strip()
    return {"toe_out": new_text(what, KINDS["toe"], car.setup.toe_out, signed=True)}


def _toe_after(car: Car, match: re.Match[str]) -> Changes:
    """`toe 1/8 out`; but `toe 1/8 in` may be inches or toe-in, and is asked back."""
    amount = read_amount(match["what"])
    if match["way"].lower() == "in" and (amount is None or not amount.unit):
        return _which_toe(car, match)
    return _toe(car, match)


def _which_toe(_: Car, __: re.Match[str]) -> Changes:
    raise Unclear("does not say which way; write such as toe out 1/8 in, or toe in 1/8 in")


def _plain(key: str, kind: str, *, signed: bool = False) -> Callable[..., Changes]:
    def rule(car: Car, match: re.Match[str]) -> Changes:
        return {key: new_text(match["what"], KINDS[kind], getattr(car.setup, key), signed=signed)}

    return rule


def _panhard(car: Car, match: re.Match[str]) -> Changes:
    """One end or both: a height above ground, or up and down from where it is, by height or by hole."""
    ends = [match["end"].lower()] if match["end"] else ["frame", "axle"]
    step = _way(match)
    heights = [getattr(car.setup.panhard, f"{end}_height") for end in ends]
    if step is None and not match["end"]:
        raise Unclear("does not say which end; write such as panhard frame 10 1/4 in, or panhard up 1/4 in")
    if step is not None and (match["hole"] or None in heights):
        return _shifted(car, "panhard", ends, step)
    return {
        f"panhard.{end}_height": new_text(step or match["what"], KINDS["height"], height)
        for end, height in zip(ends, heights, strict=True)
    }


def _link(car: Car, match: re.Match[str]) -> Changes:
    step = _way(match)
    assert step is not None
    return _shifted(car, _link_named(car, match["link"]), [match["end"].lower()], step)


def _hole(car: Car, match: re.Match[str]) -> Changes:
    """`old -> new` of how far an end sits above the point of the car."""
    name, end = _link_named(car, match["link"]), match["end"].lower()
    now = getattr(car.setup.link_shift.get(name, LinkShift()), f"{end}_up")
    return {f"link_shift.{name}.{end}_up": new_text(match["what"], KINDS["shift"], now, signed=True)}


def _link_named(car: Car, words: str) -> str:
    """The key of a link called by its words; one the setup does not name goes by them."""
    name = words.strip().lower().replace(" ", "_")
    return next((one for one in car.setup.link_shift if one.lower() == name), name)


def _way(match: re.Match[str]) -> str | None:
    """A step from up or down, or from its sign; None for an amount that is a height."""
    way, amount = (match["way"] or "").lower(), read_amount(match["what"])
    if amount is None or not (way or amount.sign):
        if way:
            raise Unclear("does not say how far; write such as panhard up 1/4 in")
        return None
    if way and amount.sign:
        raise Unclear("says its way twice; write such as panhard up 1/4 in")
    sign = amount.sign or ("+" if way == "up" else "-")
    return f"{sign}{amount.number} {amount.unit}".strip()


def _shifted(car: Car, name: str, ends: Sequence[str], step: str) -> Changes:
    now = car.setup.link_shift.get(name, LinkShift())
    return {
        f"link_shift.{name}.{end}_up": new_text(step, KINDS["shift"], getattr(now, f"{end}_up"))
        for end in ends
    }


# ---------------- lead


def _lead_out(car: Car, match: re.Match[str]) -> Changes:
    number = _piece(car, match["id"])
    return {"lead": [one for i, one in enumerate(_pieces(car)) if i != number]}


def _lead_moved(car: Car, match: re.Match[str]) -> Changes:
    number = _piece(car, match["id"])
    return {f"lead[{number + 1}].place": _place(car, match["place"])}


def _lead_weighed(car: Car, match: re.Match[str]) -> Changes:
    number = _piece(car, match["id"])
    text = new_text(match["what"], KINDS["mass"], car.setup.lead[number].mass)
    return {f"lead[{number + 1}].mass": text}


def _lead_added(car: Car, match: re.Match[str]) -> Changes:
    name = match["id"].strip("\"' ")
    if name.lower() in (piece.id.lower() for piece in car.setup.lead):
        raise Unclear(f"{name} is in the car already; write move {name} to another place")
    mass = new_text(match["what"], KINDS["mass"], None) if match["what"] else _mass_on_rack(car, name)
    return {"lead": [*_pieces(car), {"id": name, "mass": mass, "place": _place(car, match["place"])}]}


def _pieces(car: Car) -> list[dict[str, Any]]:
    return [piece.model_dump(exclude_unset=True) for piece in car.setup.lead]


def _piece(car: Car, typed: str) -> int:
    """The number of a piece in the car, from none."""
    ids = [piece.id.lower() for piece in car.setup.lead]
    name = typed.strip("\"' ").lower()
    if name in ids:
        return ids.index(name)
    near = difflib.get_close_matches(name, ids, n=2) or ids[:4]
    known = " or ".join(car.setup.lead[ids.index(one)].id for one in near)
    raise Unclear(f'no lead "{typed}" is in the car; {f"write {known}" if known else "there is none at all"}')


def _mass_on_rack(car: Car, name: str) -> str:
    """The mass of a piece on the rack, of which alike ones are `L50-1`, `L50-2`."""
    for own in car.rack.lead if car.rack else ():
        if own.id.lower() in (name.lower(), name.lower().rpartition("-")[0]):
            return own.mass.text
    raise Unclear(f"does not say what {name} weighs; write such as lead {name} 30 lb at -24, 25, 7 in")


def _place(car: Car, typed: str) -> str:
    """A point as typed, in inches where it has no unit, or that of a spot on the rack."""
    name = typed.strip("\"' ")
    for spot in car.rack.lead_spots if car.rack else ():
        if spot.id.lower() == name.lower():
            inches = (as_fraction(KINDS["point"].to_us(at.si)) for at in (spot.x, spot.y, spot.z))
            return f"{', '.join(inches)} in"
    point = re.fullmatch(r"(-?\d[^,]*, ?-?\d[^,]*, ?-?\d[\d./ ]*?) ?(in|inches|\"|mm|cm|m|ft)?", name)
    if point is None:
        raise Unclear(
            f'"{name}" is no place; write three numbers such as -24, 25, 7 in, or a spot of the rack'
        )
    return f"{point[1]} {'in' if point[2] in (None, 'inches', chr(34)) else point[2]}"


_LEAD = r"(?:(?:move|take|pull|add) )?lead|move|take|pull"
_BAR = r"(?:sway )?bar"
_OF_THE_CAR = rules(
    (rf"no {_BAR}|{_BAR} (?:off|out|none)", _no_bar),
    (rf"unhook(?:ed)? (?:the )?{_BAR}|{_BAR} unhooked", _hooked(False)),
    (rf"hook(?:ed)? up (?:the )?{_BAR}|{_BAR} hooked(?: up)?", _hooked(True)),
    (rf"{_BAR} arms? (?P<what>.+)", _arm),
    (rf"(?:{_BAR} )?preload (?P<what>.+)", _preload),
    (rf"{_BAR} (?P<what>.+)", _bar),
    (r"toe (?P<way>out|in) (?P<what>.+)", _toe),
    (r"toe (?P<what>.+?) (?P<way>out|in)", _toe_after),
    (r"toe .+", _which_toe),
    (r"rear lead (?P<what>.+)", _plain("rear_lead", "shift", signed=True)),
    (r"(?:(?:rear )?gear|final drive) (?P<what>.+)", _plain("final_drive", "ratio")),
    (r"(?:brake )?bias (?P<what>.+?)(?: front)?", _plain("brake_front", "share")),
    (r"(?P<link>[a-z][\w ]*?) (?P<end>frame|axle) hole (?P<what>.+->.+)", _hole),
    (
        r"(?:panhard(?: bar)?|track bar|j-?bar)(?: (?P<end>frame|axle))?(?: end)?(?P<hole> hole)?"
        r"(?: (?P<way>up|down))? (?P<what>.+)",
        _panhard,
    ),
    (r"(?P<link>[a-z][\w ]*?) (?P<end>frame|axle)(?: end)?(?: hole)? (?P<way>up|down) (?P<what>.+)", _link),
    (rf"(?:{_LEAD}) (?P<id>.+?) out", _lead_out),
    (
        r"(?:add )?lead (?P<id>.+?)(?: added| in)?:?(?: (?P<what>\d[\d.,/ ]* ?(?:lbs?|pounds?|#|kg)?))?"
        r" at (?P<place>.+)",
        _lead_added,
    ),
    (rf"(?:{_LEAD}) (?P<id>.+?) (?:(?:moved )?to )?(?P<place>-?\d[^,]*,.+)", _lead_moved),
    (rf"(?:{_LEAD}) (?P<id>.+?) (?:moved )?to (?P<place>.+)", _lead_moved),
    (r"lead (?P<id>.+?) (?P<what>\d.*)", _lead_weighed),
)
_NOT_SET = {
    r"\bstagger\b": "stagger is not set by itself, it follows from the tires; write such as RR tire T11",
    r"\b(?:cross|wedge|bite)\b": (
        "cross is not set by itself, it follows from bolts, springs and tires; write such as LR +1/2 round"
    ),
    r"\b(?:fuel|gas|gallons?)\b": "fuel is of a run, not of a setup; write it at the run",
    r"\b(?:percent|weight)\b|%": (
        "a percent is not set by itself; move lead, such as move L50-1 -74, 26, 6.5 in"
    ),
    r"\bheights?\b": "a height is not set by itself; turn a bolt, such as RF -1/4 round",
    r"\b(?:driver|laps?|weather|track)\b": "that is of a run, not of a setup; write it at the run",
}
"""What a racer asks for that a setup has no key of, and what he turns instead."""
