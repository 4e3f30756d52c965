"""A checklist on paper, as the nut-and-bolt check: by its places, a box for every thing, cautions first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from ovalwright.notebook.garage.cautions import BOOK, MOVING, STANDS, WHEELS
from ovalwright.notebook.garage.checklists import NUT_AND_BOLT
from ovalwright.notebook.garage.findings import HEADING
from ovalwright.notebook.garage.standing import ready_lines
from ovalwright.notebook.garage.work import Line
from ovalwright.sheets.page import Leaf, Stamp

NO_PLACE = "the car"
"""Where a thing of a checklist is that names no place."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to do: where, what, torque as typed, a mind-this; by whom it is done, and what was found."""

    where: str
    what: str
    torque: str = ""
    mind: str = ""
    done: str = ""
    found: str = ""


def items_of(lines: Sequence[Line]) -> Iterator[Item]:
    """The things of a checklist: `LF: hub nut` is at LF."""
    for line in lines:
        where, sign, what = line.words.partition(": ")
        is_place = bool(sign) and len(where) <= len("rear end, all")
        found = f"{line.found}{'' if line.is_wrong else ', put right'}" if line.found else ""
        yield Item(
            where=where if is_place else NO_PLACE,
            what=what if is_place else line.words,
            mind=line.caution,
            done=f"{line.done_by}, {line.done_at:%Y-%m-%d}".removeprefix(", ") if line.done_at else "",
            found=found,
        )


ROUTE = tuple(items_of(ready_lines(NUT_AND_BOLT)))
"""The nut-and-bolt check; a racer's own list replaces it."""


def bolt_check(
    stamp: Stamp, items: Sequence[Item] = ROUTE, *, how: str = NUT_AND_BOLT.note, wrong: Sequence[str] = ()
) -> Leaf:
    """The check, in the order of `items`, a part for each place; who and when are left to the pen.

    how: what is said of the whole list; wrong: what was found before and is not put right.
    """
    shared = [mind for mind, times in Counter(one.mind for one in items).items() if mind and times > 1]
    cautions = [one for one in dict.fromkeys([STANDS, MOVING, WHEELS, *shared, BOOK]) if one not in how]
    return Leaf(
        template="bolts",
        stamp=stamp,
        data={
            "how": how,
            "wrong": wrong,
            "wrong_title": HEADING,
            "places": [
                {"where": where, "rows": [_row(one, cautions) for one in there]}
                for where, there in groupby(items, key=lambda one: one.where)
            ],
            "cautions": cautions,
        },
    )


def _row(one: Item, above: Sequence[str]) -> tuple[str, ...]:
    """A line of the check; a caution that stands above is not said again."""
    return one.what, one.torque, "" if one.mind in above else one.mind, one.done, one.found
