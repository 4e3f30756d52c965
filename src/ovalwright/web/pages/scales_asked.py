"""What somebody at the pads asks: the car, what he typed, kept as a draft that no other hand undoes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Form
from sqlalchemy.orm import Session
from starlette.requests import Request

from ovalwright.documents import Rules
from ovalwright.notebook.drafts import DraftChanged, DraftNow
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web import lead_work, weighings
from ovalwright.web.at_the_pads import car_on_pads, race_of
from ovalwright.web.bench import bench_of
from ovalwright.web.door import who
from ovalwright.web.joined import next_for
from ovalwright.web.troubles import sentence
from ovalwright.web.weighing import (
    CALLED,
    PASSING,
    SWAPS,
    Weighing,
    cross_stepped,
    is_begun,
    read,
    swapped_back,
)
from ovalwright.web.weighings import OnTheScales

PATH = "/scales"
CROSS_STEPS = {"less cross": -0.005, "more cross": 0.005}
"""What is pressed beside the cross that is wanted, and by how much it steps (common practice, no source)."""
NO_BOOK = Rules(name="no book")

Sent = Annotated[Weighing, Form()]


@dataclass(frozen=True)
class Clash:
    """Another phone saved other readings: what it saved, and the version that stands."""

    said: str
    version: int


@dataclass(frozen=True)
class Asked:
    """What a request is about: the car on the pads, what was typed, and where that is kept."""

    on: OnTheScales
    typed: Mapping[str, str]
    draft: DraftNow | None
    aim: str = ""
    move: tuple[str, str] = ("", "")


def saved(request: Request, sent: Sent) -> tuple[Asked, Clash | None]:
    """What was sent, kept as a draft, unless another phone was quicker."""
    told = {key: str(value) for key, value in sent.model_dump().items()}
    uid, version, press, aim, piece, spot = (told.pop(key) for key in PASSING)
    with bench_of(request).store.reading() as session:
        on = weighings.on_the_scales(session, told["setup"], next_for(request, session).setup)
    if on is None:
        raise NotebookTrouble("no setup is in the notebook yet; set up a car first.")
    told["setup"] = on.setup.code
    if press in CROSS_STEPS:
        told["cross"] = cross_stepped(told, on.assembly.sheet, CROSS_STEPS[press])
    if press in SWAPS:
        told = swapped_back(told, press)
    if not uid and not is_begun(told, on.assembly.sheet):
        return Asked(on, told, None, aim, (piece, spot)), None
    try:
        with bench_of(request).store.aside() as session:
            draft = weighings.save(
                session,
                told,
                uid="" if press == "both" else uid,
                version=number(version),
                about=on.about,
                by=who(request),
            )
    except DraftChanged as problem:
        clash = Clash(sentence(problem.said(lambda key: CALLED.get(key, key))), problem.theirs.version)
        return Asked(on, told, problem.theirs, aim, (piece, spot)), clash
    return Asked(on, told, draft, aim, (piece, spot)), None


def kept_as(on: OnTheScales) -> str:
    """Under which a device keeps what is typed of this car."""
    return f"scales-{on.setup.code}"


def number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < 10 else 0


def address(asked: Asked) -> str:
    told = {"draft": asked.draft.uid} if asked.draft else {"setup": asked.on.setup.code}
    return f"{PATH}?{urlencode(told)}"


def books_of(session: Session, typed: Mapping[str, str]) -> tuple[Rules, ...]:
    """The rule book that was chosen, else every book of the notebook."""
    told = weighings.books(session)
    chosen = [one for one in told if one.code == typed.get("book")] or list(told)
    return tuple(weighings.book(session, one.code) for one in chosen)


def by_hand(request: Request, asked: Asked) -> lead_work.Found | None:
    """The lead as it was moved by hand. Raises DocumentError, ValueError."""
    moves = asked.typed.get("moves", "")
    if not moves:
        return None
    with bench_of(request).store.reading() as session:
        book = next(iter(books_of(session, asked.typed)), NO_BOOK)
    found = read(asked.typed)
    assembly = car_on_pads(asked.on, found, asked.typed)
    return lead_work.by_hand(assembly, book, race_of(asked.on.assembly, found), moves)
