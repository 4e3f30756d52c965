"""What a racer is told when the notebook cannot do as asked."""

from __future__ import annotations


class NotebookTrouble(ValueError):
    """One printable sentence: what is wrong and what would be right. Nothing was changed."""

    def __init__(self, sentence: str) -> None:
        super().__init__("".join(c if c.isprintable() else "?" for c in sentence))
