"""Loads as lengths: a tick each 100 lb, a cut each 500, all on one scale."""

from __future__ import annotations

from collections.abc import Sequence

from ovalwright.corners import CORNERS
from ovalwright.pictures.said import POUND, number, pounds
from ovalwright.pictures.svg import Sheet, path

Four = Sequence[float]
FULL_LENGTHS = (1500.0, 2000.0, 3000.0, 4000.0, 6000.0, 10000.0)
"""Loads [lb] that a full length may stand for."""


def full_length(*loads: float) -> float:
    """The load [lb] of a full length that holds every one of the loads [N] of a page."""
    heaviest = max(loads) / POUND
    return next((full for full in FULL_LENGTHS if heaviest <= full), FULL_LENGTHS[-1])


def load_bar(
    sheet: Sheet, at: tuple[float, float], reach: float, tall: float, load: float, full: float,
    ghost: float | None = None,
) -> float:  # fmt: skip
    """Draw a load [N] from a place outward; `reach` px (negative: to the left) stand for `full` lb.

    `ghost` is the other setup's load, marked by a dashed end. Returns where the length ends.
    """
    x, y = at
    per = reach / full
    length = per * load / POUND
    sheet.box("load", x, y, length, tall)
    hundreds = range(100, int(load / POUND), 100)
    ticks = "".join(
        path([(x + per * n, y + 0.72 * tall), (x + per * n, y + tall)]) for n in hundreds if n % 500
    )
    cuts = "".join(path([(x + per * n, y), (x + per * n, y + tall)]) for n in hundreds if n % 500 == 0)
    if ticks:
        sheet.path("tick", ticks)
    if cuts:
        sheet.path("cut", cuts)
    if ghost is not None:
        end = x + per * ghost / POUND
        sheet.line("ghost", [(end, y - 4.0), (end, y + tall + 4.0)])
    return x + length


def beside_bar(sheet: Sheet, held: str, at: tuple[float, float], load: float, give: str) -> None:
    """A load [N] in figures beside the middle of its length, and half its band under it where it is known."""
    x, y = at
    under = "Lifted" if load <= 0.0 else give
    sheet.text(f"load-number {held}", (x, y + (1.0 if under else 6.0)), pounds(load))
    if under:
        sheet.text(f"axis {held}", (x, y + 14.0), under)


def load_lengths(
    loads: Four,
    *,
    ghost: Four | None = None,
    gives: Sequence[str] = (),
    width: float = 360.0,
    height: float = 64.0,
    mirrored: bool = False,
    full: float | None = None,
    name: str = "loads",
) -> str:
    """Four loads LF RF LR RR [N] as lengths from the middle outward, in the car's layout.

    `mirrored` lays them as a view from the front does. `full` [lb] holds one scale on a page; `gives` are the
    words for half the band of each, where they are known.
    """
    sheet = Sheet(name, width, height)
    most = full if full is not None else full_length(*loads, *(ghost or ()))
    middle, half, letters = 0.5 * width, 0.5 * width - 4.0, 27.0
    reach = half - letters - 54.0
    row = 0.5 * height
    tall = row - 10.0
    for i, corner in enumerate(CORNERS):
        left = (i % 2 == 0) != mirrored
        way = -1.0 if left else 1.0
        y = (i // 2) * row + 5.0
        base = middle + way * letters
        sheet.text("load-name mid", (middle + way * 14.0, y + 0.5 * tall + 5.0), corner)
        end = load_bar(
            sheet, (base, y), way * reach, tall, loads[i], most, None if ghost is None else ghost[i]
        )
        if ghost is not None:
            end = base + way * max(abs(end - base), abs(reach * ghost[i] / POUND / most))
        held = "end" if left else "start"
        beside_bar(sheet, held, (end + way * 6.0, y + 0.5 * tall), loads[i], gives[i] if gives else "")
    said = ", ".join(f"{corner} {pounds(load)} pounds" for corner, load in zip(CORNERS, loads, strict=True))
    return sheet.svg(f"Loads: {said}; a full length is {number(most)} pounds.")
