"""The end of the demo's story: a lap with the gear that suits, and forty laps of two setups on two tracks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ovalwright.cli.against import figures, to_see, when_ahead
from ovalwright.cli.door import said_by
from ovalwright.cli.lapping import Job, job_of, lap_picture, map_picture, saved, sections
from ovalwright.cli.options import ToDrive
from ovalwright.cli.running import chart_of
from ovalwright.cli.screen import Screen
from ovalwright.cli.typed import on_its_own_sheet
from ovalwright.study.adjustments import put
from ovalwright.study.against import against
from ovalwright.study.gears import Gears
from ovalwright.study.gears import gears as gears_study
from ovalwright.study.lap import NoLap
from ovalwright.study.run_reading import USUAL_SCATTER

LAPS = 40
FIGURES = ("laps 3 to 7", "laps 20 to 25", "total")
LITTLE = 0.05
"""Time on the rev limiter [s] that is not worth a word."""
TRACKS = ("three_eighths", "flat_quarter")


def race(screen: Screen, folder: Path, setup: str, other: str) -> None:
    """The gear and one lap on the first track, then both setups over a run on each; pictures of all that."""
    written: list[Path] = []
    for number, name in enumerate(TRACKS):
        job, answer = _geared(screen, folder, setup, name)
        if number == 0:
            written += _one_lap(screen, job, answer, folder, name)
            screen.say()
            screen.title(f"8. {LAPS} laps on two tracks, each with its gear: does a short test tell?")
            screen.say(f"{job.where}, the same gear.")
        else:
            screen.say()
            screen.say(f"{job.where}. {_which_gear(screen, answer)}")
        written += _forty_laps(screen, job, folder, other, name)
    screen.say()
    screen.say(f"Pictures in {folder}: {', '.join(path.name for path in written)}.")


def _geared(screen: Screen, folder: Path, setup: str, track: str) -> tuple[Job, Gears]:
    """The car on a track, with the quickest gear of its rack bolted in."""
    asked = ToDrive(
        setup=folder / f"setup_{setup}.toml", track=folder / f"track_{track}.toml",
        conditions=folder / "conditions_evening.toml", sheet=None, groove="middle", fuel="",
    )  # fmt: skip
    job = job_of(screen, asked)
    with said_by(NoLap), screen.progress("gears") as tell:
        answer = gears_study(job.packed, job.line, job.day, job.driver, progress=tell)
    best = answer.best
    if best is None or best.lap is None:
        raise NoLap(answer.fitted.why)
    packed = best.lap.packed
    return replace(job, packed=packed, assembly=packed.assembly), answer


def _which_gear(screen: Screen, answer: Gears) -> str:
    fitted, best = answer.fitted, answer.best
    assert best is not None and best.lap is not None
    if fitted is best or fitted.lap is None:
        return f"The {best.name} is the quickest gear of the rack here."
    gain = screen.show(fitted.lap.time - best.lap.time, "lap_time")
    said = (
        f"The {best.name} is the quickest gear of the rack here, by {gain} over the {fitted.name} in the car"
    )
    if fitted.on_the_limiter < LITTLE:
        return f"{said}."
    return f"{said}, which is on the rev limiter for {screen.show(fitted.on_the_limiter, 'lap_time')}."


def _one_lap(screen: Screen, job: Job, answer: Gears, folder: Path, name: str) -> list[Path]:
    assert answer.best is not None and answer.best.lap is not None
    found = answer.best.lap
    screen.say()
    screen.title(f"7. One lap, {screen.show(found.time, 'lap_time')}: {job.where}")
    screen.say(_which_gear(screen, answer))
    sections(screen, found)
    return saved(
        [
            (folder / f"lap_{name}.svg", lap_picture(screen, job, found)),
            (folder / f"map_{name}.png", map_picture(screen, job, found)),
        ]
    )


def _forty_laps(screen: Screen, job: Job, folder: Path, other: str, name: str) -> list[Path]:
    gear = job.assembly.setup.final_drive
    rival = put(on_its_own_sheet(job.assembly, folder / f"setup_{other}.toml"), {"final_drive": gear})
    with said_by(NoLap), screen.progress(f"{LAPS} laps, two cars") as tell:
        answer = against(job.packed, rival, job.line, job.oval, job.day, LAPS, job.driver, progress=tell)
    names = (job.assembly.setup.name, rival.setup.name)
    figures(screen, answer, f"{names[0]} (A) against {names[1]} (B)", FIGURES)
    scatter = screen.show(USUAL_SCATTER, "lap_gain")
    screen.say(f"{when_ahead(answer, LAPS)[-1]} {to_see(screen, answer, scatter)}")
    chart = chart_of(screen, list(zip(names, (answer.a, answer.b), strict=True)), job.where)
    return saved([(folder / f"run_{name}.{end}", chart) for end in ("png", "pdf")])
