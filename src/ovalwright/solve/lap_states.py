"""The car at every station of a solved lap, and how its tires slip away beyond an edge."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.answer import read_corners
from ..vehicle.record import CORNER, SIZE, Record
from .caps import mixed, same_road
from .edge import AT_SPEED, FUEL_SIDE, KIND, RIGHT, SLOSH, TIE, place, steady
from .limit import SCALE
from .newton import CONVERGED
from .trim import trim_from

Array = Any


@compiled
def read_lap(
    roads: Array,
    energy: Array,
    along: Array,
    settled: Array,
    car: Record,
    slosh: Array,
    rows: Array,
    motions: Array,
    states: Array,
    corners: Array,
    work: Array,
) -> int:
    """The car at every station of a lap with all of its grip: motions, states (N, 14) and corners (N, 4).

    Returns -1, or the station without a trim.
    """
    tie = np.zeros(TIE)
    tie[KIND], tie[SLOSH], tie[FUEL_SIDE] = AT_SPEED, slosh[0], slosh[1]
    for i in range(len(roads)):
        motion = motions[i]
        mixed(motion, roads[i], roads[i], 0.0)
        motion.gravity, motion.air_density, motion.grip = (
            roads[i].gravity,
            roads[i].air_density,
            roads[i].grip,
        )
        motion.acceleration = along[i]
        place(math.sqrt(2.0 * energy[i]), tie, car, motion)
        u = states[i]
        if (
            i > 0
            and abs(energy[i] - energy[i - 1]) < 1e-12 * energy[i]
            and abs(along[i] - along[i - 1]) < 1e-12
            and same_road(roads[i - 1], roads[i])
        ):
            u[:], corners[i] = states[i - 1], corners[i - 1]
            continue
        u[:] = rows[i, :SIZE]
        if trim_from(u, car, motion, work)[0] != CONVERGED:
            u[:] = states[i - 1]
            if trim_from(u, car, motion, work)[0] != CONVERGED and (
                steady(u, settled, car, motion, work) != CONVERGED
            ):
                return i
        read_corners(u, car, motion, corners[i])
    return -1


@compiled
def slip_growth_of(row: Array, car: Record, motion: Record, growth: Array) -> None:
    """How the slip angles and slips of the four tires, over those at their peaks, grow beyond an edge: (4,
    2).
    """
    one, other = np.zeros(4, CORNER), np.zeros(4, CORNER)
    u = row[:SIZE].copy()
    read_corners(u, car, motion, one)
    for k in range(SIZE):
        u[k] += 1e-4 * row[RIGHT][k] * SCALE[k]
    read_corners(u, car, motion, other)
    for i in range(4):
        growth[i, 0] = (other[i].slip_angle - one[i].slip_angle) / one[i].peak_slip_angle
        growth[i, 1] = (other[i].slip - one[i].slip) / one[i].peak_slip
