"""The command line: reads what was typed, asks a study, shows its answer. No physics lives here."""

from __future__ import annotations

__all__ = ["main"]


def main() -> None:
    """Run `ovalwright` with the words of the command line; ends the process with its exit code."""
    from ovalwright.cli.app import app

    app()
