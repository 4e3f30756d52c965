"""Quantities and places: a value with the text it was typed as, its give-or-take and where it came from."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ovalwright.units.kinds import (
    KINDS,
    STATED_EVIDENCE,
    Evidence,
    Kind,
    check_possible,
    described,
    parse,
)
from ovalwright.units.text import TEMPERATURE, UnitError, read_number, shortened


@dataclass(frozen=True)
class Quantity:
    """A value as typed and as SI.

    ``give_or_take`` is half of the 95 % band, SI. With ``lognormal`` the band is ``si * exp(+-give_or_take
    / si)``. ``give_text`` is the give-or-take as typed, empty when it came from the kind or from the
    typical value.
    """

    text: str
    si: float
    give_or_take: float
    evidence: Evidence = "unstated"
    lognormal: bool = False
    give_text: str = field(default="", repr=False)

    @property
    def band(self) -> tuple[float, float]:
        """Lower and upper end of the 95 % band, SI."""
        if self.lognormal and self.si > 0:
            spread = math.exp(self.give_or_take / self.si)
            return self.si / spread, self.si * spread
        return self.si - self.give_or_take, self.si + self.give_or_take

    @property
    def known(self) -> bool:
        """False when the value was left out and the typical one stands in."""
        return self.evidence != "typical"


@dataclass(frozen=True)
class Place:
    """A point of the car, SI, x forward, y left, z up from the ground under the front axle on the centerline.

    ``give_or_take`` is half of the 95 % band of each of the three coordinates.
    """

    text: str
    si: tuple[float, float, float]
    give_or_take: tuple[float, float, float]
    evidence: Evidence = "unstated"
    give_text: str = field(default="", repr=False)

    @property
    def known(self) -> bool:
        """False when the place was left out and the typical one stands in."""
        return self.evidence != "typical"


def read_quantity(value: object, kind: Kind, *, spread: float | None = None) -> Quantity:
    """A Quantity from ``"225 lb/in"`` or ``{value = ..., give_or_take = ..., from = ...}``.

    ``spread`` is the SI standard deviation of the typical value of the field, used when the racer himself
    marks the value ``typical``. Raises UnitError.
    """
    written, evidence, give = _unfolded(value)
    si = parse(written, kind)
    check_possible(si, str(written), kind)
    sigma = kind.one_sigma(si, evidence)
    if evidence == "typical" and spread is not None:
        sigma = spread
    half = 2 * sigma if give is None else _half_band(give, si, kind)
    lognormal = evidence == "typical" and kind.positive and half > 0.5 * si > 0
    return Quantity(_text(written), si, half, evidence, lognormal, "" if give is None else _text(give))


def read_place(value: object, kind: Kind) -> Place:
    """A Place from ``"5.50, 9.60, 6.20 in"`` or the full form. Raises UnitError."""
    written, evidence, give = _unfolded(value)
    if not isinstance(written, str):
        raise UnitError(f'{described(written)} is no point; write x, y, z such as "5.50, 9.60, 6.20 in"')
    parts = [part.strip() for part in written.split(",")]
    if len(parts) != 3:
        raise UnitError(f'"{shortened(written)}" is no point; write x, y, z such as "5.50, 9.60, 6.20 in"')
    _, unit = read_number(parts[2])
    x, y, z = (parse(part if i == 2 else f"{part} {unit}", kind) for i, part in enumerate(parts))
    for coordinate in (x, y, z):
        check_possible(coordinate, written, kind)
    sigma = kind.one_sigma(0.0, evidence)
    half = 2 * sigma if give is None else _half_band(give, 0.0, kind)
    return Place(written, (x, y, z), (half, half, half), evidence, "" if give is None else _text(give))


def _unfolded(value: object) -> tuple[object, Evidence, object]:
    """The value, its evidence and its give-or-take from either way of writing a quantity."""
    if not isinstance(value, Mapping):
        return value, "unstated", None
    extra = set(value) - {"value", "give_or_take", "from"}
    if extra:
        raise UnitError(
            f'"{shortened(str(min(extra)))}" is no part of a quantity; write value, give_or_take, from'
        )
    if "value" not in value:
        raise UnitError(
            'the table has no value; write { value = "...", give_or_take = "...", from = "measured" }'
        )
    evidence = value.get("from", "unstated")
    if evidence not in (*STATED_EVIDENCE, "unstated"):
        raise UnitError(
            f'from = "{shortened(str(evidence))}" is unknown; write one of {", ".join(STATED_EVIDENCE)}'
        )
    return value["value"], evidence, value.get("give_or_take")


def _half_band(give: object, si: float, kind: Kind) -> float:
    """Half of the 95 % band from a typed give-or-take, absolute or in percent of the value."""
    if isinstance(give, str) and give.strip().endswith("%") and kind.us != "%":
        half = abs(si) * parse(give, KINDS["share"])
    elif kind.dimension == TEMPERATURE and isinstance(give, str):
        half = parse(give, KINDS["temperature_span"])
    else:
        half = parse(give, kind)
    if half < 0:
        raise UnitError(
            f'give_or_take = "{shortened(str(give))}" is negative; write half the band: "0.5 {kind.us}"'
        )
    return half


def typical_quantity(text: str, kind: Kind, spread: str) -> Quantity:
    """The Quantity that stands in for a value left out.

    ``spread`` is one standard deviation: in the unit of the value, in percent of it (``"25 %"``) or as a
    factor (``"x2"``). The band is twice that; a positive value that may be off by more than a quarter is
    lognormal.
    """
    si = parse(text, kind)
    if spread.startswith("x"):
        return Quantity(text, si, 2 * si * math.log(float(spread[1:])), "typical", lognormal=True)
    half = 2 * _half_band(spread, si, kind)
    return Quantity(text, si, half, "typical", lognormal=kind.positive and half > 0.5 * si > 0)


def typical_place(text: str, kind: Kind, spread: str) -> Place:
    """The Place that stands in for one left out; ``spread`` is one standard deviation of each coordinate."""
    place = read_place(text, kind)
    half = 2 * parse(spread, kind)
    return Place(text, place.si, (half, half, half), "typical")


def _text(written: object) -> str:
    return (
        written
        if isinstance(written, str)
        else f"{written:g}"
        if isinstance(written, float)
        else str(written)
    )
