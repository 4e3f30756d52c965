"""What may go wrong on the bench: one sentence on a page, a number to find the whole story by in the log."""

from __future__ import annotations

import logging
import secrets
from dataclasses import dataclass
from typing import Any, ClassVar

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.long_work import TooBusy
from ovalwright.web.page import Page, show
from ovalwright.web.sent_once import AnsweredBefore, as_before
from ovalwright.web.shield import HEADERS

log = logging.getLogger("ovalwright.web")
COMMON = {
    404: "There is no such page on the bench.",
    413: "That is more than is taken here; send less.",
    405: "That page cannot be asked for in this way; go there by its link.",
}


@dataclass(frozen=True, kw_only=True)
class TroublePage(Page):
    """One sentence about what went wrong."""

    template: ClassVar[str] = "trouble.html"
    said: str


def listen(app: FastAPI) -> None:
    """Say everything that goes wrong in one sentence."""
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _mistyped)
    app.add_exception_handler(Exception, _bug)
    for kind in (DocumentError, NotebookTrouble):
        app.add_exception_handler(kind, _trouble)
    app.add_exception_handler(TooBusy, _busy)
    app.add_exception_handler(AnsweredBefore, as_before)


def sentence(said: str) -> str:
    """A text as a sentence: with a capital at its beginning unless with a name, and a stop at its end."""
    said = " ".join(said.split())
    begun = said[:1].upper() + said[1:] if said.split(" ")[0].isalpha() else said
    return begun if begun.endswith((".", "!", "?")) else f"{begun}."


def _page(request: Request, said: str, status: int) -> Response:
    page = TroublePage(title="That did not work", here="", said=sentence(said))
    return show(request, page, status=status)


def _refused(request: Request, problem: Any) -> Response:
    said = COMMON.get(problem.status_code) if problem.status_code in COMMON else str(problem.detail)
    answer = _page(request, said or "That cannot be done here.", problem.status_code)
    answer.headers.update(problem.headers or {})
    return answer


def _mistyped(request: Request, problem: Any) -> Response:
    first = problem.errors()[0]
    where = ".".join(str(one) for one in first["loc"][1:]) or "what was sent"
    return _page(request, f"{where}: {first['msg'].lower()}; go back, mend it, and send it again.", 422)


def _trouble(request: Request, problem: Exception) -> Response:
    return _page(request, str(problem), 422)


def _busy(request: Request, problem: Exception) -> Response:
    return _page(request, str(problem), 429)


def _bug(request: Request, problem: Exception) -> Response:
    number = secrets.token_hex(4)
    log.error("trouble %s at %s %s", number, request.method, request.url.path, exc_info=problem)
    said = (
        f"This is a mistake in Ovalwright, not in what you typed; it is number {number} in the bench's log."
    )
    answer = _page(request, said, 500)
    answer.headers.update(HEADERS)
    return answer
