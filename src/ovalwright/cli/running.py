"""The car over many laps: run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ovalwright.cli.ballast import against_book
from ovalwright.cli.contract import told
from ovalwright.cli.door import said_by
from ovalwright.cli.lapping import NOT_IN_IT, Job, job_of, lap_time
from ovalwright.cli.options import ToDrive
from ovalwright.cli.race_plan import planned
from ovalwright.cli.screen import Screen, plus, quoted
from ovalwright.cli.turning import START_SLOW, guessed
from ovalwright.cli.typed import read
from ovalwright.corners import CORNERS
from ovalwright.documents import Rules
from ovalwright.pictures.chart import Chart
from ovalwright.pictures.run import RunTrace, come_in, run_chart, slowest_shown
from ovalwright.pictures.save import lines, save
from ovalwright.study.driver_said import matched_said, uses_said
from ovalwright.study.falloff import EARLY, LATE
from ovalwright.study.held_back import held_back
from ovalwright.study.lap import ON_REVS, Driver, NoLap
from ovalwright.study.lap_reading import time_ruled_by
from ovalwright.study.run import Run, RunLap, Stretch
from ovalwright.study.run import run as run_study
from ovalwright.study.run_match import matching_run
from ovalwright.study.run_reading import (
    LITTLE_LOST,
    OFF_ITS_BEST,
    USUAL_SCATTER,
    GripLost,
    RunReading,
    Stint,
    car_at_flag,
    last_solved,
    read_run,
    state_at_flag,
)

EVERY = 5
"""Laps from one row of the table to the next."""
MUCH = 0.2
"""Share of a lap on the rev limiter from which it is said."""


def run(
    screen: Screen,
    asked: ToDrive,
    *,
    laps: int,
    yellow: Sequence[str],
    stops: Sequence[str],
    books: Sequence[Path],
    pictures: Sequence[Path],
) -> None:
    """Many laps: when it is best, when it goes away, which tire and why, and the car at the flag."""
    sought = lap_time(asked.time) if asked.time else None
    read_books = [read(Rules, path) for path in books]
    job = job_of(screen, asked)
    plan = planned(screen, job.assembly, laps, yellow, stops)
    with said_by(NoLap), screen.progress("driving") as tell:
        if sought is None:
            driven, why = held_back(
                lambda driver: run_study(
                    job.packed, job.line, job.day, plan, driver,
                    progress=lambda share: tell(round(share * laps), laps),
                ),
                job.driver,
            )  # fmt: skip
            screen.notes(why)
        else:
            driven = matching_run(job.packed, job.line, job.day, plan, sought, job.driver, progress=tell)
    reading = read_run(driven)
    chart = chart_of(screen, [(job.assembly.setup.name, driven)], job.where)
    with said_by(ValueError):
        for path in pictures:
            save(chart, path)
    show = screen.show
    screen.title(
        f"Best {show(reading.summary.best, 'lap_time')} on lap {reading.summary.best_lap} of {laps}: "
        f"{job.assembly.setup.name}"
    )
    screen.say(job.where)
    screen.say(how_sure(driven.driver, sought))
    screen.say()
    screen.table(_rows(screen, job, driven, reading), left=2)
    screen.say()
    for sentence in (*_why(screen, driven, reading.lost), *_revs(screen, driven)):
        screen.say(sentence)
    screen.say()
    _lap_by_lap(screen, driven)
    screen.say()
    _at_the_end(screen, job, driven, reading.lost)
    screen.say()
    for line in lines(chart, screen.out.width):
        screen.say(line)
    for path in pictures:
        screen.say(f"Written: {quoted(path)}")
    legal = _at_the_flag(screen, driven, read_books)
    _notes(screen, job, driven)
    screen.end("run", {"answer": {**told_run(driven), "reading": told(reading), "matched_to": sought,
                                  "plan": _told_plan(plan), "legal_at_the_flag": legal}})  # fmt: skip


def how_sure(driver: Driver, sought: float | None) -> str:
    """What the times hang on, in words."""
    if sought is not None:
        return matched_said(driver, f"your best lap of {sought:.3f} s")
    guessed = "Grip and driver are guessed; your best lap of such a run (--time) settles them."
    return f"{guessed} {uses_said(driver)}"


# ---------------- the run in a few rows


def _rows(screen: Screen, job: Job, driven: Run, read: RunReading) -> list[tuple[str, str]]:
    show, first, last = screen.show, driven.laps[0], driven.laps[-1]
    density = job.assembly.car.fuel_cell.density.si
    start, flag = (show(kg / density, "volume") for kg in (first.fuel, last.fuel - last.burned))
    stagger = [show(one.stagger, "growth") for one in (first, last)]
    return [
        ("best", f"{show(read.summary.best, 'lap_time')}, lap {read.summary.best_lap}"),
        (f"laps {EARLY[0]} to {EARLY[1]}", show(read.summary.early, "lap_time")),
        (f"laps {LATE[0]} to {LATE[1]}", show(read.summary.late, "lap_time")),
        ("total", show(read.summary.total, "lap_time")),
        *(row for stint in read.stints for row in _fade_rows(screen, stint, len(read.stints) > 1)),
        ("rear against front, laps 3 to 7", balance(read.early)),
        ("rear against front at the end", balance(read.end)),
        ("rear stagger", f"{stagger[0]} on lap 1, {stagger[1]} at the end"),
        ("fuel", f"{start} at the start, {flag} at the flag"),
    ]  # fmt: skip


def _fade_rows(screen: Screen, stint: Stint, several: bool) -> list[tuple[str, str]]:
    """Fall-off and going away of a stint."""
    where = f", {stint.first} to {stint.last}" if several else ""
    return [
        (f"fall-off in ten laps{where}", _fall_off(screen, stint)),
        (f"goes away{where}", _goes_away(screen, stint)),
    ]


def _fall_off(screen: Screen, stint: Stint) -> str:
    fade = stint.summary.fade
    if fade is None:
        return stint.summary.why.removeprefix("a fall-off ")
    slope = plus(screen.show(fade.per_ten.value, "lap_time"))
    return f"{slope}, from lap {fade.first + stint.first - 1} on"


def _goes_away(screen: Screen, stint: Stint) -> str:
    fade, off = stint.summary.fade, screen.show(OFF_ITS_BEST, "lap_gain")
    if fade is not None and fade.goes_away is not None:
        slopes = (fade.goes_away.before, fade.goes_away.after)
        before, after = (plus(screen.show(slope, "lap_time")) for slope in slopes)
        return f"after lap {stint.goes_away}: {before} a lap before, {after} a lap after"
    if stint.stays_off is not None:
        return f"no break, but from lap {stint.stays_off} on it stays {off} off its best"
    if stint.ends_quickest:
        return "no: it is quickest at the end"
    return f"no: {screen.show(stint.behind, 'lap_time')} off its best at the end"


def balance(share: float) -> str:
    """Grip used at the rear less that at the front, with its word."""
    if math.isnan(share):
        return "-"
    word = "loose" if share > 0.0 else "tight" if share < 0.0 else "neutral"
    return f"{word} {100 * share:+.1f} %"


def _why(screen: Screen, driven: Run, lost: Sequence[GripLost]) -> list[str]:
    """The tire that lost most, and by what; and whether that makes the car tighter or looser."""
    worst = max(lost, key=lambda one: one.whole)
    if worst.whole < LITTLE_LOST:
        return ["No tire has lost half a percent of its best grip: what changes the times is fuel and heat."]
    i = CORNERS.index(worst.corner)
    tread = screen.show(float(driven.laps[-1].tread[i]), "temperature")
    words = {"heat": f"to heat (its tread runs at {tread})", "wear": "to wear", "age": "to time at heat"}
    parts = sorted(("heat", "wear", "age"), key=lambda name: -float(getattr(worst, name)))
    each = ", ".join(f"{100 * getattr(worst, name):.1f} % {words[name]}" for name in parts)
    front, rear = (0.5 * (lost[a].whole + lost[b].whole) for a, b in ((0, 1), (2, 3)))
    end = "front" if front > rear else "rear"
    return [
        f"{worst.corner} loses most: {100 * worst.whole:.1f} % of its grip from lap {worst.lap} to the end, "
        f"{each}.",
        f"The {end} tires lose more than the {'rear' if end == 'front' else 'front'} "
        f"({100 * front:.1f} % front, {100 * rear:.1f} % rear): that alone makes the car "
        f"{'tighter' if end == 'front' else 'looser'}.",
    ]


def _revs(screen: Screen, driven: Run) -> list[str]:
    """A word on the rev limiter where much of a lap is run on it: then grip hardly counts."""
    last = last_solved(driven)
    on_it = time_ruled_by(last, ON_REVS)
    if on_it < MUCH * last.time:
        return []
    return [
        f"On the rev limiter for {screen.show(on_it, 'lap_time')} of the last lap, where lost grip does not "
        "show: `ovalwright gears` tells which gear suits."
    ]


# ---------------- lap by lap, and the four corners at the end


def _lap_by_lap(screen: Screen, driven: Run) -> None:
    count = len(driven.laps)
    shown = sorted({1, count, *range(EVERY, count + 1, EVERY)})
    screen.table(
        [_lap_row(screen, driven, driven.laps[number - 1]) for number in shown],
        head=("lap", "time", "fuel", "stagger", "balance", *CORNERS),
        title=f"Lap by lap, and treads in {_split(screen.show(driven.laps[0].tread[0], 'temperature'))[1]}",
    )


def _lap_row(screen: Screen, driven: Run, one: RunLap) -> tuple[str, ...]:
    density = driven.packed.values()[0].fuel_cell.density
    return (
        f"{one.number}{' yellow' if one.flag == 'yellow' else ''}",
        screen.show(one.time, "lap_time"),
        screen.show(one.fuel / density, "volume"),
        screen.show(one.stagger, "growth"),
        balance(one.balance) if one.flag == "green" else "",
        *(_split(screen.show(float(tread), "temperature"))[0] for tread in one.tread),
    )


def _split(text: str) -> tuple[str, str]:
    """A shown value as its number and its unit."""
    number, _, unit = text.partition(" ")
    return number, unit


def _at_the_end(screen: Screen, job: Job, driven: Run, lost: Sequence[GripLost]) -> None:
    """What he can read on his own car after such a run, and what the tires have left."""
    last, setup = driven.laps[-1], car_at_flag(driven).setup

    def four(name: str, values: ArrayLike, kind: str) -> tuple[str, ...]:
        return (name, *(screen.show(value, kind) for value in np.asarray(values).tolist()))

    hot = [getattr(setup, corner).tire.hot for corner in CORNERS]
    cold = [getattr(setup, corner).tire.cold.si for corner in CORNERS]
    rows = [
        four("cold pressure", cold, "pressure"),
        four("hot pressure", last.pressure, "pressure"),
        ("written as hot", *(screen.show(one.si, "pressure") if one else "-" for one in hot)),
        four("tread", last.tread, "temperature"),
        four("worn off", last.wear, "wear"),
        four("brake disc", last.disc, "temperature"),
        ("best grip", *(f"{100 * one.best:.1f} %" for one in lost)),
        ("on lap", *(str(one.lap) for one in lost)),
        *((f"lost to {by}", *(_lost(getattr(one, by)) for one in lost)) for by in ("heat", "wear", "age")),
        ("grip at the end", *(f"{100 * one.left:.1f} %" for one in lost)),
    ]  # fmt: skip
    screen.table(rows, head=("at the end", *CORNERS))


def _lost(share: float) -> str:
    text = f"{100 * share:.1f} %"
    return f"gains {text[1:]}" if text.startswith("-") and text != "-0.0 %" else text.lstrip("-")


def _at_the_flag(screen: Screen, driven: Run, books: Sequence[Rules]) -> dict[str, Any]:
    """The car at the flag of this run against each book."""
    if not books:
        return {}
    assembly, state = car_at_flag(driven), state_at_flag(driven)
    start = float(driven.packed.record["fuel_mass"])
    answers = {}
    for book in books:
        screen.say()
        screen.title(f"At the flag of this run: {book.name}")
        answers[book.name] = against_book(
            screen, assembly, book, flag=state, laps=len(driven.laps), start_fuel=start
        )
    return answers


# ---------------- the picture, the notes, JSON


def chart_of(screen: Screen, runs: Sequence[tuple[str, Run]], title: str) -> Chart:
    """Lap times of runs, tread temperatures beside."""
    greens = [np.where(driven.green, driven.times, np.nan) for _, driven in runs]
    slowest = slowest_shown(greens)
    shown = [come_in(times, slowest) for times in greens]
    traces = [
        RunTrace(
            name,
            times,
            yellow=[not green for green in driven.green],
            goes_away=read_run(driven).went_away,
            beside=driven.of("tread"),
        )
        for (name, driven), times in zip(runs, shown, strict=True)
    ]
    chart = run_chart(traces, system=screen.system, title=title)
    if all(np.array_equal(*told, equal_nan=True) for told in zip(shown, greens, strict=True)):
        return chart
    far = screen.show(slowest, "lap_time")
    return replace(chart, notes=(*chart.notes, f"Tires coming in: laps slower than {far} are left out."))


def _notes(screen: Screen, job: Job, driven: Run) -> None:
    screen.notes(driven.notes)
    scatter = screen.show(USUAL_SCATTER, "lap_gain")
    screen.note(
        "Fall-off: median slope of all pairs of laps once the tires have come in. It goes away where a "
        f"steeper fade from one lap on would show through a scatter of {scatter} a lap, as in a lap list."
    )
    screen.note(
        "Balance: grip used at the rear less that at the front in the slowest place of each turn; minus is "
        "tight. Grip is that of a scuffed tire at its best temperature; age: time at heat, laps since new."
    )
    screen.note(
        "The numbers of heat and wear are the trade's, published nowhere: read treads and hot pressures "
        "after such a run, and a lap list, before trusting the fade."
    )
    screen.note(NOT_IN_IT)
    screen.note(guessed(job.assembly))
    screen.note(START_SLOW)
    screen.notes([*driven.packed.notes, *job.assembly.warnings])


def told_run(driven: Run) -> dict[str, Any]:
    """The run for another program: every lap by its fields."""
    names = [one.name for one in fields(RunLap) if one.name != "solved"]
    laps = [{name: getattr(one, name) for name in names} for one in driven.laps]
    return {"driver": driven.driver, "length": driven.line.length, "total": driven.total, "laps": laps}


def _told_plan(plan: Sequence[Stretch]) -> list[dict[str, Any]]:
    return [
        {
            "laps": one.laps,
            "flag": one.flag,
            "stop": one.stop
            and {
                "setup": one.stop.setup and one.stop.setup.setup.name,
                "fuel": one.stop.fuel,
                "tires": one.stop.tires,
                "seconds": one.stop.seconds,
            },
        }
        for one in plan
    ]
