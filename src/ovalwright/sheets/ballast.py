"""The ballast map: the car from above to scale, each piece of lead where it is bolted, and a list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ovalwright.documents import Assembly
from ovalwright.documents.setup import Tire
from ovalwright.notebook.garage.cautions import BOOK, LEAD, STANDS
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.show import by_corner, typed
from ovalwright.sheets.topview import numbers_beside, page_for, plain
from ovalwright.study.lead import Bolted, center, square_of
from ovalwright.study.lead_car import bolted_in
from ovalwright.study.scale_sheet import footprint_of, read_sheet
from ovalwright.units import KINDS, System, parse, show

SAME_PLACE = parse("1 in", KINDS["height"])
"""Pieces nearer to each other than this, in plan, share a number."""
MARGIN = parse("16 in", KINDS["height"])
WORD = (parse("5 in", KINDS["height"]), parse("14 in", KINDS["height"]))
"""Room of a word on the drawing, along and across the car."""
FOOT = parse("12 in", KINDS["height"])
TYPICAL_DIAMETER = parse("27 in", KINDS["height"])
FEW = 24
"""So many places or fewer have room for weight and height beside their number."""
HANDLING = "Lead is toxic: gloves, wash before eating, never sand it dry."


@dataclass(frozen=True, kw_only=True)
class _Stack:
    """Pieces at one place: its place [m], its height that of their center; what lies there [kg]."""

    x: float
    y: float
    z: float
    mass: float

    @property
    def side(self) -> float:
        """Side of the square drawn for it [m]."""
        return square_of(self.mass)


def ballast_map(stamp: Stamp, assembly: Assembly, *, system: System = "us") -> Leaf:
    """The lead of a setup in plan and as a list, its sum and center. Raises ValueError as weighing does."""
    bolted = bolted_in(assembly)
    stacks, numbers = _stacked(bolted)
    plan = _drawn(assembly, stacks, system)
    return Leaf(
        template="ballast",
        stamp=stamp,
        data={
            "plan": plan,
            "facts": _facts(bolted, system),
            "pieces": [
                (str(number), piece.id, typed(piece, "mass"), piece.place.text, _spot(one))
                for number, piece, one in zip(numbers, assembly.setup.lead, bolted, strict=True)
            ],
            "how": _how(plan["unnumbered"]),
            "cautions": [LEAD, STANDS, HANDLING, BOOK],
        },
    )


def _stacked(bolted: Sequence[Bolted]) -> tuple[list[_Stack], list[int]]:
    """The places in plan, and for every piece the number of its place, counted from one."""
    stacks: list[_Stack] = []
    numbers = []
    for one in bolted:
        lump = one.lump
        near = [
            i for i, stack in enumerate(stacks) if math.hypot(stack.x - lump.x, stack.y - lump.y) < SAME_PLACE
        ]
        if near:
            first = stacks[near[0]]
            mass = first.mass + lump.mass
            z = (first.mass * first.z + lump.mass * lump.z) / mass if mass > 0.0 else lump.z
            stacks[near[0]] = _Stack(x=first.x, y=first.y, z=z, mass=mass)
        else:
            stacks.append(_Stack(x=lump.x, y=lump.y, z=lump.z, mass=lump.mass))
        numbers.append(near[0] + 1 if near else len(stacks))
    return stacks, numbers


def _drawn(assembly: Assembly, stacks: Sequence[_Stack], system: System) -> dict[str, Any]:
    """The drawing as the template reads it: rectangles, lines and words on the page [pt]."""
    car = assembly.car
    footprint = footprint_of(car)
    told = read_sheet(assembly.sheet, car).weighed
    stands = list(zip(footprint.x.tolist(), footprint.y.tolist(), strict=True))
    rails = [getattr(car.height_points, corner).si[:2] for corner in ("LF", "RF", "RR", "LR")]
    driver = car.driver.place.si[:2]
    fuel = (-car.wheelbase.si - car.fuel_cell.behind_axle.si, car.fuel_cell.left.si)
    lead = [(one.x, one.y) for one in stacks]
    page = page_for([*stands, *rails, driver, fuel, *lead], margin=MARGIN)
    squares = [page.rectangle((one.x, one.y), long=one.side, wide=one.side) for one in stacks]
    tires = [
        page.rectangle(place, long=_diameter(wheel.tire), wide=wheel.tire.width.si)
        for (_, wheel), place in zip(by_corner(assembly.setup), stands, strict=True)
    ]
    more = [_beside(one, system) if len(stacks) <= FEW else "" for one in stacks]
    weighed_cg = (told.cg_x.value, told.cg_y.value)
    cg = page.rectangle(weighed_cg, long=WORD[0], wide=WORD[0])
    words = [page.rectangle(place, long=WORD[0], wide=WORD[1]) for place in (driver, fuel)]
    labels = numbers_beside(squares, more, page, keep_clear=[*tires, *words, cg])
    return {
        "wide": page.wide,
        "high": page.high,
        "tires": [plain(one) for one in tires],
        "axles": [[page.at(stands[i]), page.at(stands[i + 1])] for i in (0, 2)],
        "middle": page.at((0.0, 0.0))[0],
        "rails": [page.at(point) for point in rails],
        "squares": [plain(one) for one in squares],
        "labels": [plain(one) for one in labels],
        "words": [["driver", page.at(driver)], ["fuel", page.at(fuel)]],
        "cg": page.at(weighed_cg),
        "foot": page.scale * FOOT,
        "unnumbered": len(stacks) - len(labels),
    }


def _beside(one: _Stack, system: System) -> str:
    return f"{show(one.mass, 'mass', system=system)}, {show(one.z, 'height', system=system)} up"


def _diameter(tire: Tire) -> float:
    return tire.roll_out.si / math.pi if tire.roll_out else TYPICAL_DIAMETER


def _facts(bolted: Sequence[Bolted], system: System) -> list[tuple[str, str]]:
    if not bolted:
        return [("lead in all", "none")]
    middle = center([one.lump for one in bolted])
    return [
        ("lead in all", show(middle.mass, "mass", system=system)),
        ("its center, behind front axle", show(-middle.x, "point", system=system)),
        ("left of center", show(middle.y, "point", system=system)),
        ("above ground", show(middle.z, "point", system=system)),
    ]


def _spot(one: Bolted) -> str:
    return "" if one.spot.id.startswith("place ") else one.spot.id


def _how(unnumbered: int) -> list[str]:
    said = [
        "Drawn to scale, front up. A black square is that weight as lead 2 in thick; the quartered circle is "
        "the center of gravity as weighed; the thin frame joins the points where heights are read."
    ]
    if unnumbered:
        said.append(f"{unnumbered} places lie too close together to bear a number; the list has them all.")
    return said
