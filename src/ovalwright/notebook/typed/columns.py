"""Laps from a timing export whose columns were told once: `"Zeit" is time, "Rd" is lap, "Nr" is car`.

An export is known again by the fingerprint of its headings, so that nothing is asked twice. Of a list with
several cars one is chosen. Either the laps come, with every line that is none named, or one sentence.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from ovalwright.corners import CORNERS
from ovalwright.documents import DocumentError, LapList, read_laps
from ovalwright.documents.headings import PARTS, Column, column_called
from ovalwright.documents.laps import COMMENT, HEADINGS_WITHIN, Layout
from ovalwright.documents.pasted import MARKS, Row, rows_of, text_in

CAR, NOTHING = "car", "nothing"
LARGEST = 8_000_000
"""Bytes or characters of a list; an export of a whole evening is smaller."""
SHOWN = 12
"""Headings or cars that are listed in a sentence."""
WHAT = 'write such as "Zeit" is time, "Rd" is lap, "Nr" is car'
_TOLD = re.compile(r'\s*(?:"((?:[^"]|"")+)"|([^",;\n]+?))\s+is\s+([^",;\n]+?)\s*(?:[,;\n]|$)')


@dataclass(frozen=True)
class ColumnMap:
    """What the columns with some headings hold: `time`, `lap (...)`, `flag`, `RF inside F`, `LR psi`, `car`,
    or `nothing`; every other column holds nothing.
    """

    columns: tuple[tuple[str, str], ...]

    def __str__(self) -> str:
        """As it was told, and as it is remembered."""
        told = ((heading.replace('"', '""'), what) for heading, what in self.columns)
        return ", ".join(f'"{heading}" is {what}' for heading, what in told)


def read_map(text: str) -> ColumnMap:
    """A map as it is told: `"Zeit" is time, "Rd" is lap`. Raises DocumentError, one sentence."""
    found, end = [], 0
    while match := _TOLD.match(text, end):
        heading = (match[1] or match[2]).replace('""', '"')
        found.append((" ".join(heading.split()), " ".join(match[3].split())))
        end = match.end()
        if end == len(text):
            break
    if not found or text[end:].strip():
        rest = " ".join(text[end:].split())
        raise DocumentError(f'"{_short(rest)}" does not say what a column holds; {WHAT}.')
    return checked(ColumnMap(tuple(found)))


def checked(told: ColumnMap) -> ColumnMap:
    """The map, if laps can be read by it. Raises DocumentError, one sentence."""
    kinds = [_kind(heading, what) for heading, what in told.columns]
    keys = [_key(heading) for heading, _ in told.columns]
    for heading, _ in told.columns:
        if keys.count(_key(heading)) > 1:
            raise DocumentError(f'the column "{_short(heading)}" is told twice; say once what it holds.')
    for kind in ("time", "lap", "flag", CAR):
        if kinds.count(kind) > 1:
            raise DocumentError(f"two columns are told to be the {kind}; name one of them.")
    if "time" not in kinds:
        raise DocumentError(f"no column is told to be the time; {WHAT}.")
    return told


def _kind(heading: str, what: str) -> str:
    """The kind of what a column holds. Raises DocumentError for what no lap has."""
    if what.lower() in (CAR, NOTHING):
        return what.lower()
    column = column_called(what)
    if column is None:
        raise DocumentError(
            f'"{_short(heading)}" is {_short(what)}: no lap has that; write time, lap, flag, car, nothing, '
            "or of a tire such as RF inside F, LR psi, RR roll-out in."
        )
    return column.what


def headings_of(text: str | bytes) -> tuple[str, ...]:
    """The headings of a list, as far as they can be told from its rows; empty when it has none."""
    table = _headed(_text(text, "the lap list"))
    return table.head.cells if table else ()


def fingerprint(headings: Sequence[str]) -> str:
    """What a kind of export is known by again: 16 hex of SHA-256 over its headings in any order and case."""
    keys = sorted(_key(heading) for heading in headings)
    return hashlib.sha256("\x1f".join(keys).encode()).hexdigest()[:16]


def proposed(headings: Sequence[str], told: Mapping[str, str] | None = None) -> tuple[tuple[str, str], ...]:
    """Each heading with what it was `told` to hold, else with what it seems to: for him to correct.

    `nothing` where a heading says nothing known, or what another one holds already.
    """
    known = {_key(heading): what for heading, what in (told or {}).items()}
    taken = [column_called(what) or what for what in known.values()]
    found: list[tuple[str, str]] = []
    for heading in headings:
        what = known.get(_key(heading)) or _seems(heading)
        column = column_called(what) or what
        if _key(heading) not in known and any(_same(column, other) for other in taken):
            what = NOTHING
        taken.append(column)
        found.append((heading, what))
    return tuple(found)


def _same(one: Column | str, other: Column | str) -> bool:
    """Whether two columns hold the same, whatever their units."""
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    return (one.what, one.corner, one.part) == (other.what, other.corner, other.part)


def _seems(heading: str) -> str:
    column = column_called(heading)
    if re.search(r"\bcar\b", heading.lower()):
        return CAR
    return what_said(column) if column else NOTHING


def what_said(column: Column) -> str:
    """What a column holds, as it is told."""
    if column.corner < 0:
        return f"{column.what} {column.unit}".strip()
    part = f"{PARTS[column.part]} " if column.part >= 0 else ""
    roll_out = "roll-out " if column.what == "roll_out" else ""
    return f"{CORNERS[column.corner]} {part}{roll_out}{column.unit}"


def mapped(
    text: str | bytes,
    told: ColumnMap,
    *,
    car: str = "",
    name: str = "the lap list",
    words: Mapping[str, str] | None = None,
) -> LapList:
    """The laps of a list by its columns as told, of one `car` where it holds several.

    `words` are as in `read_laps`. Raises DocumentError, one sentence; nothing is half taken.
    """
    typed = _text(text, name)
    table = _told(typed, checked(told), name)
    chosen = _chosen(table, car, name)
    where = table.where(CAR)

    def counts(row: Row) -> bool:
        return where is None or _car(row, where) == chosen

    layout = Layout(table.mark, table.head.line, table.columns(), counts)
    laps = read_laps(typed, name=name, words=words, layout=layout)
    others = sum(not counts(row) for row in table.rows)
    notes = [f"{name}: {others} lines are of other cars than {chosen}."] if others else []
    twice = [heading for heading, _ in told.columns if table.keys().count(_key(heading)) > 1]
    notes += [f'{name}: two columns are headed "{_short(heading)}"; the first is read.' for heading in twice]
    return replace(laps, notes=(*laps.notes, *notes))


# ---------------- finding the headings


class _Table(NamedTuple):
    """The rows of a list below its headings, and what was told of them."""

    mark: str
    head: Row
    rows: tuple[Row, ...]
    told: ColumnMap

    def keys(self) -> list[str]:
        return [_key(cell) for cell in self.head.cells]

    def where(self, what: str) -> int | None:
        """The column that is `what`, None when none was told to be."""
        held = next((heading for heading, told in self.told.columns if told.lower() == what), None)
        return None if held is None else self.keys().index(_key(held))

    def columns(self) -> dict[int, Column]:
        """What the columns hold, but for the car."""
        keys = self.keys()
        held = ((keys.index(_key(heading)), column_called(what)) for heading, what in self.told.columns)
        return {where: column for where, column in held if column is not None}


def _told(text: str, told: ColumnMap, name: str) -> _Table:
    """The list with the headings that were told. Raises DocumentError where one is missing."""
    wanted = {_key(heading): heading for heading, _ in told.columns}
    best: list[str] = list(wanted)
    for mark, rows in _parted(text):
        for at, row in enumerate(rows[:HEADINGS_WITHIN]):
            missing = [key for key in wanted if key not in map(_key, row.cells)]
            if not missing:
                return _Table(mark, row, rows[at + 1 :], told)
            best = min(best, missing, key=len)
    there = headings_of(text)
    listed = ", ".join(f'"{_short(cell)}"' for cell in there[:SHOWN]) or "none that can be told"
    raise DocumentError(
        f'{name}: no column is headed "{_short(wanted[best[0]])}"; it has {listed}; tell what those hold.'
    )


def _headed(text: str) -> _Table | None:
    """The list with the row that looks most like headings: words, each once, above a row as wide."""
    best: tuple[int, _Table] | None = None
    for mark, rows in _parted(text):
        for at, row in enumerate(rows[:HEADINGS_WITHIN]):
            worded = [cell for cell in row.cells if re.match(r"\W*[^\W\d]", cell) or cell in ("#", "")]
            alike = at + 1 < len(rows) and len(rows[at + 1].cells) == len(row.cells)
            if len(worded) < len(row.cells) or not any(row.cells) or not alike:
                continue
            score = len(set(row.cells)) if mark else 1
            if best is None or score > best[0]:
                best = (score, _Table(mark, row, rows[at + 1 :], ColumnMap(())))
    return best[1] if best else None


def _parted(text: str) -> list[tuple[str, tuple[Row, ...]]]:
    """The rows of a text for every mark that may part it, comments left out."""
    plain = text.removeprefix("\ufeff")
    return [
        (mark, tuple(row for row in rows_of(plain, mark) if not row.text.startswith(COMMENT)))
        for mark in MARKS
    ]


# ---------------- one car of several


def _cars(table: _Table) -> Counter[str]:
    where = table.where(CAR)
    return Counter() if where is None else Counter(filter(None, (_car(row, where) for row in table.rows)))


def _chosen(table: _Table, car: str, name: str) -> str:
    """The car whose lines count; the only one where none is named. Raises DocumentError."""
    there = _cars(table)
    wanted = _number(car)
    listed = ", ".join(_short(one) for one in list(there)[:SHOWN]) + (", ..." if len(there) > SHOWN else "")
    if wanted and table.where(CAR) is None:
        raise DocumentError(f'{name}: no column is told to be the car; write such as "Nr" is car.')
    if wanted and wanted not in there:
        raise DocumentError(f"{name}: has no line of car {_short(car)}; it has {listed or 'no cars'}.")
    if not wanted and len(there) > 1:
        raise DocumentError(f"{name}: holds laps of {len(there)} cars ({listed}); say which one is yours.")
    return wanted or next(iter(there), "")


def _car(row: Row, where: int) -> str:
    return _number(row.cells[where]) if where < len(row.cells) else ""


def _number(typed: str) -> str:
    """A car's number as it is compared: 07 is another car than 7, #7 is not."""
    return typed.strip().lstrip("#").strip().casefold()


def _text(text: str | bytes, name: str) -> str:
    if len(text) > LARGEST:
        raise DocumentError(
            f"{name}: is larger than {LARGEST // 1_000_000} MB; choose the list of one evening."
        )
    return text_in(text, name) if isinstance(text, bytes) else text


def _key(heading: str) -> str:
    return " ".join(heading.split()).casefold()


def _short(text: str) -> str:
    return text if len(text) <= 30 else f"{text[:27]}..."
