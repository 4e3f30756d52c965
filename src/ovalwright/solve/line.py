"""The free line: the quickest way of an envelope round a ribbon, inside the road's edges.

The offset n(s) is a periodic cubic spline whose coefficients, one a node, are unknowns, like E = V^2/2 half
way between nodes. Push and load follow at every node from the exact geometry of the ruled surface (Perantoni
& Limebeer, *J. Dyn. Sys. Meas. Control* 137 (2015) 021010, from memory), so the time round the lap is a sum
that `interior.least` makes least. A spline lies inside the hull of its coefficients (de Boor, *A Practical
Guide to Splines*, 1978, from memory): bounded so, it never leaves the road between nodes. Real cars and
drivers do not take all of it: it is a bound, to be shown beside a line that is driven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.constants import g as GRAVITY

from ..road import Line, Ribbon
from ..road.profile import Profile
from .envelope import Envelope, Field
from .interior import Chain, least, seen
from .sweep import CEILING, Sweep, lap

SPACING = 1.0
"""About this far apart [m] lie the nodes."""
FINE = 1.0
"""Spacing of the line that is swept [m]."""
STARTS = (0.0, 0.8, -0.8)
"""Lines to start from: middle, low and high, as shares of the half width."""
PULLS = (0.85, 0.7, 0.5, 0.3, 0.1)
"""Shares of a swept E tried until nothing is at its limit."""
ENERGY = 100.0
"""Unit of the unknown E [m^2/s^2]."""
FEWEST = 16
FIRST, LAST = 1e-2, 2e-8
"""Heights of the first and last barrier [s]: the last times all margins is some 1e-4 s."""
ROUNDS = 150
LIGHTEST = 0.1
"""A line that leaves less than this share of the weight on the road is none to drive."""
STILL = 1e-3
"""E [m^2/s^2] below which a car counts as this slow."""
WITHIN = (-3.0 / 8.0, -1.0 / 8.0, 1.0 / 8.0, 3.0 / 8.0)
"""Where in a node's span its road is looked at."""
STEPS = np.array([1e-3, 1e-4, 1e-5, 0.1, 3e-3])
"""Steps of differences by n [m], n' [-], n'' [1/m], E [m^2/s^2], E' [m/s^2]."""


@dataclass(frozen=True)
class FreeLine:
    """The quickest line that was found.

    `offset`: n [m, + left] evenly spaced along the spine from the start line, as `Ribbon.line` takes it;
    `line`, `sweep`: that line and the fastest profile on it; `planned` [s]: the sum over the nodes that was
    made least, which a sweep between nodes meets within some 1e-4 where bank and curvature bend smoothly;
    `fixed` [s]: the best lap of the lines started from; `converged`: whether the plan is a least of the lap
    time (else the line is the best that was met, at worst a fixed one); `rounds`: Newton steps.
    """

    offset: Field
    line: Line
    sweep: Sweep
    planned: float
    fixed: float
    converged: bool
    rounds: int

    @property
    def time(self) -> float:
        """Lap time [s]."""
        return self.sweep.time


def free_line(
    envelope: Envelope,
    ribbon: Ribbon,
    *,
    clear: float = 0.0,
    lightest: float = LIGHTEST,
    spacing: float = SPACING,
) -> FreeLine:
    """The quickest line of an envelope on a ribbon, nodes about `spacing` [m] apart along the spine.

    The line keeps `clear` [m] of both edges: half the car, where its middle is driven. It leaves at least the
    share `lightest` of the car's weight on the road.
    Starts from the best of a low, a middle and a high line and is never slower. Raises ValueError where the
    car cannot lap one of them, or the road leaves no room.
    """
    road = Nodes(ribbon, max(FEWEST, round(ribbon.length / spacing)), clear, lightest)
    chain = Chain(lambda x: road.cost_and_margins(envelope, x), road.blend, STEPS)
    starts = sorted((_driven(envelope, ribbon, road.abreast(share)) for share in STARTS), key=_time)
    best = starts[0]
    for start in starts:
        unknowns = road.inside(chain, start)
        if unknowns is None:
            continue
        found = least(chain, unknowns, barrier=FIRST, last=LAST, most=ROUNDS)
        at_nodes = chain.blend @ seen(found.unknowns)
        freed = _driven(envelope, ribbon, at_nodes[0])
        best = replace(
            min(best, freed, key=_time),
            planned=float(np.sum(chain.local(at_nodes)[0])),
            fixed=starts[0].time,
            converged=found.converged,
            rounds=found.rounds,
        )
        if found.converged:
            break
    return best


def _driven(envelope: Envelope, ribbon: Ribbon, offset: Field) -> FreeLine:
    line = ribbon.line(offset, spacing=FINE)
    sweep = lap(envelope, line)
    return FreeLine(offset, line, sweep, sweep.time, sweep.time, False, 0)


def _time(one: FreeLine) -> float:
    return one.time


class Nodes:
    """A ribbon at evenly spaced nodes: spine and ruling with their derivatives, in the spine's level axes.

    Axes along the spine in plan, level to its left, and up. What changes within the span of a node is taken
    at its mean.
    """

    def __init__(self, ribbon: Ribbon, count: int, clear: float = 0.0, lightest: float = LIGHTEST) -> None:
        self.lightest = lightest
        self.length = ribbon.length
        self.spacing = h = ribbon.length / count
        self.nodes = np.arange(count) * h

        def mean(profile: Profile, order: int = 0) -> Field:
            values: Field = np.mean([profile(self.nodes + share * h, order) for share in WITHIN], axis=0)
            return values

        bend, bend1 = mean(ribbon.curvature), mean(ribbon.curvature, 1)
        bank, bank1, bank2 = (mean(ribbon.bank, order) for order in range(3))
        c, s = np.cos(bank), np.sin(bank)
        none = np.zeros(count)
        self.spine1 = np.stack([none + 1.0, none, mean(ribbon.height, 1)])
        self.spine2 = np.stack([none, bend, mean(ribbon.height, 2)])
        self.ruling = np.stack([none, c, -s])
        self.ruling1 = np.stack([-bend * c, -bank1 * s, -bank1 * c])
        self.ruling2 = np.stack(
            [
                2.0 * bend * bank1 * s - bend1 * c,
                -bank2 * s - (bank1**2 + bend**2) * c,
                -bank2 * c + bank1**2 * s,
            ]
        )
        reach = self.nodes[:, None] + np.linspace(-2.0, 2.0, 17) * h
        self.left, self.right = (edge(reach).min(axis=1) - clear for edge in (ribbon.left, ribbon.right))
        room = self.left + self.right
        if not (room > 0.0).all():
            raise ValueError(
                f"The road is {room.min() + 2.0 * clear:.2f} m wide at its narrowest and the line is to keep "
                f"{clear:.2f} m of either edge; a wider road leaves room for that."
            )
        self.blend = np.zeros((5, 5))
        self.blend[0, :3] = 1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0
        self.blend[1, :3] = -0.5 / h, 0.0, 0.5 / h
        self.blend[2, :3] = 1.0 / h**2, -2.0 / h**2, 1.0 / h**2
        self.blend[3, 3:] = 0.5 * ENERGY
        self.blend[4, 3:] = -ENERGY / h, ENERGY / h

    def abreast(self, share: float) -> Field:
        """Offset that keeps a share of the half width to the left of the middle."""
        middle, half = 0.5 * (self.left - self.right), 0.5 * (self.left + self.right)
        offset: Field = middle + share * half
        return offset

    def inside(self, chain: Chain, start: FreeLine) -> Field | None:
        """Unknowns (n, 2) of a line driven so slowly that nothing is at its limit; None if nothing helps."""
        halfway = self.nodes + 0.5 * self.spacing
        energy = np.interp(halfway, start.line.spine, 0.5 * start.sweep.speed**2, period=self.length)
        for pull in PULLS:
            unknowns = np.stack([start.offset, pull * energy / ENERGY], axis=1)
            if (chain.local(chain.blend @ seen(unknowns))[1] > 0.0).all():
                return unknowns
        return None

    def cost_and_margins(self, envelope: Envelope, x: Field) -> tuple[Field, Field]:
        """Seconds that each node's span takes, and what is left there of tires, load, engine, road, speed
        and revs.

        `x`: n [m], n', n'' [1/m], E [m^2/s^2], E' [m/s^2] by meters of spine, (5, ..., n).
        """
        n, n1, n2, energy, energy1 = x
        ruling = list(self.ruling)
        along = [a + n * b + n1 * r for a, b, r in zip(self.spine1, self.ruling1, ruling, strict=True)]
        bent = [
            a + n * b + 2.0 * n1 * b1 + n2 * r
            for a, b, b1, r in zip(self.spine2, self.ruling2, self.ruling1, ruling, strict=True)
        ]
        pace = np.sqrt(_dot(along, along))
        normal = _cross(along, ruling)
        normal = [one / np.sqrt(_dot(normal, normal)) for one in normal]
        left = [one / pace for one in _cross(normal, along)]
        squared = 2.0 * np.maximum(energy, STILL) / pace**2
        speed = np.sqrt(2.0 * np.maximum(energy, STILL))
        gravity = GRAVITY * normal[2] + squared * _dot(bent, normal)
        across = GRAVITY * left[2] + squared * _dot(bent, left)
        push = (energy1 + GRAVITY * along[2]) / pace + envelope.loss(speed)
        fastest = 0.5 * min(envelope.top, CEILING) ** 2
        coefficient = n - n2 * self.spacing**2 / 6.0
        margins = [
            1.0 - envelope.use(speed, gravity, push, across) ** 2,
            gravity / GRAVITY - self.lightest,
            (envelope.pull(speed, gravity, across) - push) / GRAVITY,
            self.left - coefficient,
            self.right + coefficient,
            energy / ENERGY,
            (fastest - energy) / ENERGY,
        ]
        return self.spacing * pace / speed, np.stack(np.broadcast_arrays(*margins))


def _dot(a: Sequence[Field], b: Sequence[Field]) -> Field:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Sequence[Field], b: Sequence[Field]) -> list[Field]:
    return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
