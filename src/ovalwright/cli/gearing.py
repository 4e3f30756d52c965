"""Which gear: a lap with each on the rack."""

from __future__ import annotations

import math
import shlex
from typing import Any

from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.lapping import NOT_IN_IT, job_of, lap_time, matched
from ovalwright.cli.options import ToDrive
from ovalwright.cli.screen import Screen, plus
from ovalwright.cli.turning import START_SLOW
from ovalwright.study.gears import STEP, GearLap, Gears
from ovalwright.study.gears import gears as gears_study
from ovalwright.study.lap import Lap, NoLap


def gears(screen: Screen, asked: ToDrive) -> None:
    """A lap with each gear on the rack: the best, and what one step does."""
    sought = lap_time(asked.time) if asked.time else None
    job = job_of(screen, asked)
    with said_by(NoLap), screen.progress("gears") as tell:
        driver = matched(job, sought, tell).driver if sought else job.driver
        answer = gears_study(job.packed, job.line, job.day, driver, progress=tell)
    if answer.best is None:
        raise Trouble(f"With none of these gears the car gets round; with the one in it: {answer.fitted.why}")
    screen.title(f"Gears: {job.assembly.setup.name}, {job.where}")
    screen.table(
        [_gear_row(screen, answer, row) for row in answer.rows],
        head=("gear", "ratio", "lap", "against *", "step", "top rpm", "on the limiter"),
        left=1,
    )
    for row in answer.rows:
        if row.lap is None:
            screen.say(f"{row.name}: {row.why}")
    screen.say(_which(screen, answer))
    if answer.best is not answer.fitted:
        screen.say("To try it:")
        ratio = screen.show(answer.best.ratio, "ratio")
        screen.command(f'vary {shlex.quote(str(asked.setup))} geared.toml "final_drive={ratio}"')
    if sought:
        screen.note(
            f"Matched to your {sought:.3f} s with the gear in the car: {driver.grip:.3f} times the grip."
        )
    else:
        screen.note(
            "Grip is guessed: --time with a lap time of yours, run with the gear in the car, settles it."
        )
    screen.note(
        "Against *: the lap against that with the gear in the car. Step: against the next taller gear."
    )
    if not answer.owned:
        screen.note(f"The rack has no gears: steps of {100 * STEP:.0f} %, about a tooth of a spur set.")
    screen.note(NOT_IN_IT)
    screen.note(START_SLOW)
    screen.end("gears", {"answer": [_gear_told(row) for row in answer.rows], "best": answer.best.name})


def _gear_row(screen: Screen, answer: Gears, row: GearLap) -> tuple[str, ...]:
    name, ratio = f"{row.name}{' *' if row.fitted else ''}", screen.show(row.ratio, "ratio")
    if row.lap is None:
        return (name, ratio, *["-"] * 5)
    at = answer.rows.index(row)
    taller = answer.rows[at - 1].lap if at else None
    fitted = answer.fitted.lap

    def over(other: Lap | None) -> str:
        return plus(screen.show(row.lap.time - other.time, "lap_time")) if row.lap and other else "-"

    return (
        name,
        ratio,
        screen.show(row.lap.time, "lap_time"),
        "" if row.fitted else over(fitted),
        over(taller),
        screen.show(float(row.lap.engine_speed.max()), "spin"),
        screen.show(row.on_the_limiter, "lap_time"),
    )


def _which(screen: Screen, answer: Gears) -> str:
    """The best gear in words."""
    best, kinder = answer.best, answer.kinder
    assert best is not None and best.lap is not None
    if best is answer.fitted:
        said = "The gear in the car is the quickest of these."
    else:
        gain = answer.fitted.lap.time - best.lap.time if answer.fitted.lap else math.nan
        by = "" if math.isnan(gain) else f", by {screen.show(gain, 'lap_time')}"
        said = f"{best.name} is the quickest of these{by}."
    if kinder is not None:
        said += f" {kinder.name} is as good within 0.01 s and spares the engine the limiter."
    if best in (answer.rows[0], answer.rows[-1]):
        end = "tallest" if best is answer.rows[0] else "shortest"
        said += f" It is the {end} here: one beyond may be better."
    return said


def _gear_told(row: GearLap) -> dict[str, Any]:
    """One gear for another program."""
    found = row.lap
    return {
        "name": row.name,
        "ratio": row.ratio,
        "fitted": row.fitted,
        "time": found.time if found else None,
        "top_speed": float(found.speed.max()) if found else None,
        "top_engine_speed": float(found.engine_speed.max()) if found else None,
        "on_the_limiter": row.on_the_limiter if found else None,
        "at_full_throttle": row.at_full_throttle if found else None,
        "why": row.why,
    }
