"""A track document as the ribbon of road it stands for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ovalwright.documents import DocumentError, Track
from ovalwright.documents.oval import STANDS_FOR_BOTH, End
from ovalwright.pack.pegs import ribbon_of_pegs
from ovalwright.pack.road import INWARD, center_radius
from ovalwright.road import Ribbon, Section
from ovalwright.road.line import driven_length
from ovalwright.road.profile import Profile, constant, integral, pieced, through, times
from ovalwright.road.sections import NAMES, four_sections
from ovalwright.road.shape import Bend, Plan, ShapeError, Turn, closed_plan, from_distance
from ovalwright.units import show

_MATCH = 1e-6


@dataclass(frozen=True)
class Laid:
    """A track laid out: its ribbon, and a sentence for each figure that did not fit and was adjusted."""

    ribbon: Ribbon
    remarks: tuple[str, ...] = ()


def ribbon_of(track: Track) -> Ribbon:
    """The ribbon of a track. Raises DocumentError, one sentence, when its figures do not make a lap."""
    return lay(track).ribbon


def lay(track: Track) -> Laid:
    """The ribbon of a track, and what was adjusted to close it. Raises DocumentError."""
    try:
        if track.pegs:
            return Laid(*ribbon_of_pegs(track))
        _check_width(track)
        ribbon, plan = _as_long_as_measured(track)
    except ShapeError as problem:
        raise _unfit(track, problem) from None
    except DocumentError:
        raise
    except ValueError as problem:
        raise DocumentError(f"{track.file_name}: {problem}.") from None
    return Laid(ribbon, _straight_remark(track, plan))


def both_ends(track: Track) -> tuple[End, End]:
    """The two ends in the order they are driven; one written stands for both."""
    return track.ends[0], track.ends[-1]


def _as_long_as_measured(track: Track) -> tuple[Ribbon, Plan]:
    """The ribbon whose lap is as long as written along where it was measured."""
    side = INWARD[track.length_at]
    length = track.length.si + side * math.pi * track.width.si
    for _ in range(8):
        plan = _plan(track, length)
        ribbon = _ribbon(track, plan)
        offset = constant(0.5 * side * track.width.si * ribbon.hand, ribbon.length)
        over = driven_length(ribbon, offset) - track.length.si
        if abs(over) < _MATCH:
            return ribbon, plan
        length -= over
    raise ShapeError("turns", 0.0)


def _plan(track: Track, length: float) -> Plan:
    first, second = (Turn(center_radius(track, end), end.turn_in.si) for end in both_ends(track))
    if (bend := track.front_bend) is None:
        return closed_plan((first, second), length)
    of = bend.length.si if bend.length else None
    return closed_plan((first, second), length, Bend(bend.angle.si, of, bend.turn_in.si))


class _Knot(NamedTuple):
    """A place [m from where the last turn ends] with a value from which and to which it is eased."""

    at: float
    value: float


def _ribbon(track: Track, plan: Plan) -> Ribbon:
    """The ribbon of a plan, turned to the start line, mirrored for right turns."""
    start = track.start_line.si if track.start_line else 0.5 * plan.front
    if start >= plan.front:
        raise DocumentError(
            f"{track.place('start_line')}, start_line: lies {show(start, 'road_length')} after the last turn "
            f"and the front straight is {show(plan.front, 'road_length')} long; write less than that."
        )
    hand = 1 if track.turns == "left" else -1
    lengths, begins, ends = zip(*from_distance(plan.runs, start), strict=True)
    curvature = pieced(lengths, begins, ends, "linear")
    length = float(curvature.x[-1])
    bank = _eased(_bank_knots(track, plan), start, length)
    half = constant(0.5 * track.width.si, length)
    breaks = {*curvature.x[:-1].tolist(), *np.mod(bank.x, length).tolist()}
    return Ribbon(
        curvature=times(curvature, hand),
        bank=times(bank, hand),
        height=integral(_eased(_climb_knots(track, plan), start, length)),
        left=half,
        right=half,
        sections=_sections(track, plan, start, length),
        breaks=tuple(sorted(breaks)),
        hand=hand,
    )


def _eased(knots: list[_Knot], start: float, length: float) -> Profile:
    """The periodic profile through knots, in distances from the start line."""
    turned = sorted((math.fmod(knot.at - start + length, length), knot.value) for knot in knots)
    places, values = zip(*turned, strict=True)
    return through(places, values, length, "quintic")


def _marks(plan: Plan) -> tuple[float, float, float, float, float]:
    """Where front straight, first end, back straight and second end begin, and the lap ends [m]."""
    lengths = [sum(run.length for run in stretch) for stretch in plan.stretches]
    return tuple(np.concatenate(([0.0], np.cumsum(lengths))).tolist())


def _bank_knots(track: Track, plan: Plan) -> list[_Knot]:
    """The bank eases about the middle of each clothoid (common practice, no source)."""
    _, first, back, second, lap = _marks(plan)
    flat, bend = track.straight_bank.si, track.front_bend
    knots: list[_Knot] = []
    if bend is not None and bend.bank is not None:
        length = plan.front if bend.length is None else bend.length.si
        begin, end = 0.5 * (plan.front - length), 0.5 * (plan.front + length)
        knots += _banked(begin, end, bend.turn_in.si, bend.turn_in.si, flat, bend.bank.si)
    for begin, end, one in zip((first, second), (back, lap), both_ends(track), strict=True):
        knots += _banked(begin, end, one.turn_in.si, one.bank_change.si, flat, one.bank.si)
    places = [knot.at for knot in knots]
    for here, ahead in pairwise([*places, places[0] + lap]):
        if ahead < here - _MATCH:
            raise DocumentError(
                f"{track.place('ends')}, bank_change: the bank cannot be gained and lost over so much road, "
                f"which lacks {show(here - ahead, 'road_length')}; write less."
            )
    return knots


def _banked(
    begin: float, end: float, turn_in: float, change: float, flat: float, steep: float
) -> tuple[_Knot, ...]:
    into, out = begin + 0.5 * turn_in, end - 0.5 * turn_in
    half = 0.5 * change
    return (
        _Knot(into - half, flat),
        _Knot(into + half, steep),
        _Knot(out - half, steep),
        _Knot(out + half, flat),
    )


def _climb_knots(track: Track, plan: Plan) -> list[_Knot]:
    """The front straight climbs as written, the back gives it back, the ends ease from one to the other."""
    _, first, back, second, lap = _marks(plan)
    ends = 0.5 * (back - first + lap - second)
    up = track.grade.si
    down = -up * (plan.front + ends) / (plan.back + ends)
    return [_Knot(0.0, up), _Knot(first, up), _Knot(back, down), _Knot(second, down)]


def _sections(track: Track, plan: Plan, start: float, length: float) -> tuple[Section, ...]:
    names = list(NAMES)
    for number, end in enumerate(track.ends):
        if end.name != STANDS_FOR_BOTH:
            names[2 * number + 1] = end.name
    marks = [math.fmod(mark - start + length, length) for mark in _marks(plan)[:4]]
    return four_sections(marks, names)


# ---------------- figures that do not fit


def _check_width(track: Track) -> None:
    half = 0.5 * track.width.si
    for number, end in enumerate(both_ends(track)[: len(track.ends)]):
        radius = center_radius(track, end)
        if half * math.cos(end.bank.si) > 0.9 * radius:
            raise DocumentError(
                f"{track.place('ends', number, 'radius')}, ends[{number + 1}].radius: a road "
                f"{show(track.width.si, 'road_width')} wide does not fit around a radius of "
                f"{end.radius.text}; write the width of the road and the radius of its turn."
            )


def _unfit(track: Track, problem: ShapeError) -> DocumentError:
    """A plan that does not close, by the keys that are to blame."""
    lap = f"the lap of {track.length.text}"
    lacks = show(problem.lacks, "road_length")
    number = {"first": 0, "second": len(track.ends) - 1}.get(problem.part)
    if number is not None:
        end = track.ends[number]
        return DocumentError(
            f"{track.place('ends', number, 'turn_in')}, ends[{number + 1}].turn_in: a turn of "
            f"{end.radius.text} radius is {lacks} too short to gain and lose its curvature over "
            f"{end.turn_in.text} each; write less."
        )
    if problem.part == "front" and track.front_bend is not None:
        return DocumentError(
            f"{track.place('front_bend')}, front_bend: lacks {lacks} of front straight in {lap}; "
            "write a shorter bend, a shorter turn_in or a smaller angle."
        )
    if problem.lacks == 0.0:
        return DocumentError(
            f"{track.place('length')}, length: no lap of {track.length.text} closes around such ends; check "
            "it, the radius and turn_in of each end, and where they were measured (length_at, radius_at)."
        )
    return DocumentError(
        f"{track.place('length')}, length: the ends alone are {lacks} longer than {lap}; "
        "check length, radius and turn_in, and where they were measured (length_at, radius_at)."
    )


def _straight_remark(track: Track, plan: Plan) -> tuple[str, ...]:
    """A straight that was measured against the one that closes the lap. Raises DocumentError when far off."""
    if track.straight is None:
        return ()
    over = 2.0 * (track.straight.si - plan.back)
    ends = both_ends(track)
    slack = math.hypot(
        track.length.give_or_take,
        2.0 * track.straight.give_or_take,
        *(angle * end.radius.give_or_take for angle, end in zip(plan.angles, ends, strict=True)),
        *(end.turn_in.give_or_take for end in ends),
    )
    if abs(over) < 0.002 * track.length.si:
        return ()
    longer = f"{show(abs(over), 'road_length')} {'long' if over > 0.0 else 'short'}"
    if abs(over) > slack:
        raise DocumentError(
            f"{track.place('straight')}, straight: with straights of {track.straight.text}, the radii and "
            f"turn_in the lap comes out {longer} of its {track.length.text}; check them, and where length "
            "and radius were measured (length_at, radius_at)."
        )
    return (
        f"{track.place('straight')}, straight: {track.straight.text} makes the lap {longer}, within the "
        f"give-or-take of its figures; {show(plan.back, 'road_length')} closes it and is used.",
    )
