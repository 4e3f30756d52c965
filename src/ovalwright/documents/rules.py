"""A rule book as data: limits with their state, tolerance and origin. Nothing in it is evaluated."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import Any, Literal, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from ovalwright.documents.document import Document
from ovalwright.documents.part import Amount, Part, optional
from ovalwright.units import KINDS, Kind, Quantity, read_quantity

Subject = Literal[
    "total_weight", "left_weight", "right_weight", "front_weight", "rear_weight",
    "left_percent", "right_percent", "front_percent", "rear_percent", "cross_percent",
    "wheelbase", "front_tread", "rear_tread", "ride_height", "fuel_capacity", "lead_total", "lead_piece",
    "lead_height", "tire_roll_out", "tire_width", "front_stagger", "rear_stagger", "final_drive", "rev_limit",
    "cold_pressure", "bar_diameter", "spring_rate",
]  # fmt: skip
Moment = Literal["always", "start", "flag", "after the race", "as weighed"]

_KIND_OF_SUBJECT: dict[str, str] = {
    "wheelbase": "wheelbase", "front_tread": "tread", "rear_tread": "tread", "ride_height": "height",
    "fuel_capacity": "volume", "lead_total": "mass", "lead_piece": "mass", "lead_height": "height",
    "tire_roll_out": "roll_out", "tire_width": "tire_width",
    "front_stagger": "growth", "rear_stagger": "growth",
    "final_drive": "ratio", "rev_limit": "spin", "cold_pressure": "pressure", "bar_diameter": "bar_size",
    "spring_rate": "spring_rate",
}  # fmt: skip


def kind_of_subject(subject: str) -> Kind:
    """Kind of the quantity a limit is about."""
    if subject.endswith("_percent"):
        return KINDS["share"]
    if subject.endswith("_weight"):
        return KINDS["total_weight"]
    return KINDS[_KIND_OF_SUBJECT[subject]]


class Limit(Part):
    """One limit. ``allowance_per_lap`` is taken off a least weight for every lap run."""

    of: Subject
    is_: Literal["at least", "at most"] = Field(alias="is")
    value: Amount
    tolerance: Amount | None = None
    moment: Moment = "always"
    refuel: bool = Field(default=False, description="whether fuel may be made up before weighing")
    allowance_per_lap: Amount | None = optional("per_lap")
    scale: str = Field(default="", max_length=120, description="whose scale counts")
    rule: str = Field(default="", max_length=200, description="where it stands in the book")
    notes: str = ""

    @field_validator("value", "tolerance", mode="before")
    @classmethod
    def _in_its_unit(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None or isinstance(value, Quantity):
            return value
        if "of" not in info.data:
            raise ValueError("cannot be read before the subject in of is right")
        kind = kind_of_subject(info.data["of"])
        return read_quantity(value, kind if info.field_name == "value" else _small(kind))

    @property
    def kind(self) -> Kind:
        """Kind of ``value`` and ``tolerance``."""
        return kind_of_subject(self.of)


def _small(kind: Kind) -> Kind:
    """The kind of a tolerance on a kind."""
    return replace(kind, possible=(0.0, kind.possible[1]))


class WeightBreak(Part):
    """A named allowance: pounds added to (positive) or taken off one limit for a part or an engine."""

    name: str = Field(min_length=1, max_length=120)
    of: Subject = "total_weight"
    change: Amount
    applies: bool = Field(default=False, description="true when this car has it")

    @field_validator("change", mode="before")
    @classmethod
    def _as_weight(cls, value: Any) -> Any:
        return value if isinstance(value, Quantity) else read_quantity(value, _CHANGE)


_CHANGE = Kind("weight break", "lb", "kg", 0, 0, (-300, 300), (-5000, 5000), (0, 0), (0, 0), "-25 lb")


class Ban(Part):
    """What a book allows or forbids outright."""

    of: Literal[
        "bump_stops", "bump_springs", "coil_bind", "spring_rubbers", "hollow_bar", "radial_tires",
        "no_spring", "tungsten", "threaded_rod", "adjustable_shocks",
    ]  # fmt: skip
    allowed: bool
    rule: str = Field(default="", max_length=200)


class Rules(Document):
    """One rule book. Two books are never averaged: a car is checked against each."""

    name: str = Field(min_length=1, max_length=120)
    date: datetime.date | None = Field(default=None, description="date of the book")
    origin: str = Field(default="", max_length=400, description="which book, which page, who confirmed it")
    limits: tuple[Limit, ...] = Field(default=(), max_length=500)
    breaks: tuple[WeightBreak, ...] = Field(default=(), max_length=200)
    bans: tuple[Ban, ...] = Field(default=(), max_length=200)
    notes: str = ""

    @model_validator(mode="after")
    def _breaks_once(self) -> Self:
        names = [item.name for item in self.breaks]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f'two weight breaks are called "{twice}"; give each its own name')
        return self
