"""Many cars at once: each settled and trimmed from the same deterministic start as a single one, on all
cores."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ..compiled import compiled
from ..vehicle.record import SIZE, Record
from .newton import CONVERGED
from .settle import settle, standing
from .trim import trim

Array = Any
NOT_SETTLED = 9
"""Status of a pair whose car did not settle; other statuses are those of `newton` and `trim`."""


@dataclass(frozen=True)
class Pairs:
    """Answers of a batch: states (n, 14) on the scales and in the turn, status (n,), and what each pair
    cost (n, 2): Jacobians and plain residuals."""

    settled: npt.NDArray[np.float64]
    trimmed: npt.NDArray[np.float64]
    status: npt.NDArray[np.int64]
    cost: npt.NDArray[np.int64]


@compiled
def _run(
    cars: Array, motions: Array, on_scales: Record, settled: Array, trimmed: Array, status: Array, cost: Array
) -> None:
    """Settle and trim each car of a slice."""
    work = np.zeros((40, SIZE))
    for i in range(len(cars)):
        settled[i, :] = 0.0
        code, _, jacobians, residuals = settle(cars[i], on_scales, settled[i], work)
        cost[i, 0], cost[i, 1] = jacobians, residuals
        if code != CONVERGED:
            status[i] = NOT_SETTLED
            continue
        code, _, jacobians, residuals = trim(settled[i], cars[i], motions[i], trimmed[i], work)
        status[i] = code
        cost[i, 0] += jacobians
        cost[i, 1] += residuals


def settle_and_trim(
    cars: npt.NDArray[Any], motions: npt.NDArray[Any], *, workers: int | None = None
) -> Pairs:
    """Settle and trim n cars (records CAR, MOTION of equal length) on `workers` threads (default: all
    cores)."""
    count = len(cars)
    pairs = Pairs(
        np.zeros((count, SIZE)),
        np.zeros((count, SIZE)),
        np.full(count, NOT_SETTLED),
        np.zeros((count, 2), np.int64),
    )
    workers = workers or os.cpu_count() or 1
    edges = np.linspace(0, count, min(8 * workers, max(count, 1)) + 1).astype(int)

    def part(k: int) -> None:
        cut = slice(edges[k], edges[k + 1])
        parts = (pairs.settled[cut], pairs.trimmed[cut], pairs.status[cut], pairs.cost[cut])
        _run(cars[cut], motions[cut], standing(), *parts)

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(part, range(len(edges) - 1)))
    return pairs
