"""The documents of a new car from ten answers; everything else is typical and written out as comments."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ovalwright.corners import CORNERS
from ovalwright.documents.answers import QUESTIONS, check_answer
from ovalwright.documents.car import Car
from ovalwright.documents.document import Document
from ovalwright.documents.mistakes import model_in
from ovalwright.documents.oval import Track
from ovalwright.documents.part import Part, kind_of
from ovalwright.documents.rack import Rack
from ovalwright.documents.setup import Setup
from ovalwright.documents.sheet import Sheet
from ovalwright.documents.source import DocumentError
from ovalwright.units import KINDS, Place, Quantity, parse, shown

# Groove radius as a share of the lap over two pi; cold pressures; cambers (common practice, no source).
_ROUND_SHARE = 0.53
_PRESSURES = ("11 psi", "21 psi", "12 psi", "19 psi")
_CAMBERS = ("4.5 deg", "-3.5 deg")


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
