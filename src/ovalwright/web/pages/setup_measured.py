"""Set up: one number as it was measured, typed and kept; taken back; what it narrowed."""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import Form, Query
from pydantic import BaseModel, Field
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.cautions import BOOK
from ovalwright.notebook.garage.how_measured import ToMeasure, to_measure
from ovalwright.notebook.known import SAID, Number, number
from ovalwright.notebook.measured import keep_measured
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.measured_form import (
    EVERY,
    GIVE,
    OTHER_TOOL,
    TOOL,
    MeasuredForm,
    Mistyped,
    read_form,
    tools_of,
    was_measured,
)
from ovalwright.web import hand as hands
from ovalwright.web.bench import bench_of
from ovalwright.web.door import who
from ovalwright.web.form_fields import Choice
from ovalwright.web.form_fields import Field as Shown
from ovalwright.web.joined import joined_for, take_up
from ovalwright.web.known_here import MEASURED, SCALES, band, setup_here, typed, where_typed
from ovalwright.web.long_work import TooBusy
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.setup import begin_measuring
from ovalwright.web.pages.setup_kept import key_of, narrowing, path_of
from ovalwright.web.sent_once import answer_once
from ovalwright.web.taken_back import take_back
from ovalwright.web.troubles import sentence

VALUE = "value"
"""The field of a number that is at one place only."""
LABELS = {VALUE: "What you read", EVERY: "The same at every one"}
NO_SETUP = "no setup is in the notebook yet; set up a car first, then measure it."
Line = Annotated[str, Field(max_length=200)]
Readings = Annotated[str, Field(max_length=1000)]


class Sent(BaseModel):
    """What the form holds: `of` is the name of the number, `was` what stood there when it was looked at."""

    of: Line = ""
    was: Annotated[str, Field(max_length=2000)] = ""
    value: Readings = ""
    every: Readings = ""
    LF: Readings = ""
    RF: Readings = ""
    LR: Readings = ""
    RR: Readings = ""
    origin: Line = "measured"
    tool: Line = ""
    give: Line = ""
    together: Line = ""
    words: Line = ""

    @property
    def form(self) -> MeasuredForm:
        """The same for the notebook, which calls the only place nothing."""
        readings = {
            "": self.value,
            EVERY: self.every,
            "LF": self.LF,
            "RF": self.RF,
            "LR": self.LR,
            "RR": self.RR,
        }
        return MeasuredForm(readings, self.origin, self.tool, self.give, bool(self.together), self.words)


@dataclass(frozen=True)
class Standing:
    """What stands there now: where, how much, how sure, from where."""

    place: str
    value: str
    give: str
    origin: str
    is_typical: bool


@dataclass(frozen=True, kw_only=True)
class MeasuredPage(Page):
    """The form of one number; `kept_as` names what the device keeps of it, `sure` the field of how sure."""

    template: ClassVar[str] = "setup_measured.html"
    of: str
    was: str
    kept_as: str
    thing: ToMeasure
    builder: str
    standing: tuple[Standing, ...]
    written: tuple[str, ...]
    fields: tuple[Shown, ...]
    hint: str
    tools: tuple[Choice, ...]
    tool_wrong: str
    sure: Shown
    origins: tuple[Choice, ...]
    may_be_together: bool
    together: bool
    words: str


# ---------------- looking


def measured(request: Request, of: Annotated[str, Query(max_length=200)] = "") -> Response:
    """The form of one number, by its name. Raises NotebookTrouble."""
    with bench_of(request).store.reading() as session:
        what, stands = _looked_at(request, session, of)[1:]
    elsewhere = where_typed(what.name)
    if not elsewhere.startswith(MEASURED):
        return go_to(SCALES)
    return _shown(request, what, Sent(of=what.name), stands)


def _looked_at(request: Request, session: Session, name: str) -> tuple[Revision, Number, str]:
    """The setup in hand, a number of it, and what stands there, as the form remembers it: how much, how sure,
    from where, on which setup. Raises NotebookTrouble.
    """
    setup = _setup(request, session)
    what = number(session, setup, name)
    told = ((one.entry.value.text, band(one.entry), SAID[one.entry.value.evidence]) for one in what.held)
    stands = "; ".join(" ".join(filter(None, one)) for one in told)
    return setup, what, f"{stands}, on {setup.document.name}"


def _setup(request: Request, session: Session) -> Revision:
    found = setup_here(request, session)
    if found is None:
        raise NotebookTrouble(NO_SETUP)
    return found


def _shown(
    request: Request,
    what: Number,
    sent: Sent,
    stands: str,
    *,
    wrong: Mapping[str, str] | None = None,
    said: str = "",
) -> Response:
    wrong, thing = wrong or {}, to_measure(what.name)
    page = MeasuredPage(
        title="Measured",
        here="/setup",
        notices=(Notice(said, trouble=True),) if said else (),
        of=what.name,
        was=stands,
        kept_as=_kept_as(what),
        thing=thing,
        builder=BOOK,
        standing=_standing(what),
        written=tuple(one.lives.said for one in what.held),
        fields=_fields(what, sent, wrong),
        hint=_hint(what),
        tools=_tools(what, sent.tool),
        tool_wrong=wrong.get(TOOL, ""),
        sure=Shown(
            GIVE,
            "Give or take, if you know it better",
            sent.give,
            tools_of(what)[0].give,
            wrong.get(GIVE, ""),
        ),
        origins=(
            Choice("measured", "I measured it", sent.origin != "maker"),
            Choice("maker", "It is the maker's figure", sent.origin == "maker"),
        ),
        may_be_together=was_measured(what),
        together=bool(sent.together),
        words=sent.words,
    )
    return show(request, page, status=422 if wrong or said else 200)


def _kept_as(what: Number) -> str:
    """Under what a device keeps what is typed."""
    return f"measured-{re.sub('[^a-z0-9]+', '-', what.name.lower())}"


def _standing(what: Number) -> tuple[Standing, ...]:
    """What stands there; corners that are alike once."""
    found: dict[tuple[str, str, str, bool], list[str]] = {}
    for one in what.held:
        value = one.entry.value
        told = (typed(one.entry), band(one.entry), SAID[value.evidence], not value.known)
        found.setdefault(told, []).append(one.corner if len(what.held) > 1 else "")
    return tuple(Standing(", ".join(filter(None, places)), *told) for told, places in found.items())


def _fields(what: Number, sent: Sent, wrong: Mapping[str, str]) -> tuple[Shown, ...]:
    several = len(what.held) > 1
    names = (EVERY, *what.places) if several else (VALUE,)
    told = f"such as {what.first.value.text}"
    typed = sent.model_dump()
    return tuple(
        Shown(name, LABELS.get(name, name), typed[name], told, wrong.get("" if name == VALUE else name, ""))
        for name in names
    )


def _hint(what: Number) -> str:
    unit = what.first.kind.us
    bare = f"Without a unit: {unit}. " if unit else ""
    if what.is_point:
        return f"{bare}Write x, y, z. Several readings: a semicolon between them."
    return (
        f"{bare}Several readings: a semicolon or a blank between them; their mean counts, and their scatter."
    )


def _tools(what: Number, chosen: str) -> tuple[Choice, ...]:
    tools = tools_of(what)
    named = [(one.name, f"{one.name}, \N{PLUS-MINUS SIGN}{one.give}") for one in tools]
    named.append((OTHER_TOOL, "something else"))
    return tuple(Choice(code, said, code == (chosen or tools[0].name)) for code, said in named)


# ---------------- keeping


def keep(request: Request, sent: Annotated[Sent, Form()]) -> Response:
    """Keep what was measured; the form comes back with everything where that cannot be."""
    store = bench_of(request).store
    try:
        with store.entry("measured") as session:
            setup, what, stands = _looked_at(request, session, sent.of)
            if stands != sent.was:
                raise NotebookTrouble(
                    f"Meanwhile it is {stands}; press Keep again to put yours in its place."
                )
            read = read_form(what, sent.form)
            kept = keep_measured(session, setup, what, read.readings, reason=read.reason, on=dt.date.today())
            if hands.hands(session):
                hands.follow(session, kept.moved, by=who(request))
            else:
                take_up(session, kept.was.code, kept.now.code)
            was, now = kept.was.code, kept.now.code
            answer = answer_once(request, session, path_of(was, now), done=_kept_as(what))
    except (DocumentError, NotebookTrouble) as problem:
        with store.reading() as session:
            what, stands = _looked_at(request, session, sent.of)[1:]
        if isinstance(problem, Mistyped):
            wrong = {field: sentence(said) for field, said in problem.wrong.items()}
            return _shown(request, what, sent, sent.was, wrong=wrong)
        return _shown(request, what, sent, stands, said=sentence(str(problem)))
    with contextlib.suppress(TooBusy, NotebookTrouble, DocumentError):
        _begin_narrowing(request, was, now)
        begin_measuring(request)
    return answer


def narrow(
    request: Request,
    was: Annotated[str, Form(max_length=12)] = "",
    now: Annotated[str, Form(max_length=12)] = "",
) -> Response:
    """Begin to find what a measurement narrowed. Raises NotebookTrouble, TooBusy."""
    _begin_narrowing(request, was, now)
    return go_to(path_of(was, now))


def _begin_narrowing(request: Request, was: str, now: str) -> None:
    bench = bench_of(request)
    with bench.store.reading() as session:
        joined = joined_for(request, session)
        before, after = (
            shelf.assembly_of(session, shelf.revision(session, code, kind="setup")) for code in (was, now)
        )
    key = key_of(was, now, joined.hand.track)
    bench.work.submit(key, narrowing, before, after, joined.track, told="What it narrowed")


def back(
    request: Request,
    setup: Annotated[str, Form(max_length=12)] = "",
    entry: Annotated[str, Form(max_length=12)] = "",
) -> Response:
    """Take back what was measured last. Raises NotebookTrouble."""
    take_back(bench_of(request).store, setup, entry)
    return go_to("/setup?taken=yes")
