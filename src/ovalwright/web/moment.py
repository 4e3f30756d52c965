"""One moment of the turn as everyone sees it: the setup in hand, its base and the one drawn behind it, all at
one place with one load of fuel and at one speed, each solved there.

What a thumb comes back to is kept: the pace of a base on a track, a load of fuel in the cars of a hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from ovalwright.documents import STATIONS
from ovalwright.pack import Packed, motion, with_fuel
from ovalwright.pictures.car_shape import CarPlan, CarShape, car_plan, car_shape
from ovalwright.study.at_limit import AtLimit, Parts, at_limit, parts
from ovalwright.study.bands import Band
from ovalwright.study.compare import verdict_of
from ovalwright.study.held_back import held_back
from ovalwright.study.lap import DRIVER
from ovalwright.study.moved import Moved, why
from ovalwright.study.reading import balance_near
from ovalwright.study.state import Loads, loads_of
from ovalwright.study.through import (
    PLACES,
    Lane,
    Pace,
    Passage,
    Place,
    along,
    paced,
    place_at,
    through_fuel,
)
from ovalwright.study.turn import Limited, limited
from ovalwright.units import FOOT, GALLON
from ovalwright.web.joined import DAY, Joined
from ovalwright.web.kept import Lately, once

FEWEST_GALLONS = 0.25
"""Step of the fuel slider [gal]."""
LANE_LOADS = 5
"""Loads of fuel from which the lanes over fuel are drawn."""
LATELY, PLACES_LATELY = 96, 512
"""So many loads of fuel are kept, and so many places with what touches there through the fuel."""
LIMITS = 12
"""Three cars in four places of the turn at the most."""
Which = Literal["now", "base", "reset"]


_PACES: Lately[tuple[Pace, tuple[str, ...]]] = Lately(LATELY)


def pace_of(joined: Joined) -> Pace:
    """The road of the turn at the speeds of the base's own lap. Raises NoLap, DocumentError."""
    return _paced(joined)[0]


def held_at(joined: Joined) -> tuple[str, ...]:
    """What to say where those speeds are of a driver who is held back. Raises as `pace_of`."""
    return _paced(joined)[1]


@lru_cache(maxsize=LATELY)
def _paced(joined: Joined) -> tuple[Pace, tuple[str, ...]]:
    base, track = joined.base, joined.track
    texts = tuple(one.text for one in (base.setup, base.car, base.sheet, base.rack, track))

    def lap() -> tuple[Pace, tuple[str, ...]]:
        car = with_fuel(joined.trial.base, share=0.5)
        return held_back(lambda driver: paced(car, track, DAY, end=joined.end, driver=driver), DRIVER)

    return _PACES.of((*texts, joined.end), lap)


@lru_cache(maxsize=LATELY)
def plan_of(joined: Joined, behind: bool) -> CarPlan:
    """What of a car is drawn from its documents."""
    car = joined.behind if behind else joined.trial.bolted
    assert car is not None
    return car_plan(car)


def capacity(joined: Joined) -> float:
    """What the fuel cell holds [gal]."""
    return float(joined.trial.base.values()[0].fuel_cell.capacity) / GALLON


@dataclass(frozen=True, eq=False)
class Tank:
    """The cars of a hand with one load of fuel [gal]."""

    joined: Joined
    gallons: float

    def filled(self, car: Packed) -> Packed:
        """A car with as much in its tank."""
        density = car.values()[0].fuel_cell.density
        return with_fuel(car, self.gallons * GALLON * density)

    @once
    def now(self) -> Packed:
        """The setup in hand, as bolted in."""
        return self.filled(self.joined.trial.bolted)

    @once
    def base(self) -> Packed:
        """The setup it is changed from."""
        return self.filled(self.joined.trial.base)

    @once
    def reset(self) -> Packed | None:
        """The setup in hand re-set to the heights and cross of the base; None where that does not apply."""
        car = self.joined.trial.reset
        return None if car is None else self.filled(car)

    @once
    def behind(self) -> Packed | None:
        """The car that is drawn behind."""
        car = self.joined.behind
        if car is self.joined.trial.base:
            return self.base
        return None if car is None else self.filled(car)

    @once
    def passage(self) -> Passage:
        """The setup in hand all along the turn."""
        return self._through(self.now)

    @once
    def behind_passage(self) -> Passage | None:
        """The car that is drawn behind all along the turn."""
        return None if self.behind is None else self._through(self.behind)

    def _through(self, car: Packed) -> Passage:
        pace = pace_of(self.joined)
        return along(car, pace, np.linspace(0.0, pace.length, PLACES))

    def limit(self, phase: str) -> Limited:
        """Limit and balance of the setup in hand at entry, middle or exit."""
        return self._limit("now", self.now, phase)

    def base_limit(self, phase: str) -> Limited:
        """Those of the base."""
        return self._limit("base", self.base, phase)

    def behind_limit(self, phase: str) -> Limited | None:
        """Those of the car that is drawn behind."""
        if self.behind is None:
            return None
        is_base = self.joined.behind is self.joined.trial.base
        return self.base_limit(phase) if is_base else self._limit("behind", self.behind, phase)

    def _limit(self, which: str, car: Packed, phase: str) -> Limited:
        def solved() -> Limited:
            station = next(one for one in STATIONS if one.name == phase)
            place = motion(self.joined.track, DAY, speed=1.0, end=self.joined.end, station=station)
            return limited(car, place)

        return self._limits.of((which, phase), solved)

    def balance(self, which: Which, phase: str) -> float:
        """Balance of one of the cars near the limit of the base in a phase; NaN where there is none."""

        def near() -> float:
            last, car = self.base_limit(phase).limit.last, self.car(which)
            return math.nan if last is None or car is None else balance_near(car, last)

        return self._balances.of((which, phase), near)

    def parts(self, which: Which, phase: str) -> Parts | None:
        """What the change of balance near that limit is made of; None where it is not found."""
        was, now = self._tires("base", phase), self._tires(which, phase)
        return None if was is None or now is None else parts(was, now)

    def _tires(self, which: Which, phase: str) -> AtLimit | None:
        def at_the_limit() -> AtLimit | None:
            last, car = self.base_limit(phase).limit.last, self.car(which)
            return None if last is None or car is None else at_limit(car, last)

        return self._at_limits.of((which, phase), at_the_limit)

    def car(self, which: Which) -> Packed | None:
        """One of the cars."""
        return {"now": self.now, "base": self.base, "reset": self.reset}[which]

    @once
    def _limits(self) -> Lately[Limited]:
        return Lately(LIMITS)

    @once
    def _at_limits(self) -> Lately[AtLimit | None]:
        return Lately(LIMITS)

    @once
    def _balances(self) -> Lately[float]:
        return Lately(LIMITS)


_TANKS: Lately[Tank] = Lately(LATELY)
_LANES: Lately[tuple[Lane, ...]] = Lately(PLACES_LATELY)


def tank(joined: Joined, gallons: float) -> Tank:
    """The cars of a hand with so many gallons."""
    return _TANKS.of((joined, gallons), lambda: Tank(joined, gallons))


def fuel_lanes(joined: Joined, distance: float) -> tuple[Lane, ...]:
    """What touches at a place [m] through the fuel [kg] of the setup in hand."""

    def solved() -> tuple[Lane, ...]:
        return through_fuel(_filled_evenly(joined), pace_of(joined), distance)

    return _LANES.of((joined, distance), solved)


@lru_cache(maxsize=LATELY)
def _filled_evenly(joined: Joined) -> tuple[Packed, ...]:
    """The setup in hand with the tank full, empty, and between."""
    shares = np.linspace(1.0, 0.0, LANE_LOADS).tolist()
    return tuple(with_fuel(joined.trial.bolted, share=share) for share in shares)


# ---------------- one place


@dataclass(frozen=True)
class Answer:
    """What a change does at the place, to the base at the same speed: wedge (share), balance at the limit of
    the phase (share of weight x wheelbase), both NaN where there is no answer; and all that `moved`.
    """

    wedge: float
    balance: float
    moved: Moved | None


@dataclass(frozen=True, eq=False)
class Moment:
    """The cars of a tank at one place of the turn [m]."""

    tank: Tank
    distance: float

    @once
    def now(self) -> Place:
        """The setup in hand, read in full."""
        return place_at(self.tank.now, pace_of(self.tank.joined), self.distance, self.tank.passage)

    @once
    def behind(self) -> Place | None:
        """The car that is drawn behind."""
        car, passage = self.tank.behind, self.tank.behind_passage
        return None if car is None else place_at(car, pace_of(self.tank.joined), self.distance, passage)

    def shape(self) -> CarShape | None:
        """The setup in hand to draw; None where it is not solved."""
        return self._shape(self.now, behind=False)

    def behind_shape(self) -> CarShape | None:
        """The car behind to draw; None where there is none, or it is not solved."""
        return None if self.behind is None else self._shape(self.behind, behind=True)

    def _shape(self, place: Place, *, behind: bool) -> CarShape | None:
        solved = place.solved
        if solved is None:
            return None
        plan = plan_of(self.tank.joined, behind)
        return car_shape(plan, solved.record, solved.unknowns, solved.motion)

    # ------------ what the changes do

    def answer(self, which: Which) -> Answer | None:
        """What was changed does so much, as bolted in ("now") or "reset", which is None where it does not
        apply.
        """
        if self.tank.car(which) is None:
            return None
        was, loads = self._loads("base"), self._loads(which)
        if was is None or loads is None:
            return Answer(math.nan, math.nan, None)
        phase = self.now.phase
        change = self.tank.balance(which, phase) - self.tank.balance("base", phase)
        lf, rf, lr, rr = (Band(b - a) for a, b in zip(was.corners, loads.corners, strict=True))
        cross = loads.cross - was.cross
        verdict = verdict_of(Band(change), with_band=False)
        return Answer(
            cross, change, Moved((lf, rf, lr, rr), Band(cross), Band(change), Band(math.nan), verdict)
        )

    def why(self, which: Which, answer: Answer) -> str:
        """Why it does so, in one sentence, from the loads here and the tires at the limit of the phase."""
        if answer.moved is None:
            return "no steady state here, so there is nothing to compare."
        return why(replace(answer.moved, parts=self.tank.parts(which, self.now.phase)))

    def _loads(self, which: Which) -> Loads | None:
        car, place = self.tank.car(which), None
        if which == "now":
            place = self.now
        elif which == "base" and self.tank.joined.behind is self.tank.joined.trial.base:
            place = self.behind
        if place is not None or car is None:
            return place.carried.loads if place and place.carried else None
        found = along(car, pace_of(self.tank.joined), [self.distance], self.tank.passage)
        return loads_of(found.corners[0]) if found.solved[0] else None


def moment(joined: Joined, gallons: float, distance: float) -> Moment:
    """The cars of a hand with so many gallons at a place [m], both within what there is."""
    most, length = capacity(joined), pace_of(joined).length
    fuel = min(max(round(gallons / FEWEST_GALLONS) * FEWEST_GALLONS, 0.0), most)
    return Moment(tank(joined, fuel), min(max(distance, 0.0), length))


def moment_at(joined: Joined, feet: float | None = None, gallons: float | None = None) -> Moment:
    """The same at a place [ft]; where nobody chose, the middle of the turn with the fuel that was weighed."""
    weighed = min(joined.base.sheet.fuel.si / GALLON, capacity(joined))
    where = middle_of(joined, "middle") if feet is None else feet * FOOT
    return moment(joined, weighed if gallons is None else gallons, where)


def middle_of(joined: Joined, phase: str) -> float:
    """The middle of a phase [m]."""
    return next(0.5 * (begin + end) for name, begin, end in pace_of(joined).phases if name == phase)


def solve_ahead(joined: Joined) -> None:
    """Solve what whoever opens the turn first will see. Raises NoLap, DocumentError."""
    here = moment_at(joined)
    here.shape()
    here.behind_shape()
    here.tank.limit(here.now.phase)
    fuel_lanes(joined, here.distance)
