"""What each thing does: every adjustment, one step, at entry, middle and exit, and on a lap."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from fastapi import Form, Query
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.bands import Band
from ovalwright.study.moved import Moved
from ovalwright.units import KINDS, show
from ovalwright.web import shares
from ovalwright.web.bench import Bench, bench_of
from ovalwright.web.effects_table import PLACES, EffectsTable, OneStep, quick_table, whole_table
from ovalwright.web.hand import written
from ovalwright.web.joined import Joined, join, looked_at
from ovalwright.web.long_work import Job, TooBusy
from ovalwright.web.page import Notice, Page, go_to
from ovalwright.web.page import show as show_page
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.words import NOTHING

TANKS = {"full": 1.0, "half": 0.5, "nearly empty": 0.05}
Fuel = Literal["full", "half", "nearly empty"]
Sort = Literal["entry", "middle", "exit", "lap", "name"]
WIDE, HIGH = 168.0, 44.0
"""Size of an axis [px]."""
LINES = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
"""Steps of the axis [% of weight x wheelbase]."""
LINES_A_SIDE = 3
TABLE = "effects-table"


@dataclass(frozen=True)
class Mark:
    """One reading on an axis: `at` and the ends of its band [px], its words, or why there is none."""

    at: float
    low: float
    high: float
    said: str
    missing: str = ""


@dataclass(frozen=True)
class Axis:
    """One station of one step: as bolted in over re-set, and the word that counts."""

    place: str
    bolted: Mark
    reset: Mark
    word: str


@dataclass(frozen=True)
class Row:
    """One adjustment in words."""

    name: str
    part: str
    axes: tuple[Axis, ...]
    loads: tuple[str, str, str, str]
    lap: str
    lap_bolted: str
    why: str
    problem: str


@dataclass(frozen=True)
class SortLink:
    """A column that sorts."""

    name: str
    path: str
    is_on: bool


@dataclass(frozen=True, kw_only=True)
class EffectsPage(Page):
    """The table, or the work under way on it, or why there is none."""

    template: ClassVar[str] = "effects.html"
    setup: str = ""
    track: str = ""
    fuels: tuple[SortLink, ...] = ()
    fuel: Fuel = "half"
    sort: Sort = "middle"
    sorts: tuple[SortLink, ...] = ()
    rows: tuple[Row, ...] = ()
    grid: tuple[float, ...] = ()
    zero: float = WIDE / 2
    line: str = ""
    has_bands: bool = False
    has_laps: bool = False
    lap: str = ""
    work: Progress | None = None
    trouble: str = ""
    empty: str = ""
    notes: tuple[str, ...] = ()


def effects(
    request: Request,
    fuel: Annotated[Fuel, Query()] = "half",
    sort: Annotated[Sort, Query()] = "middle",
) -> Response:
    """The page: what is known of the setup in hand, begun with the quick table when nothing is."""
    bench = bench_of(request)
    try:
        with bench.store.reading() as session:
            joined = join(session, looked_at(session, request.cookies.get("hand", "")))
    except NotebookTrouble as problem:
        return show_page(
            request, EffectsPage(title="What each thing does", here="/effects", empty=str(problem))
        )
    whole = bench.work.look(_key(joined, fuel, whole=True))
    quick = bench.work.look(_key(joined, fuel, whole=False))
    notices: tuple[Notice, ...] = ()
    if whole is None and quick is None:
        try:
            quick = _ask(bench, joined, fuel, whole=False)
        except TooBusy as problem:
            notices = (Notice(str(problem), trouble=True),)
    return show_page(request, _page(joined, fuel, sort, quick, whole, notices))


def ask(
    request: Request,
    fuel: Annotated[Fuel, Form()] = "half",
    sort: Annotated[Sort, Form()] = "middle",
) -> Response:
    """Ask for the bands and the laps, which takes a while."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        joined = join(session, looked_at(session, request.cookies.get("hand", "")))
    _ask(bench, joined, fuel, whole=True)
    return go_to(_path(fuel, sort))


def _key(joined: Joined, fuel: Fuel, *, whole: bool) -> tuple[object, ...]:
    hand = joined.hand
    changes = json.dumps(written(hand.changes), sort_keys=True)
    return ("effects", hand.base, changes, hand.track, joined.end, fuel, whole)


def _ask(bench: Bench, joined: Joined, fuel: Fuel, *, whole: bool) -> Job:
    study: Callable[..., EffectsTable] = whole_table if whole else quick_table
    told = "Every step with its band, and a lap of each" if whole else "Every step at entry, middle and exit"
    documents = (joined.now, joined.track, joined.end, TANKS[fuel])
    return bench.work.submit(_key(joined, fuel, whole=whole), study, *documents, told=told)


def _path(fuel: str, sort: str) -> str:
    return f"/effects?fuel={fuel.replace(' ', '+')}&sort={sort}"


# ---------------- in words


def _page(
    joined: Joined, fuel: Fuel, sort: Sort, quick: Job | None, whole: Job | None, notices: tuple[Notice, ...]
) -> EffectsPage:
    hand = joined.hand
    jobs = [job for job in (whole, quick) if job is not None]
    under_way = next((job for job in jobs if not job.is_over), None)
    table: EffectsTable | None = next((job.answer for job in jobs if job.state == "done"), None)
    trouble = next((job.trouble for job in jobs if job.state == "failed"), "")
    if table is None and any(job.state == "stopped" for job in jobs):
        trouble = "The study was stopped; ask for it again."
    again = _path(fuel, sort)
    changed = ", with what is in hand" if hand.changes else ""
    page = EffectsPage(
        title="What each thing does",
        here="/effects",
        notices=notices,
        setup=f"{joined.names[hand.base]} {hand.base}{changed}",
        track=joined.names[hand.track],
        fuel=fuel,
        fuels=tuple(SortLink(name, _path(name, sort), name == fuel) for name in TANKS),
        sort=sort,
        sorts=tuple(SortLink(name, _path(fuel, name), name == sort) for name in (*PLACES, "lap", "name")),
        work=progress_of(under_way, again=again, target="effects-table", at="/effects")
        if under_way
        else None,
        trouble=trouble,
    )
    return page if table is None else _filled(page, table)


def _filled(page: EffectsPage, table: EffectsTable) -> EffectsPage:
    line = _line(table)
    return replace(
        page,
        rows=tuple(_row(one, line) for one in sorted(table.rows, key=lambda row: _rank(row, page.sort))),
        grid=tuple(_across(k * line, line) for k in range(-LINES_A_SIDE, LINES_A_SIDE + 1)),
        line=f"{line:g} %",
        has_bands=table.draws > 0,
        has_laps=math.isfinite(table.lap),
        lap=f"{table.lap:.2f} s" if math.isfinite(table.lap) else "",
        notes=table.notes,
    )


def _line(table: EffectsTable) -> float:
    """Distance of two lines of the axis [%], so that every mark is on it."""
    ways = [way for row in table.rows for way in (row.bolted, row.reset or {})]
    sizes = [abs(moved.balance.value) for way in ways for moved in way.values()]
    most = 100.0 * max((size for size in sizes if math.isfinite(size)), default=0.0)
    return next((step for step in LINES if LINES_A_SIDE * step >= most), LINES[-1])


def _across(percent: float, line: float) -> float:
    half = WIDE / 2 - 12.0
    place = WIDE / 2 + half * percent / (LINES_A_SIDE * line)
    return round(min(max(place, 4.0), WIDE - 4.0), 1)


def _rank(row: OneStep, sort: Sort) -> tuple[float, str]:
    if sort == "name":
        return 0.0, row.name
    if sort == "lap":
        change = row.lap_reset if row.reset is not None else row.lap_bolted
        return (change if math.isfinite(change) else math.inf), row.name
    moved = row.told(sort)
    value = moved.balance.value if moved else math.nan
    return (-abs(value) if math.isfinite(value) else math.inf), row.name


def _row(row: OneStep, line: float) -> Row:
    middle = row.told("middle")
    lap = row.lap_reset if row.reset is not None else row.lap_bolted
    return Row(
        name=shares.true_minus(row.name),
        part=row.part,
        axes=tuple(_axis(row, place, line) for place in PLACES),
        loads=_loads(middle),
        lap=shares.seconds(lap),
        lap_bolted=shares.seconds(row.lap_bolted),
        why=shares.true_minus(row.why["middle"].removeprefix(f"{row.name}: ")),
        problem=row.problem,
    )


def _loads(moved: Moved | None) -> tuple[str, str, str, str]:
    if moved is None:
        return ("", "", "", "")
    lf, rf, lr, rr = (_pounds(band) for band in moved.loads)
    return lf, rf, lr, rr


def _pounds(band: Band) -> str:
    if not math.isfinite(band.value):
        return NOTHING
    return shares.signed(show(band.value, KINDS["force"]).removesuffix(" lb"))


def _axis(row: OneStep, place: str, line: float) -> Axis:
    told = row.told(place)
    sets_itself = "sets height or cross itself: not re-set"
    return Axis(
        place=place,
        bolted=_mark(row.bolted.get(place), line, row.problem),
        reset=_mark(row.reset.get(place), line, row.problem)
        if row.reset is not None
        else Mark(0.0, 0.0, 0.0, "", row.problem or sets_itself),
        word=told.verdict if told else "no answer",
    )


def _mark(moved: Moved | None, line: float, problem: str) -> Mark:
    if moved is None or not math.isfinite(moved.balance.value):
        return Mark(0.0, 0.0, 0.0, "", problem or "no steady state here")
    band = moved.balance
    at = _across(100.0 * band.value, line)
    has_band = math.isfinite(band.low)
    low, high = (_across(100.0 * end, line) if has_band else at for end in (band.low, band.high))
    half = shares.half_band(band, places=2)
    return Mark(at, low, high, f"{shares.change_percent(band.value, 2)} % {half}".strip())
