"""The car on the scales: weigh, lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.screen import Screen
from ovalwright.cli.typed import by_corner, car_of, joined, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import Setup, Sheet, assemble
from ovalwright.study.scale_sheet import SheetAnswer, read_sheet
from ovalwright.units import as_fraction

if TYPE_CHECKING:
    from ovalwright.study.rounds import Stance


def weigh(
    screen: Screen,
    sheet: Path,
    *,
    car: Path | None,
    again: Sequence[Path],
    before_bolts: Path | None,
    without_driver: Path | None,
    swapped: str,
    swap_sheet: Path | None,
    other_scale: Path | None,
    pads: Sequence[str],
) -> None:
    """Percents, bite and CG in plan of one sheet, and the faults that can be seen in it."""
    main = Sheet.load(sheet)
    whose = car_of(main, car)
    with said_by(ValueError):
        answer = read_sheet(
            main,
            whose,
            again=[Sheet.load(path) for path in again],
            before_bolts=Sheet.load(before_bolts) if before_bolts else None,
            without_driver=Sheet.load(without_driver) if without_driver else None,
            swapped=_swapped(swapped, swap_sheet),
            on_other_scale=Sheet.load(other_scale) if other_scale else None,
        )
    sentences = [fault.sentence for fault in answer.faults]
    heights: Any = by_corner(pads, "gap", "--pad")
    if heights:
        from ovalwright.study.pads import level_fault_of

        fault = level_fault_of(joined(_setup_of(main)), heights)
        sentences += [fault.sentence] if fault else []
    screen.title(f"{main.name}: {whose.name}")
    screen.car(answer.weighed.weights.loads, "corner_weight")
    _weighed(screen, answer)
    now = _as_it_stands(screen, sheet, main)
    for sentence in sentences:
        screen.say(f"Fault: {sentence}")
    if not sentences and not main.warnings:
        screen.say("No fault seen in what was given.")
    screen.notes(main.warnings)
    screen.notes(_before_weighing(main))
    screen.end("weigh", {"answer": answer, "now": now, "faults": sentences, "mass_unit": "kg"})


def _as_it_stands(screen: Screen, path: Path, sheet: Sheet) -> Stance | None:
    """The car with its jack bolts as they are now, where its setup says that one was turned since the sheet.

    Loads in newtons.
    """
    setup = _turned_since(path, sheet)
    if setup is None:
        return None
    from ovalwright.pack import build
    from ovalwright.study.rounds import stance_now

    now = stance_now(build(assemble(setup, sheet=sheet)))
    turns = {corner: getattr(setup, corner).turned.si for corner in CORNERS}
    screen.say()
    screen.table(
        [
            ("rounds since", *(as_fraction(turn) if turn else "-" for turn in turns.values())),
            ("load", *(screen.show(float(load), "force") for load in now.loads)),
            ("height", *(screen.show(float(height), "height") for height in now.heights)),
        ],
        head=("as it stands now", *CORNERS),
    )
    screen.say(
        f"Cross now {screen.show(now.cross, 'percent')}, bite {screen.show(now.bite, 'force')}: "
        "computed from the rounds, not weighed."
    )
    return now


def _turned_since(path: Path, sheet: Sheet) -> Setup | None:
    """The setup that a sheet names, when it rests on this very sheet and a jack bolt was turned since."""
    file = sheet.folder / (sheet.setup or "")
    if not file.is_file():
        return None
    setup = Setup.load(file)
    on_it = setup.sheet is not None and (setup.folder / setup.sheet).resolve() == path.resolve()
    return setup if on_it and any(getattr(setup, corner).turned.si for corner in CORNERS) else None


def _setup_of(sheet: Sheet) -> Path:
    if sheet.setup is None:
        raise Trouble(f'{sheet.file_name}, setup: is missing; write setup = "setup.toml"')
    return sheet.folder / sheet.setup


def _swapped(pair: str, sheet: Path | None) -> Any:
    if not pair and sheet is None:
        return None
    names = [name.strip().upper() for name in pair.split(",")]
    if len(names) != 2 or any(name not in CORNERS for name in names) or sheet is None:
        raise Trouble(
            "--swapped: name two corners and their sheet, such as --swapped LF,RF --swap-sheet swapped.toml"
        )
    return names[0], names[1], Sheet.load(sheet)


def _weighed(screen: Screen, answer: SheetAnswer) -> None:
    told = answer.weighed

    def row(name: str, value: Any, kind: str, says: str = "") -> tuple[str, str, str]:
        return name, says, screen.band(value.value, value.give_or_take, kind)

    rows = [
        row("total", told.total, "total_weight"),
        row("left", told.left_percent, "percent", "only lead and parts move it"),
        row("rear", told.rear_percent, "percent", "only lead and parts move it"),
        row("cross", told.cross_percent, "percent", "RF and LR; jack bolts move it"),
        row("bite", told.bite, "corner_weight", "LR less RR"),
        row("CG behind front axle", told.cg_x._replace(value=-told.cg_x.value), "point"),
        row("CG left of center", told.cg_y, "point"),
    ]
    if answer.driver is not None:
        rows += [
            row("driver", answer.driver.mass, "mass", "by difference"),
            row("driver behind front axle", answer.driver.x._replace(value=-answer.driver.x.value), "point"),
            row("driver left of center", answer.driver.y, "point"),
        ]
    screen.table(rows, left=2)
    if answer.match is not None:
        for corner, factor in answer.match.factors.items():
            apart = factor.value - 1.0
            screen.say(
                f"{corner}: the other scale reads {100 * apart:+.2f} % +/- {100 * factor.give_or_take:.2f} % "
                "of this one."
            )


def _before_weighing(sheet: Sheet) -> Iterator[str]:
    if not sheet.driver:
        yield "Weighed without the driver: percents with him in are what the car races at."
    if sheet.bar_hooked:
        yield "Weighed with the sway bar hooked up: its preload is in the cross weight."


def lift(
    screen: Screen,
    *,
    front: str,
    rear: str,
    raised: str,
    lifted: str,
    low_reads: str,
    wheelbase: str,
    radius_low: str,
    radius_high: str,
    wanted: str,
    lean: str,
    driver: str,
) -> None:
    """CG height from a raised axle, its band, how high to lift, and what a leaning driver would do."""
    from ovalwright.study.cg_height import LiftError, RaisedAxle, cg_height, lift_for, shift_error

    if lifted not in ("front", "rear"):
        raise Trouble(f'--lifted: "{lifted[:20]}" is no axle; write front or rear')
    loads = {
        "front": quantity(front, "total_weight", "--front"),
        "rear": quantity(rear, "total_weight", "--rear"),
    }
    low = "rear" if lifted == "front" else "front"
    with said_by(ValueError):
        test = RaisedAxle(
            level_low=loads[low],
            level_high=loads[lifted],
            low_raised=quantity(low_reads, "total_weight", "--low-reads"),
            lift=quantity(raised, "height", "--raised"),
            wheelbase=quantity(wheelbase, "wheelbase", "--wheelbase"),
            center_low=quantity(radius_low, "height", "--radius-low"),
            center_high=quantity(radius_high, "height", "--radius-high"),
        )
        height = cg_height(test)
        advice = lift_for(
            quantity(wanted, "height", "--wanted"), test, height=height.value, error=LiftError()
        )
    off = shift_error(
        mass=quantity(driver, "mass", "--driver"),
        total_mass=test.level_low + test.level_high,
        toward_low=quantity(lean, "shift", "--lean"),
        up=0.0,
        tilt=test.tilt,
    )
    screen.title(f"CG height: {screen.band(height.value, height.give_or_take, 'height')} above the ground")
    reach = "" if advice.reachable else ", and no better: the tape on the wheel centers sets the floor"
    screen.say(
        f"Lifted {screen.show(advice.lift, 'height')}, the band is "
        f"{screen.show(advice.give_or_take, 'height')}{reach}."
    )
    screen.say(
        f"A driver who leans {lean} toward the low axle adds {screen.show(off, 'height')} of error: "
        "bag the seat instead."
    )
    screen.note(
        "Lock the springs, let the wheels roll, chock the low axle, and nobody goes under a lifted car."
    )
    screen.end("lift", {"height": height, "advice": advice, "lean_error": off})
