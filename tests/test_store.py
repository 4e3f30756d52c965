"""The store: an entry is kept or undone whole, its history stays, and a revision never changes."""

import datetime as dt
import hashlib
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from evidence import LIBRARY
from scipy import stats

import ovalwright.demo
from ovalwright.documents import Setup, TimedLap, load_laps
from ovalwright.notebook import drafts, remembered, runs, shelf, undo
from ovalwright.notebook.asked.find import find_runs
from ovalwright.notebook.garage import parts
from ovalwright.notebook.sharing import taking_in
from ovalwright.notebook.sharing.box import read_box
from ovalwright.notebook.sharing.bundle import whole_bundle
from ovalwright.notebook.sharing.private import ALL
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Event, Figure, Lap, Revision, Run, new_code
from ovalwright.notebook.tables_work import Remembered
from ovalwright.notebook.trouble import NotebookTrouble

DEMO = Path(ovalwright.demo.__path__[0])
NIGHT = dt.date(2026, 5, 2)


@pytest.fixture
def store(store_url):
    with Store.open(store_url, by="ann") as opened:
        yield opened


def kept_setup(store, name="setup_conventional.toml"):
    with store.entry("setup kept") as session:
        return shelf.keep_setup(session, DEMO / name)


def run_of(store, setup, laps=()):
    with store.entry("run") as session:
        event = runs.new_event(session, f"Night {new_code()}", NIGHT)
        run = runs.new_run(session, event, setup, called="heat", driver="ann")
        runs.put_laps(session, run, laps)
        return run


def count(store, table):
    with store.reading() as session:
        return session.scalar(sa.select(sa.func.count()).select_from(table))


# ---------------- entries


def test_an_entry_that_fails_leaves_nothing(store):
    with pytest.raises(ZeroDivisionError), store.entry("half") as session:
        runs.new_event(session, "Opening", NIGHT)
        _ = 1 / 0
    assert count(store, Event) == 0
    with store.reading() as session:
        assert undo.last_entries(session) == ()


def test_undo_takes_back_the_last_entry_whole_and_then_the_one_before(store):
    setup = kept_setup(store)
    run = run_of(store, setup, load_laps(DEMO / "laps_practice.csv").laps)
    with store.entry("laps again") as session:
        runs.put_laps(session, session.get_one(Run, run.id), [TimedLap(1, 15.5, "green", 1)])
    with store.entry("undo") as session:
        assert undo.undo(session, by="ann").what == "laps again"
    with store.reading() as session:
        back = runs.record(session, session.get_one(Run, run.id))
    assert [lap.time for lap in back.laps] == [lap.time for lap in load_laps(DEMO / "laps_practice.csv").laps]
    assert back.best == pytest.approx(min(lap.time for lap in back.laps if lap.flag == "green"))
    with store.entry("undo") as session:
        assert undo.undo(session, by="ann").what == "run"
    assert (count(store, Run), count(store, Event), count(store, Lap)) == (0, 0, 0)
    with store.entry("undo") as session:
        assert undo.undo(session, by="ann").what == "setup kept"
    assert (count(store, Revision), count(store, Figure)) == (0, 0)
    with pytest.raises(NotebookTrouble, match="nothing of yours"), store.entry("undo") as session:
        undo.undo(session, by="ann")


def done(store, do, *, by="ann"):
    """Undo or put back, and what it was."""
    with store.entry("turned round") as session:
        return do(session, by=by).what


def test_what_was_taken_back_is_put_back_step_by_step(store):
    run = run_of(store, kept_setup(store), load_laps(DEMO / "laps_practice.csv").laps)
    whole = [count(store, table) for table in (Revision, Figure, Run, Event, Lap)]
    with store.entry("laps again") as session:
        runs.put_laps(session, session.get_one(Run, run.id), [TimedLap(1, 15.5, "green", 1)])
    for _ in range(2):
        for what in ("laps again", "run", "setup kept"):
            assert done(store, undo.undo) == what
        assert not any(count(store, table) for table in (Revision, Figure, Run, Event, Lap))
        for what in ("setup kept", "run"):
            assert done(store, undo.put_back) == what
        assert [count(store, table) for table in (Revision, Figure, Run, Event, Lap)] == whole
        assert done(store, undo.put_back) == "laps again"
    with store.reading() as session:
        assert [one.time for one in runs.record(session, runs.run_of(session, run.code)).laps] == [15.5]
        assert [one.code for one in find_runs(session, "heat").runs] == [run.code]
    with pytest.raises(NotebookTrouble, match="nothing of yours to put back"):
        done(store, undo.put_back)


def test_an_entry_that_changed_nothing_holds_up_no_putting_back(store):
    with store.entry("nothing"):
        pass
    with store.entry("an event") as session:
        runs.new_event(session, "Opening", dt.date(2026, 5, 2))
    for _ in range(2):
        with store.entry("undo") as session:
            undo.undo(session, by=store.by)
    put_back = []
    for _ in range(2):
        with store.entry("put back") as session:
            put_back.append(undo.put_back(session, by=store.by).what)
    assert put_back == ["nothing", "an event"]


def test_nothing_is_put_back_once_something_new_was_entered(store):
    kept_setup(store)
    done(store, undo.undo)
    kept_setup(store, "setup_no_rr.toml")
    with pytest.raises(NotebookTrouble, match="nothing of yours to put back"):
        done(store, undo.put_back)
    assert done(store, undo.undo) == "setup kept"
    assert done(store, undo.put_back) == "setup kept"


def test_nothing_is_put_back_over_what_another_hand_wrote_since(store, store_url):
    run = run_of(store, kept_setup(store))
    with store.entry("fuel") as session:
        runs.change_run(session, session.get_one(Run, run.id), {"fuel": 0.04})
    done(store, undo.undo)
    with Store.open(store_url, by="bob") as bob:
        with bob.entry("note of bob") as session:
            runs.change_run(session, session.get_one(Run, run.id), {"note": "left rear was low"})
        with pytest.raises(NotebookTrouble, match="bob \\(note of bob\\)"):
            done(store, undo.put_back)
        done(bob, undo.undo, by="bob")
        assert done(store, undo.put_back) == "fuel"
        with pytest.raises(NotebookTrouble, match="since by ann"):
            done(bob, undo.put_back, by="bob")
    with store.reading() as session:
        now = session.get_one(Run, run.id)
        assert (now.fuel, now.note) == (0.04, "")


def test_undo_puts_a_part_back_where_a_place_holds_one(store):
    setup = kept_setup(store)
    when = dt.datetime(2026, 5, 2, 9)
    with store.entry("tires") as session:
        for mark in ("T1", "T2"):
            parts.new_part(session, "tire", mark)
    for hour, mark in enumerate(("T1", "T2")):
        with store.entry(f"{mark} on") as session:
            car = shelf.refers_to(session, session.merge(setup))["car"].document
            tire = parts.part_of(session, mark)
            parts.put(session, tire, car, "LF", when=when + dt.timedelta(hours=hour))
    with store.entry("T2 lent, and its spare moment taken back") as session:
        tire = parts.part_of(session, "T2")
        parts.shelve(session, tire, when=when + dt.timedelta(hours=2))
        parts.lend(session, tire, "neighbor", when=when + dt.timedelta(hours=2))
    for on_car in ("T2", "T1", None):
        with store.entry("undo") as session:
            undo.undo(session, by="ann")
            car = shelf.refers_to(session, session.merge(setup))["car"].document
            assert [one.mark for one in parts.on_car(session, car)] == ([on_car] if on_car else [])


def test_what_was_undone_is_found_no_more(store):
    run = run_of(store, kept_setup(store))
    with store.entry("said") as session:
        runs.say(session, runs.run_of(session, run.code), runs.Said("middle", "", "tight", "plows"))
    with store.reading() as session:
        assert [one.code for one in find_runs(session, "plows").runs] == [run.code]
    with store.entry("undo") as session:
        undo.undo(session, by="ann")
        assert find_runs(session, "plows").runs == ()
        assert [one.code for one in find_runs(session, "heat").runs] == [run.code]


def test_undo_is_refused_when_a_later_hand_changed_the_same(store_url):
    with Store.open(store_url, by="ann") as ann, Store.open(store_url, by="bob") as bob:
        setup = kept_setup(ann)
        run = run_of(ann, setup)
        with bob.entry("note of bob") as session:
            runs.change_run(session, session.get_one(Run, run.id), {"note": "left rear was low"})
        with pytest.raises(NotebookTrouble, match="bob: note of bob"), ann.entry("undo") as session:
            undo.undo(session, by="ann")
        with bob.entry("undo") as session:
            undo.undo(session, by="bob")
        with ann.entry("undo") as session:
            assert undo.undo(session, by="ann").what == "run"


def test_a_row_that_was_removed_comes_back_though_a_later_one_took_its_number(store):
    with store.entry("told") as session:
        remembered.remember(session, "order", "LF RF", of="gauge")
    with store.entry("forgotten") as session:
        session.delete(session.scalars(sa.select(Remembered)).one())
    with Store.open(store.where, by="bob") as bob, bob.entry("told by another hand") as session:
        remembered.remember(session, "order", "RR LR", of="pyrometer")
    with store.entry("undo") as session:
        assert undo.undo(session, by="ann").what == "forgotten"
    with store.reading() as session:
        assert remembered.recall(session, "order", of="gauge") == "LF RF"
        assert remembered.recall(session, "order", of="pyrometer") == "RR LR"


def test_history_tells_who_changed_what(store):
    run = run_of(store, kept_setup(store))
    with store.entry("decided") as session:
        runs.change_run(session, session.get_one(Run, run.id), {"decided": "RR up a step"})
    with store.reading() as session:
        was = undo.history(session, session.get_one(Run, run.id))
    assert [(one.done, one.entry.what) for one in was][-1] == ("changed", "decided")
    assert was[0].done == "added" and was[-1].before["decided"] == ""
    assert all(one.entry.by == "ann" for one in was)


# ---------------- revisions


def test_a_setup_that_was_run_never_changes(store):
    setup = kept_setup(store)
    run = run_of(store, setup)
    with store.entry("softer") as session:
        child = shelf.child(
            session, session.get_one(Revision, setup.id), {"RR.coil.spring": "B10"}, reason="tight off"
        )
    with store.reading() as session:
        ran = session.get_one(Run, run.id).setup
        assert (ran.code, ran.text) == (setup.code, (DEMO / "setup_conventional.toml").read_text())
        assert child.parent_id == setup.id and child.reason == "tight off" and "RR" in child.said
        assert [depth for depth, _ in shelf.tree(session, session.get_one(Revision, child.id))] == [0, 1]
        assert shelf.assembly_of(session, session.get_one(Revision, child.id)).setup.RR.coil.spring == "B10"
    with pytest.raises(NotebookTrouble, match="never changes"), store.entry("cheat") as session:
        session.get_one(Revision, setup.id).text = "other"
    with pytest.raises(NotebookTrouble), store.entry("cheat in bulk") as session:
        session.execute(sa.update(Revision).values(text="other"))


def test_a_document_comes_back_as_typed_and_one_that_is_like_another_stands_alone(store, tmp_path):
    with store.entry("setups") as session:
        plain = shelf.keep_setup(session, DEMO / "setup_conventional.toml")
        like = shelf.keep_setup(session, DEMO / "setup_giant_bar.toml")
        again = shelf.keep_setup(session, DEMO / "setup_giant_bar.toml")
    assert again.id == like.id, "kept already"
    with store.reading() as session:
        given = shelf.setup_of(session.get_one(Revision, like.id))
        out = shelf.write_out(session, session.get_one(Revision, like.id), tmp_path)
    typed = Setup.load(DEMO / "setup_giant_bar.toml")
    assert figures(given) == figures(typed)
    assert figures(Setup.load(out)) == figures(typed)
    assert plain.sha256 == hashlib.sha256((DEMO / "setup_conventional.toml").read_bytes()).hexdigest()


def two_cars(folder):
    """Setups of one name on two cars, as files."""
    text = (DEMO / "car.toml").read_text()
    assert 'name = "Number none' in text
    (folder / "car.toml").write_text(text)
    (folder / "old_blue.toml").write_text(re.sub(r"(?m)^name = .*$", 'name = "Old Blue"', text, count=1))
    for name in ("rack.toml", "sheet_conventional.toml"):
        (folder / name).write_text((DEMO / name).read_text())
    setup = (DEMO / "setup_conventional.toml").read_text()
    (folder / "one.toml").write_text(setup)
    (folder / "other.toml").write_text(setup.replace('"car.toml"', '"old_blue.toml"'))
    return folder / "one.toml", folder / "other.toml"


def test_setups_of_one_name_on_two_cars_are_two(store, tmp_path):
    one, other = two_cars(tmp_path)
    with store.entry("two cars") as session:
        first, second = shelf.keep_setup(session, one), shelf.keep_setup(session, other)
        again = shelf.keep_setup(session, one)
        grown = shelf.child(session, second, {"LF.tire.cold": "9 psi"}, reason="to see")
    assert again.id == first.id
    assert second.document_id == grown.document_id != first.document_id
    assert (first.number, second.number, grown.number) == (1, 1, 2)
    assert (second.parent_id, second.said, grown.parent_id) == (None, "", second.id)
    with store.reading() as session:
        names = [shelf.line(session, session.get_one(Revision, one.id)).name for one in (first, grown)]
        assert names == [
            "Conventional of Number none, perimeter-frame late model",
            "Conventional of Old Blue",
        ]
        assert shelf.revision(session, "conventional").code == grown.code, "the one kept last"
        for name, code in zip(names, (first.code, grown.code), strict=True):
            assert shelf.revision(session, name).code == code
        assert shelf.revision(session, f"{names[1]}, 1", kind="setup").code == second.code
        with pytest.raises(NotebookTrouble, match='no setup "Conventional of nobody"'):
            shelf.revision(session, "Conventional of nobody", kind="setup")
        box = read_box(whole_bundle(session, private=ALL).to_bytes())
    with Store.open(tmp_path / "theirs.sqlite", by="bob") as theirs:
        with theirs.entry("taken in") as session:
            taking_in.take(taking_in.look(box, session), session)
        with theirs.reading() as session:
            assert shelf.revision(session, names[1]).code == grown.code
            assert (
                whole_bundle(session, private=ALL).to_bytes() == whole_bundle(session, private=ALL).to_bytes()
            )
            sent_back = read_box(whole_bundle(session, private=ALL).to_bytes())
    with store.reading() as session:
        assert not taking_in.look(sent_back, session).adds


def test_a_setup_that_held_two_cars_before_goes_on_as_one(store, tmp_path):
    one, other = two_cars(tmp_path)
    with store.entry("as it was kept before") as session:
        first = shelf.keep_setup(session, one)
        second = shelf.keep_setup(session, other, parent=first)
        other.write_text(other.read_text() + "# warm\n")
        third = shelf.keep_setup(session, other)
    assert first.document_id == second.document_id == third.document_id
    assert (third.number, third.parent_id) == (3, second.id)


def figures(setup):
    return {entry.key: getattr(entry.value, "si", None) for entry in setup.entries()}


def test_codes_are_asked_for_in_any_case_and_unknown_ones_say_what_there_is(store):
    setup = kept_setup(store)
    with store.reading() as session:
        assert shelf.revision(session, setup.code.lower()).id == setup.id
        assert shelf.revision(session, "conventional", kind="setup").id == setup.id
        with pytest.raises(NotebookTrouble, match='there are "Conventional"'):
            shelf.revision(session, "nothing such", kind="setup")


# ---------------- runs


def test_what_laps_come_to_agrees_with_a_library(store, check):
    laps = load_laps(DEMO / "laps_practice.csv").laps
    green = np.array([lap.time for lap in laps if lap.flag == "green"])
    numbers = np.array([lap.number for lap in laps if lap.flag == "green"])
    green, numbers = green[green <= 1.2 * np.median(green)], numbers[green <= 1.2 * np.median(green)]
    count, at_speed, best, middle, fall_off = runs.totals(laps)
    assert (count, at_speed) == (len(laps), len(green))
    check(
        ours=middle,
        expected=float(stats.scoreatpercentile(green, 50)),
        rel=1e-12,
        unit="s",
        of="middle lap of a run (median of laps at speed)",
        source="SciPy, scoreatpercentile",
        kind=LIBRARY,
        area="notebook",
    )
    slopes = [
        stats.theilslopes(green[numbers >= first], numbers[numbers >= first]).slope for first in numbers[:-5]
    ]
    check(
        ours=float(np.abs(np.array(slopes) * 10 - fall_off).min()),
        expected=0.0,
        abs=1e-9,
        unit="s/10 laps",
        of="fall-off of a run, against the slope of its laps from some lap on",
        source="SciPy, theilslopes",
        kind=LIBRARY,
        area="notebook",
    )
    check(
        ours=best,
        expected=float(stats.tmin(green)),
        rel=1e-12,
        unit="s",
        of="best lap of a run",
        source="SciPy, tmin",
        kind=LIBRARY,
        area="notebook",
    )


def test_weather_is_that_of_the_conditions_and_length_that_of_the_track(store):
    with store.entry("papers") as session:
        setup = shelf.keep_setup(session, DEMO / "setup_conventional.toml")
        track = shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        weather = shelf.keep_file(session, DEMO / "conditions_evening.toml")
        event = runs.new_event(session, "Opening", NIGHT, track=track)
        run = runs.new_run(session, event, setup, conditions=weather)
        runs.put_laps(session, run, [TimedLap(n, 15.5, "green", n) for n in (1, 2)])
    assert run.air == pytest.approx((71 + 459.67) / 1.8)
    assert 0.9 * 603.5 < run.distance / 2 < 1.2 * 603.5, "three eighths of a mile a lap"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (runs.Said(phase="center"), "no phase"),
        (runs.Said(when="never"), "no part of the run"),
        (runs.Said(feel="awful"), "no feel"),
    ],
)
def test_a_word_that_is_none_of_ours_is_refused(store, said, why):
    run = run_of(store, kept_setup(store))
    with pytest.raises(NotebookTrouble, match=why), store.entry("said") as session:
        runs.say(session, session.get_one(Run, run.id), said)


def test_lap_numbers_come_once(store):
    run = run_of(store, kept_setup(store))
    with pytest.raises(NotebookTrouble, match="twice"), store.entry("laps") as session:
        runs.put_laps(session, session.get_one(Run, run.id), [TimedLap(1, 15.0, "green", n) for n in (1, 2)])


# ---------------- drafts, what is remembered, opening


def test_the_second_hand_on_a_draft_is_told_who_changed_what(store):
    with store.aside() as session:
        begun = drafts.begin(session, "run", {"fuel": "18 gal"}, by="ann")
    with store.aside() as session:
        drafts.save(session, begun.uid, {"fuel": "12 gal"}, version=begun.version, by="bob")
    with (
        pytest.raises(drafts.DraftChanged, match=r"bob changed this draft .*\(fuel: 12 gal\)") as told,
        store.aside() as session,
    ):
        drafts.save(session, begun.uid, {"fuel": "16 gal"}, version=begun.version, by="ann")
    assert told.value.ours == {"fuel": "16 gal"} and told.value.theirs.typed == {"fuel": "12 gal"}
    with store.reading() as session:
        assert drafts.draft(session, begun.uid).saved_by == "bob"


def entered(store):
    """A draft of two fields that became an entry, and what stands in its place."""
    with store.aside() as session:
        begun = drafts.begin(session, "scales", {"LF": "776 lb"}, by="ann")
        typed = drafts.save(session, begun.uid, {"LF": "776 lb", "RF": "646 lb"}, version=begun.version)
        hand = drafts.begin(session, "hand", {"base": "before"}, by="ann")
    with store.entry("weighed") as session:
        runs.new_event(session, "Opening", NIGHT)
        drafts.drop(session, typed.uid)
        drafts.save(session, hand.uid, {"base": "after"}, version=hand.version)
        added = drafts.begin(session, "hand", {"base": "after"}).uid
    return typed, hand.uid, added


def turn_round(store, how):
    with store.entry(how.__name__) as session:
        how(session, by="ann")


def test_undo_gives_back_the_drafts_of_an_entry_and_putting_back_takes_them_again(store):
    typed, hand, added = entered(store)
    for _ in range(2):
        turn_round(store, undo.undo)
        with store.reading() as session:
            assert {one.uid for one in drafts.drafts(session)} == {typed.uid, hand}
            assert drafts.draft(session, typed.uid).typed == typed.typed
            assert drafts.draft(session, hand).typed == {"base": "before"}
        turn_round(store, undo.put_back)
        with store.reading() as session:
            assert {one.uid for one in drafts.drafts(session)} == {hand, added}
            assert drafts.draft(session, hand).typed == {"base": "after"}


def test_a_draft_that_was_typed_on_is_neither_undone_nor_put_back(store):
    typed, hand, added = entered(store)
    with store.aside() as session:
        drafts.save(session, hand, {"base": "new"}, version=drafts.draft(session, hand).version)
        drafts.drop(session, added)
        drafts.begin(session, "run", {"fuel": "9 gal"})
    turn_round(store, undo.undo)
    with store.aside() as session:
        assert [one.form for one in drafts.drafts(session, "run")] == ["run"]
        assert drafts.draft(session, hand).typed == {"base": "new"}
        again = drafts.draft(session, typed.uid)
        drafts.save(session, typed.uid, {"LF": "780 lb"}, version=again.version)
    turn_round(store, undo.put_back)
    with store.reading() as session:
        assert drafts.draft(session, typed.uid).typed == {"LF": "780 lb"}


def test_what_is_told_once_is_remembered(store):
    for told in ({"Zeit": "time"}, {"Zeit": "lap"}):
        with store.entry("columns") as session:
            remembered.remember(session, "columns", told, of="Zeit;Rd")
    with store.reading() as session:
        assert remembered.recall(session, "columns", of="Zeit;Rd") == {"Zeit": "lap"}
        assert remembered.recall(session, "columns", of="other") is None


@pytest.mark.parametrize("where", ["mysql://here/db", "postgresql://127.0.0.1:1/none", "odd://"])
def test_an_address_that_leads_nowhere_is_one_sentence(where):
    with pytest.raises(NotebookTrouble) as told:
        Store.open(where)
    assert "\n" not in str(told.value)


def test_a_file_that_is_no_notebook_is_left_alone(tmp_path):
    file = tmp_path / "letter.txt"
    file.write_text("dear notebook")
    with pytest.raises(NotebookTrouble, match="is no notebook"):
        Store.open(file)
    assert file.read_text() == "dear notebook"


def test_a_damaged_notebook_is_told_and_left_as_it_is(tmp_path):
    file = tmp_path / "n.sqlite"
    with Store.open(file, by="ann") as store:
        for name in range(200):
            with store.entry("event") as session:
                session.add(Event(name=f"night {name}", held_on=NIGHT))
    raw = bytearray(file.read_bytes())
    for place in range(8192, len(raw), 4096):
        raw[place : place + 64] = b"\x55" * 64
    file.write_bytes(raw)
    with pytest.raises(NotebookTrouble, match="is damaged"):
        Store.open(file)
    assert file.read_bytes() == bytes(raw)


def test_the_picture_of_the_tables_is_that_of_the_models():
    tools = str(Path(__file__).resolve().parent.parent / "tools")
    sys.path.insert(0, tools)
    try:
        import picture_of_tables
    finally:
        sys.path.remove(tools)
    assert picture_of_tables.PICTURE.read_text(encoding="utf-8") == picture_of_tables.picture()
