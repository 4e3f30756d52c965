"""Tables as CSV text (RFC 4180) with typed columns, out and in again exactly as they were.

A cell of words that a spreadsheet would take for a formula is written with an apostrophe before it, which is
taken off again when it is read.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ovalwright.notebook.trouble import NotebookTrouble

LONGEST_CELL = 600_000
"""Letters in one cell; a whole document may stand in one."""
_FORMULA = re.compile(r"[\s']*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")

Row = dict[str, Any]


@dataclass(frozen=True)
class Column:
    """A column: its name, how a value is written, how a cell is read, and what belongs in it.

    `read` raises ValueError for a cell that does not belong.
    """

    name: str
    write: Callable[[Any], str]
    read: Callable[[str], Any]
    holds: str
    may_be_empty: bool = False


def text(name: str, longest: int = LONGEST_CELL) -> Column:
    """A column of words of at most `longest` letters; line ends and tabs may stand in them."""

    def read(cell: str) -> str:
        words = unguarded(cell)
        if len(words) > longest or plain(words) != words:
            raise ValueError(cell)
        return words

    return Column(name, guarded, read, f"text of at most {longest} letters")


def like(name: str, pattern: str, holds: str) -> Column:
    """A column of names of one form."""
    form = re.compile(pattern)

    def read(cell: str) -> str:
        if not form.fullmatch(cell):
            raise ValueError(cell)
        return cell

    return Column(name, str, read, holds)


def number(name: str) -> Column:
    """A column of finite numbers, each written with all its digits."""
    return Column(name, _number_out, _number_in, "a number such as 15.48")


def whole(name: str) -> Column:
    """A column of counts: whole numbers of at most nine digits."""
    return Column(name, str, _whole_in, "a whole number such as 12")


def yes_no(name: str) -> Column:
    """A column of yes or no."""
    return Column(name, lambda value: "yes" if value else "no", _yes_no_in, "yes or no")


def day(name: str) -> Column:
    """A column of dates, ISO 8601."""
    return Column(name, dt.date.isoformat, _day_in, "a date such as 2026-05-09")


def clock(name: str) -> Column:
    """A column of dates with the time on the wall, of no zone, ISO 8601."""
    return Column(name, dt.datetime.isoformat, _clock_in, "a time such as 2026-05-09T19:30:00")


def moment(name: str) -> Column:
    """A column of moments with their zone, written in UTC, ISO 8601."""
    return Column(name, _moment_out, _moment_in, "a moment such as 2026-05-09T23:30:00+00:00")


def one_of(name: str, *words: str) -> Column:
    """A column that holds one of some words."""

    def read(cell: str) -> str:
        if cell not in words:
            raise ValueError(cell)
        return cell

    return Column(name, str, read, ", ".join(word or "nothing" for word in words))


def maybe(column: Column) -> Column:
    """The same column, but a cell may be empty: no value."""
    return Column(
        column.name,
        lambda value: "" if value is None else column.write(value),
        lambda cell: None if cell == "" else column.read(cell),
        f"{column.holds} or nothing",
        may_be_empty=True,
    )


def write_table(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> str:
    """Rows as CSV text: headings first, commas, CRLF line ends, quotes where they are needed."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    pairs = [(column.name, column.write) for column in columns]
    writer.writerows([write(row[name]) for name, write in pairs] for row in rows)
    return out.getvalue()


def read_table(written: str, columns: Sequence[Column], *, name: str = "table.csv") -> list[Row]:
    """The rows of a CSV text with exactly these columns, in any order; empty lines do not count.

    Raises NotebookTrouble, one sentence with table, line and column.
    """
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.reader(io.StringIO(written.removeprefix("\ufeff"), newline=""), strict=True)
    order: list[Column] | None = None
    rows: list[Row] = []
    line = 1
    try:
        for cells in reader:
            if order is None:
                order = _ordered(cells, columns, f"{name} line {line}")
            elif cells:
                rows.append(_row(cells, order, f"{name} line {line}"))
            line = reader.line_num + 1
    except csv.Error:
        raise NotebookTrouble(
            f"{name} line {line}: a quote is not closed or not doubled; close every quote, and double a "
            "quote inside a cell."
        ) from None
    if order is None:
        raise NotebookTrouble(f"{name}: is empty; its first line names its columns.")
    return rows


def plain(words: str) -> str:
    """Words without control characters; line ends and tabs stay."""
    if words.isprintable():
        return words
    return "".join(c for c in words if unicodedata.category(c) not in ("Cc", "Cs") or c in "\r\n\t")


def guarded(words: str) -> str:
    """A cell of words that no spreadsheet takes for a formula."""
    return f"'{words}" if _FORMULA.match(words) and not _NUMBER.fullmatch(words) else words


def unguarded(cell: str) -> str:
    """The words of a cell as they were before they were guarded."""
    return cell[1:] if cell[:1] == "'" and _FORMULA.match(cell, 1) else cell


def _ordered(cells: Sequence[str], columns: Sequence[Column], at: str) -> list[Column]:
    """The columns in the order of the headings."""
    known = {column.name: column for column in columns}
    faults = [f"the column {cell[:40]!r} does not belong" for cell in cells if cell not in known]
    faults += [f"the column {name} is there twice" for name in known if cells.count(name) > 1]
    faults += [f"the column {name} is missing" for name in known if name not in cells]
    if faults:
        raise NotebookTrouble(f"{at}: {faults[0]}; its columns are {', '.join(known)}.")
    return [known[cell] for cell in cells]


def _row(cells: Sequence[str], order: Sequence[Column], at: str) -> Row:
    if len(cells) != len(order):
        raise NotebookTrouble(f"{at}: has {len(cells)} cells; the table has {len(order)} columns.")
    row: Row = {}
    for column, cell in zip(order, cells, strict=True):
        try:
            row[column.name] = column.read(cell)
        except ValueError:
            raise NotebookTrouble(
                f"{at}, column {column.name}: holds {cell[:40]!r}; {column.holds} belongs there."
            ) from None
    return row


def _number_out(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError(f"{value} is no number to keep")
    return repr(float(value))


def _number_in(cell: str) -> float:
    if not _NUMBER.fullmatch(cell) or not math.isfinite(value := float(cell)):
        raise ValueError(cell)
    return value


def _whole_in(cell: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", cell):
        raise ValueError(cell)
    return int(cell)


def _yes_no_in(cell: str) -> bool:
    if cell not in ("yes", "no"):
        raise ValueError(cell)
    return cell == "yes"


def _day_in(cell: str) -> dt.date:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", cell):
        raise ValueError(cell)
    return dt.date.fromisoformat(cell)


def _clock_in(cell: str) -> dt.datetime:
    value = dt.datetime.fromisoformat(cell)
    if value.tzinfo is not None or len(cell) < 16:
        raise ValueError(cell)
    return value


def _moment_out(value: dt.datetime) -> str:
    return value.astimezone(dt.UTC).isoformat()


def _moment_in(cell: str) -> dt.datetime:
    value = dt.datetime.fromisoformat(cell)
    if value.tzinfo is None:
        raise ValueError(cell)
    try:
        return value.astimezone(dt.UTC)
    except OverflowError:
        raise ValueError(cell) from None
