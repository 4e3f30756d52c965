"""What was in the car in a run entered at home: which run was the last, which setup was in, which parts."""

import pytest
from a_week import NAME
from asked import good, refused, told
from fuzz_documents import DEMO

from ovalwright.notebook import runs
from ovalwright.notebook.garage.parts import time_told
from ovalwright.notebook.store import Store


def a_run(*words):
    """A run logged."""
    return told("log", "run", *words)["run"]


# ---------------- which run is the last


def test_a_run_without_a_time_comes_after_the_run_before_it(week):
    good("quick", "LR +1/2", "--reason", "loose on exit")
    second, third = a_run(), a_run()
    good("log", "said", "last", "better")
    assert [one["words"] for one in told("log", "show", third["code"])["run"]["comments"]] == ["better"]
    assert "LR +1/2" in told("log", "show", second["code"])["changed_before"]
    assert told("log", "show", third["code"])["changed_before"] == ""
    with Store.open() as store, store.reading() as session:
        first, *untold = runs.runs_of(session, runs.event_of(session, "last"))
        assert time_told(first.started) and not any(time_told(one.started) for one in untold)
        assert sorted([first, *untold], key=lambda one: one.started) == [first, *untold]


def test_last_is_the_run_that_was_entered_last_whatever_its_time(week):
    late = a_run("--at", "17:00")
    assert told("log", "show", "last")["run"]["code"] == late["code"]
    good("log", "event", "Winter test", "--on", "2026-02-01")
    older = good("log", "run", "--event", "Winter test")
    assert "or last" not in older and told("log", "show", "last")["run"]["code"] == late["code"]


# ---------------- which setup was in


@pytest.fixture
def at_home(empty):
    """A rack and two setups taken in at home, nothing fitted, and an evening of last week."""
    here = DEMO.resolve()
    good("keep", here / "setup_conventional.toml", here / "setup_hanging_rr.toml")
    good("parts", "rack", here / "rack.toml")
    good("log", "event", "Last week", "--on", "2026-01-10")
    return empty


def test_the_setup_that_was_fitted_is_in_the_car(at_home):
    good("parts", "fit", NAME)
    assert told("quick", "RR +1 psi", "--try")["on"]["name"] == NAME
    first = a_run()
    assert first["setup_name"] == NAME
    good("quick", "RR +1 psi", "--reason", "grew")
    assert a_run()["setup_number"] == 2
    assert a_run("--setup", first["setup"])["setup_number"] == 1
    assert a_run()["setup_number"] == 1, "what was run last, not what was made before it"
    good("keep", DEMO.resolve() / "setup_no_rr.toml")
    assert a_run()["setup_name"] == NAME, "what is only kept is not in the car"
    good("parts", "fit", "Soft right rear, much wedge")
    assert a_run()["setup_name"] == "Soft right rear, much wedge"
    good("undo")
    good("undo")
    assert a_run()["setup_name"] == NAME, "the fitting was taken back"


# ---------------- which parts were in


def tires(run):
    """The marks of the tires in a run, by corner."""
    return {place[:2]: mark for place, mark in run["ridden"] if place.endswith("tire")}


def test_a_run_of_an_evening_before_the_fitting_had_the_parts_of_its_setup(at_home):
    good("parts", "fit", NAME)
    answer = told("log", "run")
    assert tires(answer["run"]) == {"LF": "T2", "RF": "T8", "LR": "T5", "RR": "T11"}
    assert answer["otherwise"] == []
    assert "RF tire T8" in good("log", "hit", "last", "RF")
    hit = [one["place"] for one in told("parts", "due")["due"] if one["source"] == "hit"]
    assert {"RF tire", "RF shock"} <= set(hit)
    assert told("parts", "show", "T8")["been"][0]["since"] == "2026-01-10T12:00:00"


def test_a_first_fitting_is_told_of_an_earlier_day(at_home):
    good("parts", "fit", NAME)
    assert ["RF tire", "T8"] in told("parts", "fit", NAME, "--on", "2026-01-09")["fitted"]["put"]
    good("parts", "put", "tire", "T9", "RF")
    assert "moves are told in order" in refused("parts", "put", "tire", "T9", "RF", "--on", "2026-01-09")


def test_what_was_changed_in_one_line_is_what_counts_the_laps(week):
    good("quick", "RR spring B14, RF tire T9", "--reason", "tight")
    answer = told("log", "run")
    assert dict(answer["run"]["ridden"])["RR spring"] == "B14" and tires(answer["run"])["RF"] == "T9"
    (sentence,) = answer["otherwise"]
    assert "RF tire T9 for T8" in sentence and "RR spring B14 for B12" in sentence
    assert told("parts", "show", "T8")["life"]["where"]["place"] == "shelf"
    assert told("log", "run")["otherwise"] == []
    good("quick", "RR spring 250", "--reason", "softer")
    answer = told("log", "run")
    assert "RR spring" not in dict(answer["run"]["ridden"]) and "RR spring B14 out" in answer["otherwise"][0]
    good("parts", "put", "spring", "B12", "RR", "--on", "2026-04-25 23:00")
    assert dict(a_run("--at", "23:30")["ridden"])["RR spring"] == "B12", "told after the setup was made"


def test_a_part_put_in_by_hand_that_the_setup_does_not_know_is_asked_about(week):
    good("parts", "put", "tire", "T9", "RF", "--on", "2026-04-25 19:00")
    answer = told("log", "run", "--at", "20:00")
    assert tires(answer["run"])["RF"] == "T8" and "RF tire T8 for T9" in answer["otherwise"][0]
    assert 'quick "RF tire T9"' in answer["otherwise"][1]
    good("undo")
    good("quick", "RF tire T9", "--reason", "worn")
    answer = told("log", "run", "--at", "20:00")
    assert tires(answer["run"])["RF"] == "T9" and answer["otherwise"] == []


def test_what_later_moves_say_otherwise_counts_in_its_run_only(week):
    good("quick", "RF tire T9", "--reason", "worn")
    good("parts", "put", "tire", "T9", "LF", "--on", "2026-05-01")
    answer = told("log", "run", "--at", "20:00")
    assert tires(answer["run"])["RF"] == "T9"
    assert "in this run only" in answer["otherwise"][-1]
    assert told("parts", "show", "T9")["life"]["where"]["place"] == "LF tire"


def test_a_hit_asks_for_a_look_also_where_no_part_is_noted(empty):
    good("keep", DEMO.resolve() / "setup_conventional.toml")
    good("log", "event", "Last week", "--on", "2026-01-10")
    good("log", "run")
    sentence = "RF: inspect everything there, no part is noted at that corner."
    assert sentence in good("log", "hit", "last", "RF")
    (hit,) = told("parts", "due")["due"]
    assert (hit["source"], hit["kind"], hit["mark"]) == ("hit", "corner", "RF")
    assert "everything at RF" in good("parts", "due")
    done = ["parts", "serviced", "corner", "RF", hit["job"], "--note", "all straight"]
    assert good(*done).startswith("RF: inspected after the hit in run")
    assert told("parts", "due")["due"] == []
    assert "No hit at RF waits" in refused(*done)
    good("undo")
    assert "everything at RF" in good("parts", "due")
    assert good("log", "hit", "last", "into", "the", "wall").count("inspect everything there") == 4


# ---------------- taking back and mending


def test_undo_names_the_words_it_takes_back(week):
    good("log", "said", "last", "pushes from lap 12", "--phase", "middle", "--feel", "tight")
    assert '"pushes from lap 12"' in good("undo")
    good("log", "decided", "last", "softer right rear")
    assert "softer right rear" in good("undo")


def test_an_older_run_is_mended(week):
    first = told("log", "show", "last")["run"]["code"]
    later = a_run("--at", "20:00")["code"]
    text = good(
        "log", "mend", first, "--fuel", "12 gal", "--at", "18:45", "--air", "75 F", "--note", "new tires"
    )
    assert "12 gal" in text and first in text
    run = told("log", "show", first)["run"]
    assert run["fuel"] == pytest.approx(12 * 3.785411784e-3) and run["air"] == pytest.approx(297.04, abs=0.01)
    assert run["started"] == "2026-04-25T18:45:00" and run["note"] == "new tires"
    assert run["driver"] == "Pat" and len(run["laps"]) > 0, "the rest stays"
    good("log", "mend", first, "--air", DEMO.resolve() / "conditions_evening.toml")
    good("undo")
    assert told("log", "show", first)["run"]["air"] == pytest.approx(297.04, abs=0.01)
    assert told("log", "show", "last")["run"]["code"] == later
    assert "fuel 12 gal" in good("undo")
    assert told("log", "show", first)["run"]["started"] == "2026-04-25T18:30:00"
    assert "Nothing is mended" in refused("log", "mend", first)
    assert "is no time of day" in refused("log", "mend", first, "--at", "25:00")


# ---------------- what is hardly meant


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        ("RR spring 2500", "2,500 lb/in is outside the usual 50 to 1,500 lb/in"),
        ("LF 250 psi", "250.0 psi is outside the usual"),
        ("RR -10", "10 rounds at RR at one time are many"),
        ("LF tire T11", "is a right side one on the rack"),
        ("LF spring B12", "fits the rear on the rack"),
    ],
)
def test_a_change_that_is_hardly_meant_is_kept_with_a_word(week, typed, word):
    text = " ".join(good("quick", typed, "--reason", "slip").split())
    assert word in text and "look again" in text and "kept." in text
    assert "look again" not in good("quick", "RR spring 250, LR +1/2, RF 30 psi", "--reason", "meant")


def test_readings_that_are_hardly_meant_are_kept_with_a_word(week):
    three = "178 185 190 / 201 196 188 / 170 172 174"
    assert "look again" not in good("log", "temps", "last", f"{three} / 190 191 192")
    assert "RR: 1 F 2 F 3 F is no temperature" in good("log", "temps", "last", f"{three} / 1 2 3")
    text = good("log", "temps", "last", "55 56 57 / 201 196 188 / 170 172 174 / 190 191 192")
    assert "is far from the other tires" in text and "LF: 55 F" in text
    assert "is far apart for one tread" in good("log", "temps", "last", f"{three} / 90 150 220")
    assert "RR: 160.0 psi is outside" in good("log", "pressures", "last", "20 19 18 160", "--hot")
    assert "look again" not in good("log", "pressures", "last", "20 19 18 16", "--hot")


def test_a_part_at_the_wrong_side_or_end_is_put_with_a_word(week):
    assert "is a right side one on the rack and goes to LF" in good("parts", "put", "tire", "T11", "LF")
    assert "fits the rear on the rack and goes to LF" in good("parts", "put", "spring", "B12", "LF")
    assert "look again" not in good("parts", "put", "spring", "B12", "LR")
