"""Parts as individuals: where each is, and in which runs it was in the car."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import Part, Reference, Revision, Ridden, Run, Stay


def ride(session: Session, run: Run) -> None:
    """Note what is in the car in a run: the parts that stay on the car of its setup."""
    car = session.scalars(
        sa.select(Revision)
        .join(Reference, Reference.target_id == Revision.id)
        .where(Reference.revision_id == run.setup_id, Reference.role == "car")
    ).first()
    if car is None:
        return
    query = sa.select(Stay).where(Stay.car_id == car.document_id, Stay.until.is_(None))
    for stay in session.scalars(query):
        session.add(Ridden(run_id=run.id, part_id=stay.part_id, place=stay.place))
    session.flush()


def marks_ridden(session: Session, run: Run) -> tuple[tuple[str, str], ...]:
    """Places of the car in a run, and the marks of the parts that were there."""
    query = sa.select(Ridden.place, Part.mark).join(Part, Part.id == Ridden.part_id)
    found = session.execute(query.where(Ridden.run_id == run.id).order_by(Ridden.place))
    return tuple((place, mark) for place, mark in found)
