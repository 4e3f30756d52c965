"""What is measured on a part, on which day: typed with its unit, and at what where that matters.

``86 3/4 in at 20 psi`` is a roll-out, ``58 at 120 F`` a durometer reading, ``210 lb at 3 in/s`` the force of
a shock.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import Measurement, Part
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, UnitError, read_quantity

LONGEST_TYPED = 120


@dataclass(frozen=True)
class Measurable:
    """Something that is measured: the kinds of quantity of it and of what it is measured `at`, if anything;
    `must` where it means nothing without.
    """

    quantity: str
    at: str = ""
    must: bool = False


TREAD = ("tread", "tread_inside", "tread_middle", "tread_outside")
"""Depth of the tread, by thirds from the infield out where it was taken so."""
_LENGTHS = {"free_length": Measurable("coil_length"), "bind_height": Measurable("bind_height")}
_FORCE = Measurable("force", "shaft_speed", must=True)
_ANY = {"mass": Measurable("mass"), "wear": Measurable("wear")}
MEASURABLE: dict[str, dict[str, Measurable]] = {
    "tire": {
        "roll_out": Measurable("roll_out", "pressure", must=True),
        "growth": Measurable("growth_rate"),
        "durometer": Measurable("durometer", "temperature"),
        "width": Measurable("tire_width"),
    }
    | {third: Measurable("wear") for third in TREAD},
    "spring": {"rate": Measurable("spring_rate"), "preload": Measurable("force"), **_LENGTHS},
    "stop": {"rate": Measurable("stop_rate"), "preload": Measurable("force"), **_LENGTHS},
    "shock": {
        "bump": _FORCE,
        "rebound": _FORCE,
        "gas_force": Measurable("force"),
        "gas_pressure": Measurable("pressure"),
    },
    "bar": {
        "rate": Measurable("bar_rate"),
        "diameter": Measurable("bar_size"),
        "bore": Measurable("bar_size"),
        "length": Measurable("bar_length"),
        "arm": Measurable("bar_length"),
        "preload": Measurable("preload_torque"),
    },
    "gear": {"ratio": Measurable("ratio")},
}
"""By kind of part and by what is measured; ``mass`` and ``wear`` of every part besides."""


@dataclass(frozen=True)
class Measured:
    """One thing measured on a day: SI, what it was measured `at` (SI) or None, and as typed."""

    on: dt.date
    what: str
    si: float
    at: float | None
    typed: str


def measurable(kind: str) -> dict[str, Measurable]:
    """What is measured on a part of a kind."""
    return MEASURABLE.get(kind, {}) | _ANY


def measure(session: Session, part: Part, what: str, typed: str, *, on: dt.date) -> Measurement:
    """Note what was measured on a part. Raises NotebookTrouble when it cannot be read, or is impossible."""
    known = measurable(part.kind)
    key = "_".join(what.lower().replace("-", " ").split())
    if key not in known:
        names = ", ".join(name.replace("_", " ") for name in known)
        raise NotebookTrouble(
            f'"{what[:30]}" is not measured on {part.kind} {part.mark}; it is one of {names}.'
        )
    here, text = known[key], " ".join(typed.split())
    amount, _, at = text.partition(" at ")
    named = f"{part.kind} {part.mark}, {key.replace('_', ' ')}"
    if here.must and not at:
        example = f"{KINDS[here.quantity].example} at {KINDS[here.at].example}"
        raise NotebookTrouble(f'{named}: "{text[:60]}" does not say at what; write "{example}".')
    if (at and not here.at) or len(text) > LONGEST_TYPED:
        raise NotebookTrouble(f'{named}: "{text[:60]}" is too much; write {KINDS[here.quantity].example}.')
    try:
        si = read_quantity(amount, KINDS[here.quantity]).si
        at_si = read_quantity(at, KINDS[here.at]).si if at else None
    except UnitError as problem:
        raise NotebookTrouble(f"{named}: {problem}.") from None
    measurement = Measurement(part_id=part.id, measured_on=on, what=key, si=si, at=at_si, typed=text)
    session.add(measurement)
    session.flush()
    return measurement


def measurements(session: Session, part: Part, what: str = "") -> tuple[Measured, ...]:
    """What was measured on a part, oldest first."""
    query = sa.select(Measurement).where(Measurement.part_id == part.id)
    query = query.where(Measurement.what == what) if what else query
    found = session.scalars(query.order_by(Measurement.measured_on, Measurement.id))
    return tuple(Measured(one.measured_on, one.what, one.si, one.at, one.typed) for one in found)
