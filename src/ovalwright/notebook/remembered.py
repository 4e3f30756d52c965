"""What was told once and is remembered: the columns of a kind of lap list, the order tires are read in."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables_work import Remembered


def remember(session: Session, what: str, told: Any, *, of: str = "") -> None:
    """Keep something told, in place of what was told before."""
    found = _find(session, what, of)
    if found is None:
        session.add(Remembered(what=what, of=of, told=told))
    else:
        found.told = told
    session.flush()


def recall(session: Session, what: str, *, of: str = "") -> Any | None:
    """What was told, or None."""
    found = _find(session, what, of)
    return None if found is None else found.told


def _find(session: Session, what: str, of: str) -> Remembered | None:
    return session.scalars(sa.select(Remembered).where(Remembered.what == what, Remembered.of == of)).first()
