"""A closed banked ribbon of road: its spine in plan, its bank, height and width along the lap."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.road.line import Line, lay_line
from ovalwright.road.profile import Array, Given, Profile, profile_of

_CELL = 2.0
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
_CLOSED = 0.01
"""A lap that misses its start by more than this [m] is no loop."""
_TIGHTEST = 0.05
"""Least share of the spine's length that an edge of the road may have beside it."""


class Section(NamedTuple):
    """A named stretch of the lap [m along the spine]; one that ends before it starts runs over the line."""

    name: str
    start: float
    end: float

    def holds(self, spine: Array) -> npt.NDArray[np.bool_]:
        """Whether distances along the spine in [0, length) lie in this stretch."""
        over_the_line = self.end <= self.start
        after, before = spine >= self.start, spine < self.end
        return after | before if over_the_line else after & before


class Plan(NamedTuple):
    """The spine from above: x and y [m], heading [rad, + left]; the start is the origin, along x."""

    x: Array
    y: Array
    heading: Array


@dataclass(frozen=True, eq=False)
class Ribbon:
    """A closed ruled surface of road: level spine curve, height over it, and a bank across it.

    The profiles are functions of the distance s along the spine in plan [m], s = 0 at the start line, in the
    direction of travel: `curvature` [1/m, + left], `bank` [rad, + right side up], `height` of the spine [m],
    `left` and `right` width beside the spine along the surface [m]; `curvature` begins at 0. A ruling runs
    straight from the spine to both edges, in the vertical plane across the spine, at the bank. `breaks` are
    the distances where curvature or bank begins or ends to change; `hand` is 1 for left turns, -1 for right
    ones. Raises ValueError, one sentence, when the lap does not close or the road folds over itself.
    """

    curvature: Profile
    bank: Profile
    height: Profile
    left: Profile
    right: Profile
    sections: tuple[Section, ...]
    breaks: tuple[float, ...] = (0.0,)
    hand: int = 1

    def __post_init__(self) -> None:
        gap = float(np.hypot(*self.gap[:2]))
        turned = np.degrees(self.gap[2])
        if gap > _CLOSED or abs(turned) > 0.01:
            raise ValueError(
                f"the lap ends {gap:.2f} m from its start and {turned:+.2f} degrees off its heading; "
                "curvature and lengths must bring it back to where it began"
            )
        self._check_edges()

    def _check_edges(self) -> None:
        s = np.arange(0.0, self.length, 0.5)
        bend = self.curvature(s) * np.cos(self.bank(s))
        inner = np.where(bend > 0.0, self.left(s), self.right(s))
        worst = int(np.argmin(1.0 - inner * np.abs(bend)))
        if 1.0 - inner[worst] * abs(bend[worst]) < _TIGHTEST:
            raise ValueError(
                f"at {s[worst]:.0f} m the road reaches {inner[worst]:.1f} m inside of its center, where "
                f"the turn has a radius of only {1.0 / abs(bend[worst]):.1f} m; a narrower road fits"
            )

    @property
    def length(self) -> float:
        """Length of the spine in plan [m]."""
        return float(self.curvature.x[-1])

    @cached_property
    def _cells(self) -> tuple[Array, Array, Array]:
        """Ends of cells short enough to integrate over, with x and y of the spine there."""
        marks = self.curvature.x
        counts = np.maximum(1, np.ceil(np.diff(marks) / _CELL)).astype(int)
        ends = [
            np.linspace(a, b, n, endpoint=False) for a, b, n in zip(marks, marks[1:], counts, strict=False)
        ]
        s = np.append(np.concatenate(ends), self.length)
        dx, dy = self._run(s[:-1], s[1:])
        return s, np.concatenate(([0.0], np.cumsum(dx))), np.concatenate(([0.0], np.cumsum(dy)))

    @cached_property
    def _heading(self) -> Profile:
        return self.curvature.antiderivative()

    def _heading_at(self, s: Array) -> Array:
        """Heading [rad] gained from the start line to distances within one lap."""
        heading: Array = self._heading(np.clip(s, 0.0, self.length))
        return heading

    def _run(self, a: Array, b: Array) -> tuple[Array, Array]:
        """What x and y gain from a to b [m], by Gauss-Legendre on each span."""
        half = 0.5 * (b - a)
        heading = self._heading_at((a + half)[..., None] + half[..., None] * _NODES)
        return half * (np.cos(heading) @ _WEIGHTS), half * (np.sin(heading) @ _WEIGHTS)

    @cached_property
    def gap(self) -> tuple[float, float, float]:
        """Where the lap ends: x and y from its start [m], and heading off it [rad]."""
        _, x, y = self._cells
        turned = float(self._heading_at(np.array([self.length]))[0])
        return float(x[-1]), float(y[-1]), turned - 2.0 * np.pi * self.hand

    def plan(self, spine: Array) -> Plan:
        """The spine from above at distances along it [m]."""
        s = np.mod(np.asarray(spine, float), self.length)
        ends, x, y = self._cells
        cell = np.clip(np.searchsorted(ends, s, side="right") - 1, 0, len(ends) - 2)
        dx, dy = self._run(ends[cell], s)
        return Plan(x[cell] + dx, y[cell] + dy, self._heading_at(s))

    def point(self, spine: Array, offset: Array) -> Array:
        """Places [m], (..., 3), at distances along the spine and offsets along the surface, + left."""
        plan, bank = self.plan(spine), self.bank(spine)
        level = offset * np.cos(bank)
        x, y = plan.x - level * np.sin(plan.heading), plan.y + level * np.cos(plan.heading)
        return np.stack([x, y, self.height(spine) - offset * np.sin(bank)], axis=-1)

    def line(self, offset: Given, *, spacing: float = 3.0) -> Line:
        """The line driven at an offset from the spine [m along the surface, + left].

        `offset` is a number, a periodic function of the distance along the spine [m], a `Profile`, or values
        spaced evenly around the lap, the first at the start line. Stations lie about `spacing` [m] apart on
        the driven path, some of them where curvature or bank begins to change. Raises ValueError when the
        line leaves the road.
        """
        return lay_line(self, profile_of(offset, self.length), spacing)

    def section_at(self, spine: Array) -> tuple[str, ...]:
        """Name of the section at each distance along the spine."""
        s = np.mod(np.asarray(spine, float), self.length)
        names = np.full(s.shape, "", dtype=object)
        for section in self.sections:
            names[section.holds(s)] = section.name
        return tuple(names.tolist())
