"""What the bench takes for granted until told otherwise: the car, the setup and the track that are next."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook import runs, shelf
from ovalwright.notebook.tables import Document, Event, Revision, Run


@dataclass(frozen=True)
class NextUp:
    """The next event and the last run, where there are any; the setup in the car, its car, the track."""

    event: Event | None
    last: Run | None
    setup: Revision | None
    track: Revision | None
    car: Document | None


def next_up(session: Session, today: dt.date) -> NextUp:
    """The nearest event from a day on; the setup of the last run, else the newest; the track of that event,
    else that of the last run, else the newest.
    """
    held = sa.select(Event).where(Event.held_on >= today, Event.name != runs.ALONE)
    ahead = held.order_by(Event.held_on, Event.id)
    event = session.scalars(ahead.limit(1)).first()
    last = runs.last_run(session)
    setup = last.setup if last else _newest(session, "setup")
    track = session.get(Revision, event.track_id) if event and event.track_id else None
    track = track or (last.track if last else None) or _newest(session, "track")
    car = shelf.refers_to(session, setup).get("car") if setup else None
    return NextUp(event, last, setup, track, car.document if car else None)


def with_car_of(session: Session, ahead: NextUp, setup: str, track: str) -> NextUp:
    """The same, unless the setup in hand is of another car: then that car, its own last run, and that setup,
    at the track in hand where the event names none. Raises NotebookTrouble.
    """
    if not shelf.is_kept(session, setup):
        return ahead
    held = shelf.revision(session, setup, kind="setup")
    car = shelf.refers_to(session, held).get("car")
    if car is None or (ahead.car is not None and car.document_id == ahead.car.id):
        return ahead
    if not (ahead.event and ahead.event.track_id) and track:
        ahead = replace(ahead, track=shelf.revision(session, track, kind="track"))
    return replace(ahead, last=_last_of(session, car.document_id), setup=held, car=car.document)


def _last_of(session: Session, car: int) -> Run | None:
    """The last run of a car, by its document."""
    query = sa.select(Run).where(Run.setup_id.in_(shelf.kept_with([car])))
    return session.scalars(query.order_by(Run.started.desc(), Run.id.desc()).limit(1)).first()


def _newest(session: Session, kind: str) -> Revision | None:
    query = sa.select(Revision).join(Document).where(Document.kind == kind)
    return session.scalars(query.order_by(Revision.made_at.desc(), Revision.id.desc()).limit(1)).first()
