"""The best lap of the last runs of a car at a track, as the notebook has it: what a driver is matched to."""

from __future__ import annotations

import math
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook import shelf
from ovalwright.notebook.tables import Lap, Reference, Revision, Run
from ovalwright.web.words import amount, counted

LAST_RUNS = 6
"""So many runs back a best lap is still of the car as it is (common practice, no source)."""
NEAR = 0.1
"""A computed best lap that near to the logged one agrees with it [s] (common practice, no source)."""


@dataclass(frozen=True)
class BestHere:
    """A logged best lap [s], and whose it is: in which lap of which run, on which day, with which fuel."""

    time: float
    said: str

    def beside(self, computed: float) -> str:
        """How far a computed best lap [s] is from it."""
        told = f"Your best of the last runs here: {self.said}."
        if not math.isfinite(computed):
            return told
        off = computed - self.time
        if abs(off) <= NEAR:
            return f"{told} The computed best agrees within {amount(NEAR, 'lap_time')}."
        word = "slower" if off > 0.0 else "quicker"
        return (
            f"{told} The computed best, {amount(computed, 'lap_time')}, is {abs(off):.2f} s {word} than that."
        )


def best_here(session: Session, setup: Revision, track: Revision) -> BestHere | None:
    """The quickest of the last runs of a setup's car at any revision of a track. Raises NotebookTrouble."""
    car = shelf.refers_to(session, setup)["car"].document_id
    same_car = (
        sa.select(Reference.revision_id)
        .join(Revision, Revision.id == Reference.target_id)
        .where(Reference.role == "car", Revision.document_id == car)
    )
    same_track = sa.select(Revision.id).where(Revision.document_id == track.document_id)
    query = sa.select(Run).where(
        Run.setup_id.in_(same_car), Run.track_id.in_(same_track), Run.best.is_not(None)
    )
    last = session.scalars(query.order_by(Run.started.desc(), Run.id.desc()).limit(LAST_RUNS)).all()
    timed = [(one.best, one) for one in last if one.best is not None]
    if not timed:
        return None
    time, run = min(timed, key=lambda told: told[0])
    lap = session.scalar(sa.select(sa.func.min(Lap.number)).where(Lap.run_id == run.id, Lap.time == time))
    fuel = f" from {amount(run.fuel, 'volume')}" if run.fuel is not None else ""
    who = f"{run.driver}, " if run.driver else ""
    where = f"lap {lap} of run {run.number}" if lap is not None else f"run {run.number}"
    laps = counted(run.laps, "lap")
    return BestHere(time, f"{amount(time, 'lap_time')}, {who}{where}, {laps}{fuel}, {run.event.name}, "
                          f"{run.started:%Y-%m-%d}")  # fmt: skip
