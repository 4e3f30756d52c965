"""A rule book's limits on weighed quantities, and the car held against them; each book by itself.

Masses in kilograms as a scale shows them, percents are fractions of one, heights in meters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from ovalwright.study.weigh import (
    PERCENTS,
    CornerWeights,
    Estimate,
    Footprint,
    PadError,
    estimate,
    percent,
    pounds,
)
from ovalwright.units import show

GRAM = 1e-3  # [kg] pieces that agree to a gram are alike, and a gram over a limit is rounding
HAIR = 1e-6  # the same for a percent limit (fraction of one)


@dataclass(frozen=True, kw_only=True)
class Limit:
    """One limit of a rule book.

    of: a weighed quantity, or lead_piece (mass of one piece) or lead_height (of its place); value and
    tolerance [kg], fraction of one, or [m] for a height; per_lap is taken off a least weight for each lap
    run [kg]; moment: a state's name, or "always".
    """

    of: str
    is_: Literal["at least", "at most"]
    value: float
    moment: str = "always"
    tolerance: float = 0.0
    per_lap: float = 0.0

    @property
    def sense(self) -> float:
        """+1 when more is legal, -1 when less is."""
        return 1.0 if self.is_ == "at least" else -1.0

    def covers(self, state: str) -> bool:
        """Whether the limit holds in this state."""
        return self.moment in ("always", "as weighed", state)

    def bound(self, laps: int = 0) -> float:
        """The value that still passes."""
        return self.value - self.sense * (self.tolerance + self.allowance(laps))

    def allowance(self, laps: int) -> float:
        """What the book takes off a least weight for laps run [kg]."""
        return self.per_lap * laps if self.is_ == "at least" else 0.0

    def asked(self, laps: int = 0) -> str:
        """The limit in words, with what the book takes off or puts on it."""
        off = "less" if self.sense > 0.0 else "plus"
        granted = [f"{off} {self.show(self.tolerance)} of tolerance"] if self.tolerance else []
        if self.allowance(laps):
            granted.append(f"less {self.show(self.allowance(laps))} for {laps} laps")
        return ", ".join([str(self), *granted])

    def show(self, value: float) -> str:
        """A value of this quantity as a racer reads it."""
        if self.of == "lead_height":
            return show(value, "height")
        return percent(value) if self.of in PERCENTS else pounds(value)

    @property
    def rounding(self) -> float:
        """What counts as rounding in this limit's unit."""
        return HAIR if self.of in PERCENTS else GRAM

    def __str__(self) -> str:
        return f"{self.of.replace('_', ' ')} {self.is_} {self.show(self.value)}"


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """One limit in one state after so many laps: its value (None: not weighed) and the bound that still
    passes.
    """

    limit: Limit
    state: str
    laps: int
    bound: float
    value: Estimate | None

    @property
    def in_hand(self) -> float:
        """How far inside the limit, in its own unit [kg or 1]; negative is outside, nan when not weighed."""
        return self.limit.sense * (self.value.value - self.bound) if self.value else float("nan")

    @property
    def legal(self) -> bool:
        """Inside the limit as weighed, rounding forgiven."""
        return self.in_hand >= -self.limit.rounding

    @property
    def asked(self) -> str:
        """What the book asks in this state, its allowances named."""
        return self.limit.asked(self.laps)

    @property
    def sentence(self) -> str:
        """The verdict as a racer reads it."""
        if self.value is None:
            return f"{self.asked}: not weighed at the {self.state}."
        band = self.value.give_or_take
        near = f", give or take {self.limit.show(band)}" if band > 0.0 else ""
        call = ", too close to call" if abs(self.in_hand) < band else ""
        return (
            f"{self.asked}: {self.limit.show(self.value.value)} at the {self.state}, "
            f"{'inside' if self.legal else 'outside'} by {self.limit.show(abs(self.in_hand))}{near}{call}."
        )


def judge(
    weights: Mapping[str, CornerWeights],
    limits: Iterable[Limit],
    footprint: Footprint,
    *,
    pads: PadError | None = None,
    laps: int = 0,
) -> tuple[Verdict, ...]:
    """Hold a car, weighed or foreseen in the named states, against one book's limits on weighed quantities.

    pads: errors of the scale; left out, the weights are taken as exact.

    Raises:
        ValueError: a limit on something that is not weighed.
    """
    exact = PadError(gain=0.0, reading=0.0, bind=0.0)
    verdicts = []
    for limit in limits:
        states = [name for name in weights if limit.covers(name)] or [limit.moment]
        for name in states:
            value = estimate(limit.of, weights[name], footprint, pads or exact) if name in weights else None
            verdicts.append(Verdict(limit=limit, state=name, laps=laps, bound=limit.bound(laps), value=value))
    return tuple(verdicts)
