"""A lap walked or driven with a phone or logger: places in the order they were read, from CSV or GPX."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ovalwright.documents.pasted import MARKS, Row, decoded, rows_of
from ovalwright.documents.source import DocumentError, read_bytes
from ovalwright.units import KINDS, UnitError, parse

Array = npt.NDArray[np.float64]
What = Literal["latitude", "longitude", "x", "y", "height", "bank", "grade"]

LARGEST_WALK = 40_000_000
MOST_PLACES = 250_000
_HEAD = 40
_MOST_LOST = 0.2
_WORDS: dict[What, tuple[str, ...]] = {
    "latitude": ("lat", "latitude"),
    "longitude": ("lon", "lng", "long", "longitude"),
    "x": ("x", "east", "easting"),
    "y": ("y", "north", "northing"),
    "height": ("z", "height", "altitude", "alt", "ele", "elev", "elevation"),
    "bank": ("bank", "banking", "crossfall"),
    "grade": ("grade", "slope"),
}
_UNITS: dict[What, tuple[str, ...]] = {
    "latitude": ("deg",),
    "longitude": ("deg",),
    "x": ("ft", "m", "in", "km", "mi"),
    "y": ("ft", "m", "in", "km", "mi"),
    "height": ("m", "ft", "in"),
    "bank": ("deg", "rad", "%"),
    "grade": ("%", "deg", "rad"),
}
"""Units a column may say; the first stands in where it says none, except for x and y, which must."""
_KINDS: dict[str, str] = {"%": "slope", "deg": "angle", "rad": "angle"}
_SPELLED = {
    "feet": "ft",
    "foot": "ft",
    "meters": "m",
    "meter": "m",
    "metres": "m",
    "degrees": "deg",
    "°": "deg",
}
_RANGES: dict[What, float] = {"latitude": 90.0, "longitude": 180.0, "bank": 60.0, "grade": 30.0}


@dataclass(frozen=True, eq=False)
class Walk:
    """Places in the order they were read, N of them.

    `on_globe`: `places` (N, 2) are longitude and latitude [deg, WGS 84]; else x and y [m] on a level map.
    `height` [m], `bank` [rad, + outer side up], `grade` [rad, + uphill] are None where
    they were not read. `notes` are sentences about what was set aside.
    """

    name: str
    on_globe: bool
    places: Array
    height: Array | None = None
    bank: Array | None = None
    grade: Array | None = None
    notes: tuple[str, ...] = field(default=())


def load_walk(path: Path | str) -> Walk:
    """Read a walk from a CSV or GPX file. Raises DocumentError, one sentence."""
    path = Path(path)
    text = decoded(read_bytes(path, "a CSV or GPX file", largest=LARGEST_WALK))
    return read_walk(text, name=path.name)


def read_walk(text: str, *, name: str = "the walk") -> Walk:
    """Read a walk from the text of a CSV or GPX file. Raises DocumentError."""
    if text.count("\n") > 2 * MOST_PLACES:
        raise DocumentError(
            f"{name}: holds more than {2 * MOST_PLACES:,} lines; export the laps of one run alone."
        )
    start = text.lstrip("\ufeff \t\r\n")
    return _from_gpx(text, name) if start.startswith("<") else _from_rows(text.removeprefix("\ufeff"), name)


# ---------------- GPX


def _from_gpx(text: str, name: str) -> Walk:
    if re.search(r"<!\s*(?:DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise DocumentError(f"{name}: declares XML entities, no GPX file does; export it again as plain GPX.")
    import gpxpy
    from gpxpy.gpx import GPXException

    try:
        read = gpxpy.parse(text)
    except (GPXException, ValueError, TypeError, AttributeError):
        raise DocumentError(f"{name}: is no GPX file that can be read; export it again as GPX.") from None
    tracked = [point for track in read.tracks for segment in track.segments for point in segment.points]
    points: Sequence[Any] = tracked or [point for route in read.routes for point in route.points]
    rows = [(p.longitude, p.latitude, np.nan if p.elevation is None else p.elevation) for p in points]
    table = np.array(rows)
    return _checked(
        name,
        True,
        table.reshape(-1, 3).astype(float),
        ("longitude", "latitude", "height"),
        lambda at: f"{name} point {at + 1}",
    )


# ---------------- CSV


@dataclass(frozen=True)
class _Column:
    what: What
    number: int
    unit: str


def _from_rows(text: str, name: str) -> Walk:
    head = "\n".join(re.split(r"\r\n|\r|\n", text, maxsplit=_HEAD)[:_HEAD])
    found = [(mark, *_headed(rows_of(head, mark))) for mark in MARKS]
    mark, columns, line = max(found, key=lambda one: len(one[1]))
    on_globe = {"latitude", "longitude"} <= columns.keys()
    if not on_globe and not {"x", "y"} <= columns.keys():
        raise DocumentError(
            f"{name}: no headings say which columns hold the places; write latitude, longitude "
            "or x (ft), y (ft) above them."
        )
    places: tuple[What, What] = ("longitude", "latitude") if on_globe else ("x", "y")
    for what in places:
        if not on_globe and not columns[what].unit:
            raise DocumentError(
                f"{name} line {line}, {what}: says no unit; head it {what} (ft) or {what} (m)."
            )
    others: tuple[What, ...] = ("height", "bank", "grade")
    chosen = [columns[what] for what in (*places, *others) if what in columns]
    rows = [row for row in rows_of(text, mark) if row.line > line]
    comma = mark != ","
    table = np.array([[_number(row, column, comma) for column in chosen] for row in rows], dtype=float)
    table = table.reshape(-1, len(chosen))
    lines = [row.line for row in rows]
    return _checked(
        name,
        on_globe,
        table,
        [column.what for column in chosen],
        lambda at: f"{name} line {lines[at]}",
    )


def _headed(rows: Sequence[Row]) -> tuple[dict[What, _Column], int]:
    """The columns a row of headings names, and its line; units may stand in the row below."""
    for index, row in enumerate(rows):
        columns: dict[What, _Column] = {}
        for number, cell in enumerate(row.cells):
            column = _heading(cell, number)
            if column is not None:
                columns.setdefault(column.what, column)
        if len(columns) >= 2:
            return _with_units_below(columns, row, rows[index + 1 : index + 2])
    return {}, 0


def _heading(cell: str, number: int) -> _Column | None:
    words = [_SPELLED.get(word, word) for word in re.findall(r"[a-z]+|°|%", cell.lower())]
    for what, names in _WORDS.items():
        if words and any(word in names for word in words[:2]):
            unit = next((word for word in words[1:] if word in _UNITS[what]), "")
            return _Column(what, number, unit)
    return None


def _with_units_below(
    columns: Mapping[What, _Column], row: Row, below: Sequence[Row]
) -> tuple[dict[What, _Column], int]:
    units = {}
    for what, column in columns.items():
        cell = below[0].cells[column.number] if below and column.number < len(below[0].cells) else ""
        word = cell.strip("[]() ").lower()
        units[what] = _SPELLED.get(word, word)
    if not any(unit in _UNITS[what] for what, unit in units.items()):
        return dict(columns), row.line
    said = {
        what: units[what] if units[what] in _UNITS[what] else column.unit for what, column in columns.items()
    }
    return {what: _Column(what, columns[what].number, said[what]) for what in columns}, below[0].line


def _number(row: Row, column: _Column, comma: bool) -> float:
    """The cell of a column in SI, latitude and longitude in degrees; NaN where there is no number."""
    cell = row.cells[column.number] if column.number < len(row.cells) else ""
    typed = cell.replace(",", ".") if comma and cell.count(",") == 1 else cell
    unit = column.unit or _UNITS[column.what][0]
    kind, on_globe = KINDS[_KINDS.get(unit, "rise")], column.what in ("latitude", "longitude")
    number = _plain(typed)
    if math.isfinite(number):
        return number if on_globe else kind.in_si(number, unit)
    try:
        value = parse(typed, kind)
    except UnitError:
        return math.nan
    return math.degrees(value) if on_globe else value


def _plain(typed: str) -> float:
    """A number without a unit; NaN where it is none."""
    try:
        return float(typed)
    except ValueError:
        return math.nan


# ---------------- both


def _checked(
    name: str, on_globe: bool, table: Array, whats: Sequence[What], where: Callable[[int], str]
) -> Walk:
    """The walk without the rows that hold no place; a note counts them. `where` names a row."""
    if len(table) > MOST_PLACES:
        raise DocumentError(
            f"{name}: holds {len(table):,} places; export one run, {MOST_PLACES:,} at the most."
        )
    good = np.asarray(np.isfinite(table[:, :2]).all(axis=1))
    if on_globe:
        good &= (np.abs(table[:, :2]) <= [_RANGES[what] for what in whats[:2]]).all(axis=1)
        good &= (table[:, :2] != 0.0).any(axis=1)
    wanted = "latitude and longitude in degrees" if on_globe else "x and y as numbers"
    if not len(table):
        raise DocumentError(f"{name}: holds no places; write {wanted}, a line each.")
    lost, first = int(np.sum(~good)), int(np.argmin(good))
    if lost > _MOST_LOST * len(table):
        raise DocumentError(f"{where(first)}: holds no place, as {lost} of {len(table)} do; write {wanted}.")
    notes = (f"{where(first)}: holds no place and is set aside, one of {lost} such.",) if lost else ()
    held = {what: _read_enough(table[good, 2 + k]) for k, what in enumerate(whats[2:])}
    return Walk(
        name, on_globe, table[good, :2], held.get("height"), held.get("bank"), held.get("grade"), notes
    )


def _read_enough(values: Array) -> Array | None:
    """Readings with single gaps filled from their neighbors; None when less than half of them are there."""
    there = np.isfinite(values)
    if 2 * there.sum() < len(values):
        return None
    count = np.arange(len(values))
    filled: Array = np.interp(count, count[there], values[there])
    return filled
