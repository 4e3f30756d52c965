"""Service: what is due when, by whose figure, and what a hit asks for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from evidence import COMMON_PRACTICE
from hypothesis import given, settings
from hypothesis import strategies as st
from shop import LAP, a_car, a_run, at, some

from ovalwright.notebook.garage.hits import was_hit
from ovalwright.notebook.garage.parts import new_part, put, scrap, shelve
from ovalwright.notebook.garage.parts_life import life
from ovalwright.notebook.garage.parts_measured import measure
from ovalwright.notebook.garage.service import (
    INSPECT,
    Due,
    done,
    drop_interval,
    due,
    inspected,
    jobs_done,
    tell_interval,
)
from ovalwright.notebook.garage.service_typical import ANSWERED_BY, NIGHT, TYPICAL
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables_work import Checklist, Item
from ovalwright.notebook.trouble import NotebookTrouble

DAY = dt.date(2026, 5, 9)
LATER = DAY + dt.timedelta(days=3)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("service") / "notebook.sqlite", by="Pat") as opened:
        yield opened


def only(told: tuple[Due, ...], job: str) -> Due:
    """The one line of a job."""
    (found,) = [one for one in told if one.job == job]
    return found


# ---------------- by laps, miles, runs and days


def test_laps_left_run_down_and_a_done_job_counts_anew(store: Store) -> None:
    with store.entry("service") as session:
        car, setup = a_car(session)
        engine = new_part(session, "engine", "crate 1", laps_before=250, distance_before=250 * LAP)
        put(session, engine, car, when=at(0))
        tell_interval(session, "Freshen", kind="engine", laps=1500, source="builder")
        assert only(due(session, car, today=DAY), "Freshen").said == "due in 1,250 laps"
        run = a_run(session, setup, at(1), 40)
        done(session, engine, "freshen", on=DAY)
        assert only(due(session, car, today=DAY), "Freshen").laps_left == 1500
        a_run(session, setup, at(2), 25)
        assert only(due(session, car, today=DAY), "Freshen").laps_left == 1475
        done(session, engine, "freshen", on=DAY, after=run, by="Sam", note="new rings")
        assert only(due(session, car, today=DAY), "Freshen").laps_left == 1475
        first, second = jobs_done(session, engine)
        assert (first.laps, first.cycles, first.by) == (290, 1, "Pat")
        assert (second.laps, second.by, second.note) == (290, "Sam", "new rings")
        assert first.distance == 290 * LAP


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"laps": 30}, "due now"),
        ({"laps": 29}, "overdue by 1 lap"),
        ({"laps": 31}, "due in 1 lap"),
        ({"cycles": 3}, "due in 1 run"),
        ({"cycles": 1}, "overdue by 1 run"),
        ({"distance": 30 * LAP + 4 * 1609.344}, "due in 4 mi"),
        ({"days": 10}, "due on 2026-05-19"),
        ({"days": 2}, "due since 2026-05-11"),
        ({"laps": 3000, "days": 2}, "due since 2026-05-11"),
        ({"laps": 20, "days": 200}, "overdue by 10 laps"),
    ],
)
def test_what_is_left_is_said_by_whichever_comes_first(
    store: Store, limits: dict[str, int], said: str
) -> None:
    with store.entry("service") as session:
        car, setup = a_car(session)
        (pump,) = some(session, "fuel pump", 1)
        put(session, pump, car, when=at(0))
        for hours in (1, 2):
            a_run(session, setup, at(hours), 15)
        tell_interval(session, "change", part=pump, source="own", **limits)
        found = only(due(session, car, today=LATER), "change")
        assert found.said == said
        assert found.is_due == ("over" in said or "now" in said or "since" in said)


def test_the_makers_figure_takes_the_place_of_the_typical_one(store: Store) -> None:
    with store.entry("service") as session:
        car, _ = a_car(session)
        shock, other = some(session, "shock", 2)
        put(session, shock, car, "LF", when=at(0))
        put(session, other, car, "RF", when=at(0))
        job = "run on the shock dyno"

        def told() -> dict[str, tuple[str, int | None]]:
            return {
                one.place: (one.source, one.laps_left)
                for one in due(session, car, today=DAY)
                if one.job == job
            }

        assert told() == {"LF shock": ("typical", 800), "RF shock": ("typical", 800)}
        assert "no source" in only(due(session, car, today=DAY)[:1], job).whose
        tell_interval(session, job, kind="shock", laps=600, source="maker")
        own = tell_interval(session, job, part=shock, laps=900, source="builder")
        assert told() == {"LF shock": ("builder", 900), "RF shock": ("maker", 600)}
        assert tell_interval(session, job, part=shock, laps=1000, source="builder") is own
        assert told()["LF shock"] == ("builder", 1000)
        tell_interval(session, job, part=shock, laps=500, source="own")
        assert told()["LF shock"] == ("own", 500)
        drop_interval(session, own)
        assert told()["LF shock"] == ("own", 500)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"job": "change", "source": "typical", "kind": "hub", "laps": 9}, "gives no figures"),
        ({"job": "change", "source": "own", "kind": "hub"}, "how often"),
        ({"job": "change", "source": "own", "kind": "hub", "laps": 100, "days": -1}, "how often"),
        ({"job": "change", "source": "own", "laps": 100}, "needs its job"),
        ({"job": " ", "source": "own", "kind": "hub", "laps": 100}, "needs its job"),
    ],
)
def test_an_interval_that_says_nothing_is_refused(
    store: Store, told: dict[str, object], sentence: str
) -> None:
    with pytest.raises(NotebookTrouble, match=sentence), store.entry("service") as session:
        tell_interval(session, **told)  # type: ignore[arg-type]


def test_measuring_a_spring_is_checking_it(store: Store) -> None:
    job = "check on the spring rater"
    with store.entry("service") as session:
        car, _ = a_car(session)
        (spring,) = some(session, "spring", 1)
        put(session, spring, car, "RR", when=at(-24 * 300))
        assert only(due(session, car, today=DAY), job).is_due
        measure(session, spring, "rate", "219 lb/in", on=DAY)
        assert only(due(session, car, today=DAY), job).due_on == DAY + dt.timedelta(days=182)
        done(session, spring, job, on=LATER)
        assert only(due(session, car, today=LATER), job).due_on == LATER + dt.timedelta(days=182)
    assert set(ANSWERED_BY) <= {job for jobs in TYPICAL.values() for job in jobs}


def test_a_part_swapped_in_and_out_is_due_by_its_own_laps(store: Store) -> None:
    with store.entry("service") as session:
        car, setup = a_car(session)
        one, other = some(session, "gear", 2)
        for hour, part in enumerate((one, other, one)):
            put(session, part, car, when=at(2 * hour))
            a_run(session, setup, at(2 * hour + 1), 30)
        found = only(due(session, car, today=DAY), "look at the teeth")
        assert (found.mark, found.laps_left) == (one.mark, NIGHT - 60)


def test_a_run_entered_late_counts_for_the_day_it_was_run(store: Store) -> None:
    with store.entry("service") as session:
        car, setup = a_car(session)
        (pads,) = some(session, "brake pads", 1)
        put(session, pads, car, "LF", when=at(0))
        a_run(session, setup, at(24 * 7), 30)
        a_run(session, setup, at(1), 10)
        done(session, pads, "change", on=LATER)
        a_run(session, setup, at(24), 50)
        found = only(due(session, car, today=LATER), "change")
        assert found.laps_left == 4 * NIGHT - 30


def test_a_job_between_two_runs_whose_times_are_not_told(store: Store) -> None:
    noon = dt.datetime(2026, 6, 6, 12)
    with store.entry("service") as session:
        car, setup = a_car(session)
        (pads,) = some(session, "brake pads", 1)
        put(session, pads, car, "LF", when=at(0))
        a_run(session, setup, noon, 10)
        done(session, pads, "change", on=noon.date())
        a_run(session, setup, noon, 25)
        assert only(due(session, car, today=noon.date()), "change").laps_left == 4 * NIGHT - 25


STEPS = st.lists(st.tuples(st.booleans(), st.integers(0, 60)), min_size=1, max_size=12)


@settings(max_examples=15)
@given(STEPS)
def test_laps_since_a_job_are_those_of_the_runs_after_it(store: Store, steps: list[tuple[bool, int]]) -> None:
    with store.entry("drawn") as session:
        car, setup = a_car(session)
        hub = new_part(session, "hub", f"drawn {car.id}", laps_before=7)
        put(session, hub, car, "LF", when=at(0))
        tell_interval(session, "repack", part=hub, laps=100, source="maker")
        since = total = 7
        for hour, (is_job, laps) in enumerate(steps, 1):
            if is_job:
                assert done(session, hub, "repack", on=at(hour).date()).laps == total
                since = 0
            else:
                a_run(session, setup, at(hour), laps)
                since, total = since + laps, total + laps
        assert only(due(session, car, today=DAY), "repack").laps_left == 100 - since
        assert life(session, hub).laps == total


def test_every_store_says_alike_what_is_due(store_url: str) -> None:
    with Store.open(store_url, by="Pat") as store, store.entry("service") as session:
        car, setup = a_car(session)
        hub, shock = (some(session, kind, 1)[0] for kind in ("hub", "shock"))
        put(session, hub, car, "LF", when=at(0))
        put(session, shock, car, "RF", when=at(0))
        tell_interval(session, "Clean and grease the bearings", part=hub, laps=50, source="maker")
        a_run(session, setup, at(1), 30)
        done(session, hub, "clean and grease the bearings", on=DAY)
        a_run(session, setup, at(2), 20, hit="RF")
        told = due(session, car, today=DAY)
        assert [(one.mark, one.said) for one in told[1:3]] == [
            (hub.mark, "due in 30 laps"),
            (shock.mark, "due in 750 laps"),
        ]
        assert told[0].mark == shock.mark and told[0].source == "hit"


# ---------------- after a hit


@pytest.mark.parametrize(
    ("noted", "there", "not_there"),
    [
        ("RF", ("RF tire", "RF lower ball joint", "steering", "bar", "L50-1 lead"), ("LF tire", "engine")),
        ("right front", ("RF shock",), ("RR shock", "LF shock")),
        ("left rear and nose", ("LR tire", "LF tire", "RF tire", "axle"), ("RR tire",)),
        ("tail", ("LR tire", "RR tire", "rear end"), ("RF tire", "bar")),
        ("driver's side", ("LF tire", "LR tire"), ("RF tire",)),
        ("RF, engine", ("RF tire", "engine"), ("LR tire",)),
        ("hard into the wall", ("LF tire", "RR shock", "engine"), ()),
        ("", (), ("LF tire", "L50-1 lead")),
    ],
)
def test_a_hit_is_where_it_was_noted(noted: str, there: tuple[str, ...], not_there: tuple[str, ...]) -> None:
    assert all(was_hit(noted, place) for place in there)
    assert not any(was_hit(noted, place) for place in not_there)


def test_after_a_hit_parts_say_inspect_until_they_were(store: Store) -> None:
    with store.entry("hit") as session:
        car, setup = a_car(session)
        struck, swapped, fine = some(session, "shock", 3)
        for part, corner in ((struck, "RF"), (fine, "LR")):
            put(session, part, car, corner, when=at(0))
        inspected(session, struck, on=DAY, found="before it was hit")
        run = a_run(session, setup, at(1), 20, hit="RF")
        put(session, swapped, car, "RF", when=at(2))
        told = [one for one in due(session, car, today=DAY) if one.source == "hit"]
        assert [(one.mark, one.place, one.job) for one in told] == [(struck.mark, "", INSPECT)]
        assert told[0].is_due
        assert run.code in told[0].said
        assert due(session, car, today=DAY)[0] == told[0]
        inspected(session, struck, on=DAY, by="Sam", found="shaft straight")
        assert not [one for one in due(session, car, today=DAY) if one.source == "hit"]
        a_run(session, setup, at(3), 20, hit="RF")
        assert [one.mark for one in due(session, car, today=DAY) if one.source == "hit"] == [swapped.mark]
        put(session, struck, car, "RF", when=at(4))
        scrap(session, swapped, when=at(4))
        assert not [one for one in due(session, car, today=DAY) if one.source == "hit"]


def test_a_part_hit_on_another_car_says_so_on_this_one(store: Store) -> None:
    with store.entry("hit") as session:
        car, _ = a_car(session)
        other, setup = a_car(session)
        (shock,) = some(session, "shock", 1)
        put(session, shock, other, "LF", when=at(0))
        a_run(session, setup, at(1), 20, hit="left side")
        shelve(session, shock, when=at(2))
        put(session, shock, car, "RR", when=at(3))
        assert [one.place for one in due(session, car, today=DAY) if one.source == "hit"] == ["RR shock"]


# ---------------- dates


@pytest.mark.parametrize(
    ("until", "said", "is_due"),
    [
        (DAY + dt.timedelta(days=1), "good until 2026-05-10", False),
        (DAY, "good until 2026-05-09", False),
        (DAY - dt.timedelta(days=1), "was good until 2026-05-08", True),
    ],
)
def test_a_safety_date_is_good_through_its_last_day(
    tmp_path_factory: pytest.TempPathFactory, until: dt.date, said: str, is_due: bool
) -> None:
    folder = tmp_path_factory.mktemp("dates")
    with Store.open(folder / "notebook.sqlite") as fresh, fresh.entry("dates") as session:
        car, _ = a_car(session)
        items = [Item(number=1, words="belts", good_until=until)]
        items.append(Item(number=2, words="old belts", good_until=until, dropped=True))
        session.add(Checklist(name="dates", items=items))
        session.flush()
        (found,) = due(session, car, today=DAY)
        assert (found.job, found.said, found.is_due) == ("belts", said, is_due)


# ---------------- what the trade does


RACES = {
    ("engine", "change oil and filter"): (1, 2),
    ("rear end", "change gear oil"): (3, 5),
    ("hub", "clean and grease the bearings"): (4, 8),
    ("brake pads", "change"): (4, 12),
    ("rotor", "change"): (10, 25),
    ("shock", "run on the shock dyno"): (8, 15),
    ("stop", "check its length"): (2, 6),
    ("clutch", "look at the discs"): (10, 20),
}


def test_typical_intervals_are_those_of_the_trade(check) -> None:  # type: ignore[no-untyped-def]
    for (kind, job), (fewest, most) in RACES.items():
        check.between(
            (TYPICAL[kind][job].laps or 0) / NIGHT,
            fewest,
            most,
            of=f"{kind}: {job}, typical interval",
            source="service habits of weekly pavement racers, in race nights",
            kind=COMMON_PRACTICE,
            area="notebook",
            unit="nights",
        )
    for job, (least, most) in {
        "check or change valve springs": (200, 800),
        "freshen": (500, 3000),
    }.items():
        check.between(
            TYPICAL["engine"][job].laps or 0,
            least,
            most,
            of=f"engine: {job}, typical interval",
            source="habits of owners of crate and built engines",
            kind=COMMON_PRACTICE,
            area="notebook",
            unit="laps",
        )


def test_every_typical_interval_says_that_it_is_one() -> None:
    for jobs in TYPICAL.values():
        for every in jobs.values():
            assert every.source == "typical"
            assert any((every.laps, every.distance, every.days, every.cycles))
