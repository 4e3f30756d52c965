"""Which column of a lap list holds what: by its heading, or by what stands in it where there is none."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from ovalwright.corners import CORNERS

What = Literal["lap", "time", "flag", "temperature", "pressure", "roll_out"]

PARTS = ("inside", "middle", "outside")
"""Thirds of a tread; inside is toward the infield on every tire."""
TIME_UNITS = {
    "s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0,
    "min": 60.0, "mins": 60.0, "minute": 60.0, "minutes": 60.0, "ms": 0.001,
}  # fmt: skip
_LAP = {"lap", "laps", "#", "no", "nr", "number", "lapno"}
_TIME = {"time", "times", "laptime", "laptimes"}
_NOT_LAP_TIME = {"total", "elapsed", "day", "clock", "gap", "behind", "session", "diff", "best"}
_FLAG = {"flag", "flags", "status", "condition", "conditions", "state"}
_ROLL_OUT = {"roll", "rollout", "rollouts", "circumference", "size"}
_PRESSURE = {"pressure", "pressures", "air", "psi", "kpa", "bar"}
_PART = {
    "inside": 0, "in": 0, "i": 0, "inner": 0, "middle": 1, "mid": 1, "m": 1, "center": 1,
    "outside": 2, "out": 2, "o": 2, "outer": 2,
}  # fmt: skip
_TEMPERATURE = {"temp", "temps", "temperature", "temperatures", "f", "c", "°f", "°c"}
_UNITS = {
    "pressure": {"psi": "psi", "kpa": "kPa", "bar": "bar"},
    "roll_out": {"in": "in", "inch": "in", "inches": "in", "mm": "mm", "cm": "cm", "m": "m"},
    "temperature": {"f": "F", "°f": "F", "c": "C", "°c": "C"},
}
_DEFAULT = {"pressure": "psi", "roll_out": "in", "temperature": "F"}


@dataclass(frozen=True)
class Column:
    """What a column holds; corner of LF RF LR RR and third of the tread where it is of a tire, and the unit
    of cells that have none of their own (nothing where a time's unit is not stated).
    """

    what: What
    corner: int = -1
    part: int = -1
    unit: str = ""


Columns = dict[int, Column]


def headed(cells: Sequence[str]) -> Columns | None:
    """Columns of a row of headings; None when the row is none."""
    found: Columns = {}
    for number, cell in enumerate(cells):
        column = column_called(cell)
        if column is not None and (column.corner >= 0 or column.what not in _whats(found)):
            found[number] = column
    named = {"time", "lap"} & _whats(found)
    return found if named and not any(re.match(r"\W*\d", cell) for cell in cells) else None


def guessed(rows: Sequence[Sequence[str]], is_time: Callable[[str], bool]) -> Columns:
    """Columns of rows without headings: whole numbers first are laps, then times, then words are flags."""
    columns = _turned(rows)
    timed = [k for k, column in enumerate(columns) if _mostly(column, is_time)]
    found: Columns = {}
    if len(timed) > 1 and timed[0] == 0 and _mostly(columns[0], lambda cell: lap_number(cell) is not None):
        found[0] = Column("lap")
        timed = timed[1:]
    if timed:
        found[timed[0]] = Column("time")
        worded = [k for k, column in enumerate(columns) if _is_worded(column, len(rows))]
        if worded:
            found[worded[0]] = Column("flag")
    return found


def _is_worded(column: Sequence[str], rows: int) -> bool:
    """Whether words stand there; with numbers among them, at some rows alone: names stand at all of them."""
    if _mostly(column, lambda cell: not re.search(r"\d", cell)):
        return True
    return 2 * len(column) < rows and _mostly(column, _is_word)


def unclear(rows: Sequence[Sequence[str]], found: Columns, is_time: Callable[[str], bool]) -> tuple[str, ...]:
    """The unknown headings of all columns that may be the lap time, where there is more than one."""
    columns = _turned(rows)
    may_be = [
        k
        for k, column in enumerate(columns)
        if _mostly(column, is_time) and found.get(k, Column("time")).what == "time"
    ]
    head = next((row for row in rows if len(row) == len(columns) and all(map(_is_word, row))), None)
    return tuple(head[k] for k in may_be) if head and len(may_be) > 1 else ()


def _is_word(cell: str) -> bool:
    return re.match(r"\W*[^\W\d]", cell) is not None


def _turned(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """The cells of each column that are not empty."""
    width = max((len(row) for row in rows), default=0)
    return [[row[k] for row in rows if k < len(row) and row[k]] for k in range(width)]


def lap_number(cell: str) -> int | None:
    """The number of a lap as typed (`7`, `7.`, `lap 7:`); None when it is none."""
    match = re.fullmatch(r"(?:lap\s*)?#?(\d{1,4})(?:\.0*)?[.:)]?", cell.strip(), re.IGNORECASE)
    return int(match[1]) if match else None


def _mostly(cells: Sequence[str], holds: Callable[[str], bool]) -> bool:
    return 2 * sum(map(holds, cells)) > len(cells)


def _whats(columns: Columns) -> set[str]:
    return {column.what for column in columns.values()}


def column_called(cell: str) -> Column | None:
    """What a column with this heading holds, such as `lap time (min)` or `RF inside F`; None when unknown."""
    words = re.findall(r"°?[a-z]+|#", cell.lower().replace("roll-out", "rollout").replace("mid-", "mid "))
    tire = _tire(words)
    if tire is not None:
        return tire
    said = set(words)
    if not said.isdisjoint(_NOT_LAP_TIME):
        return None
    unit = next((word for word in words if word in TIME_UNITS), "")
    if not said.isdisjoint(_TIME) or (unit and said <= {unit, "lap"}):
        return Column("time", unit=unit)
    if not said.isdisjoint(_FLAG):
        return Column("flag")
    return Column("lap") if not said.isdisjoint(_LAP) else None


def _tire(words: Sequence[str]) -> Column | None:
    """A column of a tire: its corner, and the pressure, the roll-out or a temperature."""
    joined = " ".join(words).upper()
    for side in ("LEFT", "RIGHT"):
        for end in ("FRONT", "REAR"):
            joined = re.sub(rf"{side} {end}|{end} {side}", f"{side[0]}{end[0]}", joined)
    left = joined.lower().split()
    corner = next((CORNERS.index(word.upper()) for word in left if word.upper() in CORNERS), -1)
    rest = [word for word in left if word.upper() not in CORNERS]
    if corner < 0:
        return None
    what: Literal["temperature", "pressure", "roll_out"] | None = None
    if not _ROLL_OUT.isdisjoint(rest):
        what = "roll_out"
    elif not _PRESSURE.isdisjoint(rest):
        what = "pressure"
    elif not (_TEMPERATURE | set(_PART)).isdisjoint(rest):
        what = "temperature"
    if what is None:
        return None
    unit = next((_UNITS[what][word] for word in rest if word in _UNITS[what]), _DEFAULT[what])
    part = next((_PART[word] for word in rest if word in _PART), 1) if what == "temperature" else -1
    return Column(what, corner, part, unit)
