"""The controls of a setup in hand as the page shows them, and a press of one as a change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.controls import Control, NotPossible, step
from ovalwright.web.hand import Press
from ovalwright.web.joined import Joined
from ovalwright.web.words import minus

UP, DOWN = "up", "down"


@dataclass(frozen=True)
class Shown:
    """A control: its value, what it was where it was changed, and why a step is not to be had."""

    key: str
    name: str
    value: str
    was: str
    why_not_up: str
    why_not_down: str

    @property
    def why_not(self) -> str:
        """The one reason to be told in words."""
        return self.why_not_up or self.why_not_down


@dataclass(frozen=True)
class Group:
    """Controls of one part of the car."""

    name: str
    controls: tuple[Shown, ...]


def groups_of(joined: Joined) -> tuple[Group, ...]:
    """All controls by the part of the car they are at."""
    before = {one.key: one.value for one in joined.base_controls}
    found = []
    for name, members in groupby(joined.controls, key=lambda one: one.group):
        shown = tuple(_shown(one, before.get(one.key, "")) for one in members)
        found.append(Group(name, shown))
    return tuple(found)


def rows_at_hand(usual: Sequence[str], pressed: Iterable[str]) -> tuple[str, ...]:
    """Keys of the controls at hand, each in its row, after all that was `pressed`: one that is there stays
    in its row, another takes the row that was pressed longest ago.
    """
    rows, latest = list(usual), [0] * len(usual)
    for count, key in enumerate(pressed, start=1):
        if rows:
            row = rows.index(key) if key in rows else latest.index(min(latest))
            rows[row], latest[row] = key, count
    return tuple(rows)


def _shown(one: Control, before: str) -> Shown:
    return Shown(
        key=one.key,
        name=one.name,
        value=minus(one.value),
        was=minus(before) if before and before != one.value else "",
        why_not_up=one.up if isinstance(one.up, str) else "",
        why_not_down=one.down if isinstance(one.down, str) else "",
    )


def pressed_on(joined: Joined, press: str) -> Press:
    """A press such as `LR.turned up` on a hand. Raises NotebookTrouble where there is no such step."""
    key, _, way = press.rpartition(" ")
    if way not in (UP, DOWN):
        raise NotebookTrouble("that is no step of a control; press a plus or a minus.")
    try:
        made = step(joined.now, key, up=way == UP)
    except NotPossible as problem:
        raise NotebookTrouble(str(problem)) from None
    return Press(key, made.changes, made.said)
