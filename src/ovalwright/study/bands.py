"""How sure an answer is, and which measurement would make it surer.

A band is the middle 95 % of an answer over draws of everything that is not exactly known, each draw
re-settled to the measured scale sheet. The best next measurement is the one that narrows the wanted answer
most (goal-oriented, linear-Gaussian; Lindley 1956; Chaloner & Verdinelli, Statist. Sci. 10, 1995, from
memory).
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.documents import DocumentError
from ovalwright.units import Place, Quantity

from .uncertain import AXES, IN_BAND, TIRE_CAUSES, Draw, Unknowns, cause_of, document_entries

Array = npt.NDArray[np.float64]
Progress = Callable[[int, int], None]

INTERACTIVE = 64
"""Usual number of draws."""
TAIL = 0.025
FEWEST = 8
"""Solved draws below which no band is stated."""
MOST_UNSOLVED = 2.0 * TAIL
"""Share of the draws without a steady state up to which the others have a band: as many as lie outside it."""
BOTH_WAYS = 40
"""How many of the strongest causes are looked at on both sides."""
GRIP_BY_LAP = 0.02
"""Grip of the tires known from one trusted lap time, one standard deviation (common practice, no source)."""
AS_MEASURED = {
    "car.sprung.height": 0.6 * 0.0254,
    "car.sprung.whole_car_height": 0.6 * 0.0254,
}
"""Measuring errors, one standard deviation, SI, where the kind of quantity does not tell: CG height by a
raised-axle test with a lift of 20 in (common practice, no source)."""
NOT_MEASURED = ("gyration", "aero.", "tire.grip", "tire.heat.", "half_station", "_give", "slosh")
"""Causes no measurement at the shop settles."""


@dataclass(frozen=True)
class Band:
    """An answer with the middle 95 % of its draws; `low` and `high` are NaN where no draws were asked for."""

    value: float
    low: float = math.nan
    high: float = math.nan

    @property
    def sure_of_sign(self) -> bool:
        """Whether the whole band lies on one side of zero; without a band the value alone decides nothing."""
        return self.low > 0.0 or self.high < 0.0


def band_of(value: float, draws: Array) -> Band:
    """The band of an answer from its values over draws; NaN draws (no steady state) are left out.

    Quantiles by i / (n + 1): the interval then holds one more draw of the same kind, which the truth is,
    with the stated chance (Hyndman & Fan, Am. Stat. 50, 1996, type 6, from memory).
    """
    solved = draws[np.isfinite(draws)]
    if len(solved) < FEWEST or not math.isfinite(value):
        return Band(float(value))
    low, high = np.quantile(solved, [TAIL, 1.0 - TAIL], method="weibull")
    return Band(float(value), float(low), float(high))


def band_of_solved(value: float, draws: Array) -> Band:
    """The band of an answer that takes a steady state, none where more than MOST_UNSOLVED of the draws have
    no such state: those are the cars beyond the limit, and without them the rest look surer than they are.
    """
    unsolved = np.isnan(draws).mean() if len(draws) else 0.0
    return Band(float(value)) if unsolved > MOST_UNSOLVED else band_of(value, draws)


def over_draws(
    answer: Callable[[Draw], Array], draws: Sequence[Draw], progress: Progress | None = None
) -> tuple[Array, int]:
    """An answer (an array of one shape) over draws, in their order, and how many draws could not be built.

    A draw whose links cannot close or whose sheet no seats explain is left out and counted.
    """

    def one(draw: Draw) -> Array | None:
        try:
            return answer(draw)
        except DocumentError:
            return None

    found: list[Array] = []
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        for done, row in enumerate(pool.map(one, draws), start=1):
            if row is not None:
                found.append(row)
            if progress is not None:
                progress(done, len(draws))
    return np.array(found), len(draws) - len(found)


@dataclass(frozen=True)
class Measurement:
    """One thing to measure: the causes it settles, by how much (measuring error over present spread), and
    the standard deviation of the answer before and after, in the answer's unit.
    """

    what: str
    causes: tuple[str, ...]
    error: float
    before: float
    after: float


def spread_after(weights: Array, spread: Array, row: Array, noise: float) -> float:
    """Standard deviation of weights . theta once row . theta has been measured with an error `noise`.

    theta independent normal with standard deviations `spread` (linear-Gaussian update).
    """
    variance = spread**2
    told = float((weights * variance) @ row)
    return math.sqrt(max(float(weights**2 @ variance) - told**2 / (float(row**2 @ variance) + noise**2), 0.0))


def slopes(answer: Callable[[Draw], float], causes: Sequence[str], progress: Progress | None = None) -> Array:
    """Change of an answer per standard deviation of each cause: one way for all, both ways for the strongest.

    A cause for which the car cannot be built one deviation off counts from the side where it can.
    """

    def moved_by(pairs: Sequence[tuple[str, float]], offset: int) -> Array:
        def one(pair: tuple[str, float]) -> float:
            try:
                return (answer(Draw({pair[0]: pair[1]})) - middle) / pair[1]
            except DocumentError:
                return math.nan

        found = []
        with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
            for slope in pool.map(one, pairs):
                found.append(slope)
                if progress is not None:
                    progress(offset + len(found), len(causes) + strongest)
        return np.array(found)

    middle, strongest = answer(Draw({})), min(BOTH_WAYS, len(causes))
    up = moved_by([(cause, 1.0) for cause in causes], 0)
    order = np.argsort(-np.abs(np.nan_to_num(up, nan=np.inf)))[:strongest]
    down = moved_by([(causes[i], -1.0) for i in order], len(causes))
    ends = np.column_stack([up[order], down])
    kept = np.isfinite(ends)
    up[order] = np.where(kept, ends, 0.0).sum(axis=1) / np.maximum(kept.sum(axis=1), 1)
    return np.nan_to_num(up)


def measurements(unknowns: Unknowns) -> dict[str, tuple[tuple[str, ...], float]]:
    """What could be measured: name, the causes it settles, and its error over their present spread.

    A point is measured with its three coordinates, four weights in one weighing, a family of parts at once.
    """
    found: dict[str, tuple[tuple[str, ...], float]] = {}
    for assembly in unknowns.assemblies:
        for path, entry in document_entries(assembly):
            cause = cause_of(path, entry.value, assembly)
            if any(word in path for word in NOT_MEASURED):
                continue
            error = AS_MEASURED.get(path, entry.kind.one_sigma(_size(entry.value), "measured"))
            share = _error_share(entry.value, error)
            if math.isinf(share):
                continue
            settled = tuple(f"{cause} {a}" for a in AXES) if isinstance(entry.value, Place) else (cause,)
            if path.startswith("sheet.") and path.endswith(".weight"):
                was = found.get("the four corner weights", ((), share))[0]
                found["the four corner weights"] = (tuple(dict.fromkeys((*was, *settled))), share)
            else:
                found[cause] = (settled, share)
    grip = "grip of the tires"
    found["one trusted lap time (grip)"] = ((grip,), GRIP_BY_LAP / TIRE_CAUSES[grip].spread)
    return found


def next_measurement(
    answer: Callable[[Draw], float], unknowns: Unknowns, progress: Progress | None = None
) -> tuple[Measurement, ...]:
    """Measurements ranked by how much each, alone, would narrow an answer; the first is the one to make.

    `answer` gives the wanted number for a draw. Slopes only rank; the band itself comes from draws.
    """
    options = measurements(unknowns)
    causes = tuple(unknowns.causes)
    weights = slopes(answer, causes, progress)
    index = {cause: i for i, cause in enumerate(causes)}
    one = np.ones(len(causes))
    before = float(np.sqrt(weights @ weights))
    ranked = []
    for what, (settled, error) in options.items():
        held = [index[cause] for cause in settled if cause in index]
        drop = 0.0
        for i in held:
            row = np.zeros(len(causes))
            row[i] = 1.0
            drop += before**2 - spread_after(weights, one, row, error) ** 2
        after = math.sqrt(max(before**2 - drop, 0.0))
        ranked.append(Measurement(what, settled, error, before, after))
    return tuple(sorted(ranked, key=lambda m: m.after))


def _size(held: Quantity | Place) -> float:
    return held.si if isinstance(held, Quantity) else 0.0


def _error_share(held: Quantity | Place, error: float) -> float:
    """Measuring error over present spread; infinite where nothing is left to learn."""
    give = held.give_or_take if isinstance(held, Quantity) else max(held.give_or_take)
    return error * IN_BAND / give if give > 0.0 and error > 0.0 else math.inf
