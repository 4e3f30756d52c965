"""One-sided parts: what pushes only when it touches. Coil, bump stop, droop limit, bar link with slack,
the road.

Off its seat a part pushes exactly nothing. Around the touch the law is blended over a small compact band
so that its first and second derivatives are continuous; the blend is at most `TOUCH_FORCE` at the point of
touch.
"""

from __future__ import annotations

from ..compiled import inlined
from .number import Number, alike, power, value

TOUCH_FORCE = 1.0
"""Force [N] a part shows at the very point of touch, where the ideal law shows none."""
STOP_REACH = 0.92
"""Share of a bump stop's solid travel beyond which its curve goes on along its tangent."""


@inlined
def touch_band(rate: float) -> float:
    """Half width [m] of the blend of a contact of this rate [N/m]: `ramp(0) * rate` is TOUCH_FORCE."""
    return 16.0 / 3.0 * TOUCH_FORCE / max(rate, 1.0)


@inlined
def ramp(x: Number, band: float) -> Number:
    """max(0, x) [m], twice continuously differentiable, exactly 0 below -band and exactly x above band.

    The quartic (x + w)^3 (3w - x) / 16 w^3 inside; its odd part is x/2, so ramp(x) - ramp(-x) is exactly x.
    """
    at = value(x)
    if at <= -band:
        return alike(0.0, x)
    if at >= band:
        return x
    rise = x + band
    return rise * rise * rise * (3.0 * band - x) / (16.0 * band * band * band)


@inlined
def coil_force(squeeze: Number, rate: float, bind_squeeze: float, bind_rate: float) -> Number:
    """Push [N] of a coil squeezed by `squeeze` [m] from free (negative: off its seat, exactly 0).

    Linear at `rate` [N/m]; where the wires touch (`bind_squeeze` [m]) `bind_rate` [N/m] comes on top.
    """
    if rate <= 0.0:
        return alike(0.0, squeeze)
    push = rate * ramp(squeeze, touch_band(rate))
    return push + bind_rate * ramp(squeeze - bind_squeeze, touch_band(bind_rate))


@inlined
def stop_force(
    squeeze: Number,
    first_rate: float,
    solid_travel: float,
    exponent: float,
    bound_rate: float,
) -> Number:
    """Push [N] of a bump stop: k0 x / (1 - x/Lm)^n, along its tangent beyond STOP_REACH of Lm.

    `first_rate` k0 [N/m], `solid_travel` Lm [m]; none fitted: k0 = 0. n = 0 is a straight bump spring, on
    which `bound_rate` [N/m] comes on top where it is solid.
    """
    if first_rate <= 0.0:
        return alike(0.0, squeeze)
    x = ramp(squeeze, touch_band(first_rate))
    bound = bound_rate * ramp(squeeze - solid_travel, touch_band(bound_rate))
    reach = STOP_REACH * solid_travel
    if value(x) <= reach:
        return first_rate * x * power(1.0 - x / solid_travel, -exponent) + bound
    slack = 1.0 - STOP_REACH
    edge = first_rate * reach * slack ** (-exponent)
    slope = first_rate * slack ** (-exponent) * (1.0 + exponent * STOP_REACH / slack)
    return edge + slope * (x - reach) + bound


@inlined
def slack_angle(angle: Number, slack: float) -> Number:
    """What is left of an angle [rad] after a free play of +-slack [rad]; exactly the angle when slack is
    0."""
    band = 1e-4
    return ramp(angle - slack, band) - ramp(-angle - slack, band)
