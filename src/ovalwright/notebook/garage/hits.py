"""Hits: from what was noted of a run (``RF``, ``left rear and nose``) to the parts that were there."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterable, Iterator

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.notebook import remembered
from ovalwright.notebook.garage.parts import runs_of_car
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Document, Part, Ridden, Run
from ovalwright.notebook.trouble import NotebookTrouble

INSPECTED = "corner inspected"
"""Under what the inspection of a corner after a hit in a run is remembered."""

_FRONT, _REAR = frozenset({"LF", "RF"}), frozenset({"LR", "RR"})
_LEFT, _RIGHT = frozenset({"LF", "LR"}), frozenset({"RF", "RR"})
_ALL = frozenset(CORNERS)
_SIDES = {"front": _FRONT, "nose": _FRONT, "rear": _REAR, "back": _REAR, "tail": _REAR}
_SIDES |= {"left": _LEFT, "driver": _LEFT, "right": _RIGHT}
_ACROSS = {"bar": _FRONT, "steering": _FRONT, "axle": _REAR}
"""Parts that reach from side to side."""
_PIECES = re.compile(r"[,;/&+.]| and ")


def was_hit(noted: str, place: str) -> bool:
    """Whether a place of the car was where a hit is noted. A note that names no corner means all of the car.

    Lead is looked at after any hit: a loose piece is a projectile.
    """
    pieces = [piece.strip().lower() for piece in _PIECES.split(noted) if piece.strip()]
    corners = {corner for piece in pieces for corner in _corners(piece)}
    if not pieces or not corners or place.endswith("lead"):
        return bool(pieces)
    return bool(_corners_of(place) & corners) or any(_names(piece, place) for piece in pieces)


def to_inspect(noted: str, ridden: Iterable[tuple[str, str]]) -> Iterator[str]:
    """What a hit asks for before the car runs again, a sentence each: the parts that were there, by place and
    mark, and whole corners at which no part is noted.
    """
    rode = tuple(ridden)
    there = [place if mark in place else f"{place} {mark}" for place, mark in rode if was_hit(noted, place)]
    if there:
        yield f"Inspect before it runs again: {', '.join(there)}."
    for corner in bare_corners(noted, [place for place, _ in rode]):
        yield f"{corner}: inspect everything there, no part is noted at that corner."


def bare_corners(noted: str, places: Collection[str]) -> tuple[str, ...]:
    """The corners where a hit is noted at which no part is known among some places."""
    return tuple(
        corner
        for corner in CORNERS
        if was_hit(noted, corner) and not any(place.startswith(corner) for place in places)
    )


def _corners(words: str) -> frozenset[str]:
    """The corners of the car that some words speak of; none where they speak of no corner."""
    told = words.replace("'s", "").split()
    named = frozenset(word.upper() for word in told) & _ALL
    sides = [_SIDES[word] for word in told if word in _SIDES]
    if named or not sides:
        return named
    return frozenset.intersection(_ALL, *sides) or frozenset.union(*sides)


def _corners_of(place: str) -> frozenset[str]:
    """The corners that a place belongs to."""
    return _corners(place) or next((at for kind, at in _ACROSS.items() if place.endswith(kind)), frozenset())


def _names(piece: str, place: str) -> bool:
    """Whether it is the place itself that is named, as in ``steering`` or ``RF shock``."""
    return f" {place.lower()} ".endswith(f" {piece} ")


def hits_on(session: Session, car: Document, here: Collection[int]) -> list[tuple[Part, str, Run]]:
    """The parts that were where their run was hit, with the place and the run, oldest first.

    Those with the ids `here`, whichever car they were on, and all that were on the car then.
    """
    query = (
        sa.select(Part, Ridden.place, Run)
        .join(Ridden, Ridden.part_id == Part.id)
        .join(Run, Run.id == Ridden.run_id)
        .where(Run.hit != "", Part.retired_on.is_(None))
        .where(sa.or_(Part.id.in_(here), Run.id.in_(runs_of_car(car.id))))
        .order_by(Run.started, Run.id)
    )
    return [(part, place, run) for part, place, run in session.execute(query) if was_hit(run.hit, place)]


def bare_hits(session: Session, car: Document) -> dict[str, Run]:
    """By corner, the last run of a car that was hit there, where no part is noted at the corner and nobody
    has inspected it since.
    """
    struck: dict[str, Run] = {}
    hit = sa.select(Run).where(Run.hit != "", Run.id.in_(runs_of_car(car.id)))
    for run in session.scalars(hit.order_by(Run.started, Run.id)):
        places = session.scalars(sa.select(Ridden.place).where(Ridden.run_id == run.id)).all()
        for corner in bare_corners(run.hit, places):
            if remembered.recall(session, INSPECTED, of=f"{run.code} {corner}") is None:
                struck[corner] = run
    return struck


def corner_inspected(
    session: Session, car: Document, corner: str, *, on: dt.date, by: str = "", found: str = ""
) -> Run:
    """Note that all of a corner was inspected after a hit; returns the run. Raises NotebookTrouble when no
    such hit waits there.
    """
    run = bare_hits(session, car).get(corner)
    if run is None or run.started.date() > on:
        raise NotebookTrouble(f"no hit at {corner} waits for an inspection; see `parts due`.")
    told = {"on": on.isoformat(), "by": by or entry_of(session).by, "found": found}
    remembered.remember(session, INSPECTED, told, of=f"{run.code} {corner}")
    return run
