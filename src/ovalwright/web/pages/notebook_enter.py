"""Entries made at the track, on one page that also opens from the browser's own memory while the laptop is
out of reach; what was entered then is delivered later, once each, in order.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, ClassVar

from fastapi import Form, Query
from pydantic import BaseModel, Field
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ovalwright.corners import CORNERS
from ovalwright.documents import DocumentError
from ovalwright.documents.laps import WORDS
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.runs import THIRDS
from ovalwright.notebook.tables import Event, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.at_track import PRESSES, Kept, deliver, usual_setup_said, wrong_cells
from ovalwright.notebook.typed.entering import NO_EVENT, usual_event, usual_setup
from ovalwright.notebook.typed.reading_order import Spot
from ovalwright.notebook.typed.run_fields import Unreadable
from ovalwright.notebook.typed.tire_entry import usual_order
from ovalwright.web.bench import bench_of
from ovalwright.web.notebook_page import NotebookPage
from ovalwright.web.page import go_to, show
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.which_setup import of_another_car, other_in_hand

KEPT_FOR = 12 * 3600
"""How long a browser may open the page by itself [s]: an evening at the track."""
DONE = "entry"
"""The `data-keep` of its form."""
RUNS = 12
"""The latest runs that an entry may be about, the latest setups that may be in the car."""
EVENTS = 8
"""The latest events that a run may be of."""
TABS = (
    ("temperatures", "Temps"),
    ("pressures", "Pressures"),
    ("words", "Words"),
    ("laps", "Laps"),
    ("line", "Change"),
    ("measured", "Set-down"),
    ("decided", "Decided"),
    ("run", "New run"),
)
"""Each kind of entry, and what its tab is called."""

SHORTS = {"inside": "in", "middle": "mid", "outside": "out"}

Short = Annotated[str, Field(max_length=20)]
Line = Annotated[str, Field(max_length=1000)]
Name = Annotated[str, Field(max_length=120)]


class EntryForm(BaseModel):
    """Everything that may be typed for an entry; `name` is that of one made out of reach."""

    kind: Short = ""
    name: Annotated[str, Field(max_length=40)] = ""
    run: Annotated[str, Field(max_length=40)] = ""
    LF_inside: Short = ""
    LF_middle: Short = ""
    LF_outside: Short = ""
    RF_inside: Short = ""
    RF_middle: Short = ""
    RF_outside: Short = ""
    LR_inside: Short = ""
    LR_middle: Short = ""
    LR_outside: Short = ""
    RR_inside: Short = ""
    RR_middle: Short = ""
    RR_outside: Short = ""
    temperatures: Line = ""
    order: Name = ""
    cold_or_hot: Short = ""
    LF_pressure: Short = ""
    RF_pressure: Short = ""
    LR_pressure: Short = ""
    RR_pressure: Short = ""
    when: Short = ""
    entry: Short = ""
    middle: Short = ""
    exit: Short = ""
    words: Annotated[str, Field(max_length=4000)] = ""
    laps: Annotated[str, Field(max_length=200_000)] = ""
    columns: Line = ""
    flags: Line = ""
    car: Name = ""
    line: Line = ""
    on: Name = ""
    reason: Line = ""
    measured: Line = ""
    decided: Annotated[str, Field(max_length=4000)] = ""
    hit: Annotated[str, Field(max_length=60)] = ""
    session: Annotated[str, Field(max_length=60)] = ""
    event: Annotated[str, Field(max_length=140)] = ""
    at: Short = ""
    driver: Name = ""
    setup: Name = ""
    fuel: Short = ""
    fuel_left: Short = ""
    air: Name = ""
    surface: Short = ""
    note: Annotated[str, Field(max_length=4000)] = ""

    def typed(self) -> dict[str, str]:
        """What was typed, by field."""
        return self.model_dump(exclude={"kind", "name"})


@dataclass(frozen=True)
class RunChoice:
    """A run that an entry may be about."""

    code: str
    said: str


@dataclass(frozen=True)
class Cell:
    """One cell: the field it is, its third of the tread, and its place in the order it is read in, from 1."""

    field: str
    third: str
    turn: int


@dataclass(frozen=True)
class TireCells:
    """The cells of one tire as they lie on the car, from left to right."""

    corner: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, kw_only=True)
class EnterPage(NotebookPage):
    """The page; `typed` is what comes back with what is `wrong` with it."""

    template: ClassVar[str] = "notebook_enter.html"
    runs: tuple[RunChoice, ...]
    chosen: str
    kind: str
    typed: Mapping[str, str]
    wrong: str
    wrong_cells: tuple[str, ...]
    order: str
    temperatures: tuple[TireCells, ...]
    pressures: tuple[TireCells, ...]
    events: tuple[RunChoice, ...]
    setups: tuple[RunChoice, ...]
    changed_on: tuple[RunChoice, ...]
    in_hand: str
    kinds: tuple[tuple[str, str], ...] = TABS
    presses: tuple[str, ...] = PRESSES
    flags: tuple[tuple[str, str], ...] = tuple((flag, ", ".join(words)) for flag, words in WORDS.items())
    shorts: Mapping[str, str] = field(default_factory=lambda: dict(SHORTS))
    phases: tuple[str, ...] = ("entry", "middle", "exit")


def enter(
    request: Request,
    run: Annotated[str, Query(max_length=40)] = "",
    kind: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """The page, with a run and a kind of entry chosen."""
    answer = _shown(request, EntryForm(run=run, kind=kind))
    answer.headers["Cache-Control"] = f"private, max-age={KEPT_FOR}"
    return answer


def runs_now(request: Request, run: Annotated[str, Query(max_length=40)] = "") -> Response:
    """The runs that an entry may be about as they are now, for a page that is older."""
    return _shown(request, EntryForm(run=run))


def keep(request: Request, form: Annotated[EntryForm, Form()]) -> Response:
    """Keep an entry, then on to what it is about; the page comes back with what cannot be kept."""
    try:
        kept, _ = _kept(request, form)
    except (NotebookTrouble, DocumentError) as problem:
        return _shown(request, form, wrong=sentence(str(problem)), cells=_marked(form, problem))
    return go_to(_path(kept), done=DONE)


def delivery(request: Request) -> Response:
    """The token that a delivery has to carry, for a page that is older than it."""
    return JSONResponse({"csrf": bench_of(request).door.token(request)})


def delivered(request: Request, form: Annotated[EntryForm, Form()]) -> Response:
    """Keep one entry that waited on a phone, and say what it came to, or why it cannot be kept."""
    try:
        kept, number = _kept(request, form)
    except (NotebookTrouble, DocumentError) as problem:
        return JSONResponse({"wrong": sentence(str(problem)), "cells": _marked(form, problem)}, 422)
    told = {"said": kept.said, "path": _path(kept), "run": kept.run, "again": kept.again}
    return JSONResponse({**told, "number": 0 if kept.again else number})


def _marked(form: EntryForm, problem: Exception) -> tuple[str, ...]:
    """The fields that cannot be read."""
    return problem.fields if isinstance(problem, Unreadable) else wrong_cells(form.kind, form.typed())


def _path(kept: Kept) -> str:
    """Where what was kept is seen."""
    return f"/notebook/run/{kept.run}" if kept.run else f"/notebook/revision/{kept.setup}"


def _kept(request: Request, form: EntryForm) -> tuple[Kept, int]:
    """What an entry came to, and its number in the journal."""
    with bench_of(request).store.entry(form.kind) as session:
        kept = deliver(session, form.kind, form.typed(), name=form.name)
        if kept.again:
            session.rollback()
        else:
            answer_once(request, session, _path(kept), done=DONE)
        return kept, entry_of(session).id


# ---------------- the page


def _shown(request: Request, form: EntryForm, *, wrong: str = "", cells: tuple[str, ...] = ()) -> Response:
    with bench_of(request).store.reading() as session:
        order, setups = usual_order(session), _setups(session, of_another_car(request, session))
        page = EnterPage(
            title="At the track",
            tab="/notebook",
            undoing=None,
            runs=_choices(session, form.run),
            chosen=form.run,
            kind=form.kind if form.kind in dict(TABS) else TABS[0][0],
            typed=form.typed(),
            wrong=wrong,
            wrong_cells=cells,
            order=str(order),
            temperatures=_cells(THIRDS, order.spots),
            pressures=_cells(("",), tuple((corner, "") for corner in order.corners)),
            events=_with_typed(_events(session), form.event),
            setups=_with_typed(setups, form.setup),
            changed_on=_with_typed(setups, form.on),
            in_hand=_other_in_hand(request, session),
        )
    return show(request, page, status=422 if wrong else 200)


def _choices(session: Session, chosen: str) -> tuple[RunChoice, ...]:
    """The latest runs, and the one chosen where it is none of them."""
    found: list[Run] = []
    for event, _ in runs.events(session, 3):
        found += reversed(runs.runs_of(session, event))
    found = found[:RUNS]
    try:
        wanted = runs.run_of(session, chosen) if chosen else None
    except NotebookTrouble:
        wanted = None
    if wanted is not None and wanted not in found:
        found.insert(0, wanted)
    return tuple(
        RunChoice(
            one.code, f"run {one.number} {one.session}, {one.event.held_on} {one.event.name}, {one.code}"
        )
        for one in found
    )


def _events(session: Session) -> tuple[RunChoice, ...]:
    """What a new run may be of, the usual first: today without an event unless something is held today or the
    last event is past.
    """
    known = [event for event, _ in runs.events(session, EVENTS)]
    usual = usual_event(session) if known else None
    alone = RunChoice(NO_EVENT, "today, without an event")
    others = [_event(one) for one in known if one is not usual and one.name != runs.ALONE]
    if usual is None or usual.name == runs.ALONE:
        return (replace(alone, code=""), *others)
    return (replace(_event(usual), code=""), alone, *others)


def _event(event: Event) -> RunChoice:
    days = (event.held_on - dt.date.today()).days
    when = f", in {days} {'day' if days == 1 else 'days'}" if days > 0 else ""
    return RunChoice(f"{event.held_on} {event.name}", f"{event.name}, {event.held_on}{when}")


def _other_in_hand(request: Request, session: Session) -> str:
    """The setup in hand, where a run or a change without a choice is of another one."""
    if not shelf.revisions(session, kind="setup", most=1):
        return ""
    usual = of_another_car(request, session) or usual_setup(session).revision
    return other_in_hand(request, session, usual)


def _setups(session: Session, in_hand: Revision | None) -> tuple[RunChoice, ...]:
    """The setups that may have been in the car, the usual first, or the one in hand of another car."""
    told = usual_setup_said(session)
    kept = shelf.revisions(session, kind="setup", most=RUNS)
    others = (RunChoice(one.code, f"{one.name}, {one.number} ({one.code})") for one in kept)
    if in_hand is not None:
        first = RunChoice(
            in_hand.code, f"{in_hand.document.name}, {in_hand.number} ({in_hand.code}), in hand"
        )
        usual = RunChoice(usual_setup(session).revision.code, told)
        return (first, usual, *(one for one in others if one.code not in (first.code, usual.code)))
    return (RunChoice("", told or "none kept yet"), *others)


def _with_typed(choices: tuple[RunChoice, ...], typed: str) -> tuple[RunChoice, ...]:
    """The same, with what was typed where it is none of them."""
    known = {one.code for one in choices}
    return choices if not typed or typed in known else (*choices, RunChoice(typed, typed))


def _cells(thirds: tuple[str, ...], order: tuple[Spot, ...]) -> tuple[TireCells, ...]:
    turns = {spot: turn for turn, spot in enumerate(order, start=1)}
    return tuple(
        TireCells(
            corner,
            tuple(
                Cell(f"{corner}_{third or 'pressure'}", third, turns.get((corner, third), 0))
                for third in thirds
            ),
        )
        for corner in CORNERS
    )
