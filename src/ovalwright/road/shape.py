"""The plan of an oval from what its owner-driver knows: two ends, two straights, perhaps a bend in the front.

Each end and the bend gain their curvature over a clothoid, hold it over an arc and lose it over another
clothoid. What closes the lap is solved for: how far each end turns and how long each straight is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import root

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
_CLOSED = 1e-7
_FULL = 2.0 * math.pi


class Run(NamedTuple):
    """A stretch of the plan: length [m] and curvature at its start and end [1/m]."""

    length: float
    start: float
    end: float


class ShapeError(ValueError):
    """A plan that cannot be: `part` of it ("turns", "front", "first", "back", "second") lacks so much [m]."""

    def __init__(self, part: str, lacks: float) -> None:
        super().__init__(f"no lap closes: {part} lacks {lacks:.2f} m")
        self.part, self.lacks = part, lacks


@dataclass(frozen=True)
class Turn:
    """One end: radius [m] at the spine, and the clothoid over which it is gained and lost [m]."""

    radius: float
    turn_in: float

    def runs(self, angle: float) -> tuple[Run, Run, Run]:
        """The end that turns through an angle [rad]."""
        full = 1.0 / self.radius
        arc = self.radius * angle - self.turn_in
        return Run(self.turn_in, 0.0, full), Run(arc, full, full), Run(self.turn_in, full, 0.0)


@dataclass(frozen=True)
class Bend:
    """The front straight turns through `angle` [rad] over `length` [m], or over all of it when None."""

    angle: float
    length: float | None
    turn_in: float

    def runs(self, front: float) -> tuple[Run, ...]:
        """The bend in the middle of a front straight [m]."""
        length = front if self.length is None else self.length
        full = self.angle / (length - self.turn_in)
        arc = length - 2.0 * self.turn_in
        beside = Run(0.5 * (front - length), 0.0, 0.0)
        curved = Run(self.turn_in, 0.0, full), Run(arc, full, full), Run(self.turn_in, full, 0.0)
        return (beside, *curved, beside)


@dataclass(frozen=True)
class Plan:
    """A closed plan that begins where the last end lets go: angles of the ends [rad], straights [m]."""

    ends: tuple[Turn, Turn]
    bend: Bend | None
    angles: tuple[float, float]
    front: float
    back: float

    @property
    def stretches(self) -> tuple[tuple[Run, ...], ...]:
        """Front straight, first end, back straight, second end."""
        front = (Run(self.front, 0.0, 0.0),) if self.bend is None else self.bend.runs(self.front)
        first, second = (end.runs(angle) for end, angle in zip(self.ends, self.angles, strict=True))
        return front, first, (Run(self.back, 0.0, 0.0),), second

    @property
    def runs(self) -> tuple[Run, ...]:
        """All stretches, one after the other."""
        return tuple(run for stretch in self.stretches for run in stretch)


def closed_plan(ends: tuple[Turn, Turn], length: float, bend: Bend | None = None) -> Plan:
    """The plan of a lap of `length` [m] at the spine.

    Raises ShapeError when no such lap closes.
    """
    turned = _FULL - (bend.angle if bend else 0.0)
    around = sum(0.5 * turned * end.radius + end.turn_in for end in ends)
    room = length - around - (bend.length or 0.0 if bend else 0.0)
    guess = np.array([0.5 * turned, 0.5 * (length - around), 0.5 * (length - around)])
    if room <= 0.0:
        raise ShapeError("turns", -room)

    def plan(free: Sequence[float]) -> Plan:
        return Plan(ends, bend, (float(free[0]), float(turned - free[0])), float(free[1]), float(free[2]))

    def misses(free: Sequence[float]) -> list[float]:
        laid = plan(free)
        end = _end_of(laid.runs)
        return [end.real / length, end.imag / length, sum(run.length for run in laid.runs) / length - 1.0]

    with np.errstate(all="ignore"):
        found = root(misses, guess, method="hybr", options={"xtol": 1e-13, "maxfev": 400})
    laid = plan(found.x)
    if not np.max(np.abs(misses(found.x))) * length < _CLOSED:
        raise ShapeError("turns", 0.0)
    for part, stretch in zip(("front", "first", "back", "second"), laid.stretches, strict=True):
        lacks = -min(run.length for run in stretch)
        if lacks > _CLOSED:
            raise ShapeError(part, lacks)
    return laid


def _end_of(runs: Sequence[Run]) -> complex:
    """Where a plan ends, x + iy from its start [m]."""
    way = np.array(runs)
    share = 0.5 * (_NODES + 1.0)
    length, start, gain = way[:, 0], way[:, 1], way[:, 2] - way[:, 1]
    before = np.concatenate(([0.0], np.cumsum(length * (start + 0.5 * gain))[:-1]))
    gone = length[:, None] * share
    heading = before[:, None] + gone * start[:, None] + 0.5 * gone * share * gain[:, None]
    return complex(np.sum(0.5 * length * (np.exp(1j * heading) @ _WEIGHTS)))


def from_distance(runs: Sequence[Run], start: float) -> Iterator[Run]:
    """The same lap, begun `start` [m] later; the run there is cut in two."""
    before: list[Run] = []
    gone = 0.0
    for run in runs:
        cut = start - gone
        gone += run.length
        if cut >= run.length:
            before.append(run)
        elif cut > 0.0:
            at = run.start + (run.end - run.start) * cut / run.length
            before.append(Run(cut, run.start, at))
            yield Run(run.length - cut, at, run.end)
        else:
            yield run
    yield from before
