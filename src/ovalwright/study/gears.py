"""Which gear: a lap with each final drive at hand."""

from __future__ import annotations

from dataclasses import dataclass

from ovalwright.documents import Conditions
from ovalwright.pack import Packed, rebuilt_as_bolted
from ovalwright.road import Line
from ovalwright.units import KINDS, Quantity, show

from .adjustments import put
from .bands import Progress
from .lap import DRIVER, ON_POWER, ON_REVS, Driver, Lap, NoLap, lap
from .lap_reading import time_ruled_by

STEP, STEPS = 0.03, 3
"""A ladder of ratios where the rack has none: a step is about one tooth of a spur set (common practice, no
source), and so many are tried each way."""
SAME = 0.005
"""Ratios nearer than this are the same gear."""
AS_GOOD = 0.01
"""Laps that differ by less [s] are called as good."""


@dataclass(frozen=True)
class GearLap:
    """A lap with one gear: what is written on it, its ratio, whether it is in the car, and the lap, or why
    there is none.
    """

    name: str
    ratio: float
    fitted: bool
    lap: Lap | None
    why: str = ""

    @property
    def on_the_limiter(self) -> float:
        """Time on the rev limiter [s]."""
        return time_ruled_by(self.lap, ON_REVS) if self.lap else 0.0

    @property
    def at_full_throttle(self) -> float:
        """Time at full throttle below the limiter [s]."""
        return time_ruled_by(self.lap, ON_POWER) if self.lap else 0.0


@dataclass(frozen=True)
class Gears:
    """Laps with each gear, the tallest first; `best` is the quickest, and `kinder` the quickest of those as
    good that are less on the limiter, None where no gear gets round or no other is kinder. `owned`: the
    gears are those of the rack, else a ladder around the one in the car.
    """

    rows: tuple[GearLap, ...]
    owned: bool

    @property
    def fitted(self) -> GearLap:
        """The gear in the car."""
        return next(row for row in self.rows if row.fitted)

    @property
    def best(self) -> GearLap | None:
        """The gear of the quickest lap."""
        return min((row for row in self.rows if row.lap), key=_time, default=None)

    @property
    def kinder(self) -> GearLap | None:
        """Of the gears as good as the best the one least on the limiter, where it is another."""
        best = self.best
        if best is None:
            return None
        good = [row for row in self.rows if row.lap and _time(row) - _time(best) < AS_GOOD]
        least = min(good, key=lambda row: row.on_the_limiter)
        return least if least.on_the_limiter < best.on_the_limiter else None


def gears(
    packed: Packed,
    line: Line,
    conditions: Conditions,
    driver: Driver = DRIVER,
    *,
    progress: Progress | None = None,
) -> Gears:
    """A lap with each gear of the rack and the one in the car; with a ladder of ratios where the rack has
    none.
    """
    setup, rack = packed.assembly.setup, packed.assembly.rack
    fitted = setup.final_drive
    owned = [(gear.id, gear.ratio) for gear in rack.gears if abs(gear.ratio.si - fitted.si) > SAME]
    ratios = owned or [(ratio.text, ratio) for ratio in _ladder(fitted)]
    chosen = sorted([*ratios, (fitted.text, fitted)], key=lambda pair: pair[1].si)
    rows = []
    for done, (name, ratio) in enumerate(chosen, start=1):
        is_fitted = ratio is fitted
        car = packed if is_fitted else rebuilt_as_bolted(packed, put(packed.assembly, {"final_drive": ratio}))
        try:
            rows.append(GearLap(name, ratio.si, is_fitted, lap(car, line, conditions, driver)))
        except NoLap as problem:
            rows.append(GearLap(name, ratio.si, is_fitted, None, str(problem)))
        if progress:
            progress(done, len(chosen))
    return Gears(tuple(rows), bool(owned))


def _ladder(fitted: Quantity) -> list[Quantity]:
    """Ratios some steps taller and shorter than the one in the car."""
    ratios = [fitted.si * (1.0 + STEP) ** step for step in range(-STEPS, STEPS + 1) if step]
    return [Quantity(show(ratio, KINDS["ratio"]), ratio, fitted.give_or_take) for ratio in ratios]


def _time(row: GearLap) -> float:
    assert row.lap is not None
    return row.lap.time
