"""Which differences of two setups are work for a hand, and which only go with it."""

from __future__ import annotations

NO_JOB = (
    *("name", "notes", "like", "car", "rack", "sheet", "origin", "hot", "jack_bolt"),
    *("free_length", "bind_height", "gas_force"),
    *("roll_out_pressure", "construction", "growth", "grip", "width", "bore", "length", "arm"),
)
"""Last keys of what is told of a part or wanted of it: nothing is turned or swapped for it."""


def is_job(key: str) -> bool:
    """Whether somebody has to do something on the car for a key of a setup that differs."""
    return key.rsplit(".", 1)[-1] not in NO_JOB
