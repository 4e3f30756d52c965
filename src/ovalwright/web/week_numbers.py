"""The three numbers that matter at the next track: wedge in the turn, balance at the limit, most speed there,
each with its band once that was asked for.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from ovalwright.documents import MIDDLE, Assembly, Conditions, DocumentError, Track
from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store
from ovalwright.pack import build
from ovalwright.study.balance import word
from ovalwright.study.bands import Band
from ovalwright.study.sure import how_sure
from ovalwright.study.turn import FULL, turn
from ovalwright.web import shares
from ovalwright.web.troubles import sentence
from ovalwright.web.words import AT_THE_LIMIT, amount

WEDGE, BALANCE, SPEED = "Wedge in the turn", f"Balance {AT_THE_LIMIT}", "Most speed there"
MILE_AN_HOUR = 0.44704
"""[m/s]."""


@dataclass(frozen=True)
class Number:
    """One number that matters at the next track, with its unit, half its band, and what it means; `by_tires`
    unless something else than the tires sets it, which has no band.
    """

    name: str
    value: str
    meaning: str
    band: str = ""
    by_tires: bool = True


@dataclass(frozen=True)
class Numbers:
    """The numbers of one setup at one track; `reason` in their place where there are none."""

    where: str
    rows: tuple[Number, ...] = ()
    reason: str = ""
    has_bands: bool = False


@lru_cache(maxsize=64)
def worked_out(store: Store, setup: str, track: str) -> Numbers:
    """The middle of the turn with a full cell; a revision never changes, so its numbers are kept."""
    assembly, oval = documents(store, setup, track)
    where = f"{oval.name}, middle of the turn, full of fuel"
    try:
        place = turn(build(assembly), oval, Conditions(), stations=(MIDDLE,)).tanks[0].places[0]
    except (DocumentError, ValueError) as problem:
        return Numbers(where, reason=sentence(str(problem)))
    if place.carried is None or place.speed is None:
        return Numbers(where, reason=sentence(f"no numbers: {place.reason or place.limit.sets}"))
    wedge, sets = amount(place.carried.loads.cross, "percent"), place.limit.sets.removeprefix("the ")
    speed = amount(place.limit.speed, "speed")
    rows = [
        Number(WEDGE, wedge, "of the weight on RF and LR"),
        Number(SPEED, speed, sentence(f"set by the {sets}"), by_tires="tires" in sets),
    ]
    if place.balance is not None:
        worth, share = place.balance.wedge, shares.balance(place.balance.share)
        as_wedge = f", as much as {amount(abs(worth), 'percent')} of cross" if worth is not None else ""
        rows.insert(1, Number(BALANCE, share, f"of weight times wheelbase{as_wedge}"))
    return Numbers(where, tuple(rows))


def documents(store: Store, setup: str, track: str) -> tuple[Assembly, Track]:
    """The setup with all it stands on, and the track, by their codes."""
    with store.reading() as session:
        oval = shelf.document_of(shelf.revision(session, track, kind="track"))
        assembly = shelf.assembly_of(session, shelf.revision(session, setup, kind="setup"))
    assert isinstance(oval, Track)
    return assembly, oval


def bands(assembly: Assembly, track: Track, *, progress: Callable[[int, int], None]) -> dict[str, Band]:
    """How sure the numbers are, by their names in `study.reading.NUMBERS`. Raises DocumentError."""
    found = how_sure(
        build(assembly), track, Conditions(), stations=(MIDDLE,), fuels=(FULL,), progress=progress
    )
    return {name: found.places[0].numbers[name] for name in ("cross", "balance", "limit")}


def with_bands(numbers: Numbers, found: dict[str, Band]) -> Numbers:
    """The numbers with how sure they are."""
    said = {
        WEDGE: _with_unit(shares.half_band(found["cross"]), "%"),
        BALANCE: _balance(found["balance"]),
        SPEED: _with_unit(shares.half_band(found["limit"], 1.0 / MILE_AN_HOUR), "mph"),
    }
    rows = tuple(replace(one, band=said[one.name] if one.by_tires else "") for one in numbers.rows)
    return replace(numbers, rows=rows, has_bands=True)


def _with_unit(half: str, unit: str) -> str:
    return f"{half} {unit}" if half else ""


def _balance(band: Band) -> str:
    """Half of its band; where that crosses nought, from which word to which it reaches."""
    if not math.isfinite(band.low):
        return ""
    half = f"{shares.half_band(band)} %"
    return half if band.sure_of_sign else f"{half}: {word(band.low)} to {word(band.high)}, too close to call"
