"""The bench served: on the laptop itself, or with a passcode on the shop's network as well."""

from __future__ import annotations

import contextlib
import io
import logging
import logging.handlers
import os
import signal
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from starlette.types import ASGIApp

from ovalwright.compile import PIECES, is_compiled
from ovalwright.documents import DocumentError
from ovalwright.notebook.place import data_folder
from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.study.lap import NoLap
from ovalwright.web import made_ready
from ovalwright.web.door import new_passcode, with_passcode
from ovalwright.web.joined import Joined, join, looked_at
from ovalwright.web.long_work import Job
from ovalwright.web.moment import solve_ahead
from ovalwright.web.page import load_templates

PORT, TRIED = 8321, 20
"""The usual port, and how many are tried from it on."""
LOG = "bench.log"
LARGEST_LOG = 2**20
TURN_ABOUT = 0.001
"""How long [s] one thread keeps the others from Python."""
LOOKED_EVERY, SAID_EVERY = 0.5, 20.0
"""How often [s] it is looked, and said in the terminal, how far the physics is."""
OPENED_FIRST = ("frame.html", "week.html", "turn.html", "turn_parts.html")
PLAIN = "On this network nothing is encrypted: whoever listens can read along. Use one that is yours."


class CannotServe(Exception):
    """Why the bench cannot be opened, in one sentence."""


def serve(
    store: Store,
    *,
    say: Callable[[str], None],
    port: int = 0,
    lan: bool = False,
    browser: bool = True,
    folder: Path | None = None,
) -> None:
    """Serve the bench of a notebook until it is stopped, by Ctrl-C or by the computer going down.

    `port` 0 is the first free one from PORT on; `say` shows a line; `browser` opens one where there is a
    display. Raises CannotServe.
    """
    folder = folder or data_folder()
    passcode = new_passcode() if lan else ""
    names = _names() if lan else ()
    with _listener("0.0.0.0" if lan else "127.0.0.1", port) as listener, _said(folder):
        ready = is_compiled()
        if ready:
            _solve_ahead(store)
        from ovalwright.web.app import bench  # all the pages, while the turn is being solved

        port = listener.getsockname()[1]
        here = f"http://localhost:{port}/"
        there = tuple(f"http://{name}:{port}/" for name in names)
        _log_to(folder / LOG)
        app = bench(store, lan=lan, passcode=passcode, names=names, addresses=there, folder=folder)
        for line in _told(here, there, passcode):
            say(line)
        if not ready:
            _make_ready(app, store, say)
        load_templates(*OPENED_FIRST)
        if browser and has_display():
            threading.Timer(0.5, webbrowser.open, [here]).start()
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        with contextlib.suppress(KeyboardInterrupt):
            _server(app).run(sockets=[listener])
    say("The bench is closed; everything that was entered is kept.")


def _server(app: ASGIApp) -> uvicorn.Server:
    """No proxy is believed, nothing is told of what serves, and Ctrl-C waits for no phone."""
    return uvicorn.Server(
        uvicorn.Config(
            app,
            ws="none",
            log_config=None,
            access_log=False,
            proxy_headers=False,
            server_header=False,
            timeout_keep_alive=60,
            timeout_graceful_shutdown=2,
        )
    )


@contextlib.contextmanager
def _said(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        raise CannotServe(f"{folder}: cannot be written to ({problem.strerror}).") from None


def has_display() -> bool:
    """Whether a browser could be seen here."""
    if sys.platform.startswith("linux"):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True


def _told(here: str, there: tuple[str, ...], passcode: str) -> list[str]:
    lines = [f"The bench is open at {here}; Ctrl-C closes it."]
    if not passcode:
        return lines
    if not there:
        return [*lines, "This computer is on no network that a phone could reach it by."]
    import segno  # draws the code for phones, which need not come

    drawn = io.StringIO()
    segno.make(with_passcode(there[0], passcode), micro=False).terminal(drawn, compact=True)
    return [*lines, f"Phones: {there[0]} with the passcode {passcode}", drawn.getvalue().rstrip(), PLAIN]


def _listener(host: str, port: int) -> socket.socket:
    for tried in [port] if port else range(PORT, PORT + TRIED):
        try:
            listener = socket.create_server((host, tried))
            # What is accepted inherits it; else every answer waits 40 ms for the other side's acknowledgment.
            listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            return listener
        except (OSError, OverflowError):
            continue
    last = str(port) if port else f"{PORT} to {PORT + TRIED - 1}"
    raise CannotServe(f"port {last} is taken or may not be used; name a free one with --port.")


def _names() -> tuple[str, ...]:
    """Addresses and names by which the network knows this computer, the address that works first."""
    found = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # asks the routing table alone; nothing is sent
        found.append(probe.getsockname()[0])
    name = socket.gethostname().lower()
    with contextlib.suppress(OSError):
        found += [one for one in socket.gethostbyname_ex(name)[2] if not one.startswith("127.")]
    found += [name, f"{name.split('.')[0]}.local"] if found and name else []
    return tuple(dict.fromkeys(found))


def _log_to(path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handler = logging.handlers.RotatingFileHandler(
        path, maxBytes=LARGEST_LOG, backupCount=1, encoding="utf-8", delay=True
    )
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    for name in ("ovalwright.web", "uvicorn.error"):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [handler], False
        logger.setLevel(logging.WARNING)


def _make_ready(app: FastAPI, store: Store, say: Callable[[str], None]) -> None:
    """Have the physics compiled beside the bench, and say how far it is."""
    job = made_ready.begin(app.state.bench.work)
    threading.Thread(target=_follow, args=(job, store, say), name="made ready", daemon=True).start()


def _follow(job: Job, store: Store, say: Callable[[str], None]) -> None:
    say(f"{made_ready.TOLD}. Its pages wait; all others answer meanwhile.")
    said = time.monotonic()
    while not job.is_over:
        time.sleep(LOOKED_EVERY)
        if time.monotonic() - said > SAID_EVERY:
            say(f"  piece {made_ready.pieces()} of about {PIECES}")
            said = time.monotonic()
    if job.state == "done":
        say("The physics is ready.")
        _solve_ahead(store)
    elif job.trouble:
        say(job.trouble)


def _solve_ahead(store: Store) -> None:
    """Build the car that is usually looked at, and have its turn solved while this thread goes on.

    The many small calls of building would wait for this thread at each; the few long ones of solving do not.
    What is wrong with it is told by its page.
    """
    sys.setswitchinterval(TURN_ABOUT)
    with contextlib.suppress(NotebookTrouble, DocumentError), store.reading() as session:
        joined = join(session, looked_at(session))
        joined.build()
        threading.Thread(target=_solve, args=(joined,), name="ahead", daemon=True).start()


def _solve(joined: Joined) -> None:
    with contextlib.suppress(DocumentError, NoLap):
        solve_ahead(joined)
