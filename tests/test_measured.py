"""What was measured: kept where it is written, and what it narrows."""

from __future__ import annotations

import datetime as dt
import shutil

import pytest
from asked import fits, good, refused, told
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
from ovalwright.notebook.typed.measured import read_measured, together_with
from ovalwright.pack import build
from ovalwright.study.narrowed import THREE, narrowed
from ovalwright.study.sure import what_to_measure
from ovalwright.units import KINDS

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
