"""What was typed of a run: how many laps, which under yellow, what is done at a stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import Screen
from ovalwright.cli.typed import beside, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly
from ovalwright.study.run import Stop, Stretch

STOP_EXAMPLE = '--stop "20: tires RF RR, fuel 22 gal, setup other.toml, time 90 s"'


def planned(
    screen: Screen, base: Assembly, laps: int, yellow: Sequence[str], stops: Sequence[str]
) -> tuple[Stretch, ...]:
    """The stretches of a run of so many laps. Raises Trouble, or DocumentError for a setup of a stop."""
    slow = {lap for text in yellow for lap in _laps_of(text, laps)}
    done: dict[int, Stop] = {}
    for text in stops:
        after, stop = _stop(screen, base, text, laps)
        if after in done:
            raise Trouble(f"--stop: two stops after lap {after}; write what is done there in one")
        done[after] = stop
    runs = groupby(range(1, laps + 1), key=lambda lap: (lap in slow, sum(after < lap for after in done)))
    stretches = []
    for (is_slow, _), of in runs:
        numbers = list(of)
        stretches.append(Stretch(len(numbers), "yellow" if is_slow else "green", done.get(numbers[0] - 1)))
    if len(slow) == laps:
        raise Trouble("--yellow: every lap is under yellow; a run needs a green one")
    return tuple(stretches)


def _laps_of(text: str, laps: int) -> range:
    """`12-16` or `12` as lap numbers. Raises Trouble."""
    first, _, last = (part.strip() for part in text.partition("-"))
    last = last or first
    if not (first.isdecimal() and last.isdecimal() and 1 <= int(first) <= int(last) <= laps):
        raise Trouble(f'--yellow: "{text[:20]}" is no stretch of laps 1 to {laps}; write such as 12-16')
    return range(int(first), int(last) + 1)


def _stop(screen: Screen, base: Assembly, text: str, laps: int) -> tuple[int, Stop]:
    """The lap after which a stop is made, and what is done. Raises Trouble."""
    after, sign, tasks = text.partition(":")
    if not (sign and after.strip().isdecimal() and 1 <= int(after) < laps):
        raise Trouble(f'--stop: "{text[:40]}" names no lap from 1 to {laps - 1}; write {STOP_EXAMPLE}')
    stop = Stop()
    for task in filter(None, (one.strip() for one in tasks.split(","))):
        what, _, amount = task.partition(" ")
        amount = amount.strip()
        if what == "tires":
            stop = replace(stop, tires=_tires(amount))
        elif what == "fuel":
            stop = replace(stop, fuel=_fuel(screen, base, amount))
        elif what == "setup":
            stop = replace(stop, setup=beside(base, Path(amount)))
        elif what == "time":
            stop = replace(stop, seconds=quantity(amount, "time", "--stop, time"))
        else:
            raise Trouble(f'--stop: "{task[:40]}" is nothing done at a stop; write {STOP_EXAMPLE}')
    return int(after), stop


def _tires(text: str) -> tuple[str, ...]:
    """`RF RR` or `all`. Raises Trouble."""
    named = tuple(text.upper().split())
    if named == ("ALL",):
        return CORNERS
    if not named or not set(named) <= set(CORNERS):
        raise Trouble(f'--stop, tires: "{text[:30]}" names no tires; write such as RF RR, or all')
    return named


def _fuel(screen: Screen, base: Assembly, text: str) -> float:
    """What the cell holds after the stop [kg]. Raises Trouble."""
    cell, volume = base.car.fuel_cell, quantity(text, "volume", "--stop, fuel")
    if volume > cell.capacity.si:
        raise Trouble(
            f"--stop, fuel: {text[:30]} does not go into a cell of "
            f"{screen.show(cell.capacity.si, 'volume')}; write what is in it after the stop"
        )
    return volume * cell.density.si
