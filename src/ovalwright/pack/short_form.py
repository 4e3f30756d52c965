"""A linkage with just the properties of the short form.

The properties fix how the upright, or the axle, moves at ride height: a velocity and an angular velocity
per unit of wheel travel. Every arm and rod is then laid square to the velocity of its joint, so it allows
exactly this motion. What the short form leaves open (arm lengths, joint heights) is typical of a
perimeter-frame late model (common practice, no source); it shapes only how the properties change with
travel.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.documents import DocumentError
from ovalwright.units import INCH

from .values import Values

Array = npt.NDArray[np.float64]
LOWER_BALL, UPPER_BALL = 7.0 * INCH, 17.2 * INCH
"""Heights of the ball joints."""
LOWER_ARM, UPPER_ARM = 17.6 * INCH, 9.4 * INCH
"""Front-view arm lengths."""
LOWER_SPAN, UPPER_SPAN = 12.5 * INCH, 9.0 * INCH
"""Distance between the two frame pivots of an arm."""
TIE_ROD, TIE_AHEAD, TIE_HEIGHT = 16.0 * INCH, 5.9 * INCH, 8.8 * INCH
"""Tie rod length; its outer end ahead of the lower ball joint and over the ground."""
FRONT_COIL, REAR_COIL = 13.4 * INCH, 13.8 * INCH
"""Coil lengths at ride height, mount to mount."""
BAR_LINK = 5.0 * INCH
FRONT_BRAKE_SHARE = 0.62
"""The brake share at which the document states anti-dive."""
TRAILING_ARM, THIRD_LINK = 23.5 * INCH, 18.5 * INCH
ARM_PLACE, ARM_HEIGHT = 21.6 * INCH, 8.8 * INCH
"""Trailing arms at the axle: sideways from the centerline, over the ground."""
THIRD_HEIGHT, COIL_HEIGHT = 20.0 * INCH, 10.6 * INCH
LINK_AHEAD = 1.0 * INCH
"""Trailing arms' rear ends ahead of the axle center."""
COIL_REACH = 8.0 * INCH
"""A rear coil stands at most this far ahead of or behind the axle; beyond, it leans fore and aft."""


def front_corner(car: Values, setup: Values, side: int, wheel: Array, cg_height: float) -> dict[str, Array]:
    """Points of one front corner [m, chassis axes] whose motion at ride height has the properties of the
    short form.

    Camber gain, bump steer, roll center (both sides' patch paths), anti-dive, coil and bar ratio, coil
    angle, caster, kingpin, scrub and trail are met exactly. Raises DocumentError for a coil that cannot
    have its ratio.
    """
    form = car.at("front", "front").at("short_form", "short")
    corner = form.LF if side == 0 else form.RF
    outward = 1.0 if side == 0 else -1.0
    half = 0.5 * car.wheelbase
    patch = np.array([half, outward * 0.5 * car.tread.front, 0.0])
    path = _patch_path(car, form, patch, outward, cg_height)
    turn = np.array([-outward * corner.camber_gain, 0.0, outward * corner.bump_steer / setup.toe_gauge])

    def velocity(point: Array) -> Array:
        return np.asarray(path + np.cross(turn, point - patch))

    ground = patch + np.array([corner.trail, -outward * corner.scrub, 0.0])
    king = np.array([-np.tan(corner.caster), -outward * np.tan(corner.kingpin), 1.0])
    points = {"wheel": wheel}
    pivots = {}
    for arm, height, reach, span in (
        ("lower", LOWER_BALL, LOWER_ARM, LOWER_SPAN),
        ("upper", UPPER_BALL, UPPER_ARM, UPPER_SPAN),
    ):
        ball = ground + height * king
        pivots[arm], axis = _arm(ball, velocity(ball), reach, outward)
        points[f"ball_{arm}"] = ball
        points[f"{arm}_front"] = pivots[arm] + 0.5 * span * axis
        points[f"{arm}_rear"] = pivots[arm] - 0.5 * span * axis
    outer = points["ball_lower"] + np.array([TIE_AHEAD, 0.0, 0.0])
    outer[2] = TIE_HEIGHT
    points["tie_outer"] = outer
    points["tie_inner"] = outer - outward * TIE_ROD * _square_to(velocity(outer), np.array([0.0, 1.0, 0.0]))

    ball, speed = points["ball_lower"], velocity(points["ball_lower"])
    along = np.array([0.0, -outward * np.sin(corner.coil_angle), np.cos(corner.coil_angle)])
    lift = float(np.dot(along, speed))
    if not lift > 0.0:
        place = car.part.place("front", "short", SIDES[side], "coil_angle")
        raise DocumentError(
            f"{place}, front.short.{SIDES[side]}.coil_angle: the coil is not squeezed when the wheel rises; "
            'write an angle such as "20 deg".'
        )
    share = corner.coil_ratio / lift
    points["coil_low"] = pivots["lower"] + share * (ball - pivots["lower"])
    points["coil_top"] = points["coil_low"] + FRONT_COIL * along
    share = corner.bar_ratio / float(speed[2])
    points["bar_foot"] = pivots["lower"] + share * (ball - pivots["lower"])
    points["bar_tip"] = points["bar_foot"] + np.array([0.0, 0.0, BAR_LINK])
    arm_length = 13.0 * INCH if setup.bar is None else setup.bar.arm
    points["bar_center"] = points["bar_tip"] + np.array([arm_length, 0.0, 0.0])
    return points


SIDES = ("LF", "RF")


def _patch_path(car: Values, form: Values, patch: Array, outward: float, cg_height: float) -> Array:
    """Velocity of the contact patch per unit of its rise, wheel locked to the upright.

    Sideways so that the two patches' normals meet at the roll center; forward by the anti-dive:
    share = dx/dz x front brake share x wheelbase / CG height.
    """
    sideways = form.roll_center_height / (outward * patch[1] - outward * form.roll_center_left)
    forward = form.anti_dive * cg_height / (FRONT_BRAKE_SHARE * car.wheelbase)
    return np.array([forward, outward * sideways, 1.0])


def _square_to(velocity: Array, wanted: Array) -> Array:
    """The unit vector nearest a wanted direction that is square to a velocity."""
    way = velocity / np.linalg.norm(velocity)
    across = wanted - np.dot(wanted, way) * way
    return np.asarray(across / np.linalg.norm(across))


def _arm(ball: Array, velocity: Array, reach: float, outward: float) -> tuple[Array, Array]:
    """Middle of an arm's pivot axis and the axis (forward), for a ball joint that moves with a velocity."""
    axis = _square_to(velocity, np.array([1.0, 0.0, 0.0]))
    out = np.cross(velocity / np.linalg.norm(velocity), axis)
    if out[1] * outward < 0.0:
        out = -out
    return np.asarray(ball - reach * out), axis


def rear_axle(car: Values, wheels: Array, cg_height: float) -> tuple[dict[str, tuple[Array, Array]], Array]:
    """Four links (frame end, axle end) and coil ends (low LR RR, top LR RR) [m, chassis axes] of the short
    form.

    Trailing arms and third link lie fore and aft, the panhard bar is level: roll center height, roll steer,
    anti-squat, coil base, lean and ratio are met exactly. Truck arms and leaf springs are this equivalent
    four-link too.
    """
    form = car.at("rear", "rear").at("short_form", "short")
    middle = 0.5 * (wheels[2] + wheels[3])
    back, radius = float(middle[0]), float(middle[2])
    slope = form.roll_steer
    squat = form.anti_squat * cg_height / car.wheelbase
    low = ARM_HEIGHT - radius
    pitch = (squat - slope) / (radius + low - slope * LINK_AHEAD)
    ahead = pitch * radius - squat

    arm = TRAILING_ARM * np.array([1.0, 0.0, slope]) / np.hypot(1.0, slope)
    links = {}
    for name, outward in (("left_arm", 1.0), ("right_arm", -1.0)):
        axle_end = np.array([back + LINK_AHEAD, outward * ARM_PLACE, ARM_HEIGHT])
        links[name] = (axle_end + arm, axle_end)
    rise = -(ahead + pitch * (THIRD_HEIGHT - radius))
    axle_end = np.array([back, 0.0, THIRD_HEIGHT])
    third = THIRD_LINK * np.array([1.0, 0.0, rise]) / np.hypot(1.0, rise)
    links["third_link"] = (axle_end + third, axle_end)
    behind = form.panhard_behind_axle
    side = 1.0 if form.panhard_frame_side == "left" else -1.0
    height = form.roll_center_height - slope * behind
    ends = [np.array([back - behind, s * side * 0.5 * form.panhard_length, height]) for s in (1.0, -1.0)]
    links["panhard"] = (ends[0], ends[1])
    return links, _rear_coils(car, form, back, radius, ahead, pitch)


def _rear_coils(car: Values, form: Values, back: float, radius: float, ahead: float, pitch: float) -> Array:
    """Coil ends low LR RR, top LR RR [m] with the base, lean and heave ratio of the short form."""
    lean = float(np.tan(form.coil_lean))
    wanted = form.coil_ratio * np.hypot(1.0, lean)
    place = 0.0
    if abs(pitch) > 1e-6:
        place = float(np.clip((1.0 - wanted) / pitch, -COIL_REACH, COIL_REACH))
    forward = ahead + pitch * (COIL_HEIGHT - radius)
    upward = 1.0 - pitch * place
    tilt = _fore_aft_tilt(form.coil_ratio, lean, forward, upward)
    if tilt is None:
        at = car.part.place("rear", "short", "coil_ratio")
        raise DocumentError(
            f"{at}, rear.short.coil_ratio: no coil at the axle moves that much per wheel travel with this "
            f'anti_squat; write at most "{upward / np.hypot(1.0, lean):.2f}".'
        )
    low, top = [], []
    for outward in (1.0, -1.0):
        along = np.array([tilt, -outward * lean, 1.0]) / np.sqrt(1.0 + tilt * tilt + lean * lean)
        low.append(np.array([back + place, outward * 0.5 * form.coil_base, COIL_HEIGHT]))
        top.append(low[-1] + REAR_COIL * along)
    return np.array([*low, *top])


def _fore_aft_tilt(ratio: float, lean: float, forward: float, upward: float) -> float | None:
    """Tangent of a coil's fore-and-aft lean so that (tilt forward + upward) / sqrt(1 + tilt^2 + lean^2) is
    the ratio.

    The smaller root in size; None when there is none.
    """
    a = forward * forward - ratio * ratio
    b = 2.0 * forward * upward
    c = upward * upward - ratio * ratio * (1.0 + lean * lean)
    if abs(c) < 1e-12:
        return 0.0
    roots: Any = np.roots([a, b, c])
    real = [float(x.real) for x in roots if abs(x.imag) < 1e-9 and x.real * forward + upward > 0.0]
    return min(real, key=abs) if real else None
