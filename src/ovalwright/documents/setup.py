"""The setup: what is turned at the shop or at the track.

Left-out tire and spring properties take typical values of a 27 in class bias slick and a coil-over spring
(common practice, no source). Lengths of travel are at the part itself, not at the wheel.
"""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from ovalwright.documents.document import Document
from ovalwright.documents.heat import LeftTireHeat, TireHeat
from ovalwright.documents.part import Amount, Part, Spot, given, optional, spot, typical

PartId = Field(default=None, max_length=60, description="id of the part on the rack")


class Coil(Part):
    """A coil spring. Its rate is written here, or is that of the spring of the rack it names.

    ``gap`` is given for a coil that hangs off its seat on the scales; the scale sheet fixes every other seat.
    """

    spring: str | None = PartId
    rate: Amount | None = optional("spring_rate", "spring rate over the travel it is used at")
    free_length: Amount | None = optional("coil_length")
    bind_height: Amount = typical("bind_height", "3.4 in", "0.3 in", "length with the coils touching")
    bound_rate: Amount = typical("bound_rate", "20000 lb/in", "x2", "rate once the coils touch")
    rubber: Amount | None = optional("stop_rate", "rate added by a spring rubber")
    gap: Amount | None = optional("gap", "off the seat on the scales by this much")

    @model_validator(mode="after")
    def _has_rate(self) -> Self:
        if self.rate is None and self.spring is None:
            raise ValueError(
                'the coil has neither rate nor spring; write rate = "225 lb/in", or coil = "none"'
            )
        if self.free_length and self.free_length.si <= self.bind_height.si:
            raise ValueError(
                "bind_height is not below free_length; a coil binds at less than its free length"
            )
        return self


class BumpStop(Part):
    """A bump stop: force = k0 x / (1 - x / limit) ** 1.3 after the gap, x its squeeze."""

    k0: Amount = typical("stop_rate", "350 lb/in", "20 %", "rate at first touch")
    limit: Amount = typical("travel", "0.95 in", "0.05 in", "squeeze at which it is solid")
    gap: Amount = given("gap", "shaft travel left before it touches, at ride height without packers")
    packers: Amount = typical("gap", "0 in", "0 in", "thickness of the packers, taken off the gap")


class BumpSpring(Part):
    """A steel bump spring: straight rate after the gap, solid at ``limit``."""

    rate: Amount = given("stop_rate")
    limit: Amount = typical("travel", "0.85 in", "0.1 in", "squeeze at which it is solid")
    gap: Amount = given("gap", "shaft travel left before it touches, at ride height without packers")
    packers: Amount = typical("gap", "0 in", "0 in", "thickness of the packers, taken off the gap")


class Shock(Part):
    """What a shock does at rest; its damping curve comes with the transient."""

    shock: str | None = PartId
    gas_force: Amount = typical("force", "30 lb", "40 %", "push of the gas on the shaft")
    droop: Amount | None = optional("travel", "wheel travel down from ride height to the limiter or chain")


class Tire(Part):
    """One mounted tire. Vertical rate = rate_at_zero + rate_gain x hot pressure."""

    tire: str | None = PartId
    roll_out: Amount | None = optional("roll_out", "circumference at roll_out_pressure")
    roll_out_pressure: Amount | None = optional(
        "pressure", "pressure when measured; the cold pressure if left out"
    )
    cold: Amount = given("pressure", "cold pressure")
    hot: Amount | None = optional("pressure", "pressure in the run; follows from a typical gain if left out")
    construction: Literal["bias", "radial"] = "bias"
    rate_at_zero: Amount = typical(
        "tire_rate", "300 lb/in", "15 %", "vertical rate carried over to no pressure"
    )
    rate_gain: Amount = typical("rate_gain", "40 lb/in/psi", "15 %", "vertical rate per pressure")
    growth: Amount = typical("growth_rate", "0.12 in/psi", "0.06 in/psi", "roll-out per pressure")
    grip: Amount = typical("factor", "1", "0.03", "grip of this tire against the set")
    width: Amount = typical("tire_width", "10 in", "0.5 in", "tread width")
    heat: TireHeat = TireHeat()


class LeftTire(Tire):
    """A tire of the left side, of a compound for less heat."""

    heat: LeftTireHeat = LeftTireHeat()


class _Wheel(Part):
    """What every corner has."""

    coil: Coil | None = Field(description='a table, or "none" for no spring')
    stop: BumpStop | None = None
    bump_spring: BumpSpring | None = None
    shock: Shock = Shock()
    tire: Tire
    jack_bolt: Amount = typical("pitch", "1/8 in", "0 in", "travel of the seat per round")
    turned: Amount = typical(
        "rounds", "0 round", "0 round", "rounds of the jack bolt since the sheet, positive loads the coil"
    )

    @field_validator("coil", "stop", "bump_spring", mode="before")
    @classmethod
    def _none_is_allowed(cls, value: Any) -> Any:
        return None if value == "none" else value

    @model_validator(mode="after")
    def _one_stop(self) -> Self:
        if self.stop and self.bump_spring:
            raise ValueError("both stop and bump_spring are given; a shaft carries one of them")
        return self


class FrontWheel(_Wheel):
    """A front corner. Camber is negative with the top in."""

    camber: Amount = given("camber", "static camber, negative with the top in")
    caster: Amount | None = optional("caster", "if set apart from the points or the short form of the car")


class RearWheel(_Wheel):
    """A rear corner. Camber from bent or bored axle tubes is usually nothing."""

    camber: Amount = typical("camber", "0 deg", "0.1 deg", "static camber, negative with the top in")


class LeftFrontWheel(FrontWheel):
    """The left front corner."""

    tire: LeftTire


class LeftRearWheel(RearWheel):
    """The left rear corner."""

    tire: LeftTire


class Bar(Part):
    """The front sway bar, by its size or by its rate at one arm's end with the other arm held."""

    bar: str | None = PartId
    rate: Amount | None = optional("bar_rate", "at one arm's end, the other held")
    diameter: Amount | None = optional("bar_size")
    bore: Amount | None = optional("bar_size", "of a hollow bar")
    length: Amount = typical("bar_length", "38 in", "1.5 in", "part that twists")
    arm: Amount = typical("bar_length", "13 in", "0.5 in", "effective arm length")
    modulus: Amount = typical("modulus", "11500000 psi", "200000 psi", "shear modulus of the steel")
    hooked: bool = True
    preload: Amount = typical(
        "rounds", "0 round", "0.1 round", "rounds on the RF link, positive pushes RF and LR down"
    )
    preload_torque: Amount | None = optional("preload_torque", "instead of rounds")
    link_pitch: Amount = typical("pitch", "1/14 in", "0 in", "travel of the link per round")
    slack: Amount = typical("gap", "0.02 in", "0.01 in", "free play at the link")

    @model_validator(mode="after")
    def _sized(self) -> Self:
        if self.rate is None and self.diameter is None and self.bar is None:
            raise ValueError(
                'the bar has neither rate nor diameter; write diameter = "1 1/4 in", or bar = "none"'
            )
        if self.bore and self.diameter and self.bore.si >= self.diameter.si:
            raise ValueError("bore is not below diameter; a hollow bar needs a wall")
        return self


class Panhard(Part):
    """Heights of the panhard bar's ends above ground at ride height, instead of those of the car."""

    frame_height: Amount | None = optional("height")
    axle_height: Amount | None = optional("height")


class LinkShift(Part):
    """How far a rear link's ends sit above (positive) the points of the car: another hole, another spacer."""

    frame_up: Amount = typical("shift", "0 in", "0 in")
    axle_up: Amount = typical("shift", "0 in", "0 in")


class Lead(Part):
    """One piece of ballast that is bolted in."""

    id: str = Field(min_length=1, max_length=60)
    mass: Amount = given("mass")
    place: Spot = spot("center of the piece")


class Setup(Document):
    """What is turned: coils, stops, bar, tires, alignment, links, lead, gear and brake share.

    ``sheet`` names the weighing that fixes the seats, ``car`` and ``rack`` the documents it refers to, each
    as a path from this file. ``like`` names another setup from which everything not written here is taken.
    """

    name: str = Field(default="setup", max_length=120)
    notes: str = ""
    car: str | None = Field(default=None, max_length=400)
    rack: str | None = Field(default=None, max_length=400)
    sheet: str | None = Field(default=None, max_length=400)
    LF: LeftFrontWheel
    RF: FrontWheel
    LR: LeftRearWheel
    RR: RearWheel
    bar: Bar | None = Field(description='a table, or "none" for no sway bar')
    toe_out: Amount = typical("toe", "1/16 in", "1/32 in", "total of the front wheels, positive out")
    toe_gauge: Amount = typical("bar_length", "26 in", "1 in", "length over which the toe is read")
    rear_lead: Amount = typical("shift", "0 in", "1/16 in", "RR wheel ahead of square")
    panhard: Panhard = Panhard()
    link_shift: dict[str, LinkShift] = Field(default_factory=dict, max_length=4)
    lead: tuple[Lead, ...] = Field(default=(), max_length=200)
    final_drive: Amount = typical("ratio", "5.6", "0.4", "engine turns per axle turn in top gear")
    brake_front: Amount = typical("share", "66 %", "5 %", "front share of the brake torque")

    @field_validator("bar", mode="before")
    @classmethod
    def _no_bar(cls, value: Any) -> Any:
        return None if value == "none" else value

    @model_validator(mode="after")
    def _lead_once(self) -> Self:
        ids = [piece.id for piece in self.lead]
        twice = next((name for name in ids if ids.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f'two pieces of lead are called "{twice}"; give each its own id')
        return self

    def _remarks(self) -> list[tuple[tuple[str | int, ...], str]]:
        corners = {"LF": self.LF, "RF": self.RF, "LR": self.LR, "RR": self.RR}
        return [
            ((name,), "has no spring; computed so") for name, corner in corners.items() if corner.coil is None
        ]
