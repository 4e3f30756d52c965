"""Sheets for the trailer as PDF or PNG, from files or from the notebook: sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.sheet_source import source
from ovalwright.cli.typed import quantity
from ovalwright.sheets import PAPERS, SHEETS, Leaf, NoSheet, Paper, asked, image, render
from ovalwright.sheets.asked import TAKEN_BY, fuel_line, leaf_of, schedule_line

DOTS = 144.0
"""Dots per inch of a PNG."""

T = TypeVar("T")


@dataclass(frozen=True)
class Wish:
    """What was asked for besides the sheet itself, as typed; each sheet takes what it can print."""

    which: tuple[str, ...] = ()
    rules: Path | None = None
    cross: str = ""
    event: str = ""
    lines: tuple[str, ...] = ()
    fuel: tuple[str, ...] = ()
    note: str = ""


def sheet(screen: Screen, kind: str, wish: Wish, *, to: Path, paper: str, where: str) -> None:
    """Make one sheet and write it."""
    if kind not in SHEETS:
        raise Trouble(f'"{kind[:30]}" is no sheet; write one of {", ".join(SHEETS)}')
    if paper not in PAPERS:
        raise Trouble(f'--paper: "{paper[:20]}" is none; write {" or ".join(PAPERS)}')
    if to.suffix.lower() not in (".pdf", ".png"):
        raise Trouble(f"--to: {to} names no PDF or PNG; end it with .pdf or .png")
    _refuse_spare(kind, wish)
    with source(screen, where) as found, said_by(ValueError):
        leaf = leaf_of(kind, found, _read(wish))
    written = _written(leaf, to, paper)
    code = f", code {leaf.stamp.code}" if leaf.stamp.code else ""
    screen.say(f"Written: {', '.join(quoted(path) for path in written)}{code}.")
    answer = {"sheet": kind, "stamp": leaf.stamp, "paper": paper, "written": [str(path) for path in written]}
    screen.end("sheet", answer)


def _refuse_spare(kind: str, wish: Wish) -> None:
    """Raises Trouble for an option that the sheet has no room for, so that none is passed over."""
    for name, kinds in TAKEN_BY.items():
        if getattr(wish, name) and kind not in kinds:
            raise Trouble(f"--{_OPTIONS.get(name, name)} is for the sheet {' or '.join(kinds)}; leave it out")


_OPTIONS = {"lines": "line"}


def _read(wish: Wish) -> asked.Wish:
    """The same, read. Raises Trouble."""
    return asked.Wish(
        which=wish.which,
        rules=str(wish.rules or ""),
        cross=quantity(wish.cross, "share", "--cross") if wish.cross else None,
        event=wish.event,
        lines=_each(schedule_line, wish.lines, "--line"),
        fuel=_each(fuel_line, wish.fuel, "--fuel"),
        note=wish.note,
    )


def _each(read: Callable[[str], T], texts: Sequence[str], option: str) -> tuple[T, ...]:
    try:
        return tuple(read(text) for text in texts)
    except NoSheet as problem:
        raise Trouble(f"{option}: {problem}") from None


def _written(leaf: Leaf, to: Path, paper: Paper) -> list[Path]:
    """The file of a leaf, or one for each of its pages as pictures."""
    with said_by(ValueError):
        if to.suffix.lower() == ".pdf":
            pages: tuple[bytes, ...] = (render(leaf, paper=paper),)
        else:
            pages = image(leaf, paper=paper, dots=DOTS)
    paths = [
        to if number == 1 else to.with_stem(f"{to.stem}-{number}") for number in range(1, len(pages) + 1)
    ]
    for path, page in zip(paths, pages, strict=True):
        path.write_bytes(page)
    return paths
