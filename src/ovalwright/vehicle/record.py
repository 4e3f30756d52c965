"""What the compiled car, its motion and its answers look like in memory: one table each, one definition.

SI units. Chassis axes: origin on the ground under mid-wheelbase on the centerline of the car at its drawn
height, x forward, y left, z up. Order of corners: LF, RF, LR, RR; of sides: left, right. Front-half and
rear-half points move with their half of the twisting chassis.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Record = Any
"""A row of one of the structured arrays below; compiled code reads its fields by name."""

_CAR: list[tuple[str, tuple[int, ...], str]] = [
    ("weight", (), "reference weight for scaling residuals [N]"),
    ("wheelbase", (), "[m]"),
    # front corners
    ("arm_pivot", (2, 3), "a point of the lower arm's pivot axis [m]"),
    ("arm_axis", (2, 3), "unit pivot axis; turning positively about it is bump"),
    ("ball_lower", (2, 3), "lower ball joint as drawn [m]"),
    ("upper_center", (2, 3), "center of the upper ball joint's circle [m]"),
    ("upper_axis", (2, 3), "unit pivot axis of the upper arm"),
    ("upper_e1", (2, 3), "unit, center to upper ball joint as drawn"),
    ("upper_e2", (2, 3), "unit, upper_axis x upper_e1"),
    ("upper_radius", (2,), "[m]"),
    ("upper_branch", (2,), "+1 or -1"),
    ("kingpin_length", (2,), "lower to upper ball joint [m]"),
    ("tie_inner", (2, 3), "inner tie rod end, steering straight [m]"),
    ("tie_height", (2,), "outer tie rod end along the kingpin from the lower ball joint [m]"),
    ("tie_radius", (2,), "outer tie rod end from the kingpin [m]"),
    ("tie_length", (2,), "[m]"),
    ("tie_branch", (2,), "+1 or -1"),
    ("steer_gain", (), "steer angle per tie rod shift, about [rad/m]; only where a solver starts"),
    ("pitman", (), "pitman arm length [m] of a steering box; 0 for a rack"),
    (
        "hub",
        (2, 3),
        "wheel center from the lower ball joint along kingpin, steering arm, their cross product [m]",
    ),
    ("spindle", (2, 3), "unit spin axis, pointing left, in the same axes"),
    ("unsprung_mass", (2,), "front corner [kg], at the wheel center"),
    ("spin_inertia", (3,), "LF, RF wheel; whole rear axle [kg m^2]"),
    # the bar
    ("bar_center", (2, 3), "center of the bar arm's circle [m]"),
    ("bar_e1", (2, 3), "unit, center to arm tip as drawn"),
    ("bar_e2", (2, 3), "unit, the way the tip goes when the wheel bumps"),
    ("bar_arm", (2,), "arm length [m]"),
    ("bar_foot", (2, 3), "link end on the lower arm [m]"),
    ("bar_link", (2,), "link length [m]"),
    ("bar_branch", (2,), "+1 or -1"),
    ("bar_rate", (), "torque per angle between the arms [N m/rad]; 0: none or not hooked up"),
    ("bar_preload", (), "angle put in by the adjuster, + pushes LF and RR into the road [rad]"),
    ("bar_slack", (), "half the free play [rad]"),
    # the rear axle
    ("axle_origin", (3,), "reference point of the axle as drawn [m]"),
    ("axle_start", (4,), "where x, y, pitch, yaw of the axle start their iteration"),
    ("link_frame", (4, 3), "link ends on the rear half [m]"),
    ("link_axle", (4, 3), "link ends on the axle, from its reference point [m]"),
    ("link_length", (4,), "[m]"),
    ("axle_mass", (), "complete [kg]"),
    ("axle_cg", (3,), "from the reference point [m]"),
    ("axle_wheel", (2, 3), "wheel centers from the reference point [m]"),
    ("axle_spindle", (2, 3), "unit spin axes pointing left"),
    # struts of the four corners
    ("coil_low", (4, 3), "coil end on arm (as drawn) or axle (from its reference point) [m]"),
    ("coil_top", (4, 3), "coil end on the frame [m]"),
    ("coil_rate", (4,), "[N/m]; 0: no coil"),
    ("coil_free", (4,), "length between its mounts at which the coil just touches its seat [m]"),
    ("coil_bind", (4,), "squeeze at which the wires touch [m]"),
    ("bind_rate", (4,), "rate of a bound coil [N/m]"),
    ("shock_low", (4, 3), "as coil_low [m]"),
    ("shock_top", (4, 3), "[m]"),
    ("gas_force", (4,), "push of the shock's gas [N]"),
    ("stop_length", (4,), "shock length at which the bump stop touches [m]"),
    ("stop_rate", (4,), "first rate [N/m]; 0: none"),
    ("stop_solid", (4,), "solid travel [m]"),
    ("stop_exponent", (4,), "how fast it stiffens"),
    ("stop_bound_rate", (4,), "rate on top where a bump spring is solid [N/m]; 0 for a progressive stop"),
    ("droop_length", (4,), "shock length at full extension [m]"),
    ("droop_rate", (4,), "[N/m]"),
    # masses on the chassis
    ("front_mass", (), "sprung, front half [kg]"),
    ("front_cg", (3,), "[m]"),
    ("front_inertia", (3,), "about its CG, x y z [kg m^2]"),
    ("rear_mass", (), "sprung, rear half without fuel [kg]"),
    ("rear_cg", (3,), "[m]"),
    ("rear_inertia", (3,), "about its CG, x y z [kg m^2]"),
    ("fuel_mass", (), "[kg], on the rear half"),
    ("fuel_cg", (3,), "[m]"),
    ("twist_rate", (), "chassis torsion between the halves [N m/rad]"),
    ("twist_axis", (2,), "y, z of the twist axis [m]"),
    ("twist_built_in", (), "twist of the chassis when no torque acts [rad]"),
    # aero, driveline, brakes
    ("drag_area", (), "[m^2]"),
    ("drag_height", (), "[m]"),
    ("down_area", (2,), "downforce at front, rear axle [m^2]"),
    ("side_area", (), "side force area per rad of side slip [m^2/rad]"),
    ("side_point", (3,), "where it acts [m]"),
    ("brake_front", (), "front share of brake torque"),
    ("engine_drag", (), "torque of the closed throttle at the axle per axle speed [N m s/rad]"),
    ("driveline_inertia", (), "engine and shafts seen at the axle [kg m^2]"),
    ("shaft_ratio", (), "rear end ratio: axle torque / propshaft torque, + for the usual rotation"),
    # ground contact of the body
    (
        "height_point",
        (4, 3),
        "where ride heights are measured: LF, RF on the front half, LR, RR on the rear [m]",
    ),
    ("ground_point", (8, 3), "points watched for clearance [m]"),
    ("ground_front", (8,), "1: on the front half"),
    ("ground_rate", (8,), "[N/m]; 0: watched only"),
    ("ground_friction", (), "of a dragging point"),
]

_TIRE: list[str] = [
    "free_radius", "rate", "side_rate", "radius_share", "rolling_resistance", "grip", "nominal_load",
    "side_shape", "side_grip", "side_grip_load", "side_grip_camber", "side_bend", "side_bend_load",
    "side_stiffness", "stiffness_load", "stiffness_factor", "camber_thrust",
    "drive_shape", "drive_grip", "drive_grip_load", "drive_bend", "drive_bend_load",
    "drive_stiffness", "drive_stiffness_load",
    "drive_mix", "drive_mix_slip", "drive_mix_shape", "side_mix", "side_mix_slip", "side_mix_shape",
]  # fmt: skip
TIRE = np.dtype([(name, np.float64) for name in _TIRE], align=True)
"""One tire: free and rolling radius, vertical and lateral rate [N/m], grip factor and its Magic Formula."""

CAR = np.dtype([(name, np.float64, shape) for name, shape, _ in _CAR] + [("tire", TIRE, (4,))], align=True)
"""One car with one setup at one moment (fuel, driver, pressures)."""

_MOTION: list[tuple[str, str]] = [
    ("standing", "1: on the scales, wheels free to roll sideways; 0: rolling"),
    ("speed", "[m/s]"),
    ("acceleration", "tangential [m/s^2]"),
    ("curvature", "1 / horizontal radius to mid-wheelbase on the centerline [1/m], + left"),
    ("curvature_rate", "its change along the road [1/m^2]"),
    ("bank", "[rad], + right side up"),
    ("bank_rate", "its change along the road [rad/m]"),
    ("bank_bend", "second derivative of bank along the road [rad/m^2]"),
    ("grade", "[rad], + uphill"),
    ("crest", "vertical curvature of the road [1/m], + dip"),
    ("gravity", "[m/s^2]"),
    ("air_density", "[kg/m^3]"),
    ("grip", "surface grip factor"),
    ("lock_left", "1: LF wheel locked"),
    ("lock_right", "1: RF wheel locked"),
    ("yaw_rate_extra", "yaw rate beyond the path's, for stability [rad/s]"),
    ("side_extra", "acceleration to the left beyond the path's, for the yaw moment at the limit [m/s^2]"),
]
MOTION = np.dtype([(name, np.float64) for name, _ in _MOTION], align=True)
"""Where on the track and how fast."""

UNKNOWNS = ("demand", "side_slip", "steer", "heave", "roll", "pitch", "twist", "arm_left", "arm_right",
            "axle_heave", "axle_roll", "spin_left", "spin_right", "spin_axle")  # fmt: skip
EQUATIONS = ("Fx", "Fy", "Mz", "Fz", "Mx", "My", "twist", "arm_left", "arm_right",
             "axle_heave", "axle_roll", "spin_left", "spin_right", "spin_axle")  # fmt: skip
SIZE = len(UNKNOWNS)

CORNERS = ("LF", "RF", "LR", "RR")


def describe() -> dict[str, str]:
    """Meaning and unit of every field of the car record and of the motion record."""
    return {name: text for name, _, text in _CAR} | dict(_MOTION)


def blank(kind: np.dtype[Any], count: int = 1) -> npt.NDArray[Any]:
    """A zeroed array of records."""
    return np.zeros(count, dtype=kind)


def _answer_fields() -> list[tuple[str, str]]:
    return [
        ("load", "normal load [N]"),
        ("drive", "force along the wheel's heading [N]"),
        ("side", "force across it, + left [N]"),
        ("slip_angle", "[rad], + pushes left"),
        ("slip", "[1], + driving"),
        ("inclination", "to the road, + top left [rad]"),
        ("steer", "from the car's heading, + left [rad]"),
        ("peak_slip_angle", "slip angle at the tire's peak at this load [rad]"),
        ("peak_slip", "slip at the peak [1]"),
        ("side_peak", "greatest side force at this load and camber [N]"),
        ("used", "slip used over slip at peak, combined [1]"),
        ("squash", "[m]"),
        ("coil_length", "[m]"),
        ("coil_force", "[N]"),
        ("coil_gap", "coil off its seat by [m]; negative: squeezed"),
        ("shock_length", "[m]"),
        ("gas_force", "[N]"),
        ("stop_force", "[N]"),
        ("stop_gap", "[m]; negative: squeezed"),
        ("droop_force", "[N], negative: holding the wheel up"),
        ("height", "of the ride height point over the road [m]"),
        ("patch_x", "where the force acts, road axes [m]"),
        ("patch_y", "[m]"),
        ("patch_z", "[m]"),
        ("hub_x", "wheel center, road axes [m]"),
        ("hub_y", "[m]"),
        ("hub_z", "[m]"),
        ("force_x", "force of the road on the tire, road axes [N]"),
        ("force_y", "[N]"),
        ("force_z", "[N]"),
        ("couple_x", "couple on the wheel, road axes [N m]"),
        ("couple_y", "[N m]"),
        ("couple_z", "[N m]"),
        ("extrapolated", "1: heavier than the tire's data"),
    ]


CORNER = np.dtype([(name, np.float64) for name, _ in _answer_fields()], align=True)
"""What one corner does in a solved state."""


def describe_answer() -> dict[str, str]:
    """Meaning and unit of every field of a corner's answer."""
    return dict(_answer_fields())
