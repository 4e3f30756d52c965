"""How quick the bench is: from thumb to paint, its first page, what its pages weigh, twenty phones at once.

Run as `python benchmarks/bench.py [slider] [first] [weights] [phones] [--phones 20] [--seconds 20]`, all when
nothing is named. The demo's season, this machine alone, Debian's Chromium. Beside each figure stands how busy
the machine was (processes that want a processor, its own among them), and the processor time of the server,
which a busy machine changes less than the time on the clock.
"""

from __future__ import annotations

import argparse
import csv
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from browser import FLAGS, LAPTOP, PHONE, chromium_path, free_port, served_apart  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

from ovalwright.notebook import season  # noqa: E402
from ovalwright.notebook.store import Store  # noqa: E402
from ovalwright.web.places import PLACES  # noqa: E402
from ovalwright.web.routes import ROUTES  # noqa: E402

MOVES, SKIPPED = 160, 20
"""Moves of a slider, and how many of the first are not counted."""
WATCH = """id => {
  window.taken = [];
  const slider = document.getElementById(id);
  slider.addEventListener("input", (event) => {
    const seen = new MutationObserver(() => {
      seen.disconnect();
      requestAnimationFrame(() => {
        const painted = new MessageChannel();
        painted.port1.onmessage = () => window.taken.push(performance.now() - event.timeStamp);
        painted.port2.postMessage(0);
      });
    });
    seen.observe(document.getElementById("now"), { childList: true, subtree: true });
  }, true);
  slider.value = slider.max / 2;
  slider.focus();
}"""
WEIGHT = """() => ["navigation", "resource"].flatMap((kind) => performance.getEntriesByType(kind))
  .reduce((sum, one) => sum + one.transferSize, 0)"""


def slider(notebook: Path, folder: Path) -> None:
    """Input event to the frame after the new loads, by keys on a real slider, on laptop and phone."""
    with _open(notebook, folder) as (address, process), _browser() as browser:
        for size, name in ((LAPTOP, "laptop"), (PHONE, "phone")):
            page = browser.new_context(viewport={"width": size[0], "height": size[1]}).new_page()
            for which in ("fuel", "at"):
                page.goto(f"{address}/turn")
                page.wait_for_load_state("networkidle")
                page.evaluate(WATCH, which)
                for number in range(MOVES):
                    page.keyboard.press("ArrowLeft" if (number // 20) % 2 == 0 else "ArrowRight")
                    _wait_for_paint(page, number + 1)
                taken = page.evaluate("window.taken")[SKIPPED:]
                _say(f"slider {which}, {name}", taken)
        print(f"server at most {_peak(process.pid):.0f} MB; {_load()}")


def _wait_for_paint(page: Any, count: int) -> None:
    until = time.monotonic() + 10.0
    while page.evaluate("window.taken.length") < count:
        if time.monotonic() > until:
            raise TimeoutError(f"move {count} was never painted")


def first(notebook: Path, folder: Path) -> None:
    """From starting the command to the first page, and the first turn, read to its end."""
    taken: dict[str, list[float]] = {"/week": [], "/turn": []}
    for path, times in taken.items():
        worked: list[float] = []
        for _ in range(3):
            port, began = free_port(), time.perf_counter()
            with served_apart(notebook, folder, port) as process:
                urllib.request.urlopen(f"http://localhost:{port}{path}").read()
                times.append(1000.0 * (time.perf_counter() - began))
                worked.append(_worked(process.pid))
        _say(f"first {path} of a new server, processor {min(worked):.0f} ms", times)


def weights(notebook: Path, folder: Path) -> None:
    """What each page makes a browser with an empty cache fetch."""
    with _open(notebook, folder) as (address, _), _browser() as browser:
        for place in PLACES:
            if any(route.path == place.path for route in ROUTES):
                page = browser.new_context().new_page()
                page.goto(address + place.path)
                page.wait_for_timeout(2000)
                print(f"{place.path:12} {page.evaluate(WEIGHT) / 1000:7.1f} kB")
                page.context.close()


def phones(notebook: Path, folder: Path, count: int, seconds: int) -> None:
    """So many phones, each moving a slider five times a second."""
    with _open(notebook, folder) as (address, process):
        urllib.request.urlopen(f"{address}/turn").read()
        before, worked = _resident(process.pid), _worked(process.pid)
        subprocess.run(
            [
                sys.executable, "-m", "locust", "-f", str(ROOT / "benchmarks" / "phones.py"), "--headless",
                "-u", str(count), "-r", "10", "-t", f"{seconds}s", "-H", address,
                "--csv", str(folder / "phones"), "--only-summary", "--loglevel", "ERROR",
            ],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False,
        )  # fmt: skip
        worked = _worked(process.pid) - worked
        with (folder / "phones_stats.csv").open() as file:
            move = next((row for row in csv.DictReader(file) if row["Name"] == "a move"), None)
        if move is None:
            print(f"{count} phones: no move was answered in {seconds} s")
            return
        print(
            f"{count} phones: {move['Request Count']} moves, {float(move['Requests/s']):.0f} a second, "
            f"{move['Failure Count']} failed, median {move['50%']} ms, p95 {move['95%']} ms, "
            f"processor {worked / int(move['Request Count']):.1f} ms a move; memory {before:.0f} MB before, "
            f"{_resident(process.pid):.0f} after, at most {_peak(process.pid):.0f}; {_load()}"
        )


@contextmanager
def _open(notebook: Path, folder: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    port = free_port()
    with served_apart(notebook, folder, port) as process:
        yield f"http://localhost:{port}", process


@contextmanager
def _browser() -> Iterator[Any]:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=list(FLAGS))
        yield browser
        browser.close()


def _say(what: str, taken: list[float]) -> None:
    ordered = sorted(taken)
    last = ordered[min(round(0.95 * len(ordered)), len(ordered) - 1)]
    print(
        f"{what}: median {statistics.median(ordered):.1f} ms, p95 {last:.1f} ms, of {len(ordered)}; {_load()}"
    )


def _load() -> str:
    return f"load {os.getloadavg()[0]:.1f}"


def _worked(pid: int) -> float:
    """Processor time of a process so far [ms]."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return 1000.0 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _status(pid: int, key: str) -> float:
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith(key):
            return int(line.split()[1]) / 1024.0
    return 0.0


def _resident(pid: int) -> float:
    return _status(pid, "VmRSS")


def _peak(pid: int) -> float:
    return _status(pid, "VmHWM")


def main() -> None:
    """Everything that was named, or all of it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", nargs="*", choices=["slider", "first", "weights", "phones", []])
    asked.add_argument("--phones", type=int, default=20)
    asked.add_argument("--seconds", type=int, default=20)
    told = asked.parse_args()
    wanted = told.what or ["first", "weights", "slider", "phones"]
    print(f"{os.cpu_count()} cores, {_load()} before")
    with tempfile.TemporaryDirectory() as place:
        folder, notebook = Path(place), Path(place) / "season.sqlite"
        with Store.open(notebook, by=season.OWNER) as store:
            season.enter(store)
        for what in wanted:
            if what == "phones":
                phones(notebook, folder, told.phones, told.seconds)
            else:
                {"slider": slider, "first": first, "weights": weights}[what](notebook, folder)


if __name__ == "__main__":
    main()
