"""What the shell offers of the shop when the tab key is pressed: kinds and marks of parts, checklists."""

from __future__ import annotations

from ovalwright.cli.completing import Offer, offers_of, rows_for

PARTS = "SELECT mark, '', kind || ' ' || name FROM part WHERE retired_on IS NULL ORDER BY id DESC LIMIT ?"
KINDS = "SELECT DISTINCT kind, '', '' FROM part ORDER BY kind LIMIT ?"
LISTS = "SELECT name, '', '' FROM checklist ORDER BY id LIMIT ?"


def marks(incomplete: str) -> list[Offer]:
    """Marks of parts that were not scrapped."""
    return list(offers_of(incomplete, rows_for(PARTS)))


def kinds(incomplete: str) -> list[Offer]:
    """Kinds of the parts there are."""
    return list(offers_of(incomplete, rows_for(KINDS)))


def lists(incomplete: str) -> list[Offer]:
    """Names of checklists."""
    return list(offers_of(incomplete, rows_for(LISTS)))
