"""A number of a car as a racer is told of it: what it is, and how it is measured."""

from __future__ import annotations

import re
from dataclasses import dataclass

from pydantic import BaseModel

from ovalwright.documents import Car, Setup, Track
from ovalwright.documents.mistakes import model_in
from ovalwright.documents.sheet import Sheet
from ovalwright.notebook.garage.measuring_steps import HOW, JUST_MEASURE
from ovalwright.notebook.garage.measuring_tools import Tool

MODELS: dict[str, type[BaseModel]] = {"car": Car, "setup": Setup, "sheet": Sheet, "track": Track}
OF_AN_INDIVIDUAL = {
    "spring": ("LF", "coil"),
    "tire": ("LF", "tire"),
    "shock": ("LF", "shock"),
    "bar": ("bar",),
}
"""Where a setup describes the numbers of a part that bears a mark."""
_NUMBERED = re.compile(r"\[(\d+)\]")


@dataclass(frozen=True)
class ToMeasure:
    """A thing in words: what it is, how it is taken, with what care; its own tools, where it has any."""

    what: str
    how: str
    cautions: tuple[str, ...] = ()
    tools: tuple[Tool, ...] = ()


def to_measure(name: str) -> ToMeasure:
    """A thing to measure by its path, such as `car.sprung.height` or `spring B16.rate`, or by its words."""
    how = next((how for how in HOW if any(word in name for word in how.words)), JUST_MEASURE)
    head, _, key = name.partition(".")
    part, _, mark = head.partition(" ")
    if head in MODELS and key:
        said = _NUMBERED.sub(r" \1", key.replace("each.", "").replace("short.", ""))
        said = said.replace("_", " ").replace(".", " ")
        about = about_key(MODELS[head], tuple(key.replace("each", "LF").split(".")))
    elif part in OF_AN_INDIVIDUAL and mark and key:
        said = f"{head} {key.replace('_', ' ')}"
        about = about_key(Setup, (*OF_AN_INDIVIDUAL[part], key))
    else:
        said, about = name, ""
    what = f"{said}, {about}" if about else said
    return ToMeasure(what[:1].upper() + what[1:], how.steps, how.cautions, how.tools)


def about_key(model: type[BaseModel], path: tuple[object, ...]) -> str:
    """What a key of a document is, as its model describes it; nothing where it does not."""
    about, part = "", model
    for name in path:
        field = part.model_fields.get(str(name)) if part is not None else None
        if field is None:
            continue
        about, inner = field.description or "", model_in(field.annotation)
        if inner is None:
            return about
        part = inner
    return about
