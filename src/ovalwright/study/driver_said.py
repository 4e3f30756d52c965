"""What a driver uses of what is there, and what his grip was matched to, in sentences."""

from __future__ import annotations

from .lap import Driver

FAR_GRIP = 0.2
"""A match that needs so much more or less grip than the files say points at something else than grip."""


def uses_said(driver: Driver) -> str:
    """His shares of grip, braking and throttle."""
    return (
        f"The driver uses {100 * driver.use:.3g} % of the grip, {100 * driver.brake:.3g} % of the braking "
        f"and {100 * driver.throttle:.3g} % of the throttle that are there."
    )


def matched_said(driver: Driver, lap: str) -> str:
    """With which grip he drives the lap that was matched, as `your best lap of 15.320 s`; whether that is
    likely.
    """
    said = (
        f"Matched to {lap}: with {driver.grip:.3f} times the grip that the files say, on all four tires; "
        f"all else as written. {uses_said(driver)}"
    )
    if abs(driver.grip - 1.0) <= FAR_GRIP:
        return said
    first = "check length and radius, groove, gear, weight and power before you trust it"
    return f"{said} That is far off: {first}."
