"""Opening a notebook, and the one way to write into it and to read from it.

A notebook is one SQLite file, or a PostgreSQL database by its URL; tables, migrations and functions are the
same. What `Store.entry` has left without an error is on the disk: SQLite writes through (`synchronous=FULL`)
before it says so. One writer at a time: a second one waits, nobody is told that the notebook is locked.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError
from sqlalchemy.orm import Session, sessionmaker
from sqlalchemy.orm.exc import StaleDataError

from ovalwright.notebook import journal, migrate
from ovalwright.notebook.place import usual_name, usual_place
from ovalwright.notebook.tables import Entry
from ovalwright.notebook.trouble import NotebookTrouble

PATIENCE = 60_000
"""How long a writer waits for another process [ms]."""
CHECKED_WHOLE = 64 * 2**20
"""Largest file [bytes] that is checked row by row whenever it is opened, not only after a crash."""
SHUT = (
    "this notebook lies where nothing may be written and is opened for reading only; copy it to a folder of "
    "your own to write into it."
)
NEVER_CHANGES = "a revision never changes; make a new one from it, with the reason."
_WRITERS = 0x6F76616C
"""Number of the lock that PostgreSQL's writers wait for."""
_MAGIC = b"SQLite format 3\x00"
_READS, _OURS = "reads", "connection"


class Store:
    """An open notebook. `read_only` says in one sentence why it cannot be written to, or nothing."""

    def __init__(self, engine: Engine, *, where: str, by: str, read_only: str = "") -> None:
        self.engine, self.where, self.by, self.read_only = engine, where, by, read_only
        self._sessions = sessionmaker(engine, expire_on_commit=False)
        self._writing = threading.RLock()

    @classmethod
    def open(cls, where: str | Path | None = None, *, by: str = "") -> Store:
        """Open a notebook, made new where there is none, and bring its tables up to date.

        `where`: a file, or the URL of a PostgreSQL database; `by`: who writes. Raises NotebookTrouble.
        """
        told = str(where) if where is not None else usual_place()
        by = (by or usual_name())[:120]
        with in_a_sentence(told):
            shut = "://" not in told and is_shut(Path(told).expanduser())
            engine = engine_for(told)
            try:
                if migrate.is_newer(engine):
                    return cls(_for_reading(engine, told), where=told, by=by, read_only=migrate.NEWER)
                migrate.upgrade(engine)
            except BaseException:
                engine.dispose()
                raise
        return cls(engine, where=told, by=by, read_only=SHUT if shut else "")

    @property
    def shown(self) -> str:
        """Where it is, as it may be shown: an address without its password."""
        return _shown(self.where)

    @property
    def is_file(self) -> bool:
        """Whether it is one SQLite file."""
        return self.engine.dialect.name == "sqlite"

    @property
    def path(self) -> Path:
        """Its file. Raises NotebookTrouble for a database on a server."""
        if not self.is_file:
            raise NotebookTrouble(f"{_shown(self.where)} is a database on a server and has no file.")
        return Path(self.where).expanduser()

    @contextmanager
    def entry(self, what: str) -> Iterator[Session]:
        """One thing done: everything written inside is kept together, or nothing is.

        When the block has ended without an error it is on the disk. Raises NotebookTrouble when it cannot be
        kept, or when another hand changed the same meanwhile.
        """
        with self.aside() as session:
            session.info[journal.ENTRY] = Entry(by=self.by, what=what)
            session.add(session.info[journal.ENTRY])
            session.flush()
            yield session

    @contextmanager
    def aside(self) -> Iterator[Session]:
        """Write what is no entry: drafts, and what is made from other tables. As safe, but not undone."""
        if self.read_only:
            raise NotebookTrouble(self.read_only)
        with self._writing, in_a_sentence(self.where), self._sessions() as session:
            try:
                _wait_turn(session)
                yield session
                session.commit()
            except BaseException:
                session.rollback()
                raise

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Read, of one moment, while others write."""
        with in_a_sentence(self.where), self._sessions(info={_READS: True}) as session:
            if not self.is_file:
                session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
            yield session

    def close(self) -> None:
        """Let go of the file or the server."""
        self.engine.dispose()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *problem: object) -> None:
        self.close()


def state_of(session: Session) -> object:
    """What tells this state of a notebook's file from every other, whoever wrote it; None where nothing does,
    on a server or while writing.
    """
    if _READS not in session.info or session.get_bind().dialect.name != "sqlite":
        return None
    connection = session.connection()
    own = connection.connection.dbapi_connection
    assert isinstance(own, sqlite3.Connection)
    others = own.execute("PRAGMA data_version").fetchone()[0]
    return connection.info.setdefault(_OURS, object()), others, own.total_changes


# ---------------- opening


def engine_for(where: str) -> Engine:
    """The database of a notebook, found whole, its tables as they are. Raises NotebookTrouble."""
    return _postgresql(where) if "://" in where else _sqlite(Path(where))


def is_shut(path: Path) -> bool:
    """Whether a notebook lies, all in its one file, where nothing can be written beside it."""
    beside = path.with_name(path.name + "-wal")
    return path.is_file() and not beside.exists() and not os.access(path.parent, os.W_OK)


def _sqlite(path: Path) -> Engine:
    path = path.expanduser()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        crashed = path.with_name(path.name + "-wal").exists()
        size = path.stat().st_size if path.exists() else 0
        if size:
            with path.open("rb") as file:
                if file.read(len(_MAGIC)) != _MAGIC:
                    raise NotebookTrouble(f"{path}: is no notebook; name the file of one, or a new name.")
    except OSError as problem:
        reason = problem.strerror or "it cannot be reached"
        raise NotebookTrouble(f"{path}: cannot be opened ({reason}); name a file you may write.") from None
    shut = is_shut(path)
    url = sa.URL.create("sqlite", database=str(path))
    if shut:
        url = url.set(database=path.resolve().as_uri(), query={"immutable": "1", "uri": "true"})
    engine = sa.create_engine(url, connect_args={"timeout": PATIENCE / 1000})
    event.listen(engine, "connect", _set_up_to_read if shut else _set_up)
    event.listen(engine, "begin", _begin_sqlite)
    if size:
        try:
            _check(engine, path, whole=crashed or size <= CHECKED_WHOLE)
        except BaseException:
            engine.dispose()
            raise
    return engine


def _set_up_to_read(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None
    connection.execute("PRAGMA query_only = ON")


def _set_up(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout = {PATIENCE}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "temp_store = MEMORY",
        "cache_size = -65536",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN")


def _check(engine: Engine, path: Path, *, whole: bool) -> None:
    with engine.connect() as connection:
        found = connection.exec_driver_sql(
            f"PRAGMA {'integrity_check' if whole else 'quick_check'}(1)"
        ).scalar()
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").first() if whole else None
    if found != "ok" or loose is not None:
        raise NotebookTrouble(
            f"{path}: is damaged and was left as it is; give back the last copy with `notebook restore`."
        )


def _postgresql(url: str) -> Engine:
    try:
        parsed = sa.make_url(url)
    except SQLAlchemyError:
        raise NotebookTrouble(
            "the address of the notebook cannot be read; write postgresql://user@host/database."
        ) from None
    if parsed.get_backend_name() not in ("postgresql", "postgres"):
        raise NotebookTrouble(
            f"{_shown(url)}: no notebook is kept there; name a file, or postgresql://user@host/database."
        )
    try:
        return sa.create_engine(parsed.set(drivername="postgresql+psycopg"), pool_pre_ping=True)
    except ImportError:
        raise NotebookTrouble(
            "PostgreSQL needs one more library: pip install psycopg[binary], or keep the notebook in a file."
        ) from None


def _for_reading(engine: Engine, told: str) -> Engine:
    """The same notebook, so that nothing can be written."""
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _set_up_to_read)
        engine.dispose()
        return engine
    engine.dispose()
    return sa.create_engine(engine.url, connect_args={"options": "-c default_transaction_read_only=on"})


def _wait_turn(session: Session) -> None:
    """Become the only writer, waiting for whoever writes now."""
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        session.execute(sa.select(sa.func.pg_advisory_xact_lock(_WRITERS)))


# ---------------- what may go wrong


@contextmanager
def in_a_sentence(where: str) -> Iterator[None]:
    """Whatever the database says, as one sentence."""
    try:
        yield
    except NotebookTrouble:
        raise
    except UnicodeError:
        raise NotebookTrouble(
            "a text holds characters that cannot be kept; type it again without them."
        ) from None
    except StaleDataError:
        raise NotebookTrouble(
            "another hand changed the same meanwhile; look at it again, then change it."
        ) from None
    except IntegrityError as problem:
        raise NotebookTrouble(_clash(str(problem.orig))) from None
    except DBAPIError as problem:
        raise NotebookTrouble(f"{_shown(where)}: {reason(str(problem.orig))}") from None


def _clash(said: str) -> str:
    if "uq_stay" in said or "stay." in said:
        return "a part is in one place at a time, and a place holds one part; take it out there first."
    if "FOREIGN KEY" in said or "foreign key" in said:
        return "something else in the notebook still needs it; nothing was changed."
    if "never changes" in said:
        return NEVER_CHANGES
    return f"the notebook has that already ({said.splitlines()[0][:120]}); nothing was changed."


def reason(said: str) -> str:
    """What a database or a disk says, in the racer's words."""
    said = said.lower()
    if "full" in said or "no space" in said:
        return "the disk is full; what was kept before is whole, make room and do that again."
    if "permission denied" in said or "readonly" in said or "read-only" in said or "read only" in said:
        return "may not be written to; what it holds is whole, copy it to a folder of your own."
    if "disk i/o" in said or "too large" in said:
        return "the disk takes no more of it; what was kept before is whole, make room and do that again."
    if "malformed" in said or "not a database" in said:
        return "is damaged and was left as it is; give back the last copy with `notebook restore`."
    if "unable to open" in said:
        return "cannot be opened; name a file in a folder that you may write."
    if "locked" in said or "busy" in said:
        return "another program has held it for a minute; close that one and enter it again."
    if "never changes" in said:
        return NEVER_CHANGES
    if "connect" in said or "resolve" in said:
        return "the server does not answer; check its address, or keep the notebook in a file."
    return (
        f"cannot do that ({said.splitlines()[0][:160] if said else 'no reason given'}); nothing was changed."
    )


def _shown(where: str) -> str:
    """A place as it may be shown: an address without its password."""
    if "://" not in where:
        return where
    try:
        return sa.make_url(where).render_as_string(hide_password=True)
    except SQLAlchemyError:
        return "the notebook"
