"""The same things sent again, with and without what is private: one thing stays one, and loses nothing."""

import dataclasses
from contextlib import ExitStack

import pytest
import sqlalchemy as sa
from shared_rows import LAPS, PRICE, SECRET, fill, fill_little, opened, shared, taken, whole

from ovalwright.notebook import runs, shelf, undo
from ovalwright.notebook.garage import parts
from ovalwright.notebook.runs import Said
from ovalwright.notebook.sharing.bundle import bundle_of, discreet, ways_to_send, whole_bundle
from ovalwright.notebook.sharing.private import KINDS
from ovalwright.notebook.tables import Document, Event, Part, Revision, Run, Serviced


@pytest.fixture(scope="module")
def ours(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("ours") / "notebook.sqlite", "ann") as store:
        fill(store)
        yield store


@pytest.fixture
def theirs(tmp_path):
    with opened(tmp_path / "theirs.sqlite", "bob") as store:
        yield store


def records(store):
    with store.reading() as session:
        return [runs.record(session, run) for run in session.scalars(sa.select(Run).order_by(Run.number))]


def rows(store, table):
    with store.reading() as session:
        return list(session.scalars(sa.select(table).order_by(table.id)))


def fates(lines, kind):
    return {(line.fate, line.why) for line in lines if line.kind == kind}


def test_a_run_sent_without_and_with_what_is_private_is_one_run(ours, theirs):
    heat, feature = records(ours)
    for code, private in ((heat.code, False), (feature.code, True), (feature.code, False)):
        taken(theirs, shared(ours, code, private=private))
    with_gaps = whole(theirs).to_bytes()
    lines = taken(theirs, shared(ours, heat.code, private=True))
    assert fates(lines, "run") == {("more", "what had stayed at home")}
    assert records(theirs) == [heat, feature], "all of it is there, once"
    assert len(rows(theirs, Event)) == 1 and rows(theirs, Event)[0].note == SECRET
    with theirs.entry("undo") as session:
        undo.undo(session, by="bob")
    assert whole(theirs).to_bytes() == with_gaps
    for private in (True, False, True):
        taken(theirs, shared(ours, heat.code, private=private))
        assert records(theirs) == [heat, feature], "a poorer one blanks nothing"


def test_a_document_never_changes_and_its_notes_come_beside_it(ours, theirs):
    for private in (False, True, True, False):
        taken(theirs, shared(ours, private=private))
    mine = {one.uid: one.text for one in rows(ours, Revision)}
    there = rows(theirs, Revision)
    poor = {one.id: one for one in there if one.uid in mine}
    fuller = [one for one in there if one.uid not in mine]
    assert fuller, "the documents have notes"
    assert all(one.text == discreet(mine[one.uid]) for one in poor.values())
    assert {one.text for one in fuller} == {text for text in mine.values() if text != discreet(text)} & {
        mine[one.uid] for one in poor.values()
    }
    assert len({one.parent_id for one in fuller}) == len(fuller), "each once"
    assert all(one.text == mine[poor[one.parent_id].uid] for one in fuller)
    assert fates(taken(ours, whole(theirs)), "setup") == {("here", "")}, "and is known where it came from"


def test_what_contradicts_comes_as_a_copy_and_what_is_here_stays(ours, theirs):
    taken(theirs, shared(ours))
    with theirs.entry("bob's own") as session:
        runs.say(session, runs.run_of(session, "last"), Said(words="bob's own words"))
    own = records(theirs)
    assert {fate for fate, _ in fates(taken(theirs, shared(ours, private=True)), "run")} == {"copy"}
    first, copy = records(theirs)
    assert first == own[0]
    kept = {"code": copy.code, "number": copy.number, "setup": copy.setup, "setup_number": copy.setup_number}
    assert copy == dataclasses.replace(records(ours)[-1], **kept)


def test_what_was_done_is_filled_in_and_a_note_of_theirs_stays(ours, theirs):
    taken(theirs, whole(ours, private=False))
    with theirs.entry("a note") as session:
        parts.part_of(session, "tire T8").note = "bob's own"
    lines = taken(theirs, whole(ours))
    assert ("more", "says something else here, which stays: note") in fates(lines, "tire")
    (done,) = rows(theirs, Serviced)
    assert (done.done_by, done.note) == (SECRET, SECRET)
    tire = next(one for one in rows(theirs, Part) if one.mark == "T8")
    assert (tire.note, tire.bought_from) == ("bob's own", SECRET)
    assert ("here", "says something else here, which stays: note") in fates(
        taken(theirs, whole(ours)), "tire"
    )


@pytest.fixture
def three(tmp_path):
    """Notebooks of ann, bob and cid; ann has one run."""
    with ExitStack() as stack:
        ann, bob, cid = (
            stack.enter_context(opened(tmp_path / f"{by}.sqlite", by)) for by in ("ann", "bob", "cid")
        )
        fill_little(ann)
        yield ann, bob, cid


def with_laps(store, laps, which="last"):
    with store.entry("laps") as session:
        runs.put_laps(session, runs.run_of(session, which), laps)


def test_a_copy_is_known_by_whoever_has_the_original(three):
    ann, bob, cid = three
    taken(bob, shared(ann))
    taken(cid, shared(ann))
    with_laps(ann, LAPS[:2])
    assert {fate for fate, _ in fates(taken(bob, shared(ann)), "run")} == {"copy"}
    copy = shared(bob, max(rows(bob, Run), key=lambda run: run.id).code, private=True)
    assert fates(taken(ann, copy), "run") == {("here", "")}
    with_laps(ann, LAPS[:1])
    assert {fate for fate, _ in fates(taken(ann, copy), "run")} == {"copy"}, "that is no longer so"
    with_laps(ann, LAPS[:2], min(rows(ann, Run), key=lambda run: run.id).code)
    assert {fate for fate, _ in fates(taken(cid, whole(ann)), "run")} == {"copy", "here"}
    assert sorted(len(one.laps) for one in records(cid)) == [2, 3], "two that are alike are one copy"


def test_two_tellings_of_one_run_do_not_write_over_each_other(three):
    ann, bob, cid = three
    taken(bob, shared(ann))
    taken(cid, shared(ann))
    for store, note in ((ann, "wind from the north"), (bob, "no wind")):
        with store.entry("note") as session:
            runs.change_run(session, runs.run_of(session, "last"), {"note": note})
    taken(bob, shared(ann, private=True))
    for _ in range(2):
        taken(cid, whole(bob))
        assert sorted(one.note for one in records(cid)) == ["no wind", "wind from the north"]


@pytest.mark.parametrize("change", [{}, {"LR.turned": "1/2 round"}], ids=["notes alone", "and a change"])
def test_a_run_on_the_fuller_setup_is_one_run_everywhere(three, change):
    ann, bob, cid = three
    with ann.entry("with notes") as session:
        raced = runs.run_of(session, "last").setup
        noted = shelf.child(session, raced, {"notes": "soft", **change}, reason="to remember")
        runs.new_run(session, runs.event_of(session, "last"), noted)
    for private in (False, True):
        taken(bob, shared(ann, private=private))
    with bob.entry("on it") as session:
        fuller = session.scalars(sa.select(Revision).where(Revision.text.contains('"soft"'))).one()
        assert fuller.said == "", "it differs from the one that it stands beside in nothing but words"
        runs.new_run(session, runs.event_of(session, "last"), fuller)
    assert {fate for fate, _ in fates(taken(ann, shared(bob, private=True)), "run")} == {"new"}
    for giver, taker in ((ann, bob), (bob, ann), (bob, cid), (ann, cid), (cid, bob), (cid, ann)):
        taken(taker, whole(giver))
    assert [len(records(store)) for store in three] == [3, 3, 3]


# ---------------- a choice of what is private


def test_each_kind_of_private_things_goes_along_by_itself(ours):
    def held(*kinds):
        with ours.reading() as session:
            members = whole_bundle(session, private=kinds).members
        return b"\n".join(raw for name, raw in members.items() if name.endswith((".csv", ".toml")))

    secret, price = SECRET.encode(), str(PRICE).encode()
    counts = {kind: (held(kind).count(secret), held(kind).count(price)) for kind in KINDS}
    assert counts["money"] == (0, 2) and all(
        counts[kind][0] and not counts[kind][1] for kind in KINDS if kind != "money"
    )
    assert sum(words for words, _ in counts.values()) == held(*KINDS).count(secret)
    assert b"says SECRET" in held("words") and b"says SECRET" not in held("names", "money", "notes")
    assert b"lent to SECRET" in held("names") and b"lent to SECRET" not in held("words", "money", "notes")
    assert b'notes = "SECRET"' in held("notes") and b'notes = "SECRET"' not in held("names", "words")


def test_what_comes_kind_by_kind_ends_up_whole(ours, theirs):
    run = records(ours)[-1]
    for kinds in ((), ("words",), ("notes", "money"), ("names",), ()):
        with ours.reading() as session:
            taken(theirs, bundle_of(session, runs.run_of(session, run.code), private=kinds))
    assert records(theirs) == [run]
    assert (rows(theirs, Event)[0].note, rows(theirs, Event)[0].spent) == (SECRET, PRICE)
    with ours.reading() as session:
        again = bundle_of(session, runs.run_of(session, run.code), private=KINDS)
    assert fates(taken(theirs, again), "run") == {("here", "")}


@pytest.mark.parametrize("line", ["", 'notes = "soft"', 'origin = "rules, Bob"', 'car = "folder/car.toml"'])
def test_comments_can_tell_of_anything_and_go_only_with_all_of_it(line):
    text = f"name = 'light' # weighed by Bob, 300 paid\n{line}\n"
    for kinds in ((), ("notes",), ("names",), ("notes", "names"), ("notes", "names", "words"), ("money",)):
        assert "Bob, 300" not in discreet(text, frozenset(kinds))
        assert discreet(text, frozenset(kinds)) in ways_to_send(text)
    assert discreet(text, frozenset(KINDS)) == text and text in ways_to_send(text)


def test_comments_that_come_later_come_beside_it_once(three):
    ann, bob, _ = three
    kept = {one.text for one in rows(ann, Revision) if "# " in one.text}
    assert kept, "the setup says in a comment what it is for"
    for kinds in (("notes", "names"), KINDS, KINDS, ()):
        with ann.reading() as session:
            taken(bob, bundle_of(session, runs.run_of(session, "last"), private=kinds))
        if kinds == ("notes", "names"):
            assert not any("# " in one.text for one in rows(bob, Revision))
    assert sorted(one.text for one in rows(bob, Revision) if "# " in one.text) == sorted(kept)
    assert len(records(bob)) == 1


def test_a_bundle_says_which_kinds_are_in_it_and_an_older_one_that_some_are(ours, theirs):
    with ours.reading() as session:
        some = whole_bundle(session, private=("notes", "money"))
    assert some.about["private"] == "money, notes"
    taken(theirs, dataclasses.replace(some, about={"private": True}))
    assert {fate for fate, _ in fates(taken(theirs, some), "run")} == {"here"}


# ---------------- names


@pytest.fixture(scope="module")
def third(tmp_path_factory):
    """Another racer's evening, with the same names."""
    with opened(tmp_path_factory.mktemp("third") / "notebook.sqlite", "cid") as store:
        fill(store)
        yield store


def test_a_setup_of_another_car_keeps_its_name(ours, third, theirs):
    taken(theirs, shared(third))
    lines = taken(theirs, shared(ours))
    with theirs.reading() as session:
        told = {one.name for one in shelf.revisions(session, kind="setup")}
        cars = session.scalars(sa.select(Document.name).where(Document.kind == "car")).all()
    assert told == {f"Conventional of {car}" for car in cars} and len(set(cars)) == 2
    assert {line.name.rpartition(" ")[0] for line in lines if line.kind == "setup"} == {"Conventional"}


def test_a_name_that_is_taken_tells_whose_it_is(ours, third, theirs):
    taken(theirs, shared(third, private=True))
    taken(theirs, shared(ours, private=True))
    with theirs.reading() as session:
        tires = session.scalars(sa.select(Part.mark).where(Part.kind == "tire")).all()
        events = session.scalars(sa.select(Event.name)).all()
        cars = session.scalars(sa.select(Document.name).where(Document.kind == "car")).all()
    assert set(tires) == {"T8", "T8 (ann)"} and set(events) == {"Opening night", "Opening night (ann)"}
    assert sorted(cars)[1] == f"{sorted(cars)[0]} (ann)"
