"""What differs between two documents is said as a racer says it, and nothing that differs goes unsaid."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import inch, psi

import ovalwright
from ovalwright.documents import (
    Setup,
    assemble,
    load_car,
    load_rack,
    load_rules,
    load_setup,
    load_sheet,
    load_track,
)
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import differences, said
from ovalwright.units import as_fraction, decimal, mixed, read_exact

DEMO = Path(ovalwright.__file__).parent / "demo"
BASE = load_setup(DEMO / "setup_conventional.toml")


def told(changes, base=BASE):
    return said(differences(base, base.changed(changes)))


SAID = {
    "RR spring B12 -> 250 lb/in": {"RR.coil.rate": "250 lb/in"},
    "RR spring B12 -> B13": {"RR.coil.spring": "B13"},
    "RR spring B12 -> mark 7": {"RR.coil.spring": "7"},
    "RR no spring": {"RR.coil": "none"},
    "LR +1/2 round": {"LR.turned": "1/2 round"},
    "LR -1 1/4 round": {"LR.turned": "-1 1/4 turn"},
    "RR +0.4 psi": {"RR.tire.cold": "18.4 psi", "RR.tire.hot": "26.4 psi"},
    "RR +0.4 psi cold": {"RR.tire.cold": "18.4 psi"},
    "RR +0.4 psi cold; RR hot 26 -> 27 psi": {"RR.tire.cold": "18.4 psi", "RR.tire.hot": "27 psi"},
    "LR tire T5 -> T4": {"LR.tire.tire": "T4"},
    "RF camber -3.25 -> -3.5 deg": {"RF.camber": "-3.5 deg"},
    "bar off": {"bar": "none"},
    "bar inch and an eighth -> 1 1/4 in": {"bar.diameter": "1 1/4 in"},
    "bar +1/4 round": {"bar.preload": "1/2 round"},
    "bar unhooked": {"bar.hooked": False},
    "toe out 3/32 -> 1/8 in": {"toe_out": "1/8 in"},
    "gear 5.67 -> 5.43": {"final_drive": "5.43"},
    "brake bias 64 -> 66 %": {"brake_front": "66 %"},
    "third link axle hole down 1/2 in": {"link_shift.third_link.axle_up": "-1/2 in"},
    "lead L50-2 moved to -48, 26, 6.5 in": {"lead[2].place": "-48, 26, 6.5 in"},
    "lead L12-1 12.3 -> 12 lb": {"lead[4].mass": "12 lb"},
    "notes changed": {"notes": "tight in the middle\nsince the wall"},
    "sheet sheet_conventional.toml -> sheet_light.toml": {"sheet": "sheet_light.toml"},
    "RR shock K4 -> K6": {"RR.shock.shock": "K6"},
    "": {"RR.tire.cold": "18.0 psi", "toe_out": "0.09375 in"},
}


@pytest.mark.parametrize("words", SAID)
def test_a_change_is_said_as_the_racer_says_it(words):
    assert told(SAID[words]) == words


def test_steps_of_what_is_there():
    stops = load_setup(DEMO / "setup_soft_front.toml")
    assert told({"RF.stop.packers": "5/16 in", "LF.stop.gap": "1.5 in"}, stops) == (
        "LF stop gap -1/4 in; RF packers +1/16 in"
    )
    assert told({"RF.stop": "none"}, stops) == "RF stop out"
    spring = {"RF.bump_spring": {"rate": "900 lb/in", "gap": "1 in"}}
    assert told(spring, stops) == "RF stop out; RF bump spring in: 900 lb/in at gap 1 in"
    assert told({"RR.stop": {"gap": "2 in", "k0": "300 lb/in"}}) == (
        "RR stop in: gap 2 in; RR stop k0 none -> 300 lb/in"
    )
    light = load_setup(DEMO / "setup_light.toml")
    assert told({"panhard.frame_height": "10 1/8 in"}, light) == "panhard frame up 1/4 in"
    gone = light.changed({"lead": [{"id": "L9", "mass": "9 lb", "place": "1, 2, 3 in"}]})
    assert said(differences(light, gone)).startswith("lead L50-1 out; lead L50-2 out; ")
    assert said(differences(light, gone)).endswith("; lead L9 added: 9 lb at 1, 2, 3 in")


def test_rounds_on_a_new_sheet_are_no_step_from_those_on_the_old():
    turned = BASE.changed({"LR.turned": "1/2 round"})
    assert told({"sheet": "sheet_light.toml", "LR.turned": "0 round"}, turned) == (
        "sheet sheet_conventional.toml -> sheet_light.toml"
    )
    assert told({"sheet": "sheet_light.toml", "LR.turned": "1/4 round"}, turned).endswith(
        "; LR bolt 1/4 round since the new sheet"
    )


def test_a_difference_knows_its_key_and_numbers():
    changes = {"RR.coil.rate": "250 lb/in", "RR.tire.cold": "18.4 psi", "RR.tire.hot": "26.4 psi"}
    rate, cold, hot = differences(BASE, BASE.changed(changes))
    assert (rate.key, rate.old, rate.new_text) == ("RR.coil.rate", "B12", "250 lb/in")
    assert (cold.key, cold.kind, cold.old_text) == ("RR.tire.cold", "pressure", "18 psi")
    assert (cold.new - cold.old) / psi == pytest.approx(0.4)
    assert (hot.key, hot.said) == ("RR.tire.hot", "")
    (moved,) = differences(BASE, BASE.changed({"lead[2].place": "-48, 26, 6.5 in"}))
    assert moved.key == "lead[2].place"
    assert moved.new[0] / inch == pytest.approx(-48)


def test_numbers_come_from_the_rack_where_the_setups_are_joined():
    old = assemble(BASE)
    new = assemble(BASE.changed({"RR.coil.spring": "B13", "LR.tire.tire": "T4"}))
    assert said(differences(old.setup, new.setup)) == (
        "LR tire T5 (85 1/4 in) -> T4 (85 in); RR spring B12 (234.2 lb/in) -> B13 (242.8 lb/in)"
    )


def test_other_documents_are_told_by_key():
    rack = load_rack(DEMO / "rack.toml")
    changed = rack.changed({"springs[3].measured": "148 lb/in", "tires[1].laps": 60})
    found = differences(rack, changed)
    assert [one.key for one in found] == ["springs[3].measured", "tires[1].laps"]
    assert said(found) == "springs F03 measured 147.0 -> 148 lb/in; tires T1 laps 46 -> 60"
    fewer = type(rack).model_validate({**rack.model_dump(exclude_unset=True), "gears": []})
    assert said(differences(rack, fewer)).count("removed") == len(rack.gears)
    track = load_track(DEMO / "track_flat_quarter.toml")
    longer = differences(track, track.changed({"straight": "300 ft"}))
    assert said(longer) == "straight 298 -> 300 ft"
    car = load_car(DEMO / "car.toml")
    assert said(differences(car, load_car(DEMO / "car_light.toml"))).startswith("name ")
    weekly, touring = (load_rules(DEMO / f"rules_{name}.toml") for name in ("weekly", "touring"))
    assert "limits 2 is at most -> at least" in said(differences(weekly, touring))
    with pytest.raises(NotebookTrouble, match=r"is a setup and car\.toml a car; name two documents of one"):
        differences(BASE, car)
    sheet = load_sheet(DEMO / "sheet_conventional.toml")
    assert said(differences(sheet, sheet.changed({"driver": False}))) == "driver yes -> no"


@pytest.mark.parametrize("name", sorted(path.name for path in DEMO.glob("setup_*.toml")))
def test_nothing_differs_from_itself_and_every_number_that_differs_is_told(name):
    other = load_setup(DEMO / name)
    assert differences(other, Setup.from_text(other.text, folder=DEMO)) == ()
    told_keys = {one.key for one in differences(BASE, other)}
    old, new = ({e.key: e.value.si for e in setup.entries()} for setup in (BASE, other))
    for key in old.keys() & new.keys():
        if old[key] != new[key] and not key.startswith("lead"):
            assert key in told_keys, key


fractions = st.fractions(-300, 300, max_denominator=64)


@given(fractions)
def test_a_fraction_said_is_that_fraction(value):
    """By way of how a racer's texts are read."""
    for text in (mixed(value), decimal(value)):
        assert float(read_exact(text).number) == pytest.approx(float(value), rel=1e-5)
    if 64 % value.denominator == 0:
        assert read_exact(mixed(value)).number == value
        assert read_exact(as_fraction(float(value))).number == value
        assert read_exact(decimal(value)).number == value
