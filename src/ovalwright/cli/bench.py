"""The command that opens the bench."""

from __future__ import annotations

from typing import Annotated

import typer

from ovalwright.cli.options import By, Where, screen_of


def bench(
    where: Where = "",
    port: Annotated[int, typer.Option(min=0, max=65535, help="A port; a free one when left out.")] = 0,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let phones on this network in that know the passcode.")
    ] = False,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open a browser.")] = True,
    by: By = "",
) -> None:
    """The whole job as web pages, on this computer or on any phone."""
    from ovalwright.cli.door import said_by
    from ovalwright.cli.notes import opened
    from ovalwright.web.serve import CannotServe, serve

    screen = screen_of(False, False)
    with opened(screen, where, by) as store, said_by(CannotServe):
        serve(store, say=screen.as_it_is, port=port, lan=lan, browser=browser)
    screen.end("bench")
