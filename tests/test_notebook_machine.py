"""A notebook used in any order: setups made and grown, runs, tires moved, shared, undone, reopened.

A plain model in memory says after every step what must be in the notebook: a run's setup never changes, a
part is in one place at a time, laps add up on what was really in the car, the file is whole, and what two
notebooks send each other, with more or less of what is private, neither comes twice nor loses a word.

The quick run takes a sample of such uses; 10,000 steps are the proof.
"""

import copy
import datetime as dt
import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

import ovalwright
from ovalwright.documents import TimedLap
from ovalwright.notebook import runs, shelf, undo
from ovalwright.notebook.garage import parts, parts_life
from ovalwright.notebook.runs import Said
from ovalwright.notebook.sharing.box import read_box
from ovalwright.notebook.sharing.bundle import bundle_of, discreet, substance, whole_bundle
from ovalwright.notebook.sharing.private import ALL, KINDS
from ovalwright.notebook.sharing.taking_in import look, take
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Comment, Document, Entry, Lap, Part, Revision, Ridden, Run, Stay
from ovalwright.notebook.trouble import NotebookTrouble

DEMO = Path(ovalwright.__file__).parent / "demo"
SETUPS = ("setup_conventional.toml", "setup_hanging_rr.toml", "setup_no_rr.toml")
CHANGES = (
    {"LF.tire.cold": "9.5 psi"},
    {"RF.coil.spring": "F16"},
    {"LR.turned": "1/2 round"},
    {"LR.turned": "-1 1/4 round"},
    {"toe_out": "1/16 in"},
    {"final_drive": "6.2", "brake_front": "62 %"},
    {"bar": "none"},
)
MARKS = ("T1", "T2", "T3", "T4", "T5", "T6")
SHELF = ("", parts.SHELF)
BY = "owner"
FIRST = dt.datetime(2026, 4, 25, 9)

lap_times = st.lists(st.integers(15_000, 40_000), max_size=30)
notes = st.sampled_from(("", "", "windy", "wet"))
seldom = st.sampled_from((False, False, False, True))
kinds = st.sets(st.sampled_from(sorted(KINDS))).map(frozenset)
flags = st.sampled_from(("green", "yellow", "pit", "traffic", "other"))


@dataclass
class Known:
    """What must be in the notebook: texts of revisions and runs by their codes, where parts are, and what was
    noted and said of a run.
    """

    texts: dict[str, str] = field(default_factory=dict)
    ran: dict[str, str] = field(default_factory=dict)
    laps: dict[str, tuple[tuple[int, float, str], ...]] = field(default_factory=dict)
    rode: dict[str, dict[str, str]] = field(default_factory=dict)
    where: dict[str, tuple[str, str]] = field(default_factory=dict)
    told: dict[str, tuple[str, tuple[str, ...]]] = field(default_factory=dict)


class Notebook(RuleBasedStateMachine):
    """One hand, one notebook, any order. `steps` counts those of all uses."""

    steps = 0

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="ovalwright-machine-"))
        self.path = self.folder / "notebook.sqlite"
        self.known, self.before, self.after, self.clock = Known(), [], [], FIRST
        self.given, self.first_given = set(), {}
        self.open()

    def open(self):
        self.store = opened(self.path, BY)
        self.theirs = opened(self.folder / "theirs.sqlite", "neighbor")

    def entry(self, what):
        """An entry of the notebook; the model remembers what was known before it."""
        self.clock += dt.timedelta(minutes=7)
        self.before.append(copy.deepcopy(self.known))
        self.after.clear()
        return self.store.entry(what)

    def teardown(self):
        for store in (self.store, self.theirs):
            with store.reading() as session:
                assert session.execute(sa.text("PRAGMA integrity_check")).scalar() == "ok"
            store.close()
        shutil.rmtree(self.folder)

    # ---------------- what he does

    @initialize()
    def begin(self):
        with self.entry("the first setup, the track, the tires") as session:
            first = shelf.keep_setup(session, DEMO / SETUPS[0])
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
            for mark in MARKS:
                parts.new_part(session, "tire", mark, laps_before=7)
                self.known.where[mark] = SHELF
            self.known.texts[first.code] = first.text

    @rule(name=st.sampled_from(SETUPS))
    def take_in(self, name):
        with self.entry(f"take in {name}") as session:
            kept = shelf.keep_setup(session, DEMO / name)
            self.known.texts[kept.code] = kept.text

    @rule(data=st.data(), changes=st.sampled_from(CHANGES))
    def edit(self, data, changes):
        code = drawn(data, self.known.texts)
        with self.entry("edit") as session:
            child = shelf.child(session, shelf.revision(session, code), changes, reason="to see")
            assert child.parent.code == code
            self.known.texts[child.code] = child.text

    @rule(data=st.data(), times=lap_times, flag=flags, note=notes)
    def run(self, data, times, flag, note):
        code = drawn(data, self.known.texts)
        with self.entry("run") as session:
            track = shelf.revision(session, "three-eighths at twelve", kind="track")
            event = runs.new_event(session, f"{self.clock:%H:%M}", self.clock.date(), track=track)
            run = runs.new_run(
                session, event, shelf.revision(session, code, kind="setup"), started=self.clock, note=note
            )
            self.known.told[run.code] = note, ()
            self.put_laps(session, run, times, flag)
            self.known.ran[run.code] = code
            self.known.rode[run.code] = {
                place: mark for mark, (car, place) in self.known.where.items() if car
            }

    @precondition(lambda self: self.known.ran)
    @rule(data=st.data(), times=lap_times, flag=flags)
    def write_the_laps_anew(self, data, times, flag):
        code = drawn(data, self.known.ran)
        with self.entry("laps") as session:
            self.put_laps(session, runs.run_of(session, code), times, flag)

    @precondition(lambda self: self.known.ran)
    @rule(data=st.data(), note=notes, words=notes)
    def write_the_note_anew(self, data, note, words):
        code = drawn(data, self.known.ran)
        with self.entry("note") as session:
            run = runs.run_of(session, code)
            runs.change_run(session, run, {"note": note})
            said = self.known.told[code][1]
            if words:
                runs.say(session, run, Said(words=words))
                said = (*said, words)
            self.known.told[code] = note, said

    def put_laps(self, session, run, times, flag):
        laps = [
            TimedLap(number, time / 1000, flag if number % 5 == 0 else "green", number)
            for number, time in enumerate(times, start=1)
        ]
        runs.put_laps(session, run, laps)
        self.known.laps[run.code] = tuple((lap.number, lap.time, lap.flag) for lap in laps)

    @rule(mark=st.sampled_from(MARKS), corner=st.sampled_from(parts.CORNERS))
    def swap_a_tire(self, mark, corner):
        with self.entry("tire on") as session:
            car = session.scalars(sa.select(Document).where(Document.kind == "car")).first()
            tire, place = parts.part_of(session, mark), f"{corner} tire"
            parts.put(session, tire, car, corner, when=self.clock)
            for other, there in self.known.where.items():
                if there == (car.name, place):
                    self.known.where[other] = SHELF
            self.known.where[mark] = (car.name, place)

    @rule(mark=st.sampled_from(MARKS), to=st.sampled_from(("", "neighbor")))
    def take_a_tire_off(self, mark, to):
        with self.entry("tire off") as session:
            tire = parts.part_of(session, mark)
            if to:
                parts.lend(session, tire, to, when=self.clock)
            else:
                parts.shelve(session, tire, when=self.clock)
            self.known.where[mark] = ("", f"{parts.LENT}{to}") if to else SHELF

    @precondition(lambda self: self.known.ran)
    @rule(data=st.data())
    def try_to_change_what_was_run(self, data):
        code = drawn(data, self.known.ran)
        with pytest.raises(NotebookTrouble), self.store.entry("forbidden") as session:
            run = runs.run_of(session, code)
            session.get_one(Revision, run.setup_id).text += "\n# another"
        with pytest.raises(NotebookTrouble), self.store.entry("forbidden") as session:
            runs.change_run(session, runs.run_of(session, code), {"setup_id": 1})

    @precondition(lambda self: len(self.before) > 1)
    @rule()
    def undo(self):
        with self.store.entry("undo") as session:
            undo.undo(session, by=BY)
        self.after.append(self.known)
        self.known = self.before.pop()

    @precondition(lambda self: self.after)
    @rule()
    def put_back(self):
        with self.store.entry("put back") as session:
            undo.put_back(session, by=BY)
        self.before.append(self.known)
        self.known = self.after.pop()

    @precondition(lambda self: not self.after)
    @rule()
    def nothing_to_put_back(self):
        with pytest.raises(NotebookTrouble), self.store.entry("put back") as session:
            undo.put_back(session, by=BY)

    @rule()
    def fail_halfway(self):
        with pytest.raises(RuntimeError), self.store.entry("never kept") as session:
            parts.new_part(session, "spring", "B99")
            raise RuntimeError

    @rule()
    def close_and_open_again(self):
        self.store.close()
        self.theirs.close()
        self.open()

    @precondition(lambda self: self.known.ran)
    @rule(data=st.data(), private=kinds, everything=seldom)
    def give_the_neighbor(self, data, private, everything):
        codes = list(self.known.ran) if everything else [drawn(data, self.known.ran)]
        box = sent(self.store, "" if everything else codes[0], private=private)
        with self.theirs.reading() as session:
            before = told_of_runs(session)
        with self.theirs.entry("taken in") as session:
            take(look(box, session), session)
        with self.theirs.reading() as session:
            kept, told = contents(session), told_of_runs(session)
            assert not look(box, session).adds, "what was taken is there"
        for setup in self.known.texts if everything else [self.known.ran[code] for code in codes]:
            self.first_given.setdefault(setup, discreet(self.known.texts[setup], private))
        for code in codes:
            self.given.add((self.first_given[self.known.ran[code]], self.known.laps[code]))
        assert {(text, laps) for text, laps, _ in kept.values()} == self.given, "all that was given, no more"
        assert keeps_all(before, told)
        for code in codes:
            note, said = self.known.told[code]
            given = note if "notes" in private else "", said if "words" in private else ()
            alike = [told[one] for one, (_, laps, _) in kept.items() if laps == self.known.laps[code]]
            assert any(keeps_all({code: given}, {code: one}) for one in alike), (
                "what was told in confidence too"
            )

    @precondition(lambda self: self.given)
    @rule(data=st.data(), everything=seldom)
    def get_back(self, data, everything):
        with self.theirs.reading() as session:
            there = contents(session)
        codes = list(there) if everything else [drawn(data, there)]
        box = sent(self.theirs, "" if everything else codes[0], private=ALL)
        with self.entry("taken in") as session:
            take(look(box, session), session)
            now, told = contents(session), told_of_runs(session)
            setups = dict(
                session.execute(
                    sa.select(Run.code, Revision.code).join(Revision, Revision.id == Run.setup_id)
                ).all()
            )
            texts = dict(session.execute(sa.select(Revision.code, Revision.text)).all())
        with self.store.reading() as session:
            assert not look(box, session).adds, "what was taken is there"
        assert keeps_all(self.known.told, told)
        self.known.told = told
        came = {(substance(there[code][0]), there[code][1]) for code in codes}
        assert came <= {(substance(text), laps) for text, laps, _ in now.values()}
        for new in now.keys() - self.known.ran.keys():
            text, self.known.laps[new], self.known.rode[new] = now[new]
            assert (substance(text), self.known.laps[new]) in came
            self.known.ran[new] = setups[new]
            self.first_given.setdefault(setups[new], text)
            self.known.texts[setups[new]] = texts[setups[new]]

    # ---------------- what must hold

    @invariant()
    def a_runs_setup_never_changes(self):
        with self.store.reading() as session:
            texts = dict(session.execute(sa.select(Revision.code, Revision.text)).all())
            ran = sa.select(Run.code, Revision.code).join(Revision, Revision.id == Run.setup_id)
            assert dict(session.execute(ran).all()) == self.known.ran
        assert {code: texts[code] for code in self.known.texts} == self.known.texts

    @invariant()
    def a_part_is_in_one_place(self):
        query = sa.select(Part.mark, Document.name, Stay.place).join(Stay.part)
        query = query.outerjoin(Document, Document.id == Stay.car_id).where(Stay.until.is_(None))
        with self.store.reading() as session:
            stays = session.execute(query).all()
            springs = session.scalars(sa.select(Part.mark).where(Part.kind == "spring")).all()
        where = {mark: (car or "", place) for mark, car, place in stays}
        assert len(where) == len(stays), "a part has one place"
        assert {mark: where.get(mark, SHELF) for mark in self.known.where} == self.known.where
        on_car = [place for car, place in where.values() if car]
        assert len(set(on_car)) == len(on_car), "a place holds one part"
        assert springs == [], "what failed halfway is not there"

    @invariant()
    def laps_add_up(self):
        with self.store.reading() as session:
            kept, told = contents(session), told_of_runs(session)
            tires = session.scalars(sa.select(Part).where(Part.mark.in_(self.known.where))).all()
            lives = {one.mark: one.laps for one in parts_life.lives(session, tires)}
        assert {code: laps for code, (_, laps, _) in kept.items()} == self.known.laps
        assert {code: there for code, (_, _, there) in kept.items()} == self.known.rode
        assert told == self.known.told
        for mark in self.known.where:
            on_it = (code for code, there in self.known.rode.items() if mark in there.values())
            assert lives[mark] == 7 + sum(len(self.known.laps[code]) for code in on_it)

    @invariant()
    def nothing_dangles(self):
        Notebook.steps += 1
        with self.store.reading() as session:
            assert session.execute(sa.text("PRAGMA foreign_key_check")).first() is None
            entries = session.scalars(
                sa.select(sa.func.count()).where(Entry.undone_by_id.is_(None), ~Entry.undoes)
            ).one()
        assert entries == len(self.before)


def opened(path, by):
    """A notebook that does not wait for the disk: what a crash leaves is tried elsewhere."""
    store = Store.open(path, by=by)
    sa.event.listen(store.engine, "connect", unhurried)
    store.engine.dispose()
    return store


def unhurried(connection, _record):
    connection.execute("PRAGMA synchronous = OFF")


def drawn(data, known):
    """One of the codes known; codes are new in every run, their order is not."""
    return list(known)[data.draw(st.integers(0, len(known) - 1), label="which")]


def sent(store, code, *, private):
    """A run as it arrives in a bundle; everything where no code is told."""
    with store.reading() as session:
        whole = whole_bundle(session, private=private) if not code else None
        return read_box((whole or bundle_of(session, runs.run_of(session, code), private=private)).to_bytes())


def contents(session):
    """Of every run by its code, in the order entered: text of its setup, laps, and marks by their places."""
    query = sa.select(Run.code, Revision.text).join(Revision, Revision.id == Run.setup_id).order_by(Run.id)
    found = {code: (text, [], {}) for code, text in session.execute(query)}
    query = sa.select(Run.code, Lap.number, Lap.time, Lap.flag).join(Run, Run.id == Lap.run_id)
    for code, *lap in session.execute(query.order_by(Lap.run_id, Lap.number)):
        found[code][1].append(tuple(lap))
    query = sa.select(Run.code, Ridden.place, Part.mark).join(Ridden.run).join(Ridden.part)
    for code, place, mark in session.execute(query):
        found[code][2][place] = mark
    return {code: (text, tuple(laps), rode) for code, (text, laps, rode) in found.items()}


def told_of_runs(session):
    """What was noted and what was said of every run, by its code."""
    found = {code: (note, []) for code, note in session.execute(sa.select(Run.code, Run.note))}
    query = sa.select(Run.code, Comment.words).join(Run, Run.id == Comment.run_id).order_by(Comment.id)
    for code, words in session.execute(query):
        found[code][1].append(words)
    return {code: (note, tuple(said)) for code, (note, said) in found.items()}


def keeps_all(before, after):
    """Whether nothing that was noted or said of a run is lost or says something else; it may be filled in."""
    return all(
        not one or one == other
        for code, told in before.items()
        for one, other in zip(told, after[code], strict=True)
    )


def used(examples, steps):
    return settings(
        max_examples=examples,
        stateful_step_count=steps,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )


TestASampleOfUses = Notebook.TestCase
TestASampleOfUses.settings = used(examples=6, steps=25)


@pytest.mark.proof
class TestTenThousandSteps(Notebook.TestCase):
    settings = used(examples=140, steps=100)

    def runTest(self):
        Notebook.steps = 0
        super().runTest()
        print(f"steps: {Notebook.steps}")
        assert Notebook.steps >= 10_000
