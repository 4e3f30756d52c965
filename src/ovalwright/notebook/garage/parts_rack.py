"""The parts of a rack taken in as individuals; one that is known already is only measured anew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Rack
from ovalwright.documents.rack import Gear, LeadPiece, Owned, OwnedBar, OwnedTire, Spring
from ovalwright.notebook.garage.parts import LONGEST_MARK, new_part
from ovalwright.notebook.garage.parts_measured import LONGEST_TYPED
from ovalwright.notebook.tables import Measurement, Part
from ovalwright.units import Quantity

MEASURED_OF: dict[str, dict[str, str]] = {
    "spring": {"measured": "rate", "free_length": "free_length", "bind_height": "bind_height"},
    "bar": {"rate": "rate", "diameter": "diameter", "bore": "bore", "length": "length", "arm": "arm"},
    "tire": {"roll_out": "roll_out", "growth": "growth", "width": "width"},
    "shock": {"gas_force": "gas_force"},
    "gear": {"ratio": "ratio"},
    "lead": {"mass": "mass"},
}
"""By kind of part, the keys of the rack that hold what was measured, and what that is."""


@dataclass(frozen=True)
class TakenIn:
    """What a rack brought: parts that are new and parts measured anew, as (kind, mark), and how many parts
    of it the notebook knew just so.
    """

    new: tuple[tuple[str, str], ...]
    measured: tuple[tuple[str, str], ...]
    same: int


def from_rack(session: Session, rack: Rack, *, on: dt.date) -> TakenIn:
    """Take in the parts of a rack. `on` is the day for those of which the rack says none.

    `count` pieces of lead alike become as many parts, marked ``L50-1``, ``L50-2`` and so on. Raises
    NotebookTrouble for a mark too long.
    """
    listed = list(_listed(rack))
    known = _known(session)
    before = _measured_before(session)
    new, measured, same = [], [], 0
    for kind, mark, owned in listed:
        part = known.get((kind, mark))
        if part is None:
            part = known[kind, mark] = _entered(session, kind, mark, owned)
            new.append((kind, mark))
            session.add_all(_measurements(part, owned, {}, on))
            continue
        fresh = list(_measurements(part, owned, before.get(part.id, {}), on))
        session.add_all(fresh)
        if fresh:
            measured.append((kind, mark))
        else:
            same += 1
    session.flush()
    return TakenIn(tuple(new), tuple(measured), same)


def _listed(rack: Rack) -> Iterator[tuple[str, str, Owned]]:
    """Every single part of a rack with its kind and mark."""
    shelves: dict[str, tuple[Owned, ...]] = {
        "spring": rack.springs,
        "bar": rack.bars,
        "tire": rack.tires,
        "shock": rack.shocks,
        "gear": rack.gears,
    }
    for kind, shelf in shelves.items():
        yield from ((kind, _mark(owned.id), owned) for owned in shelf)
    for piece in rack.lead:
        for number in range(1, piece.count + 1):
            tail = f"-{number}" if piece.count > 1 else ""
            yield "lead", f"{_mark(piece.id)[: LONGEST_MARK - len(tail)]}{tail}", piece


def _mark(told: str) -> str:
    return " ".join(told.split())


def _known(session: Session) -> dict[tuple[str, str], Part]:
    found = session.scalars(sa.select(Part).where(Part.kind.in_(MEASURED_OF)))
    return {(part.kind, part.mark): part for part in found}


def _measured_before(session: Session) -> dict[int, dict[str, list[Measurement]]]:
    """Measurements of each part, by what was measured."""
    query = sa.select(Measurement).join(Part).where(Part.kind.in_(MEASURED_OF))
    told: dict[int, dict[str, list[Measurement]]] = {}
    for one in session.scalars(query):
        told.setdefault(one.part_id, {}).setdefault(one.what, []).append(one)
    return told


def _entered(session: Session, kind: str, mark: str, owned: Owned) -> Part:
    rated = {Spring: "tag", Gear: "ratio", LeadPiece: "mass", OwnedBar: "rate"}.get(type(owned))
    quantity: Quantity | None = getattr(owned, rated) if rated else None
    return new_part(
        session,
        kind,
        mark,
        name=f"{owned.side} side, {owned.construction}" if isinstance(owned, OwnedTire) else "",
        rated=quantity.si if quantity is not None else None,
        laps_before=owned.laps if isinstance(owned, OwnedTire) else 0,
        note=owned.notes,
    )


def _measurements(
    part: Part, owned: Owned, before: dict[str, list[Measurement]], on: dt.date
) -> Iterator[Measurement]:
    """What the rack says was measured on a part and the notebook does not know yet."""
    for key, what in MEASURED_OF[part.kind].items():
        value: Quantity | None = getattr(owned, key)
        if value is None or not value.known:
            continue
        at = owned.roll_out_pressure if isinstance(owned, OwnedTire) and what == "roll_out" else None
        typed = value.text if at is None else f"{value.text} at {at.text}"
        if not _is_known(before.get(what, []), owned.date, value.si, at.si if at else None):
            yield Measurement(
                part_id=part.id,
                measured_on=owned.date or on,
                what=what,
                si=value.si,
                at=at.si if at else None,
                typed=typed[:LONGEST_TYPED],
            )


def _is_known(before: list[Measurement], day: dt.date | None, si: float, at: float | None) -> bool:
    """Whether it was measured so on that day; of a rack that says no day, whether it ever was."""
    return any((one.si, one.at) == (si, at) and day in (None, one.measured_on) for one in before)
