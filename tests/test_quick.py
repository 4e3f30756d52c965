"""One shouted line as changes of a setup: what is said of a change, read again, gives the change."""

import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import ovalwright
from ovalwright.documents import DocumentError, Setup, load_rack, load_setup
from ovalwright.notebook.typed.difference import differences, said
from ovalwright.notebook.typed.quick import read_line

DEMO = Path(ovalwright.__file__).parent / "demo"
BASE, STOPS, LIGHT = (
    load_setup(DEMO / f"setup_{name}.toml") for name in ("conventional", "soft_front", "light")
)
RACK = load_rack(DEMO / "rack.toml")

HEARD = {
    "RR +1/2": {"RR.turned": "1/2 round"},
    "LR −1 ¼ round": {"LR.turned": "-1 1/4 round"},
    "rr+½": {"RR.turned": "1/2 round"},
    "1/2 round in LR": {"LR.turned": "1/2 round"},
    "1-1/4 turns out of the right rear": {"RR.turned": "-1 1/4 round"},
    "LF RF +1/4": {"LF.turned": "1/4 round", "RF.turned": "1/4 round"},
    "all bolt 0": {f"{corner}.turned": "0 round" for corner in ("LF", "RF", "LR", "RR")},
    "put LR +1/2 RR -1/2": {"LR.turned": "1/2 round", "RR.turned": "-1/2 round"},
    "LF/RF tire T4 LR tire T5": {"LF.tire.tire": "T4", "RF.tire.tire": "T4", "LR.tire.tire": "T5"},
    "LR 1 1/2 psi less": {"LR.tire.cold": "9 1/2 psi", "LR.tire.hot": "12 1/2 psi"},
    "LR up 0,5 psi": {"LR.tire.cold": "11.5 psi", "LR.tire.hot": "14.5 psi"},
    "LR 12.5 psi": {"LR.tire.cold": "12.5 psi", "LR.tire.hot": "15.5 psi"},
    "12,5 PSI LR": {"LR.tire.cold": "12.5 psi", "LR.tire.hot": "15.5 psi"},
    "left rear air 12,5": {"LR.tire.cold": "12.5 psi", "LR.tire.hot": "15.5 psi"},
    "RR +1 psi cold": {"RR.tire.cold": "19 psi"},
    "RR hot +1 psi": {"RR.tire.hot": "27 psi"},
    "RR 28 psi hot": {"RR.tire.hot": "28 psi"},
    "RF RR -½ psi cold": {"RF.tire.cold": "19 1/2 psi", "RR.tire.cold": "17 1/2 psi"},
    "RF spring 250": {"RF.coil.rate": "250 lb/in"},
    "RF spring 1,250 #": {"RF.coil.rate": "1250 lb/in"},
    "250 spring RF": {"RF.coil.rate": "250 lb/in"},
    "RR spring B13": {"RR.coil.spring": "B13"},
    "RR no spring": {"RR.coil": "none"},
    "RR rubber 25": {"RR.coil.rubber": "25 lb/in"},
    "RF camber -3.5": {"RF.camber": "-3.5 deg"},
    "RF camber by –1/4": {"RF.camber": "-3 1/2 deg"},
    "LF caster 2": {"LF.caster": "2 deg"},
    "LR tire T4": {"LR.tire.tire": "T4"},
    "bar off": {"bar": "none"},
    "bar 1 1/8": {"bar.diameter": "1 1/8 in"},
    "bar 1,125": {"bar.diameter": "1.125 in"},
    "bar inch and a half": {"bar.bar": "inch and a half"},
    "bar +1/4": {"bar.preload": "1/2 round"},
    "unhook the bar": {"bar.hooked": False},
    "toe 1/8 out": {"toe_out": "1/8 in"},
    "toe in 1/16 in": {"toe_out": "-1/16 in"},
    "toe out by +1/32": {"toe_out": "1/8 in"},
    "rear lead 1/8": {"rear_lead": "1/8 in"},
    "gear 5,43": {"final_drive": "5.43"},
    "brake bias +2": {"brake_front": "66 %"},
    "panhard up 1/4": {"link_shift.panhard.frame_up": "1/4 in", "link_shift.panhard.axle_up": "1/4 in"},
    "panhard frame 10 1/4": {"panhard.frame_height": "10 1/4 in"},
    "third link axle hole down 1/2": {"link_shift.third_link.axle_up": "-1/2 in"},
    "move L50-1 -74, 26, 6.5 in": {"lead[1].place": "-74, 26, 6.5 in"},
    "lead L50-1 to -74,26,6.5": {"lead[1].place": "-74, 26, 6.5 in"},
    "lead L50-1 moved to -74,5, 26, 6,5": {"lead[1].place": "-74.5, 26, 6.5 in"},
}


@pytest.mark.parametrize("words", HEARD)
def test_a_clause_is_heard_as_it_is_meant(words):
    line = read_line(words, BASE)
    assert line.not_understood == ()
    assert line.changes == HEARD[words]


def test_steps_of_what_is_known():
    assert read_line("RF packers +1/16; LF stop gap 1 1/2", STOPS).changes == {
        "RF.stop.packers": "5/16 in",
        "LF.stop.gap": "1 1/2 in",
    }
    assert read_line("panhard up 1/4", LIGHT).changes == {
        "panhard.frame_height": "10 1/8 in",
        "panhard.axle_height": "9 7/8 in",
    }
    assert read_line("RR spring +25", BASE, rack=RACK).changes == {"RR.coil.rate": "259.2 lb/in"}
    again = BASE.changed(read_line("RR +1/2, RR +1/4, RR -1", BASE).changes)
    assert again.RR.turned.text == "-1/4 round"


def test_the_rack_knows_marks_and_spots():
    line = read_line("RR spring b13, move l50-1 to tail, lead L30-1 at under seat", BASE, rack=RACK)
    assert line.changes["RR.coil.spring"] == "B13"
    after = BASE.changed(line.changes)
    assert after.lead[0].place.si == pytest.approx((-138 * 0.0254, 4 * 0.0254, 12 * 0.0254))
    assert (after.lead[-1].id, after.lead[-1].mass.text) == ("L30-1", "30.1 lb")
    (refused,) = read_line("RR spring B99", BASE, rack=RACK).not_understood
    assert refused.sentence == '"RR spring B99": "B99" is no spring on the rack; write B19 or B09.'


def test_lead_and_rubber_leave_as_they_came():
    out = BASE.changed(read_line("lead L50-1 out, move L50-2 -48, 26, 6.5 in", BASE).changes)
    assert [piece.id for piece in out.lead] == ["L50-2", "L40-1", "L12-1"]
    assert out.lead[0].place.text == "-48, 26, 6.5 in"
    assert Setup.from_text(out.text, folder=DEMO).lead == out.lead
    stiff = BASE.changed({"RR.coil.rubber": "25 lb/in"})
    assert stiff.changed(read_line("RR rubber out", stiff).changes).RR.coil == BASE.RR.coil


REFUSED = {
    "cross up? no": "cross is not set by itself",
    "stagger 2 1/2": "stagger is not set by itself",
    "fuel 12 gal": "fuel is of a run, not of a setup",
    "RR 1/2 round": "does not say which way; RR +1/2 round loads the coil",
    "RR +1/2 in": "does not say of what at RR",
    "RR 13": "does not say of what at RR",
    "RR": "does not say what to do at RR",
    "RR banana": "does not say what to do at RR",
    "banana": "names nothing that is set",
    "RR spring 12 psi": '"12 psi": psi is a pressure; write a spring rate such as "225 lb/in"',
    "RR spring 900000": "a spring rate from 0 to 200,000 lb/in is possible here",
    "RR spring 300 -> 250": "it is B12 in this setup, not 300",
    "LR 14 -> 12 psi": "it is 11 psi in this setup, not 14",
    "toe 1/8": "does not say which way",
    "toe 1/8 in": "does not say which way",
    "RF packers +1/16": "RF has none; write such as RF stop in: gap",
    "RR caster 3": "caster is of a front wheel",
    "lead L99 out": 'no lead "L99" is in the car; write L50-1 or',
    "lead L7-1 at 1, 2, 3": "does not say what L7-1 weighs",
    "lead L50-1 12 lb at 1, 2, 3": "L50-1 is in the car already",
    "panhard 10": "does not say which end",
    "RR air 12.5.5": "is no one number",
    "1": "names nothing that is set",
    "   ": "says nothing",
    "x" * 1001: "is longer than 1000 characters",
}


@pytest.mark.parametrize("words", REFUSED)
def test_what_is_not_understood_is_named_with_what_would_be_right(words):
    line = read_line(words, BASE)
    (refused,) = line.not_understood
    assert REFUSED[words] in refused.sentence
    assert refused.sentence.endswith(".")
    with pytest.raises(DocumentError, match=re.escape(REFUSED[words])):
        assert line.changes


def test_nothing_is_half_applied():
    line = read_line("RR +1/2, LR 12.5 psi, RF spring 250, cross up? no", BASE)
    assert [one.words for one in line.understood] == ["RR +1/2", "LR 12.5 psi", "RF spring 250"]
    assert [one.said for one in line.understood] == [
        "RR +1/2 round",
        "LR +1.5 psi",
        "RF spring F15 -> 250 lb/in",
    ]
    assert [one.words for one in line.not_understood] == ["cross up? no"]
    with pytest.raises(DocumentError, match="cross is not set by itself"):
        assert line.changes


corners = st.sampled_from(["LF", "RF", "LR", "RR"])
numbers = st.one_of(
    st.fractions(-3, 3, max_denominator=16).map(lambda f: f"{f.numerator}/{f.denominator}"),
    st.decimals(-20, 20, places=2).map(str),
    st.integers(-20, 20).map(str),
)
sizes = numbers.map(lambda text: text.lstrip("-"))


def setting(keys, texts):
    return st.tuples(keys if not isinstance(keys, str) else st.just(keys), texts)


def at(field, texts):
    return setting(corners.map(lambda corner: f"{corner}.{field}"), texts)


settable = st.one_of(
    at("turned", numbers.map("{} round".format)),
    at("coil.rate", st.integers(90, 1500).map("{} lb/in".format)),
    at("coil.spring", st.sampled_from(["B13", "F02", "7", "blue one"])),
    at("coil.rubber", st.integers(10, 60).map("{} lb/in".format)),
    at("coil", st.just("none")),
    at("tire.cold", sizes.map("{} psi".format)),
    at("tire.hot", sizes.map("{} psi".format)),
    at("tire.cold", st.sampled_from(["90 kPa", "1 bar"])),
    at("tire.tire", st.sampled_from(["T4", "T9", "12"])),
    at("shock.shock", st.sampled_from(["K1", "K6"])),
    setting(corners.filter("RF LF".count).map("{}.camber".format), numbers.map("{} deg".format)),
    setting("bar", st.sampled_from(["none", {"diameter": "1 1/4 in"}])),
    setting("bar.preload", numbers.map("{} round".format)),
    setting("bar.hooked", st.booleans()),
    setting("bar.bar", st.sampled_from(["one inch", "1 inch"])),
    setting("bar.diameter", st.sampled_from(["1 1/8 in", "1.25 in"])),
    setting("toe_out", numbers.map("{} mm".format)),
    setting("rear_lead", numbers.map("{} mm".format)),
    setting("final_drive", st.decimals(3, 7, places=2).map(str)),
    setting("brake_front", st.integers(50, 80).map("{} %".format)),
    setting(st.sampled_from(["panhard.frame_height", "panhard.axle_height"]), sizes.map("{} in".format)),
    setting("link_shift.third_link.axle_up", numbers.map("{} mm".format)),
    setting("link_shift.panhard.frame_up", numbers.map("{} mm".format)),
    setting("lead[1].place", st.tuples(numbers, numbers, sizes).map(lambda p: ", ".join(p) + " in")),
    setting("lead[2].mass", sizes.map("{} lb".format)),
    setting("lead", st.just([{"id": "L9 new", "mass": "9.1 lb", "place": "-24, 25, 7 in"}])),
)


stops = st.one_of(
    setting(st.sampled_from(["RF.stop.packers", "LF.stop.gap"]), sizes.map("{} in".format)),
    setting("LF.stop", st.just("none")),
    setting("RF.bump_spring", st.just({"rate": "1000 lb/in", "gap": "1 in", "packers": "1/8 in"})),
    setting("RF.bump_spring", st.just("none")),
    setting("RR.stop", st.just({"gap": "2 1/4 in", "k0": "300 lb/in"})),
)


def applied(setup, changes):
    """The setup with those of the changes that can be."""
    for key, value in changes:
        try:
            setup = setup.changed({key: value})
        except DocumentError:
            continue
    return setup


cases = st.one_of(
    st.tuples(st.sampled_from([BASE, LIGHT]), st.lists(settable, max_size=6)),
    st.tuples(st.just(STOPS), st.lists(st.one_of(settable, stops), max_size=6)),
)


@given(cases)
def test_what_is_said_of_a_change_read_again_is_the_change(case):
    read_again(*case)


@pytest.mark.proof
@given(cases)
def test_what_is_said_of_many_changes_read_again_is_the_change(case):
    read_again(*case)


def read_again(base, changes):
    new = applied(base, changes)
    words = said(differences(base, new))
    if not words:
        return
    line = read_line(words, base)
    assert line.not_understood == (), words
    again = base.changed(line.changes)
    assert said(differences(again, new)) == "", words


@given(line=st.text(max_size=60))
@settings(max_examples=60)
def test_any_text_is_answered(line):
    assert isinstance(read_line(line, BASE, rack=RACK).text, str)


ODD = [
    "+",
    "-",
    "½",
    "12,5",
    "1,250",
    "psi",
    "in",
    "and",
    "->",
    ",",
    ";",
    "#",
    '"',
    "?",
    "1e9",
    "0/0",
    "RR",
    "by",
]


def shouted(seed):
    """A few clauses, some with a word too many, too few or another one."""
    dice = random.Random(seed)
    clauses = []
    for _ in range(dice.randrange(1, 4)):
        words = dice.choice([*HEARD, *REFUSED] if dice.random() < 0.2 else [*HEARD]).split()
        where = dice.randrange(len(words) or 1)
        match dice.randrange(6):
            case 0:
                words[where : where + 1] = []
            case 1:
                words.insert(where, dice.choice(ODD))
            case 2:
                words[where : where + 1] = [dice.choice(dice.choice([*HEARD]).split())]
        clauses.append(" ".join(words))
    return dice.choice([", ", "; ", " and ", "\n"]).join(clauses)


def answered(seed):
    """A line is read or refused in sentences; what is understood can be done, all of it together."""
    text = shouted(seed)
    line = read_line(text, BASE, rack=RACK)
    for refused in line.not_understood:
        assert refused.sentence.isprintable() and refused.sentence.endswith("."), text
    if line.not_understood:
        return 0
    after = BASE.changed(line.changes)
    one_by_one = applied(BASE, [item for one in line.understood for item in one.changes.items()])
    assert differences(after, one_by_one) == (), text
    return 1


def test_words_at_random_are_read_or_refused():
    assert sum(answered(seed) for seed in range(300)) > 60


@pytest.mark.proof
def test_many_words_at_random_are_read_or_refused():
    assert sum(answered(seed) for seed in range(20000)) > 4000
