"""What every page of the notebook has: its tabs, what Undo would take back, and a run as a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy.orm import Session
from starlette.requests import Request

from ovalwright.notebook import undo
from ovalwright.notebook.asked.find import FoundRun, said_of
from ovalwright.web.bench import bench_of
from ovalwright.web.page import Page
from ovalwright.web.words import amount, counted, step


class Tab(NamedTuple):
    """A part of the notebook: its address, its name, and that on a phone where it is too long."""

    path: str
    name: str
    short: str = ""


TABS = (
    Tab("/notebook", "Runs"),
    Tab("/notebook/setups", "Setups"),
    Tab("/notebook/parts", "Tires and parts", "Parts"),
    Tab("/notebook/work", "Work"),
    Tab("/notebook/share", "Share"),
)
NOTHING = ""


@dataclass(frozen=True)
class LastEntry:
    """An entry by its number, and what it was."""

    number: int
    what: str


@dataclass(frozen=True)
class Undoing:
    """What Undo would take back, and what was taken back last and can be put back."""

    back: LastEntry | None
    again: LastEntry | None


@dataclass(frozen=True, kw_only=True)
class NotebookPage(Page):
    """A page of the notebook; `tab` is the address of the part it belongs to."""

    tab: str
    undoing: Undoing | None
    here: str = "/notebook"
    tabs: tuple[Tab, ...] = TABS


@dataclass(frozen=True)
class RunRow:
    """A run in a list; a text is empty where nothing is known. `words` are the driver's, or those found."""

    code: str
    day: str
    where: str
    called: str
    setup: str
    setup_name: str
    laps: str
    best: str
    in_ten: str
    words: str


def undoing(request: Request, session: Session) -> Undoing:
    """What can be taken and put back of whoever keeps this notebook."""
    by = bench_of(request).store.by
    return Undoing(_last(undo.next_to_undo(session, by=by)), _last(undo.next_to_put_back(session, by=by)))


def _last(entry: undo.Done | None) -> LastEntry | None:
    return None if entry is None else LastEntry(entry.number, entry.what)


def run_rows(session: Session, found: Sequence[FoundRun]) -> tuple[RunRow, ...]:
    """Runs as they stand in a list."""
    said = said_of(session, [one.code for one in found])
    return tuple(
        RunRow(
            code=one.code,
            day=one.date.isoformat(),
            where=one.track or one.event,
            called=one.session or "run",
            setup=one.setup,
            setup_name=one.setup_name,
            laps=counted(one.laps, "lap") if one.laps else NOTHING,
            best=NOTHING if one.best is None else amount(one.best, "lap_time"),
            in_ten=NOTHING if one.fall_off is None else step(one.fall_off, "lap_gain"),
            words=one.comment or one.snippet or said.get(one.code, NOTHING),
        )
        for one in found
    )


def at_home(moment: dt.datetime) -> str:
    """A moment as the clock on the wall shows it."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"
