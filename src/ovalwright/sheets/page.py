"""How a page is made: a leaf (a template, a stamp and its data) becomes PDF, or pictures to look at.

Text of a racer is data and never source: it reaches the template as JSON. The only fonts are those that
typst brings along, so that every machine makes the same page.
"""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from ovalwright.sheets.words import printable

Paper = Literal["letter", "a4"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
LEAVES = Path(__file__).parent / "leaves"
CODE = re.compile(r"[2-9A-HJKMNP-TV-Z]{6}")
LONGEST_NAME = 200


class NoSheet(ValueError):
    """A sheet that cannot be made; the sentence says why."""


@dataclass(frozen=True, kw_only=True)
class Stamp:
    """What every sheet carries at top and bottom, so that a loose page is known again.

    Raises:
        NoSheet: the code is not six of its characters, or a name is too long for the head of a page.
    """

    title: str
    car: str = ""
    setup: str = ""
    revision: int | None = None
    code: str = ""
    made: datetime.date
    by: str = ""

    def __post_init__(self) -> None:
        if self.code and not CODE.fullmatch(self.code):
            raise NoSheet(
                f'the code "{printable(self.code)[:20]}" is not one; six characters such as K7M2QX are'
            )
        for name in ("title", "car", "setup", "by"):
            length = len(getattr(self, name))
            if length > LONGEST_NAME:
                raise NoSheet(
                    f"{name} has {length} characters; the head of a sheet holds {LONGEST_NAME} at most"
                )


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A sheet that is ready to be laid out: `template` names a file of leaves, `data` is plain JSON."""

    template: str
    stamp: Stamp
    data: Mapping[str, Any]


def render(source: Leaf, *, paper: Paper = "letter") -> bytes:
    """The sheet as PDF. Raises NoSheet for an unknown paper, or where the typst library is missing."""
    made: bytes | list[bytes] = _compiled(source, paper, "pdf")
    return made if isinstance(made, bytes) else made[0]


def image(source: Leaf, *, paper: Paper = "letter", dots: float = 96.0) -> tuple[bytes, ...]:
    """The pages as PNG, `dots` per inch. Raises NoSheet as `render` does."""
    made: bytes | list[bytes] = _compiled(source, paper, "png", dots)
    return (made,) if isinstance(made, bytes) else tuple(made)


def drawing(source: Leaf, *, paper: Paper = "letter") -> tuple[bytes, ...]:
    """The pages as SVG, their letters drawn as shapes. Raises NoSheet as `render` does."""
    made: bytes | list[bytes] = _compiled(source, paper, "svg")
    return (made,) if isinstance(made, bytes) else tuple(made)


def _compiled(
    source: Leaf, paper: Paper, form: Literal["pdf", "png", "svg"], dots: float | None = None
) -> Any:
    if paper not in PAPERS:
        raise NoSheet(f'paper "{printable(str(paper))[:20]}" is not known; choose {" or ".join(PAPERS)}')
    try:
        import typst
    except ImportError:
        raise NoSheet(
            "sheets are laid out by the library typst, which is not on this machine: pip install typst"
        ) from None
    stamp = asdict(source.stamp) | {"made": source.stamp.made.isoformat()}
    told = {"paper": {"letter": "us-letter", "a4": "a4"}[paper], "stamp": stamp, **source.data}
    return typst.compile(
        LEAVES / f"{source.template}.typ",
        root=LEAVES,
        format=form,
        ppi=dots,
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(_plain(told), allow_nan=False)},
        timestamp=datetime.datetime.combine(source.stamp.made, datetime.time(12), datetime.UTC),
    )


def _plain(value: Any) -> Any:
    """The data with every text made printable."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return value
