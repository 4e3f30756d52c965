"""Closed forms from textbooks, as outside references for the full model.

The product uses none of these. `test_closed_forms.py` holds each against published figures first; a test of
the full model may then use it as the expected value and name its source. Any consistent units; radians.
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Loads(NamedTuple):
    """The four wheel loads."""

    LF: float
    RF: float
    LR: float
    RR: float


def roll_gradient(*, sprung_weight: float, arm: float, roll_rate: float) -> float:
    """Roll angle per g of side pull, with the weight's own roll moment: W d / (K - W d).

    Barton & Fieldhouse, Automotive Chassis Engineering, 2018, p. 174. `arm` is CG above roll axis.
    """
    return sprung_weight * arm / (roll_rate - sprung_weight * arm)


def unsprung_transfer(*, side_force: float, height: float, tread: float) -> float:
    """Load moved from one wheel of an axle to the other by a side force that acts at this height.

    Barton & Fieldhouse, p. 174; with a roll center's height, the part that goes straight through the links.
    """
    return side_force * height / tread


def banked_wheel_loads(
    standing: Loads,
    *,
    across: float,
    into: float,
    cg_height: float,
    roll_centers: tuple[float, float],
    roll_rates: tuple[float, float],
    tread: float,
    weight_rolls: bool,
) -> Loads:
    """Wheel loads of a rolling two-axle car in a left turn; `across` and `into` the road in g.

    Milliken & Milliken, Race Car Vehicle Dynamics, ch. 18 (from memory); `weight_rolls` adds the roll moment
    of the weight that leans over, as in Barton & Fieldhouse. `roll_rates` (front, rear) per radian.
    """
    weight = sum(standing)
    rear_share = (standing.LR + standing.RR) / weight
    side_force = weight * across
    arm = cg_height - roll_centers[0] * (1.0 - rear_share) - roll_centers[1] * rear_share
    roll = side_force * arm / (sum(roll_rates) - weight_rolls * weight * into * arm)
    front = (roll_rates[0] * roll + side_force * (1.0 - rear_share) * roll_centers[0]) / tread
    rear = (roll_rates[1] * roll + side_force * rear_share * roll_centers[1]) / tread
    return Loads(
        standing.LF * into - front,
        standing.RF * into + front,
        standing.LR * into - rear,
        standing.RR * into + rear,
    )


def front_load(
    *, weight: float, front_share: float, wheelbase: float, cg_height: float, braking: float
) -> float:
    """Front axle load while braking with `braking` g on flat ground: W (share + a h / L)."""
    return weight * (front_share + braking * cg_height / wheelbase)


def understeer_gradient(
    *, front_load: float, rear_load: float, front_stiffness: float, rear_stiffness: float
) -> float:
    """Steer angle per g beyond the kinematic steer of a linear two-axle car: W_f/C_f - W_r/C_r.

    With the stiffnesses of whole axles. Wong, Theory of Ground Vehicles, 3rd ed., ch. 5 (from memory).
    """
    return front_load / front_stiffness - rear_load / rear_stiffness


def characteristic_speed(*, wheelbase: float, gradient: float, gravity: float) -> float:
    """Speed at which an understeering car needs twice the kinematic steer: sqrt(g L / K). Wong, ch. 5."""
    return math.sqrt(gravity * wheelbase / gradient)


class LockedAxle(NamedTuple):
    """What two tires on one shaft do in a turn: turning speed, slips, moment about z, thrust, power lost."""

    spin: float
    slip_difference: float
    moment: float
    thrust: float
    power: float


def locked_axle(
    *,
    left_roll_out: float,
    right_roll_out: float,
    tread: float,
    radius: float,
    speed: float,
    stiffness: float,
) -> LockedAxle:
    """A free-turning locked axle in a left turn, both tires with the same force per unit slip.

    No net torque on the shaft fixes its speed. From the definition of slip, omega r / V - 1.
    """
    r_left, r_right = left_roll_out / (2.0 * math.pi), right_roll_out / (2.0 * math.pi)
    v_left, v_right = speed * (1.0 - tread / (2.0 * radius)), speed * (1.0 + tread / (2.0 * radius))
    spin = (r_left + r_right) / (r_left**2 / v_left + r_right**2 / v_right)
    left, right = stiffness * (spin * r_left / v_left - 1.0), stiffness * (spin * r_right / v_right - 1.0)
    return LockedAxle(
        spin=spin,
        slip_difference=(right - left) / stiffness,
        moment=(right - left) * tread / 2.0,
        thrust=left + right,
        power=left * (spin * r_left - v_left) + right * (spin * r_right - v_right),
    )


Point = tuple[float, float]


def meet(a: Point, b: Point, c: Point, d: Point) -> Point:
    """Where the line through a and b meets the line through c and d."""
    ab, cd = (b[0] - a[0], b[1] - a[1]), (d[0] - c[0], d[1] - c[1])
    along = ((c[0] - a[0]) * cd[1] - (c[1] - a[1]) * cd[0]) / (ab[0] * cd[1] - ab[1] * cd[0])
    return a[0] + along * ab[0], a[1] + along * ab[1]


class FrontView(NamedTuple):
    """One front corner from the front: arm ends and the tire's contact point, (outboard, up)."""

    upper_inner: Point
    upper_outer: Point
    lower_inner: Point
    lower_outer: Point
    contact: Point

    @property
    def instant_center(self) -> Point:
        """Where the lines of both arms meet."""
        return meet(self.upper_inner, self.upper_outer, self.lower_inner, self.lower_outer)

    @property
    def swing_arm(self) -> float:
        """Distance across the car from the contact point to the instant center; camber gain is 1 / this."""
        return abs(self.contact[0] - self.instant_center[0])


def roll_center(left: FrontView, right: FrontView) -> Point:
    """Where the two lines from contact point to instant center meet (B. Bolles, magazine articles)."""
    return meet(left.contact, left.instant_center, right.contact, right.instant_center)


def anti_dive(
    *, brake_share: float, center_height: float, center_behind: float, wheelbase: float, cg_height: float
) -> float:
    """Share of the dive that the front links take: f (z/x) (L/h). Gillespie, ch. 7 (from memory)."""
    return brake_share * (center_height / center_behind) * (wheelbase / cg_height)


def anti_squat(*, line_slope: float, wheelbase: float, cg_height: float) -> float:
    """Share of the squat of a solid axle that its links take: slope of tire-to-center line over h / L."""
    return line_slope * wheelbase / cg_height
