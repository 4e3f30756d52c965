"""Who waits for whom: a thread to make what a slider asks for, a few for all the other pages.

Python runs one thread at a time, and the compiled solver hands its turn on at every call: with a thread for
each phone most of a move is spent waiting for turns. One after the other all of them are answered sooner.

What such a page depends on has to be `async`, or it waits for a thread of the others.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial, wraps
from typing import Any

from anyio import CapacityLimiter, to_thread

AT_ONCE = 3
"""Other pages made at once. Each page holds up to two of the notebook's fifteen connections."""


def set_up_lanes() -> None:
    """Let no more pages than these be made at once in this server."""
    to_thread.current_default_thread_limiter().total_tokens = AT_ONCE


def in_its_own_lane(answer: Callable[..., Any]) -> Callable[..., Any]:
    """The same answer, one at a time, waiting for no other page."""
    lane = CapacityLimiter(1)

    @wraps(answer)
    async def answered(**told: Any) -> Any:
        return await to_thread.run_sync(partial(answer, **told), limiter=lane)

    return answered
