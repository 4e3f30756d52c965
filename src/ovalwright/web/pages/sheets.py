"""Sheets: each of them seen on the page before it is printed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Annotated, ClassVar, NamedTuple
from urllib.parse import urlencode

from fastapi import HTTPException, Query
from pydantic import BaseModel, Field
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage import work
from ovalwright.notebook.typed.entering import Missing, usual_setup
from ovalwright.sheets import PAPERS, Leaf, NoSheet, Paper, drawing, render
from ovalwright.sheets.asked import TAKEN_BY, FromNotebook, Wish, fuel_line, leaf_of, schedule_line
from ovalwright.units import KINDS, UnitError, read_quantity
from ovalwright.web.bench import bench_of
from ovalwright.web.joined import next_for
from ovalwright.web.packed import pack, sent
from ovalwright.web.page import Page, show
from ovalwright.web.troubles import sentence
from ovalwright.web.which_setup import beside_the_hand, newer_than, of_same_car, to_print

OF_THE_HAND = ("setup", "rack", "two")
"""Of what a sheet is made that is made of the setup in hand where nothing is named."""
AT_ONCE = 2
"""Pages of a sheet that are seen together, as a leaf has two sides."""
CHOICES = 60
"""Setups, runs and the like that are offered by name."""


class Kind(NamedTuple):
    """A sheet: its name, what it is called, what it is for, and of what one is made."""

    name: str
    called: str
    what: str
    of: str


KINDS_OF_SHEET = (
    Kind("setup", "Setup", "everything that is bolted on, for the wall of the trailer", "setup"),
    Kind("scales", "Scales", "the weighing, the book, and rounds of the jack bolts", "setup"),
    Kind("tires", "Tires", "four tires of a setup or a run, or single ones; blank to fill in", "tires"),
    Kind("run", "Run log", "a run to read again, or blank to write on", "run"),
    Kind("bolts", "Nut and bolt", "a wrench on each fastener, in order", "list"),
    Kind("ballast", "Ballast", "where every piece of lead is", "setup"),
    Kind("rack", "Rack", "springs, bars and the rest, with their rates", "rack"),
    Kind("changes", "What changed", "two setups side by side", "two"),
    Kind("raceday", "Race day", "the day by its hours, with the setup in short", "setup"),
)

Typed = Annotated[str, Field(max_length=400)]


class SheetForm(BaseModel):
    """What may be asked of a sheet, as typed; `which` and `second` name what it is made of."""

    kind: Annotated[str, Field(max_length=20)] = "setup"
    which: Typed = ""
    second: Typed = ""
    paper: Annotated[str, Field(max_length=10)] = "letter"
    page: Annotated[int, Field(ge=1, le=99)] = 1
    rules: Typed = ""
    cross: Annotated[str, Field(max_length=20)] = ""
    event: Typed = ""
    lines: Annotated[str, Field(max_length=4000)] = ""
    fuel: Annotated[str, Field(max_length=1000)] = ""
    note: Annotated[str, Field(max_length=2000)] = ""

    def query(self, **other: object) -> str:
        """The same as the end of an address, with something else in it."""
        told = {**self.model_dump(exclude_defaults=True), "kind": self.kind, **other}
        return urlencode(told)


@dataclass(frozen=True)
class Choice:
    """Something a sheet can be made of."""

    value: str
    said: str


@dataclass(frozen=True)
class Shown:
    """One page of a sheet: its number, and where its picture is."""

    number: int
    picture: str


@dataclass(frozen=True)
class Others:
    """Pages of the same sheet that are not seen now: what they are called, and where they are seen."""

    called: str
    path: str


@dataclass(frozen=True, kw_only=True)
class SheetsPage(Page):
    """A sheet as it will be printed; `wrong` says why not, `missing` what is not there yet."""

    template: ClassVar[str] = "sheets.html"
    form: SheetForm
    kind: Kind
    choices: tuple[Choice, ...]
    books: tuple[Choice, ...]
    days: tuple[Choice, ...]
    takes: frozenset[str]
    code: str
    about: str
    pages: int
    shown: tuple[Shown, ...]
    others: tuple[Others, ...]
    pdf: str
    wrong: str
    missing: str
    kinds: tuple[Kind, ...] = KINDS_OF_SHEET
    papers: tuple[str, ...] = PAPERS


def sheets(request: Request, form: Annotated[SheetForm, Query()]) -> Response:
    """One sheet, two pages at a time."""
    kind = next((one for one in KINDS_OF_SHEET if one.name == form.kind), KINDS_OF_SHEET[0])
    form = form.model_copy(update={"kind": kind.name, "paper": _paper(form.paper)})
    wrong = missing = code = about = ""
    pages = 0
    with bench_of(request).store.reading() as session:
        typed = form
        try:
            form = _of_the_hand(request, session, typed)
            leaf = _leaf(session, form)
            about = _about(request, session, typed, leaf) if kind.of == "setup" else ""
            code, pages = leaf.stamp.code, len(drawing(leaf, paper=_paper(form.paper)))
        except Missing as problem:
            missing = sentence(str(problem))
        except (ValueError, DocumentError) as problem:
            wrong = sentence(str(problem))
        number = min(form.page, max(pages, 1))
        page = SheetsPage(
            title="Sheets",
            here="/sheets",
            form=form if kind.of == "two" else typed,
            kind=kind,
            choices=_choices(session, kind.of),
            books=_choices(session, "rules"),
            days=_choices(session, "event"),
            takes=frozenset(name for name, sheets in TAKEN_BY.items() if kind.name in sheets),
            code=code,
            about=about,
            pages=pages,
            shown=tuple(
                Shown(one, f"/sheets/page.svg?{form.query(page=one)}") for one in _together(number, pages)
            ),
            others=tuple(
                Others(_called(_together(one, pages)), f"/sheets?{form.query(page=one)}")
                for one in range(1, pages + 1, AT_ONCE)
                if number not in _together(one, pages)
            ),
            pdf=f"/sheets/sheet.pdf?{form.query()}" if pages else "",
            wrong=wrong,
            missing=missing,
        )
    return show(request, page, status=422 if wrong else 200)


def picture(request: Request, form: Annotated[SheetForm, Query()]) -> Response:
    """One page of a sheet as a picture. Raises HTTPException, DocumentError."""
    with _asked(request, form) as leaf:
        pages = drawing(leaf, paper=_paper(form.paper))
    if form.page > len(pages):
        raise HTTPException(404, "The sheet has no such page.")
    drawn = pages[form.page - 1]
    return sent(request, drawn, "image/svg+xml", packed=pack(drawn))


def pdf(request: Request, form: Annotated[SheetForm, Query()]) -> Response:
    """A sheet to print. Raises HTTPException, DocumentError."""
    with _asked(request, form) as leaf:
        made, name = (
            render(leaf, paper=_paper(form.paper)),
            "_".join(filter(None, (form.kind, leaf.stamp.code))),
        )
    told = {"Content-Disposition": f'attachment; filename="{name}.pdf"'}
    return Response(made, media_type="application/pdf", headers=told)


@contextmanager
def _asked(request: Request, form: SheetForm) -> Iterator[Leaf]:
    """A sheet of the notebook; why it cannot be made is one sentence. Raises HTTPException, DocumentError."""
    try:
        with bench_of(request).store.reading() as session:
            yield _leaf(session, _of_the_hand(request, session, form))
    except ValueError as problem:
        raise HTTPException(422, sentence(str(problem))) from None


def _together(number: int, pages: int) -> range:
    """The pages that are seen together with one."""
    first = number - (number - 1) % AT_ONCE
    return range(first, min(first + AT_ONCE, pages + 1))


def _called(pages: range) -> str:
    return f"Page {pages[0]}" if len(pages) == 1 else f"Pages {pages[0]} and {pages[-1]}"


# ---------------- what was asked for


def _paper(typed: str) -> Paper:
    return "a4" if typed == "a4" else "letter"


def _leaf(session: Session, form: SheetForm) -> Leaf:
    """The sheet ready to be laid out. Raises NotebookTrouble, DocumentError, NoSheet, ValueError."""
    if form.kind not in {one.name for one in KINDS_OF_SHEET}:
        raise NoSheet(f'"{form.kind[:30]}" is no sheet; choose one on the page')
    return leaf_of(form.kind, FromNotebook(session), _wish(form))


def _of_the_hand(request: Request, session: Session, form: SheetForm) -> SheetForm:
    """What a sheet is made of where none is named: the setup in hand, or the latest two of its car."""
    of = next((one.of for one in KINDS_OF_SHEET if one.name == form.kind), "")
    if of not in OF_THE_HAND or form.which or form.second:
        return form
    code = to_print(request, session)
    if of != "two":
        return form.model_copy(update={"which": code})
    held = shelf.revision(session, code, kind="setup") if code else next_for(request, session).setup
    same = of_same_car(session, held) if held else ()
    new = next((one for one in same if one.parent is not None), None)
    if new is None or new.parent is None:
        return form
    return form.model_copy(update={"which": new.parent.code, "second": new.code})


def _about(request: Request, session: Session, typed: SheetForm, leaf: Leaf) -> str:
    """The setup that a sheet is of, beside the one in hand; where none was named, what is kept newer."""
    setup = shelf.revision(session, leaf.stamp.code, kind="setup")
    if typed.which:
        return f"{beside_the_hand(request, session, setup, 'as asked for')}."
    said = f"{beside_the_hand(request, session, setup, usual_setup(session).why)}."
    newer = newer_than(session, setup.code)
    return f"{said} Newer ones of this car are kept: {newer}." if newer else said


def _wish(form: SheetForm) -> Wish:
    which = form.which.split(",") if form.kind == "tires" else [form.which]
    which += [form.second] if form.kind == "changes" else []
    room = {name for name, kinds in TAKEN_BY.items() if form.kind in kinds}
    return Wish(
        which=tuple(one.strip() for one in which if one.strip()),
        rules=form.rules.strip() if "rules" in room else "",
        cross=_cross(form.cross) if "cross" in room and form.cross.strip() else None,
        event=form.event.strip() if "event" in room else "",
        lines=tuple(map(schedule_line, _each(form.lines))) if "lines" in room else (),
        fuel=tuple(map(fuel_line, _each(form.fuel))) if "fuel" in room else (),
        note=form.note.strip() if "note" in room else "",
    )


def _each(typed: str) -> list[str]:
    return [line for line in map(str.strip, typed.splitlines()) if line]


def _cross(typed: str) -> float:
    try:
        return read_quantity(typed if "%" in typed else f"{typed} %", KINDS["share"]).si
    except UnitError as problem:
        raise NoSheet(f"cross wanted: {problem}") from None


def _choices(session: Session, of: str) -> tuple[Choice, ...]:
    """What there is to choose from, the latest first."""
    if of == "run":
        return tuple(
            Choice(run.code, f"run {run.number} {run.session}, {event.name}, {event.held_on}")
            for event, _ in runs.events(session, 10)
            for run in reversed(runs.runs_of(session, event))
        )[:CHOICES]
    if of == "event":
        return tuple(Choice(event.name, str(event.held_on)) for event, _ in runs.events(session, CHOICES))
    if of == "list":
        return tuple(Choice(name, "") for name in work.lists(session))
    kind = of if of in ("rack", "rules") else "setup"
    found = shelf.revisions(session, kind=kind, most=CHOICES)
    return tuple(Choice(one.code, f"{one.name}, {one.number}") for one in found)
