"""A banked, curving, twisting road in fixed space and a frame that rides on it, by differences along it.

Nothing here comes from the product's road frame: the ribbon is laid out in fixed axes from its
curvature, slope and bank, and velocity, rotation, specific force and the road's shape are differences
along it (central, seven points: Fornberg, *Math. Comp.* 51 (1988) 699, from memory).
"""

from __future__ import annotations

import numpy as np


def cross(a, b):
    """a x b of two vectors."""
    return np.array([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def road_axes(motion, s):
    """Place and axes (columns: along, left, off the surface) of the centerline at a distance s [m]."""

    nodes, weights = np.polynomial.legendre.leggauss(12)

    def slope(at):
        return motion["grade"] + motion["crest"] * at

    def heading(at):
        """Curvature is that of the plan: it counts level meters, not meters of road."""
        half = 0.5 * np.asarray(at)
        points = half[..., None] * (nodes + 1.0)
        bend = (motion["curvature"] + motion["curvature_rate"] * points) * np.cos(slope(points))
        return half * (bend @ weights)

    at = 0.5 * s * (nodes + 1.0)
    ways = [
        np.cos(slope(at)) * np.cos(heading(at)),
        np.cos(slope(at)) * np.sin(heading(at)),
        np.sin(slope(at)),
    ]
    place = 0.5 * s * np.array([weights @ way for way in ways])
    along = np.array(
        [np.cos(slope(s)) * np.cos(heading(s)), np.cos(slope(s)) * np.sin(heading(s)), np.sin(slope(s))]
    )
    level = np.array([-np.sin(heading(s)), np.cos(heading(s)), 0.0])
    upright = cross(along, level)
    bank = motion["bank"] + motion["bank_rate"] * s + 0.5 * motion["bank_bend"] * s * s
    left = np.cos(bank) * level - np.sin(bank) * upright
    return place, np.column_stack([along, left, cross(along, left)])


STENCIL = np.array([-3, -2, -1, 0, 1, 2, 3])
FIRST = np.array([-1, 9, -45, 0, 45, -9, 1]) / 60.0
SECOND = np.array([2, -27, 270, -490, 270, -27, 2]) / 180.0


class Ride:
    """The road frame's motion: velocity, rotation and specific force, and the road's shape about it."""

    def __init__(self, motion, side_slip):
        c, s = np.cos(side_slip), np.sin(side_slip)
        heading = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        step = 0.01
        times = STENCIL * step
        traveled = motion["speed"] * times + 0.5 * motion["acceleration"] * times**2
        ribbon = [road_axes(motion, s) for s in traveled]
        places = np.array([place for place, _ in ribbon])
        axes = np.array([turn @ heading for _, turn in ribbon])
        now = axes[3]
        self.velocity = now.T @ np.tensordot(FIRST, places, 1) / step
        rotation = now.T @ np.tensordot(FIRST, axes, 1) / step
        bending = now.T @ np.tensordot(SECOND, axes, 1) / step**2
        down = np.array([0.0, 0.0, -motion["gravity"]])
        self.origin_push = now.T @ (down - np.tensordot(SECOND, places, 1) / step**2)
        self.carry = bending
        self.spin = vee(rotation)
        self.turn = vee(bending)
        self.shape = self._shape(motion, heading)
        self.still = bool(motion["standing"] > 0.5)
        self.ahead = heading.T @ np.array([1.0, 0.0, 0.0])

    @staticmethod
    def _shape(motion, heading):
        """Second derivatives of the road's height over its tangent plane, in the car's road axes."""
        step = 0.05
        ribbon = [road_axes(motion, s) for s in STENCIL * step]
        up = ribbon[3][1][:, 2]
        along = np.tensordot(SECOND, np.array([place for place, _ in ribbon]), 1) / step**2 @ up
        twist = np.tensordot(FIRST, np.array([axes[:, 1] for _, axes in ribbon]), 1) / step @ up
        path = np.array([[along, twist], [twist, 0.0]])
        turn = heading[:2, :2]
        return turn.T @ path @ turn

    def push(self, at):
        """Gravity less acceleration at a point that rides with the car [m/s^2]."""
        return self.origin_push - self.carry @ at

    def road(self, at):
        """Height of the road at a point's x and y [m], and its unit normal there."""
        slope = self.shape @ at[:2]
        normal = np.array([-slope[0], -slope[1], 1.0])
        return 0.5 * at[:2] @ slope, normal / np.linalg.norm(normal)


def vee(matrix):
    """The vector of a matrix's antisymmetric part."""
    return 0.5 * np.array(
        [matrix[2, 1] - matrix[1, 2], matrix[0, 2] - matrix[2, 0], matrix[1, 0] - matrix[0, 1]]
    )
