"""A setup is kept as it stands bolted in, or re-set to its scale sheet: what it then reads, side by side."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from ovalwright.documents import WORKED_OUT, DocumentError
from ovalwright.pack import Packed, build, rebuilt_as_bolted
from ovalwright.study.state import Loads, loads_of
from ovalwright.study.through import along
from ovalwright.vehicle.record import CORNERS
from ovalwright.web import shares
from ovalwright.web.hand import written
from ovalwright.web.joined import Joined
from ovalwright.web.moment import Moment, pace_of
from ovalwright.web.stands_kept import standing
from ovalwright.web.troubles import sentence
from ovalwright.web.words import amount

WORKED_OUT_UNTIL = "It stands as it was bolted in, on a sheet that is worked out until it is weighed."
RE_SET = "It is the car re-set to the heights and cross of its scale sheet."


@dataclass(frozen=True)
class Keeping:
    """Where the setup in hand is looked at, and what it reads there now and kept in each of two ways."""

    place: str
    rows: tuple[tuple[str, str], ...]


def before_keeping(here: Moment) -> Keeping:
    """What the setup in hand reads at the place and fuel looked at, and what it would read once kept."""
    joined = here.tank.joined
    cars: list[tuple[str, Packed | str]] = [("As you look at it", joined.trial.bolted)]
    cars += [("Kept as it stands", _stands(joined)), ("Kept re-set", build(joined.now))]
    loads = [None if isinstance(car, str) else _loads(here, car) for _, car in cars]
    most = _differs_most(loads[0], loads[-1])
    rows = tuple(
        (name, car if isinstance(car, str) else _unbroken(sentence(_reads(car, at, most))))
        for (name, car), at in zip(cars, loads, strict=True)
    )
    return Keeping(f"At {here.now.phase}, with {here.tank.gallons:g} gal", rows)


def _unbroken(told: str) -> str:
    """The same with every number held to its unit."""
    return re.sub(r"(?<=\d) (?=%|lb)", "\N{NO-BREAK SPACE}", told)


def _stands(joined: Joined) -> Packed | str:
    """The car of the setup kept as it stands, or why it cannot be kept so."""
    try:
        return build(standing(joined.base, written(joined.hand.changes)))
    except (DocumentError, ValueError) as problem:
        return f"cannot be: {problem}"


def after_keeping(here: Moment) -> str:
    """What keeping changed; the setup in hand was just kept, and the one it came from is behind it."""
    joined = here.tank.joined
    if joined.other is None:
        return ""
    if joined.base.sheet.scale == WORKED_OUT and joined.base.sheet != joined.other.sheet:
        return WORKED_OUT_UNTIL
    bolted = rebuilt_as_bolted(build(joined.other), joined.base)
    told = _told(here, bolted, joined.trial.base)
    return f"{RE_SET} {told or 'Here it reads as it did bolted in.'}"


def _differs_most(was: Loads | None, now: Loads | None) -> int | None:
    """The corner whose load differs most."""
    return int(np.argmax(np.abs(np.subtract(now.corners, was.corners)))) if was and now else None


def _told(here: Moment, bolted: Packed, kept: Packed) -> str:
    """Two cars in words, as bolted in and as kept; nothing where they read the same."""
    was, now = (_loads(here, car) for car in (bolted, kept))
    most = _differs_most(was, now)
    told = _reads(bolted, was, most), _reads(kept, now, most)
    return "" if told[0] == told[1] else f"As bolted in: {told[0]}. As kept: {told[1]}."


def _reads(car: Packed, loads: Loads | None, corner: int | None) -> str:
    """Cross on the scales, wedge at the place, and the load of one corner there."""
    told = f"cross on the scales {shares.percent(loads_of(car.weighed.corners()).cross)} %"
    if loads is None or corner is None:
        return told
    load = amount(loads.corners[corner], "force")
    return f"{told}, wedge here {shares.percent(loads.cross)} %, {CORNERS[corner]} load {load}"


def _loads(here: Moment, car: Packed) -> Loads | None:
    """What the tires of a car carry at the place; None where there is no steady state."""
    found = along(here.tank.filled(car), pace_of(here.tank.joined), [here.distance], here.tank.passage)
    return loads_of(found.corners[0]) if found.solved[0] else None
