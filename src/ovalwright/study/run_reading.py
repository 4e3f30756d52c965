"""What a run tells its driver: when it was best, when it goes away, which tire took the grip and by what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Assembly, State
from ovalwright.pack import Rubber, roll_outs
from ovalwright.vehicle.record import CORNERS

from .falloff import EARLY, LATE, RunSummary, mean_of, summary
from .lap import Lap
from .run import Run, RunLap

Array = npt.NDArray[np.float64]

USUAL_SCATTER = 0.08
"""Scatter of a lap [s] of a driver whose own is not known (common practice, no source)."""
OFF_ITS_BEST = 0.2
"""A car that stays this much [s] off its best lap has gone away (common practice, no source)."""
JUST_AS_QUICK = 0.0005
"""What no clock of a track shows [s]."""
LITTLE_LOST = 0.005
"""Share of its grip below which a tire has lost little (common practice, no source)."""


@dataclass(frozen=True)
class GripLost:
    """Grip a tire lost from its best lap to the end of the run, as a share of that of a scuffed tire at its
    best: `best` on lap `lap`, `left` at the end. `heat`, `wear` and `age` (time at heat, laps since new) are
    the shares lost to each, + lost; they multiply to the whole.
    """

    corner: str
    lap: int
    best: float
    left: float
    heat: float
    wear: float
    age: float

    @property
    def whole(self) -> float:
        """Share of its best grip that is lost."""
        return 1.0 - self.left / self.best


@dataclass(frozen=True)
class Stint:
    """Laps `first` to `last` of a run, from one stop to the next. `summary` counts its laps from 1, as a lap
    list does; `stays_off` is the lap of the run from which it stays OFF_ITS_BEST behind its best to the end,
    None where it does not; `behind`: its last green lap less its best [s].
    """

    first: int
    last: int
    summary: RunSummary
    stays_off: int | None
    behind: float

    @property
    def goes_away(self) -> int | None:
        """The last lap of the run before the fade breaks, None where it does not."""
        fade = self.summary.fade
        return fade.goes_away.lap + self.first - 1 if fade and fade.goes_away else None

    @property
    def ends_quickest(self) -> bool:
        """Whether its last green lap is its best, as far as a clock shows."""
        return self.behind < JUST_AS_QUICK


@dataclass(frozen=True)
class RunReading:
    """A run in the numbers a racer asks for.

    `summary` of the whole run; the `stints` that have a green lap; `lost` by corner. `early`, `late`, `end`:
    balance of laps EARLY, of laps LATE and of the last green lap, negative is tight, NaN where there are no
    such laps.
    """

    summary: RunSummary
    stints: tuple[Stint, ...]
    lost: tuple[GripLost, ...]
    early: float
    late: float
    end: float

    @property
    def went_away(self) -> int | None:
        """The lap from which it has gone away: by a break of its fade, else where it stays off its best."""
        for stint in self.stints:
            if stint.goes_away is not None:
                return stint.goes_away + 1
            if stint.stays_off is not None:
                return stint.stays_off
        return None


def read_run(driven: Run, scatter: float = USUAL_SCATTER) -> RunReading:
    """What a computed run tells; `scatter` [s] is that of the driver's laps, which decides whether a break of
    the fade would be seen. Raises ValueError when no lap was green.
    """
    green = [one for one in driven.laps if one.flag == "green"]
    balance = np.array([one.balance for one in green])
    of = np.array([float(one.number) for one in green])
    early, late = (mean_of(of, balance, span) for span in (EARLY, LATE))
    whole = summary(driven.numbers.astype(float), driven.times, driven.green, scatter=scatter)
    stints = [_stint(list(of), scatter) for _, of in groupby(driven.laps, key=lambda one: one.stint)]
    told = tuple(stint for stint in stints if stint is not None)
    return RunReading(whole, told, grip_lost(driven), early, late, green[-1].balance)


def _stint(laps: Sequence[RunLap], scatter: float) -> Stint | None:
    """What one stint tells, None where none of its laps is green."""
    green = [one for one in laps if one.flag == "green"]
    if not green:
        return None
    told = summary(
        np.arange(1.0, len(laps) + 1.0),
        np.array([one.time for one in laps]),
        np.array([one.flag == "green" for one in laps]),
        scatter=scatter,
    )
    best = min(one.time for one in green)
    after = max(i for i, one in enumerate(green) if one.time < best + OFF_ITS_BEST) + 1
    off = green[after].number if after < len(green) else None
    return Stint(laps[0].number, laps[-1].number, told, off, green[-1].time - best)


def grip_lost(driven: Run) -> tuple[GripLost, ...]:
    """What each tire lost since its best lap, on the tires it ended on."""
    return tuple(_lost(driven, i) for i in range(len(CORNERS)))


def _lost(driven: Run, i: int) -> GripLost:
    fresh = np.flatnonzero(np.diff(driven.of("wear")[:, i]) < 0.0)
    since = [one for one in driven.laps[int(fresh[-1]) + 1 if len(fresh) else 0 :] if one.flag == "green"]
    since = since or [driven.laps[-1]]
    best, end = max(since, key=lambda one: float(one.grip[i])), since[-1]
    was, now = _parts(best, i), _parts(end, i)
    heat, wear, age = (1.0 - b / a for a, b in zip(was, now, strict=True))
    return GripLost(CORNERS[i], best.number, float(best.grip[i]), float(end.grip[i]), heat, wear, age)


def _parts(one: RunLap, i: int) -> tuple[float, float, float]:
    """Grip of one tire by its heat, its wear, and the rest, which is age."""
    heat, wear = float(one.by_heat[i]), float(one.by_wear[i])
    return heat, wear, float(one.grip[i]) / (heat * wear)


# ---------------- two runs


@dataclass(frozen=True, eq=False)
class RunDiffers:
    """Run B less run A of one length, (4,) each: `slid` [J] over all laps, and `work`, the same in shares of
    A's; `tread` [K], `pressure` [Pa], `wear` [m] and `grip` of the last lap. `balance` of the last green
    lap, negative is tighter.
    """

    slid: Array
    work: Array
    tread: Array
    pressure: Array
    wear: Array
    grip: Array
    balance: float


def differs(a: Run, b: Run) -> RunDiffers:
    """What differs between two runs of one length."""
    ends = [one.laps[-1] for one in (a, b)]
    slid = [one.of("slid").sum(axis=0) for one in (a, b)]
    green = [next(lap.balance for lap in reversed(one.laps) if lap.flag == "green") for one in (a, b)]
    rest = {
        name: np.asarray(getattr(ends[1], name) - getattr(ends[0], name))
        for name in ("tread", "pressure", "wear", "grip")
    }
    more = np.asarray(slid[1] - slid[0])
    return RunDiffers(slid=more, work=more / slid[0], balance=green[1] - green[0], **rest)


# ---------------- the flag


def car_at_flag(driven: Run) -> Assembly:
    """The car as it takes the flag: with the setup of the last stop."""
    return last_solved(driven).packed.assembly


def last_solved(driven: Run) -> Lap:
    """The last lap that was solved."""
    return next(one.solved for one in reversed(driven.laps) if one.solved is not None)


def state_at_flag(driven: Run) -> State:
    """Fuel left, hot pressures, growth beyond that of pressure, and wear after the last lap."""
    last, packed = driven.laps[-1], last_solved(driven).packed
    still, alike = np.zeros(4), np.ones(4)
    ungrown = roll_outs(packed, Rubber(last.pressure, still, last.wear, alike, alike, alike))
    fuel = (last.fuel - last.burned) / packed.values()[0].fuel_cell.density
    corners = {
        corner: {
            "hot": f"{last.pressure[i]:.1f} Pa",
            "growth": f"{last.roll_out[i] - ungrown[i]:.6f} m",
            "wear": f"{last.wear[i]:.7f} m",
        }
        for i, corner in enumerate(CORNERS)
    }
    return State.model_validate({"name": "flag", "fuel": f"{fuel:.7f} m^3", **corners})
