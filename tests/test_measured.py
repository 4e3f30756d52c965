"""What was measured: read as it is typed, kept where it is written, and what it narrows."""

from __future__ import annotations

import contextlib
import datetime as dt
import math
import shutil

import numpy as np
import pytest
from asked import fits, good, refused, told
from evidence import DERIVED
from fuzz_documents import DEMO

from ovalwright.documents import Conditions, DocumentError, Track
from ovalwright.notebook import shelf, undo
from ovalwright.notebook.garage.how_measured import to_measure
from ovalwright.notebook.garage.measuring_tools import TOOLS, tools_for
from ovalwright.notebook.garage.parts import find_part, new_part
from ovalwright.notebook.garage.parts_measured import measurements
from ovalwright.notebook.known import number, numbers
from ovalwright.notebook.measured import keep_measured
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import usual_setup
from ovalwright.notebook.typed.measured import (
    GiveTrouble,
    half_of_mean,
    looks_odd,
    read_measured,
    together_with,
)
from ovalwright.pack import build
from ovalwright.study.narrowed import THREE, narrowed
from ovalwright.study.sure import what_to_measure
from ovalwright.units import KINDS, read_number, read_quantity

TRACK = "track_three_eighths.toml"
DAY = dt.date(2024, 5, 4)
SETUPS = ("setup_soft_front.toml", "setup_conventional.toml")


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    """A notebook of two setups of one car, and of two parts of its rack."""
    path = tmp_path_factory.mktemp("measured") / "notebook.sqlite"
    with Store.open(path, by="owner") as opened, opened.entry("kept") as session:
        for name in SETUPS:
            shelf.keep_setup(session, DEMO / name)
        new_part(session, "spring", "B12")
        new_part(session, "tire", "T11")
    return path


@pytest.fixture
def store(notebook, tmp_path):
    with Store.open(shutil.copy(notebook, tmp_path / "notebook.sqlite"), by="owner") as opened:
        yield opened


def kept(store, name, origin="measured", setup="Conventional", together=False, **typed):
    with store.entry("measured") as session:
        revision = shelf.revision(session, setup)
        what = number(session, revision, name)
        kind = what.first.kind
        tool = tools_for(kind, to_measure(what.name).tools)[0]
        readings = {
            "" if place == "it" else place: read_measured(
                text, kind, is_point=what.is_point, tool=tool, origin=origin
            )
            for place, text in typed.items()
        }
        if together:
            readings = {
                place: together_with(one, what.at(place).entry.value, kind) for place, one in readings.items()
            }
        return keep_measured(session, revision, what, readings, reason="with a scale pad", on=DAY)


def now(store, setup="Conventional"):
    with store.reading() as session:
        return shelf.assembly_of(session, shelf.revision(session, setup))


# ---------------- as it is typed


@pytest.mark.parametrize(
    ("typed", "kind", "value"),
    [
        ("15 3/16 in", "height", "15 3/16 in"),
        ("340", "mass", "340 lb"),
        ("15,4", "height", "15.4 in"),
        ("1,200 lb", "mass", "1200 lb"),
        ("15 1/8, 15 1/4, 15 3/16 in", "height", "15.19 in"),
        ('15 1/8", 15 1/4"', "height", "15.19 in"),
        ("201,203,202", "spring_rate", "202.0 lb/in"),
        ("75; 77 F", "temperature", "76.0 F"),
        ("386 mm\n387 mm", "height", "386.5 mm"),
        ("12.1 12.2 12.3", "pressure", "12.20 psi"),
        ("350 lb 352 lb", "mass", "351.0 lb"),
        ("15 1/8 15 1/4 in", "height", "15.19 in"),
        ("1/8 1/4 in", "toe", "0.19 in"),
        ("- 3.5", "camber", "-3.5 deg"),
        ("0.20 deg/1000lb 0.21 deg / 1000lb", "steer_give", "0.205 deg/1000lb"),
        ("1,250, 1,255", "mass", "1252.5 lb"),
        ("2,850, 2,861", "total_weight", "2855 lb"),
        ("1,250.5", "mass", "1250.5 lb"),
        ("12,05", "pressure", "12.05 psi"),
        ("12,5, 12,6", "pressure", "12.55 psi"),
        ("-0.5,-0.25", "camber", "-0.38 deg"),
        ("15 1/8,15 1/4", "height", "15.19 in"),
        ("350 lb,352 lb", "mass", "351.0 lb"),
    ],
)
def test_one_reading_or_several_with_or_without_a_unit(typed, kind, value):
    assert read_measured(typed, KINDS[kind], tool=tools_for(KINDS[kind])[0]).written["value"] == value


@pytest.mark.parametrize(
    ("typed", "kind", "ways"),
    [
        ("12,13", "pressure", ("12.13", "12; 13")),
        ("87,88 in", "roll_out", ("87.88 in", "87; 88 in")),
        ("98,99", "mass", ("98.99", "98; 99")),
        ("60,61 gal", "volume", ("60.61 gal", "60; 61 gal")),
        ("98,101", "spring_rate", ("98101", "98.101", "98; 101")),
        ("201,203", "corner_weight", ("201.203", "201; 203")),
        ("12,13; 14,15", "pressure", ("12.13; 14.15", "12; 13; 14; 15")),
        ("1,125 in", "bar_size", ("1.125 in",)),
    ],
)
def test_a_comma_that_can_be_meant_in_more_ways_is_asked_about(typed, kind, ways):
    with pytest.raises(NotebookTrouble) as told:
        read_measured(typed, KINDS[kind], tool=tools_for(KINDS[kind])[0])
    shown = " or ".join(f'"{way}"' for way in ways)
    assert str(told.value).endswith(f"write {shown}.")
    for way in ways:
        read_measured(way, KINDS[kind], tool=tools_for(KINDS[kind])[0])


@pytest.mark.parametrize("typed", ["1 250", "1,250,1,255", "5 ft 3 in", "35.2; 352", "340, 980"])
def test_readings_that_cannot_be_of_one_thing_are_asked_about(typed):
    kind = KINDS["height" if "ft" in typed else "mass"]
    with pytest.raises(NotebookTrouble, match="too far apart"):
        read_measured(typed, kind, tool=tools_for(kind)[0])


@pytest.mark.parametrize("name", KINDS)
def test_two_readings_of_any_kind_are_their_mean_or_asked_about(name):
    """Two that differ little, parted in every way."""
    kind = KINDS[name]
    size = 0.3 * kind.usual[0] + 0.7 * kind.usual[1] if math.isfinite(kind.usual[0]) else 1.0
    read = 0
    for digits in range(6):
        one, two = (f"{value:.{digits}f}" for value in (size, size * 1.0002 + 10.0**-digits))
        for part in ("; ", " ", ", ", ","):
            if 10.0**-digits < 0.3 * abs(size):
                with contextlib.suppress(NotebookTrouble):
                    found = read_measured(f"{one}{part}{two} {kind.us}", kind, tool=tools_for(kind)[0])
                    mean = 0.5 * (float(one) + float(two))
                    assert kind.to_us(found.value.si) == pytest.approx(mean, rel=0.02)
                    read += 1
    assert read >= 4


@pytest.mark.parametrize("name", KINDS)
def test_a_thousand_of_any_kind_is_one_or_refused(name):
    kind = KINDS[name]
    typed = f"1,250 {kind.us}"
    if kind.possible[0] <= 1250.0 <= kind.possible[1]:
        assert kind.to_us(read_measured(typed, kind, tool=tools_for(kind)[0]).value.si) == pytest.approx(
            1250.0
        )
    else:
        with pytest.raises(NotebookTrouble):
            read_measured(typed, kind, tool=tools_for(kind)[0])


@pytest.mark.parametrize("name", KINDS)
def test_two_figures_of_a_band_are_written_however_small(name):
    kind = KINDS[name]
    number, unit = read_number(kind.example)
    size = abs(number) or 1.0
    for share in (0.3, 0.017, 0.00011):
        give, unit = size * share, unit or kind.us
        typed = f"{number:.12f} {unit}; {number + 0.1 * give:.12f} {unit}"
        found = read_measured(typed, kind, give=f"{give:.12f} {unit}")
        half = read_number(found.written["give_or_take"])[0]
        assert half == pytest.approx(give, rel=0.06)
        assert read_number(found.written["value"])[0] == pytest.approx(number + 0.05 * give, abs=0.06 * give)


def test_a_certain_number_keeps_its_figures():
    found = read_measured("0.00151; 0.00153", KINDS["heat_growth"], give="0 in/F")
    assert read_number(found.written["value"])[0] == 0.00152
    assert found.value.give_or_take == 0.0


def test_a_mean_of_percents_is_written_so_that_its_band_is_none_of_the_number():
    kind = KINDS["motion_ratio"]
    found = read_measured("67 %; 68 %", kind, tool=tools_for(kind)[0])
    same = read_measured("0.67; 0.68", kind, tool=tools_for(kind)[0])
    assert found.value.si == pytest.approx(0.675)
    assert found.value.give_or_take == same.value.give_or_take


def test_a_give_or_take_may_have_a_decimal_comma():
    assert read_measured("340", KINDS["mass"], give="0,125").written["give_or_take"] == "0.125 lb"


def test_points_are_parted_by_semicolons():
    found = read_measured("5.5,9.6,6.2; 5.6, 9.5, 6.4 in", KINDS["point"], is_point=True)
    assert found.written["value"] == "5.55, 9.55, 6.30 in"
    assert "2 readings that lie 0.2 in apart" in found.told


@pytest.mark.parametrize(("typed", "said"), [("", "is typed"), ("abc", "195 lb"), ("-5 lb", "cannot be")])
def test_what_cannot_be_read_says_what_to_type(typed, said):
    with pytest.raises(NotebookTrouble, match=said):
        read_measured(typed, KINDS["mass"])


def test_a_wrong_give_or_take_is_told_from_a_wrong_number():
    with pytest.raises(GiveTrouble):
        read_measured("340", KINDS["mass"], give="much")


def test_how_sure_is_what_is_typed_else_the_tool_else_a_tag():
    kind = KINDS["mass"]
    tool = tools_for(kind)[2]
    assert read_measured("340", kind, give="5", tool=tool).written["give_or_take"] == "5 lb"
    assert read_measured("154 kg", kind, give="2", tool=tool).written["give_or_take"] == "2 kg"
    assert read_measured("340", kind, tool=tool).written["give_or_take"] == tool.give
    maker = read_measured("340", kind, tool=tool, origin="maker")
    assert "give_or_take" not in maker.written
    assert maker.value == read_quantity({"value": "340 lb", "from": "maker"}, kind)


def test_the_band_of_a_mean_holds_the_truth(check):
    rng = np.random.default_rng(11)
    tool, draws, count = 2.0, 4000, 3
    sigma = tool / 1.96
    shared = rng.normal(0.0, sigma * math.sqrt(0.5), draws)
    readings = shared[:, None] + rng.normal(0.0, sigma * math.sqrt(0.5), (draws, count))
    inside = [abs(row.mean()) <= half_of_mean(row[:, None], tool) for row in readings]
    check.between(
        float(np.mean(inside)),
        0.95,
        1.0,
        unit="",
        of="means of three readings that share half of the tool's variance, within the band that is said",
        source="simulated readings",
        kind=DERIVED,
        area="bands",
    )


def test_readings_that_scatter_more_than_the_tool_make_the_band_wider():
    near, far = (np.array(row)[:, None] for row in ([10.0, 10.1, 9.9, 10.0], [8.0, 10.0, 12.0, 10.0]))
    assert half_of_mean(near, 1.0) < 1.0 < half_of_mean(far, 1.0)


def test_a_number_far_from_the_old_one_asks_to_look_again():
    kind = KINDS["mass"]
    typical = read_quantity({"value": "340 lb", "give_or_take": "70 lb", "from": "typical"}, kind)
    tool = tools_for(kind)[0]
    assert looks_odd(read_measured("352", kind, tool=tool).value, typical, kind) == ""
    assert "look again" in looks_odd(read_measured("35", kind, tool=tool).value, typical, kind)
    assert "usual" in looks_odd(read_measured("3000", kind).value, typical, kind)


def pounds(value, give):
    return read_quantity(
        {"value": f"{value} lb", "give_or_take": f"{give} lb", "from": "measured"}, KINDS["mass"]
    )


def both(value, give, old):
    """A weight typed with its give-or-take, together with the one before."""
    return together_with(read_measured(f"{value} lb", KINDS["mass"], give=give), old, KINDS["mass"])


def test_taken_together_the_surer_one_weighs_more(check):
    found = both(343, "2", pounds(340, 4))
    assert (found.written["value"], found.written["give_or_take"]) == ("342.4 lb", "2.0 lb")
    check(
        ours=KINDS["mass"].to_us(found.value.si),
        expected=(340.0 / 16.0 + 343.0 / 4.0) / (1.0 / 16.0 + 1.0 / 4.0),
        abs=0.05,
        unit="lb",
        of="340 lb give or take 4 and 343 lb give or take 2, taken together",
        source="weighted mean of least variance, by hand",
        kind=DERIVED,
        area="bands",
    )


def test_what_a_tool_repeats_does_not_average_out_however_often_it_is_used(check):
    old, halves = pounds(340, 4), []
    for _ in range(20):
        old = both(340, "4", old).value
        halves.append(KINDS["mass"].to_us(old.give_or_take))
    at_once = half_of_mean(np.full((21, 1), 340.0), 4.0)
    assert halves == sorted(halves, reverse=True)
    assert halves[-1] == pytest.approx(at_once, rel=0.15)
    check(
        ours=halves[0],
        expected=math.sqrt(0.5 * 4.0**2 + 0.5 * 4.0**2 / 2.0),
        abs=0.05,
        unit="lb",
        of="half of the band of two readings with one tool of 4 lb, half of whose variance both share",
        source="variance of a mean of two that are correlated, by hand",
        kind=DERIVED,
        area="bands",
    )


@pytest.mark.parametrize(("give", "value"), [("2", 340), ("4", 341), ("20", 350)])
def test_a_worse_tool_makes_no_number_surer_than_a_better_one_could(give, value):
    old = pounds(340, 1)
    for _ in range(5):
        old = both(value, give, old).value
    assert KINDS["mass"].to_us(old.give_or_take) == pytest.approx(1.0, abs=0.05)


def test_two_that_do_not_agree_are_as_sure_as_readings_at_one_time():
    found = both(350, "1", pounds(340, 1)).value
    at_once = half_of_mean(np.array([[340.0], [350.0]]), 1.0)
    assert KINDS["mass"].to_us(found.give_or_take) == pytest.approx(at_once, abs=0.5)


def test_a_certain_number_stands_beside_any_other():
    assert both(341, "2", pounds(340, 0)).value.si == pytest.approx(pounds(340, 0).si)
    assert both(341, "0", pounds(340, 2)).value.si == pytest.approx(pounds(341, 0).si)


# ---------------- what to measure, and with what


def test_every_number_of_the_car_is_told_how_it_is_measured(store):
    with store.reading() as session:
        found = numbers(session, shelf.revision(session, "Conventional"))
    untold = [name for name in found if to_measure(name).how == "Measure it, or ask the builder."]
    assert untold == ["sheet.total"]
    assert {"car.sprung.height", "spring B12.rate", "setup.each.tire.growth"} <= found.keys()


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("car.front.short.each.coil_ratio", "let down"),
        ("car.rear.points.links.left_arm.axle", "stands"),
        ("spring B12.bind_height", "let down"),
        ("sheet.fuel", "flame"),
    ],
)
def test_what_can_hurt_is_said_where_it_can(name, word):
    assert any(word in caution for caution in to_measure(name).cautions)


def test_the_usual_tool_is_about_as_good_as_a_careful_reading_of_its_kind():
    for name, tools in TOOLS.items():
        kind = KINDS[name]
        one = read_measured(kind.example, kind, tool=tools[0]).value
        assert 0.3 < one.give_or_take / (2.0 * kind.one_sigma(one.si, "measured")) < 3.0, name


# ---------------- kept


def test_a_number_of_the_car_is_kept_in_the_car_for_every_setup_of_it(store):
    made = kept(store, "car.unsprung.axle", it="352, 350, 351")
    for setup in ("Conventional", "Soft right rear, much wedge", made.now.code):
        held = now(store, made.others[0][1].code if setup.startswith("Soft") else setup).car.unsprung.axle
        assert (held.text, held.evidence) == ("351.0 lb", "measured")
    assert made.said == "unsprung axle 338 -> 351.0 lb"
    assert made.now.parent_id == made.was.id
    assert "with a scale pad" in made.now.reason


def test_measured_on_an_earlier_revision_the_last_one_goes_along_too(store):
    with store.entry("a change") as session:
        first = shelf.revision(session, "Conventional")
        last = shelf.child(session, first, {"toe_out": "1/16 in"}, reason="toe")
        codes = first.code, last.code
    made = kept(store, "car.unsprung.axle", setup=codes[0], it="352")
    assert {was.code for was, _ in made.others} > {codes[1]}
    assert all(now(store, one.code).car.unsprung.axle.text == "352 lb" for _, one in made.others)


def test_it_is_taken_back_whole(store):
    made = kept(store, "car.unsprung.axle", it="352")
    with store.entry("undo") as session:
        assert undo.undo(session, by="owner").what.startswith("unsprung axle 338 -> 352 lb")
    assert now(store).car.unsprung.axle.text == "338 lb"
    with store.reading() as session:
        assert not shelf.is_kept(session, made.now.code)


def test_a_spring_of_the_rack_is_kept_there_and_in_its_life(store):
    kept(store, "spring B12.rate", it="231, 233, 232 lb/in")
    held = now(store)
    assert held.setup.RR.coil.rate.text == "232.0 lb/in"
    assert held.setup.RR.coil.spring == "B12"
    assert next(one for one in held.rack.springs if one.id == "B12").date == DAY
    with store.reading() as session:
        (one,) = measurements(session, find_part(session, "spring", "B12"))
    assert (one.typed, one.on) == ("232.0 lb/in", DAY)


def test_a_roll_out_is_noted_at_its_pressure(store):
    kept(store, "tire T11.roll_out", it="87 3/4 in")
    with store.reading() as session:
        (one,) = measurements(session, find_part(session, "tire", "T11"))
    assert one.typed.startswith("87 3/4 in at ") and one.at is not None


def test_of_what_is_typical_at_several_corners_those_measured_are_kept(store):
    kept(store, "setup.each.tire.growth", LF="0.1", RR="0.11 in/psi")
    tires = {corner: getattr(now(store).setup, corner).tire.growth for corner in ("LF", "RF", "LR", "RR")}
    assert [tires[corner].evidence for corner in tires] == ["measured", "typical", "typical", "measured"]


def test_one_number_of_a_part_leaves_its_others_there(store):
    kept(store, "bar inch and an eighth.diameter", it="1.13 in")
    bar = now(store).setup.bar
    assert (bar.bar, bar.diameter.text, bar.length.text) == ("inch and an eighth", "1.13 in", "37 1/2 in")


def test_one_point_of_a_curve_that_is_typical_keeps_the_rest_of_it(store):
    before = now(store).car.brakes.pads
    kept(store, "car.brakes.pads[2].friction", it="0.44")
    after = now(store).car.brakes.pads
    assert after[1].friction.text == "0.44"
    assert [one.friction.si for one in after[2:]] == [one.friction.si for one in before[2:]]
    assert not after[2].friction.known


def test_what_was_read_at_a_weighing_is_told_with_a_weighing(store):
    with pytest.raises(NotebookTrouble, match="Scales"):
        kept(store, "sheet.fuel", it="20 gal")


def test_the_tag_does_not_take_the_place_of_the_rater(store):
    with pytest.raises(NotebookTrouble, match="rated at"):
        kept(store, "spring B12.rate", origin="maker", it="225")


def test_a_number_that_the_rest_cannot_stand_on_is_refused_whole(store):
    with pytest.raises(DocumentError, match="more than the cell holds"):
        kept(store, "car.fuel_cell.capacity", it="12 gal")
    assert now(store).car.fuel_cell.capacity.text == "22 gal"


@pytest.mark.proof
def test_every_number_can_be_kept_and_changes_no_other(store):
    """Each by itself, as it stands; what was read at a weighing is told there."""
    with store.reading() as session:
        before = numbers(session, shelf.revision(session, "Conventional"))
    was = {held.path: held.entry.value for one in before.values() for held in one.held}
    for one in before.values():
        if one.name.startswith("sheet.") or one.first.value.evidence == "measured":
            continue
        made = kept(
            store, one.name, **{place or "it": one.at(place).entry.value.text for place in one.places}
        )
        with store.reading() as session:
            after = numbers(session, shelf.revision(session, made.now.code)).values()
        now = {held.path: held.entry.value for one in after for held in one.held}
        assert {path for path in now if now[path] != was[path]} == {held.path for held in one.held}, one.name
        with store.entry("undo") as session:
            undo.undo(session, by="owner")


def test_the_same_again_is_not_kept(store):
    kept(store, "car.unsprung.axle", it="352")
    with pytest.raises(NotebookTrouble, match="just so"):
        kept(store, "car.unsprung.axle", it="352")


def test_a_name_is_enough_by_its_end_and_otherwise_told(store):
    with store.reading() as session:
        setup = shelf.revision(session, "Conventional")
        assert number(session, setup, "sprung.height").name == "car.sprung.height"
        assert number(session, setup, "RR.coil.rate").name == "spring B12.rate"
        assert number(session, setup, "LF.tire.growth").places == ("",)
        assert number(session, setup, "each.tire.growth").places == ("LF", "RF", "LR", "RR")
        with pytest.raises(NotebookTrouble, match=r"car\.unsprung\.height or car\.sprung\.height"):
            number(session, setup, "height")


# ---------------- what it narrows


def test_a_measurement_narrows_what_it_was_made_for_and_nothing_gets_wider(store):
    with store.reading() as session:
        car = build(shelf.assembly_of(session, shelf.revision(session, "Conventional")))
    kept(store, "car.sprung.height", it="15.8; 15.9; 15.7; 15.8 in")
    found = narrowed(car, build(now(store)), Track.load(DEMO / TRACK), Conditions(), draws=8)
    assert tuple(found.before) == tuple(found.after) == THREE
    assert width(found.after["cross"]) < 0.95 * width(found.before["cross"])
    assert all(width(found.after[name]) < 1.05 * width(found.before[name]) for name in THREE)


@pytest.mark.proof
def test_it_narrows_as_much_as_the_study_foretold_that_chose_it(store):
    with store.reading() as session:
        car = build(shelf.assembly_of(session, shelf.revision(session, "Conventional")))
    track = Track.load(DEMO / TRACK)
    (best,) = (one for one in what_to_measure(car, track, Conditions()) if one.what == "car.sprung.height")
    kept(store, "car.sprung.height", it="15.8 in", together=True)
    found = narrowed(car, build(now(store)), track, Conditions(), draws=256)
    ratio = width(found.after["cross"]) / width(found.before["cross"])
    assert ratio == pytest.approx(best.after / best.before, abs=0.08)


def width(band):
    return band.high - band.low


# ---------------- on the command line


def test_the_command_lists_tells_keeps_and_says_what_stands_there(full):
    assert "car.unsprung.wheel_spin" in fits(good("measured"))
    told_how = fits(good("measured", "unsprung.axle"))
    assert "Weigh it bare" in told_how and "Careful: Car on stands" in told_how and "338 lb" in told_how
    kept_so = good(
        "measured", "unsprung.axle", "341,", "339", "lb", "--with", "hanging", "--reason", "with Joe"
    )
    assert "unsprung axle 338 -> 340.0 lb" in fits(kept_so)
    again = told("measured", "unsprung.axle")["number"]["held"][0]
    assert (again["text"], again["from"]) == ("340.0 lb", "measured")
    with Store.open() as opened, opened.reading() as session:
        reason = usual_setup(session).revision.reason
    assert "hanging scale; mean of 2 readings" in reason and reason.endswith("with Joe")


def test_the_command_takes_corners_and_a_makers_figure(full):
    answer = told("measured", "setup.each.tire.growth", "0.1", "RR=0.11 in/psi", "--maker")
    assert {place: one["value"] for place, one in answer["readings"].items()} == {
        **dict.fromkeys(("LF", "RF", "LR"), "0.1 in/psi"),
        "RR": "0.11 in/psi",
    }
    assert {one["from"] for one in answer["readings"].values()} == {"maker"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["unsprung.axle", "heavy"], 'write a weight such as "195 lb"'),
        (["unsprung.axle", "340", "--with", "thumb"], "scale pad, hanging scale, bathroom scale, or other"),
        (["height", "3"], "car.unsprung.height or car.sprung.height"),
        (["sheet.fuel", "20 gal"], "type it on the Scales"),
    ],
)
def test_what_the_command_cannot_keep_is_one_sentence(full, words, sentence):
    assert sentence in refused("measured", *words)
