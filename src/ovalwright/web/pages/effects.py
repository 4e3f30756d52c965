"""What each thing does: every adjustment, one step, at entry, middle and exit, on a lap and over a run."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal
from urllib.parse import urlencode

from fastapi import Form, Query
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.bench import Bench, bench_of
from ovalwright.web.effects_shown import WIDE, Row, Sort, Tick, is_seen, makes, rows_of, scale_of
from ovalwright.web.effects_table import PLACES, EffectsTable, OneStep, quick_table, whole_table
from ovalwright.web.effects_timed import LAPS, ROUNDS
from ovalwright.web.form_fields import Choice
from ovalwright.web.joined import Joined, joined_for
from ovalwright.web.long_work import Job, TooBusy
from ovalwright.web.page import Notice, Page, go_to
from ovalwright.web.page import show as show_page
from ovalwright.web.pages.working import Progress, progress_of
from ovalwright.web.troubles import sentence

TANKS = {"full": 1.0, "half": 0.5, "nearly empty": 0.05}
Fuel = Literal["full", "half", "nearly empty"]
Kind = Literal[
    "all", "springs", "jack bolts", "stops", "bar", "links", "lead", "tires", "alignment", "brakes", "gear"
]
Bolt = Literal["1/2 round", "1 round"]
BOLTS: tuple[Bolt, ...] = Bolt.__args__  # type: ignore[attr-defined]
ROUNDS_OF = dict(zip(BOLTS, ROUNDS, strict=True))
Way = Literal["either way", "looser", "tighter"]
WAYS: tuple[Way, ...] = Way.__args__  # type: ignore[attr-defined]
Done = Literal["anywhere", "at the track"]
DONE: tuple[Done, ...] = Done.__args__  # type: ignore[attr-defined]
KINDS: tuple[str, ...] = Kind.__args__  # type: ignore[attr-defined]
SORTS = {
    **dict(zip(PLACES, PLACES, strict=True)),
    "lap": "lap",
    "run": f"{LAPS} laps",
    "name": "name",
}
TABLE, WORK = "effects-table", "effects-work"


@dataclass(frozen=True)
class Asked:
    """What the page is asked for: how much fuel, which kind of adjustment, in which order; how far a jack
    bolt is turned; which way a step goes, and where it can be done.
    """

    fuel: Fuel = "half"
    kind: Kind = "all"
    sort: Sort = "middle"
    bolt: Bolt = "1 round"
    way: Way = "either way"
    done: Done = "anywhere"

    def path(self, **other: str) -> str:
        """The address of it, with something asked otherwise."""
        return f"/effects?{urlencode({**self.fields, **other})}"

    @property
    def fields(self) -> dict[str, str]:
        """All of it, by the names of the form."""
        return {name: str(value) for name, value in vars(self).items()}

    def holds(self, step: OneStep) -> bool:
        """Whether a step is asked for."""
        return (
            self.kind in ("all", step.part)
            and step.turned in (0.0, ROUNDS_OF[self.bolt])
            and (self.way == "either way" or makes(step, self.sort) == self.way)
            and self.done in ("anywhere", step.where)
        )


@dataclass(frozen=True)
class SortLink:
    """A column that sorts."""

    key: str
    name: str
    path: str
    is_on: bool


@dataclass(frozen=True, kw_only=True)
class EffectsPage(Page):
    """The table, or the work under way on it, or why there is none. `unseen` are the steps that do nothing
    that is seen; `lap` and `run` of the setup as it stands; `has_new` tells a page that waited for the work
    that there is a new table.
    """

    template: ClassVar[str] = "effects.html"
    asked: Asked = Asked()
    setup: str = ""
    track: str = ""
    fuels: tuple[Choice, ...] = ()
    kinds: tuple[Choice, ...] = ()
    orders: tuple[Choice, ...] = ()
    bolts: tuple[Choice, ...] = ()
    ways: tuple[Choice, ...] = ()
    places: tuple[Choice, ...] = ()
    sorts: tuple[SortLink, ...] = ()
    rows: tuple[Row, ...] = ()
    unseen: tuple[Row, ...] = ()
    ticks: tuple[Tick, ...] = ()
    wide: float = WIDE
    zero: float = WIDE / 2
    line: str = ""
    has_table: bool = False
    has_bands: bool = False
    lap: str = ""
    run: str = ""
    no_run: str = ""
    laps: int = LAPS
    work: Progress | None = None
    has_new: bool = False
    trouble: str = ""
    empty: str = ""
    notes: tuple[str, ...] = ()


def effects(
    request: Request,
    fuel: Annotated[Fuel, Query()] = "half",
    kind: Annotated[Kind, Query()] = "all",
    sort: Annotated[Sort, Query()] = "middle",
    bolt: Annotated[Bolt, Query()] = "1 round",
    way: Annotated[Way, Query()] = "either way",
    done: Annotated[Done, Query()] = "anywhere",
) -> Response:
    """The page: what is known of the setup in hand, begun with the quick table when nothing is."""
    bench, asked = bench_of(request), Asked(fuel, kind, sort, bolt, way, done)
    try:
        with bench.store.reading() as session:
            joined = joined_for(request, session)
    except NotebookTrouble as problem:
        return show_page(
            request, EffectsPage(title="What each thing does", here="/effects", empty=sentence(str(problem)))
        )
    whole = bench.work.look(_key(joined, fuel, whole=True))
    quick = bench.work.look(_key(joined, fuel, whole=False))
    notices: tuple[Notice, ...] = ()
    if quick is None and (whole is None or whole.state != "done"):
        try:
            quick = _ask(bench, joined, fuel, whole=False)
        except TooBusy as problem:
            notices = (Notice(str(problem), trouble=True),)
    page = _page(joined, asked, quick, whole, notices)
    waited = request.headers.get("hx-target") == WORK
    return show_page(request, replace(page, has_new=waited and page.work is None))


def ask(
    request: Request,
    fuel: Annotated[Fuel, Form()] = "half",
    kind: Annotated[Kind, Form()] = "all",
    sort: Annotated[Sort, Form()] = "middle",
    bolt: Annotated[Bolt, Form()] = "1 round",
    way: Annotated[Way, Form()] = "either way",
    done: Annotated[Done, Form()] = "anywhere",
    quick: Annotated[bool, Form()] = False,
) -> Response:
    """Ask for the bands, the laps and the runs, which takes a while; or again for the `quick` table."""
    bench = bench_of(request)
    with bench.store.reading() as session:
        joined = joined_for(request, session)
    _ask(bench, joined, fuel, whole=not quick)
    return go_to(Asked(fuel, kind, sort, bolt, way, done).path())


def _key(joined: Joined, fuel: Fuel, *, whole: bool) -> tuple[object, ...]:
    return ("effects", *joined.key, joined.end, fuel, whole)


def _ask(bench: Bench, joined: Joined, fuel: Fuel, *, whole: bool) -> Job:
    study: Callable[..., EffectsTable] = whole_table if whole else quick_table
    told = f"A lap and {LAPS} laps with every step, then its bands" if whole else "Every step in the turn"
    documents = (joined.now, joined.track, joined.end, TANKS[fuel])
    return bench.work.submit(_key(joined, fuel, whole=whole), study, *documents, told=told)


# ---------------- in words


def _page(
    joined: Joined, asked: Asked, quick: Job | None, whole: Job | None, notices: tuple[Notice, ...]
) -> EffectsPage:
    hand = joined.hand
    jobs = [job for job in (whole, quick) if job is not None]
    under_way = next((job for job in jobs if not job.is_over), None)
    table: EffectsTable | None = next((job.answer for job in jobs if job.state == "done"), None)
    target = TABLE if table is None else WORK
    trouble = next((job.trouble for job in jobs if job.state == "failed"), "")
    if any(job.state == "stopped" and (job is whole or table is None) for job in jobs) and not under_way:
        trouble = "The study was stopped; ask for it again."
    changed = ", with what is in hand" if hand.changes else ""
    page = EffectsPage(
        title="What each thing does",
        here="/effects",
        notices=notices,
        asked=asked,
        setup=f"{joined.names[hand.base]} {hand.base}{changed}",
        track=joined.names[hand.track],
        fuels=tuple(Choice(name, name, name == asked.fuel) for name in TANKS),
        kinds=tuple(Choice(name, name, name == asked.kind) for name in KINDS),
        orders=tuple(Choice(key, name, key == asked.sort) for key, name in SORTS.items()),
        bolts=tuple(Choice(name, name, name == asked.bolt) for name in BOLTS),
        ways=tuple(Choice(name, name, name == asked.way) for name in WAYS),
        places=tuple(Choice(name, name, name == asked.done) for name in DONE),
        sorts=tuple(
            SortLink(key, name, asked.path(sort=key), key == asked.sort) for key, name in SORTS.items()
        ),
        work=progress_of(under_way, again=asked.path(), target=target, at="/effects") if under_way else None,
        trouble=trouble,
    )
    return page if table is None else _filled(page, table)


def _filled(page: EffectsPage, table: EffectsTable) -> EffectsPage:
    scale = scale_of(table)
    steps = [one for one in table.rows if page.asked.holds(one)]
    seen = [one for one in steps if is_seen(one)]
    unseen = [one for one in steps if not is_seen(one)]
    return replace(
        page,
        rows=tuple(rows_of(seen, scale, page.asked.sort)),
        unseen=tuple(rows_of(unseen, scale, page.asked.sort)),
        ticks=scale.ticks,
        line=f"{scale.line:g} %",
        has_table=True,
        has_bands=table.draws > 0,
        lap=f"{table.lap:.2f} s" if math.isfinite(table.lap) else "",
        run=_clock(table.run) if math.isfinite(table.run) else "",
        no_run=table.no_run,
        notes=table.notes,
    )


def _clock(time: float) -> str:
    return f"{int(time // 60)} min {time % 60:.1f} s"
