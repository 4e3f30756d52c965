"""Events and runs: what was in the car, its laps, what was read off it and what the driver said."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, cast

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Conditions, TimedLap, Track
from ovalwright.notebook import journal
from ovalwright.notebook.asked import find
from ovalwright.notebook.garage import parts
from ovalwright.notebook.shelf import document_of
from ovalwright.notebook.tables import Comment, Event, Lap, Reading, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble

THIRDS = ("inside", "middle", "outside")
PHASES, WHENS, FEELS = ("", "entry", "middle", "exit"), ("", "early", "late"), ("", "tight", "loose", "good")
MOST_LAPS = 5000
ALONE = "Without an event"
"""The name of a day at a track on which nothing was held."""


@dataclass(frozen=True)
class Read:
    """One reading, as for the table: `si` and as typed, at a `place`, a `part` of a tread, after a `lap`."""

    what: str
    si: float
    place: str = ""
    part: str = ""
    lap: int | None = None
    typed: str = ""
    taken: str = "after"


@dataclass(frozen=True)
class Said:
    """A driver's comment: phase of the turn, early or late in the run, how it felt, his words."""

    phase: str = ""
    when: str = ""
    feel: str = ""
    words: str = ""


@dataclass(frozen=True)
class RunRecord:
    """A run as it is shown: SI, dates as they were at the track; lists in the order they were entered."""

    code: str
    number: int
    event: str
    held_on: dt.date
    session: str
    started: dt.datetime
    setup: str
    setup_name: str
    setup_number: int
    track: str
    driver: str
    fuel: float | None
    fuel_left: float | None
    air: float | None
    surface: float | None
    stagger: float | None
    decided: str
    note: str
    hit: str
    laps: tuple[TimedLap, ...]
    best: float | None
    middle: float | None
    fall_off: float | None
    readings: tuple[Read, ...] = field(default=())
    comments: tuple[Said, ...] = field(default=())
    ridden: tuple[tuple[str, str], ...] = field(default=())


# ---------------- entering


def new_event(
    session: Session,
    name: str,
    held_on: dt.date,
    *,
    track: Revision | None = None,
    note: str = "",
    spent: float | None = None,
) -> Event:
    """A day at a track. Raises NotebookTrouble for one of that name on that day."""
    _check_event(session, name, held_on)
    event = Event(
        name=name.strip()[:120], held_on=held_on, track_id=track.id if track else None, note=note, spent=spent
    )
    session.add(event)
    session.flush()
    find.tell(session, "event", event.id)
    return event


def mend_event(
    session: Session, event: Event, name: str, held_on: dt.date, *, track: Revision | None
) -> None:
    """Another name, day or track for an event. Raises NotebookTrouble for another day of one with runs."""
    if (name, held_on) != (event.name, event.held_on):
        _check_event(session, name, held_on)
    if held_on != event.held_on and runs_of(session, event):
        raise NotebookTrouble(f"{event.name} has runs of {event.held_on.isoformat()}; its day stays.")
    event.name, event.held_on, event.track_id = name.strip()[:120], held_on, track.id if track else None
    session.flush()
    find.tell(session, "event", event.id)
    for run in runs_of(session, event):
        find.tell(session, "run", run.id)


def drop_event(session: Session, event: Event) -> None:
    """Take an event out. Raises NotebookTrouble for one with runs."""
    if runs_of(session, event):
        raise NotebookTrouble(f"{event.name} has runs; an event is taken out only without any.")
    owner = event.id
    session.delete(event)
    session.flush()
    find.tell(session, "event", owner)


def _check_event(session: Session, name: str, held_on: dt.date) -> None:
    if not name.strip():
        raise NotebookTrouble('an event needs a name, such as "Opening night".')
    same = sa.select(Event).where(Event.name == name, Event.held_on == held_on)
    if session.scalars(same).first() is not None:
        raise NotebookTrouble(f'event "{name}" of {held_on.isoformat()} is in the notebook already.')


def new_run(
    session: Session,
    event: Event,
    setup: Revision,
    *,
    started: dt.datetime | None = None,
    called: str = "",
    driver: str = "",
    track: Revision | None = None,
    conditions: Revision | None = None,
    fuel: float | None = None,
    fuel_left: float | None = None,
    air: float | None = None,
    surface: float | None = None,
    stagger: float | None = None,
    note: str = "",
    decided: str = "",
    hit: str = "",
) -> Run:
    """The next run of an event, with the setup that was in the car and the parts that were on it.

    `called` is the session (practice, heat, feature); `started` the time at the track, without a zone, see
    `_untold_start` where left out; fuel in m3, temperatures in K, `stagger` in m. Air and surface are taken
    from the conditions where left out.
    """
    if setup.document.kind != "setup":
        raise NotebookTrouble(
            f"{setup.code} is a {setup.document.kind}; a run needs the setup it was run on."
        )
    of_event = sa.select(sa.func.max(Run.number), sa.func.max(Run.started)).where(Run.event_id == event.id)
    last, latest = session.execute(of_event).one()
    weather = document_of(conditions) if conditions is not None else None
    if isinstance(weather, Conditions):
        air = weather.air.si if air is None else air
        surface = weather.surface.si if surface is None else surface
    run = Run(
        event=event,
        event_id=event.id,
        number=(last or 0) + 1,
        session=called[:60],
        started=started or _untold_start(event, latest),
        setup_id=setup.id,
        track_id=track.id if track else event.track_id,
        conditions_id=conditions.id if conditions else None,
        driver=driver[:120],
        fuel=fuel,
        fuel_left=fuel_left,
        air=air,
        surface=surface,
        stagger=stagger,
        note=note,
        decided=decided,
        hit=hit[:60],
    )
    session.add(run)
    session.flush()
    parts.ride(session, run)
    find.tell(session, "run", run.id)
    return run


def _untold_start(event: Event, latest: dt.datetime | None) -> dt.datetime:
    """When a run began whose time was not told: now on the day itself, else at noon, and always after the
    `latest` run of its event, by so little that it shows that nobody told it.
    """
    now = dt.datetime.now().replace(microsecond=0)
    usual = now if event.held_on == now.date() else dt.datetime.combine(event.held_on, parts.UNTOLD)
    return usual if latest is None or usual > latest else latest + dt.timedelta(microseconds=1)


def put_laps(session: Session, run: Run, laps: Sequence[TimedLap]) -> None:
    """The laps of a run, in place of those it had. Raises NotebookTrouble when numbers come twice."""
    numbers = [lap.number for lap in laps]
    if len(set(numbers)) != len(numbers):
        raise NotebookTrouble("a lap number comes twice; give every lap of a run its own.")
    if len(laps) > MOST_LAPS:
        raise NotebookTrouble(f"{len(laps)} laps are more than a run has; {MOST_LAPS} at the most.")
    before = [list(row) for row in session.execute(_laps_of(run.id))]
    journal.note(session, Lap.__tablename__, run.id, "changed", before)
    session.execute(sa.delete(Lap).where(Lap.run_id == run.id))
    rows = [
        {"run_id": run.id, "number": lap.number, "time": lap.time, "flag": lap.flag, "said": lap.said[:60]}
        for lap in laps
    ]
    if rows:
        session.execute(sa.insert(Lap), rows)
    _sum_up(session, run, laps)


def _laps_of(run_id: int) -> sa.Select[int, float, str, str]:
    return (
        sa.select(Lap.number, Lap.time, Lap.flag, Lap.said).where(Lap.run_id == run_id).order_by(Lap.number)
    )


def _sum_up(session: Session, run: Run, laps: Sequence[TimedLap]) -> None:
    """What the laps come to, so that a run can be found by it."""
    told = totals(laps)
    run.laps, run.green, run.best, run.middle, run.fall_off = told
    run.distance = told[0] * _lap_length(session, run)
    session.flush()


def totals(laps: Sequence[TimedLap]) -> tuple[int, int, float | None, float | None, float | None]:
    """Laps, laps at speed, best [s], median of those at speed [s], fall-off [s per 10 laps] or None."""
    from ovalwright.study.falloff import at_speed, summary

    if not laps:
        return 0, 0, None, None, None
    numbers, times = [lap.number for lap in laps], [lap.time for lap in laps]
    green = [lap.flag == "green" for lap in laps]
    kept = sorted(time for time, good in zip(times, at_speed(times, green), strict=True) if good)
    if not kept:
        return len(laps), 0, None, None, None
    half = len(kept) // 2
    middle = kept[half] if len(kept) % 2 else (kept[half - 1] + kept[half]) / 2
    fade = summary(numbers, times, green).fade
    return len(laps), len(kept), kept[0], middle, fade.per_ten.value if fade else None


def _lap_length(session: Session, run: Run) -> float:
    """Length of a lap [m]; 0 where no track is known."""
    track = session.get(Revision, run.track_id) if run.track_id is not None else None
    if track is None:
        return 0.0
    document = document_of(track)
    return track_length(document) if isinstance(document, Track) else 0.0


@lru_cache(maxsize=32)
def track_length(track: Track) -> float:
    """Length of a track [m] at mid-groove; a track is laid once, not for every run on it."""
    from ovalwright.pack.track import ribbon_of

    return float(ribbon_of(track).length)


def add_readings(session: Session, run: Run, readings: Iterable[Read]) -> None:
    """What was read off the car about a run."""
    for one in readings:
        if not math.isfinite(one.si):
            raise NotebookTrouble(f'{one.place} {one.what} "{one.typed}" is no number.')
        session.add(
            Reading(
                run_id=run.id,
                taken=one.taken,
                what=one.what,
                place=one.place,
                part=one.part,
                lap=one.lap,
                si=one.si,
                typed=one.typed[:120],
            )
        )
    session.flush()


def say(session: Session, run: Run, said: Said) -> None:
    """What the driver said of a run. Raises NotebookTrouble for a word that is none of ours."""
    for told, words, what in (
        (said.phase, PHASES, "phase"),
        (said.when, WHENS, "part of the run"),
        (said.feel, FEELS, "feel"),
    ):
        if told not in words:
            raise NotebookTrouble(f'"{told[:30]}" is no {what}; write {", ".join(w for w in words if w)}.')
    session.add(Comment(run_id=run.id, phase=said.phase, when=said.when, feel=said.feel, words=said.words))
    session.flush()
    find.tell(session, "run", run.id)


def change_run(session: Session, run: Run, changes: Mapping[str, object]) -> None:
    """Fill in or mend what was not known when the run was entered. What was run, setup and track, stays."""
    allowed = {
        "session",
        "started",
        "driver",
        "conditions_id",
        "fuel",
        "fuel_left",
        "air",
        "surface",
        "stagger",
        "note",
        "decided",
        "hit",
    }
    odd = sorted(set(changes) - allowed)
    if odd:
        raise NotebookTrouble(
            f"{odd[0]} of a run is not changed afterwards; undo the run and enter it again."
        )
    for key, value in changes.items():
        setattr(run, key, value)
    session.flush()
    find.tell(session, "run", run.id)


# ---------------- looking


def run_of(session: Session, wanted: str) -> Run:
    """A run by its code, or the last one for ``last``, see `last_run`. Raises NotebookTrouble."""
    told = wanted.strip()
    if told.lower() == "last":
        found = last_run(session)
        if found is None:
            raise NotebookTrouble("no run is in the notebook yet; enter one first.")
        return found
    found = session.scalars(sa.select(Run).where(Run.code == told.upper())).first()
    if found is None:
        raise NotebookTrouble(f'no run "{told[:30]}" is in the notebook; its code stands on the run log.')
    return found


def last_run(session: Session) -> Run | None:
    """The run of the last day at a track that was entered last, whatever time was told of it."""
    newest = sa.select(Run).join(Event, Event.id == Run.event_id)
    return session.scalars(newest.order_by(Event.held_on.desc(), Run.id.desc()).limit(1)).first()


def event_of(session: Session, wanted: str) -> Event:
    """The latest event of a name, of a day (2026-05-01), of both (2026-05-01 Opening night), or the ``last``.

    Raises NotebookTrouble.
    """
    told = wanted.strip()
    day, _, name = told.partition(" ")
    query = sa.select(Event).order_by(Event.held_on.desc(), Event.id.desc()).limit(1)
    if told.lower() != "last":
        try:
            query = query.where(Event.held_on == dt.date.fromisoformat(day))
            query = query.where(sa.func.lower(Event.name) == name.lower()) if name else query
        except ValueError:
            query = query.where(sa.func.lower(Event.name) == told.lower())
    found = session.scalars(query).first()
    if found is None and told.lower() == "last":
        raise NotebookTrouble("no event is in the notebook yet; enter one first.")
    if found is None:
        raise NotebookTrouble(f'no event "{told[:60]}" is in the notebook; enter it first.')
    return found


def events(session: Session, most: int = 50) -> tuple[tuple[Event, int], ...]:
    """The latest events with the number of their runs, newest first."""
    runs = sa.select(Run.event_id, sa.func.count().label("runs")).group_by(Run.event_id).subquery()
    query = sa.select(Event, sa.func.coalesce(runs.c.runs, 0)).outerjoin(runs, runs.c.event_id == Event.id)
    found = session.execute(query.order_by(Event.held_on.desc(), Event.id.desc()).limit(most))
    return tuple((event, count) for event, count in found)


def runs_of(session: Session, event: Event) -> tuple[Run, ...]:
    """The runs of an event, in order."""
    return tuple(session.scalars(sa.select(Run).where(Run.event_id == event.id).order_by(Run.number)))


def laps_of(session: Session, run: Run) -> tuple[TimedLap, ...]:
    """The laps of a run."""
    return tuple(
        TimedLap(number=number, time=time, flag=cast(Any, flag), line=number, said=said)
        for number, time, flag, said in session.execute(_laps_of(run.id))
    )


def record(session: Session, run: Run) -> RunRecord:
    """Everything the notebook knows of a run."""
    setup, track = run.setup, run.track
    readings = session.scalars(sa.select(Reading).where(Reading.run_id == run.id).order_by(Reading.id))
    comments = session.scalars(sa.select(Comment).where(Comment.run_id == run.id).order_by(Comment.id))
    return RunRecord(
        code=run.code,
        number=run.number,
        event=run.event.name,
        held_on=run.event.held_on,
        session=run.session,
        started=run.started,
        setup=setup.code,
        setup_name=setup.document.name,
        setup_number=setup.number,
        track=track.document.name if track else "",
        driver=run.driver,
        fuel=run.fuel,
        fuel_left=run.fuel_left,
        air=run.air,
        surface=run.surface,
        stagger=run.stagger,
        decided=run.decided,
        note=run.note,
        hit=run.hit,
        laps=laps_of(session, run),
        best=run.best,
        middle=run.middle,
        fall_off=run.fall_off,
        readings=tuple(
            Read(one.what, one.si, one.place, one.part, one.lap, one.typed, one.taken) for one in readings
        ),
        comments=tuple(Said(one.phase, one.when, one.feel, one.words) for one in comments),
        ridden=parts.marks_ridden(session, run),
    )
