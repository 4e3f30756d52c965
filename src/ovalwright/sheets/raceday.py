"""The race-day sheet: when what happens, the setup in short, legality, fuel, pressures, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass
from typing import Any

from ovalwright.documents import Assembly, Setup
from ovalwright.notebook.garage.cautions import BOOK, CLEARANCE, FUEL, MOVING, STANDS, WHEELS
from ovalwright.notebook.garage.findings import HEADING
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.show import (
    Pair,
    by_corner,
    by_the_book,
    pair,
    typed,
    weighed_facts,
    weighed_how,
)
from ovalwright.sheets.since_weighed import weighed_before
from ovalwright.study.legal import Held
from ovalwright.units import System


@dataclass(frozen=True, kw_only=True)
class ScheduleLine:
    """One line of the day: when, what, and what must be done before it."""

    time: str
    what: str
    before: str = ""


@dataclass(frozen=True, kw_only=True)
class RaceDay:
    """A day at the track, its texts as they were typed; `wrong` is what was found and is not put right."""

    event: str = ""
    track: str = ""
    date: str = ""
    schedule: tuple[ScheduleLine, ...] = ()
    fuel: tuple[Pair, ...] = ()
    look_at: tuple[str, ...] = ()
    notes: str = ""
    wrong: tuple[str, ...] = ()


LOOK_AT = (
    "wheel fasteners, hot, after the first laps",
    "leaks: oil, water, fuel, brake fluid",
    "coils seated after every time on the jack",
    "paint marks on lead and links",
    "pedal firm after a hard stop",
    "pressures and roll-outs, before the car is moved into the sun",
)
"""What a crew looks at every time the car comes in (common practice, no source)."""


def race_day(
    stamp: Stamp,
    day: RaceDay,
    assembly: Assembly,
    *,
    weighed: Setup | None = None,
    held: Sequence[Held] = (),
    book: str = "",
    system: System = "us",
) -> Leaf:
    """The day's lines and the car in short.

    weighed: the setup that was on the scales, where it is known. Raises ValueError as weighing does.
    """
    return Leaf(
        template="raceday",
        stamp=stamp,
        data={
            "event": day.event,
            "wrong": day.wrong,
            "wrong_title": HEADING,
            "place": "; ".join(text for text in (day.track, day.date) if text),
            "schedule": [astuple(line) for line in day.schedule],
            "corners": [_corner(name, wheel) for name, wheel in by_corner(assembly.setup)],
            "scales": weighed_facts(assembly.sheet, assembly.car, system=system),
            "weighed": weighed_how(assembly.sheet),
            "since": weighed_before(weighed, assembly, system=system),
            "fuel": list(day.fuel),
            "held": by_the_book(held, book, system=system),
            "look_at": day.look_at or LOOK_AT,
            "notes": day.notes,
            "cautions": [STANDS, WHEELS, MOVING, FUEL, BOOK, CLEARANCE],
        },
    )


def _corner(name: str, wheel: Any) -> dict[str, Any]:
    coil, tire = wheel.coil, wheel.tire
    return {
        "name": name,
        "facts": [
            pair("cold", tire, "cold"),
            pair("wanted hot", tire, "hot"),
            ("spring", typed(coil, "rate") if coil else "none"),
            ("roll-out", typed(tire, "roll_out")),
        ],
    }
