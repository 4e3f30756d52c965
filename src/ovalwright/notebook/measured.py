"""A number that was measured, kept in the document it is written in, and the setups that stand on that.

A number of the car or the rack is the same in every setup that stands on that document, so the last revision
of each of them goes along.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright.documents import Assembly, Document, DocumentError, Rack, Setup, assemble
from ovalwright.documents.document import split_key
from ovalwright.documents.part import Part, dotted
from ovalwright.documents.setup import Tire
from ovalwright.documents.source import outdated
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.parts import find_part
from ovalwright.notebook.garage.parts_measured import measurable, measure
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.known import MEASURED_RATE, TAG, Held, Lives, Number, Role
from ovalwright.notebook.tables import Document as Home
from ovalwright.notebook.tables import Reference, Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.measured import Reading
from ovalwright.notebook.typed.steps import arrow


@dataclass(frozen=True)
class Kept:
    """What keeping a measurement made: the setup as it `was` and is `now`, other setups that went along,
    those that had to be `left` as they are and why, and how the change is said.
    """

    was: Revision
    now: Revision
    others: tuple[tuple[Revision, Revision], ...]
    left: tuple[str, ...]
    said: str

    @property
    def moved(self) -> dict[str, str]:
        """What every setup was made into, by their codes."""
        return {was.code: now.code for was, now in ((self.was, self.now), *self.others)}


def keep_measured(
    session: Session,
    setup: Revision,
    what: Number,
    readings: Mapping[str, Reading],
    *,
    reason: str,
    on: dt.date,
) -> Kept:
    """Keep readings of a number, by its places, taken on a day, as new revisions of the documents it is
    written in and of the setups that stand on them. Raises NotebookTrouble, DocumentError.
    """
    written = [(what.at(place), reading) for place, reading in readings.items()]
    changes: dict[Role, dict[str, object]] = {}
    for held, reading in written:
        _check_is_kept_here(held)
        _check_no_step_back(held, reading)
        changes.setdefault(held.lives.role, {}).update(_changes(held.lives, reading, on))
    refers = shelf.refers_to(session, setup)
    said = _said(written)
    told = f"{said}: {reason}"
    anew: dict[str, Revision] = {}
    for role, target in refers.items():
        if role in changes:
            document = _changed(shelf.document_of(target), changes[role])
            anew[role] = shelf.keep(session, document, parent=target, reason=told)
    others, left = _go_along(session, setup, refers, anew, told)
    typed = _setup_with(shelf.setup_of(setup), changes.get("setup", {}))
    now = _kept(session, setup, typed, anew, told)
    for held, reading in written:
        if held.lives.mark:
            _note_on_the_part(session, held, reading, _joined(typed, {**refers, **anew}).setup, on)
    entry_of(session).what = f"{said} ({now.code})"
    return Kept(setup, now, others, left, said)


def _changes(lives: Lives, reading: Reading, on: dt.date) -> dict[str, object]:
    """What is written into the document; a part of the rack bears the day it was measured on."""
    is_measured = reading.value.evidence == "measured"
    item, _, field = lives.key.rpartition(".")
    if lives.role != "rack":
        return {lives.key: reading.written}
    if is_measured:
        return {lives.key: reading.written, f"{item}.date": on}
    return {f"{item}.{TAG}" if field == MEASURED_RATE else lives.key: reading.written}


def _setup_with(setup: Setup, changes: Mapping[str, object]) -> Setup:
    changed = _changed(setup, changes) if changes else setup
    assert isinstance(changed, Setup)
    return changed


def _check_is_kept_here(held: Held) -> None:
    """What was read at a weighing is told with all of it: the whole weighing fixes the seats."""
    if held.lives.role == "sheet":
        raise NotebookTrouble(
            f"{held.path} is read at a weighing; type it on the Scales, with the weights of the next one."
        )


def _check_no_step_back(held: Held, reading: Reading) -> None:
    """A spring that was on the rater has a measured rate; its tag does not take the place of that."""
    lives, old = held.lives, held.entry.value
    if lives.key.endswith(f".{MEASURED_RATE}") and lives.is_rated and reading.value.evidence == "maker":
        raise NotebookTrouble(
            f"{lives.part} {lives.mark} was rated at {old.text}, which is surer than its tag; write what the "
            "rater says, as measured."
        )


def _changed(document: Document, changes: Mapping[str, object]) -> Document:
    """A document with numbers written anew, else as it was. Raises NotebookTrouble where none differs."""
    was = document.text
    for key, value in changes.items():
        document = document.changed(_beside(document, key, value))
    if document.text == was:
        raise NotebookTrouble("all of that stands there already, just so; nothing was kept.")
    return document


def _beside(document: Document, key: str, value: object) -> dict[str, object]:
    """A change of one key that leaves its table as it is: that is written whole where the key alone
    would drop another, and a typical list where nothing of it was written yet.
    """
    keys = split_key(key)
    part: Any = document
    for depth, name in enumerate(keys[:-1]):
        below = _below(part, name)
        if isinstance(below, tuple) and isinstance(part, Part) and name not in part.model_fields_set:
            items = [item.model_dump(exclude_none=True) for item in below]
            items[int(keys[depth + 1])][keys[depth + 2]] = value
            return {dotted(keys[: depth + 1]): items}
        part = below
    leaf = str(keys[-1])
    if isinstance(part, Part) and outdated({leaf: value}) & part.model_fields_set:
        return {dotted(keys[:-1]): {**part.model_dump(exclude_unset=True, exclude_none=True), leaf: value}}
    return {key: value}


def _below(part: Any, name: str | int) -> Any:
    held: Any = getattr(part, str(name), None) if isinstance(part, Part) else part[name]
    return held


def _kept(
    session: Session, setup: Revision, document: Setup, anew: Mapping[str, Revision], reason: str
) -> Revision:
    """A setup on documents that are new. Raises DocumentError where it cannot stand on them."""
    refers = {**shelf.refers_to(session, setup), **anew}
    joined = _joined(document, refers)
    return shelf.keep(session, document, parent=setup, reason=reason, references=refers, assembly=joined)


def _joined(setup: Setup, refers: Mapping[str, Revision]) -> Assembly:
    held: dict[str, Any] = {role: shelf.document_of(target) for role, target in refers.items()}
    return assemble(setup, **{**held, "rack": held.get("rack") or Rack()})


def _go_along(
    session: Session,
    setup: Revision,
    refers: Mapping[str, Revision],
    anew: Mapping[str, Revision],
    reason: str,
) -> tuple[tuple[tuple[Revision, Revision], ...], tuple[str, ...]]:
    """Other setups that stand on what was measured, each on it anew; those that cannot, and why."""
    moved, left = [], []
    for other in standing_on(session, setup, [refers[role] for role in anew]):
        own = shelf.refers_to(session, other)
        on = {role: new for role, new in anew.items() if own.get(role) == refers[role]}
        try:
            _joined(shelf.setup_of(other), {**own, **on})
        except DocumentError as problem:
            left.append(f"{other.document.name} stays as it was: {problem}")
            continue
        moved.append((other, _kept(session, other, shelf.setup_of(other), on, reason)))
    return tuple(moved), tuple(left)


def standing_on(session: Session, setup: Revision, targets: list[Revision]) -> Iterator[Revision]:
    """The last revision of every setup that refers to one of these revisions, but for this one."""
    later = aliased(Revision)
    newest = sa.select(sa.func.max(later.number)).where(later.document_id == Revision.document_id)
    on_them = sa.select(Reference.revision_id).where(Reference.target_id.in_([one.id for one in targets]))
    query = (
        sa.select(Revision)
        .join(Home)
        .where(Home.kind == "setup", Revision.id != setup.id)
        .where(Revision.id.in_(on_them), Revision.number == newest.scalar_subquery())
        .order_by(Revision.id)
    )
    yield from session.scalars(query).all()


def _said(written: list[tuple[Held, Reading]]) -> str:
    """What was measured, as a racer says it: `RR tire growth 0.12 -> 0.10 in/psi`."""
    told = []
    for held, one in written:
        old, new = held.entry.value, one.value
        change = arrow(old.text, new.text) if old.si != new.si else f"{new.text}, {new.evidence}"
        told.append(f"{_called(held)} {change}")
    return "; ".join(told)


def _called(held: Held) -> str:
    if held.lives.mark:
        return f"{held.lives.part} {held.lives.mark} {held.path.rpartition('.')[2].replace('_', ' ')}"
    return held.path.partition(".")[2].replace("short.", "").replace("_", " ").replace(".", " ")


def _note_on_the_part(session: Session, held: Held, reading: Reading, setup: Setup, on: dt.date) -> None:
    """A reading of a part that the notebook knows, among those of its life; `setup` has the new numbers."""
    lives, what = held.lives, held.path.rpartition(".")[2]
    part = find_part(session, lives.part, lives.mark)
    if part is None or reading.value.evidence != "measured" or what not in measurable(part.kind):
        return
    typed = reading.written["value"]
    if measurable(part.kind)[what].must:
        typed += f" at {_pressure_of(getattr(setup, held.corner).tire)}"
    measure(session, part, what, typed, on=on)


def _pressure_of(tire: Tire) -> str:
    """The pressure that a roll-out is told at."""
    return (tire.roll_out_pressure or tire.cold).text
