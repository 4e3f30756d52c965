"""Small parts of every drawing to a file, in Vega-Lite: text, strokes, hatched boxes, the page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ovalwright.pictures import inks
from ovalwright.pictures.hatch import Stroke, hatch
from ovalwright.pictures.layout import fitted

TEXT, LINE = 12, 15
"""Size of text and height of a line of it [px]."""
_LETTER = 0.5 * TEXT
"""Width of a letter of a word, about [px]."""
_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"

Spec = dict[str, Any]


@dataclass(frozen=True)
class Field:
    """A drawing area of width by height px that spans x and y in the units of the data."""

    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def across(self, value: float) -> float:
        """Pixels from the left edge."""
        return (value - self.x[0]) / (self.x[1] - self.x[0]) * self.width

    def layer(
        self, mark: str, data: Spec, *, axes: Spec | None = None, more: Spec | None = None, **style: Any
    ) -> Spec:
        """A mark of a style at the columns x, y and, where the data has them, x2, y2; axes by `x` and `y`."""
        places: Spec = {
            name: {
                "field": name,
                "type": "quantitative",
                "scale": {"domain": list(span), "nice": False, "zero": False},
                "axis": (axes or {}).get(name),
            }
            for name, span in (("x", self.x), ("y", self.y))
        }
        first = data["values"][0] if data["values"] else {}
        places |= {name: {"field": name} for name in ("x2", "y2") if name in first}
        return {"data": data, "mark": {"type": mark, **style}, "encoding": places | (more or {})}

    def holding(self, *layers: Spec) -> Spec:
        """Layers on this field."""
        apart = {"x": "independent", "y": "independent"}
        return {"layer": list(layers), "width": self.width, "height": self.height, "resolve": {"axis": apart}}


def pixels(width: float, height: float) -> Field:
    """A field measured in px, down from the top."""
    return Field(width, height, (0.0, width), (height, 0.0))


def text_width(text: str, size: int = TEXT) -> float:
    """Width of a line of text [px], about, by the kind of letter."""
    ems = {"narrow": 0.3, "wide": 0.86, "upper": 0.69, "other": 0.55}
    return size * sum(ems[_letter_kind(one)] for one in text)


def _letter_kind(one: str) -> str:
    if one in "iljtfrI.,;:'|! ()":
        return "narrow"
    if one in "mwMW%@":
        return "wide"
    return "upper" if one.isupper() else "other"


def words_in(word: str, width: float) -> list[str]:
    """A word in lines that fit a width [px]."""
    return fitted(word, int(width / _LETTER))


def rows(**columns: Iterable[Any]) -> Spec:
    """Columns as data; NaN becomes nothing."""
    names = list(columns)
    return {
        "values": [
            dict(zip(names, map(_plain, values), strict=True))
            for values in zip(*columns.values(), strict=True)
        ]
    }


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return value
    number = float(value)
    return number if math.isfinite(number) else None


def texts(field: Field, data: Spec, *, halo: bool = False, **style: Any) -> Spec:
    """Words of the column text at x, y, on request with a halo of paper."""
    usual: Spec = {
        "fontSize": TEXT,
        "color": inks.INK,
        "align": "left",
        "baseline": "middle",
        "lineBreak": "\n",
    }
    style = usual | style
    shown: Spec = {"text": {"field": "text", "type": "nominal"}}
    words = field.layer("text", data, more=shown, **style)
    if not halo:
        return words
    paper: Spec = {
        "color": inks.PAPER,
        "stroke": inks.PAPER,
        "strokeWidth": 4,
        "strokeJoin": "round",
        "aria": False,
    }
    return {"layer": [field.layer("text", data, more=shown, **(style | paper)), words]}


def strokes(field: Field, lines: Sequence[Stroke], **style: Any) -> Spec:
    """Straight lines of one style."""
    data = {"values": [dict(zip(("x", "y", "x2", "y2"), line, strict=True)) for line in lines]}
    usual: Spec = {"color": inks.RULE, "strokeWidth": 1}
    return field.layer("rule", data, **(usual | style))


def hatched(field: Field, boxes: Sequence[tuple[float, float, float, str]], height: float) -> Iterator[Spec]:
    """Boxes (left, right, top [px], what sets the speed) with the tint and the hatch of their ruling."""
    left, right, top, words = zip(*boxes, strict=True)
    data = rows(
        x=left,
        x2=right,
        y=top,
        y2=[one + height for one in top],
        color=[inks.ruling(word).tint for word in words],
        what=words,
    )
    tint: Spec = {"color": {"field": "color", "type": "nominal", "scale": None}}
    yield field.layer("rect", data, more=tint, stroke=inks.INK, strokeWidth=1)
    lines: dict[bool, list[Stroke]] = {True: [], False: []}
    for a, b, down, word in boxes:
        for kind in inks.ruling(word).hatch:
            lines[kind == "."] += [(x, y + down, x2, y2 + down) for x, y, x2, y2 in hatch(kind, a, b, height)]
    yield strokes(field, lines[False], strokeWidth=0.9)
    yield strokes(field, lines[True], color=inks.INK, strokeWidth=1.8, strokeCap="round")


def line_samples(width: float, samples: Sequence[tuple[str, str, tuple[float, ...], float]]) -> Spec:
    """A line sample and its words per row: (words, color, dash, line width)."""
    field = pixels(width, LINE * max(len(samples), 1))
    at = [LINE * (number + 0.5) for number in range(len(samples))]
    drawn = [
        strokes(
            field,
            [(0.0, y, 44.0, y)],
            color=color,
            strokeDash=list(dash),
            strokeWidth=thick,
            strokeCap="round",
        )
        for y, (_, color, dash, thick) in zip(at, samples, strict=True)
    ]
    words = rows(x=[52.0] * len(at), y=at, text=[sample[0] for sample in samples])
    return field.holding(*drawn, texts(field, words))


def caption(width: float, lines: Sequence[str], *, bold: bool = False) -> Spec:
    """Lines of text, from the left."""
    field = pixels(width, LINE * len(lines) + 4)
    data = rows(x=[0.0] * len(lines), y=[LINE * (row + 0.5) + 4 for row in range(len(lines))], text=lines)
    color, weight = (inks.INK, "bold") if bold else (inks.LABEL, "normal")
    return field.holding(texts(field, data, color=color, fontWeight=weight))


def page(parts: Sequence[Spec], title: str, told: str) -> Spec:
    """Parts one below the other as a whole description, with a sentence for who cannot see it."""
    return {
        "$schema": _SCHEMA,
        "description": told,
        "title": {"text": title, "anchor": "start", "frame": "group", "fontSize": 16, "color": inks.INK},
        "background": inks.PAPER,
        "padding": {"left": 8, "top": 8, "right": 14, "bottom": 8},
        "vconcat": list(parts),
        "spacing": 4,
        "bounds": "flush",
        "resolve": {"scale": {"x": "independent", "y": "independent", "color": "independent"}},
        "config": {
            "font": inks.FONT,
            "view": {"stroke": None},
            "axis": {
                "labelFontSize": TEXT,
                "labelColor": inks.LABEL,
                "titleFontSize": TEXT,
                "titleColor": inks.LABEL,
                "titleFontWeight": "normal",
                "gridColor": inks.HAIR,
                "domainColor": inks.RULE,
                "tickColor": inks.RULE,
            },
        },
    }
