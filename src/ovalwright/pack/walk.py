"""A walked or driven lap as a ribbon of road, and as a track document that can be kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ovalwright.documents import DocumentError
from ovalwright.documents.walk import Walk
from ovalwright.road import Ribbon
from ovalwright.road.follow import FINEST, Followed, follow
from ovalwright.road.profile import Array, Profile, constant, integral, raised, spline, times
from ovalwright.road.sections import sections_of
from ovalwright.road.smooth import smoothed

_MOST_FOLLOWED = 20_000
_HEIGHT_WAVE = 80.0
"""Shortest wave of height [m] that is told from the scatter of a receiver (common practice, no source)."""
_GRID = 2.0
_PEG_SPACING, _MOST_PEGS = 4.0, 400


@dataclass(frozen=True)
class Walked:
    """A road found in a walk: its ribbon, how often it was gone around, and how far the places scatter about
    the curve [m, root mean square].
    """

    ribbon: Ribbon
    laps: float
    scatter: float
    banked_by: str
    """Where its bank is from: "walk" or "typed"."""


def ribbon_of_walk(walk: Walk, *, width: float, bank: float, straight_bank: float) -> Walked:
    """The road whose center was walked or driven, once or several laps, from where the walk begins.

    width: from edge to edge [m]; bank and straight_bank: of ends and straights [rad, outer side up], used
    where the walk has none. One lap read every 1.4 m with 1 m of scatter, or five of a receiver that wanders
    by 1 m, give the length to 0.5 % and the mean radius about the middle of a turn to 3 %. Raises
    DocumentError when the places are no lap.
    """
    every = -(-len(walk.places) // _MOST_FOLLOWED)
    x, y = _level(walk)[::every].T
    try:
        found = follow(x, y)
        lean = _along(found, walk.bank, every, FINEST)
        half = constant(0.5 * width, found.length)
        ribbon = Ribbon(
            curvature=found.curvature,
            bank=times(lean, found.hand) if lean else _banked(found, bank, straight_bank),
            height=_height(walk, found, every),
            left=half,
            right=half,
            sections=sections_of(found.curvature, found.hand),
            hand=found.hand,
        )
    except DocumentError:
        raise
    except ValueError as problem:
        raise DocumentError(f"{walk.name}: {problem}.") from None
    return Walked(ribbon, found.laps, found.scatter, "walk" if lean else "typed")


def _level(walk: Walk) -> Array:
    """Places on a level map [m], east and north of their middle (azimuthal equidistant on WGS 84, pyproj)."""
    if not walk.on_globe:
        return walk.places
    from pyproj import Proj

    middle = np.median(walk.places, axis=0)
    flat = Proj(proj="aeqd", lon_0=middle[0], lat_0=middle[1], ellps="WGS84")
    return np.column_stack(flat(walk.places[:, 0], walk.places[:, 1]))


def _along(found: Followed, readings: Array | None, every: int, finest: float) -> Profile | None:
    """Readings of a walk as a smooth profile of the lap, None where it has none."""
    if readings is None:
        return None
    curve = smoothed(found.at, readings[::every][found.kept], found.length, finest=finest)
    return spline(curve(_grid(found.length)), found.length)


def _grid(length: float) -> Array:
    return np.linspace(0.0, length, round(length / _GRID), endpoint=False)


def _height(walk: Walk, found: Followed, every: int) -> Profile:
    """Height over the start line, read or added up from the grade; level where neither was read."""
    height = _along(found, walk.height, every, _HEIGHT_WAVE)
    if height is not None:
        return raised(height, -float(height(0.0)))
    grade = _along(found, walk.grade, every, _HEIGHT_WAVE)
    if grade is None:
        return constant(0.0, found.length)
    return integral(raised(grade, -float(grade.integrate(0.0, found.length)) / found.length))


def _banked(found: Followed, bank: float, straight_bank: float) -> Profile:
    """The bank gained as the curvature is, up to that of the turns."""
    grid = _grid(found.length)
    bend = found.hand * found.curvature(grid)
    full = float(np.quantile(bend, 0.8))
    share = np.clip(bend / full, 0.0, 1.0)
    eased = smoothed(grid, share, found.length, finest=FINEST)(grid)
    return spline(found.hand * (straight_bank + (bank - straight_bank) * eased), found.length)


def track_text(walked: Walked, *, name: str, width: float) -> str:
    """The TOML text of a track document with the road pegged out; it loads and lays the same road."""
    ribbon = walked.ribbon
    spacing = max(_PEG_SPACING, ribbon.length / _MOST_PEGS)
    at = np.linspace(0.0, ribbon.length, round(ribbon.length / spacing), endpoint=False)
    bends, banks = np.degrees(ribbon.hand * ribbon.curvature(at)), np.degrees(ribbon.hand * ribbon.bank(at))
    pegs = [
        f'  {{ at = "{s:z.2f} m", bend = "{bend:z.4f} deg/m", '
        f'bank = "{bank:z.2f} deg", height = "{up:z.3f} m" }},'
        for s, bend, bank, up in zip(at, bends, banks, ribbon.height(at), strict=True)
    ]
    quotable = "".join(c for c in name if c.isprintable() and c not in '"\\')[:80]
    lines = [
        "# Laid from a walk; the pegs stand along the line that was walked.",
        'document = "track"',
        f'name = "{quotable}"',
        f'turns = "{"left" if ribbon.hand > 0 else "right"}"',
        f'length = "{ribbon.length:.3f} m"',
        f'width = "{width:.2f} m"',
        "pegs = [",
        *pegs,
        "]",
        *_ends(ribbon),
    ]
    return "\n".join(lines) + "\n"


def _ends(ribbon: Ribbon) -> list[str]:
    """Radius and bank of each end over the middle half of it, for what looks at one turn alone."""
    lines = []
    turning = [section for section in ribbon.sections if section.turning] or list(ribbon.sections)
    for section in turning:
        span = (section.end - section.start) % ribbon.length or ribbon.length
        s = section.start + span * np.linspace(0.25, 0.75, 51)
        radius = 1.0 / float(np.mean(ribbon.hand * ribbon.curvature(s)))
        bank = float(np.degrees(np.mean(ribbon.hand * ribbon.bank(s))))
        lines += [
            "",
            "[[ends]]",
            f'name = "{section.name}"',
            f'radius = "{radius:.2f} m"',
            f'bank = "{bank:.2f} deg"',
        ]
    return lines
