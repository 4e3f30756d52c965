"""The bench put together: routes, and around them what every request passes through."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import Depends, FastAPI
from fastapi.responses import HTMLResponse
from starlette.middleware.sessions import SessionMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from ovalwright import __version__
from ovalwright.notebook.place import data_folder
from ovalwright.notebook.store import Store
from ovalwright.web.bench import Bench
from ovalwright.web.door import COOKIE, READING, STAYS_IN, Door, Key
from ovalwright.web.form_entry import Refused, as_refused
from ovalwright.web.lanes import in_its_own_lane, set_up_lanes
from ovalwright.web.long_work import LongWork
from ovalwright.web.made_ready import NEED_IT, NotReady, must_be_ready, waits
from ovalwright.web.routes import ROUTES
from ovalwright.web.sent_once import one_at_a_time
from ovalwright.web.shield import MOST_SENT, Guard, Shield
from ovalwright.web.troubles import listen

HERE = ("127.0.0.1", "localhost")
"""Names under which the laptop itself reaches the bench."""


def bench(
    store: Store,
    *,
    lan: bool = False,
    passcode: str = "",
    names: Sequence[str] = (),
    addresses: Sequence[str] = (),
    folder: Path | None = None,
) -> FastAPI:
    """The bench of a notebook.

    With `lan` it lets phones in that know the `passcode`, under its `names` on the network; `addresses` are
    shown for them to type. `folder` keeps its key, the data folder unless told. Raises ValueError, OSError.
    """
    if lan and not passcode:
        raise ValueError("a bench that phones may reach needs a passcode.")
    folder = folder or data_folder()
    door = Door(Key.kept_in(folder), passcode if lan else "")
    app = FastAPI(
        title="Ovalwright", version=__version__, docs_url=None, redoc_url=None, openapi_url=None,
        lifespan=_lifespan, default_response_class=HTMLResponse, max_body_size=MOST_SENT,
    )  # fmt: skip
    for route in ROUTES:
        app.add_api_route(
            route.path,
            in_its_own_lane(route.answer) if route.thumb else route.answer,
            methods=[route.method],
            response_model=None,
            max_body_size=route.most,
            tags=[route.page],
            summary=route.what,
            dependencies=([Depends(must_be_ready)] if route.page in NEED_IT else [])
            if route.method in READING
            else [Depends(door.check_change), Depends(one_at_a_time)],
        )
    app.state.bench = Bench(
        store, folder, door, LongWork(), tuple(addresses), frozenset(route.path for route in ROUTES)
    )
    listen(app)
    app.add_exception_handler(NotReady, waits)
    app.add_exception_handler(Refused, as_refused)
    app.add_middleware(Guard, door=door)
    app.add_middleware(
        SessionMiddleware,
        secret_key=door.key.secret,
        session_cookie=COOKIE,
        max_age=STAYS_IN,
        same_site="strict",
    )
    app.add_middleware(
        TrustedHostMiddleware, allowed_hosts=[*HERE, *(names if lan else ())], www_redirect=False
    )
    app.add_middleware(Shield)
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    set_up_lanes()
    yield
    app.state.bench.work.close()
