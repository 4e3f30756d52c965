"""What moved, by the pattern of a set-down: a bolt moves a diagonal, fuel the whole car, a pad one wheel.

A jack bolt, a collar or a tired spring cannot change what the car weighs: it moves load from one diagonal to
the other. How many rounds at which corner would do it is asked of the car itself, let settle with that bolt
turned; measured heights tell the four corners apart. One wheel alone, or weight from end to end, is no bolt.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from ovalwright.documents import DocumentError
from ovalwright.pack import Packed, turn_jack_bolts
from ovalwright.study.rounds import MOST_ROUNDS
from ovalwright.study.set_down import SetDownLine, stood_weights, weighing_covariance
from ovalwright.study.weigh import CornerWeights, signs_of
from ovalwright.vehicle.record import CORNERS

Array = npt.NDArray[np.float64]
Pattern = Literal[
    "whole", "diagonal", "cross", "some_weights", "one_wheel", "ends", "sides", "odd", "heights", "height",
    "height_alone", "camber", "toe_out", "hot", "roll_out",
]  # fmt: skip
NEAR = 0.025
"""A bolt is told when it gives the cross that was found to this share (judgement, no source)."""
TRIES = 5

Lines = Mapping[tuple[str, str], SetDownLine]


@dataclass(frozen=True)
class Bolt:
    """A bolt that would give the cross that was found: its corner, how many rounds, how far that corner rises
    by it [m], and whether the heights that were measured agree (None where none was).
    """

    corner: str
    rounds: float
    rise: float
    agrees: bool | None


@dataclass(frozen=True)
class Sign:
    """One pattern: where, `by` how much [SI of what it is]; of the whole car how much `fuel` [m3] that is.

    `whole` and `one_wheel` are in kg, `ends` is what the rear and `sides` what the right gained [kg],
    `diagonal` and `cross` are a change of cross (fraction of one) with the `bolts` that would give it.
    """

    pattern: Pattern
    by: float
    place: str = ""
    fuel: float = 0.0
    bolts: tuple[Bolt, ...] = ()


def what_moved(packed: Packed, lines: Sequence[SetDownLine]) -> tuple[Sign, ...]:
    """The patterns in the lines of a `set_down` of the same car; none where all is as it was.

    Raises DocumentError when the car cannot stand.
    """
    told = {(line.what, line.place): line for line in lines}
    weighed = all(("weight", corner) in told for corner in CORNERS)
    weighing = Weighing.of(packed, told) if weighed else None
    if not any(line.flagged for line in lines) and not (weighing and weighing.whole_moved):
        return ()
    weights = _of_weights(packed, told, weighing) if weighing else _of_cross(packed, told)
    moved = any(sign.pattern in ("diagonal", "cross", "odd", "one_wheel") for sign in weights)
    return (*weights, *_of_heights(told, moved), *_of_others(told))


# ---------------- weights


@dataclass(frozen=True)
class Weighing:
    """Four weights LF RF LR RR less those expected [kg] and their covariance [kg^2]."""

    by: Array
    expected: Array
    covariance: Array

    @classmethod
    def of(cls, packed: Packed, told: Lines) -> Weighing:
        """From lines that hold all four weights."""
        four = [told["weight", corner] for corner in CORNERS]
        seen = {("weight", line.place): line.measured for line in four}
        by, expected = np.array([[line.by, line.expected] for line in four]).T
        return cls(by, expected, weighing_covariance(packed, seen))

    def seen(self, slope: Array) -> bool:
        """Whether the part of the differences along `slope` is more than weighing explains (95 %)."""
        return abs(float(slope @ self.by)) > 2.0 * math.sqrt(float(slope @ self.covariance @ slope))

    @property
    def whole_moved(self) -> bool:
        """Whether the car weighs something else."""
        return self.seen(signs_of("total_weight"))

    def without_whole(self) -> Weighing:
        """The differences that are left when the whole car is made to weigh what was expected."""
        spread = np.eye(4) - np.outer(self.expected, np.ones(4)) / self.expected.sum()
        return self._through(spread)

    def beside_the_diagonal(self) -> Weighing:
        """The differences that are left when what went from one diagonal to the other is taken out."""
        signs = signs_of("wedge")
        return self._through(np.eye(4) - np.outer(signs, signs) / 4.0)

    def _through(self, matrix: Array) -> Weighing:
        return Weighing(matrix @ self.by, self.expected, matrix @ self.covariance @ matrix.T)

    @property
    def any_seen(self) -> bool:
        """Whether one of the four is more than weighing explains."""
        return any(self.seen(wheel) for wheel in np.eye(4))


def _of_weights(packed: Packed, told: Lines, weighing: Weighing) -> list[Sign]:
    """What four weights say."""
    lone = _one_wheel(weighing)
    if lone is not None:
        return [Sign("one_wheel", float(weighing.by[lone]), CORNERS[lone])]
    signs, left = [], weighing
    if weighing.whole_moved:
        more = float(weighing.by.sum())
        signs.append(Sign("whole", more, fuel=more / packed.assembly.car.fuel_cell.density.si))
        left = weighing.without_whole()
    cross, beside = told["cross", ""], left.beside_the_diagonal()
    if cross.flagged:
        clean = not beside.any_seen
        bolts = _bolts(packed, told, cross.by) if clean else ()
        signs.append(Sign("diagonal" if clean else "odd", cross.by, bolts=bolts))
    elif beside.any_seen:
        rear, right = (float(signs_of(part) @ left.by) for part in ("rear_weight", "right_weight"))
        signs.append(Sign("ends", rear) if abs(rear) >= abs(right) else Sign("sides", right))
    return signs


def _one_wheel(weighing: Weighing) -> int | None:
    """The one wheel that is off while each of the others is as it was, within one standard deviation."""
    sd = np.sqrt(np.diag(weighing.covariance))
    off = np.abs(weighing.by) / sd
    worst = int(np.argmax(off))
    alone = off[worst] > 2.0 and bool(np.all(np.delete(off, worst) <= 1.0))
    return worst if alone else None


def _of_cross(packed: Packed, told: Lines) -> list[Sign]:
    """What a cross says that was typed without four weights; fewer weights tell no pattern."""
    cross = told.get(("cross", ""))
    if cross is None or not cross.flagged:
        off = [corner for corner in CORNERS if _flagged(told, "weight", corner)]
        return [Sign("some_weights", told["weight", off[0]].by, off[0])] if off else []
    return [Sign("cross", cross.by, bolts=_bolts(packed, told, cross.by))]


# ---------------- which bolt


def _bolts(packed: Packed, told: Lines, cross: float) -> tuple[Bolt, ...]:
    """Each corner's bolt that gives a change of `cross`; one that would have to turn too far is left out."""
    found = [_bolt(packed, told, corner, cross) for corner in CORNERS]
    return tuple(one for one in found if one is not None)


def _bolt(packed: Packed, told: Lines, corner: str, wanted: float) -> Bolt | None:
    if getattr(packed.assembly.setup, corner).coil is None:
        return None
    cross, heights = _stands(packed)
    turns = 1.0
    try:
        for _ in range(TRIES):
            now_cross, now = _stands(turn_jack_bolts(packed, {corner: turns}))
            gives = now_cross - cross
            if abs(gives - wanted) <= NEAR * abs(wanted):
                break
            if gives == 0.0:
                return None
            turns = float(np.clip(turns * wanted / gives, -MOST_ROUNDS, MOST_ROUNDS))
        else:
            return None
    except DocumentError:
        return None
    rises = now - heights
    measured = [(i, told["height", one]) for i, one in enumerate(CORNERS) if ("height", one) in told]
    agrees = all(abs(line.by - float(rises[i])) <= line.scatter for i, line in measured) if measured else None
    return Bolt(corner, turns, float(rises[CORNERS.index(corner)]), agrees)


def _stands(packed: Packed) -> tuple[float, Array]:
    """Cross and the heights LF RF LR RR [m] of a standing car."""
    weights = CornerWeights.of(stood_weights(packed))
    return weights.get("cross_percent"), np.array(packed.standing.corners()["height"], dtype=float)


# ---------------- the rest


def _of_heights(told: Lines, moved: bool) -> list[Sign]:
    """Heights that are off while the weights say nothing of it."""
    off = [told["height", corner] for corner in CORNERS if _flagged(told, "height", corner)]
    if not off or moved:
        return []
    alike = len(off) == len(CORNERS) and len({line.by > 0.0 for line in off}) == 1
    if alike:
        return [Sign("heights", sum(line.by for line in off) / len(off))]
    pattern: Pattern = "height" if ("cross", "") in told else "height_alone"
    return [Sign(pattern, line.by, line.place) for line in off]


def _of_others(told: Lines) -> list[Sign]:
    """Camber, toe, pressures and roll-outs that are off."""
    whats: tuple[Pattern, ...] = ("camber", "toe_out", "hot", "roll_out")
    return [
        Sign(what, told[what, place].by, place)
        for what in whats
        for place in (*CORNERS, "")
        if _flagged(told, what, place)
    ]


def _flagged(told: Lines, what: str, place: str) -> bool:
    return (what, place) in told and told[what, place].flagged
