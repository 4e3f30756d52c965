"""The command line: every command answers, and what is wrong is one sentence, never a traceback."""

import json
import math
import re
import shlex
import subprocess

import pytest
from asked import ask, good, refused, told

from ovalwright.cli import story, story_race
from ovalwright.documents import assemble, load_setup
from ovalwright.pack import build
from ovalwright.pictures.terminal import BAR, car_with_loads
from ovalwright.study.weigh import CornerWeights

NEW = [
    *("--name", "Blue", "--axle", "three-link", "--size", "105, 65, 65 in"),
    *("--weights", "776, 646, 844, 566 lb", "--fuel", "18, 22 gal", "--driver", "195 lb"),
    *("--springs", "300, 325, 200, 225 lb/in", "--bar", "1 1/8 in"),
    *("--tires", "84 1/2, 86 3/4, 85 1/4, 87 1/2 in", "--track", "0.375 mi, 12 deg"),
]


ANSWERS = [
    ["weigh", "sheet_conventional.toml"],
    ["weigh", "sheet_conventional.toml", "--pad", "RR=1/8in"],
    ["rounds", "setup_conventional.toml", "--cross", "54 %"],
    ["lead", "setup_conventional.toml", "rules_weekly.toml", "--flag", "state_flag.toml"],
    ["lead", "setup_conventional.toml", "rules_weekly.toml", "--move", "L50-1=nose left"],
    ["legal", "setup_conventional.toml", "rules_weekly.toml", "rules_touring.toml"],
    ["turn", "setup_hanging_rr.toml", "track_three_eighths.toml", "--more"],
    ["turn", "setup_no_rr.toml", "track_steep_half.toml", "--fuel", "8gal"],
    ["turn", "setup_conventional.toml", "track_flat_quarter.toml", "--state", "state_flag.toml"],
    ["limit", "setup_giant_bar.toml", "track_flat_quarter.toml"],
    ["pulldown", "setup_soft_front.toml", "track_three_eighths.toml"],
    ["stagger", "setup_conventional.toml", "track_three_eighths.toml"],
    [
        "compare",
        "setup_conventional.toml",
        "setup_giant_bar.toml",
        "track_three_eighths.toml",
        "--draws",
        "0",
    ],
    ["hot", "--wanted", "29 psi", "--cold", "20 psi", "--reached", "30 psi"],
    ["check", "car.toml", "rack.toml", "setup_giant_bar.toml"],
]


@pytest.mark.parametrize("words", ANSWERS, ids=" ".join)
def test_answers_fit_eighty_columns_and_hold_no_silent_nan(folder, words):
    assert max(len(line) for line in good(*words).splitlines()) <= 80


@pytest.mark.parametrize("words", [words for words in ANSWERS if words[0] != "check"], ids=" ".join)
def test_json_is_json_without_nan_and_states_its_units(folder, words):
    answer = told(*words)
    assert answer["units"].startswith("SI")
    assert answer["axes"].startswith("ISO 8855")


@pytest.mark.parametrize("words", [["weigh", "sheet_conventional.toml"], ANSWERS[6]], ids=" ".join)
def test_si_on_request_shows_no_pounds(folder, words):
    text = good(*words, "--si")
    assert not re.search(r"\d (lb|in|mph|psi)\b", text)
    assert re.search(r"\d (kg|N|mm)\b", text)


def test_help_names_every_command():
    text = good("--help")
    for name in (
        "new",
        "demo",
        "vary",
        "weigh",
        "lead",
        "rounds",
        "turn",
        "compare",
        "effects",
        "sure",
        "legal",
    ):
        assert re.search(rf"^  {name} ", text, re.MULTILINE)


def test_help_tells_each_command_in_one_whole_line():
    assert "..." not in good("--help").partition("Commands:")[2]


def test_weigh_says_what_the_sheet_says(folder):
    text = good("weigh", "sheet_conventional.toml")
    weights = CornerWeights(LF=776, RF=646, LR=844, RR=566)
    assert f"{100 * weights.get('cross_percent'):.1f} +/-" in text
    assert "278.0 +/-" in text


def test_weigh_says_how_the_car_stands_since_bolts_were_turned(folder):
    assert "rounds since" not in good("weigh", "sheet_conventional.toml")
    setup = folder / "setup_conventional.toml"
    load_setup(setup).changed({"LR.turned": "1/2 round"}).save(setup)
    text = good("weigh", "sheet_conventional.toml")
    (row,) = [line.split() for line in text.splitlines() if line.startswith("rounds since")]
    assert row[2:] == ["-", "-", "1/2", "-"]
    assert "LR: counted from +1/2 round" in good("rounds", "setup_conventional.toml", "--cross", "53 %")
    turned = build(assemble(setup)).weighed.corners()["load"]
    assert f"Cross now {100 * (turned[1] + turned[2]) / turned.sum():.1f} %" in text


def test_weigh_finds_corners_that_do_not_sum(folder):
    sheet = folder / "sheet_conventional.toml"
    sheet.write_text(sheet.read_text().replace('total = "2832 lb"', 'total = "2861 lb"'))
    assert "Fault: The four corners sum to 2,832.0 lb but the scale shows 2,861.0 lb" in good("weigh", sheet)


def test_the_json_of_a_turn_is_the_solved_state(folder):
    answer = told("turn", "setup_conventional.toml", "track_three_eighths.toml")
    tank = answer["answer"]["tanks"][0]
    middle = next(place for place in tank["places"] if place["name"] == "middle")
    state = middle["carried"]["contract"]
    assert state["status"] == "solved"
    assert state["residual_norm"] < 1e-8
    assert set(state["pose"]) == set(answer["meaning"]["pose"])
    assert set(state["motion"]) == set(answer["meaning"]["motion"])
    loads = [state["corners"][corner]["load"] for corner in ("LF", "RF", "LR", "RR")]
    assert loads == pytest.approx(list(middle["carried"]["loads"]["corners"].values()))
    described = set(answer["meaning"]["corners"])
    assert set(state["corners"]["LF"]) <= described


def test_the_side_forces_of_the_json_hold_the_car_on_its_path(folder):
    """Newton's second law from outside: the tires bring mass x lateral acceleration, drag apart."""
    answer = told("turn", "setup_conventional.toml", "track_flat_quarter.toml")
    middle = answer["answer"]["tanks"][0]["places"][1]
    state = middle["carried"]["contract"]
    corners, slip = state["corners"].values(), state["pose"]["side_slip"]
    sideways = sum(c["force_y"] for c in corners) * math.cos(slip) - sum(
        c["force_x"] for c in corners
    ) * math.sin(slip)
    mass = float(build(assemble(folder / "setup_conventional.toml"), fuel=tank_fuel(answer)).record["weight"])
    assert sideways == pytest.approx(mass / 9.80665 * middle["lateral"], rel=0.02)


def tank_fuel(answer):
    return answer["answer"]["tanks"][0]["fuel"]


def test_turn_at_a_speed_out_of_reach_gives_a_reason_and_no_numbers(folder):
    text = good("turn", "setup_conventional.toml", "track_flat_quarter.toml", "--speed", "middle=150 mph")
    assert re.search(r"! middle: no steady state at 150.0 mph: .*(tires|power|limit)", text)


def test_a_missing_coil_is_an_answer(folder):
    assert "no coil" in good("turn", "setup_no_rr.toml", "track_steep_half.toml")


def test_two_books_are_held_apart(folder):
    text = good("legal", "setup_conventional.toml", "rules_weekly.toml", "rules_touring.toml")
    assert text.index("Weekly book") < text.index("bump stops allowed") < text.index("Touring book")
    assert "bump stops not allowed" in text


def test_a_book_that_cannot_be_kept_says_which_rule(folder):
    book = folder / "rules_weekly.toml"
    book.write_text(book.read_text().replace('value = "57.5 %"', 'value = "41 %"'))
    text = good("lead", "setup_conventional.toml", book)
    assert "Cannot be kept: left percent at most 41.00 %" in text


def test_a_wanted_percent_is_told_beside_what_the_plan_makes_and_what_capped_it(folder):
    words = [
        "lead",
        "setup_conventional.toml",
        "rules_weekly.toml",
        "--aim",
        "percents",
        "--want",
        "left=57%",
    ]
    told = " ".join(good(*words).split())
    assert "Wanted at the start: left percent 57.0 %; this plan makes 5" in told
    assert "--most 200lb allows more" in told
    assert "--most 200lb allows more" not in good(*words, "--most", "300 lb")


def test_a_sheet_with_an_unlikely_weight_is_not_called_free_of_fault(folder):
    sheet = folder / "sheet_conventional.toml"
    assert "No fault seen" in good("weigh", sheet)
    sheet.write_text(sheet.read_text().replace('"776 lb"', '"7760 lb"').replace('total = "2832 lb"\n', ""))
    text = good("weigh", sheet)
    assert "No fault seen" not in text
    assert "outside the usual" in text


def test_no_change_has_no_sign(folder):
    words = ["setup_conventional.toml", "setup_conventional.toml", "track_three_eighths.toml"]
    text = good("compare", *words, "--draws", "0")
    assert not re.search(r"[+-]0\.0 %", text)


# ---------------- new, demo, schema


def test_new_writes_files_that_answer_at_once(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = good("new", "my car", *NEW)
    assert 'ovalwright weigh "my car/sheet.toml"' in text.replace("\\", "/")
    assert '"LR.coil.rate=225 lb/in"' in text
    assert "52.6 +/-" in good("weigh", "my car/sheet.toml")
    assert "cross" in good("turn", "my car/setup.toml", "my car/track.toml")


def test_new_asks_ten_questions_and_asks_again_after_a_bad_answer(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    answers = [text for text in NEW if not text.startswith("--")]
    typed = ["Blue", "swing axle", "", *answers[1:7], "none", *answers[8:]]
    result = ask("new", "car", answers="\n".join(typed) + "\n")
    assert result.exit_code == 0, result.stderr
    assert '"swing axle" is not known here' in result.stderr
    assert (tmp_path / "car" / "setup.toml").read_text().count('bar = "none"') == 1


def test_vary_writes_a_copy_that_compares(folder):
    before = (folder / "setup_conventional.toml").read_bytes()
    good("vary", "setup_conventional.toml", "stiffer", "LR.coil.rate=225 lb/in")
    assert 'rate = "225 lb/in"' in (folder / "stiffer.toml").read_text()
    assert (folder / "setup_conventional.toml").read_bytes() == before
    words = ["setup_conventional.toml", "stiffer.toml", "track_three_eighths.toml", "--draws", "0"]
    text = good("compare", *words)
    assert "As bolted in" in text
    assert "Re-set" in text
    assert "is there already" in refused(
        "vary", "setup_conventional.toml", "stiffer", "LR.coil.rate=225 lb/in"
    )


def test_new_stopped_half_way_writes_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = ask("new", "car", answers="Blue\nthree-link\n")
    assert result.exit_code == 130
    assert not (tmp_path / "car").exists()


def test_new_never_writes_over_a_car(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    good("new", "car", *NEW)
    before = (tmp_path / "car" / "car.toml").read_bytes()
    assert "is there already; name another folder" in refused("new", "car", *NEW)
    assert (tmp_path / "car" / "car.toml").read_bytes() == before


def test_the_demo_tells_its_story_and_leaves_files_to_edit(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(story_race, "LAPS", 8)
    text = good("demo")
    for words in ("On the scales", "Conventional", "picks up at", "Re-set", "strongest", "ovalwright new"):
        assert words in text
    assert len(text.split()) < 1300, "three minutes of reading, most of it figures"
    for words in ("quickest gear of the rack", "8 laps on two tracks", "B less A", "A-B-A", "Pictures in"):
        assert words in " ".join(text.split())
    for words in ("9 events, 60 runs", "and 4 more", "T8 went away in run", "Tight in the middle in 16 runs"):
        assert words in text
    for line in re.findall(r"ovalwright (find .*|notebook .*)", text):
        assert good(*shlex.split(line))
    for name in ("lap_three_eighths.svg", "map_three_eighths.png", "run_flat_quarter.pdf"):
        assert (tmp_path / "ovalwright-demo" / name).stat().st_size > 5000
    edited = tmp_path / "ovalwright-demo" / "car.toml"
    edited.write_text(edited.read_text() + "# mine\n")
    monkeypatch.setattr(story, "race", lambda *_: None)
    good("demo")
    assert edited.read_text().endswith("# mine\n")


def test_the_next_command_is_one_that_works_from_here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    line = next(line for line in ask("new", "car", *NEW).stdout.splitlines() if " weigh " in line)
    done = subprocess.run(line.strip(), shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "52.6 +/-" in done.stdout


def test_the_demo_does_not_fill_a_folder_of_other_files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "taxes.txt").write_text("1040")
    assert "holds other files; name another folder" in refused("demo", "--into", "other")
    assert [path.name for path in (tmp_path / "other").iterdir()] == ["taxes.txt"]


def test_schema_is_written_for_every_kind(tmp_path):
    good("schema", "--into", tmp_path / "schemas")
    assert len(list((tmp_path / "schemas").glob("*.schema.json"))) == 9
    assert json.loads(good("schema", "setup"))["title"] == "Setup"


# ---------------- one sentence each


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["weigh", "nowhere.toml"], "nowhere.toml: is not there"),
        (["rounds", "setup_conventional.toml", "--cross", "54"], '--cross: "54" has no unit; write such as'),
        (["rounds", "setup_conventional.toml", "--height", "54"], "names no corner"),
        (["turn", "setup_conventional.toml", "rack.toml"], "is a rack; a track is wanted here"),
        (["turn", "setup_conventional.toml", "track_steep_half.toml", "--end", "2"], "has 1 end written"),
        (["turn", "setup_conventional.toml", "track_flat_quarter.toml", "--speed", "fast"], "--speed"),
        (["turn", "setup_conventional.toml", "track_flat_quarter.toml", "--fuel", "3 in"], "in is a length"),
        (["lead", "setup_conventional.toml", "rules_weekly.toml", "--aim", "win"], "write least, low or"),
        (["lead", "setup_conventional.toml", "rules_weekly.toml", "--move", "x=y"], 'called "x"'),
        (
            ["sure", "setup_conventional.toml", "track_flat_quarter.toml", "--of", "luck"],
            "write one of cross",
        ),
        (["schema", "boat"], "is no kind of document"),
        (["hot", "--wanted", "29", "--cold", "20 psi", "--reached", "30 psi"], "no unit is given"),
        (["vary", "setup_conventional.toml", "b", "LR.coil.rate=225 in"], "write a spring rate"),
        (["vary", "setup_conventional.toml", "b", "LR.coil"], "changes nothing; write such as"),
        (["vary", "setup_conventional.toml", "../b", "toe_out=0 in"], "is no plain name of a file"),
        (["new", "car", "--no-questions"], "--name: is not answered"),
        (["new", "car", "--weights", "1, 2 lb"], "4 values are needed"),
    ],
)
def test_what_is_wrong_is_one_sentence(folder, words, says):
    line = refused(*words)
    assert says in line
    assert line.endswith(".")


@pytest.mark.parametrize(
    "words", [["wiegh"], ["turn"], ["turn", "a", "b", "--spead", "3"], ["weigh", "a", "b"]]
)
def test_a_mistyped_command_is_one_sentence_with_its_help(folder, words):
    assert "--help` shows what may stand there" in refused(*words, code=2)


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [
        ("sheet_conventional.toml", '"776 lb"', '"776"', "sheet_conventional.toml line"),
        ("sheet_conventional.toml", "weight", "wieght", "write weight"),
        ("sheet_conventional.toml", '"776 lb"', '"776 in"', "in is a length"),
        ("sheet_conventional.toml", '"776 lb"', "nan", "write"),
        ("car.toml", '"105 1/4 in"', '"105 1/4 lb"', "car.toml line"),
        ("car.toml", 'capacity = "22 gal"', "", "capacity is missing"),
        ("setup_conventional.toml", '"F11"', '"F1l"', "is not on the rack; did you mean F1"),
    ],
)
def test_a_bad_file_is_one_sentence_and_stays_as_it_is(folder, name, old, new, says):
    path = folder / name
    path.write_text(path.read_text().replace(old, new, 1))
    before = path.read_bytes()
    line = refused("rounds", "setup_conventional.toml")
    assert says in line
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "old", "new", "warns"),
    [
        (
            "rack.toml",
            'measured = { value = "122.5 lb/in"',
            'measured = { value = "2250 lb/in"',
            "2,250 lb/in",
        ),
        (
            "track_three_eighths.toml",
            'length = "0.375 mi"',
            'turns = "right"\nlength = "0.375 mi"',
            "right-hand",
        ),
    ],
)
def test_unlikely_inputs_are_computed_with_a_warning(folder, name, old, new, warns):
    path = folder / name
    path.write_text(path.read_text().replace(old, new, 1))
    text = good("turn", "setup_conventional.toml", "track_three_eighths.toml")
    assert warns in " ".join(text.split())


@pytest.mark.parametrize("words", [["weigh"], ["rounds", "setup_conventional.toml", "--sheet"]], ids=" ".join)
def test_an_empty_sheet_is_one_sentence(folder, words):
    sheet = folder / "sheet_conventional.toml"
    sheet.write_text(re.sub(r'weight = "[^"]*"', 'weight = "0 lb"', sheet.read_text()))
    assert refused(*words, sheet) == (
        "sheet_conventional.toml: the four weights sum to nothing; write what the pads read, such as "
        '"712 lb".'
    )


def test_a_mistake_of_the_program_is_said_as_that(folder, monkeypatch):
    from ovalwright.cli import weighing

    def broken(*args, **options):
        raise RuntimeError("wheels fell off")

    monkeypatch.setattr(weighing, "read_sheet", broken)
    line = refused("weigh", "sheet_conventional.toml", code=70)
    assert "mistake in Ovalwright, not in your files" in line
    assert "wheels fell off" in line


# ---------------- the picture


def test_bars_are_as_long_as_their_loads_compare():
    lines = car_with_loads([500.0, 1000.0, 250.0, 750.0], ["LF", "RF", "LR", "RR"])
    bars = [[len(bar) for bar in re.findall("#+", line)] for line in lines if "#" in line]
    assert bars[0][1] == BAR
    assert bars == [[round(BAR / 2), BAR], [round(BAR / 4), round(BAR * 0.75)]]
    assert max(len(line) for line in lines) <= 80
