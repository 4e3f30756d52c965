"""`python -m ovalwright.compile`: compile the physics once, with progress; nothing to do when it is cached.

A first call of every question that the studies ask compiles what it needs and leaves it in the cache, whose
folder is named by a hash of the kernel's sources (see `compiled`): after an edit there is work again.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from importlib import resources

from ovalwright.compiled import cache_folder
from ovalwright.kept import WAY_OUT, closed_folder, drop_unused

DONE = "compiled.txt"
PIECES = 99
"""About so many functions are compiled in all."""
STOPPED = 130
"""Exit code of what was stopped by Ctrl-C."""


def is_compiled() -> bool:
    """Whether nothing is left to compile."""
    return (cache_folder() / DONE).exists()


def pieces() -> int:
    """How many functions are in the cache by now."""
    return sum(1 for _ in cache_folder().rglob("*.nbc"))


def make_ready(progress: Callable[[int, int], None]) -> None:
    """Compile what is not compiled yet, as long work. Raises ValueError where it cannot be kept."""
    began = time.perf_counter()
    try:
        closed_folder()
        steps = _steps()
        for done, (_, step) in enumerate(steps):
            progress(done, len(steps))
            step()
        _say_done(began)
    except OSError as problem:
        raise ValueError(_cannot_keep(problem)) from None


def _say_done(began: float) -> None:
    (cache_folder() / DONE).write_text(f"{time.perf_counter() - began:.1f} s\n", encoding="utf-8")
    drop_unused()


def _cannot_keep(problem: OSError) -> str:
    why = str(problem.strerror).removesuffix(f": {WAY_OUT}")
    return f"The compiled physics cannot be kept in {cache_folder()} ({why}): {WAY_OUT}."


def main() -> int:
    """Compile what is not compiled yet; returns the exit code."""
    try:
        closed_folder()
        if is_compiled():
            print("The physics is compiled already: nothing to do.")
        else:
            _compile_aloud()
    except OSError as problem:
        print(_cannot_keep(problem), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return STOPPED
    return 0


def _compile_aloud() -> None:
    print("Compiling the physics, once: a minute or two on an ordinary laptop.", flush=True)
    began = time.perf_counter()
    for name, step in _steps():
        print(f"  {name} ...", end="", flush=True)
        start = time.perf_counter()
        step()
        print(f" {time.perf_counter() - start:.0f} s", flush=True)
    _say_done(began)
    print(f"Compiled in {time.perf_counter() - began:.0f} s; from now on it is loaded.")


def _steps() -> list[tuple[str, Callable[[], object]]]:
    """What is compiled by being asked once, each with its name."""
    from ovalwright.documents import Conditions, assemble, load_track
    from ovalwright.pack import build, turn_jack_bolts
    from ovalwright.pack.grooves import groove
    from ovalwright.pack.track import ribbon_of
    from ovalwright.pictures.car_shape import car_plan, car_shape
    from ovalwright.study.contacts import as_fuel_burns
    from ovalwright.study.run import run
    from ovalwright.study.turn import Turn, moving_through, pulled_down, rising, turn

    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        assembly = assemble(folder / "setup_conventional.toml")
        track = load_track(folder / "track_three_eighths.toml")
    answers: list[Turn] = []

    def scales() -> None:
        turn_jack_bolts(build(assembly), {"LR": 0.25})

    def turning() -> None:
        answers.append(turn(build(assembly), track, Conditions()))

    def sweeping() -> None:
        tank = answers[0].tanks[0]
        moving_through(tank)
        rising(tank)
        pulled_down(tank)
        as_fuel_burns(tank.packed)

    def drawing() -> None:
        place = answers[0].tanks[0].places[1]
        assert place.carried is not None
        at = place.carried.contract
        car_shape(car_plan(place.packed), at.record, at.unknowns, at.motion)

    def lapping() -> None:
        ribbon = ribbon_of(track)
        driven = run(build(assembly), ribbon.line(groove(track, ribbon)), Conditions(), 1)
        found = driven.laps[0].solved
        assert found is not None and found.rules and found.events is not None

    return [
        ("the car on the scales", scales),
        ("the car in the turn", turning),
        ("what touches where", sweeping),
        ("the car as it is drawn", drawing),
        ("a lap and its heat", lapping),
    ]


if __name__ == "__main__":
    sys.exit(main())
