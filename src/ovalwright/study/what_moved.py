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

from ovalwright.documents import Assembly, DocumentError
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, turn_jack_bolts
from ovalwright.study.rounds import MOST_ROUNDS
from ovalwright.study.set_down import SetDownLine, came_back
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


def what_moved(
    assembly: Assembly,
    lines: Sequence[SetDownLine],
    *,
    fuel: float | None = None,
    driver: bool | None = None,
) -> tuple[Sign, ...]:
    """The patterns in the lines of a `set_down` of the same `fuel` and `driver`; none where all is as it was.

    Raises DocumentError when the car cannot stand.
    """
    told = {(line.what, line.place): line for line in lines}
    weighed = all(("weight", corner) in told for corner in CORNERS)
    if not any(line.flagged for line in lines) and not (weighed and _whole_moved(told)):
        return ()
    packed = came_back(assembly, fuel=fuel, driver=driver)
    weights = _of_weights(packed, told) if weighed else _of_cross(packed, told)
    moved = any(sign.pattern in ("diagonal", "cross", "odd", "one_wheel") for sign in weights)
    return (*weights, *_of_heights(told, moved), *_of_others(told))


# ---------------- weights


def _of_weights(packed: Packed, told: Lines) -> list[Sign]:
    """What four weights say."""
    by = np.array([told["weight", corner].by for corner in CORNERS])
    scatter = np.array([told["weight", corner].scatter for corner in CORNERS])
    expected = np.array([told["weight", corner].expected for corner in CORNERS])
    flagged = np.abs(by) > scatter
    worst = int(np.argmax(np.abs(by) - scatter))
    if flagged[worst] and np.all(np.delete(np.abs(by) <= scatter / 2.0, worst)):
        return [Sign("one_wheel", float(by[worst]), CORNERS[worst])]
    signs, left = [], by
    if _whole_moved(told):
        density = packed.assembly.car.fuel_cell.density.si
        signs.append(Sign("whole", float(by.sum()), fuel=float(by.sum()) / density))
        left = by - by.sum() * expected / expected.sum()
    cross = told["cross", ""]
    if cross.flagged:
        across = _diagonal(left)
        clean = bool(np.all(np.abs(left - across) <= scatter))
        bolts = _bolts(packed, told, cross.by) if clean else ()
        signs.append(Sign("diagonal" if clean else "odd", cross.by, bolts=bolts))
    elif np.any(np.abs(left) > scatter):
        rear, right = float(left[2] + left[3]), float(left[1] + left[3])
        signs.append(Sign("ends", rear) if abs(rear) >= abs(right) else Sign("sides", right))
    return signs


def _whole_moved(told: Lines) -> bool:
    """Whether the car weighs something else than the scatter of four readings explains."""
    four = [told["weight", corner] for corner in CORNERS]
    return abs(sum(one.by for one in four)) > math.sqrt(sum(one.scatter**2 for one in four))


def _diagonal(by: Array) -> Array:
    """The part of four differences LF RF LR RR that went from one diagonal to the other."""
    signs = np.array([-1.0, 1.0, 1.0, -1.0])
    return signs * float(signs @ by) / 4.0


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
    stood = packed.standing.corners()
    loads = np.asarray(stood["load"], dtype=float) / GRAVITY
    return float((loads[1] + loads[2]) / loads.sum()), np.array(stood["height"], dtype=float)


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
