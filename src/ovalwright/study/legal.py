"""The car against a rule book, limit by limit; each book by itself, contradicting books are never merged.

Values are SI. The book says what is legal; this says what its numbers say about the car as written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Rules, State
from ovalwright.documents.rules import Ban
from ovalwright.documents.rules import Limit as BookLimit
from ovalwright.study.lead import Outcome, with_lead
from ovalwright.study.lead_car import bolted_in, books_by_lead, lead_job, limits_of
from ovalwright.study.verdicts import Verdict
from ovalwright.units import Quantity

Call = Literal["inside", "outside", "too close to call", "not known"]


@dataclass(frozen=True, kw_only=True)
class Held:
    """One limit or ban held against the car: what the book says and what the car shows, in words.

    `kind` is the kind of quantity of `value` and `bound`; both are nan where nothing is measured.
    """

    rule: str
    says: str
    where: str
    value: float
    bound: float
    kind: str
    call: Call


def held_by(
    assembly: Assembly,
    rules: Rules,
    *,
    flag: State | None = None,
    laps: int = 0,
    start_fuel: float | None = None,
) -> tuple[Held, ...]:
    """What a book says of a car with the lead that is bolted in, from a start with so much fuel [kg] to a
    state at the flag. Raises ValueError.
    """
    job = lead_job(assembly, rules, start_fuel=start_fuel, flag=flag, laps=laps)
    return held_against(assembly, rules, with_lead(job, bolted_in(assembly)))


def held_against(assembly: Assembly, rules: Rules, weighed: Outcome) -> tuple[Held, ...]:
    """Every limit and ban of a book; `weighed` is the car with its lead in the states of the race."""
    rules_by_limit = dict(zip(limits_of(rules), books_by_lead(rules), strict=True))
    rows = [_weighed(rules_by_limit[verdict.limit].rule, verdict) for verdict in weighed.verdicts]
    for limit in rules.limits:
        rows += [_sized(limit, where, value) for where, value in _values(assembly, limit.of)]
    rows += [_banned(assembly, ban) for ban in rules.bans]
    return tuple(rows)


def _weighed(rule: str, verdict: Verdict) -> Held:
    limit = verdict.limit
    value = verdict.value.value if verdict.value else float("nan")
    close = verdict.value is not None and abs(verdict.in_hand) < verdict.value.give_or_take
    return Held(
        rule=rule,
        says=verdict.asked,
        where=verdict.state,
        value=value,
        bound=verdict.bound,
        kind="share" if limit.of.endswith("_percent") else "total_weight",
        call="too close to call" if close else "inside" if verdict.legal else "outside",
    )


def _sized(limit: BookLimit, where: str, value: Quantity | None) -> Held:
    sense = 1.0 if limit.is_ == "at least" else -1.0
    slack = limit.tolerance.si if limit.tolerance else 0.0
    bound = limit.value.si - sense * slack
    call: Call = "not known"
    if value is not None:
        in_hand = sense * (value.si - bound)
        close = value.evidence == "typical" and abs(in_hand) < value.give_or_take
        call = "too close to call" if close else "inside" if in_hand >= -1e-9 else "outside"
    return Held(
        rule=limit.rule,
        says=f"{limit.of.replace('_', ' ')} {limit.is_} {limit.value.text}",
        where=where,
        value=value.si if value is not None else float("nan"),
        bound=bound,
        kind=limit.kind.name,
        call=call,
    )


def _values(assembly: Assembly, of: str) -> Iterator[tuple[str, Quantity | None]]:
    """What a limit is about, each with where it is read; nothing for what is weighed elsewhere."""
    car, setup, sheet = assembly.car, assembly.setup, assembly.sheet
    single: Mapping[str, Quantity | None] = {
        "wheelbase": car.wheelbase,
        "front_tread": car.tread.front,
        "rear_tread": car.tread.rear,
        "fuel_capacity": car.fuel_cell.capacity,
        "final_drive": setup.final_drive,
        "rev_limit": car.engine.rev_limit,
        "bar_diameter": setup.bar.diameter if setup.bar else None,
        "lead_total": _sum([piece.mass for piece in setup.lead]),
        "front_stagger": _difference(setup.RF.tire.roll_out, setup.LF.tire.roll_out),
        "rear_stagger": _difference(setup.RR.tire.roll_out, setup.LR.tire.roll_out),
    }
    if of in single:
        yield "car", single[of]
    for corner in CORNERS:
        wheel, read = getattr(setup, corner), getattr(sheet, corner)
        corners: Mapping[str, Quantity | None] = {
            "ride_height": read.height,
            "tire_roll_out": wheel.tire.roll_out,
            "tire_width": wheel.tire.width,
            "cold_pressure": wheel.tire.cold,
            "spring_rate": wheel.coil.rate if wheel.coil else None,
        }
        if of in corners and not (of == "spring_rate" and wheel.coil is None):
            yield corner, corners[of]
    for piece in setup.lead:
        if of == "lead_piece":
            yield piece.id, piece.mass
        if of == "lead_height":
            yield piece.id, _height(piece.place.si[2], piece.place.text)


def _sum(parts: list[Quantity]) -> Quantity:
    total = sum(part.si for part in parts)
    return Quantity(text="", si=total, give_or_take=0.0, evidence="unstated")


def _height(z: float, text: str) -> Quantity:
    return Quantity(text=text, si=z, give_or_take=0.0, evidence="unstated")


def _difference(right: Quantity | None, left: Quantity | None) -> Quantity | None:
    if right is None or left is None:
        return None
    return Quantity(text="", si=right.si - left.si, give_or_take=0.0, evidence="unstated")


def _banned(assembly: Assembly, ban: Ban) -> Held:
    setup = assembly.setup
    wheels = [getattr(setup, corner) for corner in CORNERS]
    coils = [wheel.coil for wheel in wheels]
    has: Mapping[str, bool] = {
        "bump_stops": any(wheel.stop for wheel in wheels),
        "bump_springs": any(wheel.bump_spring for wheel in wheels),
        "spring_rubbers": any(coil is not None and coil.rubber for coil in coils),
        "no_spring": any(coil is None for coil in coils),
        "hollow_bar": setup.bar is not None and setup.bar.bore is not None and setup.bar.bore.si > 0.0,
        "radial_tires": any(wheel.tire.construction == "radial" for wheel in wheels),
    }
    thing = ban.of.replace("_", " ")
    call: Call = "inside" if ban.allowed else "not known"
    if not ban.allowed and ban.of in has:
        call = "outside" if has[ban.of] else "inside"
    return Held(
        rule=ban.rule,
        says=f"{thing} {'allowed' if ban.allowed else 'not allowed'}",
        where="car",
        value=float("nan"),
        bound=float("nan"),
        kind="",
        call=call,
    )
