"""The rows that a notebook has, and which of them one that has arrived is."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.notebook.sharing.bundle import texts_of
from ovalwright.notebook.sharing.carried import Carried, ids_by_key, kept_rows, rows_of
from ovalwright.notebook.sharing.free_names import CALLED
from ovalwright.notebook.sharing.private import ALL
from ovalwright.notebook.sharing.same import Gain, Thing, by_owner, copied, gain
from ovalwright.notebook.tables import Document, Revision

Fate = Literal["new", "here", "copy", "more"]
ALIKE = {
    "document": ("kind",), "event": ("held_on",), "part": ("kind",), "run": ("started",), "checklist": (),
    "check_round": ("begun_at",),
}  # fmt: skip
"""What a copy of a row has alike with it in any case."""


class Here:
    """The rows of a table that the notebook has, with what belongs to them."""

    def __init__(
        self,
        session: Session,
        carried: Carried,
        wholes: Sequence[Carried],
        originals: Mapping[str, str],
    ) -> None:
        self.session, self.carried, self.wholes, self.originals = session, carried, wholes, originals
        self.things: dict[str, Thing] = {}
        self.named: dict[str, str] = {}

    def look_for(self, uids: Collection[str]) -> None:
        """Fetch those of some names that are here, but for those that are at hand."""
        carried = self.carried
        ids = set(ids_by_key(self.session, carried.table, set(uids) - set(self.things)).values())
        if not ids:
            return
        texts = texts_of(self.session, ids, private=ALL) if carried.model is Revision else {}
        own = {one.table: by_owner(one, rows_of(self.session, one, ids)) for one in self.wholes}
        for at, row in kept_rows(self.session, carried, ids):
            uid = row["uid"]
            mine = {table: rows.get(uid, []) for table, rows in own.items()}
            self.things[uid] = Thing(carried, row, mine, texts.get(uid, ""), at, self.originals)

    def look_for_names(self, names: Collection[str]) -> None:
        """Fetch those that the racer calls by some names."""
        name = getattr(self.carried.model, CALLED[self.carried.table])
        query = sa.select(name, self.carried.model.uid).where(name.in_(names))
        self.named = {name: uid for name, uid in self.session.execute(query)}  # noqa: C416
        self.look_for(self.named.values())

    def settle(self, come: Thing) -> tuple[str, Fate, Gain]:
        """The uid that an arrived thing has in the notebook, what becomes of it, and what it brings.

        Where a copy was changed since, the next one follows from that.
        """
        uid = self._origin(come)
        if uid not in self.things:
            twin = self.named.get(come.row.get(CALLED.get(self.carried.table, ""), ""), "")
            gained = gain(self.things[twin], come) if twin else None
            return (uid, "new", Gain()) if gained is None else (twin, "here", gained)
        while uid in self.things:
            gained = gain(self.things[uid], come)
            if gained is not None:
                return uid, "here", gained
            uid = copied(uid, come.content)
            self.look_for([uid])
        return uid, "copy", Gain()

    def _origin(self, come: Thing) -> str:
        """The uid of an arrived thing or, if it is a copy that another notebook made, of its original."""
        model, uid = self.carried.model, come.row["uid"]
        if uid in self.things:
            return str(uid)
        query = sa.select(model.uid)
        if model is Revision:
            query = query.join(Document).where(Document.uid == come.row["document"])
        else:
            query = query.where(*(getattr(model, key) == come.row[key] for key in ALIKE[self.carried.table]))
        told = (come.content, come.text)
        for here in self.session.scalars(query):
            if uid in {copied(here, said) for said in told}:
                self.look_for([here])
                return str(here)
        return str(uid)
