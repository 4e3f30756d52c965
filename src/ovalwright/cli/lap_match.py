"""A lap list matched to the run of a car: what the list tells of grip, heat and age, and what it cannot."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.lapping import NOT_IN_IT, job_of
from ovalwright.cli.options import ToDrive
from ovalwright.cli.screen import Screen
from ovalwright.corners import CORNERS
from ovalwright.documents import LapList
from ovalwright.study.bands import Band
from ovalwright.study.match_laps import FAR_OFF, READ_AFTER, LapMatch, match_laps

Array = npt.NDArray[np.float64]

MOST_NAMED = 6
"""Laps off the run that are named one by one."""
KIND = {
    "hot pressures": ("pressure", "hot"),
    "roll-outs": ("roll_out", "roll-out"),
    "tread temperatures": ("temperature", "tread"),
}
"""How each kind of reading of the tires is shown, and its name."""


def matched(
    screen: Screen,
    listed: LapList,
    setup: Path | None,
    track: Path | None,
    **how: Any,
) -> dict[str, Any]:
    """Match a list to the car's run and show it; returns it for another program. Raises Trouble."""
    if setup is None or track is None:
        raise Trouble("--setup and --track: a match takes both, the car that ran the laps and where")
    job = job_of(screen, ToDrive(setup=setup, track=track, **how))
    with said_by(ValueError), screen.progress("runs of the car") as tell:
        found = match_laps(job.packed, job.line, job.day, listed, job.driver, tell)
    screen.say()
    screen.title(f"Matched to the run of {job.assembly.setup.name}")
    screen.say(job.where)
    screen.table(_rows(screen, found), head=("", "matched", "95 %"), left=1)
    _so_matched(screen, found)
    _tires(screen, listed, found)
    _off(screen, listed, found)
    for sentence in found.untold:
        screen.say(sentence)
    screen.note(
        "Times the files: grip of all four tires, heat that sliding puts into them, and what time at heat "
        "and wear cost. Laps 1 and 2, yellows and laps held up do not count."
    )
    screen.note(NOT_IN_IT)
    return _told(found)


def _rows(screen: Screen, found: LapMatch) -> list[tuple[str, ...]]:
    def times(name: str, band: Band) -> tuple[str, ...]:
        return name, f"{band.value:.2f} times the files", f"{band.low:.2f} to {band.high:.2f}"

    def share(value: float) -> str:
        return screen.show(value, "share")

    return [
        times("grip of the tires", found.grip),
        (
            "what the driver uses of it",
            share(found.use.value),
            f"{share(found.use.low)} to {share(found.use.high)}",
        ),
        times("heat into the tires", found.heat),
        times("loss by age and wear", found.age),
    ]


def _so_matched(screen: Screen, found: LapMatch) -> None:
    """The run of the matched car in words, and a warning when the grip is far from the files'."""
    run = found.run
    best = int(np.argmin(np.where(run.green, run.times, np.inf)))
    left = found.left[found.counted]
    spread = screen.show(float(np.sqrt(np.mean(left**2))), "lap_time")
    screen.say(
        f"So matched, the run is best on lap {run.numbers[best]}, "
        f"{screen.show(float(run.times[best]), 'lap_time')}; your laps lie {spread} about it."
    )
    if found.goes_away is not None:
        screen.say(f"Your laps go away after lap {found.goes_away}.")
    if abs(np.log(found.grip.value)) > FAR_OFF or found.fit.at_bound:
        screen.say(
            "That is far off the files: check length, radius and groove of the track, gear, weight and power "
            "before you trust it."
        )


def _tires(screen: Screen, listed: LapList, found: LapMatch) -> None:
    """What was read of the tires beside the run."""
    rows = []
    for kind, read in zip(found.kinds, found.read, strict=True):
        if kind not in KIND:
            continue
        what, name = KIND[kind]
        for k in np.flatnonzero(np.isfinite(read).any(axis=1)):
            rows.append((f"{name} after lap {listed.laps[k].number}", *_shown(screen, read[k], what)))
            rows.append(("in the run", *_shown(screen, found.said[kind][k], what)))
    if rows:
        screen.say()
        screen.table(rows, head=("read", *CORNERS))
        screen.say()
        screen.note(
            f"In the run the car has stood {READ_AFTER:.0f} s where tires were read: treads cool fast."
        )


def _shown(screen: Screen, values: Array, kind: str) -> list[str]:
    return [screen.show(float(value), kind) if np.isfinite(value) else "" for value in values]


def _off(screen: Screen, listed: LapList, found: LapMatch) -> None:
    """Laps that the run does not explain."""
    doubtful = [lap.number for lap, off in zip(listed.laps, found.fit.doubtful[0], strict=True) if off]
    if doubtful:
        named = ", ".join(str(number) for number in doubtful[:MOST_NAMED])
        more = f" and {len(doubtful) - MOST_NAMED} more" if len(doubtful) > MOST_NAMED else ""
        screen.say(f"Not as the run has them, and counted little: laps {named}{more}.")


def _told(found: LapMatch) -> dict[str, Any]:
    return {
        "grip": found.grip,
        "use": found.use,
        "heat": found.heat,
        "age": found.age,
        "driver": found.driver,
        "run": {"numbers": found.run.numbers, "times": found.run.times, "green": found.run.green},
        "counted": found.counted,
        "left": found.left,
        "scatter": found.scatter,
        "read": dict(zip(found.kinds, found.read, strict=True)),
        "said": found.said,
        "untold": found.untold,
        "at_bound": found.fit.at_bound,
        "goes_away": found.goes_away,
        "runs": found.runs,
    }
