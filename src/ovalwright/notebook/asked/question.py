"""What a question about the runs is made of: clauses that must all hold, each told as it was understood."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from ovalwright.notebook.asked.fields import Field

KEYS = {
    0x2013: "-", 0x2014: "-", 0x2011: "-", 0x2212: "-", 0x201C: '"', 0x201D: '"', 0x201E: '"', 0x2019: "'",
    0xBD: " 1/2", 0xBC: " 1/4", 0xBE: " 3/4", 0x215B: " 1/8",
}  # fmt: skip
"""Signs that a keyboard has otherwise."""


def keyed(text: str) -> str:
    """A text with dashes, halves and quotes as a keyboard has them, a space for what cannot be printed."""
    return "".join(one if one.isprintable() or one == "\n" else " " for one in text.translate(KEYS))


@dataclass(frozen=True)
class Clause:
    """One clause: as typed, and in words how it was understood."""

    typed: str
    understood: str


@dataclass(frozen=True)
class Measured(Clause):
    """A field from `low` to `high`, SI; None where it is open."""

    field: Field
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Felt(Clause):
    """A comment of the driver; empty where he may have said anything."""

    feel: str = ""
    phase: str = ""
    when: str = ""


@dataclass(frozen=True)
class Rode(Clause):
    """A part by its mark; `kind` and `corner` are empty for any."""

    kind: str
    mark: str
    corner: str = ""


@dataclass(frozen=True)
class Days(Clause):
    """Days from `first` on, before `end`; None where it is open."""

    first: dt.date | None = None
    end: dt.date | None = None


What = Literal["track", "event", "setup", "car", "driver", "session", "run", "flag", "here", "hit", "words"]


@dataclass(frozen=True)
class Named(Clause):
    """A thing by words of its name or by its code, a flag, the track of the last event, or words anywhere."""

    what: What
    name: str = ""


@dataclass(frozen=True)
class Question:
    """A question as typed, and its clauses; all of them must hold."""

    text: str
    clauses: tuple[Clause, ...]

    @property
    def understood(self) -> tuple[str, ...]:
        """How each clause was understood."""
        return tuple(clause.understood for clause in self.clauses)

    @property
    def may_name_other_things(self) -> bool:
        """Whether it may be meant for events, parts, documents and what was found, as well as for runs.

        `loose` alone may be a bolt.
        """
        return all(
            (isinstance(one, Named) and one.what in ("words", "setup", "run"))
            or (isinstance(one, Felt) and not (one.phase or one.when))
            for one in self.clauses
        )


def short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."
