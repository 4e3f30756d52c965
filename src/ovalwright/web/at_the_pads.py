"""What is typed at the pads, put to the studies: numbers, faults, rule books, jack bolts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ovalwright.documents import WORKED_OUT, Assembly, DocumentError, Rules, Sheet
from ovalwright.study import lead
from ovalwright.study.misread import misread, swapped
from ovalwright.study.pads import level_fault_of
from ovalwright.study.scale_sheet import SheetAnswer, read_sheet, weights_of
from ovalwright.web import weighed
from ovalwright.web.troubles import sentence
from ovalwright.web.weighed import Bolts, Book, Gauge, Race
from ovalwright.web.weighing import SWAPS, Read, sheet_of, standing_on
from ovalwright.web.weighings import OnTheScales
from ovalwright.web.words import amount

NO_FAULT = "No fault is seen in what was typed."


@dataclass(frozen=True)
class Answers:
    """What the pads say: about which weighing, numbers, faults, books, bolts; or the `trouble` with it.

    `is_misread` where a weight is so far off that it is kept only when he says that it reads so; `swapped`
    the two pads that look swapped, of SWAPS.
    """

    about: str
    is_typed: bool
    gauges: tuple[Gauge, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    faults: tuple[str, ...] = ()
    is_misread: bool = False
    swapped: str = ""
    sound: str = ""
    books: tuple[Book, ...] = ()
    bolts: Bolts | None = None
    no_bolts: str = ""
    trouble: str = ""


def race_of(assembly: Assembly, found: Read) -> Race:
    density = assembly.car.fuel_cell.density.si
    fuel = {key: found.values[key] * density for key in ("start_fuel", "flag_fuel") if key in found.values}
    return Race(fuel.get("start_fuel"), fuel.get("flag_fuel"), int(found.values.get("laps", 0)))


def car_on_pads(on: OnTheScales, found: Read, typed: Mapping[str, str]) -> Assembly:
    """The car as it stands on the pads, or as it was weighed last where not all four are typed."""
    if not found.has_weights:
        return on.assembly
    return standing_on(on.assembly, sheet_of(found, typed, on.assembly.sheet))


def misread_by(on: OnTheScales, found: Read, typed: Mapping[str, str]) -> tuple[str, ...]:
    """What of the four pads no car reads, beside the weighing before. Raises DocumentError."""
    if not found.has_weights:
        return ()
    before = on.assembly.sheet
    faults = misread(weights_of(sheet_of(found, typed, before)), weights_of(before))
    return tuple(one.sentence for one in faults)


def _swapped_by(on: OnTheScales, assembly: Assembly) -> str:
    pair = swapped(weights_of(assembly.sheet), weights_of(on.assembly.sheet))
    return " and ".join(pair) if pair else ""


def answers_of(on: OnTheScales, typed: Mapping[str, str], found: Read, books: tuple[Rules, ...]) -> Answers:
    before = on.assembly.sheet
    when = f", {before.date.isoformat()}" if before.date else ""
    was = "Worked out, not weighed yet" if before.scale == WORKED_OUT else "As last weighed"
    about = "On the pads now" if found.has_weights else f"{was}{when}: {before.name}"
    try:
        assembly = car_on_pads(on, found, typed)
        answer = _read_sheets(assembly, found, typed, before)
        held, outcome = _held(assembly, race_of(on.assembly, found), books)
        bolts, no_bolts = _bolts(assembly, found, typed, answer)
        misread = misread_by(on, found, typed)
        faults = (*misread, *_faults(assembly, found, answer))
        told = answer.weighed
        return Answers(
            about,
            found.has_weights,
            gauges=weighed.gauges(told, outcome),
            facts=(
                ("Center of gravity behind the front axle", amount(-told.cg_x.value, "point")),
                ("Left of the centerline", amount(told.cg_y.value, "point")),
            ),
            faults=faults,
            is_misread=bool(misread),
            swapped=_swapped_by(on, assembly),
            sound=NO_FAULT if found.has_weights and not faults else "",
            books=held,
            bolts=bolts,
            no_bolts=no_bolts,
        )
    except (DocumentError, ValueError) as problem:
        return Answers(about, found.has_weights, trouble=sentence(str(problem)))


def _read_sheets(assembly: Assembly, found: Read, typed: Mapping[str, str], before: Sheet) -> SheetAnswer:
    """The sheet with whatever was read beside it to check the pads."""
    again = [sheet_of(found, typed, before, weights="again_{}")] if len(found.four("again_{}")) == 4 else []
    swapped = None
    if len(found.four("swap_{}")) == 4 and typed.get("swapped") in SWAPS:
        first, _, second = typed["swapped"].partition(" and ")
        swapped = (first, second, sheet_of(found, typed, before, weights="swap_{}"))
    return read_sheet(
        assembly.sheet,
        assembly.car,
        again=again,
        before_bolts=before if typed.get("bolts_only") and found.has_weights else None,
        swapped=swapped,  # type: ignore[arg-type]
    )


def _held(
    assembly: Assembly, race: Race, books: tuple[Rules, ...]
) -> tuple[tuple[Book, ...], lead.Outcome | None]:
    """Every book held against the car, and the race as foreseen by the first of them, or by none."""
    held: list[Book] = []
    outcomes: list[lead.Outcome] = []
    for book in books or (Rules(name="no book"),):
        try:
            outcomes.append(weighed.carried(assembly, book, race))
            held.append(weighed.by_the_book(assembly, book, outcomes[-1]))
        except (DocumentError, ValueError) as problem:
            held.append(Book(book.name, trouble=sentence(str(problem))))
    return tuple(held) if books else (), outcomes[0] if outcomes else None


def _faults(assembly: Assembly, found: Read, answer: SheetAnswer) -> tuple[str, ...]:
    levels = found.four("{}_pad")
    fault = level_fault_of(assembly, levels) if levels else None
    return (*(one.sentence for one in answer.faults), *((fault.sentence,) if fault else ()))


def _bolts(
    assembly: Assembly, found: Read, typed: Mapping[str, str], answer: SheetAnswer
) -> tuple[Bolts | None, str]:
    """The plan of rounds where something is wanted, or why there is none."""
    heights = found.four("{}_wanted")
    if "cross" not in found.values and not heights:
        return None, ""
    spread = answer.weighed.cross_percent.give_or_take
    plan = weighed.rounds(assembly, found.values.get("cross"), heights, bool(typed.get("bar")), spread)
    return (None, plan) if isinstance(plan, str) else (plan, "")
