"""What each thing does as a page shows it: the effects of every step and what it does to a lap and to a run,
asked for in long work and given back without the cars they were found with.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import Packed, build
from ovalwright.study.adjustments import Where, adjustments
from ovalwright.study.bands import Band
from ovalwright.study.effects import Effect, effects
from ovalwright.study.moved import Moved, why
from ovalwright.web.effects_timed import LAP_DRAWS, NO_BAND, NONE, NOWHERE, ROUNDS, Timed

DRAWS = 64
PLACES = ("entry", "middle", "exit")


@dataclass(frozen=True)
class OneStep:
    """One step of one adjustment, `where` it can be done, how many rounds of a jack bolt are `turned`. By
    station what it does as bolted in and re-set (None: it sets height or cross itself), and why, of the
    reading that counts and as bolted in. Change of the lap and of the run [s], each as bolted in and re-set,
    NaN where it was not asked for or there is none; `lap_band`, how sure the one of the lap that
    counts is; `section` of the lap that changes most and by how much [s], no name where none is known.
    `problem` says why it could not be built.
    """

    name: str
    part: str
    where: Where
    turned: float
    bolted: dict[str, Moved]
    reset: dict[str, Moved] | None
    why: dict[str, str]
    why_bolted: dict[str, str]
    section: tuple[str, float]
    lap_band: Band
    lap: tuple[float, float]
    run: tuple[float, float]
    problem: str

    def told(self, station: str) -> Moved | None:
        """The reading that counts at a station: re-set where that applies."""
        return (self.reset or self.bolted).get(station)

    def counts(self, ways: tuple[float, float]) -> float:
        """Of a number as bolted in and re-set the one that counts."""
        return ways[0] if self.reset is None else ways[1]


@dataclass(frozen=True)
class EffectsTable:
    """All steps; `lap` and `run` of the setup as it stands [s], NaN where none was found, and then `no_run`
    says why; `draws` behind the bands.
    """

    rows: tuple[OneStep, ...]
    speeds: dict[str, float]
    lap: float
    run: float
    no_run: str
    draws: int
    failed: int
    notes: tuple[str, ...]


def quick_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table without bands, laps and runs. Raises DocumentError."""
    return _table(build(assembly), track, end, share, None, 0, progress)


def whole_table(
    assembly: Assembly, track: Track, end: int, share: float, *, progress: Callable[[int, int], None]
) -> EffectsTable:
    """The table with the bands and with what each step does to a lap and to a run. Raises DocumentError."""
    car = build(assembly)
    timed = Timed(car, track, share)
    first = len(timed.steps) + LAP_DRAWS
    in_all = first + len(timed.steps) + DRAWS
    progress(0, in_all)
    timed.all(lambda done: progress(done, in_all))
    return _table(car, track, end, share, timed, DRAWS, lambda done, _: progress(first + done, in_all))


def _table(
    car: Packed,
    track: Track,
    end: int,
    share: float,
    timed: Timed | None,
    draws: int,
    progress: Callable[[int, int], None],
) -> EffectsTable:
    found = effects(
        car,
        track,
        Conditions(),
        fuel_share=share,
        end=end,
        steps=adjustments(car.assembly, rounds=ROUNDS),
        draws=draws,
        progress=progress,
    )
    return EffectsTable(
        rows=tuple(_row(effect, timed) for effect in found.rows),
        speeds=found.speeds,
        lap=timed.base_lap if timed else math.nan,
        run=timed.base_run if timed else math.nan,
        no_run=timed.no_run if timed else "",
        draws=found.draws,
        failed=found.failed,
        notes=found.notes,
    )


def _row(effect: Effect, timed: Timed | None) -> OneStep:
    return OneStep(
        name=effect.step.name,
        part=effect.step.part,
        where=effect.step.where,
        turned=sum(effect.step.rounds.values()),
        bolted=effect.bolted,
        reset=effect.reset,
        why={place: effect.problem or why(moved) for place in PLACES if (moved := effect.told(place))},
        why_bolted={place: why(moved) for place, moved in effect.bolted.items()},
        lap_band=timed.bands.get(effect.step.name, NO_BAND) if timed else NO_BAND,
        section=timed.sections.get(effect.step.name, NOWHERE) if timed else NOWHERE,
        lap=timed.laps.get(effect.step.name, NONE) if timed else NONE,
        run=timed.runs.get(effect.step.name, NONE) if timed else NONE,
        problem=effect.problem,
    )
