"""Undo of the last entry, what was undone put back, and the history of a row.

An undo is an entry as well: the journal notes what it found, so that it can itself be turned round. Drafts go
with it, such as the setup in hand or weights half typed, unless somebody typed on in them since.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session, aliased

from ovalwright.notebook import journal, words
from ovalwright.notebook.tables import Change, Entry, Figure, Kept, Lap, Table
from ovalwright.notebook.tables_work import Draft
from ovalwright.notebook.trouble import NotebookTrouble

NOTHING = "there is nothing of yours left to undo."
NOTHING_TAKEN = "there is nothing of yours to put back; it can be put back until you enter something new."
OWNED: dict[str, str] = {Lap.__tablename__: "run_id", Figure.__tablename__: "revision_id"}
"""Tables whose rows belong to one row of another, named by this column, and change as a whole."""
DRAFT = Draft.__tablename__


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
    changes = _changes_of(session, entry)
    _check_untouched(session, entry, changes)
    entry.undone_by_id, _own(session).undoes = _own(session).id, True
    _turn_round(session, changes)
    return _done(entry)


def next_to_put_back(session: Session, *, by: str) -> Done | None:
    """The entry of a person that was taken back last; None without one, or when he entered another since."""
    entry = _taken_back(session, by)
    return None if entry is None else _done(entry)


def put_back(session: Session, *, by: str) -> Done:
    """Put back the entry of a person that was taken back last, whole, and say what it was.

    Raises NotebookTrouble when there is none, or when another hand wrote in its place since.
    """
    entry = _taken_back(session, by)
    if entry is None:
        raise NotebookTrouble(NOTHING_TAKEN)
    taking = session.get_one(Entry, entry.undone_by_id)
    _check_not_written_over(session, entry, taking)
    changes = _changes_of(session, taking)
    entry.undone_by_id, taking.undone_by_id, _own(session).undoes = None, _own(session).id, True
    _turn_round(session, changes)
    return _done(entry)


def _taken_back(session: Session, by: str) -> Entry | None:
    mine = sa.select(Entry).where(Entry.by == by, ~Entry.undoes)
    taken = mine.where(Entry.undone_by_id.is_not(None)).order_by(Entry.undone_by_id.desc())
    entry = session.scalars(taken.limit(1)).first()
    if entry is None or not _is_noted(session, entry, session.get_one(Entry, entry.undone_by_id)):
        return None
    own = session.info.get(journal.ENTRY)
    since = mine.where(Entry.undone_by_id.is_(None), Entry.id > entry.undone_by_id)
    since = since.where(Entry.id != own.id) if own is not None else since
    return entry if session.scalars(since.limit(1)).first() is None else None


def _is_noted(session: Session, entry: Entry, taking: Entry) -> bool:
    """Whether an undo noted what it changed; older ones did not. One of an entry that changed nothing has
    nothing to note.
    """
    return bool(_changes_of(session, taking)) or not _changes_of(session, entry)


def _check_not_written_over(session: Session, entry: Entry, taking: Entry) -> None:
    """What was taken back must not be written by others since, unless that was taken back in its turn."""
    taken, later = aliased(Change), aliased(Change)
    same = sa.and_(later.of_table == taken.of_table, later.row_id == taken.row_id)
    found = sa.select(Entry).join(later, later.entry_id == Entry.id).join(taken, same)
    found = found.where(taken.entry_id == taking.id, taken.of_table != DRAFT, Entry.id > taking.id)
    for one in session.scalars(found.distinct()):
        if _still_tells(session, one, since=taking):
            raise NotebookTrouble(
                f'"{entry.what}" cannot be put back: the same was written since by {one.by} ({one.what}); '
                "enter it again."
            )


def _still_tells(session: Session, one: Entry, *, since: Entry) -> bool:
    """Whether an entry, an undo or a putting back makes a difference to how it stood at an undo."""
    if not one.undoes:
        return one.undone_by_id is None
    if one.undone_by_id is not None:
        return False
    turned = session.scalars(sa.select(Entry).where(Entry.undone_by_id == one.id)).first()
    return turned is None or turned.id < since.id


def _turn_round(session: Session, changes: Sequence[Change]) -> None:
    """Undo changes, noting how that changes rows, and bring up to date what is made of them."""
    session.flush()
    changes = _without_drafts_typed_on(session, changes)
    owners = _spoken_of(session, changes)
    _put_back(session, changes)
    session.expire_all()
    for owner, owner_id in owners:
        words.tell(session, owner, owner_id)


def _without_drafts_typed_on(session: Session, changes: Sequence[Change]) -> Sequence[Change]:
    """Changes, the last first, without those of drafts that are not as these left them."""
    last = {change.row_id: change for change in reversed(changes) if change.of_table == DRAFT}
    typed_on = {row_id for row_id, change in last.items() if _is_typed_on(session, change)}
    return [change for change in changes if change.of_table != DRAFT or change.row_id not in typed_on]


def _is_typed_on(session: Session, last: Change) -> bool:
    if last.done == "removed":
        return False
    now = session.execute(sa.select(Draft.uid, Draft.saved_at).where(Draft.id == last.row_id)).first()
    left = {key: (last.before or {}).get(key) for key in ("uid", "left")}
    return now is None or journal.draft_left(*now) != left


def _changes_of(session: Session, entry: Entry) -> Sequence[Change]:
    """What an entry changed, the last first."""
    return session.scalars(
        sa.select(Change).where(Change.entry_id == entry.id).order_by(Change.id.desc())
    ).all()


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
        if change.of_table in (*OWNED, DRAFT) or (change.of_table, change.row_id) in removed:
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
    if change.of_table in OWNED:
        _replace(session, table, change.row_id, change.before or [])
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
    made = session.connection().execute(table.insert().values(**was)).inserted_primary_key
    assert made is not None
    told = journal.draft_left(was["uid"], was["saved_at"]) if table.name == DRAFT else None
    journal.note(session, table.name, made[0], "added", told)


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
    is_now = _as_it_is(session, table, change.row_id)
    before: dict[str, Any] = change.before or {}
    was = _values(table, before)
    other = {name: value for name, value in was.items() if before[name] != is_now[name]}
    if table.name == DRAFT:
        is_now |= journal.draft_left(was["uid"], was["saved_at"])
    journal.note(session, table.name, change.row_id, "changed", is_now)
    other["version"] = table.c.version + 1
    session.execute(table.update().where(table.c.id == change.row_id).values(**other))


def _remove(session: Session, table: sa.Table, row_id: int) -> None:
    """A row that was added goes, with what belongs to it."""
    for name, column in OWNED.items():
        owned = _tables()[name]
        if owned.c[column].references(table.c.id):
            _replace(session, owned, row_id, [])
    journal.note(session, table.name, row_id, "removed", _as_it_is(session, table, row_id))
    session.execute(table.delete().where(table.c.id == row_id))


def _replace(session: Session, owned: sa.Table, owner_id: int, rows: Sequence[Sequence[Any]]) -> None:
    """Other rows in place of all that belong to one owner."""
    owner = owned.c[OWNED[owned.name]]
    columns = [column for column in owned.c if column is not owner]
    before = [list(row) for row in session.execute(sa.select(*columns).where(owner == owner_id))]
    if before or rows:
        journal.note(session, owned.name, owner_id, "changed", before)
    session.execute(owned.delete().where(owner == owner_id))
    if rows:
        names = [column.name for column in columns]
        told = [{owner.name: owner_id, **dict(zip(names, row, strict=True))} for row in rows]
        session.execute(owned.insert(), told)


def _as_it_is(session: Session, table: sa.Table, row_id: int) -> dict[str, Any]:
    row = session.execute(sa.select(table).where(table.c.id == row_id)).mappings().one()
    return {name: journal.written(value) for name, value in row.items()}


def _values(table: sa.Table, before: Any) -> dict[str, Any]:
    model = next(m.class_ for m in Table.registry.mappers if m.local_table is table)
    return journal.read_back(model, before)
