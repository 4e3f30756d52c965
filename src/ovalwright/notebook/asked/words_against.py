"""What the driver said of a run against what its setup makes expect, phase by phase.

The car is the setup that was run, on the track of the run, with the fuel that was in it: that of the start
for the early laps and for all of the run, that which was left for the late ones. It knows nothing of the
groove he drove or of tires that went away.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from ovalwright.documents import STATIONS, Conditions, Track
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.tables import Run
from ovalwright.notebook.trouble import NotebookTrouble


@dataclass(frozen=True)
class Against:
    """One thing he said; `balance` [share of weight x wheelbase] is negative for tight, None where the car
    finds no limit, and `reason` says why. `fuel` [kg] it was computed with.
    """

    phase: str
    when: str
    feel: str
    balance: float | None
    fuel: float
    reason: str = ""

    @property
    def agrees(self) -> bool | None:
        """Whether tight was computed tight, and loose loose; None where that cannot be said, as for good."""
        if self.balance is None or self.feel not in ("tight", "loose"):
            return None
        return (self.balance < 0.0) is (self.feel == "tight")


def words_against(session: Session, run: Run) -> tuple[Against, ...]:
    """What he said of each phase against the setup. Raises NotebookTrouble, DocumentError, ValueError."""
    said = [one for one in runs.record(session, run).comments if one.phase and one.feel]
    told = dict.fromkeys((one.phase, one.when, one.feel) for one in said)
    track = shelf.document_of(run.track) if run.track else None
    if not told or not isinstance(track, Track):
        missing = "what he said of a phase" if not told else "its track"
        raise NotebookTrouble(f"run {run.code} does not tell {missing}; nothing can be computed for it.")
    from ovalwright.pack import build
    from ovalwright.study.turn import FULL, NEARLY_EMPTY, turn

    weather = shelf.document_of(run.conditions) if run.conditions else None
    day = weather if isinstance(weather, Conditions) else Conditions()
    packed = build(shelf.assembly_of(session, run.setup))
    cell = packed.values()[0].fuel_cell
    start, left = (
        (cell.capacity * share if volume is None else volume) * cell.density
        for volume, share in ((run.fuel, FULL), (run.fuel_left, NEARLY_EMPTY))
    )
    tanks = dict(zip(("", "late"), turn(packed, track, day, fuels=(start, left)).tanks, strict=True))
    found = []
    for phase, when, feel in told:
        tank = tanks["late" if when == "late" else ""]
        place = next(one for one, station in zip(tank.places, STATIONS, strict=True) if station.name == phase)
        share = place.balance.share if place.balance is not None else None
        reason = "" if share is not None else place.reason or place.limit.sets
        found.append(Against(phase, when, feel, share, tank.fuel, reason))
    return tuple(found)
