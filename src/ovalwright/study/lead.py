"""Lead in the car: what it weighs with each piece where it is, at the start and at the flag.

**Lead** (ballast) moves total, left and rear percent, which jack bolts cannot; they set cross. Fuel and
rubber that have gone by the flag leave from where they were. Limits come from one rule book as data.

Masses in kilograms as a scale shows them, places in meters: x forward of the front axle, y left, z above
ground; percents are fractions of one. Lead is bolted, marked and secured as the rule book and the chassis
builder ask.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ovalwright.study.verdicts import GRAM, Limit, Verdict, judge
from ovalwright.study.weigh import CornerWeights, Footprint, Vector, pounds, weigh
from ovalwright.units import INCH

LEAD = 11340.0
"""Density of lead [kg/m^3] (0.41 lb/in^3; CRC Handbook, from memory)."""
THICK = 2.0 * INCH
"""Thickness of a piece that lies flat (common practice, no source)."""
_PER_PIECE = ("lead_piece", "lead_height")


@dataclass(frozen=True, kw_only=True)
class Lump:
    """A mass [kg] and its place [m]; a negative mass is something gone from there."""

    mass: float
    x: float
    y: float
    z: float


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A piece of lead on hand: mass [kg]."""

    id: str
    mass: float


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where lead may be bolted [m], the most it may carry [kg], and the half of the chassis it is on."""

    id: str
    x: float
    y: float
    z: float
    most: float = float("inf")
    half: Literal["front", "rear"] = "rear"


@dataclass(frozen=True, kw_only=True)
class Bolted:
    """A piece in its place."""

    piece: Piece
    spot: Spot

    @property
    def lump(self) -> Lump:
        """What the car carries there."""
        return Lump(mass=self.piece.mass, x=self.spot.x, y=self.spot.y, z=self.spot.z)


@dataclass(frozen=True, kw_only=True)
class State:
    """A moment at which the car may be weighed.

    What has gone from it, its cross (fraction of one), laps run.
    """

    name: str
    cross: float
    gone: tuple[Lump, ...] = ()
    laps: int = 0


@dataclass(frozen=True, kw_only=True)
class Margin:
    """What to keep in hand for the track's scale: weight limits [kg], percent limits (fraction of one)."""

    weight: float = 0.0
    percent: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Want:
    """A value to come near to: a weighed quantity, in one state, with the weight of a miss."""

    of: str
    value: float
    state: str = "start"
    weight: float = 1.0


@dataclass(frozen=True, kw_only=True)
class LeadJob:
    """Everything a lead plan needs; `bare` is the car as it starts the race, driver and fuel in, no lead."""

    bare: Lump
    footprint: Footprint
    pieces: tuple[Piece, ...]
    spots: tuple[Spot, ...]
    limits: tuple[Limit, ...]
    states: tuple[State, ...]
    margin: Margin = field(default_factory=Margin)


def square_of(mass: float) -> float:
    """Side [m] of a square piece of lead [kg] that lies flat."""
    return math.sqrt(max(mass, 0.0) / (LEAD * THICK))


def center(lumps: Iterable[Lump]) -> Lump:
    """All of them as one: total mass at the center of mass.

    Raises:
        ValueError: nothing is left.
    """
    table = np.array([[lump.mass, lump.x, lump.y, lump.z] for lump in lumps])
    total = float(table[:, 0].sum())
    if not total > 0.0:
        raise ValueError(f"the masses sum to {pounds(total)}: nothing is left of the car")
    x, y, z = (float(part) for part in table[:, 0] @ table[:, 1:] / total)
    return Lump(mass=total, x=x, y=y, z=z)


def less(lump: Lump) -> Lump:
    """The same thing, gone."""
    return Lump(mass=-lump.mass, x=lump.x, y=lump.y, z=lump.z)


def bare_car(
    weights: CornerWeights, footprint: Footprint, *, cg_height: float, bolted: Iterable[Bolted] = ()
) -> Lump:
    """The weighed car [kg] without the lead that was in it; `cg_height` [m] is that of the car as weighed."""
    told = weigh(weights, footprint)
    car = Lump(mass=weights.total, x=told.cg_x.value, y=told.cg_y.value, z=cg_height)
    return center([car, *(less(piece.lump) for piece in bolted)])


def rubber_gone(masses: Sequence[float], footprint: Footprint, *, height: float) -> tuple[Lump, ...]:
    """Rubber [kg] worn off LF, RF, LR, RR as lumps; `height` [m] is that of the wheel centers."""
    places = zip(masses, footprint.x, footprint.y, strict=True)
    return tuple(Lump(mass=mass, x=float(x), y=float(y), z=height) for mass, x, y in places)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """The car with its lead where it is: in each state the four weights and the CG, and what each limit says.

    complaints: sentences on spots that carry too much, and on pieces or places the book does not allow.
    """

    bolted: tuple[Bolted, ...]
    lead: float
    weights: Mapping[str, CornerWeights]
    cg: Mapping[str, Lump]
    verdicts: tuple[Verdict, ...]
    complaints: tuple[str, ...]


def with_lead(job: LeadJob, bolted: Iterable[Bolted]) -> Outcome:
    """What the car weighs in every state with this lead in it."""
    pieces = tuple(bolted)
    cg = {state.name: car_at(job, state, pieces) for state in job.states}
    weights = {state.name: CornerWeights.of(stand(job, state, cg[state.name])) for state in job.states}
    verdicts: list[Verdict] = []
    for state in job.states:
        limits = [limit for limit in weighed_limits(job) if limit.covers(state.name)]
        verdicts += judge({state.name: weights[state.name]}, limits, job.footprint, laps=state.laps)
    return Outcome(
        bolted=pieces,
        lead=sum(b.piece.mass for b in pieces),
        weights=weights,
        cg=cg,
        verdicts=tuple(verdicts),
        complaints=tuple(_complaints(job, pieces)),
    )


def car_at(job: LeadJob, state: State, bolted: Iterable[Bolted] = ()) -> Lump:
    """The car in a state, with this lead in it."""
    return center([job.bare, *(b.lump for b in bolted), *(less(lump) for lump in state.gone)])


def stand(job: LeadJob, state: State, lump: Lump) -> Vector:
    """What a mass adds to LF, RF, LR, RR [kg], at the cross of a state."""
    return job.footprint.stand(mass=lump.mass, x=lump.x, y=lump.y, cross_percent=state.cross)


def _complaints(job: LeadJob, bolted: Sequence[Bolted]) -> Iterator[str]:
    for spot in dict.fromkeys(b.spot for b in bolted):
        carried = sum(b.piece.mass for b in bolted if b.spot == spot)
        if carried > spot.most + GRAM:
            yield f"{spot.id} carries {pounds(carried)} where {pounds(spot.most)} is the most it may."
    for limit in job.limits:
        if limit.of not in _PER_PIECE:
            continue
        for b in bolted:
            value = b.piece.mass if limit.of == "lead_piece" else b.spot.z
            if limit.sense * (value - limit.bound()) < -GRAM:
                yield f"{b.piece.id} at {b.spot.id}: {limit.show(value)} where the book says {limit}."


def weighed_limits(job: LeadJob) -> list[Limit]:
    """The limits on what a scale shows; the others are on each piece of lead."""
    return [limit for limit in job.limits if limit.of not in _PER_PIECE]


def what_if_moved(job: LeadJob, bolted: Sequence[Bolted], *, piece: str, to: str | None) -> Outcome:
    """The same lead with one piece at another spot, or off the car (`to` None).

    Raises:
        ValueError: the piece is not on hand, or the spot is not on the car.
    """
    pieces = {one.id: one for one in job.pieces} | {b.piece.id: b.piece for b in bolted}
    spots = {spot.id: spot for spot in job.spots} | {b.spot.id: b.spot for b in bolted}
    if piece not in pieces:
        raise ValueError(
            f'no piece of lead is called "{piece}"; there are {", ".join(sorted(pieces)) or "none"}'
        )
    if to is not None and to not in spots:
        raise ValueError(f'no spot for lead is called "{to}"; there are {", ".join(sorted(spots)) or "none"}')
    others = [b for b in bolted if b.piece.id != piece]
    return with_lead(job, others if to is None else [*others, Bolted(piece=pieces[piece], spot=spots[to])])
