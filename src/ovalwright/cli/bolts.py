"""Jack bolts: rounds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from ovalwright.cli.screen import Screen
from ovalwright.cli.typed import by_corner, joined, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly
from ovalwright.notebook.garage.cautions import COILS, STANDS
from ovalwright.pack import build
from ovalwright.sheets.show import rounds_said
from ovalwright.study.rounds import HEIGHT_CLOSE, RoundsPlan, Stance, plan_rounds


def rounds(
    screen: Screen,
    setup: Path,
    *,
    sheet: Path | None,
    cross: str,
    heights: Sequence[str],
    hooked: bool | None,
) -> None:
    """Quarter rounds at each jack bolt to a wanted cross and heights, from the car let settle."""
    assembly = joined(setup, sheet=sheet)
    packed = build(assembly)
    plan = plan_rounds(
        packed,
        cross=quantity(cross, "share", "--cross") if cross else None,
        heights=by_corner(heights, "height", "--height"),
        hooked=hooked,
    )
    screen.title(
        f"Jack bolts of {assembly.setup.name}, sway bar {'hooked up' if plan.hooked else 'unhooked'}"
    )
    screen.table(_rounds_rows(screen, plan), head=("", *CORNERS))
    screen.say()
    before, after = plan.before, plan.after
    screen.table(
        [
            (
                "cross",
                screen.show(before.cross, "percent"),
                screen.show(after.cross, "percent"),
                screen.show(plan.cross, "percent"),
            ),
            ("bite", screen.show(before.bite, "force"), screen.show(after.bite, "force"), ""),
        ],
        head=("", "now", "after", "wanted"),
    )
    if not plan.reached:
        screen.say(_not_reached(screen, plan))
    screen.notes(_hung(screen, plan.before))
    for corner in plan.idle:
        screen.note(f"The {corner} bolt does nothing here: {_why_idle(assembly, corner)}.")
    screen.notes(_turned_already(assembly))
    screen.note(
        "Turn in small steps, roll the car or bounce it, read again; toe and stop gaps move with heights."
    )
    screen.note(STANDS)
    screen.note(COILS)
    screen.notes([*packed.notes, *assembly.warnings])
    screen.end("rounds", {"plan": plan})


def _rounds_rows(screen: Screen, plan: RoundsPlan) -> list[tuple[str, ...]]:
    def of(name: str, values: Iterable[float], kind: str) -> tuple[str, ...]:
        return (name, *(screen.show(float(value), kind) for value in values))

    return [
        ("rounds (+ loads the coil)", *(rounds_said(plan.rounds[corner]) for corner in CORNERS)),
        of("height now", plan.before.heights, "height"),
        of("height after", plan.after.heights, "height"),
        of("height wanted", plan.heights, "height"),
        of("load now", plan.before.loads, "force"),
        of("load after", plan.after.loads, "force"),
        ("one round: cross", *(f"{100 * plan.per_round[corner].cross:+.2f} %" for corner in CORNERS)),
    ]


def _not_reached(screen: Screen, plan: RoundsPlan) -> str:
    worst = max(range(4), key=lambda i: abs(plan.height_miss[i]))
    far = (
        f"{CORNERS[worst]} stays {screen.show(abs(float(plan.height_miss[worst])), 'height')} off its height"
        if abs(plan.height_miss[worst]) > HEIGHT_CLOSE
        else "the heights come close"
    )
    return (
        f"Bolts alone do not bring both: cross misses by {100 * plan.cross_miss:+.2f} %, {far}. "
        "Four heights and a cross are five wishes for four bolts: give up a height, or move lead."
    )


def _turned_already(assembly: Assembly) -> Iterator[str]:
    for corner in CORNERS:
        turned = getattr(assembly.setup, corner).turned.si
        if turned:
            since = rounds_said(turned)
            yield f"{corner}: counted from {since} round, as the bolt was turned since the sheet."


def _hung(screen: Screen, stance: Stance) -> Iterator[str]:
    for corner, gap in zip(CORNERS, stance.gaps, strict=True):
        if gap > 0.0:
            off = screen.show(float(gap), "gap")
            yield f"The {corner} coil hangs off its seat by {off} on the scales; set that gap last."


def _why_idle(assembly: Assembly, corner: str) -> str:
    return "there is no coil" if getattr(assembly.setup, corner).coil is None else "its coil carries nothing"
