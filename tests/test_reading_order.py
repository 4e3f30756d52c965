"""Tires read off in an order told once: each number at its place, or a sentence saying which is missing."""

import math

import pytest
from evidence import COMMON_PRACTICE, LIBRARY
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import convert_temperature, psi

from ovalwright.corners import CORNERS
from ovalwright.documents.headings import PARTS
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.reading_order import (
    DEFAULT,
    ReadingOrder,
    read_order,
    read_pressures,
    read_temperatures,
)

TWELVE = "178 185 190 / 201 196 188 / 170 171 172 / 190 200 199"
ROUND = "LF out mid in, RF in mid out, LR out mid in, RR in mid out"


def fahrenheit(kelvins):
    return tuple(convert_temperature(kelvins, "Kelvin", "Fahrenheit"))


def test_each_number_comes_to_its_place(check):
    read = read_temperatures(TWELVE, ROUND)
    assert fahrenheit(read.tread("LF")) == pytest.approx((190, 185, 178))
    assert fahrenheit(read.tread("RF")) == pytest.approx((201, 196, 188))
    assert fahrenheit(read.tread("LR")) == pytest.approx((172, 171, 170))
    assert fahrenheit(read.tread("RR")) == pytest.approx((190, 200, 199))
    assert [(one.corner, one.part, one.typed) for one in read.readings[:2]] == [
        ("LF", "outside", "178 F"),
        ("LF", "middle", "185 F"),
    ]
    check(
        ours=read.of("RR", "middle"),
        expected=convert_temperature(200, "Fahrenheit", "Kelvin"),
        rel=1e-12,
        unit="K",
        of="a tread of 200 F read in order",
        source="scipy.constants.convert_temperature",
        kind=LIBRARY,
        area="notebook",
    )
    check.fact(
        read_order(DEFAULT).corners == CORNERS and read_order("LF").spots == read_order(DEFAULT).spots[:3],
        of="tires are read from the left front on, each from its outside in",
        source="habit of the pits",
        kind=COMMON_PRACTICE,
        area="notebook",
    )


@pytest.mark.parametrize(
    "text",
    [
        TWELVE.replace(" / ", " "),
        TWELVE.replace(" / ", "\n"),
        TWELVE.replace(" / ", ",").replace(" ", ","),
        TWELVE.replace(" / ", "; ").replace(" ", "-").replace(";-", "; "),
        TWELVE.replace(" ", "  ") + " F",
        "RR 190 200 199, LF 178 185 190, RF: 201 196 188; lr 170 171 172",
        " ".join(f"{number}°F" for number in TWELVE.replace("/", "").split()),
    ],
)
def test_every_way_to_write_twelve_numbers(text):
    assert read_temperatures(text, ROUND).tread("RR") == read_temperatures(TWELVE, ROUND).tread("RR")
    assert read_temperatures(text, ROUND).tread("LF") == read_temperatures(TWELVE, ROUND).tread("LF")


def test_what_was_not_read_is_left_out():
    read = read_temperatures("82,5 88.1 90 / 95 - 92 / x x x / 90 91 92 C")
    assert read.of("LF", "outside") == pytest.approx(82.5 + 273.15)
    assert math.isnan(read.of("RF", "middle"))
    assert all(map(math.isnan, read.tread("LR")))
    assert len(read.readings) == 8
    fewer = read_temperatures("201 196 188 199", "RF in mid out, RR mid")
    assert fahrenheit(fewer.tread("RF")) == pytest.approx((201, 196, 188))
    assert [one.part for one in fewer.readings] == ["inside", "middle", "outside", "middle"]


def test_pressures_go_round_as_the_order_goes():
    read = read_pressures("13 28,5 14 26", "RR, LR, RF, LF")
    assert [read.of(corner) / psi for corner in ("RR", "LR", "RF", "LF")] == pytest.approx([13, 28.5, 14, 26])
    assert read_pressures("1.0 2.0 1.0 1.8 bar").of("RR") == pytest.approx(1.8e5)
    assert read_pressures("LR 14 RR 26").of("RR") / psi == pytest.approx(26)
    assert read_pressures("90 kPa 200 95 180", DEFAULT).of("RF") == pytest.approx(2e5)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (
            "178 185 190 / 201 196 / 170 171 172 / 190 200 199",
            "2 of 3 temperatures of RF are there; 1 missing, RF out",
        ),
        ("178 185 190 201 196", "5 of 12 temperatures are there; 7 missing, RF out to RR out if the rest"),
        (TWELVE + " 7", "4 temperatures of RR are there and 3 are read, 1 too many from 7 on"),
        (TWELVE.replace("/", "") + " 7 8", "14 temperatures are there and 12 are read, 2 too many from 7 on"),
        ("178 185 hot", 'cannot be read at "hot"; write numbers such as'),
        ("178 RF 3 4 5", "stand behind a corner and 178 does not"),
        ("RF 1 2 3 RF 1 2 3", "RF is there twice"),
        (TWELVE.replace("196", "1960"), 'RF mid: "1960 F" cannot be; a temperature from -80 to 400 F'),
        ("82 C 180 F " + "170 " * 10, "Some temperatures are in C and F, some in nothing"),
        ("", "0 of 12 temperatures are there; 12 missing, LF out to RR out"),
        ("1 " * 1001, "are longer than 2000 characters"),
    ],
)
def test_a_wrong_count_says_how_many_and_where(text, why):
    with pytest.raises(NotebookTrouble) as refused:
        read_temperatures(text, ROUND)
    assert why in str(refused.value)
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "The order names no corner; write such as LF out mid in"),
        ("LF up", '"up" is no third of a tread'),
        ("in LF", '"in" is no corner'),
        ("LF in in", "The order reads LF in twice"),
        ("LF, LF", "The order names LF twice"),
    ],
)
def test_an_order_that_cannot_be_is_one_sentence(text, why):
    with pytest.raises(NotebookTrouble) as refused:
        read_order(text)
    assert why in str(refused.value)


orders = st.permutations(CORNERS).flatmap(
    lambda corners: st.tuples(*(st.tuples(st.just(corner), st.permutations(PARTS)) for corner in corners))
)


@given(orders, st.lists(st.integers(60, 390), min_size=12, max_size=12))
def test_an_order_is_remembered_as_told_and_read_back_by_it(order, numbers):
    spots = tuple((corner, part) for corner, parts in order for part in parts)
    told = ReadingOrder(spots)
    assert read_order(str(told)) == told
    read = read_temperatures(" ".join(map(str, numbers)), str(told))
    for (corner, part), number in zip(spots, numbers, strict=True):
        assert read.of(corner, part) == pytest.approx((number + 459.67) / 1.8)


@given(st.text(st.sampled_from("0123456789 -/,.;LRFlrfxCF?\n°½é\x00"), max_size=50))
def test_any_text_is_numbers_or_a_sentence(text):
    for ask in (read_temperatures, read_pressures, read_order):
        try:
            ask(text)
        except NotebookTrouble as problem:
            assert str(problem).isprintable() and str(problem).endswith(".")
