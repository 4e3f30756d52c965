"""The car fitted out as its setup says, with the parts that the setup names by their marks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Assembly, Setup
from ovalwright.notebook.parts import CORNERS, lead_place, put, shelve, stays_on
from ovalwright.notebook.tables import Document, Part


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
    wanted = named_by(assembly.setup)
    known = _known(session, wanted)
    if known.get("gear") is None:
        wanted.pop("gear", None)
    standing = {stay.place: stay.part for stay in stays_on(session, car.id)}
    lead = [part for part in standing.values() if part.kind == "lead"]
    put_in = {
        place: part for place, part in known.items() if standing.get(place) is not part and part not in lead
    }
    for place, part in put_in.items():
        put(session, part, car, place, when=when)
    taken_off = {
        place: part
        for place, part in standing.items()
        if (place in wanted or part in lead) and part not in known.values()
    }
    for part in taken_off.values():
        shelve(session, part, when=when)
    return Fitted(
        put=tuple((place, part.mark) for place, part in put_in.items()),
        taken_off=tuple((place, part.mark) for place, part in taken_off.items()),
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
