"""Where a coil picks up or leaves its seat, where a stop engages, a wheel lifts or the frame drags: along
the turn, over lateral acceleration, and as the fuel burns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.pack import Packed, watched_points, with_fuel
from ovalwright.vehicle.record import CORNERS, Record

from .state import Four, Loads, Solved, loads_of, solve
from .stations import along, at_speed, hand, lateral, speed_at

Array = npt.NDArray[Any]
SAMPLES = 41
SLOWEST = 0.2
"""Lateral acceleration [m/s^2] at which a sweep over it begins."""
HALVINGS = 14
FUEL_SAMPLES = 11
TOUCHES, LEAVES = "touches", "leaves"


@dataclass(frozen=True)
class Contact:
    """A part that touches or leaves, at a share of the sweep.

    `part` is "coil", "stop", "bind", "wheel" or "frame", `place` the corner or the frame point; `speed`
    [m/s], `lateral` acceleration in the plane of the road [m/s^2].
    """

    part: str
    place: str
    happens: str
    share: float
    speed: float
    lateral: float


@dataclass(frozen=True)
class SweepPoint:
    """One state of a sweep: share of it, speed [m/s], lateral [m/s^2], loads, coil gaps [m] (nan: no
    coil).
    """

    share: float
    speed: float
    lateral: float
    loads: Loads
    gaps: Four


@dataclass(frozen=True)
class Sweep:
    """States one after the other and the contacts between them; `begins` what touches in the first of them
    (part, place), `missing` how many had no trim.
    """

    points: tuple[SweepPoint, ...]
    begins: tuple[tuple[str, str], ...]
    contacts: tuple[Contact, ...]
    missing: int


@dataclass(frozen=True)
class FuelContact:
    """A coil that touches or leaves its seat on level ground as the fuel goes down to `fuel` [kg]."""

    corner: str
    happens: str
    fuel: float


def _parts(packed: Packed) -> list[tuple[str, str, Callable[[Solved], float]]]:
    """Every part that can touch: what, where, and its gap [m] in a solved state, negative when it touches."""
    parts: list[tuple[str, str, Callable[[Solved], float]]] = []
    record = packed.record
    for i, corner in enumerate(CORNERS):
        if record["coil_rate"][i] > 0.0:
            parts.append(("coil", corner, _reader("coil_gap", i, 0.0)))
            parts.append(("bind", corner, _reader("coil_gap", i, float(record["coil_bind"][i]))))
        if record["stop_rate"][i] > 0.0:
            parts.append(("stop", corner, _reader("stop_gap", i, 0.0)))
        parts.append(("wheel", corner, _reader("squash", i, 0.0, -1.0)))
    for i, point in enumerate(watched_points(packed.values()[0])):
        parts.append(("frame", point.name, _clearance(i)))
    return parts


def _reader(field: str, i: int, shift: float, sign: float = 1.0) -> Callable[[Solved], float]:
    return lambda solved: sign * float(solved.corners[field][i]) + shift


def _clearance(i: int) -> Callable[[Solved], float]:
    return lambda solved: float(solved.gaps[i])


def sweep(packed: Packed, place: Callable[[float], Record], samples: int = SAMPLES) -> Sweep:
    """Solve the motions `place(share)` for shares 0 to 1 and find every contact between them by bisection."""
    parts = _parts(packed)
    states = [(share, solve(packed, place(share))) for share in np.linspace(0.0, 1.0, samples).tolist()]
    found = [(share, solved) for share, solved in states if solved.found]
    gaps = np.array([[gap(solved) for _, _, gap in parts] for _, solved in found])
    contacts = []
    for k in range(len(found) - 1):
        for n in np.flatnonzero((gaps[k] > 0.0) != (gaps[k + 1] > 0.0)):
            part, where, gap = parts[n]
            happens = TOUCHES if gaps[k + 1, n] <= 0.0 else LEAVES
            share = _bisect(packed, place, gap, found[k][0], found[k + 1][0])
            at = place(share)
            contacts.append(Contact(part, where, happens, share, float(at["speed"]), lateral(at)))
    return Sweep(
        points=tuple(_point(share, solved) for share, solved in found),
        begins=tuple((part, where) for part, where, gap in parts if found and gap(found[0][1]) <= 0.0),
        contacts=tuple(sorted(contacts, key=lambda contact: contact.share)),
        missing=samples - len(found),
    )


def _bisect(
    packed: Packed, place: Callable[[float], Record], gap: Callable[[Solved], float], low: float, high: float
) -> float:
    """Share at which a gap closes or opens, between two shares of which one has it open."""
    opens_high = gap(solve(packed, place(high))) > 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        solved = solve(packed, place(middle))
        if not solved.found:
            break
        if (gap(solved) > 0.0) == opens_high:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


def _point(share: float, solved: Solved) -> SweepPoint:
    gaps = [
        float(gap) if rate > 0.0 else np.nan
        for gap, rate in zip(solved.corners["coil_gap"], solved.record["coil_rate"], strict=True)
    ]
    speed = float(solved.motion["speed"])
    return SweepPoint(share, speed, lateral(solved.motion), loads_of(solved.corners), Four(*gaps))


def through_turn(packed: Packed, stations: Sequence[Record], samples: int = SAMPLES) -> Sweep:
    """Contacts along the turn: `stations` are the motions of entry to exit, at their speeds."""
    return sweep(packed, lambda share: along(stations, share), samples)


def over_lateral(packed: Packed, motion: Record, top: float, samples: int = SAMPLES) -> Sweep:
    """Contacts as the lateral acceleration in the plane of the road rises from almost none to `top` [m/s^2,
    positive] at one place. The share is that of the whole rise.
    """
    turn = hand(motion)

    def place(share: float) -> Record:
        return at_speed(motion, speed_at(motion, turn * (SLOWEST + share * (top - SLOWEST))))

    return sweep(packed, place, samples)


def as_fuel_burns(packed: Packed) -> tuple[FuelContact, ...]:
    """At which fuel each coil touches or leaves its seat on level ground, full cell first."""
    cell = packed.values()[0].fuel_cell
    full = float(cell.capacity * cell.density)

    def gaps(fuel: float) -> Array:
        return np.asarray(with_fuel(packed, fuel).standing.corners()["coil_gap"])

    steps = np.linspace(full, 0.0, FUEL_SAMPLES).tolist()
    held = [gaps(fuel) for fuel in steps]
    found = []
    for k in range(FUEL_SAMPLES - 1):
        for i, corner in enumerate(CORNERS):
            if packed.record["coil_rate"][i] == 0.0 or (held[k][i] > 0.0) == (held[k + 1][i] > 0.0):
                continue
            opens, high, low = held[k + 1][i] > 0.0, steps[k], steps[k + 1]
            for _ in range(HALVINGS):
                middle = 0.5 * (high + low)
                if (gaps(middle)[i] > 0.0) == opens:
                    low = middle
                else:
                    high = middle
            found.append(FuelContact(corner, LEAVES if opens else TOUCHES, 0.5 * (high + low)))
    return tuple(found)
