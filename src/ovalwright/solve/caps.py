"""The most speed a car can hold at each station of a line: the edge at no acceleration, marched from station
to station.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..compiled import compiled
from ..vehicle.record import Record
from .edge import AT, AT_SPEED, BEYOND, KIND, edge_near, reach
from .limit import fastest_guess
from .newton import CONVERGED

Array = Any

GRIP, BRAKE_SHARE, DRIVE_SHARE, BRAKE_FORCE, REV_SPIN, TOP, CAREFUL = range(7)
"""Entries of the limits of car and driver: share of grip used, of the braking and of the driving edge; the
most force the brakes hold [N]; axle speed of the rev limit [rad/s]; speed [m/s] above which no cap is
sought; 1: every edge from a trim of its own, slower and surer.
"""
MIXES = 5
"""A march from one station to the next is halved this often at the most."""
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
    at, step = 0.0, 1.0
    for _ in range(2**MIXES):
        mixed(motion, one, other, at)
        before = fastest_guess(car, motion)
        mixed(motion, one, other, min(at + step, 1.0))
        guess = row[AT] * fastest_guess(car, motion) / before
        status, _ = edge_near(row, guess, 1.0, tie, car, motion, work)
        if status == CONVERGED:
            at += step
            if at >= 1.0:
                return status
        else:
            step *= 0.5
            if step < 0.5**MIXES:
                return status
    return status


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
        if turning[i] and caps[i, AT] > 0.0:
            spare[0] = roads[i]
            motion.grip *= limits[GRIP]
            motion.acceleration = 0.0
            done[i] = edge_near(caps[i], caps[i, AT], 1.0, tie, car, motion, work)[0] == CONVERGED
            if done[i]:
                energy[i] = 0.5 * caps[i, AT] ** 2
    while True:
        first = -1
        for i in range(count):
            if turning[i] and not done[i] and (first < 0 or guess[i] < guess[first]):
                first = i
        if first < 0:
            return -1
        spare[0] = roads[first]
        motion.grip *= limits[GRIP]
        motion.acceleration = 0.0
        done[first] = True
        status, speed = -1, 0.0
        for inside in (0.6, 0.8, 0.9, 0.45, 0.95):
            status, speed = reach(
                caps[first], inside * guess[first], CLEAR * limits[TOP], settled, tie, car, motion, work
            )
            if status in (CONVERGED, BEYOND):
                break
        if status == BEYOND or (status != CONVERGED and guess[first] > limits[TOP]):
            caps[first, AT] = 0.0
            continue
        if status != CONVERGED:
            return first
        energy[first] = 0.5 * speed * speed
        for way in (1, -1):
            here = first
            while True:
                there = (here + way) % count
                if done[there]:
                    break
                caps[there] = caps[here]
                motion.acceleration = 0.0
                if _march(caps[there], roads[here], roads[there], tie, car, motion, work) != CONVERGED:
                    caps[there] = 0.0
                    break
                done[there] = True
                speed = caps[there, AT]
                if speed > CLEAR * limits[TOP]:
                    break
                energy[there] = 0.5 * speed * speed
                here = there
