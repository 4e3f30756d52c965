"""Which setup a page is about: told by its revision and code, beside the one in hand and newer ones."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session
from starlette.requests import Request

from ovalwright.notebook import shelf
from ovalwright.notebook.tables import Document, Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import Missing, usual_setup
from ovalwright.web import hand as hands
from ovalwright.web.joined import hand_on, looked_at, next_for
from ovalwright.web.words import counted

MOST_NEWER = 3
"""Newer setups that are named; the others are counted."""


def told(setup: Revision) -> str:
    """A setup by its name, revision and code."""
    return f"{setup.document.name}, revision {setup.number} ({setup.code})"


def beside_the_hand(request: Request, session: Session, setup: Revision, why: str) -> str:
    """A setup as it is told; where another is in hand, why it is this one, and which is in hand; where it is
    that one, how many changes in hand are not in it.
    """
    other = other_in_hand(request, session, setup)
    if other:
        return f"{told(setup)}, {why}. In hand on The turn: {other}"
    held = hands.in_hand(session, hand_on(request))
    pressed = len(held.changes) if held is not None else 0
    return f"{told(setup)}, without {counted(pressed, 'change')} in hand" if pressed else told(setup)


def other_in_hand(request: Request, session: Session, setup: Revision) -> str:
    """The setup that is in hand on The turn, where it is another."""
    try:
        held = looked_at(session, hand_on(request))
    except NotebookTrouble:
        return ""
    return told(shelf.revision(session, held.base, kind="setup")) if held.base != setup.code else ""


def of_another_car(request: Request, session: Session) -> Revision | None:
    """The setup that is next up for the car in hand, where the usual one is of another car."""
    ahead = next_for(request, session)
    try:
        usual = usual_setup(session).revision
    except Missing:
        return None
    car = shelf.refers_to(session, usual).get("car")
    is_same = ahead.car is None or (car is not None and car.document_id == ahead.car.id)
    return None if is_same else ahead.setup


def to_print(request: Request, session: Session) -> str:
    """The code of the setup in hand, else of the one that is next up where the usual one is of another car;
    nothing where that one is meant.
    """
    held = hands.in_hand(session, hand_on(request))
    if held is not None:
        return held.base
    ahead = of_another_car(request, session)
    return ahead.code if ahead is not None else ""


def of_same_car(session: Session, setup: Revision, *, after: int = 0) -> tuple[Revision, ...]:
    """The setups of the car of one, the newest first; those alone that were kept `after` an entry."""
    car = shelf.refers_to(session, setup).get("car")
    if car is None:
        return ()
    query = sa.select(Revision).join(Document).where(Document.kind == "setup", Revision.entry_id > after)
    query = query.where(Revision.id.in_(shelf.kept_with([car.document_id])))
    return tuple(session.scalars(query.order_by(Revision.id.desc())))


def newer_than(session: Session, code: str) -> str:
    """The codes of the setups of the same car that were kept since a setup was; nothing where none was."""
    if not shelf.is_kept(session, code):
        return ""
    setup = shelf.revision(session, code, kind="setup")
    found = of_same_car(session, setup, after=setup.entry_id)
    named = [f"{one.code} (revision {one.number})" for one in found[:MOST_NEWER]]
    more = len(found) - len(named)
    return ", ".join([*named, *([f"{more} more"] if more else [])])
