"""Parts as individuals: in one place at a time, laps that add up, what was measured on them."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from evidence import COMMON_PRACTICE, LIBRARY
from hypothesis import given, settings
from hypothesis import strategies as st
from shop import LAP, a_car, a_run, at, some

from ovalwright.documents import Rack, TimedLap, assemble
from ovalwright.notebook import runs, shelf, undo
from ovalwright.notebook.garage.fitting import fitted_for, named_by
from ovalwright.notebook.garage.parts import (
    SHELF,
    Whereabouts,
    change_part,
    find_part,
    lend,
    marks_ridden,
    mend_ride,
    moves,
    new_part,
    on_car,
    part_of,
    put,
    ride,
    scrap,
    shelve,
    whereabouts,
)
from ovalwright.notebook.garage.parts_life import APART, TYPICAL_GROWTH, life, lives, tire_life
from ovalwright.notebook.garage.parts_measured import MEASURABLE, measurable, measure, measurements
from ovalwright.notebook.garage.parts_rack import MEASURED_OF, from_rack
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Measurement, Part, Ridden, Run, Stay
from ovalwright.notebook.tables_work import Saying
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS

DEMO = Path(__file__).parent.parent / "src" / "ovalwright" / "demo"
DAY = dt.date(2026, 5, 9)
CORNERS = ("LF", "RF", "LR", "RR")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("parts") / "notebook.sqlite", by="Pat") as opened:
        yield opened


# ---------------- one place at a time


def test_a_tire_put_on_a_car_sends_the_one_there_to_the_shelf(store: Store) -> None:
    with store.entry("change a tire") as session:
        car, _ = a_car(session)
        old, new = some(session, "tire", 2)
        assert whereabouts(session, old).place == SHELF
        put(session, old, car, "lf", when=at(0))
        put(session, new, car, "LF tire", when=at(1))
        assert [(one.place, one.mark) for one in on_car(session, car)] == [("LF tire", new.mark)]
        assert whereabouts(session, old).car == ""
        assert [(one.place, one.since, one.until) for one in moves(session, old)] == [
            ("LF tire", at(0), at(1)),
            (SHELF, at(1), None),
        ]


def test_tires_swapped_side_to_side_leave_no_stay_of_no_time(store: Store) -> None:
    with store.entry("swap") as session:
        car, _ = a_car(session)
        left, right = some(session, "tire", 2)
        put(session, left, car, "LF", when=at(0))
        put(session, right, car, "RF", when=at(0))
        put(session, left, car, "RF", when=at(1))
        put(session, right, car, "LF", when=at(1))
        assert {one.place: one.mark for one in on_car(session, car)} == {
            "LF tire": right.mark,
            "RF tire": left.mark,
        }
        assert [one.place for one in moves(session, right)] == ["RF tire", "LF tire"]


def test_the_database_itself_refuses_two_places_and_two_parts(store: Store) -> None:
    with store.entry("put") as session:
        car, _ = a_car(session)
        one, other = some(session, "tire", 2)
        put(session, one, car, "LF", when=at(0))
        ids = car.id, one.id, other.id
    for part_id, place in ((ids[1], "RF tire"), (ids[2], "LF tire")):
        with pytest.raises(NotebookTrouble, match="one place at a time"), store.entry("force") as session:
            session.add(Stay(part_id=part_id, car_id=ids[0], place=place, since=at(1)))


@pytest.mark.parametrize(
    ("kind", "where", "place"),
    [
        ("spring", "rr", "RR spring"),
        ("ball joint", "rf lower", "RF lower ball joint"),
        ("bar", "", "bar"),
        ("bar", "bar", "bar"),
        ("lead", "left rail", "left rail lead"),
        ("carburetor", "", "carburetor"),
    ],
)
def test_a_place_is_said_shortly_and_ends_in_its_kind(
    store: Store, kind: str, where: str, place: str
) -> None:
    with store.entry("put") as session:
        car, _ = a_car(session)
        assert put(session, some(session, kind, 1)[0], car, where, when=at(0)).place == place


@pytest.mark.parametrize(
    ("kind", "where", "sentence"),
    [
        ("tire", "", "name a corner"),
        ("tire", "LF spring", "name a corner"),
        ("tire", "left front", "name a corner"),
        ("gear", "RR", "one gear"),
        ("rod end", "x" * 50, "too long"),
    ],
)
def test_a_place_that_cannot_be_is_refused(store: Store, kind: str, where: str, sentence: str) -> None:
    with pytest.raises(NotebookTrouble, match=sentence), store.entry("put") as session:
        car, _ = a_car(session)
        put(session, some(session, kind, 1)[0], car, where, when=at(0))


def test_a_part_is_lent_comes_back_and_is_scrapped_for_good(store: Store) -> None:
    with store.entry("lend and scrap") as session:
        car, setup = a_car(session)
        (tire,) = some(session, "tire", 1)
        put(session, tire, car, "LF", when=at(0))
        lend(session, tire, "the next pit", when=at(1))
        assert whereabouts(session, tire).place == "lent to the next pit"
        shelve(session, tire, when=at(2))
        scrap(session, tire, when=at(3))
        assert tire.retired_on == DAY
        with pytest.raises(NotebookTrouble, match="was scrapped"):
            put(session, tire, car, "LF", when=at(4))
        with pytest.raises(NotebookTrouble, match="a part is put on a car"):
            put(session, tire, setup.document, "LF", when=at(4))
        with pytest.raises(NotebookTrouble, match="say whom"):
            lend(session, tire, " ", when=at(5))


def test_marks_are_told_apart_and_typing_errors_are_caught(store: Store) -> None:
    with store.entry("parts") as session:
        new_part(session, "Spring", " X1 ")
        new_part(session, "shock", "X1")
        assert part_of(session, "SPRING x1").kind == "spring"
        for wrong, sentence in ((("X1",), "say which"), (("X9",), "no part"), (("tire X1",), "no part")):
            with pytest.raises(NotebookTrouble, match=sentence):
                part_of(session, *wrong)
        with pytest.raises(NotebookTrouble, match="already"):
            new_part(session, "spring", "X1")
        with pytest.raises(NotebookTrouble, match="did you mean spring"):
            new_part(session, "sping", "X2")
        with pytest.raises(NotebookTrouble, match="less than nothing"):
            new_part(session, "tire", "X3", laps_before=-1)


# ---------------- moves and runs


def test_a_move_before_a_run_that_says_otherwise_is_refused(store: Store) -> None:
    with store.entry("run") as session:
        car, setup = a_car(session)
        old, new = some(session, "tire", 2)
        put(session, old, car, "RR", when=at(0))
        run = a_run(session, setup, at(2), 20)
        for move in (
            lambda: put(session, new, car, "RR", when=at(1)),
            lambda: shelve(session, old, when=at(2)),
            lambda: put(session, old, car, "LR", when=at(-1)),
        ):
            with pytest.raises(NotebookTrouble, match=rf"{run.code}|moves are told in order"):
                move()
        put(session, new, car, "RR", when=at(3))
        assert marks_ridden(session, run) == (("RR tire", old.mark),)


def test_a_part_told_of_later_is_in_the_runs_since(store: Store) -> None:
    """The racer begins with his tires and tells of the springs when half the season is over."""
    with store.entry("runs") as session:
        car, setup = a_car(session)
        (tire,), (spring,) = some(session, "tire", 1), some(session, "spring", 1)
        put(session, tire, car, "RR", when=at(0))
        for hours, laps in ((1, 10), (2, 20), (3, 30)):
            a_run(session, setup, at(hours), laps)
        put(session, spring, car, "RR", when=at(1.5))
        assert (life(session, tire).laps, life(session, spring).laps) == (60, 50)


def test_a_run_entered_late_had_what_was_on_the_car_then(store: Store) -> None:
    with store.entry("runs") as session:
        car, setup = a_car(session)
        first, second = some(session, "tire", 2)
        put(session, first, car, "RR", when=at(0))
        put(session, second, car, "RR", when=at(24))
        late = a_run(session, setup, at(1), 10)
        assert marks_ridden(session, late) == (("RR tire", first.mark),)


def test_a_tire_put_on_at_the_time_of_a_run_is_in_it(store: Store) -> None:
    with store.entry("runs") as session:
        car, setup = a_car(session)
        old, new, off = some(session, "tire", 3)
        (spring,) = some(session, "spring", 1)
        put(session, old, car, "RR", when=at(0))
        put(session, off, car, "LR", when=at(0))
        put(session, new, car, "RR", when=at(1))
        shelve(session, off, when=at(1))
        run = a_run(session, setup, at(1), 10)
        put(session, spring, car, "RR", when=at(1))
        assert dict(marks_ridden(session, run)) == {"RR tire": new.mark, "RR spring": spring.mark}


def test_a_part_told_of_later_does_not_push_out_what_was_mended(store: Store) -> None:
    with store.entry("runs") as session:
        car, setup = a_car(session)
        really, later = some(session, "tire", 2)
        run = a_run(session, setup, at(1), 10)
        mend_ride(session, run, {"RR": really})
        put(session, later, car, "RR", when=at(0))
        assert marks_ridden(session, run) == (("RR tire", really.mark),)


def test_a_run_whose_time_is_not_told_comes_after_the_moves_of_its_day(store: Store) -> None:
    with store.entry("runs") as session:
        car, setup = a_car(session)
        morning, evening = some(session, "tire", 2)
        noon = dt.datetime(2026, 6, 6, 12)
        put(session, morning, car, "RR", when=noon.replace(hour=9))
        heat = a_run(session, setup, noon, 10)
        put(session, evening, car, "RR", when=noon.replace(hour=19))
        feature = a_run(session, setup, noon, 30)
        assert marks_ridden(session, heat) == (("RR tire", morning.mark),)
        assert marks_ridden(session, feature) == (("RR tire", evening.mark),)


def test_what_was_in_a_run_is_mended_without_a_move(store: Store) -> None:
    with store.entry("mend") as session:
        car, setup = a_car(session)
        noted, really = some(session, "tire", 2)
        put(session, noted, car, "RR", when=at(0))
        run = a_run(session, setup, at(1), 25)
        mend_ride(session, run, {"RR": really})
        assert marks_ridden(session, run) == (("RR tire", really.mark),)
        assert (life(session, noted).laps, life(session, really).laps) == (0, 25)
        assert whereabouts(session, noted).place == "RR tire"
        mend_ride(session, run, {"LR": really})
        assert marks_ridden(session, run) == (("LR tire", really.mark),)
        mend_ride(session, run, {"LR tire": None})
        assert marks_ridden(session, run) == ()
        assert [one.part_id for one in ride(session, run)] == [noted.id]


MOVES = st.one_of(
    st.tuples(st.just("put"), st.integers(0, 5), st.sampled_from(CORNERS)),
    st.tuples(st.just("shelf"), st.integers(0, 5), st.none()),
    st.tuples(st.just("run"), st.integers(0, 60), st.none()),
)


@settings(max_examples=20)
@given(st.lists(MOVES, min_size=4, max_size=20))
def test_a_part_is_in_one_place_and_its_laps_add_up(
    store: Store, steps: list[tuple[str, int, str | None]]
) -> None:
    """Against a plain account kept beside: who stands where, and the laps of each."""
    with store.entry("drawn") as session:
        car, setup = a_car(session)
        tires = some(session, "tire", 6)
        stands: dict[str, int] = {}
        laps, ran = [0] * 6, [0] * 6
        for hour, (step, number, corner) in enumerate(steps):
            if step == "run":
                a_run(session, setup, at(hour), number)
                for one in stands.values():
                    laps[one], ran[one] = laps[one] + number, ran[one] + 1
                continue
            stands = {place: one for place, one in stands.items() if one != number and place != corner}
            if corner is not None:
                stands[corner] = number
                put(session, tires[number], car, corner, when=at(hour))
            else:
                shelve(session, tires[number], when=at(hour))
        assert {one.place: one.mark for one in on_car(session, car)} == {
            f"{corner} tire": tires[one].mark for corner, one in stands.items()
        }
        told = lives(session, tires)
        assert [one.laps for one in told] == laps and [one.cycles for one in told] == ran
        assert [one.distance for one in told] == [count * LAP for count in laps]
        for tire in tires:
            _check_moves(moves(session, tire))


def _check_moves(told: tuple[Whereabouts, ...]) -> None:
    """One stay after another, none of them of no time, the last one open."""
    for before, after in itertools.pairwise(told):
        assert before.since and before.until and after.since
        assert before.since < before.until <= after.since
    assert not told or told[-1].until is None


def test_tires_swapped_and_a_run_mended_are_undone_whole(store: Store) -> None:
    with store.entry("put") as session:
        car, setup = a_car(session)
        left, right = some(session, "tire", 2)
        put(session, left, car, "LF", when=at(0))
        put(session, right, car, "RF", when=at(0))
        run = a_run(session, setup, at(1), 20)
        was = [(moves(session, tire), life(session, tire)) for tire in (left, right)]
    with store.entry("swap") as session:
        put(session, session.merge(left), session.merge(car), "RF", when=at(2))
        put(session, session.merge(right), session.merge(car), "LF", when=at(2))
        mend_ride(session, session.merge(run), {"LF": None, "RF": session.merge(left)})
    with store.entry("undo") as session:
        undo.undo(session, by="Pat")
        told = [session.get_one(Part, tire.id) for tire in (left, right)]
        assert [(moves(session, tire), life(session, tire)) for tire in told] == was
        assert dict(marks_ridden(session, session.get_one(Run, run.id))) == {
            "LF tire": left.mark,
            "RF tire": right.mark,
        }


def test_a_part_is_found_by_what_is_told_of_it(store: Store) -> None:
    with store.entry("tell") as session:
        car, setup = a_car(session)
        (tire,) = some(session, "tire", 1)
        change_part(session, tire, {"compound": "hoosegow", "paid": 190.0})
        words = sa.select(Saying.words).where(Saying.owner == "part", Saying.owner_id == tire.id)
        assert "hoosegow" in (session.scalar(words) or "")
        with pytest.raises(NotebookTrouble, match="laps_before of tire own"):
            change_part(session, tire, {"laps_before": 0})
        run = a_run(session, setup, at(1), 10)
        put(session, tire, car, "LF", when=at(0))
        ridden = sa.select(Saying.words).where(Saying.owner == "run", Saying.owner_id == run.id)
        assert f"LF tire {tire.mark}" in (session.scalar(ridden) or "")


def test_every_store_moves_rides_and_counts_alike(store_url: str) -> None:
    with Store.open(store_url, by="Pat") as store, store.entry("evening") as session:
        car, setup = a_car(session)
        one, other = some(session, "tire", 2)
        for hour, tire in enumerate((one, other, one)):
            put(session, tire, car, "RR", when=at(4 * hour))
            a_run(session, setup, at(4 * hour + 1), 10)
        measure(session, one, "roll out", "86 3/4 in at 20 psi", on=DAY)
        told = tire_life(session, one)
        assert (told.life.laps, told.life.days, told.life.where.place) == (20, 2, "RR tire")
        assert (told.life.first_run, told.life.last_run) == (DAY, DAY + dt.timedelta(days=1))
        assert [run.laps_before for run in told.runs] == [0, 10]
        lead = new_part(session, "lead", "x" * 60)
        assert len(put(session, lead, car, when=at(9)).place) == 40


# ---------------- what a setup names


def test_the_car_is_fitted_out_as_its_setup_says(store: Store) -> None:
    assembly = assemble(DEMO / "setup_conventional.toml")
    with store.entry("fit") as session:
        setup = shelf.keep_setup(session, DEMO / "setup_conventional.toml")
        car = shelf.revision(session, assembly.car.name, kind="car").document
        from_rack(session, assembly.rack, on=DAY)
        stranger, lead, gear = (part_of(session, mark) for mark in ("T1", "L40-9", "gear 5.43"))
        put(session, stranger, car, "LF", when=at(-9))
        put(session, lead, car, "left rail", when=at(-9))
        put(session, gear, car, when=at(-9))
        done = fitted_for(session, assembly, car, at(0))
        named = {place: mark for place, (_, mark) in named_by(assembly.setup).items() if mark}
        assert {one.place: one.mark for one in on_car(session, car)} == named == dict(done.put)
        assert set(done.taken_off) == {("LF tire", "T1"), ("left rail lead", "L40-9"), ("gear", "5.43")}
        assert done.unknown == ()
        again = fitted_for(session, assembly, car, at(1))
        assert (again.put, again.taken_off) == ((), ())
        event = runs.new_event(session, "Opening night", DAY)
        run = runs.new_run(session, event, setup, started=at(2))
        runs.put_laps(session, run, [TimedLap(n, 16.0, flag, n) for n, flag in enumerate(FLAGS, 1)])
        assert dict(marks_ridden(session, run)) == named
        told = life(session, part_of(session, "T8"))
        assert (told.laps, told.green, told.cycles, told.days) == (35 + len(FLAGS), 2, 1, 1)


FLAGS = ("green", "yellow", "green", "pit", "other")


def test_a_mark_that_is_not_known_is_said_and_what_stood_there_comes_off(store: Store) -> None:
    text = (DEMO / "setup_conventional.toml").read_text().replace('"T8"', '"T2"')
    assembly = assemble(DEMO / "setup_no_rr.toml")
    with store.entry("fit") as session:
        car, _ = a_car(session)
        (spring,) = some(session, "spring", 1)
        put(session, spring, car, "RR", when=at(98))
        done = fitted_for(session, assembly, car, at(99))
        assert done.taken_off == (("RR spring", spring.mark),)
        twice = assemble(type(assembly.setup).from_text(text, folder=DEMO))
        told = fitted_for(session, twice, car, at(100)).unknown
        assert {("LF tire", "T2"), ("RF tire", "T2")} <= set(told)


# ---------------- the rack and what is measured


def test_a_rack_is_taken_in_once_and_measured_anew(store: Store, tmp_path: Path) -> None:
    rack = Rack.from_text(
        """
        document = "rack"
        [[springs]]
        id = "N1"
        tag = "225 lb/in"
        measured = "219 lb/in"
        date = 2026-02-01
        [[tires]]
        id = "N2"
        side = "right"
        roll_out = "86 3/4 in"
        roll_out_pressure = "20 psi"
        laps = 35
        [[lead]]
        id = "N3"
        mass = "25 lb"
        count = 3
        """
    )
    newer = Rack.from_text(rack.text.replace("219", "216").replace("2026-02-01", "2026-06-01"))
    with Store.open(tmp_path / "rack.sqlite") as fresh, fresh.entry("rack") as session:
        first = from_rack(session, rack, on=DAY)
        assert [mark for _, mark in first.new] == ["N1", "N2", "N3-1", "N3-2", "N3-3"]
        again = from_rack(session, rack, on=DAY + dt.timedelta(9))
        assert (again.new, again.measured, again.same) == ((), (), 5)
        assert from_rack(session, newer, on=DAY).measured == (("spring", "N1"),)
        checked = Rack.from_text(newer.text.replace("2026-06-01", "2026-07-01"))
        assert from_rack(session, checked, on=DAY).measured == (("spring", "N1"),)
        spring, tire = part_of(session, "N1"), part_of(session, "N2")
        assert [one.typed for one in measurements(session, spring, "rate")] == [
            "219 lb/in",
            "216 lb/in",
            "216 lb/in",
        ]
        assert spring.rated == pytest.approx(KINDS["spring_rate"].to_si(225))
        assert [one.typed for one in measurements(session, tire)] == ["86 3/4 in at 20 psi"]
        assert life(session, tire).laps == 35
        assert session.scalar(sa.select(sa.func.count()).select_from(Part)) == 5


def test_all_that_a_rack_measures_is_measurable() -> None:
    assert all(set(told.values()) <= set(measurable(kind)) for kind, told in MEASURED_OF.items())
    for known in MEASURABLE.values():
        assert all({one.quantity, one.at} <= {*KINDS, ""} for one in known.values())


def test_a_measurement_keeps_what_was_typed(store: Store) -> None:
    with store.entry("measure") as session:
        (shock,) = some(session, "shock", 1)
        one = measure(session, shock, "rebound", "210  lb at 3 in/s", on=DAY)
        assert one.typed == "210 lb at 3 in/s"
        assert one.at == pytest.approx(0.0762)
        assert measurements(session, shock)[0].si == pytest.approx(934.126525)


@pytest.mark.parametrize(
    ("kind", "what", "typed", "sentence"),
    [
        ("tire", "roll-out", "86 in", 'does not say at what; write "86 1/4 in at 12 psi"'),
        ("tire", "roll out", "86 lb at 12 psi", "lb is"),
        ("tire", "roll out", "860 in at 12 psi", "cannot be"),
        ("tire", "durometer", "158", "cannot be"),
        ("tire", "rate", "200 lb/in", "it is one of roll out"),
        ("spring", "rate", "200 lb/in at 3 in/s", "too much"),
        ("spring", "rate", "fat", "does not start with a number"),
    ],
)
def test_what_cannot_be_measured_is_one_sentence(
    store: Store, kind: str, what: str, typed: str, sentence: str
) -> None:
    with pytest.raises(NotebookTrouble, match=sentence), store.entry("measure") as session:
        measure(session, some(session, kind, 1)[0], what, typed, on=DAY)


# ---------------- the history of a tire


def test_a_tire_tells_its_growth_wear_and_runs(store: Store) -> None:
    with store.entry("tire") as session:
        car, setup = a_car(session)
        tire = new_part(
            session, "tire", "G1", compound="right side", laps_before=30, cycles_before=2, distance_before=9e3
        )
        put(session, tire, car, "RR", when=at(0))
        measure(session, tire, "roll_out", "86 1/2 in at 20 psi", on=DAY)
        for typed, day in (("0.150 in", 0), ("0.110 in", 8)):
            measure(session, tire, "tread outside", typed, on=DAY + dt.timedelta(day))
        a_run(session, setup, at(1), 40, green=36)
        a_run(session, setup, at(24 * 7), 25)
        measure(session, tire, "roll_out", "87 1/2 in at 22 psi", on=DAY + dt.timedelta(8))
        told = tire_life(session, tire)
        assert told.growth_from == "typical"
        assert told.growth == TYPICAL_GROWTH
        grown = KINDS["roll_out"].to_si(87.5 - 86.5 - 2 * 0.12)
        assert told.roll_outs[1].grown == pytest.approx(grown)
        assert dict(told.worn) == {"tread_outside": pytest.approx(0.04 * 0.0254)}
        assert [(one.laps_before, one.cycles_before, one.laps) for one in told.runs] == [
            (30, 2, 40),
            (70, 3, 25),
        ]
        assert (told.life.laps, told.life.green, told.life.cycles, told.life.days) == (95, 36, 4, 2)
        assert told.life.distance == 9e3 + 65 * LAP
        at_25 = tire_life(session, tire, reference="25 psi").roll_outs
        assert at_25[1].grown == pytest.approx(grown)
        measure(session, tire, "growth", "0.1 in/psi", on=DAY)
        assert tire_life(session, tire).growth_from == "told"
        with pytest.raises(NotebookTrouble, match="pressure"):
            tire_life(session, tire, reference="25")


def test_growth_with_pressure_is_the_slope_within_days(store: Store, check) -> None:  # type: ignore[no-untyped-def]
    days, pressures = [0, 0, 0, 9, 9], [16.0, 20.0, 24.0, 18.0, 22.0]
    sizes = [86.02, 86.47, 86.91, 86.60, 87.09]
    with store.entry("sizes") as session:
        (tire,) = some(session, "tire", 1)
        for day, pressure, size in zip(days, pressures, sizes, strict=True):
            measure(
                session, tire, "roll_out", f"{size} in at {pressure} psi", on=DAY + dt.timedelta(days=day)
            )
        told = tire_life(session, tire)
    design = np.column_stack([np.array(days) == 0, np.array(days) == 9, pressures]).astype(float)
    slope = np.linalg.lstsq(design, np.array(sizes), rcond=None)[0][2]
    assert told.growth_from == "measured"
    check(
        ours=KINDS["growth_rate"].to_us(told.growth),
        expected=slope,
        rel=1e-9,
        unit="in/psi",
        of="roll-out per pressure of a tire measured on two days",
        source="NumPy lstsq with a column for each day",
        kind=LIBRARY,
        area="notebook",
    )


def test_one_run_is_one_heat_cycle(store: Store, check) -> None:  # type: ignore[no-untyped-def]
    with store.entry("cycles") as session:
        car, setup = a_car(session)
        (tire,) = some(session, "tire", 1)
        put(session, tire, car, "LF", when=at(0))
        for hours in (1, 2, 3):
            a_run(session, setup, at(hours), 12)
        cycles = life(session, tire).cycles
    check(
        ours=cycles,
        expected=3,
        abs=0,
        of="heat cycles of a tire after practice, heat and feature",
        source="tire sheets of the trade count one heat cycle for every run",
        kind=COMMON_PRACTICE,
        area="notebook",
    )


def test_a_psi_apart_is_enough(store: Store) -> None:
    assert pytest.approx(KINDS["pressure"].to_si(1.0)) == APART
    with store.entry("close") as session:
        (tire,) = some(session, "tire", 1)
        for typed in ("86 in at 20 psi", "86.2 in at 20.5 psi"):
            measure(session, tire, "roll_out", typed, on=DAY)
        assert tire_life(session, tire).growth_from == "typical"


def test_nothing_is_left_behind_without_its_part(store: Store) -> None:
    with store.reading() as session:
        for table in (Stay, Ridden, Measurement):
            lost = sa.select(sa.func.count()).where(table.part_id.not_in(sa.select(Part.id)))
            assert session.scalar(lost) == 0
        assert find_part(session, "tire", "nobody's") is None
