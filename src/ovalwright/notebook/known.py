"""Every number that is known of a car, by its name: what it is, and where it is written."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from typing import Any, Literal

from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Entry, Rack, Setup
from ovalwright.notebook import shelf
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.uncertain import INDIVIDUALS, cause_of, document_entries
from ovalwright.units import Place, Quantity, show

Role = Literal["car", "setup", "sheet", "rack"]

SHELVES = {"spring": "springs", "tire": "tires", "shock": "shocks", "bar": "bars"}
"""Where a rack keeps the parts that a setup names by their marks."""
MEASURED_RATE, TAG = "measured", "tag"
"""Keys of a spring on the rack: as rated, and as its maker marked it."""


SAID = {
    "measured": "measured",
    "maker": "the maker's figure",
    "typical": "typical",
    "scales": "off the scales",
    "unstated": "told",
}
"""Where a number is from, in words."""


@dataclass(frozen=True)
class Lives:
    """Where a number is written: in which document of a setup, under which key; of which `part` of the rack,
    by its kind and mark, or nothing; whether that is a spring that was on the rater.
    """

    role: Role
    key: str
    part: str = ""
    mark: str = ""
    is_rated: bool = False

    @property
    def said(self) -> str:
        """The same for whoever looks for it."""
        if self.mark:
            return f"{self.key.rpartition('.')[2]} of {self.part} {self.mark} on the rack"
        return f"{self.key} in the file of the {self.role}"


@dataclass(frozen=True)
class Held:
    """One number as a setup holds it: its path (`setup.RR.coil.rate`), what it is, where it lives."""

    path: str
    entry: Entry
    lives: Lives

    @property
    def corner(self) -> str:
        """The corner it belongs to, nothing where it belongs to none."""
        return next((part for part in self.path.split(".") if part in CORNERS), "")


@dataclass(frozen=True)
class Number:
    """Something that is measured, by its name (`car.unsprung.axle`, `spring B16.rate`): at one place, or at
    each of several corners of which only the typical is known (`setup.each.tire.growth`).
    """

    name: str
    held: tuple[Held, ...]

    @property
    def first(self) -> Entry:
        """What it is at the first of its places."""
        return self.held[0].entry

    @property
    def is_point(self) -> bool:
        """Whether it is a point of the car."""
        return isinstance(self.first.value, Place)

    @property
    def places(self) -> tuple[str, ...]:
        """What its fields are called: its corners, or nothing for the only one."""
        return tuple(one.corner for one in self.held) if len(self.held) > 1 else ("",)

    def at(self, place: str) -> Held:
        """What is held at one of its places."""
        return self.held[self.places.index(place)]


def numbers(session: Session, setup: Revision) -> dict[str, Number]:
    """Every number behind a setup, by its name. Raises NotebookTrouble, DocumentError."""
    assembly, typed = shelf.assembly_of(session, setup), shelf.setup_of(setup)
    found: dict[str, dict[Lives, Held]] = {}
    for path, entry in document_entries(assembly):
        one = Held(path, entry, _lives(path, typed, assembly.rack))
        found.setdefault(named(cause_of(path, entry.value, assembly)), {}).setdefault(one.lives, one)
    return {name: Number(name, tuple(held.values())) for name, held in found.items()}


def named(cause: str) -> str:
    """The name of a number by the cause of its being uncertain, where a spring without a mark is told by its
    rate as well.
    """
    return cause.split(" ")[0] if cause.startswith("setup.") else cause


def number(session: Session, setup: Revision, name: str) -> Number:
    """A number by its name or its path, or by an end of one that no other has (`sprung.height`,
    `LF.tire.growth`). Raises NotebookTrouble.
    """
    known, told = numbers(session, setup), name.strip()
    by_path = {held.path: _alone(one, held) for one in known.values() for held in one.held}
    every = by_path | known
    ends = [one for one in every if one == told] or [one for one in every if one.endswith(f".{told}")]
    if len({every[one].name for one in ends}) == 1:
        return every[ends[0]]
    near = ends[:4] or difflib.get_close_matches(told, known, n=3, cutoff=0.4)
    hint = f"write {' or '.join(near)}" if near else "look at the list of them"
    raise NotebookTrouble(f'"{told[:60]}" is no one number of setup {setup.code}; {hint}.')


def _alone(of: Number, held: Held) -> Number:
    """One place of a number, by its path; the number itself where it has no other."""
    return of if len(of.held) == 1 else Number(held.path, (held,))


def give_of(entry: Entry) -> str:
    """Half of the 95 % band of a number, as typed or of its worst axis; nothing where it has none."""
    held: Quantity | Place = entry.value
    half = max(held.give_or_take) if isinstance(held, Place) else held.give_or_take
    if held.give_text or not half:
        return held.give_text
    return show(half, replace(entry.kind, span=True))


def _lives(path: str, typed: Setup, rack: Rack) -> Lives:
    role, _, key = path.partition(".")
    if role != "setup":
        return Lives("sheet" if role == "sheet" else "car", key)
    *tables, name = key.split(".")
    holder: Any = typed
    for table in tables:
        holder = getattr(holder, table, None) if "[" not in table else None
    kind = INDIVIDUALS.get(tables[-1], "") if tables else ""
    mark = getattr(holder, kind, None) if holder is not None and kind else None
    if not mark or name in holder.model_fields_set:
        return Lives("setup", key)
    shelved = getattr(rack, SHELVES[kind])
    field = MEASURED_RATE if (kind, name) == ("spring", "rate") else name
    at = next((i for i, part in enumerate(shelved) if part.id == mark), -1)
    if at < 0 or field not in type(shelved[at]).model_fields:
        return Lives("setup", key)
    is_rated = getattr(shelved[at], MEASURED_RATE, None) is not None
    return Lives("rack", f"{SHELVES[kind]}[{at + 1}].{field}", kind, mark, is_rated)
