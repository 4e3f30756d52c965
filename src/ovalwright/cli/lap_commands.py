"""The commands of a car around the track and their options: road, lap, gears, laps, run, against."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright.cli.options import (
    Brake,
    Conditions,
    Draws,
    Fuel,
    GrooveName,
    Json,
    LapTime,
    OtherSetup,
    OtherSheet,
    SetupFile,
    Si,
    Throttle,
    ToDrive,
    TrackFile,
    Use,
    screen_of,
)

RunLaps = Annotated[int, typer.Option("--laps", min=1, max=500, help="How many laps.")]
BestTime = Annotated[
    str,
    typer.Option("--time", metavar="TIME", help="Your best lap of such a run: the grip is matched to it."),
]
RunPicture = Annotated[
    list[Path], typer.Option("--picture", metavar="FILE", help="Keep the run as .svg, .png, .pdf or .json.")
]


def road(
    track: Annotated[Path, typer.Argument(metavar="TRACK", help="A track; a new file with --from-walk.")],
    walk: Annotated[
        Path | None,
        typer.Option("--from-walk", metavar="FILE", help="Laps from a phone or logger: CSV, GPX."),
    ] = None,
    width: Annotated[str, typer.Option(help="Width of a walked road, from edge to edge.")] = "45 ft",
    bank: Annotated[str, typer.Option(help="Bank of its turns, where the walk has none.")] = "0 deg",
    straight_bank: Annotated[str, typer.Option(help="Bank of its straights.")] = "0 deg",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """A track laid out, or found in a walk: lengths, radii, banks."""
    from ovalwright.cli import roads

    roads.road(screen_of(as_json, si), track, walk=walk, width=width, bank=bank, straight_bank=straight_bank)


def lap(
    setup: SetupFile,
    track: TrackFile,
    conditions: Conditions = None,
    groove: GrooveName = "middle",
    fuel: Fuel = "",
    time: LapTime = "",
    use: Use = "",
    brake: Brake = "",
    throttle: Throttle = "",
    free: Annotated[
        bool, typer.Option("--free", help="The quickest line that the road leaves this car: a bound.")
    ] = False,
    picture: Annotated[
        list[Path], typer.Option(metavar="FILE", help="Keep the traces too: .svg, .png, .pdf or .json.")
    ] = [],  # noqa: B006
    plan: Annotated[
        list[Path], typer.Option("--map", metavar="FILE", help="Keep the map too, in the same ways.")
    ] = [],  # noqa: B006
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """One lap: how fast, what sets the speed where, what touches."""
    from ovalwright.cli import lapping

    asked = ToDrive(
        setup=setup, track=track, conditions=conditions, sheet=sheet, groove=groove, fuel=fuel, time=time,
        use=use, brake=brake, throttle=throttle,
    )  # fmt: skip
    lapping.lap(screen_of(as_json, si), asked, free=free, pictures=picture, maps=plan)


def gears(
    setup: SetupFile,
    track: TrackFile,
    conditions: Conditions = None,
    groove: GrooveName = "middle",
    fuel: Fuel = "",
    time: LapTime = "",
    use: Use = "",
    brake: Brake = "",
    throttle: Throttle = "",
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """A lap with each gear on the rack: the quickest, and each step."""
    from ovalwright.cli import gearing

    asked = ToDrive(
        setup=setup, track=track, conditions=conditions, sheet=sheet, groove=groove, fuel=fuel, time=time,
        use=use, brake=brake, throttle=throttle,
    )  # fmt: skip
    gearing.gears(screen_of(as_json, si), asked)


def laps(
    times: Annotated[Path, typer.Argument(metavar="LAPS", help="A lap list: lap, time, flag; CSV or text.")],
    against: Annotated[Path | None, typer.Option(help="A second run, to see when it overtakes.")] = None,
    see: Annotated[str, typer.Option(help="The difference you want to see in a test.")] = "0.1 s",
    word: Annotated[
        list[str], typer.Option(metavar="TEXT", help="A word of yours for a flag, as wreck=yellow.")
    ] = [],  # noqa: B006
    setup: Annotated[
        Path | None, typer.Option(help="The setup that ran them: its run is matched to them.")
    ] = None,
    track: Annotated[Path | None, typer.Option(help="Where, for that.")] = None,
    conditions: Conditions = None,
    groove: GrooveName = "middle",
    fuel: Fuel = "",
    use: Use = "",
    brake: Brake = "",
    throttle: Throttle = "",
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Fall-off, does it go away, your scatter, what a test can see."""
    from ovalwright.cli import lap_lists

    lap_lists.laps(
        screen_of(as_json, si), times, against=against, see=see, words=word, setup=setup, track=track,
        conditions=conditions, groove=groove, fuel=fuel, sheet=sheet, use=use, brake=brake, throttle=throttle,
    )  # fmt: skip


def run(
    setup: SetupFile,
    track: TrackFile,
    laps: RunLaps = 40,
    yellow: Annotated[
        list[str], typer.Option(metavar="LAPS", help="Laps under yellow, as 12-16; they count.")
    ] = [],  # noqa: B006
    stop: Annotated[
        list[str], typer.Option(metavar="TEXT", help='As "20: tires RF RR, fuel 22 gal, time 90 s".')
    ] = [],  # noqa: B006
    conditions: Conditions = None,
    groove: GrooveName = "middle",
    fuel: Fuel = "",
    time: BestTime = "",
    use: Use = "",
    brake: Brake = "",
    throttle: Throttle = "",
    rules: Annotated[
        list[Path], typer.Option(metavar="FILE", help="A rule book: is the car legal at the flag?")
    ] = [],  # noqa: B006
    picture: RunPicture = [],  # noqa: B006
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Many laps: when it is best, does it go away, which tire and why."""
    from ovalwright.cli import running

    asked = ToDrive(
        setup=setup, track=track, conditions=conditions, sheet=sheet, groove=groove, fuel=fuel, time=time,
        use=use, brake=brake, throttle=throttle,
    )  # fmt: skip
    running.run(
        screen_of(as_json, si), asked, laps=laps, yellow=yellow, stops=stop, books=rules, pictures=picture
    )


def against(
    setup: SetupFile,
    other: OtherSetup,
    track: TrackFile,
    laps: RunLaps = 40,
    draws: Draws = 64,
    scatter: Annotated[str, typer.Option(help="One lap of yours to the next, as `laps` tells.")] = "0.08 s",
    impound: Annotated[
        bool, typer.Option("--impound", help="Only pressures may differ; two laps of qualifying too.")
    ] = False,
    conditions: Conditions = None,
    groove: GrooveName = "middle",
    fuel: Fuel = "",
    time: BestTime = "",
    use: Use = "",
    brake: Brake = "",
    throttle: Throttle = "",
    picture: RunPicture = [],  # noqa: B006
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Two setups over a run: which is quicker, from when, and why."""
    from ovalwright.cli import against as room

    asked = ToDrive(
        setup=setup, track=track, conditions=conditions, sheet=sheet, groove=groove, fuel=fuel, time=time,
        use=use, brake=brake, throttle=throttle,
    )  # fmt: skip
    room.against(
        screen_of(as_json, si), asked, other, laps=laps, draws=draws, scatter=scatter, impound=impound,
        pictures=picture,
    )  # fmt: skip
