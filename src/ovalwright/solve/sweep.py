"""The fastest lap of an envelope on a fixed line: forward under power, backward from the brakes.

State E = V^2/2, dE/ds = acceleration along the road. Nowhere can the car be faster than the cap at which its
path alone fills the tires; from every place it can gain no more than the drive left beside the turn, and on
the way to every place it can lose no more than the braking left. The smaller of both is the largest feasible
profile and so the fastest (Bobrow, Dubowsky & Gibson, *Int. J. Robotics Research* 4(3) (1985); Verscheure et
al., *IEEE Trans. Automatic Control* 54 (2009), from memory). All stations are stepped at once until none
changes, which closes the lap by itself. Steps take the slope at their middle: it leaves the cap where the
slope grows from nothing like a root. At the cap nothing is left to hold the speed against drag; the car falls
steeply to the speed that it can hold, and no step goes below that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g as GRAVITY
from scipy.optimize.elementwise import find_root

from .envelope import Envelope, Field

CEILING = 150.0
"""Speed [m/s] above which nothing is sought."""
SETTLED = 1e-11
"""Relative change of E at which a sweep has settled."""
LAPS = 20
"""Most laps that a sweep is followed before it counts as not closing."""
GRAIN = 1.0
"""Longest step [m]."""


class Way(Protocol):
    """What a sweep reads of a driven line: arrays (n,), station by station, as `road.Line` has them."""

    @property
    def step(self) -> Field: ...
    @property
    def curvature(self) -> Field: ...
    @property
    def bank(self) -> Field: ...
    @property
    def grade(self) -> Field: ...
    @property
    def crest(self) -> Field: ...


@dataclass(frozen=True)
class Burden:
    """What places on a line ask of a car at E [m^2/s^2], arrays (n,).

    across = 2 E turn - lean, apparent gravity = press + 2 E dip, along = dE/ds + climb + drag; turn and dip
    in 1/m, lean, press and climb in m/s^2.
    """

    turn: Field
    lean: Field
    dip: Field
    press: Field
    climb: Field

    def across(self, energy: Field) -> Field:
        """Side push per mass that the path takes [m/s^2], + left."""
        return 2.0 * energy * self.turn - self.lean

    def gravity(self, energy: Field) -> Field:
        """Load on the road per mass [m/s^2]."""
        return self.press + 2.0 * energy * self.dip

    def fields(self) -> tuple[Field, ...]:
        """The five of them in order."""
        return self.turn, self.lean, self.dip, self.press, self.climb


def burden(curvature: Field, bank: Field, grade: Field, crest: Field) -> Burden:
    """The burden of a path: horizontal curvature [1/m], bank and grade [rad], crest [1/m, + dip]."""
    cb, sb, cg = np.cos(bank), np.sin(bank), np.cos(grade)
    bend = curvature * cg * cg
    return Burden(
        turn=bend * cb - crest * sb,
        lean=GRAVITY * cg * sb,
        dip=bend * sb + crest * cb,
        press=GRAVITY * cg * cb,
        climb=GRAVITY * np.sin(grade),
    )


Gain = Callable[[Burden, Field], Field]
"""Change of E per meter [m/s^2] at places and E."""


@dataclass(frozen=True)
class Sweep:
    """The fastest profile along a line, arrays (n,) at its stations.

    `time` [s]; `elapsed` [s] since the first station; `speed` [m/s]; `along`, `across` [m/s^2] what the tires
    push; `gravity` [m/s^2] load per mass; `cap` [m/s] at which the path alone fills the tires or the
    revs end.
    """

    time: float
    elapsed: Field
    speed: Field
    along: Field
    across: Field
    gravity: Field
    cap: Field


def lap(envelope: Envelope, line: Way, *, grain: float = GRAIN) -> Sweep:
    """The fastest closed lap; `grain` [m] is the longest step.

    Raises ValueError where the lap does not close or the car cannot keep moving on its road.
    """
    return _swept(envelope, line, grain, np.inf, np.inf, closed=True)


def run(
    envelope: Envelope, line: Way, *, entry: float = np.inf, exit: float = np.inf, grain: float = GRAIN
) -> Sweep:
    """The fastest run over an open line, from its first station at `entry` to its last at `exit` [m/s] or as
    fast as it can be there. The step of the last station leads nowhere and is not driven."""
    return _swept(envelope, line, grain, entry, exit, closed=False)


def _swept(envelope: Envelope, line: Way, grain: float, entry: float, exit: float, *, closed: bool) -> Sweep:
    road, steps, stations = _divided(line, grain)
    here, between = burden(*road), burden(*(0.5 * (road + np.roll(road, -1, axis=1))))
    cap, held = capped(envelope, here, held=False), capped(envelope, here, held=True)
    pace = np.sqrt(2.0 * held)
    pull = envelope.pull(pace, here.gravity(held), here.across(held))
    pulls = pull >= envelope.loss(pace) + here.climb
    held = np.where(pulls, held, 0.0)

    def speeding(at: Burden, energy: Field) -> Field:
        speed, across, gravity = np.sqrt(2.0 * energy), at.across(energy), at.gravity(energy)
        return envelope.thrust(speed, gravity, across) - envelope.loss(speed) - at.climb

    def slowing(at: Burden, energy: Field) -> Field:
        speed, across, gravity = np.sqrt(2.0 * energy), at.across(energy), at.gravity(energy)
        return envelope.braking(speed, gravity, across) + envelope.loss(speed) + at.climb

    if closed:
        most = np.minimum(cap, _reachable(speeding, here))
    else:
        most = cap.copy()
        most[0], most[-1] = min(most[0], 0.5 * entry**2), min(most[-1], 0.5 * exit**2)
    nothing = np.zeros_like(cap)
    energy = _followed(speeding, here, between, steps, most, held, way=1, closed=closed)
    energy = _followed(
        slowing, here, _shifted(between), np.roll(steps, 1), energy, nothing, way=-1, closed=closed
    )
    return _told(envelope, here, energy, cap, steps, stations, closed=closed)


def _divided(line: Way, grain: float) -> tuple[Field, Field, NDArray[np.intp]]:
    """Curvature, bank, grade and crest (4, m) where every step is cut to the grain, those steps, and which of
    the m places are the stations."""
    parts = np.maximum(np.ceil(line.step / grain).astype(int), 1)
    stations = np.cumsum(parts) - parts
    share = (np.arange(parts.sum()) - np.repeat(stations, parts)) / np.repeat(parts, parts)
    whole = np.stack([line.curvature, line.bank, line.grade, line.crest])
    road = np.repeat(whole, parts, axis=1)
    road += share * (np.repeat(np.roll(whole, -1, axis=1), parts, axis=1) - road)
    return road, np.repeat(line.step / parts, parts), stations


def capped(envelope: Envelope, here: Burden, *, held: bool) -> Field:
    """E at which the path fills the tires, alone or beside what just holds the speed [m^2/s^2]; no more than
    the revs allow."""
    ceiling = 0.5 * min(CEILING, envelope.top) ** 2

    def excess(energy: Field, *where: Field) -> Field:
        at, speed = Burden(*where), np.sqrt(2.0 * energy)
        along = envelope.loss(speed) + at.climb if held else np.zeros_like(speed)
        return envelope.use(speed, at.gravity(energy), along, at.across(energy)) - 1.0

    fields = here.fields()
    with np.errstate(divide="ignore", invalid="ignore"):
        unpushed = np.nan_to_num(here.lean / (2.0 * here.turn), nan=0.0, posinf=ceiling, neginf=0.0)
    tried = np.linspace(0.0, 1.0, 5)[:, None] * np.clip(unpushed, 0.0, ceiling)
    easiest = np.argmin([excess(one, *fields) for one in tried], axis=0)
    low = np.take_along_axis(tried, easiest[None], axis=0)[0]
    high = np.full_like(low, ceiling)
    cap: Field = np.where(excess(low, *fields) < 0.0, high, low)
    bounded = (excess(low, *fields) < 0.0) & (excess(high, *fields) > 0.0)
    if bounded.any():
        only = [one[bounded] for one in fields]
        cap[bounded] = find_root(excess, (low[bounded], high[bounded]), args=tuple(only)).x
    return cap


def _reachable(speeding: Gain, here: Burden) -> float:
    """E that no place on a closed lap lets the car go beyond: there it would slow down everywhere."""
    fields, ceiling = here.fields(), 0.5 * CEILING**2
    low, high = np.zeros_like(here.turn), np.full_like(here.turn, ceiling)
    if (speeding(here, high) > 0.0).any():
        return ceiling
    climbs = speeding(here, low) > 0.0
    if not climbs.any():
        return 0.0

    def gain(energy: Field, *where: Field) -> Field:
        return speeding(Burden(*where), energy)

    args = tuple(one[climbs] for one in fields)
    return float(find_root(gain, (low[climbs], high[climbs]), args=args).x.max())


def _followed(
    gain: Gain,
    here: Burden,
    between: Burden,
    steps: Field,
    most: Field,
    held: Field,
    *,
    way: int,
    closed: bool,
) -> Field:
    """The largest E under `most` that gains no more than it can from place to place, in one direction.

    `between` and `steps` [m] belong to the way from each place to the next one in that direction; no step
    falls below the E that is `held` where it leads.
    """
    energy, start = most, 0 if way > 0 else -1
    for _ in range(LAPS * len(most)):
        halfway = np.maximum(energy + 0.5 * steps * gain(here, energy), 0.0)
        reached = np.roll(energy + steps * gain(between, halfway), way)
        reached = np.maximum(reached, np.minimum(np.roll(energy, way), held))
        if not closed:
            reached[start] = most[start]
        last, energy = energy, np.minimum(reached, most)
        if np.max(np.abs(energy - last)) <= SETTLED * np.max(energy):
            return energy
    raise ValueError("The lap does not close: the car is not as fast at its end as at its start.")


def _told(
    envelope: Envelope,
    here: Burden,
    energy: Field,
    cap: Field,
    steps: Field,
    stations: NDArray[np.intp],
    *,
    closed: bool,
) -> Sweep:
    speed = np.sqrt(2.0 * energy)
    pair = speed + np.roll(speed, -1)
    driven = slice(None) if closed else slice(-1)
    if not (pair[driven] > 0.0).all():
        raise ValueError("The car comes to rest on this road: it is too steep for its engine or its tires.")
    with np.errstate(divide="ignore"):
        elapsed = np.concatenate([[0.0], np.cumsum(2.0 * steps[driven] / pair[driven])])
    change = np.gradient(np.append(energy, energy[0]), np.append(0.0, np.cumsum(steps)))[:-1]
    return Sweep(
        time=float(elapsed[-1]),
        elapsed=elapsed[:-1][stations] if closed else elapsed[stations],
        speed=speed[stations],
        along=(change + here.climb + envelope.loss(speed))[stations],
        across=here.across(energy)[stations],
        gravity=here.gravity(energy)[stations],
        cap=np.sqrt(2.0 * cap)[stations],
    )


def _shifted(between: Burden) -> Burden:
    """What lies before each place instead of behind it."""
    return Burden(*(np.roll(one, 1) for one in between.fields()))
