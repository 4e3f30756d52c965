"""One lap in words, tables and pictures; what tables and pictures of laps and runs are made of."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from ovalwright.corners import CORNERS
from ovalwright.notebook.asked.here_before import BestLap
from ovalwright.pictures.chart import Chart, Panel
from ovalwright.pictures.chart_svg import LAPTOP_CHART, PHONE_CHART, chart_svg
from ovalwright.pictures.inks import ruling
from ovalwright.web.lap_work import LapTold
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount, counted

Row = tuple[str, ...]
NEAR = 0.1
"""A computed best lap that near to the logged one agrees with it [s] (common practice, no source)."""


@dataclass(frozen=True)
class Pictures:
    """One chart twice: for a phone and for a laptop."""

    phone: Markup
    laptop: Markup


@dataclass(frozen=True)
class Table:
    """A table: what it is, its heads, its rows; the first cell of a row names it. `bands` stand in small
    under the last cells of the first rows.
    """

    title: str
    heads: Row
    rows: tuple[Row, ...]
    bands: Row = ()


@dataclass(frozen=True)
class OneLap:
    """One lap of each setup: its times, its picture, the letters of its `lanes`, what picks up and touches
    where, how fast and how low it gets.
    """

    times: tuple[str, ...]
    picture: Pictures
    lanes: str
    marks: tuple[str, ...]
    lowest: tuple[str, ...]


def letters_of(names: Sequence[str]) -> list[str]:
    """A and B where there are two, nothing where there is one."""
    return [chr(ord("A") + i) for i in range(len(names))] if len(names) > 1 else [""]


def one_lap(chart: Chart, laps: Sequence[LapTold], letters: Sequence[str], best: float | None) -> OneLap:
    """One lap in words and pictures; `best` is the lap [s] that the grip was matched to."""
    told = list(zip(laps, letters, strict=True))
    return OneLap(
        times=tuple(_lap_time(one, of, best) for one, of in told),
        picture=pictures_of(chart, "lap", chart.panels[:1]),
        lanes=_letters_in(chart),
        marks=tuple(f"{chart.key(mark.of)} {mark.word}".strip() for mark in chart.marks),
        lowest=tuple(_lowest(one, of) for one, of in told),
    )


def _letters_in(chart: Chart) -> str:
    words = dict.fromkeys(piece.word for lane in chart.lanes for piece in lane.pieces)
    return f"What sets the speed: {', '.join(f'{ruling(word).letter} {word}' for word in words)}."


def pictures_of(chart: Chart, which: str, panels: Sequence[Panel]) -> Pictures:
    """Panels of a chart with its lanes, for both sizes; `which` begins the ids in them."""
    phone, laptop = (
        Markup(chart_svg(chart, room, name=f"{which}-{word}", panels=panels))
        for room, word in ((PHONE_CHART, "phone"), (LAPTOP_CHART, "laptop"))
    )
    return Pictures(phone, laptop)


def time_of(seconds: float) -> str:
    """A time as a clock of a track shows it."""
    return amount(seconds, "lap_time")


def _lap_time(lap: LapTold, of: str, best: float | None) -> str:
    said = f"{f'{of}: ' if of else ''}{time_of(lap.time)} with tires as the files say they grip"
    band = lap.band
    if best is not None or not math.isfinite(band.low):
        return f"{said}."
    return (
        f"{said}; from what is guessed of grip and driver {time_of(band.low)} to {time_of(band.high)} (95 %)."
    )


def best_said(best: BestLap) -> str:
    """A logged best lap, and whose it is."""
    where = f"lap {best.lap} of run {best.run}" if best.lap is not None else f"run {best.run}"
    who = f"{best.driver}, " if best.driver else ""
    fuel = f" from {amount(best.fuel, 'volume')}" if best.fuel is not None else ""
    laps = counted(best.laps, "lap")
    return f"{time_of(best.time)}, {who}{where}, {laps}{fuel}, {best.event}, {best.day}"


def beside_best(best: BestLap, computed: float) -> str:
    """How far a computed best lap [s] is from a logged one; of that one alone where none is computed."""
    told = f"Your best of the last runs here: {best_said(best)}."
    if not math.isfinite(computed):
        return told
    off = computed - best.time
    if abs(off) <= NEAR:
        return f"{told} The computed best agrees within {time_of(NEAR)}."
    word = "slower" if off > 0.0 else "quicker"
    return f"{told} The computed best, {time_of(computed)}, is {abs(off):.2f} s {word} than that."


def sections(laps: Sequence[LapTold], letters: Sequence[str]) -> Table:
    """The sections of a lap: times and speeds."""
    rows = [
        (f"{of} {one.name}".strip(), time_of(one.time), *(amount(speed, "speed") for speed in one[2:]))
        for lap, of in zip(laps, letters, strict=True)
        for one in lap.sections
    ]
    return Table("Section by section", ("", "time", "entry", "slowest", "fastest", "exit"), tuple(rows))


def ruling_from_to(lap: LapTold, of: str) -> Table:
    """What sets the speed, from where to where."""
    rows = tuple(
        (
            one.rule,
            ", ".join(one.tires),
            amount(one.start, "road_length"),
            amount(one.end, "road_length"),
            amount(one.entry, "speed"),
            amount(one.exit, "speed"),
        )
        for one in lap.ruled
    )
    return Table(f"What sets the speed {of}".strip(), ("", "tire", "from", "to", "entry", "exit"), rows)


def to_check(lap: LapTold, of: str) -> Table:
    """What a lap leaves on the car to be looked at: shock travel, loads."""
    read = lap.on_the_car
    rows = (
        ("shock travel, bump", *(amount(float(one), "coil_length") for one in read.bump)),
        ("shock travel, rebound", *(amount(float(one), "coil_length") for one in read.rebound)),
        ("most load", *(amount(float(one), "force") for one in read.load)),
    )
    return Table(f"To check on the car {of}".strip(), ("", *CORNERS), rows)


def _lowest(lap: LapTold, of: str) -> str:
    read, who = lap.on_the_car, f"{of}: " if of else ""
    revs = f"{amount(read.least_revs, 'spin')} to {amount(read.most_revs, 'spin')}"
    said = (
        f"{who}fastest {amount(read.top, 'speed')}, {revs}, {time_of(read.on_the_limiter)} on the rev limiter"
    )
    if read.lowest is None:
        return sentence(said)
    where = amount(read.lowest.distance, "road_length")
    how = "touches the road" if read.lowest.gap <= 0.0 else f"clears by {amount(read.lowest.gap, 'height')}"
    return sentence(f"{said}; lowest, {read.lowest.name} {how} at {where}")
