"""The car from above on paper: places in meters become points of a page, and numbers find room beside them.

Places run x forward and y left; on the page the front is up and left is left. A page measures in points, x
to the right and y down.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import chain
from typing import Any

Place = tuple[float, float]

WIDTH, HEIGHT = 500.0, 370.0
"""Most a drawing takes of a page [pt]; it fits both papers."""
FIGURE, LETTER, HIGH = 7.5, 4.7, 14.0
"""Width of a figure of a number, of a letter beside it, and height of both [pt]."""
RINGS = (3.0, 13.0, 26.0, 42.0, 60.0)
"""How far from a square its number may stand [pt]; a leader is drawn from the second on."""
_AROUND = ((1, 0), (1, -1), (1, 1), (-1, 0), (-1, -1), (-1, 1), (0, -1), (0, 1))
"""Ways from a square, outward from the middle of the car first."""


@dataclass(frozen=True)
class Rectangle:
    """A rectangle on the page by its corner and size [pt]."""

    x: float
    y: float
    wide: float
    high: float

    @property
    def middle(self) -> Place:
        return self.x + self.wide / 2.0, self.y + self.high / 2.0

    def meets(self, other: Rectangle) -> bool:
        """Whether the two overlap."""
        across = self.x < other.x + other.wide and other.x < self.x + self.wide
        return across and self.y < other.y + other.high and other.y < self.y + self.high


@dataclass(frozen=True)
class Label:
    """A number beside its square, with more in small where there is room.

    leader: where the line to it begins; None where it stands close by.
    """

    number: str
    more: str
    room: Rectangle
    leader: Place | None


@dataclass(frozen=True, kw_only=True)
class Page:
    """Meters onto the page: `scale` in points per meter, `left` and `front` the ends of what is drawn [m]."""

    scale: float
    left: float
    front: float
    wide: float
    high: float

    def at(self, place: Place) -> Place:
        """A place on the page [pt]."""
        x, y = place
        return (self.left - y) * self.scale, (self.front - x) * self.scale

    def rectangle(self, place: Place, *, long: float, wide: float) -> Rectangle:
        """Something `long` along the car and `wide` across it [m], its middle at a place."""
        x, y = self.at(place)
        across, along = wide * self.scale, long * self.scale
        return Rectangle(x - across / 2.0, y - along / 2.0, across, along)


def page_for(places: Iterable[Place], *, margin: float) -> Page:
    """The largest scale at which all places [m], with a margin [m] around them, have room."""
    xs, ys = zip(*places, strict=True)
    long, wide = max(xs) - min(xs) + 2.0 * margin, max(ys) - min(ys) + 2.0 * margin
    scale = min(WIDTH / wide, HEIGHT / long)
    left = (max(ys) + min(ys) + WIDTH / scale) / 2.0
    return Page(scale=scale, left=left, front=max(xs) + margin, wide=WIDTH, high=long * scale)


def numbers_beside(
    squares: Sequence[Rectangle], more: Sequence[str], page: Page, *, keep_clear: Sequence[Rectangle] = ()
) -> tuple[Label, ...]:
    """A number for every square that has room for one, counted from one; no two lie on each other.

    more: what is said of each square beside its number, where that has room too.
    """
    taken: list[Rectangle] = [*squares, *keep_clear]
    labels = []
    for number, (square, words) in enumerate(zip(squares, more, strict=True), start=1):
        tries = (_tries(square, str(number), said, page) for said in dict.fromkeys((words, "")))
        for label in chain.from_iterable(tries):
            if _fits(label.room, page) and not any(label.room.meets(one) for one in taken):
                taken.append(label.room)
                labels.append(label)
                break
    return tuple(labels)


def _tries(square: Rectangle, number: str, more: str, page: Page) -> Iterator[Label]:
    wide = FIGURE * len(number) + LETTER * len(more) + (6.0 if more else 2.0)
    x, y = square.middle
    outward = 1 if x > page.wide / 2.0 else -1
    for ring, away in enumerate(RINGS):
        for right, down in _AROUND:
            middle_x = x + outward * right * ((square.wide + wide) / 2.0 + away)
            middle_y = y + down * ((square.high + HIGH) / 2.0 + away)
            room = Rectangle(middle_x - wide / 2.0, middle_y - HIGH / 2.0, wide, HIGH)
            yield Label(number, more, room, (x, y) if ring else None)


def _fits(room: Rectangle, page: Page) -> bool:
    return room.x >= 0 and room.y >= 0 and room.x + room.wide <= page.wide and room.y + room.high <= page.high


def plain(shape: Rectangle | Label) -> dict[str, Any]:
    """A shape as the template reads it."""
    return asdict(shape)
