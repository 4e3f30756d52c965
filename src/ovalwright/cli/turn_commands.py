"""The commands of a car in the turn and their options: what it carries, how fast, what a change does."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright.cli.options import (
    Conditions,
    Draws,
    End,
    Fuel,
    InTurn,
    Json,
    OtherSetup,
    OtherSheet,
    SetupFile,
    Si,
    TrackFile,
    screen_of,
)


def turn(
    setup: SetupFile,
    track: TrackFile,
    conditions: Conditions = None,
    fuel: Annotated[
        list[str], typer.Option(metavar="TEXT", help="Fuel, as 12gal; full and nearly empty if left out.")
    ] = [],  # noqa: B006
    state: Annotated[Path | None, typer.Option(help="A moment of a run: fuel, hot pressures, wear.")] = None,
    speed: Annotated[
        list[str], typer.Option(metavar="TEXT", help="Speed, 75mph or middle=75mph; 2 % under the limit.")
    ] = [],  # noqa: B006
    end: End = 1,
    more: Annotated[bool, typer.Option("--more", help="Tires, body, stagger and frame points too.")] = False,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """What the four tires carry at entry, middle and exit."""
    from ovalwright.cli import turning

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    turning.turn(screen_of(as_json, si), asked, fuels=fuel, state=state, speeds=speed, more=more)


def limit(
    setup: SetupFile,
    track: TrackFile,
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """How fast, what sets it, and tight or loose there."""
    from ovalwright.cli import turning

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    turning.limit(screen_of(as_json, si), asked)


def pulldown(
    setup: SetupFile,
    track: TrackFile,
    at: Annotated[str, typer.Option(help="entry, middle or exit.")] = "middle",
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Heights and loads of the turn, to pull the car down to."""
    from ovalwright.cli import turning

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    turning.pulldown(screen_of(as_json, si), asked, place=at)


def stagger(
    setup: SetupFile,
    track: TrackFile,
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """The stagger this radius wants, what yours does, tires for it."""
    from ovalwright.cli import tires

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    tires.stagger(screen_of(as_json, si), asked)


def hot(
    wanted: Annotated[str, typer.Option(help="The hot pressure you want.")],
    cold: Annotated[str, typer.Option(help="What it was set to before a run.")],
    reached: Annotated[str, typer.Option(help="What it read after that run.")],
    conditions: Conditions = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Cold pressure for a wanted hot one, from one run."""
    from ovalwright.cli import tires

    tires.hot(screen_of(as_json, si), wanted=wanted, cold=cold, reached=reached, conditions=conditions)


def compare(
    setup: SetupFile,
    other: OtherSetup,
    track: TrackFile,
    draws: Draws = 64,
    more: Annotated[bool, typer.Option("--more", help="The loads at every place and fuel.")] = False,
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Two setups at one speed: as bolted in, and re-set."""
    from ovalwright.cli import changing

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    changing.compare(screen_of(as_json, si), asked, other, draws=draws, more=more)


def effects(
    setup: SetupFile,
    track: TrackFile,
    fuel: Fuel = "",
    top: Annotated[int, typer.Option(min=1, max=200, help="How many of the strongest to show.")] = 12,
    draws: Annotated[int, typer.Option(min=0, max=4096, help="Draws for the bands; 0 for none.")] = 16,
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """One step of every adjustment: tighter or looser, and why."""
    from ovalwright.cli import knowing

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    knowing.effects(screen_of(as_json, si), asked, fuel=fuel, top=top, draws=draws)


def sure(
    setup: SetupFile,
    track: TrackFile,
    of: Annotated[str, typer.Option(help="The answer to narrow: cross, balance, limit, bite.")] = "cross",
    draws: Draws = 64,
    conditions: Conditions = None,
    end: End = 1,
    sheet: OtherSheet = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """How sure the answers are, and what to measure next."""
    from ovalwright.cli import knowing

    asked = InTurn(setup=setup, track=track, conditions=conditions, sheet=sheet, end=end)
    knowing.sure(screen_of(as_json, si), asked, wanted=of, draws=draws)
