"""When a tire went away: the run from which on it no longer did what it had done before.

Each track has its own level. From one run on the tire lies above its level everywhere by one step: least
squares of the level of each track and of the step, tried from every run on. The step whose t is greatest
counts when it is that great by chance less often than `CHANCE`, over all the runs tried (Bonferroni, from
memory). Weather and setup are not taken out of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.asked.find import FoundRun, found_runs
from ovalwright.notebook.garage.parts import part_of
from ovalwright.notebook.tables import Part, Ridden, Run

CHANCE = 0.01
"""How often a tire that stayed as it was is said to have gone away, at most, by each of the two numbers."""
FEWEST_BEFORE = 3
"""Runs that make a level (common practice, no source)."""
LEAST = {"fall_off": 0.1, "best": 0.1}
"""Steps a racer does not call going away: s per 10 laps, s (common practice, no source)."""
FINEST = 0.02
"""Least scatter reckoned with, in the same units: runs are no more alike than this (common practice)."""
SAID = {"fall_off": ("fall-off", "s per 10 laps"), "best": ("best lap", "s")}


@dataclass(frozen=True)
class RunOnTire:
    """A run on a tire, where it was, and the laps that it had at the start of it."""

    run: FoundRun
    place: str
    laps_before: int


@dataclass(frozen=True)
class Step:
    """From run `at` (counted from 0) on, values lie `by` above their level; `chance` that it is none."""

    at: int
    by: float
    chance: float


@dataclass(frozen=True)
class WentAway:
    """The runs on a tire in order; the one where it left its level, and by which number, empty if it did not.

    `before` and `after` are means of that number (s per 10 laps, or s) at the tracks driven on both sides.
    `beside` are the tires that were on the car in every one of these runs: the numbers are theirs too.
    """

    tire: str
    runs: tuple[RunOnTire, ...]
    run: str
    by: str
    before: float | None
    after: float | None
    said: str
    beside: tuple[str, ...] = ()


def when_it_went_away(session: Session, tire: str) -> WentAway:
    """When a tire, by its mark, left its own earlier level. Raises NotebookTrouble for one not known."""
    part = part_of(session, tire if tire.lower().startswith("tire ") else f"tire {tire}")
    runs = _runs_on(session, part)
    if not runs:
        return WentAway(part.mark, (), "", "", None, None, f"tire {part.mark} was in no run yet.")
    found = {
        by: step
        for by in SAID
        if (step := left_level([getattr(one.run, by) for one in runs], _tracks(runs), LEAST[by]))
    }
    if not found:
        return WentAway(part.mark, runs, "", "", None, None, _not_gone(part, runs))
    by = min(found, key=lambda one: (found[one].chance, one))
    return _gone(part, runs, by, found[by], _beside(session, part, len(runs)))


def left_level(values: Sequence[float | None], places: Sequence[str], least: float) -> Step | None:
    """Where values, each at its place, rise above their level by at least `least` and stay there, if they do.

    `values` in order, None where there is none; every place has its own level.
    """
    known = [k for k, value in enumerate(values) if value is not None]
    y = np.array([values[k] for k in known], dtype=float)
    _, group = np.unique([places[k] for k in known], return_inverse=True)
    tried = range(FEWEST_BEFORE, len(y))
    free = len(y) - (group.max() + 1 if len(y) else 0) - 1
    if free < 2:
        return None
    about = _about_means(y, group)
    best: tuple[float, float, int] | None = None
    for k in tried:
        step = _about_means((np.arange(len(y)) >= k).astype(float), group)
        lever = float(step @ step)
        if lever < 1e-9:
            continue
        by = float(step @ about) / lever
        scatter = np.sqrt(float(np.sum((about - by * step) ** 2)) / free + FINEST**2)
        best = max(best or (-np.inf, 0.0, 0), (by * np.sqrt(lever) / scatter, by, k))
    if best is None or best[1] < least:
        return None
    from scipy.stats import t as student

    chance = min(1.0, float(student.sf(best[0], free)) * len(tried))
    return Step(known[best[2]], best[1], chance) if chance < CHANCE else None


def _about_means(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Values less the mean of their group."""
    return np.asarray(values - (np.bincount(group, values) / np.bincount(group))[group])


# ---------------- the notebook's side


def _runs_on(session: Session, part: Part) -> tuple[RunOnTire, ...]:
    query = sa.select(Run.id, Ridden.place).join(Ridden, Ridden.run_id == Run.id)
    rows = session.execute(query.where(Ridden.part_id == part.id).order_by(Run.started, Run.id)).all()
    laps, runs = part.laps_before, []
    for run, (_, place) in zip(found_runs(session, [row[0] for row in rows]), rows, strict=True):
        runs.append(RunOnTire(run, place, laps))
        laps += run.laps
    return tuple(runs)


def _beside(session: Session, part: Part, runs: int) -> tuple[str, ...]:
    """The marks of the tires that were in all runs of a tire."""
    mine = sa.select(Ridden.run_id).where(Ridden.part_id == part.id)
    query = sa.select(Part.mark).join(Ridden, Ridden.part_id == Part.id).where(Ridden.run_id.in_(mine))
    query = query.where(Part.kind == part.kind, Part.id != part.id).group_by(Part.id, Part.mark)
    return tuple(session.scalars(query.having(sa.func.count() == runs).order_by(sa.func.min(Ridden.place))))


def _tracks(runs: Sequence[RunOnTire]) -> list[str]:
    return [one.run.track or one.run.event for one in runs]


def _gone(part: Part, runs: tuple[RunOnTire, ...], by: str, step: Step, beside: tuple[str, ...]) -> WentAway:
    """Both sides in numbers, over the tracks that are on both."""
    tracks = _tracks(runs)
    both = set(tracks[: step.at]) & set(tracks[step.at :])
    values = [
        (k >= step.at, getattr(one.run, by))
        for k, one in enumerate(runs)
        if tracks[k] in both and getattr(one.run, by) is not None
    ]
    before, after = (
        float(np.mean([value for late, value in values if late is side])) for side in (False, True)
    )
    what, unit = SAID[by]
    at = runs[step.at]
    said = (
        f"tire {part.mark} went away in run {at.run.code} of {at.run.date}, at {at.laps_before} laps: "
        f"{what} {after:.2f} {unit} from there on, {before:.2f} before."
    )
    if beside:
        said += (
            f" It was never without {', '.join(beside)}: the numbers are those of the set and of the whole "
            "car, and do not tell which of them went away."
        )
    return WentAway(part.mark, runs, at.run.code, by, before, after, said, beside)


def _not_gone(part: Part, runs: Sequence[RunOnTire]) -> str:
    laps = runs[-1].laps_before + runs[-1].run.laps
    told = sum(one.run.fall_off is not None for one in runs)
    if told <= FEWEST_BEFORE:
        few = f"{told} run{'' if told == 1 else 's'} with a fall-off"
        return f"tire {part.mark} has {few}; it takes {FEWEST_BEFORE + 1} to tell that it went away."
    return f"tire {part.mark} has not left its level in {len(runs)} runs and {laps} laps."
