"""What a sheet is made of: a document of a file, or a revision of the notebook.

The notebook is opened only when something of it is asked for, so that sheets work with files alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy.orm import Session

from ovalwright import documents
from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import MARK, opened
from ovalwright.cli.screen import Screen
from ovalwright.documents import Assembly, Setup
from ovalwright.notebook import shelf
from ovalwright.notebook.place import usual_place
from ovalwright.notebook.typed.entering import usual_setup
from ovalwright.sheets.asked import Found, kept_document
from ovalwright.units import System


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

    @property
    def has_notebook(self) -> bool:
        """Whether there is one; to ask for its session makes one."""
        where = self.where.strip() or usual_place()
        return "://" in where or Path(where).expanduser().is_file()

    @property
    def system(self) -> System:
        """Units that the sheet is printed in."""
        return self.screen.system

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
        if self.is_file(which):
            return _of_file(Path(which), kind)
        return kept_document(self.session, which.strip().removeprefix(MARK), kind)

    def is_file(self, which: str) -> bool:
        """Whether a file is meant; what begins with the mark never is one."""
        if which.lower().endswith(".toml"):
            return True
        try:
            return not which.startswith(MARK) and Path(which).is_file()
        except (OSError, ValueError):
            return False


@contextmanager
def source(screen: Screen, where: str) -> Iterator[Source]:
    """The source of one sheet, closed afterwards."""
    with ExitStack() as stack:
        yield Source(screen, where, stack)


def _of_file(path: Path, kind: str) -> Found:
    told = shelf.kind_of_file(path)
    if kind and told != kind:
        raise Trouble(f"{path}: is a {told}; a {kind} is wanted here")
    if told != "setup":
        return Found(documents.load(told, path))
    setup = Setup.load(path)
    return Found(setup, documents.assemble(setup))
