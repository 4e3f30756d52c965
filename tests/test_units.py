"""Quantities as a racer writes them."""

from __future__ import annotations

import math

import pint
import pytest
from evidence import DERIVED, FROM_MEMORY, LIBRARY, READ
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.units import (
    KINDS,
    UnitError,
    parse,
    read_number,
    read_place,
    read_quantity,
    show,
    shown,
    typical_quantity,
    unusual,
)

NIST = "NIST Special Publication 811 (2008), appendix B.8"
READ_FACTORS = ("1 lb", "1 in", "1 inHg")


@pytest.mark.parametrize(
    ("text", "kind", "expected", "unit"),
    [
        ("1 lb", "mass", 0.45359237, "kg"),
        ("1 lb", "force", 4.4482216152605, "N"),
        ("1 in", "height", 0.0254, "m"),
        ("1 lb/in", "spring_rate", 175.12683524647636, "N/m"),
        ("1 psi", "pressure", 6894.757293168361, "Pa"),
        ("1 lb-ft", "torque", 1.3558179483314004, "N m"),
        ("800 lb-ft/deg", "twist_rate", 62146.117, "N m/rad"),
        ("1 mph", "speed", 0.44704, "m/s"),
        ("1 lb/gal", "density", 119.826427317, "kg/m^3"),
        ("1 inHg", "barometer", 3386.389, "Pa"),
        ("1 gal", "volume", 3.785411784e-3, "m^3"),
    ],
)
def test_factors_are_those_of_the_standard(check, text, kind, expected, unit):
    check(
        ours=parse(text, KINDS[kind]),
        expected=expected,
        rel=2e-9,
        unit=unit,
        of=f"{text} as {kind.replace('_', ' ')}",
        source=NIST,
        kind=READ if text in READ_FACTORS else FROM_MEMORY,
        area="units",
    )


def test_a_pound_of_force_is_not_a_pound_times_9_81(check):
    check.trap(
        ours=parse("1 lb", KINDS["force"]),
        wrong=0.45359237 * 9.81,
        apart=3e-4,
        unit="N",
        of="one pound as a force",
        source="circulating shortcut 0.45359237 x 9.81",
        kind=DERIVED,
        area="units",
    )


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("lb-ft/deg", "force_pound * foot / degree"),
        ("lb/in/psi", "force_pound / inch / psi"),
        ("in/psi", "inch / psi"),
        ("ft^2/deg", "foot ** 2 / degree"),
        ("kg m^2", "kilogram * meter ** 2"),
        ("deg/1000lb", "degree / (1000 * force_pound)"),
        ("hp", "horsepower"),
        ("rpm", "revolution / minute"),
        ("km/h", "kilometer / hour"),
        ("oz", "ounce"),
        ("furlong", "furlong"),
        ("kgf/mm", "kilogram_force / millimeter"),
    ],
)
def test_units_agree_with_pint(check, ours, theirs):
    from ovalwright.units.text import meanings

    registry = pint.UnitRegistry()
    expected = registry.parse_expression(theirs).to_base_units().magnitude
    factors = [factor for factor, _ in meanings(ours)]
    check(
        ours=min(factors, key=lambda factor: abs(factor - expected)),
        expected=expected,
        rel=1e-9,
        unit="SI",
        of=f"one {ours}",
        source="pint unit registry",
        kind=LIBRARY,
        area="units",
    )


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("15 3/8 in", 15.375, "in"),
        ("86 1/4 in", 86.25, "in"),
        ("15-3/8 in", 15.375, "in"),
        ("-3.5 deg", -3.5, "deg"),
        ("\u22123.5 deg", -3.5, "deg"),
        ("1/16 in", 0.0625, "in"),
        ("2,250 lb/in", 2250.0, "lb/in"),
        (".5 in", 0.5, "in"),
        ("1e3 mm", 1000.0, "mm"),
        ("12psi", 12.0, "psi"),
        ('15 3/8"', 15.375, '"'),
        ("5", 5.0, ""),
    ],
)
def test_numbers_as_written_in_the_shop(text, number, unit):
    assert read_number(text) == (number, unit)


@pytest.mark.parametrize(
    ("text", "kind", "part"),
    [
        ("105 lb", "wheelbase", 'write a length such as "105 in"'),
        ("105", "wheelbase", "no unit is given"),
        ("five in", "height", "does not start with a number"),
        ("nan in", "height", "does not start with a number"),
        ("1e999 in", "height", "not a finite number"),
        ("5 1/0 in", "height", "divides by zero"),
        ("5,50 in", "height", "cannot be read"),
        ("12 inn", "height", "perhaps in"),
        ("400 lb-ft", "twist_rate", "lb-ft is a torque; write a twist rate"),
        ("12 in/0", "height", "no part of a unit"),
        ("9" * 200 + " in", "height", "characters long"),
        ("75", "temperature", "no unit is given"),
        ("75 psi", "temperature", "psi is no temperature"),
    ],
)
def test_what_cannot_be_read_says_what_would_be_right(text, kind, part):
    with pytest.raises(UnitError) as told:
        parse(text, KINDS[kind])
    assert part in str(told.value)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, None, [], {}, 10**400])
def test_what_is_no_quantity_is_refused(value):
    with pytest.raises(UnitError):
        read_quantity(value, KINDS["ratio"])


def test_pounds_are_force_or_mass_by_the_field():
    assert parse("100 lb", KINDS["force"]) / parse("100 lb", KINDS["mass"]) == pytest.approx(9.80665)


def test_impossible_is_an_error_and_unlikely_is_not():
    kind = KINDS["spring_rate"]
    with pytest.raises(UnitError, match="cannot be"):
        read_quantity("-5 lb/in", kind)
    odd = read_quantity("2,250 lb/in", kind)
    assert "outside the usual" in unusual(odd.si, kind)
    assert unusual(parse("225 lb/in", kind), kind) == ""


def test_a_bare_value_gets_the_error_of_its_kind_and_a_measured_one_less():
    kind = KINDS["spring_rate"]
    bare, rated = (read_quantity(v, kind) for v in ("300 lb/in", {"value": "300 lb/in", "from": "measured"}))
    assert bare.evidence == "unstated"
    assert bare.give_or_take == pytest.approx(2 * 0.02 * bare.si)  # the tag holds to 2 %
    assert rated.give_or_take == pytest.approx(
        2 * parse(f"{math.hypot(2, 3)} lb/in", kind)
    )  # rater: 1 % and 2 lb/in


@pytest.mark.parametrize(("give", "expected"), [("0.5 in", 0.0127), ("10 %", 0.1 * 15.2 * 0.0254)])
def test_a_typed_give_or_take_is_half_the_band(give, expected):
    full = read_quantity({"value": "15.2 in", "give_or_take": give, "from": "measured"}, KINDS["height"])
    assert full.give_or_take == pytest.approx(expected)
    assert full.band == pytest.approx((full.si - expected, full.si + expected))
    assert (full.text, full.give_text) == ("15.2 in", give)


def test_temperature_and_its_give_or_take():
    air = read_quantity({"value": "68 F", "give_or_take": "9 F"}, KINDS["temperature"])
    assert (air.si, air.give_or_take) == (pytest.approx(293.15), pytest.approx(5.0))
    assert parse("20 C", KINDS["temperature"]) == pytest.approx(293.15)
    assert show(293.15, "temperature") == "68 F"


def test_typical_values_carry_twice_their_standard_deviation():
    height = typical_quantity("16 in", KINDS["height"], "1.1 in")
    assert height.give_or_take == pytest.approx(2.2 * 0.0254)
    twist = typical_quantity("7000 lb-ft/deg", KINDS["twist_rate"], "3000 lb-ft/deg")
    assert twist.lognormal
    assert twist.band[0] > 0
    assert twist.band[1] / twist.si == pytest.approx(math.exp(6 / 7))
    bound = typical_quantity("20000 lb/in", KINDS["bound_rate"], "x2")
    assert bound.band == pytest.approx((bound.si / 4, bound.si * 4))


def test_points():
    point = read_place("5.50, -9 5/8, 6.20 in", KINDS["point"])
    assert point.si == pytest.approx((0.1397, -0.244475, 0.15748))
    for wrong in ("5.5, 9.6 in", "5.5, 9.6, 6.2", "5.5, 9.6, 6.2 lb", "a, b, c in", 3, "900, 0, 0 in"):
        with pytest.raises(UnitError):
            read_place(wrong, KINDS["point"])


@pytest.mark.parametrize(
    ("si", "kind", "system", "text"),
    [
        (39403.5, "spring_rate", "us", "225 lb/in"),
        (39403.5, "spring_rate", "si", "39.4 N/mm"),
        (1270.0, "total_weight", "us", "2,800 lb"),
        (-1e-9, "toe", "us", "0.000 in"),
        (0.528, "share", "us", "52.8 %"),
    ],
)
def test_shown_with_unit_and_sensible_rounding(si, kind, system, text):
    assert show(si, kind, system=system) == text


NAMES = st.sampled_from(sorted(KINDS))


@given(name=NAMES, share=st.floats(0.01, 0.99))
def test_what_is_shown_can_be_typed_again(name, share):
    kind = KINDS[name]
    low, high = (limit if math.isfinite(limit) else 0.0 for limit in kind.usual)
    si = kind.to_si(low + share * (high - low))
    for system, unit in (("us", kind.us), ("si", kind.si)):
        again = parse(f"{shown(si, kind, system=system):.12g} {unit}", kind)
        assert again == pytest.approx(si, rel=1e-9, abs=1e-12)


@given(name=NAMES, number=st.floats(-50, 50), us=st.booleans())
def test_units_do_not_change_what_is_meant(name, number, us):
    kind = KINDS[name]
    si = kind.in_si(number, kind.us if us else kind.si)
    assert kind.to_si(kind.to_us(si)) == pytest.approx(si, rel=1e-12, abs=1e-12)


@given(text=st.text(max_size=60), name=NAMES)
def test_any_text_is_read_or_told(text, name):
    try:
        quantity = read_quantity(text, KINDS[name])
    except UnitError as told:
        assert str(told)
    else:
        assert math.isfinite(quantity.si)
        assert math.isfinite(quantity.give_or_take)


@given(number=st.floats(allow_nan=True), unit=st.text("lbinftpsdegrNm/*-^²1234. ", max_size=20), name=NAMES)
def test_any_unit_is_read_or_told(number, unit, name):
    try:
        assert math.isfinite(parse(f"{number} {unit}", KINDS[name]))
    except UnitError as told:
        assert str(told)


def test_a_span_of_temperature_has_no_zero_to_shift():
    window = read_quantity({"value": "180 F", "give_or_take": "40 F"}, KINDS["temperature_span"])
    assert window.si == pytest.approx(100.0)
    assert window.give_or_take == pytest.approx(200 / 9)
    assert show(100.0, "temperature_span") == "180 F"
    assert parse("10 K", KINDS["temperature_span"]) == parse("10 C", KINDS["temperature_span"]) == 10.0


def test_a_give_or_take_of_a_temperature_is_a_span_whatever_its_unit():
    for give, kelvin in (("9 F", 5.0), ("5 C", 5.0), ("5 K", 5.0)):
        warm = read_quantity({"value": "75 F", "give_or_take": give}, KINDS["temperature"])
        assert warm.give_or_take == pytest.approx(kelvin)
