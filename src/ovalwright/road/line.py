"""A line driven on a ribbon: what its path does to a car, station by station.

The path is P(s, n(s)) on the ruled surface P(s, n) = spine(s) + n ruling(s). Its heading, grade, bank and
their rates are exact derivatives of that surface (curves on ruled surfaces: do Carmo, *Differential Geometry
of Curves and Surfaces*, ch. 3-5 and 4-4, from memory; road vehicles on ribbons: Perantoni & Limebeer, J. Dyn.
Sys. Meas. Control 137, 2015).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.road.jet import Jet, angle_of, cosine, hypotenuse, sine, steady
from ovalwright.road.profile import Array, Profile

if TYPE_CHECKING:
    from ovalwright.road.ribbon import Ribbon

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_SLACK = 1e-6
"""How far [m] a line may lie beyond the edge of the road by rounding."""
_FINEST = 0.05
"""Least spacing of stations [m]."""
_CHANGING, _STEADY = 0.65, 1.4
"""Shares of the spacing where curvature or bank change, and where neither does."""
_SAME = 2e-4
"""Change of curvature [1/m] or bank [rad] over a stretch that counts as none."""
_BEFORE, _JUMP = 0.02, 5e-5
"""How far before a break another station stands [m] where an angular acceleration over V^2 jumps by more
than this [rad/m^2]: along a clothoid the tires also turn the car into the bend, so that less is left at its
end than a step further on."""


@dataclass(frozen=True, eq=False)
class Line:
    """A closed driven line. Arrays of N stations; the last is followed by the first, at the start line.

    Fields of the motion record carry its names: `curvature` is 1 over the radius in plan [1/m, + left],
    `bank` the slope of the road across the path [rad, + right side up], `grade` [rad, + uphill], `crest` the
    change of grade per meter [1/m, + dip]; `curvature_rate` [1/m^2], `bank_rate` [rad/m] and `bank_bend`
    [rad/m^2] count meters of the driven path. Where one of them jumps, the piece ahead counts.
    """

    distance: Array
    """Along the driven path from the start line [m]."""
    step: Array
    """To the next station along the driven path [m]."""
    curvature: Array
    curvature_rate: Array
    bank: Array
    bank_rate: Array
    bank_bend: Array
    grade: Array
    crest: Array
    x: Array
    """Map [m]; the spine starts at the origin along x."""
    y: Array
    z: Array
    heading: Array
    """From above [rad], running on through the lap; at the start line within half a turn of nought."""
    offset: Array
    """From the spine along the surface [m, + left]."""
    spine: Array
    """Distance along the ribbon's spine [m]."""
    length: float
    """Of the driven lap [m]."""
    ribbon: Ribbon
    laid: Profile
    """The offset it was laid at."""

    def at_spacing(self, spacing: float) -> Line:
        """The same line with stations about so far apart [m]."""
        return lay_line(self.ribbon, self.laid, spacing)

    def section_of(self) -> tuple[str, ...]:
        """Name of the section at each station."""
        return self.ribbon.section_at(self.spine)


class Path(NamedTuple):
    """The driven path at distances along the spine; rates count meters of the path."""

    curvature: Array
    curvature_rate: Array
    bank: Array
    bank_rate: Array
    bank_bend: Array
    grade: Array
    crest: Array
    turned: Array
    """Heading against the spine's [rad]."""
    pace: Array
    """Meters of path per meter of spine."""


def path_of(ribbon: Ribbon, offset: Profile, spine: Array) -> Path:
    """Geometry of the path at an offset, at distances along the spine [m]."""
    bend, tilt = _jet(ribbon.curvature, spine), _jet(ribbon.bank, spine)
    n, drift = _jet(offset, spine), _jet(offset, spine, 1)
    climb, twist = _jet(ribbon.height, spine, 1), _jet(ribbon.bank, spine, 1)
    c, s = cosine(tilt), sine(tilt)
    # The tangent by the spine's own axes: along it, level to its left, up.
    along = steady(1.0, bend) - n * bend * c
    left = drift * c - n * twist * s
    up = climb - drift * s - n * twist * c
    level = hypotenuse(along, left)
    pace = hypotenuse(level, up)
    turned, grade = angle_of(left, along), angle_of(up, level)
    # The surface's normal by the same axes, and the angle at which it leans across the path.
    normal_along, normal_left, normal_up = n * twist - climb * c, along * s, along * c
    across = pace * (along * normal_left - left * normal_along)
    upright = level * level * normal_up - up * (along * normal_along + left * normal_left)
    bank = angle_of(across, upright)
    curvature = (bend.value + turned.first) / level.value
    growth = (bend.first + turned.second - curvature * level.first) / level.value
    per = 1.0 / pace.value
    return Path(
        curvature=curvature,
        curvature_rate=growth * per,
        bank=bank.value,
        bank_rate=bank.first * per,
        bank_bend=(bank.second - bank.first * pace.first * per) * per**2,
        grade=grade.value,
        crest=grade.first * per,
        turned=turned.value,
        pace=pace.value,
    )


def _jet(profile: Profile, s: Array, order: int = 0) -> Jet:
    """A profile's derivative of some order with two more."""
    return Jet(profile(s, order), profile(s, order + 1), profile(s, order + 2))


def lay_line(ribbon: Ribbon, offset: Profile, spacing: float) -> Line:
    """The line at an offset; see `Ribbon.line`."""
    _check_on_road(ribbon, offset)
    spine = _stations(ribbon, offset, spacing)
    step = _driven(ribbon, offset, spine, np.append(spine[1:], ribbon.length))
    path = path_of(ribbon, offset, spine)
    place = ribbon.point(spine, offset(spine))
    return Line(
        distance=np.concatenate(([0.0], np.cumsum(step[:-1]))),
        step=step,
        curvature=path.curvature,
        curvature_rate=path.curvature_rate,
        bank=path.bank,
        bank_rate=path.bank_rate,
        bank_bend=path.bank_bend,
        grade=path.grade,
        crest=path.crest,
        x=place[:, 0],
        y=place[:, 1],
        z=place[:, 2],
        heading=ribbon.plan(spine).heading + path.turned,
        offset=offset(spine),
        spine=spine,
        length=float(step.sum()),
        ribbon=ribbon,
        laid=offset,
    )


def driven_length(ribbon: Ribbon, offset: Profile) -> float:
    """Length of the lap at an offset [m]."""
    cells = ribbon.spine.cells
    return float(_driven(ribbon, offset, cells[:-1], cells[1:]).sum())


def _driven(ribbon: Ribbon, offset: Profile, a: Array, b: Array) -> Array:
    """Length of the path over spans of the spine [m], by Gauss-Legendre on each."""
    half = 0.5 * (b - a)
    pace = path_of(ribbon, offset, (a + half)[:, None] + half[:, None] * _NODES).pace
    return half * (pace @ _WEIGHTS)


def _stations(ribbon: Ribbon, offset: Profile, spacing: float) -> Array:
    """Distances along the spine, closer where the path changes, some at breaks and some just before them."""
    if not _FINEST <= spacing <= ribbon.length / 8.0:
        raise ValueError(
            f"stations {spacing:g} m apart do not suit a lap of {ribbon.length:.0f} m; "
            f"{_FINEST:g} m to {ribbon.length / 8.0:.0f} m do"
        )
    marks = _marks(ribbon)
    jumps = _jumps(ribbon, offset, marks[1:])
    spans = []
    for a, b, jump in zip(marks[:-1], marks[1:], jumps, strict=True):
        fine = np.linspace(a, b, 2 + round((b - a) / min(spacing, 1.0)))
        gone = np.concatenate(([0.0], np.cumsum(_driven(ribbon, offset, fine[:-1], fine[1:]))))
        apart = spacing * (_CHANGING if _changes(path_of(ribbon, offset, fine[:-1])) else _STEADY)
        count = max(1, round(gone[-1] / apart))
        spans.append(np.interp(np.linspace(0.0, gone[-1], count, endpoint=False), gone, fine))
        if jump and b - a > 2.0 * _BEFORE:
            spans.append(np.array([b - _BEFORE]))
    return np.concatenate(spans)


def _marks(ribbon: Ribbon) -> Array:
    """The start line, the breaks of the road, each once, and the end of the lap [m]."""
    marks = np.unique(np.concatenate(([0.0], np.mod(ribbon.breaks, ribbon.length))))
    marks = marks[np.concatenate(([True], np.diff(marks) > _SLACK))]
    return np.append(marks[marks < ribbon.length - _SLACK], ribbon.length)


def _changes(path: Path) -> bool:
    """Whether curvature or bank of a stretch change."""
    return bool(np.ptp(path.curvature) > _SAME or np.ptp(path.bank) > _SAME)


def _jumps(ribbon: Ribbon, offset: Profile, marks: Array) -> npt.NDArray[np.bool_]:
    """Whether what turns the car with the road, in yaw or in roll, jumps at distances along the spine."""
    before, after = (path_of(ribbon, offset, np.mod(at, ribbon.length)) for at in (marks - _BEFORE, marks))
    yaw, roll = after.curvature_rate - before.curvature_rate, after.bank_bend - before.bank_bend
    return np.asarray(np.maximum(np.abs(yaw), np.abs(roll)) > _JUMP)


def _check_on_road(ribbon: Ribbon, offset: Profile) -> None:
    s = np.arange(0.0, ribbon.length, 0.5)
    n = offset(s)
    beyond = np.maximum(n - ribbon.left(s), -n - ribbon.right(s))
    worst = int(np.argmax(beyond))
    if not beyond[worst] <= _SLACK:
        side, width = ("left", ribbon.left(s)) if n[worst] > 0.0 else ("right", ribbon.right(s))
        raise ValueError(
            f"at {s[worst]:.0f} m the line runs {abs(n[worst]):.1f} m {side} of the road's center, where the "
            f"road reaches {width[worst]:.1f} m; an offset inside of that stays on the road"
        )
