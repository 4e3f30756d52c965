"""The car fitted out as its setup says, with the parts that the setup names by their marks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import ParamSpec

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Setup
from ovalwright.notebook import remembered, shelf
from ovalwright.notebook.garage.parts import (
    Whereabouts,
    lead_place,
    marks_ridden,
    mend_ride,
    moment_of,
    put,
    ride,
    shelve,
    stays_on,
    whereabouts_of,
)
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Document, Part, Revision, Run, Stay
from ovalwright.notebook.trouble import NotebookTrouble

FITTED = "fitted"
"""Under what it is remembered which setup a car was fitted out as last, and by which entry."""
P = ParamSpec("P")
LOOKED_BACK = 30
"""Revisions that are looked at for what a setup said of a place before."""

MOST_BY_HAND = 4
"""Parts changed by hand between two runs; where more differ it is another setup that was run."""


@dataclass(frozen=True)
class Fitted:
    """What was done so that the car carries the parts a setup names: (place, mark) of those put in and of
    those taken off, and of those named whose marks the notebook does not know.
    """

    put: tuple[tuple[str, str], ...]
    taken_off: tuple[tuple[str, str], ...]
    unknown: tuple[tuple[str, str], ...]


def fitted_for(session: Session, assembly: Assembly, car: Document, when: dt.datetime) -> Fitted:
    """Put on a car what its setup names by mark, and take off what cannot be there with that setup.

    A place that the setup fills without a mark (a coil by its rate) is left as it is. Raises NotebookTrouble
    as `put` does.
    """
    standing = {stay.place: stay for stay in stays_on(session, car.id)}
    asked = _asked(session, assembly.setup, {place: stay.part for place, stay in standing.items()})
    earlier = {
        place: part
        for place, part in asked.known.items()
        if place in standing and standing[place].part is part and standing[place].since > when
    }
    for place, part in {**asked.put_in, **earlier}.items():
        put(session, part, car, place, when=when)
    for part in asked.taken_off.values():
        shelve(session, part, when=when)
    return Fitted(
        put=tuple((place, part.mark) for place, part in {**asked.put_in, **earlier}.items()),
        taken_off=tuple((place, part.mark) for place, part in asked.taken_off.items()),
        unknown=asked.unknown,
    )


def remember_fitted(session: Session, setup: Revision) -> None:
    """Remember that a car was fitted out as a setup says: that is the setup in it until another is run."""
    remembered.remember(session, FITTED, {"setup": setup.code, "entry": entry_of(session).id})


def fitted_last(session: Session) -> tuple[Revision, int] | None:
    """The setup that a car was fitted out as last, and the number of that entry."""
    told = remembered.recall(session, FITTED)
    if told is None:
        return None
    found = session.scalars(sa.select(Revision).where(Revision.code == told["setup"])).first()
    return (found, int(told["entry"])) if found else None


# ---------------- what was in the car in a run


def ride_as_named(session: Session, run: Run) -> tuple[str, ...]:
    """The parts that the setup of a run names by their marks were in it, and go to their places at its start
    unless a later move or run says otherwise. Returns what the books had said else, a sentence each.
    """
    car = shelf.refers_to(session, run.setup).get("car")
    if car is None:
        return ()
    stays = {stay.place: stay for stay in stays_on(session, car.document_id, moment_of(run))}
    standing = {place: stay.part for place, stay in stays.items()}
    asked = _asked(session, shelf.setup_of(run.setup), standing)
    out = {**asked.taken_off, **_changed_away(session, run.setup, stays)}
    out = {place: part for place, part in out.items() if place not in asked.put_in}
    if not (asked.put_in or out):
        return ()
    by_hand = [
        f"{place} {stays[place].part.mark}"
        for place in asked.put_in
        if place in stays and stays[place].entry_id > run.setup.entry_id
    ]
    mend_ride(session, run, dict.fromkeys(place for place, _ in marks_ridden(session, run)))
    was = whereabouts_of(session, asked.put_in.values())
    stuck = [
        f"{place} {part.mark}"
        for place, part in asked.put_in.items()
        if not _moved(put, session, part, car.document, place, when=run.started)
    ]
    stuck += [
        f"{place} without {part.mark}"
        for place, part in out.items()
        if not _moved(shelve, session, part, when=run.started)
    ]
    ride(session, run)
    mend_ride(session, run, {**dict.fromkeys(out), **asked.put_in})
    other = [
        _otherwise(place, part, standing.get(place), was[part.id], car.document.name)
        for place, part in asked.put_in.items()
    ]
    other += [f"{place} {part.mark} out" for place, part in out.items()]
    return tuple(_told(list(filter(None, other)), stuck, by_hand))


def _told(other: list[str], stuck: list[str], by_hand: list[str]) -> Iterator[str]:
    """The sentences; `by_hand` are parts put in after the setup was made, which it does not know of."""
    if other:
        yield f"As its setup says, and other than the books had it: {', '.join(other)}."
    if 0 < len(by_hand) <= MOST_BY_HAND:
        line = ", ".join(by_hand)
        yield f'If it was {line}, undo the run, tell the setup first (quick "{line}") and enter it again.'
    if stuck:
        yield f"Counted so in this run only, for later moves or runs say otherwise: {', '.join(stuck)}."


def _otherwise(place: str, part: Part, there: Part | None, was: Whereabouts, car: str) -> str:
    """What the books had said of a part, or of its place; nothing where they said nothing."""
    elsewhere = was.place if was.car and (was.car, was.place) != (car, place) else ""
    had = [f"for {there.mark}" if there else "", f"from {elsewhere}" if elsewhere else ""]
    return " ".join((place, part.mark, *filter(None, had))) if any(had) else ""


def _moved(move: Callable[P, Stay], *what: P.args, **when: P.kwargs) -> bool:
    """Whether a move was made; one that contradicts what is told of later is not."""
    try:
        move(*what, **when)
    except NotebookTrouble:
        return False
    return True


def _changed_away(session: Session, setup: Revision, stays: Mapping[str, Stay]) -> dict[str, Part]:
    """Parts that a setup no longer names by their marks, as a spring it gives by its rate now, while a
    revision before did; not those put in after it was made.
    """
    named = named_by(shelf.setup_of(setup))
    asked = {
        place: stay.part
        for place, stay in stays.items()
        if place not in named and stay.part.kind != "lead" and stay.entry_id < setup.entry_id
    }
    gone: dict[str, Part] = {}
    before = setup.parent
    for _ in range(LOOKED_BACK):
        if before is None or not asked:
            break
        named = named_by(shelf.setup_of(before))
        gone |= {place: part for place, part in asked.items() if named.get(place) == (part.kind, part.mark)}
        asked = {place: part for place, part in asked.items() if place not in named}
        before = before.parent
    return gone


# ---------------- what a setup names


@dataclass(frozen=True)
class _Asked:
    """What a setup asks of a car, by place: the parts it names, those of them that are not there, those that
    are there and cannot be, and (place, mark) of those that the notebook does not know.
    """

    known: Mapping[str, Part]
    put_in: Mapping[str, Part]
    taken_off: Mapping[str, Part]
    unknown: tuple[tuple[str, str], ...]


def _asked(session: Session, setup: Setup, standing: Mapping[str, Part]) -> _Asked:
    wanted = named_by(setup)
    known = _known(session, wanted)
    if known.get("gear") is None:
        wanted.pop("gear", None)
    lead = [part for part in standing.values() if part.kind == "lead"]
    return _Asked(
        known=known,
        put_in={
            place: part
            for place, part in known.items()
            if standing.get(place) is not part and part not in lead
        },
        taken_off={
            place: part
            for place, part in standing.items()
            if (place in wanted or part in lead) and part not in known.values()
        },
        unknown=tuple((place, mark) for place, (_, mark) in wanted.items() if mark and place not in known),
    )


def named_by(setup: Setup) -> dict[str, tuple[str, str]]:
    """What a setup says of places on the car: the kind and the mark of the part there; no mark where it says
    that nothing is there. A place of which it says neither is left out.
    """
    named: dict[str, tuple[str, str]] = {}
    for corner in CORNERS:
        wheel = getattr(setup, corner)
        told = {"tire": wheel.tire.tire, "shock": wheel.shock.shock}
        told["spring"] = wheel.coil.spring if wheel.coil is not None else ""
        told["stop"] = None if wheel.stop or wheel.bump_spring else ""
        named |= {f"{corner} {kind}": (kind, mark) for kind, mark in told.items() if mark is not None}
    if setup.bar is None or setup.bar.bar is not None:
        named["bar"] = ("bar", setup.bar.bar or "" if setup.bar else "")
    if setup.final_drive.known:
        named["gear"] = ("gear", setup.final_drive.text)
    for piece in setup.lead:
        named[lead_place(piece.id)] = ("lead", piece.id)
    return named


def _known(session: Session, wanted: Mapping[str, tuple[str, str]]) -> dict[str, Part]:
    """The parts of the notebook that are named, by place; a mark named twice is that of no one part."""
    names = list(wanted.values())
    marks = {mark for _, mark in names if mark}
    found = session.scalars(sa.select(Part).where(Part.mark.in_(marks))).all()
    parts = {(part.kind, part.mark): part for part in found}
    return {
        place: parts[named] for place, named in wanted.items() if named in parts and names.count(named) == 1
    }
