"""The scale sheet: four weights with what they say, and what to turn or to bolt in next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Setup
from ovalwright.notebook.garage.cautions import BOOK, CLEARANCE, COILS, LEAD, STANDS
from ovalwright.sheets.page import Leaf, Stamp
from ovalwright.sheets.show import (
    band,
    by_corner,
    by_the_book,
    pair,
    percent_points,
    rounds_said,
    typed,
    weighed_how,
    written,
)
from ovalwright.sheets.since_weighed import RESET, weighed_before
from ovalwright.study.lead_plan import LeadPlan
from ovalwright.study.legal import Held
from ovalwright.study.rounds import RoundsPlan
from ovalwright.study.scale_sheet import SheetAnswer, read_sheet
from ovalwright.units import System, show

COUNTED = f"Rounds count from the second line above, {RESET}: set the collars so first, or weigh again."


def scale_sheet(
    stamp: Stamp,
    assembly: Assembly,
    *,
    answer: SheetAnswer | None = None,
    weighed: Setup | None = None,
    rounds: RoundsPlan | None = None,
    lead: LeadPlan | None = None,
    held: Sequence[Held] = (),
    book: str = "",
    system: System = "us",
) -> Leaf:
    """A weighing with its percents and bands, then the plans that were asked for.

    answer: what the sheet says, read from the assembly's sheet when left out; weighed: the setup that was on
    the scales, where it is known. Raises ValueError as weighing
    does.
    """
    sheet = assembly.sheet
    answer = answer or read_sheet(sheet, assembly.car)
    since = weighed_before(weighed, assembly, system=system)
    cautions = [STANDS, *([COILS] if rounds else []), *([LEAD] if lead else []), BOOK]
    return Leaf(
        template="scales",
        stamp=stamp,
        data={
            "corners": [_corner(corner, one) for corner, one in by_corner(sheet)],
            "facts": _facts(answer, system),
            "how": weighed_how(sheet),
            "since": since,
            "faults": [fault.sentence for fault in answer.faults] or ["None seen in what was given."],
            "rounds": _rounds(rounds, since, system) if rounds else None,
            "lead": _lead(lead, system) if lead else None,
            "held": by_the_book(held, book, system=system),
            "notes": sheet.notes,
            "cautions": [*cautions, CLEARANCE] if rounds or lead else cautions,
        },
    )


def _corner(corner: str, read: Any) -> dict[str, Any]:
    rows = [
        pair("height", read, "height"),
        pair("pressure", read, "pressure"),
        pair("roll-out", read, "roll_out"),
    ]
    return {"name": corner, "weight": typed(read, "weight"), "rows": list(written(rows))}


def _facts(answer: SheetAnswer, system: System) -> list[tuple[str, str]]:
    told = answer.weighed
    facts = [
        ("total", band(told.total, "total_weight", system=system)),
        ("left", band(told.left_percent, "percent", system=system)),
        ("rear", band(told.rear_percent, "percent", system=system)),
        ("cross, RF and LR", band(told.cross_percent, "percent", system=system)),
        ("bite, LR less RR", band(told.bite, "total_weight", system=system)),
        ("CG behind front axle", band(told.cg_x._replace(value=-told.cg_x.value), "point", system=system)),
        ("CG left of center", band(told.cg_y, "point", system=system)),
    ]
    if answer.driver is not None:
        facts.append(("driver, by difference", band(answer.driver.mass, "mass", system=system)))
    return facts


def _rounds(plan: RoundsPlan, since: dict[str, Any] | None, system: System) -> dict[str, Any]:
    def of(name: str, kind: str, *values: float) -> tuple[str, ...]:
        return name, *(show(float(value), kind, system=system) for value in values)

    before, after = plan.before, plan.after
    rows = [of("cross", "percent", before.cross, after.cross, plan.cross)]
    for i, corner in enumerate(CORNERS):
        rows.append(of(f"{corner} height", "height", before.heights[i], after.heights[i], plan.heights[i]))
    for i, corner in enumerate(CORNERS):
        rows.append((*of(f"{corner} weight", "force", before.loads[i], after.loads[i]), ""))
    return {
        "corners": [
            {"name": corner, "said": rounds_said(plan.rounds[corner]), "rounds": plan.rounds[corner]}
            for corner in CORNERS
        ],
        "bar": f"Sway bar {'hooked up' if plan.hooked else 'unhooked'} while the bolts are turned.",
        "rows": rows,
        "remarks": [*([COUNTED] if since and len(since["rows"]) > 1 else []), *_remarks(plan, system)],
    }


def _remarks(plan: RoundsPlan, system: System) -> Iterator[str]:
    if not plan.reached:
        yield (
            f"Bolts alone do not bring both: cross misses by {percent_points(plan.cross_miss)}. Four heights "
            "and a cross are five wishes for four bolts: give up a height, or move lead."
        )
    for corner, gap in zip(CORNERS, plan.before.gaps, strict=True):
        if gap > 0.0:
            yield f"The {corner} coil hangs off its seat by {show(float(gap), 'gap', system=system)}."
    if plan.idle:
        yield f"Does nothing here: the bolt at {', '.join(plan.idle)}."
    yield "Small steps; roll or bounce the car, read again. Toe and stop gaps move with the heights."


def _lead(plan: LeadPlan, system: System) -> dict[str, Any]:
    outcome = plan.outcome
    states = [
        (
            state,
            show(weights.total, "total_weight", system=system),
            *(
                show(weights.get(f"{part}_percent"), "percent", system=system)
                for part in ("left", "rear", "cross")
            ),
            show(outcome.cg[state].z, "height", system=system),
        )
        for state, weights in outcome.weights.items()
    ]
    return {
        "pieces": [
            (bolted.spot.id, bolted.piece.id, show(bolted.piece.mass, "mass", system=system))
            for bolted in sorted(outcome.bolted, key=lambda one: (-one.spot.x, -one.spot.y))
        ],
        "total": f"{show(outcome.lead, 'mass', system=system)} of lead in all.",
        "states": states,
        "verdicts": [("legal" if one.legal else "NOT LEGAL", one.sentence) for one in outcome.verdicts],
        "misses": [*(miss.sentence for miss in plan.misses), *outcome.complaints],
    }
