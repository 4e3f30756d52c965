"""Long work as pages show it: how far it is, and Stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import Form
from starlette.requests import Request
from starlette.responses import Response

from ovalwright.web.bench import bench_of
from ovalwright.web.long_work import Job
from ovalwright.web.page import go_to
from ovalwright.web.places import PLACES


@dataclass(frozen=True)
class Progress:
    """Work under way, in words; `again` is where to look again, `target` the block that is looked at.

    `done` of `total` are ticks of the bar.
    """

    id: str
    told: str
    said: str
    done: int
    total: int
    again: str
    target: str
    at: str


def progress_of(job: Job, *, again: str, target: str, at: str) -> Progress | None:
    """How far a study is, or nothing when it is over."""
    if job.is_over:
        return None
    left = job.seconds_left
    said = "waits for its turn" if job.state == "waiting" else "begun"
    if job.total:
        said = f"{job.done} of {job.total}"
    if left is not None:
        said += f", about {max(round(left), 1)} s to go"
    return Progress(job.id, job.told, said, job.done, max(job.total, 1), again, target, at)


def stop(request: Request, id: str, at: Annotated[str, Form(max_length=40)] = "/week") -> Response:
    """Stop a study, then back to the page it was pressed on."""
    bench_of(request).work.stop(id)
    return go_to(next((place.path for place in PLACES if place.path == at), "/week"))
