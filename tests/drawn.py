"""An invented lap, run and oval to draw, and how a drawing is read back. Invented data only."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from ovalwright.pictures.lap import LapTrace
from ovalwright.pictures.run import RunTrace

STRAIGHT, RADIUS = 130.0, 54.6
LENGTH = 2 * STRAIGHT + 2 * np.pi * RADIUS


def oval(stations: int = 200, out: float = 0.0) -> np.ndarray:
    """Points (stations, 2) [m] of a line `out` meters outside two straights and two half circles.

    It starts in the middle of the front straight and turns left.
    """
    along = np.arange(stations) * LENGTH / stations + STRAIGHT / 2
    lap = along % LENGTH
    half = lap % (LENGTH / 2)
    angle = np.clip((half - STRAIGHT) / RADIUS, 0.0, None)
    x = np.minimum(half, STRAIGHT) - STRAIGHT / 2 + (RADIUS + out) * np.sin(angle)
    y = -(RADIUS + out) * np.cos(angle)
    side = np.where(lap < LENGTH / 2, 1.0, -1.0)
    return np.column_stack([side * x, side * y])


def sections() -> tuple[tuple[str, float, float], ...]:
    """Sections of that oval [m]; the front straight runs over the start line."""
    half, turn = STRAIGHT / 2, np.pi * RADIUS
    return (
        ("front straight", LENGTH - half, half),
        ("turns 1 and 2", half, half + turn),
        ("back straight", half + turn, half + turn + STRAIGHT),
        ("turns 3 and 4", half + turn + STRAIGHT, LENGTH - half),
    )


def rules(stations: int = 200) -> list[str]:
    """What sets the speed at each station."""
    ends = (
        (0.15, "power"),
        (0.19, "lifting"),
        (0.30, "brakes"),
        (0.34, "front and rear tires together"),
        (0.58, "front tires"),
        (0.75, "rear tires"),
        (1.01, "power"),
    )
    return [
        next(word for end, word in ends if at < end) for at in (2.0 * np.arange(stations) / stations) % 1.0
    ]


def lap(name: str = "A", slower: float = 0.0, stations: int = 200) -> LapTrace:
    """A lap of 71 to 93 mph, less `slower` [mph]; the LR is nearly off the ground."""
    around = 4.0 * np.pi * np.arange(stations) / stations
    corner = np.clip(0.5 - 0.75 * np.cos(around), 0.0, 1.0)
    pounds = np.array([[700.0, -380.0], [650.0, 560.0], [760.0, -740.0], [690.0, 250.0]])
    return LapTrace(
        name=name,
        distance=np.arange(stations) * LENGTH / stations,
        length=float(LENGTH),
        speed=(82.0 + 11.0 * np.cos(around - 0.35) - slower) * 0.44704,
        loads=(pounds[:, :1] + pounds[:, 1:] * corner).T * 4.4482216152605,
        lateral=1.5 * 9.80665 * corner,
        rules=rules(stations),
        events=(
            (80.0, "RF stop engages"),
            (95.0, "LR coil hangs"),
            (112.0, "tail touches"),
            (575.0, "LR coil picks up"),
        ),
        sections=sections(),
    )


def run(name: str = "A", away: float = 0.3, laps: int = 40) -> RunTrace:
    """A run that loses `away` seconds in 40 laps, four laps of it under yellow."""
    lap = np.arange(laps)
    yellow = (lap >= 17) & (lap < 21)
    time = np.where(yellow, 31.0, 15.6 + away * (lap / 40) ** 2)
    tread = np.array([340.0, 365.0, 345.0, 372.0]) - 40.0 * np.exp(-lap / 4)[:, None]
    return RunTrace(name, time, time - 0.05, time + 0.05, tuple(map(bool, yellow)), 27, tread)


def layers(spec: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every single drawing in a description, from the first to the last."""
    for part in spec.get("vconcat", spec.get("layer", ())):
        yield from layers(part)
    if "mark" in spec:
        yield spec


def words(spec: dict[str, Any]) -> list[str]:
    """Every word of a description, lines of one text joined."""
    values = [
        row for layer in layers(spec) if layer["mark"]["type"] == "text" for row in layer["data"]["values"]
    ]
    return [spec["title"]["text"], *(row["text"].replace("\n", " ") for row in values)]
