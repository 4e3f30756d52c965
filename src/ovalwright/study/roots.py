"""Where a function of one number crosses zero.

SciPy has this too, but importing its optimizers takes half a second, and a command that a racer types twenty
times a night does not wait for that.
"""

from __future__ import annotations

from collections.abc import Callable


def crossing(function: Callable[[float], float], low: float, high: float, *, within: float) -> float:
    """A place between `low` and `high` at which `function` changes sign, known to `within`, all in one unit.

    False position in the Illinois form, where an end that stays twice has its value halved; after three steps
    that leave more than half of the interval, it is halved outright. Source: Dowell and Jarratt, A modified
    regula falsi method for computing the root of an equation, BIT 11 (1971), 168-174 (from memory).

    Raises:
        ValueError: the function has the same sign at both ends.
    """
    at_low, at_high = function(low), function(high)
    if at_low == 0.0 or at_high == 0.0:
        return low if at_low == 0.0 else high
    if (at_low > 0.0) == (at_high > 0.0):
        raise ValueError(f"no change of sign between {low:g} and {high:g}")
    stayed = slow = 0
    while high - low > within:
        width = high - low
        chord = high - at_high * width / (at_high - at_low)
        middle = chord if slow < 3 else 0.5 * (low + high)
        if not low < middle < high:
            return low if abs(at_low) < abs(at_high) else high
        value = function(middle)
        if value == 0.0:
            return middle
        if (value > 0.0) == (at_high > 0.0):
            high, at_high = middle, value
            at_low *= 0.5 if stayed > 0 else 1.0
            stayed = 1
        else:
            low, at_low = middle, value
            at_high *= 0.5 if stayed < 0 else 1.0
            stayed = -1
        slow = 0 if high - low <= 0.5 * width else slow + 1
    return 0.5 * (low + high)
