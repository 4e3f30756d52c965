"""From pick-up points to the constants of the compiled linkage. Plain arrays in chassis axes, meters and
radians."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from .record import Record

Points = Mapping[str, npt.NDArray[np.float64]]
Array = npt.NDArray[np.float64]


class GeometryError(ValueError):
    """The links as drawn cannot be a mechanism; the message is one sentence for the owner of the car."""


def unit(a: Array) -> Array:
    """a / |a|; raises GeometryError for two points that coincide."""
    size = float(np.linalg.norm(a))
    if size < 1e-9:
        raise GeometryError("two ends of one link are at the same place; give each end its own point")
    return a / size


def cross(a: Array, b: Array) -> Array:
    """a x b; a tenth of the time of NumPy's for single vectors."""
    return np.array([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def turn_about(axis: Array, angle: float, a: Array) -> Array:
    """a turned about a unit axis by angle [rad] (Rodrigues)."""
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(c * a + s * cross(axis, a) + (1.0 - c) * np.dot(axis, a) * axis)


def spin_axis(inclination: float, steer: float) -> Array:
    """Unit spin axis pointing left of a wheel leaning left by `inclination` and steered left by `steer`
    [rad]."""
    c = np.cos(inclination)
    return np.array([-np.sin(steer) * c, np.cos(steer) * c, -np.sin(inclination)])


def set_front_corner(car: Record, side: int, points: Points, *, inclination: float, steer: float) -> None:
    """Fill one front corner of a car record from its points as drawn, with straight wheels' tie rods.

    Points [m]: lower_front, lower_rear, ball_lower, upper_front, upper_rear, ball_upper, tie_inner,
    tie_outer, wheel. `inclination` (top left +) and `steer` (left +) [rad] are those of the wheel as
    drawn; the tie rod is cut to length for `steer`, the spindle is set in the upright for `inclination`.
    """
    outward = 1.0 if side == 0 else -1.0
    axis = unit(points["lower_front"] - points["lower_rear"]) * outward
    car["arm_pivot"][side] = points["lower_rear"]
    car["arm_axis"][side] = axis
    car["ball_lower"][side] = points["ball_lower"]
    upper_axis = unit(points["upper_front"] - points["upper_rear"]) * outward
    from_pivot = points["ball_upper"] - points["upper_rear"]
    center = points["upper_rear"] + np.dot(from_pivot, upper_axis) * upper_axis
    arm = points["ball_upper"] - center
    car["upper_center"][side], car["upper_axis"][side] = center, upper_axis
    car["upper_e1"][side] = unit(arm)
    car["upper_e2"][side] = cross(upper_axis, unit(arm))
    car["upper_radius"][side] = np.linalg.norm(arm)
    king = points["ball_upper"] - points["ball_lower"]
    car["kingpin_length"][side] = np.linalg.norm(king)
    king = unit(king)
    car["upper_branch"][side] = _branch(
        np.dot(points["ball_lower"] - points["ball_upper"], car["upper_e2"][side])
    )

    steering_arm = points["tie_outer"] - points["ball_lower"]
    height = float(np.dot(steering_arm, king))
    offset = steering_arm - height * king
    first = unit(offset)
    second = cross(king, first)
    car["tie_inner"][side] = points["tie_inner"]
    car["tie_height"][side], car["tie_radius"][side] = height, np.linalg.norm(offset)
    turned = steer / max(float(king[2]), 0.2)
    outer = points["ball_lower"] + height * king + turn_about(king, turned, offset)
    car["tie_length"][side] = np.linalg.norm(outer - points["tie_inner"])
    toward = points["tie_inner"] - (points["ball_lower"] + height * king)
    across = toward - np.dot(toward, king) * king
    car["tie_branch"][side] = _branch(-np.dot(cross(king, across), offset))
    if abs(offset[0]) < 1e-3:
        raise GeometryError(
            "the outer tie rod end stands beside the kingpin and cannot steer; check its place"
        )
    car["steer_gain"] += 0.5 / offset[0]
    straight = spin_axis(inclination, 0.0)
    parts = np.array([king, first, second])
    car["hub"][side] = parts @ (points["wheel"] - points["ball_lower"])
    car["spindle"][side] = parts @ straight


def _branch(side: float) -> float:
    return 1.0 if side > 0.0 else -1.0


def set_bar(car: Record, side: int, *, foot: Array, tip: Array, center: Array) -> None:
    """Fill one bar arm: link end on the lower arm, link end on the bar arm, and the bar's center there [m].

    The bar lies along y, so `center` and `tip` share their y.
    """
    arm = tip - center
    arm[1] = 0.0
    car["bar_center"][side] = np.array([center[0], tip[1], center[2]])
    e1 = unit(arm)
    e2 = cross(np.array([0.0, 1.0, 0.0]), e1)
    lift = cross(car["arm_axis"][side], foot - car["arm_pivot"][side])
    if np.dot(e2, lift) < 0.0:
        e2 = -e2
    car["bar_e1"][side], car["bar_e2"][side] = e1, e2
    car["bar_arm"][side] = np.linalg.norm(arm)
    car["bar_foot"][side] = foot
    car["bar_link"][side] = np.linalg.norm(foot - tip)
    toward = foot - car["bar_center"][side]
    size = np.hypot(np.dot(toward, e1), np.dot(toward, e2))
    if size < 1e-9:
        raise GeometryError("the bar's link ends on the bar's own axis; the arm needs some length")
    car["bar_branch"][side] = _branch(np.dot(toward, e2))


def set_axle(
    car: Record,
    *,
    origin: Array,
    link_frame: Array,
    link_axle: Array,
    wheels: Array,
    spindles: Array,
    cg: Array,
    yaw: float,
) -> None:
    """Fill the live axle: four links frame to axle as drawn and square [m], then cut so that it sits at
    `yaw` [rad]."""
    car["axle_origin"] = origin
    car["link_frame"] = link_frame
    car["link_axle"] = link_axle - origin
    car["axle_wheel"] = wheels - origin
    car["axle_spindle"] = spindles
    car["axle_cg"] = cg - origin
    c, s = np.cos(yaw), np.sin(yaw)
    turned = car["link_axle"] @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    car["link_length"] = np.linalg.norm(origin + turned - link_frame, axis=1)
    car["axle_start"] = np.array([0.0, 0.0, 0.0, yaw])


def strut_length(low: Array, top: Array) -> float:
    """Length of a strut as drawn [m]."""
    return float(np.linalg.norm(low - top))


def half_masses(
    mass: float, cg: Array, *, front_station: float, rear_station: float
) -> tuple[float, Array, float, Array]:
    """Split a sprung mass [kg] with its CG [m] on two halves at given x [m]: the sum and the CG are kept
    exactly."""
    share = (cg[0] - rear_station) / (front_station - rear_station)
    front = np.array([front_station, cg[1], cg[2]])
    rear = np.array([rear_station, cg[1], cg[2]])
    return share * mass, front, (1.0 - share) * mass, rear
