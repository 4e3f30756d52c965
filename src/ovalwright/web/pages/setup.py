"""Set up: which measurement narrows the answers most, what is measured and what is typical, a new car."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from fastapi import Form
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import (
    MIDDLE,
    QUESTIONS,
    Assembly,
    Conditions,
    DocumentError,
    Rack,
    Setup,
    Track,
    assemble,
    check_answer,
    understood,
)
from ovalwright.documents.car import Car
from ovalwright.documents.new import new_car
from ovalwright.documents.sheet import Sheet
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.how_measured import ToMeasure, about_key, to_measure
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack import build
from ovalwright.study.bands import Measurement
from ovalwright.study.sure import what_to_measure
from ovalwright.web import hand as hands
from ovalwright.web.bench import bench_of
from ovalwright.web.form_entry import form_entry
from ovalwright.web.joined import HAND_COOKIE, joined_for
from ovalwright.web.long_work import Job, Progress
from ovalwright.web.next_up import next_up
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.working import Progress as Shown
from ovalwright.web.pages.working import progress_of
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.weighing import WORKED_OUT
from ovalwright.web.words import amount

MOST_NARROWING = 6
LONGEST_ANSWER = 200
_NUMBER = re.compile(r"\d[\d/.]*")


@dataclass(frozen=True)
class Narrowing:
    """A measurement: the thing in words, and how sure wedge would be then."""

    thing: ToMeasure
    then: str


@dataclass(frozen=True)
class Narrows:
    """What narrows the wedge in the middle of the turn most: `now` how sure it is, the best one first."""

    about: str
    now: str = ""
    rows: tuple[Narrowing, ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class Known:
    """Of one document: how many of its numbers are measured, from a maker or tag, typical."""

    document: str
    measured: int
    told: int
    typical: int


@dataclass(frozen=True)
class Guess:
    """A number that is only typical: its key, what it is, its value, its band."""

    key: str
    about: str
    value: str
    band: str


@dataclass(frozen=True)
class Asked:
    """One question about a new car: what was typed, how it is read, and what is wrong with it."""

    key: str
    text: str
    example: str
    units: str
    typed: str = ""
    read: str = ""
    wrong: str = ""


@dataclass(frozen=True, kw_only=True)
class SetupPage(Page):
    """The page; `narrows` None where nobody asked, `progress` while it is worked at, `made` a new car."""

    template: ClassVar[str] = "setup.html"
    car: str
    progress: Shown | None
    narrows: Narrows | None
    known: tuple[Known, ...]
    typical: int
    total: int
    guesses: tuple[Guess, ...]
    questions: tuple[Asked, ...]
    answered: bool

    @property
    def first_wrong(self) -> str:
        """The key of the first answer that cannot be read."""
        return next((one.key for one in self.questions if one.wrong), "")


def setup(request: Request) -> Response:
    """The page."""
    return _shown(request, _questions({}))


def measure(request: Request) -> Response:
    """Begin to work out which measurement narrows most."""
    bench = bench_of(request)
    asked = _in_question(request)
    if asked is not None:
        key, assembly, track = asked
        bench.work.submit(key, narrowest, assembly, track, told="Trying every measurement")
    return go_to("/setup")


def narrowest(assembly: Assembly, track: Track, progress: Progress) -> tuple[Measurement, ...]:
    """The measurements that narrow the wedge in the middle of the turn, the best first."""
    return what_to_measure(build(assembly), track, Conditions(), station=MIDDLE, progress=progress)


Answer = Annotated[str, Form(max_length=LONGEST_ANSWER)]


def new(
    request: Request,
    name: Answer = "",
    axle: Answer = "",
    size: Answer = "",
    weights: Answer = "",
    fuel: Answer = "",
    driver: Answer = "",
    springs: Answer = "",
    bar: Answer = "",
    tires: Answer = "",
    track: Answer = "",
) -> Response:
    """A new car from ten answers into the notebook; the page comes back where one cannot be."""
    answers = {
        "name": name, "axle": axle, "size": size, "weights": weights, "fuel": fuel, "driver": driver,
        "springs": springs, "bar": bar, "tires": tires, "track": track,
    }  # fmt: skip
    questions = _questions(answers)
    if any(one.wrong for one in questions):
        return _shown(
            request, questions, wrong="Some answers cannot be read; what would be right stands there."
        )
    bench = bench_of(request)
    with form_entry(
        request,
        f"new car {check_answer(QUESTIONS[0], name)[0]}",
        lambda wrong: _shown(request, questions, wrong=wrong),
    ) as session:
        kept = _keep(session, new_car(answers), check_answer(QUESTIONS[0], name)[0], _read(questions))
        uid = _take_in_hand(session, request.cookies.get(HAND_COOKIE, ""), *kept)
        path = "/turn" if "/turn" in bench.paths else "/week"
        answer = answer_once(request, session, path, done="new-car")
        answer.set_cookie(HAND_COOKIE, uid, max_age=30 * 24 * 3600, httponly=True, samesite="strict")
        return answer


def _take_in_hand(session: Session, uid: str, setup: str, track: str) -> str:
    """The new car is in the hand that this device looks at, or in one more where something was changed of
    that; the hand's name.
    """
    held = hands.in_hand(session, uid)
    if held is None or (held.changes and len(hands.hands(session)) < len(hands.NAMES)):
        return hands.begin(session, setup, track=track).uid
    if held.changes:
        return held.uid
    return hands.choose(session, held.uid, held.version, base=setup, other="", track=track, end=1).uid


def _read(questions: tuple[Asked, ...]) -> str:
    """How the answers were read, where other numbers were made of them than were typed."""
    other = [one for one in questions if one.read and _NUMBER.findall(one.read) != _NUMBER.findall(one.typed)]
    told = "; ".join(f"{one.key} {one.read}" for one in other)
    return f"ten questions, read as: {told}" if told else "ten questions"


def _keep(session: Session, texts: Mapping[str, str], car: str, reason: str) -> tuple[str, str]:
    """The documents of a new car, each by the name of the car, so that two cars never share one; the codes of
    its setup and track.
    """
    setup = Setup.from_text(texts["setup.toml"], name="setup.toml").changed({"name": f"{car}, baseline"})
    sheet = Sheet.from_text(texts["sheet.toml"], name="sheet.toml").changed({"name": f"{car}, scales"})
    track = Track.from_text(texts["track.toml"], name="track.toml").changed({"name": f"{car}, home track"})
    rack = Rack.from_text(texts["rack.toml"], name=f"{car} rack.toml")
    joined = assemble(setup, car=Car.from_text(texts["car.toml"], name="car.toml"), sheet=sheet, rack=rack)
    kept = shelf.keep_assembly(session, setup, joined, reason=reason)
    return kept.code, shelf.keep(session, track, reason=reason).code


# ---------------- the page in words


def _shown(request: Request, questions: tuple[Asked, ...], *, wrong: str = "") -> Response:
    bench = bench_of(request)
    asked = _in_question(request)
    job = bench.work.look(asked[0]) if asked else None
    assembly = asked[1] if asked else _any_car(bench.store)
    known = _known(assembly) if assembly else ()
    page = SetupPage(
        title="Set up",
        here="/setup",
        notices=(Notice(wrong, trouble=True),) if wrong else (),
        car=assembly.car.name if assembly else "",
        progress=progress_of(job, again="/setup", target="narrows", at="/setup") if job else None,
        narrows=_narrows(job, asked[1]) if job and asked and job.is_over else None,
        known=known,
        typical=sum(one.typical for one in known),
        total=sum(one.typical + one.told + one.measured for one in known),
        guesses=_guesses(assembly) if assembly else (),
        questions=questions,
        answered=any(one.typed for one in questions),
    )
    return show(request, page, status=422 if wrong else 200)


def _in_question(request: Request) -> tuple[object, Assembly, Track] | None:
    """The setup in hand and its track, that measurements are tried on, and the key of that work."""
    with bench_of(request).store.reading() as session:
        try:
            joined = joined_for(request, session)
        except NotebookTrouble:
            return None
    return ("measure", *joined.key), joined.now, joined.track


def _any_car(store: Store) -> Assembly | None:
    with store.reading() as session:
        ahead = next_up(session, dt.date.today())
        return shelf.assembly_of(session, ahead.setup) if ahead.setup else None


def _narrows(job: Job, assembly: Assembly) -> Narrows:
    if job.state != "done":
        return Narrows(assembly.setup.name, trouble=job.trouble or "Stopped before it was done.")
    best: tuple[Measurement, ...] = job.answer
    rows = tuple(Narrowing(to_measure(one.what), _sure(one.after)) for one in best[:MOST_NARROWING])
    return Narrows(assembly.setup.name, _sure(best[0].before) if best else "", rows)


def _sure(deviation: float) -> str:
    """Half of a 95 % band of wedge."""
    return f"\N{PLUS-MINUS SIGN}{amount(1.96 * deviation, 'percent')}"


def _known(assembly: Assembly) -> tuple[Known, ...]:
    """Of each document; what stands on a sheet was read off the scales, unless it was worked out."""
    found = []
    for name, document in (("Car", assembly.car), ("Setup", assembly.setup), ("Scale sheet", assembly.sheet)):
        counts = Counter(entry.value.evidence for entry in document.entries())
        told = sum(counts.values()) - counts["measured"] - counts["typical"]
        is_read = document is assembly.sheet and assembly.sheet.scale != WORKED_OUT
        measured = counts["measured"] + (told if is_read else 0)
        found.append(Known(name, measured, 0 if is_read else told, counts["typical"]))
    return tuple(found)


def _guesses(assembly: Assembly) -> tuple[Guess, ...]:
    """The typical numbers of the car itself, which a tape measure can replace."""
    found = []
    for entry in assembly.car.entries():
        if not entry.value.known:
            give: Any = entry.value.give_or_take
            half = max(give) if isinstance(give, tuple) else give
            band = f"\N{PLUS-MINUS SIGN}{amount(half, entry.kind.name)}" if half else ""
            key = ".".join(map(str, entry.path))
            found.append(Guess(key, about_key(Car, entry.path), entry.value.text, band))
    return tuple(found)


def _questions(answers: Mapping[str, str]) -> tuple[Asked, ...]:
    found = []
    for one in QUESTIONS:
        typed, read, wrong = answers.get(one.key, ""), "", ""
        if answers:
            try:
                read = understood(one, typed)
            except DocumentError as problem:
                said = str(problem).partition(": ")[2]
                right = f"{one.example}, or none" if one.key == "bar" else one.example
                wrong = sentence(said if typed.strip() else f"this is not answered; write such as {right}")
        found.append(Asked(one.key, one.text, one.example, one.usual_units, typed, read, wrong))
    return tuple(found)
