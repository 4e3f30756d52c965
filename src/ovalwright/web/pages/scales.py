"""Scales: four weights as they stand on the pads, and at once what they say; kept as the next sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Annotated, ClassVar
from urllib.parse import urlencode

from fastapi import Query
from markupsafe import Markup
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.corners import CORNERS
from ovalwright.documents import WORKED_OUT, Assembly, DocumentError, Sheet
from ovalwright.notebook import drafts, shelf, undo
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pictures.weighings import Percent
from ovalwright.pictures.weighings import weighings as weighings_drawn
from ovalwright.study.scale_sheet import read_sheet
from ovalwright.study.weigh import Weighed
from ovalwright.units import KINDS
from ovalwright.web import lead_work, weighings
from ovalwright.web.at_the_pads import Answers, answers_of, misread_by
from ovalwright.web.bench import bench_of
from ovalwright.web.door import who
from ovalwright.web.form_entry import Refused, refused_as
from ovalwright.web.form_fields import Choice, Field
from ovalwright.web.joined import next_for, take_up
from ovalwright.web.long_work import Job
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.scales_asked import (
    CROSS_STEPS,
    PATH,
    Asked,
    Clash,
    Sent,
    address,
    books_of,
    by_hand,
    kept_as,
    saved,
)
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.weighing import (
    BOOK,
    FIELDS,
    MOMENTS,
    SWAPS,
    Read,
    as_weighed_last,
    book_of,
    read,
    sheet_of,
)
from ovalwright.web.weighings import OnTheScales
from ovalwright.web.which_setup import beside_the_hand, of_same_car
from ovalwright.web.words import amount

TAKEN_BACK = "back"
READS_SO = "reads so"
"""What is pressed to keep a weight that looks like a slip."""
EXAMPLES = {"laps": "40", "flag_fuel": "2 gal", "cross": "54 %", "left_most": "58 %"}
"""What to type, where that of the kind of quantity would mislead."""
DECIMAL = ("corner_weight", "total_weight", "volume", "share", "count")
"""Typed as a bare number, where the others may be fractions or carry their unit."""
NOT_ALL = "Four pads are needed; what is typed is kept meanwhile."


@dataclass(frozen=True)
class Before:
    """An earlier weighing of this car in two lines: weights and total, then what they come to, and why."""

    day: str
    loads: tuple[str, ...]
    percents: str
    name: str
    why: str


@dataclass(frozen=True)
class Past:
    """The weighings of this car, the newest first, and their percents drawn over the season."""

    rows: tuple[Before, ...]
    drawing: Markup | None


@dataclass(frozen=True)
class TakeBack:
    """What was kept or taken back last, which one press turns round: the number of its entry, what it was."""

    number: int
    what: str


@dataclass(frozen=True, kw_only=True)
class ScalesPage(Page):
    """The page; `setup` empty where there is none. `draft` and `version` name what is half typed."""

    template: ClassVar[str] = "scales.html"
    setup: str = ""
    of_setup: str = ""
    kept_as: str = ""
    setups: tuple[Choice, ...] = ()
    books: tuple[Choice, ...] = ()
    fields: Mapping[str, Field] = field(default_factory=dict)
    swaps: tuple[str, ...] = SWAPS
    moments: tuple[str, ...] = MOMENTS
    reason: str = ""
    moves: str = ""
    wrong: tuple[str, ...] = ()
    draft: str = ""
    version: int = 0
    clash: Clash | None = None
    answers: Answers | None = None
    lead: lead_work.Placed | None = None
    lead_progress: Progress | None = None
    pieces: tuple[Choice, ...] = ()
    spots: tuple[Choice, ...] = ()
    past: Past = Past((), None)
    checks_open: bool = False
    is_part: bool = False
    take_back: TakeBack | None = None
    put_back: TakeBack | None = None


# ---------------- looking


def scales(
    request: Request,
    setup: Annotated[str, Query(max_length=40)] = "",
    draft: Annotated[str, Query(max_length=40)] = "",
    kept: Annotated[str, Query(max_length=4)] = "",
) -> Response:
    """The page: what is half typed, else the weighing that the setup stands on."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        on = weighings.on_the_scales(session, setup, next_for(request, session).setup)
        if draft:
            on = _of_the_draft(session, draft) or on
        if on is None:
            return show(request, ScalesPage(title="Scales", here=PATH))
        half = weighings.half_typed(session, on.setup.code, draft)
    typed = (
        {key: str(text) for key, text in half.typed.items()} if half else as_weighed_last(on.assembly.sheet)
    )
    asked = Asked(on, typed, half)
    if kept == TAKEN_BACK:
        return _taken_back(request, asked)
    return _kept(request, asked) if kept and half is None else shown(request, asked)


def _kept(request: Request, asked: Asked) -> Response:
    """The page after something was kept, with one press that takes it back while nothing came after it."""
    on, store = asked.on, bench_of(request).store
    said = f"Kept: {on.setup.document.name}, revision {on.setup.number}, stands on it from now on."
    if on.assembly.sheet.scale == WORKED_OUT:
        said += " Its weights are worked out: bolt the lead in, then weigh it."
    with store.reading() as session:
        last = undo.next_to_undo(session, by=store.by)
        rests = shelf.revision(session, on.setup.code).entry_id
    back = TakeBack(last.number, last.what) if last and last.number == rests else None
    return shown(request, asked, said=said, take_back=back)


def _taken_back(request: Request, asked: Asked) -> Response:
    """The page after that was taken back, with one press that puts it back while that can be done."""
    store = bench_of(request).store
    with store.reading() as session:
        last = undo.next_to_put_back(session, by=store.by)
    if last is None:
        return shown(request, asked)
    return shown(request, asked, said=f"Taken back: {last.what}.", put_back=TakeBack(last.number, last.what))


def _of_the_draft(session: Session, uid: str) -> OnTheScales | None:
    try:
        code = str(drafts.draft(session, uid).typed.get("setup", ""))
        return weighings.on_the_scales(session, code, None)
    except NotebookTrouble:
        return None


# ---------------- typing


def as_sent(request: Request, sent: Sent) -> Asked:
    """What was sent, kept as a draft. Raises Refused when another phone was quicker."""
    asked, clash = saved(request, sent)
    if clash:
        raise Refused(shown(request, asked, clash=clash, status=409))
    return asked


def refused(request: Request, asked: Asked, wrong: str) -> Response:
    """The page with what was typed, and why it cannot be done."""
    return shown(request, asked, wrong=wrong, status=422)


def type_in(request: Request, sent: Sent) -> Response:
    """Keep what is typed as a draft, and say what it means."""
    asked, clash = saved(request, sent)
    if "hx-request" in request.headers or clash:
        return shown(request, asked, clash=clash, status=200 if "hx-request" in request.headers else 409)
    if read(asked.typed).wrong:
        return shown(request, asked, status=422)
    return go_to(address(asked) + ("#jack" if sent.model_dump()["press"] in CROSS_STEPS else ""))


def keep_book(request: Request, sent: Sent) -> Response:
    """Keep a rule book of two limits, and hold the car against it."""
    asked = as_sent(request, sent)
    with refused_as(partial(refused, request, asked)):
        book = book_of(read(asked.typed), asked.typed)
        with bench_of(request).store.entry(f"rule book {book.name}"[:120]) as session:
            shelf.keep(session, book, reason="typed at the pads")
            rest = {**asked.typed, **dict.fromkeys((one.key for one in BOOK), "")}
            half = weighings.let_go(session, asked.draft, rest, asked.on, by=who(request))
            path = address(replace(asked, draft=half))
            return answer_once(request, session, path, done=kept_as(asked.on))


def keep(request: Request, sent: Sent) -> Response:
    """Keep what is typed as the next sheet of the car, and its setup as it stands on it."""
    asked = as_sent(request, sent)
    found = read(asked.typed)
    if not found.has_weights or found.wrong:
        said = (
            NOT_ALL if not found.has_weights else "A field cannot be read; what would be right stands there."
        )
        return refused(request, asked, said)
    with refused_as(partial(refused, request, asked)):
        misread = misread_by(asked.on, found, asked.typed)
        if misread and sent.model_dump()["press"] != READS_SO:
            return refused(request, asked, f"Not kept yet. {misread[0]}")
        sheet = sheet_of(found, asked.typed, asked.on.assembly.sheet)
        with bench_of(request).store.entry(f"weighed {asked.on.setup.document.name}"[:120]) as session:
            on = weighings.on_the_scales(session, asked.on.setup.code, None)
            assert on is not None
            kept = weighings.keep(session, on, sheet, reason=asked.typed["reason"].strip() or "weighed")
            take_up(session, on.setup.code, kept.code)
            if asked.draft:
                drafts.drop(session, asked.draft.uid)
            path = f"{PATH}?{urlencode({'setup': kept.code, 'kept': 'yes'})}"
            return answer_once(request, session, path, done=kept_as(asked.on))


def put_away(request: Request, sent: Sent) -> Response:
    """Let what is half typed go."""
    asked = as_sent(request, sent)
    if asked.draft:
        with bench_of(request).store.aside() as session:
            drafts.drop(session, asked.draft.uid)
    return go_to(f"{PATH}?{urlencode({'setup': asked.on.setup.code})}", done=kept_as(asked.on))


# ---------------- the page in words


def shown(
    request: Request,
    asked: Asked,
    *,
    clash: Clash | None = None,
    wrong: str = "",
    said: str = "",
    status: int = 200,
    take_back: TakeBack | None = None,
    put_back: TakeBack | None = None,
) -> Response:
    bench, on, found = bench_of(request), asked.on, read(asked.typed)
    is_part = request.headers.get("hx-target") == "answers"
    with bench.store.reading() as session:
        chosen = books_of(session, asked.typed)
        books = tuple(
            Choice(one.code, one.document.name, one.code == asked.typed.get("book"))
            for one in weighings.books(session)
        )
        of_setup = _of_setup(request, session, on.setup)
        setups = tuple(
            Choice(one.code, f"{one.name}, revision {one.number}", one.code == on.setup.code)
            for one in weighings.setups(session)
        )
        past = Past((), None) if is_part else _past(weighings.weighings(session, on), on.assembly)
    job = lead_work.look(bench.work, on.setup.code)
    page = ScalesPage(
        title="Scales",
        here=PATH,
        notices=tuple(Notice(told, trouble=told is wrong) for told in (wrong, said) if told),
        setup=on.setup.code,
        of_setup=of_setup,
        kept_as=kept_as(on),
        setups=setups,
        books=books,
        fields=_fields(asked.typed, found, on.assembly.sheet),
        reason=asked.typed.get("reason", ""),
        moves=asked.typed.get("moves", ""),
        wrong=_beside(found) if "hx-request" in request.headers else (),
        draft=asked.draft.uid if asked.draft else "",
        version=clash.version if clash else asked.draft.version if asked.draft else 0,
        clash=clash,
        answers=answers_of(on, asked.typed, found, chosen),
        lead=None if is_part else _lead(request, asked, job),
        lead_progress=progress_of(job, again=f"{address(asked)}#lead", target="lead", at=PATH)
        if job
        else None,
        pieces=tuple(Choice(*one, False) for one in lead_work.pieces_to_move(on.assembly)),
        spots=tuple(Choice(one, one, False) for one in lead_work.spots_to_use(on.assembly)),
        past=past,
        checks_open=any(asked.typed.get(f"again_{corner}") for corner in CORNERS),
        is_part=is_part,
        take_back=take_back,
        put_back=put_back,
    )
    return show(request, page, status=status)


def _of_setup(request: Request, session: Session, setup: Revision) -> str:
    """The setup on the pads, beside the one in hand."""
    newer = of_same_car(session, setup, after=setup.entry_id)
    is_last = all(one.document_id != setup.document_id for one in newer)
    return beside_the_hand(request, session, setup, "the last one kept" if is_last else "as chosen here")


def _beside(found: Read) -> tuple[str, ...]:
    """What is wrong with the fields, for a browser that gets the answers without them."""
    return tuple(f"{one.label}: {found.wrong[one.key]}" for one in FIELDS if one.key in found.wrong)


def _fields(typed: Mapping[str, str], found: Read, before: Sheet) -> dict[str, Field]:
    shown = {}
    for one in FIELDS:
        keypad = "decimal" if one.kind in DECIMAL else ""
        wrong = found.wrong.get(one.key, "")
        shown[one.key] = Field(
            one.key, one.label, typed.get(one.key, ""), _example(one.key, one.kind, before), wrong, keypad
        )
    return shown


def _example(key: str, kind: str, before: Sheet) -> str:
    """What was read the last time, else what to type; neither looks as if it were typed already."""
    if key[-2:] in CORNERS:
        return f"last {getattr(before, key[-2:]).weight.text}"
    if key.endswith(("_height", "_wanted")) and getattr(before, key[:2]).height is not None:
        return f"last {getattr(before, key[:2]).height.text}"
    example = EXAMPLES.get(key) or (KINDS[kind].example if kind in KINDS else "")
    return f"like {example}" if example else ""


def _lead(request: Request, asked: Asked, job: Job | None) -> lead_work.Placed:
    """The lead as it was moved by hand, else as it was placed, else as it is bolted in."""
    try:
        moved = by_hand(request, asked)
        if moved is not None:
            return lead_work.planned(moved)
        return (lead_work.placed(job) if job else None) or lead_work.as_it_is(asked.on.assembly)
    except (DocumentError, ValueError) as problem:
        return lead_work.Placed(trouble=sentence(str(problem)))


def _past(kept: Sequence[Revision], assembly: Assembly) -> Past:
    """What this car weighed before, and the three percents drawn over the season."""
    told = [(one, sheet) for one in kept if isinstance(sheet := shelf.document_of(one), Sheet)]
    weighed = [read_sheet(sheet, assembly.car).weighed for _, sheet in told]
    rows = tuple(_before(one, sheet, of) for (one, sheet), of in zip(told, weighed, strict=True))
    in_order = sorted(zip(told, weighed, strict=True), key=lambda one: (_day(*one[0]), one[0][0].id))
    if not in_order:
        return Past(rows, None)
    drawn = weighings_drawn(
        [_day(*one) for one, _ in in_order],
        [sheet.scale != WORKED_OUT for (_, sheet), _ in in_order],
        [
            Percent("Cross", [100.0 * of.cross_percent.value for _, of in in_order]),
            Percent("Left", [100.0 * of.left_percent.value for _, of in in_order]),
            Percent("Rear", [100.0 * of.rear_percent.value for _, of in in_order]),
        ],
    )
    return Past(rows, Markup(drawn))


def _day(one: Revision, sheet: Sheet) -> dt.date:
    return sheet.date or one.made_at.date()


def _before(one: Revision, sheet: Sheet, of: Weighed) -> Before:
    loads = [getattr(sheet, corner).weight.si for corner in CORNERS]
    percents = {"left": of.left_percent, "rear": of.rear_percent, "cross": of.cross_percent}
    why = one.reason or one.said
    return Before(
        day=_day(one, sheet).isoformat(),
        loads=tuple(amount(si, "total_weight").removesuffix(" lb") for si in (*loads, of.total.value)),
        percents=", ".join(f"{name} {amount(told.value, 'percent')}" for name, told in percents.items()),
        name=f"{one.document.name}, revision {one.number}",
        why=f"{WORKED_OUT}; {why}" if sheet.scale == WORKED_OUT else why,
    )
