"""The track: an oval in short form, or surveyed point by point all around."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from pydantic import Field, field_validator, model_validator

from ovalwright.documents.document import Document
from ovalwright.documents.part import Amount, Part, given, optional, typical

MeasuredAt = Literal["inside", "center", "wall"]
"""Along the inside edge, the center of the road, or the wall (outside edge)."""


STANDS_FOR_BOTH = "both ends"
"""Name of an end that has no other."""


class End(Part):
    """One end of the oval. The radius is horizontal; see `radius_at` of the track for where."""

    name: str = Field(default=STANDS_FOR_BOTH, min_length=1, max_length=60)
    radius: Amount = given("radius", "in the middle of the turn")
    bank: Amount = given("bank", "outer side up is positive")
    bank_change: Amount = typical(
        "road_length", "120 ft", "20 %", "distance over which the bank is gained or lost"
    )
    turn_in: Amount = typical(
        "road_length", "110 ft", "20 %", "distance over which the full curvature is reached"
    )


class Bend(Part):
    """A bend in the middle of the front straight, the way the turns go."""

    angle: Amount = given("angle", "how far the front straight turns")
    length: Amount | None = optional("road_length", "of the bend; all of the front straight when left out")
    bank: Amount | None = optional("bank", "that of the straights when left out")
    turn_in: Amount = typical(
        "road_length", "80 ft", "20 %", "distance over which its curvature and bank are reached"
    )


class Groove(Part):
    """Where a line runs: from the inside edge to the middle of the car, along the surface."""

    name: str = Field(min_length=1, max_length=60)
    straight: Amount = given("from_edge", "in the middle of the straights")
    entry: Amount = given("from_edge", "where the curvature begins")
    middle: Amount = given("from_edge", "in the middle of the turns")
    exit: Amount = given("from_edge", "where the curvature ends")


class Peg(Part):
    """A surveyed point of the road's center; between two of them everything changes in proportion."""

    at: Amount = given("along", "distance from the start line along the center")
    bend: Amount = typical("bend", "0 deg/100ft", "0 %", "curvature, positive the way the turns go")
    bank: Amount = typical("bank", "0 deg", "0 deg", "outer side up is positive")
    height: Amount = typical("rise", "0 ft", "0 ft", "of the center over the start line")
    width: Amount | None = optional("road_width", "that of the track when left out")


class Track(Document):
    """An oval. One end written stands for both.

    Length and radius are those of the center of the road, where the middle groove runs, unless `length_at`
    and `radius_at` say where else they were measured. With `pegs` the road is laid through them, and `ends`
    serve only what looks at one turn alone.
    """

    name: str = Field(default="track", max_length=120)
    notes: str = ""
    turns: Literal["left", "right"] = "left"
    length: Amount = given("track_length", "one lap")
    length_at: MeasuredAt = "center"
    radius_at: MeasuredAt = "center"
    ends: tuple[End, ...] = Field(min_length=1, max_length=2)
    straight: Amount | None = optional("road_length", "length of the back straight")
    straight_bank: Amount = typical("bank", "2 deg", "2 deg")
    width: Amount = typical("road_width", "45 ft", "10 ft", "from the inside edge to the wall")
    grade: Amount = typical(
        "slope", "0 %", "0 %", "of the front straight, uphill positive; the back falls so"
    )
    start_line: Amount | None = optional(
        "along", "from where the last turn ends; the middle of the front straight when left out"
    )
    front_bend: Bend | None = None
    grooves: tuple[Groove, ...] = Field(default=(), max_length=20)
    pegs: tuple[Peg, ...] = ()

    @field_validator("pegs")
    @classmethod
    def _in_order(cls, pegs: tuple[Peg, ...]) -> tuple[Peg, ...]:
        if pegs and len(pegs) < 8:
            raise ValueError(f"{len(pegs)} pegs are too few for a lap; survey at least 8, or leave them out")
        if any(after.at.si <= before.at.si for before, after in pairwise(pegs)):
            raise ValueError("the distances do not rise; write the pegs in the order they are driven over")
        return pegs

    @model_validator(mode="after")
    def _pegs_on_the_lap(self) -> Track:
        if self.pegs and self.length_at != "center":
            raise ValueError('pegs stand along the center of the road; write length_at = "center"')
        if self.pegs and self.pegs[-1].at.si >= self.length.si:
            last, lap = self.pegs[-1].at.text, self.length.text
            raise ValueError(f"the last peg at {last} lies beyond the lap of {lap}; write pegs of one lap")
        return self

    def _remarks(self) -> list[tuple[tuple[str | int, ...], str]]:
        return (
            [(("turns",), "right-hand turns; computed so, left stays left")] if self.turns == "right" else []
        )
