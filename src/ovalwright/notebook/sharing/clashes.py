"""What has arrived held against the notebook: what is new, what is here already, and what clashes.

The same row is one that the notebook itself would send in such a bundle. A row of the same uid that says
something else is a clash: it comes in as a copy with a uid of its own, and what refers to it in the bundle
follows. What is here is never changed.
"""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.garage.parts import SHELF
from ovalwright.notebook.sharing.arriving import Arrived
from ovalwright.notebook.sharing.bundle import texts_of
from ovalwright.notebook.sharing.carried import BY_TABLE, CARRIED, Carried, Row, ids_by_key, own_of, rows_of
from ovalwright.notebook.tables import CODE_LENGTH, CODE_LETTERS, Document, Stay

Fate = Literal["new", "here", "copy", "more"]
CALLED = {"document": "name", "part": "mark", "event": "name", "checklist": "name"}
"""What a row of a table is called by the racer."""
CALLED_WITH = {"document": ("kind",), "part": ("kind",), "event": ("held_on",), "checklist": ()}
"""What makes two of one name differ all the same."""
NUMBERED_IN = {"run": "event", "revision": "document"}
CODED = tuple(NUMBERED_IN)
ONE_BY_NAME = ("checklist",)
"""Tables whose rows every notebook may have made for itself: one of the same name and content is the same."""


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
    """What is to be added, as rows by table with names as they will be in the notebook, and told in lines."""

    fresh: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    now: dict[str, str] = field(default_factory=dict)
    fates: dict[str, Fate] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    homes: dict[str, tuple[str, str]] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    figures: dict[str, Mapping[str, float]] = field(default_factory=dict)


def match(arrived: Arrived, session: Session) -> Matched:
    """Hold a bundle against a notebook; nothing is written."""
    told = Matched()
    for carried in CARRIED:
        if not carried.owner_table:
            _match_table(arrived, session, carried, told)
    for carried in CARRIED:
        if carried.bond == "grows":
            _match_more(arrived, session, carried, told)
        elif carried.bond == "first":
            _match_stays(arrived, session, carried, told)
    return told


# ---------------- rows that stand alone


def _match_table(arrived: Arrived, session: Session, carried: Carried, told: Matched) -> None:
    rows = arrived.rows[carried.table]
    if not rows:
        return
    wholes = [one for one in own_of(carried) if one.bond == "whole"]
    belonging = {one.table: _by_owner(one, arrived.rows[one.table]) for one in wholes}
    here = _Here(session, carried, wholes, arrived.private)
    here.look_for([row["uid"] for row in rows])
    if carried.table in ONE_BY_NAME:
        here.look_for_names([row[CALLED[carried.table]] for row in rows])
    names = _Names(session, carried, rows)
    referring = {row["revision"] for row in arrived.rows["reference"]}
    for row in sorted(rows, key=lambda row: row["uid"] in referring):
        uid = row["uid"]
        mapped = _mapped(carried, row, told.now)
        own = {
            one.table: [_mapped(one, each, told.now) for each in belonging[one.table].get(uid, ())]
            for one in wholes
        }
        text = arrived.texts.get(uid, "")
        uid_now, fate = here.settle(mapped, _content(carried, mapped, own, text))
        told.now[uid], told.fates[uid_now] = uid_now, fate
        if fate == "here":
            _tell(told, carried, here.rows[uid_now], fate, "")
            continue
        mapped["uid"] = uid_now
        why = names.settle(mapped, fate)
        _tell(told, carried, mapped, fate, why)
        told.fresh[carried.table].append(mapped)
        for one in wholes:
            told.fresh[one.table] += [{**each, one.owner: uid_now} for each in own[one.table]]
        if carried.table == "revision":
            mapped["parent"] = row["parent"]
            told.texts[uid_now], told.figures[uid_now] = text, arrived.figures[uid]
    if carried.table == "revision":
        for row in told.fresh[carried.table]:
            row["parent"] = told.now.get(row["parent"])


class _Here:
    """The rows of a table that the notebook has, with what belongs to them."""

    def __init__(self, session: Session, carried: Carried, wholes: Sequence[Carried], private: bool) -> None:
        self.session, self.carried, self.wholes, self.private = session, carried, wholes, private
        self.rows: dict[str, Row] = {}
        self.contents: dict[str, object] = {}
        self.named: dict[str, str] = {}

    def look_for(self, uids: Collection[str]) -> None:
        """Fetch those of some names that are here."""
        ids = set(ids_by_key(self.session, self.carried.table, uids).values())
        if not ids:
            return
        private = self.private
        found = rows_of(self.session, self.carried, ids, private=private)
        texts = texts_of(self.session, ids, private=private) if self.carried.table == "revision" else {}
        own = {
            one.table: _by_owner(one, rows_of(self.session, one, ids, private=private)) for one in self.wholes
        }
        for row in found:
            uid = row["uid"]
            self.rows[uid] = row
            mine = {table: rows.get(uid, []) for table, rows in own.items()}
            self.contents[uid] = _content(self.carried, row, mine, texts.get(uid, ""))

    def look_for_names(self, names: Collection[str]) -> None:
        """Fetch those that the racer calls by some names."""
        name = getattr(self.carried.model, CALLED[self.carried.table])
        query = sa.select(name, self.carried.model.uid).where(name.in_(names))
        self.named = {name: uid for name, uid in self.session.execute(query)}  # noqa: C416
        self.look_for(self.named.values())

    def settle(self, row: Row, content: object) -> tuple[str, Fate]:
        """The uid that an arrived row of some content has in the notebook, and what becomes of it.

        That of a copy follows from its content, so that it is known when it comes again; where a copy was
        changed since, the next one follows from that.
        """
        uid = row["uid"]
        if uid not in self.rows:
            twin = self.named.get(row.get(CALLED.get(self.carried.table, ""), ""), "")
            return (twin, "here") if twin and self.contents[twin] == content else (uid, "new")
        if self.contents[uid] == content:
            return uid, "here"
        copy = uid
        while copy in self.rows and self.contents[copy] != content:
            copy = hashlib.sha256(f"{copy} {content!r}".encode()).hexdigest()[:32]
            self.look_for([copy])
        return copy, "here" if copy in self.rows else "copy"


def _content(carried: Carried, row: Row, own: Mapping[str, Sequence[Row]], text: str) -> object:
    """What makes a row what it is, apart from its names."""
    ours = {key: value for key, value in row.items() if key != "uid" and key not in carried.loose}
    belonging = {
        table: sorted(
            repr(sorted((key, value) for key, value in each.items() if key != BY_TABLE[table].owner))
            for each in rows
        )
        for table, rows in own.items()
    }
    return sorted(ours.items()), sorted(belonging.items()), text


def _by_owner(carried: Carried, rows: Iterable[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[row[carried.owner]].append(row)
    return found


def _mapped(carried: Carried, row: Row, now: Mapping[str, str]) -> Row:
    """A row whose references go by the names of the notebook, as far as those are settled."""
    mapped = dict(row)
    for one in carried.fields(private=False):
        told = row[one.name]
        if one.to and told is not None:
            uid, slash, rest = told.partition("/")
            mapped[one.name] = now.get(uid, uid) + slash + rest
    return mapped


# ---------------- names, codes and numbers that are taken


class _Names:
    """Names, codes and numbers of a table that are taken; a row that comes in gets free ones.

    Two setups of one bundle may bear one name, each of its own car.
    """

    def __init__(self, session: Session, carried: Carried, rows: Sequence[Row]) -> None:
        model, self.table = carried.model, carried.table
        self.called = CALLED.get(self.table, "")
        self.within = CALLED_WITH.get(self.table, ())
        self.names: set[tuple[Any, ...]] = set()
        self.codes: set[str] = set()
        self.numbers: dict[str, set[int]] = defaultdict(set)
        if self.called:
            keys = [getattr(model, key) for key in (*self.within, self.called)]
            self.names = {tuple(found) for found in session.execute(sa.select(*keys))}
            self.longest = model.__table__.c[self.called].type.length
        if self.table in NUMBERED_IN:
            self.codes = set(session.scalars(sa.select(model.code)))
            home = BY_TABLE[NUMBERED_IN[self.table]].model
            of = getattr(model, f"{NUMBERED_IN[self.table]}_id")
            for uid, number in session.execute(sa.select(home.uid, model.number).join(home, home.id == of)):
                self.numbers[uid].add(number)

    def settle(self, row: Row, fate: Fate) -> str:
        """Give a row that comes in names of its own; says in words what was done."""
        why = "the one that is here says something else" if fate == "copy" else ""
        if self.called:
            within = tuple(row[key] for key in self.within)
            told = row[self.called]
            row[self.called] = self._free_name(within, told)
            if within != ("setup",):
                self.names.add((*within, row[self.called]))
            if row[self.called] != told:
                why = why or f'another is called "{told}" here'
        if self.table in CODED:
            row["code"] = self._free_code(row["uid"], row["code"])
            self.codes.add(row["code"])
            taken = self.numbers[row[NUMBERED_IN[self.table]]]
            if row["number"] in taken or row["number"] < 1:
                row["number"] = max(taken, default=0) + 1
            taken.add(row["number"])
        return why

    def _free_code(self, uid: str, told: str) -> str:
        """The code as told or, where it is taken, one that follows from the uid: the same at every look."""
        code, count = told, 0
        while code in self.codes:
            count += 1
            digest = hashlib.sha256(f"{uid} {count}".encode()).digest()
            code = "".join(CODE_LETTERS[byte % len(CODE_LETTERS)] for byte in digest[:CODE_LENGTH])
        return code

    def _free_name(self, within: tuple[Any, ...], told: str) -> str:
        name, count = told, 1
        while (*within, name) in self.names:
            count += 1
            end = f" ({count})"
            name = told[: self.longest - len(end)] + end
        return name


# ---------------- rows that belong to others


def _match_more(arrived: Arrived, session: Session, carried: Carried, told: Matched) -> None:
    """What may come to a row later: what it has not yet is added, what it has stays as it is."""
    rows = [_mapped(carried, row, told.now) for row in arrived.rows[carried.table]]
    owners = {row[carried.owner] for row in rows}
    old = {uid for uid in owners if told.fates.get(uid) == "here"}
    ids = set(ids_by_key(session, carried.owner_table, old).values())
    here = rows_of(session, carried, ids, private=arrived.private)
    if None in owners:
        everywhere = rows_of(session, carried, private=arrived.private)
        here += [row for row in everywhere if row[carried.owner] is None]
    had = Counter(repr(sorted(row.items())) for row in here)
    taken = {_alike(names, row) for row in here for names in carried.unique}
    more: Counter[str | None] = Counter()
    for row in rows:
        key, alike = repr(sorted(row.items())), {_alike(names, row) for names in carried.unique}
        if had[key]:
            had[key] -= 1
        elif taken.isdisjoint(alike):
            taken |= alike
            told.fresh[carried.table].append(row)
            more[row[carried.owner]] += 1
    _tell_more(told, carried, rows_of(session, BY_TABLE[carried.owner_table], ids, private=False), more)


def _tell_more(
    told: Matched, carried: Carried, owners: Sequence[Row], more: Mapping[str | None, int]
) -> None:
    """A line for each row that was here and gets more, and one for what belongs to none."""
    what = carried.file.removesuffix(".csv")
    counted = {
        uid: f"{count} {what.removesuffix('s') if count == 1 else what}" for uid, count in more.items()
    }
    for row in owners:
        if row["uid"] in counted:
            told.lines.append(Line(*_called(carried.owner_table, row), "more", counted[row["uid"]]))
    if None in counted:
        told.lines.append(Line("interval", "of every part", "more", counted[None]))


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
