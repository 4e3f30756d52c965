"""Where the lead goes, in plan: pieces to scale of their weight, numbered as the list beside counts them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ovalwright.documents import Assembly
from ovalwright.pictures.svg import Sheet
from ovalwright.sheets.topview import Rectangle, numbers_beside, page_for
from ovalwright.study.lead import Bolted, square_of
from ovalwright.study.scale_sheet import footprint_of
from ovalwright.units import INCH

MARGIN = 14.0 * INCH
PAPER = 230.0
"""Width of the drawing [px], so that the list has room beside it on a phone."""
TIRE = (27.0 * INCH, 10.0 * INCH)
"""Length and width of a tire in plan [m] (common practice, no source)."""


def by_spot(bolted: Sequence[Bolted]) -> list[list[Bolted]]:
    """The pieces of each spot, from the front to the rear, left before right."""
    spots: dict[str, list[Bolted]] = {}
    for one in sorted(bolted, key=lambda one: (-one.spot.x, -one.spot.y)):
        spots.setdefault(one.spot.id, []).append(one)
    return list(spots.values())


def lead_map(assembly: Assembly, bolted: Sequence[Bolted], sentence: str) -> str:
    """The car from above with its lead as SVG; front is up."""
    footprint, spots = footprint_of(assembly.car), by_spot(bolted)
    stands = list(zip(footprint.x.tolist(), footprint.y.tolist(), strict=True))
    rails = [getattr(assembly.car.height_points, corner).si[:2] for corner in ("LF", "RF", "RR", "LR")]
    places = [(there[0].spot.x, there[0].spot.y) for there in spots]
    page = page_for([*stands, *rails, *places], margin=MARGIN)
    page = replace(page, wide=PAPER, left=page.left - 0.5 * (page.wide - PAPER) / page.scale)
    sheet = Sheet("lead-map", page.wide, page.high)
    sheet.line("member", [page.at(place) for place in rails], closed=True)
    tires = [page.rectangle(place, long=TIRE[0], wide=TIRE[1]) for place in stands]
    for one in tires:
        sheet.box("tire", one.x, one.y, one.wide, one.high)
    sides = [square_of(sum(one.piece.mass for one in there)) for there in spots]
    squares = [page.rectangle(at, long=side, wide=side) for at, side in zip(places, sides, strict=True)]
    for square in squares:
        sheet.box("patch", square.x, square.y, square.wide, square.high)
    for label in numbers_beside(squares, [""] * len(squares), page, keep_clear=tires):
        if label.leader:
            sheet.line("leader", [label.leader, label.room.middle])
        sheet.text("word halo mid", _foot(label.room), label.number)
    return sheet.svg(sentence)


def _foot(room: Rectangle) -> tuple[float, float]:
    return room.middle[0], room.middle[1] + 4.5
