"""The car: what bolts in rarely.

Axes of every point: origin on the ground under the front axle on the car's centerline, x forward, y left, z
up (ISO 8855), body at ride height. Typical values are those of a perimeter-frame late model; their origin
is judgement and rule-book ranges (common practice, no source) unless said.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from ovalwright.documents.document import Document
from ovalwright.documents.part import (
    Amount,
    Part,
    Spot,
    given,
    optional,
    spot,
    typical,
    typical_spot,
)


class Tread(Part):
    """Distance between the centers of the contact patches of an axle."""

    front: Amount = typical("tread", "65 in", "0.6 in", "between the centers of the front contact patches")
    rear: Amount = typical("tread", "65 in", "0.6 in", "between the centers of the rear contact patches")


class FrontCorner(Part):
    """Pick-up points of one front corner with unequal arms, at ride height with the wheels straight."""

    lower_pivot_front: Spot = spot("lower arm, front frame pivot")
    lower_pivot_rear: Spot = spot("lower arm, rear frame pivot")
    lower_ball_joint: Spot = spot()
    upper_pivot_front: Spot = spot("upper arm, front frame pivot")
    upper_pivot_rear: Spot = spot("upper arm, rear frame pivot")
    upper_ball_joint: Spot = spot()
    tie_rod_inner: Spot = spot("at the rack or the center link")
    tie_rod_outer: Spot = spot("at the spindle")
    coil_on_arm: Spot = spot("lower end of the coil")
    coil_on_frame: Spot = spot("upper end of the coil")
    bar_link_on_arm: Spot = spot("sway bar link on the suspension arm")
    bar_link_on_bar: Spot = spot("sway bar link on the bar's arm")


class FrontPoints(Part):
    """Front suspension by its pick-up points. ``coil_arm`` is the arm the coil stands on."""

    LF: FrontCorner
    RF: FrontCorner
    coil_arm: Literal["lower", "upper"] = "lower"
    bar_axis_station: Amount = typical("point", "14 in", "2 in", "x of the axis the sway bar turns about")
    bar_axis_height: Amount = typical("point", "12 in", "2 in", "height of the axis the sway bar turns about")


class ShortCorner(Part):
    """One front corner by its properties at ride height."""

    camber_gain: Amount = typical(
        "camber_gain", "-1.0 deg/in", "0.25 deg/in", "camber change per inch of bump"
    )
    coil_ratio: Amount = typical("motion_ratio", "0.67", "0.04", "coil travel per wheel travel")
    bar_ratio: Amount = typical("motion_ratio", "0.69", "0.06", "bar arm end travel per wheel travel")
    coil_angle: Amount = typical("angle", "20 deg", "3 deg", "coil from vertical, seen from the front")
    caster: Amount = typical("caster", "4 deg", "1 deg")
    kingpin: Amount = typical("angle", "10 deg", "1.5 deg", "kingpin inclination")
    scrub: Amount = typical(
        "shift", "4 in", "0.6 in", "steering axis to patch center at the ground, sideways"
    )
    trail: Amount = typical("shift", "0.85 in", "0.4 in", "steering axis ahead of patch center at the ground")
    bump_steer: Amount = typical(
        "change", "0.010", "0.008", "toe-out gained per inch of bump, inches per inch"
    )


class LeftFront(ShortCorner):
    """The left front corner with the usual values of its side."""

    camber_gain: Amount = typical(
        "camber_gain", "-0.9 deg/in", "0.25 deg/in", "camber change per inch of bump"
    )
    caster: Amount = typical("caster", "2.5 deg", "1 deg")


class RightFront(ShortCorner):
    """The right front corner with the usual values of its side."""

    camber_gain: Amount = typical(
        "camber_gain", "-1.1 deg/in", "0.25 deg/in", "camber change per inch of bump"
    )
    caster: Amount = typical("caster", "5 deg", "1 deg")


class FrontShort(Part):
    """Front suspension by its properties; a linkage with just these is constructed from them."""

    roll_center_height: Amount = typical("height", "2.5 in", "1.2 in")
    roll_center_left: Amount = typical("point", "-4 in", "5 in", "roll center left of the centerline")
    anti_dive: Amount = typical("percent", "7 %", "8 %", "at a 62 % front brake share")
    LF: LeftFront = LeftFront()
    RF: RightFront = RightFront()


class Suspension(Part):
    """Suspension of one end: points, or the short form when no points are given."""

    points: Part | None = None
    short: Part | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if self.points and self.short:
            raise ValueError("both points and short are given; keep the one that was measured")
        return self


class Front(Suspension):
    """Front suspension: points, or the short form when no points are given."""

    points: FrontPoints | None = None
    short: FrontShort | None = None

    @property
    def short_form(self) -> FrontShort:
        """The short form, typical where nothing is given."""
        return self.short or FrontShort()


class Link(Part):
    """One rear link with a ball joint at each end."""

    frame: Spot = spot("frame end")
    axle: Spot = spot("axle end")


class RearCoil(Part):
    """Ends of one rear coil."""

    on_axle: Spot = spot("lower end")
    on_frame: Spot = spot("upper end")


class RearPoints(Part):
    """Rear suspension by the ends of the four links that locate the axle, and of the coils.

    ``links`` has four entries with names of the owner's choice, such as left_arm, right_arm, third_link,
    panhard; the one named panhard is the one whose heights a setup may state.
    """

    links: dict[str, Link] = Field(min_length=4, max_length=4)
    LR: RearCoil
    RR: RearCoil


class RearShort(Part):
    """Rear suspension by its properties; four links with just these are constructed from them.

    Leaf springs and truck arms are taken as an equivalent four-link and marked so.
    """

    stands_for: Literal["three-link", "four-link", "truck arms", "leaf springs"] = "three-link"
    roll_center_height: Amount = typical(
        "height", "10.25 in", "0.5 in", "panhard bar height at the centerline"
    )
    panhard_frame_side: Literal["left", "right"] = "right"
    panhard_length: Amount = typical("bar_length", "41 in", "2 in")
    panhard_behind_axle: Amount = typical("shift", "4.5 in", "2 in")
    anti_squat: Amount = typical("percent", "80 %", "20 %")
    roll_steer: Amount = typical(
        "roll_steer", "0.02 deg/deg", "0.03 deg/deg", "axle steer right per roll right"
    )
    coil_base: Amount = typical("bar_length", "42 in", "2.4 in", "between the coils at the axle")
    coil_lean: Amount = typical("angle", "10 deg", "3 deg", "tops leaning in, from vertical")
    coil_ratio: Amount = typical("motion_ratio", "0.96", "0.03", "coil travel per wheel travel in heave")


class Rear(Suspension):
    """Rear suspension with a live axle: points, or the short form when no points are given."""

    points: RearPoints | None = None
    short: RearShort | None = None
    axle_left: Amount = typical("shift", "0 in", "0.25 in", "axle center left of the centerline")

    @property
    def short_form(self) -> RearShort:
        """The short form, typical where nothing is given."""
        return self.short or RearShort()


class Steering(Part):
    """Rack, or box with pitman arm and center link. The tie-rod points are with the front points."""

    form: Literal["rack", "box"] = "rack"
    ratio: Amount = typical("ratio", "12", "2", "steering wheel angle per front wheel angle")
    pitman_arm: Amount = typical(
        "bar_length", "5.5 in", "0.5 in", "length of the pitman and idler arm; box only"
    )
    arm_pivot_behind_tie_rod: Amount = typical("shift", "5.5 in", "0.5 in", "box only; ahead is negative")


class Unsprung(Part):
    """Parts that move with the wheels."""

    LF: Amount = typical("mass", "95 lb", "12 lb", "wheel, hub, rotor, caliper, spindle, half of the links")
    RF: Amount = typical("mass", "95 lb", "12 lb", "wheel, hub, rotor, caliper, spindle, half of the links")
    axle: Amount = typical("mass", "340 lb", "35 lb", "axle complete with wheels, brakes, half of the links")
    axle_left: Amount = typical(
        "shift", "0 in", "1 in", "center of gravity of the axle left of the centerline"
    )
    height: Amount = typical("height", "13.2 in", "0.3 in", "height of the centers of gravity")
    wheel_spin: Amount = typical("inertia", "1.3 kg m^2", "0.15 kg m^2", "one wheel, tire, rotor and hub")


class Sprung(Part):
    """The sprung body. Its weight and its place in plan follow from the scale sheet."""

    height: Amount = typical(
        "height", "16 in", "1.1 in", "height of the center of gravity of the sprung body"
    )
    whole_car_height: Amount | None = optional("height", "center of gravity of the whole car as on its sheet")
    front_half_station: Amount = typical("point", "-22 in", "6 in", "x of the center of the front half")
    rear_half_station: Amount = typical("point", "-94 in", "8 in", "x of the center of the rear half")
    yaw_gyration: Amount = typical("gyration", "52 in", "2.5 in", "whole car")
    pitch_gyration: Amount = typical("gyration", "50 in", "3 in", "whole car")
    roll_gyration: Amount = typical("gyration", "21 in", "2 in", "whole car")

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        if self.whole_car_height and "height" in self.model_fields_set:
            raise ValueError("both height and whole_car_height are given; keep the one that was measured")
        return self


class Driver(Part):
    """The driver with gear, belted in."""

    mass: Amount = typical("mass", "195 lb", "25 lb")
    place: Spot = typical_spot("-62, 14, 15 in", "4 in", "center of gravity of the seated driver")


class FuelCell(Part):
    """The fuel cell and what is in it."""

    capacity: Amount = given("volume", "how much it holds")
    behind_axle: Amount = typical("point", "28 in", "3 in", "center of the cell behind the rear axle")
    left: Amount = typical("shift", "2 in", "4 in", "center of the cell left of the centerline")
    full_height: Amount = typical("height", "15.5 in", "1.5 in", "center of the fuel above ground, full")
    empty_height: Amount = typical("height", "9.5 in", "1.5 in", "center of the last fuel above ground")
    density: Amount = typical("density", "6.15 lb/gal", "0.12 lb/gal", "race gasoline")
    slosh: Amount = typical("slosh", "3 in/g", "1.5 in/g", "outward shift of the fuel, half full with foam")


class Chassis(Part):
    """Twist of the chassis between front and rear springs, and give in the wheels' mounting."""

    twist_rate: Amount = typical("twist_rate", "7000 lb-ft/deg", "3000 lb-ft/deg")
    twist_axis_height: Amount = typical("height", "11 in", "4 in", "height of the axis it twists about")
    camber_give: Amount = typical("steer_give", "0.20 deg/klb", "0.10 deg/klb", "front wheel, per side force")
    toe_give: Amount = typical("steer_give", "0.05 deg/klb", "0.03 deg/klb", "front wheel, per side force")
    axle_steer_give: Amount = typical("steer_give", "0.03 deg/klb", "0.02 deg/klb", "axle, per side force")
    axle_camber_give: Amount = typical("steer_give", "0.10 deg/klb", "0.05 deg/klb", "tubes, per side force")


class Aero(Part):
    """Air forces as areas: force is dynamic pressure times area."""

    drag_area: Amount = typical("aero_area", "8.5 ft^2", "1.2 ft^2")
    drag_height: Amount = typical("height", "20 in", "4 in")
    front_downforce_area: Amount = typical("aero_area", "2.5 ft^2", "2 ft^2")
    rear_downforce_area: Amount = typical("aero_area", "4 ft^2", "2 ft^2")
    nose_drop_gain: Amount = typical(
        "area_gain", "1 ft^2/in", "0.6 ft^2/in", "front downforce per nose drop; not used yet"
    )
    nose_drop_limit: Amount = typical(
        "travel", "1.5 in", "0.5 in", "drop after which the gain ends; not used yet"
    )
    side_area: Amount = typical("side_area", "0.7 ft^2/deg", "0.3 ft^2/deg", "per degree of yaw")
    side_point: Spot = typical_spot("-55, 0, 24 in", "8 in", "where the side force acts")


class TorquePoint(Part):
    """One point of the engine's torque curve."""

    speed: Amount = given("spin")
    torque: Amount = given("torque")


def _crate_curve() -> tuple[TorquePoint, ...]:
    """A sealed crate engine of about 400 hp, straight lines between its published peaks."""
    curve = {
        2000: 325,
        2500: 353,
        3000: 376,
        3500: 392,
        4000: 402,
        4600: 406,
        5000: 402,
        5300: 394,
        5600: 379,
    }
    return tuple(
        TorquePoint.model_validate(
            {
                "speed": {"value": f"{rpm} rpm", "from": "typical"},
                "torque": {"value": f"{torque} lb-ft", "give_or_take": "10 %", "from": "typical"},
            }
        )
        for rpm, torque in (curve | {6000: 349, 6400: 311}).items()
    )


class Engine(Part):
    """Engine and driveline to the axle; the final drive is in the setup."""

    curve: tuple[TorquePoint, ...] = Field(default_factory=_crate_curve, min_length=2, max_length=200)
    rotation: Literal["clockwise", "counterclockwise"] = Field(
        default="clockwise", description="seen from the front of the car, the usual way is clockwise"
    )
    rev_limit: Amount = typical("spin", "6200 rpm", "200 rpm")
    closed_throttle_torque: Amount = typical(
        "torque", "130 lb-ft", "25 %", "held against the car, at 5500 rpm"
    )
    inertia: Amount = typical("inertia", "0.13 kg m^2", "0.04 kg m^2", "crank, damper, flywheel, clutch")
    driveline_inertia: Amount = typical("inertia", "0.02 kg m^2", "0.01 kg m^2", "gearbox and driveshaft")
    efficiency: Amount = typical("share", "90 %", "2 %", "crank to wheels under power")
    fuel_rate: Amount = typical(
        "fuel_rate", "0.48 lb/hp/h", "0.04 lb/hp/h", "gasoline at full throttle; 2.1 times that of methanol"
    )
    yellow_fuel: Amount = typical("share", "35 %", "10 %", "fuel of a yellow lap against a racing lap")

    @field_validator("curve")
    @classmethod
    def _rising(cls, curve: tuple[TorquePoint, ...]) -> tuple[TorquePoint, ...]:
        if any(later.speed.si <= point.speed.si for point, later in pairwise(curve)):
            raise ValueError("the engine speeds do not rise; write the points from slow to fast")
        return curve


class PadPoint(Part):
    """Friction of the brake pads at one temperature of the disc."""

    temperature: Amount = given("brake_temperature")
    friction: Amount = given("factor")


def _race_pads() -> tuple[PadPoint, ...]:
    """Race pads: weak cold, best from 600 to 900 F, fading beyond (shape from memory)."""
    curve = {100: "0.38", 300: "0.45", 600: "0.50", 900: "0.50", 1200: "0.42"}
    return tuple(
        PadPoint.model_validate(
            {
                "temperature": {"value": f"{degrees} F", "give_or_take": "0 F", "from": "typical"},
                "friction": {"value": friction, "give_or_take": "0.05", "from": "typical"},
            }
        )
        for degrees, friction in curve.items()
    )


class Brakes(Part):
    """Greatest brake torque of one wheel with the pads at their best, drag, and what heat does.

    The front share is in the setup. Cooling is of one disc in the wind of 80 mph, with its duct.
    """

    front_torque: Amount = typical("torque", "2400 lb-ft", "25 %", "one front wheel at full pedal")
    rear_torque: Amount = typical("torque", "1200 lb-ft", "25 %", "one rear wheel at full pedal")
    drag: Amount = typical("torque", "4 lb-ft", "3 lb-ft", "left over at one wheel, pedal up")
    front_disc: Amount = typical("mass", "13 lb", "2 lb", "one front disc")
    rear_disc: Amount = typical("mass", "9 lb", "2 lb", "one rear disc")
    front_cooling: Amount = typical("heat_transfer", "25 W/K", "8 W/K", "one front disc")
    rear_cooling: Amount = typical("heat_transfer", "18 W/K", "6 W/K", "one rear disc")
    to_rim: Amount = typical("heat_transfer", "1 W/K", "0.5 W/K", "from a disc to the wheel it turns in")
    to_fluid: Amount = typical("heat_transfer", "2.5 W/K", "1 W/K", "from a disc to caliper and fluid")
    fluid_boils: Amount = typical("brake_temperature", "450 F", "50 F", "boiling point of fluid in use")
    pads: tuple[PadPoint, ...] = Field(default_factory=_race_pads, min_length=1, max_length=100)

    @field_validator("pads")
    @classmethod
    def _rising(cls, pads: tuple[PadPoint, ...]) -> tuple[PadPoint, ...]:
        if any(later.temperature.si <= point.temperature.si for point, later in pairwise(pads)):
            raise ValueError("the pad temperatures do not rise; write the points from cold to hot")
        return pads


class DroopTravel(Part):
    """Wheel travel down from ride height to where the shock or its limiter ends it."""

    front: Amount = typical("travel", "4 in", "1 in")
    rear: Amount = typical("travel", "4.5 in", "1 in")


class FramePoint(Part):
    """A point of the frame or body that may meet the ground.

    ``half`` is the part of the chassis it moves with.
    """

    name: str = Field(min_length=1, max_length=60)
    place: Spot = spot()
    half: Literal["front", "rear"]
    tail: bool = Field(default=False, description="true for the rearmost low points that drag on steep banks")


class HeightPoints(Part):
    """Fixed frame points at which the ride heights of a sheet are read."""

    LF: Spot = typical_spot("-18, 27, 5 in", "2 in")
    RF: Spot = typical_spot("-18, -27, 5 in", "2 in")
    LR: Spot = typical_spot("-82, 27, 5.25 in", "2 in")
    RR: Spot = typical_spot("-82, -27, 5.25 in", "2 in")


class Car(Document):
    """What bolts in rarely: geometry, masses, chassis, aero, engine, brakes, clearance points.

    Left-out values take the typical one and say so in ``left_out()``. SI inside every Quantity.
    """

    name: str = Field(default="car", max_length=120)
    notes: str = ""
    wheelbase: Amount = typical("wheelbase", "105 in", "0.3 in")
    tread: Tread = Tread()
    front: Front = Front()
    rear: Rear = Rear()
    steering: Steering = Steering()
    unsprung: Unsprung = Unsprung()
    sprung: Sprung = Sprung()
    driver: Driver = Driver()
    fuel_cell: FuelCell
    chassis: Chassis = Chassis()
    aero: Aero = Aero()
    engine: Engine = Engine()
    brakes: Brakes = Brakes()
    droop: DroopTravel = DroopTravel()
    frame_points: tuple[FramePoint, ...] = Field(default=(), max_length=60)
    height_points: HeightPoints = HeightPoints()

    @property
    def stands_in(self) -> str:
        """What must stand beside every answer about its rear, in one sentence; nothing where nothing must."""
        if not self.equivalent_four_link:
            return ""
        return f"The {self.rear.short_form.stands_for} are computed as an equivalent four-link."

    @property
    def equivalent_four_link(self) -> bool:
        """Whether a leaf-spring or truck-arm axle is taken as an equivalent four-link."""
        return self.rear.points is None and self.rear.short_form.stands_for in ("truck arms", "leaf springs")

    def _remarks(self) -> list[tuple[tuple[str | int, ...], str]]:
        remarks: list[tuple[tuple[str | int, ...], str]] = []
        if self.equivalent_four_link:
            kind = self.rear.short_form.stands_for
            remarks.append(
                (
                    ("rear", "short", "stands_for"),
                    f"{kind} are computed as an equivalent four-link; answers say so",
                )
            )
        return remarks
