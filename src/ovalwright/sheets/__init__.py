"""Paper for the trailer: sheets as PDF, each made from documents and answers, none from a database.

`SHEETS` names them. A sheet's function gives a `Leaf`; `render` makes a PDF, `drawing` and `image` pictures.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from ovalwright.sheets.ballast import ballast_map
from ovalwright.sheets.bolts import ROUTE, Item, bolt_check
from ovalwright.sheets.changes import Change, Side, as_said, what_changed
from ovalwright.sheets.page import PAPERS, Leaf, NoSheet, Paper, Stamp, drawing, image, render
from ovalwright.sheets.raceday import LOOK_AT, RaceDay, ScheduleLine, race_day
from ovalwright.sheets.racks import rack_list
from ovalwright.sheets.runs import Comment, RunCorner, RunLap, RunLog, run_log
from ovalwright.sheets.scales import scale_sheet
from ovalwright.sheets.setup import setup_sheet
from ovalwright.sheets.tires import Across, RollOut, TireCard, tire_sheet

SHEETS: Mapping[str, Callable[..., Leaf]] = {
    "setup": setup_sheet,
    "scales": scale_sheet,
    "tires": tire_sheet,
    "run": run_log,
    "bolts": bolt_check,
    "ballast": ballast_map,
    "rack": rack_list,
    "changes": what_changed,
    "raceday": race_day,
}
"""Every sheet by its name, with the function that makes its leaf."""

__all__ = [
    "LOOK_AT",
    "PAPERS",
    "ROUTE",
    "SHEETS",
    "Across",
    "Change",
    "Comment",
    "Item",
    "Leaf",
    "NoSheet",
    "Paper",
    "RaceDay",
    "RollOut",
    "RunCorner",
    "RunLap",
    "RunLog",
    "ScheduleLine",
    "Side",
    "Stamp",
    "TireCard",
    "as_said",
    "ballast_map",
    "bolt_check",
    "drawing",
    "image",
    "race_day",
    "rack_list",
    "render",
    "run_log",
    "scale_sheet",
    "setup_sheet",
    "tire_sheet",
    "what_changed",
]
