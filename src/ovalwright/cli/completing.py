"""What the shell offers when the tab key is pressed: codes and names of the notebook.

It reads the file of the notebook past everything else, so that it is quick; where that does not go, for
whatever reason, it offers nothing and the shell goes on with names of files.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import typer

from ovalwright.notebook.place import usual_place

MOST = 200
"""How many of the latest are offered."""
REVISIONS = (
    "SELECT revision.code, document.name, document.kind || ' ' || revision.number FROM revision "
    "JOIN document ON document.id = revision.document_id ORDER BY revision.id DESC LIMIT ?"
)
RUNS = (
    "SELECT run.code, '', event.name || ' ' || run.session FROM run "
    "JOIN event ON event.id = run.event_id ORDER BY run.started DESC, run.id DESC LIMIT ?"
)
EVENTS = "SELECT name, name, held_on FROM event ORDER BY held_on DESC LIMIT ?"

Offer = tuple[str, str]
"""A word with what it is."""
Row = tuple[str, str, str]
"""A code, a name, and what they are."""


def documents(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Codes of every kind of document, and names of one word."""
    return list(offers_of(incomplete, rows_for(REVISIONS, ctx)))


def runs(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Codes of runs, and the last."""
    rows = rows_for(RUNS, ctx)
    return list(offers_of(incomplete, [("last", "", "the last run"), *rows] if rows else []))


def events(ctx: typer.Context, incomplete: str) -> list[Offer]:
    """Names of events."""
    return list(offers_of(incomplete, rows_for(EVENTS, ctx)))


def kept(kind: str) -> Callable[[typer.Context, str], list[Offer]]:
    """Codes of one kind behind an @, where a file may stand as well."""

    def offered(ctx: typer.Context, incomplete: str) -> list[Offer]:
        if not incomplete.startswith("@"):
            return []
        rows = [row for row in rows_for(REVISIONS, ctx) if row[2].split(" ")[0] == kind]
        return [(f"@{word}", what) for word, what in offers_of(incomplete[1:], rows)]

    return offered


def offers_of(incomplete: str, rows: list[Row]) -> Iterator[Offer]:
    """The codes and names that begin so, each once, with what they are."""
    told = set()
    for code, name, what in rows:
        for word in (code, name):
            if word and word not in told and word.lower().startswith(incomplete.lower()):
                told.add(word)
                yield word, f"{name}, {what}".strip(", ")


def rows_for(query: str, ctx: typer.Context | None = None) -> list[Row]:
    try:
        path = Path((ctx and ctx.params.get("where")) or usual_place())
        if not path.is_file():
            return []
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=1.0)) as file:
            return [(str(a), str(b), str(c)) for a, b, c in file.execute(query, (MOST,))]
    except (sqlite3.Error, OSError, ValueError):
        return []
