"""This week: the next event, what the car still needs, the last run, the three numbers at the next track."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar

import segno
from fastapi import Form, Query
from markupsafe import Markup
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import drafts, runs, shelf
from ovalwright.notebook.garage import parts, parts_life, service, work
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.bench import Bench, bench_of
from ovalwright.web.door import is_here, with_passcode
from ovalwright.web.next_up import NextUp, next_up
from ovalwright.web.page import HAND, Page, go_to, show
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount, counted

SOON = 0.8
"""Share of an interval from which a job is said to be coming."""
MOST_DUE = 6
NO_EVENT = "Enter the next day at a track, and this page counts down to it."


@dataclass(frozen=True)
class Need:
    """A thing the car needs: what, and when or why; `is_due` before it runs again."""

    what: str
    when: str
    is_due: bool


@dataclass(frozen=True)
class Number:
    """One number that matters at the next track, with its unit, and what it means."""

    name: str
    value: str
    meaning: str


@dataclass(frozen=True)
class Numbers:
    """The numbers of one setup at one track; `reason` in their place where there are none."""

    where: str
    rows: tuple[Number, ...] = ()
    reason: str = ""


@dataclass(frozen=True)
class Phones:
    """How phones come in: address, passcode, and both as a drawing to hold a phone to."""

    addresses: tuple[str, ...]
    passcode: str
    drawing: Markup


@dataclass(frozen=True)
class EventForm:
    """The next event as typed, the tracks there are, and what is wrong with it."""

    tracks: tuple[str, ...]
    name: str = ""
    day: str = ""
    track: str = ""
    wrong: str = ""


@dataclass(frozen=True, kw_only=True)
class WeekPage(Page):
    """The page; a text is empty where there is nothing to say. `numbers` None: not worked out yet."""

    template: ClassVar[str] = "week.html"
    is_new: bool
    event: str
    days: str
    where: str
    needs: tuple[Need, ...]
    more_needs: int
    tires: tuple[Need, ...]
    waiting: str
    last: str
    form: EventForm
    numbers: Numbers | None
    may_work_out: bool
    phones: Phones | None


def first() -> Response:
    """On to the first page."""
    return go_to("/week")


def week(request: Request, numbers: Annotated[str, Query(max_length=10)] = "") -> Response:
    """The page; with `numbers` those of the next track are worked out."""
    return _shown(request, work_out=bool(numbers))


def new_event(
    request: Request,
    name: Annotated[str, Form(max_length=500)] = "",
    day: Annotated[str, Form(max_length=100)] = "",
    track: Annotated[str, Form(max_length=500)] = "",
) -> Response:
    """Enter the next event; the page comes back with what was typed where it cannot be."""
    store = bench_of(request).store
    try:
        with store.entry(f"event {name.strip()[:80]}") as session:
            found = shelf.revision(session, track, kind="track") if track.strip() else None
            runs.new_event(session, name, _day(day), track=found)
            answer = answer_once(request, session, "/week", done="event")
    except NotebookTrouble as problem:
        typed = EventForm((), name, day, track, sentence(str(problem)))
        return _shown(request, typed=typed)
    return answer


def _day(typed: str) -> dt.date:
    try:
        return dt.date.fromisoformat(typed.strip())
    except ValueError:
        raise NotebookTrouble(
            f'"{typed[:30]}" is no day; write it as {dt.date.today().isoformat()}.'
        ) from None


# ---------------- the page in words


def _shown(request: Request, *, work_out: bool = False, typed: EventForm | None = None) -> Response:
    bench, today = bench_of(request), dt.date.today()
    with bench.store.reading() as session:
        ahead = next_up(session, today)
        needs = tuple(_needs(session, ahead, today))
        page = WeekPage(
            title="This week",
            here="/week",
            is_new=ahead.setup is None,
            event=ahead.event.name if ahead.event else "",
            days=_days((ahead.event.held_on - today).days) if ahead.event else "",
            where=ahead.track.document.name if ahead.track else "",
            needs=needs[:MOST_DUE],
            more_needs=max(len(needs) - MOST_DUE, 0),
            tires=tuple(_tires(session, ahead)),
            waiting=_waiting(session),
            last=_last(session, ahead.last) if ahead.last else "",
            form=_form(session, typed),
            numbers=_numbers(bench.store, ahead) if work_out else None,
            may_work_out=ahead.setup is not None and ahead.track is not None,
            phones=_phones(bench) if is_here(request) and bench.door.passcode else None,
        )
    return show(request, page, status=422 if typed else 200)


def _form(session: Session, typed: EventForm | None) -> EventForm:
    tracks = tuple(dict.fromkeys(line.name for line in shelf.revisions(session, kind="track")))
    if typed is None:
        return EventForm(tracks)
    return EventForm(tracks, typed.name, typed.day, typed.track, typed.wrong)


def _days(left: int) -> str:
    return "today" if left == 0 else "tomorrow" if left == 1 else f"in {counted(left, 'day')}"


def _needs(session: Session, ahead: NextUp, today: dt.date) -> Iterator[Need]:
    """Jobs that are due or nearly, the most pressing first; then what is left open on a checklist."""
    if ahead.car is not None:
        for one in service.due(session, ahead.car, today=today):
            if one.used >= SOON:
                said = f"{one.place or one.kind}, {one.job}".strip(", ")
                yield Need(said[:1].upper() + said[1:], one.said, one.is_due)
    for check_round in work.open_rounds(session):
        sheet = work.round_sheet(session, check_round)
        yield Need(f"{sheet.checklist} list", f"{counted(len(sheet.left_open), 'thing')} open", False)


def _tires(session: Session, ahead: NextUp) -> Iterator[Need]:
    """The four tires on the car, in its own layout."""
    if ahead.car is None:
        return
    on = {one.place[:2]: one for one in parts.on_car(session, ahead.car) if one.kind == "tire"}
    found = [parts.find_part(session, "tire", one.mark) for one in on.values()]
    lives = {one.mark: one for one in parts_life.lives(session, [part for part in found if part])}
    for corner in parts.CORNERS if on else ():
        tire = lives.get(on[corner].mark) if corner in on else None
        if tire is None:
            yield Need(corner, "no tire noted", False)
        else:
            yield Need(
                f"{corner} {tire.mark}",
                f"{counted(tire.cycles, 'heat cycle')}, {counted(tire.laps, 'lap')}",
                False,
            )


def _waiting(session: Session) -> str:
    half = sum(one.form != HAND for one in drafts.drafts(session))
    return f"{counted(half, 'form')} half filled" if half else ""


def _last(session: Session, run: Run) -> str:
    """The last run in one line."""
    said = [f"{run.event.held_on:%Y-%m-%d}, {run.event.name}, {run.session or 'run'} {run.number}"]
    if run.laps:
        said.append(counted(run.laps, "lap"))
    if run.best:
        said.append(f"best {amount(run.best, 'lap_time')}")
    if run.fall_off is not None:
        said.append(f"falls off {amount(run.fall_off, 'lap_gain')} in ten laps")
    felt = [f"{one.feel} {one.phase}" for one in runs.record(session, run).comments if one.feel]
    said += [", ".join(felt[:3])] if felt else []
    return f"{'; '.join(said)}. Setup {run.setup.document.name}, revision {run.setup.number}."


def _phones(bench: Bench) -> Phones | None:
    if not bench.addresses:
        return None
    code = segno.make(with_passcode(bench.addresses[0], bench.door.passcode), micro=False)
    drawing = Markup(code.svg_inline(scale=4, border=4, dark="#14181B", light="#FCFBF7"))
    return Phones(bench.addresses, bench.door.passcode, drawing)


# ---------------- the three numbers


def _numbers(store: Store, ahead: NextUp) -> Numbers | None:
    if ahead.setup is None or ahead.track is None:
        return None
    return _worked_out(store, ahead.setup.code, ahead.track.code)


@lru_cache(maxsize=64)
def _worked_out(store: Store, setup: str, track: str) -> Numbers:
    """The middle of the turn with a full cell; a revision never changes, so its numbers are kept."""
    from ovalwright.documents import MIDDLE, Conditions, Track
    from ovalwright.pack import build
    from ovalwright.study.turn import turn

    with store.reading() as session:
        oval = shelf.document_of(shelf.revision(session, track, kind="track"))
        assembly = shelf.assembly_of(session, shelf.revision(session, setup, kind="setup"))
    assert isinstance(oval, Track)
    where = f"{oval.name}, middle of the turn, full of fuel, {assembly.setup.name}"
    try:
        place = turn(build(assembly), oval, Conditions(), stations=(MIDDLE,)).tanks[0].places[0]
    except (DocumentError, ValueError) as problem:
        return Numbers(where, reason=sentence(str(problem)))
    if place.carried is None or place.speed is None:
        return Numbers(where, reason=sentence(f"no numbers: {place.reason or place.limit.sets}"))
    rows = [
        Number(
            "Wedge in the turn", amount(place.carried.loads.cross, "percent"), "RF and LR of the four loads"
        ),
        Number("Most speed there", amount(place.limit.speed, "speed"), sentence(place.limit.sets)),
    ]
    if place.balance is not None:
        share = amount(abs(place.balance.share), "percent")
        word = place.balance.word.capitalize()
        rows.insert(1, Number("Balance at the limit", f"{word} {share}", "of weight times wheelbase"))
    return Numbers(where, tuple(rows))
