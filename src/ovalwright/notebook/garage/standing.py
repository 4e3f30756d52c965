"""A checklist as it stands: ticked as far as it was gone through, with what was found and is not put right.

The ready-made lists are known before they are in the notebook.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.checklists import READY, ReadyList
from ovalwright.notebook.garage.findings import Finding, findings
from ovalwright.notebook.garage.work import Line
from ovalwright.notebook.trouble import NotebookTrouble


@dataclass(frozen=True)
class Standing:
    """A checklist, `event` that which it is under way for."""

    name: str
    note: str
    lines: tuple[Line, ...]
    event: str = ""
    wrong: tuple[Finding, ...] = ()


def as_it_stands(session: Session | None, name: str) -> Standing:
    """A checklist by its name; without a notebook one of the ready-made. Raises NotebookTrouble."""
    called = " ".join(name.split()).lower()
    own = {one.lower() for one in work.lists(session)} if session is not None else ()
    ready = next((one for one in READY if one.name.lower() == called), None)
    if ready is not None and called not in own:
        return Standing(ready.name, ready.note, ready_lines(ready))
    if session is None:
        raise NotebookTrouble(
            f'no checklist "{name[:60]}"; there are {", ".join(one.name for one in READY)}.'
        )
    found = work.list_of(session, name)
    going = work.open_rounds(session, found)
    wrong = findings(session, found)
    if not going:
        return Standing(found.name, found.note, work.list_lines(session, found), wrong=wrong)
    told = work.round_sheet(session, going[0])
    return Standing(found.name, found.note, told.lines, told.event, wrong)


def ready_lines(ready: ReadyList) -> tuple[Line, ...]:
    """A ready-made list, thing by thing."""
    return tuple(Line(number, one.words, one.caution) for number, one in enumerate(ready.things, start=1))
