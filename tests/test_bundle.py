"""Sharing: what one notebook sends, another takes in equal; nothing here is ever overwritten."""

import dataclasses
import functools
import random
import re
from contextlib import suppress

import pytest
import sqlalchemy as sa
from fuzz_documents import mutated as mutated_text
from shared_rows import AFTERNOON, DEMO, LAPS, NIGHT, PRICE, SECRET, fill, fill_little

from ovalwright.documents import load_car
from ovalwright.notebook import arriving, parts, runs, shelf, undo
from ovalwright.notebook.box import read_box, write_box
from ovalwright.notebook.bundle import Bundle, bundle_of, discreet, whole_bundle
from ovalwright.notebook.carried import CARRIED
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Document, Figure, Measurement, Revision, Run
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.taking_in import look, take
from ovalwright.notebook.trouble import NotebookTrouble


@pytest.fixture(scope="module")
def ours(tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("ours") / "notebook.sqlite", by="ann") as store:
        fill(store)
        yield store


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """A notebook that nothing may come into."""
    with Store.open(tmp_path_factory.mktemp("empty") / "notebook.sqlite", by="bob") as store:
        yield store


@pytest.fixture(scope="module")
def sent(ours):
    """The last run, as it is shared."""
    return shared(ours)


@pytest.fixture
def theirs(tmp_path):
    with Store.open(tmp_path / "theirs.sqlite", by="bob") as store:
        yield store


def whole(store, private=True):
    with store.reading() as session:
        return whole_bundle(session, private=private)


def shared(store, code="last", private=False):
    with store.reading() as session:
        return bundle_of(session, runs.run_of(session, code), private=private)


def taken(store, bundle):
    """Take a bundle in and give its lines."""
    box = read_box(bundle.to_bytes(), name="sent.ovalbox")
    with store.reading() as session:
        plan = look(box, session)
    with store.entry("taken in") as session:
        take(plan, session)
    return plan.lines


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
        assert bundle.about["private"] is False
    held = b"\n".join(whole(ours).members.values())
    assert held.count(SECRET.encode()) > 12 and held.count(str(PRICE).encode()) == 2


def test_notes_comments_and_folders_are_left_out_of_a_document():
    text = 'name = "a"  # of Joe\nnotes = "Joe"\ncar = "/home/joe/car.toml"\n[LF]\nnotes = "Joe"\n'
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


def test_measurements_come_to_a_part_that_is_here(ours, theirs, tmp_path):
    with Store.open(tmp_path / "third.sqlite", by="cid") as third:
        for store in (third, theirs):
            taken(store, whole(ours))
        with third.entry("durometer") as session:
            tire = parts.part_of(session, "tire T8")
            session.add(Measurement(part_id=tire.id, measured_on=NIGHT, what="durometer", si=52.0))
        (line,) = (line for line in taken(theirs, whole(third)) if line.fate != "here")
        assert (line.kind, line.name, line.fate, line.why) == ("tire", "T8", "more", "1 measurements")
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


# ---------------- hostile contents


def edited(member, change):
    """How to make a hostile bundle: one member of a good one changed and vouched for."""

    def make(bundle):
        name = next(name for name in bundle.members if name.startswith(member))
        return Bundle({**bundle.members, name: change(bundle.members[name].decode()).encode()}, bundle.about)

    return make


def cell(row, column, value):
    """One cell of a table exchanged; rows count from 1 below the headings."""

    def change(text):
        lines = text.split("\r\n")
        cells = lines[row].split(",")
        cells[lines[0].split(",").index(column)] = value
        return "\r\n".join([*lines[:row], ",".join(cells), *lines[row + 1 :]])

    return change


def doubled(row):
    def change(text):
        lines = text.split("\r\n")
        return "\r\n".join([*lines[:row], lines[row], *lines[row:]])

    return change


def without(member):
    return lambda bundle: Bundle(
        {name: raw for name, raw in bundle.members.items() if not name.startswith(member)}, bundle.about
    )


STRANGER = "0" * 32
HOSTILE = {
    "a document that reads a file": (
        edited("car/", lambda text: f'like = "/etc/passwd"\n{text}'),
        r"car/\w+\.toml, like: names another file; a document in a bundle stands alone\.",
    ),
    "a document that is none": (
        edited("track/", lambda text: f"{text}\n[["),
        r"track/\w+\.toml line \d+: .* cannot be read .*",
    ),
    "a document of another kind": (
        edited("track/", lambda text: text.replace('document = "track"', 'document = "car"')),
        r"track/\w+\.toml line 1, document: this file says it is a car; a track is wanted here.*",
    ),
    "a setup that names a part of no rack": (
        edited("setup/", lambda text: text.replace('"B12"', '"B99"')),
        r"setup/\w+\.toml line \d+, RR\.coil\.spring: \"B99\" is not on the rack.*",
    ),
    "a document that is missing": (without("car/"), r"car/\w+\.toml is missing; .*"),
    "a table that is missing": (
        without("events.csv"),
        r"runs\.csv names a event [0-9a-f]{32} that is not in it; ask for it to be made again\.",
    ),
    "a member that nobody knows": (
        lambda bundle: Bundle({**bundle.members, "spy.csv": b"x"}, bundle.about),
        r"nothing is known of its member spy\.csv; ask for it to be made again\.",
    ),
    "a reference to nothing": (
        edited("laps.csv", cell(3, "run", STRANGER)),
        rf"laps\.csv names a run {STRANGER} that is not in it; ask for it to be made again\.",
    ),
    "a uid that is none": (
        edited("runs.csv", cell(1, "uid", "'; DROP TABLE run; --")),
        r"runs\.csv line 2, column uid: holds .*; a uid of 32 digits 0 to f belongs there\.",
    ),
    "a code that leaves the folder": (
        edited("revisions.csv", cell(1, "code", "../AB")),
        r"revisions\.csv line 2, column code: holds '\.\./AB'; a code of letters \w+ belongs there\.",
    ),
    "a lap twice": (
        edited("laps.csv", doubled(4)),
        r"laps\.csv has two rows of the same run and number [0-9a-f]{32}, \d+; .*",
    ),
    "a lap in no time": (
        edited("laps.csv", cell(2, "time", "-15.4")),
        r"laps\.csv has a lap that took no time; ask for it to be made again\.",
    ),
    "a lap that never ends": (
        edited("laps.csv", cell(2, "time", "nan")),
        r"laps\.csv line 3, column time: holds 'nan'; a number such as 15\.48 belongs there\.",
    ),
    "a run on a track for a setup": (
        lambda bundle: edited("runs.csv", cell(1, "setup", _uid_of(bundle, "track")))(bundle),
        r"runs\.csv names a track where a setup belongs; ask for it to be made again\.",
    ),
    "a setup that refers to itself as its car": (
        lambda bundle: edited("references.csv", cell(1, "target", _uid_of(bundle, "setup")))(bundle),
        r"references\.csv joins documents that do not belong together; .*",
    ),
    "a setup that came from itself": (
        lambda bundle: edited(
            "revisions.csv", cell(_row_of(bundle, "setup"), "parent", _uid_of(bundle, "setup"))
        )(bundle),
        r"revisions\.csv has a document that came from itself; ask for it to be made again\.",
    ),
    "a name with a command to the screen": (
        edited("events.csv", cell(1, "name", "\x1b[2J")),
        r"events\.csv line 2, column name: holds .*; text of at most 120 letters belongs there\.",
    ),
    "a name without end": (
        edited("events.csv", cell(1, "name", "x" * 121)),
        r"events\.csv line 2, column name: holds 'x+'; text of at most 120 letters belongs there\.",
    ),
    "a number that is too large": (
        edited("runs.csv", cell(1, "number", "9" * 20)),
        r"runs\.csv line 2, column number: holds '9+'; a whole number such as 12 belongs there\.",
    ),
    "a flag of its own": (
        edited("laps.csv", cell(2, "flag", "blue")),
        r"laps\.csv line 3, column flag: holds 'blue'; green, .* belongs there\.",
    ),
    "a private column that was not promised": (
        edited("laps.csv", lambda text: text.replace("flag", "said", 1)),
        r"laps\.csv line 1: the column 'said' does not belong; .*",
    ),
    "a manifest that does not say what is private": (
        lambda bundle: Bundle(bundle.members, {"private": "maybe"}),
        r"its manifest does not say whether private things are in it; .*",
    ),
}


def _rows(bundle, kind):
    return next(name for name in bundle.members if name.startswith(f"{kind}/"))[len(kind) + 1 : -5]


def _row_of(bundle, kind):
    code = _rows(bundle, kind)
    lines = bundle.members["revisions.csv"].decode().split("\r\n")
    return next(at for at, line in enumerate(lines) if f",{code}," in line)


def _uid_of(bundle, kind):
    return bundle.members["revisions.csv"].decode().split("\r\n")[_row_of(bundle, kind)].partition(",")[0]


@pytest.mark.parametrize("make, sentence", HOSTILE.values(), ids=HOSTILE)
def test_hostile_contents_are_refused_with_one_sentence_and_nothing_changes(sent, empty, make, sentence):
    with pytest.raises(NotebookTrouble) as told:
        taken(empty, make(sent))
    said = str(told.value)
    assert said.startswith("sent.ovalbox: ") and said.isprintable()
    assert re.fullmatch(sentence, said.removeprefix("sent.ovalbox: ")), said
    assert whole(empty).members == {}


# ---------------- bundles after an accident


def mutated(bundle, dice):
    """A bundle with an accident in one or two members, vouched for as if it had been made so."""
    members = dict(bundle.members)
    for _ in range(dice.choice((1, 1, 2))):
        name = dice.choice(list(members))
        text = members[name].decode()
        text = mutated_text(text, dice) if name.endswith(".toml") else _mutated_table(text, dice)
        members[name] = text.encode(errors="replace")
    if dice.random() < 0.05:
        members.pop(dice.choice(list(members)), None)
    return Bundle(members, bundle.about)


NASTY = (
    "",
    "0",
    "-1",
    "nan",
    "1e999",
    "=1+1",
    "'=1",
    "\0",
    "\ufeff",
    '"',
    "99999999999",
    "2026-02-30",
    "x" * 700,
)


def _mutated_table(text, dice):
    lines = text.split("\r\n")
    at, other = (dice.randrange(len(lines)) for _ in range(2))
    match dice.randrange(6):
        case 0:
            del lines[at]
        case 1:
            lines.insert(other, lines[at])
        case 2:
            lines[at], lines[other] = lines[other], lines[at]
        case _:
            cells, others = lines[at].split(","), lines[other].split(",")
            cells[dice.randrange(len(cells))] = dice.choice([*NASTY, *others, *others])
            lines[at] = ",".join(cells)
    return "\r\n".join(lines)


class _Backed(Exception):
    """Ends an entry so that nothing of it stays."""


def _try_mutations(ours, theirs, seeds, monkeypatch):
    """Bundles mutated and taken in: how many were refused, and how many came in right."""
    monkeypatch.setattr(arriving, "loaded", functools.lru_cache(50_000)(arriving.loaded))
    good = whole(ours)
    before, counted = whole(theirs).members, _counted(theirs)
    refused = came_in = 0
    for seed in seeds:
        sent = mutated(good, random.Random(seed))
        try:
            box = read_box(write_box(sent.members, sent.about))
            with theirs.reading() as session:
                plan = look(box, session)
            with suppress(_Backed), theirs.entry("taken in") as session:
                take(plan, session)
                assert not look(box, session).adds, seed
                raise _Backed
        except NotebookTrouble as told:
            said = str(told)
            assert said.endswith(".") and said.isprintable() and len(said) < 900, seed
            refused += 1
        else:
            came_in += 1
        assert _counted(theirs) == counted, seed
    assert whole(theirs).members == before
    return refused, came_in


def _counted(store):
    with store.engine.connect() as connection:
        return [connection.scalar(sa.text(f'SELECT count(*) FROM "{name}"')) for name in _TABLES]


_TABLES = ("entry", "change", "figure", "saying", *(carried.table for carried in CARRIED))


def test_a_bundle_after_an_accident_is_refused_or_comes_in_right(tmp_path, theirs, monkeypatch):
    with Store.open(tmp_path / "little.sqlite", by="ann") as little:
        fill_little(little)
        taken(theirs, whole(little))
        refused, came_in = _try_mutations(little, theirs, range(250), monkeypatch)
    assert refused > 100 and came_in > 10


@pytest.mark.proof
def test_many_bundles_after_an_accident_are_refused_or_come_in_right(tmp_path, theirs, monkeypatch, capsys):
    with Store.open(tmp_path / "little.sqlite", by="ann") as little:
        fill_little(little)
        taken(theirs, whole(little))
        refused, came_in = _try_mutations(little, theirs, range(20_000), monkeypatch)
    with capsys.disabled():
        print(f"\nbundles vouched for with an accident inside: {refused} refused, {came_in} taken in right")
