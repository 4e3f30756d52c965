"""This week: the next event, what the car still needs, the last run, the three numbers at the next track."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.notebook import runs
from ovalwright.web.bench import bench_of
from ovalwright.web.page import Page, go_to, show


@dataclass(frozen=True, kw_only=True)
class WeekPage(Page):
    """`next_event` and `days` in words, or nothing when none is entered."""

    template: ClassVar[str] = "week.html"
    next_event: str = ""
    days: str = ""


def first() -> Response:
    """On to the first page."""
    return go_to("/week")


def week(request: Request) -> Response:
    """The page."""
    with bench_of(request).store.reading() as session:
        name, days = _next(session, dt.date.today())
    return show(request, WeekPage(title="This week", here="/week", next_event=name, days=days))


def _next(session: Session, today: dt.date) -> tuple[str, str]:
    coming = [event for event, _ in runs.events(session) if event.held_on >= today]
    if not coming:
        return "", ""
    event = min(coming, key=lambda one: one.held_on)
    left = (event.held_on - today).days
    return event.name, "today" if left == 0 else "tomorrow" if left == 1 else f"in {left} days"
