"""A form that makes something new, sent twice by a double tap or on a slow answer, is kept once.

Its page names it (`once(frame)` in the template). The answer is remembered under that name and what was typed
with the entry that was made; the same sent again within minutes gets the answer of the first. What is taken
back may be sent again.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import hashlib
import json
from collections.abc import AsyncIterator
from typing import Any
from weakref import WeakValueDictionary

from sqlalchemy.orm import Session
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ovalwright.notebook import remembered
from ovalwright.notebook.tables import now
from ovalwright.web.bench import bench_of
from ovalwright.web.door import CSRF_FIELD
from ovalwright.web.page import go_to

NAME_FIELD = "sent"
ANSWERED = "answered"
"""Under what the answer to a form is remembered."""
KEPT_FOR = dt.timedelta(minutes=5)
"""Longer than a browser waits for an answer, shorter than from one run to the next: the page for the track is
kept by the browser, with its name, and may say the same of each.
"""
_under_way: WeakValueDictionary[str, asyncio.Lock] = WeakValueDictionary()


class AnsweredBefore(Exception):
    """A form was kept when it was sent before: `path` and `done` are its answer."""

    def __init__(self, path: str, done: str) -> None:
        super().__init__(path)
        self.path, self.done = path, done


async def one_at_a_time(request: Request) -> AsyncIterator[None]:
    """Let a form that bears a name pass once; sent again meanwhile, it waits, then raises AnsweredBefore."""
    form = await request.form()
    name = str(form.get(NAME_FIELD, ""))
    told = sorted((key, str(value)) for key, value in form.multi_items() if key != CSRF_FIELD)
    key = hashlib.sha256(json.dumps([request.url.path, told]).encode()).hexdigest() if name else ""
    request.state.sent = key
    if not key:
        yield
        return
    async with _under_way.setdefault(key, asyncio.Lock()):
        before = await run_in_threadpool(_answer_before, request, key)
        if before is not None:
            raise AnsweredBefore(before["path"], before["done"])
        yield


def _answer_before(request: Request, key: str) -> dict[str, Any] | None:
    with bench_of(request).store.reading() as session:
        told: dict[str, Any] | None = remembered.recall(session, ANSWERED, of=key)
    is_new = told is not None and now() - dt.datetime.fromisoformat(told["at"]) < KEPT_FOR
    return told if is_new else None


def answer_once(request: Request, session: Session, path: str, *, done: str = "") -> RedirectResponse:
    """On to a page of ours (see `go_to`), remembered with the entry that the session writes."""
    if request.state.sent:
        told = {"path": path, "done": done, "at": now().isoformat()}
        remembered.remember(session, ANSWERED, told, of=request.state.sent)
    return go_to(path, done=done)


def as_before(_request: Request, problem: Any) -> Response:
    """The answer of the first time."""
    return go_to(problem.path, done=problem.done)
