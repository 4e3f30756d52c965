"""The run log: what was tried, every lap, what was read and said; a blank one to write on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, field

from ovalwright.notebook.cautions import FUEL, MOVING
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.tires import INSIDE, UNREAD, Across
from ovalwright.study.weigh import CORNERS

PHASES = ("entry", "middle", "exit")
BLANK_LAPS = 60


@dataclass(frozen=True, kw_only=True)
class RunLap:
    """One lap as it is printed: its number, its time, and what stood in its way."""

    number: str
    time: str = ""
    flag: str = ""


@dataclass(frozen=True, kw_only=True)
class RunCorner:
    """What was read at one corner after the run."""

    hot: str = ""
    temperatures: Across = UNREAD
    travel: str = ""


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
            "facts": [
                ("run", run.number),
                ("time", run.time),
                ("fuel", run.fuel),
                ("tires", run.tires),
                ("rear stagger, hot", run.stagger_hot),
                ("track", run.track_temperature),
                ("air", run.air_temperature),
                ("humidity", run.humidity),
                ("barometer", run.barometer),
            ],
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
        "facts": [("hot", read.hot), ("most travel", read.travel)],
        "temperatures": [astuple(read.temperatures)],
    }
