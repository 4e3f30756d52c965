"""What makes a row of two notebooks the same one, and what a fuller one brings to it.

What stayed at home says nothing: a row is the same whether it came with what is private or without. What it
lacks here is filled in, what is told here never blanked or written over.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from ovalwright.notebook.sharing.bundle import substance
from ovalwright.notebook.sharing.carried import BY_TABLE, Carried, Row, bare

NOT_TOLD = (None, "")


@dataclass(frozen=True)
class Thing:
    """A row with the rows that are part of it, by table, and the text of a revision; `at` is its id here.

    `originals` are the revisions, by uid, beside which others stand that only tell more of what is private.
    """

    carried: Carried
    row: Row
    own: Mapping[str, Sequence[Row]] = field(default_factory=dict)
    text: str = ""
    at: int = 0
    originals: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def content(self) -> object:
        """What makes it what it is, apart from its names and from all that is private."""
        apart = {"uid", *self.carried.loose, *self.carried.private}
        ours = {key: value for key, value in self._plainly(self.row).items() if key not in apart}
        belonging = {
            table: _in_words(table, map(self._plainly, rows), bared=True) for table, rows in self.own.items()
        }
        return sorted(ours.items()), sorted(belonging.items()), substance(self.text) if self.text else ""

    def _plainly(self, row: Row) -> Row:
        """A row that refers to the originals."""
        told = dict(row)
        for key in told:
            while told[key] in self.originals:
                told[key] = self.originals[told[key]]
        return told


@dataclass(frozen=True)
class Gain:
    """What a thing that is here lacks: private `fields` of its own, and rows `anew` by table.

    `differing` are private fields that say something else here, where that makes no clash.
    """

    fields: Row = field(default_factory=dict)
    anew: Mapping[str, Sequence[Row]] = field(default_factory=dict)
    differing: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.fields or self.anew)


def gain(here: Thing, come: Thing) -> Gain | None:
    """What one that has come brings to the same that is here; None where the two contradict each other."""
    if here.content != come.content:
        return None
    fields: Row = {}
    differing: list[str] = []
    for name in sorted(here.carried.private):
        was, told = here.row[name], come.row[name]
        if told in NOT_TOLD or told == was:
            continue
        if was in NOT_TOLD:
            fields[name] = told
        elif name in here.carried.loose:
            differing.append(name)
        else:
            return None
    anew: dict[str, Sequence[Row]] = {}
    for table, rows in come.own.items():
        was, told = _in_words(table, here.own[table]), _in_words(table, rows)
        without = _in_words(table, rows, bared=True)
        if told in (was, without):
            continue
        if was != without:
            return None
        anew[table] = rows
    return Gain(fields, anew, tuple(differing))


def copied(uid: str, content: object) -> str:
    """The uid of a copy: it follows from what it is a copy of and what it says, so that it is known again."""
    return hashlib.sha256(f"{uid} {content!r}".encode()).hexdigest()[:32]


def by_owner(carried: Carried, rows: Iterable[Row]) -> dict[str, list[Row]]:
    """Rows that belong to others, by the uid of their owner."""
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[row[carried.owner]].append(row)
    return found


def _in_words(table: str, rows: Iterable[Row], *, bared: bool = False) -> list[str]:
    """Rows that are part of another as words that can be compared, in whatever order they came."""
    carried = BY_TABLE[table]
    told = (bare(carried, row) for row in rows) if bared else iter(rows)
    return sorted(
        repr(sorted((key, value) for key, value in row.items() if key != carried.owner))
        for row in told
        if row is not None
    )
