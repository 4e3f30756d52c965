"""The run at the command line and what is read off it: fade, grip lost, the flag, two setups, bad input."""

import json
import re
import shutil
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from asked import NAN, ended, good, refused
from evidence import DERIVED
from fuzz_documents import DEMO
from hypothesis import given, settings
from hypothesis import strategies as st

from ovalwright.cli.door import Trouble
from ovalwright.cli.race_plan import planned
from ovalwright.cli.screen import Screen
from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.lap import DRIVER
from ovalwright.study.run import Stop, Stretch, run
from ovalwright.study.run_match import MATCHED, matching_run
from ovalwright.study.run_reading import (
    OFF_ITS_BEST,
    _stint,
    car_at_flag,
    differs,
    grip_lost,
    read_run,
    state_at_flag,
)
from ovalwright.vehicle.record import CORNERS

DAY = Conditions()
SETUP, OTHER, TRACK = "setup_conventional.toml", "setup_soft_front.toml", "track_three_eighths.toml"


@pytest.fixture(scope="module")
def assembly():
    return assemble(DEMO / SETUP)


@pytest.fixture(scope="module")
def line():
    oval = load_track(DEMO / TRACK)
    return groove_line(oval, ribbon_of(oval))


@pytest.fixture(scope="module")
def driven(assembly, line):
    return run(with_fuel(build(assembly), share=0.5), line, DAY, 12)


# ---------------- what is read off a run


def laps_of(times, flag="green"):
    return [SimpleNamespace(number=n, time=time, flag=flag) for n, time in enumerate(times, 1)]


def test_a_break_of_the_fade_is_found_where_it_was_put():
    lap = np.arange(1, 41)
    times = 15.6 + 0.005 * lap + 0.06 * np.maximum(lap - 24, 0)
    told = _stint(laps_of(times), 0.08)
    assert abs(told.goes_away - 24) <= 2
    assert told.summary.fade.goes_away.before == pytest.approx(0.005, abs=0.005)
    assert told.summary.fade.goes_away.after == pytest.approx(0.065, abs=0.005)


def test_a_break_that_his_scatter_would_hide_is_none():
    lap = np.arange(1, 41)
    times = 15.6 + 0.005 * lap + 0.02 * np.maximum(lap - 34, 0)
    assert _stint(laps_of(times), 0.08).goes_away is None
    assert _stint(laps_of(times), 0.001).goes_away is not None


def test_it_stays_off_its_best_from_the_first_lap_after_which_none_is_near():
    times = [16.0, 15.5, 15.6, 15.75, 15.65, 15.71, 15.8, 15.9]
    told = _stint(laps_of(times), 0.08)
    assert told.stays_off == 6 and OFF_ITS_BEST == 0.2
    assert told.behind == pytest.approx(0.4)
    assert _stint(laps_of([15.5, 15.4, 15.45]), 0.08).stays_off is None
    assert _stint(laps_of([30.0, 30.0], "yellow"), 0.08) is None


def test_grip_lost_is_only_to_what_can_take_it(check, assembly, line):
    ageless = {
        f"setup.{corner}.tire.heat.{name}": 0.0
        for corner in CORNERS
        for name in ("hot_loss", "unscuffed_loss")
    }
    car = with_fuel(build(assembly, values=ageless), share=0.5)
    hot = Conditions.model_validate({"air": "100 F", "surface": "160 F"})
    lost = grip_lost(run(car, line, hot, 16))
    check(
        ours=[one.age for one in lost], expected=np.zeros(4), abs=1e-12, unit="",
        of="share of grip lost to age on tires that do not age", source="nothing times nothing",
        kind=DERIVED, area="run",
    )  # fmt: skip
    whole = [1.0 - (1.0 - one.heat) * (1.0 - one.wear) for one in lost]
    check(
        ours=[one.whole for one in lost], expected=whole, abs=1e-12, unit="",
        of="whole loss of grip of such tires against heat and wear multiplied",
        source="independent losses multiply", kind=DERIVED, area="run",
    )  # fmt: skip
    assert lost[1].wear > 0.0 and lost[1].heat > 0.0, "on a hot day RF is past its best"


def test_the_state_at_the_flag_is_the_car_of_the_last_lap(check, driven):
    last, state = driven.laps[-1], state_at_flag(driven)
    car = build(car_at_flag(driven), state=state)
    check(
        ours=2.0 * np.pi * car.record["tire"]["free_radius"], expected=last.roll_out, abs=1e-5, unit="m",
        of="roll-outs at the flag by way of a state document",
        source="the same tires by their hot pressure, growth and wear as written", kind=DERIVED, area="run",
    )  # fmt: skip
    burned = sum(one.burned for one in driven.laps)
    check(
        ours=float(car.record["fuel_mass"]), expected=driven.laps[0].fuel - burned, rel=1e-5, unit="kg",
        of="fuel at the flag", source="start less what the laps burned", kind=DERIVED, area="run",
    )  # fmt: skip
    assert [getattr(state, c).hot.si for c in CORNERS] == pytest.approx(last.pressure, abs=0.1)


def test_a_run_reads_as_its_laps_say(driven):
    read, times = read_run(driven), driven.times
    assert read.summary.best == times.min() and read.summary.best_lap == times.argmin() + 1
    assert read.summary.early == pytest.approx(times[2:7].mean())
    assert np.isnan(read.summary.late) and read.summary.total == pytest.approx(times.sum())
    assert read.early == pytest.approx(driven.of("balance")[2:7].mean())
    assert read.end == driven.laps[-1].balance


def test_a_run_does_not_differ_from_itself(driven):
    found = differs(driven, driven)
    assert found.balance == 0.0
    for name in ("work", "tread", "pressure", "wear", "grip"):
        assert not getattr(found, name).any()


def test_a_stop_ends_a_stint_and_fresh_tires_have_nothing_to_lose_yet(assembly, line):
    car = with_fuel(build(assembly), share=0.5)
    plan = (Stretch(7), Stretch(2, "yellow"), Stretch(7, stop=Stop(tires=("RF",), seconds=30.0)))
    told = run(car, line, DAY, plan)
    read = read_run(told)
    assert [(one.first, one.last) for one in read.stints] == [(1, 9), (10, 16)]
    assert [one.summary.at_speed for one in read.stints] == [7, 7]
    rf, rr = read.lost[1], read.lost[3]
    assert rf.lap >= 10 and told.laps[-1].wear[1] < told.laps[8].wear[1]
    assert rr.lap not in (8, 9), "a lap under yellow is no lap of grip"


# ---------------- his own best lap


def test_a_matched_run_finds_the_grip_that_made_the_lap(check, assembly, line):
    car = with_fuel(build(assembly), share=0.5)
    sought = float(run(car, line, DAY, 5, replace(DRIVER, grip=1.05)).times.min())
    found = matching_run(car, line, DAY, 5, sought)
    assert abs(found.times.min() - sought) < MATCHED
    check(
        ours=found.driver.grip, expected=1.05, abs=1e-3, unit="",
        of="grip of a run found from its best lap", source="the run it was made with", kind=DERIVED,
        area="matching",
    )  # fmt: skip


# ---------------- the plan


@given(
    laps=st.integers(2, 60),
    yellow=st.lists(st.tuples(st.integers(1, 60), st.integers(0, 8)), max_size=4),
    stops=st.sets(st.integers(1, 59), max_size=4),
)
def test_a_plan_holds_every_lap_once_with_its_flag_and_stop(laps, yellow, stops):
    spans = [(first, min(first + more, laps)) for first, more in yellow if first <= laps]
    slow = {lap for first, last in spans for lap in range(first, last + 1)}
    stops = {after for after in stops if after < laps}
    typed = [f"{first}-{last}" for first, last in spans], [f"{after}: time {after} s" for after in stops]
    if len(slow) == laps:
        with pytest.raises(Trouble, match="every lap is under yellow"):
            planned(Screen(), None, laps, *typed)
        return
    lap = 0
    for stretch in planned(Screen(), None, laps, *typed):
        assert (stretch.stop is not None) == (lap in stops)
        assert stretch.stop is None or stretch.stop.seconds == pytest.approx(lap)
        for _ in range(stretch.laps):
            lap += 1
            assert (stretch.flag == "yellow") == (lap in slow)
    assert lap == laps


def test_all_that_is_done_at_a_stop_is_read(folder, assembly):
    text = "6: tires lr RF, fuel 20 gal, setup setup_giant_bar.toml, time 45 s"
    (before, after) = planned(Screen(), assembly, 10, [], [text])
    assert (before.laps, before.stop, after.laps) == (6, None, 4)
    stop, cell = after.stop, assembly.car.fuel_cell
    assert stop.tires == ("LR", "RF") and stop.seconds == pytest.approx(45.0)
    assert stop.fuel == pytest.approx(20.0 / 22.0 * cell.capacity.si * cell.density.si)
    assert "bar" in stop.setup.setup.name.lower() and stop.setup.car is assembly.car
    assert planned(Screen(), assembly, 4, [], ["1: tires all"])[1].stop.tires == CORNERS


# ---------------- the commands


def test_a_run_is_shown_within_the_screen(folder):
    told = good(
        "run", SETUP, TRACK, "--laps", 12, "--fuel", "12 gal", "--yellow", "8-9", "--stop", "9: tires RF",
        "--rules", "rules_weekly.toml", "--picture", "run.svg", "--picture", "run.pdf",
    )  # fmt: skip
    assert max(map(len, told.splitlines())) <= 80
    words = " ".join(told.split())
    for part in (
        "fall-off in ten laps, 1 to 9", "fall-off in ten laps, 10 to 12", "goes away, 1 to 9", "tight -",
        "hot pressure", "written as hot", "brake disc", "lost to wear", "12.0 gal", "Lap time, s",
        "At the flag of this run: Weekly book", "left percent at most", "Lap times under yellow are left out",
    ):  # fmt: skip
        assert part in words, part
    assert told.count("not clearance to drive") == 1
    assert "<svg" in (folder / "run.svg").read_text(encoding="utf-8")
    assert (folder / "run.pdf").read_bytes().startswith(b"%PDF")


def test_json_holds_every_lap_in_si_and_the_book(folder, check):
    told = json.loads(good("run", SETUP, TRACK, "--laps", 6, "--json", "--rules", "rules_weekly.toml"))[
        "answer"
    ]
    laps, sheet = told["laps"], assemble(DEMO / SETUP).sheet
    assert [one["number"] for one in laps] == list(range(1, 7))
    assert sum(one["time"] for one in laps) == pytest.approx(told["total"])
    assert told["reading"]["summary"]["best"] == min(one["time"] for one in laps)
    held = told["legal_at_the_flag"]["Weekly book"]
    total = next(one["value"] for one in held if one["rule"] == "4.1")
    density = assemble(DEMO / SETUP).car.fuel_cell.density.si
    scales = sum(getattr(sheet, corner).weight.si for corner in CORNERS)
    left = laps[-1]["fuel"] - laps[-1]["burned"]
    check(
        ours=total, expected=scales - sheet.fuel.si * density + left, abs=0.2, unit="kg",
        of="weight at the weigh-in after a run (rubber under 0.2 kg)",
        source="sheet less its fuel, and what the run has left", kind=DERIVED, area="rules",
    )  # fmt: skip


def test_his_own_best_lap_settles_the_grip_of_a_run(folder):
    told = good("run", SETUP, TRACK, "--laps", 3, "--time", "20.4")
    assert "Matched to your best lap of 20.400 s: with " in " ".join(told.split())
    assert re.match(r"Best 20\.(39[89]|40[012]) s on lap 3 of 3", told)


def test_a_setup_against_itself_is_no_different(folder):
    told = json.loads(good("against", SETUP, SETUP, TRACK, "--laps", 4, "--draws", 0, "--json"))["answer"]
    for name, figures in told["figures"].items():
        if figures["a"]["value"] is not None:
            assert figures["b_less_a"]["value"] == pytest.approx(0.0, abs=2e-4), name
    assert told["laps_to_see"] is None or told["laps_to_see"] > 100
    assert not told["own_sheet"]


@pytest.mark.proof
def test_two_setups_changed_about_differ_by_as_much_the_other_way(folder):
    def total(a, b):
        answer = json.loads(good("against", a, b, TRACK, "--laps", 4, "--draws", 0, "--json"))["answer"]
        assert answer["own_sheet"]
        return answer["figures"]["total"]["b_less_a"]["value"]

    assert total(SETUP, OTHER) == pytest.approx(-total(OTHER, SETUP), abs=1e-4)


def test_impound_lets_only_pressures_change(folder):
    good("vary", SETUP, "qualify.toml", "RF.tire.cold=24 psi", "RR.tire.cold=22 psi")
    told = good("against", SETUP, "qualify.toml", TRACK, "--laps", 6, "--draws", 0, "--impound")
    assert max(map(len, told.splitlines())) <= 80
    for part in ("Qualifying, the first 2 laps", "B is as bolted in", "A-B-A", "hot pressure at the end",
                 "Most changes at", "No bands were asked for"):  # fmt: skip
        assert part in " ".join(told.split())
    sentence = refused("against", SETUP, "setup_giant_bar.toml", TRACK, "--impound", "--draws", 0)
    assert "only pressures may differ" in sentence and "coil" in sentence and "more; change" in sentence
    shutil.copy(folder / "sheet_conventional.toml", folder / "again.toml")
    text = (folder / "again.toml").read_text(encoding="utf-8").replace('fuel = "', 'fuel = "0')
    weighed = re.sub(r'(\[RF\]\s*\nweight = ")(\d+)', lambda m: f"{m[1]}{int(m[2]) + 2}", text)
    (folder / "again.toml").write_text(weighed, encoding="utf-8")
    setup = (folder / "qualify.toml").read_text(encoding="utf-8")
    (folder / "q2.toml").write_text(setup.replace("sheet_conventional", "again"), encoding="utf-8")
    assert "differs in the sheet" in refused("against", SETUP, "q2.toml", TRACK, "--impound", "--draws", 0)


@pytest.mark.proof
def test_bands_of_a_difference_are_narrower_than_those_of_either(folder):
    words = ("against", SETUP, OTHER, TRACK, "--laps", 6, "--draws", 16, "--time", "19.9")
    told = json.loads(good(*words, "--json"))["answer"]
    a, b, change = (told["figures"]["total"][name] for name in ("a", "b", "b_less_a"))
    assert change["high"] - change["low"] < min(one["high"] - one["low"] for one in (a, b))
    assert a["low"] < a["value"] < a["high"] and told["draws"] == 16
    best = told["figures"]["best lap"]["a"]
    assert 19.85 < best["low"] < best["high"] < 19.95, "every draw is matched to his lap"
    text = " ".join(good(*words).split())
    assert "95 % band" in text and "of draws" in text and "Bands are 95 %" in text


# ---------------- what cannot be

REFUSED = [
    (("--yellow", "5-2"), 'is no stretch of laps 1 to 3; write such as 12-16'),
    (("--yellow", "4"), 'is no stretch of laps 1 to 3'),
    (("--yellow", "one"), 'is no stretch of laps'),
    (("--yellow", "1-3"), "every lap is under yellow"),
    (("--stop", "20"), "names no lap from 1 to 2"),
    (("--stop", "3: tires RF"), "names no lap from 1 to 2"),
    (("--stop", "2: paint it"), '"paint it" is nothing done at a stop'),
    (("--stop", "2: tires spare"), '"spare" names no tires'),
    (("--stop", "2: fuel 60 gal"), "does not go into a cell of 22.0 gal"),
    (("--stop", "2: fuel much"), "--stop, fuel"),
    (("--stop", "2: time soon"), "--stop, time"),
    (("--stop", "2: setup gone.toml"), "gone.toml"),
    (("--stop", "2: time 1 s", "--stop", "2: time 2 s"), "two stops after lap 2"),
    (("--time", "soon"), "15.62 s"),
    (("--fuel", "0.1 gal"), "The cell runs dry on lap 1"),
    (("--picture", "run.gif"), "a picture is kept as"),
    (("--rules", SETUP), SETUP),
    (("--groove", "sideways"), "is no groove"),
    (("--use", "15 %"), "does not get round"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_what_cannot_be_run_is_one_sentence(folder, words, sentence):
    assert sentence in refused("run", SETUP, TRACK, "--laps", 3, *words)


AGAINST_REFUSED = [
    (("--draws", "3"), "3 draws make no band"),
    (("--scatter", "wide"), "--scatter"),
    (("--scatter", "0 s"), "--scatter"),
    (("--time", "soon"), "15.62 s"),
    (("--picture", "run"), "a picture is kept as"),
]


@pytest.mark.parametrize(("words", "sentence"), AGAINST_REFUSED, ids=lambda one: str(one))
def test_what_cannot_be_set_against_is_one_sentence(folder, words, sentence):
    assert sentence in refused("against", SETUP, OTHER, TRACK, "--laps", 2, "--draws", 0, *words)


def test_a_time_that_the_limiter_forbids_is_one_sentence(folder):
    """In this gear the half-mile is run on the rev limiter, where more grip makes no lap quicker."""
    words = ("run", SETUP, "track_steep_half.toml", "--laps", 2, "--time", 3)
    assert "A best lap of 3.000 s was not matched: with" in refused(*words)


def test_laps_must_be_some(folder):
    assert "--laps" in refused("run", SETUP, TRACK, "--laps", 0, code=2)


TYPED = {
    "--yellow": st.one_of(st.sampled_from(["2", "1-2", "3-1", "-1", "2-", "x"]), st.text(max_size=6)),
    "--stop": st.one_of(
        st.sampled_from(
            ["1: tires RF", "1: fuel 30 gal", "1: time 0 s", "2: setup setup_no_rr.toml", "1:", "9:"]
        ),
        st.text(max_size=20),
    ),
    "--time": st.one_of(st.floats(0.1, 700.0).map(lambda v: f"{v:.4g}"), st.text(max_size=6)),
    "--fuel": st.floats(-5.0, 40.0).map(lambda v: f"{v:.3g} gal"),
    "--use": st.floats(-50.0, 150.0).map(lambda v: f"{v:.3g} %"),
}
"""What may be typed; a text that begins with a dash is an option of its own."""


def typed_into(command, track, typed):
    """One command with options typed at random: an answer, or one sentence."""
    against = [DEMO / OTHER] if command == "against" else []
    more = ["--draws", "0"] if against else []
    files = (DEMO / SETUP, *against, DEMO / f"track_{track}.toml")
    result = ended(command, *files, "--laps", 3, *more, *typed, as_json=False)
    assert result.exit_code or not NAN.search(result.stdout), result.stdout


@settings(max_examples=2)
@given(word=st.sampled_from(sorted(TYPED)), data=st.data())
def test_whatever_is_typed_of_a_run_ends_in_an_answer_or_in_one_sentence(word, data):
    typed_into("run", "three_eighths", [word, data.draw(TYPED[word])])


@pytest.mark.proof
@settings(max_examples=60)
@given(
    command=st.sampled_from(["run", "against"]),
    track=st.sampled_from(["flat_quarter", "three_eighths", "steep_half", "bent_five_eighths"]),
    words=st.lists(st.sampled_from(sorted(TYPED)), max_size=3, unique=True),
    data=st.data(),
)
def test_much_that_is_typed_of_a_run_ends_in_an_answer_or_in_one_sentence(command, track, words, data):
    known = [word for word in words if command == "run" or word not in ("--yellow", "--stop")]
    typed_into(command, track, [part for word in known for part in (word, data.draw(TYPED[word]))])
