"""Laps from timing exports whose columns were told once: every way to write a table, one car of several."""

import csv
import io
import itertools
import random

import pytest
from evidence import READ
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.documents import DocumentError, LapList, read_laps
from ovalwright.documents.headings import Column, column_called
from ovalwright.documents.laps import POSSIBLE
from ovalwright.documents.pasted import MARKS, decoded, rows_of
from ovalwright.notebook.typed.columns import (
    ColumnMap,
    fingerprint,
    headings_of,
    mapped,
    proposed,
    read_map,
    what_said,
)

TOLD = read_map('"Zeit" is time, "Rd" is lap, "Nr" is car, "Bem." is flag')
EXPORT = 'Nr;Rd;Zeit;Bem.\n7;1;0:15,62;\n12;1;15,80;gelb\n7;2;15,55;"viel ""Stau"""\n12;2;16,0;\n'

RFC = "RFC 4180, section 2"
CASES = {
    "rule 1, records on lines of their own": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 2, no line break at the end": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 5, fields in quotes or not": (
        '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 6, a line break in quotes": (
        '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "b bb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 6, a comma in quotes": ('"a,aa","bbb"\r\n', [["a,aa", "bbb"]]),
    "rule 7, a quote doubled": ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
}


@pytest.mark.parametrize("rule", CASES)
def test_tables_are_parted_as_the_standard_says(check, rule):
    """White space of a cell does not count in a lap list, a line break in a cell is a space."""
    text, cells = CASES[rule]
    read = [list(row.cells) for row in rows_of(text, ",")]
    check.fact(read == cells, of=f"cells of a table: {rule}", source=RFC, kind=READ, area="notebook")


def test_a_map_is_told_in_words_and_remembered_as_told():
    assert TOLD.columns == (("Zeit", "time"), ("Rd", "lap"), ("Nr", "car"), ("Bem.", "flag"))
    assert str(TOLD) == '"Zeit" is time, "Rd" is lap, "Nr" is car, "Bem." is flag'
    assert read_map("Zeit is time (ms); Rd is lap\nRF in is RF inside C").columns[2] == (
        "RF in",
        "RF inside C",
    )
    assert read_map(str(ColumnMap((('1/4" mark', "time"),)))) == ColumnMap((('1/4" mark', "time"),))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("Zeit time", '"Zeit time" does not say what a column holds; write such as "Zeit" is time'),
        ('"Zeit" is time, and more', '"and more" does not say'),
        ("", '"" does not say'),
        ('"Rd" is lap', "no column is told to be the time"),
        ('"Zeit" is time, "Best" is lap time', "two columns are told to be the time"),
        ('"Zeit" is time, "ZEIT" is lap', 'the column "Zeit" is told twice'),
        ('"Zeit" is weather', '"Zeit" is weather: no lap has that; write time, lap, flag'),
    ],
)
def test_a_map_that_cannot_be_is_one_sentence(text, why):
    with pytest.raises(DocumentError) as refused:
        read_map(text)
    assert why in str(refused.value)


def test_an_export_is_known_by_its_headings():
    assert headings_of(EXPORT) == ("Nr", "Rd", "Zeit", "Bem.")
    assert headings_of("Saturday at the fair grounds\n" + EXPORT) == ("Nr", "Rd", "Zeit", "Bem.")
    assert headings_of("1,15.62\n2,15.48\n") == ()
    assert fingerprint(["Nr", "Rd"]) == fingerprint(["rd ", "NR"]) != fingerprint(["Nr", "Rd", "Zeit"])
    assert proposed(["Car No", "Lap", "Lap Time (min)", "Best", "RF inside F", "Lap"]) == (
        ("Car No", "car"),
        ("Lap", "lap"),
        ("Lap Time (min)", "time min"),
        ("Best", "nothing"),
        ("RF inside F", "RF inside F"),
        ("Lap", "nothing"),
    )


def test_what_is_told_of_some_headings_goes_before_what_others_seem():
    told = {"rd": "lap", "Zeit": "time"}
    assert proposed(["Nr", "Rd", "Zeit", "LR psi"], told) == (
        ("Nr", "nothing"),
        ("Rd", "lap"),
        ("Zeit", "time"),
        ("LR psi", "LR psi"),
    )


def test_what_a_column_holds_is_told_as_it_is_read():
    tires = [Column("temperature", k, part, unit) for k in range(4) for part in range(3) for unit in "FC"]
    tires += [Column("pressure", k, -1, "kPa") for k in range(4)] + [Column("roll_out", 3, -1, "in")]
    for column in [Column("lap"), Column("time"), Column("time", unit="ms"), Column("flag"), *tires]:
        assert column_called(what_said(column)) == column


def test_the_laps_of_one_car_of_several():
    laps = mapped(EXPORT, TOLD, car="#7", words={"stau": "traffic", "gelb": "yellow"})
    assert laps.times == (15.62, 15.55)
    assert [lap.flag for lap in laps.laps] == ["green", "traffic"]
    assert [lap.line for lap in laps.laps] == [2, 4]
    assert laps.notes == ("the lap list: 2 lines are of other cars than 7.",)
    assert laps.aside == ()
    alone = "\n".join(line for line in EXPORT.splitlines() if not line.startswith("12"))
    assert mapped(alone, TOLD).times == laps.times


SAME = {
    "bytes with a mark": EXPORT.encode("utf-8-sig"),
    "UTF-16": EXPORT.encode("utf-16"),
    "UTF-16 without a mark": EXPORT.encode("utf-16-le"),
    "UTF-16 the other way round": EXPORT.encode("utf-16-be"),
    "Windows text": EXPORT.replace("viel", "für").encode("cp1252"),
    "tabs": EXPORT.replace(";", "\t"),
    "commas": 'Nr,Rd,Zeit,Bem.\n7,1,"0:15,62",\n12,1,"15,80",\n7,2,15.55,\n',
    "old line ends": EXPORT.replace("\n", "\r"),
    "a title and a comment above": f"Abendlauf\n# Ovalwright\n{EXPORT}",
    "columns in another order": "Zeit;Bem.;Rd;Nr\n15,62;;1;7\n15,55;;2;7\n16;;1;12\n",
    "headings in capitals": EXPORT.replace("Nr;Rd;Zeit", "NR; RD ;ZEIT"),
    "a column nobody told of": "Nr;x;Rd;Zeit;Bem.\n7;;1;15,62;\n7;;2;15,55;\n",
}


@pytest.mark.parametrize("text", SAME.values(), ids=SAME)
def test_every_way_to_write_it_is_the_same_list(text):
    assert mapped(text, TOLD, car="7").times == pytest.approx((15.62, 15.55))


@pytest.mark.parametrize(
    ("text", "car", "why"),
    [
        (EXPORT, "", "holds laps of 2 cars (7, 12); say which one is yours."),
        (EXPORT, "07", "has no line of car 07; it has 7, 12."),
        ("Rd,Time\n1,15.6\n", "", 'no column is headed "Zeit"; it has "Rd", "Time"; tell what those hold.'),
        ("", "", 'no column is headed "Zeit"; it has none that can be told; tell what those hold.'),
        ("Nr;Rd;Zeit;Bem.\n7;1;slow;\n", "7", 'line 2: "slow" is no lap time'),
        ("Nr;Rd;Zeit;Bem.\n", "7", "has no line of car 7; it has no cars."),
        (EXPORT + " " * 8_000_000, "7", "is larger than 8 MB"),
    ],
)
def test_a_list_that_cannot_be_read_is_one_sentence(text, car, why):
    with pytest.raises(DocumentError) as refused:
        mapped(text, TOLD, car=car)
    assert why in str(refused.value)


def test_lines_that_are_no_lap_are_named():
    laps = mapped(EXPORT + "7;3;pit;\n7;2;15,6;\n7;4;15,60;\n", TOLD, car="7")
    assert laps.times == (15.62, 15.55, 15.60)
    assert [(one.line, one.why) for one in laps.aside] == [
        (6, '"pit" is no lap time'),
        (7, "lap 2 comes after lap 2: a list is one run, put a second into its own"),
    ]
    twice = mapped("Zeit,Zeit,Rd\n15.6,16,1\n", read_map("Zeit is time"))
    assert twice.times == (15.6,)
    assert twice.notes == ('the lap list: two columns are headed "Zeit"; the first is read.',)


# ---------------- invented exports by the thousand


def written(dice, hundredths):
    """A time as one of many programs writes it, worth that many hundredths of a second."""
    seconds, part = divmod(hundredths, 100)
    point = dice.choice(".,")
    return dice.choice(
        [f"{seconds}{point}{part:02d}", f"0:{seconds:02d}{point}{part:02d}", f"{seconds}{point}{part:02d}0 s"]
    )


def invented(dice):
    """An export, its map, the car that is mine, and my laps as number and hundredths of a second."""
    heads = {"time": dice.choice(["Zeit", "t", "Lap Tm", "Rundenzeit [s]"]), "lap": "Rd", "car": "Nr"}
    columns = [*heads, *dice.choice([[], ["x"], ["x", "gap"]])]
    dice.shuffle(columns)
    mine = dice.choice(["7", "07", "12x"])
    cars = {mine: 0, **dict.fromkeys(dice.choice([[], ["99"], ["3", "44"]]), 0)}
    lines, laps = [[heads.get(name, name) for name in columns]], []
    for _ in range(dice.randrange(1, 25)):
        car = dice.choice([*cars])
        cars[car] += 1
        hundredths = dice.randrange(1400, 2000)
        cells = {
            "time": written(dice, hundredths),
            "lap": cars[car],
            "car": car,
            "x": dice.choice(["", "a b", "q, r"]),
        }
        lines.append([str(cells.get(name, "")) for name in columns])
        if car == mine:
            laps.append((cars[car], hundredths))
    out = io.StringIO()
    quoting = dice.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    ends = dice.choice(["\n", "\r\n", "\r"])
    csv.writer(out, delimiter=dice.choice(",;\t|"), quoting=quoting, lineterminator=ends).writerows(lines)
    told = ColumnMap(tuple((heads[name], name) for name in heads))
    return out.getvalue(), told, mine, laps


def spoiled(dice, text):
    """The same with a few signs lost, doubled, swapped or put in."""
    signs = list(text)
    for _ in range(dice.randrange(1, 6)):
        at = dice.randrange(len(signs) + 1)
        match dice.randrange(4):
            case 0:
                signs[at : at + dice.randrange(1, 30)] = []
            case 1:
                signs.insert(at, dice.choice('";,|\t\n\r\x00\ufeff7é:-#9' + "\U0001f3c1"))
            case 2:
                signs[at:at] = signs[: dice.randrange(60)]
            case 3:
                signs[at : at + 1] = [dice.choice(signs)] if signs else []
    return "".join(signs)


def taken(seed):
    """A clean export gives its very laps, a spoiled one possible laps or one sentence, never a traceback."""
    dice = random.Random(seed)
    text, told, mine, laps = invented(dice)
    if seed % 3 == 0:
        coding = dice.choice(["utf-8", "utf-8-sig", "utf-16"])
        read = mapped(text.encode(coding), told, car=mine if len(laps) else "") if laps else None
        if read:
            assert read.numbers == tuple(number for number, _ in laps), text
            assert [round(100 * time) for time in read.times] == [hundredths for _, hundredths in laps], text
            assert read.aside == ()
        return "clean"
    raw = spoiled(dice, text)
    if seed % 3 == 2:
        raw = bytes(raw.encode(dice.choice(["utf-8", "utf-16", "utf-16-le"])))
        raw = raw[: dice.randrange(len(raw) + 1)]
    try:
        read = (
            mapped(raw, told, car=mine)
            if dice.random() < 0.7
            else read_laps(decoded(raw) if isinstance(raw, bytes) else raw)
        )
    except DocumentError as problem:
        assert str(problem).isprintable() and str(problem).endswith("."), repr(raw)
        return "sentence"
    assert_sound(read)
    return "laps"


def assert_sound(read: LapList):
    """Laps in order that can be, each line told of once."""
    assert read.laps
    assert all(POSSIBLE[0] <= time <= POSSIBLE[1] for time in read.times)
    assert all(one < other for one, other in itertools.pairwise(read.numbers))
    lines = [lap.line for lap in read.laps] + [one.line for one in read.aside]
    assert len(lines) == len(set(lines))


def test_exports_by_the_thousand():
    ways = [taken(seed) for seed in range(3000)]
    assert {way: ways.count(way) > 200 for way in set(ways)} == {
        "clean": True,
        "sentence": True,
        "laps": True,
    }


@pytest.mark.proof
def test_exports_by_the_ten_thousand():
    ways = [taken(seed) for seed in range(3000, 63000)]
    assert len(ways) == 60000


@given(st.binary(max_size=200))
def test_any_bytes_are_answered(raw):
    for ask in (headings_of, lambda given: mapped(given, TOLD, car="7")):
        try:
            ask(raw)
        except DocumentError as problem:
            assert str(problem).endswith(".")
    assert all(isinstance(rows_of(decoded(raw), mark), tuple) for mark in MARKS)
