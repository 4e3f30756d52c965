"""Documents and their revisions: taken in from files, given back, and the tree they form.

A revision never changes. Whoever edits a setup makes a child of it, with the reason; what was run stays as it
was run.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from ovalwright import documents
from ovalwright.documents import KINDS_OF_DOCUMENT, Assembly, Car, DocumentError, Rack, Setup, Sheet
from ovalwright.notebook.asked import find
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Document, Figure, Reference, Revision, Run
from ovalwright.notebook.trouble import NotebookTrouble

if TYPE_CHECKING:
    from ovalwright.notebook.typed.difference import Difference

ROLES: dict[str, type[documents.Document]] = {"car": Car, "rack": Rack, "sheet": Sheet}
"""What a setup refers to."""
OF = " of "
"""What parts the name of a setup from that of its car, where two cars have one of that name."""
LONGEST_KEY = 120
LATELY_READ = 64


@dataclass(frozen=True)
class RevisionLine:
    """One revision in a list or tree; `said` is its difference to its `parent` (a code), in words."""

    code: str
    kind: str
    name: str
    number: int
    parent: str
    reason: str
    said: str
    made_at: dt.datetime
    made_by: str
    runs: int


# ---------------- taking in


def keep(
    session: Session,
    document: documents.Document,
    *,
    name: str = "",
    reason: str = "",
    parent: Revision | None = None,
    references: Mapping[str, Revision] | None = None,
    assembly: Assembly | None = None,
) -> Revision:
    """Keep a document as the next revision of the one that bears its name; the name of a setup belongs to its
    car, so that two cars may have one of the same name each.

    What is kept already, with the same references, is not kept twice. `references` are the car, rack and
    sheet of a setup, `assembly` the setup joined with them.
    """
    called = (name or named(document))[:120]
    text = document.whole_text
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
    refers = dict(references or {})
    own = parent.document if parent is not None and not name else None
    home = own or _home(session, document.kind_name, called, refers.get("car"))
    latest = _latest(session, home)
    before = parent or latest
    if (
        parent is None
        and latest is not None
        and latest.sha256 == digest
        and refers_to(session, latest) == refers
    ):
        return latest
    revision = Revision(
        document=home,
        document_id=home.id,
        number=1 if latest is None else latest.number + 1,
        parent_id=before.id if before is not None else None,
        reason=reason,
        said=_said(session, before, assembly.setup if assembly else document),
        text=text,
        sha256=digest,
        file_name=document.file_name[:400],
        made_by=entry_of(session).by,
    )
    session.add(revision)
    session.flush()
    session.add_all(
        Reference(revision_id=revision.id, role=role, target_id=target.id) for role, target in refers.items()
    )
    session.flush()
    _keep_figures(session, revision, assembly.setup if assembly else document)
    find.tell(session, "revision", revision.id)
    return revision


def keep_setup(
    session: Session,
    setup: Setup | Path | str,
    *,
    reason: str = "",
    name: str = "",
    parent: Revision | None = None,
) -> Revision:
    """Keep a setup with the car, rack and sheet that it names. Raises DocumentError."""
    setup = setup if isinstance(setup, Setup) else Setup.load(setup)
    assembly = documents.assemble(setup)
    return keep_assembly(session, setup, assembly, reason=reason, name=name, parent=parent)


def keep_assembly(
    session: Session,
    setup: Setup,
    assembly: Assembly,
    *,
    reason: str = "",
    name: str = "",
    parent: Revision | None = None,
) -> Revision:
    """Keep a setup, as typed, with the documents it was joined with."""
    held: list[tuple[str, documents.Document]] = [("car", assembly.car), ("sheet", assembly.sheet)]
    if setup.rack:
        held.append(("rack", assembly.rack))
    references = {role: keep(session, one, reason=reason) for role, one in held}
    return keep(
        session, setup, name=name, reason=reason, parent=parent, references=references, assembly=assembly
    )


def keep_file(session: Session, path: Path | str, *, reason: str = "") -> Revision:
    """Keep a document of any kind from its file. Raises DocumentError, also when the kind is not told."""
    kind = kind_of_file(path)
    return keep_setup(session, path, reason=reason) if kind == "setup" else keep(
        session, documents.load(kind, path), reason=reason
    )  # fmt: skip


def kind_of_file(path: Path | str) -> str:
    """The kind of document in a file, from its ``document`` key. Raises DocumentError."""
    from ovalwright.documents.source import read_file

    if Path(path).suffix.lower() in (".csv", ".tsv", ".txt"):
        raise DocumentError(
            f"{path}: is a table, no document; if it holds laps, write log run --laps {path}."
        )
    source = read_file(path)
    kind = source.data.get("document")
    if kind not in KINDS_OF_DOCUMENT:
        raise DocumentError(
            f'{source.name}, document: does not say what it is; write document = "setup", or '
            f"{', '.join(k for k in KINDS_OF_DOCUMENT if k != 'setup')}."
        )
    return str(kind)


def child(
    session: Session, revision: Revision, changes: Mapping[str, object], *, reason: str, name: str = ""
) -> Revision:
    """A new revision with some keys written anew, as for ``Document.changed``. Raises DocumentError."""
    if revision.document.kind == "setup":
        base = assembly_of(session, revision)
        setup = setup_of(revision).changed(changes)
        joined = documents.assemble(setup, car=base.car, sheet=base.sheet, rack=base.rack)
        refers = refers_to(session, revision)
        return keep(
            session, setup, name=name, reason=reason, parent=revision, references=refers, assembly=joined
        )
    return keep(session, document_of(revision).changed(changes), name=name, reason=reason, parent=revision)


def _home(session: Session, kind: str, name: str, car: Revision | None) -> Document:
    """The document of a kind and name, of a car if any, made new where there is none."""
    query = sa.select(Document).where(Document.kind == kind, Document.name == name).order_by(Document.id)
    if car is not None:
        query = query.where(Document.id.in_(_homes_with([car.document_id])))
    found = session.scalars(query).first()
    if found is not None:
        return found
    home = Document(kind=kind, name=name)
    session.add(home)
    session.flush()
    return home


def kept_with(cars: sa.Select[int] | Collection[int]) -> sa.Select[int]:
    """The ids of the setups that were kept with one of some cars, whose documents have these ids."""
    of_cars = sa.select(Revision.id).where(Revision.document_id.in_(cars))
    return sa.select(Reference.revision_id).where(Reference.role == "car", Reference.target_id.in_(of_cars))


def _homes_with(cars: sa.Select[int] | Collection[int]) -> sa.Select[int]:
    """The documents of those setups."""
    return sa.select(Revision.document_id).where(Revision.id.in_(kept_with(cars)))


def named(document: documents.Document) -> str:
    """What a document is called: by its own name, else by its file."""
    told = str(getattr(document, "name", "") or "")
    stem = Path(document.file_name).stem
    return told if told and told != document.kind_name else stem.replace("_", " ")


def _latest(session: Session, home: Document) -> Revision | None:
    return session.scalars(
        sa.select(Revision).where(Revision.document_id == home.id).order_by(Revision.number.desc()).limit(1)
    ).first()


def refers_to(session: Session, revision: Revision) -> dict[str, Revision]:
    """Car, rack and sheet of a setup by their role, each in the revision it was kept with."""
    found = session.scalars(sa.select(Reference).where(Reference.revision_id == revision.id))
    return {reference.role: reference.target for reference in found}


def _said(session: Session, before: Revision | None, now: documents.Document) -> str:
    """The difference to the revision before, as the racer says it."""
    if before is None:
        return ""
    from ovalwright.notebook.typed.difference import differences, said

    return said(differences(_with_numbers(session, before), now))


def changed(session: Session, old: Revision, new: Revision) -> tuple[Difference, ...]:
    """What differs between two revisions of one kind. Raises NotebookTrouble for two kinds."""
    from ovalwright.notebook.typed.difference import differences

    return differences(_with_numbers(session, old), _with_numbers(session, new))


def _with_numbers(session: Session, revision: Revision) -> documents.Document:
    """The document of a revision; in a setup the parts carry their numbers."""
    is_setup = revision.document.kind == "setup"
    return assembly_of(session, revision).setup if is_setup else document_of(revision)


def _keep_figures(session: Session, revision: Revision, document: documents.Document) -> None:
    rows = [{"revision_id": revision.id, "key": key, "si": si} for key, si in figures_of(document).items()]
    if rows:
        session.execute(sa.insert(Figure), rows)


def figures_of(document: documents.Document) -> dict[str, float]:
    """Every number of a document by its key, SI; those left out by their typical value."""
    told: dict[str, float] = {}
    for entry in document.entries():
        value: Any = entry.value
        si = getattr(value, "si", None)
        if isinstance(si, float) and math.isfinite(si) and len(entry.key) <= LONGEST_KEY:
            told[entry.key] = si
    return told


# ---------------- giving back


def document_of(revision: Revision) -> documents.Document:
    """The document that a revision holds. Raises DocumentError should this program no longer read it."""
    name = revision.file_name or f"{revision.code}.toml"
    return _document(revision.document.kind, revision.text, name)


@lru_cache(maxsize=LATELY_READ)
def _document(kind: str, text: str, name: str) -> documents.Document:
    """A document from its text; neither ever changes, so what was lately read is not read again."""
    return KINDS_OF_DOCUMENT[kind].from_text(text, name=name)


def setup_of(revision: Revision) -> Setup:
    """The setup that a revision holds, as typed. Raises NotebookTrouble for another kind."""
    document = document_of(revision)
    if not isinstance(document, Setup):
        raise NotebookTrouble(f"{revision.code} is a {revision.document.kind}; name a setup.")
    return document


def assembly_of(session: Session, revision: Revision) -> Assembly:
    """A setup joined with the car, rack and sheet it was kept with. Raises NotebookTrouble, DocumentError."""
    setup, refers = setup_of(revision), refers_to(session, revision)
    given: dict[str, Any] = {role: document_of(target) for role, target in refers.items()}
    missing = [role for role in ("car", "sheet") if role not in given]
    if missing:
        raise NotebookTrouble(f"setup {revision.code} was kept without its {' and '.join(missing)}.")
    return documents.assemble(setup, **{**given, "rack": given.get("rack") or Rack()})


def write_out(session: Session, revision: Revision, folder: Path) -> Path:
    """Write a revision, and what it refers to, as files into a folder; returns its own file.

    Raises NotebookTrouble before anything is written where a file of that name says something else.
    """
    told: dict[Path, documents.Document] = {}
    named_in = {}
    for role, target in refers_to(session, revision).items():
        named_in[role] = f"{role}_{target.code}.toml"
        told[folder / named_in[role]] = document_of(target)
    own = folder / f"{revision.document.kind}_{revision.code}.toml"
    told[own] = document_of(revision).changed(named_in)
    for path, document in told.items():
        if path.exists() and path.read_bytes() != document.text.encode("utf-8"):
            raise NotebookTrouble(f"{path} is there already and says something else; name another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    for path, document in told.items():
        document.save(path)
    return own


# ---------------- looking


def revision(session: Session, wanted: str, *, kind: str = "") -> Revision:
    """A revision by its code, by the name and number that lists print (`Conventional, 1`), or the latest of a
    document by its name. Where two cars have a setup of that name, it is that of the car named with it
    (`Conventional of Number 14`), else the one kept last. Raises NotebookTrouble.
    """
    told = wanted.strip()
    found = session.scalars(sa.select(Revision).where(Revision.code == told.upper())).first()
    if found is None:
        found = _called(session, told, kind)
    if found is None and (numbered := _NUMBERED.fullmatch(told)):
        found = _called(session, numbered["name"], kind, int(numbered["number"]))
    if found is None or (kind and found.document.kind != kind):
        what = kind or "document"
        known = ", ".join(f'"{name}"' for name in _names(session, kind)[:5])
        hint = f"there are {known}" if known else f"keep a {what} first"
        raise NotebookTrouble(f'no {what} "{told[:60]}" is in the notebook; {hint}.')
    return found


_NUMBERED = re.compile(r"(?P<name>.+?),\s*(?P<number>\d{1,6})(?:\s+\(\w+\))?")
"""A revision as lists print it."""


def _called(session: Session, name: str, kind: str, number: int | None = None) -> Revision | None:
    """A revision of the document of a name, and of a car if that is told: of that number, or the latest."""
    plain = sa.func.lower(Document.name) == name.lower()
    found = _latest_of(session, plain, kind, number)
    head, of, car = name.rpartition(OF)
    if found is not None or not of:
        return found
    cars = sa.select(Document.id).where(Document.kind == "car", sa.func.lower(Document.name) == car.lower())
    of_car = sa.and_(sa.func.lower(Document.name) == head.lower(), Document.id.in_(_homes_with(cars)))
    return _latest_of(session, of_car, kind, number)


def _latest_of(
    session: Session, which: sa.ColumnElement[bool], kind: str, number: int | None
) -> Revision | None:
    """The latest revision, or the one of a number, of the document that grew last of some."""
    other = aliased(Revision)
    grown = sa.select(sa.func.max(other.id)).where(other.document_id == Document.id).scalar_subquery()
    query = sa.select(Revision).join(Document).where(which).order_by(grown.desc(), Revision.number.desc())
    query = query.where(Document.kind == kind) if kind else query
    query = query.where(Revision.number == number) if number is not None else query
    return session.scalars(query.limit(1)).first()


def _names(session: Session, kind: str) -> list[str]:
    query = sa.select(Document.name).order_by(Document.id.desc()).limit(50)
    return list(session.scalars(query.where(Document.kind == kind) if kind else query))


def is_kept(session: Session, code: str) -> bool:
    """Whether there is a revision of that code."""
    return bool(code) and session.scalar(sa.select(Revision.id).where(Revision.code == code)) is not None


def revisions(session: Session, *, kind: str = "", most: int = 50) -> tuple[RevisionLine, ...]:
    """The latest revisions, newest first."""
    query = sa.select(Revision).join(Document).order_by(Revision.id.desc()).limit(most)
    found = session.scalars(query.where(Document.kind == kind) if kind else query).all()
    return tuple(_lines(session, found))


def line(session: Session, revision: Revision) -> RevisionLine:
    """One revision as it stands in a list."""
    return _lines(session, [revision])[0]


def tree(session: Session, revision: Revision) -> tuple[tuple[int, RevisionLine], ...]:
    """All that came from the first ancestor of a revision, each below its parent with its depth."""
    root = revision
    while root.parent is not None:
        root = root.parent
    below = sa.select(Revision.id).where(Revision.id == root.id).cte(recursive=True)
    below = below.union_all(sa.select(Revision.id).join(below, Revision.parent_id == below.c.id))
    query = sa.select(Revision).where(Revision.id.in_(sa.select(below.c.id))).order_by(Revision.id)
    family = session.scalars(query).all()
    lines = dict(zip((one.id for one in family), _lines(session, family), strict=True))
    children: dict[int | None, list[int]] = {}
    for one in family:
        children.setdefault(one.parent_id, []).append(one.id)
    return tuple(_walked(root.id, 0, children, lines))


def _walked(
    at: int, depth: int, children: Mapping[int | None, list[int]], lines: Mapping[int, RevisionLine]
) -> Iterator[tuple[int, RevisionLine]]:
    waiting = [(at, depth)]
    while waiting:
        here, deep = waiting.pop()
        yield deep, lines[here]
        waiting.extend((below, deep + 1) for below in reversed(children.get(here, [])))


def _lines(session: Session, found: Sequence[Revision]) -> list[RevisionLine]:
    ids = [one.id for one in found]
    runs: dict[int, int] = dict(
        session.execute(
            sa.select(Run.setup_id, sa.func.count()).where(Run.setup_id.in_(ids)).group_by(Run.setup_id)
        ).all()
    )
    parents: dict[int, str] = dict(
        session.execute(
            sa.select(Revision.id, Revision.code).where(Revision.id.in_([one.parent_id for one in found]))
        ).all()
    )
    names = _told_apart(session, {one.document for one in found})
    return [
        RevisionLine(
            code=one.code,
            kind=one.document.kind,
            name=names.get(one.document_id, one.document.name),
            number=one.number,
            parent=parents.get(one.parent_id or 0, ""),
            reason=one.reason,
            said=one.said,
            made_at=one.made_at,
            made_by=one.made_by,
            runs=runs.get(one.id, 0),
        )
        for one in found
    ]


def _told_apart(session: Session, homes: Collection[Document]) -> dict[int, str]:
    """What setups are called of which another car has one of the same name: with the name of their car."""
    called = {one.name for one in homes if one.kind == "setup"}
    same = sa.select(Document.name).where(Document.kind == "setup", Document.name.in_(called))
    twice = set(session.scalars(same.group_by(Document.name).having(sa.func.count() > 1)))
    car, car_home = aliased(Revision), aliased(Document)
    query = (
        sa.select(Revision.document_id, Document.name, car_home.name)
        .join(Document, Document.id == Revision.document_id)
        .join(Reference, Reference.revision_id == Revision.id)
        .join(car, car.id == Reference.target_id)
        .join(car_home, car_home.id == car.document_id)
        .where(Document.kind == "setup", Document.name.in_(twice), Reference.role == "car")
        .order_by(Revision.id)
    )
    return {home: f"{name}{OF}{of}" for home, name, of in session.execute(query)} if twice else {}
