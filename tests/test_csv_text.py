"""Tables out and in again: RFC 4180, typed cells, and nothing a spreadsheet would run."""

import csv
import datetime as dt
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.notebook.sharing import csv_text
from ovalwright.notebook.sharing.csv_text import guarded, maybe, read_table, unguarded, write_table
from ovalwright.notebook.trouble import NotebookTrouble

WORDS = [csv_text.text(name) for name in ("aaa", "bbb", "ccc")]
# RFC 4180, section 2, rules 1 to 7: the text, and the cells of its last line.
RFC_4180 = {
    "1 lines end with CRLF": ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ["zzz", "yyy", "xxx"]),
    "2 the last line need not end": ("aaa,bbb,ccc\r\nzzz,yyy,xxx", ["zzz", "yyy", "xxx"]),
    "4 spaces are part of a field": ("aaa,bbb,ccc\r\n zzz,yyy , x x\r\n", [" zzz", "yyy ", " x x"]),
    "5 fields may be quoted": ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', ["zzz", "yyy", "xxx"]),
    "6 line ends, quotes, commas inside": (
        'aaa,bbb,ccc\r\n"z\r\nz","y,y","x""x"\r\n',
        ["z\r\nz", "y,y", 'x"x'],
    ),
    "7 a quote is doubled": ('aaa,bbb,ccc\r\n"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),
    "a byte order mark": ("\ufeffaaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ["zzz", "yyy", "xxx"]),
    "line feeds alone": ("aaa,bbb,ccc\nzzz,yyy,xxx\n", ["zzz", "yyy", "xxx"]),
    "columns in another order": ("ccc,aaa,bbb\r\nxxx,zzz,yyy\r\n", ["zzz", "yyy", "xxx"]),
}
TABLE = (
    csv_text.text("words"),
    csv_text.number("time"),
    maybe(csv_text.number("air")),
    csv_text.whole("lap"),
    csv_text.day("day"),
    csv_text.clock("started"),
    csv_text.moment("at"),
    csv_text.one_of("flag", "green", ""),
    csv_text.yes_no("dropped"),
)
GOOD_ROW = {
    "words": "RR, 1/2 round",
    "time": 15.48,
    "air": None,
    "lap": 3,
    "day": dt.date(2026, 5, 9),
    "started": dt.datetime(2026, 5, 9, 19, 30),
    "at": dt.datetime(2026, 5, 9, 23, 30, tzinfo=dt.UTC),
    "flag": "",
    "dropped": False,
}


@pytest.mark.parametrize("written, cells", RFC_4180.values(), ids=RFC_4180)
def test_the_published_rules_of_csv_are_kept(written, cells):
    (row,) = read_table(written, WORDS)
    assert [row["aaa"], row["bbb"], row["ccc"]] == cells


def test_what_is_written_is_the_published_form():
    rows = [{"aaa": "z\r\nz", "bbb": "y,y", "ccc": 'x"x'}]
    assert write_table(WORDS, rows) == 'aaa,bbb,ccc\r\n"z\r\nz","y,y","x""x"\r\n'


def test_dates_and_moments_are_iso_8601():
    written = write_table(TABLE, [GOOD_ROW])
    assert written.splitlines()[1] == (
        '"RR, 1/2 round",15.48,,3,2026-05-09,2026-05-09T19:30:00,2026-05-09T23:30:00+00:00,,no'
    )
    # ISO 8601 allows Z for UTC and an offset; both are the same moment.
    elsewhere = written.replace("2026-05-09T23:30:00+00:00", "2026-05-09T19:30:00-04:00")
    for text in (written, elsewhere, elsewhere.replace("19:30:00-04:00", "23:30:00Z")):
        assert read_table(text, TABLE) == [GOOD_ROW]


@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "words": st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)
                | st.text("=+-@'\t\r\n 1.", max_size=6),
                "time": st.floats(allow_nan=False, allow_infinity=False),
                "air": st.none() | st.floats(allow_nan=False, allow_infinity=False),
                "lap": st.integers(0, 10**9 - 1),
                "day": st.dates(),
                "started": st.datetimes(),
                "at": st.datetimes(dt.datetime(2, 1, 1), timezones=st.just(dt.UTC)),
                "flag": st.sampled_from(["green", ""]),
                "dropped": st.booleans(),
            }
        ),
        max_size=5,
    )
)
def test_every_value_comes_back_exactly(rows):
    written = write_table(TABLE, rows)
    assert read_table(written, TABLE) == rows
    assert read_table("\ufeff" + written, TABLE) == rows


@pytest.mark.parametrize(
    "words, cell",
    [
        ('=HYPERLINK("x")', '\'=HYPERLINK("x")'),
        ("+1 round", "'+1 round"),
        ("-1/2", "'-1/2"),
        ("@loose", "'@loose"),
        ("\t=1+1", "'\t=1+1"),
        (" =1+1", "' =1+1"),
        ("\uff1d1", "'\uff1d1"),
        ("'=1", "''=1"),
        ("-0.5", "-0.5"),
        ("+1e3", "+1e3"),
        ("'twas loose", "'twas loose"),
        ("RR +1/2", "RR +1/2"),
        ("", ""),
    ],
)
def test_no_spreadsheet_runs_a_cell_of_words(words, cell):
    assert guarded(words) == cell
    assert unguarded(cell) == words


@given(st.text("=+-@'\t\r\n 1.e\uff1d", max_size=7))
def test_a_guard_is_taken_off_exactly(words):
    cell = guarded(words)
    assert unguarded(cell) == words
    if cell.lstrip(" \t\r\n")[:1] in tuple("=+-@\uff1d"):
        float(cell)


HEADINGS = ",".join(column.name for column in TABLE)
LINE = "loose,15.48,,3,2026-05-09,2026-05-09T19:30,2026-05-09T23:30Z,green,yes"
BAD = {
    "an empty table": ("", "laps.csv: is empty; its first line names its columns."),
    "a missing column": (
        HEADINGS.replace(",lap", ""),
        "laps.csv line 1: the column lap is missing; "
        "its columns are words, time, air, lap, day, started, at, flag, dropped.",
    ),
    "a strange column": (
        HEADINGS.replace(",lap", ",money"),
        "laps.csv line 1: the column 'money' does not belong; "
        "its columns are words, time, air, lap, day, started, at, flag, dropped.",
    ),
    "a column twice": (
        HEADINGS + ",lap",
        "laps.csv line 1: the column lap is there twice; "
        "its columns are words, time, air, lap, day, started, at, flag, dropped.",
    ),
    "a short line": (
        f'{HEADINGS}\r\n{LINE}\r\n\r\n"two\r\nlines",15.48\r\n',
        "laps.csv line 4: has 2 cells; the table has 9 columns.",
    ),
    "a word for a number": (
        f"{HEADINGS}\r\n{LINE}\r\n{LINE.replace('15.48', 'fast')}",
        "laps.csv line 3, column time: holds 'fast'; a number such as 15.48 belongs there.",
    ),
    "no number": (
        f"{HEADINGS}\r\n{LINE.replace('15.48', 'nan')}",
        "laps.csv line 2, column time: holds 'nan'; a number such as 15.48 belongs there.",
    ),
    "an endless number": (
        f"{HEADINGS}\r\n{LINE.replace('15.48', '1e999')}",
        "laps.csv line 2, column time: holds '1e999'; a number such as 15.48 belongs there.",
    ),
    "less than nothing": (
        f"{HEADINGS}\r\n{LINE.replace(',3,', ',-3,')}",
        "laps.csv line 2, column lap: holds '-3'; a whole number such as 12 belongs there.",
    ),
    "a control character": (
        HEADINGS + "\r\n" + LINE.replace("loose", "loo\x1b[2Jse"),
        "laps.csv line 2, column words: holds 'loo\\x1b[2Jse'; text of at most 600000 letters belongs there.",
    ),
    "half a lap": (
        f"{HEADINGS}\r\n{LINE.replace(',3,', ',3.5,')}",
        "laps.csv line 2, column lap: holds '3.5'; a whole number such as 12 belongs there.",
    ),
    "no such day": (
        f"{HEADINGS}\r\n{LINE.replace('2026-05-09,', '2026-02-30,')}",
        "laps.csv line 2, column day: holds '2026-02-30'; a date such as 2026-05-09 belongs there.",
    ),
    "a moment without a zone": (
        f"{HEADINGS}\r\n{LINE.replace('23:30Z', '23:30')}",
        "laps.csv line 2, column at: holds '2026-05-09T23:30'; a moment such as 2026-05-09T23:30:00+00:00 "
        "belongs there.",
    ),
    "an unknown flag": (
        f"{HEADINGS}\r\n{LINE.replace('green', 'blue')}",
        "laps.csv line 2, column flag: holds 'blue'; green, nothing belongs there.",
    ),
    "neither yes nor no": (
        f"{HEADINGS}\r\n{LINE.replace('yes', 'true')}",
        "laps.csv line 2, column dropped: holds 'true'; yes or no belongs there.",
    ),
    "an open quote": (
        f'{HEADINGS}\r\n"{LINE}',
        "laps.csv line 2: a quote is not closed or not doubled; close every quote, and double a quote inside "
        "a cell.",
    ),
    "a loose quote": (
        f'{HEADINGS}\r\n"loose"r{LINE}',
        "laps.csv line 2: a quote is not closed or not doubled; close every quote, and double a quote inside "
        "a cell.",
    ),
}


@pytest.mark.parametrize("written, sentence", BAD.values(), ids=BAD)
def test_a_bad_table_is_told_by_line_and_column(written, sentence):
    with pytest.raises(NotebookTrouble) as told:
        read_table(written, TABLE, name="laps.csv")
    assert str(told.value) == sentence


def test_another_reader_of_csv_agrees():
    rows = [{"aaa": 'a "quoted" word', "bbb": "two\nlines", "ccc": "a, b; c"}]
    read = list(csv.reader(io.StringIO(write_table(WORDS, rows), newline="")))
    assert read == [["aaa", "bbb", "ccc"], list(rows[0].values())]
    pandas = pytest.importorskip("pandas")
    assert pandas.read_csv(io.StringIO(write_table(WORDS, rows))).to_dict("records") == rows


def test_a_number_without_end_is_not_written():
    with pytest.raises(ValueError, match="no number to keep"):
        write_table([csv_text.number("time")], [{"time": float("inf")}])
