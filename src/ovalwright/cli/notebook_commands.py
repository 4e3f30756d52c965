"""The commands of the notebook and their options: keep, quick, measured, find, undo, the group notebook."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ovalwright.cli import completing
from ovalwright.cli.options import (
    By,
    Draft,
    Json,
    OnSetup,
    Reason,
    Si,
    Where,
    Which,
    is_asked_alone,
    screen_of,
)

notebook = typer.Typer(
    name="notebook",
    help="What is kept, with all its revisions; what was entered last.",
    rich_markup_mode=None,
)


def keep(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Setups, tracks, racks, ...")],
    reason: Reason = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Files into the notebook; a setup with its car, rack and sheet."""
    from ovalwright.cli import keeping

    keeping.keep(screen_of(as_json, False), files, reason=reason, where=where, by=by)


def quick(
    words: Annotated[
        list[str],
        typer.Argument(metavar="LINE...", help='As "RR +1/2, LR 12.5 psi".', show_default=False),
    ] = [],  # noqa: B006
    on: OnSetup = "",
    reason: Reason = "",
    trying: Annotated[bool, typer.Option("--try", help="Only show how it is understood.")] = False,
    draft: Draft = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Change a setup in one line; what was run stays as it was run."""
    from ovalwright.cli import keeping

    given = {"line": " ".join(words), "on": on, "reason": reason}
    keeping.quick(screen_of(as_json, False), given, trying=trying, draft=draft, where=where, by=by)


def measured(
    name: Annotated[
        str,
        typer.Argument(metavar="NAME", help='As "unsprung.axle"; without it, a list.', show_default=False),
    ] = "",
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="READING...",
            help='As "351; 353 lb", RR="0.11 in/psi", or -- -3.25; without one, how it is measured.',
            show_default=False,
        ),
    ] = [],  # noqa: B006
    tool: Annotated[str, typer.Option("--with", metavar="TOOL", help="With which tool; the usual one.")] = "",
    give: Annotated[str, typer.Option(metavar="AMOUNT", help="Give or take, if you know it better.")] = "",
    maker: Annotated[bool, typer.Option("--maker", help="It is the maker's figure.")] = False,
    together: Annotated[
        bool, typer.Option("--together", help="Nothing was changed since it was measured before: take both.")
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="List every number, not the typical ones.")
    ] = False,
    on: OnSetup = "",
    track: Annotated[
        Path | None,
        typer.Option(
            metavar="TRACK",
            help="Say what it narrowed at this track.",
            autocompletion=completing.kept("track"),
        ),
    ] = None,
    reason: Reason = "",
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """What you measured, kept in the car, the rack or the setup."""
    from ovalwright.cli import measured as room
    from ovalwright.notebook.typed.measured_form import MeasuredForm

    screen = screen_of(as_json, False)
    if not name:
        return room.listed(screen, on=on, everything=everything, where=where)
    if not words:
        return room.how(screen, name, on=on, where=where)
    form = MeasuredForm(
        room.readings_of(words), "maker" if maker else "measured", tool, give, together, reason
    )
    return room.keep(screen, name, form, on=on, track=track, where=where, by=by)


def find(
    words: Annotated[
        list[str],
        typer.Argument(
            metavar="TEXT...", help='As "here, air over 60 F, RR spring over 300".', show_default=False
        ),
    ] = [],  # noqa: B006
    most: Annotated[int, typer.Option(min=1, max=1000, help="How many of the newest.")] = 20,
    went_away: Annotated[
        str, typer.Option(metavar="TIRE", help="When this tire went away, by its mark.")
    ] = "",
    when: Annotated[
        str, typer.Option(metavar="TEXT", help='What you changed when it was so: "tight in the middle".')
    ] = "",
    where: Where = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """Runs by numbers, parts, days and words; when a tire went away."""
    from ovalwright.cli import finding

    finding.find(
        screen_of(as_json, si), " ".join(words), most=most, went_away=went_away, when=when, where=where
    )


def undo(
    put_back: Annotated[
        bool, typer.Option("--put-back", help="Put back what you took back last, and then the one before.")
    ] = False,
    where: Where = "",
    by: By = "",
    as_json: Json = False,
) -> None:
    """Take back your last entry into the notebook, whole."""
    from ovalwright.cli import keeping

    do = keeping.put_back if put_back else keeping.undo
    do(screen_of(as_json, False), where=where, by=by)


@notebook.callback(invoke_without_command=True)
def overview(ctx: typer.Context, where: Where = "", as_json: Json = False) -> None:
    """What is kept, with all its revisions; what was entered last."""
    if is_asked_alone(ctx, where, as_json):
        from ovalwright.cli import keeping

        keeping.overview(screen_of(as_json, False), where=where)


@notebook.command("list")
def listed(
    kind: Annotated[str, typer.Option(help="Only setup, track, car, rack, ...")] = "",
    most: Annotated[int, typer.Option(min=1, max=5000, help="How many of the latest.")] = 30,
    where: Where = "",
    as_json: Json = False,
) -> None:
    """The latest revisions, newest first."""
    from ovalwright.cli import keeping

    keeping.listed(screen_of(as_json, False), kind=kind, most=most, where=where)


@notebook.command()
def tree(which: Which, where: Where = "", as_json: Json = False) -> None:
    """All that came from one document: what changed, why, how often run."""
    from ovalwright.cli import keeping

    keeping.tree(screen_of(as_json, False), which, where=where)


@notebook.command()
def show(which: Which, where: Where = "", as_json: Json = False) -> None:
    """The text of one revision, as it was typed."""
    from ovalwright.cli import keeping

    keeping.show(screen_of(as_json, False), which, where=where)


@notebook.command()
def files(
    which: Which,
    to: Annotated[Path, typer.Option("--to", metavar="FOLDER", help="Folder to write them into.")],
    where: Where = "",
    as_json: Json = False,
) -> None:
    """Write a revision, with what it refers to, out as files."""
    from ovalwright.cli import keeping

    keeping.files(screen_of(as_json, False), which, to, where=where)


@notebook.command()
def changed(
    old: Annotated[str, typer.Argument(metavar="A", autocompletion=completing.documents, help="The old.")],
    new: Annotated[str, typer.Argument(metavar="B", autocompletion=completing.documents, help="The new.")],
    where: Where = "",
    as_json: Json = False,
    si: Si = False,
) -> None:
    """What differs between two revisions, as you would say it."""
    from ovalwright.cli import keeping

    keeping.changed(screen_of(as_json, si), old, new, where=where)


@notebook.command()
def entries(
    most: Annotated[int, typer.Option(min=1, max=5000, help="How many of the latest.")] = 20,
    by: Annotated[str, typer.Option("--by", metavar="NAME", help="Only those of one person.")] = "",
    where: Where = "",
    as_json: Json = False,
) -> None:
    """The last entries: who did what, and when."""
    from ovalwright.cli import keeping

    keeping.entries(screen_of(as_json, False), most=most, by=by, where=where)


@notebook.command("drafts")
def drafts(
    show: Annotated[str, typer.Option(metavar="ID", help="Show what was typed into one.")] = "",
    drop: Annotated[str, typer.Option(metavar="ID", help="Throw one away.")] = "",
    where: Where = "",
    as_json: Json = False,
) -> None:
    """Forms half filled: list them, show one, drop one."""
    from ovalwright.cli import keeping

    keeping.half_filled(screen_of(as_json, False), show=show, drop=drop, where=where)
