"""Steps between two amounts as typed, exact: `1/2 round` more, `0.4 psi` less; fractions where typed so."""

from __future__ import annotations

from fractions import Fraction

from ovalwright.units import Kind, UnitError, decimal, meanings, mixed, parse, read_exact
from ovalwright.units.text import TEMPERATURE, Typed


def _as_one(was: Typed, now: Typed, kind: Kind) -> str | None:
    """The unit of two amounts typed in one, nothing at all being nothing in any; None where they differ."""
    if same_unit(was.unit, now.unit) or (not was.number and kind.dimension != TEMPERATURE):
        return _unit(now.unit or was.unit, kind)
    return None


def same_unit(one: str, other: str) -> bool:
    """Whether two units are one, however they are spelled."""
    try:
        return one == other or meanings(one) == meanings(other)
    except UnitError:
        return False


def step_between(old: str, new: str, kind: Kind) -> str | None:
    """`+1/2 round` from one amount to another; None where they are not typed in one unit."""
    was, now = read_exact(old), read_exact(new)
    unit = _as_one(was, now, kind)
    if unit is None:
        return None
    step = now.number - was.number
    number = _said(step, was.as_fraction or now.as_fraction)
    return f"{'+' if step >= 0 else ''}{number} {unit}".strip()


def stepped(old: str, step: str, kind: Kind) -> str:
    """The amount that lies a step (`+1/2 round`) beyond another. Raises UnitError where units do not fit."""
    was, by = read_exact(old), read_exact(step)
    unit = _as_one(was, by, kind)
    if unit is not None:
        number = _said(was.number + by.number, was.as_fraction or by.as_fraction)
        return f"{number} {unit}".strip()
    size = parse(step, kind) - parse(f"0 {by.unit}", kind)
    return f"{kind.to_us(parse(old, kind) + size):.6g} {kind.us}".strip()


def _unit(typed: str, kind: Kind) -> str:
    """The unit of the trade where it was only spelled otherwise."""
    return kind.us if same_unit(typed, kind.us) else typed


def arrow(old: str, new: str) -> str:
    """`225 -> 250 lb/in`; the unit is said once where both have it."""
    try:
        was, now = read_exact(old), read_exact(new)
    except UnitError:
        return f"{old} -> {new}"
    if now.unit and was.unit == now.unit:
        old = old.strip().removesuffix(was.unit).strip()
    return f"{old} -> {new}"


def _said(number: Fraction, as_fraction: bool) -> str:
    return mixed(number) if as_fraction else decimal(number)
