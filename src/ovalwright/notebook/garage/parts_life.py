"""The life of a part: its laps, miles and heat cycles over the runs it was in, and the history of a tire.

Every lap counts, whatever its flag, for it turned every part; green laps are counted beside. A run is one
heat cycle (common practice, no source). What a part had when it came is added.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from ovalwright.documents.rack import OwnedTire
from ovalwright.notebook.garage.parts import Whereabouts, whereabouts_of
from ovalwright.notebook.garage.parts_measured import TREAD, Measured, measurements
from ovalwright.notebook.tables import Part, Ridden, Run
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.units import KINDS, PSI, UnitError, read_quantity

TYPICAL_GROWTH: float = OwnedTire.model_fields["growth"].default.si
"""Roll-out gained per pressure [m/Pa] where a tire's own is not known: that of the rack."""
APART = PSI
"""Two roll-outs of one day tell it when their pressures are this far apart [Pa], one psi."""


class RunMoment(NamedTuple):
    """A moment among the runs: those that started at the same time follow each other as they were kept."""

    started: dt.datetime
    run_id: int


@dataclass(frozen=True)
class Tally:
    """What some runs come to: laps of all flags, those at speed, distance [m], runs, days at a track."""

    laps: int = 0
    green: int = 0
    distance: float = 0.0
    runs: int = 0
    days: int = 0
    first: dt.datetime | None = None
    last: dt.datetime | None = None


@dataclass(frozen=True)
class PartLife:
    """A part with all it went through. `laps`, `distance` [m] and `cycles` hold what it had before it came,
    `green` and `days` only what the notebook counted.
    """

    kind: str
    mark: str
    name: str
    where: Whereabouts
    laps: int
    green: int
    distance: float
    cycles: int
    runs: int
    days: int
    first_run: dt.date | None
    last_run: dt.date | None
    bought_on: dt.date | None
    retired_on: dt.date | None


@dataclass(frozen=True)
class RollOut:
    """A roll-out [m] at a pressure [Pa], brought to the pressure of reference, and how much it has grown by
    then since the first one [m].
    """

    on: dt.date
    si: float
    at: float
    at_reference: float
    grown: float


@dataclass(frozen=True)
class TireRun:
    """A run on a tire: where it was, how many laps and heat cycles it had at the start, and what the run came
    to: laps, best and middle lap [s], fall-off per ten laps [s].
    """

    code: str
    started: dt.datetime
    place: str
    laps_before: int
    cycles_before: int
    laps: int
    best: float | None
    middle: float | None
    fall_off: float | None


@dataclass(frozen=True)
class TireLife:
    """The history of a tire. Roll-outs are compared at `reference` [Pa] by `growth` [m/Pa], which comes from
    `measured` (its own roll-outs at two pressures on one day), `told` (of the tire) or `typical`. `worn` is
    the tread gone [m] between the first and the last reading of each place it was read at.
    """

    life: PartLife
    compound: str
    date_code: str
    reference: float | None
    growth: float
    growth_from: str
    roll_outs: tuple[RollOut, ...]
    durometer: tuple[Measured, ...]
    tread: tuple[Measured, ...]
    worn: tuple[tuple[str, float], ...]
    runs: tuple[TireRun, ...]


# ---------------- any part


def tallies(session: Session, parts: Iterable[Part], *, after: RunMoment | None = None) -> dict[int, Tally]:
    """What the runs of each part, by its id, come to: all of them, or those after a moment."""
    query = (
        sa.select(
            Ridden.part_id,
            sa.func.sum(Run.laps),
            sa.func.sum(Run.green),
            sa.func.sum(Run.distance),
            sa.func.count(),
            sa.func.count(sa.distinct(sa.func.date(Run.started))),
            sa.func.min(Run.started),
            sa.func.max(Run.started),
        )
        .join(Run, Run.id == Ridden.run_id)
        .where(Ridden.part_id.in_([part.id for part in parts]))
        .group_by(Ridden.part_id)
    )
    if after is not None:
        same = sa.and_(Run.started == after.started, Run.id > after.run_id)
        query = query.where(sa.or_(Run.started > after.started, same))
    return {
        row[0]: Tally(int(row[1]), int(row[2]), float(row[3]), *row[4:]) for row in session.execute(query)
    }


def lives(session: Session, parts: Sequence[Part]) -> tuple[PartLife, ...]:
    """The lives of some parts, in their order."""
    told, places = tallies(session, parts), whereabouts_of(session, parts)
    return tuple(_life(part, places[part.id], told.get(part.id, Tally())) for part in parts)


def life(session: Session, part: Part) -> PartLife:
    """The life of a part."""
    return lives(session, [part])[0]


def _life(part: Part, where: Whereabouts, told: Tally) -> PartLife:
    return PartLife(
        kind=part.kind,
        mark=part.mark,
        name=part.name,
        where=where,
        laps=part.laps_before + told.laps,
        green=told.green,
        distance=part.distance_before + told.distance,
        cycles=part.cycles_before + told.runs,
        runs=told.runs,
        days=told.days,
        first_run=told.first.date() if told.first else None,
        last_run=told.last.date() if told.last else None,
        bought_on=part.bought_on,
        retired_on=part.retired_on,
    )


# ---------------- a tire


def tire_life(session: Session, part: Part, *, reference: str = "") -> TireLife:
    """The history of a tire, its roll-outs brought to a pressure (``20 psi``), else to that of the first.

    Raises NotebookTrouble for a part that is no tire and for a pressure that cannot be read.
    """
    if part.kind != "tire":
        raise NotebookTrouble(f"{part.kind} {part.mark} is no tire; name one, such as tire T8.")
    sizes = measurements(session, part, "roll_out")
    growth, growth_from = _growth(sizes, measurements(session, part, "growth"))
    told = _pressure(reference) if reference else sizes[0].at if sizes else None
    tread = tuple(one for third in TREAD for one in measurements(session, part, third))
    return TireLife(
        life=life(session, part),
        compound=part.compound,
        date_code=part.date_code,
        reference=told,
        growth=growth,
        growth_from=growth_from,
        roll_outs=tuple(_brought_to(told, sizes, growth)) if told is not None else (),
        durometer=measurements(session, part, "durometer"),
        tread=tread,
        worn=tuple(_worn(tread)),
        runs=tuple(_tire_runs(session, part)),
    )


def _pressure(told: str) -> float:
    try:
        return read_quantity(told, KINDS["pressure"]).si
    except UnitError as problem:
        raise NotebookTrouble(f"the pressure to compare roll-outs at: {problem}.") from None


def _growth(sizes: Sequence[Measured], told: Sequence[Measured]) -> tuple[float, str]:
    """Roll-out per pressure [m/Pa] and where it comes from.

    From roll-outs at several pressures on one day it is the slope common to all such days: least squares with
    each day's own mean, sum(dp dC) / sum(dp^2) about the means.
    """
    across, along = 0.0, 0.0
    for day in {one.on for one in sizes}:
        pairs = [(one.at or 0.0, one.si) for one in sizes if one.on == day]
        pressure, size = (sum(column) / len(pairs) for column in zip(*pairs, strict=True))
        across += sum((p - pressure) * (c - size) for p, c in pairs)
        along += sum((p - pressure) ** 2 for p, _ in pairs)
    if along >= APART**2 / 2 and across > 0.0:
        return across / along, "measured"
    return (told[-1].si, "told") if told else (TYPICAL_GROWTH, "typical")


def _brought_to(reference: float, sizes: Sequence[Measured], growth: float) -> Iterator[RollOut]:
    first: float | None = None
    for one in sizes:
        at = one.at if one.at is not None else reference
        brought = one.si + growth * (reference - at)
        first = brought if first is None else first
        yield RollOut(one.on, one.si, at, brought, brought - first)


def _worn(tread: Sequence[Measured]) -> Iterator[tuple[str, float]]:
    for third in TREAD:
        depths = [one.si for one in tread if one.what == third]
        if len(depths) > 1:
            yield third, depths[0] - depths[-1]


def _tire_runs(session: Session, part: Part) -> Iterator[TireRun]:
    query = sa.select(Ridden.place, Run).join(Run, Run.id == Ridden.run_id).where(Ridden.part_id == part.id)
    laps, cycles = part.laps_before, part.cycles_before
    for place, run in session.execute(query.order_by(Run.started, Run.id)):
        yield TireRun(
            run.code, run.started, place, laps, cycles, run.laps, run.best, run.middle, run.fall_off
        )
        laps, cycles = laps + run.laps, cycles + 1


def in_order(parts: Iterable[Part]) -> list[Part]:
    """Parts by kind, then by mark, with the numbers in marks as numbers: T2 before T10."""
    return sorted(parts, key=lambda one: (one.kind, _numbered(one.mark)))


def _numbered(mark: str) -> list[tuple[int, int, str]]:
    pieces = re.findall(r"\d+|\D+", mark)
    return [(0, int(piece), "") if piece.isdecimal() else (1, 0, piece.casefold()) for piece in pieces]
