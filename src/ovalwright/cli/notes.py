"""The notebook opened for one command, and documents that are read straight from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import Screen
from ovalwright.documents import Assembly, Document, Setup
from ovalwright.notebook import shelf
from ovalwright.notebook.copies import copy_of_the_day
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Revision
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import find_kept

MARK = "@"
"""What stands before a code or name of the notebook where a file may stand as well."""
SHORT_ID = 8
"""Digits by which a draft is called."""


@contextmanager
def opened(screen: Screen, where: str = "", by: str = "") -> Iterator[Store]:
    """The notebook of a command, closed afterwards, and copied first as the last day left it; that it cannot
    be written to or copied is said below the answer.
    """
    with Store.open(where.strip() or None, by=by.strip()) as store:
        if store.read_only:
            screen.note(store.read_only)
        try:
            copy_of_the_day(store)
        except NotebookTrouble as trouble:
            screen.note(f"No copy was made of the last day: {trouble}")
        yield store


def revision(session: Session, which: str, kind: str = "") -> Revision:
    """A revision by its code or name, with or without the mark. Raises NotebookTrouble."""
    return shelf.revision(session, which.strip().removeprefix(MARK), kind=kind)


def taken(session: Session, which: str, kind: str) -> Revision:
    """The same for an entry, where a file may stand as well: it is kept first.

    Raises Missing when it is neither in the notebook nor a file, DocumentError, Trouble.
    """
    path = Path(which)
    if which.startswith(MARK) or not _is_file(path):
        return find_kept(session, which, kind)
    if shelf.kind_of_file(path) != kind:
        raise Trouble(f"{path}: is a {shelf.kind_of_file(path)}; a {kind} is wanted here")
    return shelf.keep_file(session, path)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def kept_document(path: Path, kind: str) -> Document:
    """A document of the notebook. Raises NotebookTrouble, DocumentError."""
    with Store.open() as store, store.reading() as session:
        return shelf.document_of(revision(session, str(path), kind))


def kept_setup(path: Path) -> tuple[Setup, Assembly]:
    """A setup of the notebook as typed, and joined with what it was kept with. Raises as above."""
    with Store.open() as store, store.reading() as session:
        found = revision(session, str(path), "setup")
        return shelf.setup_of(found), shelf.assembly_of(session, found)


def at_home(moment: dt.datetime) -> str:
    """A moment as the clock on the wall shows it."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def counted(number: int, one: str, many: str = "") -> str:
    """`1 run`, `2 runs`."""
    return f"{number} {one if number == 1 else many or one + 's'}"
