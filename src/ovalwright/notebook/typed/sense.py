"""A word on an entry that is possible and hardly meant, a sentence each; it is kept as typed all the same.

What is usual of a kind of quantity stands in its kind; the limits here are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import fmean, median

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Rack, Setup
from ovalwright.documents.rack import Owned, OwnedShock, OwnedTire, Spring
from ovalwright.notebook import shelf
from ovalwright.notebook.runs import Read
from ovalwright.notebook.tables import Document, Part, Revision
from ovalwright.units import KINDS, Quantity, show, unusual

MOST_ROUNDS = 4.0
"""Rounds of a jack bolt at one time that need no second look."""
TREAD = (KINDS["temperature"].to_si(50.0), KINDS["temperature"].to_si(330.0))
"""Temperatures of a tread [K] that need no second look."""
APART = 100.0 / 1.8
"""So far apart [K] are thirds of one tread, or a tire and the middle one of all, at the most."""
RACKS = 20
"""Racks that are looked through for a part."""
LOOK = "look again"


# ---------------- a setup


def of_change(before: Setup, now: Setup, rack: Rack | None) -> tuple[str, ...]:
    """What is odd of what a setup says now and did not before."""
    return (*_values(before, now), *_bolts(before, now), *_misplaced(before, now, rack))


def _values(before: Setup, now: Setup) -> Iterator[str]:
    was = {entry.key: entry.value for entry in before.entries()}
    for entry in now.entries():
        value = entry.value
        if isinstance(value, Quantity) and value.known and value != was.get(entry.key):
            why = unusual(value.si, entry.kind)
            if why:
                yield f"{show(value.si, entry.kind)} is {why}; {LOOK}"


def _bolts(before: Setup, now: Setup) -> Iterator[str]:
    for corner in CORNERS:
        step = abs(getattr(now, corner).turned.si - getattr(before, corner).turned.si)
        rounds = KINDS["rounds"].to_us(step)
        if rounds > MOST_ROUNDS:
            yield f"{rounds:g} rounds at {corner} at one time are many; {LOOK}"


def _misplaced(before: Setup, now: Setup, rack: Rack | None) -> Iterator[str]:
    for corner in CORNERS if rack else ():
        for kind, (was, mark) in _marks(getattr(before, corner), getattr(now, corner)).items():
            owned = _on_rack(rack, kind, mark) if rack and mark and mark != was else None
            if owned is not None:
                yield from _wrong_end(kind, owned, corner)


def _marks(before: object, now: object) -> dict[str, tuple[str | None, str | None]]:
    """By kind of part, its mark at a corner before and now."""

    def marks(wheel: object) -> tuple[str | None, ...]:
        told = vars(wheel)
        return told["tire"].tire, told["coil"].spring if told["coil"] else None, told["shock"].shock

    return dict(zip(("tire", "spring", "shock"), zip(marks(before), marks(now), strict=True), strict=True))


# ---------------- a part at its place


def of_place(session: Session, part: Part, place: str) -> tuple[str, ...]:
    """What is odd of a part at a place, by what a rack of the notebook says of it."""
    racks = sa.select(Revision).join(Document).where(Document.kind == "rack")
    for revision in session.scalars(racks.order_by(Revision.id.desc()).limit(RACKS)):
        rack = shelf.document_of(revision)
        owned = _on_rack(rack, part.kind, part.mark) if isinstance(rack, Rack) else None
        if owned is not None:
            return tuple(f"{one}." for one in _wrong_end(part.kind, owned, place[:2]))
    return ()


def _on_rack(rack: Rack, kind: str, mark: str) -> Owned | None:
    shelves: dict[str, Sequence[Owned]] = {"tire": rack.tires, "spring": rack.springs, "shock": rack.shocks}
    return next((one for one in shelves.get(kind, ()) if one.id == mark), None)


def _wrong_end(kind: str, owned: Owned, corner: str) -> Iterator[str]:
    """A left side tire on the right, a rear spring in front."""
    if corner not in CORNERS:
        return
    if isinstance(owned, OwnedTire) and owned.side[0] != corner[0].lower():
        yield f"{kind} {owned.id} is a {owned.side} side one on the rack and goes to {corner}; {LOOK}"
    if isinstance(owned, (Spring, OwnedShock)) and owned.fits[0] not in ("b", corner[1].lower()):
        yield f"{kind} {owned.id} fits the {owned.fits} on the rack and goes to {corner}; {LOOK}"


# ---------------- what was read off the tires


def of_readings(readings: Sequence[Read], what: str) -> tuple[str, ...]:
    """What is odd of the last temperatures of the treads (`temperature`), or `cold` or `hot` pressures."""
    last = {(one.place, one.part): one.si for one in readings if one.what == what and one.taken != "set_down"}
    if what != "temperature":
        kind = KINDS["pressure"]
        odd = ((corner, si, unusual(si, kind)) for (corner, _), si in last.items())
        return tuple(f"{corner}: {show(si, kind)} is {why}; {LOOK}." for corner, si, why in odd if why)
    treads = {corner: [si for (at, _), si in last.items() if at == corner] for corner in CORNERS}
    return tuple(_treads({corner: tread for corner, tread in treads.items() if tread}))


def _treads(treads: dict[str, list[float]]) -> Iterator[str]:
    kind = KINDS["temperature"]
    usual = median(fmean(tread) for tread in treads.values()) if treads else 0.0
    for corner, tread in treads.items():
        shown = f"{corner}: {' '.join(show(si, kind) for si in tread)}"
        if not all(TREAD[0] <= si <= TREAD[1] for si in tread):
            yield f"{shown} is no temperature of a tread that has run; {LOOK}."
        elif max(tread) - min(tread) > APART:
            yield f"{shown} is far apart for one tread; {LOOK}."
        elif abs(fmean(tread) - usual) > APART:
            yield f"{shown} is far from the other tires; {LOOK}."
