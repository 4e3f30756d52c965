"""The demo told as a story."""

from __future__ import annotations

from pathlib import Path

from ovalwright.cli.begin import copy_demo
from ovalwright.cli.screen import Screen


def demo(screen: Screen, into: Path) -> None:
    """Copy the demo's documents and tell what they show."""
    folder, written = copy_demo(into)
    screen.say(f"The demo's files {'are now' if written else 'were already'} in {folder}.")
