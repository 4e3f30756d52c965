"""What differs between two documents of one kind, as the racer says it.

`RR spring 225 -> 250 lb/in; LR +1/2 round; RR +0.4 psi`: what is turned is said as a step with its sign, what
is swapped as old -> new, a part by its mark where it has one. What is said of a setup can be read again by
`quick.read_line`. Numbers of parts of the rack are there where the setups are those of an assembly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from ovalwright.corners import CORNERS
from ovalwright.documents import Document, Part, Setup
from ovalwright.documents.part import dotted, kind_of
from ovalwright.documents.setup import LinkShift
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.steps import arrow, step_between
from ovalwright.units import KINDS, Kind, Place, Quantity

SAME = 1e-12
"""Two numbers this near each other, of their size, are one: `1/2 in` and `0.5 in`."""
LONGEST_SAID = 60
"""A text longer than this is said to have changed, not what it was."""

Value = float | tuple[float, ...] | str | bool | None


@dataclass(frozen=True)
class Difference:
    """One thing that differs.

    `key` is where it stands in the document (`RR.coil.rate`), `old` and `new` are SI where they are numbers
    of a `kind` of units, None where there is none; the texts are as typed. `said` is how a racer says it,
    empty where it follows from another difference.
    """

    key: str
    old: Value
    new: Value
    old_text: str
    new_text: str
    said: str
    kind: str = ""


def differences(old: Document, new: Document) -> tuple[Difference, ...]:
    """What must be done to `old` to make it `new`, in the order of the document.

    Raises NotebookTrouble when they are not of one kind.
    """
    if type(old) is not type(new):
        raise NotebookTrouble(
            f"{old.file_name} is a {old.kind_name} and {new.file_name} a {new.kind_name}; "
            "name two documents of one kind."
        )
    found = tuple(_parts(old, new, At((), (), isinstance(new, Setup))))
    weighed_anew = any(one.key == "sheet" for one in found)
    return tuple(_since(one) for one in found) if weighed_anew else found


def _since(one: Difference) -> Difference:
    """Rounds are counted from the sheet: on another one they are no step from those before."""
    if not one.key.endswith(".turned"):
        return one
    rounds = f"{one.key.removesuffix('.turned')} bolt {one.new_text} since the new sheet" if one.new else ""
    return replace(one, said=rounds)


def said(found: Iterable[Difference]) -> str:
    """Differences in one line; empty where nothing differs."""
    return "; ".join(one.said for one in found if one.said)


class At(NamedTuple):
    """Where in a document: its keys, and the words it is called by; in a setup some have their own."""

    path: tuple[str | int, ...]
    names: tuple[str, ...]
    in_setup: bool

    def __truediv__(self, name: str) -> At:
        return At((*self.path, name), (*self.names, name), self.in_setup)

    def item(self, number: int, name: str) -> At:
        """An item of a list, by its id or name."""
        return At((*self.path, number), (*self.names, name), self.in_setup)

    @property
    def key(self) -> str:
        """As it is written in the file."""
        return dotted(self.path)

    @property
    def pattern(self) -> str:
        """`*.coil.rate` for the key of any corner of a setup; nothing in another document."""
        return ".".join("*" if name in CORNERS else name for name in self.names) if self.in_setup else ""

    @property
    def words(self) -> str:
        """As it is called: `RR spring`."""
        called = _CALLED.get(self.pattern)
        if called is None:
            return " ".join(name.strip("_") for name in self.names).replace("_", " ")
        return called.replace("*", self.names[0])


_CALLED = {
    "*.turned": "*",
    "*.jack_bolt": "* jack bolt pitch",
    "*.coil.rate": "* spring",
    "*.coil.free_length": "* spring free length",
    "*.coil.bind_height": "* spring bind height",
    "*.coil.rubber": "* rubber",
    "*.coil.gap": "* spring gap",
    "*.stop.packers": "* packers",
    "*.bump_spring.packers": "* packers",
    "*.bump_spring": "* bump spring",
    "*.bump_spring.gap": "* stop gap",
    "*.tire.cold": "*",
    "*.tire.hot": "* hot",
    "*.tire.roll_out": "* roll-out",
    "*.tire.roll_out_pressure": "* roll-out pressure",
    "*.shock.droop": "* droop",
    "bar.preload": "bar",
    "bar.preload_torque": "bar preload",
    "bar.diameter": "bar",
    "bar.rate": "bar",
    "panhard.frame_height": "panhard frame",
    "panhard.axle_height": "panhard axle",
    "toe_out": "toe out",
    "final_drive": "gear",
    "brake_front": "brake bias",
}
_STEPS = (
    *("*.turned", "*.stop.packers", "*.bump_spring.packers", "*.stop.gap", "*.bump_spring.gap"),
    *("*.tire.cold", "bar.preload"),
)
"""What is turned or let in, and so said as a step."""
_RISES = ("panhard.frame_height", "panhard.axle_height")


# ---------------- any document


def _parts(old: Any, new: Any, at: At, skip: Sequence[str] = ()) -> Iterator[Difference]:
    """Differences of two tables of one kind, of which one may not be there."""
    for name, field in type(old if new is None else new).model_fields.items():
        was, now = getattr(old, name, None), getattr(new, name, None)
        if was == now or name in skip or (name == "document" and not at.path):
            continue
        here = at / name
        own = _OWN_WAY.get(here.pattern)
        yield from own(was, now, here) if own else _between(was, now, here, kind_of(field))


def _between(old: Any, new: Any, at: At, kind: Kind | None) -> Iterator[Difference]:
    either = old if new is None else new
    if isinstance(either, Part):
        if old is None or new is None:
            yield Difference(at.key, None, None, "", "", f"{at.words} {'in' if old is None else 'out'}")
        if new is not None:
            yield from _written(_parts(old, new, at), old)
    elif isinstance(either, (tuple, dict)) and _hold_parts(old, new):
        yield from _items(old, new, at)
    elif isinstance(either, Quantity) and kind is not None:
        yield from _numbers(old, new, at, kind)
    elif isinstance(either, Place):
        yield from _places(old, new, at)
    else:
        yield _texts(old, new, at)


def _written(found: Iterator[Difference], old: Any) -> Iterator[Difference]:
    """Of a table that is new only what is written in it, not the typical values that come with it."""
    return (one for one in found if old is not None or one.new_text)


def _numbers(old: Quantity | None, new: Quantity | None, at: At, kind: Kind) -> Iterator[Difference]:
    """Two quantities, unless they are one number written in two ways."""
    if old and new and math.isclose(old.si, new.si, rel_tol=SAME):
        return
    if old is None and new is not None and not new.known:
        return
    yield _number(old, new, at, kind, _said(old, new, at, kind))


def _number(old: Quantity | None, new: Quantity | None, at: At, kind: Kind, said: str) -> Difference:
    was, now = (one.si if one else None for one in (old, new))
    return Difference(at.key, was, now, _text(old), _text(new), said, kind.name)


def _said(old: Quantity | None, new: Quantity | None, at: At, kind: Kind) -> str:
    if at.pattern == "*.coil.rubber" and (new is None or not new.si):
        return f"{at.words} out"
    step = step_between(old.text, new.text, kind) if old and new else None
    if step and at.pattern in _STEPS:
        return f"{at.words} {step}"
    if step and at.pattern in _RISES:
        return f"{at.words} {'up' if step[0] == '+' else 'down'} {step[1:]}"
    return f"{at.words} {arrow(_text(old) or 'none', _text(new) or 'left out')}"


def _text(value: Quantity | Place | None) -> str:
    return value.text if value else ""


def _places(old: Place | None, new: Place | None, at: At) -> Iterator[Difference]:
    if old and new and all(math.isclose(a, b, rel_tol=SAME) for a, b in zip(old.si, new.si, strict=True)):
        return
    if old is None and new is not None and not new.known:
        return
    was, now = _text(old), _text(new)
    said = f"{at.words} {arrow(was or 'none', now or 'left out')}"
    yield Difference(at.key, old.si if old else None, new.si if new else None, was, now, said, "point")


def _texts(old: Any, new: Any, at: At) -> Difference:
    """Words, dates, counts, true or false; a long text is only said to have changed."""
    was, now = (_plain(one) for one in (old, new))
    said = f"{at.words} {was or 'none'} -> {now or 'left out'}"
    if at.names[-1] == "notes" or max(len(was), len(now)) > LONGEST_SAID or not said.isprintable():
        said = f"{at.words} changed"
    value = tuple(one if isinstance(one, (str, bool, int, float)) else _plain(one) for one in (old, new))
    return Difference(at.key, value[0] if was else None, value[1] if now else None, was, now, said)


def _plain(value: Any) -> str:
    if value is None or isinstance(value, bool):
        return "" if value is None else "yes" if value else "no"
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, (tuple, list)):
        return ", ".join(map(_plain, value))
    return str(value)


def _hold_parts(*lists: Any) -> bool:
    items = [item for held in lists if held for item in (held.values() if isinstance(held, dict) else held)]
    return bool(items) and all(isinstance(item, Part) for item in items)


def _items(old: Any, new: Any, at: At) -> Iterator[Difference]:
    """Lists and tables of parts, matched by key, id or name."""
    were, are = _named(old, at), _named(new, at)
    for name in [*were, *(name for name in are if name not in were)]:
        here, was = were.get(name, (at, None))
        here, now = are.get(name, (here, None))
        if was is None or now is None:
            word = "added" if was is None else "removed"
            yield Difference(here.key, None, None, "", "", f"{here.words} {word}")
        elif was != now:
            yield from _parts(was, now, here)


def _named(items: Any, at: At) -> dict[str, tuple[At, Any]]:
    """Items with their places; by their number where key, id or name do not tell them apart."""
    if isinstance(items, dict):
        return {name: (at / name, item) for name, item in items.items()}
    names = [getattr(item, "id", None) or getattr(item, "name", None) for item in items or ()]
    if len(set(names)) < len(names) or None in names:
        names = [str(number + 1) for number in range(len(names))]
    return {str(name): (at.item(i, str(name)), items[i]) for i, name in enumerate(names)}


# ---------------- a setup


@dataclass(frozen=True)
class _Swap:
    """A part that may be one of the rack: `mark` is the key of its id, `main` the keys of what it is told by
    where it has none, `carried` those of the numbers it brings along; `called` and, when it is out, `gone`.
    """

    mark: str
    called: str
    main: tuple[str, ...]
    carried: tuple[str, ...]
    gone: str = ""


_COIL = _Swap("spring", "* spring", ("rate",), ("rate", "free_length", "bind_height"), "* no spring")
_TIRE = _Swap(
    *("tire", "* tire", ("roll_out",)),
    ("roll_out", "roll_out_pressure", "construction", "growth", "grip", "width"),
)
_SHOCK = _Swap("shock", "* shock", (), ("gas_force",))
_BAR = _Swap(
    *("bar", "bar", ("diameter", "rate")), ("diameter", "bore", "length", "arm", "rate"), "bar off"
)  # fmt: skip


def mark_said(mark: str) -> str:
    """A part by its mark; one that could be taken for an amount is said to be a mark."""
    return f"mark {mark}" if mark[:1].isdigit() or mark[:1] in "+-." else mark


def _swapped(how: _Swap, old: Any, new: Any, at: At, *, skip: tuple[str, ...] = ()) -> Iterator[Difference]:
    """The part swapped as a whole, then what else was changed on it."""
    was, now = ((getattr(one, how.mark) or "") if one else "" for one in (old, new))
    if was != now or old is None or new is None:
        yield _swap(how, (old, was), (new, now), at)
        skip += how.carried if now else how.main
    if new is not None:
        yield from _written(_parts(old, new, at, (how.mark, *skip)), old)


def _swap(how: _Swap, old: tuple[Any, str], new: tuple[Any, str], at: At) -> Difference:
    (was, by), (now, by_now) = ((part, _told_by(how, part)) for part, _ in (old, new))
    texts = [
        _part_text(part, mark, size) for (part, mark), size in zip((old, new), (by, by_now), strict=True)
    ]
    called = (how.called if now else how.gone).replace("*", at.names[0])
    under = "" if now is None else f".{how.mark}" if new[1] else f".{_main_key(how, now)}"
    return Difference(
        key=at.key + under,
        old=by.si if by else old[1] or None,
        new=by_now.si if by_now else new[1] or None,
        old_text=texts[0] if was else "",
        new_text=texts[1] if now else "",
        said=f"{called} {arrow(*texts)}" if now else called,
        kind=_kind_name(now or was, _main_key(how, now or was)),
    )


def _main_key(how: _Swap, part: Any) -> str:
    return next((name for name in how.main if getattr(part, name)), how.mark)


def _told_by(how: _Swap, part: Any) -> Quantity | None:
    told: Quantity | None = getattr(part, _main_key(how, part)) if part and how.main else None
    return told if isinstance(told, Quantity) else None


def _part_text(part: Any, mark: str, by: Quantity | None) -> str:
    if part is None:
        return "none"
    if not mark:
        return by.text if by else "unmarked"
    return f"{mark_said(mark)} ({by.text})" if by else mark_said(mark)


def _kind_name(part: Any, key: str) -> str:
    kind = kind_of(type(part).model_fields[key])
    return kind.name if kind else ""


def _coil(old: Any, new: Any, at: At) -> Iterator[Difference]:
    return _swapped(_COIL, old, new, at)


def _shock(old: Any, new: Any, at: At) -> Iterator[Difference]:
    return _swapped(_SHOCK, old, new, at)


def _bar(old: Any, new: Any, at: At) -> Iterator[Difference]:
    return _swapped(_BAR, old, new, at)


def _stop(old: Any, new: Any, at: At) -> Iterator[Difference]:
    """A bump stop or bump spring: put in at its gap, taken out, or changed."""
    if old is None and new is not None:
        rate = f"{new.rate.text} at " if at.names[-1] == "bump_spring" else ""
        put_in = _number(None, new.gap, at / "gap", KINDS["gap"], f"{at.words} in: {rate}gap {new.gap.text}")
        yield put_in
        yield from _written(_parts(old, new, at, ("gap", "rate")), old)
    else:
        yield from _between(old, new, at, None)


def _hooked(_: bool | None, new: bool | None, at: At) -> Iterator[Difference]:
    word = "hooked up" if new else "unhooked"
    yield Difference(at.key, not new, new, _plain(not new), _plain(new), f"bar {word}")


ALONG = 1.0
"""Hot and cold pressure that moved alike within this [Pa] moved together."""


def _tire(old: Any, new: Any, at: At) -> Iterator[Difference]:
    """The tire and its pressures: the hot one usually moves along with the cold one, and that goes unsaid."""
    yield from _swapped(_TIRE, old, new, at, skip=("cold", "hot"))
    cold = next(_numbers(old.cold, new.cold, at / "cold", KINDS["pressure"]), None)
    hot = (
        next(_numbers(old.hot, new.hot, at / "hot", KINDS["pressure"]), None) if old.hot or new.hot else None
    )
    along = bool(cold and hot and old.hot and new.hot) and (
        abs(new.cold.si - old.cold.si - new.hot.si + old.hot.si) < ALONG
    )
    if cold:
        alone = (old.hot or new.hot) and not along
        yield replace(cold, said=f"{cold.said} cold") if alone else cold
    if hot:
        yield replace(hot, said="") if along else hot


def _link_shifts(old: Any, new: Any, at: At) -> Iterator[Difference]:
    """Links by the hole or spacer of each end; a link that is not written is where the car has it."""
    for name in [*old, *(name for name in new if name not in old)]:
        was, now = old.get(name, LinkShift()), new.get(name, LinkShift())
        for end in ("frame", "axle"):
            one, other = getattr(was, f"{end}_up"), getattr(now, f"{end}_up")
            if math.isclose(one.si, other.si, rel_tol=SAME):
                continue
            hole = f"{name.replace('_', ' ')} {end} hole"
            step = step_between(one.text, other.text, KINDS["shift"])
            way = "up" if other.si > one.si else "down"
            said = f"{hole} {way} {step[1:]}" if step else f"{hole} {arrow(one.text, other.text)}"
            yield _number(one, other, at / name / f"{end}_up", KINDS["shift"], said)


def _lead(old: Any, new: Any, at: At) -> Iterator[Difference]:
    """Lead by piece: taken out, put in, moved, weighed anew."""
    were, are = _named(old, at), _named(new, at)
    for name, (here, was) in were.items():
        if name not in are:
            yield Difference(here.key, was.mass.si, None, was.mass.text, "", f"lead {name} out", "mass")
    for name, (here, now) in are.items():
        if name not in were:
            said = f"lead {name} added: {now.mass.text} at {now.place.text}"
            yield Difference(here.key, None, now.mass.si, "", now.mass.text, said, "mass")
            continue
        was = were[name][1]
        for moved in _places(was.place, now.place, here / "place"):
            yield replace(moved, said=f"lead {name} moved to {now.place.text}")
        for one in _numbers(was.mass, now.mass, here / "mass", KINDS["mass"]):
            yield replace(one, said=f"lead {name} {arrow(was.mass.text, now.mass.text)}")


_OWN_WAY: Mapping[str, Callable[[Any, Any, At], Iterator[Difference]]] = {
    "*.coil": _coil,
    "*.tire": _tire,
    "*.shock": _shock,
    "*.stop": _stop,
    "*.bump_spring": _stop,
    "bar": _bar,
    "bar.hooked": _hooked,
    "link_shift": _link_shifts,
    "lead": _lead,
}
