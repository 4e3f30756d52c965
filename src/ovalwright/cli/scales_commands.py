"""The commands of a car on the scales and their options: weigh, lift, rounds, lead, legal."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright.cli.options import (
    FlagState,
    Json,
    Laps,
    OtherSheet,
    RulesFile,
    SetupFile,
    Si,
    screen_of,
)


def weigh(
    sheet: Annotated[Path, typer.Argument(metavar="SHEET", help="A scale sheet.")],
    car: Annotated[Path | None, typer.Option(help="The car, where sheet and setup do not name it.")] = None,
    again: Annotated[
        list[Path], typer.Option(metavar="FILE", help="The same car rolled off, on, and read again.")
    ] = [],  # noqa: B006
    before_bolts: Annotated[
        Path | None, typer.Option(help="The sheet before jack bolts were turned.")
    ] = None,
    without_driver: Annotated[Path | None, typer.Option(help="The same car without its driver.")] = None,
    swapped: Annotated[str, typer.Option(help="Two corners whose pads were swapped: LF,RF.")] = "",
    swap_sheet: Annotated[Path | None, typer.Option(help="The sheet with those pads swapped.")] = None,
    track_scale: Annotated[Path | None, typer.Option(help="The same car on the track's scale.")] = None,
    pad: Annotated[list[str], typer.Option(metavar="TEXT", help="A pad out of level, as RR=1/8in.")] = [],  # noqa: B006
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Percents, bite and CG of a scale sheet, their bands, its faults."""
    from ovalwright.cli import weighing

    weighing.weigh(
        screen_of(as_json, si), sheet, car=car, again=again, before_bolts=before_bolts,
        without_driver=without_driver, swapped=swapped, swap_sheet=swap_sheet, other_scale=track_scale,
        pads=pad,
    )  # fmt: skip


def lift(
    front: Annotated[str, typer.Option(help="Front axle weight, car level.")],
    rear: Annotated[str, typer.Option(help="Rear axle weight, car level.")],
    low_reads: Annotated[str, typer.Option(help="What the axle left down reads with the other lifted.")],
    raised: Annotated[str, typer.Option(help="How high the other was lifted.")],
    wheelbase: Annotated[str, typer.Option(help="Wheelbase.")],
    lifted: Annotated[str, typer.Option(help="Which axle was lifted: front or rear.")] = "rear",
    radius_low: Annotated[str, typer.Option(help="Wheel center over its pad, low axle.")] = "13.4 in",
    radius_high: Annotated[str, typer.Option(help="Wheel center over its pad, lifted axle.")] = "13.4 in",
    wanted: Annotated[str, typer.Option(help="The give-or-take you want.")] = "0.5 in",
    lean: Annotated[str, typer.Option(help="How far a driver in it may lean.")] = "4 in",
    driver: Annotated[str, typer.Option(help="His weight.")] = "195 lb",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """CG height from one axle lifted, its band, how high is enough."""
    from ovalwright.cli import weighing

    weighing.lift(
        screen_of(as_json, si), front=front, rear=rear, raised=raised, lifted=lifted, low_reads=low_reads,
        wheelbase=wheelbase, radius_low=radius_low, radius_high=radius_high, wanted=wanted, lean=lean,
        driver=driver,
    )  # fmt: skip


def rounds(
    setup: SetupFile,
    cross: Annotated[str, typer.Option(help="Wanted cross weight, as 54.5%; as it is when left out.")] = "",
    height: Annotated[
        list[str], typer.Option(metavar="TEXT", help="A wanted ride height, as LR=5 1/8in.")
    ] = [],  # noqa: B006
    hooked: Annotated[
        bool | None,
        typer.Option("--hooked/--unhooked", help="Sway bar while turning; as on the sheet if left out."),
    ] = None,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Rounds at each jack bolt to a wanted cross and wanted heights."""
    from ovalwright.cli import bolts

    bolts.rounds(screen_of(as_json, si), setup, sheet=sheet, cross=cross, heights=height, hooked=hooked)


def lead(
    setup: SetupFile,
    rules: RulesFile,
    aim: Annotated[str, typer.Option(help="least (lead), low (CG) or percents (see --want).")] = "least",
    want: Annotated[
        list[str], typer.Option(metavar="TEXT", help="A percent to come near to, as rear=50.5%.")
    ] = [],  # noqa: B006
    start_fuel: Annotated[str, typer.Option(help="Fuel at the start; a full cell when left out.")] = "",
    flag: FlagState = None,
    flag_fuel: Annotated[str, typer.Option(help="Fuel at the flag; a tenth of the cell when left out.")] = "",
    laps: Laps = 0,
    keep: Annotated[str, typer.Option(help="Weight to keep in hand for the track's scale.")] = "0 lb",
    keep_percent: Annotated[str, typer.Option(help="Percent to keep in hand for it.")] = "0 %",
    most: Annotated[
        str, typer.Option(help="Most lead to bolt in; one piece over the least if not said.")
    ] = "",
    move: Annotated[
        list[str], typer.Option(metavar="TEXT", help='Move by hand, as "L50-1=nose left" or L50-1=off.')
    ] = [],  # noqa: B006
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Which piece of lead to bolt where, legal at start and flag."""
    from ovalwright.cli import ballast

    ballast.lead(
        screen_of(as_json, si), setup, rules, sheet=sheet, aim=aim, wants=want, start=start_fuel, flag=flag,
        flag_fuel=flag_fuel, laps=laps, keep=keep, keep_percent=keep_percent, most=most, moves=move,
    )  # fmt: skip


def legal(
    setup: SetupFile,
    rules: Annotated[list[Path], typer.Argument(metavar="RULES...", help="One rule book or more.")],
    flag: FlagState = None,
    laps: Laps = 0,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """The car as it stands against each rule book, one by one."""
    from ovalwright.cli import ballast

    ballast.legal(screen_of(as_json, si), setup, rules, sheet=sheet, flag=flag, laps=laps)
