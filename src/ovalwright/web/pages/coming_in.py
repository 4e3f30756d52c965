"""The door as a page, and what belongs to a device rather than to the car: theme, thumb, its leaving."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fastapi import Form
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.web.bench import bench_of
from ovalwright.web.page import THEME_COOKIE, THEMES, THUMB_COOKIE, THUMBS, Page, go_to, show
from ovalwright.web.places import PLACES
from ovalwright.web.shield import COME_IN

A_YEAR = 365 * 24 * 3600
FIRST = "/week"


@dataclass(frozen=True, kw_only=True)
class DoorPage(Page):
    """The passcode asked for; `wrong` says in one sentence why the last one did not do."""

    template: ClassVar[str] = "door.html"
    wrong: str = ""


def door(request: Request) -> Response:
    """Ask for the passcode, unless it is known already."""
    if bench_of(request).door.is_open_to(request):
        return go_to(FIRST)
    return show(request, DoorPage(title="Come in", here=""))


def come_in(request: Request, passcode: Annotated[str, Form(max_length=200)] = "") -> Response:
    """Let in who knows it."""
    wrong = bench_of(request).door.knock(request, passcode)
    if wrong:
        return show(request, DoorPage(title="Come in", here="", wrong=wrong), status=403)
    return go_to(FIRST)


def leave(request: Request) -> Response:
    """Put this phone out."""
    bench_of(request).door.leave(request)
    return go_to(COME_IN)


def theme(
    theme: Annotated[str, Form(max_length=10)] = "",
    at: Annotated[str, Form(max_length=40)] = FIRST,
) -> Response:
    """Day or night on this device, then back to the page it was pressed on."""
    return _kept_here(THEME_COOKIE, theme, THEMES, at)


def thumb(
    thumb: Annotated[str, Form(max_length=10)] = "",
    at: Annotated[str, Form(max_length=40)] = FIRST,
) -> Response:
    """Which thumb presses on this device, then back to the page it was pressed on."""
    return _kept_here(THUMB_COOKIE, thumb, THUMBS, at)


def _kept_here(cookie: str, value: str, values: tuple[str, ...], at: str) -> Response:
    """Keep a setting on the device, or forget one that is none."""
    answer = go_to(next((place.path for place in PLACES if place.path == at), FIRST))
    if value in values:
        answer.set_cookie(cookie, value, max_age=A_YEAR, httponly=True, samesite="strict")
    else:
        answer.delete_cookie(cookie, httponly=True, samesite="strict")
    return answer
