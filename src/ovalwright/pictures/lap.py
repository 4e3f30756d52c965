"""A lap over distance: speed, four loads, lateral acceleration, what sets the speed, what touches where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ovalwright.corners import CORNERS
from ovalwright.pictures.chart import (
    Chart,
    Curve,
    Floats,
    Lane,
    Mark,
    Panel,
    check_names,
    curve,
    in_units,
    pieces_of,
    sections_of,
    unit_of,
)
from ovalwright.units import System


@dataclass(frozen=True)
class LapTrace:
    """One lap at its stations, SI: the last station is followed by the first at `length`.

    distance [m] from the start line along the driven path, speed [m/s], lateral [m/s^2, + left]: (stations,).
    loads [N]: (stations, 4) LF RF LR RR. rules: a word per station for what sets the speed. events: (distance
    [m], words). sections: (name, start, end) [m along the driven path], one may run over the start line. NaN
    leaves a gap.
    """

    name: str
    distance: ArrayLike
    length: float
    speed: ArrayLike
    loads: ArrayLike
    lateral: ArrayLike
    rules: Sequence[str]
    events: Sequence[tuple[float, str]] = ()
    sections: Sequence[tuple[str, float, float]] = ()


def lap_chart(laps: Sequence[LapTrace], *, system: System = "us", title: str = "The lap") -> Chart:
    """Laps over each other; the sections are those of the first. Raises ValueError for more than six laps."""
    check_names(len(laps), "laps")
    places = [in_units(_closing(lap.distance, lap.length), "road_length", system) for lap in laps]
    unit, _ = unit_of("road_length", system)

    def panel(name: str, kind: str, values: Sequence[Floats], share: float, from_zero: bool = False) -> Panel:
        curves = tuple(
            _closed_curve(of, places[of], in_units(one, kind, system)) for of, one in enumerate(values)
        )
        return Panel(name, *unit_of(kind, system), curves, kind, share, from_zero)

    loads = [np.asarray(lap.loads, dtype=np.float64).reshape(-1, len(CORNERS)) for lap in laps]
    panels = (
        panel("Speed", "speed", [_floats(lap.speed) for lap in laps], 2.2),
        *(
            panel(f"{tire} load", "force", [one[:, at] for one in loads], 1.0, True)
            for at, tire in enumerate(CORNERS)
        ),
        panel(
            "Lateral acceleration (left +)", "acceleration", [_floats(lap.lateral) for lap in laps], 1.0, True
        ),
    )
    return Chart(
        title=title,
        names=tuple(lap.name for lap in laps),
        across=f"Distance from the start line, {unit}",
        span=(0.0, max((float(place[-1]) for place in places), default=1.0) or 1.0),
        panels=panels,
        lanes=tuple(
            Lane("What sets the speed", pieces_of(lap.rules, list(place[:-1]), float(place[-1])))
            for lap, place in zip(laps, places, strict=True)
        ),
        zones=sections_of(laps[0].sections, laps[0].length, system) if laps else (),
        marks=tuple(
            Mark(of, at := float(in_units(distance, "road_length", system)), f"{at:,.0f} {unit} {words}")
            for of, lap in enumerate(laps)
            for distance, words in lap.events
        ),
    )


def _floats(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _closing(distance: ArrayLike, length: float) -> Floats:
    """Stations with the start line again at the end of the lap."""
    return np.append(_floats(distance), length)


def _closed_curve(of: int, x: Floats, y: Floats) -> Curve:
    """A curve that ends at the start line as it began there."""
    return curve(of, x, np.append(y, y[:1])) if y.size else curve(of, (), ())
