"""The commands and their options. Each hands over to its room, loaded only when it is asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright import __version__
from ovalwright.cli import (
    bench,
    log_commands,
    notebook_commands,
    notebook_copies,
    parts_commands,
    race_commands,
)
from ovalwright.cli.door import Door
from ovalwright.cli.options import (
    Brake,
    Conditions,
    Draws,
    End,
    FlagState,
    Fuel,
    GrooveName,
    Json,
    Laps,
    LapTime,
    OtherSetup,
    OtherSheet,
    RulesFile,
    SetupFile,
    Si,
    Throttle,
    TrackFile,
    Use,
    screen_of,
)

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


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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

    turning.turn(
        screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, fuels=fuel, state=state,
        speeds=speed, end=end, more=more,
    )  # fmt: skip


@app.command()
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

    turning.limit(screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, end=end)


@app.command()
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

    turning.pulldown(
        screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, place=at, end=end
    )


@app.command()
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


@app.command()
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

    lapping.lap(
        screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, fuel=fuel, groove=groove,
        shares={"use": use, "brake": brake, "throttle": throttle}, time=time, free=free,
        pictures=picture, maps=plan,
    )  # fmt: skip


@app.command()
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

    gearing.gears(
        screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, fuel=fuel, groove=groove,
        shares={"use": use, "brake": brake, "throttle": throttle}, time=time,
    )  # fmt: skip


@app.command()
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
        conditions=conditions, groove=groove, fuel=fuel, sheet=sheet,
        shares={"use": use, "brake": brake, "throttle": throttle},
    )  # fmt: skip


app.command()(race_commands.run)
app.command()(race_commands.against)


@app.command()
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
    from ovalwright.cli import parts

    parts.stagger(screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, end=end)


@app.command()
def hot(
    wanted: Annotated[str, typer.Option(help="The hot pressure you want.")],
    cold: Annotated[str, typer.Option(help="What it was set to before a run.")],
    reached: Annotated[str, typer.Option(help="What it read after that run.")],
    conditions: Conditions = None,
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Cold pressure for a wanted hot one, from one run."""
    from ovalwright.cli import parts

    parts.hot(screen_of(as_json, si), wanted=wanted, cold=cold, reached=reached, conditions=conditions)


@app.command()
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

    changing.compare(
        screen_of(as_json, si),
        setup,
        other,
        track,
        conditions=conditions,
        sheet=sheet,
        draws=draws,
        end=end,
        more=more,
    )


@app.command()
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

    knowing.effects(
        screen_of(as_json, si), setup, track, conditions=conditions, sheet=sheet, fuel=fuel, top=top,
        draws=draws, end=end,
    )  # fmt: skip


@app.command()
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

    knowing.sure(
        screen_of(as_json, si),
        setup,
        track,
        conditions=conditions,
        sheet=sheet,
        wanted=of,
        draws=draws,
        end=end,
    )


app.command()(bench.bench)
app.command()(notebook_commands.keep)
app.command()(notebook_commands.quick)
app.command()(notebook_commands.find)
app.command()(notebook_commands.undo)
app.command()(notebook_copies.sheet)
app.command()(notebook_copies.share)
app.command()(notebook_copies.receive)
app.add_typer(log_commands.log)
app.add_typer(notebook_commands.notebook)
app.add_typer(parts_commands.parts)
app.add_typer(parts_commands.work)
