"""A picture into a file of the kind that its name asks for."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from ovalwright.pictures.chart import Chart
from ovalwright.pictures.vega_chart import chart_spec
from ovalwright.pictures.vega_parts import Spec

WIDTH = 960
"""Width of a picture [px] unless asked for; 720 px fill the 10 in of a letter page lying on its side."""


def spec(picture: Chart, width: int = WIDTH) -> Spec:
    """The Vega-Lite description of a picture."""
    return chart_spec(picture, width)


def save(picture: Chart, path: Path, *, width: int = WIDTH) -> None:
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
