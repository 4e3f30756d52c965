"""What a chart holds before it is drawn: arrays in the units shown, with their words.

`lap.py` and `run.py` make a `Chart`, `terminal_chart.py` and `vega_chart.py` draw it; neither drawing adds
or leaves out anything that the other shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ovalwright.units import KINDS, System, shown

Floats = NDArray[np.float64]

MOST_NAMES = 6
"""Laps or setups in one picture: more cannot be told apart without color."""


UNSURE = "too close to call"
"""The word of a stretch where neither of two setups can be called the better one."""
SAME = 1e-9
"""Values closer together than this share of their size, or of one, are drawn as one."""


@dataclass(frozen=True)
class Curve:
    """One line of a panel; `of` is its number in the names of the chart, NaN in `y` leaves a gap.

    `low` and `high` are the ends of its 95 % band, or empty.
    """

    of: int
    x: Floats
    y: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Panel:
    """One quantity over the common axis; panels of the same `scale` share their range.

    `share` is the height beside other panels; `from_zero` keeps the zero in sight.
    """

    title: str
    unit: str
    digits: int
    curves: tuple[Curve, ...]
    scale: str
    share: float = 1.0
    from_zero: bool = False

    @property
    def heading(self) -> str:
        """The quantity with its unit."""
        return f"{self.title}, {self.unit}" if self.unit else self.title

    def number(self, value: float) -> str:
        """A value as this panel rounds it."""
        text = f"{value:,.{self.digits}f}"
        return text if text.strip("-0.,") else text.lstrip("-")


@dataclass(frozen=True)
class Piece:
    """A stretch of the common axis and what it is: a section of the track, what rules, yellow laps."""

    start: float
    end: float
    word: str
    shaded: bool = False

    @property
    def middle(self) -> float:
        return 0.5 * (self.start + self.end)


@dataclass(frozen=True)
class Lane:
    """A strip of pieces below the panels."""

    title: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class Mark:
    """Something that happens at one place of the common axis, in words that name the place."""

    of: int
    at: float
    word: str


@dataclass(frozen=True)
class Chart:
    """Panels and lanes over one axis; `names` are the laps or setups, the last the one in question: it is
    drawn solid and on top, those before it in dashes.

    `notes` are sentences below; `whole` keeps the ticks of the axis to whole numbers.
    """

    title: str
    names: tuple[str, ...]
    across: str
    span: tuple[float, float]
    panels: tuple[Panel, ...]
    lanes: tuple[Lane, ...]
    zones: tuple[Piece, ...]
    marks: tuple[Mark, ...]
    notes: tuple[str, ...] = ()
    whole: bool = False

    @property
    def empty(self) -> bool:
        """Whether there is no point at all."""
        return not any(one.x.size for panel in self.panels for one in panel.curves)

    def key(self, of: int) -> str:
        """The letter of one lap or setup where there are several, else nothing."""
        return letter(of) if len(self.names) > 1 else ""

    def rank(self, of: int) -> int:
        """Which of the pens draws a lap or setup: the first for the last of the names, which is on top."""
        return len(self.names) - 1 - of

    def legend(self) -> tuple[str, ...]:
        """The names with their letters."""
        return tuple(f"{self.key(of)}  {name}".strip() for of, name in enumerate(self.names))

    def extent(self, panel: Panel) -> tuple[float, float]:
        """Lowest and highest value of all panels on the scale of this one; 0 and 1 where there is none."""
        found = [
            values[np.isfinite(values)]
            for other in self.panels
            if other.scale == panel.scale
            for curve in other.curves
            for values in (curve.y, curve.low, curve.high)
        ]
        every = np.concatenate([*found, np.zeros(int(panel.from_zero))])
        if every.size == 0:
            return 0.0, 1.0
        low, high = float(every.min()), float(every.max())
        wide = high - low > SAME * max(abs(low), abs(high), 1.0)
        return (low, high) if wide else (low - 0.5, high + 0.5)

    def told(self, panel: Panel) -> str:
        """Lowest and highest value of each curve in words: ``A 71.2 to 93.2``."""
        words = []
        for curve in panel.curves:
            values = curve.y[np.isfinite(curve.y)]
            ends = f"{panel.number(values.min())} to {panel.number(values.max())}" if values.size else "none"
            words.append(f"{self.key(curve.of)} {ends}".strip())
        return "; ".join(words)


def letter(number: int) -> str:
    """A, B, C by number."""
    return chr(ord("A") + number)


def check_names(count: int, what: str) -> None:
    """Raise ValueError when there are more curves than can be told apart."""
    if count > MOST_NAMES:
        raise ValueError(
            f"{count} {what} in one picture cannot be told apart; draw {MOST_NAMES} at the most."
        )


def in_units(si: ArrayLike, kind: str, system: System) -> Floats:
    """SI values as numbers in the unit that the kind is shown in."""
    zero, one = (shown(value, KINDS[kind], system=system) for value in (0.0, 1.0))
    return zero + (one - zero) * np.asarray(si, dtype=np.float64)


def unit_of(kind: str, system: System) -> tuple[str, int]:
    """The unit that a kind is shown in, and its digits after the point."""
    found = KINDS[kind]
    return (found.us, found.us_digits) if system == "us" else (found.si, found.si_digits)


def curve(of: int, x: ArrayLike, y: ArrayLike, low: ArrayLike = (), high: ArrayLike = ()) -> Curve:
    """A curve from any sequences."""
    return Curve(of, *(np.asarray(values, dtype=np.float64) for values in (x, y, low, high)))


def pieces_of(words: Sequence[str], starts: Sequence[float], end: float) -> tuple[Piece, ...]:
    """Neighbors of the same word as one piece; each word holds from its start to the next one."""
    return tuple(_joined(words, starts, end))


def _joined(words: Sequence[str], starts: Sequence[float], end: float) -> Iterator[Piece]:
    first = 0
    for number in range(1, len(words) + 1):
        if number == len(words) or words[number] != words[first]:
            yield Piece(starts[first], end if number == len(words) else starts[number], str(words[first]))
            first = number


def sections_of(
    sections: Sequence[tuple[str, float, float]], length: float, system: System
) -> tuple[Piece, ...]:
    """Sections (name, start, end) [m] of a closed lap as pieces in the units shown, every second one shaded.

    One that runs over the start line becomes two.
    """
    found = []
    for number, (name, start, end) in enumerate(sections):
        ends = ((start, end),) if start < end else ((0.0, end), (start, length))
        found += [
            Piece(float(a), float(b), name, number % 2 == 1)
            for a, b in in_units(ends, "road_length", system)
            if b > a
        ]
    return tuple(sorted(found, key=lambda piece: piece.start))
