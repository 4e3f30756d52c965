"""What changed: two revisions side by side, only what differs, each value as it was said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Protocol

from ovalwright.notebook.garage.cautions import BOOK, COILS, STANDS
from ovalwright.notebook.garage.jobs import is_job
from ovalwright.sheets.page import Leaf, Stamp

_STEP = re.compile(r"(.*\S) ([+-]\d.*)")
_CALLED = {".turned": "jack bolt", ".tire.cold": "cold pressure", ".tire.hot": "pressure wanted hot"}
"""What a corner alone, or its key, would leave open."""
NONE = "none"
NOTHING = "Nothing differs."
NO_JOB = "Nothing is to be done on the car."


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of two revisions: its name, number and code, when it was made and why."""

    name: str
    revision: str = ""
    code: str = ""
    made: str = ""
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing that differs: what it is, what it was and is as typed, and the step as the racer says it.

    What is no `job` only goes with another, or is wanted and not set.
    """

    what: str
    was: str
    now: str
    step: str = ""
    job: bool = True


class Differs(Protocol):
    """What is taken of a difference of two documents: its key, both texts as typed, and how it is said."""

    @property
    def key(self) -> str: ...
    @property
    def old_text(self) -> str: ...
    @property
    def new_text(self) -> str: ...
    @property
    def said(self) -> str: ...


def as_said(found: Iterable[Differs]) -> tuple[Change, ...]:
    """Differences of two documents as changes: by the racer's words where he has some, else by their keys."""
    return tuple(_as_said(one) for one in found)


def _as_said(one: Differs) -> Change:
    """`RR spring 225 -> 250 lb/in` is about `RR spring`; `LR +1/2 round` is a step at `LR`."""
    before, arrow, _ = one.said.partition(" -> ")
    step = _STEP.fullmatch(one.said)
    what = one.said or one.key.replace(".", " ").replace("_", " ")
    if arrow:
        shared = max(n for n in range(len(one.old_text) + 1) if before.endswith(one.old_text[:n]))
        what = before[: len(before) - shared].strip() or one.key
    elif step is not None:
        what = step[1]
    for key, called in _CALLED.items():
        if one.key.endswith(key):
            what = f"{one.key.split('.')[0]} {called}"
    return Change(
        what=what, was=one.old_text, now=one.new_text, step=step[2] if step else "", job=is_job(one.key)
    )


def what_changed(stamp: Stamp, was: Side, now: Side, changes: Sequence[Change]) -> Leaf:
    """Two revisions and what differs between them."""
    return Leaf(
        template="changes",
        stamp=stamp,
        data={
            "sides": [asdict(was), asdict(now)],
            "rows": [(one.what, one.was, one.now or NONE, one.step) for one in changes if one.job],
            "besides": [(one.what, one.was, one.now or NONE) for one in changes if not one.job],
            "nothing": NO_JOB if changes else NOTHING,
            "cautions": [STANDS, COILS, BOOK],
        },
    )
