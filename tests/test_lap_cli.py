"""The lap at the command line: what is shown, kept as a picture and told as JSON, and what is refused."""

import json
import math
import re
from dataclasses import replace
from itertools import groupby, pairwise

import numpy as np
import pytest
from asked import NAN, ended, good, refused
from evidence import DERIVED, FROM_MEMORY
from fuzz_documents import DEMO
from hypothesis import given, settings
from hypothesis import strategies as st

from ovalwright.documents import Conditions, assemble, load_conditions, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study import lap_band as band_room
from ovalwright.study.lap import BRAKE_BAND, DRIVER, THROTTLE_BAND, USE_BAND, Driver, NoLap, lap
from ovalwright.study.lap_band import lap_band
from ovalwright.study.lap_reading import SHORT, edges_of, on_the_car, ruled, sections_along, told_rules
from ovalwright.study.uncertain import IN_BAND, TIRE_CAUSES

DAY = Conditions()
SETUP, TRACK = "setup_conventional.toml", "track_three_eighths.toml"


def driven(setup="conventional", track="three_eighths"):
    oval = load_track(DEMO / f"track_{track}.toml")
    packed = with_fuel(build(assemble(DEMO / f"setup_{setup}.toml")), share=1.0)
    return lap(packed, groove_line(oval, ribbon_of(oval)), DAY)


@pytest.fixture(scope="module")
def found():
    return driven()


# ---------------- what is read off a lap


def test_stretches_tile_the_lap_and_none_is_too_short_to_see(found):
    stretches = ruled(found)
    assert stretches[0].start == 0.0 and stretches[-1].end == pytest.approx(found.line.length)
    for one, after in pairwise(stretches):
        assert one.end == after.start and one.rule != after.rule and one.exit == after.entry
    assert all(one.end - one.start >= SHORT for one in stretches[1:])
    assert {one.rule for one in stretches} <= set(found.rules)
    for one in stretches:
        assert bool(one.tires) == (one.rule not in ("power", "revs"))


def test_told_rules_differ_from_the_found_only_where_stretches_are_short(found):
    told, ends = told_rules(found), np.append(found.line.distance, found.line.length)
    first = 0
    for rule, run in groupby(found.rules):
        last = first + len(list(run))
        if told[first:last] != [rule] * (last - first):
            assert ends[last] - ends[first] < SHORT
        first = last
    assert len(list(groupby(told))) < len(list(groupby(found.rules)))


def test_what_can_be_checked_on_the_car(check, found):
    read = on_the_car(found)
    standing = found.packed.standing.corners()["shock_length"]
    for i, corner in enumerate(("LF", "RF", "LR", "RR")):
        assert read.bump[i] == pytest.approx(standing[i] - found.corners["shock_length"][:, i].min())
        assert getattr(read.load, corner) == found.corners["load"][:, i].max()
    assert read.lowest.gap > 0.0 and 0.0 <= read.lowest.distance < found.line.length
    at = int(found.engine_speed.argmax())
    rear = found.packed.record["tire"]["free_radius"][2:] - found.corners["squash"][at, 2:] / 3.0
    check(
        ours=found.speed[at] * found.engine.gear / rear.mean() * 30.0 / math.pi,
        expected=read.most_revs * 30.0 / math.pi,
        rel=0.02,
        unit="rpm",
        of="top engine speed of a lap from speed, gear and rear tires",
        source="rolling radius = free radius less a third of the deflection (Clark, Pneumatic Tires)",
        kind=FROM_MEMORY,
        area="lap",
    )


def test_a_frame_point_that_drags_is_told_with_less_than_no_clearance():
    found = driven("hanging_rr", "steep_half")
    lowest = on_the_car(found).lowest
    assert lowest.gap < 0.0
    assert any(event.text == f"{lowest.name} touches the road" for event in found.events)


def test_sections_and_edges_lie_along_the_driven_line(found):
    line, sections = found.line, sections_along(found.line)
    names = np.array(line.section_of())
    for name, start, end in sections:
        inside = line.distance[names == name]
        covers = (inside >= start - 1e-6) & (inside <= end + 1e-6)
        assert covers.all() or end < start
    left, right = edges_of(line)
    width = np.linalg.norm(left - right, axis=1)
    level = load_track(DEMO / TRACK).width.si * np.cos(line.ribbon.bank(line.spine))
    assert width == pytest.approx(level, rel=1e-9)


# ---------------- how sure the time is


class _Timed:
    def __init__(self, time):
        self.time = time


def test_the_band_adds_what_is_guessed_in_quadrature(check, found, monkeypatch):
    monkeypatch.setattr(band_room, "lap", lambda *given, **_: _Timed(_power_law(given[3])))
    here = replace(found, time=_power_law(DRIVER))
    band = lap_band(here, DAY)
    grip = math.hypot(IN_BAND * TIRE_CAUSES["grip of the tires"].spread, DAY.grip.give_or_take)
    shares = [0.4 * USE_BAND / 0.95, 0.4 * grip, 0.05 * BRAKE_BAND / 0.85, 0.1 * THROTTLE_BAND / 0.95]
    check(
        ours=0.5 * (band.high - band.low) / band.value,
        expected=float(np.linalg.norm(shares)),
        rel=0.05,
        unit="",
        of="half of a lap time's band where the time is a product of powers",
        source="relative variances add (JCGM 100:2008, 5.1.6), first order",
        kind=DERIVED,
        area="lap",
    )
    assert band.low < band.value < band.high
    assert band.high - band.value > band.value - band.low, "less grip costs more than as much more gains"


def _power_law(driver):
    return 20.0 * (driver.use * driver.grip) ** -0.4 * driver.brake**-0.05 * driver.throttle**-0.1


def test_a_band_needs_one_end_of_every_cause(found, monkeypatch):
    def only_more(*given, **_):
        if given[3].grip < 1.0:
            raise NoLap("slides off")
        return _Timed(_power_law(given[3]))

    here = replace(found, time=_power_law(DRIVER))
    monkeypatch.setattr(band_room, "lap", only_more)
    mirrored = lap_band(here, DAY)
    assert mirrored.low < here.time < mirrored.high

    def never(*_, **__):
        raise NoLap("slides off")

    monkeypatch.setattr(band_room, "lap", never)
    assert math.isnan(lap_band(here, DAY).low)


def test_the_band_of_a_lap_holds_laps_of_a_driver_inside_his_band(found):
    band = lap_band(found, DAY)
    for grip, use in ((0.93, 0.95), (1.07, 0.95), (1.0, 0.93), (1.0, 0.97)):
        other = lap(found.packed, found.line, DAY, replace(DRIVER, grip=grip, use=use))
        assert band.low < other.time < band.high


# ---------------- the command


@pytest.mark.parametrize("units", [(), ("--si",)])
def test_a_lap_is_shown_within_the_screen(folder, units):
    told = good("lap", SETUP, TRACK, *units)
    assert max(map(len, told.splitlines())) <= 80
    for word in ("turns 1 and 2", "front tires", "to check on the car", "most shock travel", "limiter",
                 "What sets the speed", "start >", "not clearance to drive", "no shocks"):  # fmt: skip
        assert word in " ".join(told.split())
    assert told.count("not clearance to drive") == 1


def test_what_touches_on_the_way_is_told_with_its_place(folder):
    told = good("lap", "setup_hanging_rr.toml", "track_flat_quarter.toml")
    assert re.search(r"^\d+ ft: RR coil hangs off its seat\.$", told, re.MULTILINE)
    assert re.search(r"^\d+ ft: RR coil picks up\.$", told, re.MULTILINE)


def test_his_own_lap_time_settles_the_grip(folder):
    plain = json.loads(good("lap", SETUP, "track_flat_quarter.toml", "--json"))["answer"]
    sought = plain["time"] - 0.3
    told = good("lap", SETUP, "track_flat_quarter.toml", "--time", f"{sought:.3f}")
    assert f"Matched to your {sought:.3f} s: with 1.0" in " ".join(told.split())
    answer = json.loads(good("lap", SETUP, "track_flat_quarter.toml", "--json", "--time", f"{sought:.3f} s"))
    assert answer["answer"]["time"] == pytest.approx(sought, abs=1e-3)
    assert answer["answer"]["driver"]["grip"] > 1.0 and answer["answer"]["band"]["low"] is None


def test_a_time_far_from_the_files_is_said_to_point_elsewhere(folder):
    told = " ".join(good("lap", SETUP, "track_flat_quarter.toml", "--time", "16.6").split())
    assert "That is far off: check length and radius" in told


def test_groove_fuel_air_and_driver_are_those_that_were_typed(folder):
    typed = ("--groove", "low", "--fuel", "2 gal", "--use", "90 %", "--brake", "60 %", "--throttle", "70 %")
    told = good("lap", SETUP, "track_flat_quarter.toml", "--air", "conditions_evening.toml", *typed)
    oval = load_track(DEMO / "track_flat_quarter.toml")
    packed = with_fuel(build(assemble(DEMO / SETUP)), share=2.0 / 22.0)
    line, day = groove_line(oval, ribbon_of(oval), "low"), load_conditions(DEMO / "conditions_evening.toml")
    time = lap(packed, line, day, Driver(0.9, 0.6, 0.7)).time
    assert told.startswith(f"{time:.3f} s: Conventional\nFlat quarter, low groove, 2.0 gal\n")
    assert "90 % of the grip, 60 % of the braking and 70 % of the throttle" in " ".join(told.split())


def test_json_holds_every_station_in_si(folder):
    told = json.loads(good("lap", SETUP, TRACK, "--json"))
    answer, stations = told["answer"], told["answer"]["stations"]
    count = len(stations["distance"])
    assert count > 100 and told["meaning"]["stations"]["speed"] == "[m/s]"
    for name, column in stations.items():
        columns = [column] if isinstance(column, list) else list(column.values())
        flat = [c for one in columns for c in ([one] if isinstance(one, list) else list(one.values()))]
        assert all(len(one) == count for one in flat), name
    loads = np.array([stations["corners"][corner]["load"] for corner in ("LF", "RF", "LR", "RR")])
    assert loads.shape == (4, count) and (loads >= 0.0).all()
    assert sum(one["time"] for one in answer["sections"]) == pytest.approx(answer["time"])
    assert answer["band"]["low"] < answer["time"] < answer["band"]["high"]


def test_pictures_are_kept_as_often_as_asked(folder):
    told = good("lap", SETUP, TRACK, "--picture", "lap.svg", "--picture", "lap.json", "--map", "map.pdf")
    assert told.count("Written: ") == 3
    assert "<svg" in (folder / "lap.svg").read_text(encoding="utf-8")
    assert "vega-lite" in json.loads((folder / "lap.json").read_text(encoding="utf-8"))["$schema"]
    assert (folder / "map.pdf").read_bytes().startswith(b"%PDF")


def test_the_free_line_is_shown_as_a_bound(folder):
    told = " ".join(good("lap", SETUP, "track_flat_quarter.toml", "--free").split())
    assert "Flat quarter, free line, 22.0 gal" in told
    assert "a bound, not what he will drive" in told and "Compare setups on one fixed line" in told


# ---------------- what cannot be

REFUSED = [
    (("--groove", "sideways"), "is no groove of it; the grooves are low, middle, high"),
    (("--time", "3"), "no grip from half to twice"),
    (("--time", "1"), "3 to 600 s"),
    (("--time", "soon"), "15.62 s"),
    (("--use", "200 %"), "--use"),
    (("--use", "95"), "no unit"),
    (("--brake", "0 %"), "--brake: brake of the driver is 0"),
    (("--throttle", "2 %"), "--throttle"),
    (("--use", "15 %"), "does not get round"),
    (("--fuel", "100 gal"), "does not go into a cell"),
    (("--free", "--groove", "low"), "leave out --groove and --time"),
    (("--free", "--time", "18"), "leave out --groove and --time"),
    (("--free", "--use", "15 %"), "does not get round"),
    (("--picture", "lap.gif"), "lap.gif: a picture is kept as"),
    (("--map", "nowhere/map.svg"), "nowhere"),
    (("--air", "ice.toml"), "does not get round"),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_what_cannot_be_is_one_sentence(folder, words, sentence):
    (folder / "ice.toml").write_text('document = "conditions"\ngrip = "0.1"\n', encoding="utf-8")
    assert sentence in refused("lap", SETUP, TRACK, *words)


@pytest.mark.parametrize("ratio", ["0.06", "190"])
def test_a_gear_that_cannot_go_round_is_one_sentence(folder, ratio):
    text = (folder / SETUP).read_text(encoding="utf-8")
    (folder / "geared.toml").write_text(
        re.sub(r'final_drive = ".*"', f'final_drive = "{ratio}"', text), "utf-8"
    )
    assert "and at the gear" in refused("lap", "geared.toml", TRACK)


@pytest.mark.parametrize(
    ("was", "becomes", "sentence"),
    [
        ('length = "0.375 mi"', 'length = "0.2 mi"', "the ends alone are"),
        ('radius = "172 ft"', 'radius = "31 ft"', "track_three_eighths.toml"),
        ('width = "48 ft"', 'width = "390 ft"', "does not fit around a radius"),
    ],
)
def test_a_track_that_cannot_be_is_one_sentence(folder, was, becomes, sentence):
    path = folder / TRACK
    path.write_text(path.read_text(encoding="utf-8").replace(was, becomes), encoding="utf-8")
    assert sentence in refused("lap", SETUP, TRACK)


SHARES = st.one_of(
    st.floats(-50.0, 150.0).map(lambda v: f"{v:.3g} %"), st.sampled_from(["", "95", "%", "most"])
)
TYPED = {
    "--use": SHARES,
    "--brake": SHARES,
    "--throttle": SHARES,
    "--groove": st.one_of(st.sampled_from(["low", "middle", "high", "top", ""]), st.text(max_size=8)),
    "--fuel": st.one_of(st.floats(-5.0, 40.0).map(lambda v: f"{v:.3g} gal"), st.just("full")),
    "--time": st.one_of(
        st.floats(0.1, 700.0).map(lambda v: f"{v:.4g}"), st.just("15,62"), st.text(max_size=6)
    ),
}


@pytest.mark.proof
@settings(max_examples=80)
@given(
    command=st.sampled_from(["lap", "gears"]),
    track=st.sampled_from(["flat_quarter", "three_eighths", "steep_half", "bent_five_eighths"]),
    words=st.lists(st.sampled_from(sorted(TYPED)), max_size=2, unique=True),
    data=st.data(),
)
def test_much_that_is_typed_ends_in_an_answer_or_in_one_sentence(command, track, words, data):
    typed_into(command, track, [part for word in words for part in (word, data.draw(TYPED[word]))])


@settings(max_examples=5)
@given(word=st.sampled_from(sorted(TYPED)), data=st.data())
def test_whatever_is_typed_ends_in_an_answer_or_in_one_sentence(word, data):
    typed_into("lap", "three_eighths", [word, data.draw(TYPED[word])])


def typed_into(command, track, typed):
    """One command with options typed at random."""
    result = ended(command, DEMO / SETUP, DEMO / f"track_{track}.toml", *typed, as_json=False)
    assert result.exit_code or not NAN.search(result.stdout), result.stdout


def test_check_refuses_a_track_whose_figures_make_no_lap(folder):
    good("check", TRACK)
    text = (folder / TRACK).read_text(encoding="utf-8")
    (folder / "track_tight.toml").write_text(text.replace('radius = "172 ft"', 'radius = "31 ft"'), "utf-8")
    assert "track_tight.toml" in refused("check", "track_tight.toml")
