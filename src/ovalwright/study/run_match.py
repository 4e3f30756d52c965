"""The driver's grip from his best lap of a run: one factor on all four tires, all else as written."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from ovalwright.documents import Conditions
from ovalwright.pack import Packed
from ovalwright.road import Line

from .lap import DRIVER, GRIP_POWER, Driver, NoLap
from .run import USUAL, Care, Run, Stretch, run

MATCH_RUNS = 8
MATCHED = 0.002
"""The best lap is matched within this [s]."""
SLIGHTLY = 1.01
LEAST, MOST = 0.5, 2.0
"""Grip against that of the documents beyond which nothing is matched."""


def matching_run(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    plan: Sequence[Stretch] | int,
    time: float,
    driver: Driver = DRIVER,
    *,
    within: float = MATCHED,
    tires: Callable[[Packed], Packed] | None = None,
    care: Care = USUAL,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """A run, planned as `run` takes it, whose best lap takes a time [s]; its `driver` has the grip for that.
    `tires` and `care` as in `run`.

    Secant steps on the logarithms of grip and time, halved where the car does not get round. Raises NoLap
    when it does not with the grip of the documents, or no grip between LEAST and MOST makes the time.
    """
    low, high = LEAST / SLIGHTLY, MOST * SLIGHTLY
    grip, power = driver.grip, GRIP_POWER
    tried: list[tuple[float, float]] = []
    for count in range(MATCH_RUNS):
        found = _run(packed, line, conditions, plan, replace(driver, grip=grip), tires, care, bool(tried))
        if progress:
            progress(count + 1, MATCH_RUNS)
        if found is None:
            low, high = (low, grip) if grip > tried[-1][0] else (grip, high)
            grip = math.sqrt(grip * tried[-1][0])
            continue
        best = float(found.times[found.green].min())
        if abs(best - time) < within:
            return found
        low, high = (grip, high) if best > time else (low, grip)
        tried.append((grip, best))
        if len(tried) > 1:
            power = _power(*tried[-2:])
        wanted = math.log(grip) + power * math.log(best / time)
        if len(tried) > 1 and not math.log(LEAST) <= wanted <= math.log(MOST):
            break
        grip = math.exp(min(max(wanted, math.log(LEAST)), math.log(MOST)))
        if not low < grip < high:
            grip = math.sqrt(low * high)
    raise NoLap(
        f"a best lap of {time:.3f} s was not matched: with {tried[-1][0]:.2f} times the grip the best lap "
        f"takes {tried[-1][1]:.3f} s; check the time, the length and radius of the track, the groove and the "
        "gear."
    )


def _power(one: tuple[float, float], two: tuple[float, float]) -> float:
    """By which power of the time the grip goes, from two pairs of grip and time; where more grip made the
    lap no quicker, that of a lap without power or bank.
    """
    (g0, t0), (g1, t1) = one, two
    quicker = math.log(t0 / t1) / math.log(g1 / g0)
    return 1.0 / quicker if quicker > 0.0 else GRIP_POWER


def _run(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    plan: Sequence[Stretch] | int,
    driver: Driver,
    tires: Callable[[Packed], Packed] | None,
    care: Care,
    may_fail: bool,
) -> Run | None:
    """The run, None where the car does not get round and may not."""
    try:
        return run(packed, line, conditions, plan, driver, tires=tires, care=care)
    except NoLap:
        if not may_fail:
            raise
        return None
