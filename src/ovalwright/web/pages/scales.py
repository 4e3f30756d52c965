"""Scales: four weights as they stand on the pads, and at once what they say; kept as the next sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar
from urllib.parse import urlencode

from fastapi import Form, Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import Assembly, DocumentError, Rules, Sheet
from ovalwright.notebook import drafts, shelf
from ovalwright.notebook.drafts import DraftChanged, DraftNow
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.scale_sheet import read_sheet
from ovalwright.study.weigh import CORNERS
from ovalwright.units import KINDS
from ovalwright.web import lead_work, weighings
from ovalwright.web.at_the_pads import Answers, answers_of, car_on_pads, misread_by, race_of
from ovalwright.web.bench import bench_of
from ovalwright.web.form_fields import Choice, Field
from ovalwright.web.joined import take_up
from ovalwright.web.next_up import next_up
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.troubles import sentence
from ovalwright.web.weighing import (
    FIELDS,
    MOMENTS,
    PASSING,
    SWAPS,
    Read,
    Weighing,
    book_of,
    read,
    sheet_of,
)
from ovalwright.web.weighings import OnTheScales
from ovalwright.web.words import amount

PATH = "/scales"
READS_SO = "reads so"
"""What is pressed to keep a weight that looks like a slip."""
NOT_ALL = "Four pads are needed; what is typed is kept meanwhile."


@dataclass(frozen=True)
class Before:
    """An earlier weighing of this car in one line."""

    day: str
    name: str
    numbers: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class Clash:
    """Another phone saved other readings: what it saved, and the version that stands."""

    said: str
    version: int


@dataclass(frozen=True, kw_only=True)
class ScalesPage(Page):
    """The page; `setup` empty where there is none. `draft` and `version` name what is half typed."""

    template: ClassVar[str] = "scales.html"
    setup: str = ""
    kept_as: str = ""
    setups: tuple[Choice, ...] = ()
    books: tuple[Choice, ...] = ()
    fields: Mapping[str, Field] = field(default_factory=dict)
    swaps: tuple[str, ...] = SWAPS
    moments: tuple[str, ...] = MOMENTS
    reason: str = ""
    wrong: tuple[str, ...] = ()
    draft: str = ""
    version: int = 0
    clash: Clash | None = None
    answers: Answers | None = None
    lead: lead_work.Placed | None = None
    lead_progress: Progress | None = None
    past: tuple[Before, ...] = ()
    checks_open: bool = False


@dataclass(frozen=True)
class Asked:
    """What a request is about: the car on the pads, what was typed, and where that is kept."""

    on: OnTheScales
    typed: Mapping[str, str]
    draft: DraftNow | None
    aim: str = ""


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
        on = weighings.on_the_scales(session, setup, next_up(session, dt.date.today()).setup)
        if draft:
            on = _of_the_draft(session, draft) or on
        if on is None:
            return show(request, ScalesPage(title="Scales", here=PATH))
        half = weighings.half_typed(session, on.setup.code, draft)
    typed = {key: str(text) for key, text in half.typed.items()} if half else _as_before(on.assembly.sheet)
    said = f"Kept: {on.setup.document.name}, revision {on.setup.number}, stands on it from now on."
    return _shown(request, Asked(on, typed, half), said=said if kept and half is None else "")


def _of_the_draft(session: Session, uid: str) -> OnTheScales | None:
    try:
        code = str(drafts.draft(session, uid).typed.get("setup", ""))
        return weighings.on_the_scales(session, code, None)
    except NotebookTrouble:
        return None


def _as_before(sheet: Sheet) -> dict[str, str]:
    """The state the car was weighed in the last time, to begin with."""
    return {
        "fuel": sheet.fuel.text,
        "scale": sheet.scale,
        "driver": "in" if sheet.driver else "",
        "bar": "hooked" if sheet.bar_hooked else "",
    }


# ---------------- typing

Sent = Annotated[Weighing, Form()]


def type_in(request: Request, sent: Sent) -> Response:
    """Keep what is typed as a draft, and say what it means."""
    asked, clash = _saved(request, sent)
    if "hx-request" in request.headers or clash:
        return _shown(request, asked, clash=clash, status=200 if "hx-request" in request.headers else 409)
    if read(asked.typed).wrong:
        return _shown(request, asked, status=422)
    return go_to(_address(asked))


def place_lead(request: Request, sent: Sent) -> Response:
    """Begin to search which piece of lead to bolt where."""
    asked, clash = _saved(request, sent)
    if clash:
        return _shown(request, asked, clash=clash, status=409)
    bench, found = bench_of(request), read(asked.typed)
    with bench.store.reading() as session:
        book = _books(session, asked.typed)
    if not book:
        return _shown(request, asked, wrong="A lead plan is made by a rule book; keep one first.", status=422)
    assembly = car_on_pads(asked.on, found, asked.typed)
    lead_work.begin(
        bench.work, assembly, book[0], race_of(asked.on.assembly, found), asked.aim, of=asked.on.setup.code
    )
    return go_to(_address(asked) + "#lead")


def keep_book(request: Request, sent: Sent) -> Response:
    """Keep a rule book of two limits, and hold the car against it."""
    asked, clash = _saved(request, sent)
    if clash:
        return _shown(request, asked, clash=clash, status=409)
    try:
        book = book_of(read(asked.typed), asked.typed)
        with bench_of(request).store.entry(f"rule book {book.name}"[:120]) as session:
            shelf.keep(session, book, reason="typed at the pads")
    except DocumentError as problem:
        return _shown(request, asked, wrong=sentence(str(problem)), status=422)
    return go_to(_address(asked))


def keep(request: Request, sent: Sent) -> Response:
    """Keep what is typed as the next sheet of the car, and its setup as it stands on it."""
    asked, clash = _saved(request, sent)
    found = read(asked.typed)
    if clash:
        return _shown(request, asked, clash=clash, status=409)
    if not found.has_weights or found.wrong:
        said = (
            NOT_ALL if not found.has_weights else "A field cannot be read; what would be right stands there."
        )
        return _shown(request, asked, wrong=said, status=422)
    try:
        misread = misread_by(asked.on, found, asked.typed)
        if misread and sent.model_dump()["press"] != READS_SO:
            return _shown(request, asked, wrong=f"Not kept yet. {misread[0]}", status=422)
        sheet = sheet_of(found, asked.typed, asked.on.assembly.sheet)
        with bench_of(request).store.entry(f"weighed {asked.on.setup.document.name}"[:120]) as session:
            on = weighings.on_the_scales(session, asked.on.setup.code, None)
            assert on is not None
            kept = weighings.keep(session, on, sheet, reason=asked.typed["reason"].strip() or "weighed")
            take_up(session, on.setup.code, kept.code)
            if asked.draft:
                drafts.drop(session, asked.draft.uid)
            code = kept.code
    except DocumentError as problem:
        return _shown(request, asked, wrong=sentence(str(problem)), status=422)
    return go_to(f"{PATH}?{urlencode({'setup': code, 'kept': 'yes'})}", done=_kept_as(asked.on))


def put_away(request: Request, sent: Sent) -> Response:
    """Let what is half typed go."""
    asked, clash = _saved(request, sent)
    if clash:
        return _shown(request, asked, clash=clash, status=409)
    if asked.draft:
        with bench_of(request).store.aside() as session:
            drafts.drop(session, asked.draft.uid)
    return go_to(f"{PATH}?{urlencode({'setup': asked.on.setup.code})}", done=_kept_as(asked.on))


def _saved(request: Request, sent: Sent) -> tuple[Asked, Clash | None]:
    """What was sent, kept as a draft, unless another phone was quicker."""
    told = {key: str(value) for key, value in sent.model_dump().items()}
    uid, version, press, aim = (told.pop(key) for key in PASSING)
    with bench_of(request).store.reading() as session:
        on = weighings.on_the_scales(session, told["setup"], next_up(session, dt.date.today()).setup)
    if on is None:
        raise NotebookTrouble("no setup is in the notebook yet; set up a car first.")
    told["setup"] = on.setup.code
    about = f"{on.setup.document.name}, on the scales"
    try:
        with bench_of(request).store.aside() as session:
            draft = weighings.save(
                session, told, uid="" if press == "both" else uid, version=_number(version), about=about
            )
    except DraftChanged as problem:
        clash = Clash(sentence(str(problem)), problem.theirs.version)
        return Asked(on, told, problem.theirs, aim), clash
    return Asked(on, told, draft, aim), None


def _kept_as(on: OnTheScales) -> str:
    """Under which a device keeps what is typed of this car."""
    return f"scales-{on.setup.code}"


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 10 else 0


def _address(asked: Asked) -> str:
    told = {"draft": asked.draft.uid} if asked.draft else {"setup": asked.on.setup.code}
    return f"{PATH}?{urlencode(told)}"


# ---------------- the page in words


def _shown(
    request: Request,
    asked: Asked,
    *,
    clash: Clash | None = None,
    wrong: str = "",
    said: str = "",
    status: int = 200,
) -> Response:
    bench, on, found = bench_of(request), asked.on, read(asked.typed)
    with bench.store.reading() as session:
        chosen = _books(session, asked.typed)
        books = tuple(
            Choice(one.code, one.document.name, one.code == asked.typed.get("book"))
            for one in weighings.books(session)
        )
        setups = tuple(
            Choice(one.code, f"{one.name}, revision {one.number}", one.code == on.setup.code)
            for one in weighings.setups(session)
        )
        past = tuple(_before(one, on.assembly) for one in weighings.weighings(session, on))
    job = lead_work.look(bench.work, on.setup.code)
    page = ScalesPage(
        title="Scales",
        here=PATH,
        notices=tuple(Notice(told, trouble=told is wrong) for told in (wrong, said) if told),
        setup=on.setup.code,
        kept_as=_kept_as(on),
        setups=setups,
        books=books,
        fields=_fields(asked.typed, found, on.assembly.sheet),
        reason=asked.typed.get("reason", ""),
        wrong=_beside(found) if "hx-request" in request.headers else (),
        draft=asked.draft.uid if asked.draft else "",
        version=clash.version if clash else asked.draft.version if asked.draft else 0,
        clash=clash,
        answers=answers_of(on, asked.typed, found, chosen),
        lead=lead_work.placed(job) if job and job.is_over else None,
        lead_progress=progress_of(job, again=f"{_address(asked)}#lead", target="lead", at=PATH)
        if job
        else None,
        past=past,
        checks_open=any(asked.typed.get(f"again_{corner}") for corner in CORNERS),
    )
    return show(request, page, status=status)


def _beside(found: Read) -> tuple[str, ...]:
    """What is wrong with the fields, for a browser that gets the answers without them."""
    return tuple(f"{one.label}: {found.wrong[one.key]}" for one in FIELDS if one.key in found.wrong)


def _fields(typed: Mapping[str, str], found: Read, before: Sheet) -> dict[str, Field]:
    shown = {}
    for one in FIELDS:
        example = KINDS[one.kind].example if one.kind in KINDS else ""
        if one.key in CORNERS:
            example = getattr(before, one.key).weight.text
        elif one.key.endswith(("_height", "_wanted")) and getattr(before, one.key[:2]).height is not None:
            example = getattr(before, one.key[:2]).height.text
        shown[one.key] = Field(
            one.key, one.label, typed.get(one.key, ""), example, found.wrong.get(one.key, "")
        )
    return shown


def _books(session: Session, typed: Mapping[str, str]) -> tuple[Rules, ...]:
    """The rule book that was chosen, else every book of the notebook."""
    told = weighings.books(session)
    chosen = [one for one in told if one.code == typed.get("book")] or list(told)
    return tuple(weighings.book(session, one.code) for one in chosen)


def _before(one: Revision, assembly: Assembly) -> Before:
    sheet = shelf.document_of(one)
    assert isinstance(sheet, Sheet)
    told = read_sheet(sheet, assembly.car).weighed
    loads = [
        amount(getattr(sheet, corner).weight.si, "total_weight").removesuffix(" lb") for corner in CORNERS
    ]
    percents = [
        amount(value.value, "percent") for value in (told.left_percent, told.rear_percent, told.cross_percent)
    ]
    return Before(
        day=sheet.date.isoformat() if sheet.date else f"{one.made_at:%Y-%m-%d}",
        name=f"{one.document.name}, revision {one.number}",
        numbers=(*loads, amount(told.total.value, "total_weight"), *percents),
        why=one.reason or one.said,
    )
