"""The commands of the run log and their options: the group log."""

from __future__ import annotations

from typing import Annotated

import typer

from ovalwright.cli import completing
from ovalwright.cli.options import By, Day, Draft, Json, Note, Si, Where, is_asked_alone, screen_of

HELP = "The run log: events, runs, laps, what was read and said."

log = typer.Typer(name="log", help=HELP, rich_markup_mode=None)

RunCode = Annotated[
    str,
    typer.Argument(
        metavar="RUN", help="Its code, or last.", autocompletion=completing.runs, show_default=False
    ),
]
Track = Annotated[
    str,
    typer.Option(
        metavar="WHICH", help="The track: a code, a name, or a file.", autocompletion=completing.documents
    ),
]
Column = Annotated[
    list[str], typer.Option(metavar="TEXT", help='What a heading is, as "Zeit=time"; remembered.')
]
Word = Annotated[
    list[str],
    typer.Option(metavar="TEXT", help='What a word for a flag means, as "wreck=yellow"; remembered.'),
]
Car = Annotated[str, typer.Option(metavar="NUMBER", help="Whose rows, where a list holds several cars.")]

Session = Annotated[str, typer.Option(metavar="TEXT", help="practice, heat, feature, ...")]
At = Annotated[str, typer.Option(metavar="TIME", help="When it began, as 19:30.")]
Driver = Annotated[str, typer.Option(metavar="NAME", help="Who drove.")]
Fuel = Annotated[str, typer.Option(metavar="TEXT", help='Fuel at the start, as "18 gal".')]
FuelLeft = Annotated[str, typer.Option(metavar="TEXT", help="Fuel that was left.")]
Air = Annotated[str, typer.Option(metavar="TEXT", help='"68 F", or conditions by code, name or file.')]
Surface = Annotated[str, typer.Option(metavar="TEXT", help='Temperature of the road, as "85 F".')]
Stagger = Annotated[str, typer.Option(metavar="TEXT", help='Rear stagger, as "2 1/4 in".')]


@log.callback(invoke_without_command=True)
def overview(ctx: typer.Context, where: Where = "", as_json: Json = False, si: Si = False) -> None:
    """The run log: events, runs, laps, what was read and said."""
    if is_asked_alone(ctx, where, as_json, si):
        from ovalwright.cli import run_shown

        run_shown.overview(screen_of(as_json, si), where=where)


@log.command()
def event(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What it is called.", show_default=False)] = "",
    on: Day = "",
    track: Track = "",
    note: Note = "",
    spent: Annotated[str, typer.Option(metavar="AMOUNT", help="What it cost; private.")] = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """A day at a track."""
    from ovalwright.cli import logging_runs

    given = {"name": name, "on": on, "track": track, "note": note, "spent": spent}
    logging_runs.event(screen_of(as_json, False), given, draft=draft, where=where, by=by)


@log.command()
def run(
    event: Annotated[
        str,
        typer.Option(
            metavar="NAME",
            help="Its event; left out, the last up to today; none for today without one.",
            autocompletion=completing.events,
        ),
    ] = "",
    setup: Annotated[
        str,
        typer.Option(
            metavar="WHICH",
            help="Its setup: a code, a name, or a file; the one in the car when left out.",
            autocompletion=completing.documents,
        ),
    ] = "",
    session: Session = "",
    at: At = "",
    driver: Driver = "",
    fuel: Fuel = "",
    fuel_left: FuelLeft = "",
    air: Air = "",
    surface: Surface = "",
    stagger: Stagger = "",
    track: Track = "",
    note: Note = "",
    laps: Annotated[str, typer.Option(metavar="FILE", help="Its laps; - to paste them.")] = "",
    column: Column = [],  # noqa: B006
    word: Word = [],  # noqa: B006
    car: Car = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """A run, with the setup that was in the car."""
    from ovalwright.cli import logging_runs

    given = {
        "event": event, "setup": setup, "session": session, "at": at, "driver": driver, "fuel": fuel,
        "fuel_left": fuel_left, "air": air, "surface": surface, "stagger": stagger, "track": track,
        "note": note,
    }  # fmt: skip
    logging_runs.run(
        screen_of(as_json, si),
        given,
        laps=laps,
        columns=column,
        words=word,
        car=car,
        draft=draft,
        where=where,
        by=by,
    )


@log.command()
def laps(
    run: RunCode = "",
    source: Annotated[str, typer.Argument(metavar="FILE", help="A lap list; - to paste it.")] = "-",
    column: Column = [],  # noqa: B006
    word: Word = [],  # noqa: B006
    car: Car = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """The laps of a run, in place of those it had."""
    from ovalwright.cli import logging_runs

    logging_runs.laps(
        screen_of(as_json, si),
        run,
        source,
        columns=column,
        words=word,
        car=car,
        draft=draft,
        where=where,
        by=by,
    )


@log.command()
def temps(
    run: RunCode = "",
    numbers: Annotated[
        list[str], typer.Argument(metavar="NUMBERS...", help='As "178 185 190 / 201 196 188 / ...".')
    ] = [],  # noqa: B006
    order: Annotated[
        str,
        typer.Option(
            metavar="TEXT", help='How you go round, as "LF out mid in, RF in mid out, ..."; remembered.'
        ),
    ] = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Tire temperatures, in the order they are read off."""
    from ovalwright.cli import logging_runs

    given = {"run": run, "temperatures": " ".join(numbers), "order": order}
    logging_runs.temps(screen_of(as_json, si), given, draft=draft, where=where, by=by)


@log.command()
def pressures(
    run: RunCode = "",
    numbers: Annotated[
        list[str], typer.Argument(metavar="NUMBERS...", help='As "13 28 14 26", going round as for temps.')
    ] = [],  # noqa: B006
    cold: Annotated[bool, typer.Option("--cold", help="As set before the run.")] = False,
    hot: Annotated[bool, typer.Option("--hot", help="As read after it.")] = False,
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Tire pressures, cold or hot."""
    from ovalwright.cli import logging_runs

    given = {
        "run": run,
        "pressures": " ".join(numbers),
        "cold_or_hot": "hot" if hot else "cold" if cold else "",
    }
    logging_runs.pressures(screen_of(as_json, si), given, both=cold and hot, draft=draft, where=where, by=by)


@log.command()
def said(
    run: RunCode = "",
    words: Annotated[list[str], typer.Argument(metavar="WORDS...", help="In his own words.")] = [],  # noqa: B006
    phase: Annotated[str, typer.Option(help="entry, middle or exit.")] = "",
    when: Annotated[str, typer.Option(help="early or late in the run.")] = "",
    feel: Annotated[str, typer.Option(help="tight, loose or good.")] = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """What the driver said of a run."""
    from ovalwright.cli import logging_runs

    given = {"run": run, "words": " ".join(words), "phase": phase, "when": when, "feel": feel}
    logging_runs.said(screen_of(as_json, False), given, draft=draft, where=where, by=by)


@log.command()
def decided(
    run: RunCode = "",
    words: Annotated[list[str], typer.Argument(metavar="WORDS...", help="What to do next.")] = [],  # noqa: B006
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """What was decided after a run."""
    from ovalwright.cli import logging_runs

    given = {"run": run, "decided": " ".join(words)}
    logging_runs.filled(screen_of(as_json, False), "decided", given, draft=draft, where=where, by=by)


@log.command()
def mend(
    run: RunCode = "",
    session: Session = "",
    at: At = "",
    driver: Driver = "",
    fuel: Fuel = "",
    fuel_left: FuelLeft = "",
    air: Air = "",
    surface: Surface = "",
    stagger: Stagger = "",
    note: Note = "",
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Mend what was told of a run: fuel, time, weather, notes."""
    from ovalwright.cli import logging_runs

    given = {
        "run": run, "session": session, "at": at, "driver": driver, "fuel": fuel, "fuel_left": fuel_left,
        "air": air, "surface": surface, "stagger": stagger, "note": note,
    }  # fmt: skip
    logging_runs.mend(screen_of(as_json, False), given, draft=draft, where=where, by=by)


@log.command()
def hit(
    run: RunCode = "",
    place: Annotated[list[str], typer.Argument(metavar="PLACE...", help="Where, as RF or rear.")] = [],  # noqa: B006
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Where the car was hit; the parts there want to be looked at."""
    from ovalwright.cli import logging_runs

    given = {"run": run, "hit": " ".join(place)}
    logging_runs.filled(screen_of(as_json, False), "hit", given, draft=draft, where=where, by=by)


@log.command()
def setdown(
    run: RunCode = "",
    measured: Annotated[
        list[str], typer.Argument(metavar="TEXT...", help='As "LF 776 lb, LR height 5 in", or a sheet.')
    ] = [],  # noqa: B006
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """What the car measured as it came back, against its setup."""
    from ovalwright.cli import logging_runs

    given = {"run": run, "measured": " ".join(measured)}
    logging_runs.setdown(screen_of(as_json, si), given, draft=draft, where=where, by=by)


@log.command()
def show(run: RunCode = "last", where: Where = "", as_json: Json = False, si: Si = False) -> None:
    """Everything the notebook knows of a run."""
    from ovalwright.cli import run_shown

    run_shown.show(screen_of(as_json, si), run, where=where)
