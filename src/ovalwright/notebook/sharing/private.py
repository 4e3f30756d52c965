"""What is private, by its kind: all of it stays at home unless its owner sends it along."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ovalwright.notebook.trouble import NotebookTrouble

KINDS = {
    "money": "money",
    "names": "names of people",
    "words": "the driver's words",
    "notes": "notes",
}
"""Every kind by its word, and as it is told."""
ALL = frozenset(KINDS)


def chosen(words: Iterable[str]) -> frozenset[str]:
    """The kinds that some words name, parted by commas or not. Raises NotebookTrouble for any other word."""
    told = [one.strip().lower() for word in words for one in word.split(",")]
    odd = [one for one in told if one and one not in KINDS]
    if odd:
        raise NotebookTrouble(f'"{odd[0][:30]}" is no kind of private thing; write {", ".join(KINDS)}.')
    return frozenset(filter(None, told))


def listed(kinds: Collection[str]) -> str:
    """Some kinds in words: `money, names of people and notes`."""
    *first, last = [said for kind, said in KINDS.items() if kind in kinds]
    return f"{', '.join(first)} and {last}" if first else last
