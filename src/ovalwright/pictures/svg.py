"""Drawing with SVG: shapes by class only, so that the page's style sheet gives them ink and weight."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape

Point = tuple[float, float]


@dataclass(frozen=True)
class Room:
    """How much paper a drawing has [px], and whether it is that of a phone."""

    width: float
    height: float
    phone: bool


def near(value: float) -> str:
    """A coordinate to a tenth of a pixel, as short as it can be written."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def path(points: Iterable[Point], *, closed: bool = False) -> str:
    """The path data of a line through points."""
    corners = "L".join([f"{x:.1f} {y:.1f}" for x, y in points]) + ("Z" if closed else "L")
    return f"M{corners.replace('.0 ', ' ').replace('.0L', 'L').replace('.0Z', 'Z').removesuffix('L')}"


@dataclass
class Sheet:
    """A drawing of `width` x `height` px. `name` begins every id in it; `lines` are its elements so far."""

    name: str
    width: float
    height: float
    lines: list[str] = field(default_factory=list)

    def path(self, kind: str, data: str) -> None:
        """A path with its classes."""
        self.lines.append(f'<path class="{kind}" d="{data}"/>')

    def line(self, kind: str, points: Iterable[Point], *, closed: bool = False) -> None:
        """A line through points."""
        self.path(kind, path(points, closed=closed))

    def box(self, kind: str, x: float, y: float, width: float, height: float) -> None:
        """A rectangle; a negative width reaches to the left."""
        left, across = (x, width) if width >= 0.0 else (x + width, -width)
        self.lines.append(
            f'<rect class="{kind}" x="{near(left)}" y="{near(y)}" width="{near(across)}" '
            f'height="{near(height)}"/>'
        )

    def circle(self, kind: str, at: Point, radius: float) -> None:
        """A circle."""
        self.lines.append(
            f'<circle class="{kind}" cx="{near(at[0])}" cy="{near(at[1])}" r="{near(radius)}"/>'
        )

    def text(self, kind: str, at: Point, words: str) -> None:
        """Words at a place; the classes `mid` and `end` say where they are held."""
        self.lines.append(f'<text class="{kind}" x="{near(at[0])}" y="{near(at[1])}">{escape(words)}</text>')

    def clip(self, name: str, at: Point, radius: float) -> str:
        """A round window; returns its id."""
        named = f"{self.name}-{name}"
        self.lines.append(
            f'<clipPath id="{named}"><circle cx="{near(at[0])}" cy="{near(at[1])}" r="{near(radius)}"/>'
            "</clipPath>"
        )
        return named

    def begin(self, *, clip: str | None = None, kind: str = "") -> None:
        """Begin a group, seen through a window where one is named."""
        seen = f' clip-path="url(#{clip})"' if clip else ""
        classes = f' class="{kind}"' if kind else ""
        self.lines.append(f"<g{classes}{seen}>")

    def end(self) -> None:
        """End a group."""
        self.lines.append("</g>")

    def svg(self, sentence: str) -> str:
        """The whole drawing, with the one sentence that a reader hears instead of it."""
        size = f'viewBox="0 0 {near(self.width)} {near(self.height)}"'
        head = f'<svg class="drawing" {size} role="img" aria-label="{escape(sentence)}">'
        return head + "".join(self.lines) + "</svg>"
