"""What is not exactly known about a car and its day, and draws of it.

Each number of the documents carries half of a 95 % band. Here every such number becomes a cause, an
independent standard normal, with shared causes shared: one scale error for four pads, one floor, one tire
batch, one family of parts where typical values stand in; each spring, bar and tire that is an individual
keeps its own error wherever it is bolted in. A draw turns causes back into numbers of the documents.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.documents import Assembly, Conditions, Entry, Part, Station, Track
from ovalwright.pack import Drawn, Packed
from ovalwright.units import Place, Quantity
from ovalwright.vehicle.record import CORNERS

from .reading import Spot

Array = npt.NDArray[np.float64]

IN_BAND = 1.96
"""Standard deviations in half of a 95 % band."""
SCALE_SHARE = 0.001
"""Error common to four pads, one standard deviation, share of the reading (common practice, no source)."""
CROSS_PER_PAD = 0.0027 / 0.003175
"""Cross share per m one pad is out of level: 0.27 % for 1/8 in (common practice, no source)."""
AXES = ("x", "y", "z")


class TireCause(NamedTuple):
    """What is not known of a kind of tire nobody has data for: field of the record, one standard deviation,
    whether it is a factor (lognormal) or is added, and whether all four tires share it.
    """

    field: str
    spread: float
    factor: bool
    shared: bool


TIRE_CAUSES = {
    "grip of the tires": TireCause("grip", 0.08, True, True),
    "cornering stiffness of the tires": TireCause("stiffness_factor", 0.22, True, True),
    "cornering stiffness of one tire": TireCause("stiffness_factor", 0.05, True, False),
    "load sensitivity of the tires": TireCause("side_grip_load", 0.045, False, True),
    "camber the tires like": TireCause("camber_thrust", 0.4, True, True),
    "side rate of the tires": TireCause("side_rate", 0.28, True, True),
}
"""Spreads of the typical tire (common practice, no source)."""
ONE_TIRE_RATE = 0.04
"""Vertical rate of one tire against its set, one standard deviation (common practice, no source)."""
INDIVIDUALS = {"coil": "spring", "tire": "tire", "shock": "shock", "bar": "bar"}
"""Tables of a setup that hold an individual of the rack, and the key of its id."""
OTHER_PART = ("coil.rate", "bar.rate", "bar.diameter")
"""Numbers that are another part, not the same part adjusted, when they are written differently."""


class Term(NamedTuple):
    """One uncertain number of the documents: its path, what was typed, the causes it hangs on (three for a
    place; a tire's rate has one of its own beside the set's), and the range it can be in.
    """

    path: str
    held: Quantity | Place
    causes: tuple[str, ...]
    low: float
    high: float


class _Same:
    """An assembly as a key: the same object, not an equal one."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly

    def __hash__(self) -> int:
        return id(self.assembly)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.assembly is self.assembly


def terms(assembly: Assembly) -> tuple[Term, ...]:
    """Every uncertain number of an assembly's documents."""
    return _terms(_Same(assembly))


@lru_cache(maxsize=256)
def _terms(same: _Same) -> tuple[Term, ...]:
    found = []
    for path, entry in document_entries(same.assembly):
        held = entry.value
        if _spread(held) == 0.0:
            continue
        cause = cause_of(path, held, same.assembly)
        causes: tuple[str, ...] = (cause,)
        if isinstance(held, Place):
            causes = tuple(f"{cause} {axis}" for axis in AXES)
        elif path.startswith("setup.") and path.endswith("tire.rate_at_zero"):
            causes = (cause, f"{path}: this tire")
        low, high = (entry.kind.to_si(limit) for limit in entry.kind.possible)
        found.append(Term(path, held, causes, low, high))
    return tuple(found)


def document_entries(assembly: Assembly) -> Iterator[tuple[str, Entry]]:
    """Every number of the three documents of an assembly with its path (``setup.LR.coil.rate``)."""
    for name, part in (("car", assembly.car), ("setup", assembly.setup), ("sheet", assembly.sheet)):
        yield from ((f"{name}.{entry.key}", entry) for entry in part.entries())


@dataclass(frozen=True)
class Draw:
    """One possible truth: a standard normal per cause (0 where not named)."""

    z: Mapping[str, float]

    def values(self, assembly: Assembly) -> Drawn:
        """Numbers of an assembly's documents in this draw, for `pack.build` and its like."""
        z = self.z
        drawn: dict[str, Any] = {}
        for term in terms(assembly):
            held = term.held
            if isinstance(held, Place):
                places = zip(held.si, held.give_or_take, term.causes, strict=True)
                drawn[term.path] = [at + give / IN_BAND * z.get(cause, 0.0) for at, give, cause in places]
                continue
            value = moved(held, z.get(term.causes[0], 0.0))
            for cause in term.causes[1:]:
                value *= 1.0 + ONE_TIRE_RATE * z.get(cause, 0.0)
            drawn[term.path] = min(max(value, term.low), term.high)
        return self._on_the_pads(drawn, assembly)

    def spot(self, spot: Spot) -> Spot:
        """The track, day and station of this draw."""
        return replace(
            spot,
            track=self._document(spot.track, "track"),
            conditions=self._document(spot.conditions, "conditions"),
            station=self._document(spot.station, f"station {spot.station.name}"),
        )

    def conditions(self, conditions: Conditions) -> Conditions:
        """The day of this draw."""
        drawn: Conditions = self._document(conditions, "conditions")
        return drawn

    def tires(self, car: Packed) -> Packed:
        """The car on the tires of this draw; how it stands does not depend on them."""
        record = np.array([car.record], dtype=car.record.dtype)[0]
        for name, cause in TIRE_CAUSES.items():
            for i, corner in enumerate(CORNERS):
                z = self.z.get(name if cause.shared else f"{name}: {corner}", 0.0)
                tire, was = record["tire"][i], record["tire"][i][cause.field]
                tire[cause.field] = (
                    was * math.exp(cause.spread * z) if cause.factor else was + cause.spread * z
                )
        return replace(car, record=record)

    def _on_the_pads(self, drawn: dict[str, Any], assembly: Assembly) -> Drawn:
        """Corner weights with the error of the scale and of the floor on top of each reading's own."""
        sheet = assembly.sheet
        weights = np.array([getattr(sheet, corner).weight.si for corner in CORNERS])
        level = sheet.pad_level.give_or_take / IN_BAND * self.z.get("sheet.pad_level", 0.0)
        tilt = 0.5 * weights.sum() * CROSS_PER_PAD * level * np.array([-1.0, 1.0, 1.0, -1.0])
        scale = 1.0 + SCALE_SHARE * self.z.get("the scale", 0.0)
        for corner, added in zip(CORNERS, tilt, strict=True):
            path = f"sheet.{corner}.weight"
            drawn[path] = scale * drawn.get(path, getattr(sheet, corner).weight.si) + added
        return drawn

    def _document(self, part: Any, path: str) -> Any:
        """A document with the drawn values in place of the typed ones."""
        update: dict[str, Any] = {}
        for name in type(part).model_fields:
            held = getattr(part, name)
            if isinstance(held, Quantity) and held.give_or_take > 0.0:
                update[name] = replace(held, si=moved(held, self.z.get(f"{path}.{name}", 0.0)))
            elif isinstance(held, tuple) and held and isinstance(held[0], Part):
                update[name] = tuple(
                    self._document(item, f"{path}.{name}[{i}]") for i, item in enumerate(held, start=1)
                )
        return part.model_copy(update=update) if update else part


def moved(held: Quantity, z: float) -> float:
    """A quantity `z` standard deviations away from what was typed."""
    if held.lognormal and held.si > 0.0:
        return held.si * math.exp(held.give_or_take / held.si / IN_BAND * z)
    return held.si + held.give_or_take / IN_BAND * z


def cause_of(path: str, held: Quantity | Place, assembly: Assembly) -> str:
    """The cause behind a number: its path, or what it shares with others.

    An individual of the rack carries its error along; a spring or bar without id is another one when another
    rate is written; a typical value that stands in at several corners is one family of parts.
    """
    if not held.known and not path.endswith("tire.grip"):
        return ".".join("each" if part in CORNERS else part for part in path.split("."))
    name = path.removeprefix("setup.")
    if name == path:
        return path
    if owner := _individual(name, assembly):
        return owner
    return f"{path} {held.text}" if name.endswith(OTHER_PART) else path


def _individual(name: str, assembly: Assembly) -> str:
    """``spring B04.rate`` for a number of a part of the rack, else nothing."""
    parts = name.split(".")
    holder: Any = assembly.setup
    for depth, part in enumerate(parts[:-1]):
        holder = getattr(holder, part, None)
        key = INDIVIDUALS.get(part)
        if holder is None:
            return ""
        if key and depth == len(parts) - 2:
            ident = getattr(holder, key, None)
            own = _owned(part, parts[-1])
            return f"{key} {ident}.{parts[-1]}" if ident and own else ""
    return ""


def _owned(table: str, field: str) -> bool:
    """Whether a number belongs to the individual and not to how it is used."""
    used = {"coil": ("gap", "rubber"), "tire": ("cold", "hot"), "bar": ("preload", "preload_torque", "slack")}
    return field not in used.get(table, ())


@dataclass(frozen=True)
class Unknowns:
    """All causes behind some assemblies on a track and a day, in a fixed order."""

    assemblies: tuple[Assembly, ...]
    track: Track
    conditions: Conditions
    stations: tuple[Station, ...]

    @cached_property
    def causes(self) -> tuple[str, ...]:
        """Names of the causes, each once."""
        return tuple(dict.fromkeys(self._names()))

    def draws(self, count: int, *, seed: int = 1) -> list[Draw]:
        """At least `count` (the next power of two) quasi-random draws (Owen-scrambled Sobol, SciPy)."""
        from scipy.special import ndtri
        from scipy.stats import qmc

        power = max(1, math.ceil(math.log2(count)))
        points = qmc.Sobol(len(self.causes), rng=np.random.default_rng(seed)).random_base2(power)
        return [Draw(dict(zip(self.causes, row, strict=True))) for row in ndtri(points).tolist()]

    def _names(self) -> Iterator[str]:
        yield from ("the scale", "sheet.pad_level")
        for name, cause in TIRE_CAUSES.items():
            yield from [name] if cause.shared else [f"{name}: {corner}" for corner in CORNERS]
        for assembly in self.assemblies:
            for term in terms(assembly):
                yield from term.causes
        places = [("track", self.track), ("conditions", self.conditions)]
        for name, part in [*places, *((f"station {station.name}", station) for station in self.stations)]:
            yield from (f"{name}.{e.key}" for e in part.entries() if _spread(e.value) > 0.0)


def _spread(held: Quantity | Place) -> float:
    return max(held.give_or_take) if isinstance(held, Place) else held.give_or_take
