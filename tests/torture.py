"""A writer that enters runs as fast as it can, the hand that kills it, and the look at what it left.

`python tests/torture.py 1000` kills it a thousand times and prints what was acknowledged and what was found.
"""

from __future__ import annotations

import datetime as dt
import multiprocessing
import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import TimedLap
from ovalwright.notebook import runs
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Change, Comment, Document, Entry, Event, Lap, Reading, Revision, Run
from ovalwright.notebook.tables_work import Saying

LONGEST_LIFE_S = 0.2
AT_WORK = 0.8
"""Share of the lives that are counted from the first entry, not from the start of the program."""
PATIENCE_S = 60
RUNS_BETWEEN_OPENINGS = 40
KILLS_PER_NOTEBOOK = 25
CORNERS = ("LF", "RF", "LR", "RR")
ROWS_PER_RUN = 8
"""What the journal notes: the run added and summed up, its laps, four pressures, a comment."""

ways = multiprocessing.get_all_start_methods()
processes = multiprocessing.get_context("forkserver" if "forkserver" in ways else "spawn")
if "forkserver" in ways:
    processes.set_forkserver_preload(["ovalwright.notebook.runs", "ovalwright.study.falloff", "alembic"])


# ---------------- the writer


def laps_of(number: int) -> list[float]:
    """Lap times [s] of a run, as its number alone tells them."""
    return [15.0 + number % 7 + 0.01 * lap for lap in range(5 + number % 20)]


def said_after(number: int) -> str:
    """What the driver says after a run."""
    return f"pushed{number} in the middle"


def enter(session: Session) -> int:
    """The next run with its laps, what was read and what was said; its number."""
    event, setup = session.scalars(sa.select(Event)).one(), session.scalars(sa.select(Revision)).one()
    run = runs.new_run(session, event, setup)
    laps = enumerate(laps_of(run.number), start=1)
    runs.put_laps(session, run, [TimedLap(lap, seconds, "green", lap) for lap, seconds in laps])
    runs.add_readings(session, run, [runs.Read("hot", float(run.number), corner) for corner in CORNERS])
    runs.say(session, run, runs.Said("middle", "", "tight", said_after(run.number)))
    return run.number


def begin(store: Store) -> None:
    """The event and the setup of all runs, made once."""
    with store.entry("begin") as session:
        if session.scalars(sa.select(Event)).first() is None:
            runs.new_event(session, "Invented", dt.date(2026, 5, 2))
            setup = Document(kind="setup", name="invented")
            session.add(setup)
            session.flush()
            session.add(Revision(document_id=setup.id, number=1, text='document = "setup"', sha256="0" * 64))


def write(where: str, acknowledged: Connection) -> None:
    """Enter run after run, and tell each number as soon as it is kept. It ends only when killed."""
    while True:
        with Store.open(where, by="writer") as store:
            begin(store)
            for _ in range(RUNS_BETWEEN_OPENINGS):
                with store.entry("run") as session:
                    number = enter(session)
                acknowledged.send_bytes(str(number).encode())


# ---------------- the hand


@dataclass
class Count:
    """What came of it. `found` counts runs that were found whole; `beyond` those found yet unacknowledged."""

    kills: int = 0
    acknowledged: int = 0
    found: int = 0
    beyond: int = 0
    opening: int = 0

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.opening} of them before the first entry: {self.acknowledged} entries "
            f"acknowledged, {self.found} found whole, {self.beyond} of these kept but not yet acknowledged"
        )


def live_and_be_killed(where: str, seconds: float, *, at_work: bool) -> set[int]:
    """The runs that a writer acknowledged in its life of so many seconds, or in so many since its first."""
    hear, tell = processes.Pipe(duplex=False)
    writer = processes.Process(target=write, args=(where, tell))
    writer.start()
    tell.close()
    with hear:
        if at_work:
            assert hear.poll(PATIENCE_S), "the writer acknowledged nothing"
        time.sleep(seconds)
        writer.kill()
        writer.join()
        return set(_all_said(hear))


def _all_said(hear: Connection) -> Iterator[int]:
    try:
        while True:
            yield int(hear.recv_bytes())
    except EOFError:
        return


def kill_and_look(where: str, kills: int, chance: random.Random, count: Count) -> None:
    """Kill so many writers of one notebook, and look into it after each. Raises AssertionError."""
    known: set[int] = set()
    for _ in range(kills):
        seconds, at_work = chance.uniform(0.0, LONGEST_LIFE_S), chance.random() < AT_WORK
        acknowledged = live_and_be_killed(where, seconds, at_work=at_work)
        left = runs_left(where)
        lost = (known | acknowledged) - left
        beyond = left - known - acknowledged
        assert not lost, f"acknowledged and lost: runs {sorted(lost)}"
        assert len(beyond) <= 1, f"kept but never acknowledged: runs {sorted(beyond)}"
        count.kills += 1
        count.acknowledged += len(acknowledged)
        count.found += len(left) - len(known)
        count.beyond += len(beyond)
        count.opening += not acknowledged
        known = left


# ---------------- the look


def runs_left(where: str) -> set[int]:
    """Numbers of the runs in a notebook, every one of them whole. Raises AssertionError."""
    if "://" not in where and Path(where).exists():
        look_at_file(where)
    with Store.open(where, by="reader") as store, store.aside() as session:
        # As the only writer: what a killed one had under way on a server is over by now.
        return look_at_rows(session)


def look_at_file(where: str) -> None:
    """The file as SQLite alone sees it. Raises AssertionError."""
    connection = sqlite3.connect(where)
    try:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    finally:
        connection.close()


def look_at_rows(session: Session) -> set[int]:
    """Every run with all its laps, readings, words and its journal, and nothing besides."""
    numbers = {run.id: run.number for run in session.execute(sa.select(Run.id, Run.number))}
    laps: dict[int, list[float]] = {run_id: [] for run_id in numbers}
    for run_id, seconds in session.execute(sa.select(Lap.run_id, Lap.time).order_by(Lap.run_id, Lap.number)):
        laps[run_id].append(seconds)
    assert all(laps[run_id] == laps_of(number) for run_id, number in numbers.items())
    read = session.execute(sa.select(Reading.run_id, Reading.place, Reading.si)).all()
    assert {tuple(row) for row in read} == {
        (run_id, corner, float(number)) for run_id, number in numbers.items() for corner in CORNERS
    }
    said = session.execute(sa.select(Comment.run_id, Comment.words)).all()
    assert {tuple(row) for row in said} == {(at, said_after(number)) for at, number in numbers.items()}
    found_by = session.execute(sa.select(Saying.owner_id, Saying.words).where(Saying.owner == "run"))
    assert all(said_after(numbers[run_id]) in words for run_id, words in found_by.all())
    noted = sa.select(sa.func.count(Change.id)).join(Entry).where(Entry.what == "run").group_by(Entry.id)
    assert session.scalars(noted).all() == [ROWS_PER_RUN] * len(numbers)
    assert session.scalar(sa.select(sa.func.count(Entry.id)).where(Entry.what == "run")) == len(numbers)
    return set(numbers.values())


def torture(folder: Path, kills: int, seed: int) -> Count:
    """Kill writers of SQLite files in `folder`, a new notebook now and then."""
    chance, count = random.Random(seed), Count()
    while count.kills < kills:
        where = str(folder / f"notebook-{count.kills}.sqlite")
        kill_and_look(where, min(KILLS_PER_NOTEBOOK, kills - count.kills), chance, count)
    return count


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        print(torture(Path(folder), int(sys.argv[1]), seed=random.randrange(2**32)))
