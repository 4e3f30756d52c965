"""What of the notebook travels: one description of each table, for bundles out and in and for tables out.

A row is a plain dict here: `uid` names it all over the world, and where it refers to another row it holds the
uid of that. What belongs to one row (the laps of a run) names it as its owner. What is private is blank in a
row whose owner kept it at home.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any, Literal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import FLAGS, KINDS_OF_DOCUMENT
from ovalwright.notebook.garage.parts import LENT
from ovalwright.notebook.runs import FEELS, PHASES, WHENS
from ovalwright.notebook.sharing import csv_text
from ovalwright.notebook.sharing.private import ALL
from ovalwright.notebook.shelf import ROLES
from ovalwright.notebook.tables import (
    CODE_LETTERS,
    Comment,
    Document,
    Event,
    Interval,
    Lap,
    Measurement,
    Moment,
    Part,
    Reading,
    Reference,
    Revision,
    Ridden,
    Run,
    Serviced,
    Stay,
)
from ovalwright.notebook.tables_work import Checklist, CheckRound, Done, Item, PutRight

Row = dict[str, Any]
Bond = Literal["", "whole", "grows", "first"]
"""How rows hang on their owner: `whole` are part of what it is, with `grows` more may come to it later, and
`first` come only together with it.
"""
CHOICES: dict[tuple[str, str], Collection[str]] = {
    ("document", "kind"): KINDS_OF_DOCUMENT,
    ("reference", "role"): ROLES,
    ("lap", "flag"): FLAGS,
    ("reading", "taken"): ("before", "after", "set_down"),
    ("comment", "phase"): PHASES,
    ("comment", "when"): WHENS,
    ("comment", "feel"): FEELS,
    ("interval", "source"): ("maker", "builder", "own", "typical"),
}
_LOCAL = {"id", "entry_id", "version", "sha256"}
TOTALS = frozenset({"laps", "green", "best", "middle", "fall_off", "distance"})
"""What the laps of a run come to; it follows from them and does not travel."""
_AT_ONCE = 500


@dataclass(frozen=True)
class Field:
    """A column that travels: its attribute, its name and form in CSV, and the table that it refers to."""

    key: str
    column: csv_text.Column
    to: str = ""

    @property
    def name(self) -> str:
        """Its name in a table."""
        return self.column.name

    @property
    def blank(self) -> str | None:
        """What stands in its place where it stayed at home."""
        return None if self.column.may_be_empty else ""


@dataclass(frozen=True)
class Carried:
    """A table that travels: its file, the fields it is sorted by, and what is private in it, by its kind.

    What is `loose` may differ in the same row; `owner` is the field that names the owner of a row.
    """

    file: str
    model: Any
    order: tuple[str, ...]
    private: Mapping[str, str] = field(default_factory=dict, hash=False)
    loose: frozenset[str] = frozenset()
    left_out: frozenset[str] = frozenset()
    owner: str = ""
    bond: Bond = ""

    @property
    def table(self) -> str:
        """Name of the table."""
        return str(self.model.__tablename__)

    @cached_property
    def owner_table(self) -> str:
        """The table of the owners of its rows, or nothing."""
        return next((field.to for field in self._all if field.name == self.owner), "")

    @cached_property
    def _all(self) -> tuple[Field, ...]:
        skipped = _LOCAL | self.left_out
        return tuple(
            _field(self.table, attribute.key, attribute.columns[0])
            for attribute in sa.inspect(self.model).column_attrs
            if attribute.key not in skipped
        )

    @cached_property
    def unique(self) -> tuple[tuple[str, ...], ...]:
        """The fields that no two of its rows have alike."""
        table = sa.inspect(self.model).local_table
        alike = [
            [column.key for column in constraint.columns]
            for constraint in table.constraints
            if isinstance(constraint, (sa.UniqueConstraint, sa.PrimaryKeyConstraint))
        ]
        return tuple(tuple(key.removesuffix("_id") for key in keys) for keys in alike if "id" not in keys)

    def fields(self, private: bool) -> tuple[Field, ...]:
        """What travels, with or without what is private."""
        return tuple(field for field in self._all if private or field.name not in self.private)

    def is_hidden(self, field: Field, private: Collection[str]) -> bool:
        """Whether a field stays at home where those kinds of what is private go along."""
        return field.name in self.private and self.private[field.name] not in private


def _field(table: str, key: str, column: sa.Column[Any]) -> Field:
    foreign = next(iter(column.foreign_keys), None)
    to = foreign.column.table.name if foreign is not None else ""
    made = _column(table, key, column, to)
    return Field(key, csv_text.maybe(made) if column.nullable else made, to)


def _column(table: str, key: str, column: sa.Column[Any], to: str) -> csv_text.Column:
    if to == Item.__tablename__:
        return csv_text.like(key.removesuffix("_id"), "[0-9a-f]{32}/[0-9]{1,9}", "uid and number of an item")
    if to or key == "uid":
        return csv_text.like(key.removesuffix("_id"), "[0-9a-f]{32}", "a uid of 32 digits 0 to f")
    if key == "code":
        return csv_text.like(key, f"[{CODE_LETTERS}]{{4,12}}", f"a code of letters {CODE_LETTERS}")
    if (table, key) in CHOICES:
        return csv_text.one_of(key, *CHOICES[table, key])
    if isinstance(column.type, Moment):
        return csv_text.moment(key)
    if isinstance(column.type, sa.String) and column.type.length:
        return csv_text.text(key, column.type.length)
    makers = {
        bool: csv_text.yes_no,
        int: csv_text.whole,
        float: csv_text.number,
        str: csv_text.text,
        dt.datetime: csv_text.clock,
        dt.date: csv_text.day,
    }
    return makers[column.type.python_type](key)


def _of(*names: str) -> frozenset[str]:
    return frozenset(names)


CARRIED = (
    Carried("documents.csv", Document, ("kind", "name", "uid"), loose=_of("name")),
    Carried(
        "revisions.csv", Revision, ("made_at", "uid"), left_out=_of("text"),
        private={"made_by": "names", "reason": "notes"},
        loose=_of("code", "number", "parent", "said", "reason", "file_name", "made_at", "made_by"),
    ),
    Carried("references.csv", Reference, ("revision", "role"), owner="revision", bond="whole"),
    Carried(
        "events.csv", Event, ("held_on", "uid"), private={"note": "notes", "spent": "money"},
        loose=_of("name"),
    ),
    Carried(
        "parts.csv", Part, ("kind", "mark", "uid"),
        private={"bought_on": "money", "paid": "money", "bought_from": "names", "note": "notes"},
        loose=_of("mark", "name", "bought_on", "paid", "bought_from", "note", "retired_on"),
    ),
    Carried("measurements.csv", Measurement, ("part",), owner="part", bond="grows"),
    Carried("intervals.csv", Interval, ("part",), owner="part", bond="grows"),
    Carried("stays.csv", Stay, ("part",), owner="part", bond="first"),
    Carried(
        "runs.csv", Run, ("started", "uid"), left_out=TOTALS,
        private={"driver": "names", "decided": "notes", "note": "notes"}, loose=_of("code", "number"),
    ),
    Carried("laps.csv", Lap, ("run",), private={"said": "words"}, owner="run", bond="whole"),
    Carried("readings.csv", Reading, ("run",), owner="run", bond="whole"),
    Carried("comments.csv", Comment, ("run",), private={"words": "words"}, owner="run", bond="whole"),
    Carried("ridden.csv", Ridden, ("run", "place"), owner="run", bond="whole"),
    Carried(
        "serviced.csv", Serviced, ("part",), private={"done_by": "names", "note": "notes"}, owner="part",
        bond="grows",
    ),
    Carried("checklists.csv", Checklist, ("name", "uid"), private={"note": "notes"}, loose=_of("name")),
    Carried("items.csv", Item, ("checklist",), owner="checklist", bond="whole"),
    Carried("rounds.csv", CheckRound, ("begun_at", "uid"), loose=_of("closed_at")),
    Carried(
        "done.csv", Done, ("round",), private={"done_by": "names", "found": "notes"}, owner="round",
        bond="grows",
    ),
    Carried(
        "put_right.csv", PutRight, ("round",), private={"right_by": "names", "how": "notes"}, owner="round",
        bond="grows",
    ),
)  # fmt: skip
"""Every table that travels; what a row refers to stands in a table before its own."""
BY_TABLE = {carried.table: carried for carried in CARRIED}


def own_of(carried: Carried) -> tuple[Carried, ...]:
    """The tables whose rows belong to those of another."""
    return tuple(one for one in CARRIED if one.owner_table == carried.table)


def rows_of(
    session: Session,
    carried: Carried,
    ids: Collection[int] | None = None,
    *,
    private: Collection[str] = ALL,
) -> list[Row]:
    """The rows of a table as they travel: those of some owners or, where they have none, with some ids.

    All of them where `ids` is None; in the same order in every notebook. Of what is private they tell those
    kinds.
    """
    told = (bare(carried, row, private) for _, row in kept_rows(session, carried, ids))
    return [row for row in told if row is not None]


def kept_rows(
    session: Session, carried: Carried, ids: Collection[int] | None = None
) -> list[tuple[int, Row]]:
    """The same rows with all that is private and their ids, 0 where they have none."""
    query, model = _query(carried), carried.model
    of = getattr(model, f"{carried.owner}_id" if carried.owner else "id")
    names = [field.name for field in carried.fields(private=True)]
    found: list[tuple[int, Row]] = []
    for part in [None] if ids is None else _parted(sorted(ids)):
        some = query if part is None else query.where(of.in_(part))
        for at, *told in session.execute(some):
            values = [csv_text.plain(value) if isinstance(value, str) else value for value in told]
            found.append((at, dict(zip(names, values, strict=True))))
    found.sort(key=lambda one: tuple(str(one[1][name]) for name in carried.order))
    return found


def bare(carried: Carried, row: Row, private: Collection[str] = ()) -> Row | None:
    """A row with only those kinds of what is private; none where nothing but private words was in it."""
    hidden = [field for field in carried.fields(private=True) if carried.is_hidden(field, private)]
    told = {**row, **{field.name: field.blank for field in hidden}}
    if "names" not in private and str(row.get("place", "")).startswith(LENT):
        told["place"] = f"{LENT}another"
    if carried.model is Comment and hidden and told["feel"] == told["phase"] == "":
        return None
    return told


def key_of(table: str, target: Any) -> Any:
    """The name that a row of a table goes by: its uid, or its place in what it belongs to."""
    if table == Item.__tablename__:
        home = sa.select(Checklist.uid).where(Checklist.id == target.checklist_id).scalar_subquery()
        return home.concat("/").concat(sa.cast(target.number, sa.String))
    return target.uid


def ids_by_key(session: Session, table: str, keys: Collection[str]) -> dict[str, int]:
    """The ids of the rows of a table that go by some names."""
    model = BY_TABLE[table].model
    found: dict[str, int] = {}
    for part in _parted(sorted(keys)):
        key = key_of(table, model)
        found.update((uid, at) for uid, at in session.execute(sa.select(key, model.id).where(key.in_(part))))
    return found


@lru_cache
def _query(carried: Carried) -> sa.Select[Any]:
    told = (_told(carried, field).label(field.key) for field in carried.fields(private=True))
    at = getattr(carried.model, "id", sa.literal(0)).label("at")
    return sa.select(at, *told).order_by(*sa.inspect(carried.model).primary_key)


def _told(carried: Carried, field: Field) -> Any:
    """The SQL of a field: a value, or the name of the row that it refers to."""
    column = getattr(carried.model, field.key)
    if not field.to:
        return column
    target = sa.orm.aliased(BY_TABLE[field.to].model)
    return sa.select(key_of(field.to, target)).where(target.id == column).scalar_subquery()


def _parted(items: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for first in range(0, len(items), _AT_ONCE):
        yield items[first : first + _AT_ONCE]
