"""A notebook of many seasons, drawn from a seed and written in bulk. Everything in it is invented.

`fill(store, runs)` writes runs of 40 laps each, a setup for some five runs with every number of the demo one,
a scale sheet for some thirty setups, comments, the parts that were in the car, and the words of it all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import sqlalchemy as sa

import ovalwright
from ovalwright.documents import assemble
from ovalwright.notebook import tables as t
from ovalwright.notebook.shelf import figures_of
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.words import BETWEEN, spoken

DEMO = Path(ovalwright.__file__).parent / "demo"
SEED = 20261125
TEXTS = {
    kind: (DEMO / f"{name}.toml").read_text(encoding="utf-8")
    for kind, name in {
        "car": "car", "track": "track_three_eighths", "sheet": "sheet_conventional", "rack": "rack",
        "setup": "setup_conventional",
    }.items()
}  # fmt: skip
LAPS, EACH_EVENT, EACH_SETUP, EACH_SHEET = 40, 20, 5.5, 30
CARS, TRACKS, TIRES, SPRINGS, BARS = 2, 12, 1200, 80, 6
FIRST_DAY = dt.datetime(2001, 4, 1, 12)
CHUNK = 100_000
PLACES = (
    "LF tire",
    "RF tire",
    "LR tire",
    "RR tire",
    "LF spring",
    "RF spring",
    "LR spring",
    "RR spring",
    "bar",
)
DRIVERS = ("Ann Invented", "Bo Invented", "Cy Invented")
FEELS, PHASES, WHENS = ("tight", "loose", "good"), ("entry", "middle", "exit"), ("", "early", "late")
FLAGS, SHARES = ("green", "yellow", "pit", "traffic", "other"), (0.86, 0.08, 0.02, 0.039, 0.001)
SYLLABLES = ("ba", "ce", "do", "fi", "gu", "ha", "ke", "lo", "mi", "nu", "pa", "re", "so", "ti", "vu", "wa")
COMMON_WORDS = """
car would not turn under throttle rear came around on cold tires track took rubber late moved up lane hit the
curb brakes long pedal good restart lost bottom wind out of four sun front straight felt flat spot chatter hop
bound free off corner drove spun fuel gauge radio plug rain damp
"""
COMMON = COMMON_WORDS.split()


def rare_words() -> list[str]:
    """Some four thousand words that stand in few runs."""
    return [f"{a}{b}{c}" for a in SYLLABLES for b in SYLLABLES for c in SYLLABLES]


def fill(store: Store, runs: int) -> None:
    """Write it. Takes about a minute for 50,000 runs."""
    with store.aside() as session:
        entry = t.Entry(by="bulk", what="many seasons")
        session.add(entry)
        session.flush()
        drawn = _Drawn(session.connection(), entry.id, runs)
        drawn.documents()
        drawn.parts()
        drawn.runs()


class _Drawn:
    def __init__(self, connection: sa.Connection, entry: int, runs: int) -> None:
        self.connection, self.count, self.rng = connection, runs, np.random.default_rng(SEED)
        self.kept = {"entry_id": entry, "version": 1}
        self.said: list[dict[str, Any]] = []
        self.codes = iter(self._codes())

    def put(self, table: type[t.Table], rows: Iterable[dict[str, Any]]) -> None:
        """Insert rows, some at a time."""
        batch: list[dict[str, Any]] = []
        for row in rows:
            batch.append(row)
            if len(batch) == CHUNK:
                self.connection.execute(sa.insert(table), batch)
                batch = []
        if batch:
            self.connection.execute(sa.insert(table), batch)

    def _codes(self) -> Iterator[str]:
        letters, number = t.CODE_LETTERS, 30**5
        while True:
            number += 7919
            yield "".join(letters[number // 30**k % 30] for k in range(t.CODE_LENGTH))

    def _uid(self) -> str:
        return self.rng.bytes(16).hex()

    def tell(self, owner: str, words: dict[int, str]) -> None:
        """The words of rows by their ids."""
        self.put(Saying, ({"owner": owner, "owner_id": k, "words": said} for k, said in words.items()))

    # ---------------- documents

    def documents(self) -> None:
        """Cars, tracks, sheets and setups, with every number of the setups and sheets."""
        self.setups = max(2, int(self.count / EACH_SETUP))
        self.sheets = max(1, self.setups // EACH_SHEET)
        self.families = max(1, self.setups // 50)
        homes = [("car", f"Number {k}") for k in range(CARS)]
        homes += [("track", f"Oval {k} bowl") for k in range(TRACKS)]
        homes += [("sheet", f"Weighing {k}") for k in range(self.sheets)]
        homes.append(("rack", "Shelf"))
        self.first_setup = len(homes) + 1
        homes += [("setup", f"Setup {k} family") for k in range(self.families)]
        self.homes = homes
        rows = ({"kind": kind, "name": name, "uid": self._uid(), **self.kept} for kind, name in homes)
        self.put(t.Document, ({"id": k, **row} for k, row in enumerate(rows, 1)))
        self.home_of = {k: k for k in range(1, self.first_setup)}
        for k in range(self.setups):
            self.home_of[self.first_setup + k] = self.first_setup + k % self.families
        self.revision_code = {k: next(self.codes) for k in self.home_of}
        self.reason = {k: " ".join(self.rng.choice(COMMON, 4)) for k in self.home_of}
        self.put(t.Revision, (self._revision(k, home) for k, home in self.home_of.items()))
        self._figures()
        self._references()
        self.tell(
            "revision",
            {
                k: BETWEEN.join((*homes[home - 1], self.revision_code[k], self.reason[k]))
                for k, home in self.home_of.items()
            },
        )

    def _revision(self, k: int, home: int) -> dict[str, Any]:
        generation = max(0, k - self.first_setup) // self.families
        said = f"RR spring {200 + k % 200} -> {225 + k % 200} lb/in"
        return {
            "id": k, "uid": self._uid(), "code": self.revision_code[k], "document_id": home,
            "number": generation + 1, "parent_id": k - self.families if generation else None,
            "reason": self.reason[k], "said": said, "text": TEXTS[self.homes[home - 1][0]],
            "sha256": "0" * 64, "file_name": "", "made_at": t.now(), "made_by": "bulk", **self.kept,
        }  # fmt: skip

    def _figures(self) -> None:
        base = figures_of(assemble(DEMO / "setup_conventional.toml").setup)
        weights = {"LF.weight": 3100.0, "RF.weight": 2900.0, "LR.weight": 3400.0, "RR.weight": 3200.0}

        def rows() -> Iterator[dict[str, Any]]:
            for k in self.home_of:
                kind = self.homes[self.home_of[k] - 1][0]
                numbers, spread = {"setup": (base, 0.5), "sheet": (weights, 0.05)}.get(kind, ({}, 0.0))
                factors = np.round(self.rng.uniform(1.0 - spread, 1.0 + spread, len(numbers)), 3).tolist()
                for (key, si), factor in zip(numbers.items(), factors, strict=True):
                    yield {"revision_id": k, "key": key, "si": si * factor}

        self.put(t.Figure, rows())

    def _references(self) -> None:
        def rows() -> Iterator[dict[str, Any]]:
            first_sheet = CARS + TRACKS + 1
            for k in range(self.setups):
                setup = self.first_setup + k
                yield {"revision_id": setup, "role": "car", "target_id": 1 + k % CARS, **self.kept}
                sheet = first_sheet + k * self.sheets // self.setups
                yield {"revision_id": setup, "role": "sheet", "target_id": sheet, **self.kept}
                yield {"revision_id": setup, "role": "rack", "target_id": self.first_setup - 1, **self.kept}

        self.put(t.Reference, rows())

    # ---------------- parts

    def parts(self) -> None:
        """Tires, springs and bars, each with its mark and words."""
        marks = [("tire", f"T{k}") for k in range(TIRES)] + [("spring", f"S{k}") for k in range(SPRINGS)]
        self.marks = dict(enumerate(marks + [("bar", f"B{k}") for k in range(BARS)], 1))
        same = {"compound": "medium", **self.kept}
        self.put(
            t.Part,
            (
                {"id": k, "uid": self._uid(), "kind": kind, "mark": mark, **same}
                for k, (kind, mark) in self.marks.items()
            ),
        )
        self.tell("part", {k: f"{kind} {mark}; medium" for k, (kind, mark) in self.marks.items()})

    def _ridden(self, run: int) -> list[int]:
        """Parts in the car: a set of four tires for some 160 runs, springs and bars drawn."""
        of_set = 4 * (run * TIRES // (4 * self.count) + int(self.rng.integers(0, 3)))
        tires = [1 + (of_set + corner) % TIRES for corner in range(4)]
        springs = [TIRES + 1 + int(k) for k in self.rng.choice(SPRINGS, 4, replace=False)]
        return [*tires, *springs, TIRES + SPRINGS + 1 + int(self.rng.integers(BARS))]

    # ---------------- runs

    def runs(self) -> None:
        """Events and runs, then what hangs on them."""
        days = self._events()
        rare = rare_words()
        comments: list[dict[str, Any]] = []
        ridden: list[dict[str, Any]] = []
        words: dict[int, str] = {}
        rows = []
        for run in range(self.count):
            row = self._run(run, days, rare)
            mine = [self._comment(run, rare) for _ in range(int(self.rng.integers(0, 4)))]
            parts = self._ridden(run)
            rows.append(row)
            comments += mine
            for place, part in zip(PLACES, parts, strict=True):
                ridden.append({"run_id": run + 1, "part_id": part, "place": place, **self.kept})
            words[run + 1] = self._words(row, mine, parts)
        self.put(t.Run, rows)
        self.put(t.Comment, comments)
        self.put(t.Ridden, ridden)
        self.tell("run", words)
        self.put(t.Lap, self._laps())

    def _events(self) -> list[dt.datetime]:
        """One event after another over a quarter of a century, and the day of each."""
        events = -(-self.count // EACH_EVENT)
        days = [FIRST_DAY + dt.timedelta(days=9300 * k // events) for k in range(events)]
        names = {k: f"Night {k} of {day.year}" for k, day in enumerate(days, 1)}
        self.put(
            t.Event,
            (
                {
                    "id": k, "uid": self._uid(), "name": names[k], "held_on": day.date(), "note": "",
                    "track_id": self._track(k - 1), **self.kept,
                }
                for k, day in enumerate(days, 1)
            ),
        )  # fmt: skip
        self.tell("event", {k: f"{name}; {days[k - 1].date()}" for k, name in names.items()})
        return days

    def _track(self, event: int) -> int:
        return CARS + 1 + event % TRACKS

    def _run(self, run: int, days: list[dt.datetime], rare: list[str]) -> dict[str, Any]:
        rng, event = self.rng, run // EACH_EVENT
        started = days[event] + dt.timedelta(minutes=25 * (run % EACH_EVENT))
        words = [*rng.choice(COMMON, int(rng.integers(5, 40))), *rng.choice(rare, int(rng.integers(0, 3)))]
        return {
            "id": run + 1, "uid": self._uid(), "code": next(self.codes), "event_id": event + 1,
            "number": run % EACH_EVENT + 1, "session": ("practice", "heat", "feature")[run % 3],
            "started": started, "setup_id": self.first_setup + min(self.setups - 1, int(run / EACH_SETUP)),
            "track_id": self._track(event), "driver": DRIVERS[run % 7 % 3], "fuel": rng.uniform(0.01, 0.08),
            "air": rng.normal(295.0, 7.0), "surface": rng.normal(310.0, 10.0),
            "stagger": rng.uniform(0.02, 0.09), "note": " ".join(words),
            "decided": " ".join(rng.choice(COMMON, 5)), "hit": "RF" if rng.random() < 0.01 else "",
            "laps": LAPS, "green": 34, "best": rng.normal(15.6, 0.4), "middle": rng.normal(15.9, 0.4),
            "fall_off": rng.gamma(3.0, 0.1), "distance": LAPS * 600.0, **self.kept,
        }  # fmt: skip

    def _comment(self, run: int, rare: list[str]) -> dict[str, Any]:
        rng = self.rng
        feel, phase, when = FEELS[rng.integers(3)], PHASES[rng.integers(3)], WHENS[rng.integers(3)]
        words = " ".join([*rng.choice(COMMON, 4), *rng.choice(rare, int(rng.integers(0, 2)))])
        return {"run_id": run + 1, "feel": feel, "phase": phase, "when": when, "words": words, **self.kept}

    def _words(self, row: dict[str, Any], comments: list[dict[str, Any]], parts: list[int]) -> str:
        setup = row["setup_id"]
        said = [spoken(one["feel"], one["phase"], one["when"], one["words"]) for one in comments]
        rode = [f"{place} {self.marks[part][1]}" for place, part in zip(PLACES, parts, strict=True)]
        track, home = self.homes[row["track_id"] - 1][1], self.homes[self.home_of[setup] - 1][1]
        told = [
            row["code"],
            row["session"],
            track,
            home,
            self.revision_code[setup],
            self.reason[setup],
            row["driver"],
        ]
        return BETWEEN.join(
            part for part in [*told, *said, row["note"], row["decided"], row["hit"], *rode] if part
        )

    def _laps(self) -> Iterator[dict[str, Any]]:
        for run in range(self.count):
            times = np.round(15.6 + 0.012 * np.arange(LAPS) + self.rng.normal(0.0, 0.08, LAPS), 3).tolist()
            flags = self.rng.choice(FLAGS, LAPS, p=SHARES).tolist()
            for number, (time, flag) in enumerate(zip(times, flags, strict=True), 1):
                yield {"run_id": run + 1, "number": number, "time": time, "flag": flag, "said": ""}
