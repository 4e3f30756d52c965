"""Sharing: a setup, a run, an event or the whole notebook as one bundle.

A setup goes with the car, rack and sheet it refers to, but without what it was made from; a run with its
event, its setup, track and weather, and the parts that were in the car; an event with all its runs. What is
private stays at home but for the kinds asked for. Equal rows make equal bundles, byte by byte.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from pathlib import Path, PurePosixPath
from typing import Any

import sqlalchemy as sa
import tomlkit
from sqlalchemy.orm import Session

from ovalwright import __version__
from ovalwright.documents.source import parsed
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.sharing.box import save_box, write_box
from ovalwright.notebook.sharing.carried import CARRIED, Carried, Row, rows_of
from ovalwright.notebook.sharing.csv_text import write_table
from ovalwright.notebook.sharing.private import ALL, KINDS
from ovalwright.notebook.tables import Event, Reference, Revision, Ridden, Run
from ovalwright.notebook.trouble import NotebookTrouble

GOES_ALONG = (
    "document", "revision", "reference", "event", "part", "measurement", "run", "lap", "reading", "comment",
    "ridden",
)  # fmt: skip
"""Tables of a bundle that is not the whole notebook; the rest is the owner's own work."""
FREE_WORDS = {"notes": "notes", "origin": "names"}
"""What the free words in a document are called, and of which kind they are: notes, who confirmed a rule."""
_REFERS = ("car", "rack", "sheet", "setup")

WHATS = ("setup", "run", "event", "all")
"""What can be shared by its name."""

Chosen = Mapping[str, Collection[int]]


@dataclass(frozen=True)
class Bundle:
    """What is to be shared: its members, and what it says of itself."""

    members: Mapping[str, bytes]
    about: Mapping[str, str]

    def to_bytes(self) -> bytes:
        """The bundle as it is sent. Raises NotebookTrouble when it is too large."""
        return write_box(self.members, self.about)

    def save(self, path: Path | str) -> Path:
        """Write it to a new file and return its path. Raises NotebookTrouble."""
        return save_box(path, self.members, self.about)


def bundle_of(session: Session, *shared: Revision | Run | Event, private: Collection[str] = ()) -> Bundle:
    """Some setups (or other documents), runs and events, with what they refer to and those kinds of what is
    private.
    """
    if not shared:
        raise NotebookTrouble("nothing was named to be shared; name a setup, a run or an event.")
    chosen = _with_what_they_refer_to(session, shared)
    tables = {
        carried.table: rows_of(
            session, carried, chosen[carried.owner_table or carried.table], private=private
        )
        for carried in CARRIED
        if carried.table in GOES_ALONG
    }
    return _bundle(session, tables, chosen["revision"], ", ".join(map(_called, shared)), private=private)


def named_bundle(session: Session, what: str, which: str, *, private: Collection[str] = ()) -> Bundle:
    """A setup (or another document), a run or an event by its code or name, or `all`.

    Raises NotebookTrouble.
    """
    if what not in WHATS:
        raise NotebookTrouble(f'"{what[:30]}" cannot be shared; write {", ".join(WHATS)}.')
    if what == "all":
        if which:
            raise NotebookTrouble(f'"all" is the whole notebook; leave "{which[:30]}" out.')
        return whole_bundle(session, private=private)
    if not which:
        raise NotebookTrouble(f"say which {what}, by its code or name{_OR_LAST.get(what, '')}.")
    if what == "run":
        return bundle_of(session, runs.run_of(session, which), private=private)
    if what == "event":
        return bundle_of(session, runs.event_of(session, which), private=private)
    return bundle_of(session, shelf.revision(session, which), private=private)


_OR_LAST = {"run": ", or last", "event": ", or last"}


def whole_bundle(session: Session, *, private: Collection[str] = ()) -> Bundle:
    """Everything that the notebook holds, but for drafts, the journal, and how its forms are filled."""
    tables = {carried.table: rows_of(session, carried, private=private) for carried in CARRIED}
    return _bundle(session, tables, None, "the whole notebook", private=private)


def _bundle(
    session: Session,
    tables: Mapping[str, list[Row]],
    revisions: Collection[int] | None,
    what: str,
    *,
    private: Collection[str],
) -> Bundle:
    texts = texts_of(session, revisions, private=private)
    kinds = {row["uid"]: row["kind"] for row in tables["document"]}
    held = {row["uid"] for row in tables["revision"]}
    for row in tables["revision"]:
        if row["parent"] not in held:
            row["parent"], row["said"] = None, ""
    members = {
        member_of(row, kinds[row["document"]]): texts[row["uid"]].encode() for row in tables["revision"]
    }
    for carried in CARRIED:
        if tables.get(carried.table):
            members[carried.file] = _written(carried, tables[carried.table], private=private)
    along = ", ".join(kind for kind in KINDS if kind in private)
    return Bundle(members, {"what": what[:400], "private": along, "program": __version__})


def member_of(revision: Row, kind: str) -> str:
    """Where the text of a revision stands in a bundle."""
    return f"{kind}/{revision['code']}.toml"


def texts_of(session: Session, ids: Collection[int] | None, *, private: Collection[str]) -> dict[str, str]:
    """The texts of some revisions, or of all, by uid, with those kinds of what is private."""
    query = sa.select(Revision.uid, Revision.text)
    found = session.execute(query if ids is None else query.where(Revision.id.in_(ids)))
    return {uid: discreet(text, frozenset(private)) for uid, text in found}


@lru_cache(256)
def discreet(text: str, private: frozenset[str] = frozenset()) -> str:
    """The text of a document without notes, comments, names, and the folders of the files it names, but for
    those kinds of what is private. Comments can tell of anything: they go along only where all of it does.
    """
    if private >= ALL:
        return text
    data = parsed(text, "document")
    told = _without(data, private)
    return text if told == data and "#" not in text else tomlkit.dumps(told)


def ways_to_send(text: str) -> set[str]:
    """The text of a document with every choice of what is private."""
    kinds = set(FREE_WORDS.values())
    some = (frozenset(along) for n in range(len(kinds) + 1) for along in combinations(kinds, n))
    return {text, *(discreet(text, along) for along in some)}


@lru_cache(256)
def substance(text: str) -> str:
    """What a document says without all that is private, however it was typed."""
    return tomlkit.dumps(_without(parsed(text, "document"), frozenset()))


def _without(data: dict[str, Any], private: frozenset[str]) -> dict[str, Any]:
    told: dict[str, Any] = _without_keys(
        data, {key for key, kind in FREE_WORDS.items() if kind not in private}
    )
    if "names" not in private:
        for role in _REFERS:
            if isinstance(told.get(role), str):
                told[role] = PurePosixPath(told[role].replace("\\", "/")).name
    return told


def _without_keys(data: Any, left_out: Collection[str]) -> Any:
    if isinstance(data, dict):
        kept = {k: value for k, value in data.items() if k not in left_out or not isinstance(value, str)}
        return {key: _without_keys(value, left_out) for key, value in kept.items()}
    return [_without_keys(item, left_out) for item in data] if isinstance(data, list) else data


def _written(carried: Carried, rows: list[Row], *, private: Collection[str]) -> bytes:
    return write_table([field.column for field in carried.fields(bool(private))], rows).encode()


def _with_what_they_refer_to(session: Session, shared: Collection[Revision | Run | Event]) -> Chosen:
    """Ids by table of what is shared and of everything that it refers to."""
    days = {one.id for one in shared if isinstance(one, Event)}
    runs = {one.id for one in shared if isinstance(one, Run)}
    runs |= set(session.scalars(sa.select(Run.id).where(Run.event_id.in_(days))))
    ran = session.execute(
        sa.select(Run.event_id, Run.setup_id, Run.track_id, Run.conditions_id).where(Run.id.in_(runs))
    ).all()
    days |= {row.event_id for row in ran}
    revisions = {one.id for one in shared if isinstance(one, Revision)}
    revisions |= {at for row in ran for at in row[1:] if at is not None}
    tracks = sa.select(Event.track_id).where(Event.id.in_(days), Event.track_id.is_not(None))
    revisions |= {at for at in session.scalars(tracks) if at is not None}
    refers = sa.select(Reference.target_id).where(Reference.revision_id.in_(revisions))
    revisions |= set(session.scalars(refers))
    homes = sa.select(Revision.document_id).where(Revision.id.in_(revisions))
    parts = sa.select(Ridden.part_id).where(Ridden.run_id.in_(runs))
    return {
        "run": runs,
        "event": days,
        "revision": revisions,
        "document": set(session.scalars(homes)),
        "part": set(session.scalars(parts)),
    }


def _called(one: Revision | Run | Event) -> str:
    if isinstance(one, Run):
        return f"run {one.code}"
    if isinstance(one, Event):
        return f"event {one.name} of {one.held_on.isoformat()}"
    return f"{one.document.kind} {one.code}"
