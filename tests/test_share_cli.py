"""Work sent on and taken in by the commands, copies of the notebook and tables of it."""

import csv
import io
import random
import zipfile

import pytest
from a_week import CAR, LAPS, NAME, put_at
from asked import ended, fits, good, refused, told
from fuzz_documents import DEMO

from ovalwright.notebook import runs
from ovalwright.notebook.sharing.box import SUFFIX
from ovalwright.notebook.store import Store


@pytest.fixture
def week(tmp_path, monkeypatch):
    """A notebook with a week in it; another one beside it is empty still."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(put_at(tmp_path / "mine" / "notebook.sqlite")))
    return tmp_path


def last_run(where=None):
    with Store.open(where) as store, store.reading() as session:
        return runs.record(session, runs.run_of(session, "last"))


def test_a_run_shared_by_one_notebook_is_received_by_another(week):
    theirs = ("--notebook", week / "theirs.sqlite")
    text = fits(good("share", "run", "last", "--to", "sent"))
    assert "receive sent.ovalbox --look" in text and "stayed at home" in text
    looked = told("receive", f"sent{SUFFIX}", "--look", *theirs)
    assert looked["adds"] and not looked["taken_in"]
    assert {line["fate"] for line in looked["lines"]} == {"new"}
    assert told("log", *theirs)["runs"] == []
    text = fits(good("receive", f"sent{SUFFIX}", *theirs))
    assert "Taken in; `undo`" in text and CAR in text
    ours, received = last_run(), last_run(week / "theirs.sqlite")
    assert [lap.time for lap in received.laps] == [lap.time for lap in ours.laps] and len(ours.laps) == LAPS
    assert received.ridden == ours.ridden and received.setup == ours.setup
    assert (ours.driver, ours.note) == ("Pat", "first time out") and (received.driver, received.note) == (
        "",
        "",
    )
    again = told("receive", f"sent{SUFFIX}", *theirs)
    assert not again["adds"] and {line["fate"] for line in again["lines"]} == {"here"}
    assert "nothing to add" in fits(good("receive", f"sent{SUFFIX}", *theirs))
    assert good("undo", *theirs).startswith(f"Taken back: taken in: sent{SUFFIX}")
    assert told("log", *theirs)["runs"] == []


def test_private_things_go_along_when_asked_for(week):
    assert "went along" in good("share", "event", "last", "--to", "sent", "--private")
    good("receive", f"sent{SUFFIX}", "--notebook", week / "theirs.sqlite")
    received = last_run(week / "theirs.sqlite")
    assert (received.driver, received.note) == ("Pat", "first time out")


def test_some_of_what_is_private_goes_along_and_the_rest_later(week):
    theirs = ("--notebook", week / "theirs.sqlite")
    text = fits(good("share", "run", "last", "--to", "some", "--with", "Notes", "--with", "money,words"))
    assert "Money, the driver's words and notes went along" in text and "Names of people stayed" in text
    good("receive", f"some{SUFFIX}", *theirs)
    received = last_run(week / "theirs.sqlite")
    assert (received.driver, received.note) == ("", "first time out")
    good("share", "run", "last", "--to", "more", "--private")
    assert "gets more: what had stayed at home" in fits(good("receive", f"more{SUFFIX}", *theirs))
    assert last_run(week / "theirs.sqlite").driver == "Pat"
    assert "write money, names, words, notes" in refused("share", "all", "--to", "x", "--with", "secrets")


def test_what_clashes_is_said_before_it_is_taken(week):
    theirs = ("--notebook", week / "theirs.sqlite")
    good("share", "run", "last", "--to", "sent")
    good("parts", "add", "tire", "T8", "--name", "another", *theirs)
    looked = told("receive", f"sent{SUFFIX}", "--look", *theirs)
    (clash,) = [line for line in looked["lines"] if line["why"]]
    assert (clash["kind"], clash["name"], clash["why"]) == ("tire", "T8 (2)", 'another is called "T8" here')
    text = fits(good("receive", f"sent{SUFFIX}", "--look", *theirs))
    assert "T8 (2)" in text.partition("\n\n")[2].splitlines()[0] and "Only looked" in text
    good("receive", f"sent{SUFFIX}", *theirs)
    assert dict(last_run(week / "theirs.sqlite").ridden)["RF tire"] == "T8 (2)"


def test_everything_and_a_setup_are_shared(week):
    assert told("share", "all", "--to", "all.ovalbox")["about"]["what"] == "the whole notebook"
    members = told("share", "setup", NAME, "--to", "one")["members"]
    assert [name.split("/")[0] for name in members if name.startswith("setup/")] == ["setup"]
    with zipfile.ZipFile(f"one{SUFFIX}") as box:
        assert set(members) < set(box.namelist())


def test_what_cannot_be_shared_or_received_is_said(week):
    good("share", "run", "last", "--to", "sent")
    assert "is there already" in refused("share", "run", "last", "--to", "sent")
    assert "cannot be shared" in refused("share", "car", "x", "--to", "y")
    assert "say which setup" in refused("share", "setup", "--to", "y").lower()
    assert 'leave "x" out' in refused("share", "all", "x", "--to", "y")
    assert "no run" in refused("share", "run", "nosuch", "--to", "y").lower()
    assert "is no file" in refused("share", "all", "--to", "/")
    assert refused("share", "all", code=2).startswith("Missing option '--to'")
    assert "car.toml: is no bundle" in refused("receive", DEMO.resolve() / "car.toml")
    assert "nosuch.ovalbox" in refused("receive", "nosuch.ovalbox") and refused("receive", ".")


def test_a_copy_is_made_listed_and_put_back(week):
    where = week / "mine" / "notebook.sqlite"
    assert "notebook copy" in good("notebook", "copies")
    assert "no copy is in" in refused("notebook", "restore", "last").lower()
    copy = told("notebook", "copy")["copy"]
    assert "read through and whole" in fits(good("notebook", "copy", "--to", "stick")).replace("\n", " ")
    assert [one["path"] for one in told("notebook", "copies")["copies"]] == [copy]
    assert "notebook restore last --yes" in good("notebook", "copies", "--in", "stick")
    good("log", "decided", "last", "softer")
    assert "say --yes" in refused("notebook", "restore", "last")
    assert "no such copy" in refused("notebook", "restore", "nosuch")
    assert "say --yes" not in refused("notebook", "restore", str(DEMO.resolve() / "car.toml"))
    assert last_run().decided == "softer"
    aside = told("notebook", "restore", "last", "--yes")["set_aside"]
    assert last_run().decided == "" and last_run(aside).decided == "softer"
    assert str(where) in good("notebook", "restore", copy, "--yes").replace("\n", "")
    assert "there is no such copy" in refused("notebook", "restore", "nosuch", "--yes")


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_tables_for_other_programs(week, form):
    written = told("notebook", "tables", "--to", "out", "--form", form)["written"]
    assert any(name.endswith(f"laps.{form}") for name in written)
    if form == "csv":
        laps = list(csv.DictReader(io.StringIO((week / "out" / "laps.csv").read_text("utf-8"))))
        assert [float(one["time"]) for one in laps] == [lap.time for lap in last_run().laps]
    assert "holds files already" in refused("notebook", "tables", "--to", "out")


def test_arrays_for_other_programs(week):
    xarray = pytest.importorskip("xarray")
    good("notebook", "tables", "--to", "arrays", "--form", "netcdf")
    with xarray.open_dataset("arrays/runs.nc", engine="scipy") as found:
        assert found["lap_time"].values[0].tolist() == [lap.time for lap in last_run().laps]
    assert "is there already" in refused("notebook", "tables", "--to", "arrays", "--form", "netcdf")
    assert "write csv, parquet, netcdf" in refused("notebook", "tables", "--to", "x", "--form", "xls")


# ---------------- any words

COMMANDS = [
    ["share"], ["share", "setup"], ["share", "run"], ["share", "event"], ["share", "all"], ["receive"],
    ["receive", "sent.ovalbox"], ["receive", "--look"], ["notebook", "tables"], ["notebook", "copies"],
    ["notebook", "restore"], ["notebook", "restore", "last"],
]  # fmt: skip
PIECES = [
    "last", NAME, "@", "--to", "--look", "--private", "--form", "csv", "parquet", "--in", "mine", "out",
    "sent.ovalbox", "mine/notebook.sqlite", "", " ", "½", "\u202e", "\x1b[31m", "'", "%", "a" * 300, "0",
    "\n", "--", "\ud800", "..", "nosuch", "all", "--with", "words",
]  # fmt: skip


def any_words(seed, number):
    """One command with any words; returns its exit code."""
    dice = random.Random(f"{seed} {number}")
    begun = [*dice.choice(COMMANDS), *(["--json"] if dice.random() < 0.3 else [])]
    words = [*begun, *(dice.choice(PIECES) for _ in range(dice.randint(0, 4)))]
    try:
        return ended(*words, as_json="--json" in begun).exit_code
    except BaseException as problem:
        problem.add_note(f"seed {seed}, input {number}: {words!r}")
        raise


def test_any_words_end_in_an_answer_or_in_one_sentence(week):
    good("share", "run", "last", "--to", "sent")
    before = last_run()
    codes = [any_words(7, number) for number in range(60)]
    assert 2 < codes.count(1) < 55, "both ends must be tried"
    assert last_run() == before


@pytest.mark.proof
def test_many_words_end_so_too(week):
    good("share", "run", "last", "--to", "sent")
    before = last_run()
    codes = [any_words(29, number) for number in range(3000)]
    assert 200 < codes.count(1) < 2800
    assert last_run() == before
