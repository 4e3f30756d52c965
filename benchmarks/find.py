"""How fast a question about 50,000 runs and 2,000,000 laps is answered, and a plain scan of the same rows.

`python benchmarks/find.py [runs]` fills a notebook on SQLite in a temporary folder (about a minute) and asks
drawn questions of every kind. The peer, in the same run, answers some of them without an index and without
the full text: it reads the whole tables that a question needs and looks through their rows in Python. Every
answer of its is checked to be ours. Times are processor times of one core; every question is put into a new
session, so that reading the line, making the query and giving back the runs are in them.
"""

from __future__ import annotations

import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from bulk_notebook import BARS, COMMON, FEELS, PHASES, SEED, SPRINGS, TIRES, TRACKS, fill, rare_words
from sqlalchemy.orm import Session

from ovalwright.notebook.asked.changed_when import LOOKED_AT, what_i_changed_when
from ovalwright.notebook.asked.find import find_anything, find_runs
from ovalwright.notebook.asked.going_away import when_it_went_away
from ovalwright.notebook.store import Store
from ovalwright.units import KINDS

RUNS, DRAWN, SCANNED = 50_000, 60, 3
MOST = 50
RARE = rare_words()
Answer = list[Any]


@dataclass(frozen=True)
class Asked:
    """A question as we answer it, and as a plain scan does."""

    ours: Callable[[Session], Answer]
    scan: Callable[[Session], Answer]


# ---------------- the plain scan


def rows(session: Session, table: str, columns: str) -> Iterator[tuple[Any, ...]]:
    """Every row of a table."""
    for row in session.connection().exec_driver_sql(f"SELECT {columns} FROM {table}"):
        yield tuple(row)


def newest(session: Session, column: str, holds: Callable[[int, Any], bool]) -> Answer:
    """Codes of the newest runs of which it holds, given the id and one column of each."""
    found = [
        (started, one, code)
        for one, code, started, value in rows(session, "run", f"id, code, started, {column}")
        if holds(one, value)
    ]
    return [code for *_, code in sorted(found, reverse=True)[:MOST]]


def those(session: Session, table: str, columns: str, holds: Callable[..., bool]) -> set[int]:
    """First columns of the rows of a table of which it holds, given the others."""
    return {one for one, *others in rows(session, table, columns) if holds(*others)}


def worded(words: str) -> Callable[[str], bool]:
    """Whether a text has all words, the last of which may go on."""
    *whole, last = words.split()
    wanted = [re.compile(rf"\b{word}\b") for word in whole] + [re.compile(rf"\b{last}")]
    return lambda said: all(one.search(said.lower()) for one in wanted)


def runs_of_words(session: Session, words: str) -> set[int]:
    """Runs whose words hold all of them."""
    holds = worded(words)
    return those(
        session, "saying", "owner_id, owner, words", lambda owner, said: owner == "run" and holds(said)
    )


# ---------------- questions


def asked(question: str, scan: Callable[[Session], Answer]) -> Asked:
    """A question about runs."""
    return Asked(lambda session: [run.code for run in find_runs(session, question, most=MOST).runs], scan)


def si(value: float, kind: str) -> float:
    """A number of the trade as SI."""
    return KINDS[kind].to_si(value)


def own_question(rng: np.random.Generator) -> Asked:
    """Here, air, RR spring and fall-off together."""
    air, rate, fade = (
        float(rng.integers(50, 90)),
        float(rng.integers(120, 300)),
        float(rng.integers(10, 40)) / 100,
    )

    def scan(session: Session) -> Answer:
        events = sorted(rows(session, "event", "held_on, id, track_id"))
        tracks = dict(rows(session, "revision", "id, document_id"))
        here = tracks[events[-1][2]]
        stiff = those(
            session, "figure", "revision_id, key, si",
            lambda key, value: key == "RR.coil.rate" and value > si(rate, "spring_rate"),
        )  # fmt: skip
        told = {one: row for one, *row in rows(session, "run", "id, track_id, setup_id, air, fall_off")}

        def holds(one: int, _: Any) -> bool:
            track, setup, warm, off = told[one]
            return tracks[track] == here and setup in stiff and warm > si(air, "temperature") and off < fade

        return newest(session, "id", holds)

    return asked(f"here, air over {air:g} F, RR spring over {rate:g}, fall-off under {fade}", scan)


def number_of_run(rng: np.random.Generator) -> Asked:
    """A number of the run."""
    words, column, kind, low, high = [
        ("best", "best", "lap_time", 14.0, 17.0),
        ("air", "air", "temperature", 30.0, 110.0),
        ("stagger", "stagger", "growth", 0.7, 3.6),
        ("fall-off", "fall_off", "lap_gain", 0.0, 1.5),
    ][rng.integers(4)]
    limit = round(float(rng.uniform(low, high)), 3)
    if rng.random() < 0.5:
        return asked(
            f"{words} over {limit}", lambda s: newest(s, column, lambda _, value: value > si(limit, kind))
        )
    return asked(
        f"{words} under {limit}", lambda s: newest(s, column, lambda _, value: value < si(limit, kind))
    )


def number_of_setup(rng: np.random.Generator) -> Asked:
    """A number of the setup."""
    words, keys, kind, low, high = [
        ("RR spring", ("RR.coil.rate",), "spring_rate", 80.0, 330.0),
        ("LF pressure", ("LF.tire.cold",), "pressure", 5.0, 15.0),
        ("camber", ("LF.camber", "RF.camber", "LR.camber", "RR.camber"), "camber", 2.0, 6.0),
        ("gear", ("final_drive",), "ratio", 3.0, 8.5),
    ][rng.integers(4)]
    limit = round(float(rng.uniform(low, high)), 3)

    def scan(session: Session) -> Answer:
        setups = those(
            session,
            "figure",
            "revision_id, key, si",
            lambda key, value: key in keys and value > si(limit, kind),
        )
        return newest(session, "setup_id", lambda _, setup: setup in setups)

    return asked(f"{words} over {limit}", scan)


def share_of_sheet(rng: np.random.Generator) -> Asked:
    """A share on the scale sheet."""
    limit = round(float(rng.uniform(47.0, 51.5)), 2)

    def scan(session: Session) -> Answer:
        pads: dict[int, dict[str, float]] = {}
        for one, key, weight in rows(session, "figure", "revision_id, key, si"):
            if key.endswith(".weight"):
                pads.setdefault(one, {})[key[:2]] = weight
        heavy = {
            one for one, pad in pads.items() if 100 * (pad["RF"] + pad["LR"]) / sum(pad.values()) > limit
        }
        setups = those(
            session,
            "reference",
            "revision_id, role, target_id",
            lambda role, sheet: role == "sheet" and sheet in heavy,
        )
        return newest(session, "setup_id", lambda _, setup: setup in setups)

    return asked(f"cross over {limit}", scan)


def said_by_driver(rng: np.random.Generator) -> Asked:
    """What the driver said."""
    feel, phase = FEELS[rng.integers(3)], PHASES[rng.integers(3)]
    when = ("", "early", "late")[rng.integers(3)]

    def scan(session: Session) -> Answer:
        runs = those(
            session, "comment", 'run_id, feel, phase, "when"',
            lambda theirs, at, late: (theirs, at) == (feel, phase) and (not when or late in (when, "")),
        )  # fmt: skip
        return newest(session, "id", lambda one, _: one in runs)

    return asked(f"{feel} {'on' if phase == 'entry' else 'in the'} {phase} {when}", scan)


def part_in_car(rng: np.random.Generator) -> Asked:
    """A part that was in the car."""
    kind, letter, count = (("tire", "T", TIRES), ("spring", "S", SPRINGS), ("bar", "B", BARS))[
        rng.integers(3)
    ]
    mark = f"{letter}{rng.integers(count)}"

    def scan(session: Session) -> Answer:
        part = those(session, "part", "id, kind, mark", lambda *theirs: theirs == (kind, mark))
        runs = those(session, "ridden", "run_id, part_id", lambda theirs: theirs in part)
        return newest(session, "id", lambda one, _: one in runs)

    return asked(f"{kind} {mark}", scan)


def words_asked(words: str) -> Asked:
    """Words anywhere in what was written of a run."""

    def scan(session: Session) -> Answer:
        runs = runs_of_words(session, words)
        return newest(session, "id", lambda one, _: one in runs)

    return asked(f'"{words}"', scan)


def common_words(rng: np.random.Generator) -> Asked:
    """Words that stand in many runs."""
    return words_asked(" ".join(rng.choice(COMMON, 2, replace=False)))


def rare_word(rng: np.random.Generator) -> Asked:
    """A rare word, or the first letters of one."""
    return words_asked(str(rng.choice(RARE))[: int(rng.integers(4, 7))])


def words_and_numbers(rng: np.random.Generator) -> Asked:
    """Words and a number together."""
    word, limit = str(rng.choice(COMMON)), round(float(rng.uniform(14.6, 15.6)), 3)

    def scan(session: Session) -> Answer:
        runs = runs_of_words(session, word)
        return newest(session, "best", lambda one, best: one in runs and best < limit)

    return asked(f'"{word}", best under {limit}', scan)


def names_and_days(rng: np.random.Generator) -> Asked:
    """A track and a span of days."""
    name, year = f"Oval {rng.integers(TRACKS)} bowl", int(rng.integers(2002, 2026))

    def scan(session: Session) -> Answer:
        homes = those(session, "document", "id, kind, name", lambda *theirs: theirs == ("track", name))
        tracks = those(session, "revision", "id, document_id", lambda home: home in homes)
        at = those(session, "run", "id, track_id", lambda track: track in tracks)
        return newest(session, "started", lambda one, started: one in at and started[:4] == str(year))

    return asked(f"track {name}, in {year}", scan)


def flag_out(rng: np.random.Generator) -> Asked:
    """A flag that was out."""
    flag = ("yellow", "pit", "traffic", "other", "green")[rng.integers(5)]

    def scan(session: Session) -> Answer:
        runs = those(session, "lap", "run_id, flag", lambda theirs: theirs == flag)
        return newest(session, "id", lambda one, _: one in runs)

    return asked(f"flag {flag}", scan)


def anything(rng: np.random.Generator) -> Asked:
    """Events, parts and documents by words."""
    words = (f"night {rng.integers(2000)}", f"oval {rng.integers(TRACKS)}", str(rng.choice(COMMON)))[
        rng.integers(3)
    ]

    def scan(session: Session) -> Answer:
        holds = worded(words)
        found = those(
            session, "saying", "id, owner, words", lambda owner, said: owner != "run" and holds(said)
        )
        owners = dict(rows(session, "saying", "id, owner_id"))
        codes = {"revision": "code", "part": "mark", "event": "name"}
        table = {
            (owner, one): told
            for owner, name in codes.items()
            for one, told in rows(session, owner, f"id, {name}")
        }
        kind = dict(rows(session, "saying", "id, owner"))
        return [table[kind[one], owners[one]] for one in sorted(found, reverse=True)[:20]]

    def ours(session: Session) -> Answer:
        return [thing.code or thing.name for thing in find_anything(session, words)]

    return Asked(ours, scan)


def tire_gone(rng: np.random.Generator) -> Asked:
    """When a tire went away."""
    mark = f"T{rng.integers(TIRES)}"

    def scan(session: Session) -> Answer:
        part = those(session, "part", "id, mark", lambda theirs: theirs == mark)
        runs = those(session, "ridden", "run_id, part_id", lambda theirs: theirs in part)
        found = [
            (at, one, code) for one, at, code in rows(session, "run", "id, started, code") if one in runs
        ]
        return [code for *_, code in sorted(found)]

    return Asked(lambda session: [one.run.code for one in when_it_went_away(session, mark).runs], scan)


def changed_when(rng: np.random.Generator) -> Asked:
    """What was changed when tight or loose."""
    feel, phase = ("tight", "loose")[rng.integers(2)], PHASES[rng.integers(3)]

    def scan(session: Session) -> Answer:
        said = those(session, "comment", "run_id, feel, phase", lambda *theirs: theirs == (feel, phase))
        homes = dict(rows(session, "revision", "id, document_id"))
        refers = rows(session, "reference", "revision_id, role, target_id")
        car = {setup: homes[target] for setup, role, target in refers if role == "car"}
        runs = sorted(rows(session, "run", "started, id, code, setup_id"), reverse=True)
        later: dict[int, tuple[str, int]] = {}
        pairs = []
        for _, one, code, setup in runs:
            if one in said:
                pairs.append((code, setup, later.get(car[setup])))
            later[car[setup]] = (code, setup)
        seen = [(code, then[0]) for code, setup, then in pairs[:LOOKED_AT] if then and then[1] != setup]
        return seen[:MOST]

    def ours(session: Session) -> Answer:
        return [(one.run.code, one.next.code) for one in what_i_changed_when(session, feel, phase).changes]

    return Asked(ours, scan)


def nothing(rng: np.random.Generator) -> Asked:
    """Something that never was."""
    limit = round(float(rng.uniform(1.0, 12.0)), 2)
    return asked(f"best under {limit}, tight", lambda s: newest(s, "best", lambda _, best: best < limit))


QUESTIONS = (
    own_question, number_of_run, number_of_setup, share_of_sheet, said_by_driver, part_in_car, common_words,
    rare_word, words_and_numbers, names_and_days, flag_out, nothing, anything, tire_gone, changed_when,
)  # fmt: skip


# ---------------- the table


def timed(store: Store, answer: Callable[[Session], Answer]) -> tuple[float, Answer]:
    """Processor time of an answer in a new session [ms], and the answer."""
    begin = time.process_time()
    with store.reading() as session:
        found = answer(session)
    return 1e3 * (time.process_time() - begin), found


def main() -> None:
    """Run the benchmark and print its table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    rng = np.random.default_rng(SEED)
    with (
        tempfile.TemporaryDirectory() as folder,
        Store.open(Path(folder) / "bulk.sqlite", by="bulk") as store,
    ):
        begin = time.perf_counter()
        fill(store, count)
        size = (Path(folder) / "bulk.sqlite").stat().st_size / 1e6
        with store.reading() as session:
            laps = next(rows(session, "lap", "count(*)"))[0]
        print(
            f"{count:,} runs, {laps:,} laps, {size:,.0f} MB, written in {time.perf_counter() - begin:.0f} s"
        )
        print(f"{'kind of question':46s}{'median':>9s}{'p95':>9s}{'scan':>10s}{'ratio':>8s}")
        everything: list[float] = []
        for draw in QUESTIONS:
            drawn = [draw(rng) for _ in range(DRAWN)]
            ours = [timed(store, one.ours) for one in drawn]
            scans = [timed(store, one.scan) for one in drawn[:SCANNED]]
            for (_, found), (_, wanted) in zip(ours, scans, strict=False):
                assert found == wanted, draw.__doc__
            times = [spent for spent, _ in ours]
            everything += times
            median, late = np.median(times), np.percentile(times, 95)
            scan = np.median([spent for spent, _ in scans])
            name = (draw.__doc__ or "").rstrip(".")
            print(f"{name[:45]:46s}{median:6.1f} ms{late:6.1f} ms{scan:7.0f} ms{scan / median:8.0f}")
        print(f"{'all of them':46s}{np.median(everything):6.1f} ms{np.percentile(everything, 95):6.1f} ms")


if __name__ == "__main__":
    main()
