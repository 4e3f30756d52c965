"""Options and arguments that several commands share, those that belong together, and the screen asked for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ovalwright.cli import completing

if TYPE_CHECKING:
    from ovalwright.cli.screen import Screen

Json = Annotated[bool, typer.Option("--json", help="The whole answer as JSON, SI, for another program.")]
Si = Annotated[bool, typer.Option("--si", help="Metric units instead of US trade units.")]
SetupFile = Annotated[
    Path,
    typer.Argument(
        metavar="SETUP",
        help="A setup, which names its car, rack and sheet; @CODE is one of the notebook.",
        autocompletion=completing.kept("setup"),
    ),
]
OtherSetup = Annotated[
    Path,
    typer.Argument(
        metavar="OTHER", help="The other setup of the same car.", autocompletion=completing.kept("setup")
    ),
]
RulesFile = Annotated[Path, typer.Argument(metavar="RULES", help="One rule book.")]
OtherSheet = Annotated[
    Path | None, typer.Option("--sheet", help="Another scale sheet than the one the setup names.")
]
FlagState = Annotated[
    Path | None, typer.Option("--flag", help="State at the flag: fuel left, worn rubber, hot pressures.")
]
TrackFile = Annotated[
    Path,
    typer.Argument(
        metavar="TRACK",
        help="A track; @CODE is one of the notebook.",
        autocompletion=completing.kept("track"),
    ),
]
Conditions = Annotated[Path | None, typer.Option("--air", help="Air and surface; typical when left out.")]
End = Annotated[int, typer.Option("--end", min=1, max=2, help="Which end of the track.")]
Draws = Annotated[int, typer.Option(min=0, max=4096, help="Draws for the bands; 0 for none.")]
Fuel = Annotated[str, typer.Option(help="Fuel, as 12gal; a full cell when left out.")]
GrooveName = Annotated[str, typer.Option("--groove", help="low, middle, high, or one of the track's own.")]
Use = Annotated[str, typer.Option(metavar="SHARE", help="Of the grip, what the driver uses; 95 %.")]
Brake = Annotated[str, typer.Option(metavar="SHARE", help="Of the braking there is; 85 %.")]
Throttle = Annotated[str, typer.Option(metavar="SHARE", help="Of the throttle there is; 95 %.")]
LapTime = Annotated[
    str, typer.Option("--time", metavar="TIME", help="A lap of yours, as 15.32s: the grip is matched to it.")
]
Where = Annotated[
    str, typer.Option("--notebook", metavar="WHERE", help="Another notebook: its file, or a URL.")
]
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who enters it.")]
Which = Annotated[
    str,
    typer.Argument(metavar="WHICH", help="A code, or a name.", autocompletion=completing.documents),
]
OnSetup = Annotated[
    str,
    typer.Option(
        "--on",
        metavar="WHICH",
        help="Which setup: a code, a name, a file; the one in the car when left out.",
        autocompletion=completing.documents,
    ),
]
Draft = Annotated[str, typer.Option("--draft", metavar="ID", help="Go on with a draft.")]
Reason = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why, in your own words.")]
Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth keeping.")]
Day = Annotated[str, typer.Option("--on", metavar="DATE", help="As 2026-04-25; today when left out.")]
DoneBy = Annotated[str, typer.Option("--done-by", metavar="NAME", help="Who did it; you if left out.")]
Laps = Annotated[int, typer.Option("--laps", min=0, max=1000, help="Laps run, where a book allows for them.")]


@dataclass(frozen=True, kw_only=True)
class OnTrack:
    """A car on a track as it is asked about, by what was typed."""

    setup: Path
    track: Path
    conditions: Path | None
    sheet: Path | None


@dataclass(frozen=True, kw_only=True)
class InTurn(OnTrack):
    """In which turn: that of an end, counted from 1."""

    end: int


@dataclass(frozen=True, kw_only=True)
class ToDrive(OnTrack):
    """How it is driven; what is empty is as usual, `time` a lap that the grip is matched to."""

    groove: str
    fuel: str
    time: str = ""
    use: str = ""
    brake: str = ""
    throttle: str = ""


def is_asked_alone(ctx: typer.Context, *given: object) -> bool:
    """Whether a group is asked, and no command of it. Raises BadParameter for options before a command."""
    if ctx.invoked_subcommand is not None and any(given):
        raise typer.BadParameter(f"write options behind {ctx.invoked_subcommand}", ctx)
    return ctx.invoked_subcommand is None


def screen_of(as_json: bool, si: bool) -> Screen:
    """The screen of one answer."""
    from ovalwright.cli.screen import Screen

    return Screen(system="si" if si else "us", as_json=as_json)
