"""The rack list: the parts on hand by shelf, to be looked through and ticked off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ovalwright.documents import Rack
from ovalwright.notebook.garage.cautions import COILS, LEAD
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.show import typed

_COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "springs": (
        ("mark", "id"),
        ("tag", "tag"),
        ("measured", "measured"),
        ("free length", "free_length"),
        ("fits", "fits"),
    ),
    "bars": (("mark", "id"), ("size", "diameter"), ("bore", "bore"), ("length", "length"), ("rate", "rate")),
    "tires": (
        ("mark", "id"),
        ("side", "side"),
        ("roll-out", "roll_out"),
        ("at", "roll_out_pressure"),
        ("laps", "laps"),
    ),
    "shocks": (("mark", "id"), ("gas force", "gas_force"), ("fits", "fits")),
    "gears": (("mark", "id"), ("ratio", "ratio")),
    "lead": (("mark", "id"), ("weight", "mass"), ("pieces", "count")),
}
"""What is shown of each shelf: a heading and the key of the rack."""


def rack_list(stamp: Stamp, rack: Rack) -> Leaf:
    """Every part of a rack, shelf by shelf, and the places where lead may be bolted."""
    shelves = [_shelf(name, columns, getattr(rack, name)) for name, columns in _COLUMNS.items()]
    return Leaf(
        template="rack",
        stamp=stamp,
        data={
            "shelves": [shelf for shelf in shelves if shelf["rows"]],
            "spots": [
                (spot.id, *(typed(spot, name) for name in ("x", "y", "z", "most")))
                for spot in rack.lead_spots
            ],
            "notes": rack.notes,
            "cautions": [COILS, LEAD],
        },
    )


def _shelf(name: str, columns: Sequence[tuple[str, str]], parts: Sequence[Any]) -> dict[str, Any]:
    return {
        "name": f"{name.capitalize()}, {len(parts)}",
        "head": [heading for heading, _ in columns] + ["measured on", "notes"],
        "rows": [
            [
                *(typed(part, key) for _, key in columns),
                part.date.isoformat() if part.date else "",
                part.notes,
            ]
            for part in parts
        ],
    }
