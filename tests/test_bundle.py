"""Sharing: what one notebook sends, another takes in equal; nothing here is ever overwritten."""

import dataclasses

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st
from shared_rows import (
    AFTERNOON,
    DEMO,
    LAPS,
    NIGHT,
    PRICE,
    SECRET,
    fill,
    fill_little,
    opened,
    shared,
    taken,
    whole,
)

from ovalwright.documents import FLAGS, TimedLap, load_car
from ovalwright.notebook import runs, season, shelf, undo
from ovalwright.notebook.garage import parts, work
from ovalwright.notebook.runs import FEELS, PHASES, WHENS, Read, Said
from ovalwright.notebook.sharing.box import read_box
from ovalwright.notebook.sharing.bundle import Bundle, bundle_of, discreet
from ovalwright.notebook.sharing.carried import CARRIED
from ovalwright.notebook.sharing.taking_in import look, take
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Document, Figure, Measurement, Revision, Run
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.trouble import NotebookTrouble


@pytest.fixture(scope="module")
def ours(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("ours") / "notebook.sqlite", "ann") as store:
        fill(store)
        yield store


@pytest.fixture(scope="module")
def sent(ours):
    """The last run, as it is shared."""
    return shared(ours)


@pytest.fixture
def theirs(tmp_path):
    with opened(tmp_path / "theirs.sqlite", "bob") as store:
        yield store


@pytest.fixture(scope="module")
def couple(tmp_path_factory):
    """Two notebooks of friends, the first with an event and a setup."""
    folder = tmp_path_factory.mktemp("couple")
    with opened(folder / "a.sqlite", "ann") as one, opened(folder / "b.sqlite", "bob") as other:
        fill(one)
        yield one, other


LETTERS = st.characters(exclude_categories=["Cs", "Cc"])
WORDS = st.text(LETTERS, max_size=10) | st.text("=+-@'\t\n 1.", max_size=5)
SAYINGS = st.builds(Said, *map(st.sampled_from, (PHASES, WHENS, FEELS)), WORDS)
READINGS = st.builds(
    Read,
    st.just("hot"),
    st.floats(-1e9, 1e9),
    st.sampled_from(["LF", ""]),
    lap=st.none() | st.just(3),
    typed=WORDS,
)


def fates(lines):
    return {line.fate for line in lines}


def count(store, table):
    with store.reading() as session:
        return session.scalar(sa.select(sa.func.count()).select_from(table))


def records(store):
    with store.reading() as session:
        return [runs.record(session, run) for run in session.scalars(sa.select(Run).order_by(Run.number))]


# ---------------- equal on the other side


def test_every_table_that_travels_has_a_row_to_try(ours):
    assert {carried.file for carried in CARRIED} < set(whole(ours).members)


def test_a_whole_notebook_arrives_equal(ours, store_url):
    with Store.open(store_url, by="bob") as theirs:
        sent = whole(ours)
        assert fates(line for line in taken(theirs, sent) if line.kind != "interval") == {"new"}
        assert whole(theirs).to_bytes() == sent.to_bytes()
        assert records(theirs) == records(ours)
        assert count(theirs, Figure) == count(ours, Figure) > 500
        with ours.reading() as here, theirs.reading() as there:
            for one in here.scalars(sa.select(Revision)):
                other = there.scalars(sa.select(Revision).where(Revision.uid == one.uid)).one()
                assert shelf.document_of(other) == shelf.document_of(one)
                if one.document.kind == "setup":
                    assert shelf.assembly_of(there, other) == shelf.assembly_of(here, one)


@pytest.mark.proof
def test_a_season_arrives_equal(tmp_path, theirs, capsys):
    with Store.open(tmp_path / "season.sqlite", by=season.OWNER) as store:
        entered = season.enter(store)
        sent = whole(store)
        taken(theirs, sent)
        with store.reading() as here, theirs.reading() as there:
            ran = here.scalars(sa.select(Run)).all()
            equal = sum(runs.record(here, r) == runs.record(there, runs.run_of(there, r.code)) for r in ran)
    with capsys.disabled():
        print(f"\nseason sent and taken in: {equal} of {entered.runs} runs equal, {entered.laps} laps")
    assert equal == entered.runs == len(ran)
    assert whole(theirs).to_bytes() == sent.to_bytes()


def test_a_run_arrives_equal_but_for_what_is_private(ours, sent, theirs):
    taken(theirs, sent)
    mine, other = records(ours)[-1], records(theirs)[-1]
    said = tuple(dataclasses.replace(one, words="") for one in mine.comments if one.feel)
    laps = tuple(dataclasses.replace(one, said="") for one in mine.laps)
    assert other == dataclasses.replace(mine, decided="", comments=said, laps=laps)
    assert mine.fall_off is not None and other.fall_off == mine.fall_off
    with ours.reading() as here, theirs.reading() as there:
        setup, copy = (shelf.revision(s, mine.setup) for s in (here, there))
        expected = shelf.setup_of(setup).model_copy(update={"notes": ""})
        assert shelf.setup_of(copy).model_dump(exclude={"car", "sheet", "rack"}) == expected.model_dump(
            exclude={"car", "sheet", "rack"}
        )
        assert copy.parent is None and copy.said == ""


def test_what_is_private_stays_at_home_unless_asked_for(ours):
    open_bundles = [whole(ours, private=False), shared(ours)]
    for bundle in open_bundles:
        held = b"\n".join(bundle.members.values())
        assert SECRET.encode() not in held and str(PRICE).encode() not in held
        assert bundle.about["private"] == ""
    held = b"\n".join(whole(ours).members.values())
    assert held.count(SECRET.encode()) > 12 and held.count(str(PRICE).encode()) == 2


def test_notes_comments_and_folders_are_left_out_of_a_document():
    text = 'name = "a"  # of Joe\nnotes = "Joe"\ncar = "/mnt/joe/car.toml"\n[LF]\nnotes = "Joe"\n'
    assert discreet(text) == 'name = "a"\ncar = "car.toml"\n\n[LF]\n'
    plain = 'name = "a"\n'
    assert discreet(plain) is plain
    for path in DEMO.glob("*.toml"):
        once = discreet(path.read_text(encoding="utf-8"))
        assert discreet(once) == once


def test_equal_rows_make_equal_bundles(ours):
    assert whole(ours).to_bytes() == whole(ours).to_bytes()
    assert shared(ours).to_bytes() == shared(ours).to_bytes()


def test_a_setup_goes_with_what_it_refers_to_and_without_what_it_came_from(ours):
    with ours.reading() as session:
        bundle = bundle_of(session, shelf.revision(session, "Conventional", kind="setup"))
    kinds = sorted(name.partition("/")[0] for name in bundle.members if "/" in name)
    assert kinds == ["car", "rack", "setup", "sheet"]
    assert "runs.csv" not in bundle.members


def test_an_event_goes_with_its_runs(ours, theirs):
    with ours.reading() as session:
        bundle = bundle_of(session, runs.event_of(session, "Opening night"))
    assert [line.kind for line in taken(theirs, bundle)].count("run") == 2
    assert not {"checklists.csv", "serviced.csv", "stays.csv"} & set(bundle.members)


def test_nothing_shared_is_told(ours):
    with ours.reading() as session, pytest.raises(NotebookTrouble, match="nothing was named"):
        bundle_of(session)


@settings(max_examples=12)
@given(
    st.lists(st.tuples(st.floats(10.0, 40.0), st.sampled_from(FLAGS), WORDS), max_size=6),
    st.lists(SAYINGS, max_size=3),
    st.lists(READINGS, max_size=3),
    WORDS,
)
def test_any_run_arrives_as_it_was(couple, laps, comments, readings, words):
    here, there = couple
    with here.entry("a run") as session:
        run = runs.new_run(
            session,
            runs.event_of(session, "last"),
            shelf.revision(session, "Conventional", kind="setup"),
            driver=words,
            note=words,
            decided=words,
        )
        timed = [TimedLap(n, time, flag, n, said) for n, (time, flag, said) in enumerate(laps, start=1)]
        runs.put_laps(session, run, timed)
        for one in comments:
            runs.say(session, run, one)
        runs.add_readings(session, run, readings)
        expected = runs.record(session, run)
    taken(there, shared(here, expected.code, private=True))
    with there.reading() as session:
        assert runs.record(session, runs.run_of(session, expected.code)) == expected


# ---------------- nothing is overwritten


def test_what_is_here_already_is_not_taken_twice(ours, theirs):
    for bundle in (shared(ours), whole(ours, private=False)):
        taken(theirs, bundle)
        before = whole(theirs).to_bytes()
        assert fates(taken(theirs, bundle)) == {"here"}
        assert whole(theirs).to_bytes() == before


def test_taking_in_is_one_entry_and_is_undone_whole(ours, theirs):
    fill_little(theirs)
    before, words = whole(theirs).to_bytes(), count(theirs, Saying)
    taken(theirs, whole(ours))
    assert count(theirs, Saying) > words
    with theirs.entry("undo") as session:
        assert undo.undo(session, by="bob").what == "taken in"
    assert whole(theirs).to_bytes() == before
    assert (count(theirs, Saying), count(theirs, Figure)) == (words, count(theirs, Figure))


def test_a_run_that_says_something_else_comes_in_as_a_copy_once(ours, sent, theirs):
    taken(theirs, sent)
    with theirs.entry("shorter") as session:
        runs.put_laps(session, runs.run_of(session, "last"), LAPS)
    mine = records(theirs)
    lines = taken(theirs, sent)
    assert [line.kind for line in lines if line.fate == "copy"] == ["run"]
    assert "says something else" in next(line.why for line in lines if line.fate == "copy")
    after = records(theirs)
    assert after[0] == mine[0] and len(after) == 2
    assert [lap.time for lap in after[1].laps] == [lap.time for lap in records(ours)[-1].laps]
    assert after[1].number == mine[0].number + 1 and after[1].code != mine[0].code
    assert fates(taken(theirs, sent)) == {"here"}


def test_a_copy_that_was_changed_here_stays_and_another_comes_in(sent, theirs):
    taken(theirs, sent)
    for number in (1, 2):
        with theirs.entry("other laps") as session:
            last = session.scalars(sa.select(Run).order_by(Run.id.desc())).first()
            runs.put_laps(session, last, runs.laps_of(session, last)[:-number])
        lines = taken(theirs, sent)
        assert [line.kind for line in lines if line.fate == "copy"] == ["run"]
    lengths = [len(record.laps) for record in records(theirs)]
    assert sorted(lengths) == [max(lengths) - 2, max(lengths) - 1, max(lengths)]
    assert fates(taken(theirs, sent)) == {"here"}


def forged(bundle, member, old, new):
    """A bundle with words in one member exchanged, vouched for anew."""
    raw = bundle.members[member]
    assert old.encode() in raw
    return Bundle({**bundle.members, member: raw.replace(old.encode(), new.encode())}, bundle.about)


def test_what_refers_to_a_copy_follows_it(sent, theirs):
    taken(theirs, sent)
    car = next(name for name in sent.members if name.startswith("car/"))
    other = forged(sent, car, 'name = "Number none', 'name = "Number two')
    lines = taken(theirs, other)
    assert [line.kind for line in lines if line.fate == "copy"] == ["car", "setup", "run"]
    mine, copy = records(theirs)
    names = {"code": mine.code, "number": mine.number, "setup": mine.setup, "setup_number": mine.setup_number}
    assert mine == dataclasses.replace(copy, **names) and copy.setup_number > mine.setup_number
    with theirs.reading() as session:
        names = [
            shelf.assembly_of(session, shelf.revision(session, one.setup)).car.name for one in (mine, copy)
        ]
    assert [name.partition(",")[0] for name in names] == ["Number none", "Number two"]


def test_names_and_codes_that_are_taken_here_are_given_anew(ours, sent, theirs):
    fill_little(theirs)
    with theirs.entry("a car, an event and a code") as session:
        shelf.keep(session, load_car(DEMO / "car.toml"))
        runs.new_event(session, "Opening night", NIGHT)
        runs.run_of(session, "last").code = records(ours)[-1].code
    lines = {(line.kind, line.name): line.why for line in taken(theirs, sent)}
    assert lines["tire", "T8 (2)"] == 'another is called "T8" here'
    assert lines["event", "Opening night (2)"] == 'another is called "Opening night" here'
    with theirs.reading() as session:
        cars = list(session.scalars(sa.select(Document.name).where(Document.kind == "car")))
        assert len(cars) == len(set(cars)) == 3 and sum(name.endswith(" (2)") for name in cars) == 1
        assert len(set(session.scalars(sa.select(Run.code)))) == 2
    assert fates(taken(theirs, sent)) == {"here"}


def test_a_checklist_that_both_have_made_is_the_same(ours, theirs):
    with theirs.entry("lists") as session:
        work.ready_lists(session)
        mine = work.lists(session)
    with opened(theirs.path.with_name("fourth.sqlite"), "dan") as fourth:
        with fourth.entry("lists") as session:
            work.ready_lists(session)
            going = work.begin_round(session, work.list_of(session, mine[0]))
            work.tick(session, going, going.checklist.items[0], by="dan", took="4 min")
            work.new_list(session, "Own list")
        sent = whole(fourth)
    lines = taken(theirs, sent)
    assert {(line.kind, line.fate) for line in lines if line.kind != "checklist"} == {("round", "new")}
    assert [line.name for line in lines if line.kind == "checklist" and line.fate == "new"] == ["Own list"]
    with theirs.reading() as session:
        assert sorted(work.lists(session)) == sorted([*mine, "Own list"])
        (sheet,) = work.rounds(session)
        assert sum(line.done_by == "dan" for line in sheet.lines) == 1
    again = Bundle({**sent.members, "done.csv": sent.members["done.csv"].replace(b"dan", b"eve")}, sent.about)
    assert fates(taken(theirs, again)) == {"here"}
    with theirs.reading() as session:
        assert {line.done_by for line in work.rounds(session)[0].lines} == {"dan", ""}


def test_measurements_come_to_a_part_that_is_here(ours, theirs, tmp_path):
    with opened(tmp_path / "third.sqlite", "cid") as third:
        for store in (third, theirs):
            taken(store, whole(ours))
        with third.entry("durometer") as session:
            tire = parts.part_of(session, "tire T8")
            session.add(Measurement(part_id=tire.id, measured_on=NIGHT, what="durometer", si=52.0))
        (line,) = (line for line in taken(theirs, whole(third)) if line.fate != "here")
        assert (line.kind, line.name, line.fate, line.why) == ("tire", "T8", "more", "1 measurement")
        assert whole(theirs).members["measurements.csv"] == whole(third).members["measurements.csv"]


def test_a_part_whose_place_is_taken_here_goes_to_the_shelf(ours, theirs):
    with ours.reading() as session:
        setup = bundle_of(session, shelf.revision(session, "Conventional", kind="setup"))
    taken(theirs, setup)
    with theirs.entry("a tire") as session:
        car = session.scalars(sa.select(Document).where(Document.kind == "car")).one()
        parts.put(session, parts.new_part(session, "tire", "T9"), car, "RF", when=AFTERNOON)
    taken(theirs, whole(ours, private=False))
    with theirs.reading() as session:
        (place,) = (one.place for one in parts.on_car(session, car) if one.mark == "T9")
        assert place == "RF tire"
        assert parts.whereabouts(session, parts.part_of(session, "tire T8")).place == "shelf"
        assert parts.whereabouts(session, parts.part_of(session, "spring B13")).place == "lent to another"


def test_a_notebook_that_changed_since_it_was_looked_at_takes_nothing(sent, theirs):
    box = read_box(sent.to_bytes(), name="sent.ovalbox")
    with theirs.reading() as session:
        plan = look(box, session)
    taken(theirs, sent)
    before = whole(theirs).to_bytes()
    with pytest.raises(NotebookTrouble, match="the notebook has changed since"), theirs.entry("x") as session:
        take(plan, session)
    assert whole(theirs).to_bytes() == before
