"""Dated copies of a notebook, made while it is in use; which of them stay; and giving one back.

A copy is one SQLite file that opens as a notebook, also when the notebook is on a server. It is written
under another name, read through and checked, and bears its own name only then. One is made by itself of each
day with entries, when the notebook is next opened on another day. Of the copies in a folder stay the last
ten, the last of each day for a month, and the last of each month for ever.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
import shutil
import sqlite3
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Engine

from ovalwright.notebook.place import data_folder
from ovalwright.notebook.store import Store, in_a_sentence, is_shut, reason
from ovalwright.notebook.tables import Entry, Table, now
from ovalwright.notebook.trouble import NotebookTrouble

FOLDER_NAME = "copies"
LAST, DAYS = 10, 31
"""How many of the last copies stay, and for how many days the last of each day does."""
ROWS_AT_ONCE = 2000
_MOMENT = "%Y-%m-%dT%H%M%SZ"
_UNFINISHED = ".unfinished"
_ON_SERVER = (
    "a notebook on a server is not given back a copy; name a file, and the copy opens there as a notebook."
)


@dataclass(frozen=True)
class Copy:
    """A copy of a notebook and when it was made (UTC)."""

    made_at: dt.datetime
    path: Path


def usual_folder(where: str | Path) -> Path:
    """Where copies go unless told: beside the notebook; in the user's data folder when it is on a server."""
    home = data_folder() if _on_server(where) else Path(where).expanduser().parent
    return home / FOLDER_NAME


def copies_of(where: str | Path, folder: Path | None = None) -> tuple[Copy, ...]:
    """The copies of a notebook in a folder, the last one first; they are told by their names."""
    place = folder or usual_folder(where)
    pattern = re.compile(re.escape(_called(where)) + r"-(\d{4}-\d\d-\d\dT\d{6}Z)\.sqlite")
    named = ((pattern.fullmatch(path.name), path) for path in place.glob("*.sqlite"))
    found = [Copy(_moment(match[1]), path) for match, path in named if match]
    return tuple(sorted(found, key=lambda copy: copy.made_at, reverse=True))


def copy_now(store: Store, folder: Path | None = None) -> Path:
    """Copy a notebook as it is at this moment, while others read it and write into it; the copy's file.

    Copies that need not stay are removed. Raises NotebookTrouble, and then no copy is left and none removed.
    """
    place = folder or usual_folder(store.where)
    with _plainly(place):
        place.mkdir(parents=True, exist_ok=True)
        with _unfinished(place) as fresh:
            if store.is_file:
                _copy_file(store.path, fresh)
            else:
                _copy_rows(store, fresh)
            _check(fresh)
            copy = _free_name(place, _called(store.where))
            _name(fresh, copy)
    _remove_the_rest(store.where, place)
    return copy


def copy_of_the_day(store: Store) -> Path | None:
    """Copy a notebook in a file as the last day left it, before anything of today is entered; None where that
    was done, or nothing was entered since the last copy. Raises NotebookTrouble.
    """
    if store.read_only or not store.is_file:
        return None
    with store.reading() as session:
        last = session.scalar(sa.select(sa.func.max(Entry.at)))
    copies = copies_of(store.where)
    if last is None or last.astimezone().date() >= now().astimezone().date():
        return None
    return None if copies and copies[0].made_at >= last else copy_now(store)


def check(copy: Path, where: str | Path) -> None:
    """Raises NotebookTrouble unless a copy may take the place of the notebook: there, whole, another."""
    if _on_server(where):
        raise NotebookTrouble(_ON_SERVER)
    copy, present = Path(copy).expanduser(), Path(where).expanduser()
    if not copy.is_file():
        raise NotebookTrouble(f"{copy}: there is no such copy; `notebook copies` lists those there are.")
    if present.exists() and copy.samefile(present):
        raise NotebookTrouble(f"{copy}: is the notebook itself; name a copy of it.")
    _check(copy)


def restore(copy: Path, where: str | Path) -> Path | None:
    """Put a copy in the place of the notebook; the file that the present one was set aside as, or None.

    The copy stays. Nothing is changed when it is damaged or no notebook, when the present one is open
    anywhere, or when there is no room. Raises NotebookTrouble.
    """
    check(copy, where)
    copy, present = Path(copy).expanduser(), Path(where).expanduser()
    with _plainly(present):
        present.parent.mkdir(parents=True, exist_ok=True)
        with _unfinished(present.parent) as fresh:
            _copy_file(copy, fresh)
            _check(fresh)
            aside = _set_aside(present)
            _name(fresh, present)
    return aside


# ---------------- which stay


def staying(made: Iterable[dt.datetime]) -> set[dt.datetime]:
    """Those of copies that stay: the last ten, the last of each day of a month, the last of each month."""
    order = sorted(made, reverse=True)
    last_of_day: dict[dt.date, dt.datetime] = {}
    last_of_month: dict[tuple[int, int], dt.datetime] = {}
    for moment in order:
        last_of_month.setdefault((moment.year, moment.month), moment)
        if order[0] - moment <= dt.timedelta(days=DAYS):
            last_of_day.setdefault(moment.date(), moment)
    return {*order[:LAST], *last_of_day.values(), *last_of_month.values()}


def _remove_the_rest(where: str, place: Path) -> None:
    """Copies that need not stay, and what a copy that was cut short a day ago has left."""
    found = copies_of(where, place)
    stay = staying(copy.made_at for copy in found)
    old = now().timestamp() - dt.timedelta(days=1).total_seconds()
    with contextlib.suppress(OSError):  # one that cannot be removed is no harm
        for copy in found:
            if copy.made_at not in stay:
                copy.path.unlink()
        for left in place.glob("*" + _UNFINISHED):
            if left.stat().st_mtime < old:
                left.unlink()


# ---------------- how a copy is made


def _copy_file(source: Path, fresh: Path) -> None:
    """A notebook as it is at one moment, in a new file; who writes into it is not held up."""
    with contextlib.closing(_open_to_read(source)) as connection:
        connection.execute("VACUUM INTO ?", (str(fresh),))


def _copy_rows(store: Store, fresh: Path) -> None:
    """All rows of a notebook on a server, of one moment, in a new file. Raises NotebookTrouble."""
    if store.read_only:
        raise NotebookTrouble(store.read_only)
    with Store.open(fresh, by=store.by) as blank:
        _pour(store.engine, blank.engine)
        with contextlib.closing(blank.engine.raw_connection()) as connection:
            connection.cursor().execute("PRAGMA journal_mode = DELETE")


def _pour(source: Engine, target: Engine) -> None:
    of_one_moment = source.execution_options(isolation_level="REPEATABLE READ", stream_results=True)
    with of_one_moment.connect() as here, target.begin() as there:
        there.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        for table in Table.metadata.sorted_tables:
            rows = here.execute(sa.select(table)).mappings()
            for some in rows.partitions(ROWS_AT_ONCE):
                there.execute(table.insert(), [dict(row) for row in some])


def _check(copy: Path) -> None:
    """Raises NotebookTrouble unless a file is a whole notebook."""
    try:
        with contextlib.closing(_open_to_read(copy)) as connection:
            whole = connection.execute("PRAGMA integrity_check(1)").fetchone() == ("ok",)
            loose = connection.execute("PRAGMA foreign_key_check").fetchone()
            ours = connection.execute(
                "SELECT count(*) FROM sqlite_schema WHERE name IN ('alembic_version', 'entry', 'document')"
            ).fetchone() == (3,)
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError:
        whole, loose, ours = False, None, True
    if not whole or loose:
        raise NotebookTrouble(f"{copy}: is damaged and was not used; take another copy.")
    if not ours:
        raise NotebookTrouble(f"{copy}: is no copy of a notebook; name one that Ovalwright made.")


def _open_to_read(path: Path) -> sqlite3.Connection:
    way = "immutable=1" if is_shut(path) else "mode=ro"
    return sqlite3.connect(f"{path.resolve().as_uri()}?{way}", uri=True, isolation_level=None)


# ---------------- files


def _set_aside(present: Path) -> Path | None:
    """Give the present notebook a second name, its own being free to be taken. Raises NotebookTrouble."""
    if not present.exists():
        return None
    _see_that_it_is_closed(present)
    aside = _free_name(present.parent, f"{present.stem}-set-aside")
    for tail in ("-wal", "-shm"):
        with contextlib.suppress(FileNotFoundError):
            present.with_name(present.name + tail).rename(aside.with_name(aside.name + tail))
    try:
        os.link(present, aside)
    except OSError:  # a file system that knows no second names
        shutil.copy2(present, aside)
        _to_disk(aside)
    return aside


def _see_that_it_is_closed(present: Path) -> None:
    """All of a notebook in its one file; only its only user can do that. Raises NotebookTrouble."""
    with contextlib.closing(sqlite3.connect(present, timeout=1.0, isolation_level=None)) as connection:
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as problem:
            if "locked" in str(problem):
                raise NotebookTrouble(
                    f"{present}: is open in another program; close it there, then give the copy back."
                ) from None
            raise
        except sqlite3.DatabaseError:
            return  # damaged, which may be why a copy is given back: it is set aside as it is


@contextlib.contextmanager
def _unfinished(place: Path) -> Iterator[Path]:
    """A name for a file in the making; what still bears it at the end is removed."""
    fresh = place / (uuid.uuid4().hex + _UNFINISHED)
    try:
        yield fresh
    finally:
        for tail in ("", "-journal", "-wal", "-shm"):
            fresh.with_name(fresh.name + tail).unlink(missing_ok=True)


def _name(fresh: Path, name: Path) -> None:
    """Give a finished file its name, when all of it is on the disk."""
    _to_disk(fresh)
    fresh.replace(name)
    if os.name != "nt":
        _to_disk(name.parent)


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _free_name(place: Path, called: str) -> Path:
    moment = now()
    while (name := place / f"{called}-{moment.strftime(_MOMENT)}.sqlite").exists():
        moment += dt.timedelta(seconds=1)
    return name


def _moment(told: str) -> dt.datetime:
    return dt.datetime.strptime(told, _MOMENT).replace(tzinfo=dt.UTC)


def _on_server(where: str | Path) -> bool:
    return "://" in str(where)


def _called(where: str | Path) -> str:
    return (sa.make_url(str(where)).database or "notebook") if _on_server(where) else Path(where).stem


@contextlib.contextmanager
def _plainly(place: Path) -> Iterator[None]:
    """Whatever the disk says, as one sentence."""
    try:
        with in_a_sentence(str(place)):
            yield
    except sqlite3.Error as problem:
        raise NotebookTrouble(f"{place}: {reason(str(problem))}") from None
    except OSError as problem:
        raise NotebookTrouble(f"{place}: {reason(problem.strerror or '')}") from None
