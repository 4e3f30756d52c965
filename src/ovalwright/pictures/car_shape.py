"""The shape of the car in a solved state, in road axes: every moving part where the solver has it.

Road axes: origin on the road under mid-wheelbase, x forward, y left, z along the road's normal [m]. What the
solver does not know (the body's outline, the engine, the fuel cell's walls) is drawn plainly about what the
documents say: wheelbase, treads, frame points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.pack import Packed, watched_points
from ovalwright.units import INCH
from ovalwright.vehicle.answer import clearances, read_corners
from ovalwright.vehicle.law import HEAVE, PITCH, ROLL
from ovalwright.vehicle.record import CORNER, CORNERS, Record

from .solved_parts import PARTS, carry_points, read_parts

Array = npt.NDArray[np.float64]
LEAD, THICK = 11340.0, 2.0 * 0.0254
"""Density of lead [kg/m^3] (from memory); thickness of a piece as drawn [m]."""
LEAF_NAMES = ("LR leaf", "RR leaf")
REAR_LEAF, ARCH, SHACKLE = 27.0 * INCH, 4.0 * INCH, 3.0 * INCH
"""From the axle back to a leaf's rear eye, how far that lies over the front one, and the shackle's length, as
drawn [m].
"""


@dataclass(frozen=True)
class CarPlan:
    """What of a car is drawn from its documents, once for all states.

    `fixed` are named polylines of points (N, 3) [m, chassis axes] with the half they move with; `widths` of
    the tires LF RF LR RR [m], their hot `pressures` [Pa]; names of frame points; `fuel` that the cell holds
    [kg].
    """

    fixed: Mapping[str, slice]
    points: Array
    on_front: npt.NDArray[np.bool_]
    widths: tuple[float, float, float, float]
    pressures: tuple[float, float, float, float]
    frame_points: tuple[str, ...]
    fuel: float


@dataclass(frozen=True)
class Wheel:
    """A wheel: center, unit spin axis (left) and heading, radius, width [m]; load [N], squash [m]; contact
    patch center and its length [m]; inclination to the road (top left positive) and steer [rad].
    """

    name: str
    center: Array
    spindle: Array
    forward: Array
    radius: float
    width: float
    load: float
    squash: float
    patch: Array
    patch_length: float
    inclination: float
    steer: float

    @property
    def lifted(self) -> bool:
        """Whether it is off the road."""
        return self.squash <= 0.0


@dataclass(frozen=True)
class Coil:
    """A coil from `low` to `top` mount. `length` between them, `touching` the length at which the coil just
    meets its seat, `gap` off the seat (negative squeezed) [m]; `state` seated, hanging, bound or none;
    `force` [N].
    """

    name: str
    low: Array
    top: Array
    length: float
    touching: float
    gap: float
    state: str
    force: float


@dataclass(frozen=True)
class Stop:
    """A bump stop on a shock from `low` to `top`: `gap` to it, negative squeezed [m]; `force` [N]."""

    name: str
    low: Array
    top: Array
    gap: float
    force: float

    @property
    def engaged(self) -> bool:
        """Whether it carries."""
        return self.gap <= 0.0


@dataclass(frozen=True)
class Watched:
    """A frame point: where it is, its clearance [m], negative where it drags."""

    name: str
    at: Array
    gap: float


@dataclass(frozen=True)
class CarShape:
    """Everything there is to draw of one solved state.

    `parts` is a PARTS record, `fixed` the lines of the plan carried along, both in road axes [m], as is `cg`
    of the whole car; `bar` tells whether one is hooked up. `heave` [m]; `roll`, `pitch`, `bank` of the
    road [rad]; `hand` +1 in a left turn, -1 in a right one, 0 standing; `fuel` over what the cell
    holds.
    """

    parts: Record
    fixed: Mapping[str, Array]
    wheels: tuple[Wheel, ...]
    coils: tuple[Coil, ...]
    stops: tuple[Stop, ...]
    watched: tuple[Watched, ...]
    bar: bool
    cg: Array
    heave: float
    roll: float
    pitch: float
    bank: float
    hand: int
    standing: bool
    fuel: float

    @property
    def on_leaves(self) -> bool:
        """Whether the rear axle hangs on leaf springs."""
        return LEAF_NAMES[0] in self.fixed


def car_plan(packed: Packed) -> CarPlan:
    """The lines of a car that its documents give, for `car_shape`."""
    car, setup, _ = packed.values()
    lines: dict[str, tuple[list[Any], bool]] = {}
    for side, corner in zip(("LF", "RF"), packed.drawing.corners, strict=True):
        for arm in ("lower", "upper"):
            lines[f"{side} {arm} pivots"] = ([corner[f"{arm}_front"], corner[f"{arm}_rear"]], True)
    lines |= _inside(car) | _lead(car, setup)
    if car.part.equivalent_four_link and car.part.rear.short_form.stands_for == "leaf springs":
        lines |= _leaves(packed.record, car)
    rearmost = min(float(point[0]) for line, _ in lines.values() for point in line)
    lines |= _outline(packed.record, car, rearmost)
    points = np.array([point for line, _ in lines.values() for point in line], dtype=np.float64)
    fronts = [front for line, front in lines.values() for _ in line]
    edges = np.cumsum([0, *(len(line) for line, _ in lines.values())]).tolist()
    wheels = [getattr(setup, corner).tire for corner in CORNERS]
    hot = [tire.hot if tire.hot is not None else tire.cold for tire in wheels]
    lf, rf, lr, rr = (float(tire.width) for tire in wheels)
    a, b, c, d = (float(pressure) for pressure in hot)
    return CarPlan(
        fixed={name: slice(edges[i], edges[i + 1]) for i, name in enumerate(lines)},
        points=points,
        on_front=np.array(fronts),
        widths=(lf, rf, lr, rr),
        pressures=(a, b, c, d),
        frame_points=tuple(point.name for point in watched_points(car)),
        fuel=float(car.fuel_cell.capacity * car.fuel_cell.density),
    )


def _outline(record: Record, car: Any, rearmost: float) -> dict[str, tuple[list[Any], bool]]:
    """Body, frame and engine as plain lines about wheelbase, treads, ride heights, frame points and the
    rearmost part inside [m].
    """
    half = 0.5 * float(car.wheelbase)
    along = record["ground_point"][record["ground_rate"] > 0.0, 0].tolist()
    tail = min(*along, rearmost - 0.06, -1.34 * half)
    nose = max(*along, rearmost, 1.52 * half)
    side = 0.5 * max(car.tread.front, car.tread.rear) + 0.17
    low = max(float(record["height_point"][:, 2].mean()) - 0.01, 0.06)
    rail = float(np.abs(record["height_point"][:, 1]).mean())
    body = [
        (nose, 0.6 * side), (nose - 0.12, 0.86 * side), (half + 0.4, side), (-half - 0.36, side),
        (tail + 0.06, 0.92 * side), (tail, 0.8 * side),
    ]  # fmt: skip
    narrow, clip = 0.42 * rail, 0.56 * rail
    end = min(tail + 0.1, -1.3 * half)
    front_frame = [(1.12 * half, narrow, low), (0.62 * half, narrow, low), (0.3 * half, rail, low)]
    rear_frame = [
        (0.3 * half, rail, low), (-0.62 * half, rail, low), (-0.85 * half, clip, low + 0.1),
        (end, clip, low + 0.1),
    ]  # fmt: skip
    engine = [(0.1, 0.02), (0.3, 0.42), (0.24, 0.55), (-0.24, 0.55), (-0.3, 0.42), (-0.1, 0.02), (0.1, 0.02)]
    block = [(1.02, 0.27), (1.02, -0.27), (0.5, -0.27), (0.5, 0.27), (1.02, 0.27)]
    return {
        "body": ([(x, y, low + 0.5) for x, y in _mirrored_shut(body)], False),
        "front frame left": (front_frame, True),
        "front frame right": (_other_side(front_frame), True),
        "front frame end": ([front_frame[0], *_other_side(front_frame[:1])], True),
        "rear frame left": (rear_frame, False),
        "rear frame right": (_other_side(rear_frame), False),
        "rear frame end": ([rear_frame[-1], *_other_side(rear_frame[-1:])], False),
        "front section": (_section(half, side, low), True),
        "rear section": (_section(-half, side, low), False),
        "engine": ([(0.78 * half, y, low + z) for y, z in engine], True),
        "block": ([(x * half, y, low + 0.3) for x, y in block], True),
        "crossmember": ([(half, narrow, low + 0.04), (half, -narrow, low + 0.04)], True),
    }


def _section(x: float, side: float, low: float) -> list[tuple[float, float, float]]:
    """The body cut across at an axle: fenders, belt, roof."""
    left = [(side, 0.12), (side, 0.48), (0.88 * side, 0.58), (0.6 * side, 0.9)]
    return [(x, y, low + z) for y, z in [*left, *((-y, z) for y, z in reversed(left))]]


def _other_side(line: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    return [(x, -y, z) for x, y, z in line]


def _mirrored_shut(line: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A left half with its right, as one shut line."""
    return [*line, *((x, -y) for x, y in reversed(line)), line[0]]


def _inside(car: Any) -> dict[str, tuple[list[Any], bool]]:
    """Fuel cell, as deep as its fuel's center rises twice, and the seat."""
    half, cell = 0.5 * car.wheelbase, car.fuel_cell
    x, y = -half - cell.behind_axle, cell.left
    bottom = float(cell.empty_height)
    deep = max(2.0 * float(cell.full_height - cell.empty_height), 0.05)
    wide = min(math.sqrt(1.5 * float(cell.capacity) / deep), 0.95)
    long = min(float(cell.capacity) / deep / wide, 0.7)
    corners = [(0.5, 0.5), (0.5, -0.5), (-0.5, -0.5), (-0.5, 0.5)]
    upright = [(0.5, 0.0), (0.5, deep), (-0.5, deep), (-0.5, 0.0)]
    seat = car.driver.place + np.array([half, 0.0, 0.0])
    shell = [(0.3, 0.22), (-0.22, 0.22), (-0.3, 0.1)]
    return {
        "cell": ([(x + a * long, y + b * wide, bottom) for a, b in corners], False),
        "cell section": ([(x, y + b * wide, bottom + z) for b, z in upright], False),
        "seat": ([(seat[0] + a, seat[1] + b, seat[2]) for a, b in _mirrored_shut(shell)], False),
    }


def _lead(car: Any, setup: Any) -> dict[str, tuple[list[Any], bool]]:
    """Each piece of lead as the square that it covers when it is cast 2 in thick."""
    lines: dict[str, tuple[list[Any], bool]] = {}
    for i, piece in enumerate(setup.lead, start=1):
        x, y, z = piece.place + np.array([0.5 * car.wheelbase, 0.0, 0.0])
        half = 0.5 * math.sqrt(float(piece.mass) / LEAD / THICK)
        corners = [(half, half), (half, -half), (-half, -half), (-half, half)]
        lines[f"lead {i}"] = ([(x + a, y + b, z) for a, b in corners], bool(x > 0.0))
    return lines


def _leaves(record: Record, car: Any) -> dict[str, tuple[list[Any], bool]]:
    """Front eye, rear eye and hanger of the shackle of each leaf."""
    back = -0.5 * float(car.wheelbase)
    lines: dict[str, tuple[list[Any], bool]] = {}
    for i, name in enumerate(LEAF_NAMES):
        ahead, _, height = record["link_frame"][i].tolist()
        y = float(record["coil_low"][2 + i, 1])
        rear = (back - REAR_LEAF, y, height + ARCH)
        lines[name] = ([(ahead, y, height), rear, (rear[0], y, rear[2] + SHACKLE)], False)
    return lines


def car_shape(plan: CarPlan, record: Record, unknowns: Array, motion: Record) -> CarShape:
    """The car where a solved state has it. Only a state that was found may be handed in."""
    parts = np.zeros(1, PARTS)[0]
    read_parts(unknowns, record, parts)
    carried = np.empty_like(plan.points)
    carry_points(unknowns, record, plan.points, plan.on_front, carried)
    corners, gaps = np.zeros(4, CORNER), np.zeros(8)
    read_corners(unknowns, record, motion, corners)
    clearances(unknowns, record, motion, gaps)
    watched = np.empty((len(plan.frame_points), 3))
    count = len(plan.frame_points)
    carry_points(
        unknowns, record, record["ground_point"][:count], record["ground_front"][:count] > 0.5, watched
    )
    standing = bool(motion["standing"] > 0.5)
    return CarShape(
        parts=parts,
        fixed={name: carried[cut] for name, cut in plan.fixed.items()},
        wheels=tuple(_wheel(i, plan, record, parts, corners[i]) for i in range(4)),
        coils=tuple(_coil(i, record, parts, corners[i]) for i in range(4)),
        stops=tuple(
            Stop(CORNERS[i], parts["shock_low"][i], parts["shock_top"][i], float(corners[i]["stop_gap"]),
                 float(corners[i]["stop_force"]))
            for i in range(4) if record["stop_rate"][i] > 0.0
        ),
        watched=tuple(
            Watched(name, watched[i], float(gaps[i])) for i, name in enumerate(plan.frame_points)
        ),
        bar=bool(record["bar_rate"] > 0.0),
        cg=_center_of_gravity(unknowns, record, parts),
        heave=float(unknowns[HEAVE]),
        roll=float(unknowns[ROLL]),
        pitch=float(unknowns[PITCH]),
        bank=0.0 if standing else float(motion["bank"]),
        hand=0 if standing or motion["curvature"] == 0.0 else int(math.copysign(1.0, motion["curvature"])),
        standing=standing,
        fuel=float(record["fuel_mass"]) / plan.fuel,
    )  # fmt: skip


def _wheel(i: int, plan: CarPlan, record: Record, parts: Record, at: Record) -> Wheel:
    load = float(at["load"])
    return Wheel(
        name=CORNERS[i],
        center=parts["wheel"][i],
        spindle=parts["spindle"][i],
        forward=parts["forward"][i],
        radius=float(record["tire"]["free_radius"][i]),
        width=plan.widths[i],
        load=load,
        squash=float(at["squash"]),
        patch=np.array([at["patch_x"], at["patch_y"], at["patch_z"]]),
        patch_length=load / (plan.pressures[i] * plan.widths[i]),
        inclination=float(at["inclination"]),
        steer=float(at["steer"]),
    )


def _coil(i: int, record: Record, parts: Record, at: Record) -> Coil:
    gap = float(at["coil_gap"])
    if record["coil_rate"][i] == 0.0:
        state = "none"
    elif gap > 0.0:
        state = "hanging"
    else:
        state = "bound" if -gap > record["coil_bind"][i] else "seated"
    low, top = parts["coil_low"][i], parts["coil_top"][i]
    return Coil(
        name=CORNERS[i],
        low=low,
        top=top,
        length=float(np.linalg.norm(top - low)),
        touching=float(record["coil_free"][i]),
        gap=gap,
        state=state,
        force=float(at["coil_force"]),
    )


def _center_of_gravity(unknowns: Array, record: Record, parts: Record) -> Array:
    """Center of gravity of the whole car, road axes [m]: both halves, fuel, wheels and axle."""
    halves = np.array([record["front_cg"], record["rear_cg"], record["fuel_cg"]])
    carried = np.empty_like(halves)
    carry_points(unknowns, record, halves, np.array([True, False, False]), carried)
    masses = np.array([record["front_mass"], record["rear_mass"], record["fuel_mass"],
                       *record["unsprung_mass"], record["axle_mass"]])  # fmt: skip
    places = np.vstack([carried, parts["wheel"][:2], parts["axle_cg"]])
    return np.asarray(masses @ places / masses.sum())
