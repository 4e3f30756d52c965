"""Service: what is due on the parts of a car, after how many laps, on which day, and after a hit.

A figure of the maker, of the builder or of the racer himself counts before a typical one; of several, the one
that comes first. Safety dates are those of the checklists.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.garage.hits import bare_hits, hits_on
from ovalwright.notebook.garage.parts import stays_on
from ovalwright.notebook.garage.parts_life import RunMoment, Tally, tallies
from ovalwright.notebook.garage.service_typical import ANSWERED_BY, TYPICAL, YEAR, Every
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Document, Interval, Measurement, Part, Ridden, Run, Serviced, Stay
from ovalwright.notebook.tables_work import Item
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS

INSPECT = "inspect after a hit"
"""The job that answers a hit."""
CORNER = "corner"
"""Stands for the kind of part where a whole corner was hit of which no part is noted."""
SOON = 0.8
"""Share of an interval from which a job is said to be coming."""
TOLD = ("maker", "builder", "own")
WHOSE = {
    "maker": "the maker's figure",
    "builder": "the builder's figure",
    "own": "your own figure",
    "typical": "typical, common practice, no source; the maker's or builder's figure comes first",
    "hit": "after a hit",
    "date": "the date on it; the rule book comes first",
}


@dataclass(frozen=True)
class Due:
    """A job and what is left until it is due; less than nothing when it is overdue.

    `laps_left`, `distance_left` [m], `cycles_left` (runs), `due_on` are None where the interval says nothing
    of them. `used` is the share of the interval that is gone, by whichever is nearest, named by `by`. After a
    hit, `run` is that in which it was hit.
    """

    source: str
    kind: str = ""
    mark: str = ""
    place: str = ""
    job: str = ""
    by: str = ""
    used: float = 0.0
    laps_left: int | None = None
    distance_left: float | None = None
    cycles_left: int | None = None
    due_on: dt.date | None = None
    because: str = ""
    run: str = ""

    @property
    def whose(self) -> str:
        """Whose figure it is, in words."""
        return WHOSE[self.source]

    @property
    def is_due(self) -> bool:
        """Whether it should be done before the car runs again."""
        return self.used >= 1.0

    @property
    def is_coming(self) -> bool:
        """Whether it is due, or soon will be."""
        return self.used >= SOON

    @property
    def said(self) -> str:
        """When it is due, in words."""
        if self.because:
            return self.because
        if self.source == "date":
            return f"{'was good' if self.is_due else 'good'} until {self.due_on}"
        if self.by == "date":
            return f"due {'since' if self.is_due else 'on'} {self.due_on}"
        left, unit = self._left()
        if left == 0:
            return "due now"
        return f"due in {left:,} {unit}" if left > 0 else f"overdue by {-left:,} {unit}"

    def _left(self) -> tuple[int, str]:
        if self.by == "distance":
            return round(KINDS["track_length"].to_us(self.distance_left or 0.0)), "mi"
        left = (self.laps_left if self.by == "laps" else self.cycles_left) or 0
        one, many = ("lap", "laps") if self.by == "laps" else ("run", "runs")
        return left, one if abs(left) == 1 else many


@dataclass(frozen=True)
class JobDone:
    """A job done on a part, and the laps, distance [m] and heat cycles the part had then."""

    on: dt.date
    job: str
    by: str
    laps: int
    distance: float
    cycles: int
    note: str


class LastDone(NamedTuple):
    """The day a job was done last, and when that was among the runs."""

    on: dt.date
    moment: RunMoment


Last = Mapping[tuple[int, str], LastDone]
"""By part and job."""
Counted = Mapping[tuple[int, RunMoment | None], Tally]
"""What a part ran since a moment, None for all of it."""


# ---------------- telling


def tell_interval(
    session: Session,
    job: str,
    *,
    source: str,
    part: Part | None = None,
    kind: str = "",
    laps: int | None = None,
    distance: float | None = None,
    days: int | None = None,
    cycles: int | None = None,
) -> Interval:
    """How often a job is due on a part, or on every part of a kind, by whichever limit comes first.

    `distance` in m, `cycles` in runs. It takes the place of what the same source said before. Raises
    NotebookTrouble.
    """
    job, kind = " ".join(job.split())[:120], part.kind if part else " ".join(kind.lower().split())
    limits = (laps, distance, days, cycles)
    if source not in TOLD:
        raise NotebookTrouble(f'"{source[:20]}" gives no figures; write {", ".join(TOLD)}.')
    if not job or not kind:
        raise NotebookTrouble(
            'an interval needs its job and a part or a kind, such as "repack" of every hub.'
        )
    if not any(limits) or any(limit is not None and limit <= 0 for limit in limits):
        raise NotebookTrouble(f'"{job}" needs how often it is due: so many laps, miles, runs or days.')
    part_id = part.id if part else None
    query = sa.select(Interval).where(Interval.kind == kind, Interval.source == source)
    query = query.where(Interval.part_id == part_id, sa.func.lower(Interval.job) == job.lower())
    told = session.scalars(query).first() or Interval(part_id=part_id, kind=kind, job=job, source=source)
    told.laps, told.distance, told.days, told.cycles = limits
    session.add(told)
    session.flush()
    return told


def drop_interval(session: Session, interval: Interval) -> None:
    """Forget a figure; where no other was told, the typical one counts again."""
    session.delete(interval)
    session.flush()


def done(
    session: Session,
    part: Part,
    job: str,
    *,
    on: dt.date,
    by: str = "",
    after: Run | None = None,
    note: str = "",
) -> Serviced:
    """Note a job done on a part; its laps and days are counted anew from then.

    It counts as done `after` a run, unless told after the last one of the part that was kept up to that day.
    """
    job = " ".join(job.split())[:120]
    if not job:
        raise NotebookTrouble(f"say what was done on {part.kind} {part.mark}.")
    after = after or _last_run(session, part, on)
    serviced = Serviced(
        part_id=part.id,
        job=job,
        done_on=on,
        done_by=(by or entry_of(session).by)[:120],
        after_run_id=after.id if after else None,
        note=note,
    )
    all_of_it = tallies(session, [part]).get(part.id, Tally())
    since = tallies(session, [part], after=_moment(on, after)).get(part.id, Tally())
    serviced.laps = part.laps_before + all_of_it.laps - since.laps
    serviced.distance = part.distance_before + all_of_it.distance - since.distance
    serviced.cycles = part.cycles_before + all_of_it.runs - since.runs
    session.add(serviced)
    session.flush()
    return serviced


def inspected(session: Session, part: Part, *, on: dt.date, by: str = "", found: str = "") -> Serviced:
    """Note that a part was inspected after a hit, and what was found."""
    return done(session, part, INSPECT, on=on, by=by, note=found)


def _last_run(session: Session, part: Part, on: dt.date) -> Run | None:
    query = sa.select(Run).join(Ridden, Ridden.run_id == Run.id).where(Ridden.part_id == part.id)
    until = dt.datetime.combine(on, dt.time.max)
    query = query.where(Run.started <= until).order_by(Run.started.desc(), Run.id.desc())
    return session.scalars(query.limit(1)).first()


def _moment(on: dt.date, after: Run | None) -> RunMoment:
    """When among the runs something was done on a day, after a run or before those of the day."""
    morning = RunMoment(dt.datetime.combine(on, dt.time()), 0)
    return morning if after is None else max(morning, RunMoment(after.started, after.id))


def jobs_done(session: Session, part: Part) -> tuple[JobDone, ...]:
    """What was done on a part, oldest first."""
    query = sa.select(Serviced).where(Serviced.part_id == part.id).order_by(Serviced.done_on, Serviced.id)
    return tuple(
        JobDone(one.done_on, one.job, one.done_by, one.laps, one.distance, one.cycles, one.note)
        for one in session.scalars(query)
    )


# ---------------- what is due


def due(session: Session, car: Document, *, today: dt.date | None = None) -> tuple[Due, ...]:
    """Every job on the parts of a car with what is left of its interval, the most pressing first.

    What was hit comes before all: the parts of the car, and those hit on it that are on the shelf since.
    """
    today = today or dt.date.today()
    stays = stays_on(session, car.id)
    last = _last_done(session, [stay.part_id for stay in stays])
    jobs = list(_jobs(session, stays))
    counted, began = _counted(session, jobs, last), _first_days(session, stays)
    found = [
        _due(stay, job, every, last.get((stay.part_id, job.lower())), counted, began[stay.part_id], today)
        for stay, job, every in jobs
    ]
    found += _safety_dates(session, today)
    return (*_hits(session, car, stays), *sorted(found, key=lambda one: (-one.used, one.place, one.job)))


def _last_done(session: Session, part_ids: Collection[int]) -> Last:
    """The last time each job was done on each part; some are done by measuring it."""
    jobs = sa.select(Serviced, Run).outerjoin(Run, Run.id == Serviced.after_run_id)
    jobs = jobs.where(Serviced.part_id.in_(part_ids)).order_by(Serviced.done_on, Serviced.id)
    last = {
        (one.part_id, one.job.lower()): LastDone(one.done_on, _moment(one.done_on, after))
        for one, after in session.execute(jobs)
    }
    rated = sa.select(Measurement.part_id, Measurement.what, sa.func.max(Measurement.measured_on))
    rated = rated.where(Measurement.part_id.in_(part_ids), Measurement.what.in_(ANSWERED_BY.values()))
    for part_id, what, on in session.execute(rated.group_by(Measurement.part_id, Measurement.what)):
        for job in (job for job, by in ANSWERED_BY.items() if by == what):
            measured = LastDone(on, _moment(on, None))
            last[part_id, job] = max(measured, last.get((part_id, job), measured))
    return last


def _jobs(session: Session, stays: Iterable[Stay]) -> Iterator[tuple[Stay, str, list[Every]]]:
    """The jobs of every part on a car with their intervals: its own, else those of its kind, else typical."""
    stays = list(stays)
    query = sa.select(Interval).where(
        sa.or_(
            Interval.part_id.in_([stay.part_id for stay in stays]),
            sa.and_(Interval.part_id.is_(None), Interval.kind.in_({stay.part.kind for stay in stays})),
        )
    )
    told = session.scalars(query.order_by(Interval.id)).all()
    for stay in stays:
        typical = TYPICAL.get(stay.part.kind, {})
        jobs: dict[str, tuple[str, list[Every]]] = {
            job.lower(): (job, [every]) for job, every in typical.items()
        }
        for own in (None, stay.part_id):
            rows = [row for row in told if row.part_id == own and row.kind == stay.part.kind]
            for job in {row.job.lower(): row.job for row in rows}.values():
                every = [_every(row) for row in rows if row.job.lower() == job.lower()]
                jobs[job.lower()] = (job, every)
        for job, every in jobs.values():
            yield stay, job, every


def _every(row: Interval) -> Every:
    return Every(row.laps, row.distance, row.days, row.cycles, row.source)


def _first_days(session: Session, stays: Iterable[Stay]) -> dict[int, dt.date]:
    """The day each part was put anywhere for the first time."""
    query = sa.select(Stay.part_id, sa.func.min(Stay.since)).group_by(Stay.part_id)
    found = session.execute(query.where(Stay.part_id.in_([stay.part_id for stay in stays])))
    return {part_id: since.date() for part_id, since in found}


def _counted(session: Session, jobs: Iterable[tuple[Stay, str, list[Every]]], last: Last) -> Counted:
    """What the parts ran since each moment that counts for one of their jobs, None for all of it."""
    wanted: dict[RunMoment | None, dict[int, Part]] = {}
    for stay, job, _ in jobs:
        was = last.get((stay.part_id, job.lower()))
        wanted.setdefault(was.moment if was else None, {})[stay.part_id] = stay.part
    return {
        (part_id, moment): tally
        for moment, parts in wanted.items()
        for part_id, tally in tallies(session, parts.values(), after=moment).items()
    }


def _due(
    stay: Stay,
    job: str,
    every: Iterable[Every],
    was: LastDone | None,
    counted: Counted,
    began: dt.date,
    today: dt.date,
) -> Due:
    """What is left of a job of a part; of several figures, by the one that comes first."""
    part = stay.part
    told = counted.get((part.id, was.moment if was else None), Tally())
    laps, distance, cycles = told.laps, told.distance, told.runs
    if was is None:
        laps, distance = laps + part.laps_before, distance + part.distance_before
        cycles += part.cycles_before
    since = was.on if was else part.bought_on or began
    found = [_left(one, laps, distance, cycles, since, today) for one in every]
    nearest = max(found, key=lambda one: (one.used, -math.inf if one.laps_left is None else -one.laps_left))
    return replace(nearest, kind=part.kind, mark=part.mark, place=stay.place, job=job)


def _left(every: Every, laps: int, distance: float, cycles: int, since: dt.date, today: dt.date) -> Due:
    """What is left of one figure, for what was run and the day it is counted from."""
    used: dict[str, float] = {}
    if every.laps is not None:
        used["laps"] = laps / every.laps
    if every.distance is not None:
        used["distance"] = distance / every.distance
    if every.cycles is not None:
        used["cycles"] = cycles / every.cycles
    if every.days is not None:
        used["date"] = (today - since).days / every.days
    by = max(used, key=lambda key: used[key])
    return Due(
        source=every.source,
        by=by,
        used=used[by],
        laps_left=every.laps - laps if every.laps is not None else None,
        distance_left=every.distance - distance if every.distance is not None else None,
        cycles_left=every.cycles - cycles if every.cycles is not None else None,
        due_on=since + dt.timedelta(days=every.days) if every.days is not None else None,
    )


def _safety_dates(session: Session, today: dt.date) -> Iterator[Due]:
    """Belts, fuel cell, extinguisher, helmet: whatever a checklist gives a last day."""
    query = sa.select(Item).where(Item.good_until.is_not(None), Item.dropped.is_(False))
    for item in session.scalars(query.order_by(Item.good_until, Item.id)):
        until = item.good_until or today
        used = 1.0 - ((until - today).days + 1) / YEAR
        yield Due("date", job=item.words, by="date", used=used, due_on=until)


def _hits(session: Session, car: Document, stays: Iterable[Stay]) -> Iterator[Due]:
    """The parts that were hit and not inspected since, by their last hit, each once."""
    places = {stay.part_id: stay.place for stay in stays}
    struck = {part.id: (part, place, run) for part, place, run in hits_on(session, car, list(places))}
    last = _last_done(session, struck)
    for part, place, run in struck.values():
        was = last.get((part.id, INSPECT))
        if was is None or was.moment < RunMoment(run.started, run.id):
            yield Due(
                "hit",
                part.kind,
                part.mark,
                places.get(part.id, ""),
                INSPECT,
                used=math.inf,
                because=f'inspect: was at {place} when the car was hit ("{run.hit}") in run {run.code}',
                run=run.code,
            )
    for corner, run in bare_hits(session, car).items():
        yield Due(
            "hit",
            CORNER,
            corner,
            corner,
            INSPECT,
            used=math.inf,
            because=f'everything there, no part is noted: was hit ("{run.hit}") in run {run.code}',
            run=run.code,
        )
