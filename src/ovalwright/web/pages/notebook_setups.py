"""Setups of the notebook: where each came from, what it says, and what differs between two."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import Query
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import KINDS_OF_DOCUMENT, DocumentError
from ovalwright.notebook import shelf
from ovalwright.notebook.place import person
from ovalwright.notebook.shelf import RevisionLine
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.difference import Difference, said
from ovalwright.web.bench import bench_of
from ovalwright.web.notebook_page import NotebookPage, at_home, undoing
from ovalwright.web.page import show
from ovalwright.web.troubles import sentence
from ovalwright.web.words import counted, step

SHOWN, MOST_SHOWN = 30, 2000
LONGEST_SAID = 140
"""Letters of a difference in a list; in full it stands with the revision."""
DEEPEST = 6
"""Steps that a tree is set in; what is deeper stands as far in as these."""


@dataclass(frozen=True)
class Row:
    """One revision in a list or tree; `depth` is how far it is set in."""

    code: str
    name: str
    kind: str
    made: str
    runs: str
    said: str
    reason: str
    depth: int = 0
    is_here: bool = False


@dataclass(frozen=True)
class Changed:
    """One thing that differs: what it was, what it is, and by how much."""

    key: str
    was: str
    now: str
    by: str


@dataclass(frozen=True)
class Between:
    """What differs between two revisions, in one line and thing by thing; or why it cannot be told."""

    old: str
    new: str
    said: str
    rows: tuple[Changed, ...]
    wrong: str = ""


@dataclass(frozen=True, kw_only=True)
class SetupsPage(NotebookPage):
    """The latest revisions of a kind, and two to hold against each other."""

    template: ClassVar[str] = "notebook_setups.html"
    kind: str
    kinds: tuple[str, ...]
    rows: tuple[Row, ...]
    more: str
    old: str
    new: str
    between: Between | None


@dataclass(frozen=True, kw_only=True)
class RevisionPage(NotebookPage):
    """One revision: what it refers to, its family, its text."""

    template: ClassVar[str] = "notebook_revision.html"
    line: Row
    code: str
    kind: str
    refers: tuple[Row, ...]
    family: tuple[Row, ...]
    before: str
    between: Between | None
    text: str


def setups(
    request: Request,
    kind: Annotated[str, Query(max_length=20)] = "setup",
    most: Annotated[int, Query(ge=1, le=MOST_SHOWN)] = SHOWN,
    old: Annotated[str, Query(max_length=120)] = "",
    new: Annotated[str, Query(max_length=120)] = "",
) -> Response:
    """The latest setups, or documents of another kind; with `old` and `new` their difference."""
    kind = kind if kind in KINDS_OF_DOCUMENT else "setup"
    with bench_of(request).store.reading() as session:
        found = shelf.revisions(session, kind=kind, most=most + 1)
        between = _between(session, old, new, kind) if old or new else None
        page = SetupsPage(
            title="Setups",
            tab="/notebook/setups",
            undoing=undoing(request, session),
            kind=kind,
            kinds=tuple(KINDS_OF_DOCUMENT),
            rows=tuple(_row(one) for one in found[:most]),
            more=f"/notebook/setups?kind={kind}&most={min(2 * most, MOST_SHOWN)}" if found[most:] else "",
            old=old,
            new=new,
            between=between,
        )
    return show(request, page, status=422 if between and between.wrong else 200)


def revision(request: Request, code: str, against: Annotated[str, Query(max_length=120)] = "") -> Response:
    """One revision by its code, or the latest of that name; with `against` its difference to another."""
    with bench_of(request).store.reading() as session:
        found = shelf.revision(session, code)
        line = shelf.line(session, found)
        page = RevisionPage(
            title=f"{line.name}, {line.number}",
            tab="/notebook/setups",
            undoing=undoing(request, session),
            line=_row(line),
            code=line.code,
            kind=line.kind,
            refers=tuple(_row(shelf.line(session, one)) for one in shelf.refers_to(session, found).values()),
            family=tuple(_family(session, found)),
            before=line.parent,
            between=_between(session, against, line.code, line.kind) if against else None,
            text=found.text,
        )
    return show(request, page, status=422 if page.between and page.between.wrong else 200)


def _row(line: RevisionLine, depth: int = 0, here: str = "") -> Row:
    return Row(
        code=line.code,
        name=f"{line.name}, {line.number}",
        kind=line.kind,
        made=", ".join(filter(None, (at_home(line.made_at), person(line.made_by)))),
        runs=counted(line.runs, "run") if line.runs else "",
        said=line.said if len(line.said) <= LONGEST_SAID else f"{line.said[: LONGEST_SAID - 3]}...",
        reason=line.reason,
        depth=depth,
        is_here=line.code == here,
    )


def _family(session: Session, found: Revision) -> Iterator[Row]:
    """Its family: each below the one it came from, set in only where it branches."""
    tree = shelf.tree(session, found)
    children: dict[str, int] = {}
    for _, line in tree:
        children[line.parent] = children.get(line.parent, 0) + 1
    depths: dict[str, int] = {}
    for _, line in tree:
        depths[line.code] = min(depths.get(line.parent, 0) + (children[line.parent] > 1), DEEPEST)
        yield _row(line, depths[line.code], found.code)


def _between(session: Session, old: str, new: str, kind: str) -> Between:
    try:
        first, second = (shelf.revision(session, one, kind=kind) for one in (old, new))
        found = shelf.changed(session, first, second)
    except (NotebookTrouble, DocumentError) as problem:
        return Between(old, new, "", (), wrong=sentence(str(problem)))
    lines = (shelf.line(session, one) for one in (first, second))
    called = [f"{line.name}, {line.number} ({line.code})" for line in lines]
    rows = tuple(Changed(one.key, one.old_text or "-", one.new_text or "-", _by(one)) for one in found)
    return Between(called[0], called[1], said(found) or "Nothing differs.", rows)


def _by(one: Difference) -> str:
    if one.kind and isinstance(one.old, float) and isinstance(one.new, float):
        return step(one.new - one.old, one.kind)
    return ""
