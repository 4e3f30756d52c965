"""Any picture in any form: lines of text, a Vega-Lite description, a file as its name asks for."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from ovalwright.pictures.chart import Chart
from ovalwright.pictures.terminal_chart import chart_lines
from ovalwright.pictures.terminal_map import map_lines
from ovalwright.pictures.track import TrackMap
from ovalwright.pictures.vega_chart import chart_spec
from ovalwright.pictures.vega_map import map_spec
from ovalwright.pictures.vega_parts import Spec

WIDTH = 960
"""Width of a picture [px] unless asked for; 720 px fill the 10 in of a letter page lying on its side."""


Picture = Chart | TrackMap


def spec(picture: Picture, width: int = WIDTH) -> Spec:
    """The Vega-Lite description of a picture, `width` px wide."""
    return map_spec(picture, width) if isinstance(picture, TrackMap) else chart_spec(picture, width)


def lines(picture: Picture, width: int = 80) -> list[str]:
    """The picture in lines of text of at most `width` characters. Raises ValueError below 32."""
    return map_lines(picture, width) if isinstance(picture, TrackMap) else chart_lines(picture, width)


def save(picture: Picture, path: Path, *, width: int = WIDTH) -> None:
    """Write a picture as .svg, .png (two dots per px), .pdf or .json (Vega-Lite).

    Raises ValueError when the name ends otherwise or the library that draws is missing, OSError when the file
    cannot be written.
    """
    ways: dict[str, Callable[[Spec], bytes]] = {".svg": _svg, ".png": _png, ".pdf": _pdf, ".json": _json}
    way = ways.get(path.suffix.lower())
    if way is None:
        raise ValueError(
            f"{path.name}: a picture is kept as .svg, .png, .pdf or .json; end the name with one."
        )
    try:
        drawn = way(spec(picture, width))
    except ImportError:
        raise ValueError(
            f"{path.name}: drawing it needs vl-convert-python, which is not installed here; "
            "save the picture as .json or show it in the terminal."
        ) from None
    path.write_bytes(drawn)


def _svg(picture: Spec) -> bytes:
    import vl_convert

    return vl_convert.vegalite_to_svg(picture).encode()


def _png(picture: Spec) -> bytes:
    import vl_convert

    return vl_convert.vegalite_to_png(picture, scale=2.0)


def _pdf(picture: Spec) -> bytes:
    import vl_convert

    return vl_convert.vegalite_to_pdf(picture)


def _json(picture: Spec) -> bytes:
    return json.dumps(picture, indent=1, allow_nan=False).encode()
