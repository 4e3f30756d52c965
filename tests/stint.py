"""Four corners that warm, driven by laps or parts of laps with given heat."""

from __future__ import annotations

from typing import Any

import numpy as np

from ovalwright.mechanics import heat

PSI, LB, INCH, HP = 6894.757293168, 0.45359237, 0.0254, 745.6998715822702
ZERO = 273.15
ALONE = 1e3
"""Capacity [J/K] of a node that is not to take part."""


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) / 1.8


def fahrenheit(kelvin: float | np.ndarray) -> Any:
    return np.asarray(kelvin) * 1.8 - 459.67


def bodies(**fields: Any) -> Any:
    """Four corners alike: the four-node tire of the hand calculation unless said otherwise."""
    made = np.zeros(4, heat.HEAT)
    standard = {
        "capacity": (4200, 9000, 135, 9500, ALONE, ALONE),
        "link": (90, 7, 5, 0, 0),
        "air": (28, 9, 0, 14, 0, 0),
        "road": 22,
        "sliding_share": 1.0,
        "carcass_share": 1.0,
        "best": kelvin(190),
        "wear_heat": 40.0,
    }
    for name, value in (standard | fields).items():
        made[name] = value
    return made


class Stint:
    """A car's four corners, carried on by laps or parts of laps."""

    def __init__(self, made: Any, *, air: float = 25 + ZERO, road: float = 40 + ZERO) -> None:
        self.bodies, self.air, self.road = made, air, road
        self.temperature = np.full((4, 6), air)
        self.used = np.zeros((4, 2))
        self.mean = np.zeros((4, 6))
        self.books = np.zeros((4, 4))

    def drive(self, step: Any, work: Any, speed: Any = heat.REFERENCE_SPEED) -> np.ndarray:
        """Tread temperatures (N, 4) along steps [s] with (N, 3) work, alike at each corner, or (N, 4, 3)."""
        step = np.atleast_1d(np.asarray(step, float))
        work = np.broadcast_to(work if np.ndim(work) == 3 else np.asarray(work)[:, None], (len(step), 4, 3))
        tread = np.zeros((len(step), 4))
        heat.heat_lap(
            self.bodies,
            self.air,
            self.road,
            step,
            np.broadcast_to(np.asarray(speed, float), step.shape).copy(),
            np.ascontiguousarray(work, float),
            self.temperature,
            self.used,
            tread,
            self.mean,
            self.books,
        )
        return tread

    @property
    def celsius(self) -> np.ndarray:
        return self.temperature[0] - ZERO


def half_laps(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Steps of half a second: 4.5 s of turn at 11 kW, 3.5 s of straight at 0.7 kW, 0.9 kW of rolling."""
    sliding = np.tile(np.r_[np.full(9, 11000.0), np.full(7, 700.0)], count)
    work = np.column_stack([sliding, np.full_like(sliding, 900.0), np.zeros_like(sliding)])
    return np.full(len(sliding), 0.5), work
