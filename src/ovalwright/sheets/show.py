"""What several sheets show alike: values as typed, the four corners, the weighing in short."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from ovalwright.corners import CORNERS
from ovalwright.documents import Car, Sheet
from ovalwright.documents.part import Part, kind_of
from ovalwright.study.legal import Held
from ovalwright.study.scale_sheet import read_sheet
from ovalwright.study.weigh import Estimate
from ovalwright.units import Quantity, System, as_fraction, show

Pair = tuple[str, str]
_HAS_UNIT = re.compile(r"[^\W\d_]|%")


def typed(part: Part, name: str, *, system: System = "us") -> str:
    """A quantity of a document as it was typed; with its unit where only a number was written."""
    value = getattr(part, name)
    if not isinstance(value, Quantity):
        return "" if value is None else str(value)
    kind = kind_of(type(part).model_fields[name])
    if kind is None or not kind.us or _HAS_UNIT.search(value.text):
        return value.text
    return show(value.si, kind, system=system)


def pair(label: str, part: Part, name: str, *, system: System = "us") -> Pair:
    """A label with a quantity; a typical value that stands in for one not written is called so."""
    value = getattr(part, name)
    stands_in = isinstance(value, Quantity) and not value.known
    return f"{label}, typical" if stands_in else label, typed(part, name, system=system)


def written(pairs: Iterable[Pair]) -> Iterator[Pair]:
    """Those that have a value."""
    return (one for one in pairs if one[1])


def stagger(right: Quantity | None, left: Quantity | None, *, system: System = "us") -> str:
    """Right roll-out less left, where both are known."""
    return show(right.si - left.si, "roll_out", system=system) if right and left else ""


def band(estimate: Estimate, kind: str, *, system: System = "us") -> str:
    """A value with half of its 95 % band."""
    number, _, unit = show(estimate.value, kind, system=system).partition(" ")
    half = show(estimate.give_or_take, kind, system=system).split(" ")[0]
    return f"{number} ± {half} {unit}".strip()


def weighed_facts(sheet: Sheet, car: Car, *, system: System = "us") -> list[Pair]:
    """Total, percents and bite of a weighing, in short."""
    weighed = read_sheet(sheet, car).weighed
    return [
        ("total", show(weighed.total.value, "total_weight", system=system)),
        ("left", show(weighed.left_percent.value, "percent", system=system)),
        ("rear", show(weighed.rear_percent.value, "percent", system=system)),
        ("cross", show(weighed.cross_percent.value, "percent", system=system)),
        ("bite, LR less RR", show(weighed.bite.value, "total_weight", system=system)),
    ]


def weighed_how(sheet: Sheet) -> str:
    """The state the car was weighed in, as one line."""
    said = [
        f"{sheet.scale} scale" + (f", {sheet.date.isoformat()}" if sheet.date else ""),
        f"fuel {typed(sheet, 'fuel')}",
        "driver in" if sheet.driver else "without driver",
        f"sway bar {'hooked up' if sheet.bar_hooked else 'unhooked'}",
        f"shocks {'on' if sheet.shocks_on else 'off'}",
    ]
    return "; ".join(said)


def by_corner(part: Part) -> list[tuple[str, Any]]:
    """The four corners of a setup or a weighing."""
    return [(corner, getattr(part, corner)) for corner in CORNERS]


def nearest(held: Sequence[Held]) -> list[Held]:
    """Of one limit that is kept in several places, the one that is nearest to its bound."""
    shown: dict[tuple[str, ...], Held] = {}
    for one in held:
        key = (one.rule, one.says, one.call, one.where if one.call != "inside" else "")
        other = shown.get(key)
        if other is None or abs(one.value - one.bound) < abs(other.value - other.bound):
            shown[key] = one
    return list(shown.values())


def by_the_book(held: Sequence[Held], book: str = "", *, system: System = "us") -> dict[str, Any]:
    """The car held against a book, a line for each limit; what is not inside comes first, in capitals."""
    rows = [
        (
            one.rule,
            one.says,
            one.where,
            show(one.value, one.kind, system=system) if one.kind and math.isfinite(one.value) else "",
            one.call if one.call == "inside" else one.call.upper(),
        )
        for one in nearest(held)
    ]
    return {
        "book": book,
        "head": ("rule", "it says", "at", "the car", "call"),
        "rows": sorted(rows, key=lambda row: row[-1] == "inside"),
    }


def rounds_said(rounds: float) -> str:
    """Rounds as a racer says them: `+1 1/4`; plus loads the coil."""
    if rounds == 0.0:
        return "leave"
    return f"{'+' if rounds > 0 else ''}{as_fraction(rounds)}"


def percent_points(fraction: float) -> str:
    """A change of a percent, with its sign."""
    return f"{100.0 * fraction:+.2f} %"
