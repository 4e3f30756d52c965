"""Laps of a run from whatever list they come in: what its columns hold is told once and remembered.

A list with headings is known again by them. What was told of it, or else what its headings say by themselves,
finds the columns; which car of several is his own is remembered as well.
"""

from __future__ import annotations

from sqlalchemy.orm import Session

from ovalwright.documents import DocumentError, LapList, read_laps
from ovalwright.notebook import remembered
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.columns import (
    CAR,
    NOTHING,
    ColumnMap,
    fingerprint,
    headings_of,
    mapped,
    proposed,
)

COLUMNS, OWN_CAR, WORDS = "columns", "own car", "flag words"
"""Under what it is remembered."""


def read_lap_list(
    session: Session,
    text: str,
    *,
    name: str = "the lap list",
    columns: str = "",
    car: str = "",
    words: str = "",
) -> LapList:
    """The laps of a list.

    `columns` tells what headings hold, one a line (`Zeit=time`), `car` whose rows count, `words` what his own
    words for a flag mean (`gelb=yellow`). Raises NotebookTrouble, DocumentError: one sentence, and nothing is
    half taken.
    """
    meant = {**(remembered.recall(session, WORDS) or {}), **_told(words, "word", "gelb=yellow")}
    listed = _listed_as_told(session, text, name=name, columns=columns, car=car, words=meant)
    if words:
        remembered.remember(session, WORDS, meant)
    return listed


def _listed_as_told(
    session: Session, text: str, *, name: str, columns: str, car: str, words: dict[str, str]
) -> LapList:
    told = _told(columns, "column", "Zeit=time")
    headings = headings_of(text)
    if not headings:
        if told or car:
            raise NotebookTrouble(f"{name}: has no headings, so no column of it can be named.")
        return read_laps(text, name=name, words=words)
    known = fingerprint(headings)
    before = dict(remembered.recall(session, COLUMNS, of=known) or ())
    holds = _held(headings, {**before, **_as_headed(told, headings)})
    if not (told or before or CAR in holds.values()):
        try:
            return read_laps(text, name=name, words=words)
        except DocumentError as problem:
            raise NotebookTrouble(
                f"{str(problem).rstrip('.')}; or tell what its columns {_listed(headings)} hold, such as "
                '"Zeit=time".'
            ) from None
    own = car or str(remembered.recall(session, OWN_CAR, of=known) or "")
    listed = mapped(text, ColumnMap(tuple(holds.items())), car=own, name=name, words=words)
    if told:
        remembered.remember(session, COLUMNS, list(holds.items()), of=known)
    if car:
        remembered.remember(session, OWN_CAR, car, of=known)
    return listed


def told_anew(before: str, now: str) -> str:
    """What was told a line each, with what is told of it `now`: a line of before goes where its heading or
    what it held is told again, or where it told nothing.
    """
    anew = {part.strip().casefold() for line in now.splitlines() for part in line.rpartition("=")[::2]}
    kept = [
        line
        for line in before.splitlines()
        if "=" in line and anew.isdisjoint(part.strip().casefold() for part in line.rpartition("=")[::2])
    ]
    return "\n".join((*kept, *now.splitlines()))


def _told(lines: str, of: str, example: str) -> dict[str, str]:
    """`Zeit=time` and its like, told of a column or a word. Raises NotebookTrouble."""
    told = {}
    for line in filter(None, map(str.strip, lines.splitlines())):
        name, sign, what = line.rpartition("=")
        if not (sign and name.strip() and what.strip()):
            holds = "what it holds" if of == "column" else "what it means"
            raise NotebookTrouble(f'{of}: "{line[:40]}" says not {holds}; write such as "{example}".')
        told[" ".join(name.split())] = " ".join(what.split())
    return told


def _held(headings: tuple[str, ...], told: dict[str, str]) -> dict[str, str]:
    """What was told of headings, and what the others say by themselves."""
    return {
        heading: what for heading, what in proposed(headings, told) if what != NOTHING and heading.strip()
    }


def _as_headed(told: dict[str, str], headings: tuple[str, ...]) -> dict[str, str]:
    """What was told, by the headings as the list spells them. Raises DocumentError for one it has not."""
    spelled = {" ".join(heading.split()).casefold(): heading for heading in headings}
    odd = next((heading for heading in told if heading.casefold() not in spelled), None)
    if odd is not None:
        raise DocumentError(f'no column is headed "{odd[:30]}"; this list has {_listed(headings)}.')
    return {spelled[heading.casefold()]: what for heading, what in told.items()}


def _listed(headings: tuple[str, ...]) -> str:
    return ", ".join(f'"{heading[:20]}"' for heading in headings[:8] if heading)
