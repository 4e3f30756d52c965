"""One line as he would shout it, as changes of a setup: `RR +1/2, LR 12.5 psi, RF spring 250`.

| said | what it is |
| --- | --- |
| `LR +1/2`, `LR -1 1/4 round`, `1/2 round in LR` | jack bolt turned since the sheet; + loads the coil |
| `LR 12.5 psi`, `RR +1 psi`, `RR air 13` | cold pressure; a hot one that is written moves along |
| `RR +1 psi cold`, `RR hot 29 psi` | the one pressure alone |
| `RR spring 250`, `RR spring +25`, `RR spring B12` | spring by its rate, or by its mark on the rack |
| `RR no spring`, `RR rubber 25`, `RR rubber out` | no coil at all; a spring rubber |
| `RF packers +1/16`, `RF stop gap 1 3/4`, `RF stop out` | bump stop or bump spring |
| `LR tire T5`, `RR shock K4`, `RF camber -3.5`, `LF caster 2` | parts by mark; angles with their own sign |
| `bar 1 1/8`, `bar B1`, `bar off`, `bar unhooked`, `bar +1/4` | sway bar by size or mark; rounds of preload |
| `panhard up 1/4`, `panhard frame 10 1/4`, `panhard axle down 1/8` | panhard bar |
| `third link axle hole up 1/2` | a link end in another hole |
| `toe out 1/8`, `rear lead 1/16`, `gear 5.67`, `brake bias 64` | the rest |
| `lead L50-1 out`, `move L50-1 -74, 26, 6.5 in`, `lead L6-1 6.1 lb at tail` | lead by piece |

Corners are LF RF LR RR, `left front`, `fronts`, `rights`, `all`, several in a row, before or after. Numbers
are typed as he likes: `1/2`, `1 1/4`, `1-1/4`, a sign for a half, `12,5`. A step of what has its own sign is
`camber by -1/4`. `old -> new` is understood where the old is what the setup says. Lead goes to a point or,
with the rack, to one of its spots.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ovalwright.documents import DocumentError, Rack, Setup
from ovalwright.notebook.typed.at_corner import Changes
from ovalwright.notebook.typed.difference import differences, said
from ovalwright.notebook.typed.sayings import EXAMPLE, meaning
from ovalwright.notebook.typed.sense import of_change
from ovalwright.notebook.typed.shouted import LONGEST, Unclear, clauses


@dataclass(frozen=True)
class Understood:
    """A clause, what it was understood as, the changes of the setup it makes, and what is `odd` of them."""

    words: str
    said: str
    changes: Mapping[str, object]
    odd: tuple[str, ...] = ()


@dataclass(frozen=True)
class NotUnderstood:
    """A clause that makes no change: why, and what would be right."""

    words: str
    why: str

    @property
    def sentence(self) -> str:
        """In one printable sentence."""
        return str(DocumentError(f'"{self.words}": {self.why}.'))


@dataclass(frozen=True)
class QuickLine:
    """A line read, clause by clause."""

    text: str
    understood: tuple[Understood, ...]
    not_understood: tuple[NotUnderstood, ...]

    @property
    def odd(self) -> tuple[str, ...]:
        """What is possible and hardly meant, a sentence each."""
        return tuple(f'"{one.words}": {why}.' for one in self.understood for why in one.odd)

    @property
    def changes(self) -> Changes:
        """Everything the line changes, for `Setup.changed`.

        Raises DocumentError when a clause was not understood: nothing is half applied.
        """
        if self.not_understood:
            raise DocumentError(self.not_understood[0].sentence)
        return _merged(one.changes for one in self.understood)


def read_line(text: str, setup: Setup, *, rack: Rack | None = None) -> QuickLine:
    """Read a line about a setup, each clause as it stands after those before it.

    With the `rack`, marks and spots are looked up there. What is not understood is told in the answer.
    """
    if len(text) > LONGEST:
        why = f"is longer than {LONGEST} characters; shout less at a time"
        return QuickLine(text, (), (NotUnderstood(f"{' '.join(text[:30].split())}...", why),))
    heard = clauses(text)
    if not heard:
        return QuickLine(text, (), (NotUnderstood(text.strip()[:30], f"says nothing; {EXAMPLE}"),))
    now, understood, not_understood = setup, [], []
    for words in heard:
        try:
            changes = meaning(words, now, rack)
            after = now.changed(changes)
        except Unclear as why:
            not_understood.append(NotUnderstood(words, str(why)))
        except DocumentError as problem:
            not_understood.append(NotUnderstood(words, str(problem).rstrip(".")))
        else:
            told = said(differences(now, after)) or "stays as it is"
            understood.append(Understood(words, told, changes, of_change(now, after, rack)))
            now = after
    return QuickLine(text, tuple(understood), tuple(not_understood))


def _merged(changes: Iterable[Mapping[str, object]]) -> Changes:
    """Changes one after the other; of a key that is written twice the last holds, at its own turn."""
    merged: Changes = {}
    for some in changes:
        for key, value in some.items():
            merged.pop(key, None)
            merged[key] = value
    return merged
