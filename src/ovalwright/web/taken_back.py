"""A setup that was kept last, taken back from the page it was kept on."""

from __future__ import annotations

from ovalwright.notebook import shelf, undo
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble


def take_back(store: Store, setup: str, entry: str) -> str:
    """Take back the entry that made a setup, by its code and the number of that entry, while it is the last;
    the code of the setup it was made of. Raises NotebookTrouble.
    """
    with store.entry("undo") as session:
        kept = shelf.revision(session, setup, kind="setup")
        last = undo.next_to_undo(session, by=store.by)
        if last is None or str(last.number) != entry or kept.entry_id != last.number or not kept.parent:
            raise NotebookTrouble("something was entered since; take that back in the notebook first.")
        before = kept.parent.code
        undo.undo(session, by=store.by)
        entry_of(session).what = f"took back: {last.what}"
    return before
