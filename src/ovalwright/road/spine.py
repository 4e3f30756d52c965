"""The spine of a road from above: its curvature followed around one lap, and what keeps it from closing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ovalwright.road.profile import Array, Profile

_CELL = 2.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


class Plan(NamedTuple):
    """Places from above: x and y [m], heading [rad, + left]; the start is the origin, along x."""

    x: Array
    y: Array
    heading: Array


class Gap(NamedTuple):
    """Where a lap ends, seen from its start: x and y [m], and heading beyond one full turn [rad]."""

    x: float
    y: float
    heading: float

    @property
    def distance(self) -> float:
        """From start to end [m]."""
        return float(np.hypot(self.x, self.y))


@dataclass(frozen=True, eq=False)
class Spine:
    """A level curve of one lap from its curvature [1/m, + left] as a profile that begins at 0."""

    curvature: Profile

    @property
    def length(self) -> float:
        """Length of one lap [m]."""
        return float(self.curvature.x[-1])

    @cached_property
    def cells(self) -> Array:
        """Distances [m] from 0 to the whole lap, close enough to integrate in between."""
        breaks, widths = self.curvature.x, np.diff(self.curvature.x)
        counts = np.maximum(1, np.ceil(widths / _CELL)).astype(int)
        number = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        begins = np.repeat(breaks[:-1], counts) + number * np.repeat(widths / counts, counts)
        return np.append(begins, self.length)

    def at(self, distance: Array) -> Plan:
        """Place and heading at distances [m]; the lap is run through again and again."""
        s = np.mod(np.asarray(distance, float), self.length)
        cell = np.clip(np.searchsorted(self.cells, s, side="right") - 1, 0, len(self.cells) - 2)
        dx, dy = self._run(self.cells[cell], s)
        x, y = self._corners
        return Plan(x[cell] + dx, y[cell] + dy, self._heading_at(s))

    def gap(self, hand: int) -> Gap:
        """What the lap misses its start by, when it should turn once to the left (1) or right (-1)."""
        x, y = self._corners
        turned = float(self._heading_at(np.array([self.length]))[0])
        return Gap(float(x[-1]), float(y[-1]), turned - 2.0 * np.pi * hand)

    @cached_property
    def _corners(self) -> tuple[Array, Array]:
        dx, dy = self._run(self.cells[:-1], self.cells[1:])
        return np.concatenate(([0.0], np.cumsum(dx))), np.concatenate(([0.0], np.cumsum(dy)))

    @cached_property
    def _heading(self) -> Profile:
        return self.curvature.antiderivative()

    def _heading_at(self, s: Array) -> Array:
        heading: Array = self._heading(np.clip(s, 0.0, self.length))
        return heading

    def _run(self, a: Array, b: Array) -> tuple[Array, Array]:
        """What x and y gain from a to b [m], by Gauss-Legendre on each span."""
        half = 0.5 * (b - a)
        heading = self._heading_at((a + half)[..., None] + half[..., None] * _NODES)
        return half * (np.cos(heading) @ _WEIGHTS), half * (np.sin(heading) @ _WEIGHTS)
