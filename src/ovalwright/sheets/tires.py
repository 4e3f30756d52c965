"""The tire sheet: each tire by its mark, with what was read of it; what is empty is there to be written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass

from ovalwright.corners import CORNERS
from ovalwright.notebook.garage.cautions import WHEELS
from ovalwright.sheets.page import Leaf, Stamp

AIR = "Seat a bead inside a cage with a clip-on chuck, stand clear, and never stretch a tire with pressure."
INSIDE = "Inside is toward the infield on every tire, so that from above it is always the left edge."


@dataclass(frozen=True, kw_only=True)
class Across:
    """Three readings across a tread as texts, inside toward the infield."""

    inside: str = ""
    middle: str = ""
    outside: str = ""


UNREAD = Across()


@dataclass(frozen=True, kw_only=True)
class RollOut:
    """One measured roll-out: when (`new`, `after 40 laps`), how long, at what pressure."""

    when: str = ""
    length: str = ""
    pressure: str = ""


@dataclass(frozen=True, kw_only=True)
class TireCard:
    """One tire; every value is the text to print, empty where it is not known yet."""

    mark: str = ""
    corner: str = ""
    compound: str = ""
    date_code: str = ""
    laps: str = ""
    heat_cycles: str = ""
    cold: str = ""
    hot: str = ""
    durometer: str = ""
    durometer_temperature: str = ""
    temperatures: Across = UNREAD
    wear: Across = UNREAD
    roll_outs: tuple[RollOut, ...] = ()
    notes: str = ""


BLANK_SET = tuple(TireCard(corner=corner) for corner in CORNERS)


def tire_sheet(stamp: Stamp, cards: Sequence[TireCard] = BLANK_SET) -> Leaf:
    """Cards of tires one under another; without cards a blank set of four."""
    return Leaf(
        template="tires",
        stamp=stamp,
        data={"cards": [_card(card) for card in cards], "how": INSIDE, "cautions": [AIR, WHEELS]},
    )


def _card(card: TireCard) -> dict[str, object]:
    return {
        "corner": card.corner,
        "facts": [
            ("mark", card.mark),
            ("cold", card.cold),
            ("hot", card.hot),
            ("laps", card.laps),
            ("heat cycles", card.heat_cycles),
            ("compound", card.compound),
            ("date code", card.date_code),
            ("durometer", card.durometer),
            ("durometer read at", card.durometer_temperature),
        ],
        "across": [
            ("temperature", *astuple(card.temperatures)),
            ("wear", *astuple(card.wear)),
        ],
        "roll_outs": [astuple(one) for one in card.roll_outs or (RollOut(), RollOut())],
        "notes": card.notes,
    }
