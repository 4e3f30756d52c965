"""What changed: two revisions side by side, only what differs, each value as it was said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.words import BOOK, COILS, STANDS

NOTHING = "Nothing differs."


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
    """One thing that differs: what it is, what it was and is as typed, and the step as the racer says it."""

    what: str
    was: str
    now: str
    step: str = ""


def what_changed(stamp: Stamp, was: Side, now: Side, changes: Sequence[Change]) -> Leaf:
    """Two revisions and what differs between them."""
    return Leaf(
        template="changes",
        stamp=stamp,
        data={
            "sides": [asdict(was), asdict(now)],
            "rows": [(one.what, one.was, one.now, one.step) for one in changes],
            "nothing": NOTHING,
            "cautions": [STANDS, COILS, BOOK],
        },
    )
