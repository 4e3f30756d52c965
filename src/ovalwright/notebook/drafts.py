"""Forms half filled: saved as they are typed, and never written over by another hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import now
from ovalwright.notebook.tables_work import Draft
from ovalwright.notebook.trouble import NotebookTrouble

LARGEST = 200_000


@dataclass(frozen=True)
class DraftNow:
    """A draft as it is: what was typed by key, `version` to save it by, who saved it last and when."""

    uid: str
    form: str
    about: str
    typed: Mapping[str, Any]
    version: int
    saved_by: str
    saved_at: dt.datetime


class DraftChanged(NotebookTrouble):
    """Another hand saved the draft meanwhile: `theirs` is what stands, `ours` what was not saved."""

    def __init__(self, theirs: DraftNow, ours: Mapping[str, Any]) -> None:
        self.theirs, self.ours = theirs, dict(ours)
        super().__init__(self.said())

    def said(self, called: Callable[[str], str] = str) -> str:
        """Who changed what at what time of the wall's clock, each field as it is `called`."""
        both = {**self.theirs.typed, **self.ours}
        keys = [key for key in both if self.theirs.typed.get(key) != self.ours.get(key)]
        told = "; ".join(
            f"{called(key)}: {str(self.theirs.typed.get(key) or 'nothing')[:60]}" for key in keys[:5]
        )
        return (
            f"{self.theirs.saved_by or 'another hand'} changed this draft at "
            f"{self.theirs.saved_at.astimezone():%H:%M} ({told or 'the same values'}); "
            "look at both, then save again."
        )


def begin(
    session: Session, form: str, typed: Mapping[str, Any], *, about: str = "", by: str = ""
) -> DraftNow:
    """A new draft of a form; `about` says of what."""
    draft = Draft(form=form[:40], about=about[:120], typed=_checked(typed), saved_by=by[:120])
    session.add(draft)
    session.flush()
    return _now(draft)


def save(session: Session, uid: str, typed: Mapping[str, Any], *, version: int, by: str = "") -> DraftNow:
    """Save a draft that was last seen in a `version`. Raises DraftChanged when another hand was quicker."""
    draft = _find(session, uid)
    if draft.version != version:
        raise DraftChanged(_now(draft), typed)
    draft.typed, draft.saved_by, draft.saved_at = _checked(typed), by[:120], now()
    session.flush()
    return _now(draft)


def drop(session: Session, uid: str) -> None:
    """A draft that became an entry, or is not wanted."""
    session.delete(_find(session, uid))
    session.flush()


def draft(session: Session, uid: str) -> DraftNow:
    """A draft by its name. Raises NotebookTrouble."""
    return _now(_find(session, uid))


def called(session: Session, begins: str) -> DraftNow:
    """The draft whose name begins so. Raises NotebookTrouble when there is none, or more than one."""
    told = begins.strip().lower()
    found = [one for one in drafts(session) if told and one.uid.startswith(told)]
    if len(found) > 1:
        raise NotebookTrouble(f'{len(found)} drafts begin with "{told[:32]}"; write more of its name.')
    if not found:
        raise NotebookTrouble(f'no draft "{told[:32]}" is open; `notebook drafts` lists them.')
    return found[0]


def drafts(session: Session, form: str = "") -> tuple[DraftNow, ...]:
    """All drafts, the last saved first."""
    query = sa.select(Draft).order_by(Draft.saved_at.desc(), Draft.id.desc())
    return tuple(_now(one) for one in session.scalars(query.where(Draft.form == form) if form else query))


def _find(session: Session, uid: str) -> Draft:
    found = session.scalars(sa.select(Draft).where(Draft.uid == uid)).first()
    if found is None:
        raise NotebookTrouble("that draft is gone: it was kept as an entry, or dropped.")
    return found


def _checked(typed: Mapping[str, Any]) -> dict[str, Any]:
    if sum(len(str(key)) + len(str(value)) for key, value in typed.items()) > LARGEST:
        raise NotebookTrouble(f"a draft holds {LARGEST // 1000} kB at the most; shorten the notes.")
    return dict(typed)


def _now(one: Draft) -> DraftNow:
    return DraftNow(one.uid, one.form, one.about, dict(one.typed), one.version, one.saved_by, one.saved_at)
