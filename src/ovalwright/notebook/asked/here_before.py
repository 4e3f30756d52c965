"""What was here before: the weather of the last run at a track, the best lap of a car's last runs there."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook import shelf
from ovalwright.notebook.tables import Lap, Revision, Run

LAST_RUNS = 6
"""So many runs back a best lap is still of the car as it is (common practice, no source)."""


@dataclass(frozen=True)
class BestLap:
    """A logged best lap [s] and the run it is of: number, day, event, driver, count of laps, fuel [m^3] where
    it was told; `lap` is the number of the lap, None where the laps were not kept.
    """

    time: float
    lap: int | None
    run: int
    day: dt.date
    event: str
    driver: str
    laps: int
    fuel: float | None


def best_here(session: Session, setup: Revision, track: Revision) -> BestLap | None:
    """The quickest of the last runs of a setup's car at any revision of a track."""
    car = shelf.refers_to(session, setup)["car"].document_id
    query = _last_here(track).where(Run.setup_id.in_(shelf.kept_with([car])), Run.best.is_not(None))
    timed = [(one.best, one) for one in session.scalars(query.limit(LAST_RUNS)) if one.best is not None]
    if not timed:
        return None
    time, run = min(timed, key=lambda told: told[0])
    lap = session.scalar(sa.select(sa.func.min(Lap.number)).where(Lap.run_id == run.id, Lap.time == time))
    day = run.started.date()
    return BestLap(time, lap, run.number, day, run.event.name, run.driver, run.laps, run.fuel)


def last_weather(session: Session, track: Revision) -> Run | None:
    """The last run at any revision of a track of which the temperature of the air was read."""
    return session.scalars(_last_here(track).where(Run.air.is_not(None)).limit(1)).first()


def _last_here(track: Revision) -> sa.Select[Run]:
    """The runs at any revision of a track, the last first."""
    here = sa.select(Revision.id).where(Revision.document_id == track.document_id)
    return sa.select(Run).where(Run.track_id.in_(here)).order_by(Run.started.desc(), Run.id.desc())
