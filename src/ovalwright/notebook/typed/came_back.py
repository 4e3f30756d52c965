"""The set-down of a run: kept whole, held against what its setup makes expect, and judged in sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents import Setup
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage.weighed import changed_since, weighed_revision
from ovalwright.notebook.tables import Reading, Revision, Run
from ovalwright.notebook.typed.set_down_line import DRIVER, FUEL
from ovalwright.units import as_fraction

if TYPE_CHECKING:
    from ovalwright.pack import Packed
    from ovalwright.study.set_down import Measured, SetDownLine
    from ovalwright.study.what_moved import Bolt, Sign

Show = Callable[[float, str], str]
"""Shows an SI value of a kind."""


Stands = Literal["as bolted in", "re-set", "either"]
SURER = 4.0
"""By how much the squared mismatch of one way must be less for it to be told: a likelihood ratio of e^2
(judgement, no source)."""


@dataclass(frozen=True)
class CameBack:
    """What was measured line by line, and the patterns in it.

    `stands`: how the car stood, where its setup was changed after the weighing and what was measured fits one
    way alone; "either" is held against the car re-set. None where nothing was changed.
    """

    lines: tuple[SetDownLine, ...] = ()
    signs: tuple[Sign, ...] = ()
    stands: Stands | None = None


def keep_set_down(session: Session, run: Run, readings: tuple[runs.Read, ...]) -> int:
    """What the car measured when it came back, in place of a set-down that the run had; how many readings
    that one was. The fuel that was left is that of the run as well.
    """
    of_it = sa.select(Reading).where(Reading.run_id == run.id, Reading.taken == "set_down")
    before = session.scalars(of_it).all()
    fuel_before = next((one.si for one in before if one.what == FUEL), None)
    for one in before:
        session.delete(one)
    runs.add_readings(session, run, readings)
    fuel = next((one.si for one in readings if one.what == FUEL), None)
    if fuel is not None and run.fuel_left in (None, fuel_before):
        runs.change_run(session, run, {"fuel_left": fuel})
    return len(before)


def set_down_of(session: Session, run: Run) -> CameBack:
    """What was measured against what its setup makes expect, and what moved by its pattern.

    Raises DocumentError when the car cannot stand.
    """
    found = [one for one in runs.record(session, run).readings if one.taken == "set_down"]
    if not found:
        return CameBack()
    from ovalwright.study.set_down import KIND_OF, came_back

    measured = {(one.what, one.place): one.si for one in found if one.what in KIND_OF}
    if not measured:
        return CameBack()
    extra = {one.what: one.si for one in found if one.what in (FUEL, DRIVER)}
    driver = bool(extra[DRIVER]) if DRIVER in extra else None
    fuel = extra.get(FUEL, run.fuel_left)
    assembly = shelf.assembly_of(session, run.setup)
    reset = came_back(assembly, fuel=fuel, driver=driver)
    weighed = _setup_of(session, weighed_revision(session, run.setup))
    if not changed_since(weighed, assembly.setup):
        return _judged(reset, measured)
    return _nearer(reset, came_back(assembly, fuel=fuel, driver=driver, weighed=weighed), measured)


def _setup_of(session: Session, revision: Revision) -> Setup:
    return shelf.assembly_of(session, revision).setup


def _judged(packed: Packed, measured: Measured) -> CameBack:
    from ovalwright.study.set_down import set_down
    from ovalwright.study.what_moved import what_moved

    lines = set_down(packed, measured)
    return CameBack(lines, what_moved(packed, lines))


def _nearer(reset: Packed, bolted: Packed, measured: Measured) -> CameBack:
    """Held against the way of standing that what was measured fits better."""
    from ovalwright.study.set_down import mismatch

    as_reset, as_bolted = _judged(reset, measured), _judged(bolted, measured)
    nearer = mismatch(as_reset.lines) - mismatch(as_bolted.lines)
    if nearer > SURER and _stands_so(as_bolted):
        return replace(as_bolted, stands="as bolted in")
    return replace(as_reset, stands="re-set" if nearer < -SURER and _stands_so(as_reset) else "either")


def _stands_so(back: CameBack) -> bool:
    """Whether nothing of how the car stands has moved against what was expected."""
    return not any(line.flagged for line in back.lines if line.what in ("weight", "cross", "height"))


# ---------------- in sentences

STANDS_SAID: dict[Stands, str] = {
    "as bolted in": "It stands as bolted in: what was changed since the weighing was not brought back to its "
    "heights and cross. Held against the car so.",
    "re-set": "It stands re-set to its scale sheet after what was changed since the weighing. Held against "
    "the car so.",
    "either": "What was measured does not tell whether the car was re-set to its scale sheet after what was "
    "changed since the weighing. Held against the car re-set.",
}


def stands_said(back: CameBack) -> tuple[str, ...]:
    """How the car stands after a change, where there was one."""
    return (STANDS_SAID[back.stands],) if back.stands else ()


def sign_said(sign: Sign, show: Show) -> str:
    """A pattern in words: what it is, what it is not, and where to look first."""
    more = "more" if sign.by > 0.0 else "less"
    higher = "higher" if sign.by > 0.0 else "lower"
    by = abs(sign.by)
    match sign.pattern:
        case "whole":
            return (
                f"The whole car weighs {show(by, 'corner_weight')} {more} than its setup with the fuel that "
                "was told: no bolt, spring or bent part does that. Look at the fuel left "
                f"({show(abs(sign.fuel), 'volume')} would be as much), at who and what sat in it, at the "
                "scales."
            )
        case "diagonal":
            onto = "RF and LR" if sign.by > 0.0 else "LF and RR"
            return (
                f"A clean diagonal, load went onto {onto}: a jack bolt or a collar that turned, a spring "
                f"that gave, the bar's link. {_bolts_said(sign.bolts, show)}"
            )
        case "cross":
            return (
                f"{_bolts_said(sign.bolts, show)} All four weights tell a bolt from a wheel that alone reads "
                "wrong: put it on the scales."
            )
        case "some_weights":
            return (
                f"{sign.place} weighs {show(by, 'corner_weight')} {more}: weigh all four; a bolt, fuel and a "
                "scale that is off look alike until then."
            )
        case "one_wheel":
            return (
                f"Only the {sign.place} weighs {show(by, 'corner_weight')} {more}: a bolt or a spring moves "
                "all four. Look at its scale, whether its pad is level, and what that wheel leans on."
            )
        case "ends" | "sides":
            to = {"ends": ("the rear", "the front"), "sides": ("the right", "the left")}[sign.pattern]
            return (
                f"{show(by, 'corner_weight')} went to {to[sign.by < 0.0]}, the cross as it was: no bolt. "
                "Lead or something else that slid, where the driver sat, or pads that are not level."
            )
        case "odd":
            return (
                "The cross moved, but not as one diagonal moves: a bent part, something heavy that slid, a "
                "pad that is not level, or several at once. Weigh again before anything is turned."
            )
        case "heights":
            return (
                f"All four corners stand {show(by, 'height')} {higher}: pressures and sizes of the tires, "
                "what is in the car, or the floor."
            )
        case "height":
            return (
                f"{sign.place} stands {show(by, 'height')} {higher} and the cross is as it was: a bolt or a "
                "spring would have moved it. Look at the tire, at where it was measured, then for a bent "
                "part."
            )
        case "height_alone":
            return (
                f"{sign.place} stands {show(by, 'height')} {higher}: put it on the scales; a bolt, a collar "
                "or a spring moves the cross with it, a tire hardly."
            )
        case "camber" | "toe_out":
            what = "camber" if sign.pattern == "camber" else "toe"
            where = f"{sign.place} {what}" if sign.place else f"The {what}"
            kind = "camber" if sign.pattern == "camber" else "toe"
            return (
                f"{where} is off by {show(by, kind)}: a bent part, or an adjuster that slipped; bolts and "
                "springs hardly move it. Inspect before it runs."
            )
        case "hot":
            look = "It was set higher, or ran hotter." if sign.by > 0.0 else "It was set lower, or it leaks."
            return f"{sign.place} has {show(by, 'pressure')} {more} than the setup says. {look}"
        case "roll_out":
            return f"{sign.place} measures {show(by, 'growth')} {more} around: its pressure, or another tire."


def _bolts_said(bolts: tuple[Bolt, ...], show: Show) -> str:
    """Which bolt it would be, as far as heights tell."""
    if not bolts:
        return "No bolt would do it within a dozen rounds: look at springs, the bar and for a bent part."
    agree = [one for one in bolts if one.agrees]
    if agree:
        return f"The heights agree with {_or(map(_turned, agree))}."
    if all(one.agrees is None for one in bolts):
        tells = max(bolts, key=lambda one: abs(one.rise))
        how = "higher" if tells.rise > 0.0 else "lower"
        return (
            f"It would be one of {_or(map(_turned, bolts))}. The heights tell which: with that bolt the "
            f"{tells.corner} stands {show(abs(tells.rise), 'height')} {how}."
        )
    return (
        f"By the cross it would be one of {_or(map(_turned, bolts))}; the heights agree with none of them, "
        "so more than one thing moved."
    )


def _turned(one: Bolt) -> str:
    """`LR -2 rounds`, to the quarter."""
    quarters = round(one.rounds * 4.0) / 4.0
    return (
        f"{one.corner} {'+' if quarters > 0 else ''}{as_fraction(quarters)} round{'s' * (abs(quarters) > 1)}"
    )


def _or(texts: Iterator[str]) -> str:
    *before, last = texts
    return f"{', '.join(before)} or {last}" if before else last
