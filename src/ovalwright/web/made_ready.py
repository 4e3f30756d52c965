"""The physics made ready for this computer: compiled once, in the process of the long work.

Pages that need it say so and wait; the others answer meanwhile.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from fastapi import Query
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.compile import PIECES, make_ready
from ovalwright.compile import pieces as compiled_pieces
from ovalwright.web.bench import bench_of
from ovalwright.web.long_work import Job, LongWork
from ovalwright.web.page import Page, go_to, show
from ovalwright.web.places import PLACES, Place

TOLD = "The physics is being made ready for this computer, once, some minutes"
STILL = f"{TOLD}. The pages with numbers of the car open when it is done."
NEED_IT = frozenset({"Scales", "The turn", "What each thing does", "Lap and run", "Sheets"})
"""The pages that show nothing without it."""
_KEY = "made ready"


class NotReady(Exception):
    """What was asked for needs the physics, which is not ready yet."""


@dataclass(frozen=True, kw_only=True)
class NotReadyPage(Page):
    """How far it is: `done` of about `total` pieces, and the page that opens afterwards."""

    template: ClassVar[str] = "made_ready.html"
    told: str
    done: int
    total: int
    again: str


def begin(work: LongWork) -> Job:
    """Begin to make it ready. Raises TooBusy."""
    return work.submit(_KEY, make_ready, told=TOLD)


def is_ready(work: LongWork) -> bool:
    """Whether nobody is at it (any more); where it broke off, pages compile what they need themselves."""
    job = work.look(_KEY)
    return job is None or job.is_over


async def must_be_ready(request: Request) -> None:
    """Let a page that needs the physics wait. Raises NotReady."""
    check_ready(request)


def check_ready(request: Request) -> None:
    """Let what needs the physics wait. Raises NotReady."""
    if not is_ready(bench_of(request).work):
        raise NotReady


def pieces() -> int:
    """How many of all are there, the last one only when all are."""
    return min(compiled_pieces(), PIECES - 1)


def waits(request: Request, problem: Any) -> Response:
    """The page in the place of one that needs the physics; a part of that one has its browser go there."""
    headers = {"Retry-After": "10"}
    if "hx-request" in request.headers and "hx-boosted" not in request.headers:
        query = f"?{request.url.query}" if request.url.query else ""
        return Response(status_code=503, headers={**headers, "HX-Redirect": f"{request.url.path}{query}"})
    answer = show(request, _page(request.url.path), status=503)
    answer.headers.update(headers)
    return answer


def how_far(request: Request, at: Annotated[str, Query(max_length=40)] = "/week") -> Response:
    """How far it is; when it is ready, on to the page that needs it."""
    if not is_ready(bench_of(request).work):
        return show(request, _page(at))
    if "hx-request" in request.headers:
        return Response(headers={"HX-Refresh": "true"})
    return go_to(_place(at).path)


def _place(path: str) -> Place:
    return next((place for place in PLACES if path.startswith(place.path)), PLACES[0])


def _page(path: str) -> NotReadyPage:
    place = _place(path)
    return NotReadyPage(
        title=place.name, here=place.path, told=TOLD, done=pieces(), total=PIECES, again=place.path
    )
