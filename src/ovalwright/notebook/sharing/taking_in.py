"""Taking in a bundle: first look what it would add, then take it, whole or not at all.

    box = read_box("opening_night.ovalbox")
    with store.reading() as session:
        plan = look(box, session)
    with store.entry(f"taken in: {box.name}") as session:
        take(plan, session)

It is one entry, so that it can be undone.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import TimedLap
from ovalwright.notebook import runs
from ovalwright.notebook.asked import find
from ovalwright.notebook.sharing.arriving import Arrived, arrive, generations
from ovalwright.notebook.sharing.box import Box
from ovalwright.notebook.sharing.carried import BY_TABLE, CARRIED, Carried, Field, Row, ids_by_key
from ovalwright.notebook.sharing.clashes import Line, Matched, match
from ovalwright.notebook.sharing.here import Fate
from ovalwright.notebook.tables import Figure, Run
from ovalwright.notebook.trouble import NotebookTrouble

FATES: Mapping[Fate, str] = {
    "new": "new", "here": "here already", "copy": "comes as a copy", "more": "gets more",
}  # fmt: skip
"""What becomes of a thing, in words."""
FOUND_BY_WORDS = ("revision", "event", "part", "run")
"""Tables whose rows are found by their words."""


@dataclass(frozen=True)
class Plan:
    """What a bundle would do to a notebook, line by line; nothing is done yet."""

    name: str
    about: Mapping[str, str | int | bool]
    lines: tuple[Line, ...]
    arrived: Arrived = field(repr=False, compare=False)

    @property
    def adds(self) -> bool:
        """Whether anything in it is not here yet."""
        return any(line.fate != "here" for line in self.lines)

    @property
    def counts(self) -> tuple[tuple[str, str], ...]:
        """How many of each kind, by what becomes of them: `("run", "3 new, 2 here already")`."""
        found = []
        for kind in dict.fromkeys(line.kind for line in self.lines):
            fates = [line.fate for line in self.lines if line.kind == kind]
            told = (f"{fates.count(fate)} {words}" for fate, words in FATES.items() if fate in fates)
            found.append((kind, ", ".join(told)))
        return tuple(found)

    @property
    def coming(self) -> tuple[Line, ...]:
        """What is to be looked at: what clashes or grows first, then what is new."""
        coming = [line for line in self.lines if line.fate != "here" or line.why]
        odd = [line for line in coming if line.fate != "new" or line.why]
        return (*odd, *(line for line in coming if line not in odd))


def look(box: Box, session: Session) -> Plan:
    """What a bundle would add, what is here already, and what clashes. Raises NotebookTrouble."""
    return _plan(arrive(box), session)[0]


def take(plan: Plan, session: Session) -> Plan:
    """Take in what was looked at. Raises NotebookTrouble when the notebook has changed since."""
    again, matched = _plan(plan.arrived, session)
    if again.lines != plan.lines:
        raise NotebookTrouble(f"{plan.name}: the notebook has changed since; look at the bundle again.")
    for carried in CARRIED:
        rows = matched.fresh[carried.table]
        if carried.table == "revision":
            _add_revisions(session, carried, rows, matched)
        elif carried.table == "lap":
            _put_laps(session, rows)
        elif rows:
            _remove_rows_of(session, carried, matched.anew[carried.table])
            _add(session, carried, rows)
    filled = _fill(session, matched)
    for table in FOUND_BY_WORDS:
        uids = [row["uid"] for row in matched.fresh[table]]
        for row_id in sorted({*ids_by_key(session, table, uids).values(), *filled[table]}):
            find.tell(session, table, row_id)
    return again


def _plan(arrived: Arrived, session: Session) -> tuple[Plan, Matched]:
    matched = match(arrived, session)
    return Plan(arrived.name, arrived.about, tuple(matched.lines), arrived), matched


# ---------------- filling in what was private


def _fill(session: Session, matched: Matched) -> dict[str, set[int]]:
    """Write what rows that are here lack; returns the ids, by table, of those whose words that touches."""
    touched: dict[str, set[int]] = defaultdict(set)
    for table, row_id, fields in matched.filled:
        row = session.get_one(BY_TABLE[table].model, row_id)
        for name, value in fields.items():
            setattr(row, name, value)
        touched[table].add(row_id)
    session.flush()
    touched["run"] |= set(ids_by_key(session, "run", matched.anew["comment"]).values())
    touched["run"] |= set(session.scalars(sa.select(Run.id).where(Run.setup_id.in_(touched["revision"]))))
    return touched


def _remove_rows_of(session: Session, carried: Carried, owners: Collection[str]) -> None:
    """Take out the rows of some owners, for fuller ones to come."""
    if owners:
        ids = ids_by_key(session, carried.owner_table, owners).values()
        of = getattr(carried.model, f"{carried.owner}_id")
        for row in session.scalars(sa.select(carried.model).where(of.in_(ids))):
            session.delete(row)
        session.flush()


# ---------------- adding


def _add(session: Session, carried: Carried, rows: Sequence[Row], also: Iterable[Row] = ()) -> None:
    """Rows as they came; `also` is what each has besides."""
    fields = carried.fields(private=True)
    ids = {
        to: ids_by_key(session, to, {row[one.name] for row in rows for one in ours if row[one.name]})
        for to, ours in _by_target(fields).items()
    }
    more = list(also) or [{}] * len(rows)
    for row, besides in zip(rows, more, strict=True):
        values = {
            one.key: ids[one.to][row[one.name]] if one.to and row[one.name] is not None else row[one.name]
            for one in fields
            if one.name in row
        }
        session.add(carried.model(**values, **besides))
    session.flush()


def _by_target(fields: Iterable[Field]) -> dict[str, list[Field]]:
    found: dict[str, list[Field]] = defaultdict(list)
    for one in fields:
        if one.to:
            found[one.to].append(one)
    return found


def _add_revisions(session: Session, carried: Carried, rows: Sequence[Row], matched: Matched) -> None:
    """Revisions with their texts and numbers, each after the one it came from."""
    for generation in generations(rows):
        texts = [matched.texts[row["uid"]] for row in generation]
        digests = [hashlib.sha256(text.encode()).hexdigest() for text in texts]
        also = [{"text": text, "sha256": digest} for text, digest in zip(texts, digests, strict=True)]
        _add(session, carried, generation, also)
    ids = ids_by_key(session, carried.table, matched.figures)
    figures = [
        {"revision_id": ids[uid], "key": key, "si": si}
        for uid, held in matched.figures.items()
        for key, si in held.items()
    ]
    if figures:
        session.execute(sa.insert(Figure), figures)


def _put_laps(session: Session, rows: Sequence[Row]) -> None:
    """The laps of each run, and what they come to."""
    laps: dict[str, list[TimedLap]] = defaultdict(list)
    for row in rows:
        lap = TimedLap(row["number"], row["time"], row["flag"], row["number"], row.get("said", ""))
        laps[row["run"]].append(lap)
    for uid, row_id in ids_by_key(session, Run.__tablename__, laps).items():
        runs.put_laps(session, session.get_one(Run, row_id), laps[uid])
