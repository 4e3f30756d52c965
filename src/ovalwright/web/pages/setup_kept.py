"""What was just measured, as Set up shows it: old and new side by side, what of three numbers narrowed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.notebook import shelf, undo
from ovalwright.notebook.garage.how_measured import to_measure
from ovalwright.notebook.known import SAID, Held, numbers
from ovalwright.notebook.measured import standing_on
from ovalwright.notebook.tables import Document as Home
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.measured import looks_odd
from ovalwright.pack import build
from ovalwright.study.narrowed import Narrowed, narrowed, verdict
from ovalwright.web import shares
from ovalwright.web.known_here import band, typed
from ovalwright.web.long_work import Job, Progress
from ovalwright.web.notebook_page import LastEntry
from ovalwright.web.pages.working import Progress as Shown
from ovalwright.web.pages.working import progress_of
from ovalwright.web.week_numbers import BALANCE, MILE_AN_HOUR, SPEED, WEDGE

NUMBERS = {
    "cross": (WEDGE, "%", 100.0),
    "balance": (BALANCE, "%", 100.0),
    "limit": (SPEED, "mph", 1.0 / MILE_AN_HOUR),
}
"""The three numbers by their names in the study: what they are called, and their unit."""


@dataclass(frozen=True)
class Changed:
    """A number that was measured: what it is; its value, its band and where it is from, before and now."""

    what: str
    was: str
    was_from: str
    now: str
    now_from: str


@dataclass(frozen=True)
class OfThree:
    """One of the three numbers: half of its band before and now, and what became of it."""

    name: str
    was: str
    now: str
    said: str


@dataclass(frozen=True)
class JustKept:
    """What was kept: the setup by name, what changed, what asks for a second look, which other setups go
    along and which do not; what one press takes back; what it narrowed, `progress` while that is worked at.
    """

    was: str
    now: str
    setup: str
    rows: tuple[Changed, ...]
    odd: tuple[str, ...]
    along: tuple[str, ...]
    left: tuple[str, ...]
    back: LastEntry | None
    three: tuple[OfThree, ...]
    progress: Shown | None
    trouble: str
    has_track: bool


def path_of(was: str, now: str) -> str:
    """Where a measurement is shown, by the codes of the setup before and after it."""
    return f"/setup?{urlencode({'was': was, 'now': now})}"


def key_of(was: str, now: str, track: str) -> tuple[object, ...]:
    """The key of the long work on what it narrowed."""
    return ("narrowed", was, now, track)


def narrowing(was: Assembly, now: Assembly, track: Track, progress: Progress) -> Narrowed:
    """The three numbers before and after, in the middle of the turn and full of fuel."""
    return narrowed(build(was), build(now), track, Conditions(), progress=progress)


def just_kept(session: Session, was: str, now: str, job: Job | None, *, by: str, has_track: bool) -> JustKept:
    """What a measurement changed, by the codes of the setup before and after it. Raises NotebookTrouble."""
    before, after = (shelf.revision(session, code, kind="setup") for code in (was, now))
    if after.parent_id != before.id:
        raise NotebookTrouble(f"setup {now[:12]} was not made of {was[:12]}; look at Set up again.")
    pairs = list(_changed(session, before, after))
    last = undo.next_to_undo(session, by=by)
    found = job.answer if job and job.state == "done" else None
    return JustKept(
        was=was,
        now=now,
        setup=f"{after.document.name}, revision {after.number}",
        rows=tuple(_row(*pair) for pair in pairs),
        odd=tuple(filter(None, (looks_odd(b.entry.value, a.entry.value, b.entry.kind) for a, b in pairs))),
        along=tuple(_along(session, after)),
        left=tuple(_left(session, before, after)),
        back=LastEntry(last.number, last.what) if last and last.number == after.entry_id else None,
        three=tuple(_of_three(found)) if found else (),
        progress=progress_of(job, again=path_of(was, now), target="narrowed", at="/setup") if job else None,
        trouble=(job.trouble or "Stopped before it was done.")
        if job and job.state in ("failed", "stopped")
        else "",
        has_track=has_track,
    )


def _changed(session: Session, before: Revision, after: Revision) -> Iterator[tuple[Held, Held]]:
    """Every number that is another, or known otherwise, than before."""
    was, now = (
        {held.path: held for one in numbers(session, setup).values() for held in one.held}
        for setup in (before, after)
    )
    for path, held in now.items():
        old = was.get(path)
        if old is not None and old.entry.value != held.entry.value:
            yield old, held


def _row(old: Held, new: Held) -> Changed:
    was, now = ((f"{typed(one.entry)} {band(one.entry)}").strip() for one in (old, new))
    origins = [SAID[one.entry.value.evidence] for one in (old, new)]
    return Changed(to_measure(new.path).what, was, origins[0], now, origins[1])


def _along(session: Session, after: Revision) -> Iterator[str]:
    """Other setups that the same entry moved onto what was measured."""
    query = sa.select(Revision).join(Home).where(Home.kind == "setup", Revision.entry_id == after.entry_id)
    yield from (
        one.document.name for one in session.scalars(query.order_by(Revision.id)) if one.id != after.id
    )


def _left(session: Session, before: Revision, after: Revision) -> Iterator[str]:
    """Setups that stand on the documents of before, since they cannot stand on those of now."""
    now = shelf.refers_to(session, after)
    old = [target for role, target in shelf.refers_to(session, before).items() if now.get(role) != target]
    yield from (one.document.name for one in standing_on(session, after, old))


def _of_three(found: Narrowed) -> Iterator[OfThree]:
    for name, (called, unit, scale) in NUMBERS.items():
        was, now = found.before[name], found.after[name]
        halves = [
            f"{shares.half_band(one, scale)} {unit}" if shares.half_band(one) else "none"
            for one in (was, now)
        ]
        yield OfThree(called, halves[0], halves[1], verdict(was, now))
