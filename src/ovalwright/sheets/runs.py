"""The run log: what was tried, every lap, what was read and said; a blank one to write on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass, field

from ovalwright.corners import CORNERS
from ovalwright.notebook.garage.cautions import FUEL, MOVING
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.tires import INSIDE, UNREAD, Across

PHASES = ("entry", "middle", "exit")
BLANK_LAPS = 60
SET_DOWN = {"weight": "weight", "height": "height", "hot": "hot", "roll_out": "roll-out", "camber": "camber"}
"""What is measured as the car came back, as it is printed."""


@dataclass(frozen=True, kw_only=True)
class RunLap:
    """One lap as it is printed: its number, its time, and what stood in its way."""

    number: str
    time: str = ""
    flag: str = ""


@dataclass(frozen=True, kw_only=True)
class RunCorner:
    """What was read at one corner: `cold` before the run, `set_down` by what it is as it came back."""

    cold: str = ""
    hot: str = ""
    temperatures: Across = UNREAD
    travel: str = ""
    set_down: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Comment:
    """What the driver said: the phase of the turn, when in the run, tight or loose, in his words."""

    phase: str
    when: str = ""
    feel: str = ""
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class RunLog:
    """One run; every value is the text to print, empty where it is to be written by hand."""

    event: str = ""
    track: str = ""
    driver: str = ""
    number: str = ""
    time: str = ""
    purpose: str = ""
    changes: tuple[str, ...] = ()
    tires: str = ""
    fuel: str = ""
    track_temperature: str = ""
    air_temperature: str = ""
    humidity: str = ""
    barometer: str = ""
    stagger_hot: str = ""
    toe_out: str = ""
    best: str = ""
    middle: str = ""
    fall_off: str = ""
    laps: tuple[RunLap, ...] = ()
    corners: dict[str, RunCorner] = field(default_factory=dict)
    comments: tuple[Comment, ...] = ()
    decision: str = ""


def run_log(stamp: Stamp, log: RunLog | None = None) -> Leaf:
    """A run filled in, or without one a blank page for it."""
    run = log or RunLog()
    laps: Sequence[RunLap] = run.laps or [RunLap(number=str(n)) for n in range(1, BLANK_LAPS + 1)]
    return Leaf(
        template="run",
        stamp=stamp,
        data={
            "blank": log is None,
            "where": [("event", run.event), ("track", run.track), ("driver", run.driver)],
            "facts": [
                ("run", run.number),
                ("time", run.time),
                ("fuel", run.fuel),
                ("tires", run.tires),
                ("rear stagger, hot", run.stagger_hot),
                ("track temperature", run.track_temperature),
                ("air", run.air_temperature),
                ("humidity", run.humidity),
                ("barometer", run.barometer),
            ],
            "pace": [
                ("best lap", run.best),
                ("middle of the green laps", run.middle),
                ("fall-off in ten laps", run.fall_off),
            ],
            "set_down": _set_down(run),
            "purpose": run.purpose,
            "changes": run.changes,
            "laps": [astuple(lap) for lap in laps],
            "corners": [_corner(name, run.corners.get(name, RunCorner())) for name in CORNERS],
            "comments": [astuple(one) for one in run.comments or [Comment(phase=name) for name in PHASES]],
            "decision": run.decision,
            "how": INSIDE,
            "cautions": [MOVING, FUEL],
        },
    )


def _corner(name: str, read: RunCorner) -> dict[str, object]:
    return {
        "name": name,
        "facts": [("cold", read.cold), ("hot", read.hot), ("most travel", read.travel)],
        "temperatures": [astuple(read.temperatures)],
    }


def _set_down(run: RunLog) -> list[tuple[str, ...]]:
    """What was measured at the four corners as the car came back; weight and height are there to write on."""
    corners = [run.corners.get(corner, RunCorner()).set_down for corner in CORNERS]
    rows = [
        (called, *(there.get(what, "") for there in corners))
        for what, called in SET_DOWN.items()
        if what in ("weight", "height") or any(what in there for there in corners)
    ]
    return [*rows, ("toe out, in all", run.toe_out, "", "", "")] if run.toe_out else rows
