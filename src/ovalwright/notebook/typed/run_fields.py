"""The numbers and the time of day told of a run: bare numbers in the usual unit, as the questions about a new
car are read; all that cannot be read is told at once, by the name of its field.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping

from ovalwright.documents import DocumentError
from ovalwright.documents.answers import Question, check_answer
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, UnitError, read_quantity

FIELDS = (
    Question("fuel", "Fuel at the start", "18 gal", ("volume",)),
    Question("fuel_left", "Fuel left", "6 gal", ("volume",)),
    Question("surface", "Surface", "85 F", ("temperature",)),
    Question("stagger", "Stagger", "2 1/4 in", ("growth",)),
    Question("air", "Air", "68 F", ("temperature",)),
)
AT = "Began at"
_BY_KEY = {one.key: one for one in FIELDS}
_GALLONS = re.compile(r"(?<=[\d\s])(?:g|gals)\.?$", re.IGNORECASE)
_DEGREES = re.compile(r"(?<=[\d\s])([fc])\.?$")
_CLOCK = re.compile(r"(\d{1,2})(?:[:.]?(\d{2}))?\s*([ap])\.?\s*m?\.?", re.IGNORECASE)


class Unreadable(NotebookTrouble):
    """What cannot be read of a form: a sentence of each of its `fields`, told together."""

    def __init__(self, wrong: Mapping[str, str]) -> None:
        super().__init__("; ".join(one.rstrip(".") for one in wrong.values()) + ".")
        self.fields = tuple(wrong)


def read_amount(name: str, text: str) -> float | None:
    """SI value of a field of a run, None where nothing was typed. Raises NotebookTrouble."""
    if not text.strip():
        return None
    field = _BY_KEY[name]
    kind = field.kinds[0]
    plain = _GALLONS.sub("gal", text.strip()) if kind == "volume" else text.strip()
    plain = _DEGREES.sub(lambda found: found[1].upper(), plain) if kind == "temperature" else plain
    try:
        (told,) = check_answer(field._replace(key=field.text), plain)
        return read_quantity(told, KINDS[kind]).si
    except DocumentError as problem:
        raise NotebookTrouble(str(problem)) from None
    except UnitError as problem:
        raise NotebookTrouble(f"{field.text}: {problem}.") from None


def read_time(text: str) -> dt.time | None:
    """A time of day, ``19:30`` or ``7:30 pm``; None where nothing was typed. Raises NotebookTrouble."""
    if not text.strip():
        return None
    said = _CLOCK.fullmatch(text.strip())
    try:
        if said:
            return dt.time(_hour(int(said[1]), said[3].lower()), int(said[2] or 0))
        return dt.time.fromisoformat(text.strip().zfill(5)).replace(tzinfo=None, microsecond=0)
    except ValueError:
        raise NotebookTrouble(
            f'{AT}: "{text[:40]}" is no time of day; write such as 19:30 or 7:30 pm.'
        ) from None


def _hour(hour: int, half: str) -> int:
    """The hour of the day. Raises ValueError for one that no clock shows."""
    if not 1 <= hour <= 12:
        raise ValueError
    return hour % 12 + (12 if half == "p" else 0)


def all_read(form: Mapping[str, str], readers: Mapping[str, Callable[[str], object]]) -> dict[str, object]:
    """Every field by its reader. Raises Unreadable with all that could not be read."""
    read, wrong = {}, {}
    for name, reader in readers.items():
        try:
            read[name] = reader(form.get(name, ""))
        except NotebookTrouble as problem:
            wrong[name] = str(problem)
    if wrong:
        raise Unreadable(wrong)
    return read
