"""A driver who stays farther from a limit that the car cannot be driven close to.

Near the limit a light wheel, a stop or a dragging frame can leave a car without a steady state at some place
of the track. It still gets round: with less of its grip used. That is no lap of the driver who was asked, and
it says so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from ovalwright.units import show

from .lap import LEAST_USED, Driver, NoLap
from .run import NoFuel

SHARES = (0.97, 0.94, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5)
"""Shares of the asked use of grip that are tried, one after the other."""

Answer = TypeVar("Answer")


def held_back(drive: Callable[[Driver], Answer], driver: Driver) -> tuple[Answer, tuple[str, ...]]:
    """What a driver drives, and no notes; where that has no steady state, what he drives with less use of the
    grip, and a note on how much less and where the limit cannot be driven.

    Raises NoLap, the first one, where no share of SHARES gets round, and NoFuel as it comes.
    """
    try:
        return drive(driver), ()
    except NoFuel:
        raise
    except NoLap as problem:
        first = problem
    for use in (share * driver.use for share in SHARES):
        if use < LEAST_USED:
            break
        less = replace(driver, use=use)
        try:
            return drive(less), (_why(driver, less, first),)
        except NoFuel:
            raise
        except NoLap:
            continue
    raise first


def _why(asked: Driver, less: Driver, problem: NoLap) -> str:
    used, wanted = show(less.use, "share"), show(asked.use, "share")
    return f"Driven with {used} of the grip, not {wanted}: with more, {problem}"
