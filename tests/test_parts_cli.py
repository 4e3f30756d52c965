"""Parts and work from the command line: every command answers, every refusal is one sentence."""

import random
import re

import pytest
from a_week import CAR, MARKS, NAME
from asked import ended, fits, good, refused, told
from fuzz_documents import DEMO

from ovalwright.cli import completing_shop
from ovalwright.notebook import runs
from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.parts import part_of, whereabouts
from ovalwright.notebook.garage.parts_life import life
from ovalwright.notebook.store import Store


def laps_run():
    with Store.open() as store, store.reading() as session:
        return len(runs.record(session, runs.run_of(session, "last")).laps)


# ---------------- parts


def test_an_empty_notebook_teaches(empty):
    for words in (["parts"], ["parts", "list"]):
        text = fits(good(*words))
        assert "parts rack rack.toml" in text and "parts fit" in text
    assert refused("parts", "due") == (
        "No car is in the notebook yet; keep a setup, which brings its car along."
    )
    assert "take in a rack" in refused("parts", "list", "--kind", "tire")
    assert 'no part "tire T8"' in refused("parts", "show", "tire", "T8").replace("No", "no")
    assert told("parts")["on_car"] == []


def test_a_rack_is_taken_in_once(empty):
    rack = DEMO.resolve() / "rack.toml"
    first = told("parts", "rack", rack, "--on", "2026-04-01")
    assert len(first["taken_in"]["new"]) > 50 and first["taken_in"]["same"] == 0
    again = told("parts", "rack", rack)
    assert again["taken_in"]["new"] == [] and again["taken_in"]["same"] == len(first["taken_in"]["new"])
    assert again["rack"] == first["rack"]
    assert "a rack is wanted" in refused("parts", "rack", DEMO.resolve() / "car.toml")


def test_the_car_shows_what_is_on_it_with_the_laps_of_its_run(week):
    text = fits(good("parts"))
    assert text.startswith(f"On {CAR}: ") and "Due first" in text
    on_car = {one["where"]["place"]: one for one in told("parts")["on_car"]}
    for corner, mark in MARKS.items():
        assert on_car[f"{corner} tire"]["mark"] == mark
    with Store.open() as store, store.reading() as session:
        before = part_of(session, "tire T8").laps_before
        assert (
            on_car["RF tire"]["laps"]
            == laps_run() + before
            == life(session, part_of(session, "tire T8")).laps
        )


def test_a_list_and_one_kind_of_it(week):
    assert {one["kind"] for one in told("parts", "list")["parts"]} >= {"tire", "spring", "lead"}
    tires = told("parts", "list", "--kind", "tire")["parts"]
    assert {one["kind"] for one in tires} == {"tire"}
    numbers = [int(one["mark"].lstrip("T")) for one in tires]
    assert numbers == sorted(numbers)
    assert "RF tire" in fits(good("parts", "list", "--kind", "tire"))
    assert "km" in good("parts", "list", "--si") and "there are bar, gear" in refused(
        "parts", "list", "--kind", "x"
    )


def test_a_tire_shows_its_life(week):
    good(
        "parts",
        "measure",
        "tire",
        "T8",
        "roll-out 87 in at 20 psi, durometer 58 at 70 F",
        "--on",
        "2026-04-26",
    )
    good("parts", "measure", "tire", "T8", "tread", "0.2", "in", "--on", "2026-04-01")
    good("parts", "measure", "tire", "T8", "tread 0.15 in", "--on", "2026-04-26")
    text = fits(good("parts", "show", "tire", "T8"))
    assert "Roll-outs, brought to" in text and "58 at 70 F" in text
    assert "Worn, tread: 0.050 in" in text and "Runs on it" in text and "Where it was" in text
    answer = told("parts", "show", "T8")
    assert [one["what"] for one in answer["measured"]].count("tread") == 2
    assert answer["tire"]["runs"][0]["place"] == "RF tire"
    assert "pressure to compare" in refused("parts", "show", "tire", "T8", "--at", "x")
    assert "22.0 psi" in good("parts", "show", "tire", "T8", "--at", "22 psi")


def test_what_is_measured_is_taken_whole_or_not_at_all(week):
    before = told("parts", "show", "T8")["measured"]
    sentence = refused("parts", "measure", "tire", "T8", "durometer 58, color red")
    assert sentence.startswith('"color red": begin with what was measured on a tire: roll out')
    assert "does not say at what" in refused("parts", "measure", "tire", "T8", "roll-out 86 in")
    assert "nothing was measured" in refused("parts", "measure", "tire", "T8", " , ").replace("N", "n")
    assert told("parts", "show", "T8")["measured"] == before
    assert "is no date" in refused("parts", "measure", "tire", "T8", "durometer 58", "--on", "soon")


def test_a_part_is_entered_put_in_and_taken_off(week):
    text = good(
        "parts", "add", "hub", "H 1", "--name", "wide five", "--laps", "200", "--miles", "75", "--runs", "9"
    )
    assert "parts put hub 'H 1' PLACE" in text
    answer = told("parts", "show", "hub", "H 1")["life"]
    assert (answer["laps"], answer["cycles"], answer["name"]) == (200, 9, "wide five")
    assert answer["distance"] == pytest.approx(75 * 1609.344)
    assert "in the notebook already" in refused("parts", "add", "hub", "H 1")
    assert "has no rate of its own" in refused("parts", "add", "hub", "H 2", "--rated", "225 lb/in")
    assert "did you mean spring" in refused("parts", "add", "sprng", "S1")
    good("parts", "add", "spring", "S1", "--rated", "225 lb/in", "--paid", "90", "--bought", "2026-01-02")
    assert "225 lb/in" in good("parts", "show", "spring", "S1")
    assert "name a corner" in refused("parts", "put", "hub", "H 1")
    assert "RF hub of" in good("parts", "put", "hub", "H 1", "RF", "--on", "2026-04-26 09:00")
    assert good("parts", "off", "hub", "H 1", "--to", "lent to Ann", "--on", "2026-04-27").startswith(
        "hub H 1: lent to Ann."
    )
    assert "say whom" in refused("parts", "off", "hub", "H 1", "--to", "lent").lower()
    assert "is no place for a part" in refused("parts", "off", "hub", "H 1", "--to", "moon")
    assert "moves are told in order" in refused("parts", "put", "hub", "H 1", "LF", "--on", "2026-01-01")
    assert "keeps its history" in good("parts", "off", "hub", "H 1", "--to", "scrapped")
    assert "was scrapped" in refused("parts", "put", "hub", "H 1", "LF")
    assert good("undo").startswith("Taken back: hub H 1: scrapped")
    assert told("parts", "show", "hub", "H 1")["life"]["retired_on"] is None


def test_a_tire_put_in_sends_the_other_to_the_shelf(week):
    text = fits(good("parts", "put", "tire", "T9", "RF", "--on", "2026-04-26"))
    assert "tire T8 went to the shelf." in text and "Car on stands" in text
    with Store.open() as store, store.reading() as session:
        assert whereabouts(session, part_of(session, "tire T8")).place == "shelf"
    answer = told("parts", "fit", NAME, "--on", "2026-04-27")["fitted"]
    assert answer["put"] == [["RF tire", "T8"]] and answer["taken_off"] == [["RF tire", "T9"]]
    assert "is there already" in good("parts", "fit", "--on", "2026-04-28")
    assert "no day" in refused("parts", "put", "tire", "T9", "RF", "--on", "friday")


def test_what_is_due_and_whose_figure_it_is(week):
    good("parts", "interval", "tire", "roll out again", "--laps", "20", "--source", "own")
    text = fits(good("parts", "due"))
    assert "roll out again" in text and "overdue by" in text and "own" in text
    jobs = told("parts", "due")["due"]
    assert any(one["source"] == "typical" for one in jobs)
    ours = next(one for one in jobs if one["job"] == "roll out again" and one["mark"] == "T8")
    with Store.open() as store, store.reading() as session:
        assert ours["laps_left"] == 20 - life(session, part_of(session, "tire T8")).laps
    assert "at " in good(
        "parts", "serviced", "tire", "T8", "roll out again", "--on", "2026-04-26", "--note", "fine"
    )
    jobs = told("parts", "due", "--all")["due"]
    ours = next(one for one in jobs if one["job"] == "roll out again" and one["mark"] == "T8")
    assert ours["laps_left"] == 20
    assert told("parts", "show", "T8")["done"][0]["by"] == "Pat"
    good("parts", "interval", "tire", "roll out again", "--forget")
    assert "none to forget" in refused("parts", "interval", "tire", "roll out again", "--forget")
    assert "how often" in refused("parts", "interval", "tire", "roll out again")
    assert "gives no figures" in refused("parts", "interval", "tire", "x", "--laps", "3", "--source", "uncle")
    assert "--forget takes" in refused("parts", "interval", "tire", "x", "--laps", "3", "--forget")


def test_what_was_hit_comes_first(week):
    good("log", "hit", "last", "RF")
    jobs = told("parts", "due")["due"]
    hit = [one for one in jobs if one["source"] == "hit"]
    assert hit == jobs[: len(hit)]
    assert {"RF tire", "RF spring", "RF shock"} <= {one["place"] for one in hit}
    assert not any(one["place"].startswith(("LF", "LR", "RR")) for one in hit)
    assert "inspect" in fits(good("parts"))
    good("parts", "serviced", "tire", "T8", hit[0]["job"], "--on", "2026-04-26")
    assert "T8" not in [one["mark"] for one in told("parts", "due")["due"] if one["source"] == "hit"]


def test_marks_and_lists_complete_themselves(week):
    assert ("T8", "tire right side, bias") in completing_shop.marks("T8")
    assert [one for one, _ in completing_shop.kinds("sp")] == ["spring"]
    good("work", "begin", "Scaling")
    assert [one for one, _ in completing_shop.lists("r")] == ["Race day"]


def test_completion_says_nothing_where_there_is_no_notebook(empty):
    assert completing_shop.marks("") == completing_shop.lists("") == []


# ---------------- work


def test_lists_are_there_before_any_was_begun(empty):
    assert 'work begin "Nut and bolt"' in fits(good("work"))
    lines = told("work", "list", "nut and bolt")["lines"]
    assert all(line["done_at"] is None for line in lines)
    assert told("work")["lists"]["Nut and bolt"] == len(lines)
    assert "no checklist" in refused("work", "list", "Kitchen").lower()
    assert "Nothing was ticked" in good("work", "hours") and "No list is under way" in good("work", "open")
    assert 'begin "Nut and bolt"' in refused("work", "tick", "1")


def test_a_round_is_ticked_off_and_closed(week):
    text = fits(good("work", "begin", "nut and bolt", "--event", "last"))
    assert text.startswith("Nut and bolt, Opening night, begun")
    assert "gone on with" in good("work", "begin", "Nut and bolt", "--event", "last")
    answer = told("work", "tick", "1", "2", "--minutes", "20", "--found", "jam nut loose", "--done-by", "Ann")
    assert [line["seconds"] for line in answer["ticked"]] == [600.0, 600.0]
    assert {line["found"] for line in answer["ticked"]} == {"jam nut loose"}
    assert "was done by Ann" in refused("work", "tick", "2")
    assert "give the number" in refused("work", "tick", "shock")
    assert "how long it took" in refused("work", "tick", "3", "--minutes", "soon").lower()
    assert "[!]" in fits(good("work", "list", "Nut and bolt"))
    left = told("work", "open")["open"][0]
    assert sum(line["done_at"] is None for line in left["lines"]) == len(left["lines"]) - 2
    assert told("work", "hours")["hours"] == [
        {"person": "Ann", "event": "Opening night", "held_on": "2026-04-25", "things": 2, "seconds": 1200.0,
         "untimed": 0}
    ]  # fmt: skip
    assert "20 min" in fits(good("work", "hours", "--event", "last"))
    closed = fits(good("work", "close"))
    assert "Left open:" in closed and re.search(r"and \d+ more things", closed)
    assert len(closed.splitlines()) < 16
    assert "No list is under way" in refused("work", "close")
    for command in (("work",), ("work", "list", "Nut and bolt"), ("work", "open"), ("parts", "due")):
        text = fits(good(*command))
        assert "Found and not put right" in text and "jam nut loose" in text
    for words in ("jam nut loose", "jam nut", "loose"):
        assert "jam nut loose" in good("find", words)
    assert "may be 1 " in refused("work", "right", "a")
    assert "Put right by Ann, new nut" in good("work", "right", "1", "--how", "new nut", "--done-by", "Ann")
    assert [one["number"] for one in told("work", "open")["found"]] == [2]
    good("work", "right", "2")
    assert "jam nut" not in good("work", "open")
    assert "no event" in refused("work", "begin", "Scaling", "--event", "Nowhere").lower()


def test_a_round_done_to_the_end_asks_to_be_closed(empty):
    good("work", "add", "Trailer", "tire pressures", "--good-until", "2026-12-01", "--caution", "Chock it.")
    assert "is a new list" not in good("work", "add", "Trailer", "lights")
    good("work", "begin", "Trailer")
    assert "[x]" in good("work", "tick", "1", "--minutes", "1 1/2 h")
    assert 'work close "Trailer"' in fits(good("work", "tick", "lights"))
    assert "1 h 30 min" in good("work", "hours")
    assert "All of it was done." in good("work", "close", "Trailer")
    assert "is no date" in refused("work", "add", "Trailer", "x", "--good-until", "soon")
    with Store.open() as store, store.reading() as session:
        assert work.rounds(session)[0].lines[0].caution == "Chock it."


# ---------------- any words

COMMANDS = [
    ["parts"], ["parts", "list"], ["parts", "list", "--kind"], ["parts", "show"], ["parts", "add"],
    ["parts", "measure", "tire", "T8"], ["parts", "put", "tire"], ["parts", "put", "tire", "T9"],
    ["parts", "off", "T8", "--to"], ["parts", "off", "tire"], ["parts", "fit"], ["parts", "due", "--car"],
    ["parts", "serviced", "tire", "T8"], ["parts", "interval", "tire"], ["parts", "interval"],
    ["parts", "rack"], ["work"], ["work", "list"], ["work", "begin"], ["work", "tick"], ["work", "add"],
    ["work", "add", "Trailer"], ["work", "hours", "--event"], ["work", "close"],
    ["parts", "put", "tire", "T9", "RF", "--on"], ["work", "tick", "1", "--minutes"],
]  # fmt: skip
PIECES = [
    "tire", "T8", "T9", "RF", "LF tire", "spring", "bar", "hub", "H1", "roll-out", "86 1/4 in", "at",
    "20 psi",
    "durometer", "58", "tread 0.1 in", ",", ";", "and", "--on", "2026-04-26", "--laps", "--days", "3", "-1",
    "--forget", "--source", "maker", "--to", "shelf", "scrapped", "lent to Ann", "--rated", "225 lb/in", "@",
    "last", "Nut and bolt", "Scaling", "1", "2", "nut", "--event", "--list", "--minutes", "15", "--found", "",
    " ", "½", "\U0001f600", "\u202e", "\x1b[31m", "'", '"', "%", "; DROP TABLE part", "a" * 300, "0", "\n",
    "--", "\ud800", "1e308", "nan", "inf", "../..", "rack.toml", NAME,
]  # fmt: skip


def any_words(commands, pieces, seed, number):
    """One command with any words; returns its exit code."""
    dice = random.Random(f"{seed} {number}")
    words = [*dice.choice(commands), *(dice.choice(pieces) for _ in range(dice.randint(0, 4)))]
    words += ["--json"] if dice.random() < 0.3 else []
    try:
        return ended(*words, as_json="--json" in words and "--" not in words).exit_code
    except BaseException as problem:
        problem.add_note(f"seed {seed}, input {number}: {words!r}")
        raise


def test_any_words_end_in_an_answer_or_in_one_sentence(week):
    codes = [any_words(COMMANDS, PIECES, 5, number) for number in range(120)]
    assert 10 < codes.count(1) < 110, "both ends must be tried"
    good("parts")


@pytest.mark.proof
def test_many_words_end_so_too(week):
    codes = [any_words(COMMANDS, PIECES, 23, number) for number in range(4000)]
    assert 300 < codes.count(1) < 3700
    good("parts")
