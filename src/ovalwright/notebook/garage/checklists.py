"""Checklists to begin with: common practice of the trade in our own words. A racer changes them as he likes.

An item may begin with where it is, as in ``LF: tie rod ends, jam nuts``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ovalwright.notebook.garage.cautions import (
    AIR,
    BOOK,
    CLEARANCE,
    COILS,
    DATES,
    FUEL,
    LEAD,
    MOVING,
    PEDAL,
    STANDS,
    WHEELS,
)


@dataclass(frozen=True)
class Thing:
    """One thing to do, with its caution where it can hurt someone."""

    words: str
    caution: str = ""


@dataclass(frozen=True)
class ReadyList:
    """A checklist to begin with."""

    name: str
    note: str
    things: tuple[Thing, ...]


_FRONT = (
    Thing("arms, shafts and cross bolts"),
    Thing("ball joints, nuts and cotter pins, no play"),
    Thing("tie rod end and jam nut, no play"),
    Thing("shock, both ends, shaft straight and dry"),
    Thing("coil seated, jack bolt locked", COILS),
    Thing("caliper, pads, brake line clear of the wheel"),
    Thing("hub nut, no play"),
)
_REAR = (
    Thing("trailing arm, both ends, jam nuts"),
    Thing("shock, both ends, shaft straight and dry"),
    Thing("coil seated, jack bolt locked", COILS),
    Thing("caliper, pads, brake line clear of the wheel"),
    Thing("hub and drive plate, no play"),
)


def _at(where: str, *things: Thing) -> Iterator[Thing]:
    """Things that are at one place of the car."""
    yield from (Thing(f"{where}: {thing.words}", thing.caution) for thing in things)


NUT_AND_BOLT = ReadyList(
    "Nut and bolt",
    "Once around the car, always the same way. A wrench on each fastener, then a paint mark across it; a "
    f"mark that has moved is a bolt that has. {BOOK}",
    (
        Thing("car clean; look for marks that moved, rubbed places, wet places", STANDS),
        *_at("LF", *_FRONT),
        *_at("RF", *_FRONT),
        *_at(
            "front",
            Thing("sway bar, arms and link, jam nuts"),
            Thing("steering box or rack, column joints, wheel release"),
        ),
        *_at(
            "engine",
            Thing("mounts, pulleys and belts"),
            Thing("headers, lines and hoses, no leak", FUEL),
            Thing("throttle opens fully and snaps shut"),
        ),
        *_at(
            "driver",
            Thing("seat and its mounts"),
            Thing("belts and their anchors"),
            Thing("window net, extinguisher and its pin"),
            Thing("pedals, brake bias"),
        ),
        *_at("driveline", Thing("gearbox mount and shifter"), Thing("driveshaft, U-joints, loop", STANDS)),
        *_at("LR", *_REAR),
        *_at("RR", *_REAR),
        *_at(
            "rear end",
            Thing("third link or torque arm, jam nuts"),
            Thing("panhard, both ends, jam nuts"),
            Thing("cover, fill and drain plugs, no leak"),
        ),
        *_at("fuel", Thing("cell straps, lines, filler, vent, no leak", FUEL)),
        *_at("lead", Thing("every piece: bolts, paint, number, safety wire", LEAD)),
        *_at("body", Thing("hood pins, bumpers, spoiler, mirrors")),
        *_at("wheels", Thing("fasteners, all four, in a star", WHEELS)),
    ),
)

SCALING = ReadyList(
    "Scaling",
    f"In this order, for each step moves the ones after it; begin again where one was off. {CLEARANCE}",
    (
        Thing("floor or pads level to each other", STANDS),
        Thing("race tires on, at race pressure; roll-outs measured and written down", AIR),
        Thing("fuel as planned and written down; fluids full"),
        Thing("driver in the seat with helmet, or his weight at hip height"),
        Thing("steering straight, brakes off"),
        Thing("bar unhooked, shocks off or free, bump stops clear"),
        Thing("ride heights to the sheet, at the marks on the frame", MOVING),
        Thing("rear end square; camber, caster and toe to the sheet"),
        Thing("scales at zero, car rolled on, front and rear bounced", MOVING),
        Thing("four weights read; rolled off and on; read again, within 3 lb"),
        Thing("corner weights add up to the total"),
        Thing("left and rear percent first: only lead moves them", LEAD),
        Thing("cross by the jack bolts, equal and small at all four", COILS),
        Thing("heights again, both until they agree; rounds written down"),
        Thing("bar hooked with the driver in, read again: the change is its preload"),
        Thing("shocks on, read again; stop gaps to the sheet", COILS),
        Thing("toe again; steering and travel, lock to lock, nothing touches", MOVING),
        Thing("sheet written: weights, percents, heights, pressures, roll-outs, fuel, who, date"),
    ),
)

RACE_DAY = ReadyList(
    "Race day",
    f"From the gate to the way home. {BOOK}",
    (
        Thing("car unloaded, everything in the trailer tied down", MOVING),
        Thing("pressures and roll-outs cold, in the shade", AIR),
        Thing("wheel fasteners", WHEELS),
        Thing("fuel measured in", FUEL),
        Thing("technical inspection; track's scales against ours"),
        Thing("drivers' meeting: order, laps, rules of the restart"),
        Thing("pedal firm, extinguisher and net, belts tight", PEDAL),
        Thing("after the first laps: leaks, rubbing, coils seated, wheel fasteners again", STANDS),
        Thing("every run: laps, temperatures, hot pressures, what the driver said", FUEL),
        Thing("before the feature: fuel for the laps, pressures, lead and links by their paint marks", LEAD),
        Thing("after the feature: scales and inspection, nothing touched before"),
        Thing("set-down: pressures, heights, weights, travels as it came back", FUEL),
        Thing("hit or rubbed: which corners, noted with the run"),
        Thing("nothing left behind; money, points, next entry"),
    ),
)

SAFETY_DATES = ReadyList(
    "Safety dates",
    f"What is good until a day: write the day on each. {BOOK}",
    tuple(
        Thing(words, DATES)
        for words in (
            "belts",
            "window net",
            "seat and head surround",
            "helmet",
            "head restraint",
            "suit, gloves, shoes",
            "extinguisher or fire system",
            "fuel cell bladder and foam",
            "license and physical",
        )
    ),
)

READY = (NUT_AND_BOLT, SCALING, RACE_DAY, SAFETY_DATES)
