"""Forms half filled: which wait, and one of them opened, gone on with, finished or thrown away."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from fastapi import Form
from pydantic import BaseModel, Field
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import KINDS_OF_DOCUMENT, DocumentError
from ovalwright.notebook import drafts, shelf
from ovalwright.notebook.drafts import DraftChanged
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed import half_filled
from ovalwright.notebook.typed.at_track import Kept
from ovalwright.notebook.typed.half_filled import FORMS, Blank
from ovalwright.web.bench import bench_of
from ovalwright.web.hand import HAND
from ovalwright.web.notebook_page import NotebookPage, at_home, undoing
from ovalwright.web.page import go_to, show
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.weighings import FORM as SCALES

LONGEST_SHOWN = 200
"""Letters shown of a field that is half filled."""

Name = Annotated[str, Field(max_length=120)]
Line = Annotated[str, Field(max_length=1000)]
Text = Annotated[str, Field(max_length=4000)]


@dataclass(frozen=True)
class HalfFilled:
    """A form that waits: which, what was typed, who saved it when; `path` is where it is gone on with."""

    uid: str
    called: str
    path: str
    typed: tuple[tuple[str, str], ...]
    saved: str


class DraftForm(BaseModel):
    """Everything that a form which waits may ask; `version` is the draft as it was seen."""

    version: Annotated[int, Field(ge=0, le=2**31)] = 0
    name: Name = ""
    on: Name = ""
    track: Name = ""
    spent: Name = ""
    event: Name = ""
    setup: Name = ""
    session: Name = ""
    at: Name = ""
    driver: Name = ""
    fuel: Name = ""
    fuel_left: Name = ""
    air: Name = ""
    surface: Name = ""
    stagger: Name = ""
    run: Name = ""
    order: Name = ""
    cold_or_hot: Name = ""
    phase: Name = ""
    when: Name = ""
    feel: Name = ""
    car: Name = ""
    hit: Name = ""
    temperatures: Line = ""
    pressures: Line = ""
    columns: Line = ""
    flags: Line = ""
    line: Line = ""
    reason: Line = ""
    measured: Line = ""
    note: Text = ""
    words: Text = ""
    decided: Text = ""
    laps: Annotated[str, Field(max_length=150_000)] = ""

    def typed(self) -> dict[str, str]:
        """What was typed, by field."""
        return {name: text for name, text in self.model_dump(exclude={"version"}).items() if text}


@dataclass(frozen=True, kw_only=True)
class DraftPage(NotebookPage):
    """One form that waits; `wrong` says what is missing in it or cannot be read."""

    template: ClassVar[str] = "notebook_half.html"
    uid: str
    version: int
    saved: str
    blanks: tuple[Blank, ...]
    typed: Mapping[str, Any]
    wrong: str


def waiting(session: Session) -> Iterator[HalfFilled]:
    """The forms that wait, the last saved first; the setup in hand is none."""
    elsewhere = {SCALES: ("A weighing", "/scales")}
    for one in drafts.drafts(session):
        if one.form == HAND:
            continue
        known = (FORMS[one.form].called, f"/notebook/half-filled/{one.uid}") if one.form in FORMS else None
        called, path = known or elsewhere.get(one.form, (one.form, ""))
        typed = tuple(
            (key.replace("_", " "), _said(session, key, str(value)))
            for key, value in one.typed.items()
            if value
        )
        yield HalfFilled(one.uid, called, path, typed, _saved(one))


def _said(session: Session, key: str, value: str) -> str:
    """What was typed; a setup and a track by their names, where they are in the notebook."""
    if key in KINDS_OF_DOCUMENT:
        with contextlib.suppress(NotebookTrouble):
            value = shelf.revision(session, value, kind=key).document.name
    return value[:LONGEST_SHOWN]


def _saved(one: drafts.DraftNow) -> str:
    return f"{at_home(one.saved_at)}{f', {one.saved_by}' if one.saved_by else ''}"


def draft(request: Request, uid: str) -> Response:
    """A form that waits, opened."""
    return _shown(request, uid)


def go_on(request: Request, uid: str, form: Annotated[DraftForm, Form()]) -> Response:
    """Keep it as an entry; what cannot be kept yet is saved and comes back."""
    store = bench_of(request).store
    try:
        with store.entry("a form half filled") as session:
            kept = half_filled.finish(session, uid, form.typed(), version=form.version)
            answer = answer_once(request, session, _path(kept), done=f"draft-{uid}")
    except DraftChanged as problem:
        return _shown(request, uid, wrong=sentence(str(problem)), typed=form.typed())
    except (NotebookTrouble, DocumentError) as problem:
        with store.aside() as session:
            half_filled.save(session, uid, form.typed(), version=form.version, by=store.by)
        return _shown(request, uid, wrong=sentence(str(problem)))
    return answer


def save(request: Request, uid: str, form: Annotated[DraftForm, Form()]) -> Response:
    """Leave it as it is for later."""
    store = bench_of(request).store
    try:
        with store.aside() as session:
            half_filled.save(session, uid, form.typed(), version=form.version, by=store.by)
    except DraftChanged as problem:
        return _shown(request, uid, wrong=sentence(str(problem)), typed=form.typed())
    return go_to("/notebook#half", done=f"draft-{uid}")


def throw_away(request: Request, draft: Annotated[str, Form(max_length=32)] = "") -> Response:
    """Throw a form away that is half filled."""
    with bench_of(request).store.aside() as session:
        if drafts.draft(session, draft).form == HAND:
            raise NotebookTrouble("that is the setup in hand; put it away in the turn.")
        drafts.drop(session, draft)
    return go_to("/notebook")


def _path(kept: Kept) -> str:
    """Where what was kept is seen."""
    if kept.run:
        return f"/notebook/run/{kept.run}"
    return f"/notebook/revision/{kept.setup}" if kept.setup else "/notebook"


def _shown(
    request: Request, uid: str, *, wrong: str = "", typed: Mapping[str, str] | None = None
) -> Response:
    with bench_of(request).store.reading() as session:
        found = drafts.draft(session, uid)
        form = half_filled.form_of(found.form)
        page = DraftPage(
            title=f"{form.called}, half filled",
            tab="/notebook",
            undoing=undoing(request, session),
            uid=uid,
            version=found.version,
            saved=_saved(found),
            blanks=form.blanks,
            typed=found.typed if typed is None else typed,
            wrong=wrong,
        )
    return show(request, page, status=422 if wrong else 200)
