"""The car as drawn: every point of its linkages at ride height, in chassis axes, and how the record is
filled from it.

Documents measure x from the front axle; the record from mid-wheelbase. A drawing is what alignment turns
(camber, toe, axle yaw) and what a later change of setup keeps: the wheels' places, the lengths of rods that
were not touched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ovalwright.documents import DocumentError
from ovalwright.vehicle.geometry import (
    GeometryError,
    set_axle,
    set_bar,
    set_front_corner,
    spin_axis,
)
from ovalwright.vehicle.record import Record

from . import short_form
from .values import Values

Array = npt.NDArray[np.float64]
SIDES = ("LF", "RF")
OUTWARD = (1.0, -1.0)
"""Left and right: which way is outboard, along y."""
LOOSE = 1e-3
"""Below this share a motion of the axle counts as not held by its links."""
_POINTS = {
    "lower_front": "lower_pivot_front",
    "lower_rear": "lower_pivot_rear",
    "ball_lower": "lower_ball_joint",
    "upper_front": "upper_pivot_front",
    "upper_rear": "upper_pivot_rear",
    "ball_upper": "upper_ball_joint",
    "tie_inner": "tie_rod_inner",
    "tie_outer": "tie_rod_outer",
    "coil_low": "coil_on_arm",
    "coil_top": "coil_on_frame",
    "bar_foot": "bar_link_on_arm",
    "bar_tip": "bar_link_on_bar",
}
"""Names of the record's front points and of the document's."""


@dataclass(frozen=True)
class Drawing:
    """Points of both front corners, links of the axle, wheels LF RF LR RR [m]; inclination and steer as
    drawn [rad].
    """

    corners: tuple[dict[str, Array], dict[str, Array]]
    inclination: tuple[float, float]
    steer: tuple[float, float]
    link_frame: Array
    link_axle: Array
    wheels: Array
    axle_camber: tuple[float, float]
    axle_cg: Array
    rear_coils: Array
    yaw: float

    def turned(self, *, inclination: Array, steer: Array, yaw: float) -> Drawing:
        """With camber, toe and axle yaw turned by so much [rad]."""
        return replace(
            self,
            inclination=(self.inclination[0] + inclination[0], self.inclination[1] + inclination[1]),
            steer=(self.steer[0] + steer[0], self.steer[1] + steer[1]),
            yaw=self.yaw + yaw,
        )


def at_middle(place: Array, car: Values) -> Array:
    """A place of the documents [m from the front axle] in chassis axes [m from mid-wheelbase]."""
    return np.asarray(place + np.array([0.5 * car.wheelbase, 0.0, 0.0]))


def inclinations(setup: Values) -> Array:
    """Front cambers (top in negative) as inclinations (top left positive) [rad]."""
    return np.array([sign * getattr(setup, side).camber for side, sign in zip(SIDES, OUTWARD, strict=True)])


def steers(setup: Values) -> Array:
    """Steer of both front wheels [rad, + left] from the total toe-out over its gauge, split equally."""
    each = float(np.arcsin(0.5 * setup.toe_out / setup.toe_gauge))
    return np.array([each, -each])


def axle_yaw(car: Values, setup: Values) -> float:
    """Yaw of the axle [rad] that puts the RR wheel ahead by the setup's lead."""
    return float(np.arcsin(setup.rear_lead / car.tread.rear))


def draw(car: Values, setup: Values, *, wheels: Array, cg_height: float) -> Drawing:
    """Draw the car at ride height on wheels with given centers LF RF LR RR (4, 3) [m].

    `cg_height` [m] is that of the whole car, for anti-dive and anti-squat of the short form.
    """
    lean = inclinations(setup)
    corners = _front_points(car, setup, wheels, cg_height)
    link_frame, link_axle, rear_coils = _rear_points(car, setup, wheels, cg_height)
    unsprung = car.unsprung
    return Drawing(
        corners=corners,
        inclination=(float(lean[0]), float(lean[1])),
        steer=(float(steers(setup)[0]), float(steers(setup)[1])),
        link_frame=link_frame,
        link_axle=link_axle,
        wheels=wheels,
        axle_camber=(setup.LR.camber, -setup.RR.camber),
        axle_cg=np.array([-0.5 * car.wheelbase, unsprung.axle_left, unsprung.height]),
        rear_coils=rear_coils,
        yaw=axle_yaw(car, setup),
    )


def wheels_over_patches(car: Values, setup: Values, radius: Sequence[float]) -> Array:
    """Wheel centers LF RF LR RR over contact patches at half the treads, on tires of given loaded radii
    [m].
    """
    half = 0.5 * car.wheelbase
    lean = inclinations(setup)
    wheels = np.empty((4, 3))
    for i, outward in enumerate(OUTWARD):
        patch = np.array([half, outward * 0.5 * car.tread.front, 0.0])
        wheels[i] = patch + radius[i] * np.array([0.0, np.sin(lean[i]), np.cos(lean[i])])
        wheels[2 + i] = (-half, car.rear.axle_left + outward * 0.5 * car.tread.rear, radius[2 + i])
    return wheels


def _front_points(
    car: Values, setup: Values, wheels: Array, cg_height: float
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Points of both front corners, with the setup's caster."""
    form = car.front.points
    corners = []
    for i, side in enumerate(SIDES):
        if form is None:
            points = short_form.front_corner(car, setup, i, wheels[i], cg_height)
        else:
            held = getattr(form, side)
            points = {name: at_middle(getattr(held, there), car) for name, there in _POINTS.items()}
            axis = (form.bar_axis_station + 0.5 * car.wheelbase, points["bar_tip"][1], form.bar_axis_height)
            points["bar_center"] = np.array(axis)
            points["wheel"] = wheels[i]
            if form.coil_arm == "upper":
                _move_coil_to_lower_arm(points)
            _set_bar_arm(points, setup)
        _set_caster(points, getattr(setup, side).caster)
        corners.append(points)
    return corners[0], corners[1]


def _set_bar_arm(points: dict[str, Array], setup: Values) -> None:
    """Slide the link along the bar's arm to the arm length the setup states."""
    if setup.bar is not None and setup.bar.known("arm"):
        arm = points["bar_tip"] - points["bar_center"]
        points["bar_tip"] = points["bar_center"] + arm * (setup.bar.arm / np.linalg.norm(arm))


def _set_caster(points: dict[str, Array], caster: float | None) -> None:
    """Slide the upper arm with its ball joint fore and aft until the kingpin has this caster [rad]."""
    if caster is None:
        return
    rise = points["ball_upper"] - points["ball_lower"]
    shift = np.array([-np.tan(caster) * rise[2] - rise[0], 0.0, 0.0])
    for name in ("ball_upper", "upper_front", "upper_rear"):
        points[name] = points[name] + shift


def _move_coil_to_lower_arm(points: dict[str, Array]) -> None:
    """A coil on the upper arm as one on the lower arm with the same line, length and travel per wheel
    travel.
    """
    along = points["coil_low"] - points["coil_top"]
    length = float(np.linalg.norm(along))
    along = along / length
    lower = np.cross(
        _axis(points["lower_front"], points["lower_rear"]), points["ball_lower"] - points["lower_rear"]
    )
    upper_axis = _axis(points["upper_front"], points["upper_rear"])
    upper = np.cross(upper_axis, points["ball_upper"] - points["upper_rear"])
    king = points["ball_upper"] - points["ball_lower"]
    turn = np.dot(king, lower) / np.dot(king, upper)
    travel = turn * np.dot(along, np.cross(upper_axis, points["coil_low"] - points["upper_rear"]))
    share = travel / np.dot(along, lower)
    pivot = 0.5 * (points["lower_front"] + points["lower_rear"])
    points["coil_low"] = pivot + share * (points["ball_lower"] - pivot)
    points["coil_top"] = points["coil_low"] - length * along


def _axis(front: Array, rear: Array) -> Array:
    return np.asarray((front - rear) / np.linalg.norm(front - rear))


def _rear_points(car: Values, setup: Values, wheels: Array, cg_height: float) -> tuple[Array, Array, Array]:
    """Link ends on frame and axle (4, 3), and coil ends: low LR RR, top LR RR (4, 3) [m]."""
    form = car.rear.points
    if form is None:
        links, coils = short_form.rear_axle(car, wheels, cg_height)
    else:
        links = {
            name: (at_middle(link.frame, car), at_middle(link.axle, car)) for name, link in form.links.items()
        }
        ends = (form.LR.on_axle, form.RR.on_axle, form.LR.on_frame, form.RR.on_frame)
        coils = np.array([at_middle(end, car) for end in ends])
    _move_link_ends(links, setup)
    frame = np.array([ends[0] for ends in links.values()])
    return frame, np.array([ends[1] for ends in links.values()]), coils


def _move_link_ends(links: dict[str, tuple[Array, Array]], setup: Values) -> None:
    """Put link ends in the holes of the setup, and the panhard bar at its heights."""
    for name, shift in setup.link_shift.items():
        if name not in links:
            place = setup.part.place("link_shift", name)
            known = ", ".join(links)
            raise DocumentError(
                f"{place}, link_shift.{name}: the car has no such link; write one of {known}."
            )
        links[name][0][2] += shift.frame_up
        links[name][1][2] += shift.axle_up
    if "panhard" in links:
        heights = (setup.panhard.frame_height, setup.panhard.axle_height)
        for end, height in zip(links["panhard"], heights, strict=True):
            if height is not None:
                end[2] = height


def set_linkage(record: Record, drawing: Drawing, car: Values) -> None:
    """Fill every linkage field of a record. Raises DocumentError when the points cannot be a mechanism."""
    set_alignment(record, drawing, car)
    for i in range(2):
        points = drawing.corners[i]
        try:
            set_bar(
                record,
                i,
                foot=points["bar_foot"],
                tip=points["bar_tip"].copy(),
                center=points["bar_center"].copy(),
            )
        except GeometryError as problem:
            raise DocumentError(_at_corner(car, i, problem)) from None
        for strut in ("coil", "shock"):
            record[f"{strut}_low"][i], record[f"{strut}_top"][i] = points["coil_low"], points["coil_top"]
    for strut in ("coil", "shock"):
        record[f"{strut}_low"][2:] = drawing.rear_coils[:2] - record["axle_origin"]
        record[f"{strut}_top"][2:] = drawing.rear_coils[2:]
    if np.linalg.matrix_rank(_link_rows(record), tol=LOOSE) < 4:
        form = "points" if car.rear.points is not None else "short"
        raise DocumentError(
            f"{car.part.place('rear', form)}, rear.{form}: the four links do not hold the axle fore and aft, "
            "sideways, in pitch and in yaw; check their ends."
        )


def set_alignment(record: Record, drawing: Drawing, car: Values) -> None:
    """Fill what camber, toe and axle yaw turn: uprights, tie rods and axle. Raises DocumentError as above."""
    record["steer_gain"] = 0.0
    for i in range(2):
        lean, steer = drawing.inclination[i], drawing.steer[i]
        try:
            set_front_corner(record, i, drawing.corners[i], inclination=lean, steer=steer)
        except GeometryError as problem:
            raise DocumentError(_at_corner(car, i, problem)) from None
    left, right = drawing.wheels[2], drawing.wheels[3]
    across = left - right
    tilt = -float(np.arcsin(across[2] / np.linalg.norm(across)))
    set_axle(
        record,
        origin=0.5 * (left + right),
        link_frame=drawing.link_frame,
        link_axle=drawing.link_axle,
        wheels=drawing.wheels[2:],
        spindles=np.array([spin_axis(tilt + camber, 0.0) for camber in drawing.axle_camber]),
        cg=drawing.axle_cg,
        yaw=drawing.yaw,
    )


def _at_corner(car: Values, side: int, problem: GeometryError) -> str:
    """The sentence about a front corner that cannot be a mechanism."""
    form = "points" if car.front.points is not None else "short"
    return f"{car.part.place('front', form, SIDES[side])}, front.{form}.{SIDES[side]}: {problem}."


def _link_rows(record: Record) -> Array:
    """How each rear link's length grows with axle x, y [m], pitch and yaw [half a meter of arc], as drawn."""
    ends = record["link_axle"]
    line = record["axle_origin"] + ends - record["link_frame"]
    line = line / np.maximum(np.linalg.norm(line, axis=1), 1e-9)[:, None]
    turn = np.cross(ends, line) / 0.5
    return np.column_stack([line[:, 0], line[:, 1], turn[:, 1], turn[:, 2]])
