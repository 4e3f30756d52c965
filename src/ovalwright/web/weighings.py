"""The weighings of a car in the notebook: those kept, the one half typed, and a new one to keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Rules, Sheet
from ovalwright.notebook import drafts, shelf
from ovalwright.notebook.drafts import DraftChanged, DraftNow
from ovalwright.notebook.tables import Document, Reference, Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.weighing import is_begun, standing_on

FORM = "scales"
MOST_SHOWN = 12
MOST_SETUPS = 30


@dataclass(frozen=True)
class OnTheScales:
    """The setup that stands on the pads, its documents, and the revision of the sheet it stands on."""

    setup: Revision
    assembly: Assembly
    sheet: Revision

    @property
    def about(self) -> str:
        """Of what a weighing half typed is."""
        return f"{self.setup.document.name}, on the scales"


def on_the_scales(session: Session, code: str, usual: Revision | None) -> OnTheScales | None:
    """The setup of a code, else the newest of the document that is usual; None where there is no setup.

    Raises NotebookTrouble, DocumentError.
    """
    if code:
        setup = shelf.revision(session, code, kind="setup")
    elif usual is not None:
        setup = shelf.revision(session, usual.document.name, kind="setup")
    else:
        return None
    refers = shelf.refers_to(session, setup)
    return OnTheScales(setup, shelf.assembly_of(session, setup), refers["sheet"])


def half_typed(session: Session, code: str, uid: str = "") -> DraftNow | None:
    """The weighing of that name, else the last one of a setup that was not kept yet."""
    found = drafts.drafts(session, FORM)
    named = next((one for one in found if uid and one.uid == uid), None)
    return named or next((one for one in found if one.typed.get("setup") == code), None)


def save(
    session: Session, typed: Mapping[str, str], *, uid: str, version: int, about: str, by: str
) -> DraftNow:
    """What was typed, as a draft, one of the same values. Raises DraftChanged when another phone saved other
    values meanwhile.
    """
    if not uid:
        same = (one for one in drafts.drafts(session, FORM) if one.typed == dict(typed))
        return next(same, None) or drafts.begin(session, FORM, typed, about=about, by=by)
    try:
        return drafts.save(session, uid, typed, version=version, by=by)
    except DraftChanged as problem:
        if problem.theirs.typed == dict(typed):
            return problem.theirs
        raise


def let_go(
    session: Session, draft: DraftNow | None, rest: Mapping[str, str], on: OnTheScales, *, by: str
) -> DraftNow | None:
    """What of a draft is left when some of it was kept: the `rest`, or none where nothing is."""
    if draft is None:
        return None
    if is_begun(rest, on.assembly.sheet):
        return drafts.save(session, draft.uid, rest, version=draft.version, by=by)
    drafts.drop(session, draft.uid)
    return None


def keep(
    session: Session,
    on: OnTheScales,
    sheet: Sheet,
    *,
    reason: str,
    name: str = "",
    changes: Mapping[str, object] | None = None,
) -> Revision:
    """A sheet as the next revision of the one before, and the setup as it stands on it, with `changes` of it;
    returns the setup. Raises DocumentError.
    """
    kept = shelf.keep(session, sheet, parent=on.sheet, reason=reason)
    told: dict[str, object] = {
        f"{corner}.turned": "0 round" for corner in CORNERS if getattr(on.assembly.setup, corner).turned.si
    }
    told |= changes or {}
    setup = shelf.setup_of(on.setup)
    joined = standing_on(on.assembly, sheet, changes or {})
    return shelf.keep(
        session,
        setup.changed(told) if told else setup,
        name=name,
        parent=on.setup,
        reason=reason,
        references={**shelf.refers_to(session, on.setup), "sheet": kept},
        assembly=joined,
    )


def weighings(session: Session, on: OnTheScales) -> tuple[Revision, ...]:
    """The sheets that setups of this car were weighed on, the newest first."""
    car = shelf.refers_to(session, on.setup)["car"].document_id
    papers = (
        sa.select(Revision.document_id)
        .join(Reference, Reference.target_id == Revision.id)
        .where(Reference.role == "sheet", Reference.revision_id.in_(shelf.kept_with([car])))
    )
    query = sa.select(Revision).where(Revision.document_id.in_(papers)).order_by(Revision.id.desc())
    return tuple(session.scalars(query.limit(MOST_SHOWN)))


def setups(session: Session) -> tuple[shelf.RevisionLine, ...]:
    """The setups that may stand on the pads, the newest first."""
    return shelf.revisions(session, kind="setup", most=MOST_SETUPS)


def books(session: Session) -> tuple[Revision, ...]:
    """The rule books, each as it is now."""
    query = sa.select(Document).where(Document.kind == "rules").order_by(Document.name)
    return tuple(shelf.revision(session, one.name, kind="rules") for one in session.scalars(query))


def book(session: Session, code: str) -> Rules:
    """A rule book by its code. Raises NotebookTrouble."""
    found = shelf.document_of(shelf.revision(session, code, kind="rules"))
    if not isinstance(found, Rules):
        raise NotebookTrouble(f"{code} is no rule book; choose one of the list.")
    return found
