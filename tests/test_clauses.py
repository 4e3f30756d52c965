"""A racer's question: how each clause is understood, and one sentence for what cannot be read."""

import datetime as dt
import typing

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel
from scipy import constants

from ovalwright.documents import FLAGS, Setup
from ovalwright.documents.part import kind_of
from ovalwright.notebook.asked.clauses import LONGEST, MOST, read_question
from ovalwright.notebook.asked.fields import EXAMPLES, FIELDS
from ovalwright.notebook.asked.question import Days, Felt, Measured, Named, Question, Rode
from ovalwright.notebook.tables import Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS

POUND_PER_INCH = constants.lbf / constants.inch


def only(text):
    (clause,) = read_question(text).clauses
    return clause


UNDERSTOOD = {
    "here": "at the track of the last event",
    "every run here": "at the track of the last event",
    "air over 60 F": "air over 60 F",
    "air over 60": "air over 60 F",
    "temperature over 20 °c": "air over 20 °C",
    "over 60 F": "air over 60 F",
    "with RR over 300": "RR spring over 300 lb/in",
    "RR under 14 psi": "RR pressure under 14 psi",
    "RF over -3 deg": "RF camber over -3 deg",
    "fall-off under 0.2": "fall-off under 0.2 s per 10 laps",
    "a fall-off under 0.2 s per 10 laps": "fall-off under 0.2 s per 10 laps",
    "fall off under 0.02 s per lap": "fall-off under 0.2 s per 10 laps",
    "best under 15,4": "best under 15.4 s",
    "best lap under 1:02.5": "best under 62.5 s",
    "best from 15.6 to 15.2 s": "best between 15.2 s and 15.6 s",
    "gear 5.67": "gear is 5.67, as near as typed",
    "bar over 1 1/8": "bar over 1.125 in",
    "bar over 400 lb/in": "bar rate over 400 lb/in",
    "LR jack bolt at least ½": "LR jack bolt at least 0.5 round",
    "spring over 300": "spring at any corner over 300 lb/in",
    "cross between 51 and 52,5 %": "cross on the scale sheet between 51 % and 52.5 %",
    "laps at least 20 laps": "laps at least 20",
    "stagger is over 2 1/4": "stagger over 2.25 in",
    "tight in the middle": "the driver said: tight in the middle",
    "when it was loose off": "the driver said: loose on exit",
    "late": "the driver said: anything, late in the run or all through",
    "tire T8": "tire T8 was in the car",
    "RR spring B12": "spring B12 was in the car at RR",
    "part Big Red": "part Big Red was in the car",
    "track flat quarter": 'track with "flat quarter" in its name',
    "setup 7KQ2MD": 'setup with "7KQ2MD" in its name or its code',
    "run 7kq2md": "run 7KQ2MD",
    "yellow flag": "a lap under flag yellow",
    "since 2026-06-01": "on or after 2026-06-01",
    "until 2026-06-01": "before 2026-06-02",
    "after 2026-06-01": "on or after 2026-06-02",
    "on 2026-06-01": "on 2026-06-01",
    "2026-06-01": "on 2026-06-01",
    "in 2026-02": "from 2026-02-01 to 2026-02-28",
    "between 2026-06-01 and 2026-05-01": "from 2026-05-01 to 2026-06-01",
    "spun in turn two": 'the words "spun in turn two" in what was written',
    "tire blistered": 'the words "tire blistered" in what was written',
    "over the wall": 'the words "over the wall" in what was written',
    '"spun over 3 laps"': 'the words "spun over 3 laps" in what was written',
    "LR +1/2": 'the words "LR +1/2" in what was written',
}


@pytest.mark.parametrize("text", UNDERSTOOD)
def test_a_clause_says_how_it_was_understood(text):
    assert read_question(text).understood == (UNDERSTOOD[text],)


SENTENCES = {
    "RR spring over": '"RR spring over": no number follows; tell it as "RR spring over 225 lb/in".',
    "RR spring over 300 psi": (
        '"RR spring over 300 psi": "300 psi": psi is a pressure; write a spring rate such as "225 lb/in".'
    ),
    "RF over 200 F": (
        '"RF over 200 F": tire temperatures stand in each run and are not searched by number; ask for air or '
        'surface, such as "air over 60 F", or look at the run.'
    ),
    "RF spring over 200 F": (
        '"RF spring over 200 F": "200 F": F is a temperature; write a spring rate such as "225 lb/in".'
    ),
    "here, banana over 3": (
        f'"banana over 3": "banana" is no number of a run or a setup; ask for {EXAMPLES}, or put words to be '
        "found in quotes."
    ),
    "over 3": f'"over 3": it does not say of what; ask for {EXAMPLES}, or put words to be found in quotes.',
    "best between 15": '"best between 15": two numbers are needed; tell it as "between 15.2 and 15.6".',
    "between 2026-05-01": (
        '"between 2026-05-01": two days are needed; tell it as "between 2026-05-01 and 2026-06-01".'
    ),
    "on 6/1/2026": '"on 6/1/2026": write the day as 2026-06-01, year, month and day.',
    "since 2026-13-01": (
        '"since 2026-13-01": that is no day; write it as in "since 2026-06-01" or "in 2026-06".'
    ),
    "flag purple": f'"flag purple": a flag is one of {", ".join(FLAGS)}.',
    "?!": '"?!": there is no word in it to look for.',
    "air over 5/0": '"air over 5/0": "5/0" divides by zero.',
    "x" * (LONGEST + 1): f"the question has {LONGEST + 1} characters; ask in {LONGEST} at most.",
    "a," * (MOST + 1): f"the question has {MOST + 1} clauses; ask with {MOST} at most.",
}


@pytest.mark.parametrize("text", SENTENCES)
def test_a_comparison_that_cannot_be_read_is_one_sentence(text):
    with pytest.raises(NotebookTrouble) as caught:
        read_question(text)
    assert str(caught.value) == SENTENCES[text]


@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [
        ("RR spring over 300", 300.01 * POUND_PER_INCH, 300 * POUND_PER_INCH),
        ("RR spring at least 300", 300 * POUND_PER_INCH, 299.99 * POUND_PER_INCH),
        ("RR spring under 52.538 N/mm", 52537.0, 52538.0),
        ("RR spring at most 300", 300 * POUND_PER_INCH, 300.01 * POUND_PER_INCH),
        ("RR spring is 300", 300.4 * POUND_PER_INCH, 300.6 * POUND_PER_INCH),
        ("best is 15.4", 15.449, 15.451),
        ("air between 60 and 61", constants.convert_temperature(60, "F", "K"), 288.0),
        ("fall-off over 0.03 s per lap", 0.301, 0.3),
        ("LF pressure over 12.5", 12.6 * constants.psi, 12.5 * constants.psi),
        ("fuel over 10", 10.1 * constants.gallon, 10 * constants.gallon),
    ],
)
def test_a_range_holds_what_was_meant_in_any_unit(text, inside, outside):
    clause = only(text)
    assert isinstance(clause, Measured)

    def holds(value):
        return (clause.low is None or value >= clause.low) and (clause.high is None or value <= clause.high)

    assert holds(inside)
    assert not holds(outside)


def test_clauses_of_one_comment_are_told_together_until_they_contradict():
    assert [
        (one.feel, one.phase, one.when) for one in read_question("tight in the middle, late").clauses
    ] == [("tight", "middle", "late")]
    two = read_question("tight entry, loose, off").clauses
    assert [(one.feel, one.phase) for one in two] == [("tight", "entry"), ("loose", "exit")]
    assert len(read_question("tight, here, late").clauses) == 3


def test_and_and_with_part_clauses_that_are_more_than_words():
    spoken = "every run here over 60 °F with RR over 300 and a fall-off under 0.2 s per 10 laps"
    assert read_question(spoken).understood == (
        "at the track of the last event",
        "air over 60 °F",
        "RR spring over 300 lb/in",
        "fall-off under 0.2 s per 10 laps",
    )
    assert len(read_question("best between 15.2 and 15.6").clauses) == 1
    assert only("spun and hit the wall").name == "spun and hit the wall"
    assert only("tight and late").when == "late"


@pytest.mark.parametrize(
    ("asked", "understood"),
    [
        (
            "when was it slow in the heat and pushing?",
            (
                "the driver said: tight",
                'the words "slow" in what was written',
                'session with "heat" in its name',
            ),
        ),
        (
            "how was it in the feature with air under 65",
            ('session with "feature" in its name', "air under 65 F"),
        ),
        ("show me tight off late", ("the driver said: tight on exit, late in the run or all through",)),
        ("slow in the heat", ('the words "slow in the heat" in what was written',)),
        ("when", ('the words "when" in what was written',)),
    ],
)
def test_a_question_in_plain_words_is_told_of_word_by_word(asked, understood):
    assert read_question(asked).understood == understood


def test_what_stands_for_what():
    assert only("RF tire t8") == Rode("RF tire t8", "tire t8 was in the car at RF", "tire", "t8", "RF")
    assert only("in 2026").first == dt.date(2026, 1, 1)
    assert isinstance(only("in 2026"), Days)
    assert isinstance(only("push"), Felt)
    assert only("driver Ann") == Named("driver Ann", 'driver with "Ann" in its name', "driver", "Ann")
    assert read_question(" , ;\n") == Question(" , ;\n", ())


# ---------------- the table of fields


def kind_at(model, key):
    """The kind of a key of a document, by walking its models."""
    name, _, rest = key.partition(".")
    field = model.model_fields[name]
    if not rest:
        return kind_of(field)
    parts = [
        one
        for one in (field.annotation, *typing.get_args(field.annotation))
        if isinstance(one, type) and issubclass(one, BaseModel)
    ]
    return kind_at(parts[0], rest)


def test_every_field_is_a_column_of_a_run_or_a_key_of_a_setup_of_that_kind():
    fields = {field for several in FIELDS.values() for field in several}
    for field in fields:
        if field.place == "run":
            assert hasattr(Run, field.keys[0])
            assert field.kind in KINDS
        elif field.place == "setup":
            for key in field.keys:
                if key not in ("LR.caster", "RR.caster"):
                    found = kind_at(Setup, key)
                    assert found is not None
                    assert found.dimension == KINDS[field.kind].dimension
        else:
            assert len(field.keys) == 2


# ---------------- any text

said = "over under between and is tight middle late tire T8 run setup here flag NEAR OR psi lb/in % F , ;"
odd = (
    '"',
    "'",
    "*",
    "(",
    "\\",
    "%s",
    ":",
    "½",
    "°",
    "\x00",
    "0" * 30,
    "1e400",
    "-1/4",
    "1,5",
    "300",
    "\ud800",
)
days = ("2026", "2026-06-01", "9999-12-31", "0000-00-00")
word = st.sampled_from((*sorted(FIELDS)[::7], *said.split(), *odd, *days, "at least", "since", "per lap"))
any_text = st.text(max_size=60) | st.lists(word, max_size=12).map(" ".join)


@given(any_text)
def test_any_text_is_a_question_or_a_sentence(text):
    try:
        question = read_question(text)
    except NotebookTrouble as trouble:
        said = str(trouble)
        assert said.endswith(".")
        assert said.isprintable()
        assert len(said) < 500
    else:
        assert all(clause.understood and clause.typed for clause in question.clauses)
