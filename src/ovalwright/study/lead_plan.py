"""Which piece of lead to bolt where, so that the car is legal at the start and at the flag.

A percent limit, part of the car <= limit x total, is linear in the lead once multiplied out, so that
choosing whole pieces is a mixed-integer linear program, solved with HiGHS through SciPy (Huangfu & Hall,
Math. Prog. Comp. 10, 2018).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ovalwright.study.lead import (
    Bolted,
    LeadJob,
    Lump,
    Outcome,
    Piece,
    State,
    Want,
    car_at,
    stand,
    weighed_limits,
    with_lead,
)
from ovalwright.study.verdicts import GRAM, HAIR, Limit, Verdict
from ovalwright.study.weigh import PERCENTS, Vector, signs_of

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

Rows = tuple[NDArray[np.float64], Vector]
Aim = Literal["least lead", "lowest CG", "wanted percents"]
_GAP = 2e-4  # relative gap at which a search stops
_CLOSE = 0.25  # [kg] plans this close are as good
_LITTLE = 1e-3  # worth of a kilogram of lead beside a kilogram of miss
_MANY = 500  # columns beyond which a search first narrows the spots


@dataclass(frozen=True, kw_only=True)
class Miss:
    """A limit that no plan keeps with its margin: `short` is what it lacks of bound and margin.

    certain: proven that it must be missed; otherwise the search ran out of time.
    """

    verdict: Verdict
    short: float
    certain: bool

    @property
    def sentence(self) -> str:
        """The miss as a racer reads it."""
        limit, hand = self.verdict.limit, self.verdict.in_hand
        kept = f"kept, but only {limit.show(hand)} is in hand, {limit.show(self.short)} less than the margin."
        why = "this lead and these spots cannot do it" if self.certain else "give the search more time"
        missed = f"missed by {limit.show(-hand)}: {why}."
        return f"{self.verdict.asked} at the {self.verdict.state} is {kept if self.verdict.legal else missed}"


@dataclass(frozen=True, kw_only=True)
class LeadPlan:
    """The outcome, the limits it has to miss, and whether no plan can be better by more than half a pound.

    Half a pound of lead or of miss; for the lowest CG, the moment that half a pound has a meter up.
    """

    outcome: Outcome
    misses: tuple[Miss, ...]
    proven: bool


def plan_lead(
    job: LeadJob,
    aim: Aim = "least lead",
    *,
    wants: Sequence[Want] = (),
    most_lead: float | None = None,
    seconds: float = 0.5,
) -> LeadPlan:
    """Whole pieces in their places so that every limit is kept with its margin, by the chosen aim.

    least lead: the smallest mass, then the lowest; lowest CG: of the car in its first state; wanted
    percents: the smallest weighted sum of misses of `wants`, each as a share of the car, then little lead.
    `most_lead` [kg] caps the lead; left out, it is the least that keeps the limits and the heaviest piece
    more. Where no plan keeps every limit, the plan that misses them by the least total is given, with what
    it misses. Each of the few searches stops after `seconds` with the best plan so far.

    Raises:
        ValueError: wanted percents without wants, or a want or limit on something that is not weighed.
    """
    if aim == "wanted percents" and not wants:
        raise ValueError("wanted percents need at least one want, such as rear percent 50 %")
    search = _Search(job, float("inf") if most_lead is None else most_lead, seconds)
    limits = search.limit_rows()
    found = search.solve(search.masses, limits)
    if found is None:
        found = search.least_missed(limits)
    elif aim == "least lead":
        search.limit[-1] = found.lead + _CLOSE
        lower = search.solve(search.masses * search.heights, limits) or found
        found = lower._replace(open=found.open)
    else:
        if most_lead is None:
            search.limit[-1] = found.lead + search.masses.max(initial=0.0)
        found = search.lowest(found, limits) if aim == "lowest CG" else search.nearest(found, limits, wants)
    outcome = with_lead(job, search.bolted(found.counts))
    short = [(verdict, abs(_margin(job, verdict.limit)) - verdict.in_hand) for verdict in outcome.verdicts]
    proven = found.open <= _CLOSE
    misses = tuple(Miss(verdict=v, short=s, certain=proven) for v, s in short if s > v.limit.rounding)
    return LeadPlan(outcome=outcome, misses=misses, proven=proven)


def _margin(job: LeadJob, limit: Limit) -> float:
    return limit.sense * (job.margin.percent if limit.of in PERCENTS else job.margin.weight)


class _Found(NamedTuple):
    """Counts, their lead [kg], and how much better a plan might still be [unit of the cost]."""

    counts: Vector
    lead: float
    open: float


class _Search:
    """The program behind a plan; its counts are pieces of each mass at each spot, spot by spot per mass.

    Rows are a matrix and a constant [kg]: matrix @ counts + constant >= 0. The last of `limit` caps all lead.
    """

    def __init__(self, job: LeadJob, most_lead: float, seconds: float) -> None:
        self.job, self.seconds = job, seconds
        self.groups = _alike(p for p in job.pieces if p.mass > 0.0 and _allowed(job, "lead_piece", p.mass))
        self.spots = [spot for spot in job.spots if _allowed(job, "lead_height", spot.z)]
        each = np.array([group[0].mass for group in self.groups])
        held = np.array([len(group) for group in self.groups], dtype=float)
        most = np.array([spot.most for spot in self.spots])
        self.masses = np.repeat(each, len(self.spots))
        self.heights = np.tile([spot.z for spot in self.spots], len(each)).astype(float)
        self.upper = np.minimum(
            np.repeat(held, len(self.spots)), np.floor((np.tile(most, len(each)) + GRAM) / self.masses)
        )
        on_hand = np.kron(np.eye(len(each)), np.ones(len(self.spots)))
        loaded = np.kron(each, np.eye(len(self.spots)))
        self.matrix = np.vstack([on_hand, loaded, self.masses[None, :]])
        self.limit = np.concatenate([held, most + GRAM, [most_lead]])

    def solve(self, cost: Vector, rows: Rows) -> _Found | None:
        """Least cost, or None; columns beyond the counts are continuous and not negative.

        Among very many columns, only the spots that the relaxed program uses are tried first; its cost
        bounds all.
        """
        if not len(cost):
            return _Found(cost, 0.0, 0.0) if np.all(rows[1] >= 0.0) else None
        if len(self.masses) > _MANY and (relaxed := self._program(cost, rows, self.upper, whole=False)):
            table = relaxed.x[: len(self.masses)].reshape(len(self.groups), len(self.spots))
            used = np.tile((table > HAIR).any(axis=0), len(self.groups))
            if few := self._program(cost, rows, self.upper * used, whole=True):
                return self._found(few, relaxed.fun)
        full = self._program(cost, rows, self.upper, whole=True)
        return (
            self._found(full, full.fun if full.mip_dual_bound is None else full.mip_dual_bound)
            if full
            else None
        )

    def _found(self, result: OptimizeResult, bound: float) -> _Found:
        counts = np.rint(result.x[: len(self.masses)])
        return _Found(counts, float(self.masses @ counts), float(result.fun - bound))

    def _program(self, cost: Vector, rows: Rows, upper: Vector, *, whole: bool) -> OptimizeResult | None:
        n, extra = len(self.masses), len(cost) - len(self.masses)
        from scipy.optimize import Bounds, LinearConstraint, milp

        result = milp(
            cost,
            integrality=np.concatenate([np.full(n, float(whole)), np.zeros(extra)]),
            bounds=Bounds(0.0, np.concatenate([upper, np.full(extra, np.inf)])),
            constraints=[
                LinearConstraint(np.pad(self.matrix, ((0, 0), (0, extra))), -np.inf, self.limit),
                LinearConstraint(rows[0], -rows[1], np.inf),
            ],
            options={"time_limit": self.seconds, "mip_rel_gap": _GAP},
        )
        return None if result.x is None else result

    def limit_rows(self) -> Rows:
        """One row per limit and state it covers, its margin taken off."""
        rows = [
            self._row(limit.of, limit.bound(state.laps) + _margin(self.job, limit), state, limit.sense)
            for limit in weighed_limits(self.job)
            for state in self.job.states
            if limit.covers(state.name)
        ]
        return _stack(rows, len(self.masses))

    def _row(self, quantity: str, value: float, state: State, sense: float) -> tuple[Vector, float]:
        """sense x (quantity - value) [kg] as a row and a constant, a percent multiplied out."""
        signs, car = signs_of(quantity), stand(self.job, state, car_at(self.job, state))
        spots = [stand(self.job, state, Lump(mass=1.0, x=s.x, y=s.y, z=s.z)) for s in self.spots]
        fixed, per_total = (0.0, value) if quantity in PERCENTS else (value, 0.0)
        per_spot = np.array([(signs - per_total) @ spot for spot in spots])
        row = self.masses * np.tile(per_spot, len(self.groups))
        return sense * row, sense * (float((signs - per_total) @ car) - fixed)

    def lowest(self, found: _Found, limits: Rows) -> _Found:
        """Lowest CG in the first state: a ratio of two linear forms, by Dinkelbach's iteration (1967)."""
        car = car_at(self.job, self.job.states[0])

        def height(plan: _Found) -> float:
            moment = self.masses * self.heights @ plan.counts
            return float((car.mass * car.z + moment) / (car.mass + plan.lead))

        for _ in range(3):
            lower = self.solve(self.masses * (self.heights - height(found)), limits)
            if lower is None or height(lower) > height(found) - 1e-4:
                break
            found = lower
        return found

    def nearest(self, found: _Found, limits: Rows, wants: Sequence[Want]) -> _Found:
        """Least weighted sum of |had - wanted|, with one continuous column for each miss."""
        states = {state.name: state for state in self.job.states}
        rows = []
        for miss, want in zip(np.eye(len(wants)), wants, strict=True):
            for sense in (1.0, -1.0):
                row, constant = self._row(want.of, want.value, states[want.state], sense)
                rows.append((np.concatenate([row, miss]), constant))
        rows += [(np.pad(row, (0, len(wants))), constant) for row, constant in zip(*limits, strict=True)]
        cost = np.concatenate([_LITTLE * self.masses, [want.weight for want in wants]])
        return self.solve(cost, _stack(rows, len(cost))) or found

    def least_missed(self, limits: Rows) -> _Found:
        """Every limit may give way by a slack [kg]; the least sum of slacks, then little lead."""
        matrix, constant = limits
        cost = np.concatenate([_LITTLE * self.masses, np.ones(len(constant))])
        wide = (np.hstack([matrix, np.eye(len(constant))]), constant)
        return self.solve(cost, wide) or _Found(np.zeros(len(self.masses)), 0.0, float("inf"))

    def bolted(self, counts: Vector) -> list[Bolted]:
        """The pieces themselves, in the order they were given."""
        table = counts.reshape(len(self.groups), len(self.spots)).astype(int)
        placed = []
        for group, row in zip(self.groups, table, strict=True):
            places = [spot for spot, count in zip(self.spots, row, strict=True) for _ in range(count)]
            placed += [Bolted(piece=piece, spot=spot) for piece, spot in zip(group, places, strict=False)]
        return placed


def _alike(pieces: Iterable[Piece]) -> list[list[Piece]]:
    """Pieces that agree to a gram, together."""
    ordered = sorted(pieces, key=lambda piece: piece.mass)
    return [list(group) for _, group in groupby(ordered, key=lambda piece: round(piece.mass / GRAM))]


def _allowed(job: LeadJob, of: str, value: float) -> bool:
    limits = [limit for limit in job.limits if limit.of == of]
    return all(limit.sense * (value - limit.bound()) >= -GRAM for limit in limits)


def _stack(rows: Sequence[tuple[Vector, float]], width: int) -> Rows:
    matrix = np.array([row for row, _ in rows]).reshape(len(rows), width)
    return matrix, np.array([constant for _, constant in rows])
