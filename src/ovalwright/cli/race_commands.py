"""The commands of a race and their options: run, against."""

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
    OtherSetup,
    OtherSheet,
    SetupFile,
    Si,
    Throttle,
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

    running.run(
        screen_of(as_json, si), setup, track, laps=laps, yellow=yellow, stops=stop, conditions=conditions,
        sheet=sheet, fuel=fuel, groove=groove, shares={"use": use, "brake": brake, "throttle": throttle},
        time=time, books=rules, pictures=picture,
    )  # fmt: skip


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

    room.against(
        screen_of(as_json, si), setup, other, track, laps=laps, draws=draws, scatter=scatter, impound=impound,
        conditions=conditions, sheet=sheet, fuel=fuel, groove=groove,
        shares={"use": use, "brake": brake, "throttle": throttle}, time=time, pictures=picture,
    )  # fmt: skip
