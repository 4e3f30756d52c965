"""Driven lines of a point mass in plain arrays, and the cars that are known on the three ovals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ovalwright.solve.envelope import point_mass

CARS = {
    "A": {"mass": 1300.0, "friction": 1.10, "power": 300e3, "drag_area": 0.75},
    "B": {"mass": 1300.0, "friction": 1.15, "power": 330e3, "drag_area": 0.80},
    "C": {"mass": 1250.0, "friction": 1.00, "power": 180e3, "drag_area": 0.70},
}


@dataclass(frozen=True)
class Way:
    """A driven line as a sweep reads it."""

    step: np.ndarray
    curvature: np.ndarray
    bank: np.ndarray
    grade: np.ndarray
    crest: np.ndarray


def car(name, **changes):
    """The point mass of an oval, one of its figures multiplied perhaps."""
    figures = CARS[name]
    return point_mass(**figures | {key: figures[key] * factor for key, factor in changes.items()})


def way(step, curvature, *, bank=0.0, grade=0.0, crest=0.0):
    """A line from arrays or numbers."""
    step = np.asarray(step, dtype=float)
    fields = (curvature, bank, grade, crest)
    return Way(step, *(np.broadcast_to(np.asarray(one, float), step.shape) for one in fields))


def stadium(radius, straight, spacing):
    """Two straights and two half circles; a place where both meet is met twice, with no length between."""
    steps, bends = [], []
    for length, bend in [(straight, 0.0), (np.pi * radius, 1.0 / radius)] * 2:
        count = int(np.ceil(length / spacing))
        steps += [length / count] * count + [1e-9]
        bends += [bend] * (count + 1)
    return way(steps, bends)


def circle(radius, *, count=40, **road):
    """A closed circle."""
    return way(np.full(count, 2.0 * np.pi * radius / count), 1.0 / radius, **road)


def stretch(length, first, last, spacing, **road):
    """An open line whose curvature goes evenly from first to last; its last station ends it."""
    count = int(np.ceil(length / spacing))
    return way(np.full(count + 1, length / count), np.linspace(first, last, count + 1), **road)
