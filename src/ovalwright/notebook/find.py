"""Finding: the words of every run, revision and event, kept where they can be searched."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import Comment, Event, Revision, Run
from ovalwright.notebook.tables_work import Saying


def tell(session: Session, owner: str, owner_id: int) -> None:
    """Bring the words of one run, revision or event up to date."""
    words = " ".join(word for word in _words(session, owner, owner_id) if word)
    found = session.scalars(
        sa.select(Saying).where(Saying.owner == owner, Saying.owner_id == owner_id)
    ).first()
    if found is None:
        session.add(Saying(owner=owner, owner_id=owner_id, words=words))
    else:
        found.words = words
    session.flush()


def _words(session: Session, owner: str, owner_id: int) -> list[str]:
    if owner == "run":
        run = session.get_one(Run, owner_id)
        said = session.scalars(sa.select(Comment).where(Comment.run_id == owner_id))
        spoken = [f"{one.feel} {one.phase} {one.when} {one.words}" for one in said]
        setup = session.get_one(Revision, run.setup_id)
        return [run.code, run.session, run.driver, run.note, run.decided, setup.code, *spoken]
    if owner == "revision":
        one = session.get_one(Revision, owner_id)
        return [one.code, one.document.name, one.reason, one.said]
    event = session.get_one(Event, owner_id)
    return [event.name, event.note]
