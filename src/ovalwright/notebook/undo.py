"""Undo of the last entry, and the history of a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook import journal
from ovalwright.notebook.tables import Change, Entry, Figure, Kept, Lap, Revision, Run, Table
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.trouble import NotebookTrouble

NOTHING = "there is nothing of yours left to undo."


@dataclass(frozen=True)
class Done:
    """What an entry was: who did it, when (UTC), in words; whether it was undone."""

    number: int
    at: dt.datetime
    by: str
    what: str
    undone: bool


@dataclass(frozen=True)
class Was:
    """A row as it was until an entry changed it; `before` is None where the entry added it."""

    entry: Done
    done: str
    before: dict[str, Any] | None


def last_entries(session: Session, most: int = 20, *, by: str = "") -> tuple[Done, ...]:
    """The last entries, newest first; of one person where `by` names him."""
    query = sa.select(Entry).order_by(Entry.id.desc()).limit(most)
    return tuple(_done(entry) for entry in session.scalars(query.where(Entry.by == by) if by else query))


def history(session: Session, row: Kept) -> tuple[Was, ...]:
    """Everything that was done to a row, oldest first."""
    query = (
        sa.select(Change, Entry)
        .join(Entry, Entry.id == Change.entry_id)
        .where(Change.of_table == row.__tablename__, Change.row_id == row.id)  # type: ignore[attr-defined]
        .order_by(Change.id)
    )
    return tuple(Was(_done(entry), change.done, change.before) for change, entry in session.execute(query))


def undo(session: Session, *, by: str) -> Done:
    """Take back the last entry of a person that was not taken back yet, whole, and say what it was.

    Raises NotebookTrouble when there is none, or when something later rests on it.
    """
    entry = session.scalars(
        sa.select(Entry)
        .where(Entry.by == by, Entry.undone_by_id.is_(None), ~Entry.undoes, Entry.id != _own(session).id)
        .order_by(Entry.id.desc())
        .limit(1)
    ).first()
    if entry is None:
        raise NotebookTrouble(NOTHING)
    changes = session.scalars(
        sa.select(Change).where(Change.entry_id == entry.id).order_by(Change.id.desc())
    ).all()
    _check_untouched(session, entry, changes)
    _put_back(session, changes)
    entry.undone_by_id, _own(session).undoes = _own(session).id, True
    session.flush()
    session.expire_all()
    return _done(entry)


def _own(session: Session) -> Entry:
    return journal.entry_of(session)


def _done(entry: Entry) -> Done:
    return Done(entry.id, entry.at, entry.by, entry.what, entry.undone_by_id is not None)


def _tables() -> dict[str, sa.Table]:
    """Kept tables by name, those that others refer to first."""
    return {table.name: table for table in Table.metadata.sorted_tables}


def _check_untouched(session: Session, entry: Entry, changes: Sequence[Change]) -> None:
    """Every row must still be as the entry left it. Raises NotebookTrouble that names who changed it."""
    tables = _tables()
    for change in changes:
        table = tables[change.of_table]
        if change.of_table == Lap.__tablename__ or change.done == "removed":
            continue
        now = session.execute(sa.select(table.c.entry_id).where(table.c.id == change.row_id)).scalar()
        if now != entry.id:
            later = session.get(Entry, now) if now is not None else None
            who = f" ({later.by}: {later.what})" if later is not None else ""
            raise NotebookTrouble(
                f'"{entry.what}" cannot be undone: it was changed again since{who}; undo that first.'
            )


def _put_back(session: Session, changes: Sequence[Change]) -> None:
    """Rows as they were: first what was changed, then what was added goes, then what was removed returns."""
    tables = _tables()
    order = list(tables)
    for change in changes:
        if change.of_table == Lap.__tablename__:
            _put_back_laps(session, change)
        elif change.done == "changed":
            _restore(session, tables[change.of_table], change)
    added = [c for c in changes if c.done == "added"]
    for change in sorted(added, key=lambda c: (order.index(c.of_table), c.row_id), reverse=True):
        _remove(session, tables[change.of_table], change.row_id)
    removed = [c for c in changes if c.done == "removed"]
    for change in sorted(removed, key=lambda c: (order.index(c.of_table), c.row_id)):
        table = tables[change.of_table]
        session.execute(table.insert().values(**_values(table, change.before)))


def _restore(session: Session, table: sa.Table, change: Change) -> None:
    was = _values(table, change.before)
    was["version"] = table.c.version + 1
    session.execute(table.update().where(table.c.id == change.row_id).values(**was))


def _remove(session: Session, table: sa.Table, row_id: int) -> None:
    """A row that was added goes, with what was made from it."""
    if table.name == Revision.__tablename__:
        session.execute(sa.delete(Figure).where(Figure.revision_id == row_id))
    if table.name == Run.__tablename__:
        session.execute(sa.delete(Lap).where(Lap.run_id == row_id))
    session.execute(sa.delete(Saying).where(Saying.owner == table.name, Saying.owner_id == row_id))
    session.execute(table.delete().where(table.c.id == row_id))


def _put_back_laps(session: Session, change: Change) -> None:
    session.execute(sa.delete(Lap).where(Lap.run_id == change.row_id))
    if change.before:
        names = ("number", "time", "flag", "said")
        laps = [dict(zip(names, lap, strict=True), run_id=change.row_id) for lap in change.before]
        session.execute(sa.insert(Lap), laps)


def _values(table: sa.Table, before: Any) -> dict[str, Any]:
    model = next(m.class_ for m in Table.registry.mappers if m.local_table is table)
    return journal.read_back(model, before)
