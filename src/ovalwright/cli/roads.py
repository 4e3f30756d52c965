"""The road: a track laid out, or found in a walk."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from ovalwright.cli.contract import told
from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.typed import is_kept, quantity, track_of
from ovalwright.documents import Track
from ovalwright.documents.walk import load_walk
from ovalwright.pack.walk import ribbon_of_walk, track_text
from ovalwright.pictures.plan import plan_lines
from ovalwright.study.road import Road
from ovalwright.study.road import road as road_study

LINE_WALKED = "The line that was walked is taken for the center of the road; walk the center, or your groove."


def road(
    screen: Screen, track: Path, *, walk: Path | None, width: str, bank: str, straight_bank: str
) -> None:
    """A track's lengths, stretches and grooves; with a walk, the track is found in it and written first."""
    if walk is None:
        answer = road_study(track_of(screen, track))
    else:
        oval = _of_walk(screen, track, walk, width=width, bank=bank, straight_bank=straight_bank)
        answer = road_study(oval)
        screen.say(f"Written: {quoted(oval.save(track))}")
    show_road(screen, answer)
    screen.notes(answer.remarks)
    screen.end("road", {"answer": told(answer)})


def _of_walk(screen: Screen, path: Path, walk: Path, *, width: str, bank: str, straight_bank: str) -> Track:
    """A new track with the road of a walk pegged out, not yet written; no file there is replaced."""
    if path.exists() or is_kept(path):
        raise Trouble(f"{path}: is there already; give a new name for the track of the walk")
    across = quantity(width, "road_width", "--width")
    steep, flat = quantity(bank, "bank", "--bank"), quantity(straight_bank, "bank", "--straight-bank")
    read = load_walk(walk)
    found = ribbon_of_walk(read, width=across, bank=steep, straight_bank=flat)
    scatter = screen.show(found.scatter, "rise")
    screen.note(f"{read.name}: {found.laps:.1f} laps, whose places lie {scatter} about the line (r.m.s.).")
    screen.note(LINE_WALKED)
    if found.banked_by == "typed":
        screen.note("The walk has no bank: that of --bank and --straight-bank is laid as the turns begin.")
    screen.notes(read.notes)
    return Track.from_text(track_text(found, name=path.stem.replace("_", " "), width=across), name=path.name)


def show_road(screen: Screen, answer: Road) -> None:
    """The plan, and the tables of lengths, stretches and grooves."""
    show = screen.show
    hand = "left" if answer.hand > 0 else "right"
    screen.title(f"{answer.name}: {show(answer.center, 'track_length')} around its center, turning {hand}")
    for line in plan_lines(answer.plan, _names(answer)):
        screen.say(line)
    screen.say()
    screen.table(
        [
            (
                one.name,
                show(one.length, "road_length"),
                show(one.radius, "radius"),
                show(one.bank, "bank"),
                show(abs(one.turned), "angle"),
            )
            for one in answer.stretches
        ],
        head=("center of the road", "length", "radius", "bank", "turns"),
    )
    screen.table(
        [
            (one.name, show(one.length, "road_length"), " / ".join(show(r, "radius") for r in one.radii))
            for one in answer.grooves
        ],
        head=("groove", "lap", "radius in the middle of the turns"),
    )
    screen.table(
        [
            ("lap along the inside edge", show(answer.inside, "road_length")),
            ("lap along the wall", show(answer.wall, "road_length")),
            ("width", show(answer.width, "road_width")),
            *([("from lowest to highest", show(answer.climb, "rise"))] if answer.climb > 0.0 else []),
        ]
    )


def _names(answer: Road) -> list[tuple[str, int]]:
    """The name of each stretch and the place of the plan in its middle."""
    total = sum(one.length for one in answer.stretches)
    gone = -0.5 * answer.stretches[0].length
    names = []
    for one in answer.stretches:
        share = math.fmod(gone + 0.5 * one.length + total, total) / total
        names.append((one.name, int(np.clip(share * len(answer.plan), 0, len(answer.plan) - 1))))
        gone += one.length
    return names
