"""What was typed for an entry: kept, or left as a draft while something that it names is missing."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.cli.door import Trouble, as_sentence
from ovalwright.cli.notes import SHORT_ID, opened
from ovalwright.cli.screen import Screen
from ovalwright.documents import DocumentError
from ovalwright.documents.pasted import text_in
from ovalwright.documents.source import read_bytes
from ovalwright.notebook import drafts
from ovalwright.notebook.drafts import DraftNow
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import Missing
from ovalwright.notebook.typed.lap_entry import COLUMNS, told_anew

PASTED = "-"
"""Stands where the name of a file may stand for what is pasted."""
NAME_OF_PASTE = "what was pasted"


@contextmanager
def form(
    screen: Screen,
    command: str,
    given: Mapping[str, str],
    *,
    draft: str,
    where: str,
    by: str,
    keep: str = "",
    whole: bool = False,
) -> Iterator[tuple[Session, dict[str, str]]]:
    """One entry from what was typed now and, where a draft is gone on with, before.

    What names something that is missing is saved as a draft; so is what holds a field `keep`, or several
    fields of a `whole` line, which is much to type again, and what was a draft before. Raises Trouble that
    names the draft.
    """
    with opened(screen, where, by) as store:
        before = _begun(store, draft, command)
        typed = _together(before.typed if before else {}, given)
        try:
            with store.entry(command) as session:
                if before is not None:
                    drafts.drop(session, before.uid)
                yield session, typed
        except (NotebookTrouble, DocumentError, Trouble) as problem:
            much = typed.get(keep) or (whole and len(typed) > 1)
            if not (isinstance(problem, Missing) or before or much):
                raise
            told = as_sentence(str(problem).rstrip("."))
            raise Trouble(f"{told}; {_left(store, command, typed, before)}.") from None


def _together(before: Mapping[str, str], given: Mapping[str, str]) -> dict[str, str]:
    """What was typed before with what is typed now; what columns hold is told one by one."""
    now = {name: text for name, text in given.items() if text}
    if COLUMNS in now:
        now[COLUMNS] = told_anew(before.get(COLUMNS, ""), now[COLUMNS])
    return {**before, **now}


def _begun(store: Store, draft: str, command: str) -> DraftNow | None:
    if not draft:
        return None
    with store.reading() as session:
        before = drafts.called(session, draft)
    if before.form != command:
        raise Trouble(f"draft {draft[:32]} was begun with `{before.form}`; go on with it there")
    return before


def _left(store: Store, command: str, typed: Mapping[str, Any], before: DraftNow | None) -> str:
    """Save a draft, and say how to go on with it, or why it could not be saved."""
    try:
        uid = _saved(store, command, typed, before)
    except NotebookTrouble as problem:
        return f"and no draft is kept: {str(problem).rstrip('.')}"
    return f"what you typed is kept, go on with `{command} --draft {uid[:SHORT_ID]}`"


def _saved(store: Store, command: str, typed: Mapping[str, Any], before: DraftNow | None) -> str:
    with store.aside() as session:
        if before is not None:
            return drafts.save(session, before.uid, typed, version=before.version, by=store.by).uid
        about = next((typed[name] for name in ("name", "event", "run", "session") if typed.get(name)), "")
        return drafts.begin(session, command, typed, about=about, by=store.by).uid


def wanted(typed: Mapping[str, str], field: str, example: str) -> str:
    """A field that must be there. Raises Trouble with an example."""
    text = typed.get(field, "")
    if not text.strip():
        raise Trouble(f"{field.replace('_', ' ')}: is missing; write such as {example}")
    return text


def text_of(source: str) -> str:
    """The text of a file, or what is pasted for a `-`. Raises DocumentError."""
    if source != PASTED:
        return text_in(read_bytes(Path(source), "a lap list"), Path(source).name)
    if sys.stdin.isatty():
        print("Paste, then end with Ctrl-D (Ctrl-Z and Enter on Windows).", file=sys.stderr)
    return text_in(sys.stdin.buffer.read(), NAME_OF_PASTE)
