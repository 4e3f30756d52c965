"""A notebook for the tests of parts, service and work: a car, a setup of it, and runs with as many laps as
asked for.
"""

from __future__ import annotations

import datetime as dt
import itertools

from sqlalchemy.orm import Session

from ovalwright.notebook.garage import parts
from ovalwright.notebook.tables import Document, Event, Part, Reference, Revision, Run

LAP = 600.0
"""Length of a lap [m]."""
DAY = dt.datetime(2026, 5, 9, 18)
_NUMBERS = itertools.count(1)


def a_car(session: Session, name: str = "Car") -> tuple[Document, Revision]:
    """A car, and a setup that was kept with it."""
    kept = []
    for kind in ("car", "setup"):
        home = Document(kind=kind, name=f"{name} {next(_NUMBERS)}")
        kept.append(Revision(document=home, number=1, text=f'document = "{kind}"', sha256="0" * 64))
    session.add_all(kept)
    session.flush()
    car, setup = kept
    session.add(Reference(revision_id=setup.id, role="car", target_id=car.id))
    session.flush()
    return car.document, setup


def some(session: Session, kind: str, count: int) -> list[Part]:
    """New parts of a kind, on the shelf."""
    return [parts.new_part(session, kind, f"own {next(_NUMBERS)}") for _ in range(count)]


def a_run(
    session: Session, setup: Revision, started: dt.datetime, laps: int, *, hit: str = "", green: int = 0
) -> Run:
    """A run of so many laps with what is on the car."""
    event = Event(name=f"Event {next(_NUMBERS)}", held_on=started.date())
    run = Run(
        event=event,
        number=1,
        started=started,
        setup_id=setup.id,
        laps=laps,
        green=green,
        distance=laps * LAP,
        hit=hit,
    )
    session.add(run)
    session.flush()
    parts.ride(session, run)
    return run


def at(hours: float) -> dt.datetime:
    """So many hours after the first evening."""
    return DAY + dt.timedelta(hours=hours)
