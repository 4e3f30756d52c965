"""The demo's season: entered whole and quickly, and answering what its story says.

Every number of it is invented; the checks hold what was entered against the file it was entered from.
"""

import datetime as dt
import re
import tomllib
from pathlib import Path

import pytest
import sqlalchemy as sa

import ovalwright
from ovalwright.corners import CORNERS
from ovalwright.documents import MIDDLE, read_laps
from ovalwright.notebook import runs, season, shelf
from ovalwright.notebook.asked.find import find_runs
from ovalwright.notebook.asked.going_away import when_it_went_away
from ovalwright.notebook.garage import parts_life, service, work
from ovalwright.notebook.garage.hits import was_hit
from ovalwright.notebook.garage.parts import part_of, whereabouts
from ovalwright.notebook.tables import Event, Part, Revision, Ridden, Run
from ovalwright.notebook.typed.came_back import set_down_of
from ovalwright.pack import build
from ovalwright.study.turn import turn

DEMO = Path(ovalwright.__file__).parent / "demo"
FILE = DEMO / "season" / "season.toml"
SEASON_OVER = dt.date(2026, 9, 6)
TOLD = tomllib.loads(FILE.read_text("utf-8"))


@pytest.fixture
def session(season_store):
    with season_store.reading() as session:
        yield session


def all_runs(session):
    return session.scalars(sa.select(Run).order_by(Run.started)).all()


def last_run(session, event):
    return runs.runs_of(session, runs.event_of(session, event))[-1]


def test_nine_events_sixty_runs_five_sets(session):
    assert session.scalar(sa.select(sa.func.count()).select_from(Event)) == 9
    assert len(all_runs(session)) == 60
    tires = sa.select(Part.mark).join(Ridden, Ridden.part_id == Part.id).where(Part.kind == "tire").distinct()
    sets = [set(one["marks"].split()) for one in TOLD["sets"]]
    assert set(session.scalars(tires)) == set().union(*sets)
    assert len(sets) == 5


def test_every_run_rides_on_one_set_with_its_laps(session):
    sets = {tuple(one["marks"].split()) for one in TOLD["sets"]}
    told = [run for event in TOLD["events"] for run in event["runs"]]
    for run, known in zip(all_runs(session), told, strict=True):
        record = runs.record(session, run)
        there = dict(record.ridden)
        assert tuple(there[f"{corner} tire"] for corner in CORNERS) in sets
        assert len(record.laps) == run.laps == known["laps"]
        assert record.started.time() == known["at"]
        assert len(record.comments) == len(known.get("said", ()))


def test_temperatures_are_where_they_were_read(session):
    record = runs.record(session, last_run(session, "Last quarter"))
    read = {(one.place, one.part): one.typed for one in record.readings if one.what == "temperature"}
    assert (read["RF", "outside"], read["RF", "middle"], read["RF", "inside"]) == ("189 F", "196 F", "204 F")
    assert {one.place: one.typed for one in record.readings if one.what == "hot"}["RR"] == "29.5 psi"


def test_laps_of_a_tire_add_up(session):
    on_it = sa.select(sa.func.sum(Run.laps)).join(Ridden).join(Part).where(Part.mark == "T8")
    rack_said = 35
    assert parts_life.life(session, part_of(session, "tire T8")).laps == rack_said + session.scalar(on_it)


def test_every_setup_that_was_run_loads_and_fits_together(session):
    codes = set(session.scalars(sa.select(Revision.code).join(Run, Run.setup_id == Revision.id)))
    assert len(codes) > 20
    for code in codes:
        assert shelf.assembly_of(session, shelf.revision(session, code)).rack.tires


@pytest.mark.parametrize("event", ["First test", "Steep half night", "Last quarter"])
def test_a_setup_of_the_season_can_be_turned(session, event):
    run = runs.runs_of(session, runs.event_of(session, event))[0]
    packed = build(shelf.assembly_of(session, run.setup))
    track, day = (shelf.document_of(one) for one in (run.track, run.conditions))
    answer = turn(packed, track, day, stations=(MIDDLE,))
    assert all(place.carried is not None for tank in answer.tanks for place in tank.places)


def test_the_setup_grew_from_one_with_a_reason_each_time(session):
    last = runs.run_of(session, "last").setup
    lines = [line for _, line in shelf.tree(session, last)]
    assert [line.name for line in lines if not line.parent] == ["Conventional"]
    grown = [line for line in lines if line.parent]
    assert len(grown) > 20
    assert all(line.reason for line in grown)
    assert all(line.said for line in grown if line.number > 1)
    said = " ".join(line.said for line in grown)
    for words in ("RR spring", "LR -1/2 round", "RR +1 psi", "RF shock K2 -> K5", "gear"):
        assert words in said


# ---------------- the three questions


def test_runs_here_over_60_with_a_stiff_right_rear_that_hold_on(session):
    found = find_runs(session, "here, air over 60 F, RR spring over 300, fall-off under 0.2").runs
    assert len(found) >= 5
    for one in found:
        run = runs.run_of(session, one.code)
        assert one.track == "Flat quarter"
        assert run.air > 288.706 - 1e-3
        assert run.fall_off < 0.2
        assert "RR.coil.spring" not in one.setup
        assert shelf.assembly_of(session, run.setup).setup.RR.coil.rate.si > 300 * 175.1268
    cold = runs.run_of(session, "last")
    assert cold.air < 288.706 and cold.code not in {one.code for one in found}


def test_the_first_set_went_away_at_about_200_laps(session):
    for mark in TOLD["sets"][0]["marks"].split():
        gone = when_it_went_away(session, mark)
        run = runs.run_of(session, gone.run)
        assert run.event.name == "June fifty" and run.number == 1
        before = [one.run.laps for one in gone.runs if one.run.date < run.event.held_on]
        assert 190 < sum(before) < 215
        assert gone.after > gone.before
        set_of_it = set(TOLD["sets"][0]["marks"].split())
        assert set(gone.beside) <= set_of_it - {mark}
        assert not gone.beside or "do not tell which of them went away" in gone.said
    for other in TOLD["sets"][1:]:
        assert all(not when_it_went_away(session, mark).run for mark in other["marks"].split())


def test_the_soft_right_rear_falls_off_less_on_the_same_tires(session):
    found = find_runs(session, "tire T8, track three-eighths, before 2026-06-01").runs
    soft = [one.fall_off for one in found if one.setup_name.startswith("Soft") and one.laps >= 12]
    stiff = [one.fall_off for one in found if one.setup_name == "Conventional" and one.laps >= 12]
    assert len(soft) >= 3 and len(stiff) >= 3
    assert max(soft) < min(stiff)


def test_the_hit_is_kept_and_the_next_event_ran_on_other_parts(session):
    crash = session.scalars(sa.select(Run).where(Run.hit != "")).one()
    after = session.scalars(sa.select(Event).where(Event.held_on > crash.event.held_on)).first()
    assert after.held_on - crash.event.held_on > dt.timedelta(days=14)
    then, now = (dict(runs.record(session, one).ridden) for one in (crash, runs.runs_of(session, after)[0]))
    for place in ("RF shock", "RF spring", "RF tire"):
        assert then[place] != now[place]


def test_what_was_hit_was_inspected_or_scrapped(session):
    crash = session.scalars(sa.select(Run).where(Run.hit != "")).one()
    car = shelf.refers_to(session, crash.setup)["car"].document
    hurt = {place for place, _ in runs.record(session, crash).ridden if was_hit(crash.hit, place)}
    assert {"RF tire", "RF shock", "RF spring", "bar"} <= hurt
    open_hits = [one.mark for one in service.due(session, car, today=SEASON_OVER) if one.source == "hit"]
    assert open_hits == []
    for mark in ("shock K2", "tire T18"):
        assert whereabouts(session, part_of(session, mark)).place == "scrapped"


def test_the_set_down_after_the_hit_shows_what_moved_and_a_good_one_shows_nothing(session):
    good, bent = (
        {(one.what, one.place) for one in set_down_of(session, last_run(session, event)).lines if one.flagged}
        for event in ("Spring forty", "Summer forty")
    )
    assert good == set()
    assert {("height", "RF"), ("camber", "RF"), ("toe_out", ""), ("cross", "")} <= bent


def test_the_engine_is_due_by_the_builders_figure(session):
    engine = part_of(session, "engine E1")
    car = shelf.refers_to(session, runs.run_of(session, "last").setup)["car"].document
    freshen = next(one for one in service.due(session, car, today=SEASON_OVER) if one.job == "freshen")
    assert freshen.source == "builder"
    assert freshen.laps_left == 1800 - parts_life.life(session, engine).laps == 1800 - 846


def test_hours_of_work_are_those_of_the_rounds(session):
    told = [one for event in TOLD["events"] for one in event.get("rounds", ())]
    hours = {(one.person, one.event): one for one in work.hours(session)}
    helper = hours["helper", "Summer forty"]
    listed = len(work.list_of(session, "Nut and bolt").items)
    assert helper.things == listed - 1 and helper.untimed == 0
    assert helper.seconds == 5 * 60 * helper.things
    assert len(hours) == len(told)


# ---------------- the recipe


def test_a_run_is_drawn_the_same_every_time_and_about_its_own_numbers():
    told = {"laps": 100, "pace": 19.0, "fade": 0.2, "yellow": "30-32", "traffic": "7, 90-91"}
    text = season.lap_text(told, TOLD["recipe"], "a run")
    assert text == season.lap_text(told, TOLD["recipe"], "a run")
    assert text != season.lap_text(told, TOLD["recipe"], "another run")
    laps = read_laps(text).laps
    assert [lap.number for lap in laps if lap.flag == "yellow"] == [30, 31, 32]
    assert [lap.number for lap in laps if lap.flag == "traffic"] == [7, 90, 91]
    best, fall_off = runs.totals(laps)[2], runs.totals(laps)[4]
    assert best == pytest.approx(19.05, abs=0.1)
    assert fall_off == pytest.approx(0.2, abs=0.01)


def test_what_he_says_is_heard():
    assert season.heard("tight middle late: up the track") == runs.Said(
        "middle", "late", "tight", "up the track"
    )
    assert season.heard("good: brakes: even") == runs.Said("", "", "good", "brakes: even")


def test_the_file_says_that_it_is_invented_and_holds_no_key_that_is_not_read():
    text = FILE.read_text("utf-8")
    assert "invented" in text
    read = set(re.findall(r"""["'](\w+)["']""", Path(season.__file__).read_text("utf-8")))
    keys = set(re.findall(r"^(\w+) =", text, flags=re.MULTILINE))
    assert sorted(keys - read) == []
