"""Rows of cells from a CSV file or a pasted table, whatever parts its fields."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass

from ovalwright.documents.source import DocumentError

MARKS = ("\t", ";", "|", ",", "")
"""What may part the fields, tried in this order; nothing is white space."""
_WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_TIME_UNIT = re.compile(r"(?<=\d)\s+(?=(?:s|secs?|seconds?|mins?|minutes?|ms)\b)", re.IGNORECASE)
_LAP_WORD = re.compile(r"^\s*lap\s+(?=\d)", re.IGNORECASE)


@dataclass(frozen=True)
class Row:
    """One line: its number in the text, the text as typed, and its cells without white space around them."""

    line: int
    text: str
    cells: tuple[str, ...]


def decoded(raw: bytes) -> str:
    """Text as spreadsheets save it: UTF-8 or UTF-16, with or without a mark, else Windows-1252."""
    if raw.startswith(_WIDE):
        return raw.decode("utf-16", errors="replace")
    for coding, high in (("utf-16-le", raw[1::2]), ("utf-16-be", raw[::2])):
        if 2 * high.count(0) > len(high):
            return raw.decode(coding, errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def text_in(raw: bytes, name: str) -> str:
    """The text of a file. Raises DocumentError for what is none, such as a picture."""
    text = decoded(raw)
    if any(ord(sign) < 32 and sign not in "\t\n\v\f\r" for sign in text):
        raise DocumentError(f"{name}: is no text; name a lap list saved as CSV or text, a line a lap.")
    return text


def rows_of(text: str, mark: str) -> tuple[Row, ...]:
    """The lines of a text that are not blank, parted by one of MARKS."""
    lines = re.split(r"\r\n|\r|\n", text)
    parted = _by_space(lines) if not mark else _by_mark(lines, mark)
    return tuple(
        Row(at + 1, "\n".join(lines[at:end]), cells) for at, end, cells in parted if any(filter(None, cells))
    )


def _by_space(lines: list[str]) -> Iterator[tuple[int, int, tuple[str, ...]]]:
    for at, line in enumerate(lines):
        joined = _TIME_UNIT.sub("", _LAP_WORD.sub("", line))
        yield at, at + 1, tuple(cell.strip('"') for cell in joined.split())


def _by_mark(lines: list[str], mark: str) -> Iterator[tuple[int, int, tuple[str, ...]]]:
    """Cells by the rules of CSV; where the quotes do not close (an inch mark), quotes are plain signs."""
    for quoting in (csv.QUOTE_MINIMAL, csv.QUOTE_NONE):
        reader = csv.reader([f"{line}\n" for line in lines], delimiter=mark, quoting=quoting, strict=True)
        found, end = [], 0
        try:
            for cells in reader:
                found.append((end, reader.line_num, tuple(" ".join(cell.split()) for cell in cells)))
                end = reader.line_num
        except csv.Error:
            continue
        yield from found
        return
