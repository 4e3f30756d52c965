"""The notebook: its runs, day by day, or those a question asks for; and the last entry taken back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar
from urllib.parse import urlencode

from fastapi import Form, Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import KINDS_OF_DOCUMENT
from ovalwright.notebook import runs, undo
from ovalwright.notebook.asked.changed_when import OTHER_SIDE, what_i_changed_when
from ovalwright.notebook.asked.clauses import read_question
from ovalwright.notebook.asked.find import Found, Thing, find_anything, find_runs, found_runs
from ovalwright.notebook.asked.question import Felt, Question
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Event, Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.bench import bench_of
from ovalwright.web.notebook_page import NotebookPage, RunRow, run_rows, undoing
from ovalwright.web.page import Notice, go_to, show
from ovalwright.web.pages.notebook_drafts import HalfFilled, waiting
from ovalwright.web.pages.notebook_run import RunView, run_view
from ovalwright.web.troubles import sentence
from ovalwright.web.words import counted, step

DAYS, MOST_DAYS = 5, 400
"""Days at a track shown at first, and at the most."""
FOUND, MOST_FOUND = 25, 500
THINGS = 8
EXAMPLES = (
    "tight in the middle, late",
    "here, air over 60 F, fall-off under 0.2",
    "RR spring over 300, since 2026-06-01",
    "tire T22",
)


def _asks(ask: str, **other: int) -> str:
    return f"/notebook?{urlencode({'ask': ask, **other})}"


@dataclass(frozen=True)
class DayRuns:
    """A day at a track with its runs."""

    day: str
    name: str
    track: str
    runs: tuple[RunRow, ...]


@dataclass(frozen=True)
class Besides:
    """Something else that was found: what it is, its code or mark, its name, and the page it has."""

    what: str
    code: str
    name: str
    path: str


@dataclass(frozen=True)
class Nearly:
    """What is found when a clause is left out: that clause, how many, and where they are seen."""

    without: str
    found: str
    path: str


@dataclass(frozen=True)
class Search:
    """A question as typed, each clause as it was understood, and what was found; or what is wrong with it.

    `changed` is the address of what was changed when the driver said so, where the question is that alone.
    """

    ask: str
    understood: tuple[str, ...] = ()
    runs: tuple[RunRow, ...] = ()
    besides: tuple[Besides, ...] = ()
    more: str = ""
    changed: str = ""
    wrong: str = ""
    nearly: tuple[Nearly, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RunsPage(NotebookPage):
    """The runs, by the days they were run on, or found; forms half filled; the run in hand.

    `is_of_run` where the page is that of one run: a phone then shows it alone.
    """

    template: ClassVar[str] = "notebook.html"
    days: tuple[DayRuns, ...]
    more_days: str
    search: Search | None
    half_filled: tuple[HalfFilled, ...]
    run: RunView | None
    is_of_run: bool
    examples: tuple[tuple[str, str], ...] = tuple((one, _asks(one)) for one in EXAMPLES)


@dataclass(frozen=True)
class Changed:
    """What was changed after one run, and what came of it."""

    run: str
    next: str
    day: str
    where: str
    comment: str
    changed: str
    reason: str
    then: str


@dataclass(frozen=True, kw_only=True)
class ChangedPage(NotebookPage):
    """What was changed when the driver said something."""

    template: ClassVar[str] = "notebook_changed.html"
    asked: str
    said: str
    changes: tuple[Changed, ...]


# ---------------- runs


def notebook(
    request: Request,
    ask: Annotated[str, Query(max_length=2000)] = "",
    days: Annotated[int, Query(ge=1, le=MOST_DAYS)] = DAYS,
    most: Annotated[int, Query(ge=1, le=MOST_FOUND)] = FOUND,
    undone: Annotated[bool, Query()] = False,
) -> Response:
    """The runs of the latest days, or those that a question asks for; the latest of them beside."""
    with bench_of(request).store.reading() as session:
        search = _search(session, ask, most) if ask.strip() else None
        shown = () if search else _days(session, days)
        listed = search.runs if search else tuple(one for day in shown for one in day.runs)
        page = replace(
            _page(request, session, shown, days),
            notices=_undone(session) if undone else (),
            search=search,
            half_filled=() if search else tuple(waiting(session)),
            run=run_view(session, listed[0].code) if listed else None,
        )
    return show(request, page, status=422 if search and search.wrong else 200)


def run(
    request: Request,
    code: str,
    against: Annotated[bool, Query()] = False,
    computed: Annotated[bool, Query()] = False,
) -> Response:
    """One run by its code, or the last one, beside the runs of the latest days; with `against` its set-down
    held against its setup, with `computed` what the driver said against what was computed.
    """
    with bench_of(request).store.reading() as session:
        seen = run_view(session, code, against=against, computed=computed)
        page = _page(request, session, _days(session, DAYS), DAYS)
        page = replace(page, title=seen.name, run=seen, is_of_run=True)
    return show(request, page)


def _page(request: Request, session: Session, shown: tuple[DayRuns, ...], days: int) -> RunsPage:
    more = len(shown) > days and days < MOST_DAYS
    return RunsPage(
        title="Notebook",
        tab="/notebook",
        undoing=undoing(request, session),
        days=shown[:days],
        more_days=f"/notebook?days={min(2 * days, MOST_DAYS)}" if more else "",
        search=None,
        half_filled=(),
        run=None,
        is_of_run=False,
    )


def _undone(session: Session) -> tuple[Notice, ...]:
    """What was taken or put back last."""
    return tuple(Notice(sentence(one.what)) for one in undo.last_entries(session, 1))


def _days(session: Session, most: int) -> tuple[DayRuns, ...]:
    """The latest days, one more than are to be shown where there are more."""
    return tuple(
        DayRuns(
            day=event.held_on.isoformat(),
            name=event.name,
            track=_track(session, event),
            runs=run_rows(session, found_runs(session, _latest_first(session, event))),
        )
        for event, _ in runs.events(session, most + 1)
    )


def _latest_first(session: Session, event: Event) -> list[int]:
    return [run.id for run in reversed(runs.runs_of(session, event))]


def _track(session: Session, event: Event) -> str:
    track = session.get(Revision, event.track_id) if event.track_id is not None else None
    return track.document.name if track else ""


def _search(session: Session, ask: str, most: int) -> Search:
    try:
        question = read_question(ask)
        found = find_runs(session, question, most=most)
        things = find_anything(session, question.text, most=THINGS) if question.may_name_other_things else ()
    except NotebookTrouble as problem:
        return Search(ask, wrong=sentence(str(problem)))
    return Search(
        ask,
        understood=found.understood,
        runs=run_rows(session, found.runs),
        besides=tuple(_besides(one) for one in things if one.what != "run" or not found.runs),
        more=_more(ask, most) if found.more and most < MOST_FOUND else "",
        changed=_changed_path(question, found),
        nearly=() if found.runs else tuple(_nearly(session, question)),
    )


def _nearly(session: Session, question: Question) -> Iterator[Nearly]:
    """What is found with one clause less, for every clause."""
    for left_out in question.clauses if len(question.clauses) > 1 else ():
        others = tuple(one for one in question.clauses if one is not left_out)
        ask = ", ".join(one.typed for one in others)
        found = find_runs(session, Question(ask, others), most=FOUND)
        if found.runs:
            told = f"more than {FOUND} runs" if found.more else counted(len(found.runs), "run")
            yield Nearly(left_out.typed, told, _asks(ask))


def _more(ask: str, most: int) -> str:
    return _asks(ask, most=min(2 * most, MOST_FOUND))


def _changed_path(question: Question, found: Found) -> str:
    clauses = question.clauses
    if not found.runs or len(clauses) != 1 or not isinstance(clauses[0], Felt):
        return ""
    felt = clauses[0]
    if felt.feel not in OTHER_SIDE:
        return ""
    return f"/notebook/changed?{urlencode({'feel': felt.feel, 'phase': felt.phase, 'when': felt.when})}"


def _besides(one: Thing) -> Besides:
    path = ""
    if one.what == "run":
        path = f"/notebook/run/{one.code}"
    elif one.what in KINDS_OF_DOCUMENT:
        path = f"/notebook/revision/{one.code}"
    elif one.what != "event":
        path = f"/notebook/part?{urlencode({'which': f'{one.what} {one.code}'})}"
    return Besides(one.what, one.code, one.name, path)


# ---------------- what was changed when


def changed(
    request: Request,
    feel: Annotated[str, Query(max_length=20)] = "",
    phase: Annotated[str, Query(max_length=20)] = "",
    when: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """What was changed when the driver said so, and whether it helped."""
    with bench_of(request).store.reading() as session:
        told = what_i_changed_when(session, feel, phase, when)
        page = ChangedPage(
            title="What I changed when",
            tab="/notebook",
            undoing=undoing(request, session),
            asked=" ".join(filter(None, (feel, phase, when))),
            said=sentence(told.said),
            changes=tuple(
                Changed(
                    run=one.run.code,
                    next=one.next.code,
                    day=one.next.date.isoformat(),
                    where=one.next.track or one.next.event,
                    comment=one.comment,
                    changed=one.changed or "nothing that is said differs",
                    reason=one.reason,
                    then=", ".join([f"then {one.then_said}", *_steps(one.best, one.fall_off)]),
                )
                for one in told.changes
            ),
        )
    return show(request, page)


def _steps(best: float | None, fall_off: float | None) -> list[str]:
    named = (("best lap", best), ("fall-off in ten laps", fall_off))
    return [f"{name} {step(by, 'lap_gain')}" for name, by in named if by is not None]


# ---------------- undo


def take_back(request: Request, number: Annotated[int, Form(ge=0)] = 0) -> Response:
    """Take back the last entry, if it is still the one that was looked at."""
    store = bench_of(request).store
    with store.entry("undo") as session:
        _check_looked_at(undo.next_to_undo(session, by=store.by), number, "Undo")
        done = undo.undo(session, by=store.by)
        entry_of(session).what = f"took back: {done.what}"
    return go_to("/notebook?undone=1")


def put_back(request: Request, number: Annotated[int, Form(ge=0)] = 0) -> Response:
    """Put back what was taken back last, if it is still the one that was looked at."""
    store = bench_of(request).store
    with store.entry("put back") as session:
        _check_looked_at(undo.next_to_put_back(session, by=store.by), number, "Put it back")
        done = undo.put_back(session, by=store.by)
        entry_of(session).what = f"put back: {done.what}"
    return go_to("/notebook?undone=1")


def _check_looked_at(last: undo.Done | None, number: int, press: str) -> None:
    """Raises NotebookTrouble where another entry is the last now."""
    if last is not None and number and last.number != number:
        raise NotebookTrouble(
            f'another entry has come since: "{last.what}"; look at it, then press {press} again.'
        )
