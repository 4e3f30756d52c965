"""The notebook from the command line: every command answers, every refusal is one sentence."""

import os
import random
import re
import sqlite3
import subprocess
import sys
from types import SimpleNamespace

import pytest
from asked import ended, fits, good, refused, told
from begun import SETUP, TRACK, TRACK_NAME, last_run

from ovalwright.cli import completing
from ovalwright.notebook import drafts, runs, shelf
from ovalwright.notebook.store import Store

NAME = "Soft right rear, much wedge"
TEMPERATURES = "178 185 190 / 201 196 188 / 170 172 174 / 190 191 192"
DRAFT = re.compile(r"--draft ([0-9a-f]{8})`")


# ---------------- empty


def test_an_empty_notebook_says_where_it_is_and_what_to_do(shop, tmp_path):
    text = good("notebook")
    assert "It is empty" in text and "keep setup.toml" in text and "log event" in text
    assert told("notebook")["notebook"] == str(tmp_path / "kept" / "notebook.sqlite")
    assert "Keep one" in good("notebook", "list")
    assert "No event is in the notebook yet" in good("log")
    assert "No draft is open" in good("notebook", "drafts")
    assert "No entry" in good("notebook", "entries")
    assert "None." in good("find", "anything")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["undo"], "There is nothing of yours left to undo."),
        (["quick", "RR +1/2"], "No setup is in the notebook yet"),
        (["log", "run"], "No event is in the notebook yet"),
        (["log", "said", "last", "it", "pushes"], "No run is in the notebook yet"),
        (["log", "show"], "No run is in the notebook yet"),
        (["log", "event"], "name: is missing"),
        (["notebook", "show", "X"], 'No document "X" is in the notebook; keep a document first.'),
        (["turn", "@X", TRACK], 'No setup "X" is in the notebook; keep a setup first.'),
        (["vary", "@X", "new", "a=b"], "@X: is in the notebook; `quick` makes a new revision of it there."),
        (["find", "crash", "--when", "tight"], "Ask one thing at a time"),
        (["find", "--when", "blue"], '--when: "blue" is nothing a driver says'),
        (["find", "--went-away", "T8"], 'No part "tire T8"'),
        (["keep", "laps_heat.csv"], "laps_heat.csv"),
        (["notebook", "list", "--kind", "boat"], '"boat" is no kind of document; write one of car,'),
    ],
    ids=lambda one: " ".join(one) if isinstance(one, list) else "",
)
def test_what_cannot_be_done_is_one_sentence(shop, words, sentence):
    assert sentence in refused(*words)


# ---------------- documents


def test_files_are_kept_once_with_what_they_refer_to(shop):
    text = good("keep", SETUP, TRACK, "--reason", "as it stands")
    assert fits(text) and f"setup {NAME}, revision 1: kept" in text and "its sheet" in text
    again = told("keep", SETUP)["kept"]
    assert [one["new"] for one in again] == [False]
    assert set(again[0]["refers_to"]) == {"car", "sheet", "rack"}
    assert len(told("notebook", "entries")["entries"]) == 1, "what was kept already is no entry"


def test_a_changed_file_is_a_revision_that_says_what_changed(full):
    good("vary", SETUP, "more_air", "RR.tire.cold=19 psi", f"name={NAME}")
    (line,) = told("keep", "more_air.toml", "--reason", "more air")["kept"]
    now = line["revision"]
    assert (now["number"], now["said"], now["reason"]) == (2, "RR +2 psi cold", "more air")
    code = now["code"]
    tree = good("notebook", "tree", code)
    assert "2 revisions" in tree and '"more air"' in tree and "RR +2 psi cold" in tree
    changed = told("notebook", "changed", now["parent"], code)
    assert changed["said"] == "RR +2 psi cold" and changed["changes"][0]["key"] == "RR.tire.cold"
    assert fits(good("notebook", "changed", now["parent"], code))
    assert "Nothing differs" in good("notebook", "changed", code, code)


def test_a_text_comes_back_as_typed_and_no_change_goes_without_a_reason(full):
    path = full / TRACK
    path.write_text(path.read_text() + "\n# walked\tagain\n")
    assert "--reason" in good("keep", TRACK)
    assert good("notebook", "show", TRACK_NAME) == path.read_text()
    assert told("notebook", "show", TRACK_NAME)["text"] == path.read_text()


def test_written_out_it_can_be_used_as_files_and_replaces_none(full):
    path = told("notebook", "files", NAME, "--to", "out")["written"]
    good("notebook", "files", NAME, "--to", "out")
    assert good("check", path)
    (full / path).write_text("# mine now\n")
    assert "is there already and says something else" in refused("notebook", "files", NAME, "--to", "out")


def test_a_code_stands_where_a_file_may(full):
    by_file = told("stagger", SETUP, TRACK)
    assert by_file["notes"] and by_file["command"] == "stagger"
    by_name = told("stagger", f"@{NAME}", f"@{TRACK_NAME}")
    del by_file["notes"], by_name["notes"]
    assert by_file == by_name
    assert "No track" in refused("stagger", SETUP, f"@{NAME}")


# ---------------- quick, undo


def test_a_setup_is_changed_in_one_line_and_what_was_run_stays(full):
    tried = good("quick", "RR +1/2, LR 12.5 psi", "--try")
    assert "LR 12.5 psi" in tried and "Only tried" in tried and fits(tried)
    before = last_run().setup
    made = told("quick", "RR +1/2, LR 12.5 psi", "--reason", "tight in the middle")
    assert made["on"]["code"] == before and made["why"].startswith("as in the last run")
    assert made["kept"]["number"] == 2 and made["kept"]["reason"] == "tight in the middle"
    assert "RR +1/2 round" in made["kept"]["said"]
    assert last_run().setup == before
    next_one = told("log", "run", "--session", "heat")["run"]
    assert next_one["setup"] == made["kept"]["code"], "the one kept since the last run is in the car"
    assert f"changed before  {made['kept']['said'][:20]}" in good("log", "show")
    refused("quick", "RR +1/2, cross up", "--on", before)
    assert len(told("notebook", "tree", before)["tree"]) == 2, "nothing is half applied"
    assert "has all of that already" in refused("quick", "LR 12.5 psi")


def test_undo_says_what_it_was_and_takes_it_back_whole(full):
    good("log", "said", "last", "it", "pushes", "--phase", "middle", "--feel", "tight")
    assert "Taken back: comment on run" in good("undo")
    assert not last_run().comments
    assert "nothing of yours" in refused("undo", "--by", "somebody else")
    assert told("undo")["undone"]["what"].startswith("run ")
    last = told("notebook", "entries", "--most", "3")["entries"]
    assert [one["undone"] for one in last] == [False, False, True]
    assert "Put back: run " in good("undo", "--put-back")
    assert told("undo", "--put-back")["put_back"]["what"].startswith("comment on run")
    assert last_run().comments[-1].words == "it pushes"
    assert "nothing of yours to put back" in refused("undo", "--put-back").lower()


# ---------------- the run log


def test_a_run_is_logged_and_shown(full):
    assert "tight" in good("log", "said", "last", "it pushes", "--phase", "middle", "--feel", "tight")
    good("log", "decided", "last", "softer", "right", "rear")
    good("log", "pressures", "last", "20.5 12 10 18", "--cold")
    good("log", "temps", "last", TEMPERATURES)
    text = good("log", "show")
    assert fits(text)
    for words in ("fuel 18.0 gal", "40 laps, best 18.891 s", "Lap time, s", "cold 20.5 psi",
                  "LF  190  185  178 F", "RF  188  196  201 F", 'said: middle: tight, "it pushes"',
                  "decided: softer right rear", TRACK_NAME):  # fmt: skip
        assert words in text
    assert told("log", "show")["run"]["readings"][0]["typed"] == "20.5 psi"
    assert not re.search(r"\d (lb|in|mph|psi|F)\b", good("log", "show", "--si"))
    listed = good("log")
    assert fits(listed) and "Opening night" in listed and "practice" in listed


def test_the_order_of_reading_is_told_once(full):
    order = "RR, LR in mid out, RF, LF"
    good("log", "temps", "last", TEMPERATURES, "--order", order)
    assert told("log", "temps", "last", TEMPERATURES)["order"].startswith("RR out mid in, LR in mid out")
    read = {(one.place, one.part): one.typed for one in last_run().readings}
    assert read["RR", "outside"] == "178 F" and read["LR", "inside"] == "201 F"
    assert told("log", "pressures", "last", "20 19 18 17", "--hot")["order"] == ["RR", "LR", "RF", "LF"]
    assert "6 of 12 temperatures are there; 6 missing" in refused("log", "temps", "last", "1 2 3 / 4 5 6")
    assert "both given" in refused("log", "pressures", "last", "20 19 18 17", "--hot", "--cold")
    assert "--cold, or --hot" in refused("log", "pressures", "last", "20 19 18 17")


def test_finding_lists_all_runs_tells_sessions_apart_and_takes_days_with_when(full):
    everything = good("find")
    assert "all of them" in everything and "Opening night, practice" in everything and fits(everything)
    assert everything == good("find", "")
    assert "since" in refused("find", "--when", "since 2026-06-01")
    dated = told("find", "--when", "tight in the middle, since 2026-06-01")
    assert "on or after 2026-06-01" in dated["when"]


def test_a_line_with_one_bad_figure_is_kept_as_a_draft(full):
    sentence = refused("log", "run", "--session", "heat", "--fuel", "a lot", "--driver", "Ada")
    draft = DRAFT.search(sentence)[1]
    run = told("log", "run", "--draft", draft, "--fuel", "12 gal")["run"]
    assert (run["session"], run["driver"]) == ("heat", "Ada") and "No draft" in good("notebook", "drafts")


def test_a_revision_is_named_as_lists_print_it(full):
    made = told("quick", "RR +1 psi", "--reason", "tight")["kept"]
    first = f"{made['name']}, {made['number'] - 1}"
    assert first in good("notebook", "list")
    second = f"{made['name']}, {made['number']} ({made['code']})"
    assert "RR +1 psi" in good("notebook", "changed", first, second)
    assert "no document" in refused("notebook", "changed", f"{made['name']}, 99", second).lower()


def test_the_set_down_marks_what_moved(full):
    text = good("log", "setdown", "last", "LF 776 lb, RF 646, LR height 5 in, RR hot 24 psi, fuel 6 gal")
    assert fits(text) and "<- moved" in text
    good("undo")
    by_sheet = told("log", "setdown", "last", "sheet_hanging_rr.toml")["against_setup"]
    weights = [one for one in by_sheet if one["what"] == "weight"]
    assert len(weights) == 4
    assert max(abs(one["measured"] - one["expected"]) for one in weights) < 3.0, (
        "the sheet of this very setup"
    )
    assert "Set-down against the setup" in good("log", "show")
    two = good("log", "setdown", "last", "LF 770 lb, RF 640 lb")
    assert "in place of the set-down before" in two
    again = told("log", "show")["set_down"]
    assert [(one["what"], one["place"]) for one in again] == [("weight", "LF"), ("weight", "RF")]
    good("undo")
    assert len(told("log", "show")["set_down"]) > 4, "the sheet is back, whole"
    for words, sentence in (
        ("LF 776 lb, LF 700 lb", "LF weight is said twice"),
        ("LF 5 in", '"LF 5 in": says not what was measured'),
        ("camber -3", "says not what was measured"),
        ("LF 776 gal", "says not what was measured"),
        ("LF weight 776 gal", '"LF weight 776 gal"'),
        (",", "Nothing was measured"),
    ):
        assert sentence in refused("log", "setdown", "last", words)


def test_a_hit_names_the_caution_and_an_unknown_feel_is_told(full):
    assert "stands" in good("log", "hit", "last", "RF")
    assert '"middel" is no phase; write entry, middle, exit.' in refused(
        "log", "said", "last", "--phase", "middel"
    )
    assert "nothing was said" in refused("log", "said", "last").lower()


@pytest.mark.parametrize(
    ("option", "typed", "sentence"),
    [
        ("--fuel", "a lot", 'Fuel at the start: "a lot" does not start with a number'),
        ("--air", "70 psi", 'Air: "70 psi": psi is no temperature; write a temperature such as "75 F".'),
        ("--at", "25:00", '"25:00" is no time of day; write such as 19:30 or 7:30 pm.'),
        ("--stagger", "40 in", "Stagger:"),
        ("--laps", "nowhere.csv", "nowhere.csv"),
        ("--setup", TRACK, f"{TRACK}: is a track; a setup is wanted here."),
    ],
)
def test_what_is_mistyped_of_a_run_is_told_and_nothing_is_kept(full, option, typed, sentence):
    before = last_run().code
    assert sentence in refused("log", "run", option, typed)
    assert last_run().code == before
    assert "No draft" in good("notebook", "drafts")


def test_dates_are_iso_8601(full):
    assert "no date; write year-month-day" in refused("log", "event", "Second", "--on", "25.4.2026")
    told_event = told("log", "event", "Second", "--on", "20260502", "--track", TRACK)["event"]
    assert told_event["held_on"] == "2026-05-02" and told_event["track"] == TRACK_NAME
    assert "is in the notebook already" in refused("log", "event", "Second", "--on", "2026-05-02")


def test_no_text_orders_the_terminal_about(full):
    good("log", "decided", "last", "\x1b[2Jsofter \u202erear")
    assert "decided:  [2Jsofter  rear" in good("log", "show")


# ---------------- drafts


def test_a_run_without_its_event_is_kept_as_a_draft_and_gone_on_with(shop):
    sentence = refused("log", "run", "--session", "heat", "--fuel", "18 gal", "--laps", "-",
                       answers=(shop / "laps_heat.csv").read_text())  # fmt: skip
    draft = DRAFT.search(sentence)[1]
    assert draft in good("notebook", "drafts") and draft in good("notebook")
    assert "18 gal" in good("notebook", "drafts", "--show", draft)
    assert "was begun with `log run`" in refused("log", "event", "--draft", draft)
    good("log", "event", "Opening night", "--on", "2026-04-25")
    assert "No setup is in the notebook yet" in refused("log", "run", "--draft", draft)
    made = told("log", "run", "--draft", draft, "--setup", SETUP, "--air", "conditions_evening.toml")["run"]
    assert (
        made["session"] == "heat" and len(made["laps"]) == 20 and made["air"] == pytest.approx(294.8, abs=1)
    )
    assert "No draft is open" in good("notebook", "drafts")


def test_what_was_pasted_is_never_lost(full):
    sentence = refused("log", "laps", "last", answers="not a lap\nat all\n")
    draft = DRAFT.search(sentence)[1]
    assert "not a lap" in good("notebook", "drafts", "--show", draft)
    assert good("notebook", "drafts", "--drop", draft).startswith("Dropped: log laps")
    assert "no draft" in refused("notebook", "drafts", "--show", draft).lower()


def test_what_is_too_long_for_a_draft_is_told(full):
    assert "and no draft is kept: a draft holds 200 kB" in refused(
        "log", "laps", "last", answers="x" * 210_000
    )


def test_two_hands_do_not_overwrite_a_draft(shop):
    refused("log", "said", "last", "first words")
    with Store.open(by="ann") as store, store.aside() as session:
        (one,) = drafts.drafts(session)
        drafts.save(session, one.uid, {"words": "hers"}, version=one.version, by="ann")
    assert "hers" in good("notebook", "drafts", "--show", one.uid[:8])


# ---------------- finding


def test_runs_are_found_and_every_clause_says_how_it_was_understood(full):
    good("log", "said", "last", "it pushes", "--phase", "middle", "--feel", "tight")
    text = good("find", "here, RR spring under 400, tight in the middle")
    assert fits(text) and last_run().code in text and "it pushes" in text
    assert TRACK_NAME in text.splitlines()[0] and "RR spring" in text.splitlines()[0]
    assert told("find", "pushes")["found"]["runs"][0]["code"] == last_run().code
    assert told("find", last_run().setup)["besides"][0]["code"] == last_run().setup
    assert "ight in the middle in 1 run" in good("find", "--when", "tight in the middle")
    assert "no number follows" in refused("find", "air over banana")


# ---------------- the rest


def test_one_evening_on_either_database(shop, store_url, monkeypatch):
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(store_url))
    good("keep", SETUP, TRACK, "--reason", "as it stands")
    paste = (shop / "laps_heat.csv").read_text()
    draft = DRAFT.search(refused("log", "run", "--laps", "-", answers=paste))[1]
    good("log", "event", "Opening night", "--on", "2026-04-25", "--track", TRACK_NAME)
    assert len(told("log", "run", "--draft", draft)["run"]["laps"]) == 20
    good("log", "said", "last", "it pushes", "--phase", "middle", "--feel", "tight")
    made = told("quick", "RR +1/2", "--reason", "tight in the middle")["kept"]["code"]
    good("log", "run", "--session", "heat")
    assert "RR +1/2 round" in good("log", "show") and made in good("notebook", "tree", made)
    assert "RR +1/2 round" in good("find", "--when", "tight in the middle")
    assert "it pushes" in good("find", "pushes")
    assert told("undo")["undone"]["what"].startswith("run ")
    assert [one["runs"] for one in told("notebook", "list", "--kind", "setup")["revisions"]] == [0, 1]


def test_another_notebook_is_named_on_the_line(shop, tmp_path):
    other = tmp_path / "other.sqlite"
    good("keep", TRACK, "--notebook", other, "--by", "ann")
    assert "It is empty" in good("notebook")
    (entry,) = told("notebook", "entries", "--notebook", other)["entries"]
    assert entry["by"] == "ann"
    assert "write options behind list" in refused("notebook", "--json", "list", code=2)
    assert "is no notebook" in refused("notebook", "--notebook", SETUP)
    assert "no notebook is kept there" in refused("notebook", "--notebook", "mysql://a:secret@b/c")
    assert "secret" not in refused("notebook", "--notebook", "mysql://a:secret@b/c")


def test_a_newer_notebook_is_read_and_says_that_it_cannot_be_written(full, tmp_path):
    with sqlite3.connect(tmp_path / "kept" / "notebook.sqlite") as file:
        file.execute("UPDATE alembic_version SET version_num = '9999'")
    file.close()
    assert "newer" in good("notebook", "list")
    assert "newer" in refused("log", "said", "last", "it pushes")


def completed(*words):
    """What the shell would offer, in a process of its own."""
    environment = {"_OVALWRIGHT_COMPLETE": "complete_bash", "COMP_CWORD": str(len(words))}
    done = subprocess.run(
        [sys.executable, "-c", "import sys; sys.argv = ['ovalwright']; import ovalwright.cli as c; c.main()"],
        env={**os.environ, **environment, "COMP_WORDS": " ".join(["ovalwright", *words])},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.split("\n")[:-1]


def test_codes_and_names_complete_and_a_missing_notebook_does_not_hurt(full, monkeypatch):
    run = last_run()
    assert f"@{run.setup}" in completed("turn", "@")
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", "nowhere/at.all")
    assert completed("turn", "@") in ([], [""])
    line = SimpleNamespace(params={})
    assert completing.runs(line, "") == []
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", SETUP)
    assert completing.documents(line, "") == []


# ---------------- any words

COMMANDS = [
    *(["keep"], ["quick"], ["undo"], ["find"], ["find", "--when"], ["find", "--went-away"]),
    *(
        ["notebook", "list", "--kind"],
        ["notebook", "tree"],
        ["notebook", "show"],
        ["notebook", "changed", NAME],
    ),
    *(["notebook", "entries", "--by"], ["notebook", "drafts", "--show"], ["log", "event"]),
    *(
        ["log", "event", "E", "--on"],
        ["log", "run", "--event"],
        ["log", "run", "--fuel"],
        ["log", "run", "--air"],
    ),
    *(["log", "run", "--at"], ["log", "run", "--setup"], ["log", "laps"], ["log", "laps", "last"]),
    *(["log", "temps", "last"], ["log", "temps", "last", TEMPERATURES, "--order"], ["log", "show"]),
    *(["log", "pressures", "last", "--hot"], ["log", "said", "last", "--phase"], ["log", "setdown", "last"]),
    *(
        ["log", "hit", "last"],
        ["quick", "RR +1/2", "--on"],
        ["measured", "unsprung.axle"],
        ["measured", "RR"],
        ["log", "laps", "last", "--column"],
    ),
]
PIECES = [
    *("RR", "lf", "+1/2", "12.5 psi", "178", "185", "-", "over", "under", "tight", "in the middle", "late"),
    *(
        ",",
        ";",
        "/",
        "2026-04-25",
        "2026-02-31",
        "19:30",
        "75 F",
        "psi",
        "spring",
        "250",
        "1e999",
        "nan",
        "@",
    ),
    *(
        "last",
        NAME,
        TRACK,
        SETUP,
        "laps_heat.csv",
        "../..",
        "",
        " ",
        "½",
        "–",
        "\U0001f600",
        "\u202e",
        "\x1b[31m",
    ),
    *(
        "'",
        '"',
        "%",
        "; DROP TABLE run",
        "*",
        "a" * 300,
        "0",
        "-1",
        "--",
        "NULL",
        "Zeit=time",
        "=",
        "\n",
        "()",
    ),
    *("LF 776 lb", "height 5 in", "fuel 6 gal", "\ud800", "AND"),
]


def any_words(folder, seed, number):
    """One command with any words; returns its exit code."""
    dice = random.Random(f"{seed} {number}")
    words = [*dice.choice(COMMANDS)]
    joined = dice.choice(("", " ")).join(dice.choice(PIECES) for _ in range(dice.randint(1, 5)))
    words += [joined] if dice.random() < 0.7 else [dice.choice(PIECES) for _ in range(dice.randint(1, 3))]
    words += ["--json"] if dice.random() < 0.3 else []
    answers = dice.choice((b"", b"1, 15.2\n2, 15.4\n", joined.encode("utf-8", "replace")))
    try:
        return ended(*words, as_json="--json" in words and "--" not in words, answers=answers).exit_code
    except BaseException as problem:
        problem.add_note(f"seed {seed}, input {number}: {words!r}")
        raise


def whole(where):
    """The notebook opens, and every run in it can be shown."""
    with Store.open(where) as store, store.reading() as session:
        for event, count in runs.events(session):
            assert count == len([runs.record(session, run) for run in runs.runs_of(session, event)])
        assert shelf.revisions(session)


def test_any_words_end_in_an_answer_or_in_one_sentence(full, tmp_path):
    codes = [any_words(full, 3, number) for number in range(200)]
    assert 20 < codes.count(1) < 190, "both ends must be tried"
    whole(tmp_path / "kept" / "notebook.sqlite")


@pytest.mark.proof
def test_many_words_end_so_too(full, tmp_path):
    codes = [any_words(full, 17, number) for number in range(4000)]
    assert 400 < codes.count(1) < 3800
    whole(tmp_path / "kept" / "notebook.sqlite")
