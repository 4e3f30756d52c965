"""Tires and parts: what is on the car and what is due, and the life of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Annotated, ClassVar
from urllib.parse import urlencode

import sqlalchemy as sa
from fastapi import Form, Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.corners import CORNERS
from ovalwright.notebook.asked.going_away import when_it_went_away
from ovalwright.notebook.garage import parts, service
from ovalwright.notebook.garage.hits import corner_inspected
from ovalwright.notebook.garage.parts import Whereabouts, part_of
from ovalwright.notebook.garage.parts_form import (
    BEGINS,
    MILE,
    car_named,
    enter_part,
    measure_line,
    read_moment,
    take_off,
    tell_due,
)
from ovalwright.notebook.garage.parts_life import PartLife, TireLife, in_order, life, lives, tire_life
from ovalwright.notebook.garage.parts_measured import measurements
from ovalwright.notebook.garage.service import Due
from ovalwright.notebook.garage.service_typical import TYPICAL
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Document, Part
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import read_day
from ovalwright.notebook.typed.sense import of_place
from ovalwright.web.bench import bench_of
from ovalwright.web.form_entry import form_entry
from ovalwright.web.notebook_page import NotebookPage, undoing
from ovalwright.web.page import show
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount, counted, step

FIRST_DUE, MOST_DUE = 6, 1000
WHOSE_FIGURE = ("typical", *service.TOLD)
"""Sources of an interval that are named beside it."""


@dataclass(frozen=True)
class PartRow:
    """A part in a list: its page, what it is called, where it is, and what it went through."""

    path: str
    kind: str
    mark: str
    where: str
    laps: str
    miles: str
    cycles: str


@dataclass(frozen=True)
class DueRow:
    """A job: of what, when, and whose figure that is, `typical` among them; `which` names the part that it
    is done on, or nothing.
    """

    part: str
    which: str
    job: str
    when: str
    whose: str
    is_due: bool


@dataclass(frozen=True, kw_only=True)
class PartsPage(NotebookPage):
    """What is on the car in its own layout, what is due, how many others of which `kinds`, and those of one;
    the kinds to choose from for a new one; what was typed when it is `wrong`, which then comes first.
    """

    template: ClassVar[str] = "notebook_parts_page.html"
    car: str
    tires: tuple[tuple[str, PartRow | None], ...]
    on_car: tuple[PartRow, ...]
    due: tuple[DueRow, ...]
    more_due: int
    others: tuple[PartRow, ...]
    kinds: tuple[tuple[str, int], ...]
    kind: str
    kinds_to_choose: tuple[str, ...]
    typed: dict[str, str]
    wrong: str


@dataclass(frozen=True)
class Line:
    """A line of a table: its cells."""

    cells: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PartPage(NotebookPage):
    """One part with its life, its `dues`, and the `sayers` of how often; `wrong` is what is wrong with what
    was `typed` for it.
    """

    template: ClassVar[str] = "notebook_part.html"
    which: str
    kind: str
    where: str
    facts: tuple[tuple[str, str], ...]
    went_away: str
    roll_outs: tuple[Line, ...]
    roll_outs_at: str
    measured: tuple[Line, ...]
    runs: tuple[tuple[str, Line], ...]
    been: tuple[Line, ...]
    done: tuple[Line, ...]
    jobs: tuple[str, ...]
    dues: tuple[DueRow, ...]
    sayers: tuple[tuple[str, str], ...]
    typed: dict[str, str]
    wrong: str


# ---------------- all of them


def parts_page(
    request: Request,
    kind: Annotated[str, Query(max_length=40)] = "",
    due: Annotated[int, Query(ge=1, le=MOST_DUE)] = FIRST_DUE,
) -> Response:
    """What is on the car, what is due, and the other parts, of one kind where it is named."""
    return _parts_shown(request, kind, due)


def new_part(
    request: Request,
    kind: Annotated[str, Form(max_length=40)] = "",
    mark: Annotated[str, Form(max_length=200)] = "",
    name: Annotated[str, Form(max_length=120)] = "",
    rated: Annotated[str, Form(max_length=60)] = "",
    laps: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Enter a part by its kind and mark."""
    typed = {"kind": kind, "mark": mark, "name": name, "rated": rated, "laps": laps}
    with form_entry(request, "part", partial(_parts_shown, request, "", FIRST_DUE, typed)) as session:
        part = enter_part(session, typed)
        entry_of(session).what = f"{part.kind} {part.mark} entered"
        return answer_once(request, session, part_path(part.kind, part.mark), done="part")


def _parts_shown(
    request: Request, kind: str, most_due: int, typed: dict[str, str] | None = None, wrong: str = ""
) -> Response:
    with bench_of(request).store.reading() as session:
        car = _car(session)
        there = parts.on_car(session, car) if car else ()
        on_car = _rows(lives(session, [part_of(session, f"{one.kind} {one.mark}") for one in there]))
        jobs = service.due(session, car) if car else ()
        on = {(one.kind, one.mark) for one in there}
        every = [one for one in in_order(session.scalars(sa.select(Part))) if (one.kind, one.mark) not in on]
        others = _rows(lives(session, [one for one in every if one.kind == kind]))
        tires = {row.where[:2]: row for row in on_car if row.kind == "tire"}
        page = PartsPage(
            title="Tires and parts",
            tab="/notebook/parts",
            undoing=undoing(request, session),
            car=car.name if car else "",
            tires=tuple((corner, tires.get(corner)) for corner in CORNERS) if tires else (),
            on_car=tuple(row for row in on_car if row.kind != "tire"),
            due=tuple(_due(one) for one in jobs[:most_due]),
            more_due=max(len(jobs) - most_due, 0),
            others=others,
            kinds=tuple(Counter(one.kind for one in every).items()),
            kind=kind,
            kinds_to_choose=tuple(dict.fromkeys((*parts.KINDS, *(one.kind for one in every)))),
            typed=typed or dict.fromkeys(("kind", "mark", "name", "rated", "laps"), ""),
            wrong=wrong,
        )
    return show(request, page, status=422 if wrong else 200)


def _car(session: Session) -> Document | None:
    try:
        return car_named(session)
    except NotebookTrouble:
        return None


def part_path(kind: str, mark: str) -> str:
    """The page of a part."""
    return f"/notebook/part?{urlencode({'which': f'{kind} {mark}'})}"


def _rows(found: Sequence[PartLife]) -> tuple[PartRow, ...]:
    return tuple(
        PartRow(
            path=part_path(one.kind, one.mark),
            kind=one.kind,
            mark=one.mark,
            where=one.where.place,
            laps=counted(one.laps, "lap"),
            miles=_miles(one.distance),
            cycles=counted(one.cycles, "heat cycle") if one.kind == "tire" else counted(one.cycles, "run"),
        )
        for one in found
    )


def _miles(meters: float) -> str:
    return f"{meters / MILE:,.0f} mi" if meters else ""


def _due(one: Due) -> DueRow:
    place = one.kind if one.mark and one.place.startswith(one.mark) else one.place or one.kind
    return DueRow(
        part=f"{place} {one.mark}".strip() or "Safety date",
        which=f"{one.kind} {one.mark}".strip() if one.mark else "",
        job=one.job,
        when=one.said,
        whose=one.source if one.source in WHOSE_FIGURE else "",
        is_due=one.is_due,
    )


# ---------------- one of them


def part(request: Request, which: Annotated[str, Query(max_length=120)] = "") -> Response:
    """One part with its life."""
    return _part_shown(request, which)


def serviced(
    request: Request,
    which: Annotated[str, Form(max_length=120)] = "",
    job: Annotated[str, Form(max_length=120)] = "",
    on: Annotated[str, Form(max_length=20)] = "",
    note: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    """Note a job done on a part."""
    typed = {"job": job, "on": on, "note": note}
    with form_entry(request, "serviced", partial(_part_shown, request, which, typed)) as session:
        kind, _, corner = which.partition(" ")
        if kind == service.CORNER:
            run = corner_inspected(session, car_named(session), corner, on=read_day(on), found=note)
            entry_of(session).what = f"{corner} inspected after the hit in run {run.code}"
            return answer_once(request, session, "/notebook/parts")
        found = part_of(session, which)
        told = service.done(session, found, job, on=read_day(on), note=note)
        entry_of(session).what = f"{found.kind} {found.mark}: {told.job}"
        return answer_once(request, session, part_path(found.kind, found.mark))


def due_after(
    request: Request,
    which: Annotated[str, Form(max_length=120)] = "",
    due_job: Annotated[str, Form(max_length=120)] = "",
    every: Annotated[str, Form(max_length=60)] = "",
    whose: Annotated[str, Form(max_length=20)] = "own",
) -> Response:
    """Note how often a job is due on a part, and who says so."""
    typed = {"due_job": due_job, "every": every}
    with form_entry(request, "due after", partial(_part_shown, request, which, typed)) as session:
        found = part_of(session, which)
        told = tell_due(session, found, due_job, every, source=whose)
        entry_of(session).what = f"{found.kind} {found.mark}: {told.job} due every {every.strip()}"
        return answer_once(request, session, part_path(found.kind, found.mark))


def measured(
    request: Request,
    which: Annotated[str, Form(max_length=120)] = "",
    line: Annotated[str, Form(max_length=1000)] = "",
    on: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Note what was measured on a part."""
    typed = {"line": line, "on": on}
    with form_entry(request, "measured", partial(_part_shown, request, which, typed)) as session:
        found = part_of(session, which)
        told = measure_line(session, found, line, on=read_day(on))
        what = ", ".join(one.what.replace("_", " ") for one in told)
        entry_of(session).what = f"{found.kind} {found.mark}: {what} measured"
        return answer_once(request, session, part_path(found.kind, found.mark))


def moved(
    request: Request,
    which: Annotated[str, Form(max_length=120)] = "",
    to: Annotated[str, Form(max_length=60)] = "",
    when: Annotated[str, Form(max_length=30)] = "",
) -> Response:
    """Put a part on the car, or take it off."""
    typed = {"to": to, "when": when}
    with form_entry(request, "moved", partial(_part_shown, request, which, typed)) as session:
        found = part_of(session, which)
        word = to.strip().lower().split(" ")[0]
        if word in ("", "shelf", "lent", "lend", "scrap", "scrapped"):
            stay = take_off(session, found, to, when=read_moment(when, at=BEGINS))
        else:
            stay = parts.put(
                session, found, car_named(session), _place(to), when=read_moment(when, at=BEGINS)
            )
        entry_of(session).what = f"{found.kind} {found.mark}: {stay.place}"
        return answer_once(request, session, part_path(found.kind, found.mark))


def _place(to: str) -> str:
    """A place on the car; `on the car` where a part has only one."""
    return "" if to.strip().lower() == "on the car" else to


def _part_shown(
    request: Request, which: str, typed: dict[str, str] | None = None, wrong: str = ""
) -> Response:
    with bench_of(request).store.reading() as session:
        found = part_of(session, which)
        told = life(session, found)
        tire = tire_life(session, found) if found.kind == "tire" else None
        typical = TYPICAL.get(found.kind, {})
        page = PartPage(
            title=f"{told.kind.capitalize()} {told.mark}",
            tab="/notebook/parts",
            undoing=undoing(request, session),
            which=f"{told.kind} {told.mark}",
            kind=told.kind,
            where=_where(told.where),
            facts=(*_facts(found, told), *_odd(session, found, told)),
            went_away=sentence(when_it_went_away(session, found.mark).said) if tire and tire.runs else "",
            roll_outs=tuple(_roll_outs(tire)) if tire else (),
            roll_outs_at=amount(tire.reference, "pressure") if tire and tire.reference is not None else "",
            measured=tuple(
                Line((str(one.on), one.what.replace("_", " "), one.typed))
                for one in measurements(session, found)
            ),
            runs=tuple(_runs(tire)) if tire else (),
            been=tuple(
                Line((f"{one.since:%Y-%m-%d %H:%M}", _where(one)))
                for one in parts.moves(session, found)
                if one.since is not None
            ),
            done=tuple(
                Line((str(one.on), one.job, one.by, f"{one.laps:,} laps", one.note))
                for one in service.jobs_done(session, found)
            ),
            jobs=(*typical, service.INSPECT),
            dues=tuple(_dues(session, found)),
            sayers=tuple((one, service.WHOSE[one]) for one in service.TOLD),
            typed={
                **dict.fromkeys(("job", "on", "note", "line", "to", "when", "due_job", "every"), ""),
                **(typed or {}),
            },
            wrong=wrong,
        )
    return show(request, page, status=422 if wrong else 200)


def _dues(session: Session, found: Part) -> Iterator[DueRow]:
    """The jobs of a part that is on the car."""
    car = _car(session)
    for one in service.due(session, car) if car else ():
        if (one.kind, one.mark) == (found.kind, found.mark):
            yield _due(one)


def _odd(session: Session, found: Part, told: PartLife) -> Iterator[tuple[str, str]]:
    """A word on a part that is at the wrong side or end of the car."""
    if told.where.car:
        yield from (("At its place", sentence) for sentence in of_place(session, found, told.where.place))


def _where(one: Whereabouts) -> str:
    return f"{one.place} of {one.car}" if one.car else one.place


def _facts(found: Part, told: PartLife) -> Iterator[tuple[str, str]]:
    green = f", {told.green:,} of them green" if told.green else ""
    cycles = f"{told.cycles}" + (f", {counted(told.days, 'day')} at a track" if told.days else "")
    rows = (
        ("Where", _where(told.where)),
        ("Laps", f"{told.laps:,}{green}"),
        ("Miles", _miles(told.distance)),
        ("Heat cycles" if told.kind == "tire" else "Runs", cycles),
        ("First and last run", f"{told.first_run}, {told.last_run}" if told.first_run else ""),
        ("Name", told.name),
        ("Compound", ", date code ".join(filter(None, (found.compound, found.date_code)))),
        ("Bought", str(told.bought_on or "")),
        ("Scrapped", str(told.retired_on or "")),
        ("Note", found.note),
    )
    yield from ((name, said) for name, said in rows if said)


def _roll_outs(tire: TireLife) -> Iterator[Line]:
    for one in tire.roll_outs:
        yield Line(
            (
                str(one.on),
                f"{amount(one.si, 'roll_out')} at {amount(one.at, 'pressure')}",
                amount(one.at_reference, "roll_out"),
                step(one.grown, "growth"),
            )
        )


def _runs(tire: TireLife) -> Iterator[tuple[str, Line]]:
    for one in tire.runs:
        best = amount(one.best, "lap_time") if one.best is not None else ""
        fades = step(one.fall_off, "lap_gain") if one.fall_off is not None else ""
        cells = (
            str(one.started.date()),
            one.place.split(" ")[0],
            f"{one.laps_before:,}",
            str(one.laps),
            best,
            fades,
        )
        yield one.code, Line(cells)
