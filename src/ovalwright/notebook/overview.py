"""How much is in a notebook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.tables import Document, Event, Part, Revision, Run
from ovalwright.notebook.tables_work import Draft


@dataclass(frozen=True)
class Overview:
    """Counts; `documents` by kind, each with its documents and all their revisions."""

    documents: Mapping[str, tuple[int, int]]
    events: int
    runs: int
    laps: int
    parts: int
    drafts: int

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered yet."""
        return not (self.documents or self.events or self.parts)


def overview(session: Session) -> Overview:
    """Count what a notebook holds."""
    kinds = (
        sa.select(Document.kind, sa.func.count(sa.distinct(Document.id)), sa.func.count(Revision.id))
        .join(Revision, Revision.document_id == Document.id)
        .group_by(Document.kind)
        .order_by(Document.kind)
    )
    runs, laps = session.execute(
        sa.select(sa.func.count(Run.id), sa.func.coalesce(sa.func.sum(Run.laps), 0))
    ).one()

    def count(table: type[Event] | type[Part] | type[Draft]) -> int:
        return session.scalar(sa.select(sa.func.count()).select_from(table)) or 0

    return Overview(
        documents={kind: (documents, revisions) for kind, documents, revisions in session.execute(kinds)},
        events=count(Event),
        runs=runs,
        laps=int(laps),
        parts=count(Part),
        drafts=count(Draft),
    )
