"""Undo of the last entry, and the history of a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from ovalwright.notebook import journal, words
from ovalwright.notebook.tables import Change, Entry, Figure, Kept, Lap, Revision, Run, Table
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


def next_to_undo(session: Session, *, by: str) -> Done | None:
    """The last entry of a person that was not taken back yet, None where there is none."""
    entry = _standing(session, by)
    return None if entry is None else _done(entry)


def _standing(session: Session, by: str) -> Entry | None:
    query = sa.select(Entry).where(Entry.by == by, Entry.undone_by_id.is_(None), ~Entry.undoes)
    own = session.info.get(journal.ENTRY)
    query = query.where(Entry.id != own.id) if own is not None else query
    return session.scalars(query.order_by(Entry.id.desc()).limit(1)).first()


def undo(session: Session, *, by: str) -> Done:
    """Take back the last entry of a person that was not taken back yet, whole, and say what it was.

    Raises NotebookTrouble when there is none, or when something later rests on it.
    """
    entry = _standing(session, by)
    if entry is None:
        raise NotebookTrouble(NOTHING)
    changes = session.scalars(
        sa.select(Change).where(Change.entry_id == entry.id).order_by(Change.id.desc())
    ).all()
    _check_untouched(session, entry, changes)
    owners = _spoken_of(session, changes)
    _put_back(session, changes)
    entry.undone_by_id, _own(session).undoes = _own(session).id, True
    session.flush()
    session.expire_all()
    for owner, owner_id in owners:
        words.tell(session, owner, owner_id)
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
    removed = {(change.of_table, change.row_id) for change in changes if change.done == "removed"}
    for change in changes:
        table = tables[change.of_table]
        if change.of_table == Lap.__tablename__ or (change.of_table, change.row_id) in removed:
            continue
        now = session.execute(sa.select(table.c.entry_id).where(table.c.id == change.row_id)).scalar()
        if now != entry.id:
            later = session.get(Entry, now) if now is not None else None
            who = f" ({later.by}: {later.what})" if later is not None else ""
            raise NotebookTrouble(
                f'"{entry.what}" cannot be undone: it was changed again since{who}; undo that first.'
            )


def _put_back(session: Session, changes: Sequence[Change]) -> None:
    """Rows as they were, the last change first. What still clashes with the rest waits until that is back."""
    waiting = list(changes)
    while waiting:
        left, why = [], None
        for change in waiting:
            try:
                with session.connection().begin_nested():
                    _put_one_back(session, change)
            except IntegrityError as clash:
                left.append(change)
                why = clash
        if why is not None and len(left) == len(waiting):
            raise why
        waiting = left


def _put_one_back(session: Session, change: Change) -> None:
    table = _tables()[change.of_table]
    if change.of_table == Lap.__tablename__:
        _put_back_laps(session, change)
    elif change.done == "changed":
        _restore(session, table, change)
    elif change.done == "added":
        _remove(session, table, change.row_id)
    else:
        _return(session, table, change)


def _return(session: Session, table: sa.Table, change: Change) -> None:
    """A row that was removed comes back, by another number where a later row took its own."""
    was = _values(table, change.before)
    if session.execute(sa.select(table.c.id).where(table.c.id == change.row_id)).first() is not None:
        del was["id"]
    session.execute(table.insert().values(**was))


def _spoken_of(session: Session, changes: Sequence[Change]) -> set[tuple[str, int]]:
    """Whose words to be found by the changes touched, as (owner, id)."""
    owners: set[tuple[str, int]] = set()
    for change in changes:
        table = _tables()[change.of_table]
        if change.of_table in words.OWNERS:
            owners.add((change.of_table, change.row_id))
        elif "run_id" in table.c and "id" in table.c:
            run = session.execute(sa.select(table.c.run_id).where(table.c.id == change.row_id)).scalar()
            run = run or (change.before or {}).get("run_id")
            owners |= {("run", run)} if run else set()
    return owners


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
