"""The commands, in the order of the help. Each hands over to its room, loaded only when it is asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright import __version__
from ovalwright.cli import (
    bench,
    lap_commands,
    log_commands,
    notebook_commands,
    notebook_copies,
    parts_commands,
    scales_commands,
    turn_commands,
)
from ovalwright.cli.door import Door
from ovalwright.cli.options import Json, SetupFile, Si, screen_of

app = typer.Typer(
    cls=Door,
    name="ovalwright",
    help="What the four tires of your paved-oval stock car carry, on the scales and in the turn.",
    epilog="Start with `ovalwright demo`, then `ovalwright new my-car`.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"max_content_width": 80, "help_option_names": ["-h", "--help"]},
)


@app.callback(invoke_without_command=True)
def begin(
    ctx: typer.Context, version: Annotated[bool, typer.Option("--version", help="Say the version.")] = False
) -> None:
    """What the four tires of your paved-oval stock car carry, on the scales and in the turn."""
    if version:
        typer.echo(f"ovalwright {__version__}")
    elif ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="Folder for the files of the car.")],
    name: Annotated[str, typer.Option(help="What you call the car.")] = "",
    axle: Annotated[str, typer.Option(help="three-link, four-link, truck arms or leaf springs.")] = "",
    size: Annotated[str, typer.Option(help="Wheelbase, front tread, rear tread.")] = "",
    weights: Annotated[str, typer.Option(help="Scale weights LF, RF, LR, RR.")] = "",
    fuel: Annotated[str, typer.Option(help="Fuel on the scales, what the cell holds.")] = "",
    driver: Annotated[str, typer.Option(help="Driver's weight with gear.")] = "",
    springs: Annotated[str, typer.Option(help="Springs LF, RF, LR, RR.")] = "",
    bar: Annotated[str, typer.Option(help="Sway bar diameter, or none.")] = "",
    tires: Annotated[str, typer.Option(help="Roll-outs LF, RF, LR, RR.")] = "",
    track: Annotated[str, typer.Option(help="Next track: length of a lap, banking.")] = "",
    questions: Annotated[bool, typer.Option(help="Ask what the options left open.")] = True,
    as_json: Json = False,
) -> None:
    """Ten questions about your car, then its files; the rest typical."""
    from ovalwright.cli import begin as room

    answers = {
        "name": name, "axle": axle, "size": size, "weights": weights, "fuel": fuel, "driver": driver,
        "springs": springs, "bar": bar, "tires": tires, "track": track,
    }  # fmt: skip
    ask = _ask if questions else None
    room.new(screen_of(as_json, False), folder, answers, ask)


def _ask(text: str, example: str) -> str:
    """One question, asked again while nothing is typed; its example is never taken for an answer."""
    return str(typer.prompt(f"{text} (such as {example})\n", prompt_suffix="> "))


@app.command()
def demo(
    into: Annotated[Path, typer.Option(help="Where the demo's files are copied to.")] = Path(
        "ovalwright-demo"
    ),
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open a browser at its end.")
    ] = True,
    si: Si = False,
) -> None:
    """A made-up car told as a story, and its files to play with."""
    from ovalwright.cli import story

    story.demo(screen_of(False, si), into, browser=browser)


@app.command()
def check(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Any of your files.")],
    as_json: Json = False,
) -> None:
    """Read files: what is wrong, unlikely or only typical in them."""
    from ovalwright.cli import begin as room

    room.check(screen_of(as_json, False), files)


@app.command()
def vary(
    setup: SetupFile,
    other: Annotated[str, typer.Argument(metavar="NEW", help="Name of the new file, beside the first.")],
    changes: Annotated[
        list[str], typer.Argument(metavar="KEY=VALUE...", help='As "LR.coil.rate=225 lb/in".')
    ],
) -> None:
    """A copy of a setup with something changed, to compare it with."""
    from ovalwright.cli import begin as room

    room.vary(screen_of(False, False), setup, other, changes)


@app.command()
def schema(
    kind: Annotated[str, typer.Argument(help="car, setup, sheet, track, ...; all when left out.")] = "",
    into: Annotated[Path | None, typer.Option(help="Write them into a folder instead.")] = None,
) -> None:
    """JSON Schema of the files, for editors that complete and check."""
    from ovalwright.cli import begin as room

    room.schema(screen_of(False, False), kind, into)


for command in (
    scales_commands.weigh,
    scales_commands.lift,
    scales_commands.rounds,
    scales_commands.lead,
    scales_commands.legal,
    turn_commands.turn,
    turn_commands.limit,
    turn_commands.pulldown,
    lap_commands.road,
    lap_commands.lap,
    lap_commands.gears,
    lap_commands.laps,
    lap_commands.run,
    lap_commands.against,
    turn_commands.stagger,
    turn_commands.hot,
    turn_commands.compare,
    turn_commands.effects,
    turn_commands.sure,
    bench.bench,
    notebook_commands.keep,
    notebook_commands.quick,
    notebook_commands.measured,
    notebook_commands.find,
    notebook_commands.undo,
    notebook_copies.sheet,
    notebook_copies.share,
    notebook_copies.receive,
):
    app.command()(command)
for group in (log_commands.log, notebook_commands.notebook, parts_commands.parts, parts_commands.work):
    app.add_typer(group)
