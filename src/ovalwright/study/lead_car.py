"""The lead job of a car as its documents tell it: weighed, with its lead, its rack and one rule book.

Masses in kilograms, places in meters with x forward of the front axle, percents as fractions of one, as in
`lead`. Cross at the start and at the flag is that of the settled car, not the one on the scales.
"""

from __future__ import annotations

import numpy as np

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Car, Rack, Rules, State
from ovalwright.documents.rack import LeadPiece
from ovalwright.documents.rules import Limit as BookLimit
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.masses import whole_height
from ovalwright.study import lead
from ovalwright.study.scale_sheet import footprint_of, weights_of
from ovalwright.study.verdicts import Limit
from ovalwright.study.weigh import PERCENTS, WEIGHTS

START, FLAG, WEIGH_IN, REFUELED = "start", "flag", "weigh-in", "weigh-in with fuel made up"
PER_PIECE = ("lead_piece", "lead_height")
RUBBER = 1120.0
"""Density of tread rubber [kg/m^3] (from memory)."""


def pieces_of(rack: Rack) -> tuple[lead.Piece, ...]:
    """Every piece of lead on hand by itself; one of several alike is told by a number."""
    return tuple(lead.Piece(id=name, mass=entry.mass.si) for entry in rack.lead for name in names_of(entry))


def names_of(entry: LeadPiece) -> tuple[str, ...]:
    """What the pieces of one kind are called."""
    if entry.count == 1:
        return (entry.id,)
    return tuple(f"{entry.id}-{number}" for number in range(1, entry.count + 1))


def spots_of(rack: Rack, car: Car) -> tuple[lead.Spot, ...]:
    """Every place lead may be bolted."""
    middle = 0.5 * (car.sprung.front_half_station.si + car.sprung.rear_half_station.si)
    return tuple(
        lead.Spot(
            id=spot.id,
            x=spot.x.si,
            y=spot.y.si,
            z=spot.z.si,
            most=spot.most.si,
            half="front" if spot.x.si > middle else "rear",
        )
        for spot in rack.lead_spots
    )


def bolted_in(assembly: Assembly) -> tuple[lead.Bolted, ...]:
    """The lead of the setup, each piece at the spot of the rack it stands at, else where the setup says."""
    spots = spots_of(assembly.rack, assembly.car)
    found = []
    for number, piece in enumerate(assembly.setup.lead, start=1):
        place = np.array(piece.place.si)
        near = [s for s in spots if float(np.linalg.norm(place - (s.x, s.y, s.z))) < 0.03]
        x, y, z = (float(part) for part in place)
        spot = near[0] if near else lead.Spot(id=f"place {number}", x=x, y=y, z=z)
        found.append(lead.Bolted(piece=lead.Piece(id=piece.id, mass=piece.mass.si), spot=spot))
    return tuple(found)


def limits_of(rules: Rules) -> tuple[Limit, ...]:
    """The limits of a book that lead can help to keep, its weight breaks that apply taken into account."""
    return tuple(_limit(rules, one) for one in books_by_lead(rules))


def books_by_lead(rules: Rules) -> tuple[BookLimit, ...]:
    """The same limits as the book writes them, in the same order."""
    by_lead = {*PERCENTS, *WEIGHTS, *PER_PIECE}
    return tuple(one for one in rules.limits if one.of in by_lead)


def _limit(rules: Rules, limit: BookLimit) -> Limit:
    breaks = sum(item.change.si for item in rules.breaks if item.applies and item.of == limit.of)
    after = REFUELED if limit.refuel else WEIGH_IN
    return Limit(
        of=limit.of,
        is_=limit.is_,
        value=limit.value.si + breaks,
        moment=after if limit.moment == "after the race" else limit.moment,
        tolerance=limit.tolerance.si if limit.tolerance else 0.0,
        per_lap=limit.allowance_per_lap.si if limit.allowance_per_lap else 0.0,
    )


def lead_job(
    assembly: Assembly,
    rules: Rules,
    *,
    start_fuel: float | None = None,
    flag: State | None = None,
    flag_fuel: float | None = None,
    laps: int = 0,
    margin: lead.Margin | None = None,
) -> lead.LeadJob:
    """The car as it starts the race without its lead, what has gone by the flag, and what the book asks.

    Fuel in kilograms: at the start a full cell when left out, at the flag that of the state `flag` (its worn
    rubber too), else `flag_fuel`, else a tenth of the cell.

    Raises DocumentError as `build` does.
    """
    car = assembly.car
    capacity = car.fuel_cell.capacity.si * car.fuel_cell.density.si
    full = capacity if start_fuel is None else start_fuel
    empty = 0.1 * capacity if flag_fuel is None else flag_fuel
    empty = flag.fuel.si * car.fuel_cell.density.si if flag else empty
    packed = build(assembly, driver=True, hot=False)
    start, end = with_fuel(packed, full), with_fuel(packed, empty)
    burned = lead.Lump(mass=full - empty, **_burned_place(start, end, full, empty))
    gone = tuple(lump for lump in (burned, *_rubber(assembly, flag)) if lump.mass > 0.0)
    weights = weights_of(assembly.sheet)
    bare = lead.bare_car(
        weights,
        footprint_of(car),
        cg_height=whole_height(packed.values()[0], packed.values()[2]),
        bolted=bolted_in(assembly),
    )
    return lead.LeadJob(
        bare=lead.center([bare, *_put_in(assembly, start, full)]),
        footprint=footprint_of(car),
        pieces=tuple(
            {
                piece.id: piece
                for piece in (*pieces_of(assembly.rack), *(b.piece for b in bolted_in(assembly)))
            }.values()
        ),
        spots=spots_of(assembly.rack, car),
        limits=limits_of(rules),
        states=tuple(_states(limits_of(rules), _cross(start), _cross(end), gone, laps, burned)),
        margin=margin or lead.Margin(),
    )


def _states(
    limits: tuple[Limit, ...],
    cross_start: float,
    cross_flag: float,
    gone: tuple[lead.Lump, ...],
    laps: int,
    burned: lead.Lump,
) -> list[lead.State]:
    """Start and flag, and the weighings after the race that the book names."""
    named = {limit.moment for limit in limits}
    states = [
        lead.State(name=START, cross=cross_start),
        lead.State(name=FLAG, cross=cross_flag, gone=gone, laps=laps),
    ]
    if WEIGH_IN in named:
        states.append(lead.State(name=WEIGH_IN, cross=cross_flag, gone=gone, laps=laps))
    if REFUELED in named:
        rest = tuple(lump for lump in gone if lump is not burned)
        states.append(lead.State(name=REFUELED, cross=cross_start, gone=rest, laps=laps))
    return states


def _put_in(assembly: Assembly, start: Packed, full: float) -> list[lead.Lump]:
    """What the start has more than the sheet: fuel, and the driver where he was not on the scales."""
    car, sheet = assembly.car, assembly.sheet
    was = sheet.fuel.si * car.fuel_cell.density.si
    lumps = []
    if full != was:
        on_scales = with_fuel(start, was)
        place = _burned_place(start, on_scales, full, was)
        lumps.append(lead.Lump(mass=full - was, **place))
    if not sheet.driver:
        x, y, z = car.driver.place.si
        lumps.append(lead.Lump(mass=car.driver.mass.si, x=x, y=y, z=z))
    return lumps


def _burned_place(more: Packed, fewer: Packed, full: float, empty: float) -> dict[str, float]:
    """Center [m] of the fuel that is in one car and not in the other, from where each car's fuel sits."""
    if full == empty:
        return {"x": 0.0, "y": 0.0, "z": 0.0}
    forward = 0.5 * float(more.record["wheelbase"])
    moment = full * more.record["fuel_cg"] - empty * fewer.record["fuel_cg"]
    x, y, z = (float(part) for part in moment / (full - empty))
    return {"x": x - forward, "y": y, "z": z}


def _rubber(assembly: Assembly, flag: State | None) -> tuple[lead.Lump, ...]:
    """Rubber worn off the four tires by the flag."""
    if flag is None:
        return ()
    worn = []
    for corner in CORNERS:
        tire = getattr(assembly.setup, corner).tire
        around = tire.roll_out.si if tire.roll_out else 0.0
        worn.append(RUBBER * around * tire.width.si * getattr(flag, corner).wear.si)
    height = assembly.car.unsprung.height.si
    return lead.rubber_gone(worn, footprint_of(assembly.car), height=height)


def _cross(packed: Packed) -> float:
    loads = packed.standing.corners()["load"]
    return float((loads[1] + loads[2]) / loads.sum())
