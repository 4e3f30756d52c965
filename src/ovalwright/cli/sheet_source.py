"""What a sheet is made of: a document of a file, or a revision of the notebook, and what its stamp says.

The notebook is opened only when something of it is asked for, so that sheets work with files alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright import documents
from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import MARK, opened, revision
from ovalwright.cli.screen import Screen
from ovalwright.documents import Assembly, Document, Setup
from ovalwright.notebook import shelf
from ovalwright.notebook.entering import usual_setup
from ovalwright.notebook.tables import Revision
from ovalwright.sheets import Stamp


@dataclass(frozen=True)
class Found:
    """A document, with a setup joined to its car, and the revision it is where it is one."""

    document: Document
    assembly: Assembly | None = None
    kept: Revision | None = None

    @property
    def name(self) -> str:
        """What it is called."""
        return self.kept.document.name if self.kept else shelf.named(self.document)

    def stamp(self, title: str) -> Stamp:
        """The stamp of a sheet of it; of a file the day is today's."""
        car = self.assembly.car.name if self.assembly else ""
        if self.kept is None:
            return Stamp(title=title, car=car, setup=self.name, made=dt.date.today())
        return Stamp(
            title=title,
            car=car,
            setup=self.name,
            revision=self.kept.number,
            code=self.kept.code,
            made=self.kept.made_at.date(),
            by=self.kept.made_by,
        )


@dataclass
class Source:
    """Files, and the notebook once it is asked for."""

    screen: Screen
    where: str
    _stack: ExitStack = field(default_factory=ExitStack)
    _session: Session | None = None

    @property
    def session(self) -> Session:
        """The notebook, opened for reading."""
        if self._session is None:
            store = self._stack.enter_context(opened(self.screen, self.where))
            self._session = self._stack.enter_context(store.reading())
        return self._session

    def setup(self, which: str) -> tuple[Found, Assembly]:
        """A setup by its file, code or name; the one in use when left out, which is said.

        Raises NotebookTrouble, DocumentError, Trouble.
        """
        if not which:
            chosen = usual_setup(self.session)
            self.screen.note(f"Setup {chosen.revision.document.name}, {chosen.revision.number} "
                             f"({chosen.revision.code}): {chosen.why}.")  # fmt: skip
            which = chosen.revision.code
        found = self.document(which, "setup")
        assert found.assembly is not None
        return found, found.assembly

    def document(self, which: str, kind: str = "") -> Found:
        """A document by its file, code or name. Raises as `setup` does."""
        if is_file(which) or which.lower().endswith(".toml"):
            return _of_file(Path(which), kind)
        kept = revision(self.session, which, kind)
        joined = shelf.assembly_of(self.session, kept) if kept.document.kind == "setup" else None
        return Found(shelf.document_of(kept), joined, kept)

    def rack_of(self, setup: Found) -> Found:
        """The rack of a setup, in the revision that it was kept with."""
        assert setup.assembly is not None
        kept = shelf.refers_to(self.session, setup.kept).get("rack") if setup.kept else None
        return Found(setup.assembly.rack, kept=kept)


@contextmanager
def source(screen: Screen, where: str) -> Iterator[Source]:
    """The source of one sheet, closed afterwards."""
    with ExitStack() as stack:
        yield Source(screen, where, stack)


def is_file(which: str) -> bool:
    """Whether a file of that name is there; what begins with the mark never is one."""
    try:
        return not which.startswith(MARK) and Path(which).is_file()
    except (OSError, ValueError):
        return False


def _of_file(path: Path, kind: str) -> Found:
    told = shelf.kind_of_file(path)
    if kind and told != kind:
        raise Trouble(f"{path}: is a {told}; a {kind} is wanted here")
    if told != "setup":
        return Found(documents.load(told, path))
    setup = Setup.load(path)
    return Found(setup, documents.assemble(setup))
