"""What was found on the car: open until somebody says that it is put right, whatever became of its round."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Event, now
from ovalwright.notebook.tables_work import Checklist, CheckRound, Done, Item, PutRight
from ovalwright.notebook.trouble import NotebookTrouble

HEADING = "Found and not put right"


@dataclass(frozen=True)
class Finding:
    """Something found in a round: on which list, at which of its things, by whom and when (UTC).

    `right_at`, `right_by` and `how` are empty while it is open.
    """

    checklist: str
    number: int
    words: str
    found: str
    found_by: str
    found_at: dt.datetime
    event: str
    right_at: dt.datetime | None = None
    right_by: str = ""
    how: str = ""

    @property
    def said(self) -> str:
        """In one line: `LF: hub nut, no play: loose (Ann, 2026-05-09)`."""
        return f"{self.words}: {self.found} ({self.found_by}, {self.found_at:%Y-%m-%d})"


def findings(session: Session, checklist: Checklist | None = None) -> tuple[Finding, ...]:
    """What was found and is not put right, on one checklist or on all, the oldest first."""
    query = _query().where(PutRight.id.is_(None))
    query = query.where(Item.checklist_id == checklist.id) if checklist is not None else query
    return tuple(_finding(*row) for row in session.execute(query.order_by(Done.done_at, Done.id)))


def findings_said(session: Session, words: str, *, most: int) -> tuple[Finding, ...]:
    """What was found, put right or not, with all of some words in it, the latest first."""
    query = _query()
    for word in words.split():
        there = (column.icontains(word, autoescape=True) for column in (Done.found, Item.words, PutRight.how))
        query = query.where(sa.or_(*there))
    rows = session.execute(query.order_by(Done.done_at.desc(), Done.id.desc()).limit(most))
    return tuple(_finding(*row) for row in rows)


def wrong_item(session: Session, wanted: str, checklist: Checklist | None = None) -> Item:
    """A thing at which something was found and is not put right, by its number or words that only it holds.

    Raises NotebookTrouble, which names those there are.
    """
    query = sa.select(Item).join(Done, Done.item_id == Item.id).outerjoin(PutRight, _same())
    query = query.where(Done.found != "", PutRight.id.is_(None)).distinct().order_by(Item.id)
    query = query.where(Item.checklist_id == checklist.id) if checklist is not None else query
    wrong = session.scalars(query).all()
    told = " ".join(wanted.lower().split())
    exact = [item for item in wrong if told in (str(item.number), item.words.lower())]
    named = exact or [item for item in wrong if told and told in item.words.lower()]
    if len(named) == 1:
        return named[0]
    some = "; ".join(f"{one.number} {one.words[:40]} ({one.checklist.name})" for one in named or wrong)
    if named:
        raise NotebookTrouble(f'"{wanted[:40]}" may be {some[:300]}; give more of its words, or its list.')
    if not wrong:
        raise NotebookTrouble("nothing was found that is not put right.")
    raise NotebookTrouble(f'nothing is open at "{wanted[:40]}"; there is {some[:300]}.')


def put_right(
    session: Session, item: Item, *, how: str = "", by: str = "", at: dt.datetime | None = None
) -> tuple[Finding, ...]:
    """Say that what was found at a thing is put right, in every round where it is open still.

    Raises NotebookTrouble where nothing is open there.
    """
    query = sa.select(Done).outerjoin(PutRight, _same()).where(Done.item_id == item.id, Done.found != "")
    found = session.scalars(query.where(PutRight.id.is_(None))).all()
    if not found:
        raise NotebookTrouble(f'"{item.words[:60]}": nothing was found there that is not put right.')
    who = (by or entry_of(session).by)[:120]
    for one in found:
        right = PutRight(round_id=one.round_id, item_id=item.id, right_by=who, how=" ".join(how.split()))
        right.right_at = at or now()
        session.add(right)
    session.flush()
    rows = session.execute(_query().where(Done.id.in_([one.id for one in found])).order_by(Done.id))
    return tuple(_finding(*row) for row in rows)


def _same() -> sa.ColumnElement[bool]:
    return sa.and_(PutRight.round_id == Done.round_id, PutRight.item_id == Done.item_id)


def _query() -> sa.Select[Done, Item, str, str, PutRight]:
    asked = sa.select(Done, Item, Checklist.name, Event.name, PutRight)
    return (
        asked.join(Item, Item.id == Done.item_id)
        .join(Checklist, Checklist.id == Item.checklist_id)
        .join(CheckRound, CheckRound.id == Done.round_id)
        .outerjoin(Event, Event.id == CheckRound.event_id)
        .outerjoin(PutRight, _same())
        .where(Done.found != "")
    )


def _finding(done: Done, item: Item, checklist: str, event: str | None, right: PutRight | None) -> Finding:
    found = Finding(checklist, item.number, item.words, done.found, done.done_by, done.done_at, event or "")
    if right is None:
        return found
    return replace(found, right_at=right.right_at, right_by=right.right_by, how=right.how)
