"""What was measured, read as it is typed: one reading or several, and how far their mean may be off."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from evidence import DERIVED

from ovalwright.notebook.garage.measuring_tools import tools_for
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.measured import (
    GiveTrouble,
    half_of_mean,
    looks_odd,
    read_measured,
    together_with,
)
from ovalwright.units import KINDS, read_number, read_quantity


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
