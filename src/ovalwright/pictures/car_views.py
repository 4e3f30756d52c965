"""The car from above, from the front and from behind, to scale, as the solver has it.

SVG for a page: classes only, the page's style sheet gives ink and weight. The view from the front is mirrored,
its left wheels on the right.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ovalwright.pictures.car_shape import CarShape, Wheel
from ovalwright.pictures.load_lengths import full_length, load_bar
from ovalwright.pictures.said import degrees, gap_words, percent, pounds
from ovalwright.pictures.struts import Note, draw_strut, notes_of
from ovalwright.pictures.svg import Point, Sheet, path

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Room:
    """How much paper a drawing has [px], and whether it is that of a phone."""

    width: float
    height: float
    phone: bool


PHONE_END, LAPTOP_END = Room(360.0, 172.0, True), Room(470.0, 250.0, False)
PHONE_PLAN, LAPTOP_PLAN = Room(360.0, 300.0, True), Room(480.0, 506.0, False)


# ---------------- from the front and from behind


@dataclass(frozen=True)
class _Eye:
    """A way to look along the car: which pair of wheels, which way y runs on paper, px per meter, where the
    road's origin lies.
    """

    front: bool
    flip: float
    scale: float
    x: float
    y: float
    bank: float

    def __call__(self, at: Array) -> Point:
        """A point in road axes [m] on paper, the road tilted by its bank."""
        c, s = math.cos(self.bank), math.sin(self.bank)
        across, up = c * at[1] + s * at[2], c * at[2] - s * at[1]
        return self.x + self.flip * self.scale * across, self.y - self.scale * up

    def all(self, points: Array) -> list[Point]:
        """Points on paper."""
        return [self(point) for point in points]

    @property
    def pair(self) -> slice:
        """The two wheels that are seen."""
        return slice(0, 2) if self.front else slice(2, 4)


def from_front(shape: CarShape, room: Room = LAPTOP_END, *, ghost: CarShape | None = None,
               steepest: float | None = None, name: str = "front") -> str:  # fmt: skip
    """The front axle, arms, coils and stops from the front; the car's left is on the right."""
    return _end_view(shape, room, ghost, steepest, name, front=True)


def from_behind(shape: CarShape, room: Room = LAPTOP_END, *, ghost: CarShape | None = None,
                steepest: float | None = None, name: str = "behind") -> str:  # fmt: skip
    """The rear axle, links, coils and stops from behind.

    `steepest` is the greatest bank of the turn [rad]: room is kept for it, so that the scale stays as the
    car is moved along.
    """
    return _end_view(shape, room, ghost, steepest, name, front=False)


HALF_WIDE, TALL, UNDER = 1.12, 1.08, 0.06
"""What a view has to hold about the road's origin [m]: to each side, upward, and road below."""


def _eye(shape: CarShape, room: Room, steepest: float | None, front: bool) -> _Eye:
    tilt = max(abs(shape.bank), abs(steepest or 0.0))
    c, s = math.cos(tilt), math.sin(tilt)
    wide = 2.0 * HALF_WIDE * c + TALL * s
    tall = 2.0 * HALF_WIDE * s + TALL * c + UNDER
    scale = min((room.width - 12.0) / wide, (room.height - 16.0) / tall)
    flip = 1.0 if front else -1.0
    lean = math.copysign(s, shape.bank) if shape.bank else 0.0
    x = 0.5 * room.width - flip * 0.5 * scale * TALL * lean
    y = room.height - 14.0 - scale * HALF_WIDE * s
    return _Eye(front, flip, scale, x, y, shape.bank)


def _end_view(
    shape: CarShape, room: Room, ghost: CarShape | None, steepest: float | None, name: str, *, front: bool
) -> str:
    eye, sheet = _eye(shape, room, steepest, front), Sheet(name, room.width, room.height)
    _road(sheet, eye, shape.standing)
    section = "nose section" if front else "tail section"
    if ghost is not None:
        sheet.line("ghost", eye.all(ghost.fixed[section]))
        for wheel in ghost.wheels[eye.pair]:
            sheet.line("ghost", _tire(wheel, eye), closed=True)
    sheet.line("body", eye.all(shape.fixed[section]))
    if front:
        sheet.line("body", eye.all(shape.fixed["engine"]))
    else:
        _fuel_cell(sheet, eye, shape)
    for wheel in shape.wheels[eye.pair]:
        _wheel(sheet, eye, wheel)
    (_front_links if front else _rear_links)(sheet, eye, shape)
    notes = []
    for i in range(4)[eye.pair]:
        stop = next((stop for stop in shape.stops if stop.name == shape.coils[i].name), None)
        draw_strut(sheet, eye, eye.scale, shape.coils[i], stop)
        notes += notes_of(shape.coils[i], stop, eye)
    _labels(sheet, eye, shape, room)
    _magnified(sheet, eye, room, notes)
    return sheet.svg(_end_sentence(shape, notes, front))


def _road(sheet: Sheet, eye: _Eye, standing: bool) -> None:
    """The road with slanted strokes below; pads where the car stands on its scales."""
    if standing:
        return
    reach = 1.3 * HALF_WIDE
    ends = [np.array([0.0, y, 0.0]) for y in (-reach, reach)]
    sheet.line("road", eye.all(np.array(ends)))
    strokes = []
    for y in np.arange(-reach, reach, 0.075).tolist():
        top, low = eye(np.array([0.0, y, 0.0])), eye(np.array([0.0, y + 0.03, -0.04]))
        strokes.append(path([top, low]))
    sheet.path("hatch", "".join(strokes))


def _tire(wheel: Wheel, eye: _Eye) -> list[Point]:
    """The outline of a tire: its width along the spin axis, its height in the wheel plane, flat on the road."""
    axis = wheel.spindle
    up = np.array([0.0, 0.0, 1.0]) - axis[2] * axis
    up /= np.linalg.norm(up)
    half, round_off = 0.5 * wheel.width * axis, 0.06
    corners = []
    for side in (1.0, -1.0):
        edge = wheel.center + side * half
        below = min(wheel.radius, edge[2] / up[2]) if not wheel.lifted else wheel.radius
        top = edge + (wheel.radius - 0.5 * round_off) * up
        tip = wheel.center + side * (1.0 - round_off / wheel.width) * half + wheel.radius * up
        ends = [edge - below * up, top, tip]
        corners += ends if side > 0.0 else reversed(ends)
    return [eye(corner) for corner in corners]


def _wheel(sheet: Sheet, eye: _Eye, wheel: Wheel) -> None:
    sheet.line("tire", _tire(wheel, eye), closed=True)
    axis = wheel.spindle
    up = np.array([0.0, 0.0, 1.0]) - axis[2] * axis
    up /= np.linalg.norm(up)
    ends = [wheel.center + 0.86 * wheel.radius * up, wheel.center - 0.8 * wheel.radius * up]
    sheet.line("center-line", [eye(end) for end in ends])
    x, y = eye(wheel.center + 0.35 * wheel.radius * up)
    sheet.text("load-name halo mid", (x, y + 5.0), wheel.name)


def _front_links(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    parts, fixed = shape.parts, shape.fixed
    sheet.line("member", eye.all(fixed["front crossmember"]))
    for side, corner in enumerate(("LF", "RF")):
        for arm, ball in (("lower", "ball_lower"), ("upper", "ball_upper")):
            pivots = fixed[f"{corner} {arm} pivots"]
            front, rear = eye(pivots[0]), eye(pivots[1])
            sheet.line("link" if arm == "upper" else "arm", [front, eye(parts[ball][side]), rear])
            sheet.circle("joint", front, 2.4)
        low, high = eye(parts["ball_lower"][side]), eye(parts["ball_upper"][side])
        sheet.line("upright", [low, high])
        king = 0.55 * parts["ball_lower"][side] + 0.45 * parts["ball_upper"][side]
        sheet.line("upright", [eye(king), eye(parts["wheel"][side])])
        sheet.line("rod", eye.all(np.array([parts["tie_inner"][side], parts["tie_outer"][side]])))
        for joint in (low, high):
            sheet.circle("joint", joint, 2.6)


def _rear_links(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    parts = shape.parts
    left, right = parts["wheel"][2], parts["wheel"][3]
    up = np.array([0.0, 0.0, 0.038])
    tube = [eye(left + up), eye(right + up), eye(right - up), eye(left - up)]
    sheet.line("axle", tube, closed=True)
    sheet.circle("axle", eye(0.5 * (left + right)), 0.15 * eye.scale)
    for i, link in enumerate(shape.links):
        ends = [eye(parts["link_frame"][i]), eye(parts["link_axle"][i])]
        sheet.line("link" if link == "panhard" else "rod", ends)
        for end in ends:
            sheet.circle("joint", end, 2.4)


def _fuel_cell(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    """The cell dotted, its fuel as a tone up to its level; the level is that of the cell at rest."""
    low_left, high_left, high_right, low_right = _cell_section(shape)
    sheet.line("tone", [eye(low_left), eye(low_left + shape.fuel * (high_left - low_left)),
                        eye(low_right + shape.fuel * (high_right - low_right)), eye(low_right)], closed=True)  # fmt: skip
    sheet.line("cell", eye.all(np.array([low_left, high_left, high_right, low_right])), closed=True)


def _cell_section(shape: CarShape) -> Array:
    return shape.fixed["cell section"]


def _labels(sheet: Sheet, eye: _Eye, shape: CarShape, room: Room) -> None:
    """Under the axle one fact per side, or the roll where the wheels of the axle stand upright."""
    y = eye(np.array([0.0, 0.0, 0.0]))[1] - 6.0
    pair = shape.wheels[eye.pair]
    if eye.front:
        for wheel in pair:
            x, ground = eye(np.array([0.0, 0.33 * math.copysign(1.0, wheel.center[1]), 0.0]))
            sheet.text(
                "label halo mid", (x, ground - 6.0), f"camber {degrees(racer_camber(wheel), sign=True)}"
            )
    else:
        sheet.text("label halo mid", (eye.x, y), _roll_words(shape.roll))
    for wheel in pair:
        if wheel.lifted:
            x, y = eye(wheel.center + np.array([0.0, 0.0, -wheel.radius]))
            sheet.text("word halo mid", (x, y + 12.0), f"Lifted {gap_words(-wheel.squash)}")
    for point in shape.watched:
        if point.gap < 0.0 and (point.at[0] > 0.0) == eye.front:
            x, y = eye(point.at)
            sheet.line("drag", [(x - 6.0, y - 9.0), (x + 6.0, y - 9.0), (x, y)], closed=True)
            sheet.text("word halo mid", (x, y - 13.0), f"{point.name} drags")


def racer_camber(wheel: Wheel) -> float:
    """Camber to the road in the trade's sign [rad], negative with the top in."""
    return wheel.inclination if wheel.name in ("LF", "LR") else -wheel.inclination


def _roll_words(roll: float) -> str:
    """Body roll in words; to the right is positive."""
    if abs(roll) < math.radians(0.05):
        return "body level"
    return f"body roll {degrees(abs(roll))} {'right' if roll > 0.0 else 'left'}"


def _magnified(sheet: Sheet, eye: _Eye, room: Room, notes: list[Note]) -> None:
    """A circle with a leader for what is too small to see, inboard of each side."""
    radius = 27.0 if room.phone else 36.0
    taken: dict[bool, int] = {True: 0, False: 0}
    for note in notes:
        x, y = note.at
        right = x > 0.5 * room.width
        way = 1.0 if right else -1.0
        place = taken[right]
        taken[right] += 1
        center = (0.5 * room.width + way * (radius + 8.0 + place * (2.0 * radius + 8.0)), radius + 4.0)
        sheet.line("leader", [(x, y), center])
        note.draw(sheet, center, radius)
        words_y = center[1] + radius + 13.0
        sheet.text("word halo mid", (center[0], words_y), note.number)
        sheet.text("label halo mid", (center[0], words_y + 14.0), note.words)


def _end_sentence(shape: CarShape, notes: list[Note], front: bool) -> str:
    if front:
        left, right = shape.wheels[:2]
        facts = [
            f"LF camber {degrees(racer_camber(left), sign=True)}",
            f"RF camber {degrees(racer_camber(right), sign=True)}",
        ]
    else:
        facts = []
    facts.append(_roll_words(shape.roll))
    facts += [f"{note.words} {note.number}" for note in notes]
    facts += [f"{wheel.name} lifted" for wheel in shape.wheels if wheel.lifted]
    facts += [f"{point.name} drags" for point in shape.watched if point.gap < 0.0]
    return f"The car {'from the front, its left side on your right' if front else 'from behind'}: {', '.join(facts)}."


# ---------------- from above


def plan(shape: CarShape, room: Room = LAPTOP_PLAN, *, ghost: CarShape | None = None,
         full: float | None = None, name: str = "plan") -> str:  # fmt: skip
    """The car from above, nose up, with its four loads as lengths outward from the tires.

    `full` [lb] is what a full length stands for, to hold one scale on a page.
    """
    sheet = Sheet(name, room.width, room.height)
    body = shape.fixed["body"]
    nose, tail = float(body[:, 0].max()), float(body[:, 0].min())
    scale = (room.height - 14.0) / (nose - tail)

    def at(point: Array) -> Point:
        return 0.5 * room.width - scale * point[1], 7.0 + scale * (nose - point[0])

    def line(kind: str, points: Array, *, closed: bool = False) -> None:
        sheet.line(kind, [at(point) for point in points], closed=closed)

    if ghost is not None:
        line("ghost", ghost.fixed["body"])
    for part in ("body", "cabin", "block", "seat"):
        line("body", shape.fixed[part])
    for part in shape.fixed:
        if "frame" in part or part in ("nose bar", "tail bar", "front crossmember"):
            line("frame", shape.fixed[part])
    line("cell", shape.fixed["cell"], closed=True)
    _plan_links(shape, line)
    line("diagonal", np.array([shape.wheels[1].center, shape.wheels[2].center]))
    for wheel in shape.wheels:
        _plan_tire(sheet, at, wheel)
    _quartered(sheet, at(shape.cg), 5.0 if room.phone else 7.0)
    loads = [wheel.load for wheel in shape.wheels]
    others = [wheel.load for wheel in ghost.wheels] if ghost else None
    most = full if full is not None else full_length(*loads, *(others or ()))
    wedge = (loads[1] + loads[2]) / sum(loads)
    _plan_loads(sheet, at, shape, others, most, room)
    middle = at(0.5 * (shape.wheels[1].center + shape.wheels[2].center))
    sheet.text("label halo mid", (middle[0], middle[1] - 6.0), "RF + LR")
    sheet.text("word halo mid", (middle[0], middle[1] + 11.0), f"{percent(wedge)} %")
    for point in shape.watched:
        if point.gap < 0.0:
            x, y = at(point.at)
            sheet.line("drag", [(x - 6.0, y - 6.0), (x + 6.0, y + 6.0)])
            sheet.line("drag", [(x - 6.0, y + 6.0), (x + 6.0, y - 6.0)])
    said = ", ".join(f"{wheel.name} {pounds(wheel.load)} pounds" for wheel in shape.wheels)
    where = "on the scales" if shape.standing else f"in a {'left' if shape.hand > 0 else 'right'} turn"
    return sheet.svg(f"The car from above, {where}: {said}, wedge {percent(wedge)} percent.")


def _plan_links(shape: CarShape, line: Callable[..., None]) -> None:
    parts, fixed = shape.parts, shape.fixed
    for side, corner in enumerate(("LF", "RF")):
        pivots = fixed[f"{corner} lower pivots"]
        line("arm", np.array([pivots[0], parts["ball_lower"][side], pivots[1]]))
        upper = fixed[f"{corner} upper pivots"]
        line("rod", np.array([upper[0], parts["ball_upper"][side], upper[1]]))
        line("rod", np.array([parts["tie_inner"][side], parts["tie_outer"][side]]))
    line(
        "rod",
        np.array(
            [parts["bar_foot"][0], parts["bar_center"][0], parts["bar_center"][1], parts["bar_foot"][1]]
        ),
    )
    line("axle-line", np.array([parts["wheel"][2], parts["wheel"][3]]))
    for i in range(4):
        line("link", np.array([parts["link_frame"][i], parts["link_axle"][i]]))


def _plan_tire(sheet: Sheet, at: Callable[[Array], Point], wheel: Wheel) -> None:
    ahead = wheel.forward - wheel.forward[2] * np.array([0.0, 0.0, 1.0])
    aside = np.array([-ahead[1], ahead[0], 0.0])

    def corners(half_long: float, half_wide: float, about: Array) -> list[Point]:
        signs = ((1, 1), (1, -1), (-1, -1), (-1, 1))
        return [at(about + a * half_long * ahead + b * half_wide * aside) for a, b in signs]

    sheet.line("tire", corners(wheel.radius, 0.5 * wheel.width, wheel.center), closed=True)
    if not wheel.lifted:
        foot = np.array([wheel.patch[0], wheel.center[1], 0.0])
        sheet.line("patch", corners(0.5 * wheel.patch_length, 0.5 * wheel.width, foot), closed=True)
    x, y = at(wheel.center + 0.55 * wheel.radius * ahead)
    sheet.text("load-name halo mid", (x, y + 4.0), wheel.name)


def _plan_loads(
    sheet: Sheet,
    at: Callable[[Array], Point],
    shape: CarShape,
    others: list[float] | None,
    most: float,
    room: Room,
) -> None:
    tall = 18.0 if room.phone else 30.0
    edge = 0.5 * max(wheel.width for wheel in shape.wheels) + 0.04
    for i, wheel in enumerate(shape.wheels):
        left = wheel.center[1] > 0.0
        way = -1.0 if left else 1.0
        x, y = at(wheel.center + np.array([0.0, -way * edge, 0.0]))
        x += way * 4.0
        reach = (x if left else room.width - x) - 6.0
        ghost = None if others is None else others[i]
        load_bar(sheet, (x, y - 0.5 * tall), way * reach, tall, wheel.load, most, ghost)
        held = "end" if left else "start"
        word = "Lifted" if wheel.lifted else pounds(wheel.load)
        sheet.text(f"load-number halo {held}", (x, y - 0.5 * tall - 6.0), word)


def _quartered(sheet: Sheet, at: Point, radius: float) -> None:
    """The center of gravity: a circle with two opposite quarters filled."""
    x, y = at
    r = radius
    sheet.circle("paper", at, r)
    sheet.path("ink", f"M{x:.1f} {y:.1f}V{y - r:.1f}A{r} {r} 0 0 1 {x + r:.1f} {y:.1f}Z"
                      f"M{x:.1f} {y:.1f}V{y + r:.1f}A{r} {r} 0 0 1 {x - r:.1f} {y:.1f}Z")  # fmt: skip
    sheet.circle("outline", at, r)
