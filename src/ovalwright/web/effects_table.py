"""What each thing does as a page shows it: the effects of every step and what it does to a lap, asked for in
long work and given back without the cars they were found with.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Line
from ovalwright.study.adjustments import Adjustment, adjustments
from ovalwright.study.effects import Effect, effects
from ovalwright.study.lap import Lap, NoLap, lap
from ovalwright.study.moved import Moved

DRAWS = 64
PLACES = ("entry", "middle", "exit")


@dataclass(frozen=True)
class OneStep:
    """One step of one adjustment. By station what it does as bolted in and re-set (None: it sets height or
    cross itself) and why; change of the lap [s] both ways, NaN where it was not asked for or there is none;
    `problem` says why it could not be built.
    """

    name: str
    part: str
    bolted: dict[str, Moved]
    reset: dict[str, Moved] | None
    why: dict[str, str]
    lap_bolted: float
    lap_reset: float
    problem: str

    def told(self, station: str) -> Moved | None:
        """The reading that counts at a station: re-set where that applies."""
        return (self.reset or self.bolted).get(station)


@dataclass(frozen=True)
class EffectsTable:
    """All steps; `lap` of the setup as it stands [s], NaN where none was found; `draws` behind the bands."""

    rows: tuple[OneStep, ...]
    speeds: dict[str, float]
    lap: float
    draws: int
    failed: int
    notes: tuple[str, ...]


def quick_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table without bands and laps. Raises DocumentError."""
    return _table(assembly, track, end, share, 0, progress)


def whole_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table with the bands and with what each step does to a lap. Raises DocumentError."""
    return _table(assembly, track, end, share, DRAWS, progress)


def _table(
    assembly: Assembly,
    track: Track,
    end: int,
    share: float,
    draws: int,
    progress: Callable[[int, int], None],
) -> EffectsTable:
    car, day = build(assembly), Conditions()
    steps = adjustments(assembly)
    total = draws + (len(steps) if draws else 0)
    laps = _laps(car, steps, track, day, share, lambda done: progress(done, total)) if draws else {}
    found = effects(
        car,
        track,
        day,
        fuel_share=share,
        end=end,
        steps=steps,
        draws=draws,
        progress=lambda done, _: progress(len(steps) + done, total),
    )
    base = laps.get("", (math.nan, math.nan))[0]
    rows = tuple(
        _row(effect, base, laps.get(effect.step.name, (math.nan, math.nan))) for effect in found.rows
    )
    return EffectsTable(rows, found.speeds, base, found.draws, found.failed, found.notes)


def _row(effect: Effect, base: float, laps: tuple[float, float]) -> OneStep:
    return OneStep(
        name=effect.step.name,
        part=effect.step.part,
        bolted=effect.bolted,
        reset=effect.reset,
        why={place: effect.why(place) for place in PLACES},
        lap_bolted=laps[0] - base,
        lap_reset=laps[1] - base,
        problem=effect.problem,
    )


def _laps(
    car: Packed,
    steps: tuple[Adjustment, ...],
    track: Track,
    day: Conditions,
    share: float,
    progress: Callable[[int], None],
) -> dict[str, tuple[float, float]]:
    """Laps in the middle groove [s] by name of the step, as bolted in and re-set; "" is the car as it is."""
    line = groove_line(track, ribbon_of(track))
    base = _lap(with_fuel(car, share=share), line, day, None)
    if base is None:
        return {}
    laps = {"": (base.time, base.time)}
    for done, step in enumerate(steps, start=1):
        progress(done)
        try:
            cars = (step.as_bolted(car), step.reset(car))
        except ValueError:
            continue
        found = [None if one is None else _lap(with_fuel(one, share=share), line, day, base) for one in cars]
        laps[step.name] = (_time(found[0]), _time(found[1]))
    return laps


def _lap(car: Packed, line: Line, day: Conditions, like: Lap | None) -> Lap | None:
    try:
        return lap(car, line, day, like=like)
    except NoLap:
        return None


def _time(found: Lap | None) -> float:
    return math.nan if found is None else found.time
