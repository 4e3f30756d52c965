"""Two setups side by side: compare."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from ovalwright.cli.contract import told
from ovalwright.cli.door import Trouble
from ovalwright.cli.options import InTurn
from ovalwright.cli.screen import Screen, plus
from ovalwright.cli.turning import START_SLOW
from ovalwright.cli.typed import beside, in_turn
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly
from ovalwright.pack import build
from ovalwright.study.bands import FEWEST, Band
from ovalwright.study.compare import Change, Comparison, OnTheScales, Row
from ovalwright.study.compare import compare as compare_study
from ovalwright.study.reading import Reading
from ovalwright.study.turn import NO_TRANSIENT


def compare(screen: Screen, asked: InTurn, other: Path, *, draws: int, more: bool) -> None:
    """Two setups at one speed, as bolted in and re-set, with the band of the difference."""
    check_draws(draws)
    car = in_turn(screen, asked)
    base, second = car.assembly, beside(car.assembly, other)
    with screen.progress("comparing, draws") as tell:
        answer = compare_study(
            build(base), second, car.oval, car.day, draws=draws, end=car.end, progress=tell
        )
    screen.title(f"{base.setup.name} (A) against {second.setup.name} (B)")
    screen.say(f"{car.where}; one speed, 2 % under the lower limit.")
    screen.say()
    on_the_scales(screen, answer)
    verdicts(screen, base, answer)
    for row in answer.rows:
        if more or (row.station == "middle" and row.fuel_share == answer.rows[0].fuel_share):
            in_full(screen, base, row)
    if not more:
        screen.note("--more shows the loads at every place and fuel.")
    _compare_notes(screen, base, answer)
    screen.end("compare", {"answer": told(answer)})


def check_draws(draws: int) -> None:
    """Raises Trouble when there are some draws, but too few for any band."""
    if 0 < draws < FEWEST:
        raise Trouble(f"--draws: {draws} draws make no band; write 0 for none, or 16 and more")


def on_the_scales(screen: Screen, answer: Comparison) -> None:
    """Both setups on the scales, as bolted in and re-set."""
    columns = [answer.base_scales, answer.bolted_scales, answer.reset_scales]

    def row(name: str, read: Callable[[OnTheScales], float], kind: str) -> tuple[str, ...]:
        return (name, *(screen.show(read(one), kind) if one else "" for one in columns))

    rows = [row("cross", lambda one: one.cross, "percent")]
    rows += [row(f"{name} load", partial(_of, "loads", i), "force") for i, name in enumerate(CORNERS)]
    rows += [row(f"{name} height", partial(_of, "heights", i), "height") for i, name in enumerate(CORNERS)]
    head = ("on the scales", "A", "B bolted in", "B re-set")
    screen.table(rows, head=head if answer.reset_applies else head[:3])


def _of(name: str, i: int, held: object) -> float:
    """One corner of an array by its name."""
    return float(getattr(held, name)[i])


def verdicts(screen: Screen, base: Assembly, answer: Comparison) -> None:
    """Tighter or looser at each place and fuel, as bolted in and re-set, with the band it rests on."""
    for title, pick in (("As bolted in", _bolted), ("Re-set to A's heights and cross", _reset)):
        rows = []
        for row in answer.rows:
            change = pick(row)
            if change is not None:
                rows.append(_verdict(screen, base, row, change))
        if not rows:
            continue
        screen.say()
        head = ("", "cross", "balance", "95 % band", "wedge", "B is")
        screen.table(rows, head=head, title=title)


def _bolted(row: Row) -> Change | None:
    return row.bolted_change


def _reset(row: Row) -> Change | None:
    return row.reset_change


def _verdict(screen: Screen, base: Assembly, row: Row, change: Change) -> tuple[str, ...]:
    balance = change.numbers["balance"]
    return (
        f"{row.station}, {_fuel(screen, base, row)}",
        signed(change.numbers["cross"].value, "%"),
        signed(balance.value, "%"),
        f"{signed(balance.low)} to {signed(balance.high, '%')}" if math.isfinite(balance.low) else "no band",
        signed(change.wedge.value, "%"),
        change.verdict,
    )


def signed(share: float, unit: str = "") -> str:
    """A share as a signed percent; what rounds to nothing has no sign."""
    return plus(f"{100 * share:.1f} {unit}".strip()) if math.isfinite(share) else "-"


def _fuel(screen: Screen, base: Assembly, row: Row) -> str:
    return screen.show(row.fuel / base.car.fuel_cell.density.si, "volume")


def in_full(screen: Screen, base: Assembly, row: Row) -> None:
    """One place and fuel: the loads of A and of B, and what changed."""

    def force(value: float) -> str:
        return screen.show(value, "force")

    rows = []
    for i, name in enumerate(CORNERS):
        rows.append((f"{name} load", *_cells(row, f"{name} load", partial(_of, "loads", i), force)))
    rows += [
        ("cross", *_cells(row, "cross", lambda one: one.cross, lambda value: screen.show(value, "percent"))),
        ("bite", *_cells(row, "bite", lambda one: one.bite, force)),
        ("limit", *_cells(row, "limit", lambda one: one.limit, lambda value: screen.show(value, "speed"))),
        *(_gaps(screen, row, i) for i in range(4)),
    ]
    screen.say()
    screen.table(
        rows,
        head=("", "A", "B bolted in", "change", "B re-set", "change"),
        title=f"{row.station.capitalize()}, {_fuel(screen, base, row)}, {screen.show(row.speed, 'speed')}",
    )


def _gaps(screen: Screen, row: Row, i: int) -> tuple[str, ...]:
    """A coil's state in both cars."""

    def state(reading: Reading | None) -> str:
        gap = float(reading.gaps[i]) if reading else math.nan
        if not math.isfinite(gap):
            return "no coil" if reading else "-"
        return f"hangs {screen.show(gap, 'coil_length')}" if gap > 0.0 else "seated"

    return (f"{CORNERS[i]} coil", state(row.base), state(row.bolted), "", state(row.reset), "")


def _cells(
    row: Row, name: str, read: Callable[[Reading], float], show: Callable[[float], str]
) -> Iterator[str]:
    yield show(read(row.base)) if row.base else "-"
    for reading, change in ((row.bolted, row.bolted_change), (row.reset, row.reset_change)):
        yield show(read(reading)) if reading else "-"
        yield difference(change.numbers[name], show) if change else "-"


def difference(band: Band, show: Callable[[float], str]) -> str:
    """A change, with its band where there is one."""
    if not math.isfinite(band.value):
        return "-"
    text = plus(show(band.value))
    if not math.isfinite(band.low):
        return text
    half = show(0.5 * (band.high - band.low)).split(" ")[0]
    number, _, unit = text.partition(" ")
    return f"{number} +/-{half} {unit}"


def _compare_notes(screen: Screen, base: Assembly, answer: Comparison) -> None:
    if answer.draws:
        solved = answer.draws - answer.failed
        screen.note(f"Bands are 95 %, from {solved} of {answer.draws} draws of what is not exactly known.")
    else:
        screen.note("No bands were asked for (--draws 64): a small difference may be no difference.")
    if not answer.reset_applies:
        screen.note("Re-set is not applicable: the change itself sets height, cross or preload.")
    screen.note(
        "Balance is the yaw moment left at the limit, of static weight x wheelbase: minus is tighter; wedge "
        f"is the static cross that would do as much. Entry and exit are with {NO_TRANSIENT}."
    )
    screen.note(START_SLOW)
    screen.notes([*answer.notes, *base.warnings])
