"""The most speed a car can hold at each station of a line: the edge at no acceleration, marched from station
to station.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.record import Record
from .edge import AT, AT_SPEED, BEYOND, KIND, ROW, edge_near, reach
from .limit import fastest_guess
from .newton import CONVERGED
from .trim import WRONG_BRANCH

Array = Any

GRIP, BRAKE_SHARE, DRIVE_SHARE, BRAKE_FORCE, REV_SPIN, TOP, CAREFUL = range(7)
"""Entries of the limits of car and driver: share of grip used, of the braking and of the driving edge; the
most force the brakes hold [N]; axle speed of the rev limit [rad/s]; speed [m/s] above which no cap is
sought; 1: every edge from a trim of its own, slower and surer.
"""
MIXES = 5
"""A march from one station to the next is halved this often at the most."""
ANOTHER = 0.01
"""An edge that lies farther than this share from where a march expects it is another one."""
SHARP = 1e-3
"""Curvature [1/m] below which a road has no turn."""
CLEAR = 1.15
"""A station is looked at when a point mass would be slower there than this share of the top speed."""


@compiled
def mixed(to: Record, one: Record, other: Record, share: float) -> None:
    """The road a share of the way from one station to the next."""
    to.curvature = one.curvature + share * (other.curvature - one.curvature)
    to.curvature_rate = one.curvature_rate + share * (other.curvature_rate - one.curvature_rate)
    to.bank = one.bank + share * (other.bank - one.bank)
    to.bank_rate = one.bank_rate + share * (other.bank_rate - one.bank_rate)
    to.bank_bend = one.bank_bend + share * (other.bank_bend - one.bank_bend)
    to.grade = one.grade + share * (other.grade - one.grade)
    to.crest = one.crest + share * (other.crest - one.crest)


@compiled
def _march(
    row: Array, one: Record, other: Record, tie: Array, car: Record, motion: Record, work: Array
) -> int:
    """From the cap at one station to the cap at another, in as many steps as it takes; `row` follows."""
    ahead = np.empty(ROW)
    at, step = 0.0, 1.0
    for _ in range(2**MIXES):
        mixed(motion, one, other, at)
        before = fastest_guess(car, motion)
        mixed(motion, one, other, min(at + step, 1.0))
        guess = row[AT] * fastest_guess(car, motion) / before
        ahead[:] = row
        status, _ = edge_near(ahead, guess, 1.0, tie, car, motion, work)
        if status == CONVERGED and abs(ahead[AT] - guess) > ANOTHER * guess:
            status = WRONG_BRANCH
        if status == CONVERGED:
            row[:] = ahead
            at += step
            if at >= 1.0:
                return status
        else:
            step *= 0.5
            if step < 0.5**MIXES:
                return status
    return status


@compiled
def same_road(one: Record, other: Record) -> bool:
    """Whether two stations lie on a stretch of one curvature, bank and grade."""
    small = 1e-12
    return bool(
        abs(one.curvature - other.curvature) < small
        and abs(one.curvature_rate - other.curvature_rate) < small
        and abs(one.bank - other.bank) < small
        and abs(one.bank_rate - other.bank_rate) < small
        and abs(one.bank_bend - other.bank_bend) < small
        and abs(one.grade - other.grade) < small
        and abs(one.crest - other.crest) < small
    )


@compiled
def _look(
    station: int,
    guess: float,
    roads: Array,
    settled: Array,
    car: Record,
    limits: Array,
    tie: Array,
    caps: Array,
    motion: Record,
    work: Array,
) -> int:
    """Seek the cap of one station from trims at shares of a guessed speed; returns the status of `reach`."""
    status = -1
    for inside in (0.6, 0.8, 0.9, 0.45, 0.95):
        motion.acceleration = 0.0
        status, _ = reach(caps[station], inside * guess, CLEAR * limits[TOP], settled, tie, car, motion, work)
        if status in (CONVERGED, BEYOND):
            return status
    return status


@compiled
def _spread(
    first: int,
    roads: Array,
    settled: Array,
    car: Record,
    limits: Array,
    tie: Array,
    caps: Array,
    energy: Array,
    done: Array,
    motion: Record,
    work: Array,
) -> None:
    """From the cap of one station to those beside it, both ways, as far as they matter; where the march loses
    it, as where a wheel lifts, it is sought anew.
    """
    count = len(roads)
    for way in (1, -1):
        here = first
        while True:
            there = (here + way) % count
            if done[there]:
                break
            caps[there] = caps[here]
            motion.acceleration = 0.0
            if not same_road(roads[here], roads[there]) and (
                _march(caps[there], roads[here], roads[there], tie, car, motion, work) != CONVERGED
            ):
                mixed(motion, roads[there], roads[there], 0.0)
                guess = caps[here, AT]
                if _look(there, guess, roads, settled, car, limits, tie, caps, motion, work) != CONVERGED:
                    caps[there] = 0.0
                    break
            done[there] = True
            if caps[there, AT] > CLEAR * limits[TOP]:
                break
            energy[there] = 0.5 * caps[there, AT] ** 2
            here = there


@compiled
def _sharpest(i: int, roads: Array) -> bool:
    """Whether a station begins the sharpest part of a turn: where a careful search looks for a cap though a
    point mass would be fast enough, for a frame on the road may make one.
    """
    here = abs(roads[i].curvature)
    ahead = abs(roads[(i + 1) % len(roads)].curvature)
    return bool(here > SHARP and here >= ahead and here > abs(roads[i - 1].curvature) * (1.0 + 1e-9))


@compiled
def find_caps(
    roads: Array,
    settled: Array,
    car: Record,
    limits: Array,
    tie: Array,
    caps: Array,
    energy: Array,
    spare: Array,
    work: Array,
) -> int:
    """Speed energy [m^2/s^2] of the most speed that can be held at each station, infinite where the car is
    faster than `limits[TOP]`, into `energy`; their edges into `caps`. Returns -1, or the station without
    an answer.
    """
    count = len(roads)
    motion = spare[0]
    turning = np.zeros(count, np.bool_)
    guess = np.zeros(count)
    for i in range(count):
        guess[i] = 1e6
        if abs(roads[i].curvature) > 1e-6:
            spare[0] = roads[i]
            motion.grip *= limits[GRIP]
            guess[i] = fastest_guess(car, motion)
        turning[i] = guess[i] < CLEAR * limits[TOP]
        energy[i] = np.inf
    tie[KIND] = AT_SPEED
    done = np.zeros(count, np.bool_)
    for i in range(count):
        if caps[i, AT] > 0.0:
            if i > 0 and done[i - 1] and same_road(roads[i - 1], roads[i]):
                caps[i], energy[i], done[i] = caps[i - 1], energy[i - 1], True
                continue
            spare[0] = roads[i]
            motion.grip *= limits[GRIP]
            motion.acceleration = 0.0
            done[i] = edge_near(caps[i], caps[i, AT], 1.0, tie, car, motion, work)[0] == CONVERGED
            if done[i] and caps[i, AT] < CLEAR * limits[TOP]:
                energy[i] = 0.5 * caps[i, AT] ** 2
    while True:
        first = -1
        for i in range(count):
            if turning[i] and not done[i] and (first < 0 or guess[i] < guess[first]):
                first = i
        if first < 0:
            break
        spare[0] = roads[first]
        motion.grip *= limits[GRIP]
        done[first] = True
        status = _look(first, guess[first], roads, settled, car, limits, tie, caps, motion, work)
        if status == CONVERGED:
            energy[first] = 0.5 * caps[first, AT] ** 2
            _spread(first, roads, settled, car, limits, tie, caps, energy, done, motion, work)
        elif status == BEYOND or guess[first] > limits[TOP]:
            caps[first, AT] = 0.0
        else:
            return first
    for i in range(count):
        if limits[CAREFUL] < 0.5 or done[i] or not _sharpest(i, roads):
            continue
        spare[0] = roads[i]
        motion.grip *= limits[GRIP]
        if _look(i, limits[TOP], roads, settled, car, limits, tie, caps, motion, work) == CONVERGED:
            done[i], energy[i] = True, 0.5 * caps[i, AT] ** 2
            _spread(i, roads, settled, car, limits, tie, caps, energy, done, motion, work)
        else:
            caps[i, AT] = 0.0
    return -1
