"""How sure an unmatched lap time is: what the driver uses and what the tires hold are only guessed.

Each is moved to both ends of its 95 % band and the lap driven again; what that makes quicker and what it
makes slower is added in quadrature (independent causes, first order: JCGM 100:2008, 5.1.2, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from ovalwright.documents import Conditions
from ovalwright.pack import surface_grip_band

from .bands import Band
from .lap import BRAKE_BAND, LEAST_USED, MOST_USED, THROTTLE_BAND, USE_BAND, Driver, Lap, NoLap, lap
from .uncertain import IN_BAND, TIRE_CAUSES

MOST_GRIP = 3.0


def lap_band(found: Lap, conditions: Conditions, progress: Callable[[int, int], None] | None = None) -> Band:
    """The time of a lap [s] with the middle 95 % of what it could be.

    Where the car does not get round at one end of a cause, the other end counts for both; where it does at
    neither, there is no band.
    """
    quicker = slower = 0.0
    causes = tuple(_ends(found.driver, conditions))
    for done, ends in enumerate(causes, start=1):
        changes = [time - found.time for end in ends if (time := _time(found, conditions, end)) is not None]
        if not changes:
            return Band(found.time)
        if len(changes) == 1:
            changes.append(-changes[0])
        quicker = math.hypot(quicker, min(0.0, *changes))
        slower = math.hypot(slower, max(0.0, *changes))
        if progress:
            progress(done, len(causes))
    return Band(found.time, found.time - quicker, found.time + slower)


def _ends(driver: Driver, conditions: Conditions) -> Iterator[tuple[Driver, Driver]]:
    """The driver with each guessed share at the low and at the high end of its band."""
    tires = IN_BAND * TIRE_CAUSES["grip of the tires"].spread
    grip = driver.grip * math.hypot(tires, surface_grip_band(conditions))
    bands = (
        ("use", USE_BAND, MOST_USED),
        ("brake", BRAKE_BAND, 1.0),
        ("throttle", THROTTLE_BAND, 1.0),
        ("grip", grip, MOST_GRIP),
    )
    for name, half, most in bands:
        value = getattr(driver, name)
        low, high = max(value - half, LEAST_USED), min(value + half, most)
        yield replace(driver, **{name: low}), replace(driver, **{name: high})


def _time(found: Lap, conditions: Conditions, driver: Driver) -> float | None:
    try:
        return lap(found.packed, found.line, conditions, driver, like=found).time
    except NoLap:
        return None
