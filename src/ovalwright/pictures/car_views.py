"""The car from above, from the front and from behind, to scale, as the solver has it.

SVG for a page: classes only, the page's style sheet gives ink and weight. The view from the front is
mirrored, its left wheels on the right.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ovalwright.pictures.car_shape import CarShape, Wheel
from ovalwright.pictures.leaf_springs import TUBE, springs_from_above, springs_from_behind
from ovalwright.pictures.load_lengths import beside_bar, full_length, load_bar
from ovalwright.pictures.said import POUND, degrees, gap_words, number, percent, pounds
from ovalwright.pictures.struts import Note, draw_strut, ghost_coil, notes_of
from ovalwright.pictures.svg import Point, Room, Sheet, near, path

Array = npt.NDArray[np.float64]


PHONE_END, LAPTOP_END = Room(360.0, 150.0, True), Room(470.0, 250.0, False)
PHONE_PLAN, LAPTOP_PLAN = Room(360.0, 218.0, True), Room(480.0, 506.0, False)


# ---------------- from the front and from behind


@dataclass(frozen=True)
class _Eye:
    """A way to look along the car: which pair of wheels, which way y runs on paper, px per meter, where the
    road's origin lies, its bank here and its steepest.
    """

    front: bool
    flip: float
    scale: float
    x: float
    y: float
    bank: float
    steepest: float

    @property
    def is_steep(self) -> bool:
        """Whether the road leaves the corners of the paper free."""
        return abs(self.steepest) > STEEP

    def __call__(self, at: Array | Sequence[float]) -> Point:
        """A point in road axes [m] on paper, the road tilted by its bank."""
        c, s = math.cos(self.bank), math.sin(self.bank)
        y, z = float(at[1]), float(at[2])
        across, up = c * y + s * z, c * z - s * y
        return self.x + self.flip * self.scale * across, self.y - self.scale * up

    def all(self, points: Array) -> list[Point]:
        """Points on paper."""
        return [self(point) for point in points]

    def road_within(self, x: float, half: float) -> tuple[float, float]:
        """Highest and lowest place of the road on paper, from `half` px left of a place to as far right."""
        (x0, y0), (x1, y1) = self((0.0, HALF_WIDE, 0.0)), self((0.0, -HALF_WIDE, 0.0))
        ends = [y0 + (y1 - y0) * (at - x0) / (x1 - x0) for at in (x - half, x + half)]
        return min(ends), max(ends)

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


BOLD = 7.6
"""How wide a bold letter is, about [px]."""
STEEP = math.radians(14.0)
"""Bank beyond which the corners of the paper are free."""
HALF_WIDE, WORDS = 1.03, 26.0
"""Half the road that is drawn [m]; px for the words below it."""
HULL = np.array([[HALF_WIDE, -0.02], [1.0, 0.74], [0.62, 1.04]])
"""What a view has to hold on either side of the road's origin: outward and up [m]."""


def _eye(shape: CarShape, room: Room, steepest: float | None, front: bool) -> _Eye:
    tilt = math.copysign(max(abs(shape.bank), abs(steepest or 0.0)), shape.bank)
    flip = 1.0 if front else -1.0
    level = _Eye(front, flip, 1.0, 0.0, 0.0, tilt, tilt)
    held = np.array([level(np.array([0.0, way * out, up])) for out, up in HULL for way in (1.0, -1.0)])
    low, high = held.min(axis=0), held.max(axis=0)
    wide, tall = high - low
    scale = min((room.width - 8.0) / wide, (room.height - WORDS - 4.0) / tall)
    x = 0.5 * room.width - 0.5 * scale * (low[0] + high[0])
    return _Eye(front, flip, float(scale), float(x), float(room.height - WORDS - scale * high[1]),
                shape.bank, tilt)  # fmt: skip


def _end_view(
    shape: CarShape, room: Room, ghost: CarShape | None, steepest: float | None, name: str, *, front: bool
) -> str:
    eye, sheet = _eye(shape, room, steepest, front), Sheet(name, room.width, room.height)
    _road(sheet, eye, shape)
    section = "front section" if front else "rear section"
    if ghost is not None:
        _ghost(sheet, eye, ghost, section)
    sheet.line("body", eye.all(shape.fixed[section]))
    if front:
        sheet.line("body", eye.all(shape.fixed["engine"]))
    else:
        _fuel_cell(sheet, eye, shape)
    for wheel in shape.wheels[eye.pair]:
        _wheel(sheet, eye, wheel)
    (_front_links if front else _rear_axle)(sheet, eye, shape)
    notes = _struts(sheet, eye, shape)
    _words_below(sheet, eye, shape, room)
    _dragging(sheet, eye, shape)
    _magnified(sheet, room, eye, notes)
    return sheet.svg(_end_sentence(shape, notes, eye))


def _struts(sheet: Sheet, eye: _Eye, shape: CarShape) -> list[Note]:
    """Coils, shocks and stops, no coil where a leaf carries; what of them deserves a circle."""
    notes: list[Note] = []
    for coil in shape.coils[eye.pair]:
        seen = replace(coil, state="none") if shape.on_leaves and not eye.front else coil
        stop = next((stop for stop in shape.stops if stop.name == coil.name), None)
        draw_strut(sheet, eye, seen, stop)
        notes += notes_of(seen, stop, eye)
    return notes


def _ghost(sheet: Sheet, eye: _Eye, ghost: CarShape, section: str) -> None:
    """The other setup in dashes: body, tires, what carries it and its coils, never filled."""
    parts = ghost.parts
    sheet.line("ghost", eye.all(ghost.fixed[section]))
    for wheel in ghost.wheels[eye.pair]:
        sheet.line("ghost", _tire(wheel, eye), closed=True)
    if eye.front:
        for side, corner in enumerate(("LF", "RF")):
            for arm in ("lower", "upper"):
                front, rear = ghost.fixed[f"{corner} {arm} pivots"]
                sheet.line("ghost", eye.all(np.array([front, parts[f"ball_{arm}"][side], rear])))
    else:
        sheet.line("ghost", eye.all(parts["wheel"][2:]))
    if eye.front or not ghost.on_leaves:
        for coil in ghost.coils[eye.pair]:
            ghost_coil(sheet, eye, coil)


def _road(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    """What does not move, with slanted strokes below: the road, or the pads under a car on its scales."""
    if shape.standing:
        pads = [(wheel.center[1] - 0.22, wheel.center[1] + 0.22) for wheel in shape.wheels[eye.pair]]
    else:
        pads = [(-HALF_WIDE, HALF_WIDE)]
    lines, strokes = [], []
    for low, high in pads:
        lines.append(path([eye((0.0, low, 0.0)), eye((0.0, high, 0.0))]))
        for y in np.arange(low + 0.02, high, 0.08).tolist():
            strokes.append(path([eye((0.0, y, 0.0)), eye((0.0, y + 0.03, -0.035))]))
    sheet.path("road", "".join(lines))
    sheet.path("hatch", "".join(strokes))


def _upward(wheel: Wheel) -> Array:
    """Unit vector up the plane of a wheel, across its heading."""
    (a, b, c), (x, y, z) = wheel.forward.tolist(), wheel.spindle.tolist()
    up = b * z - c * y, c * x - a * z, a * y - b * x
    return np.array(up) / math.hypot(*up)


def _tire(wheel: Wheel, eye: _Eye) -> list[Point]:
    """The outline of a tire: its width along the spin axis, as tall as its plane stands, flat on the road."""
    up, half = _upward(wheel), 0.5 * wheel.width * wheel.spindle
    corners = []
    for side in (1.0, -1.0):
        edge = wheel.center + side * half
        below = wheel.radius if wheel.lifted else min(wheel.radius, edge[2] / up[2])
        shoulder = edge + (wheel.radius - ROUNDED) * up
        tread = wheel.center + side * (1.0 - ROUNDED / wheel.width) * half + wheel.radius * up
        ends = [edge - below * up, shoulder, tread]
        corners += ends if side > 0.0 else ends[::-1]
    return [eye(corner) for corner in corners]


ROUNDED = 0.035
"""How much of a tire's shoulder is rounded off as drawn [m]."""


def _wheel(sheet: Sheet, eye: _Eye, wheel: Wheel) -> None:
    sheet.line("tire", _tire(wheel, eye), closed=True)
    up = _upward(wheel)
    sheet.line("center-line", [eye(wheel.center + 0.9 * wheel.radius * up),
                               eye(wheel.center - 0.85 * wheel.radius * up)])  # fmt: skip
    x, y = eye(wheel.center + 0.45 * wheel.radius * up)
    sheet.text("load-name halo mid", (x, y + 5.0), wheel.name)


def _front_links(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    parts, fixed = shape.parts, shape.fixed
    sheet.line("member", eye.all(fixed["crossmember"]))
    for side, corner in enumerate(("LF", "RF")):
        lower, upper = parts["ball_lower"][side], parts["ball_upper"][side]
        sheet.line("upright", [eye(lower), eye(upper)])
        sheet.line("upright", [eye(0.55 * lower + 0.45 * upper), eye(parts["wheel"][side])])
        sheet.line("rod", eye.all(np.array([parts["tie_inner"][side], parts["tie_outer"][side]])))
        for kind, arm, ball in (("arm", "lower", lower), ("link", "upper", upper)):
            front, rear = eye.all(fixed[f"{corner} {arm} pivots"])
            sheet.line(kind, [front, eye(ball), rear])
            sheet.circle("joint", front, 2.4)
            sheet.circle("joint", eye(ball), 2.6)


def _rear_axle(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    """The axle with its links, or with the leaf springs that are computed as such."""
    parts = shape.parts
    left, right = parts["wheel"][2:]
    up = np.array([0.0, 0.0, TUBE])
    sheet.line("axle", eye.all(np.array([left + up, right + up, right - up, left - up])), closed=True)
    sheet.circle("axle", eye(0.5 * (left + right)), 0.13 * eye.scale)
    if shape.on_leaves:
        springs_from_behind(sheet, eye, shape)
        return
    for frame, axle in zip(parts["link_frame"], parts["link_axle"], strict=True):
        across = abs(frame[1] - axle[1]) > abs(frame[0] - axle[0])
        sheet.line("arm" if across else "rod", [eye(frame), eye(axle)])
        for end in (frame, axle) if across else (axle,):
            sheet.circle("joint", eye(end), 2.4 if across else 1.8)


def _fuel_cell(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    """The cell dotted, its fuel as a tone up to its level at rest."""
    low_left, high_left, high_right, low_right = shape.fixed["cell section"]
    level = [
        low_left + shape.fuel * (high_left - low_left),
        low_right + shape.fuel * (high_right - low_right),
    ]
    sheet.line("tone", eye.all(np.array([low_left, *level, low_right])), closed=True)
    sheet.line("cell", eye.all(np.array([low_left, high_left, high_right, low_right])), closed=True)


def _words_below(sheet: Sheet, eye: _Eye, shape: CarShape, room: Room) -> None:
    """Along the foot of the paper a fact for each wheel, and the body's roll in the middle."""
    foot = room.height - 5.0
    for wheel in shape.wheels[eye.pair]:
        right = eye(wheel.center)[0] > 0.5 * room.width
        held, x = ("label end", room.width - 6.0) if right else ("label", 6.0)
        sheet.text(held, (x, foot), f"camber {degrees(racer_camber(wheel), sign=True)}")
        if wheel.lifted:
            edge = eye(wheel.center - math.copysign(0.5 * wheel.width, wheel.center[1]) * wheel.spindle)[0]
            said = f"Lifted {gap_words(-wheel.squash)}"
            half = 0.5 * BOLD * len(said)
            middle = edge - half - 4.0 if right else edge + half + 4.0
            sheet.text("word halo mid", (middle, eye.road_within(middle, half)[0] - 5.0), said)
    sheet.text("label mid", (0.5 * room.width, foot), _roll_words(shape.roll))


def _dragging(sheet: Sheet, eye: _Eye, shape: CarShape) -> None:
    """Frame points of this half on the road."""
    for point in shape.watched:
        if point.gap < 0.0 and (point.at[0] > 0.0) == eye.front:
            x, y = eye(point.at)
            sheet.line("drag", [(x - 6.0, y - 9.0), (x + 6.0, y - 9.0), (x, y)], closed=True)
            said = f"{point.name} drags"
            above, below = eye.road_within(x, 0.5 * BOLD * len(said))
            sheet.text("word halo mid", (x, below + 14.0 if eye.is_steep else above - 13.0), said)


def racer_camber(wheel: Wheel) -> float:
    """Camber to the road in the trade's sign [rad], negative with the top in."""
    return wheel.inclination if wheel.name in ("LF", "LR") else -wheel.inclination


def _roll_words(roll: float) -> str:
    """Body roll against the road in words; to the right is positive."""
    if abs(roll) < math.radians(0.05):
        return "body level"
    return f"roll {degrees(abs(roll))} {'right' if roll > 0.0 else 'left'}"


def _magnified(sheet: Sheet, room: Room, eye: _Eye, notes: list[Note]) -> None:
    """A circle with a leader for what is too small to see, on its own side of the paper: at the top beside
    the middle, or on a steep road in a free corner.
    """
    radius, beside = (25.0, 64.0) if room.phone else (36.0, 20.0)
    for note in notes:
        way = math.copysign(1.0, note.at[0] - 0.5 * room.width)
        if eye.is_steep:
            below = way < 0.0
            out = min(0.5 * room.width - 4.0, 1.1 * HALF_WIDE * eye.scale + 2.0 * radius + beside)
            edge = 0.5 * room.width + way * out
            x, y = edge - way * (radius + 10.0), room.height - WORDS - radius if below else radius + 3.0
            held, words = ("", (edge, y - radius - 21.0)) if below else (" end", (edge, y + radius + 16.0))
        else:
            x, y = 0.5 * room.width + way * (radius + 4.0), radius + 3.0
            side = way if len(notes) > 1 else -way
            held, words = (
                ("", (x + radius + 6.0, y - 3.0)) if side > 0.0 else (" end", (x - radius - 6.0, y - 3.0))
            )
        sheet.line("leader", [note.at, (x, y)])
        note.draw(sheet, (x, y), radius)
        sheet.text(f"word halo{held}", words, note.number)
        sheet.text(f"label halo{held}", (words[0], words[1] + 16.0), f"{note.name} {note.words}")


def _end_sentence(shape: CarShape, notes: list[Note], eye: _Eye) -> str:
    where = "from the front, its left side on your right" if eye.front else "from behind"
    facts = [
        f"{wheel.name} camber {degrees(racer_camber(wheel), sign=True)}" for wheel in shape.wheels[eye.pair]
    ]
    facts.append(_roll_words(shape.roll))
    facts += [f"{note.name} {note.words}, {note.number}" for note in notes]
    facts += [f"{wheel.name} lifted" for wheel in shape.wheels if wheel.lifted]
    facts += [f"{point.name} drags" for point in shape.watched if point.gap < 0.0]
    return f"The car {where}: {', '.join(facts)}."


# ---------------- from above


def plan(
    shape: CarShape,
    room: Room = LAPTOP_PLAN,
    *,
    ghost: CarShape | None = None,
    full: float | None = None,
    gives: Sequence[str] = (),
    name: str = "plan",
) -> str:
    """The car from above, nose up, with its four loads as lengths outward from the tires.

    `full` [lb] is what a full length stands for, to hold one scale on a page; `gives` the words for half the
    band of each load, where they are known.
    """
    sheet = Sheet(name, room.width, room.height)
    body = shape.fixed["body"]
    nose, tail = float(body[:, 0].max()), float(body[:, 0].min())
    scale = (room.height - 14.0) / (nose - tail)

    def at(point: Array) -> Point:
        return 0.5 * room.width - scale * float(point[1]), 7.0 + scale * (nose - float(point[0]))

    def line(kind: str, points: Array, *, closed: bool = False) -> None:
        sheet.line(kind, [at(point) for point in points], closed=closed)

    if ghost is not None:
        line("ghost", ghost.fixed["body"])
    for part, points in shape.fixed.items():
        if part in ("body", "block", "seat"):
            line("body", points)
        elif "frame" in part or part == "crossmember":
            line("frame", points)
        elif part.startswith("lead "):
            line("lead", points, closed=True)
    ahead_left, ahead_right, right, left = shape.fixed["cell"]
    level = [left + shape.fuel * (ahead_left - left), right + shape.fuel * (ahead_right - right)]
    line("tone", np.array([left, *level, right]), closed=True)
    line("cell", shape.fixed["cell"], closed=True)
    _plan_links(shape, line)
    if shape.on_leaves:
        springs_from_above(sheet, at, shape)
    for coil in shape.coils[: 2 if shape.on_leaves else 4]:
        if coil.state != "none":
            sheet.circle(
                "coil fine" if coil.state == "hanging" else "coil", at(coil.top), max(0.05 * scale, 4.0)
            )
    loads = [wheel.load for wheel in shape.wheels]
    others = [wheel.load for wheel in ghost.wheels] if ghost else None
    wedge = (loads[1] + loads[2]) / sum(loads)
    ends = at(shape.wheels[1].center), at(shape.wheels[2].center)
    sheet.line("diagonal", ends)
    for wheel in shape.wheels:
        _plan_tire(sheet, at, wheel)
    _quartered(sheet, at(shape.cg), 5.0 if room.phone else 7.0)
    share = 0.8 if room.phone else 0.6
    x, y = (share * one + (1.0 - share) * other for one, other in zip(*ends, strict=True))
    sheet.text("label halo", (x - 8.0, y + 4.0), "RF + LR")
    sheet.text("word halo", (x - 8.0, y + 20.0), f"{percent(wedge)} %")
    most = full if full is not None else full_length(*loads, *(others or ()))
    _plan_loads(sheet, at, shape, room, most, others, gives or ("",) * 4)
    for point in shape.watched:
        if point.gap < 0.0:
            x, y = at(point.at)
            cross = [[(x - 6.0, y - 6.0), (x + 6.0, y + 6.0)], [(x - 6.0, y + 6.0), (x + 6.0, y - 6.0)]]
            sheet.path("drag", "".join(path(stroke) for stroke in cross))
    said = ", ".join(f"{wheel.name} {pounds(wheel.load)} pounds" for wheel in shape.wheels)
    where = "on the scales" if shape.standing else f"in a {'right' if shape.hand < 0 else 'left'} turn"
    return sheet.svg(f"The car from above, {where}: {said}, wedge {percent(wedge)} percent.")


def _plan_links(shape: CarShape, line: Callable[..., None]) -> None:
    parts, fixed = shape.parts, shape.fixed
    for side, corner in enumerate(("LF", "RF")):
        for kind, arm in (("rod", "upper"), ("arm", "lower")):
            front, rear = fixed[f"{corner} {arm} pivots"]
            line(kind, np.array([front, parts[f"ball_{arm}"][side], rear]))
        line("rod", np.array([parts["tie_inner"][side], parts["tie_outer"][side]]))
    if shape.bar:
        foot, center = parts["bar_foot"], parts["bar_center"]
        line("rod", np.array([foot[0], center[0], center[1], foot[1]]))
    line("axle-line", parts["wheel"][2:])
    if shape.on_leaves:
        return
    for frame, axle in zip(parts["link_frame"], parts["link_axle"], strict=True):
        line("link", np.array([frame, axle]))


def _plan_tire(sheet: Sheet, at: Callable[[Array], Point], wheel: Wheel) -> None:
    """The tire turned by its steer, its contact patch solid: load over pressure and width long."""
    ahead = wheel.forward
    aside = np.array([-ahead[1], ahead[0], 0.0])

    def corners(half_long: float, about: Array) -> list[Point]:
        signs = ((1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0))
        return [at(about + a * half_long * ahead + b * 0.5 * wheel.width * aside) for a, b in signs]

    sheet.line("tire", corners(wheel.radius, wheel.center), closed=True)
    if not wheel.lifted:
        foot = np.array([wheel.patch[0], wheel.center[1], 0.0])
        sheet.line("patch", corners(0.5 * wheel.patch_length, foot), closed=True)
    x, y = at(wheel.center + 0.62 * wheel.radius * ahead)
    sheet.text("load-name halo mid", (x, y + 5.0), wheel.name)


LONGEST, BESIDE = 230.0, 58.0
"""A full length of load in plan is no longer than this; what its number takes beside it on a phone [px]."""


def _plan_loads(
    sheet: Sheet, at: Callable[[Array], Point], shape: CarShape, room: Room, most: float,
    others: list[float] | None, gives: Sequence[str],
) -> None:  # fmt: skip
    tall = 18.0 if room.phone else 30.0
    edge = 0.5 * max(wheel.width for wheel in shape.wheels) + 0.09
    sides = [-1.0 if wheel.center[1] > 0.0 else 1.0 for wheel in shape.wheels]
    feet = [at(wheel.center + np.array([0.0, -way * edge, 0.0]))
            for wheel, way in zip(shape.wheels, sides, strict=True)]  # fmt: skip
    words = BESIDE if room.phone else 8.0
    free = min(x if way < 0.0 else room.width - x for (x, _), way in zip(feet, sides, strict=True)) - words
    reach = min(free, LONGEST)
    for i, (wheel, way, (x, y)) in enumerate(zip(shape.wheels, sides, feet, strict=True)):
        held = " end" if way < 0.0 else ""
        other = None if others is None else others[i]
        end = load_bar(sheet, (x, y - 0.5 * tall), way * reach, tall, wheel.load, most, other)
        if room.phone:
            farthest = max(abs(end - x), 0.0 if other is None else reach * other / POUND / most)
            beside = x + way * (farthest + 5.0)
            beside_bar(sheet, f"halo{held}", (beside, y), wheel.load, gives[i])
            continue
        sheet.text(f"load-number halo{held}", (x, y - 0.5 * tall - 6.0), pounds(wheel.load))
        by = "" if other is None else f"{number((wheel.load - other) / POUND, sign=True)} lb"
        told = ("word", "Lifted") if wheel.lifted else ("label", ", ".join(filter(None, (gives[i], by))))
        if told[1]:
            sheet.text(f"{told[0]} halo{held}", (x, y + 0.5 * tall + 15.0), told[1])


def _quartered(sheet: Sheet, at: Point, r: float) -> None:
    """The center of gravity: a circle with two opposite quarters filled."""
    x, y = (near(place) for place in at)
    sheet.circle("paper", at, r)
    sheet.path("ink", f"M{x} {y}v{-r}a{r} {r} 0 0 1 {r} {r}zM{x} {y}v{r}a{r} {r} 0 0 1 {-r} {-r}z")
    sheet.circle("outline", at, r)
