"""A closed banked ribbon of road: its spine in plan, its bank, height and width along the lap."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from ovalwright.road.line import Line, lay_line
from ovalwright.road.profile import Array, Given, Profile, profile_of
from ovalwright.road.spine import Plan, Spine

_CLOSED, _TURNED = 0.01, 1e-4
"""A lap that misses its start by more [m], or its heading there by more [rad], is no loop."""
_APART = 2.0
"""How far apart places are looked at to see that the road keeps clear of itself [m]."""
_TIGHTEST = 0.05
"""Least share of the spine's length that an edge of the road may have beside it."""


class Section(NamedTuple):
    """A named stretch of the lap [m along the spine], straight or turning; it may run over the start line."""

    name: str
    start: float
    end: float
    turning: bool = False

    def holds(self, spine: Array) -> npt.NDArray[np.bool_]:
        """Whether distances along the spine in [0, length) lie in this stretch."""
        over_the_line = self.end <= self.start
        after, before = spine >= self.start, spine < self.end
        return after | before if over_the_line else after & before


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
        gap = self.spine.gap(self.hand)
        if gap.distance > _CLOSED or abs(gap.heading) > _TURNED:
            raise ValueError(
                f"the lap ends {gap.distance:.2f} m from its start and {np.degrees(gap.heading):+.2f} "
                "degrees off its heading; curvature and lengths must bring it back to where it began"
            )
        self._check_edges()
        self._check_apart()

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

    def _check_apart(self) -> None:
        """Two places of a road are closer than its width only where they are neighbors: along an arc that the
        road fits around, the way is at most half of pi times the chord.
        """
        s = np.arange(0.0, self.length, _APART)
        plan = self.plan(s)
        width = float(np.min(self.left(s) + self.right(s)))
        close = cKDTree(np.column_stack([plan.x, plan.y])).query_pairs(width, output_type="ndarray")
        way = np.abs(s[close[:, 1]] - s[close[:, 0]])
        apart = np.minimum(way, self.length - way) > 0.5 * np.pi * width + _APART
        if apart.any():
            first, second = s[close[apart][0]]
            raise ValueError(
                f"the road runs into itself, {first:.0f} m and {second:.0f} m after the start line; "
                "a lap that keeps clear of itself by its width fits"
            )

    @property
    def length(self) -> float:
        """Length of the spine in plan [m]."""
        return float(self.curvature.x[-1])

    @cached_property
    def spine(self) -> Spine:
        """The spine from above."""
        return Spine(self.curvature)

    def plan(self, spine: Array) -> Plan:
        """The spine from above at distances along it [m]."""
        return self.spine.at(spine)

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
        the driven path: closer where its curvature or bank change, farther where they do not, one at each
        break and, where the road begins to turn the car at another rate, one just before it. Raises
        ValueError when the line leaves the road.
        """
        return lay_line(self, profile_of(offset, self.length), spacing)

    def section_at(self, spine: Array) -> tuple[str, ...]:
        """Name of the section at each distance along the spine."""
        s = np.mod(np.asarray(spine, float), self.length)
        names = np.full(s.shape, "", dtype=object)
        for section in self.sections:
            names[section.holds(s)] = section.name
        return tuple(names.tolist())
