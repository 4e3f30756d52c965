"""What is wrong in a file is told in one sentence: file, line, key, what is wrong, what would be right."""

from __future__ import annotations

import os

import pytest
from fuzz_documents import DEMO, at_most, kind_of_file, read_or_told, told
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.documents import KINDS_OF_DOCUMENT, Car, DocumentError, assemble, load, load_car, load_setup

CAR = (DEMO / "car.toml").read_text("utf-8")
SETUP = (DEMO / "setup_conventional.toml").read_text("utf-8")
TRACK = (DEMO / "track_three_eighths.toml").read_text("utf-8")
RULES = (DEMO / "rules_weekly.toml").read_text("utf-8")


@pytest.mark.parametrize(
    ("kind", "text", "old", "new", "sentence"),
    [
        (
            "car",
            CAR,
            'wheelbase = "105 1/4 in"',
            "wheelbase = 105.25",
            'car.toml line 5, wheelbase: "105.25": no unit is given; write a length such as "105 in".',
        ),
        (
            "car",
            CAR,
            'wheelbase = "105 1/4 in"',
            'wheelbasse = "105 1/4 in"',
            "car.toml line 5, wheelbasse: this key is not known here; write wheelbase.",
        ),
        (
            "car",
            CAR,
            'wheelbase = "105 1/4 in"',
            'wheelbase = "105 1/4 lb"',
            'car.toml line 5, wheelbase: "105 1/4 lb": lb is a weight or a force; write a length such '
            'as "105 in".',
        ),
        (
            "car",
            CAR,
            'LF = "97 lb"',
            'LF = "ninety lb"',
            'car.toml line 74, unsprung.LF: "ninety lb" does not start with a number; write a weight '
            'such as "195 lb".',
        ),
        (
            "car",
            CAR,
            'LF = "97 lb"',
            "LF = nan",
            'car.toml line 74, unsprung.LF: nan is not a finite number; write a weight such as "195 lb".',
        ),
        (
            "car",
            CAR,
            '[fuel_cell]\ncapacity = "22 gal"',
            "[fuel_cell]",
            "car.toml line 87, fuel_cell: capacity is missing (how much it holds); write capacity = "
            '"22 gal".',
        ),
        (
            "car",
            CAR,
            'lower_ball_joint = "0.30, 26.90, 7.05 in"\n',
            "",
            "car.toml line 16, front.points.LF: lower_ball_joint is missing; write lower_ball_joint = "
            '"x, y, z in".',
        ),
        (
            "car",
            CAR,
            '{ speed = "2800 rpm"',
            '{ speed = "1800 rpm"',
            "car.toml line 100, engine.curve: the engine speeds do not rise; write the points from "
            "slow to fast.",
        ),
        (
            "car",
            CAR,
            'half = "front"',
            'half = "frunt"',
            'car.toml line 123, frame_points[1].half: "frunt" is not known here; write front.',
        ),
        (
            "setup",
            SETUP,
            'coil = { spring = "F11" }',
            "coil = { }",
            'setup.toml line 14, LF.coil: the coil has neither rate nor spring; write rate = "225 lb/in", '
            'or coil = "none".',
        ),
        (
            "setup",
            SETUP,
            'id = "L50-2"',
            'id = "L50-1"',
            'setup.toml: two pieces of lead are called "L50-1"; give each its own id.',
        ),
        (
            "setup",
            SETUP,
            "[bar]\n",
            '[bar]\ndiameter = "1 in"\nbore = "1 1/8 in"\n',
            "setup.toml line 34, bar: bore is not below diameter; a hollow bar needs a wall.",
        ),
        (
            "track",
            TRACK,
            'bank = "12 deg"',
            'bank = "12 %"',
            'track.toml line 13, ends[1].bank: "12 %": % is a plain number; write an angle such as "12 deg".',
        ),
        (
            "track",
            TRACK,
            'document = "track"',
            'document = "rack"',
            "track.toml line 2, document: this file says it is a rack; a track is wanted here.",
        ),
        (
            "track",
            TRACK,
            'length = "0.375 mi"',
            'length = "0.375 mi',
            "track.toml line 4: 'length = \"0.375 mi' cannot be read (a quote is missing or a "
            "character is no text); "
            'write key = "value with its unit".',
        ),
        (
            "track",
            TRACK,
            "[[ends]]\n",
            '[[ends]]\nname = "first"\n',
            "track.toml line 12: 'name = \"turns 1 and 2\"' cannot be read (this key is written twice); "
            "keep one of them.",
        ),
        (
            "rules",
            RULES,
            'value = "57.5 %"',
            'value = "57.5 lb"',
            'rules.toml line 20, limits[2].value: "57.5 lb": lb is a weight or a force; '
            'write a plain number such as "66 %".',
        ),
        (
            "rules",
            RULES,
            'of = "left_percent"',
            'of = "left_pct"',
            'rules.toml line 18, limits[2].of: "left_pct" is not known here; write left_percent or '
            "left_weight.",
        ),
    ],
)
def test_one_sentence(kind, text, old, new, sentence):
    assert old in text
    with pytest.raises(DocumentError) as problem:
        KINDS_OF_DOCUMENT[kind].from_text(text.replace(old, new, 1), name=f"{kind}.toml", folder=DEMO)
    assert str(problem.value) == sentence


def test_a_car_without_a_fuel_cell():
    with pytest.raises(DocumentError) as problem:
        Car.from_text('name = "no cell"\n', name="car.toml")
    assert (
        str(problem.value)
        == "car.toml: the table fuel_cell is missing; write [fuel_cell] and its keys below."
    )


def test_a_mistake_in_a_base_is_told_with_the_file_it_stands_in(tmp_path):
    (tmp_path / "base.toml").write_text(SETUP.replace('camber = "4.25 deg"', 'camber = "4.25 in"'), "utf-8")
    (tmp_path / "mine.toml").write_text('like = "base.toml"\n[LF]\njack_bolt = "1/8 in"\n', "utf-8")
    with pytest.raises(DocumentError) as problem:
        load_setup(tmp_path / "mine.toml")
    assert str(problem.value).startswith("base.toml line 13, LF.camber: ")


def test_setups_that_are_like_each_other_in_a_circle(tmp_path):
    for name, other in (("a", "b"), ("b", "c"), ("c", "a")):
        (tmp_path / f"{name}.toml").write_text(f'like = "{other}.toml"\n', "utf-8")
    with pytest.raises(DocumentError) as problem:
        load_setup(tmp_path / "a.toml")
    assert str(problem.value) == (
        "c.toml line 1, like: goes in a circle (a.toml -> b.toml -> c.toml -> a.toml); "
        "name a file that does not lead back here."
    )


def test_like_itself_and_like_nothing(tmp_path):
    (tmp_path / "a.toml").write_text('like = "a.toml"\n', "utf-8")
    (tmp_path / "b.toml").write_text('name = "b"\nlike = "gone.toml"\n', "utf-8")
    with pytest.raises(DocumentError, match="goes in a circle"):
        load_setup(tmp_path / "a.toml")
    with pytest.raises(DocumentError, match=r"b\.toml line 2, like: .*gone\.toml: is not there"):
        load_setup(tmp_path / "b.toml")


def test_a_tire_wider_than_the_tread():
    setup = load_setup(DEMO / "setup_conventional.toml").changed({"LR.tire.width": "70 in"})
    with pytest.raises(DocumentError) as problem:
        assemble(setup)
    assert str(problem.value) == (
        "setup_conventional.toml line 27, LR.tire.width: 70 in is wider than the tread of 65 in; "
        'write the tread width of one tire such as "10 in".'
    )


def test_a_spring_that_is_not_on_the_rack():
    setup = load_setup(DEMO / "setup_conventional.toml").changed({"RR.coil.spring": "B112"})
    with pytest.raises(DocumentError) as problem:
        assemble(setup)
    assert str(problem.value) == (
        'setup_conventional.toml line 30, RR.coil.spring: "B112" is not on the rack; did you mean B12 or B11.'
    )


def test_more_fuel_than_the_cell_holds():
    with pytest.raises(
        DocumentError, match=r"sheet_.*line 7, fuel: 31 gal is more than the cell holds \(22 gal\)"
    ):
        joined = assemble(DEMO / "setup_conventional.toml")
        assemble(joined.setup, sheet=joined.sheet.changed({"fuel": "31 gal"}))


def test_a_setup_without_a_sheet():
    setup = load_setup(DEMO / "setup_conventional.toml")
    text = setup.text.replace('sheet = "sheet_conventional.toml"\n', "")
    with pytest.raises(DocumentError) as problem:
        assemble(type(setup).from_text(text, name="mine.toml", folder=DEMO))
    assert str(problem.value) == 'mine.toml, sheet: is missing; write sheet = "sheet.toml".'


# --- files that are no documents


def test_a_file_of_two_gigabytes(tmp_path):
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(2 * 1024**3)
    with at_most(2.0), pytest.raises(DocumentError, match=r"huge\.toml: is larger than 500 kB"):
        load_car(huge)


def test_files_that_cannot_be_read(tmp_path):
    binary = tmp_path / "picture.toml"
    binary.write_bytes(b'name = "x"\n\xff\xfe\x00')
    for path, part in (
        (tmp_path, "is a folder"),
        (tmp_path / "gone.toml", "is not there"),
        (tmp_path / "nul\0.toml", "cannot be|is not there|is no file"),
        (tmp_path / ("long" * 200), "cannot be read|is not there"),
        (binary, "line 2: holds bytes that are no UTF-8"),
    ):
        with pytest.raises(DocumentError, match=part):
            load_car(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a named pipe")
def test_a_pipe_is_no_file(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(DocumentError, match="is no file"):
        load_car(tmp_path / "pipe.toml")


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 5000,
        "a = " + "{x=" * 5000,
        ".".join("a" * 5000) + " = 1",
        ("." + ".".join("a" * 2000) + " = 1\n") * 40,
        "[" + ".".join("a" * 5000) + "]",
        "x = " + "9" * 100_000,
        "x = '''" + "\n" * 400_000,
        "[[lead]]\n" * 55_000,
        "a = [" + "1," * 240_000 + "]",
        "# " + "x" * 499_000,
        'name = "' + "x" * 499_000 + '"',
        "".join(f"k{i} = 1\n" for i in range(45_000)),
        "x = 1\n" * 200_000,
    ],
    ids=range(13),
)
def test_texts_made_to_choke_a_reader(text):
    for kind in ("car", "setup"):
        assert read_or_told(kind, text)


def test_the_file_is_never_touched(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text(CAR.replace('"105 1/4 in"', '"105 lb"') + "\r\n# odd  spacing\t\n", "utf-8", newline="")
    before, when = path.read_bytes(), path.stat().st_mtime_ns
    with pytest.raises(DocumentError):
        load_car(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == (before, when)
    assert [item.name for item in tmp_path.iterdir()] == ["car.toml"]


def test_lines_are_found_in_tables_lists_and_inline_tables():
    text = CAR.replace('torque = "403 lb-ft"', 'torque = "403 lb"')
    line = text.split("\n").index('    { speed = "4400 rpm", torque = "403 lb" },') + 1
    with pytest.raises(DocumentError) as problem:
        Car.from_text(text, name="car.toml")
    assert str(problem.value).startswith(f"car.toml line {line}, engine.curve[4].torque: ")


# --- any text at all


@given(text=st.text(max_size=400), kind=st.sampled_from(sorted(KINDS_OF_DOCUMENT)))
def test_any_text_is_read_or_told(text, kind):
    read_or_told(kind, text)


json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=3),
    max_leaves=8,
)


@given(data=st.data(), name=st.sampled_from(sorted(path.name for path in DEMO.glob("*.toml"))), value=json)
def test_any_value_under_any_key_is_read_or_told(data, name, value):
    document = load(kind_of_file(name), DEMO / name)
    keys = [entry.key for entry in document.entries()] + list(type(document).model_fields)
    key = data.draw(st.sampled_from(keys))
    try:
        document.changed({key: value})
    except DocumentError as problem:
        assert str(problem).isprintable()


def test_two_thousand_accidents():
    refused, read = told(seed=2, count=2000)
    assert refused > 1000
    assert read > 100


@pytest.mark.proof
def test_fifty_thousand_accidents():
    refused, read = told(seed=50, count=50_000)
    assert refused > 25_000
    assert read > 2_500


def test_a_mistake_in_the_only_end_is_told_before_the_end_that_is_then_missing():
    text = 'document = "track"\nlength = "1/2 mi"\n\n[[ends]]\nradius = "223 ft"\nbank = "10 lb"\n'
    with pytest.raises(DocumentError) as told_so:
        KINDS_OF_DOCUMENT["track"].from_text(text, name="track.toml")
    assert str(told_so.value).startswith('track.toml line 6, ends[1].bank: "10 lb": lb is a weight')
