"""The documents: what is typed stays, what is left out is typical and marked, the demo folder is whole."""

from __future__ import annotations

import math
import tomllib

import pytest
from fuzz_documents import DEMO, kind_of_file
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.documents import (
    KINDS_OF_DOCUMENT,
    QUESTIONS,
    STATIONS,
    Car,
    Conditions,
    DocumentError,
    Rack,
    Setup,
    assemble,
    json_schema,
    load,
    load_car,
    load_rack,
    load_rules,
    load_setup,
    load_sheet,
    load_track,
    new_car,
    understood,
    write_new,
)
from ovalwright.units import KINDS, parse

SMALL_CAR = '[fuel_cell]\ncapacity = "22 gal"\n'
FILES = sorted(path.name for path in DEMO.glob("*.toml"))
SETUPS = [name for name in FILES if name.startswith("setup")]
EXAMPLES = {question.key: question.example for question in QUESTIONS}
CORNERS = ("LF", "RF", "LR", "RR")


def pounds(text):
    return parse(text, KINDS["mass"])


def total(name):
    sheet = load_sheet(DEMO / name)
    return sum(getattr(sheet, corner).weight.si for corner in CORNERS)


def lead_of(setup):
    return sum(piece.mass.si for piece in setup.lead)


# --- the demo folder


@pytest.mark.parametrize("name", FILES)
def test_every_demo_file_loads_without_a_warning_that_was_not_meant(name):
    document = load(kind_of_file(name), DEMO / name)
    meant = ("has no spring",) if name == "setup_no_rr.toml" else ()
    assert all(any(part in warning for part in meant) for warning in document.warnings)
    assert document.text == (DEMO / name).read_text("utf-8")


@pytest.mark.parametrize("name", SETUPS)
def test_every_demo_setup_finds_its_car_sheet_and_parts(name):
    joined = assemble(DEMO / name)
    for corner in CORNERS:
        wheel = getattr(joined.setup, corner)
        assert wheel.tire.roll_out.si > 2
        assert wheel.coil is None or wheel.coil.rate.evidence == "measured"
    assert joined.setup.bar.diameter.si > 0.02
    weights = [getattr(joined.sheet, corner).weight.si for corner in CORNERS]
    assert sum(weights) == pytest.approx(joined.sheet.total.si, abs=0.01)


def test_the_demo_holds_what_it_is_for():
    rack = load_rack(DEMO / "rack.toml")
    assert len(rack.springs) == 40
    assert all(spring.measured is not None and spring.date is not None for spring in rack.springs)
    assert lead_of(load_setup(DEMO / "setup_light.toml")) > pounds("500 lb")
    assert lead_of(load_setup(DEMO / "setup_conventional.toml")) < pounds("200 lb")
    assert load_setup(DEMO / "setup_no_rr.toml").RR.coil is None
    assert assemble(DEMO / "setup_giant_bar.toml").setup.bar.diameter.si > 2 * 0.0254
    hanging = assemble(DEMO / "setup_hanging_rr.toml").setup
    assert hanging.RR.coil.rate.si < hanging.LR.coil.rate.si
    soft = assemble(DEMO / "setup_soft_front.toml").setup
    assert soft.LF.stop and soft.RF.stop
    assert soft.RF.coil.rate.si < soft.RR.coil.rate.si
    banks = [load_track(DEMO / f"track_{n}.toml") for n in ("flat_quarter", "three_eighths", "steep_half")]
    assert [round(math.degrees(track.ends[0].bank.si)) for track in banks] == [3, 12, 28]


def test_the_light_car_makes_the_least_weight_only_with_its_lead():
    light = load_setup(DEMO / "setup_light.toml")
    least = load_rules(DEMO / "rules_weekly.toml").limits[0]
    assert total("sheet_light.toml") >= least.value.si
    assert total("sheet_light.toml") - lead_of(light) < least.value.si - pounds("450 lb")


def test_the_two_rule_books_contradict_each_other():
    weekly, touring = (load_rules(DEMO / f"rules_{name}.toml") for name in ("weekly", "touring"))
    allowed = [{ban.of: ban.allowed for ban in book.bans} for book in (weekly, touring)]
    assert {of for of in allowed[0] if of in allowed[1] and allowed[0][of] != allowed[1][of]} >= {
        "threaded_rod",
        "bump_stops",
    }
    assert {limit.of for limit in weekly.limits} != {limit.of for limit in touring.limits}


def test_the_short_form_is_the_same_car():
    points, short = load_car(DEMO / "car.toml"), load_car(DEMO / "car_short.toml")
    assert points.front.points and short.front.short
    for name in (
        "wheelbase",
        "tread",
        "unsprung",
        "sprung",
        "driver",
        "fuel_cell",
        "engine",
        "height_points",
    ):
        assert getattr(points, name) == getattr(short, name)


# --- what is typed, what is left out


def test_a_car_needs_only_its_fuel_cell_and_knows_what_was_left_out():
    car = Car.from_text(SMALL_CAR)
    assert car.fuel_cell.capacity.evidence == "unstated"
    assert {"wheelbase", "sprung.height", "chassis.twist_rate", "driver.place"} <= set(car.left_out())
    assert "fuel_cell.capacity" not in car.left_out()
    wide = car.sprung.height
    told = Car.from_text(SMALL_CAR + '[sprung]\nheight = "16 in"\n').sprung.height
    assert told.si == wide.si
    assert told.give_or_take < wide.give_or_take


@pytest.mark.parametrize("kind", sorted(set(KINDS_OF_DOCUMENT) - {"rules"}))
def test_every_quantity_has_a_finite_value_and_band(kind):
    required = {"car": "car.toml", "rack": "rack.toml", "setup": "setup_soft_front.toml"}
    name = required.get(kind) or next((file for file in FILES if kind_of_file(file) == kind), None)
    document = load(kind, DEMO / name) if name else STATIONS[0]
    entries = list(document.entries())
    assert entries
    for entry in entries:
        numbers = entry.value.si if isinstance(entry.value.si, tuple) else (entry.value.si, *entry.value.band)
        assert all(math.isfinite(number) for number in numbers), entry.key


def test_left_and_right_fronts_have_the_usual_values_of_their_side():
    front = Car.from_text(SMALL_CAR + '[front.short.LF]\ncoil_ratio = "0.7"\n').front.short_form
    assert front.LF.camber_gain.text == "-0.9 deg/in"
    assert front.RF.camber_gain.text == "-1.1 deg/in"


def test_the_racers_own_typical_keeps_the_spread_of_its_field():
    text = SMALL_CAR + '[chassis]\ntwist_rate = { value = "6000 lb-ft/deg", from = "typical" }\n'
    twist = Car.from_text(text).chassis.twist_rate
    assert twist.give_or_take == pytest.approx(parse("6000 lb-ft/deg", KINDS["twist_rate"]))


def test_stations_have_defaults():
    entry, middle, leave = STATIONS
    assert entry.along.si < middle.along.si < leave.along.si
    assert (entry.bank_change.si, middle.bank_change.si, leave.bank_change.si) == (1, 0, -1)


def test_a_tire_brings_its_heat_and_a_racer_writes_only_what_he_knows():
    setup = load_setup(DEMO / "setup_conventional.toml").changed({"RF.tire.heat.best": "205 F"})
    assert setup.RF.tire.heat.best.known
    assert not setup.LF.tire.heat.best.known
    assert setup.RF.tire.heat.wear.lognormal
    assert "RF.tire.heat.window" in setup.left_out()


def test_an_evening_cools_in_the_order_it_is_written():
    text = '[[later]]\nafter = "20 min"\nsurface = "95 F"\n[[later]]\nafter = "{}"\nair = "66 F"\n'
    later = Conditions.from_text(text.format("1 h")).later
    assert [entry.after.si for entry in later] == pytest.approx([1200.0, 3600.0])
    assert later[0].air is None
    with pytest.raises(DocumentError, match="the times do not rise"):
        Conditions.from_text(text.format("5 min"))


def test_pads_are_written_from_cold_to_hot():
    pads = '[[brakes.pads]]\ntemperature = "{} F"\nfriction = "0.5"\n'
    assert len(Car.from_text(SMALL_CAR + pads.format(900)).brakes.pads) == 1
    with pytest.raises(DocumentError, match="the pad temperatures do not rise"):
        Car.from_text(SMALL_CAR + pads.format(900) + pads.format(300))


# --- one setup like another


def test_a_setup_takes_from_another_what_it_does_not_say(tmp_path):
    base = load_setup(DEMO / "setup_conventional.toml")
    soft = load_setup(DEMO / "setup_soft_front.toml")
    assert soft.RR.tire.tire == base.RR.tire.tire
    assert soft.RR.tire.cold.text == "19 psi"
    assert soft.final_drive == base.final_drive


def test_a_part_of_the_rack_brings_its_own_numbers(tmp_path):
    (tmp_path / "base.toml").write_text((DEMO / "setup_conventional.toml").read_text("utf-8"), "utf-8")
    text = 'like = "base.toml"\n[LR]\ncoil = { rate = "200 lb/in", free_length = "13 in" }\n'
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    coil = load_setup(tmp_path / "mine.toml").LR.coil
    assert (coil.spring, coil.rate.text) == (None, "200 lb/in")
    (tmp_path / "next.toml").write_text('like = "mine.toml"\n[LR.coil]\nspring = "B07"\n', "utf-8")
    coil = load_setup(tmp_path / "next.toml").LR.coil
    assert (coil.spring, coil.rate, coil.free_length) == ("B07", None, None)


def test_the_files_of_a_base_are_found_from_its_folder(tmp_path):
    text = f'like = "{(DEMO / "setup_conventional.toml").as_posix()}"\nname = "mine"\n'
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    assert assemble(tmp_path / "mine.toml").setup.LF.coil.rate.evidence == "measured"


# --- changing and saving


def test_what_was_typed_survives_a_change():
    typed = (DEMO / "setup_soft_front.toml").read_text("utf-8")
    setup = load_setup(DEMO / "setup_soft_front.toml").changed({"RF.stop.gap": "2 in"})
    assert setup.RF.stop.gap.si == pytest.approx(2 * 0.0254)
    assert setup.text == typed.replace('gap = "1 7/8 in"', 'gap = "2 in"')


def test_a_typed_rate_takes_the_spring_off_the_rack():
    setup = load_setup(DEMO / "setup_conventional.toml").changed({"LR.coil.rate": "200 lb/in"})
    assert (setup.LR.coil.spring, setup.LR.coil.rate.text) == (None, "200 lb/in")
    assert assemble(setup).setup.LR.coil.rate.text == "200 lb/in"


def test_inherited_lists_and_new_tables_can_be_changed():
    setup = load_setup(DEMO / "setup_giant_bar.toml")
    changed = setup.changed(
        {"lead[2].mass": "40 lb", "link_shift.left_arm.frame_up": "1 in", "RR.coil": "none"}
    )
    assert [piece.mass.text for piece in changed.lead[:2]] == ["49.5 lb", "40 lb"]
    assert changed.link_shift["left_arm"].frame_up.si == pytest.approx(0.0254)
    assert changed.RR.coil is None
    assert setup.RR.coil is not None


@pytest.mark.parametrize("key", ["lead[99].mass", "RR.coil.rate.x", "", "LF.camber.0.x", "nothing_like_it"])
def test_a_key_that_cannot_be_changed_is_told(key):
    with pytest.raises(DocumentError) as told:
        load_setup(DEMO / "setup_conventional.toml").changed({key: "3 lb"})
    assert str(told.value).startswith("setup_conventional.toml")


def test_saved_and_loaded_it_is_the_same(tmp_path):
    for name in FILES:
        document = load(kind_of_file(name), DEMO / name)
        if "like" not in tomllib.loads(document.text):
            assert (
                load(kind_of_file(name), document.save(tmp_path / name)).model_dump() == document.model_dump()
            )


def test_a_document_made_in_python_can_be_saved_and_read_again(tmp_path):
    wheel = {"camber": "3 deg", "coil": "none", "tire": {"roll_out": "85 in", "cold": "12 psi"}}
    rear = {key: value for key, value in wheel.items() if key != "camber"}
    setup = Setup.model_validate({"LF": wheel, "RF": wheel, "LR": rear, "RR": rear, "bar": "none"})
    again = load_setup(setup.save(tmp_path / "made.toml"))
    assert again.model_dump() == setup.model_dump()


def test_a_failed_save_leaves_the_old_file(tmp_path):
    car = Car.from_text(SMALL_CAR)
    with pytest.raises(DocumentError, match="cannot be written"):
        car.save(tmp_path / "no such folder" / "car.toml")


values = st.fractions(1, 400, max_denominator=16)


@given(value=values, corner=st.sampled_from(CORNERS))
def test_any_rate_typed_is_kept_as_typed(value, corner):
    whole, part = divmod(value, 1)
    text = f"{whole} {part} lb/in" if part else f"{whole} lb/in"
    setup = load_setup(DEMO / "setup_conventional.toml").changed({f"{corner}.coil.rate": text})
    rate = getattr(setup, corner).coil.rate
    assert rate.text == text
    assert rate.si == pytest.approx(float(value) * parse("1 lb/in", KINDS["spring_rate"]))


def test_line_ends_and_comments_stay_as_they_were_typed(tmp_path):
    path = tmp_path / "car.toml"
    path.write_bytes(b'# my car \r\n[fuel_cell]  # cell\r\ncapacity = "22 gal"\r\n')
    changed = load_car(path).changed({"fuel_cell.capacity": "21 gal"})
    changed.save(path)
    assert path.read_bytes() == b'# my car \r\n[fuel_cell]  # cell\r\ncapacity = "21 gal"\r\n'


numbers = st.integers(1, 400).map(str)
rates = st.sampled_from(CORNERS).map("{}.coil.rate".format)
coils = st.sampled_from(["none", {"spring": "B07"}, {"rate": "90 lb/in", "gap": "1 in"}])
edits = st.one_of(
    st.tuples(rates, numbers.map("{} lb/in".format)),
    st.tuples(st.just("bar.diameter"), st.sampled_from(["1 in", "1 1/2 in"])),
    st.tuples(st.just("bar"), st.just("none")),
    st.tuples(
        st.just("RR.coil"), st.sampled_from(["none", {"spring": "B07"}, {"rate": "90 lb/in", "gap": "1 in"}])
    ),
    st.tuples(st.sampled_from(["lead[1].mass", "lead[4].mass"]), numbers.map("{} lb".format)),
    st.tuples(st.just("link_shift.third_link.axle_up"), st.just("-1/2 in")),
    st.tuples(st.just("notes"), st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]))),
)


@given(name=st.sampled_from(SETUPS), changes=st.lists(edits, max_size=5))
def test_the_text_of_a_changed_setup_reads_as_that_setup(name, changes):
    setup = load_setup(DEMO / name)
    for key, value in changes:
        try:
            setup = setup.changed({key: value})
        except DocumentError:
            continue
    assert Setup.from_text(setup.text, name=name, folder=DEMO).model_dump() == setup.model_dump()


# --- unlikely, computed with a warning


@pytest.mark.parametrize(
    ("kind", "text", "part"),
    [
        ("car", SMALL_CAR + '[rear.short]\nstands_for = "leaf springs"\n', "equivalent four-link"),
        (
            "track",
            'turns = "right"\nlength = "0.5 mi"\n[[ends]]\nradius = "200 ft"\nbank = "9 deg"\n',
            "right-hand",
        ),
        ("rack", 'name = "bare"\n', "the rack is empty"),
        ("rack", '[[springs]]\nid = "1"\ntag = "2,250 lb/in"\n', "2,250 lb/in is outside the usual"),
        ("car", 'wheelbase = "80 in"\n' + SMALL_CAR, "outside the usual 90 to 125 in"),
    ],
)
def test_the_unlikely_is_computed_with_a_warning(kind, text, part):
    document = KINDS_OF_DOCUMENT[kind].from_text(text, name="mine.toml")
    assert len(document.warnings) == 1
    assert part in document.warnings[0]
    assert document.warnings[0].startswith("mine.toml")


# --- schema and new


@pytest.mark.parametrize("kind", sorted(KINDS_OF_DOCUMENT))
def test_the_schema_names_every_key_an_editor_should_offer(kind):
    schema = json_schema(kind)
    definitions = [schema, *schema.get("$defs", {}).values()]
    assert all(d.get("additionalProperties") is False for d in definitions if "properties" in d)
    assert set(KINDS_OF_DOCUMENT[kind].model_fields) <= set(schema["properties"])
    for name in (file for file in FILES if kind_of_file(file) == kind):
        assert set(tomllib.loads((DEMO / name).read_text("utf-8"))) <= set(schema["properties"])


def test_the_schema_shows_the_typical_value_as_it_would_be_written():
    wheelbase = json_schema("car")["properties"]["wheelbase"]
    assert (wheelbase["default"], wheelbase["examples"]) == ("105 in", ["105 in"])
    assert json_schema("car")["$defs"]["Driver"]["properties"]["place"]["default"] == "-62, 14, 15 in"


def test_ten_answers_make_a_whole_car(tmp_path):
    assert len(QUESTIONS) == 10
    paths = write_new(tmp_path / "my car", EXAMPLES)
    assert sorted(path.name for path in paths) == [
        "car.toml",
        "rack.toml",
        "setup.toml",
        "sheet.toml",
        "track.toml",
    ]
    joined = assemble(tmp_path / "my car" / "setup.toml")
    assert joined.warnings == ()
    assert joined.sheet.LR.weight.text == "844 lb"
    assert joined.setup.RF.coil.rate.text == "325 lb/in"
    assert "chassis.twist_rate" in joined.car.left_out()


def test_every_commented_typical_value_can_be_uncommented():
    text = new_car(EXAMPLES)["car.toml"]
    lines = [
        line.removeprefix("# ") if line.startswith("# ") and " = " in line else line
        for line in text.split("\n")
    ]
    written = Car.from_text("\n".join(lines))
    typical = Car.from_text(text)
    assert [(e.key, e.value.si) for e in written.entries()] == [
        (e.key, e.value.si) for e in typical.entries()
    ]
    points = ("engine.curve[", "brakes.pads[")
    assert all(key.startswith(points) for key in written.left_out())
    assert len(typical.left_out()) > len(written.left_out()) + 25


def test_new_replaces_nothing(tmp_path):
    write_new(tmp_path, EXAMPLES)
    before = (tmp_path / "car.toml").read_text("utf-8")
    with pytest.raises(DocumentError, match="is there already"):
        write_new(tmp_path, EXAMPLES | {"name": "Another"})
    assert (tmp_path / "car.toml").read_text("utf-8") == before


@pytest.mark.parametrize(
    ("key", "answer", "part"),
    [
        ("size", "105, 65 in", "3 values are needed"),
        ("axle", "torsion", "write one of three-link"),
        ("size", "105 65 in", "a space or a comma between them"),
        ("driver", "195 in", "write a weight"),
        ("driver", "heavy", "does not start with a number"),
        ("track", "long mile, 12 deg", "write such as 0.375 mi, 12 deg"),
        ("weights", "776, 646, 844, 566 in", "write a weight"),
        ("track", "12 deg, 0.375 mi", "write a length"),
        ("bar", "thick", "does not start with a number"),
    ],
)
def test_a_wrong_answer_is_told_by_its_question(key, answer, part):
    with pytest.raises(DocumentError) as told:
        new_car(EXAMPLES | {key: answer})
    assert str(told.value).startswith(f"{key}: ")
    assert part in str(told.value)


@pytest.mark.parametrize(
    ("key", "answer", "read"),
    [
        ("driver", "185", "185 lb"),
        ("bar", "1 1/4", "1 1/4 in"),
        ("weights", "760 690 830 620", "760 lb, 690 lb, 830 lb, 620 lb"),
        ("weights", "760,690, 830 620", "760 lb, 690 lb, 830 lb, 620 lb"),
        ("weights", "350 kg 340 360 330", "350 kg, 340 kg, 360 kg, 330 kg"),
        ("tires", "84 1/2 86 3/4 85 1/4 87 1/2", "84 1/2 in, 86 3/4 in, 85 1/4 in, 87 1/2 in"),
        ("springs", "300 325 200 225 lb / in", "300 lb/in, 325 lb/in, 200 lb/in, 225 lb/in"),
        ("track", "3/8 mile 14", "3/8 mile, 14 deg"),
        ("track", "0.375, 12 deg", "0.375 mi, 12 deg"),
        ("track", "600 m -1", "600 m, -1 deg"),
        ("driver", "195 lb", ""),
        ("axle", "3 link", ""),
    ],
)
def test_a_bare_number_takes_the_usual_unit_and_it_is_told(key, answer, read):
    question = next(one for one in QUESTIONS if one.key == key)
    assert understood(question, answer) == read
    assert new_car(EXAMPLES | {key: answer}) == new_car(EXAMPLES | {key: read or answer})


@pytest.mark.parametrize("answer", ["three link", "Three-Link", " THREE  LINK ", "3 link", "3-links"])
def test_the_rear_axle_is_known_however_it_is_written(answer):
    assert 'stands_for = "three-link"' in new_car(EXAMPLES | {"axle": answer})["car.toml"]


def test_the_lead_that_a_new_rack_shows_can_be_written():
    text = new_car(EXAMPLES)["rack.toml"]
    pieces = '[[lead]]\nid = "25"\nmass = "25 lb"\ncount = 4\n'
    spots = '[[lead_spots]]\nid = "left rail"\nx = "-50 in"\ny = "26 in"\nz = "7 in"\nmost = "100 lb"\n'
    for line in (*pieces.splitlines(), *spots.splitlines()):
        assert line in text
    rack = Rack.from_text(text + pieces + spots)
    assert (rack.lead[0].count, rack.lead_spots[0].id) == (4, "left rail")


@pytest.mark.parametrize(
    "change", [{"bar": "none"}, {"springs": "300, 325, 500, 0 lb/in"}, {"name": 'x"]\n[evil'}]
)
def test_unusual_answers_make_a_car_too(change):
    texts = new_car(EXAMPLES | change)
    setup = Setup.from_text(texts["setup.toml"])
    assert (setup.bar is None) == ("bar" in change)
    assert (setup.RR.coil is None) == ("springs" in change)


@given(name=st.text(max_size=40), weights=st.tuples(*[st.integers(50, 2000)] * 4))
def test_any_name_and_weights_make_a_car(name, weights):
    texts = new_car(EXAMPLES | {"name": name, "weights": ", ".join(map(str, weights)) + " lb"})
    assert Car.from_text(texts["car.toml"]).name
