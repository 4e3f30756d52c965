"""Events and runs from what was typed into a form, field by field, whichever face the form has.

A form is a mapping of texts. What it names, by code or by name, must be in the notebook; `Missing` says that
it is not, so that a face can keep the form as a draft. Functions take an open session and never commit.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TypeVar, cast

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Conditions
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage import fitting
from ovalwright.notebook.tables import Change, Document, Entry, Event, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import differences, said
from ovalwright.notebook.typed.quick import QuickLine, read_line
from ovalwright.notebook.typed.run_fields import all_read, read_amount, read_time
from ovalwright.units import KINDS, UnitError, read_quantity

T = TypeVar("T")
Form = Mapping[str, str]
NO_EVENT = "none"
"""What is typed for a run of today without an event."""
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
    spent = _spent(form.get("spent", ""))
    track = find(session, form["track"], "track") if form.get("track") else None
    return runs.new_event(session, form["name"], held_on, track=track, note=form.get("note", ""), spent=spent)


@dataclass(frozen=True)
class EnteredRun:
    """A run, the setup that was taken where none was named, and what the books of the parts had said else."""

    run: Run
    chosen: Chosen | None
    otherwise: tuple[str, ...]


def enter_run(session: Session, form: Form, *, find: Find = find_kept) -> EnteredRun:
    """A run: `event` (see `usual_event`; ``none``), `setup` (see `usual_setup`), `session`, `at` (19:30),
    `driver`, `fuel`, `fuel_left`, `air` (conditions or a temperature), `surface`, `stagger`, `track`, `note`,
    `decided`.

    Raises NotebookTrouble, and Missing for what is not there.
    """
    told = _fields(session, form, find)
    event = _event(session, form.get("event", ""))
    chosen = None if form.get("setup") else usual_setup(session)
    setup = chosen.revision if chosen else find(session, form["setup"], "setup")
    run = runs.new_run(
        session,
        event,
        setup,
        started=dt.datetime.combine(event.held_on, told.at) if told.at is not None else None,
        called=form.get("session", ""),
        driver=form.get("driver", ""),
        track=find(session, form["track"], "track") if form.get("track") else None,
        conditions=told.weather,
        air=told.air,
        note=form.get("note", ""),
        decided=form.get("decided", ""),
        fuel=told.amounts["fuel"],
        fuel_left=told.amounts["fuel_left"],
        surface=told.amounts["surface"],
        stagger=told.amounts["stagger"],
    )
    return EnteredRun(run, chosen, fitting.ride_as_named(session, run))


def _event(session: Session, wanted: str) -> Event:
    """The event of a run, by what was typed of it. Raises Missing."""
    if wanted and wanted != NO_EVENT:
        return _there(lambda: runs.event_of(session, wanted))
    return (None if wanted else usual_event(session)) or _alone(session)


def usual_event(session: Session) -> Event | None:
    """The event of a run that names none: the last one, or that of today where the last is still ahead; None
    where nothing is held today. Raises Missing where no event is in the notebook.
    """
    last, today = _there(lambda: runs.event_of(session, "last")), dt.date.today()
    if last.held_on <= today:
        return last
    held = sa.select(Event).where(Event.held_on == today).order_by(Event.id.desc())
    return session.scalars(held.limit(1)).first()


def _alone(session: Session) -> Event:
    """Today as a day without an event, on the only track that is in the notebook."""
    today = dt.date.today()
    held = sa.select(Event).where(Event.held_on == today, Event.name == runs.ALONE)
    tracks = shelf.revisions(session, kind="track", most=2)
    track = shelf.revision(session, tracks[0].code) if len(tracks) == 1 else None
    return session.scalars(held).first() or runs.new_event(session, runs.ALONE, today, track=track)


def mend_run(session: Session, run: Run, form: Form, *, find: Find = find_kept) -> None:
    """Mend what was told of a run: the fields of `enter_run` that tell no setup, event, track or decision.

    Raises NotebookTrouble, also where nothing is mended, and Missing.
    """
    told: dict[str, object] = {name: form[name] for name in ("session", "driver", "note") if form.get(name)}
    read = _fields(session, form, find)
    if read.air is not None:
        told["air"] = read.air
    if read.weather is not None:
        weather = shelf.document_of(read.weather)
        assert isinstance(weather, Conditions)
        told |= {"conditions_id": read.weather.id, "air": weather.air.si, "surface": weather.surface.si}
    told |= {name: si for name, si in read.amounts.items() if si is not None}
    if read.at is not None:
        told["started"] = dt.datetime.combine(run.event.held_on, read.at)
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
        .where(Run.setup_id.in_(shelf.kept_with([car.document_id])))
        .order_by(Run.started.desc(), Run.id.desc())
        .limit(1)
    ).first()
    if before is None or before.setup_id == run.setup_id:
        return ""
    return said(shelf.changed(session, before.setup, run.setup))


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


_AMOUNTS = ("fuel", "fuel_left", "surface", "stagger")


@dataclass(frozen=True)
class _Fields:
    """What was told of a run in numbers, SI; air by a number or by the conditions."""

    amounts: Mapping[str, float | None]
    air: float | None
    weather: Revision | None
    at: dt.time | None


def _fields(session: Session, form: Form, find: Find) -> _Fields:
    """Raises Unreadable with all that cannot be read, Missing where only the conditions are not there."""
    missing: list[Missing] = []

    def weather(text: str) -> float | Revision | None:
        try:
            return read_amount("air", text)
        except NotebookTrouble as unreadable:
            try:
                return find(session, text, "conditions")
            except Missing as problem:
                if text.strip()[:1].isdigit():
                    raise unreadable from None
                missing.append(problem)
        return None

    amounts = {name: partial(read_amount, name) for name in _AMOUNTS}
    read = all_read(form, {"at": read_time, **amounts, "air": weather})
    if missing:
        raise missing[0]
    air, at = read["air"], read["at"]
    return _Fields(
        {name: cast("float | None", read[name]) for name in _AMOUNTS},
        air if isinstance(air, float) else None,
        air if isinstance(air, Revision) else None,
        at if isinstance(at, dt.time) else None,
    )


def _spent(text: str) -> float | None:
    try:
        return read_quantity(text, KINDS["plain"]).si if text.strip() else None
    except UnitError as problem:
        raise NotebookTrouble(f"spent: {problem}.") from None


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
