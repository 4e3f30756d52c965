"""Hostile bundles whose box is sound: refused with one sentence or taken in right, and never in part."""

import functools
import random
import re
from contextlib import suppress

import pytest
import sqlalchemy as sa
from fuzz_documents import mutated as mutated_text
from shared_rows import fill, fill_little, shared, taken, whole

from ovalwright.notebook.sharing import arriving
from ovalwright.notebook.sharing.box import read_box, write_box
from ovalwright.notebook.sharing.bundle import Bundle
from ovalwright.notebook.sharing.carried import CARRIED
from ovalwright.notebook.sharing.taking_in import look, take
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """A run, as it is shared."""
    with Store.open(tmp_path_factory.mktemp("ours") / "notebook.sqlite", by="ann") as store:
        fill(store)
        return shared(store)


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """A notebook that nothing may come into."""
    with Store.open(tmp_path_factory.mktemp("empty") / "notebook.sqlite", by="bob") as store:
        yield store


@pytest.fixture
def theirs(tmp_path):
    with Store.open(tmp_path / "theirs.sqlite", by="bob") as store:
        yield store


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
        r"laps\.csv has a lap that took no time, or more than a day; ask for it to be made again\.",
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
        r"its manifest does not say which private things are in it; .*",
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
        refused, came_in = _try_mutations(little, theirs, range(200), monkeypatch)
    assert refused > 80 and came_in > 10


@pytest.mark.proof
def test_many_bundles_after_an_accident_are_refused_or_come_in_right(tmp_path, theirs, monkeypatch, capsys):
    with Store.open(tmp_path / "little.sqlite", by="ann") as little:
        fill_little(little)
        taken(theirs, whole(little))
        refused, came_in = _try_mutations(little, theirs, range(20_000), monkeypatch)
    with capsys.disabled():
        print(f"\nbundles vouched for with an accident inside: {refused} refused, {came_in} taken in right")
