"""The journal: every row that an entry adds, changes or removes is noted as it was before.

It listens to every session that writes into a notebook, so no function has to remember it. Drafts are noted
too where an entry changes them, so that undo gives back what was typed.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import inspect
from sqlalchemy.event import listens_for
from sqlalchemy.orm import Mapper, Session

from ovalwright.notebook.tables import Change, Entry, Kept, Table
from ovalwright.notebook.tables_work import Draft

ENTRY = "entry"
"""Where a session keeps the entry that it writes."""
NOTED = (Kept, Draft)


def entry_of(session: Session) -> Entry:
    """The entry that a session writes. Raises LookupError outside of `Store.entry`."""
    entry: Entry = session.info[ENTRY]
    return entry


@listens_for(Session, "before_flush")
def _sign(session: Session, _context: object, _objects: object) -> None:
    """Every row as it was; a kept one bears the entry that wrote it last."""
    if ENTRY not in session.info:
        return
    entry = session.info[ENTRY]
    for row in [*session.new, *session.dirty]:
        if isinstance(row, NOTED) and (row in session.new or session.is_modified(row)):
            if row not in session.new:
                was = as_it_was(row)
                if isinstance(row, Draft):
                    was |= draft_left(row.uid, row.saved_at)
                _note(session, row, "changed", was)
            if isinstance(row, Kept):
                row.entry_id = entry.id
    for row in session.deleted:
        if isinstance(row, NOTED):
            _note(session, row, "removed", as_it_was(row))


@listens_for(Session, "after_flush")
def _note_added(session: Session, _context: object) -> None:
    if ENTRY not in session.info:
        return
    added = [
        {
            "entry_id": session.info[ENTRY].id,
            "of_table": _table(row),
            "row_id": row.id,
            "done": "added",
            "before": draft_left(row.uid, row.saved_at) if isinstance(row, Draft) else None,
        }
        for row in session.new
        if isinstance(row, NOTED)
    ]
    if added:
        session.execute(Change.__table__.insert(), added)  # type: ignore[attr-defined]


def draft_left(uid: str, saved_at: dt.datetime) -> dict[str, Any]:
    """What is noted of a draft beside how it was: by which is known whether it was typed on since."""
    return {"uid": uid, "left": written(saved_at)}


def _note(session: Session, row: Kept | Draft, done: str, before: dict[str, Any] | None) -> None:
    note(session, _table(row), row.id, done, before)


def note(session: Session, of_table: str, row_id: int, done: str, before: Any) -> None:
    """Note what was written past the session, such as the laps of a run, which change as a whole."""
    session.execute(
        Change.__table__.insert(),  # type: ignore[attr-defined]
        {
            "entry_id": entry_of(session).id,
            "of_table": of_table,
            "row_id": row_id,
            "done": done,
            "before": before,
        },
    )


def _table(row: object) -> str:
    return str(type(row).__tablename__)  # type: ignore[attr-defined]


def as_it_was(row: Table | Kept) -> dict[str, Any]:
    """The columns of a row as the database still has them, as JSON knows them."""
    state: Any = inspect(row)
    mapper: Mapper[Any] = state.mapper
    was = {}
    for column in mapper.column_attrs:
        history = state.attrs[column.key].history
        was[column.key] = written(history.deleted[0] if history.deleted else getattr(row, column.key))
    return was


def written(value: Any) -> Any:
    """A value of a column as JSON knows it."""
    return value.isoformat() if isinstance(value, (dt.date, dt.datetime)) else value


def read_back(table: type[Any], told: dict[str, Any]) -> dict[str, Any]:
    """Columns of a row from their JSON."""
    types = {column.key: column.columns[0].type.python_type for column in inspect(table).column_attrs}
    readers: dict[type, Any] = {dt.date: dt.date.fromisoformat, dt.datetime: dt.datetime.fromisoformat}
    return {
        key: readers[types[key]](value) if types[key] in readers and value is not None else value
        for key, value in told.items()
        if key in types
    }
