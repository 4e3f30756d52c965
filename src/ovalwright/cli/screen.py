"""How an answer is shown: tables within 80 columns, notes, JSON; what is said once goes to stderr."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from ovalwright import __version__
from ovalwright.corners import CORNERS
from ovalwright.pictures.terminal import car_with_loads
from ovalwright.units import KINDS, System, show

WIDEST = 80
CONVENTIONS = {
    "units": "SI: m, kg, N, N m, rad, s, Pa; percents are fractions of one",
    "order": "four values in a row run LF, RF, LR, RR",
    "axes": "ISO 8855: x forward, y left, z up; a left turn has positive yaw and lateral acceleration",
}


@dataclass
class Screen:
    """One answer on its way to the racer: in US trade units or SI, as tables or as JSON."""

    system: System = "us"
    as_json: bool = False
    _notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.out = Console(highlight=False, soft_wrap=False, emoji=False, markup=False)
        self.out.width = min(self.out.width, WIDEST)
        self.err = Console(stderr=True, highlight=False, emoji=False, markup=False)

    def show(self, si: float, kind: str) -> str:
        """An SI value with its unit, as the trade rounds it; a dash for what is not there."""
        return "-" if not math.isfinite(si) else show(si, kind, system=self.system)

    def band(self, si: float, give_or_take: float, kind: str) -> str:
        """A value with its give-or-take (half of a 95 % band)."""
        if not give_or_take > 0.0:
            return self.show(si, kind)
        number, unit = (
            self.show(si, kind).split(" ", 1) if " " in self.show(si, kind) else (self.show(si, kind), "")
        )
        half = self.show(give_or_take, kind).split(" ", 1)[0]
        return f"{number} +/- {half} {unit}".strip()

    def step(self, si: float, kind: str) -> str:
        """A difference of two values of a kind, with its sign."""
        return plus(show(si, dataclasses.replace(KINDS[kind], span=True), system=self.system))

    def title(self, text: str) -> None:
        """The first line of an answer."""
        if not self.as_json:
            self.out.print(_text(text, "bold"))

    def say(self, text: str = "", *, indent: int = 0) -> None:
        """A sentence, wrapped at the width of the screen."""
        if self.as_json:
            return
        for line in _text(text).wrap(self.out, self.out.width - indent) or [Text()]:
            line.rstrip()
            self.out.print(Text(" " * indent) + line)

    def as_it_is(self, text: str) -> None:
        """A text that may be longer than the screen is wide, such as a file; a file gets it unchanged."""
        if self.as_json:
            return
        if self.out.is_terminal:
            self.out.print(_text(text), soft_wrap=True)
        else:
            print(text, end="" if text.endswith("\n") else "\n")

    def command(self, text: str) -> None:
        """A command to type next, as it works from where he stands; never broken over lines."""
        self.as_it_is(f"  {program()} {text}")

    def table(
        self, rows: Iterable[Sequence[str]], *, head: Sequence[str] = (), left: int = 1, title: str = ""
    ) -> None:
        """Rows of text; the first `left` columns stand left, the rest right."""
        if self.as_json:
            return
        filled = list(rows)
        grid = Table(box=None, show_header=bool(head), pad_edge=False, padding=(0, 2, 0, 0))
        width = max((len(row) for row in filled), default=len(head))
        for number in range(width):
            name = head[number] if number < len(head) else ""
            grid.add_column(
                Text(name),
                justify="left" if number < left else "right",
                header_style="underline",
                overflow="fold",
            )
        for row in filled:
            grid.add_row(*[_text(cell) for cell in row])
        if title:
            self.out.print(_text(title, "bold"))
        self.out.print(grid)

    def car(self, loads: Iterable[float], kind: str, *, most: float = 0.0) -> None:
        """The car from above with its four loads as bars; `most` is the load of the longest bar."""
        four = [float(load) for load in loads]
        words = [f"{corner} {self.show(load, kind)}" for corner, load in zip(CORNERS, four, strict=True)]
        fill = "\u2588" if "utf" in (self.out.encoding or "").lower() else "#"
        for line in car_with_loads(four, words, most=most, fill=fill):
            self.say(line)

    def note(self, text: str) -> None:
        """Something to be said once, below the answer."""
        if text not in self._notes:
            self._notes.append(text)

    def notes(self, texts: Iterable[str]) -> None:
        """Several of them."""
        for text in texts:
            self.note(text)

    def end(self, command: str, answer: Mapping[str, Any] | None = None) -> None:
        """Print the notes, or in JSON the whole answer with its conventions and the notes."""
        if self.as_json:
            told = {"ovalwright": __version__, "command": command, **CONVENTIONS, **(answer or {})}
            print(json.dumps(plain({**told, "notes": self._notes}), indent=1, allow_nan=False))
            return
        if self._notes:
            self.say()
        for text in _merged(self._notes):
            for line in wrap(text, self.out.width - 2):
                self.out.print(_text(f"{'* ' if text.startswith(line) else '  '}{line}"))

    @contextmanager
    def progress(self, what: str) -> Iterator[Callable[[int, int], None]]:
        """A bar on stderr for a study that takes a while, gone when it is done."""
        from rich.progress import BarColumn, Progress, TextColumn

        columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed}/{task.total}"))
        with Progress(*columns, console=self.err, transient=True) as bar:
            task = bar.add_task(what, total=None)

            def tell(done: int, total: int) -> None:
                bar.update(task, completed=done, total=total)

            yield tell


def _text(text: str, style: str = "") -> Text:
    """Text for the screen; what a terminal would take for an order to itself is a blank."""
    return Text("".join(c if c.isprintable() or c in "\n\t" else " " for c in text), style=style)


def program() -> str:
    """How `ovalwright` is called from here: by its name where the shell finds it, else by its path."""
    if shutil.which("ovalwright"):
        return "ovalwright"
    script = Path(sys.executable).with_name("ovalwright.exe" if sys.platform == "win32" else "ovalwright")
    if not script.exists():
        return f"{quoted(Path(sys.executable))} -m ovalwright"
    return quoted(script.relative_to(Path.cwd()) if script.is_relative_to(Path.cwd()) else script)


def plus(text: str) -> str:
    """A shown change with its sign; what rounds to nothing has none."""
    if not any(digit in text.split(" ")[0] for digit in "123456789"):
        return text.lstrip("-") or text
    return text if text.startswith("-") else f"+{text}"


def quoted(path: Path) -> str:
    """A path as it may be pasted into a shell."""
    return f'"{path}"' if " " in str(path) else str(path)


def _merged(notes: Sequence[str]) -> list[str]:
    """The same said of several corners, `LF: ...`, is said once."""
    whose: dict[str, list[str]] = {}
    for text in notes:
        corner, sign, rest = text.partition(": ")
        told, name = (rest, corner) if sign and corner in CORNERS else (text, "")
        whose.setdefault(told, []).append(name)
    return [f"{', '.join(names)}: {told}" if names[0] else told for told, names in whose.items()]


def plain(value: Any) -> Any:
    """Dataclasses, arrays and numbers as JSON knows them; what is not a finite number becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in dataclasses.fields(value)}
    if isinstance(value, np.ndarray):
        return plain(fields(value) if value.dtype.names else value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if hasattr(value, "_asdict"):
        return plain(value._asdict())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(item) for item in value]
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if isinstance(value, (bool, int, str)) or value is None else str(value)


def fields(record: Any) -> Any:
    """A record, or four of them as corners, by the names of its fields."""
    names = record.dtype.names
    if record.shape == ():
        return {name: record[name] for name in names}
    rows = [{name: row[name] for name in names} for row in record]
    return dict(zip(CORNERS, rows, strict=True)) if len(rows) == len(CORNERS) else rows
