"""Copies of the notebook: made, listed, and put back."""

from __future__ import annotations

from pathlib import Path

from ovalwright.cli.door import Trouble
from ovalwright.cli.notes import opened
from ovalwright.cli.screen import Screen, quoted
from ovalwright.notebook import copies as keeping
from ovalwright.notebook.place import usual_place

KILOBYTE = 1000
LAST = "last"
STAY = "The last ten copies stay, the last of each day for a month, and the last of each month for ever."


def copy(screen: Screen, *, to: Path | None, where: str) -> None:
    """A dated copy of the notebook, made while it is in use."""
    with opened(screen, where) as store:
        made = keeping.copy_now(store, to)
    screen.say(f"Copied: {quoted(made)}, {_size(made)}, read through and whole.")
    if to is None:
        screen.note("A copy on the same disk is lost with it: --to a stick or another computer's folder.")
    screen.note(STAY)
    screen.end("notebook copy", {"copy": str(made), "bytes": made.stat().st_size})


def _size(path: Path) -> str:
    return f"{max(1, round(path.stat().st_size / KILOBYTE)):,} kB"


def listed(screen: Screen, *, folder: Path | None, where: str) -> None:
    """The copies there are, the last one first."""
    place = where.strip() or usual_place()
    found = keeping.copies_of(place, folder)
    if found:
        screen.table(
            [(f"{one.made_at.astimezone():%Y-%m-%d %H:%M:%S}", _size(one.path)) for one in found],
            head=("made", "size"),
            left=1,
        )
        screen.say(f"in {quoted(found[0].path.parent)}")
        screen.command("notebook restore last --yes")
    else:
        screen.say(f"No copy is in {quoted(folder or keeping.usual_folder(place))} yet.")
        screen.command("notebook copy")
    screen.end(
        "notebook copies", {"copies": [{"made_at": one.made_at, "path": str(one.path)} for one in found]}
    )


def restore(screen: Screen, which: str, *, folder: Path | None, yes: bool, where: str) -> None:
    """A copy put in the place of the notebook, which is set aside."""
    place = where.strip() or usual_place()
    chosen = _chosen(which, place, folder)
    keeping.check(chosen, place)
    if not yes:
        raise Trouble(
            f"{quoted(chosen)} would take the place of {place}, which would be set aside under another name; "
            "say --yes to do it"
        )
    aside = keeping.restore(chosen, place)
    screen.say(f"Restored: {place} is as it was in {quoted(chosen)}.")
    if aside is not None:
        screen.say(f"What was there is set aside as {quoted(aside)}.")
    screen.end(
        "notebook restore", {"restored": place, "copy": str(chosen), "set_aside": aside and str(aside)}
    )


def _chosen(which: str, place: str, folder: Path | None) -> Path:
    """A copy by its file, or the last one."""
    if which.strip().lower() != LAST:
        return Path(which)
    found = keeping.copies_of(place, folder)
    if not found:
        raise Trouble(f"no copy is in {folder or keeping.usual_folder(place)} yet; make one: notebook copy")
    return found[0].path
