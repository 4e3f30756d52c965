"""What has arrived held against the notebook: what is new, what is here already, and what clashes.

A row of the same uid that says the same is here already, and gains what it lacks (`same.py`). One that says
something else is a clash: it comes in as a copy with a uid of its own, and what refers to it in the bundle
follows. What is told here is never changed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright.notebook.garage.parts import SHELF
from ovalwright.notebook.place import person
from ovalwright.notebook.sharing.arriving import Arrived
from ovalwright.notebook.sharing.bundle import ways_to_send
from ovalwright.notebook.sharing.carried import (
    BY_TABLE,
    CARRIED,
    Carried,
    Row,
    ids_by_key,
    kept_rows,
    own_of,
    rows_of,
)
from ovalwright.notebook.sharing.free_names import CALLED, FreeNames
from ovalwright.notebook.sharing.here import Fate, Here
from ovalwright.notebook.sharing.same import Gain, Thing, by_owner, copied, gain
from ovalwright.notebook.tables import Document, Revision, Stay

ONE_BY_NAME = ("checklist",)
"""Tables whose rows every notebook may have made for itself: one of the same name and content is the same."""
ELSE = "the one that is here says something else"
STAYS = "says something else here, which stays"
LACKED = "what had stayed at home"
FULLER = "it tells what had stayed at home of the one that is here"


@dataclass(frozen=True)
class Line:
    """One thing of a bundle: what and which it is, and what becomes of it.

    `fate`: it is `new`, `here` already, comes in as a `copy`, or is here and gets `more`; `why` in words.
    """

    kind: str
    name: str
    fate: Fate
    why: str = ""


@dataclass
class Matched:
    """What is to be added, as rows by table with names as they will be in the notebook, and told in lines.

    `filled` are private fields that rows here lack, by table and id; `anew` the owners, by table, whose rows
    are replaced by fresh ones.
    """

    fresh: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    filled: list[tuple[str, int, Row]] = field(default_factory=list)
    anew: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    now: dict[str, str] = field(default_factory=dict)
    fates: dict[str, Fate] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    homes: dict[str, tuple[str, str]] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    figures: dict[str, Mapping[str, float]] = field(default_factory=dict)
    originals: dict[str, str] = field(default_factory=dict)


def match(arrived: Arrived, session: Session) -> Matched:
    """Hold a bundle against a notebook; nothing is written."""
    told = Matched(originals=_originals(session))
    for carried in CARRIED:
        if not carried.owner_table and arrived.rows[carried.table]:
            _Table(arrived, session, carried, told).match()
    for carried in CARRIED:
        if carried.bond == "grows":
            _match_more(arrived, session, carried, told)
        elif carried.bond == "first":
            _match_stays(arrived, session, carried, told)
    return told


# ---------------- rows that stand alone


class _Table:
    """The rows of one table that have arrived, held one by one against those that are here."""

    def __init__(self, arrived: Arrived, session: Session, carried: Carried, told: Matched) -> None:
        self.arrived, self.session, self.carried, self.told = arrived, session, carried, told
        self.wholes = [one for one in own_of(carried) if one.bond == "whole"]
        self.here = Here(session, carried, self.wholes, told.originals)
        self.beside: dict[str, str] = {}
        self.cars = _cars_of_setups(arrived) if carried.model is Document else {}

    def match(self) -> None:
        """Settle every row: what it is called here, and what becomes of it."""
        arrived, told = self.arrived, self.told
        rows = arrived.rows[self.carried.table]
        belonging = {one.table: by_owner(one, arrived.rows[one.table]) for one in self.wholes}
        self.here.look_for([row["uid"] for row in rows])
        if self.carried.table in ONE_BY_NAME:
            self.here.look_for_names([row[CALLED[self.carried.table]] for row in rows])
        self.names = FreeNames(self.session, self.carried, _whose(arrived))
        later = {row["revision"] for row in arrived.rows["reference"]} | set(self.cars)
        for row in sorted(rows, key=lambda row: (row["uid"] in later, row["uid"] not in self.here.things)):
            own = {one.table: belonging[one.table].get(row["uid"], []) for one in self.wholes}
            self._settle(row, self._mapped(row, own, arrived.texts.get(row["uid"], "")))
        if self.carried.model is Revision:
            for row in told.fresh[self.carried.table]:
                row["parent"] = self.beside.get(row["uid"]) or told.now.get(row["parent"])

    def _mapped(self, row: Row, own: Mapping[str, Sequence[Row]], text: str) -> Thing:
        now = self.told.now
        belonging = {
            table: [_mapped(BY_TABLE[table], each, now) for each in rows] for table, rows in own.items()
        }
        mapped = _mapped(self.carried, row, now)
        return Thing(self.carried, mapped, belonging, text, originals=self.told.originals)

    def _settle(self, row: Row, come: Thing) -> None:
        told = self.told
        uid, fate, gained = self.here.settle(come)
        told.now[row["uid"]] = uid
        told.fates.setdefault(uid, fate)
        if fate != "here":
            self._add(row, come, uid, fate, ELSE if fate == "copy" else "")
            return
        there = self.here.things[uid]
        self._fill(there, gained)
        _tell(told, self.carried, there.row, "more" if gained else "here", _said_of(gained))
        if come.text and (extra := self._fuller(there, come.text)):
            self._add(row, replace(come, row={**come.row, "said": ""}), extra, "copy", FULLER)
            self.beside[extra] = told.originals[extra] = uid
            if extra == row["uid"]:
                told.now[extra] = extra

    def _fill(self, there: Thing, gained: Gain) -> None:
        """Give a row that is here, or has come with the same bundle, what it lacks."""
        told, uid = self.told, there.row["uid"]
        there.row.update(gained.fields)
        if there.at and gained.fields:
            told.filled.append((self.carried.table, there.at, gained.fields))
        for table, rows in gained.anew.items():
            owner = BY_TABLE[table].owner
            told.anew[table].append(uid)
            told.fresh[table] = [row for row in told.fresh[table] if row[owner] != uid]
            told.fresh[table] += _of_owner(BY_TABLE[table], rows, uid)
        self.here.things[uid] = replace(there, own={**there.own, **gained.anew})

    def _add(self, row: Row, come: Thing, uid: str, fate: Fate, why: str) -> None:
        """A row that comes in, under some uid, with all that is part of it."""
        told, added = self.told, {**come.row, "uid": uid}
        taken = self.names.settle(added, {told.now[car] for car in self.cars.get(row["uid"], ())})
        _tell(told, self.carried, added, fate, why or (f'another is called "{taken}" here' if taken else ""))
        told.fresh[self.carried.table].append(added)
        self.here.things[uid] = replace(come, row=added)
        for table, rows in come.own.items():
            told.fresh[table] += _of_owner(BY_TABLE[table], rows, uid)
        if self.carried.model is Revision:
            added["parent"] = row["parent"]
            told.texts[uid], told.figures[uid] = come.text, self.arrived.figures[row["uid"]]

    def _fuller(self, there: Thing, text: str) -> str:
        """The uid of one more revision, where a text tells more that is private than the one that is here, or
        any that came from that. A revision never changes, so what it lacks comes beside it.
        """
        if text in ways_to_send(there.text):
            return ""
        uid = copied(there.row["uid"], text)
        self.here.look_for([uid])
        children = self.session.scalars(sa.select(Revision.text).where(Revision.parent_id == there.at))
        known = uid in self.here.things or any(text in ways_to_send(one) for one in children)
        return "" if known else uid


def _originals(session: Session) -> dict[str, str]:
    """The revisions that only tell more of what is private than the one they stand beside, and that one."""
    parent = aliased(Revision)
    query = sa.select(Revision.uid, Revision.text, parent.uid).join(parent, parent.id == Revision.parent_id)
    return {uid: original for uid, text, original in session.execute(query) if uid == copied(original, text)}


def _of_owner(carried: Carried, rows: Sequence[Row], uid: str) -> Iterator[Row]:
    return ({**row, carried.owner: uid} for row in rows)


def _mapped(carried: Carried, row: Row, now: Mapping[str, str]) -> Row:
    """A row whose references go by the names of the notebook, as far as those are settled."""
    mapped = dict(row)
    for one in carried.fields(private=False):
        told = row[one.name]
        if one.to and told is not None:
            uid, slash, rest = told.partition("/")
            mapped[one.name] = now.get(uid, uid) + slash + rest
    return mapped


def _cars_of_setups(arrived: Arrived) -> dict[str, set[str]]:
    """The cars, as documents, that the setups of a bundle belong to."""
    home = {row["uid"]: row["document"] for row in arrived.rows["revision"]}
    found: dict[str, set[str]] = defaultdict(set)
    for row in arrived.rows["reference"]:
        if row["role"] == "car":
            found[home[row["revision"]]].add(home[row["target"]])
    return found


def _whose(arrived: Arrived) -> str:
    """Who made most of the documents of a bundle, where that is told."""
    made = Counter(filter(None, (person(row["made_by"]) for row in arrived.rows["revision"])))
    return made.most_common(1)[0][0] if made else ""


# ---------------- rows that belong to others


def _match_more(arrived: Arrived, session: Session, carried: Carried, told: Matched) -> None:
    """What may come to a row later: what it has not yet is added; what it has gains what stayed at home."""
    rows = [_mapped(carried, row, told.now) for row in arrived.rows[carried.table]]
    owners = {row[carried.owner] for row in rows}
    old = {uid for uid in owners if told.fates.get(uid) == "here"}
    ids = set(ids_by_key(session, carried.owner_table, old).values())
    here = kept_rows(session, carried, ids)
    if None in owners:
        here += [one for one in kept_rows(session, carried) if one[1][carried.owner] is None]
    known = {frozenset(row.items()) for _, row in here}
    taken = {_alike(names, row) for _, row in here for names in carried.unique}
    had: dict[str, list[Thing]] = defaultdict(list)
    for at, row in here:
        one = Thing(carried, row, at=at)
        had[repr(one.content)].append(one)
    more: Counter[str | None] = Counter()
    fuller: set[str | None] = set()
    other: set[str | None] = set()
    for row in sorted(rows, key=lambda row: frozenset(row.items()) not in known):
        come, alike = Thing(carried, row), {_alike(names, row) for names in carried.unique}
        same = had[repr(come.content)]
        found = [(one, gained) for one in same if (gained := gain(one, come)) is not None]
        if found:
            one, gained = min(found, key=lambda pair: pair[0].row != row)
            same.remove(one)
            if gained:
                told.filled.append((carried.table, one.at, gained.fields))
                fuller.add(row[carried.owner])
        elif taken.isdisjoint(alike):
            taken |= alike
            told.fresh[carried.table].append(row)
            more[row[carried.owner]] += 1
        else:
            other.add(row[carried.owner])
    for owner in rows_of(session, BY_TABLE[carried.owner_table], ids, private=()):
        uid, kind, name = owner["uid"], *_called(carried.owner_table, owner)
        if more[uid]:
            told.lines.append(Line(kind, name, "more", _counted(carried, more[uid])))
        if uid in fuller:
            told.lines.append(Line(kind, name, "more", LACKED))
        if uid in other:
            told.lines.append(Line(kind, name, "here", f"{STAYS}: {carried.file.removesuffix('.csv')}"))
    if more[None]:
        told.lines.append(Line("interval", "of every part", "more", _counted(carried, more[None])))


def _counted(carried: Carried, count: int) -> str:
    what = carried.file.removesuffix(".csv")
    return f"{count} {what.removesuffix('s') if count == 1 else what}"


def _alike(names: Sequence[str], row: Row) -> tuple[Any, ...]:
    """What no two rows of a table may have alike."""
    return tuple((name, row[name]) for name in names)


def _match_stays(arrived: Arrived, session: Session, carried: Carried, told: Matched) -> None:
    """Where a part was comes only with the part; a place that is taken here stays as it is."""
    query = sa.select(Document.uid, Stay.place).join(Document, Document.id == Stay.car_id)
    taken = {tuple(found) for found in session.execute(query.where(Stay.until.is_(None)))}
    for row in arrived.rows[carried.table]:
        mapped = _mapped(carried, row, told.now)
        if told.fates[mapped["part"]] == "here":
            continue
        if mapped["until"] is None and (mapped["car"], mapped["place"]) in taken:
            mapped["car"], mapped["place"] = None, SHELF
        told.fresh[carried.table].append(mapped)


# ---------------- in words


def _said_of(gained: Gain) -> str:
    """What a row that is here gains, or what of it says something else and stays."""
    if gained.differing:
        names = ", ".join(name.replace("_", " ") for name in gained.differing)
        return f"{STAYS}: {names}"
    return LACKED if gained else ""


def _tell(told: Matched, carried: Carried, row: Row, fate: Fate, why: str) -> None:
    """Add a row as a line; a document is told by its revisions."""
    kind, name = _called(carried.table, row)
    if carried.table == "document":
        told.homes[row["uid"]] = (row["kind"], row["name"])
        return
    if carried.table == "revision":
        kind, called = told.homes[row["document"]]
        name = f"{called} {row['code']}"
    if carried.table == "run":
        name = f"{row['code']} {row['session']}".strip()
    told.lines.append(Line(kind, name, fate, why))


def _called(table: str, row: Row) -> tuple[str, str]:
    kind = row["kind"] if table == "part" else "round" if table == "check_round" else table
    told = row.get(CALLED.get(table, ""), "")
    return kind, str(told or row.get("begun_at") or "")
