"""On the scales: seats, sprung masses and alignment that explain a sheet.

A racer knows heights, weights, camber and toe, not seat heights. `weigh` finds the seats with the kernel's
as-measured solver and turns camber, toe, axle yaw, stops and the bar's link to their values on the standing
car.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.documents import DocumentError
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import settle, settle_as_measured, standing
from ovalwright.vehicle.answer import bar_angle, read_corners
from ovalwright.vehicle.record import CAR, CORNER, CORNERS, SIZE, Record

from . import masses, parts, tires
from .drawing import (
    Drawing,
    axle_yaw,
    draw,
    inclinations,
    set_alignment,
    set_linkage,
    steers,
    wheels_over_patches,
)
from .values import Values

Array = npt.NDArray[np.float64]
ALIGNED = 5e-6
"""Camber, toe and axle yaw are set to this [rad]."""
LINKED = 1e-8
"""The link of a bar that was hooked up on the scales is set to this [rad]."""
PLACED = 1e-8
"""Stops are placed to this [m]."""
PASSES = 12
CROSS_ERROR = 0.0025
"""One standard deviation of a cross-weight reading (common practice, no source)."""
HEIGHT_ERROR = 0.0254 / 16.0
"""One standard deviation of a ride height reading [m] (common practice, no source)."""
LEAST_PUSH = 200.0
"""A guessed seat squeezes its coil by at least this [N], so that the solver feels it."""
WORTH_SAYING = 2.0
"""Measuring errors beyond which a disagreement is reported."""


@dataclass(frozen=True)
class Standing:
    """A car on level ground: its record and the 14 unknowns of its settled state."""

    record: Record
    settled: Array

    def corners(self) -> npt.NDArray[Any]:
        """What the four corners LF RF LR RR do there (dtype CORNER)."""
        return corners_of(self.record, self.settled)


@dataclass(frozen=True)
class Disagreement:
    """One reading the car as described cannot show: predicted against read, SI, and in measuring errors (1
    sd).
    """

    what: str
    predicted: float
    read: float
    measuring_errors: float


@dataclass(frozen=True)
class Fit:
    """How the seated car stands against its sheet: loads [N], heights [m] (NaN: not read), both LF RF LR
    RR.
    """

    loads: Array
    loads_read: Array
    heights: Array
    heights_read: Array

    @property
    def cross(self) -> float:
        """Cross weight of the seated car, share of the total."""
        return _cross(self.loads)

    @property
    def cross_read(self) -> float:
        """Cross weight on the sheet, share of the total."""
        return _cross(self.loads_read)

    @property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """Readings off by more than two measuring errors; a sheet that fixes every seat leaves none."""
        found = [Disagreement("cross weight", self.cross, self.cross_read, 0.0)]
        found += [
            Disagreement(f"{corner} height", float(self.heights[i]), float(self.heights_read[i]), 0.0)
            for i, corner in enumerate(CORNERS)
        ]
        sized = [
            Disagreement(
                one.what,
                one.predicted,
                one.read,
                abs(one.predicted - one.read) / (CROSS_ERROR if one.what == "cross weight" else HEIGHT_ERROR),
            )
            for one in found
        ]
        return tuple(one for one in sized if one.measuring_errors > WORTH_SAYING)


def _cross(loads: Array) -> float:
    return float((loads[1] + loads[2]) / loads.sum())


def new_record() -> Record:
    """An empty car record."""
    return np.zeros(1, CAR)[0]


def copied(record: Record) -> Record:
    """A record of its own with the same content."""
    other = np.zeros(1, CAR)
    other[0] = record
    return other[0]


def corners_of(record: Record, u: Array) -> npt.NDArray[Any]:
    """What the corners of a standing car do."""
    corners = np.zeros(4, CORNER)
    read_corners(u, record, standing(), corners)
    return corners


def settled_from(record: Record, u: Array, setup: Values) -> Standing:
    """Let a record settle, starting from a state. Raises DocumentError when it cannot stand."""
    state = u.copy()
    status, *_ = settle(record, standing(), state, _work())
    if status != CONVERGED:
        raise DocumentError(
            f"{setup.part.file_name}: the car so set up cannot stand on its wheels within the travel of its "
            "links; check coils, seats, stops and bar."
        )
    return Standing(record, state)


def weigh(car: Values, setup: Values, sheet: Values) -> tuple[Standing, Drawing, Fit]:
    """Seat a car on its sheet. Raises DocumentError when links cannot close or no seats explain the sheet."""
    record = new_record()
    parts.set_chassis(record, car, setup, sheet)
    parts.set_coils(record, setup, gas=sheet.shocks_on)
    parts.no_travel_limits(record)
    tires.cold_tires(record, setup, sheet)
    loads = GRAVITY * np.array([getattr(sheet, corner).weight for corner in CORNERS])
    radius = record["tire"]["free_radius"] - loads / record["tire"]["rate"]
    wheels = wheels_over_patches(car, setup, [float(r) for r in radius])
    drawing = draw(car, setup, wheels=wheels, cg_height=masses.whole_height(car, sheet))
    set_linkage(record, drawing, car)
    masses.set_masses(record, car, setup, sheet, drawing)
    guess_seats(record, loads, drawn_lengths(record))
    heights = _heights_read(record, sheet)
    to = Seating(loads, heights, gaps_of(setup), masses_known=False)
    stood, drawing = seated_or_hanging(record, np.zeros(SIZE), drawing, to, car, setup, sheet)
    corners = stood.corners()
    return stood, drawing, Fit(corners["load"].copy(), loads, corners["height"].copy(), heights)


@dataclass(frozen=True)
class Seating:
    """What the as-measured solver is held to: loads [N], heights, gaps of hanging coils [m] (NaN: not
    held).
    """

    loads: Array
    heights: Array
    gaps: Array
    masses_known: bool


def seated_or_hanging(
    record: Record, u: Array, drawing: Drawing, to: Seating, car: Values, setup: Values, sheet: Values
) -> tuple[Standing, Drawing]:
    """As `seated`; where a coil would have to pull, the lightest corner's that may just touch its seat does.

    Heights come first then, and the cross that is predicted may differ from the one that was read.
    """
    first = copied(record)
    try:
        return seated(record, u, drawing, to, car, setup, sheet)
    except DocumentError as problem:
        for corner in np.argsort(to.loads):
            if first["coil_rate"][corner] == 0.0 or np.isfinite(to.gaps[corner]):
                continue
            gaps = to.gaps.copy()
            gaps[corner] = 0.0
            try:
                return seated(copied(first), u, drawing, replace(to, gaps=gaps), car, setup, sheet)
            except DocumentError:
                continue
        raise problem


def seated(
    record: Record, u: Array, drawing: Drawing, to: Seating, car: Values, setup: Values, sheet: Values
) -> tuple[Standing, Drawing]:
    """Find the seats, and set alignment, bar link and (on a first weighing) stops at the standing car.

    Changes `record`. With masses known (a re-set) camber and stops stay as they have become.
    """
    parts.set_bar_rate(record, setup, hooked=sheet.bar_hooked and setup.bar is not None and setup.bar.hooked)
    state = u.copy()
    fresh = not to.masses_known
    for _ in range(PASSES):
        if not _find_seats(record, state, to):
            raise DocumentError(_unexplained(record, car, sheet))
        corners = corners_of(record, state)
        moved = 0.0
        if fresh:
            before = record["stop_length"].copy()
            parts.set_stops(record, corners["shock_length"], setup)
            moved = float(np.abs(record["stop_length"] - before).max())
        twist = float(record["bar_preload"])
        hook_up(record, state, setup)
        lean = inclinations(setup) - corners["inclination"][:2] if fresh else np.zeros(2)
        steer = steers(setup) - corners["steer"][:2]
        yaw = axle_yaw(car, setup) - float(corners["steer"][2:].mean()) if fresh else 0.0
        linked = record["bar_rate"] == 0.0 or abs(record["bar_preload"] - twist) < LINKED
        if max(*np.abs(lean), *np.abs(steer), abs(yaw)) < ALIGNED and moved < PLACED and linked:
            break
        drawing = drawing.turned(inclination=lean, steer=steer, yaw=yaw)
        kept = None if fresh else record["link_length"].copy()
        set_alignment(record, drawing, car)
        if kept is not None:
            record["link_length"] = kept
    if fresh:
        parts.set_droop(record, state, car, setup)
    masses.set_weight(record)
    return Standing(record, state), drawing


def _find_seats(record: Record, state: Array, to: Seating) -> bool:
    """Seats that explain a sheet, first as if no coil could bind, then with those that do squeezed no
    further.
    """
    bind = record["coil_bind"].copy()
    record["coil_bind"] = parts.NEVER
    found = _solve(record, state, to)
    record["coil_bind"] = bind
    rate, solid = record["coil_rate"], record["coil_rate"] + record["bind_rate"]
    squeeze = -corners_of(record, state)["coil_gap"]
    bound = (squeeze > bind) & (rate > 0.0)
    if not found or not bound.any():
        return found
    record["coil_free"] -= np.where(bound, (squeeze - bind) * (1.0 - rate / np.where(bound, solid, 1.0)), 0.0)
    return _solve(record, state, to)


def _solve(record: Record, state: Array, to: Seating) -> bool:
    status, *_ = settle_as_measured(
        record, standing(), to.loads, to.heights, to.gaps, to.masses_known, state, _work()
    )
    return bool(status == CONVERGED)


def hook_up(record: Record, u: Array, setup: Values) -> None:
    """Adjust the bar's link at a standing state: neutral there, then what the setup puts in."""
    record["bar_preload"] = -bar_angle(u, record, standing()) + parts.bar_twist(record, setup)


def drawn_lengths(record: Record) -> Array:
    """Coil lengths LF RF LR RR as drawn [m]."""
    low = record["coil_low"].copy()
    low[2:] += record["axle_origin"]
    return np.asarray(np.linalg.norm(low - record["coil_top"], axis=1))


def guess_seats(record: Record, loads: Array, lengths: Array) -> None:
    """A first guess of the seats: each coil, at these lengths [m], carries its corner's sprung weight at a
    usual motion ratio.
    """
    unsprung = GRAVITY * np.array([*record["unsprung_mass"], *[0.5 * float(record["axle_mass"])] * 2])
    push = np.maximum(loads - unsprung, LEAST_PUSH) / np.array([0.66, 0.66, 0.96, 0.96])
    rate = record["coil_rate"]
    record["coil_free"] = lengths + np.where(rate > 0.0, push / np.maximum(rate, 1.0), 0.0)


def _heights_read(record: Record, sheet: Values) -> Array:
    """Ride heights of a sheet [m]. None read: as drawn. One missing: NaN at RR, else from the plane of the
    other three.
    """
    read = [getattr(sheet, corner).height for corner in CORNERS]
    drawn = record["height_point"]
    if all(height is None for height in read):
        return np.array(drawn[:, 2])
    heights = np.array([np.nan if height is None else height for height in read])
    missing = np.flatnonzero(np.isnan(heights))
    if len(missing) == 1 and missing[0] != 3:
        kept = [i for i in range(4) if i != missing[0]]
        plane = np.column_stack([np.ones(3), drawn[kept, :2]])
        off = np.linalg.solve(plane, heights[kept] - drawn[kept, 2])
        heights[missing[0]] = drawn[missing[0], 2] + off @ np.array([1.0, *drawn[missing[0], :2]])
    return heights


def gaps_of(setup: Values) -> Array:
    """Gaps of hanging coils [m], NaN where a coil sits on its seat."""
    coils = [getattr(setup, corner).coil for corner in CORNERS]
    return np.array([np.nan if coil is None or not coil.gap else coil.gap for coil in coils])


def _unexplained(record: Record, car: Values, sheet: Values) -> str:
    """Why no seats explain a sheet: heights out of reach of the links, or weights no coils can carry."""
    drawn, read = record["height_point"][:, 2], _heights_read(record, sheet)
    far = int(np.nanargmax(np.abs(read - drawn)))
    place = sheet.part.place(CORNERS[far], "height")
    if abs(read[far] - drawn[far]) > 0.05:
        return (
            f"{place}, {CORNERS[far]}.height: the links cannot close this far from the height they "
            f"were drawn at in {car.part.file_name}; check the height and height_points.{CORNERS[far]}."
        )
    return (
        f"{sheet.part.file_name}: no coil seats explain these weights and heights; "
        "check the four weights, the heights and the pick-up points."
    )


def _work() -> Array:
    return np.zeros((40, SIZE))
