"""Lap lists as racers keep them: every way to write one is read, and nothing typed is lost."""

import csv
import io
import json
import math
import random

import pytest
from fuzz_documents import DEMO
from hypothesis import example, given
from hypothesis import strategies as st
from typer.testing import CliRunner

from ovalwright.cli.app import app
from ovalwright.documents import FLAGS, DocumentError, load_laps, read_laps
from ovalwright.study.falloff import summary

HEAT, FEATURE = DEMO / "laps_heat.csv", DEMO / "laps_feature.csv"
TIMES = (15.62, 15.48, 15.41)
WAYS = {
    "commas": "lap,time,flag\n1,15.62,green\n2,15.48,\n3,15.41,green\n",
    "semicolons and decimal commas": "lap;time;flag\n1;15,62;green\n2;15,48;\n3;15,41;green\n",
    "tabs": "Lap\tLap Time\tFlag\n1\t15.62\tgreen\n2\t15.48\t\n3\t15.41\tgreen\n",
    "quoted decimal commas": 'lap,time\n1,"15,62"\n2,"15,48"\n3,"15,41"\n',
    "no headings": "1,15.62\n2,15.48\n3,15.41\n",
    "times alone": "15.62\n15.48\n15.41\n",
    "times alone with decimal commas": "15,62\n15,48\n15,41\n",
    "pasted words": "Lap 1: 15.62 s\nLap 2: 15.48 s\n\nLap 3: 15.41 s\n",
    "spaces": "lap time flag\n1 15.62 green\n2 15.48\n3 15.41 green",
    "bars": "1 | 15.62 | green\n2 | 15.48 |\n3 | 15.41 | green",
    "minutes and seconds": "1,0:15.62\n2,00:15.48\n3,0:00:15.41\n",
    "minutes by heading": "lap,time (min)\n1,0.260333333\n2,0.258\n3,0.256833333\n",
    "minutes by unit": "1, 0.260333333 min\n2, 0.258 min\n3, 15.41 s\n",
    "a byte order mark": "\ufefflap,time\n1,15.62\n2,15.48\n3,15.41\n",
    "old line ends": "lap,time\r1,15.62\r2,15.48\r3,15.41",
    "a title above": "Saturday practice\nlap,time\n1,15.62\n2,15.48\n3,15.41\n",
    "a comment": "# Saturday, before the rain\nlap,time\n1,15.62\n2,15.48\n3,15.41\n",
    "a title like a heading": "Practice 2 lap times\nlap,time,flag\n1,15.62,\n2,15.48,\n3,15.41,\n",
    "a title of one word": "Times\nlap,time\n1,15.62\n2,15.48\n3,15.41\n",
    "other columns": "lap,time of day,lap time,total\n1,19:02,15.62,15.62\n2,,15.48,31.1\n3,,15.41,46.5\n",
    "an inch mark in a note": '1,15.62,green 1/4" in\n2,15.48,green\n3,15.41,green\n',
}


@pytest.mark.parametrize("text", WAYS.values(), ids=WAYS)
def test_every_way_to_write_a_list_is_read(text):
    laps = read_laps(text)
    assert laps.numbers == (1, 2, 3)
    assert laps.times == pytest.approx(TIMES, abs=1e-6)
    assert all(laps.green)
    assert laps.text == text


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_as_spreadsheets_save_them(tmp_path, coding):
    path = tmp_path / "laps.csv"
    path.write_bytes("lap;time;RF mid (°F)\n1;15,62;190\n2;15,48;195\n3;15,41;\n".encode(coding))
    laps = load_laps(path)
    assert laps.times == pytest.approx(TIMES)
    assert laps.laps[1].temperatures[1][1] == pytest.approx((195 + 459.67) / 1.8)
    assert math.isnan(laps.laps[2].temperatures[1][1])


@pytest.mark.parametrize(
    ("said", "flag"),
    [
        ("", "green"),
        ("G", "green"),
        ("clean", "green"),
        ("Caution", "yellow"),
        ("pace lap", "yellow"),
        ("in lap", "pit"),
        ("passed two lapped cars", "traffic"),
        ("MISTAKE in 3", "traffic"),
        ("green, then yellow", "yellow"),
    ],
)
def test_the_racers_words_for_a_flag(said, flag):
    laps = read_laps(f'lap,time,flag\n1,15.5,green\n2,15.5,"{said}"\n3,15.6,green\n')
    assert laps.laps[1].flag == flag
    assert laps.laps[1].said == said


@pytest.mark.parametrize("head", ["", "Lap Time\n"])
@pytest.mark.parametrize("sign", ["", "- ", "("])
def test_words_behind_a_time_stay_with_their_lap(head, sign):
    end = ")" if sign == "(" else ""
    text = f"{head}1 17.65\n2 17.70 {sign}lapped car{end}\n3 17.66\n4 21.90 {sign}yellow{end}\n5 17.68"
    laps = read_laps(text).laps
    assert [one.time for one in laps] == [17.65, 17.7, 17.66, 21.9, 17.68]
    assert [one.flag for one in laps] == ["green", "traffic", "green", "yellow", "green"]
    assert laps[1].said == "lapped car"
    assert laps[3].said.strip("()") == "yellow"


@pytest.mark.parametrize("note", ["got loose off 4", "pushed in turn 2 and 3", "turn 4", "wide in 2"])
@pytest.mark.parametrize("mark", [" ", ",", "\t"])
def test_a_note_beside_a_lap_keeps_its_digits(note, mark):
    laps = [f"{lap}{mark}{19.5 + 0.01 * lap}" for lap in range(1, 6)]
    read = read_laps("\n".join([*laps[:2], f"{laps[2]}{mark}{note}", *laps[3:]]))
    assert [one.said for one in read.laps] == ["", "", note, "", ""]
    assert any(note in told for told in read.notes) is (note != "wide in 2")


def test_a_number_behind_a_short_flag_is_no_part_of_it():
    read = read_laps("1 19.5\n2 31.5 y 2\n3 19.6\n4 19.6\n")
    assert (read.laps[1].said, read.laps[1].flag) == ("y", "yellow")


def test_an_unknown_column_is_no_flag():
    laps = read_laps("Lap Time Name\n1 17.65 Pit Bull\n2 17.70 Pit Bull\n")
    assert {one.flag for one in laps.laps} == {"green"}


def test_words_of_his_own():
    text = "lap,time,flag\n1,15.5,\n2,15.9,wreck\n"
    assert read_laps(text).laps[1].flag == "other"
    assert "wreck" in read_laps(text).notes[0]
    assert read_laps(text, words={"Wreck": "yellow"}).laps[1].flag == "yellow"
    with pytest.raises(DocumentError, match="green, yellow, pit, traffic, other"):
        read_laps(text, words={"wreck": "purple"})


@pytest.mark.parametrize("wrong", ["0", "-15.4", "9999", "1e3", "DNF", "", "15.4.1", "1:75.2", "inf", "nan"])
def test_a_lap_that_cannot_be_is_set_aside_by_name(wrong):
    laps = read_laps(f"lap,time\n1,15.62\n2,{wrong}\n3,15.41\n")
    assert laps.numbers == (1, 3)
    assert [(one.line, one.text) for one in laps.aside] == [(3, f"2,{wrong}")]
    assert laps.aside[0].why


def test_a_time_in_another_unit_is_recognized_and_said():
    laps = read_laps("1,15.62\n2,0.258\n3,15.41\n4,15390\n")
    assert laps.times == pytest.approx((*TIMES, 15.39))
    assert [("min" in note or "ms" in note) for note in laps.notes] == [True, True]


def test_a_slow_lap_is_not_taken_for_another_unit():
    laps = read_laps("1,15.62\n2,45.0,yellow\n3,15.41\n4,130\n")
    assert laps.times == (15.62, 45.0, 15.41, 130.0)
    assert laps.notes == ()


def test_a_second_run_in_the_same_list_is_said():
    laps = read_laps("1,15.62\n2,15.48\n1,15.41\n2,15.44\n")
    assert laps.numbers == (1, 2)
    assert "own" in laps.aside[0].why


def test_tires_in_their_own_units():
    laps = read_laps(
        "lap\ttime\tRF inside\tRF middle\tRF outside (C)\tLR hot psi\tRR roll-out\tleft front air (kPa)\n"
        "1\t15.6\t\t\t\t\t\t\n"
        "2\t15.5\t200\t93.3333 C\t95\t14,5\t87 1/2 in\t90\n"
        "3\t15.5\tcold\t\t\t\t\t\n"
    )
    inside, middle, outside = laps.laps[1].temperatures
    assert inside[1] == pytest.approx((200 + 459.67) / 1.8)
    assert middle[1] == pytest.approx(366.4833)
    assert outside[1] == pytest.approx(368.15)
    assert laps.laps[1].tire("pressure")[2] == pytest.approx(14.5 * 6894.757, rel=1e-6)
    assert laps.laps[1].tire("pressure")[0] == pytest.approx(90e3)
    assert laps.laps[1].tire("roll_out")[3] == pytest.approx(87.5 * 0.0254)
    assert laps.laps[2].time == 15.5
    assert "cold" in laps.notes[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "holds no lap"),
        ("hello\nworld\n", "holds no lap"),
        ("lap,speed\n1,90\n", "head it time"),
        ("1,15,62\n2,15,48\n3,15,41\n", "decimal mark"),
        ("lap,time,flag\n1,15,62,green\n2,15,48,green\n", "decimal mark"),
        ("lap,time\n1,9999\n2,-3\n", "cannot be a lap"),
    ],
)
def test_what_holds_no_lap_is_one_sentence(text, says):
    with pytest.raises(DocumentError, match=says) as told:
        read_laps(text, name="laps.csv")
    assert str(told.value).startswith("laps.csv")
    assert str(told.value).endswith(".")


def test_two_columns_of_times_under_unknown_headings_are_asked_about():
    rows = "1;8,900;15,61\n2;8,910;15,62\n"
    for head in ("Runde;Zwischenzeit;Rundenzeit\n", "Heat one\nRunde;Zwischenzeit;Rundenzeit\n"):
        with pytest.raises(DocumentError, match='"Zwischenzeit" or "Rundenzeit" may be the lap time'):
            read_laps(head + rows)
    assert read_laps(rows).times == (8.9, 8.91), "without headings the first times count"
    assert read_laps("Runde;Rundenzeit\n1;15,61\n2;15,62\n").times == (15.61, 15.62)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(DocumentError, match="is not there; name a lap list"):
        load_laps(tmp_path / "none.csv")


CELLS = st.one_of(
    st.sampled_from(
        ["", "lap", "time", "flag", "15.62", "15,62", "0:15.6", "yellow", '"', "RF in", "9" * 400, "#"]
    ),
    st.text(max_size=12),
    st.floats(-1e4, 1e4).map(str),
    st.integers(-5, 99999).map(str),
)


@given(rows=st.lists(st.lists(CELLS, max_size=6), max_size=8), mark=st.sampled_from(",;\t| "))
@example(rows=[["1", "15.6"], ["\x00", '"']], mark=",")
def test_any_table_is_read_or_refused_in_a_sentence(rows, mark):
    text = "\n".join(mark.join(row) for row in rows)
    try:
        laps = read_laps(text)
    except DocumentError as told:
        assert str(told).isprintable()
        return
    assert all(3.0 <= lap.time <= 600.0 and lap.flag in FLAGS for lap in laps.laps)
    assert all(a < b for a, b in zip(laps.numbers, laps.numbers[1:], strict=False))


@given(text=st.text(max_size=200))
def test_any_text_is_read_or_refused_in_a_sentence(text):
    try:
        assert read_laps(text).laps
    except DocumentError as told:
        assert str(told).isprintable()


@given(
    times=st.lists(st.integers(12_000, 25_000), min_size=1, max_size=40),
    mark=st.sampled_from([",", ";", "\t", "|"]),
    comma=st.booleans(),
    header=st.booleans(),
)
def test_what_is_written_comes_back(times, mark, comma, header):
    """Every line is a lap or set aside, whatever parts the fields."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark)
    if header:
        writer.writerow(["lap", "time", "flag"])
    for k, thousandths in enumerate(times, start=1):
        typed = f"{thousandths / 1000:.3f}"
        writer.writerow([k, typed.replace(".", ",") if comma else typed, "green"])
    laps = read_laps(out.getvalue())
    assert laps.times == pytest.approx([one / 1000 for one in times])
    assert laps.numbers == tuple(range(1, len(times) + 1))
    assert not laps.aside


# ---------------- the command


@pytest.fixture
def run(tmp_path, monkeypatch):
    """An invented run with a caution and a lap that cannot be, one that fades less, and short ones."""
    dice = random.Random(3)

    def write(name, slope):
        rows = ["lap,time,flag"]
        for k in range(1, 36):
            time = 15.4 + slope * k + 0.3 * math.exp(-(k - 1) / 1.5) + dice.gauss(0.0, 0.05)
            rows.append(f"{k},{41.2 if 12 <= k <= 15 else time:.3f},{'caution' if 12 <= k <= 15 else ''}")
        (tmp_path / name).write_text("\n".join([*rows, "36,9999,", "37,16.4,lapped car"]) + "\n")

    write("feature.csv", 0.02)
    write("heat.csv", 0.004)
    (tmp_path / "two.csv").write_text("1,15.6\n2,15.5\n")
    (tmp_path / "five.csv").write_text("15.6\n15.5\n15.5\n15.6\n15.7\n")
    monkeypatch.chdir(tmp_path)


def ask(*words):
    return CliRunner().invoke(app, ["laps", *words], terminal_width=80)


def test_the_command_tells_a_run(run):
    said = ask("feature.csv")
    assert said.exit_code == 0, said.stderr
    for part in (
        "36 laps, 31 at speed",
        "fall-off in ten laps",
        "the fade is even",
        "A-B-A",
        "9999 s cannot",
    ):
        assert part in said.stdout
    assert all(len(line) <= 80 for line in said.stdout.splitlines())


def test_the_command_as_json(run):
    said = ask("feature.csv", "--against", "heat.csv", "--json")
    told = json.loads(said.stdout)
    assert told["summary"]["fade"]["slope"]["value"] == pytest.approx(0.02, abs=0.006)
    assert told["aside"][0]["line"] == 37
    assert told["against"]["crossover"]["lead"] > 0.0
    assert told["sees"]["5"][0] > told["sees"]["5"][1]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["two.csv"], "a pace needs 3, a fall-off 6"),
        (["none.csv"], "is not there"),
        (["feature.csv", "--see", "0.1"], "no unit"),
        (["feature.csv", "--word", "wreck"], "wreck=yellow"),
        (["feature.csv", "--word", "wreck=purple"], "green, yellow, pit"),
        (["feature.csv", "--against", "five.csv"], "needs 6 laps"),
    ],
)
def test_the_command_refuses_in_one_sentence(run, words, says):
    said = ask(*words)
    assert said.exit_code == 1
    assert says in said.stderr
    assert len(said.stderr.strip().splitlines()) == 1


def test_few_laps_are_told_as_far_as_they_go(run):
    said = ask("five.csv")
    assert said.exit_code == 0
    assert "needs 6 laps" in said.stdout


def test_the_invented_night():
    """The feature goes away where it was made to, the heat does not."""
    heat, feature = (summary(one.numbers, one.times, one.green) for one in map(load_laps, (HEAT, FEATURE)))
    assert heat.fade.goes_away is None
    assert feature.fade.goes_away.lap == pytest.approx(32, abs=3)
    assert not load_laps(HEAT).aside
    assert load_laps(FEATURE).laps[-1].tire("temperature", 0)[1] == pytest.approx((224 + 459.67) / 1.8)
