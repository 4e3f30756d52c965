"""A real browser for the tests of the bench: Debian's Chromium, which reaches nothing beyond this machine.

Without it these tests are skipped, and the last lines say so.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
)
HERE = {"localhost", "127.0.0.1"}
PHONE, LAPTOP = (360, 740), (1366, 768)
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
MISSING = "CHROMIUM IS NOT HERE: `apt install chromium`, then the pages are tried in a browser too"


def chromium_path() -> str:
    """Where it is, or nothing."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), "")


@dataclass
class Window:
    """A browser of one device: `page` to act on, and every address beyond this machine it tried to reach."""

    page: Any
    reached_out: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def faults(self) -> list[dict[str, Any]]:
        """What axe finds wrong with the page as it stands."""
        self.page.evaluate(AXE.read_text(encoding="utf-8"))
        return self.page.evaluate("async () => (await axe.run(document)).violations")

    def told(self) -> list[str]:
        """The same in words: which rule, where."""
        return [f"{one['id']}: {node['html'][:160]}" for one in self.faults() for node in one["nodes"]]

    def is_too_wide(self) -> bool:
        """Whether it has to be scrolled sideways."""
        width = "document.documentElement"
        return self.page.evaluate(f"{width}.scrollWidth > {width}.clientWidth")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The browser, started once."""
    path = chromium_path()
    if not path:
        pytest.skip(MISSING)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def window(chromium: Any) -> Iterator[Any]:
    """Opens windows; a test fails when one tried to reach beyond this machine or complained of a page."""
    opened: list[tuple[Any, Window]] = []

    def open_one(size: tuple[int, int] = LAPTOP, *, theme: str = "light", script: bool = True) -> Window:
        context, made = _window(chromium, size, theme, script)
        opened.append((context, made))
        return made

    yield open_one
    for context, made in opened:
        context.close()
        assert not made.reached_out
        assert not made.complaints


def _window(chromium: Any, size: tuple[int, int], theme: str, script: bool) -> tuple[Any, Window]:
    context = chromium.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=theme,
        java_script_enabled=script,
        has_touch=size == PHONE,
        bypass_csp=False,
    )
    made = Window(context.new_page())

    def judge(route: Any) -> None:
        if urlsplit(route.request.url).hostname in HERE:
            route.continue_()
        else:
            made.reached_out.append(route.request.url)
            route.abort()

    context.route("**/*", judge)
    made.page.on("pageerror", lambda fault: made.complaints.append(str(fault)))
    made.page.on("console", lambda said: _hear(made, said))
    return context, made


def _hear(made: Window, said: Any) -> None:
    if said.type == "error" and "Content Security Policy" in said.text:
        made.complaints.append(said.text)


# ---------------- a server to look at


def free_port() -> int:
    """A port that nobody listens at."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


@contextmanager
def served(store: Any, folder: Path, **options: Any) -> Iterator[str]:
    """The bench of a notebook in a thread of this process; its address."""
    import uvicorn

    from ovalwright.web.app import bench

    port = free_port()
    config = uvicorn.Config(
        bench(store, folder=folder, **options), port=port, ws="none", log_config=None, access_log=False
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    _wait_for(port)
    try:
        yield f"http://localhost:{port}"
    finally:
        server.should_exit = True
        thread.join(10)


@contextmanager
def served_apart(notebook: Path, folder: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """The bench in a process of its own, which may be killed."""
    words = ["bench", "--notebook", str(notebook), "--port", str(port), "--no-browser"]
    process = subprocess.Popen(
        [sys.executable, "-m", "ovalwright", *words],
        env={**os.environ, "XDG_DATA_HOME": str(folder)},
        stdout=subprocess.DEVNULL,
    )
    try:
        _wait_for(port)
        yield process
    finally:
        process.kill()
        process.wait(10)


def _wait_for(port: int, patience: float = 30.0) -> None:
    until = time.monotonic() + patience
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), 0.2).close()
            return
        except OSError:
            time.sleep(0.02)
    raise TimeoutError(f"nobody listens at {port}")
