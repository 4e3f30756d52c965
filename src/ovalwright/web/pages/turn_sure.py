"""How sure the turn is, asked for in long work and looked at on a page of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

from fastapi import Depends, Form, Query
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.study.bands import Band
from ovalwright.units import KINDS, show
from ovalwright.vehicle.record import CORNERS
from ovalwright.web import shares
from ovalwright.web.bench import bench_of
from ovalwright.web.joined import joined_for
from ovalwright.web.looking import Looking, asked, posted
from ovalwright.web.page import Page, go_to
from ovalwright.web.page import show as show_page
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.sure_turn import SurePhase, begin, evenly, key_of
from ovalwright.web.words import NOTHING, amount, minus

FuelAsked = Annotated[float, Query(ge=0.0, le=1e4)]
TARGET = "sure"


@dataclass(frozen=True)
class SureColumn:
    """One phase in words: name and value with its band, in the order of the rows."""

    phase: str
    speed: str
    told: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SurePage(Page):
    """The bands, or the work under way on them, or a button that asks for it."""

    template: ClassVar[str] = "turn_sure.html"
    back: str
    setup: str
    fuel: float
    rows: tuple[str, ...] = ()
    columns: tuple[SureColumn, ...] = ()
    unsolved: tuple[str, ...] = ()
    work: Progress | None = None
    trouble: str = ""


def sure(request: Request, looking: Annotated[Looking, Depends(asked)], fuel: FuelAsked = 11.0) -> Response:
    """The page, for a load of fuel [gal], with the way back to where it was looked at."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        joined = joined_for(request, session)
    gallons = evenly(joined, fuel)
    job = bench.work.look(key_of(joined, gallons))
    hand = joined.hand
    changed = f" with {len(hand.changes)} changed" if hand.changes else ""
    under_way = job is not None and not job.is_over
    done: tuple[SurePhase, ...] = job.answer if job is not None and job.state == "done" else ()
    stopped = "The study was stopped." if job is not None and job.state == "stopped" else ""
    return show_page(
        request,
        SurePage(
            title="How sure is the turn",
            here="/turn",
            back=replace(looking, fuel=gallons).path,
            setup=f"{joined.names[hand.base]} {hand.base}{changed}",
            fuel=gallons,
            rows=ROWS if done else (),
            columns=tuple(_column(one) for one in done),
            unsolved=tuple(_unsolved(one) for one in done if one.unsolved),
            work=progress_of(job, again=_path(gallons, looking), target=TARGET, at="/turn")
            if job is not None and under_way
            else None,
            trouble=job.trouble or stopped if job is not None else "",
        ),
    )


def ask(
    request: Request,
    looking: Annotated[Looking, Depends(posted)],
    fuel: Annotated[float, Form(ge=0.0, le=1e4)] = 11.0,
) -> Response:
    """Begin to find the bands; pressed on the turn itself, it is looked at as before meanwhile."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        joined = joined_for(request, session)
    gallons = evenly(joined, fuel)
    begin(bench.work, joined, gallons)
    return go_to(_path(gallons, looking) if looking.at is None else looking.path)


def _path(gallons: float, looking: Looking) -> str:
    return f"/turn/sure?{replace(looking, fuel=gallons).query}"


ROWS = (
    *(f"{corner} load" for corner in CORNERS),
    "Wedge",
    "Limit",
    "At the limit",
    "Changed, as bolted in",
    "Changed, re-set",
)


def _column(one: SurePhase) -> SureColumn:
    numbers = one.numbers
    balance = numbers["balance"]
    return SureColumn(
        phase=one.phase.capitalize(),
        speed=amount(one.speed, "speed") if math.isfinite(one.speed) else "no steady state",
        told=(
            *(_banded(numbers[f"{corner} load"], "force") for corner in CORNERS),
            _percent(numbers["cross"]),
            _banded(numbers["limit"], "speed"),
            _balance(balance),
            _changed(one.bolted, one.bolted_word, "no steady state"),
            _changed(one.reset, one.reset_word, "not applicable, or no steady state"),
        ),
    )


def _unsolved(one: SurePhase) -> str:
    fate = "too many for a band" if one.has_too_few else "left out of the bands"
    return f"{one.phase.capitalize()}: in {one.unsolved} of {one.draws} draws no steady state, {fate}."


def _banded(band: Band, kind: str) -> str:
    if not math.isfinite(band.value):
        return NOTHING
    if not math.isfinite(band.low):
        return amount(band.value, kind)
    low, high = (minus(show(end, KINDS[kind]).rsplit(" ", 1)[0]) for end in (band.low, band.high))
    return f"{amount(band.value, kind)} ({low} to {high})"


def _percent(band: Band) -> str:
    if not math.isfinite(band.value):
        return NOTHING
    return f"{shares.percent(band.value)} % {shares.half_band(band)}".strip()


def _balance(band: Band) -> str:
    """The word only where the whole band is on its side."""
    told = f"{shares.balance(band.value)} {shares.half_band(band)}".strip()
    return told if band.sure_of_sign or not math.isfinite(band.low) else f"{told}: too close to call"


def _changed(band: Band | None, word: str, missing: str) -> str:
    if band is None or not math.isfinite(band.value):
        return missing
    half = shares.half_band(band, places=2)
    return f"{shares.change_percent(band.value, 2)} % wedge {half}; balance: {word}"
