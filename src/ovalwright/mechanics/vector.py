"""Vectors as tuples of three numbers, and the few rotations the car needs. ISO 8855 axes: x forward, y
left, z up."""

from __future__ import annotations

from typing import Any

from ..compiled import inlined
from .number import Number, alike, cos, sin, sqrt

Vector = tuple[Number, Number, Number]
Turn = tuple[Number, Number]
"""Cosine and sine of an angle, taken once and used for many vectors."""


@inlined
def add(a: Vector, b: Vector) -> Vector:
    """a + b."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


@inlined
def subtract(a: Vector, b: Vector) -> Vector:
    """a - b."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


@inlined
def times(s: Number, a: Vector) -> Vector:
    """s a."""
    return (s * a[0], s * a[1], s * a[2])


@inlined
def dot(a: Vector, b: Vector) -> Number:
    """a . b."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@inlined
def cross(a: Vector, b: Vector) -> Vector:
    """a x b."""
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )


@inlined
def length(a: Vector) -> Number:
    """|a|."""
    return sqrt(dot(a, a))


@inlined
def unit(a: Vector) -> Vector:
    """a / |a|."""
    return times(1.0 / length(a), a)


@inlined
def row(table: Any, i: int) -> Vector:
    """Row i of an (n, 3) array as a vector."""
    return (table[i, 0], table[i, 1], table[i, 2])


@inlined
def turn_by(angle: Number) -> Turn:
    """The turn by an angle [rad]."""
    return (cos(angle), sin(angle))


@inlined
def roll_x(turn: Turn, a: Vector) -> Vector:
    """a turned about x; positive lifts the left side (ISO 8855 roll)."""
    c, s = turn
    return (alike(a[0], c), c * a[1] - s * a[2], s * a[1] + c * a[2])


@inlined
def pitch_y(turn: Turn, a: Vector) -> Vector:
    """a turned about y; positive drops the nose (ISO 8855 pitch)."""
    c, s = turn
    return (c * a[0] + s * a[2], alike(a[1], c), c * a[2] - s * a[0])


@inlined
def yaw_z(turn: Turn, a: Vector) -> Vector:
    """a turned about z; positive to the left (ISO 8855 yaw)."""
    c, s = turn
    return (c * a[0] - s * a[1], s * a[0] + c * a[1], alike(a[2], c))


@inlined
def turn_about(axis: Vector, turn: Turn, a: Vector) -> Vector:
    """a turned about a unit axis (Rodrigues' rotation formula)."""
    c, s = turn
    along = dot(axis, a)
    across = cross(axis, a)
    return add(add(times(c, a), times(s, across)), times((1.0 - c) * along, axis))
