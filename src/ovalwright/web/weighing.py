"""A weighing as it is typed at the pads: its fields, each read by itself, and the documents they make."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import tomlkit
from pydantic import BaseModel, Field, create_model

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, DocumentError, Rules, Sheet, assemble
from ovalwright.units import UnitError
from ovalwright.web.form_fields import quantity_of
from ovalwright.web.troubles import sentence

LONGEST = 200
POUNDS = re.compile(r"\s*(?:#|lbs?|pounds?)\s*\.?$", re.IGNORECASE)
"""Pounds as they are written at the pads, at the end of a weight."""
CORNER_WORDS = {"LF": "left front", "RF": "right front", "LR": "left rear", "RR": "right rear"}


class Asked(NamedTuple):
    """One field: its name in the form, its label, the kind of its quantity, or none for words."""

    key: str
    label: str
    kind: str = ""


def _four(key: str, label: str, kind: str) -> tuple[Asked, ...]:
    return tuple(Asked(key.format(one), label.format(CORNER_WORDS[one]), kind) for one in CORNERS)


PADS = _four("{}", "Weight, {}", "corner_weight")
HEIGHTS = _four("{}_height", "Height, {}", "height")
AGAIN = _four("again_{}", "Read again, {}", "corner_weight")
SWAP = _four("swap_{}", "Pads swapped, {}", "corner_weight")
LEVELS = _four("{}_pad", "Pad higher than the lowest, {}", "gap")
WANTED = _four("{}_wanted", "Height wanted, {}", "height")
FUEL = Asked("fuel", "Fuel in the cell", "volume")
TOTAL = Asked("total", "Total, if the scale shows it", "total_weight")
SCALE = Asked("scale", "Which scale")
CROSS = Asked("cross", "Cross wanted", "share")
RACE = (
    Asked("start_fuel", "Fuel at the start", "volume"),
    Asked("flag_fuel", "Fuel at the flag", "volume"),
    Asked("laps", "Laps", "count"),
)
BOOK = (
    Asked("book_name", "Name of the book"),
    Asked("least", "Total weight at least", "total_weight"),
    Asked("left_most", "Left side at most", "share"),
    Asked("when", "When it is weighed"),
)
MOMENTS = ("always", "start", "after the race")
WORDS = (
    SCALE,
    Asked("driver", "Driver in"),
    Asked("bar", "Bar hooked up"),
    Asked("swapped", "Pads swapped"),
    Asked("bolts_only", "Only jack bolts were turned since the sheet before"),
)
FIELDS = (*PADS, *HEIGHTS, *AGAIN, *SWAP, *LEVELS, *WANTED, FUEL, TOTAL, CROSS, *RACE, *BOOK, *WORDS)
SWAPS = ("LF and RF", "LR and RR", "LF and LR", "RF and RR", "LF and RR", "RF and LR")

BESIDE = ("setup", "book", "reason", "moves", "draft", "version", "press", "aim", "piece", "spot")
"""What is sent beside the fields: the car on the pads, why, lead moved by hand, where it is kept, what was
pressed, which piece of lead to move to which spot.
"""
PASSING = ("draft", "version", "press", "aim", "piece", "spot")
"""What of it is no part of the draft."""

CALLED = {one.key: one.label for one in FIELDS} | {"reason": "Why", "moves": "Lead moved by hand"}
"""What is kept of it, as it is called."""

if TYPE_CHECKING:
    Weighing = BaseModel
else:
    _TEXT: Any = (Annotated[str, Field(max_length=LONGEST)], "")
    Weighing = create_model("Weighing", **dict.fromkeys((*(one.key for one in FIELDS), *BESIDE), _TEXT))


def as_weighed_last(sheet: Sheet) -> dict[str, str]:
    """What the page begins with: the state that the car was weighed in the last time."""
    return {
        "fuel": sheet.fuel.text,
        "scale": sheet.scale,
        "driver": "in" if sheet.driver else "",
        "bar": "hooked" if sheet.bar_hooked else "",
    }


def is_begun(typed: Mapping[str, str], before: Sheet) -> bool:
    """Whether anything is typed or ticked that the page did not begin with."""
    begins = {**as_weighed_last(before), "when": MOMENTS[0], "setup": typed.get("setup", "")}
    ticks = any(typed.get(key, "") != begins[key] for key in ("driver", "bar"))
    return ticks or any(text.strip() not in ("", begins.get(key, "")) for key, text in typed.items())


@dataclass(frozen=True)
class Read:
    """What could be read of the fields: SI values and texts with their unit; of each of the others in one
    sentence what would be right.
    """

    values: Mapping[str, float]
    texts: Mapping[str, str]
    wrong: Mapping[str, str] = field(default_factory=dict)

    def four(self, key: str) -> dict[str, float]:
        """The values of a group that were typed, by corner."""
        named = {corner: key.format(corner) for corner in CORNERS}
        return {corner: self.values[name] for corner, name in named.items() if name in self.values}

    @property
    def has_weights(self) -> bool:
        """Whether all four pads were read."""
        return len(self.four("{}")) == len(CORNERS)


def read(typed: Mapping[str, str]) -> Read:
    """Every field that was filled, with the unit it is usually read in where none was typed."""
    values, texts, wrong = {}, {}, {}
    for one in FIELDS:
        text = typed.get(one.key, "").strip()
        if not text or not one.kind:
            continue
        try:
            values[one.key], texts[one.key] = _value(text, one.kind)
        except UnitError as problem:
            wrong[one.key] = sentence(str(problem))
    return Read(values, texts, wrong)


def _value(text: str, kind: str) -> tuple[float, str]:
    if kind == "count":
        if not text.isdecimal() or len(text) > 4:
            raise UnitError(f'"{text[:20]}" is no number of laps; write such as 40')
        return float(text), text
    return quantity_of(POUNDS.sub(" lb", text) if kind.endswith("_weight") else text, kind)


def sheet_of(read: Read, typed: Mapping[str, str], before: Sheet, *, weights: str = "{}") -> Sheet:
    """The sheet of what was typed; heights that were not measured are those of the sheet before it.

    `weights` names the group of the four: read again, or with pads swapped. Raises DocumentError.
    """
    corners: dict[str, Any] = {}
    for corner in CORNERS:
        was = getattr(before, corner)
        height = read.texts.get(f"{corner}_height") or (was.height.text if was.height else "")
        told = {"weight": read.texts[weights.format(corner)], "height": height,
                "pressure": was.pressure.text if was.pressure else ""}  # fmt: skip
        corners[corner] = {key: text for key, text in told.items() if text}
    head: dict[str, Any] = {
        "document": "sheet",
        "name": before.name,
        "date": dt.date.today(),
        "scale": typed.get("scale", "").strip() or before.scale,
        "fuel": read.texts.get("fuel") or before.fuel.text,
        "driver": bool(typed.get("driver")),
        "bar_hooked": bool(typed.get("bar")),
        "shocks_on": before.shocks_on,
    }
    if before.setup:
        head["setup"] = before.setup
    if "total" in read.texts and weights == "{}":
        head["total"] = read.texts["total"]
    return Sheet.from_text(tomlkit.dumps({**head, **corners}), name="the scales")


def standing_on(
    base: Assembly, sheet: Sheet, changes: Mapping[str, object] = MappingProxyType({})
) -> Assembly:
    """The same car on another sheet, whose weights hold what was turned at the jack bolts since the last, and
    `changes` of the setup. Raises DocumentError.
    """
    turned = [corner for corner in CORNERS if getattr(base.setup, corner).turned.si]
    told = {**{f"{corner}.turned": "0 round" for corner in turned}, **changes}
    setup = base.setup.changed(told) if told else base.setup
    return assemble(setup, car=base.car, sheet=sheet, rack=base.rack)


def cross_stepped(typed: Mapping[str, str], before: Sheet, by: float) -> str:
    """The cross wanted, a step more or less; from what the pads read where none is wanted yet."""
    found = read(typed)
    loads = found.four("{}")
    if not found.has_weights or not sum(loads.values()):
        loads = {corner: getattr(before, corner).weight.si for corner in CORNERS}
    now = (loads["RF"] + loads["LR"]) / sum(loads.values())
    wanted = round(found.values.get("cross", now) / abs(by)) * abs(by) + by
    return f"{100.0 * min(max(wanted, 0.0), 1.0):.1f} %"


def swapped_back(typed: Mapping[str, str], pair: str) -> dict[str, str]:
    """What was typed, two pads of SWAPS the other way round."""
    one, _, other = pair.partition(" and ")
    return {**typed, one: typed[other], other: typed[one]}


def book_of(read: Read, typed: Mapping[str, str]) -> Rules:
    """The rule book of the limits that were typed. Raises DocumentError where there is none."""
    limits = []
    for of, is_, key in (("total_weight", "at least", "least"), ("left_percent", "at most", "left_most")):
        if key in read.wrong:
            raise DocumentError(read.wrong[key])
        if key in read.texts:
            limits.append(
                {"of": of, "is": is_, "value": read.texts[key], "moment": typed.get("when") or "always"}
            )
    if not limits:
        raise DocumentError(
            "no limit of the book is typed; type its least total weight, its most left side, or both"
        )
    name = typed.get("book_name", "").strip() or "My rule book"
    return Rules.from_text(
        tomlkit.dumps({"document": "rules", "name": name, "limits": limits}), name="the book"
    )
