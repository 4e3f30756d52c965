"""How long a run of laps and a comparison of two setups take, against the same with nothing kept.

`python benchmarks/runs.py [draws]`: a 100-lap run of the demo car on its 3/8 mile on one core, beside the
same laps solved one by one from nothing; then two setups over 40 laps in draws of what is not known, on all
cores.
"""

from __future__ import annotations

import os
import sys
import time
from importlib import resources
from pathlib import Path

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove
from ovalwright.pack.track import ribbon_of
from ovalwright.study.against import against
from ovalwright.study.lap import lap
from ovalwright.study.run import run

LAPS, SHORT, REPEATS = 100, 40, 3
PEER_LAPS = 10
"""Laps of the peer that are timed and scaled."""


def best_of(times: int, work) -> float:  # type: ignore[no-untyped-def]
    """Least of several timings [s]: the one that other work on the machine disturbed least."""
    took = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return min(took)


def main(draws: int) -> None:
    """Measure and print."""
    day = Conditions()
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        base = with_fuel(build(assemble(Path(folder) / "setup_conventional.toml")), share=1.0)
        other = assemble(Path(folder) / "setup_giant_bar.toml")
        track = load_track(Path(folder) / "track_three_eighths.toml")
    ribbon = ribbon_of(track)
    line = ribbon.line(groove(track, ribbon, "middle"))
    run(base, line, day, 2)

    driven = run(base, line, day, LAPS)
    quick = best_of(REPEATS, lambda: run(base, line, day, LAPS))
    each = best_of(1, lambda: run(base, line, day, LAPS, each_lap=True))
    cars = [one.solved.packed for one in driven.laps if one.solved][:PEER_LAPS]
    cold = best_of(1, lambda: [lap(car, line, day) for car in cars]) / len(cars) * LAPS
    print(f"run of {LAPS} laps: {quick:.2f} s")
    print(f"every lap solved: {each:.2f} s ({each / quick:.1f} times as long)")
    print(f"every lap solved from nothing: {cold:.2f} s ({cold / quick:.1f} times as long)")

    began = time.perf_counter()
    found = against(base, other, line, track, day, SHORT, draws=draws)
    took = time.perf_counter() - began
    print(
        f"A against B, {SHORT} laps, {found.draws} draws each on {os.cpu_count()} cores: {took:.0f} s, "
        f"{found.failed} draws without an answer"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
