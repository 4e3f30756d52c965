"""Lap and run: the setup in hand around its track, alone or against another, with bands on request."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, ClassVar
from urllib.parse import urlencode

import pydantic
from fastapi import Form, Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import Assembly, DocumentError
from ovalwright.notebook import shelf
from ovalwright.notebook.asked.here_before import BestLap, best_here
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.pack.grooves import groove_names
from ovalwright.pictures.chart import Chart
from ovalwright.units import GALLON, UnitError
from ovalwright.web.bench import Bench, bench_of
from ovalwright.web.day_here import Day, usual_day
from ovalwright.web.form_fields import Choice, Field, quantity_of
from ovalwright.web.joined import Joined, joined_for
from ovalwright.web.kept import Lately
from ovalwright.web.lap_words import Shown, shown
from ovalwright.web.lap_work import Asked, Driven, LapTold, at_once, drive
from ovalwright.web.long_work import Job, TooBusy
from ovalwright.web.one_lap_words import OneLap, beside_best, letters_of, one_lap
from ovalwright.web.page import Notice, Page, go_to, show
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount

PATH = "/laps"
LAPS, MOST_LAPS = 40, 200
TRIM_FUEL = 3.0 * GALLON
"""Fuel for two laps and the way in [m^3] (common practice, no source)."""
DRAWS = 64
MOST_SETUPS = 30
KINDS_TYPED = {
    "fuel": "volume",
    "trim": "volume",
    "best": "lap_time",
    "air": "temperature",
    "surface": "temperature",
}
"""Fields that hold a quantity, by its kind."""
REMEMBERED = "laps"
"""Under which a browser keeps what it last asked for, to come back to."""
ALONE = "alone"
"""Stands for no other setup."""
_AT_ONCE: Lately[tuple[Chart, tuple[LapTold, ...], tuple[str, ...]]] = Lately(12)
STOPPED = "The study was stopped; ask for it again."


@dataclass(frozen=True)
class Logged:
    """The best lap of the notebook beside what was computed, and the same drive matched to it."""

    said: str
    button: str
    address: str


@dataclass(frozen=True, kw_only=True)
class LapsPage(Page):
    """The page; `empty` says why nothing can be driven. `typed` is what the address says, `plan` the same in
    words; `lap` is driven at once, while the run was not asked for.
    """

    template: ClassVar[str] = "laps.html"
    empty: str = ""
    names: tuple[str, ...] = ()
    track: str = ""
    plan: str = ""
    lap: OneLap | None = None
    typed: Mapping[str, str] = field(default_factory=dict)
    fields: tuple[Field, ...] = ()
    wrong: tuple[str, ...] = ()
    grooves: tuple[Choice, ...] = ()
    others: tuple[Choice, ...] = ()
    shown: Shown | None = None
    progress: Progress | None = None
    trouble: str = ""
    has_bands: bool = False
    may_have_bands: bool = False
    logged: Logged | None = None


@dataclass(frozen=True)
class Case:
    """What is to be driven: A and, where there are two, B, with their names; fields as typed and as read."""

    joined: Joined
    cars: tuple[Assembly, ...]
    codes: tuple[str, ...]
    names: tuple[str, ...]
    typed: Mapping[str, str]
    asked: Asked
    wrong: Mapping[str, str]
    day: Day
    logged: BestLap | None

    def key(self, draws: int) -> tuple[object, ...]:
        """What an answer depends on."""
        return ("laps", self.codes, *self.joined.key, self.asked, draws)

    @property
    def address(self) -> str:
        """The page of this case."""
        return self.address_with()

    def address_with(self, **typed: str) -> str:
        """The page of this case with other fields."""
        told = {key: text for key, text in {**self.typed, **typed}.items() if text}
        return f"{PATH}?{urlencode(told)}" if told else PATH


_Text = Annotated[str, pydantic.Field(max_length=40)]


class Wanted(pydantic.BaseModel):
    """What is typed: a text for every field."""

    laps: _Text = ""
    fuel: _Text = ""
    trim: _Text = ""
    groove: _Text = ""
    best: _Text = ""
    air: _Text = ""
    surface: _Text = ""
    other: _Text = ""


class Again(Wanted):
    """The same, driven once more; with `bands` in many draws."""

    bands: _Text = ""


def laps(request: Request, wanted: Annotated[Wanted, Query()]) -> Response:
    """The page: what is known of the setup in hand; a drive begins where the form was sent."""
    typed = wanted.model_dump()
    if any(typed.values()):
        return _shown(request, typed, begins=True)
    return _shown(request, {key: str(request.session.get(REMEMBERED, {}).get(key, "")) for key in typed})


def ask(request: Request, sent: Annotated[Again, Form()]) -> Response:
    """Drive once more, or with `bands` in many draws, which takes a while."""
    typed = sent.model_dump()
    bands = typed.pop("bands")
    with bench_of(request).store.reading() as session:
        case = _case(session, request, typed)
    if case.wrong:
        return _shown(request, typed)
    _begin(bench_of(request), case, DRAWS if bands and len(case.cars) > 1 else 0)
    return go_to(case.address)


def _begin(bench: Bench, case: Case, draws: int) -> Job:
    a, b = case.cars[0], case.cars[1] if len(case.cars) > 1 else None
    told = f"Driving {case.asked.laps} laps{f' in {draws} draws' if draws else ''}"
    documents = (a, b, case.names, case.joined.track, case.asked, draws)
    return bench.work.submit(case.key(draws), drive, *documents, told=told)


# ---------------- what is asked


def _case(session: Session, request: Request, typed: Mapping[str, str]) -> Case:
    """What a request asks to drive. Raises NotebookTrouble, DocumentError."""
    joined = joined_for(request, session)
    hand, wrong = joined.hand, {}
    changed = f" with {len(hand.changes)} changed" if hand.changes else ""
    cars: tuple[Assembly, ...] = (joined.now,)
    codes: tuple[str, ...] = (hand.base,)
    names: tuple[str, ...] = (f"{joined.names[hand.base]}, in hand{changed}",)
    before = typed["other"] or hand.other or (hand.base if hand.changes else ALONE)
    if before != ALONE and (before != hand.base or hand.changes):
        try:
            rival = shelf.revision(session, before, kind="setup")
            cars, codes = (shelf.assembly_of(session, rival), *cars), (rival.code, *codes)
            names = (f"{rival.document.name}, revision {rival.number}", *names)
        except NotebookTrouble as problem:
            wrong["other"] = sentence(str(problem))
    track = shelf.revision(session, hand.track, kind="track")
    day = usual_day(session, track)
    asked, mistakes = _asked(joined, typed, day)
    logged = best_here(session, shelf.revision(session, hand.base, kind="setup"), track)
    return Case(joined, cars, codes, names, typed, asked, {**wrong, **mistakes}, day, logged)


def _asked(joined: Joined, typed: Mapping[str, str], day: Day) -> tuple[Asked, dict[str, str]]:
    """The fields as read; what cannot be read stands in for its usual value, with what would be right."""
    cell, wrong = joined.now.car.fuel_cell, {}
    told = {"fuel": cell.capacity.si, "trim": min(TRIM_FUEL, cell.capacity.si), "best": 0.0}
    told |= {"air": day.air, "surface": day.surface}
    for key, kind in KINDS_TYPED.items():
        if not typed[key].strip():
            continue
        try:
            told[key], _ = quantity_of(typed[key].strip(), kind)
        except UnitError as problem:
            wrong[key] = sentence(str(problem))
        if kind == "volume" and told[key] > cell.capacity.si:
            wrong[key] = f"That does not go into a cell of {amount(cell.capacity.si, 'volume')}; type less."
    count = typed["laps"].strip() or str(LAPS)
    laps = int(count) if count.isdecimal() and len(count) < 5 else 0
    if not 1 <= laps <= MOST_LAPS:
        wrong["laps"] = f'"{count[:20]}" laps cannot be driven here; type 1 to {MOST_LAPS}.'
    groove = typed["groove"] or "middle"
    if groove not in groove_names(joined.track):
        wrong["groove"] = f"That is no groove of it; the grooves are {', '.join(groove_names(joined.track))}."
    fuel, trim = (told[key] * cell.density.si for key in ("fuel", "trim"))
    asked = Asked(laps or LAPS, fuel, trim, groove, told["best"] or None, told["air"], told["surface"])
    return asked, wrong


# ---------------- the page in words


def _shown(request: Request, typed: Mapping[str, str], *, begins: bool = False) -> Response:
    bench = bench_of(request)
    try:
        with bench.store.reading() as session:
            case = _case(session, request, typed)
            others = _others(session, case)
    except NotebookTrouble as problem:
        return show(request, LapsPage(title="Lap and run", here=PATH, empty=sentence(str(problem))))
    page = _page(case, others)
    if case.wrong:
        return show(request, page, status=422)
    request.session[REMEMBERED] = dict(typed)
    whole, quick = (bench.work.look(case.key(draws)) for draws in (DRAWS, 0))
    if begins and quick is None and whole is None:
        try:
            quick = _begin(bench, case, 0)
        except TooBusy as problem:
            page = replace(page, notices=(Notice(str(problem), trouble=True),))
    jobs = [job for job in (whole, quick) if job is not None]
    page = _with_work(page, case, jobs)
    return show(request, page if page.shown else _with_a_lap(page, case))


def _with_a_lap(page: LapsPage, case: Case) -> LapsPage:
    """One lap, which is driven at once while nothing more is known."""
    a, b = case.cars[0], case.cars[1] if len(case.cars) > 1 else None
    track, asked = case.joined.track, case.asked
    try:
        chart, told, held = _AT_ONCE.of(case.key(0), lambda: at_once(a, b, case.names, track, asked))
    except (DocumentError, ValueError) as problem:
        return replace(page, trouble=page.trouble or sentence(str(problem)))
    notices = (*page.notices, *(Notice(one) for one in held))
    return replace(page, notices=notices, lap=one_lap(chart, told, letters_of(case.names), None))


def _page(case: Case, others: tuple[Choice, ...]) -> LapsPage:
    capacity = case.joined.now.car.fuel_cell.capacity.si
    names = groove_names(case.joined.track)
    return LapsPage(
        title="Lap and run",
        here=PATH,
        names=case.names,
        track=case.joined.track.name,
        plan=_plan(case),
        typed=case.typed,
        fields=tuple(
            Field(key, label, case.typed[key], example, case.wrong.get(key, ""), "decimal")
            for key, label, example in (
                ("laps", "Laps", str(LAPS)),
                ("fuel", "Fuel at the start", amount(capacity, "volume")),
                ("trim", "Fuel for two laps", amount(min(TRIM_FUEL, capacity), "volume")),
                ("best", "Best lap, if known", "not known"),
                ("air", "Air", amount(case.day.air, "temperature")),
                ("surface", "Track surface", amount(case.day.surface, "temperature")),
            )
        ),
        wrong=tuple(case.wrong[key] for key in ("groove", "other") if key in case.wrong),
        grooves=tuple(Choice(name, name, name == case.asked.groove) for name in names),
        others=others,
        may_have_bands=len(case.cars) > 1,
        logged=_logged(case, math.nan),
    )


def _logged(case: Case, computed: float) -> Logged | None:
    """The best lap of the notebook beside a computed one [s], unless a lap is matched already."""
    if case.logged is None or case.asked.best is not None or "best" in case.wrong:
        return None
    time = amount(case.logged.time, "lap_time")
    return Logged(beside_best(case.logged, computed), f"Match to {time}", case.address_with(best=time))


def _plan(case: Case) -> str:
    """What is driven, on which day, in one line."""
    asked, day = case.asked, case.day
    density = case.joined.now.car.fuel_cell.density.si
    air, surface = (amount(told, "temperature") for told in (asked.air, asked.surface))
    said = "as typed" if (asked.air, asked.surface) != (day.air, day.surface) else day.said
    return (
        f"{asked.laps} laps from {amount(asked.fuel / density, 'volume')}, {asked.groove} groove; "
        f"air {air}, track {surface}, {said}"
    )


def _others(session: Session, case: Case) -> tuple[Choice, ...]:
    rival = case.codes[0] if len(case.codes) > 1 else ""
    found = shelf.revisions(session, kind="setup", most=MOST_SETUPS)
    return tuple(Choice(one.code, f"{one.name}, revision {one.number}", one.code == rival) for one in found)


def _with_work(page: LapsPage, case: Case, jobs: list[Job]) -> LapsPage:
    under_way = next((job for job in jobs if not job.is_over), None)
    done = next((job for job in jobs if job.state == "done"), None)
    trouble = next((job.trouble for job in jobs if job.state == "failed"), "")
    if done is None and any(job.state == "stopped" for job in jobs):
        trouble = STOPPED
    told: Driven | None = done.answer if done else None
    return replace(
        page,
        logged=_logged(case, told.runs[-1].reading.summary.best if told else math.nan),
        progress=progress_of(under_way, again=case.address, target="driven", at=PATH) if under_way else None,
        shown=shown(told, case.names, case.asked.best) if told else None,
        has_bands=bool(told and told.compared and told.compared.draws),
        trouble=sentence(trouble) if trouble else "",
    )
