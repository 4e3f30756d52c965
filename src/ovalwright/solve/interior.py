"""Least sum around a closed chain of nodes whose margins must stay positive, by an interior point method.

Node i of n sees its own unknowns and its neighbors' through five local coordinates, which are linear in
(a[i-1], a[i], a[i+1], b[i-1], b[i]), a and b being the two unknowns of each node. Every node adds one cost
and has some margins, both functions of its five coordinates alone. The method is the primal-dual barrier
method with an inertia correction and steps that keep every margin positive (Nocedal & Wright, *Numerical
Optimization*, 2nd ed. 2006, ch. 19; Waechter & Biegler, *Math. Programming* 106 (2006) 25, from memory). All
its iterates are feasible. Derivatives are central differences, all nodes at once; the ring is folded flat, so
that Newton's matrix is banded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded

Field = NDArray[np.float64]
Local = Callable[[Field], tuple[Field, Field]]
"""Cost (..., n) and margins (k, ..., n) of all nodes, from their coordinates (5, ..., n)."""

SEEN = 5
BAND = 10
"""Sub-diagonals of Newton's matrix of the folded ring: nodes two apart lie at most four places apart."""
KEEP = 0.995
"""Share of a margin or multiplier that one step may take."""
ENOUGH = 1e-4
"""Share of the promised fall of the barrier function that a step must bring."""
TIGHTEN = 0.15
"""Factor from one barrier to the next one."""
SHIFTS = (0.0, *(1e-6 * 4.0**k for k in range(30)))
"""Shifts of Newton's matrix, tried until it is positive."""
SLIGHT = 1e-5
"""A matrix shifted by no more than this counts as positive by itself."""
HALVINGS = 30


@dataclass(frozen=True)
class Chain:
    """The problem: local functions, coordinates from what a node sees (5, 5), steps of differences (5,)."""

    local: Local
    blend: Field
    steps: Field


@dataclass(frozen=True)
class Least:
    """Unknowns (n, 2) that were found, whether they are the least sum, and Newton steps taken."""

    unknowns: Field
    converged: bool
    rounds: int


def seen(unknowns: Field) -> Field:
    """What every node sees, (5, n), of unknowns (n, 2)."""
    a, b = unknowns.T
    return np.stack([np.roll(a, 1), a, np.roll(a, -1), np.roll(b, 1), b])


def least(chain: Chain, start: Field, *, barrier: float, last: float, most: int) -> Least:
    """The least sum from a start (n, 2) with positive margins; heights of the first and the last barrier.

    A barrier counts as solved when Newton's step promises to lower it by less than its height (Boyd &
    Vandenberghe, *Convex Optimization*, 2004, sec. 9.5, from memory). At the end the sum is within (number of
    margins) x `last` of a local least. Raises ValueError when a margin of the start is not positive.
    """
    nodes = _Ring(len(start))
    unknowns = start.copy()
    cost, margins = chain.local(chain.blend @ seen(unknowns))
    if not (margins > 0.0).all():
        raise ValueError("An interior point method must start inside its margins.")
    multipliers = barrier / margins
    for rounds in range(most):
        slopes = _slopes(chain, unknowns)
        move, shift = _direction(chain, nodes, slopes, margins, multipliers, barrier)
        change = chain.blend @ seen(move)
        turned = np.einsum("kin,in->kn", slopes.margin_first, change)
        fall = float(np.sum(slopes.first * change) - barrier * np.sum(turned / margins))
        if -fall <= barrier and shift <= SLIGHT:
            if barrier <= last:
                return Least(unknowns, True, rounds)
            barrier = max(last, min(TIGHTEN * barrier, barrier**1.5))
            continue
        multiplier_move = (barrier - multipliers * turned) / margins - multipliers
        before = float(np.sum(cost) - barrier * np.sum(np.log(margins)))
        length = 1.0
        for _ in range(HALVINGS):
            tried = unknowns + length * move
            cost_tried, margins_tried = chain.local(chain.blend @ seen(tried))
            if (margins_tried > (1.0 - KEEP) * margins).all():
                after = float(np.sum(cost_tried) - barrier * np.sum(np.log(margins_tried)))
                if after <= before + ENOUGH * length * fall + 1e-12 * abs(before):
                    break
            length *= 0.5
        else:
            return Least(unknowns, False, rounds)
        unknowns, cost, margins = tried, cost_tried, margins_tried
        shrinking = multiplier_move < 0.0
        longest = np.min(-KEEP * multipliers[shrinking] / multiplier_move[shrinking], initial=1.0)
        multipliers = multipliers + longest * multiplier_move
        # Far from barrier / margin a multiplier says nothing about the curve ahead.
        multipliers = np.clip(multipliers, 1e-8 * barrier / margins, 1e8 * barrier / margins)
    return Least(unknowns, False, most)


@dataclass(frozen=True)
class _Slopes:
    """First and second derivatives by the coordinates: (5, n), (5, 5, n) and (k, 5, n), (k, 5, 5, n)."""

    first: Field
    second: Field
    margin_first: Field
    margin_second: Field


def _slopes(chain: Chain, unknowns: Field) -> _Slopes:
    """All derivatives by central differences, from one call at 31 points around every node."""
    pairs = list(combinations(range(SEEN), 2))
    unit = np.eye(SEEN)
    one = np.concatenate([unit, -unit])
    two = np.array([unit[i] + unit[j] for i, j in pairs])
    points = np.concatenate([np.zeros((1, SEEN)), one, two, -two]) * chain.steps
    at = chain.blend @ seen(unknowns)
    cost, margins = chain.local(at[:, None, :] + points.T[:, :, None])
    values = np.concatenate([cost[None], margins])
    middle, up, down = values[:, :1], values[:, 1 : 1 + SEEN], values[:, 1 + SEEN : 1 + 2 * SEEN]
    first = (up - down) / (2.0 * chain.steps[:, None])
    second = np.empty((len(values), SEEN, SEEN, at.shape[1]))
    for i in range(SEEN):
        second[:, i, i] = (up[:, i] - 2.0 * middle[:, 0] + down[:, i]) / chain.steps[i] ** 2
    both = values[:, 1 + 2 * SEEN :]
    for k, (i, j) in enumerate(pairs):
        alone = up[:, i] + down[:, i] + up[:, j] + down[:, j]
        mixed = both[:, k] + both[:, k + len(pairs)] + 2.0 * middle[:, 0] - alone
        second[:, i, j] = second[:, j, i] = mixed / (2.0 * chain.steps[i] * chain.steps[j])
    return _Slopes(first[0], second[0], first[1:], second[1:])


def _direction(
    chain: Chain, nodes: _Ring, slopes: _Slopes, margins: Field, multipliers: Field, barrier: float
) -> tuple[Field, float]:
    """Newton's step (n, 2) on the barrier's conditions, and the shift that makes its matrix positive."""
    bend = slopes.second - np.einsum("kn,kijn->ijn", multipliers, slopes.margin_second)
    bend = bend + np.einsum(
        "kn,kin,kjn->ijn", multipliers / margins, slopes.margin_first, slopes.margin_first
    )
    slope = slopes.first - np.einsum("kn,kin->in", barrier / margins, slopes.margin_first)
    matrix = nodes.banded(np.einsum("ia,ijn,jb->abn", chain.blend, bend, chain.blend))
    right = -nodes.gathered(chain.blend.T @ slope)
    for shift in SHIFTS:
        shifted = matrix.copy()
        shifted[0] += shift
        try:
            factor = cholesky_banded(shifted, lower=True)
        except np.linalg.LinAlgError:
            continue
        return nodes.spread(cho_solve_banded((factor, True), right)), shift
    return np.zeros((nodes.count, 2)), np.inf


class _Ring:
    """Where the unknowns of a closed chain lie in a banded system: its far half folded onto its near one."""

    def __init__(self, count: int) -> None:
        node = np.arange(count)
        place = np.where(node < (count + 1) // 2, 2 * node, 2 * (count - node) - 1)
        self.count = count
        self.of_a, self.of_b = 2 * place, 2 * place + 1
        self.seen = np.stack(
            [np.roll(self.of_a, 1), self.of_a, np.roll(self.of_a, -1), np.roll(self.of_b, 1), self.of_b]
        )
        row = np.broadcast_to(self.seen[:, None], (SEEN, SEEN, count))
        column = np.broadcast_to(self.seen[None], (SEEN, SEEN, count))
        self.lower = row >= column
        self.slot = ((row - column) * 2 * count + column)[self.lower]

    def gathered(self, parts: Field) -> Field:
        """Sum of what the nodes give to what they see (5, n), in the order of the system."""
        return np.asarray(np.bincount(self.seen.ravel(), parts.ravel(), 2 * self.count), dtype=float)

    def banded(self, blocks: Field) -> Field:
        """Sum of the nodes' blocks (5, 5, n) as the lower band of a symmetric matrix."""
        size = (BAND + 1) * 2 * self.count
        total = np.asarray(np.bincount(self.slot, blocks[self.lower], size), dtype=float)
        return total.reshape(BAND + 1, 2 * self.count)

    def spread(self, solution: Field) -> Field:
        """A solution of the system as unknowns (n, 2)."""
        return np.stack([solution[self.of_a], solution[self.of_b]], axis=1)
