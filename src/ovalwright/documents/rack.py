"""The rack: the parts on hand, each an individual with an id and dated measurements."""

from __future__ import annotations

import datetime
from typing import Literal, Self

from pydantic import Field, model_validator

from ovalwright.documents.document import Document
from ovalwright.documents.part import Amount, Part, given, optional, typical


class Owned(Part):
    """What every part on the rack has. ``id`` is what is written on it."""

    id: str = Field(min_length=1, max_length=60)
    date: datetime.date | None = Field(default=None, description="day it was last measured")
    notes: str = ""


class Spring(Owned):
    """A spring: ``tag`` is the rate marked on it, ``measured`` that on the rater over the travel used."""

    tag: Amount | None = optional("spring_rate")
    measured: Amount | None = optional("spring_rate")
    free_length: Amount | None = optional("coil_length")
    bind_height: Amount = typical("bind_height", "3.4 in", "0.3 in")
    fits: Literal["front", "rear", "both"] = "both"

    @model_validator(mode="after")
    def _rated(self) -> Self:
        if self.tag is None and self.measured is None:
            raise ValueError(f'spring {self.id} has neither tag nor measured; write tag = "225 lb/in"')
        return self

    @property
    def rate(self) -> Amount:
        """The measured rate, else the one on the tag."""
        rate = self.measured or self.tag
        assert rate is not None
        return rate


class OwnedBar(Owned):
    """A sway bar with its arms."""

    diameter: Amount = given("bar_size")
    bore: Amount | None = optional("bar_size")
    length: Amount = typical("bar_length", "38 in", "1.5 in")
    arm: Amount = typical("bar_length", "13 in", "0.5 in")
    rate: Amount | None = optional("bar_rate", "if it was measured, at one arm's end, the other held")


class OwnedTire(Owned):
    """A tire, mounted."""

    roll_out: Amount = given("roll_out")
    roll_out_pressure: Amount = given("pressure")
    side: Literal["left", "right"]
    construction: Literal["bias", "radial"] = "bias"
    growth: Amount = typical("growth_rate", "0.12 in/psi", "0.06 in/psi")
    grip: Amount = typical("factor", "1", "0.03")
    width: Amount = typical("tire_width", "10 in", "0.5 in")
    laps: int = Field(default=0, ge=0, le=100000)


class OwnedShock(Owned):
    """A shock at rest."""

    gas_force: Amount = typical("force", "30 lb", "40 %")
    fits: Literal["front", "rear", "both"] = "both"


class Gear(Owned):
    """A set of gears by the final drive it makes."""

    ratio: Amount = given("ratio")


class LeadPiece(Owned):
    """A piece of lead; ``count`` pieces alike may share one entry."""

    mass: Amount = given("mass")
    count: int = Field(default=1, ge=1, le=500)


class LeadSpot(Part):
    """A place on the car where lead may be bolted."""

    id: str = Field(min_length=1, max_length=60)
    x: Amount = given("point", "ahead of the front axle is positive")
    y: Amount = given("point", "left is positive")
    z: Amount = given("point", "above ground")
    most: Amount = typical("mass", "200 lb", "0 lb", "most it may carry")


class Rack(Document):
    """Springs, bars, tires, shocks, gears and lead on hand, and the places lead may be bolted."""

    name: str = Field(default="rack", max_length=120)
    notes: str = ""
    springs: tuple[Spring, ...] = Field(default=(), max_length=2000)
    bars: tuple[OwnedBar, ...] = Field(default=(), max_length=500)
    tires: tuple[OwnedTire, ...] = Field(default=(), max_length=2000)
    shocks: tuple[OwnedShock, ...] = Field(default=(), max_length=500)
    gears: tuple[Gear, ...] = Field(default=(), max_length=500)
    lead: tuple[LeadPiece, ...] = Field(default=(), max_length=500)
    lead_spots: tuple[LeadSpot, ...] = Field(default=(), max_length=200)

    @model_validator(mode="after")
    def _ids_once(self) -> Self:
        for shelf in ("springs", "bars", "tires", "shocks", "gears", "lead", "lead_spots"):
            seen: set[str] = set()
            for part in getattr(self, shelf):
                if part.id in seen:
                    raise ValueError(f'two of the {shelf} are called "{part.id}"; give each its own id')
                seen.add(part.id)
        return self

    def _remarks(self) -> list[tuple[tuple[str | int, ...], str]]:
        shelves = (self.springs, self.bars, self.tires, self.shocks, self.gears, self.lead)
        return [] if any(shelves) else [(("springs",), "the rack is empty; nothing can be chosen from it")]
