"""What the pages of one bench share, and how a page gets at it."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from starlette.requests import Request

from ovalwright.notebook.store import Store
from ovalwright.web.door import Door
from ovalwright.web.long_work import LongWork
from ovalwright.web.received import Received


@dataclass
class Bench:
    """One bench: its notebook, its door, its long work; `folder` holds its key and its log.

    `addresses` are those under which phones reach it, the one to tell first.
    """

    store: Store
    folder: Path
    door: Door
    work: LongWork
    addresses: tuple[str, ...] = ()
    paths: frozenset[str] = field(default_factory=frozenset)
    """Paths that have a page."""
    received: Received = field(default_factory=Received)


def bench_of(request: Request) -> Bench:
    """The bench that a request came to."""
    return cast(Bench, request.app.state.bench)
