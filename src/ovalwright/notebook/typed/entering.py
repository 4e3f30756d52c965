"""Events and runs from what was typed into a form, field by field, whichever face the form has.

A form is a mapping of texts. What it names, by code or by name, must be in the notebook; `Missing` says that
it is not, so that a face can keep the form as a draft. Functions take an open session and never commit.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Conditions
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage import fitting
from ovalwright.notebook.tables import Change, Document, Entry, Event, Reference, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import differences, said
from ovalwright.notebook.typed.quick import QuickLine, read_line
from ovalwright.units import KINDS, UnitError, read_quantity

T = TypeVar("T")
Form = Mapping[str, str]
Find = Callable[[Session, str, str], Revision]
"""Finds a revision by what was typed and the kind that is wanted."""


class Missing(NotebookTrouble):
    """Something that the form names is not in the notebook yet."""


@dataclass(frozen=True)
class Chosen:
    """A revision that was taken because none was named, and why this one."""

    revision: Revision
    why: str


def find_kept(session: Session, which: str, kind: str) -> Revision:
    """A revision by its code or name, with or without an @ before it. Raises Missing."""
    return _there(lambda: shelf.revision(session, which.strip().removeprefix("@"), kind=kind))


def _there(find: Callable[[], T]) -> T:
    try:
        return find()
    except NotebookTrouble as problem:
        raise Missing(str(problem)) from None


# ---------------- events and runs


def enter_event(session: Session, form: Form, *, find: Find = find_kept) -> Event:
    """An event: `name`, `on` (a date; today), `track`, `note`, `spent`. Raises NotebookTrouble, Missing."""
    held_on = read_day(form.get("on", ""))
    spent = _amount("spent", form.get("spent", ""))
    track = find(session, form["track"], "track") if form.get("track") else None
    return runs.new_event(session, form["name"], held_on, track=track, note=form.get("note", ""), spent=spent)


@dataclass(frozen=True)
class EnteredRun:
    """A run, the setup that was taken where none was named, and what the books of the parts had said else."""

    run: Run
    chosen: Chosen | None
    otherwise: tuple[str, ...]


def enter_run(session: Session, form: Form, *, find: Find = find_kept) -> EnteredRun:
    """A run: `event` (the last), `setup` (see `usual_setup`), `session`, `at` (19:30), `driver`, `fuel`,
    `fuel_left`, `air` (conditions or a temperature), `surface`, `stagger`, `track`, `note`, `decided`.

    Raises NotebookTrouble, and Missing for what is not there.
    """
    told = {name: _amount(name, form.get(name, "")) for name in _AMOUNTS}
    air = _temperature(form.get("air", ""))
    time = _time(form.get("at", ""))
    event = _there(lambda: runs.event_of(session, form.get("event") or "last"))
    chosen = None if form.get("setup") else usual_setup(session)
    setup = chosen.revision if chosen else find(session, form["setup"], "setup")
    run = runs.new_run(
        session,
        event,
        setup,
        started=dt.datetime.combine(event.held_on, time) if time is not None else None,
        called=form.get("session", ""),
        driver=form.get("driver", ""),
        track=find(session, form["track"], "track") if form.get("track") else None,
        conditions=None if air is not None or not form.get("air") else _weather(session, form["air"], find),
        air=air,
        note=form.get("note", ""),
        decided=form.get("decided", ""),
        fuel=told["fuel"],
        fuel_left=told["fuel_left"],
        surface=told["surface"],
        stagger=told["stagger"],
    )
    return EnteredRun(run, chosen, fitting.ride_as_named(session, run))


def mend_run(session: Session, run: Run, form: Form, *, find: Find = find_kept) -> None:
    """Mend what was told of a run: the fields of `enter_run` that tell no setup, event, track or decision.

    Raises NotebookTrouble, also where nothing is mended, and Missing.
    """
    told: dict[str, object] = {name: form[name] for name in ("session", "driver", "note") if form.get(name)}
    if form.get("air"):
        told["air"] = _temperature(form["air"])
    if form.get("air") and told["air"] is None:
        weather = _weather(session, form["air"], find)
        read = shelf.document_of(weather)
        assert isinstance(read, Conditions)
        told |= {"conditions_id": weather.id, "air": read.air.si, "surface": read.surface.si}
    amounts = {name: _amount(name, form.get(name, "")) for name in _AMOUNTS if name != "spent"}
    told |= {name: si for name, si in amounts.items() if si is not None}
    time = _time(form.get("at", ""))
    if time is not None:
        told["started"] = dt.datetime.combine(run.event.held_on, time)
    if not told:
        raise NotebookTrouble('nothing is mended; write such as --fuel "14 gal" or --at 19:30.')
    runs.change_run(session, run, told)


def run_named(session: Session, which: str) -> Run:
    """A run by its code, or the last one. Raises Missing."""
    return _there(lambda: runs.run_of(session, which or "last"))


def usual_setup(session: Session) -> Chosen:
    """The setup that is in the car when none is named: that which was fitted or run last, or what was made
    of it since; the last one kept while nothing was fitted or run. Raises Missing.
    """
    setups = sa.select(Revision).join(Document).where(Document.kind == "setup").order_by(Revision.id.desc())
    last, fitted = runs.last_run(session), fitting.fitted_last(session)
    known = [(*fitted, "as the car was fitted")] if fitted else []
    known += [(last.setup, _entered(session, last), f"as in the last run, {last.code}")] if last else []
    if not known:
        kept = session.scalars(setups.limit(1)).first()
        if kept is None:
            raise Missing("no setup is in the notebook yet; keep one first.")
        return Chosen(kept, "the last one kept")
    base, entry, why = max(known, key=lambda one: one[1])
    own = sa.select(Revision.id).where(Revision.document_id == base.document_id).cte(recursive=True)
    own = own.union(sa.select(Revision.id).join(own, Revision.parent_id == own.c.id))
    since = setups.where(Revision.id.in_(sa.select(own.c.id)), Revision.entry_id > entry)
    made = session.scalars(since.limit(1)).first()
    return Chosen(made, "made of the one in the car") if made else Chosen(base, why)


def _entered(session: Session, run: Run) -> int:
    """The entry that a run was entered by."""
    added = (
        sa.select(Change.entry_id)
        .join(Entry, Entry.id == Change.entry_id)
        .where(
            Change.of_table == Run.__tablename__,
            Change.row_id == run.id,
            Change.done == "added",
            ~Entry.undoes,
        )
    )
    return session.scalar(added.order_by(Change.id.desc()).limit(1)) or run.entry_id


def changed_before(session: Session, run: Run) -> str:
    """What differs in the setup from the run before with the same car, as the racer says it."""
    car = shelf.refers_to(session, run.setup).get("car")
    if car is None:
        return ""
    before = session.scalars(
        sa.select(Run)
        .where(sa.tuple_(Run.started, Run.id) < sa.tuple_(run.started, run.id))
        .where(Run.setup_id.in_(_setups_of(car.document_id)))
        .order_by(Run.started.desc(), Run.id.desc())
        .limit(1)
    ).first()
    if before is None or before.setup_id == run.setup_id:
        return ""
    return said(shelf.changed(session, before.setup, run.setup))


def _setups_of(car_id: int) -> sa.Select[int]:
    """The ids of the setups that were kept with a car."""
    car = sa.alias(Revision.__table__)
    kept = sa.select(Reference.revision_id).join(car, car.c.id == Reference.target_id)
    return kept.where(Reference.role == "car", car.c.document_id == car_id)


# ---------------- a setup in one line


def read_quick(
    session: Session, text: str, on: str = "", *, find: Find = find_kept
) -> tuple[QuickLine, Chosen]:
    """A quick line read on a setup, the usual one where `on` names none. Raises Missing, NotebookTrouble."""
    chosen = Chosen(find(session, on, "setup"), "") if on else usual_setup(session)
    rack = shelf.assembly_of(session, chosen.revision).rack
    return read_line(text, shelf.setup_of(chosen.revision), rack=rack), chosen


def keep_quick(session: Session, line: QuickLine, base: Revision, *, reason: str = "") -> Revision:
    """The setup that a quick line makes of another.

    Raises DocumentError when a clause was not understood, NotebookTrouble when nothing would differ.
    """
    changes, now = line.changes, shelf.setup_of(base)
    if not differences(now, now.changed(changes)):
        raise NotebookTrouble(f"setup {base.code} has all of that already; nothing was kept.")
    return shelf.child(session, base, changes, reason=reason)


# ---------------- fields


_AMOUNTS = {
    "fuel": "volume",
    "fuel_left": "volume",
    "surface": "temperature",
    "stagger": "growth",
    "spent": "plain",
}


def _amount(name: str, text: str) -> float | None:
    try:
        return read_quantity(text, KINDS[_AMOUNTS[name]]).si if text.strip() else None
    except UnitError as problem:
        raise NotebookTrouble(f"{name.replace('_', ' ')}: {problem}.") from None


def _temperature(text: str) -> float | None:
    """A temperature [K], or None where something else was typed, perhaps the name of conditions."""
    try:
        return read_quantity(text, KINDS["temperature"]).si
    except UnitError:
        return None


def _weather(session: Session, text: str, find: Find) -> Revision:
    try:
        return find(session, text, "conditions")
    except Missing:
        if text.strip()[:1].isdigit():
            raise NotebookTrouble(f'air: "{text[:40]}" is no temperature; write such as "75 F".') from None
        raise


def read_day(text: str) -> dt.date:
    """A day as typed; today when left out. Raises NotebookTrouble."""
    if not text.strip():
        return dt.date.today()
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise NotebookTrouble(
            f'"{text[:40]}" is no date; write year-month-day, such as 2026-04-25.'
        ) from None


def _time(text: str) -> dt.time | None:
    if not text.strip():
        return None
    try:
        return dt.time.fromisoformat(text.strip().zfill(5)).replace(tzinfo=None, microsecond=0)
    except ValueError:
        raise NotebookTrouble(f'"{text[:40]}" is no time of day; write such as 19:30.') from None
