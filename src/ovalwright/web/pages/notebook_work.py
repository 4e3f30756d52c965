"""The work on the car: checklists to tick off, what is left open, who worked how long."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import Form
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.notebook import runs
from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.checklists import READY
from ovalwright.notebook.garage.findings import HEADING, Finding, findings, put_right, wrong_item
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables_work import CheckRound
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import read_day
from ovalwright.web.bench import bench_of
from ovalwright.web.form_entry import form_entry
from ovalwright.web.notebook_page import NotebookPage, at_home, undoing
from ovalwright.web.page import go_to, show
from ovalwright.web.sent_once import answer_once
from ovalwright.web.words import counted

EVENTS = 5
MINUTE = 60.0


@dataclass(frozen=True)
class Thing:
    """A thing on a list: what is to be done, what hurts, and who did it when, or nothing."""

    number: int
    words: str
    caution: str
    until: str
    done: str
    found: str
    is_open: bool
    is_wrong: bool


@dataclass(frozen=True)
class Round:
    """A round that is under way."""

    uid: str
    called: str
    note: str
    begun: str
    left: str
    things: tuple[Thing, ...]


@dataclass(frozen=True)
class Listed:
    """A checklist and how long it is."""

    name: str
    things: str


@dataclass(frozen=True)
class Worked:
    """Who worked how long, for an event or in the shop."""

    where: str
    who: str
    things: str
    time: str


@dataclass(frozen=True, kw_only=True)
class WorkPage(NotebookPage):
    """Rounds under way, lists to begin with, hours; what was typed when something is `wrong` with it."""

    template: ClassVar[str] = "notebook_work.html"
    rounds: tuple[Round, ...]
    heading: str
    found: tuple[Finding, ...]
    lists: tuple[Listed, ...]
    events: tuple[tuple[str, str], ...]
    hours: tuple[Worked, ...]
    closed: tuple[str, ...]
    ticked: frozenset[tuple[str, str]]
    typed: dict[str, str]
    wrong: str


def work_page(request: Request) -> Response:
    """The work that is under way, and what may be begun."""
    return _shown(request)


def begin(
    request: Request,
    name: Annotated[str, Form(max_length=120)] = "",
    event: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Begin a list; one that is under way is gone on with."""
    with form_entry(request, "begin", lambda wrong: _shown(request, wrong=wrong)) as session:
        work.ready_lists(session)
        found = work.list_of(session, name)
        day = runs.event_of(session, event) if event else None
        was_open = work.open_round(session, found, event=day) is not None
        work.begin_round(session, found, event=day)
        entry_of(session).what = f"list {found.name} begun"
        if was_open:
            session.rollback()
    return go_to("/notebook/work")


def tick(
    request: Request,
    round: Annotated[str, Form(max_length=40)] = "",
    thing: Annotated[list[str] | None, Form()] = None,
    minutes: Annotated[str, Form(max_length=20)] = "",
    by: Annotated[str, Form(max_length=120)] = "",
    found: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    """Things done; the minutes are those of all of them together."""
    things = [one[:20] for one in thing or ()]
    typed = {"minutes": minutes, "by": by, "found": found}
    ticked = frozenset((round, one) for one in things)
    with form_entry(request, "tick", lambda wrong: _shown(request, ticked, typed, wrong=wrong)) as session:
        going = _round(session, round)
        if not things:
            raise NotebookTrouble("nothing was ticked; tick what is done, then press Done.")
        done = work.tick_all(session, going, things, by=by.strip(), took=minutes, found=found)
        numbers = ", ".join(str(item.number) for item in done)
        entry_of(session).what = f"{going.checklist.name}: {numbers} done"
        return answer_once(request, session, "/notebook/work")


def right(
    request: Request,
    list_name: Annotated[str, Form(max_length=120)] = "",
    thing: Annotated[str, Form(max_length=20)] = "",
    how: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    """What was found at a thing is put right."""
    with form_entry(request, "put right", lambda wrong: _shown(request, wrong=wrong)) as session:
        item = wrong_item(session, thing, work.list_of(session, list_name))
        told = put_right(session, item, how=how)
        entry_of(session).what = f"{item.checklist.name}, {item.number} put right: {told[0].found}"[:200]
        return answer_once(request, session, "/notebook/work")


def close(request: Request, round: Annotated[str, Form(max_length=40)] = "") -> Response:
    """Close a list, whatever is left open."""
    with form_entry(request, "close", lambda wrong: _shown(request, wrong=wrong)) as session:
        told = work.close_round(session, _round(session, round))
        left = f", {len(told.left_open)} left open" if told.left_open else ""
        entry_of(session).what = f"list {told.checklist} closed{left}"
        return answer_once(request, session, "/notebook/work")


def add(
    request: Request,
    list_name: Annotated[str, Form(max_length=120)] = "",
    words: Annotated[str, Form(max_length=1000)] = "",
    until: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """A thing onto a checklist, which is made where there is none of that name."""
    typed = {"list_name": list_name, "words": words, "until": until}
    with form_entry(request, "list", lambda wrong: _shown(request, typed=typed, wrong=wrong)) as session:
        work.ready_lists(session)
        known = {one.lower() for one in work.lists(session)}
        is_new = " ".join(list_name.lower().split()) not in known
        found = work.new_list(session, list_name) if is_new else work.list_of(session, list_name)
        item = work.add_item(session, found, words, good_until=read_day(until) if until else None)
        entry_of(session).what = f"{found.name}: {item.words}"
        return answer_once(request, session, "/notebook/work")


def _round(session: Session, uid: str) -> CheckRound:
    found = next((one for one in work.open_rounds(session) if one.uid == uid), None)
    if found is None:
        raise NotebookTrouble("that list is closed, or taken back; begin it again.")
    return found


# ---------------- the page


def _shown(
    request: Request,
    ticked: frozenset[tuple[str, str]] = frozenset(),
    typed: dict[str, str] | None = None,
    wrong: str = "",
) -> Response:
    fields = ("minutes", "by", "found", "list_name", "words", "until")
    with bench_of(request).store.reading() as session:
        page = WorkPage(
            title="Work",
            tab="/notebook/work",
            undoing=undoing(request, session),
            heading=HEADING,
            found=findings(session),
            rounds=tuple(_under_way(session, one) for one in work.open_rounds(session)),
            lists=_lists(session),
            events=tuple(
                (event.held_on.isoformat(), event.name) for event, _ in runs.events(session, EVENTS)
            ),
            hours=tuple(
                Worked(
                    one.event or "in the shop", one.person, counted(one.things, "thing"), _long(one.seconds)
                )
                for one in work.hours(session)
            ),
            closed=tuple(
                f"{one.checklist}{f', {one.event}' if one.event else ''}, {at_home(one.closed_at)}"
                for one in work.rounds(session, most=10)
                if one.closed_at is not None
            ),
            ticked=ticked,
            typed={**dict.fromkeys(fields, ""), **(typed or {})},
            wrong=wrong,
        )
    return show(request, page, status=422 if wrong else 200)


def _lists(session: Session) -> tuple[Listed, ...]:
    """The checklists there are, and those to begin with that were not begun yet."""
    there = work.lists(session)
    own = [(name, len(work.list_lines(session, work.list_of(session, name)))) for name in there]
    ready = [(one.name, len(one.things)) for one in READY if one.name not in there]
    return tuple(Listed(name, counted(number, "thing")) for name, number in (*own, *ready))


def _under_way(session: Session, going: CheckRound) -> Round:
    told = work.round_sheet(session, going)
    left = len(told.left_open)
    return Round(
        uid=going.uid,
        called=told.checklist + (f", {told.event}" if told.event else ""),
        note=told.note,
        begun=at_home(told.begun_at),
        left=f"{left} of {len(told.lines)} left" if left else "all of it is done",
        things=tuple(_thing(line) for line in _once(told.lines)),
    )


def _once(lines: Sequence[work.Line]) -> Iterator[work.Line]:
    """The lines, each caution with the first that it belongs to."""
    said: set[str] = set()
    for line in lines:
        yield replace(line, caution="") if line.caution in said else line
        said.add(line.caution)


def _thing(line: work.Line) -> Thing:
    took = "" if line.seconds is None else f", {line.seconds / MINUTE:.0f} min"
    when = f", {at_home(line.done_at)}" if line.done_at else ""
    return Thing(
        number=line.number,
        words=line.words,
        caution=line.caution,
        until=f"good until {line.good_until}" if line.good_until else "",
        done="" if line.is_open else f"{line.done_by}{when}{took}",
        found=line.found,
        is_open=line.is_open,
        is_wrong=line.is_wrong,
    )


def _long(seconds: float) -> str:
    whole, rest = divmod(round(seconds / MINUTE), 60)
    return f"{whole} h {rest:02d} min" if whole else f"{rest} min"
