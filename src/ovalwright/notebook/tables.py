"""The tables of the notebook.

Every kept row tells which entry wrote it last, and an entry tells who, when and what was done; the rows as
they were before stand in `Change`. Quantities are SI floats beside the text as typed. A revision never
changes, so neither does a setup that was run.
"""

from __future__ import annotations

import datetime as dt
import secrets
import uuid
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    DateTime,
    Dialect,
    ForeignKey,
    Index,
    MetaData,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column, relationship

CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH = 6
NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


def new_uid() -> str:
    """A name no other row in the world has: 32 hex digits."""
    return uuid.uuid4().hex


def new_code() -> str:
    """A short code to print on a sheet: six letters and digits that are not taken for each other."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


def now() -> dt.datetime:
    """This moment, UTC."""
    return dt.datetime.now(dt.UTC)


class Moment(TypeDecorator[dt.datetime]):
    """A moment in UTC; every database gives it back with its zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    @property
    def python_type(self) -> type[dt.datetime]:
        """What it is read back as from the journal."""
        return dt.datetime

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Store in UTC. Raises ValueError for a moment without a zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its zone")
        return value.astimezone(dt.UTC)

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Give back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if value.tzinfo is None else value.astimezone(dt.UTC)


class Table(DeclarativeBase):
    """Base of every table."""

    metadata = MetaData(naming_convention=NAMES)


class Entry(Table):
    """One thing that was done, by whom and when; everything it wrote can be undone together."""

    __tablename__ = "entry"
    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    by: Mapped[str] = mapped_column(String(120))
    what: Mapped[str] = mapped_column(Text)
    undone_by_id: Mapped[int | None] = mapped_column(ForeignKey("entry.id"), index=True)
    undoes: Mapped[bool] = mapped_column(default=False)


class Change(Table):
    """A row as it was before an entry touched it; `before` is empty for a row that the entry added. That of a
    draft says when the entry `left` it, too.
    """

    __tablename__ = "change"
    id: Mapped[int] = mapped_column(primary_key=True)
    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"), index=True)
    of_table: Mapped[str] = mapped_column(String(40))
    row_id: Mapped[int] = mapped_column()
    done: Mapped[str] = mapped_column(String(12))
    before: Mapped[Any | None] = mapped_column(JSON(none_as_null=True))
    __table_args__ = (
        CheckConstraint("done IN ('added', 'changed', 'removed')", name="done"),
        Index(None, "of_table", "row_id"),
    )


class Kept:
    """What every kept row has: the entry that wrote it last, and a count that tells two writers apart."""

    id: Mapped[int] = mapped_column(primary_key=True)
    entry_id: Mapped[int] = mapped_column(ForeignKey("entry.id"))
    version: Mapped[int] = mapped_column()

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:
        return {"version_id_col": cls.version}


# ---------------- documents


class Document(Kept, Table):
    """A car, setup, track, rack and so on, by its name; what it says stands in its revisions."""

    __tablename__ = "document"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    kind: Mapped[str] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(120))
    __table_args__ = (Index(None, "kind", "name"),)


class Revision(Kept, Table):
    """One state of a document, never changed again. `said` is the difference to its parent in words."""

    __tablename__ = "revision"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    code: Mapped[str] = mapped_column(String(12), unique=True, default=new_code)
    document_id: Mapped[int] = mapped_column(ForeignKey("document.id"))
    number: Mapped[int] = mapped_column()
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("revision.id"), index=True)
    reason: Mapped[str] = mapped_column(Text, default="")
    said: Mapped[str] = mapped_column(Text, default="")
    text: Mapped[str] = mapped_column(Text)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    file_name: Mapped[str] = mapped_column(String(400), default="")
    made_at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    made_by: Mapped[str] = mapped_column(String(120), default="")
    document: Mapped[Document] = relationship(lazy="joined")
    parent: Mapped[Revision | None] = relationship(remote_side="Revision.id")
    __table_args__ = (UniqueConstraint("document_id", "number"),)


class Reference(Kept, Table):
    """The car, rack or sheet, each in one revision, that a setup refers to."""

    __tablename__ = "reference"
    revision_id: Mapped[int] = mapped_column(ForeignKey("revision.id"))
    role: Mapped[str] = mapped_column(String(20))
    target_id: Mapped[int] = mapped_column(ForeignKey("revision.id"), index=True)
    target: Mapped[Revision] = relationship(foreign_keys=[target_id])
    __table_args__ = (UniqueConstraint("revision_id", "role"),)


class Figure(Table):
    """One number of a revision, by its key, to be found by (SI)."""

    __tablename__ = "figure"
    revision_id: Mapped[int] = mapped_column(ForeignKey("revision.id"), primary_key=True)
    key: Mapped[str] = mapped_column(String(120), primary_key=True)
    si: Mapped[float] = mapped_column()
    __table_args__ = (Index(None, "key", "si"),)


# ---------------- events and runs


class Event(Kept, Table):
    """A day at a track. `spent` is private, in the racer's own money."""

    __tablename__ = "event"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    name: Mapped[str] = mapped_column(String(120))
    held_on: Mapped[dt.date] = mapped_column(index=True)
    track_id: Mapped[int | None] = mapped_column(ForeignKey("revision.id"))
    note: Mapped[str] = mapped_column(Text, default="")
    spent: Mapped[float | None] = mapped_column()


class Run(Kept, Table):
    """One run: what was in the car, when, where and by whom, and what its laps come to (SI)."""

    __tablename__ = "run"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    code: Mapped[str] = mapped_column(String(12), unique=True, default=new_code)
    event_id: Mapped[int] = mapped_column(ForeignKey("event.id"))
    number: Mapped[int] = mapped_column()
    session: Mapped[str] = mapped_column(String(60), default="")
    started: Mapped[dt.datetime] = mapped_column(DateTime, index=True)
    setup_id: Mapped[int] = mapped_column(ForeignKey("revision.id"), index=True)
    track_id: Mapped[int | None] = mapped_column(ForeignKey("revision.id"), index=True)
    conditions_id: Mapped[int | None] = mapped_column(ForeignKey("revision.id"))
    driver: Mapped[str] = mapped_column(String(120), default="")
    fuel: Mapped[float | None] = mapped_column()
    fuel_left: Mapped[float | None] = mapped_column()
    air: Mapped[float | None] = mapped_column()
    surface: Mapped[float | None] = mapped_column()
    stagger: Mapped[float | None] = mapped_column()
    decided: Mapped[str] = mapped_column(Text, default="")
    note: Mapped[str] = mapped_column(Text, default="")
    hit: Mapped[str] = mapped_column(String(60), default="")
    laps: Mapped[int] = mapped_column(default=0)
    green: Mapped[int] = mapped_column(default=0)
    best: Mapped[float | None] = mapped_column()
    middle: Mapped[float | None] = mapped_column()
    fall_off: Mapped[float | None] = mapped_column()
    distance: Mapped[float] = mapped_column(default=0.0)
    event: Mapped[Event] = relationship(lazy="joined")
    setup: Mapped[Revision] = relationship(foreign_keys=[setup_id])
    track: Mapped[Revision | None] = relationship(foreign_keys=[track_id])
    conditions: Mapped[Revision | None] = relationship(foreign_keys=[conditions_id])
    __table_args__ = (
        UniqueConstraint("event_id", "number"),
        Index(None, "best"),
        Index(None, "fall_off"),
        Index(None, "air"),
    )


class Lap(Table):
    """One lap of a run: time [s], its flag, and the flag as typed. A run's laps are replaced as a whole."""

    __tablename__ = "lap"
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    time: Mapped[float] = mapped_column()
    flag: Mapped[str] = mapped_column(String(10), default="green")
    said: Mapped[str] = mapped_column(String(60), default="")
    __table_args__ = (
        CheckConstraint("flag IN ('green', 'yellow', 'pit', 'traffic', 'other')", name="flag"),
        Index(
            None,
            "flag",
            "run_id",
            sqlite_where=text("flag <> 'green'"),
            postgresql_where=text("flag <> 'green'"),
        ),
        {"sqlite_with_rowid": False},
    )


class Reading(Kept, Table):
    """Something read off the car about a run, in SI and as typed.

    `taken` is `before`, `after` or `set_down`: as it came back, before anything was touched. `what` is the
    quantity (`temperature`, `cold`, `hot`, `travel`, `weight`, `height`, `roll_out` ...), `place` a corner or
    nothing, `part` the third of a tread (`inside`, `middle`, `outside`) or nothing, `lap` after which lap.
    """

    __tablename__ = "reading"
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"), index=True)
    taken: Mapped[str] = mapped_column(String(10), default="after")
    what: Mapped[str] = mapped_column(String(40))
    place: Mapped[str] = mapped_column(String(20), default="")
    part: Mapped[str] = mapped_column(String(10), default="")
    lap: Mapped[int | None] = mapped_column()
    si: Mapped[float] = mapped_column()
    typed: Mapped[str] = mapped_column(String(120), default="")
    __table_args__ = (CheckConstraint("taken IN ('before', 'after', 'set_down')", name="taken"),)


class Comment(Kept, Table):
    """What the driver said: where in the turn, early or late in the run, and how it felt."""

    __tablename__ = "comment"
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"), index=True)
    phase: Mapped[str] = mapped_column(String(10), default="")
    when: Mapped[str] = mapped_column(String(10), default="")
    feel: Mapped[str] = mapped_column(String(10), default="")
    words: Mapped[str] = mapped_column(Text, default="")
    __table_args__ = (
        CheckConstraint("phase IN ('', 'entry', 'middle', 'exit')", name="phase"),
        CheckConstraint("\"when\" IN ('', 'early', 'late')", name="when"),
        CheckConstraint("feel IN ('', 'tight', 'loose', 'good')", name="feel"),
        Index(None, "feel", "phase", "when"),
    )


# ---------------- parts


class Part(Kept, Table):
    """An individual part, by the mark on it. `paid` and `bought_from` are private.

    `laps_before`, `distance_before` [m] and `cycles_before` are what it had when it came.
    """

    __tablename__ = "part"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    kind: Mapped[str] = mapped_column(String(20))
    mark: Mapped[str] = mapped_column(String(60))
    name: Mapped[str] = mapped_column(String(120), default="")
    compound: Mapped[str] = mapped_column(String(60), default="")
    date_code: Mapped[str] = mapped_column(String(20), default="")
    bought_on: Mapped[dt.date | None] = mapped_column()
    paid: Mapped[float | None] = mapped_column()
    bought_from: Mapped[str] = mapped_column(String(120), default="")
    rated: Mapped[float | None] = mapped_column()
    laps_before: Mapped[int] = mapped_column(default=0)
    distance_before: Mapped[float] = mapped_column(default=0.0)
    cycles_before: Mapped[int] = mapped_column(default=0)
    retired_on: Mapped[dt.date | None] = mapped_column()
    note: Mapped[str] = mapped_column(Text, default="")
    __table_args__ = (UniqueConstraint("kind", "mark"),)


class Measurement(Kept, Table):
    """Something measured on a part on a day, SI: `rate`, `roll_out`, `durometer`, `wear`, `force` ...

    `at` is what it was measured at: the pressure of a roll-out [Pa], the velocity of a shock's force [m/s].
    """

    __tablename__ = "measurement"
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    measured_on: Mapped[dt.date] = mapped_column()
    what: Mapped[str] = mapped_column(String(40))
    si: Mapped[float] = mapped_column()
    at: Mapped[float | None] = mapped_column()
    typed: Mapped[str] = mapped_column(String(120), default="")


class Stay(Kept, Table):
    """Where a part is, or was: at a place on a car, or on the shelf, lent out, scrapped.

    A part has one open stay and a place on a car holds one part: the database refuses anything else.
    """

    __tablename__ = "stay"
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    car_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    place: Mapped[str] = mapped_column(String(40))
    since: Mapped[dt.datetime] = mapped_column(DateTime)
    until: Mapped[dt.datetime | None] = mapped_column(DateTime)
    part: Mapped[Part] = relationship()
    __table_args__ = (
        Index(
            "uq_stay_open_part",
            "part_id",
            unique=True,
            sqlite_where=text("until IS NULL"),
            postgresql_where=text("until IS NULL"),
        ),
        Index(
            "uq_stay_open_place",
            "car_id",
            "place",
            unique=True,
            sqlite_where=text("until IS NULL AND car_id IS NOT NULL"),
            postgresql_where=text("until IS NULL AND car_id IS NOT NULL"),
        ),
        Index(None, "part_id", "since"),
    )


class Ridden(Kept, Table):
    """A part that was really in the car in a run, and where; its laps and miles are summed over these."""

    __tablename__ = "ridden"
    run_id: Mapped[int] = mapped_column(ForeignKey("run.id"))
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    place: Mapped[str] = mapped_column(String(40))
    part: Mapped[Part] = relationship()
    run: Mapped[Run] = relationship()
    __table_args__ = (UniqueConstraint("run_id", "part_id"), UniqueConstraint("run_id", "place"))


class Interval(Kept, Table):
    """How often something is due on a part, or on every part of a kind, and whose figure that is.

    `source` is `maker`, `builder`, `own` or `typical`.
    """

    __tablename__ = "interval"
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    kind: Mapped[str] = mapped_column(String(20), default="")
    job: Mapped[str] = mapped_column(String(120))
    laps: Mapped[int | None] = mapped_column()
    distance: Mapped[float | None] = mapped_column()
    days: Mapped[int | None] = mapped_column()
    cycles: Mapped[int | None] = mapped_column()
    source: Mapped[str] = mapped_column(String(10))
    __table_args__ = (CheckConstraint("source IN ('maker', 'builder', 'own', 'typical')", name="source"),)


class Serviced(Kept, Table):
    """A job done on a part: on which day, at how many laps, by whom."""

    __tablename__ = "serviced"
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    job: Mapped[str] = mapped_column(String(120))
    done_on: Mapped[dt.date] = mapped_column()
    done_by: Mapped[str] = mapped_column(String(120), default="")
    laps: Mapped[int] = mapped_column(default=0)
    distance: Mapped[float] = mapped_column(default=0.0)
    cycles: Mapped[int] = mapped_column(default=0)
    after_run_id: Mapped[int | None] = mapped_column(ForeignKey("run.id"))
    note: Mapped[str] = mapped_column(Text, default="")
