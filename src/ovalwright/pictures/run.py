"""A run lap by lap: lap times of several setups with their bands, and what the tires do meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ovalwright.corners import CORNERS
from ovalwright.pictures.chart import (
    Chart,
    Floats,
    Mark,
    Panel,
    Piece,
    check_names,
    curve,
    in_units,
    pieces_of,
    unit_of,
)
from ovalwright.units import System

COMING_IN = 1.0
"""Laps that far off the best [s], before it, hide how the rest fades."""


@dataclass(frozen=True)
class RunTrace:
    """One setup over a run, a value per lap from lap 1 on.

    time, low, high [s]: lap time and the ends of its 95 % band (both empty where there is none). yellow:
    which laps ran under yellow. goes_away: the lap from which the car is no longer what it was, if any.
    beside: one more value per lap, SI, of the car (laps,) or of its tires (laps, 4) LF RF LR RR. NaN leaves
    a gap.
    """

    name: str
    time: ArrayLike
    low: ArrayLike = ()
    high: ArrayLike = ()
    yellow: Sequence[bool] = ()
    goes_away: int | None = None
    beside: ArrayLike = ()


def slowest_shown(runs: Sequence[Floats]) -> float:
    """The slowest lap [s] that a picture of runs shows: COMING_IN off the best of all, or one after its best.

    Times are lap by lap, NaN under yellow; a run without a time under green is a ValueError.
    """
    after = max(float(np.nanmax(times[int(np.nanargmin(times)) :])) for times in runs)
    return max(min(float(np.nanmin(times)) for times in runs) + COMING_IN, after)


def come_in(times: Floats, slowest: float) -> Floats:
    """Lap times [s], NaN where one before the best is slower than is shown."""
    shown, best = times.copy(), int(np.nanargmin(times))
    shown[:best][times[:best] > slowest] = np.nan
    return shown


def run_chart(
    runs: Sequence[RunTrace],
    *,
    beside: str = "tread",
    kind: str = "temperature",
    system: System = "us",
    title: str = "The run",
) -> Chart:
    """Runs over each other; `beside` names the second value, of a kind in the table of units.

    Lap times under yellow are left out: they say nothing of the car. Yellow laps are those of any run.
    Raises ValueError for more than six runs.
    """
    check_names(len(runs), "runs")
    times = tuple(
        curve(of, _laps(run.time), *(_green(ends, run) for ends in (run.time, run.low, run.high)))
        for of, run in enumerate(runs)
    )
    laps = max((values.x.size for values in times), default=0)
    return Chart(
        title=title,
        names=tuple(run.name for run in runs),
        across="Lap",
        span=(1.0, float(max(laps, 2))),
        panels=(Panel("Lap time", "s", 2, times, "lap time", 2.2), *_beside(runs, beside, kind, system)),
        lanes=(),
        zones=_yellow(runs, laps),
        marks=tuple(
            Mark(of, float(run.goes_away), f"goes away from lap {run.goes_away}")
            for of, run in enumerate(runs)
            if run.goes_away is not None
        ),
        notes=("Lap times under yellow are left out.",) if any(any(run.yellow) for run in runs) else (),
        whole=True,
    )


def _laps(values: ArrayLike) -> Floats:
    return np.arange(1.0, np.size(values) + 1.0)


def _green(times: ArrayLike, run: RunTrace) -> Floats:
    """Times with a gap at every yellow lap."""
    values = np.array(times, dtype=np.float64)
    yellow = np.flatnonzero(run.yellow)
    values[yellow[yellow < values.size]] = np.nan
    return values


def _beside(runs: Sequence[RunTrace], name: str, kind: str, system: System) -> tuple[Panel, ...]:
    """One panel for the car, or one per tire in the order LF RF LR RR."""
    shown = [in_units(run.beside, kind, system) for run in runs]
    filled = {values.ndim for values in shown if values.size}
    if not filled:
        return ()
    if filled == {1}:
        curves = tuple(curve(of, _laps(values), values) for of, values in enumerate(shown))
        return (Panel(name.capitalize(), *unit_of(kind, system), curves, kind),)
    return tuple(
        Panel(
            f"{tire} {name}",
            *unit_of(kind, system),
            tuple(
                curve(of, _laps(values[:, at]), values[:, at])
                for of, values in enumerate(shown)
                if values.size
            ),
            kind,
        )
        for at, tire in enumerate(CORNERS)
    )


def _yellow(runs: Sequence[RunTrace], laps: int) -> tuple[Piece, ...]:
    """Stretches of laps under yellow, half a lap to either side of the lap's own place."""
    flags = [any(lap < len(run.yellow) and run.yellow[lap] for run in runs) for lap in range(laps)]
    starts = [max(lap + 0.5, 1.0) for lap in range(laps)]
    pieces = pieces_of(["yellow" if flag else "" for flag in flags], starts, float(max(laps, 2)))
    return tuple(Piece(piece.start, piece.end, piece.word, True) for piece in pieces if piece.word)
