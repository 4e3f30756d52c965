"""The work: checklists with their cautions, rounds that two can go through at once, and hours that add up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from ovalwright.notebook import runs
from ovalwright.notebook.asked.find import find_anything
from ovalwright.notebook.garage import cautions
from ovalwright.notebook.garage.checklists import NUT_AND_BOLT, READY, SAFETY_DATES, SCALING
from ovalwright.notebook.garage.findings import findings, put_right, wrong_item
from ovalwright.notebook.garage.service import due
from ovalwright.notebook.garage.work import (
    add_item,
    begin_round,
    change_item,
    close_round,
    drop_item,
    good_until,
    hours,
    item_of,
    list_lines,
    list_of,
    lists,
    new_list,
    ready_lists,
    round_sheet,
    rounds,
    tick,
    untick,
)
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Document, Event
from ovalwright.notebook.tables_work import CheckRound
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.undo import undo

DAY = dt.date(2026, 5, 9)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("work") / "notebook.sqlite", by="Pat") as opened:
        with opened.entry("ready-made lists") as session:
            assert ready_lists(session) == tuple(ready.name for ready in READY)
        yield opened


def a_list(session: Session, *things: str) -> CheckRound:
    """A round through a list of the racer's own."""
    checklist = new_list(session, f"Own {len(lists(session))}")
    for words in things:
        add_item(session, checklist, words)
    return begin_round(session, checklist)


# ---------------- lists


def test_ready_lists_are_made_once_and_stay_as_the_racer_changed_them(store: Store) -> None:
    with store.entry("change") as session:
        scaling = list_of(session, "scaling")
        drop_item(session, item_of(session, scaling, "1"))
        change_item(session, item_of(session, scaling, "2"), words="tires  on", caution="")
        add_item(session, scaling, "coffee")
        assert ready_lists(session) == ()
        told = list_lines(session, scaling)
        assert [line.number for line in told][:2] == [2, 3]
        assert (told[0].words, told[0].caution) == ("tires on", "")
        assert told[-1].words == "coffee"


@pytest.mark.parametrize("ready", READY, ids=lambda ready: ready.name)
def test_every_ready_list_has_its_cautions_and_no_thing_twice(ready) -> None:  # type: ignore[no-untyped-def]
    words = [thing.words for thing in ready.things]
    assert len(set(words)) == len(words)
    assert any(thing.caution for thing in ready.things)
    known = {text for name, text in vars(cautions).items() if name.isupper()}
    assert {thing.caution for thing in ready.things} <= known | {""}


def test_cautions_stand_where_the_work_can_hurt() -> None:
    said = {thing.words: thing.caution for ready in READY for thing in ready.things}
    for word, caution in (
        ("jack bolt", cautions.COILS),
        ("lead: every piece", cautions.LEAD),
        ("wheels: fasteners", cautions.WHEELS),
        ("cell straps", cautions.FUEL),
        ("driveshaft", cautions.STANDS),
        ("rolled on", cautions.MOVING),
    ):
        assert {said[words] for words in said if word in words} == {caution}
    assert cautions.CLEARANCE in SCALING.note
    assert cautions.BOOK in NUT_AND_BOLT.note and cautions.BOOK in SAFETY_DATES.note


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [("ball", "may be 3 .*; 10 .*give the number"), ("wings", "is not on Nut and bolt"), ("", "is not on")],
)
def test_a_thing_that_cannot_be_told_apart_is_one_sentence(store: Store, wanted: str, sentence: str) -> None:
    with store.reading() as session:
        checklist = list_of(session, "Nut and bolt")
        assert item_of(session, checklist, "lead").words.startswith("lead: every piece")
        with pytest.raises(NotebookTrouble, match=sentence):
            item_of(session, checklist, wanted)


def test_lists_of_ones_own_need_a_name_and_words(store: Store) -> None:
    with store.entry("own") as session:
        trailer = new_list(session, "Trailer")
        with pytest.raises(NotebookTrouble, match="there already"):
            new_list(session, "trailer ")
        with pytest.raises(NotebookTrouble, match="needs a name"):
            new_list(session, " ")
        with pytest.raises(NotebookTrouble, match="what is to be done"):
            add_item(session, trailer, " ")
        with pytest.raises(NotebookTrouble, match="there are Nut and bolt, Scaling"):
            list_of(session, "Boat")


# ---------------- rounds


def test_a_round_says_who_did_what_and_what_is_left_open(store: Store) -> None:
    with store.entry("round") as session:
        event = runs.new_event(session, "Opening night", DAY)
        checklist = list_of(session, "Nut and bolt")
        begun = begin_round(session, checklist, event=event)
        assert begin_round(session, checklist, event=event) is begun
        assert begin_round(session, checklist) is not begun
        tick(session, begun, item_of(session, checklist, "lead"), took="1/2 h", found="one bolt loose")
        tick(session, begun, item_of(session, checklist, "wheels"), by="Sam", took="10")
        told = close_round(session, begun)
        assert len(told.left_open) == len(NUT_AND_BOLT.things) - 2
        lead = next(line for line in told.lines if line.words.startswith("lead"))
        assert (lead.done_by, lead.seconds, lead.found) == ("Pat", 1800.0, "one bolt loose")
        assert lead.caution == cautions.LEAD
        assert (told.event, told.held_on) == ("Opening night", DAY)
        assert told.closed_at is not None
        with pytest.raises(NotebookTrouble, match="is closed"):
            tick(session, begun, item_of(session, checklist, "1"))
        assert rounds(session, event=event) == (told,)


def test_the_second_to_do_a_thing_is_told_who_did_it(store: Store) -> None:
    with store.entry("twice") as session:
        begun = a_list(session, "grease", "oil")
        grease = item_of(session, begun.checklist, "grease")
        tick(session, begun, grease, by="Sam", at=dt.datetime(2026, 5, 9, 20, 30, tzinfo=dt.UTC))
        with pytest.raises(NotebookTrouble, match="done by Sam at 2026-05-09 20:30 UTC"):
            tick(session, begun, grease)
        untick(session, begun, grease)
        with pytest.raises(NotebookTrouble, match="nothing to take back"):
            untick(session, begun, grease)
        assert tick(session, begun, grease).done_by == "Pat"


def test_what_is_dropped_stays_in_the_rounds_where_it_was_done(store: Store) -> None:
    with store.entry("drop") as session:
        begun = a_list(session, "old way", "new way")
        old = item_of(session, begun.checklist, "old way")
        tick(session, begun, old)
        drop_item(session, old)
        later = begin_round(session, begun.checklist)
        assert later is begun
        close_round(session, begun)
        later = begin_round(session, begun.checklist)
        assert [line.words for line in round_sheet(session, begun).lines] == ["old way", "new way"]
        assert [line.words for line in round_sheet(session, later).lines] == ["new way"]
        with pytest.raises(NotebookTrouble, match="is not on"):
            tick(session, later, old)


@pytest.mark.parametrize("took", ["long", "15 lb", "-5 min", "1e9 h"])
def test_a_time_that_is_none_is_refused(store: Store, took: str) -> None:
    with pytest.raises(NotebookTrouble, match="how long it took"), store.entry("time") as session:
        begun = a_list(session, "grease")
        tick(session, begun, item_of(session, begun.checklist, "1"), took=took)


# ---------------- hours and dates


WORK = st.lists(
    st.tuples(st.sampled_from(["Pat", "Sam"]), st.integers(0, 1), st.one_of(st.none(), st.integers(1, 90))),
    max_size=12,
)


@settings(max_examples=12)
@given(WORK)
def test_hours_add_up_by_person_and_event(store: Store, work: list[tuple[str, int, int | None]]) -> None:
    with store.entry("drawn") as session:
        days = [DAY + dt.timedelta(days=7 * n) for n in (1, 2)]
        events = [Event(name="Drawn", held_on=day) for day in days]
        session.add_all(events)
        checklist = new_list(session, f"Drawn {len(lists(session))}")
        begun = [begin_round(session, checklist, event=event) for event in events]
        account: dict[tuple[str, int], list[int | None]] = {}
        for person, number, minutes in work:
            item = add_item(session, checklist, "some thing")
            tick(session, begun[number], item, by=person, took=f"{minutes} min" if minutes else "")
            account.setdefault((person, number), []).append(minutes)
        told = {
            (one.person, number): (one.things, one.seconds, one.untimed)
            for number, event in enumerate(events)
            for one in hours(session, event=event)
        }
        assert told == {
            key: (len(took), 60.0 * sum(filter(None, took)), took.count(None))
            for key, took in account.items()
        }
        assert sum(one.things for one in hours(session) if one.event == "Drawn") >= len(work)


def test_every_store_keeps_rounds_and_hours_alike(store_url: str) -> None:
    with Store.open(store_url, by="Pat") as store, store.entry("work") as session:
        ready_lists(session)
        event = runs.new_event(session, "Opening night", DAY)
        checklist = list_of(session, "SAFETY dates")
        for begun, took in ((begin_round(session, checklist, event=event), "5"), (None, "")):
            tick(session, begun or begin_round(session, checklist), checklist.items[0], took=took)
        told = [(one.event, one.things, one.seconds, one.untimed) for one in hours(session)]
        assert told == [("Opening night", 1, 300.0, 0), ("", 1, 0.0, 1)]
        assert [one.event for one in rounds(session)] == ["", "Opening night"]


def test_hours_of_no_event_come_last(store: Store) -> None:
    with store.entry("hours") as session:
        begun = a_list(session, "sweep")
        tick(session, begun, item_of(session, begun.checklist, "sweep"), by="Lee", took="20 min")
        told = hours(session)
        (mine,) = [one for one in told if one.person == "Lee"]
        assert (mine.event, mine.held_on, mine.seconds) == ("", None, 1200.0)
        assert told.index(mine) >= sum(one.held_on is not None for one in told)


def test_a_safety_date_is_due_when_it_has_passed(store: Store) -> None:
    with store.entry("dates") as session:
        car = Document(kind="car", name="Dated")
        session.add(car)
        session.flush()
        belts = item_of(session, list_of(session, "Safety dates"), "belts")
        good_until(session, belts, DAY)
        (found,) = due(session, car, today=DAY + dt.timedelta(days=1))
        assert (found.job, found.is_due) == ("belts", True)
        assert "rule book" in found.whose
        good_until(session, belts, None)
        assert due(session, car, today=DAY) == ()


def test_a_round_that_was_closed_is_open_again_when_that_is_taken_back(store: Store) -> None:
    with store.entry("begun") as session:
        begun = begin_round(session, list_of(session, "Race day"))
        uid, moment = begun.uid, begun.begun_at
    with store.entry("closed") as session:
        close_round(session, session.query(CheckRound).filter_by(uid=uid).one())
    with store.entry("undo") as session:
        assert undo(session, by="Pat").what == "closed"
    with store.entry("look") as session:
        again = session.query(CheckRound).filter_by(uid=uid).one()
        assert (again.closed_at, again.begun_at) == (None, moment)
        close_round(session, again)


# ---------------- what was found


def test_what_was_found_stays_open_until_it_is_put_right(tmp_path) -> None:  # type: ignore[no-untyped-def]
    with Store.open(tmp_path / "found.sqlite", by="Pat") as store:
        with store.entry("a round") as session:
            begun = a_list(session, "LF: ball joint", "LF: hub nut")
            joint, nut = begun.checklist.items
            tick(session, begun, joint, by="Ann", found="loose")
            tick(session, begun, nut)
            close_round(session, begun)
        with store.entry("a clean round") as session:
            tick(session, begin_round(session, begun.checklist), joint)
        with store.reading() as session:
            (open_still,) = findings(session)
            assert open_still.said.startswith("LF: ball joint: loose (Ann, ")
            (found,) = find_anything(session, "loose")
            assert (found.what, found.name) == ("found", "loose: LF: ball joint")
            assert [line.is_wrong for line in rounds(session)[-1].lines] == [True, False]
            with pytest.raises(NotebookTrouble, match='nothing is open at "hub"; there is 1 LF: ball joint'):
                wrong_item(session, "hub")
        with store.entry("put right") as session:
            (done,) = put_right(session, wrong_item(session, "ball"), how="new cotter pin")
            assert (done.right_by, done.how, done.number) == ("Pat", "new cotter pin", 1)
            assert findings(session) == ()
            assert [thing.what for thing in find_anything(session, "cotter")] == ["put right"]
            with pytest.raises(NotebookTrouble, match="nothing was found that is not put right"):
                wrong_item(session, "ball")
        with store.entry("undo") as session:
            undo(session, by="Pat")
        with store.reading() as session:
            assert findings(session) == (open_still,)


def test_what_is_found_again_after_taking_a_tick_back_is_open_again(store: Store) -> None:
    with store.entry("again") as session:
        begun = a_list(session, "RF: shock")
        (shock,) = begun.checklist.items
        tick(session, begun, shock, found="bent")
        put_right(session, shock)
        untick(session, begun, shock)
        tick(session, begun, shock, found="leaks")
        assert [one.found for one in findings(session, begun.checklist)] == ["leaks"]
