"""Where a number of the turn comes from: what it is, the source of its formula, and what went into it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from fastapi import Depends, Path
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.documents.part import Entry
from ovalwright.units import Place
from ovalwright.web.bench import bench_of
from ovalwright.web.joined import DAY, joined_for
from ovalwright.web.known_here import where_typed
from ovalwright.web.looking import Looking, asked
from ovalwright.web.page import Page, show

What = Literal["load", "wedge", "balance", "limit", "coil", "roll"]
OF_THE_CAR = ("car.", "setup.", "sheet.")
"""What can be measured in a shop."""
FIRST_INPUTS = 60
"""Those behind them are folded away."""


@dataclass(frozen=True)
class Origin:
    """What a number is, where its formula is from, and the keys of the documents that go into it most."""

    name: str
    told: str
    source: str
    keys: tuple[str, ...]


SHEET = ("sheet.LF.", "sheet.RF.", "sheet.LR.", "sheet.RR.", "sheet.fuel")
MASSES = ("setup.lead", "car.driver.", "car.fuel_cell.", "car.sprung.", "car.unsprung.")
COILS = (".coil.", ".stop.", ".turned")
SPRINGS = (*COILS, "setup.bar.", ".gas_force", "car.chassis.twist")
LINKS = ("car.front.", "car.rear.", "setup.panhard.")
TIRES = tuple(f".tire.{one}" for one in ("roll_out", "cold", "hot", "rate_", "growth", "grip", "width"))
PLACE = ("track.ends", "track.grade")
SURFACE = ("conditions.grip", "conditions.hot_slick", "conditions.surface")
AIR = ("car.aero.", "conditions.air", "conditions.barometer", "conditions.humidity", "conditions.altitude")
ORIGINS: dict[str, Origin] = {
    "load": Origin(
        "Load of a tire",
        "What the road pushes up through one tire, square to the road. It is solved together with every "
        "other load, the springs, the stops, the links and the tires' own give, so that all forces and "
        "moments on the car balance; nothing is interpolated.",
        "Balance of forces and moments on a rigid body (Newton and Euler); axes of ISO 8855. The page on "
        "physics of this program names the source of every part.",
        (*SHEET, *MASSES, *SPRINGS, *LINKS, *TIRES, *PLACE, *AIR),
    ),
    "wedge": Origin(
        "Wedge",
        "The loads of RF and LR together over all four, in the turn. On the scales the same share is cross.",
        "Common practice, no source: the trade's own definition.",
        (*SHEET, *MASSES, *SPRINGS, *LINKS, *PLACE),
    ),
    "balance": Origin(
        "Balance at the limit",
        "The yaw moment that is left over at the greatest side force of the place, over weight times "
        "wheelbase: negative is tight, positive loose. Given for the limit of the phase, not for the speed "
        "that is looked at.",
        "The yaw moment method (Milliken and Milliken, Race Car Vehicle Dynamics, 1995, from memory).",
        (
            *TIRES,
            *SURFACE,
            "setup.rear_lead",
            "setup.toe_out",
            ".camber",
            "car.tread.",
            *SPRINGS,
            *PLACE,
        ),
    ),
    "limit": Origin(
        "Limit",
        "The greatest speed with a steady state at this phase of the turn, and what gives up there first.",
        "V^2 over the radius on a bank: OpenStax College Physics, ch. 6; the tires' own limit is solved.",
        (*TIRES, *SURFACE, *PLACE, *AIR, "car.engine.", "setup.final_drive"),
    ),
    "coil": Origin(
        "Coils and stops",
        "How far a coil is squeezed against its seat as it stood on the scales, or how far it hangs off it; "
        "a stop carries once its gap is used up.",
        "Hooke's law for coils; the stop's curve is that of its document.",
        (*SHEET, *COILS),
    ),
    "roll": Origin(
        "Body roll",
        "The angle between body and road, solved with the loads; to the right is positive.",
        "ISO 8855, vehicle roll angle, taken against the road's own plane.",
        (*SPRINGS, *TIRES, *LINKS, *MASSES, *PLACE),
    ),
}


@dataclass(frozen=True)
class Input:
    """One number that was typed, measured or assumed: its key, where it is typed once measured, its text, how
    sure it is, where it is from.
    """

    key: str
    path: str
    said: str
    give: str
    evidence: str
    is_typical: bool


@dataclass(frozen=True, kw_only=True)
class FromPage(Page):
    """Where a number comes from."""

    template: ClassVar[str] = "turn_from.html"
    back: str
    name: str
    told: str
    source: str
    counted: str
    inputs: tuple[Input, ...]
    more: tuple[Input, ...]


def where_from(
    request: Request, what: Annotated[What, Path()], looking: Annotated[Looking, Depends(asked)]
) -> Response:
    """The page of one number, with the way back to where it was looked at."""
    origin = ORIGINS[what]
    with bench_of(request).store.reading() as session:
        joined = joined_for(request, session)
    inputs = _inputs(entries_of(joined.now, joined.track, DAY), origin.keys)
    kinds = Counter(one.evidence for one in inputs)
    counted = ", ".join(f"{count} {evidence}" for evidence, count in kinds.most_common())
    return show(
        request,
        FromPage(
            title=f"Where from: {origin.name}",
            here="/turn",
            back=looking.path,
            name=origin.name,
            told=origin.told,
            source=origin.source,
            counted=counted,
            inputs=inputs[:FIRST_INPUTS],
            more=inputs[FIRST_INPUTS:],
        ),
    )


def entries_of(assembly: Assembly, track: Track, day: Conditions) -> dict[str, Entry]:
    """Every number of the documents that a turn is solved from, by the kind of its document and its key."""
    documents = (assembly.car, assembly.setup, assembly.sheet, track, day)
    return {f"{one.kind_name}.{entry.key}": entry for one in documents for entry in one.entries()}


def _inputs(entries: dict[str, Entry], keys: tuple[str, ...]) -> tuple[Input, ...]:
    """The numbers that go in, those that are guessed first."""
    found = [_input(name, entry) for name, entry in entries.items() if any(key in name for key in keys)]
    return tuple(sorted(found, key=lambda one: not one.is_typical))


def _input(key: str, entry: Entry) -> Input:
    value = entry.value
    give = "" if isinstance(value, Place) else getattr(value, "give_text", "")
    evidence = "as typed" if value.evidence == "unstated" else value.evidence
    path = where_typed(key) if key.startswith(OF_THE_CAR) else ""
    return Input(key, path, value.text, f"give or take {give}" if give else "", evidence, not value.known)
