"""Set up: which measurement narrows the answers most, what is measured and what is typical, a new car."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import Form, Query
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
from ovalwright.notebook import shelf, undo
from ovalwright.notebook.garage.how_measured import ToMeasure, to_measure
from ovalwright.notebook.known import named, numbers
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack import build
from ovalwright.study.bands import Measurement
from ovalwright.study.sure import what_to_measure
from ovalwright.web import hand as hands
from ovalwright.web.bench import bench_of
from ovalwright.web.form_entry import form_entry
from ovalwright.web.joined import hand_on, joined_for, look_from_now_on, looked_at
from ovalwright.web.known_here import Group, Known, how_known, listed, press_to_type, setup_here, where_typed
from ovalwright.web.long_work import Job, Progress
from ovalwright.web.notebook_page import LastEntry
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.setup_kept import JustKept, just_kept, key_of, path_of
from ovalwright.web.pages.working import Progress as Shown
from ovalwright.web.pages.working import progress_of
from ovalwright.web.sent_once import answer_once
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount

MOST_NARROWING = 6
LONGEST_ANSWER = 200
_NUMBER = re.compile(r"\d[\d/.]*")


@dataclass(frozen=True)
class Narrowing:
    """A measurement: the thing in words, where it is typed, by what press; how sure wedge would be then."""

    thing: ToMeasure
    path: str
    press: str
    then: str


@dataclass(frozen=True)
class Narrows:
    """What narrows the wedge in the middle of the turn most: `now` how sure it is, the best one first."""

    about: str
    now: str = ""
    rows: tuple[Narrowing, ...] = ()
    trouble: str = ""


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
    """The page; `narrows` None where nobody asked, `progress` while it is worked at; what was just
    `kept`, or taken back and can be put back.
    """

    template: ClassVar[str] = "setup.html"
    car: str
    progress: Shown | None
    narrows: Narrows | None
    kept: JustKept | None
    put_back: LastEntry | None
    known: tuple[Known, ...]
    typical: int
    total: int
    groups: tuple[Group, ...]
    questions: tuple[Asked, ...]
    answered: bool

    @property
    def first_wrong(self) -> str:
        """The key of the first answer that cannot be read."""
        return next((one.key for one in self.questions if one.wrong), "")


def setup(
    request: Request,
    was: Annotated[str, Query(max_length=12)] = "",
    now: Annotated[str, Query(max_length=12)] = "",
    taken: Annotated[str, Query(max_length=4)] = "",
) -> Response:
    """The page; with `was` and `now`, a setup before and after a measurement, what that changed and narrowed;
    after one was `taken` back, with one press that puts it back. Raises NotebookTrouble.
    """
    return _shown(request, _questions({}), was=was, now=now, taken=bool(taken))


def measure(request: Request) -> Response:
    """Begin to work out which measurement narrows most. Raises TooBusy."""
    begin_measuring(request)
    return go_to("/setup")


def begin_measuring(request: Request) -> None:
    """The same, without an answer."""
    asked = _in_question(request)
    if asked is not None:
        key, assembly, track = asked
        bench_of(request).work.submit(key, narrowest, assembly, track, told="Trying every measurement")


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
        uid = _take_in_hand(session, hand_on(request), *kept)
        path = "/turn" if "/turn" in bench.paths else "/week"
        answer = answer_once(request, session, path, done="new-car")
        look_from_now_on(answer, uid)
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


def _shown(
    request: Request,
    questions: tuple[Asked, ...],
    *,
    wrong: str = "",
    was: str = "",
    now: str = "",
    taken: bool = False,
) -> Response:
    bench = bench_of(request)
    asked = _in_question(request)
    job = bench.work.look(asked[0]) if asked else None
    with bench.store.reading() as session:
        here = setup_here(request, session)
        assembly = shelf.assembly_of(session, here) if here else None
        found = numbers(session, here) if here else {}
        kept = _kept(request, session, was, now) if was and now else None
        again = undo.next_to_put_back(session, by=bench.store.by) if taken else None
    again_at = path_of(was, now) if kept else "/setup"
    known = how_known(found, assembly.sheet.scale) if assembly else ()
    said = [Notice(wrong, trouble=True)] if wrong else []
    said += [Notice(f"Taken back: {again.what}.")] if again else []
    page = SetupPage(
        title="Set up",
        here="/setup",
        notices=tuple(said),
        car=assembly.car.name if assembly else "",
        progress=progress_of(job, again=again_at, target="narrows", at="/setup") if job else None,
        narrows=_narrows(job, asked[1]) if job and asked and job.is_over else None,
        kept=kept,
        put_back=LastEntry(again.number, again.what) if again else None,
        known=known,
        typical=sum(one.typical for one in known),
        total=sum(one.typical + one.told + one.measured for one in known),
        groups=tuple(one for one in listed(found) if one.rows),
        questions=questions,
        answered=any(one.typed for one in questions),
    )
    return show(request, page, status=422 if wrong else 200)


def _kept(request: Request, session: Session, was: str, now: str) -> JustKept:
    """What a measurement changed. Raises NotebookTrouble."""
    bench = bench_of(request)
    try:
        track = looked_at(session, hand_on(request)).track
    except NotebookTrouble:
        track = ""
    job = bench.work.look(key_of(was, now, track)) if track else None
    return just_kept(session, was, now, job, by=bench.store.by, has_track=bool(track))


def _in_question(request: Request) -> tuple[object, Assembly, Track] | None:
    """The setup in hand and its track, that measurements are tried on, and the key of that work."""
    with bench_of(request).store.reading() as session:
        try:
            joined = joined_for(request, session)
        except NotebookTrouble:
            return None
    return ("measure", *joined.key), joined.now, joined.track


def _narrows(job: Job, assembly: Assembly) -> Narrows:
    if job.state != "done":
        return Narrows(assembly.setup.name, trouble=job.trouble or "Stopped before it was done.")
    best: tuple[Measurement, ...] = job.answer
    rows = tuple(_narrowing(named(one.what), one.after) for one in best[:MOST_NARROWING])
    return Narrows(assembly.setup.name, _sure(best[0].before) if best else "", rows)


def _narrowing(name: str, after: float) -> Narrowing:
    path = where_typed(name)
    return Narrowing(to_measure(name), path, press_to_type(path), _sure(after))


def _sure(deviation: float) -> str:
    """Half of a 95 % band of wedge."""
    return f"\N{PLUS-MINUS SIGN}{amount(1.96 * deviation, 'percent')}"


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
