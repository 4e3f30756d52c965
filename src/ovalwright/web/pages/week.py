"""This week: the next event, what the car still needs, the last run, the three numbers at the next track."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Annotated, ClassVar

import segno
import sqlalchemy as sa
from fastapi import Form, Query
from markupsafe import Markup
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.corners import CORNERS
from ovalwright.notebook import drafts, runs, shelf
from ovalwright.notebook.garage import parts, parts_life, service, work
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Event, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.bench import Bench, bench_of
from ovalwright.web.door import is_here, with_passcode
from ovalwright.web.form_entry import form_entry
from ovalwright.web.hand import HAND
from ovalwright.web.joined import next_for
from ovalwright.web.long_work import Job, TooBusy
from ovalwright.web.made_ready import STILL, check_ready, is_ready
from ovalwright.web.next_up import NextUp
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.sent_once import answer_once
from ovalwright.web.week_numbers import Numbers, bands, documents, with_bands, worked_out
from ovalwright.web.which_setup import beside_the_hand
from ovalwright.web.words import amount, counted

MOST_DUE = 6


@dataclass(frozen=True)
class Need:
    """A thing the car needs: what, and when or why; `is_due` before it runs again."""

    what: str
    when: str
    is_due: bool


@dataclass(frozen=True)
class Phones:
    """How phones come in: address, passcode, and both as a drawing to hold a phone to."""

    addresses: tuple[str, ...]
    passcode: str
    drawing: Markup


@dataclass(frozen=True)
class EventForm:
    """An event as typed, or as it is by its `uid`, the tracks there are, and what is wrong with it."""

    tracks: tuple[str, ...]
    name: str = ""
    day: str = ""
    track: str = ""
    wrong: str = ""
    uid: str = ""


@dataclass(frozen=True, kw_only=True)
class WeekPage(Page):
    """The page; a text is empty where there is nothing to say. `numbers` None: not worked out yet; `work` how
    far their bands are, `trouble` why they broke off.
    """

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
    last_code: str
    form: EventForm
    ahead: EventForm | None
    numbers: Numbers | None
    of_setup: str
    may_work_out: bool
    work: Progress | None
    trouble: str
    phones: Phones | None


def first() -> Response:
    """On to the first page."""
    return go_to("/week")


def week(
    request: Request,
    numbers: Annotated[str, Query(max_length=10)] = "",
    past: Annotated[str, Query(max_length=10)] = "",
) -> Response:
    """The page; with `numbers` those of the next track are worked out; after an event on a day that is `past`
    it says where that is. Raises NotReady.
    """
    if numbers:
        check_ready(request)
    return _shown(request, work_out=bool(numbers), notices=_entered(request, past) if past else ())


def _entered(request: Request, day: str) -> tuple[Notice, ...]:
    """The event of a day that is past, which this page does not count down to."""
    with bench_of(request).store.reading() as session:
        found = runs.event_of(session, day)
    said = f"{found.name} is entered on {found.held_on.isoformat()}, a day that is past."
    return (Notice(f"{said} Runs can be entered under it; Undo in the Notebook takes it out."),)


def sure(request: Request) -> Response:
    """Begin to find how sure the three numbers are."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        ahead = next_for(request, session)
        codes = _codes(ahead)
    if codes is not None:
        try:
            bench.work.submit(
                _key(codes), bands, *documents(bench.store, *codes), told="How sure the three numbers are"
            )
        except TooBusy as problem:
            return _shown(request, work_out=True, notices=(Notice(str(problem), trouble=True),))
    return go_to("/week?numbers=1")


def _codes(ahead: NextUp) -> tuple[str, str] | None:
    """The setup and the track that are next, by their codes."""
    return None if ahead.setup is None or ahead.track is None else (ahead.setup.code, ahead.track.code)


def _key(codes: tuple[str, str]) -> tuple[object, ...]:
    return ("week, how sure", *codes)


def new_event(
    request: Request,
    name: Annotated[str, Form(max_length=500)] = "",
    day: Annotated[str, Form(max_length=100)] = "",
    track: Annotated[str, Form(max_length=500)] = "",
) -> Response:
    """Enter the next event; the page comes back with what was typed where it cannot be."""
    with form_entry(
        request,
        f"event {name.strip()[:80]}",
        lambda wrong: _shown(request, typed=EventForm((), name, day, track, wrong)),
    ) as session:
        found = shelf.revision(session, track, kind="track") if track.strip() else None
        event = runs.new_event(session, name, _day(day), track=found)
        past = f"?past={event.held_on.isoformat()}" if event.held_on < dt.date.today() else ""
        return answer_once(request, session, f"/week{past}", done="event")


def mend_event(
    request: Request,
    event: Annotated[str, Form(max_length=32)] = "",
    name: Annotated[str, Form(max_length=500)] = "",
    day: Annotated[str, Form(max_length=100)] = "",
    track: Annotated[str, Form(max_length=500)] = "",
) -> Response:
    """Another name, day or track for an event."""
    with form_entry(request, f"event {name.strip()[:80]} mended", partial(_refused, request)) as session:
        found = shelf.revision(session, track, kind="track") if track.strip() else None
        runs.mend_event(session, _event(session, event), name, _day(day), track=found)
    return go_to("/week")


def drop_event(request: Request, event: Annotated[str, Form(max_length=32)] = "") -> Response:
    """Take an event out that has no runs."""
    with form_entry(request, "event taken out", partial(_refused, request)) as session:
        found = _event(session, event)
        entry_of(session).what = f"event {found.name} taken out"
        runs.drop_event(session, found)
    return go_to("/week")


def _refused(request: Request, wrong: str) -> Response:
    return _shown(request, notices=(Notice(wrong, trouble=True),), status=422)


def _event(session: Session, uid: str) -> Event:
    found = session.scalars(sa.select(Event).where(Event.uid == uid)).first()
    if found is None:
        raise NotebookTrouble("that event is not in the notebook any more; it was taken out or undone.")
    return found


def _day(typed: str) -> dt.date:
    try:
        return dt.date.fromisoformat(typed.strip())
    except ValueError:
        raise NotebookTrouble(
            f'"{typed[:30]}" is no day; write it as {dt.date.today().isoformat()}.'
        ) from None


# ---------------- the page in words


def _shown(
    request: Request,
    *,
    work_out: bool = False,
    typed: EventForm | None = None,
    notices: tuple[Notice, ...] = (),
    status: int = 200,
) -> Response:
    bench, today = bench_of(request), dt.date.today()
    ready = is_ready(bench.work)
    with bench.store.reading() as session:
        ahead = next_for(request, session)
        codes = _codes(ahead)
        job = bench.work.look(_key(codes)) if codes else None
        needs = tuple(_needs(session, ahead, today))
        page = WeekPage(
            title="This week",
            here="/week",
            notices=notices if ready else (*notices, Notice(STILL)),
            is_new=ahead.setup is None,
            event=ahead.event.name if ahead.event else "",
            days=_days(ahead.event.held_on, today) if ahead.event else "",
            where=ahead.track.document.name if ahead.track else "",
            needs=needs[:MOST_DUE],
            more_needs=max(len(needs) - MOST_DUE, 0),
            tires=tuple(_tires(session, ahead)),
            waiting=_waiting(session),
            last=_last(session, ahead.last) if ahead.last else "",
            last_code=ahead.last.code if ahead.last else "",
            form=_form(session, typed),
            ahead=_ahead(session, ahead.event) if ahead.event else None,
            numbers=_numbers(bench, codes, job) if work_out and codes else None,
            of_setup=_of_setup(request, session, ahead),
            may_work_out=codes is not None and ready,
            work=progress_of(job, again="/week?numbers=1", target="numbers", at="/week") if job else None,
            trouble=job.trouble if job else "",
            phones=_phones(bench) if is_here(request) and bench.door.passcode else None,
        )
    return show(request, page, status=422 if typed else status)


def _of_setup(request: Request, session: Session, ahead: NextUp) -> str:
    """The setup that the numbers are of, beside the one in hand."""
    if ahead.setup is None:
        return ""
    ran_last = ahead.last is not None and ahead.last.setup_id == ahead.setup.id
    why = "that of the last run" if ran_last else "the last one kept"
    return beside_the_hand(request, session, ahead.setup, why)


def _numbers(bench: Bench, codes: tuple[str, str], job: Job | None) -> Numbers:
    found = worked_out(bench.store, *codes)
    return with_bands(found, job.answer) if job is not None and job.state == "done" else found


def _form(session: Session, typed: EventForm | None) -> EventForm:
    tracks = tuple(dict.fromkeys(line.name for line in shelf.revisions(session, kind="track")))
    if typed is None:
        return EventForm(tracks)
    return EventForm(tracks, typed.name, typed.day, typed.track, typed.wrong)


def _ahead(session: Session, event: Event) -> EventForm:
    """The next event as it is."""
    track = session.get(Revision, event.track_id) if event.track_id is not None else None
    known = _form(session, None).tracks
    return EventForm(
        known, event.name, event.held_on.isoformat(), track.document.name if track else "", uid=event.uid
    )


def _days(day: dt.date, today: dt.date) -> str:
    """A day ahead by its date, and how long until then."""
    left = (day - today).days
    ahead = "today" if left == 0 else "tomorrow" if left == 1 else f"in {counted(left, 'day')}"
    return f"{day:%A} {day.isoformat()}, {ahead}"


def _needs(session: Session, ahead: NextUp, today: dt.date) -> Iterator[Need]:
    """Jobs that are due or nearly, the most pressing first; then what is left open on a checklist."""
    if ahead.car is not None:
        for one in service.due(session, ahead.car, today=today):
            if one.is_coming:
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
    for corner in CORNERS if on else ():
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
