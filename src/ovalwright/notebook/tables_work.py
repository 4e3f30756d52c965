"""Tables of the work on the car, of what is half typed, and of what was told once and is remembered."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from ovalwright.notebook.tables import Event, Kept, Moment, Table, new_uid, now


class Checklist(Kept, Table):
    """A list of things to do: nut and bolt, scaling, race day, safety dates, or the racer's own."""

    __tablename__ = "checklist"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    name: Mapped[str] = mapped_column(String(120), unique=True)
    note: Mapped[str] = mapped_column(Text, default="")
    items: Mapped[list[Item]] = relationship(order_by="Item.number", back_populates="checklist")


class Item(Kept, Table):
    """One line of a checklist, with the caution that belongs to it. `good_until` is that of a safety date."""

    __tablename__ = "item"
    checklist_id: Mapped[int] = mapped_column(ForeignKey("checklist.id"))
    number: Mapped[int] = mapped_column()
    words: Mapped[str] = mapped_column(Text)
    caution: Mapped[str] = mapped_column(Text, default="")
    good_until: Mapped[dt.date | None] = mapped_column()
    dropped: Mapped[bool] = mapped_column(default=False)
    checklist: Mapped[Checklist] = relationship(back_populates="items")
    __table_args__ = (UniqueConstraint("checklist_id", "number"),)


class CheckRound(Kept, Table):
    """One going through a checklist, for an event or for none."""

    __tablename__ = "check_round"
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    checklist_id: Mapped[int] = mapped_column(ForeignKey("checklist.id"), index=True)
    event_id: Mapped[int | None] = mapped_column(ForeignKey("event.id"), index=True)
    begun_at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    closed_at: Mapped[dt.datetime | None] = mapped_column(Moment)
    checklist: Mapped[Checklist] = relationship()
    event: Mapped[Event | None] = relationship()


class Done(Kept, Table):
    """An item done in a round: by whom, when, how long it took [s], and what was found."""

    __tablename__ = "done"
    round_id: Mapped[int] = mapped_column(ForeignKey("check_round.id"))
    item_id: Mapped[int] = mapped_column(ForeignKey("item.id"))
    done_at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    done_by: Mapped[str] = mapped_column(String(120), default="")
    seconds: Mapped[float | None] = mapped_column()
    found: Mapped[str] = mapped_column(Text, default="")
    __table_args__ = (UniqueConstraint("round_id", "item_id"),)


class PutRight(Kept, Table):
    """What was found at an item in a round is put right: by whom, when, and how."""

    __tablename__ = "put_right"
    round_id: Mapped[int] = mapped_column(ForeignKey("check_round.id"))
    item_id: Mapped[int] = mapped_column(ForeignKey("item.id"))
    right_at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    right_by: Mapped[str] = mapped_column(String(120), default="")
    how: Mapped[str] = mapped_column(Text, default="")
    __table_args__ = (UniqueConstraint("round_id", "item_id"),)


class Draft(Table):
    """A form half filled, saved at every stroke, which is no entry. `version` tells two hands apart."""

    __tablename__ = "draft"
    id: Mapped[int] = mapped_column(primary_key=True)
    uid: Mapped[str] = mapped_column(String(32), unique=True, default=new_uid)
    form: Mapped[str] = mapped_column(String(40), index=True)
    about: Mapped[str] = mapped_column(String(120), default="")
    typed: Mapped[dict[str, Any]] = mapped_column(JSON)
    saved_at: Mapped[dt.datetime] = mapped_column(Moment, default=now)
    saved_by: Mapped[str] = mapped_column(String(120), default="")
    version: Mapped[int] = mapped_column()
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012


class Remembered(Kept, Table):
    """Something told once: which columns of such a list are what, in which order tires are read."""

    __tablename__ = "remembered"
    what: Mapped[str] = mapped_column(String(40))
    of: Mapped[str] = mapped_column(String(200), default="")
    told: Mapped[Any] = mapped_column(JSON)
    __table_args__ = (UniqueConstraint("what", "of"),)


class Saying(Table):
    """The words of one run, part, event, document or round, to be found by; made from the other tables."""

    __tablename__ = "saying"
    id: Mapped[int] = mapped_column(primary_key=True)
    owner: Mapped[str] = mapped_column(String(20))
    owner_id: Mapped[int] = mapped_column()
    words: Mapped[str] = mapped_column(Text)
    __table_args__ = (Index("uq_saying_owner", "owner", "owner_id", unique=True),)
