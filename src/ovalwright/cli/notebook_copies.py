"""The commands by which work leaves the notebook or comes in: sheet, share, receive, copies, tables."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright.cli import completing
from ovalwright.cli.notebook_commands import notebook
from ovalwright.cli.options import By, Json, Si, Where, screen_of
from ovalwright.notebook.sharing.private import KINDS, listed

Private = Annotated[bool, typer.Option("--private", help=f"All that is private goes along: {listed(KINDS)}.")]
With = Annotated[
    list[str],
    typer.Option(
        "--with", metavar="KIND", help=f"Only that of it goes along: {', '.join(KINDS)}; one by one."
    ),
]
CopiesIn = Annotated[
    Path | None, typer.Option("--in", metavar="FOLDER", help="Where the copies are, if not beside it.")
]


def share(
    what: Annotated[str, typer.Argument(metavar="WHAT", help="setup, run, event or all.")],
    to: Annotated[Path, typer.Option("--to", metavar="FILE", help="The file to write.")],
    which: Annotated[
        list[str],
        typer.Argument(
            metavar="WHICH", help="Its code or name.", autocompletion=completing.documents, show_default=False
        ),
    ] = [],  # noqa: B006
    private: Private = False,
    along: With = [],  # noqa: B006
    where: Where = "",
    as_json: Json = False,
) -> None:
    """A setup, a run, an event or all of it into one file to send."""
    from ovalwright.cli import sharing

    sharing.share(
        screen_of(as_json, False),
        what,
        " ".join(which),
        to,
        private=sharing.private_of(private, along),
        where=where,
    )


def sheet(
    kind: Annotated[
        str,
        typer.Argument(
            metavar="KIND", help="setup, scales, tires, run, bolts, ballast, rack, changes, raceday."
        ),
    ],
    to: Annotated[Path, typer.Option("--to", metavar="FILE", help="The file to write: .pdf or .png.")],
    which: Annotated[
        list[str],
        typer.Argument(
            metavar="WHICH",
            help="Of what: a file, or a code or name of the notebook; changes takes two.",
            autocompletion=completing.documents,
            show_default=False,
        ),
    ] = [],  # noqa: B006
    paper: Annotated[str, typer.Option(help="letter or a4.")] = "letter",
    rules: Annotated[
        Path | None, typer.Option(help="scales, raceday: the car against this rule book.")
    ] = None,
    cross: Annotated[str, typer.Option(help="scales: rounds to this cross too, as 54.5%.")] = "",
    event: Annotated[
        str, typer.Option(metavar="NAME", help="raceday: its event.", autocompletion=completing.events)
    ] = "",
    line: Annotated[
        list[str],
        typer.Option(metavar="TEXT", help='raceday: as "18:30, heat, cold pressures"; one by one.'),
    ] = [],  # noqa: B006
    fuel: Annotated[list[str], typer.Option(metavar="TEXT", help='raceday: as "feature=18 gal".')] = [],  # noqa: B006
    note: Annotated[str, typer.Option(metavar="TEXT", help="raceday: anything else.")] = "",
    where: Where = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """A sheet for the trailer as PDF or PNG, filled in or blank."""
    from ovalwright.cli import printing

    wish = printing.Wish(tuple(which), rules, cross, event, tuple(line), tuple(fuel), note)
    printing.sheet(screen_of(as_json, si), kind, wish, to=to, paper=paper, where=where)


def receive(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What was shared with you.")],
    only_look: Annotated[bool, typer.Option("--look", help="Only say what it would add.")] = False,
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Take in what another notebook shared, whole or not at all."""
    from ovalwright.cli import sharing

    sharing.receive(screen_of(as_json, False), file, only_look=only_look, where=where, by=by)


@notebook.command()
def tables(
    to: Annotated[Path, typer.Option("--to", metavar="FOLDER", help="A new folder for them.")],
    form: Annotated[str, typer.Option(metavar="FORM", help="csv, parquet or netcdf.")] = "csv",
    private: Private = False,
    along: With = [],  # noqa: B006
    where: Where = "",
    as_json: Json = False,
) -> None:
    """Everything as tables, for a spreadsheet or a program of yours."""
    from ovalwright.cli import sharing

    sharing.tables(
        screen_of(as_json, False), to, form=form, private=sharing.private_of(private, along), where=where
    )


@notebook.command()
def copy(
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="Where to; beside it when left out.")
    ] = None,
    where: Where = "",
    as_json: Json = False,
) -> None:
    """A dated copy of the notebook, also while it is in use."""
    from ovalwright.cli import copying

    copying.copy(screen_of(as_json, False), to=to, where=where)


@notebook.command()
def copies(folder: CopiesIn = None, where: Where = "", as_json: Json = False) -> None:
    """The copies there are, the last one first."""
    from ovalwright.cli import copying

    copying.listed(screen_of(as_json, False), folder=folder, where=where)


@notebook.command()
def restore(
    which: Annotated[str, typer.Argument(metavar="COPY", help="The file of a copy, or last.")],
    folder: CopiesIn = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do it.")] = False,
    where: Where = "",
    as_json: Json = False,
) -> None:
    """Put a copy in the notebook's place; what is there is set aside."""
    from ovalwright.cli import copying

    copying.restore(screen_of(as_json, False), which, folder=folder, yes=yes, where=where)
