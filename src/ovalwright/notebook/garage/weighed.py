"""With which revision a car was weighed, and what was changed on it since."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy.orm import Session

from ovalwright.documents import Setup
from ovalwright.notebook import shelf
from ovalwright.notebook.garage.jobs import is_job
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.typed.difference import Difference, differences
from ovalwright.study.since_weighed import weighed_with

NOT_WEIGHED = ("final_drive", "brake_front")
"""Keys of a setup that are work, but that no scale feels."""


def weighed_revision(session: Session, setup: Revision) -> Revision:
    """The first of a setup and those it came from that rests on the same weighing."""
    sheet = shelf.refers_to(session, setup).get("sheet")
    while sheet is not None and setup.parent is not None:
        before = shelf.refers_to(session, setup.parent).get("sheet")
        if before is None or before.id != sheet.id:
            break
        setup = setup.parent
    return setup


def changed_since(weighed: Setup, now: Setup) -> tuple[Difference, ...]:
    """What was changed since a car was weighed with a setup and that the scales would feel."""
    return tuple(_felt(differences(weighed_with(weighed), now)))


def _felt(found: tuple[Difference, ...]) -> Iterator[Difference]:
    return (one for one in found if one.said and is_job(one.key) and one.key not in NOT_WEIGHED)
