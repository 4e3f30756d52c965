"""A lap list as a racer keeps it: a CSV file or pasted text with lap, time and flag, and tires at some laps.

What cannot be a lap is named and set aside with its line; the text stays as it was typed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Literal

from ovalwright.documents.headings import (
    PARTS,
    TIME_UNITS,
    Column,
    Columns,
    guessed,
    headed,
    lap_number,
    unclear,
)
from ovalwright.documents.pasted import MARKS, Row, rows_of, text_in
from ovalwright.documents.source import DocumentError, read_bytes
from ovalwright.units import KINDS, UnitError, read_quantity

Flag = Literal["green", "yellow", "pit", "traffic", "other"]
FLAGS: tuple[Flag, ...] = ("green", "yellow", "pit", "traffic", "other")
POSSIBLE = KINDS["lap_time"].possible
"""Shortest and longest time of a lap [s]; a stop on the track is longer and is no lap."""
COMMENT = "# "
"""What a line starts with that is not for the program."""
HEADINGS_WITHIN = 12
"""Lines among which the headings stand; above them there may be a title."""
ALIKE = 1.5
"""Two laps of one list differ by less than this factor, when a unit must be guessed."""
WORDS: dict[Flag, tuple[str, ...]] = {
    "yellow": ("yellow", "y", "caution", "slow", "pace", "red", "r", "restart"),
    "pit": ("pit", "pits", "pitted", "p", "in", "out", "in lap", "out lap", "stop", "cool", "cooldown"),
    "traffic": (
        "traffic", "t", "lapped", "passing", "passed", "pass", "blocked", "held", "lapper", "lappers",
        "dirty", "mistake", "spin", "spun", "wide", "slid", "contact", "lift", "lifted",
    ),
    "green": ("green", "g", "clean", "clear", "free", "ok", "good", "race", "racing", "alone"),
}  # fmt: skip
"""The racer's own words for each flag; traffic stands for every lap on which he was held up or slipped. A
word of three letters or more counts anywhere in what he wrote, a shorter one only alone."""
_CLOCK = re.compile(
    r"(?:(\d{1,2}):)?(\d{1,3}):(\d{1,2}(?:[.,]\d*)?)|(\d{1,3})\s*[m']\s*(\d{1,2}(?:[.,]\d*)?)\W*s?\W*"
)
_LETTER = re.compile(r"[^\W\d_]")
_PLAIN = re.compile(r"([+\-\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-z]*|\")\.?", re.IGNORECASE)

Four = tuple[float, float, float, float]
Reading = tuple[Column, float]


@dataclass(frozen=True)
class TimedLap:
    """One lap: its number, time [s], flag, the line it was typed on, its flag as typed, and what was read of
    the tires after it (K, Pa, m by column).
    """

    number: int
    time: float
    flag: Flag
    line: int
    said: str = ""
    tires: tuple[Reading, ...] = ()

    def tire(self, what: str, part: int = -1) -> Four:
        """Readings LF RF LR RR of one kind (`temperature` with its third, `pressure`, `roll_out`), SI; NaN
        where none was typed.
        """
        four = [math.nan] * 4
        for column, value in self.tires:
            if (column.what, column.part) == (what, part):
                four[column.corner] = value
        return (four[0], four[1], four[2], four[3])

    @property
    def temperatures(self) -> tuple[Four, Four, Four]:
        """Inside, middle and outside of the tread of LF RF LR RR [K]; inside is toward the infield."""
        inside, middle, outside = (self.tire("temperature", part) for part in range(len(PARTS)))
        return inside, middle, outside


@dataclass(frozen=True)
class SetAside:
    """A line that is no lap: its number, the text as typed, and why."""

    line: int
    text: str
    why: str


@dataclass(frozen=True)
class LapList:
    """The laps of one run in order, the lines set aside, what should be known, and the text as typed."""

    name: str
    laps: tuple[TimedLap, ...]
    aside: tuple[SetAside, ...]
    notes: tuple[str, ...]
    text: str

    @property
    def numbers(self) -> tuple[int, ...]:
        """Number of each lap."""
        return tuple(lap.number for lap in self.laps)

    @property
    def times(self) -> tuple[float, ...]:
        """Time of each lap [s]."""
        return tuple(lap.time for lap in self.laps)

    @property
    def green(self) -> tuple[bool, ...]:
        """Whether each lap was run at speed: no yellow, no pit, no traffic."""
        return tuple(lap.flag == "green" for lap in self.laps)


@dataclass(frozen=True)
class Layout:
    """Where a list has what, as it was told: the mark that parts its fields, the line of its headings, its
    columns, and which rows below count (those of one car, for instance).
    """

    mark: str
    line: int
    columns: Columns
    counts: Callable[[Row], bool]


def load_laps(path: Path | str, *, words: Mapping[str, str] | None = None) -> LapList:
    """Read a lap list from a file; see `read_laps`. Raises DocumentError."""
    path = Path(path)
    return read_laps(text_in(read_bytes(path, "a lap list"), path.name), name=path.name, words=words)


def read_laps(
    text: str,
    *,
    name: str = "the lap list",
    words: Mapping[str, str] | None = None,
    layout: Layout | None = None,
) -> LapList:
    """Read a lap list: a line a lap, with or without headings, parted by comma, semicolon, tab or space.

    `words` maps words of the racer's own to one of FLAGS; `layout` tells the columns where their headings do
    not. Raises DocumentError when there is no lap in it.
    """
    known = {word: flag for flag, said in WORDS.items() for word in said}
    for word, meant in (words or {}).items():
        flag = next((one for one in FLAGS if one == meant), None)
        if flag is None:
            raise DocumentError(f'{name}: "{meant}" is no flag; write one of {", ".join(FLAGS)}.')
        known[word.strip().lower()] = flag
    marks = MARKS if layout is None else (layout.mark,)
    readings = [_Reading(name, text.removeprefix("\ufeff"), mark, known, layout) for mark in marks]
    best = max(readings, key=lambda reading: len(reading.laps))
    if not best.laps:
        raise DocumentError(_no_lap(name, readings))
    if best.unclear:
        may_be = " or ".join(f'"{_short(heading)}"' for heading in best.unclear)
        raise DocumentError(f"{name}: {may_be} may be the lap time; head that column time.")
    return LapList(name, tuple(best.laps), tuple(best.aside), tuple(best.notes), text)


def _no_lap(name: str, readings: Sequence[_Reading]) -> str:
    example = "write a line a lap with its number, time and flag, such as 7, 15.62, green"
    least = min((reading.aside for reading in readings if reading.timed), key=len, default=[])
    if least:
        return f"{name} line {least[0].line}: {least[0].why}; {example}."
    if any(reading.is_headed for reading in readings):
        return f"{name}: no column of lap times is found; head it time, or {example}."
    return f"{name}: holds no lap; {example}."


class _Reading:
    """One way to part the text into fields, and the laps found so."""

    def __init__(
        self, name: str, text: str, mark: str, words: Mapping[str, Flag], layout: Layout | None
    ) -> None:
        self.name, self.words = name, words
        self.decimal_comma, self.by_space = mark != ",", not mark
        self.laps: list[TimedLap] = []
        self.aside: list[SetAside] = []
        self.notes: list[str] = []
        self.unclear: tuple[str, ...] = ()
        self.unknown: dict[str, list[int]] = {}
        rows = tuple(row for row in rows_of(text, mark) if not row.text.startswith(COMMENT))
        self.columns, body, self.is_headed = self._told(rows, layout) if layout else self._columns(rows)
        self.width = self._width(rows, body)
        where = next((k for k, column in self.columns.items() if column.what == "time"), None)
        self.timed = where is not None
        if where is not None and not self._comma_twice(body, mark):
            self._read(body, where)

    def _told(self, rows: tuple[Row, ...], layout: Layout) -> tuple[Columns, tuple[Row, ...], bool]:
        """The columns as told, and the rows below their headings that count."""
        self._set_aside([row for row in rows if row.line < layout.line], "stands above the headings")
        body = tuple(row for row in rows if row.line > layout.line and layout.counts(row))
        return layout.columns, body, True

    def _columns(self, rows: tuple[Row, ...]) -> tuple[Columns, tuple[Row, ...], bool]:
        """The columns, the rows below their headings, and whether there are any: of the first lines, the one
        that holds the most known ones.
        """
        heads = [headed(row.cells) or {} for row in rows[:HEADINGS_WITHIN]]
        at = max(range(len(heads)), key=lambda line: len(heads[line]), default=-1)
        if at >= 0 and heads[at]:
            self._set_aside(rows[:at], "stands above the headings")
            return heads[at], rows[at + 1 :], True
        cells = [row.cells for row in rows]
        found = guessed(cells, _is_time)
        self.unclear = unclear(cells[:HEADINGS_WITHIN], found, _is_time)
        return found, rows, False

    def _width(self, rows: Sequence[Row], body: Sequence[Row]) -> int:
        """How many columns there are: as many as headings, else up to the last that is known."""
        first = min((row.line for row in body), default=0)
        heads = [row for row in rows if row.line < first] if self.is_headed else []
        return len(heads[-1].cells) if heads else max(self.columns, default=-1) + 1

    def _comma_twice(self, rows: Sequence[Row], mark: str) -> bool:
        """Whether a comma parts the fields and is the decimal mark too, so that a time is torn in two."""
        wide = [row for row in rows if len(row.cells) > max(self.columns) + 1]
        lap, time = (next((k for k, c in self.columns.items() if c.what == w), -1) for w in ("lap", "time"))
        torn = [row for row in wide if re.fullmatch(r"\d+,\s?\d{2,3}", ",".join(row.cells[time : time + 2]))]
        if mark != "," or lap < 0 or 2 * len(torn) <= len(rows) or len(self.columns) > 2 + self.is_headed:
            return False
        self.aside = []
        self._set_aside(
            torn[:1],
            "a comma parts the fields and is the decimal mark too: write 15.62, or part by semicolons",
        )
        return True

    def _read(self, rows: Sequence[Row], where: int) -> None:
        typed = [_typed_time(row.cells[where]) if where < len(row.cells) else None for row in rows]
        stated = TIME_UNITS.get(self.columns[where].unit)
        times = self._in_seconds(rows, [_with_unit(one, stated) for one in typed])
        last = 0
        for row, time in zip(rows, times, strict=True):
            number, why = self._number(row, last)
            if time is None:
                why = f'"{_short(row.cells[where])}" is no lap time' if row.cells[where:] else "has no time"
            elif not POSSIBLE[0] <= time <= POSSIBLE[1]:
                why = f"{time:g} s cannot be a lap, {POSSIBLE[0]:g} to {POSSIBLE[1]:g} s can"
            if time is not None and number > last:
                last = number
            if why:
                self._set_aside([row], why)
            elif time is not None:
                said, flag = self._flag(row)
                self.laps.append(TimedLap(number, time, flag, row.line, said, self._tires(row)))
        self._say_unknown()

    def _number(self, row: Row, last: int) -> tuple[int, str]:
        """Number of the lap of a row, counted where none is typed, and what is wrong with it."""
        where = next((k for k, column in self.columns.items() if column.what == "lap"), -1)
        cell = row.cells[where] if 0 <= where < len(row.cells) else ""
        if not cell:
            return last + 1, ""
        number = lap_number(cell)
        if number is None:
            return last + 1, f'"{_short(cell)}" is no lap number'
        if number <= last and self.laps:
            return (
                number,
                f"lap {number} comes after lap {last}: a list is one run, put a second into its own",
            )
        return number, ""

    def _in_seconds(
        self, rows: Sequence[Row], typed: Sequence[tuple[float, float | None] | None]
    ) -> list[float | None]:
        """Times [s]; one without a unit that cannot be seconds is read as the unit that makes it a lap like
        the others, and a note says so.
        """
        usual = _usual_of(list(filter(None, typed)))
        times: list[float | None] = []
        guessed_at: dict[str, list[str]] = {}
        for row, one in zip(rows, typed, strict=True):
            if one is None:
                times.append(None)
                continue
            value, unit = one
            guess = None if unit or POSSIBLE[0] <= value <= POSSIBLE[1] else _meant(value, usual)
            times.append(value * (unit or (TIME_UNITS[guess] if guess else 1.0)))
            if guess:
                guessed_at.setdefault(guess, []).append(
                    f"line {row.line}: {value:g} is read as {value:g} {guess}"
                )
        for told in guessed_at.values():
            self._say(told[0] + (f", and {len(told) - 1} more such lines" if told[1:] else ""))
        return times

    def _flag(self, row: Row) -> tuple[str, Flag]:
        said = self._words_of(row)
        meant = self._meant(said)
        for flag in ("yellow", "pit", "traffic", "green"):
            if flag in meant:
                return said, flag
        if "other" in meant or not said.strip("-. "):
            return said, "other" if meant else "green"
        self.unknown.setdefault(_short(said), []).append(row.line)
        return said, "other"

    def _words_of(self, row: Row) -> str:
        """What is said of a lap: its flag with the words behind the last column, or these where they hold a
        known one, as racers write `lapped car` behind a time.
        """
        where = next((k for k, column in self.columns.items() if column.what == "flag"), -1)
        said = row.cells[where] if 0 <= where < len(row.cells) else ""
        tail = row.cells[self.width :]
        beyond = " ".join(tail if self.by_space else filter(_LETTER.search, tail))
        if not _LETTER.search(beyond):
            return self._with_number(said, beyond)
        if not (_LETTER.search(said) or self._meant(beyond)):
            return said
        return f"{said} {beyond}".strip("-() ")

    def _with_number(self, said: str, number: str) -> str:
        """A word with the number behind it, `turn 4`, unless the word alone is a flag and both are none."""
        both = f"{said} {number}".strip()
        return both if _LETTER.search(said) and self._meant(both) == self._meant(said) else said

    def _meant(self, said: str) -> set[Flag]:
        spoken = [said.lower(), *re.findall(r"[^\W\d_]{3,}", said.lower())]
        return {self.words[word] for word in spoken if word in self.words}

    def _say_unknown(self) -> None:
        for said, there in self.unknown.items():
            laps = f"this and {len(there) - 1} more laps are" if there[1:] else "the lap is"
            self._say(
                f'line {there[0]}: "{said}" is no word for a flag, so {laps} not counted as green; tell what '
                f'it means, such as "{said}=green"'
            )

    def _tires(self, row: Row) -> tuple[Reading, ...]:
        found = []
        for where, column in self.columns.items():
            cell = row.cells[where] if where < len(row.cells) else ""
            if column.corner < 0 or cell in ("", "-"):
                continue
            number = cell.replace(",", ".") if self.decimal_comma and cell.count(",") == 1 else cell
            written = number if re.search(r"[A-Za-z\"]\s*$", number) else f"{number} {column.unit}"
            try:
                found.append((column, read_quantity(written, KINDS[column.what]).si))
            except UnitError as problem:
                self._say(f"line {row.line}: {problem}; the lap is kept without it")
        return tuple(found)

    def _set_aside(self, rows: Sequence[Row], why: str) -> None:
        self.aside += [SetAside(row.line, row.text, why) for row in rows]

    def _say(self, note: str) -> None:
        self.notes.append(f"{self.name} {note}.")


def _typed_time(cell: str) -> tuple[float, float | None] | None:
    """A time as typed: its value and the seconds of its unit, None where no unit is given."""
    clock = _CLOCK.fullmatch(cell)
    if clock is not None:
        minutes = 60 * int(clock[1] or 0) + int(clock[2] or clock[4])
        seconds = float((clock[3] or clock[5]).replace(",", "."))
        return (60.0 * minutes + seconds, 1.0) if seconds < 60.0 else None
    plain = _PLAIN.fullmatch(cell)
    if plain is None:
        return None
    unit = plain[2].lower()
    if unit and unit != '"' and unit not in TIME_UNITS:
        return None
    value = float(plain[1].replace(",", ".").replace("\u2212", "-"))
    return (value, TIME_UNITS.get(unit) if unit != '"' else 1.0) if math.isfinite(value) else None


def _is_time(cell: str) -> bool:
    return _typed_time(cell) is not None


def _with_unit(
    typed: tuple[float, float | None] | None, stated: float | None
) -> tuple[float, float | None] | None:
    """A typed time with the unit of its heading where it has none of its own."""
    return typed if typed is None or typed[1] is not None else (typed[0], stated)


def _usual_of(typed: Sequence[tuple[float, float | None]]) -> float | None:
    """The usual lap [s] of times as typed: of those that can be seconds, else of all in the unit, min or ms,
    that makes most of them laps like each other; None when there is none.
    """
    for unit in ("s", "min", "ms"):
        times = [value * (known or TIME_UNITS[unit]) for value, known in typed]
        possible = [time for time in times if POSSIBLE[0] <= time <= POSSIBLE[1]]
        if possible and (unit == "s" or (2 * len(possible) > len(times) > 1)):
            return median(possible)
    return None


def _meant(value: float, usual: float | None) -> str | None:
    """The unit, min or ms, in which a number is a lap like the usual one [s]; None when it is neither."""
    alike = (
        unit for unit in ("min", "ms") if usual and usual / ALIKE < value * TIME_UNITS[unit] < usual * ALIKE
    )
    return next(alike, None)


def _short(cell: str) -> str:
    return cell if len(cell) <= 30 else f"{cell[:27]}..."
