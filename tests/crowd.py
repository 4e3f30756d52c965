"""Many hands at one notebook: two programs with eight each, all changing the same part and the same draft."""

from __future__ import annotations

import itertools
import re
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, field

from torture import processes

from ovalwright.notebook import drafts
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Part
from ovalwright.notebook.trouble import NotebookTrouble

PROGRAMS, HANDS = 2, 8
ANOTHER = re.compile("another hand changed the same|changed this draft at")


@dataclass
class Tally:
    """What was done and acknowledged, how often another was quicker, and what was told besides."""

    done: Counter[str] = field(default_factory=Counter)
    clashes: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)

    def __add__(self, other: Tally) -> Tally:
        return Tally(self.done + other.done, self.clashes + other.clashes, self.told + other.told)


def lay_out(where: str) -> None:
    """One part without laps and one draft without strokes."""
    with Store.open(where, by="first") as store:
        with store.entry("part") as session:
            session.add(Part(kind="tire", mark="RR 1"))
        with store.aside() as session:
            drafts.begin(session, "run", {"strokes": 0})


def add_lap(store: Store) -> None:
    """Read, change and write in one entry."""
    with store.entry("a lap more") as session:
        session.get_one(Part, 1).laps_before += 1


def add_stroke(store: Store) -> None:
    """Read now and save later, as a form does. Raises DraftChanged when another hand was quicker."""
    with store.reading() as session:
        (draft,) = drafts.drafts(session)
    with store.aside() as session:
        strokes = {"strokes": draft.typed["strokes"] + 1}
        drafts.save(session, draft.uid, strokes, version=draft.version, by=store.by)


def add_mile(store: Store) -> None:
    """Read now and write later, past the entry that read. Raises NotebookTrouble when another was quicker."""
    with store.reading() as session:
        part = session.get_one(Part, 1)
    part.distance_before += 1.0
    with store.entry("a mile more") as session:
        session.merge(part)


CHANGES = (("laps", add_lap), ("strokes", add_stroke), ("miles", add_mile))
FEWEST = 2 * len(CHANGES)


def one_hand(store: Store, until: float) -> Tally:
    """Make the changes in turn until that time [s], each of them twice at least."""
    tally = Tally()
    for turn in itertools.count():
        if turn >= FEWEST and time.monotonic() > until:
            return tally
        what, change = CHANGES[turn % len(CHANGES)]
        try:
            change(store)
            tally.done[what] += 1
        except NotebookTrouble as trouble:
            if ANOTHER.search(str(trouble)):
                tally.clashes[what] += 1
            else:
                tally.told.append(str(trouble))
    raise AssertionError


def one_program(where: str, seconds: float) -> Tally:
    """Eight hands on one open store."""
    with Store.open(where) as store, ThreadPoolExecutor(HANDS) as hands:
        until = time.monotonic() + seconds
        return sum(hands.map(lambda _: one_hand(store, until), range(HANDS)), Tally())


def crowd(where: str, seconds: float) -> Tally:
    """Two programs at once."""
    with ProcessPoolExecutor(PROGRAMS, mp_context=processes) as programs:
        tallies = programs.map(one_program, [where] * PROGRAMS, [seconds] * PROGRAMS)
        return sum(tallies, Tally())


def kept(where: str) -> dict[str, int]:
    """What the notebook has of them."""
    with Store.open(where) as store, store.reading() as session:
        part, (draft,) = session.get_one(Part, 1), drafts.drafts(session)
        return {
            "laps": part.laps_before,
            "strokes": draft.typed["strokes"],
            "miles": round(part.distance_before),
        }


def open_anew(where: str) -> str:
    """What a program that opens a notebook is told, or nothing."""
    try:
        Store.open(where).close()
    except NotebookTrouble as trouble:
        return str(trouble)
    return ""


def open_at_once(where: str, programs: int) -> list[str]:
    """What programs that open a notebook at one moment are told."""
    with ProcessPoolExecutor(programs, mp_context=processes) as pool:
        return list(pool.map(open_anew, [where] * programs))
