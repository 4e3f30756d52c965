"""The form of what was measured, whichever face it has: read field by field, each mistake with its field."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from ovalwright.notebook.garage.how_measured import to_measure
from ovalwright.notebook.garage.measuring_tools import Tool, tools_for
from ovalwright.notebook.known import Number
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.measured import (
    GiveTrouble,
    Origin,
    Reading,
    example,
    looks_odd,
    read_measured,
    together_with,
)

EVERY = "every"
"""The field of what is the same at every corner."""
OTHER_TOOL = "other"
GIVE, TOOL, ORIGIN = "give", "tool", "origin"


@dataclass(frozen=True)
class MeasuredForm:
    """What was typed: the readings by place of the number, or under EVERY; whether measured or of the maker;
    with which tool, the usual one where none is named; how sure, where that is said; whether it is taken
    together with what was measured before; why or by whom, in his own words.
    """

    readings: Mapping[str, str]
    origin: str = "measured"
    tool: str = ""
    give: str = ""
    together: bool = False
    words: str = ""


class Mistyped(NotebookTrouble):
    """Fields that cannot be read: by field, a sentence each."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        self.wrong = dict(wrong)
        super().__init__(" ".join(self.wrong.values()))


@dataclass(frozen=True)
class Understood:
    """A form as it is read: a reading at each place that was measured, the reason it is kept with, and what
    looks odd of it, a sentence each.
    """

    readings: Mapping[str, Reading]
    reason: str
    odd: tuple[str, ...]


def tools_of(what: Number) -> tuple[Tool, ...]:
    """The tools a number is measured with, the usual one first."""
    return tools_for(what.first.kind, to_measure(what.name).tools)


def was_measured(what: Number) -> bool:
    """Whether it was measured before, so that both can be taken together."""
    return all(one.entry.value.evidence == "measured" for one in what.held)


def read_form(what: Number, form: MeasuredForm) -> Understood:
    """What was typed of a number. Raises Mistyped."""
    origin = _origin(form.origin)
    tool = _tool(what, form.tool)
    readings: dict[str, Reading] = {}
    wrong: dict[str, str] = {}
    for place, (field, text) in _typed(what, form).items():
        held = what.at(place).entry
        try:
            one = read_measured(
                text, held.kind, is_point=what.is_point, give=form.give, tool=tool, origin=origin
            )
            both = form.together and origin == "measured" and was_measured(what)
            readings[place] = together_with(one, held.value, held.kind) if both else one
        except GiveTrouble as problem:
            wrong[GIVE] = str(problem)
        except NotebookTrouble as problem:
            wrong[field] = str(problem)
    if wrong:
        raise Mistyped(wrong)
    return Understood(readings, _reason(form, origin, tool, readings), tuple(_odd(what, readings)))


def _typed(what: Number, form: MeasuredForm) -> dict[str, tuple[str, str]]:
    """By place that something was typed for: the field it stands in, and the text. Raises Mistyped."""
    every = form.readings.get(EVERY, "").strip()
    found = {}
    for place in what.places:
        own = form.readings.get(place, "").strip()
        if own or every:
            found[place] = (place, own) if own else (EVERY, every)
    if not found:
        first = EVERY if len(what.places) > 1 else what.places[0]
        told = example(what.first.kind, what.is_point)
        raise Mistyped({first: f'Nothing is typed; write such as "{told}".'})
    return found


def _origin(text: str) -> Origin:
    for one in get_args(Origin):
        if text == one:
            return one  # type: ignore[no-any-return]
    raise Mistyped({ORIGIN: f'"{text[:20]}" tells not where it is from; say measured or maker.'})


def _tool(what: Number, text: str) -> Tool | None:
    """A tool by its name or the beginning of it; none where another was used. Raises Mistyped."""
    tools, told = tools_of(what), " ".join(text.lower().split())
    if told == OTHER_TOOL:
        return None
    found = next((one for one in tools if one.name.startswith(told)), None)
    if found is None:
        names = ", ".join(one.name for one in tools)
        raise Mistyped({TOOL: f'"{text[:30]}" is no tool known for this; write {names}, or {OTHER_TOOL}.'})
    return found


def _reason(form: MeasuredForm, origin: Origin, tool: Tool | None, readings: Mapping[str, Reading]) -> str:
    told = "maker's figure" if origin == "maker" else f"measured, {tool.name}" if tool else "measured"
    means = dict.fromkeys(one.told for one in readings.values() if one.told)
    return "; ".join(filter(None, (told, *means, " ".join(form.words.split()))))


def _odd(what: Number, readings: Mapping[str, Reading]) -> Sequence[str]:
    found = []
    for place, one in readings.items():
        held = what.at(place).entry
        if told := looks_odd(one.value, held.value, held.kind):
            found.append(f"{place}: {told}" if place else told)
    return found
