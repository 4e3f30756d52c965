"""One solved state of the car read as a racer asks for it: loads, coils, stops, travel, tires, body, drive.

SI, ISO 8855 axes (x forward, y left, z up). `racer_camber` and `racer_toe_out` give the trade's signs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.pack import Packed, watched_points
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.trim import trim
from ovalwright.vehicle.answer import clearances, read_corners
from ovalwright.vehicle.law import AXLE_HEAVE, AXLE_ROLL, DEMAND, HEAVE, PITCH, ROLL, SLIP, SPIN_A, TWIST
from ovalwright.vehicle.record import CORNER, CORNERS, SIZE, Record

Array = npt.NDArray[Any]
STATUS = ("solved", "stalled", "not finite", "singular", "wrong branch")
"""What a trim comes back as; all but the first hold no numbers."""


class Four(NamedTuple):
    """One number per car corner."""

    LF: float
    RF: float
    LR: float
    RR: float


@dataclass(frozen=True)
class Solved:
    """A state of the 14 unknowns under a motion, with how it was found.

    `norm` is the residual as a share of the car's weight; only `status` "solved" may be read.
    """

    record: Record
    motion: Record
    unknowns: Array
    status: str
    norm: float
    iterations: int
    evaluations: int

    @property
    def found(self) -> bool:
        """True when the state is a trim on the ordinary branch."""
        return self.status == STATUS[CONVERGED]

    @cached_property
    def corners(self) -> Array:
        """The four corners LF RF LR RR (dtype CORNER)."""
        read = np.zeros(4, CORNER)
        read_corners(self.unknowns, self.record, self.motion, read)
        return read

    @cached_property
    def gaps(self) -> Array:
        """Clearance of the eight watched points of the body [m]; those beyond the car's own mean nothing."""
        gaps = np.zeros(8)
        clearances(self.unknowns, self.record, self.motion, gaps)
        return gaps


def solve(packed: Packed, motion: Record) -> Solved:
    """Trim a car under a motion, from its standing state."""
    unknowns = np.zeros(SIZE)
    status, norm, iterations, evaluations = trim(
        packed.settled, packed.record, motion, unknowns, np.zeros((40, SIZE))
    )
    return Solved(packed.record, motion, unknowns, STATUS[status], norm, iterations, evaluations)


# ---------------- what a corner does


@dataclass(frozen=True)
class Coil:
    """A coil: `state` is "seated", "hanging", "bound" or "none"; `gap` off its seat, negative squeezed [m];
    `force` [N]; `length` [m].
    """

    state: str
    gap: float
    force: float
    length: float


@dataclass(frozen=True)
class Stop:
    """A bump stop or bump spring: `gap` to it, negative squeezed [m]; `force` [N]."""

    engaged: bool
    gap: float
    force: float


@dataclass(frozen=True)
class Corner:
    """One corner in a solved state.

    Loads and forces [N]; `shock_travel` and `wheel_travel` from the ride height on the scales, bump
    positive [m]; `inclination` to the road, top left positive [rad]; `steer` of the wheel from the car's
    heading, left positive [rad]; slip angle positive where it pushes left (ISO 8855 counts the same angle
    the other way), slip positive driving; `used` slip over slip at the tire's peak, combined; `height` of
    the ride height point [m].
    """

    name: str
    load: float
    coil: Coil
    stop: Stop | None
    gas_force: float
    droop_force: float
    shock_length: float
    shock_travel: float
    wheel_travel: float
    inclination: float
    steer: float
    drive: float
    side: float
    slip_angle: float
    slip: float
    peak_slip_angle: float
    peak_slip: float
    used: float
    height: float
    lifted: bool
    extrapolated: bool


def coil_of(record: Record, i: int, corner: Record) -> Coil:
    """State of the coil at corner `i`."""
    gap = float(corner["coil_gap"])
    if record["coil_rate"][i] == 0.0:
        state = "none"
    elif gap > 0.0:
        state = "hanging"
    elif -gap > record["coil_bind"][i]:
        state = "bound"
    else:
        state = "seated"
    return Coil(state, gap, float(corner["coil_force"]), float(corner["coil_length"]))


def stop_of(record: Record, i: int, corner: Record) -> Stop | None:
    """State of the stop at corner `i`; None without one."""
    if record["stop_rate"][i] == 0.0:
        return None
    gap = float(corner["stop_gap"])
    return Stop(gap <= 0.0, gap, float(corner["stop_force"]))


def read(solved: Solved, ride: Solved | None = None) -> tuple[Corner, ...]:
    """The four corners of a solved state; travel is from `ride` (the state itself when left out)."""
    rest = ride or solved
    rise = _wheel_heights(solved) - _wheel_heights(rest)
    corners = []
    for i, name in enumerate(CORNERS):
        at, was = solved.corners[i], rest.corners[i]
        plain = ("load", "gas_force", "droop_force", "shock_length", "inclination", "steer", "drive", "side",
                 "slip_angle", "slip", "peak_slip_angle", "peak_slip", "used", "height")  # fmt: skip
        corners.append(
            Corner(
                name=name,
                coil=coil_of(solved.record, i, at),
                stop=stop_of(solved.record, i, at),
                shock_travel=float(was["shock_length"] - at["shock_length"]),
                wheel_travel=float(rise[i]),
                lifted=bool(at["squash"] <= 0.0),
                extrapolated=bool(at["extrapolated"]),
                **{field: float(at[field]) for field in plain},
            )
        )
    return tuple(corners)


def _wheel_heights(solved: Solved) -> Array:
    """Heights of the four wheel centers in the axes of their half of the chassis [m]."""
    u, heights = solved.unknowns, np.empty(4)
    for i, at in enumerate(solved.corners):
        x, y, z = at["hub_x"], at["hub_y"], at["hub_z"] - u[HEAVE]
        roll, pitch = u[ROLL], u[PITCH]
        up = math.sin(pitch) * x + math.cos(pitch) * z
        across, over = math.cos(roll) * y + math.sin(roll) * up, math.cos(roll) * up - math.sin(roll) * y
        if i < 2:
            axis_y, axis_z = solved.record["twist_axis"]
            over = math.cos(u[TWIST]) * (over - axis_z) - math.sin(u[TWIST]) * (across - axis_y) + axis_z
        heights[i] = over
    return heights


def racer_camber(corner: Corner) -> float:
    """Camber to the road in the trade's sign [rad], negative = top in."""
    return corner.inclination if corner.name in ("LF", "LR") else -corner.inclination


def racer_toe_out(left: Corner, right: Corner) -> float:
    """Toe-out of two wheels of one axle in this state [rad, total], out positive."""
    return left.steer - right.steer


# ---------------- what the car does


@dataclass(frozen=True)
class Loads:
    """Four wheel loads and their sum [N]; shares of the sum; `bite` LR less RR [N]."""

    corners: Four
    total: float
    cross: float
    left: float
    rear: float
    bite: float


def loads_of(corners: Array | Sequence[Any]) -> Loads:
    """Loads and the trade's shares of four corners (dtype CORNER)."""
    lf, rf, lr, rr = (float(corner["load"]) for corner in corners)
    total = lf + rf + lr + rr
    return Loads(
        Four(lf, rf, lr, rr), total, (rf + lr) / total, (lf + lr) / total, (lr + rr) / total, lr - rr
    )


@dataclass(frozen=True)
class Body:
    """How the body sits against the road: heave [m]; roll (right side down positive), pitch (nose down
    positive) [rad], twist of the front half against the rear [rad]; axle heave [m] and roll [rad] against
    the body.
    """

    heave: float
    roll: float
    pitch: float
    twist: float
    axle_heave: float
    axle_roll: float
    side_slip: float


def body_of(solved: Solved) -> Body:
    """Body and axle of a solved state."""
    u = solved.unknowns
    return Body(*(float(u[k]) for k in (HEAVE, ROLL, PITCH, TWIST, AXLE_HEAVE, AXLE_ROLL, SLIP)))


@dataclass(frozen=True)
class Clearance:
    """A watched point of the frame: clearance over the road [m], negative where it drags with `load` [N]."""

    name: str
    gap: float
    load: float
    tail: bool


def clearances_of(packed: Packed, solved: Solved) -> tuple[Clearance, ...]:
    """The car's frame points in a solved state."""
    points = watched_points(packed.values()[0])
    found = []
    for i, point in enumerate(points):
        gap = float(solved.gaps[i])
        load = float(solved.record["ground_rate"][i]) * max(-gap, 0.0)
        found.append(Clearance(point.name, gap, load, point.tail))
    return tuple(found)


@dataclass(frozen=True)
class Engine:
    """Full-throttle torque [N m] over engine speed [rad/s], the share that reaches the axle, the rev limit
    [rad/s] and the final drive; the top gear is 1:1.
    """

    speeds: Array
    torques: Array
    efficiency: float
    rev_limit: float
    gear: float


def engine_of(packed: Packed) -> Engine:
    """The engine of a car with the final drive of its setup."""
    engine = packed.values()[0].engine
    return Engine(
        speeds=np.array([point.speed for point in engine.curve]),
        torques=np.array([point.torque for point in engine.curve]),
        efficiency=engine.efficiency,
        rev_limit=engine.rev_limit,
        gear=abs(float(packed.record["shaft_ratio"])),
    )


@dataclass(frozen=True)
class Demand:
    """What keeps the car at its speed: `force` at the rear tires, negative braking [N], `power` [W].

    `engine_speed` [rad/s]; `engine_share` of the full-throttle torque at that speed, 0 when braking;
    `rev_share` of the rev limit.
    """

    force: float
    power: float
    engine_speed: float
    engine_share: float
    rev_share: float


def demand_of(engine: Engine, solved: Solved) -> Demand:
    """Drive or brake of a solved state against the engine's curve."""
    force = float(solved.unknowns[DEMAND])
    speed = float(solved.unknowns[SPIN_A]) * engine.gear
    torque = force * float(solved.record["tire"]["free_radius"][3]) / (engine.gear * engine.efficiency)
    full = float(np.interp(speed, engine.speeds, engine.torques))
    return Demand(
        force=force,
        power=force * float(solved.motion["speed"]),
        engine_speed=speed,
        engine_share=max(torque, 0.0) / full,
        rev_share=speed / engine.rev_limit,
    )
