"""Sheets by the command: from files alone and from the notebook, what was kept stands on the paper."""

import io
import json
import re

import pytest
from a_week import CAR, MARKS, NAME, SETUP, TRACK, put_at
from asked import ask, good, refused
from fuzz_documents import DEMO
from pypdf import PdfReader

from ovalwright.corners import CORNERS
from ovalwright.documents import Setup, assemble
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage.parts import part_of
from ovalwright.notebook.garage.work import Line
from ovalwright.notebook.store import Store
from ovalwright.pack import build
from ovalwright.sheets import SHEETS
from ovalwright.sheets.bolts import items_of
from ovalwright.sheets.records import card_of_tire, cards_of_setup, run_log_of
from ovalwright.study.rounds import stance_now
from ovalwright.study.since_weighed import since_weighed

FILES = DEMO.resolve()
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def files_alone(tmp_path, monkeypatch):
    """No notebook, and none may be made."""
    monkeypatch.chdir(tmp_path)
    where = tmp_path / "notebook.sqlite"
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(where))
    yield tmp_path
    assert not where.exists()


@pytest.fixture
def week(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(put_at(tmp_path / "kept" / "notebook.sqlite")))
    return tmp_path


@pytest.fixture
def session(week):
    with Store.open() as store, store.reading() as session:
        yield session


def paper(*words):
    """The text of a sheet, without blanks, which is how little a page keeps of them."""
    good("sheet", *words, "--to", "out.pdf")
    with open("out.pdf", "rb") as file:
        pages = PdfReader(io.BytesIO(file.read())).pages
    return re.sub(r"\s+", "", "".join(page.extract_text() for page in pages))


# ---------------- files alone


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["setup", SETUP], "Conventional"),
        (["scales", SETUP, "--cross", "54 %", "--rules", "rules_weekly.toml"], "Bythebook"),
        (["tires"], "durometer"),
        (["tires", SETUP], "T8"),
        (["run"], "Runlog"),
        (["bolts"], "Awrenchoneachfastener"),
        (["ballast", SETUP], "L50-1"),
        (["rack", "rack.toml"], "Springs,"),
        (["changes", SETUP, "setup_soft_front.toml"], "Whatchanged"),
        (
            ["raceday", SETUP, "--line", "18:30, heat, cold pressures", "--fuel", "heat=8 gal"],
            "coldpressures",
        ),
    ],
    ids=" ".join,
)
def test_every_sheet_is_made_of_files_alone(files_alone, words, says):
    here = [str(FILES / word) if word.endswith(".toml") else word for word in words]
    assert says in paper(*here)


def test_every_sheet_there_is_has_a_command():
    assert "write one of " + ", ".join(SHEETS) in refused("sheet", "kitchen", "--to", "a.pdf")


def test_pictures_of_pages(files_alone):
    answer = json.loads(
        good("sheet", "rack", FILES / "rack.toml", "--to", "rack.png", "--paper", "a4", "--json")
    )
    assert answer["written"][:2] == ["rack.png", "rack-2.png"] and answer["paper"] == "a4"
    for name in answer["written"]:
        assert (files_alone / name).read_bytes().startswith(PNG)


def test_what_cannot_be_printed_is_said(files_alone):
    setup = FILES / SETUP
    assert "end it with .pdf or .png" in refused("sheet", "run", "--to", "a.doc")
    assert "write letter or a4" in refused("sheet", "run", "--to", "a.pdf", "--paper", "a3")
    assert "--note is for the sheet raceday" in refused("sheet", "run", "--note", "x", "--to", "a.pdf")
    assert "one too many" in refused("sheet", "setup", setup, setup, "--to", "a.pdf")
    assert "two of any kind" in refused("sheet", "changes", setup, "--to", "a.pdf").lower()
    assert "a setup is wanted" in refused("sheet", "setup", FILES / TRACK, "--to", "a.pdf")
    assert "is not there" in refused("sheet", "setup", "nosuch.toml", "--to", "a.pdf")
    assert "does not say what" in refused("sheet", "raceday", setup, "--line", "18:30", "--to", "a.pdf")
    assert "names nothing" in refused("sheet", "raceday", setup, "--fuel", "8 gal", "--to", "a.pdf")
    assert "--fuel" in refused("sheet", "raceday", setup, "--fuel", "heat=much", "--to", "a.pdf")
    assert "name a rack" in refused("sheet", "rack", FILES / TRACK, "--to", "a.pdf")
    assert "--cross" in refused("sheet", "scales", setup, "--cross", "much", "--to", "a.pdf")
    assert "two documents of one kind" in refused("sheet", "changes", setup, FILES / TRACK, "--to", "a.pdf")
    assert "cannot be used" in refused("sheet", "run", "--to", files_alone / "no" / "a.pdf")
    assert list(files_alone.iterdir()) == []


# ---------------- the notebook


def test_the_setup_in_use_is_printed_with_its_code_and_that_is_said(week, session):
    code = shelf.revision(session, NAME, kind="setup").code
    answer = json.loads(good("sheet", "setup", "--to", "setup.pdf", "--json"))
    assert answer["stamp"]["code"] == code and answer["stamp"]["car"] == CAR
    assert any(code in note for note in answer["notes"])
    for which in (code, f"@{code}", NAME, f"@{NAME}"):
        assert code in paper("setup", which)


def test_a_run_stands_on_its_log(week, session):
    good("log", "said", "last", "it", "pushes", "--phase", "middle", "--feel", "tight")
    good("log", "hit", "last", "RF")
    run = runs.run_of(session, "last")
    told = runs.record(session, run)
    log = run_log_of(session, run)
    assert [lap.time for lap in log.laps] == [f"{lap.time:.3f}" for lap in told.laps]
    assert log.tires.split(", ") == [MARKS[corner] for corner in CORNERS] and log.changes == ()
    assert log.comments[-1].words == "it pushes" and "Hit: RF" in log.decision
    assert (log.event, log.track, log.driver) == ("Opening night", "Three-eighths at twelve", "Pat")
    good("log", "setdown", "last", "LF 770 lb, RF 640 lb, LR 830 lb, RR 560 lb, RF height 4 5/8 in")
    good("log", "pressures", "last", "10 20 11 18", "--cold")
    text = paper("run", "last")
    for expected in (
        run.code,
        *("Openingnight", "Three-eighthsattwelve", "bytester", "770.0lb", "4.62in", "20.0psi", "bestlap"),
        f"{told.best:.3f}",
        *(f"{lap.time:.3f}" for lap in told.laps),
        "itpushes",
        "firsttimeout",
        "18:30",
    ):
        assert expected in text
    assert 'no run "nosuch"' in refused("sheet", "run", "nosuch", "--to", "a.pdf").lower()


def test_tires_of_a_past_run_are_printed_as_they_were_then(week, session):
    good("parts", "measure", "tire", "T8", "roll-out 87 1/4 in at 20 psi, durometer 61", "--on", "2026-05-01")
    run = runs.run_of(session, "last")
    assembly = shelf.assembly_of(session, run.setup)
    then = dict(zip(CORNERS, cards_of_setup(session, assembly, run), strict=True))
    now = card_of_tire(session, part_of(session, "tire T8"))
    assert {corner: card.mark for corner, card in then.items()} == MARKS
    assert (now.durometer, then["RF"].durometer) == ("61", "")
    assert now.roll_outs[-1].length == "87.25 in" and "87.25 in" not in [
        o.length for o in then["RF"].roll_outs
    ]
    assert then["RF"].laps == now.laps
    good("log", "run", "--session", "heat", "--laps", FILES / "laps_heat.csv", "--at", "20:00")
    session.rollback()
    later = dict(zip(CORNERS, cards_of_setup(session, assembly, run), strict=True))["RF"]
    assert later.laps == then["RF"].laps != card_of_tire(session, part_of(session, "tire T8")).laps
    assert (
        "T8" in paper("tires", "T8", "T5")
        and "T11" in paper("tires", run.code)
        and "T2" in paper("tires", NAME)
    )


def test_what_changed_between_two_revisions(week):
    made = json.loads(good("quick", "RR +1/2, LR 12.5 psi", "--reason", "tight in", "--json"))
    text = paper("changes", made["on"]["code"], made["kept"]["code"])
    assert "+1/2round" in text and "12.5psi" in text and "tightin" in text
    assert "Nothingdiffers." in paper("changes", NAME, NAME)
    good("log", "run", "--session", "heat", "--at", "20:00")
    with Store.open() as store, store.reading() as session:
        log = run_log_of(session, runs.run_of(session, "last"))
    assert log.changes == ("LR +1.5 psi", "RR +1/2 round") and "tight in" in log.purpose
    good("log", "run", "--session", "feature", "--at", "21:00")
    assert "nothinginthesetup" in paper("run", "last")


def test_a_weighing_that_is_older_than_the_setup_says_so(week):
    assert "Weighedbefore" not in paper("setup")
    good("quick", "LR +1/2")
    for kind in ("setup", "raceday", "scales"):
        text = paper(kind)
        assert "Weighedbeforethesechanges:LR+1/2round." in text and "Computed,notweighed." in text
        assert "allelseleftasbolted" in text and "resettothe" not in text
    good("quick", "RR spring 250", "--reason", "tight")
    text = paper("raceday")
    assert "LR+1/2round;RRspring" in text and "->250lb/in" in text and "resettothe" in text
    assert "Roundscountfromthesecondline" in paper("scales", "--cross", "54 %")
    good("quick", "gear 5.5")
    assert "gear" not in paper("raceday")


def test_bolts_turned_since_the_weighing_say_one_thing_and_a_swapped_spring_two():
    weighed = assemble(FILES / SETUP)
    turned = assemble(Setup.load(FILES / SETUP).changed({"LR.turned": "1/2 round"}))
    one = since_weighed(weighed.setup, turned)
    assert one.as_bolted.cross == pytest.approx(one.reset.cross, abs=1e-9)
    assert one.reset.cross > stance_now(build(weighed)).cross + 0.001
    swapped = assemble(Setup.load(FILES / SETUP).changed({"RR.coil": {"rate": "250 lb/in"}}))
    two = since_weighed(weighed.setup, swapped)
    assert two.reset.cross == pytest.approx(stance_now(build(weighed)).cross, abs=1e-4)
    assert two.as_bolted.cross < two.reset.cross - 0.001


def test_a_rack_bears_its_own_code(week, session):
    code = shelf.revision(session, "Trailer and shop", kind="rack").code
    for which in ([], [NAME], [code]):
        assert json.loads(good("sheet", "rack", *which, "--to", "a.pdf", "--json"))["stamp"]["code"] == code


def test_a_day_of_the_notebook(week):
    text = paper("raceday", "--event", "last", "--note", "bring the canopy")
    assert "Openingnight" in text and "Three-eighthsattwelve" in text and "bringthecanopy" in text
    assert "no event" in refused("sheet", "raceday", "--event", "nowhere", "--to", "a.pdf").lower()


def test_a_checklist_is_printed_by_its_places(week):
    good("work", "begin", "Nut and bolt")
    assert "tierodend" in paper("bolts", "nut and bolt")
    assert "no checklist" in refused("sheet", "bolts", "kitchen", "--to", "a.pdf").lower()
    items = list(items_of([Line(1, "LF: hub nut", "Mind."), Line(2, "car clean; look: twice")]))
    assert (items[0].where, items[0].what, items[0].mind) == ("LF", "hub nut", "Mind.")
    assert items[1].where == "the car" and items[1].what == "car clean; look: twice"


def test_a_ready_made_list_is_known_before_a_round_was_begun(week):
    same = json.loads(good("work", "list", "Nut and bolt", "--json"))["lines"]
    for which in ([], ["Nut and bolt"]):
        text = paper("bolts", *which)
        assert all(
            re.sub(r"\s+", "", line["words"].partition(": ")[2] or line["words"]) in text for line in same
        )
    assert "shocksoffor" in paper("bolts", "scaling")


def test_the_sheet_of_a_list_has_the_ticks_and_what_was_found(week):
    good("work", "begin", "Nut and bolt")
    good("work", "tick", "3", "--found", "loose at the cotter pin", "--done-by", "Ann")
    for which in ([], ["Nut and bolt"]):
        text = paper("bolts", *which)
        assert text.count("looseatthecotterpin") == 2 and "Ann," in text
    good("work", "close")
    text = paper("bolts")
    assert "Foundandnotputright" in text and text.count("looseatthecotterpin") == 1
    good("work", "right", "3", "--how", "new pin")
    assert "looseat" not in paper("bolts")


@pytest.mark.parametrize("number", range(16))
def test_any_words_end_in_a_sheet_or_in_one_sentence(week, number):
    kinds, pieces = (
        (*SHEETS, "x"),
        ("last", NAME, "@", "T8", "", "\ud800", "'", "--rules", "nosuch", "½", CAR),
    )
    words = [kinds[number % len(kinds)], pieces[number % len(pieces)], pieces[(3 * number + 1) % len(pieces)]]
    result = ask("sheet", *words[: 2 + number % 2], "--to", "a.pdf")
    assert result.exit_code in (0, 1, 2) and "Traceback" not in result.output
    assert result.exit_code == 0 or len(result.stderr.strip().splitlines()) == 1, words
