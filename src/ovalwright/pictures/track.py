"""The track from above with the driven line, and what sets the speed along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ovalwright.pictures.chart import Floats, in_units, pieces_of, unit_of
from ovalwright.units import System


@dataclass(frozen=True)
class Stretch:
    """A part of the driven line where one thing sets the speed; points (any, 2) in the units shown."""

    points: Floats
    word: str


@dataclass(frozen=True)
class Place:
    """A line across the track with its words: its outer and inner end, and the unit vector inward."""

    ends: Floats
    inward: Floats
    word: str

    @property
    def known(self) -> bool:
        """Whether it can be drawn."""
        return bool(np.isfinite(self.ends).all() and np.isfinite(self.inward).all())


@dataclass(frozen=True)
class TrackMap:
    """What a map shows, in the units shown, turned so that the front straight lies below.

    edges: arrays (any, 2). ahead: unit vector of travel at the start line, (1, 2), or none. start: the start
    line. borders: where sections begin. sections, letters: the middles of sections and stretches.
    """

    title: str
    unit: str
    stretches: tuple[Stretch, ...]
    edges: tuple[Floats, ...]
    ahead: Floats
    start: tuple[Place, ...]
    borders: tuple[Place, ...]
    sections: tuple[Place, ...]
    letters: tuple[Place, ...]

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Lowest and highest x, y of all that is finite."""
        every = np.concatenate([*(one.points for one in self.stretches), *self.edges])
        return np.nanmin(every, axis=0), np.nanmax(every, axis=0)

    @property
    def empty(self) -> bool:
        """Whether there is nothing with an extent to draw."""
        every = [points for one in self.stretches for points in one.points if np.isfinite(points).all()]
        return len(every) < 3 or not np.ptp(every, axis=0).max() > 0.0

    @property
    def words(self) -> tuple[str, ...]:
        """What sets the speed anywhere, each once."""
        return tuple(dict.fromkeys(one.word for one in self.stretches))


def track_map(
    line: ArrayLike,
    distance: ArrayLike,
    length: float,
    rules: Sequence[str],
    *,
    edges: Sequence[ArrayLike] = (),
    sections: Sequence[tuple[str, float, float]] = (),
    system: System = "us",
    title: str = "The track",
) -> TrackMap:
    """A map of a closed driven line.

    line (stations, 2) [m]: x, y; distance (stations,) and length [m] along it from the start line; rules: a
    word per station for what sets the speed. edges: lines (any, 2) [m], closed. sections: (name, start, end)
    [m along the driven line], one may run over the start line. NaN leaves a gap.
    """
    path, along = _pairs(line), np.append(np.asarray(distance, dtype=np.float64), length)
    unit, _ = unit_of("road_length", system)
    turn, hand = _turn(path)
    points, *sides = (
        in_units(_closed(one) @ turn, "road_length", system) for one in (path, *map(_pairs, edges))
    )
    if not len(path):
        return TrackMap(title, unit, (), (), np.zeros((0, 2)), (), (), (), ())
    ahead = _units(np.gradient(np.concatenate([points[-2:-1], points, points[1:2]]), axis=0)[1:-1])
    inward = hand * np.column_stack([-ahead[:, 1], ahead[:, 0]])

    def place(at: float, word: str) -> Place:
        near = int(np.argmin(np.abs(along - at % length)))
        return Place(_across(points[near], inward[near], sides), inward[near], word)

    ruled = pieces_of(rules, list(along[:-1]), length)
    return TrackMap(
        title=title,
        unit=unit,
        stretches=tuple(
            Stretch(points[(along >= piece.start) & (along <= piece.end)], piece.word) for piece in ruled
        ),
        edges=tuple(side for side in sides if len(side)),
        ahead=ahead[:1],
        start=(place(0.0, "start"),),
        borders=tuple(place(start, name) for name, start, _ in sections),
        sections=tuple(
            place(start + 0.5 * ((end - start) % length or length), name) for name, start, end in sections
        ),
        letters=tuple(place(piece.middle, piece.word) for piece in ruled),
    )


def _pairs(points: ArrayLike) -> Floats:
    """Points (any, 2); what is not finite is a gap."""
    pairs = np.array(points, dtype=np.float64).reshape(-1, 2)
    pairs[~np.isfinite(pairs)] = np.nan
    return pairs


def _closed(points: Floats) -> Floats:
    return np.concatenate([points, points[:1]])


def _units(vectors: Floats) -> Floats:
    """Unit vectors; none where a vector has no length."""
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(np.divide(vectors, lengths, out=np.zeros_like(vectors), where=lengths > 0.0))


def _turn(path: Floats) -> tuple[Floats, float]:
    """The matrix that lays the front straight below the rest, and +1 for a left-hand track, else -1."""
    known = path[np.isfinite(path).all(axis=1)]
    if len(known) < 2:
        return np.eye(2), 1.0
    x, y = (known - known.mean(axis=0)).T
    hand = 1.0 if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) >= 0.0 else -1.0
    ahead_x, ahead_y = hand * _units((known[1] - known[0])[None])[0]
    turn = np.array([[ahead_x, -ahead_y], [ahead_y, ahead_x]])
    return (turn if turn.any() else np.eye(2)), hand


def _across(at: Floats, inward: Floats, sides: Sequence[Floats]) -> Floats:
    """Outer and inner end of the line across the track: the point of each edge nearest to a place."""
    ends = [
        side[np.nanargmin(np.linalg.norm(side - at, axis=1))]
        for side in sides
        if np.isfinite(side @ inward).any() and np.isfinite(at).all()
    ]
    ordered = sorted([at, *ends], key=lambda end: float(end @ inward))
    return np.array([ordered[0], ordered[-1]])
