"""What is known of the car in hand, as pages show it: how much of it is measured, every number to press."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from sqlalchemy.orm import Session
from starlette.requests import Request

from ovalwright.documents import WORKED_OUT, Entry
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.how_measured import to_measure
from ovalwright.notebook.known import Number, give_of
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.joined import hand_on, looked_at
from ovalwright.web.next_up import next_up
from ovalwright.web.shares import true_minus
from ovalwright.web.words import minus

MEASURED = "/setup/measured"
SCALES, LAPS = "/scales", "/laps"
ON_OTHER_PAGES = {"sheet.": SCALES, "the four corner weights": SCALES, "one trusted lap time": LAPS}
"""What is typed on a page of its own: what is read at a weighing, a lap."""
DOCUMENTS = {"car": "Car", "setup": "Setup", "sheet": "Scale sheet"}


@dataclass(frozen=True)
class Known:
    """Of one document: how many of its numbers are measured, from a maker or tag, typical."""

    document: str
    measured: int
    told: int
    typical: int


@dataclass(frozen=True)
class Row:
    """A number that can be measured: where that is typed, what it is, its value, its band."""

    path: str
    what: str
    value: str
    band: str


@dataclass(frozen=True)
class Group:
    """Numbers that are known alike, by the `id` of their list on the page."""

    id: str
    title: str
    rows: tuple[Row, ...]
    is_typical: bool


def setup_here(request: Request, session: Session) -> Revision | None:
    """The setup that a device looks at, as it is kept; None where there is none in the notebook."""
    try:
        code = looked_at(session, hand_on(request)).base
    except NotebookTrouble:
        return next_up(session, dt.date.today()).setup
    return shelf.revision(session, code, kind="setup")


def press_to_type(path: str) -> str:
    """What is pressed to get to such an address."""
    return {SCALES: "Weigh it on Scales", LAPS: "Type it on Lap and run"}.get(path, "Type what you measured")


def where_typed(name: str) -> str:
    """The address at which a number is typed, by its name."""
    page = next((page for begins, page in ON_OTHER_PAGES.items() if name.startswith(begins)), "")
    return page or f"{MEASURED}?{urlencode({'of': name})}"


def how_known(numbers: Mapping[str, Number], scale: str) -> tuple[Known, ...]:
    """Of each document; what stands on a sheet was read off the scales, unless it was worked out."""
    counts = {document: Counter[str]() for document in DOCUMENTS}
    for number in numbers.values():
        for one in number.held:
            counts[one.path.partition(".")[0]][one.entry.value.evidence] += 1
    found = []
    for document, count in counts.items():
        told = count.total() - count["measured"] - count["typical"]
        is_read = document == "sheet" and scale != WORKED_OUT
        measured = count["measured"] + (told if is_read else 0)
        found.append(Known(DOCUMENTS[document], measured, 0 if is_read else told, count["typical"]))
    return tuple(found)


def listed(numbers: Mapping[str, Number]) -> tuple[Group, ...]:
    """Every number of the car and its setup: those that are typical, only told, and measured."""
    own = [one for one in numbers.values() if not one.name.startswith("sheet.")]
    typical = [one for one in own if not one.first.value.known]
    car = [one for one in typical if one.name.startswith("car.")]
    measured = [one for one in own if one.first.value.evidence == "measured"]
    told = [one for one in own if one.first.value.known and one not in measured]
    return (
        _group("typical", "typical numbers of the car", car, is_typical=True),
        _group(
            "typical-setup",
            "typical numbers of the setup",
            [one for one in typical if one not in car],
            is_typical=True,
        ),
        _group("told", "numbers told, not measured", told),
        _group("measured", "numbers measured", measured),
    )


def _group(id: str, title: str, numbers: Iterable[Number], *, is_typical: bool = False) -> Group:
    rows = tuple(
        Row(where_typed(one.name), to_measure(one.name).what, typed(one.first), band(one.first))
        for one in numbers
    )
    return Group(id, f"The {len(rows)} {title}", rows, is_typical)


def typed(entry: Entry) -> str:
    """A number as it was typed, with true minus signs."""
    return minus(true_minus(entry.value.text))


def band(entry: Entry) -> str:
    """Half of the 95 % band of a number; nothing where it has none."""
    give = give_of(entry)
    return f"\N{PLUS-MINUS SIGN}{give}" if give else ""
