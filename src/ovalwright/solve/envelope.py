"""What a car can do: how hard it may brake, drive and turn at a speed and an apparent gravity.

To first order a car on a banked, cresting road feels only its speed V, its apparent gravity G (load on the
road per mass, [m/s^2]) and what its tires push along and across its way. The greatest pushes are smooth
limits of (V, G); between them the boundary is a superellipse,

    (|along| / limit along)^p + (|across| / limit across)^p = 1,

cut by what the engine gives. A point mass with a friction circle is the case limit = mu G, p = 2. The table
of pushes over speed and apparent gravity is that of Veneri & Massaro, *Vehicle System Dynamics* 58 (2020)
(from memory). A real car on a bank also feels its yaw rate (it turns a tighter path than its side push
shows), so sample it on a bank like that of the track.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as GRAVITY
from scipy.optimize import least_squares

Field = NDArray[np.float64]
Curve = Callable[[Field], Field]

STANDSTILL = 1e-6
"""Least speed [m/s] at which the engine is asked for its thrust: power has none at rest."""
LEAST = 1e-6
"""A limit [m/s^2] is never taken smaller: a car in the air can hold nothing, and says so by its use."""
TERMS = ((0, 1), (1, 1), (2, 1), (0, 2), (1, 2), (2, 0))
"""Powers of V and G of a fitted limit: grip that falls with load and changes with speed, and downforce. No
load at no speed gives no push."""
ROUNDEST, SQUAREST = 1.2, 6.0
"""Bounds of a fitted exponent: a diamond is 1, a circle 2, a box infinite."""
TRIES = 100
"""Most sets of terms that are tried on the way to the least miss."""
ENGINE_HELD = 1e-3
"""Samples within this share of the engine's push say nothing about the tires."""


@dataclass(frozen=True)
class Limit:
    """A greatest push per mass [m/s^2], sum of terms[i, j] V^i G^j with V in m/s and G in m/s^2.

    Outside the sampled speeds and gravities the nearest sampled ones count; below the least sampled gravity
    the limit falls in proportion.
    """

    terms: Field
    speeds: tuple[float, float] = (0.0, np.inf)
    gravities: tuple[float, float] = (0.0, np.inf)

    def __call__(self, speed: Field, gravity: Field) -> Field:
        """The limit at speeds [m/s] and apparent gravities [m/s^2], of one shape."""
        v = np.clip(speed, *self.speeds)
        low, high = self.gravities
        g = np.clip(gravity, low, high) if low > 0.0 else np.minimum(gravity, high)
        value: Any = 0.0
        for row in self.terms[::-1]:
            inner: Any = 0.0
            for term in row[::-1]:
                inner = inner * g + term
            value = value * v + inner
        if low > 0.0:
            value = value * np.minimum(gravity / low, 1.0)
        bounded: Field = np.maximum(value, LEAST)
        return bounded

    def times(self, share: float) -> Limit:
        """This limit times a share."""
        return dataclasses.replace(self, terms=share * self.terms)


def limit_of(*, friction: float = 0.0, flat: float = 0.0, downforce: float = 0.0) -> Limit:
    """friction (G + downforce V^2) + flat: of friction [-], a constant [m/s^2], downforce per mass and V^2
    [1/m]."""
    terms = np.zeros((3, 3))
    terms[0, 0], terms[0, 1], terms[2, 0] = flat, friction, friction * downforce
    return Limit(terms)


def constant_power(power: float) -> Curve:
    """Thrust per mass [m/s^2] of a power per mass [W/kg]."""
    return lambda speed: power / speed


@dataclass(frozen=True)
class Envelope:
    """Limits of a car's pushes per mass [m/s^2], along (+ drive) and across (+ left) its way.

    `left`, `right`: greatest push to either side; `brake`, `drive`: straight-line limits of the tires;
    `push`: the engine's thrust per mass at a speed on a level straight; `scrub`, `press`: what a side push
    and a load more or less than standing take of it, by their squares [s^2/m]; `drag`: air and rolling loss
    per mass and V^2 [1/m]; `top`: speed that the revs allow [m/s]; `braking_shape`, `driving_shape`:
    exponents of the superellipse.
    """

    left: Limit
    right: Limit
    brake: Limit
    drive: Limit
    push: Curve
    drag: float = 0.0
    top: float = np.inf
    braking_shape: float = 2.0
    driving_shape: float = 2.0
    scrub: float = 0.0
    press: float = 0.0

    def loss(self, speed: Field) -> Field:
        """What the air takes per mass [m/s^2]."""
        return self.drag * speed * speed

    def use(self, speed: Field, gravity: Field, along: Field, across: Field) -> Field:
        """Share of the tires' limit that a push uses, 1 on the boundary; the engine is not asked."""
        driving = along >= 0.0
        ahead = np.where(driving, self.drive(speed, gravity), self.brake(speed, gravity))
        shape = np.where(driving, self.driving_shape, self.braking_shape)
        side = self._side(speed, gravity, across)
        return ((np.abs(along) / ahead) ** shape + side**shape) ** (1.0 / shape)

    def pull(self, speed: Field, gravity: Field, across: Field) -> Field:
        """What the engine gives along the way [m/s^2]: tires that slip and are pressed down hold it back."""
        held_back = self.scrub * across**2 + self.press * (gravity - GRAVITY) ** 2
        pull: Field = self.push(np.maximum(speed, STANDSTILL)) - held_back
        return pull

    def thrust(self, speed: Field, gravity: Field, across: Field) -> Field:
        """Greatest drive beside a side push [m/s^2]: what tires and engine both give."""
        left_over = self._left_over(speed, gravity, across, self.driving_shape)
        return np.minimum(self.drive(speed, gravity) * left_over, self.pull(speed, gravity, across))

    def braking(self, speed: Field, gravity: Field, across: Field) -> Field:
        """Greatest braking beside a side push [m/s^2], positive."""
        return self.brake(speed, gravity) * self._left_over(speed, gravity, across, self.braking_shape)

    def driven(self, *, grip: float = 1.0, brake: float = 1.0, drive: float = 1.0) -> Envelope:
        """The envelope of a driver who uses these shares of the tires' grip and, of that, of the braking and
        the driving limit."""
        return dataclasses.replace(
            self,
            left=self.left.times(grip),
            right=self.right.times(grip),
            brake=self.brake.times(grip * brake),
            drive=self.drive.times(grip * drive),
        )

    def _side(self, speed: Field, gravity: Field, across: Field) -> Field:
        limit = self.left(speed, gravity)
        if self.right is not self.left:
            limit = np.where(across >= 0.0, limit, self.right(speed, gravity))
        return np.abs(across) / limit

    def _left_over(self, speed: Field, gravity: Field, across: Field, shape: float) -> Field:
        side = np.minimum(self._side(speed, gravity, across), 1.0)
        return (1.0 - side**shape) ** (1.0 / shape)


def point_mass(
    *,
    mass: float,
    friction: float,
    power: float,
    drag_area: float = 0.0,
    lift_area: float = 0.0,
    air: float = 1.2,
    top: float = np.inf,
) -> Envelope:
    """A mass [kg] on a friction circle, with an engine of constant power [W].

    `drag_area`, `lift_area`: C_d A and downforce C_l A [m^2]; `air`: its density [kg/m^3].
    """
    pressure = 0.5 * air / mass
    circle = limit_of(friction=friction, downforce=pressure * lift_area)
    return Envelope(
        left=circle,
        right=circle,
        brake=circle,
        drive=circle,
        push=constant_power(power / mass),
        drag=pressure * drag_area,
        top=top,
    )


@dataclass(frozen=True)
class Fit:
    """An envelope fitted to samples, and how far its boundary misses them: shares of the limit."""

    envelope: Envelope
    rms: float
    worst: float


def fit(
    speed: ArrayLike,
    gravity: ArrayLike,
    along: ArrayLike,
    across: ArrayLike,
    *,
    push: Curve,
    drag: float = 0.0,
    top: float = np.inf,
) -> Fit:
    """The envelope whose boundary lies nearest to samples of a car's limit, arrays of one shape (n,).

    Every sample is a point on the boundary: speed [m/s], apparent gravity [m/s^2], tire pushes per mass along
    and across the way [m/s^2]. Samples held by the engine (along as great as `push`) do not count as tires'.
    Without samples that turn right, right is taken like left. Least squares on the use of every sample.
    Raises ValueError where left turns, braking or driving were not sampled.
    """
    v, g, a, n = (np.asarray(one, dtype=float).ravel() for one in (speed, gravity, along, across))
    tires = a < push(v) * (1.0 - ENGINE_HELD)
    v, g, a, n = v[tires], g[tires], a[tires], n[tires]
    for name, some in (("turns left", n > 0.0), ("brakes", a < 0.0), ("drives", a > 0.0)):
        if not some.any():
            raise ValueError(f"No sample of the car's limit {name}, so its envelope cannot be drawn.")
    window = {"speeds": (float(v.min()), float(v.max())), "gravities": (float(g.min()), float(g.max()))}
    powers = _powers(v, g)
    sides = 2 if (n < 0.0).any() else 1

    def envelope_of(numbers: Field) -> Envelope:
        limits = [_limit(powers, row, window) for row in numbers[:-2].reshape(-1, len(powers))]
        left, right = (limits[0], limits[1]) if sides == 2 else (limits[0], limits[0])
        brake, drive = limits[sides:]
        braking_shape, driving_shape = numbers[-2:].tolist()
        return Envelope(left, right, brake, drive, push, drag, top, braking_shape, driving_shape)

    def misses(numbers: Field) -> Field:
        return envelope_of(numbers).use(v, g, a, n) - 1.0

    friction = float(np.median(np.hypot(a, n) / g))
    start = [friction if power == (0, 1) else 0.0 for power in powers] * (sides + 2)
    count = len(start)
    found = least_squares(
        misses,
        np.array([*start, 2.0, 2.0]),
        bounds=([-np.inf] * count + [ROUNDEST] * 2, [np.inf] * count + [SQUAREST] * 2),
        x_scale="jac",
        max_nfev=TRIES,
    )
    return Fit(envelope_of(found.x), float(np.sqrt(np.mean(found.fun**2))), float(np.max(np.abs(found.fun))))


def _powers(speed: Field, gravity: Field) -> list[tuple[int, int]]:
    """The terms that this many different speeds and gravities can tell apart."""
    speeds, gravities = len(np.unique(speed)), len(np.unique(gravity))
    return [(i, j) for i, j in TERMS if i < speeds and (j <= gravities and (j == 1 or gravities > 1))]


def _limit(powers: list[tuple[int, int]], numbers: Field, window: dict[str, tuple[float, float]]) -> Limit:
    terms = np.zeros((3, 3))
    for (i, j), number in zip(powers, numbers, strict=True):
        terms[i, j] = number
    return Limit(terms, **window)
