"""The documents of a new car from ten answers; everything else is typical and written out as comments."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ovalwright.documents.car import Car
from ovalwright.documents.document import Document
from ovalwright.documents.mistakes import model_in
from ovalwright.documents.oval import Track
from ovalwright.documents.part import Part, kind_of
from ovalwright.documents.rack import Rack
from ovalwright.documents.setup import Setup
from ovalwright.documents.sheet import Sheet
from ovalwright.documents.source import DocumentError
from ovalwright.units import KINDS, Kind, Place, Quantity, UnitError, parse, read_number, shown

CORNERS = ("LF", "RF", "LR", "RR")
# Groove radius as a share of the lap over two pi; cold pressures; cambers (common practice, no source).
_ROUND_SHARE = 0.53
_PRESSURES = ("11 psi", "21 psi", "12 psi", "19 psi")
_CAMBERS = ("4.5 deg", "-3.5 deg")
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
    Question("driver", "Driver's weight with gear (he sat in it on the scales)?", "195 lb", ("mass",)),
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
    """How an answer was read, where a unit was put to what was typed; else nothing. Raises DocumentError."""
    values = check_answer(question, answer)
    plain = "".join(answer.split())
    added = question.kinds and any("".join(value.split()) not in plain for value in values)
    return ", ".join(values) if added else ""


def _values(question: Question, text: str) -> tuple[str, ...]:
    if question.key == "name":
        return (_quotable(text) or "car",)
    if question.key == "axle":
        return (_link(text),)
    if question.key == "bar" and text.lower() == "none":
        return ("none",)
    parts = _parted(text)
    if len(parts) != len(question.kinds):
        several = f"{len(question.kinds)} values are needed, a space or a comma between them"
        needed = several if len(question.kinds) > 1 else "one value is needed"
        raise UnitError(f"{needed}; write {question.example}")
    units = [read_number(part)[1] for part in parts]
    completed = []
    for index, (part, name) in enumerate(zip(parts, question.kinds, strict=True)):
        near = (*units[index + 1 :], *reversed(units[:index]))
        completed.append(part if units[index] else f"{part} {_unit_of(near, KINDS[name])}")
        parse(completed[-1], KINDS[name])
    return tuple(_quotable(part) for part in completed)


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
    known = {_bare(link): link for link in _LINKS}
    if _bare(text) not in known:
        raise UnitError(f'"{text[:40]}" is not known here; write one of {", ".join(_LINKS)}')
    return known[_bare(text)]


def _bare(link: str) -> str:
    letters = "".join(c for c in link.lower() if c.isalnum())
    return letters.replace("3", "three").replace("4", "four").removesuffix("s")


def _quotable(text: str) -> str:
    """Text that may stand between quotes in a TOML file."""
    return "".join(c for c in text if c.isprintable() and c not in '"\\')[:80]


def new_car(answers: Mapping[str, str]) -> dict[str, str]:
    """TOML texts of car, setup, sheet, track and rack by file name, from answers by key of ``QUESTIONS``.

    Every text loads. Raises DocumentError, one sentence, for an answer that is missing or cannot be.
    """
    given = {}
    for question in QUESTIONS:
        if question.key not in answers:
            raise DocumentError(f"{question.key}: is not answered; write such as {question.example}.")
        given[question.key] = check_answer(question, answers[question.key])
    texts = {
        "car.toml": _car(given),
        "setup.toml": _setup(given),
        "sheet.toml": _sheet(given),
        "track.toml": _track(given),
        "rack.toml": _rack(given),
    }
    for name, text in texts.items():
        _MODELS[name].from_text(text, name=name)
    return texts


_MODELS: dict[str, type[Document]] = {
    "car.toml": Car,
    "setup.toml": Setup,
    "sheet.toml": Sheet,
    "track.toml": Track,
    "rack.toml": Rack,
}


def write_new(folder: Path | str, answers: Mapping[str, str]) -> tuple[Path, ...]:
    """Write the documents of a new car into a folder; nothing there is replaced. Raises DocumentError."""
    texts = new_car(answers)
    folder = Path(folder)
    there = next((name for name in texts if (folder / name).exists()), None)
    if there is not None:
        raise DocumentError(f"{folder / there}: is there already; name another folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise DocumentError(f"{folder}: cannot be made ({problem.strerror}); name another folder.") from None
    return tuple(_MODELS[name].from_text(text, name=name).save(folder / name) for name, text in texts.items())


_Given = Mapping[str, tuple[str, ...]]


def _car(given: _Given) -> str:
    wheelbase, front, rear = given["size"]
    written = {
        "document": "car",
        "name": given["name"][0],
        "wheelbase": wheelbase,
        "tread.front": front,
        "tread.rear": rear,
        "rear.short.stands_for": given["axle"][0],
        "driver.mass": given["driver"][0],
        "fuel_cell.capacity": given["fuel"][1],
    }
    head = [
        "# What bolts in rarely. A line that starts with # is a typical value: measure yours, write it,",
        "# take the # away, and answers grow surer. Points are x forward of the front axle, y left of the",
        "# centerline, z above ground. Pick-up points may stand in [front.points] and [rear.points]",
        "# instead of the short forms.",
    ]
    return "\n".join([*head, *_outlined(Car, written)]) + "\n"


def _setup(given: _Given) -> str:
    lines = [
        "# What is turned at the shop or at the track. Springs and bars are on the rack, by their id.",
        'document = "setup"',
        'name = "as weighed"',
        'car = "car.toml"',
        'rack = "rack.toml"',
        'sheet = "sheet.toml"',
        *_commented(Setup, skip=("document", "name", "notes", "car", "rack", "sheet")),
        *(['bar = "none"'] if given["bar"] == ("none",) else []),
        "",
    ]
    for index, corner in enumerate(CORNERS):
        lines.append(f"[{corner}]")
        if index < 2:
            lines.append(
                f'camber = {{ value = "{_CAMBERS[index]}", give_or_take = "1.4 deg", from = "typical" }}'
            )
        rate = given["springs"][index]
        hangs = parse(rate, KINDS["spring_rate"]) == 0
        lines.append('coil = "none"' if hangs else f'coil = {{ spring = "{corner} 1" }}')
        cold = f'{{ value = "{_PRESSURES[index]}", give_or_take = "5 psi", from = "typical" }}'
        lines.append(f'tire = {{ roll_out = "{given["tires"][index]}", cold = {cold} }}')
        lines.append("")
    if given["bar"] != ("none",):
        lines += ["[bar]", 'bar = "bar 1"']
    return "\n".join(lines) + "\n"


def _sheet(given: _Given) -> str:
    lines = [
        "# One weighing. Add the height at each corner as read at the height points of the car, such as",
        '# height = "4 3/4 in", and the cold pressure, such as pressure = "12 psi".',
        'document = "sheet"',
        'name = "first weighing"',
        'setup = "setup.toml"',
        f'fuel = "{given["fuel"][0]}"',
        "driver = true",
        "bar_hooked = false",
        *_commented(Sheet, skip=("document", "name", "notes", "setup", "fuel", "driver")),
        "",
    ]
    for corner, weight in zip(CORNERS, given["weights"], strict=True):
        lines += [f"[{corner}]", f'weight = "{weight}"', ""]
    return "\n".join(lines)


def _track(given: _Given) -> str:
    length, bank = given["track"]
    lap = parse(length, KINDS["track_length"])
    radius = shown(_ROUND_SHARE * lap / (2 * math.pi), KINDS["radius"])
    lines = [
        "# The next track. The radius of the groove is guessed from the length of the lap: step it off.",
        'document = "track"',
        'name = "next track"',
        f'length = "{length}"',
        *_commented(Track, skip=("document", "name", "notes", "length")),
        "",
        "[[ends]]",
        'name = "both ends"',
        f'radius = {{ value = "{radius:.0f} ft", give_or_take = "20 %", from = "typical" }}',
        f'bank = "{bank}"',
    ]
    return "\n".join(lines) + "\n"


def _end(corner: str) -> str:
    return "front" if corner.endswith("F") else "rear"


def _rack(given: _Given) -> str:
    lines = [
        "# The parts on hand. Add every spring you own; measured is its rate on a spring rater.",
        "# Lead is planned from [[lead]] pieces and the [[lead_spots]] they may be bolted to, such as",
        '# [[lead]] with id = "25", mass = "25 lb", count = 4, each on its own line, and [[lead_spots]] with',
        '# id = "left rail", x = "-50 in", y = "26 in", z = "7 in", most = "100 lb".',
        'document = "rack"',
    ]
    for corner, rate in zip(CORNERS, given["springs"], strict=True):
        if parse(rate, KINDS["spring_rate"]) > 0:
            lines += ["", "[[springs]]", f'id = "{corner} 1"', f'tag = "{rate}"', f'fits = "{_end(corner)}"']
    if given["bar"] != ("none",):
        lines += ["", "[[bars]]", 'id = "bar 1"', f'diameter = "{given["bar"][0]}"']
    return "\n".join(lines) + "\n"


def _outlined(
    model: type[BaseModel], written: Mapping[str, str], path: str = "", *, defaults: Part | None = None
) -> Iterator[str]:
    """A model as TOML, table by table: what was answered, and the typical values as comments."""
    own = [f"[{path}]"] if path else []
    below: list[str] = []
    for name, field in model.model_fields.items():
        key = f"{path}.{name}" if path else name
        value = getattr(defaults, name) if defaults else field.get_default(call_default_factory=True)
        table = None if name == "points" else _table(field)
        if key in written:
            own.append(f'{name} = "{written[key]}"')
        elif table is not None:
            standing = value if isinstance(value, Part) else None
            below += ["", *_outlined(table, written, key, defaults=standing)]
        else:
            own += _comment(name, value, field.description)
    yield from own if len(own) > 1 or not path else []
    yield from below if len(own) > 1 or not path else below[1:]


def _table(field: FieldInfo) -> type[BaseModel] | None:
    """The model of a field that is one table."""
    several = "tuple" in str(field.annotation) or "dict" in str(field.annotation)
    return None if several else model_in(field.annotation)


def _commented(model: type[BaseModel], *, skip: tuple[str, ...]) -> Iterator[str]:
    """The typical values at the top of a document, as comments."""
    for name, field in model.model_fields.items():
        if name not in skip and kind_of(field):
            yield from _comment(name, field.get_default(call_default_factory=True), field.description)


def _comment(name: str, value: object, about: str | None) -> Iterator[str]:
    """One typical value as a comment, with its give-or-take and what it is."""
    note = f", {about}" if about else ""
    if isinstance(value, Place):
        yield f'# {name} = "{value.text}"  # typical{note}'
    elif isinstance(value, Quantity):
        give = value.give_or_take / value.si if value.lognormal else 0.0
        band = f" give or take {100 * give:.0f} %" if give else ""
        yield f'# {name} = "{value.text}"  # typical{band}{note}'
