"""What may go wrong at the door: one sentence on stderr and an exit code, never a traceback."""

from __future__ import annotations

import os
import sys
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperGroup

FAULT, BUG, STOPPED = 1, 70, 130
"""Exit codes: something he gave is wrong; something in here is wrong; he stopped it."""


class Trouble(Exception):
    """Something a racer can put right, said in one sentence."""


@contextmanager
def said_by(*kinds: type[Exception]) -> Iterator[None]:
    """Pass on what a study says in one sentence as trouble of his own."""
    try:
        yield
    except kinds as problem:
        raise Trouble(as_sentence(str(problem))) from problem


def as_sentence(text: str) -> str:
    """A sentence as it begins: with a capital, unless with a name."""
    return text[:1].upper() + text[1:] if text.split(" ")[0].isalpha() else text


class Door(TyperGroup):
    """The group of all commands: whatever goes wrong in one leaves by here."""

    def main(self, args: Sequence[str] | None = None, *rest: Any, **more: Any) -> Any:
        """Run one command and end the process with its exit code."""
        more["standalone_mode"] = False
        try:
            code = super().main(args, *rest, **more)
        except Exception as problem:
            code = _answered(problem)
        if code == STOPPED:
            _say("Stopped; nothing of yours was changed.", STOPPED)
        sys.exit(code if isinstance(code, int) else 0)


def _answered(problem: Exception) -> int:
    """Say one sentence about a problem; returns the exit code."""
    worded = getattr(problem, "format_message", None)
    if isinstance(problem, typer.Abort):
        return STOPPED
    if worded is not None:
        return _say(_usage(problem, worded()), 2)
    from ovalwright.documents import DocumentError
    from ovalwright.notebook.trouble import NotebookTrouble

    if isinstance(problem, NotebookTrouble):
        return _say(as_sentence(str(problem)), FAULT)
    if isinstance(problem, (Trouble, DocumentError)):
        return _say(str(problem), FAULT)
    if isinstance(problem, BrokenPipeError):
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  (the reader left; nothing to say)
        return FAULT
    if isinstance(problem, OSError):
        name = problem.filename or "a file"
        return _say(
            f"{name}: cannot be used ({problem.strerror or problem}); check the name and the disk.", FAULT
        )
    return _say(_bug(problem), BUG)


def _usage(problem: Exception, text: str) -> str:
    """A mistyped command line and where its help is."""
    context = getattr(problem, "ctx", None)
    command = context.command_path if context is not None else "ovalwright"
    sentence = " ".join(text.split()).rstrip(".?")
    ask = "? " if text.rstrip().endswith("?") else "; "
    return f"{sentence}{ask}`{command} --help` shows what may stand there."


def _bug(problem: Exception) -> str:
    """A mistake in the program itself: said as that, with its story in a file for whoever mends it."""
    story = Path(tempfile.gettempdir()) / "ovalwright-bug.txt"
    told = f" Its story is in {story}."
    try:
        story.write_text("".join(traceback.format_exception(problem)), encoding="utf-8")
    except OSError:
        told = ""
    what = " ".join(str(problem).split())[:160]
    return (
        f"This is a mistake in Ovalwright, not in your files, which are untouched: "
        f"{type(problem).__name__}: {what}.{told}"
    )


def _say(sentence: str, code: int) -> int:
    """One line, whatever was typed into it: no line breaks, no characters that the screen cannot show."""
    line = "".join(c if c.isprintable() else " " for c in sentence)
    coding = sys.stderr.encoding or "utf-8"
    shown = line.encode(coding, "replace").decode(coding)
    print(shown if shown.endswith((".", "!", "?")) else f"{shown}.", file=sys.stderr)
    return code
