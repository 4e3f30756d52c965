"""An entry made by a form: it is kept, or its page comes back with what was typed and one sentence why not.

with form_entry(request, "tick", lambda wrong: _shown(request, typed, wrong=wrong)) as session:
    ...
    return answer_once(request, session, "/notebook/work")
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.documents import DocumentError
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.web.bench import bench_of
from ovalwright.web.troubles import sentence

Page = Callable[[str], Response]
"""Makes the page that comes back, of what is wrong in one sentence."""


class Refused(Exception):
    """What was sent cannot be kept; `answer` is the page that says so."""

    def __init__(self, answer: Response) -> None:
        super().__init__()
        self.answer = answer


@contextmanager
def refused_as(page: Page) -> Iterator[None]:
    """Answer with a page where the block cannot be done. Raises Refused."""
    try:
        yield
    except (NotebookTrouble, DocumentError) as problem:
        raise Refused(page(sentence(str(problem)))) from None


@contextmanager
def form_entry(request: Request, what: str, refused: Page) -> Iterator[Session]:
    """An entry of the notebook, kept whole when the block ends; else answer with a page. Raises Refused."""
    with refused_as(refused), bench_of(request).store.entry(what) as session:
        yield session


async def as_refused(_request: Request, problem: Any) -> Response:
    """The page of a form that was refused."""
    answer: Response = problem.answer
    return answer
