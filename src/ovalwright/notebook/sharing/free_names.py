"""Names, codes and numbers that are taken in a notebook; a row that comes in gets free ones."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from itertools import count
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright.notebook.sharing.carried import BY_TABLE, Carried, Row
from ovalwright.notebook.tables import CODE_LENGTH, CODE_LETTERS, Document, Reference, Revision

CALLED = {"document": "name", "part": "mark", "event": "name", "checklist": "name"}
"""What a row of a table is called by the racer."""
CALLED_WITH = {"document": ("kind",), "part": ("kind",), "event": ("held_on",), "checklist": ()}
"""What makes two of one name differ all the same; a setup differs by its car as well."""
NUMBERED_IN = {"run": "event", "revision": "document"}
CODED = tuple(NUMBERED_IN)

Home = tuple[Any, ...]


class FreeNames:
    """The names, codes and numbers of one table that are taken.

    `whose` is the person that what comes in belongs to, or nothing.
    """

    def __init__(self, session: Session, carried: Carried, whose: str) -> None:
        model, self.table = carried.model, carried.table
        self.whose = whose
        self.called = CALLED.get(self.table, "")
        self.within = CALLED_WITH.get(self.table, ())
        self.names: set[Home] = set()
        self.codes: set[str] = set()
        self.numbers: dict[str, set[int]] = defaultdict(set)
        if self.called:
            keys = [getattr(model, key) for key in (*self.within, self.called)]
            self.names = {tuple(found) for found in session.execute(sa.select(*keys))}
            self.longest = model.__table__.c[self.called].type.length
        if self.table == Document.__tablename__:
            self.names |= set(_setups_of_cars(session))
        if self.table in NUMBERED_IN:
            self.codes = set(session.scalars(sa.select(model.code)))
            home = BY_TABLE[NUMBERED_IN[self.table]].model
            of = getattr(model, f"{NUMBERED_IN[self.table]}_id")
            for uid, number in session.execute(sa.select(home.uid, model.number).join(home, home.id == of)):
                self.numbers[uid].add(number)

    def settle(self, row: Row, cars: Collection[str]) -> str:
        """Give a row that comes in names of its own; says the name that was taken, or nothing.

        `cars` are those that a setup belongs to, by their uids here.
        """
        taken = ""
        if self.called:
            told = row[self.called]
            within = tuple(row[key] for key in self.within)
            homes: list[Home] = [(*within, car) for car in cars] or [within]
            row[self.called] = self._free_name(homes, told)
            self.names |= {(*home, row[self.called]) for home in homes}
            taken = told if row[self.called] != told else ""
        if self.table in CODED:
            row["code"] = self._free_code(row["uid"], row["code"])
            self.codes.add(row["code"])
            numbers = self.numbers[row[NUMBERED_IN[self.table]]]
            if row["number"] in numbers or row["number"] < 1:
                row["number"] = max(numbers, default=0) + 1
            numbers.add(row["number"])
        return taken

    def _free_code(self, uid: str, told: str) -> str:
        """The code as told or, where it is taken, one that follows from the uid: the same at every look."""
        code, tried = told, count(1)
        while code in self.codes:
            digest = hashlib.sha256(f"{uid} {next(tried)}".encode()).digest()
            code = "".join(CODE_LETTERS[byte % len(CODE_LETTERS)] for byte in digest[:CODE_LENGTH])
        return code

    def _free_name(self, homes: Iterable[Home], told: str) -> str:
        """The name as told or, where it is taken, with whose it is or, where that is not told, a number."""
        name, ends = told, _ends(self.whose[: self.longest // 2])
        while any((*home, name) in self.names for home in homes):
            end = next(ends)
            name = told[: self.longest - len(end)] + end
        return name


def _ends(whose: str) -> Iterator[str]:
    """What is put behind a name that is taken, until it is free."""
    if whose:
        yield f" ({whose})"
    yield from (f" ({f'{whose} {number}'.strip()})" for number in count(2))


def _setups_of_cars(session: Session) -> Iterable[Home]:
    """The kind, the car by its uid, and the name of every setup that was kept with a car."""
    setup, car, of = aliased(Document), aliased(Document), aliased(Revision)
    query = (
        sa.select(setup.kind, car.uid, setup.name)
        .join(Revision, Revision.document_id == setup.id)
        .join(Reference, sa.and_(Reference.revision_id == Revision.id, Reference.role == "car"))
        .join(of, of.id == Reference.target_id)
        .join(car, car.id == of.document_id)
    )
    return [tuple(found) for found in session.execute(query.distinct())]
