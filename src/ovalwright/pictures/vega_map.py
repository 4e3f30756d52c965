"""A map of the track as a Vega-Lite description, to one scale both ways."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Any

import numpy as np

from ovalwright.pictures import inks
from ovalwright.pictures.chart import Floats
from ovalwright.pictures.inks import ruling
from ovalwright.pictures.layout import round_ticks
from ovalwright.pictures.track import Place, TrackMap
from ovalwright.pictures.vega_parts import (
    TEXT,
    Field,
    Spec,
    caption,
    line_samples,
    page,
    pixels,
    rows,
    strokes,
    texts,
)

_MARGINS = 26
"""Padding left and right of a picture [px]."""
_AROUND = 42.0
"""Room around the track for letters and the start [px]."""
_NARROW = 500.0
"""Up to this width [px] names beside the infield are broken so that the scale has room between them."""
_LINE = 4.0


def map_spec(track: TrackMap, width: int) -> Spec:
    """The map `width` px wide as a Vega-Lite description."""
    inner = float(width - _MARGINS)
    if track.empty:
        nothing = "Nothing to draw yet."
        return page([caption(inner, [nothing])], track.title, f"{track.title}. {nothing}")
    samples = [
        (f"{ruling(word).letter} {word}", ruling(word).color, ruling(word).dash, _LINE)
        for word in track.words
    ]
    told = f"{track.title} from above. What sets the speed along the driven line: {', '.join(track.words)}."
    parts = [
        _plan(track, inner),
        caption(inner, ["What sets the speed"], bold=True),
        line_samples(inner, samples),
    ]
    return page(parts, track.title, told)


def _plan(track: TrackMap, width: float) -> Spec:
    low, high = track.bounds
    span = np.maximum(high - low, 1e-9)
    scale = min((width - 2 * _AROUND) / span[0], (width - 2 * _AROUND) / span[1])
    height = float(span[1] * scale + 2 * _AROUND)
    field = pixels(width, height)

    def flat(points: Floats) -> Floats:
        """Points of the map in px from the upper left."""
        middle = 0.5 * (low + high)
        return np.asarray((points - middle) * [scale, -scale] + [0.5 * width, 0.5 * height])

    layers = [_path(field, flat(edge), color=inks.RULE, strokeWidth=1.2) for edge in track.edges]
    borders = [_line(flat(one.ends)) for one in track.borders if one.known]
    layers.append(strokes(field, borders, strokeDash=[2, 2]))
    for one in track.stretches:
        pen = ruling(one.word)
        layers.append(
            _path(
                field,
                flat(one.points),
                color=pen.color,
                strokeDash=list(pen.dash),
                strokeWidth=_LINE,
                strokeCap="butt" if pen.dash == (1, 0) else "round",
            )
        )
    for place in track.start:
        if place.known:
            layers += _start(field, flat(place.ends), place.word, float(track.ahead[0, 0]))
    names, letters = (
        [(place, flat(place.ends)) for place in places if place.known]
        for places in (track.sections, track.letters)
    )
    layers += [*_names(field, names), _letters(field, letters), *_scale(track, field, scale)]
    return field.holding(*layers)


def _path(field: Field, points: Floats, **style: Any) -> Spec:
    """A line through points in their order."""
    data = rows(x=points[:, 0], y=points[:, 1], order=np.arange(len(points)))
    order: Spec = {"order": {"field": "order", "type": "quantitative"}}
    return field.layer(
        "line", data, more=order, invalid="break-paths-filter-domains", strokeJoin="round", **style
    )


def _line(ends: Floats) -> tuple[float, float, float, float]:
    (x, y), (x2, y2) = ends
    return float(x), float(y), float(x2), float(y2)


def _start(field: Field, ends: Floats, word: str, ahead: float) -> Iterator[Spec]:
    """The start line, its word outside the track and an arrow in the direction of travel."""
    yield strokes(field, [_line(ends)], color=inks.INK, strokeWidth=3)
    way = 1.0 if ahead >= 0.0 else -1.0
    x, y = ends[0] + np.array([0.0, 28.0])
    yield texts(field, rows(x=[x], y=[y], text=[word]), align="center", halo=True)
    tail, head = x + 22.0 * way, x + 60.0 * way
    barbs = [(head - 8.0 * way, y + side, head, y) for side in (-5.0, 5.0)]
    yield strokes(field, [(tail, y, head, y), *barbs], color=inks.INK, strokeWidth=1.6, strokeCap="round")


def _names(field: Field, places: Sequence[tuple[Place, Floats]]) -> Iterator[Spec]:
    """Names of the sections on the infield, from the inner edge inward."""
    for place, (_, point) in places:
        aside, up = place.inward
        x, y = point + np.array([10.0 * aside, -10.0 * up])
        beside = abs(aside) > 0.5
        lines = wrap(place.word, 16 if field.width > _NARROW else 9) if beside else [place.word]
        yield texts(
            field,
            rows(x=[x], y=[y], text=["\n".join(lines)]),
            align="center" if not beside else "left" if aside > 0 else "right",
            baseline="middle" if beside else "bottom" if up > 0 else "top",
            dy=-0.5 * (len(lines) - 1) * TEXT if beside else 0,
            color=inks.LABEL,
            halo=True,
        )


def _letters(field: Field, places: Sequence[tuple[Place, Floats]]) -> Spec:
    """A letter outside the track at each stretch, where it has room beside the others."""
    shown: list[tuple[Floats, str]] = []
    for place, (point, _) in places:
        at = point + 11.0 * place.inward * [-1.0, 1.0]
        if all(np.linalg.norm(at - one) > TEXT for one, _ in shown):
            shown.append((at, ruling(place.word).letter))
    data = rows(
        x=[at[0] for at, _ in shown], y=[at[1] for at, _ in shown], text=[letter for _, letter in shown]
    )
    return texts(field, data, align="center", fontWeight="bold", halo=True)


def _scale(track: TrackMap, field: Field, scale: float) -> Iterator[Spec]:
    """A bar of a round length in the middle of the infield."""
    length = round_ticks(0.0, 0.25 * field.width / scale, 2)[-1]
    x, y, half = 0.5 * field.width, 0.5 * field.height + 8.0, 0.5 * length * scale
    ends = [(x + side * half, y - 4.0, x + side * half, y + 4.0) for side in (-1.0, 1.0)]
    yield strokes(field, [(x - half, y, x + half, y), *ends], color=inks.LABEL)
    yield texts(
        field, rows(x=[x], y=[y - 11.0], text=[f"{length:,g} {track.unit}"]), align="center", color=inks.LABEL
    )
