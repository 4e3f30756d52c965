"""Ten questions about a new car, and how their answers are read: bare numbers in the usual unit, numbers as a
racer writes them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from ovalwright.documents.source import DocumentError
from ovalwright.documents.spoken import axle_in, plainly
from ovalwright.units import KINDS, Kind, UnitError, parse, read_number

_THOUSANDS, _SLASHES = re.compile(r"(?<=\d),(?=\d{3}(?!\d))"), re.compile(r"\s*/\s*")
_BETWEEN = re.compile(r"\s*[,;]\s*|\s(?=[+\-\u2212]?\.?\d)(?!(?<=\d\s)\d+/\d)")


class Question(NamedTuple):
    """One question of ``new``: key of the answer, text, an example, and the kind of each value in it."""

    key: str
    text: str
    example: str
    kinds: tuple[str, ...] = ()

    @property
    def usual_units(self) -> str:
        """In what a bare number is read."""
        return ", ".join(dict.fromkeys(KINDS[name].us for name in self.kinds))


_LINKS = ("three-link", "four-link", "truck arms", "leaf springs")
QUESTIONS: tuple[Question, ...] = (
    Question("name", "What do you call the car?", "Old Blue"),
    Question("axle", f"What holds the rear axle ({', '.join(_LINKS)})?", "three-link"),
    Question(
        "size", "Wheelbase, front tread, rear tread?", "105, 65, 65 in", ("wheelbase", "tread", "tread")
    ),
    Question("weights", "Scale weights LF, RF, LR, RR?", "776, 646, 844, 566 lb", ("corner_weight",) * 4),
    Question(
        "fuel", "Fuel in it on the scales, and how much the cell holds?", "18, 22 gal", ("volume", "volume")
    ),
    Question("driver", "Driver's weight with gear, as he sat in it on the scales?", "195 lb", ("mass",)),
    Question("springs", "Springs LF, RF, LR, RR?", "300, 325, 200, 225 lb/in", ("spring_rate",) * 4),
    Question("bar", "Sway bar diameter (or none)?", "1 1/8 in", ("bar_size",)),
    Question("tires", "Roll-outs LF, RF, LR, RR?", "84 1/2, 86 3/4, 85 1/4, 87 1/2 in", ("roll_out",) * 4),
    Question("track", "Next track: length of a lap, banking?", "0.375 mi, 12 deg", ("track_length", "bank")),
)


def check_answer(question: Question, answer: str) -> tuple[str, ...]:
    """The values in an answer, each with its unit, the usual one of its kind where none was typed.

    Raises DocumentError with what would be right.
    """
    text = answer.strip()
    try:
        return _values(question, text)
    except UnitError as problem:
        right = "" if "write" in str(problem) else f"; write such as {question.example}"
        raise DocumentError(f"{question.key}: {problem}{right}.") from None


def understood(question: Question, answer: str) -> str:
    """How an answer was read, where it was not typed so; else nothing. Raises DocumentError."""
    values = check_answer(question, answer)
    if question.key == "axle":
        return "" if _bare(answer) == _bare(values[0]) else values[0]
    plain = "".join(answer.split())
    added = question.kinds and any("".join(value.split()) not in plain for value in values)
    return ", ".join(values) if added else ""


def _values(question: Question, text: str) -> tuple[str, ...]:
    if question.key == "name":
        return (_quotable(text) or "car",)
    if question.key == "axle":
        return (_link(text),)
    plain = plainly(question.key, text)
    if question.key == "bar" and plain == "none":
        return ("none",)
    parts = _parts(question, plain)
    if len(parts) != len(question.kinds):
        several = f"{len(question.kinds)} values are needed, a space or a comma between them"
        needed = several if len(question.kinds) > 1 else "one value is needed"
        raise UnitError(f"{needed}; write such as {question.example}")
    units = [read_number(part)[1] for part in parts]
    completed = []
    for index, (part, name) in enumerate(zip(parts, question.kinds, strict=True)):
        near = (*units[index + 1 :], *reversed(units[:index]))
        completed.append(part if units[index] else f"{part} {_unit_of(near, KINDS[name])}")
        parse(completed[-1], KINDS[name])
    return tuple(_quotable(part) for part in completed)


def _parts(question: Question, text: str) -> list[str]:
    """The values in a text; where there are not as many as asked for, a comma may part thousands, a slash two
    values.
    """
    slashes = text if question.key == "track" else _SLASHES.sub(", ", text)
    readings = [_parted(one) for one in (text, _THOUSANDS.sub("", text), slashes)]
    return next((parts for parts in readings if len(parts) == len(question.kinds)), readings[0])


def _parted(text: str) -> list[str]:
    """The values in a text, parted by commas or by the space before a number; ``84 1/2`` stays one."""
    plain = re.sub(r"\s*/\s*", "/", " ".join(text.split()))
    return [part.strip() for part in _BETWEEN.split(plain)]


def _unit_of(near: Iterable[str], kind: Kind) -> str:
    """The unit of a bare number: the nearest one typed that is of its kind, else the usual one."""
    return next((unit for unit in near if unit and _is_of(unit, kind)), kind.us)


def _is_of(unit: str, kind: Kind) -> bool:
    try:
        parse(f"1 {unit}", kind)
    except UnitError:
        return False
    return True


def _link(text: str) -> str:
    """One of the rear axles, however it is hyphenated, capitalized or numbered."""
    found = axle_in(text)
    if not found:
        raise UnitError(f'"{text[:40]}" is not known here; write one of {", ".join(_LINKS)}')
    return found


def _bare(link: str) -> str:
    letters = "".join(c for c in link.lower() if c.isalnum())
    return letters.replace("3", "three").replace("4", "four").removesuffix("s")


def _quotable(text: str) -> str:
    """Text that may stand between quotes in a TOML file."""
    return "".join(c for c in text if c.isprintable() and c not in '"\\')[:80]
