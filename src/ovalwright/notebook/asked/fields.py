"""What a run may be asked for by number: columns of the run, numbers of its setup, shares of its scale sheet.

The words are the racer's. A corner (`RR`) stands before what a corner has; without one, any corner counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ovalwright.corners import CORNERS

PER_TEN = "s per 10 laps"
Place = Literal["run", "setup", "sheet"]


@dataclass(frozen=True)
class Field:
    """A number that can be asked for.

    `place` is the table it stands in, `keys` the column of the run, the keys of the setup that may hold it,
    or the corners whose share of the weight it is. `kind` names its row in `ovalwright.units`; `said` is how
    it is repeated to the racer. `digits_of_unit` replaces the unit where the kind's own would mislead.
    """

    said: str
    place: Place
    keys: tuple[str, ...]
    kind: str
    unit: str = ""


def _run() -> Iterator[tuple[str, Field]]:
    def row(column: str, kind: str, *words: str, unit: str = "") -> Iterator[tuple[str, Field]]:
        field = Field(words[0], "run", (column,), kind, unit)
        yield from ((word, field) for word in words)

    yield from row("air", "temperature", "air", "air temperature", "air temp", "temperature", "temp")
    yield from row(
        "surface", "temperature", "surface", "surface temperature", "surface temp", "track temperature",
        "track temp", "road temperature", "road temp",
    )  # fmt: skip
    yield from row("best", "lap_time", "best", "best lap", "fastest", "fastest lap", "quickest lap")
    yield from row("middle", "lap_time", "middle lap", "median", "median lap", "middle")
    yield from row("fall_off", "lap_gain", "fall-off", "falloff", "fall off", "fade", unit=PER_TEN)
    yield from row("laps", "count", "laps")
    yield from row("green", "count", "green laps", "laps at speed")
    yield from row("fuel", "volume", "fuel", "fuel at the start")
    yield from row("fuel_left", "volume", "fuel left", "fuel at the end")
    yield from row("stagger", "growth", "stagger", "rear stagger")


def _car() -> Iterator[tuple[str, tuple[Field, ...]]]:
    """Numbers of a setup that stand once on a car; the first field is meant where no unit decides."""

    def row(keys: str, kind: str, *words: str) -> Iterator[tuple[str, tuple[Field, ...]]]:
        field = Field(words[0], "setup", tuple(keys.split()), kind)
        yield from ((word, (field,)) for word in words)

    size = Field("bar", "setup", ("bar.diameter",), "bar_size")
    rate = Field("bar rate", "setup", ("bar.rate",), "bar_rate")
    yield from (("bar", (size, rate)), ("sway bar", (size, rate)))
    yield from row("bar.diameter", "bar_size", "bar diameter", "bar size")
    yield from row("bar.rate", "bar_rate", "bar rate")
    yield from row("bar.preload", "rounds", "bar preload", "preload")
    yield from row("bar.arm", "bar_length", "bar arm")
    yield from row("toe_out", "toe", "toe-out", "toe out", "toe")
    yield from row("rear_lead", "shift", "rear lead")
    yield from row("final_drive", "ratio", "gear", "final drive", "ratio")
    yield from row("brake_front", "share", "front brake", "brake", "brakes", "brake share")
    yield from row("panhard.frame_height", "height", "panhard frame end", "panhard frame", "panhard")
    yield from row("panhard.axle_height", "height", "panhard axle end", "panhard axle")


def _sheet() -> Iterator[tuple[str, Field]]:
    for corners, words in (
        (("RF", "LR"), ("cross", "cross weight", "wedge")),
        (("LF", "LR"), ("left", "left side", "left weight", "left side weight")),
        (("LR", "RR"), ("rear", "rear weight")),
        (("LF", "RF"), ("nose", "nose weight", "front weight")),
    ):
        field = Field(f"{words[0]} on the scale sheet", "sheet", corners, "share")
        yield from ((word, field) for word in words)


_CORNER_WORDS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("coil.rate", "spring_rate", ("spring", "spring rate", "coil", "rate")),
    ("coil.gap", "gap", ("spring gap",)),
    ("coil.rubber", "stop_rate", ("spring rubber", "rubber")),
    ("coil.free_length", "coil_length", ("free length",)),
    ("tire.cold", "pressure", ("pressure", "cold pressure", "cold", "air pressure", "tire pressure")),
    ("tire.hot", "pressure", ("hot pressure", "hot")),
    ("tire.roll_out", "roll_out", ("roll-out", "rollout", "roll out")),
    ("camber", "camber", ("camber",)),
    ("caster", "caster", ("caster",)),
    ("turned", "rounds", ("jack bolt", "bolt", "rounds")),
    ("stop.packers bump_spring.packers", "gap", ("packers", "packer")),
    ("stop.gap bump_spring.gap", "gap", ("bump stop gap", "stop gap", "bump spring gap")),
    ("bump_spring.rate", "stop_rate", ("bump spring", "bump spring rate")),
    ("shock.gas_force", "force", ("gas force",)),
    ("shock.droop", "travel", ("droop",)),
)
_ALONE = ("spring", "pressure", "camber")
"""What a corner alone may mean (`RR over 300`), the unit decides: the first where there is none."""


def _corners() -> Iterator[tuple[str, tuple[Field, ...]]]:
    for keys, kind, words in _CORNER_WORDS:
        everywhere = tuple(f"{corner}.{key}" for corner in CORNERS for key in keys.split())
        for word in words:
            yield word, (Field(f"{words[0]} at any corner", "setup", everywhere, kind),)
            for corner in CORNERS:
                here = tuple(f"{corner}.{key}" for key in keys.split())
                yield f"{corner.lower()} {word}", (Field(f"{corner} {words[0]}", "setup", here, kind),)


def _all() -> dict[str, tuple[Field, ...]]:
    found: dict[str, tuple[Field, ...]] = {word: (field,) for word, field in (*_run(), *_sheet())}
    found.update((*_car(), *_corners()))
    for corner in CORNERS:
        found[corner.lower()] = tuple(found[f"{corner.lower()} {word}"][0] for word in _ALONE)
    return found


FIELDS: dict[str, tuple[Field, ...]] = _all()
"""Fields by the racer's word in lower case. Of several, the one is meant whose unit was typed."""
EXAMPLES = "air, best, fall-off, laps, fuel, stagger, RR spring, LF pressure, RF camber, gear, bar or cross"
