"""The command line: reads what was typed, asks a study, shows its answer. No physics lives here."""

from __future__ import annotations

import gc

__all__ = ["main"]

OBJECTS_BETWEEN_SWEEPS = 1_000_000
"""A command loads some two hundred thousand objects that all stay; sweeping through them again and again for
what could be freed takes a twelfth of a short answer."""


def main() -> None:
    """Run `ovalwright` with the words of the command line; ends the process with its exit code."""
    gc.set_threshold(OBJECTS_BETWEEN_SWEEPS)
    from ovalwright.cli.app import app

    app()
