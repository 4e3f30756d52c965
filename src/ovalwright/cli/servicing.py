"""What is due on the parts of a car, what was done, and how often it is due: parts due and its like."""

from __future__ import annotations

from collections.abc import Sequence

from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import counted, opened
from ovalwright.cli.screen import Screen
from ovalwright.cli.working import say_wrong
from ovalwright.notebook.garage import service
from ovalwright.notebook.garage.cautions import BOOK, STANDS
from ovalwright.notebook.garage.findings import findings
from ovalwright.notebook.garage.hits import corner_inspected
from ovalwright.notebook.garage.parts import part_of
from ovalwright.notebook.garage.parts_form import MILE, car_named, forget_interval
from ovalwright.notebook.garage.service import Due
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.typed.entering import read_day


def pressing(jobs: Sequence[Due]) -> list[Due]:
    """What is due, or soon will be."""
    return [one for one in jobs if one.is_coming]


def due(screen: Screen, *, car: str, all_of_it: bool, where: str) -> None:
    """What is due on the parts of a car, the most pressing first."""
    with opened(screen, where) as store, store.reading() as session:
        home = car_named(session, car)
        jobs = service.due(session, home)
        wrong = findings(session)
    shown = list(jobs) if all_of_it else pressing(jobs)
    now = sum(one.is_due for one in jobs)
    screen.title(f"Due on {home.name}: {now or 'nothing'} now")
    if not jobs:
        screen.say("No part with a job of its own is on it; put parts on first:")
        screen.command("parts fit")
    due_table(screen, shown)
    if len(jobs) > len(shown):
        screen.say(f"{counted(len(jobs) - len(shown), 'more job')}, due later: --all.")
    say_wrong(screen, wrong)
    if shown or wrong:
        screen.note(BOOK)
        screen.note(STANDS)
    screen.end("parts due", {"car": home.name, "due": jobs, "found": wrong})


def due_table(screen: Screen, jobs: Sequence[Due]) -> None:
    """Jobs, when each is due and whose figure that is; before them what to inspect after a hit."""
    hit = [one for one in jobs if one.source == "hit"]
    for run in dict.fromkeys(one.run for one in hit):
        there = ", ".join(
            f"everything at {one.place}, where no part is noted" if one.kind == service.CORNER else _part(one)
            for one in hit
            if one.run == run
        )
        screen.say(f"Hit in run {run}. Inspect: {there}.")
    rows = [
        (_part(one), one.job, one.said, one.source if one.source in ("typical", *service.TOLD) else "")
        for one in jobs
        if one.source != "hit"
    ]
    if hit:
        screen.command(f'parts serviced {hit[0].kind} {hit[0].mark} "{service.INSPECT}"')
    if rows:
        screen.table(rows, head=("part", "job", "", "by"), left=4)
    if any(one.source == "typical" for one in jobs):
        screen.note(f"Typical: {service.WHOSE['typical'].removeprefix('typical, ')}.")


def _part(one: Due) -> str:
    """`RF tire T8`; lead, whose place is told by its mark, as `lead L50-1`."""
    place = one.kind if one.mark and one.place.startswith(one.mark) else one.place or one.kind
    return f"{place} {one.mark}".strip()


def serviced(
    screen: Screen, which: str, job: str, *, on: str, note: str, done_by: str, where: str, by: str
) -> None:
    """A job done on a part, or on a whole corner after a hit."""
    kind, _, mark = which.partition(" ")
    if kind.lower() == service.CORNER:
        _corner_inspected(screen, mark.upper(), on, note=note, done_by=done_by, where=where, by=by)
        return
    with opened(screen, where, by) as store, store.entry("serviced") as session:
        part = part_of(session, which)
        told = service.done(session, part, job, on=read_day(on), by=done_by, note=note)
        entry_of(session).what = f"{part.kind} {part.mark}: {told.job}"
    screen.say(
        f"{part.kind} {part.mark}: {told.job}, {told.done_on}, at {told.laps:,} laps, by {told.done_by}."
    )
    answer = {"kind": part.kind, "mark": part.mark, "job": told.job, "on": told.done_on, "by": told.done_by}
    counts = {"laps": told.laps, "distance": told.distance, "cycles": told.cycles, "note": told.note}
    screen.end("parts serviced", {"done": {**answer, **counts}})


def _corner_inspected(
    screen: Screen, corner: str, on: str, *, note: str, done_by: str, where: str, by: str
) -> None:
    """All of a corner inspected after a hit."""
    day = read_day(on)
    with opened(screen, where, by) as store, store.entry("inspected") as session:
        run = corner_inspected(session, car_named(session), corner, on=day, by=done_by, found=note)
        entry_of(session).what = f"{corner} inspected after the hit in run {run.code}"
    screen.say(f"{corner}: inspected after the hit in run {run.code}, {day}.")
    screen.end("parts serviced", {"corner": corner, "run": run.code, "on": day})


def interval(
    screen: Screen,
    kind: str,
    job: str,
    *,
    mark: str,
    laps: int,
    miles: float,
    runs: int,
    days: int,
    source: str,
    forget: bool,
    where: str,
    by: str,
) -> None:
    """How often a job is due, by the racer's own figure or one that he was told."""
    if forget and (laps or miles or runs or days):
        raise Trouble("--forget takes a figure away; leave --laps, --miles, --runs and --days out")
    with opened(screen, where, by) as store, store.entry("interval") as session:
        part = part_of(session, f"{kind} {mark}") if mark else None
        whose = f"{kind} {mark}" if part else f"every {kind}"
        entry_of(session).what = f"{job} of {whose}: {source} figure{' forgotten' if forget else ''}"
        if forget:
            forget_interval(session, job, source=source, part=part, kind=kind)
        else:
            service.tell_interval(
                session,
                job,
                source=source,
                part=part,
                kind=kind,
                laps=laps or None,
                distance=miles * MILE or None,
                days=days or None,
                cycles=runs or None,
            )
    limits = [counted(number, one) for number, one in ((laps, "lap"), (runs, "run"), (days, "day")) if number]
    limits += [f"{miles:g} miles"] if miles else []
    said = "forgotten" if forget else f"every {' or '.join(limits)}"
    screen.say(f"{job} of {whose}: {said}; {service.WHOSE.get(source, source)}.")
    told = {"laps": laps, "distance": miles * MILE, "days": days, "cycles": runs}
    screen.end("parts interval", {"job": job, "kind": kind, "mark": mark, "source": source,
               "forgotten": forget, **told})  # fmt: skip
