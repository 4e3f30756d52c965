"""A solved state as JSON, SI and ISO 8855 with signs stated: enough to check it against another solver."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from ovalwright.cli.screen import fields
from ovalwright.pack import Packed
from ovalwright.study.state import Solved
from ovalwright.vehicle.record import MOTION, UNKNOWNS, describe, describe_answer

MEANING = {
    "corners": {
        **describe_answer(),
        "Fx Fy Fz": "force_x, force_y, force_z: of the road on the tire, road axes, at the patch [N]",
        "Mx": "couple_x: overturning couple on the wheel about x through the patch [N m], + left side up",
    },
    "pose": {
        "demand": "drive force asked of the rear wheels [N], negative braking",
        "side_slip": "[rad], + velocity left of the car's heading",
        "steer": "rack shift, or center link shift of a steering box [m], + left",
        "heave": "body up from its drawn height [m]",
        "roll": "[rad], + right side down",
        "pitch": "[rad], + nose down",
        "twist": "front half against rear half [rad], + right side of the front down",
        "arm_left": "lower arm of LF [rad], + bump",
        "arm_right": "lower arm of RF [rad], + bump",
        "axle_heave": "rear axle up in the body [m]",
        "axle_roll": "rear axle in the body [rad], + right side down",
        "spin_left": "[rad/s]",
        "spin_right": "[rad/s]",
        "spin_axle": "[rad/s]",
    },
    "motion": {name: text for name, text in describe().items() if name in (MOTION.names or ())},
}


def state(solved: Solved) -> dict[str, Any]:
    """One solved state: how it was found, where the car is, its pose and its four corners."""
    return {
        "status": solved.status,
        "residual_norm": solved.norm,
        "iterations": solved.iterations,
        "residual_evaluations": solved.evaluations,
        "motion": fields(solved.motion),
        "pose": dict(zip(UNKNOWNS, solved.unknowns.tolist(), strict=True)),
        "corners": fields(solved.corners),
    }


def told(value: Any) -> Any:
    """A study's answer without the cars inside it; every solved state by its contract."""
    if isinstance(value, Solved):
        return state(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        held = {one.name: getattr(value, one.name) for one in dataclasses.fields(value)}
        return {name: told(item) for name, item in held.items() if not isinstance(item, Packed)}
    if isinstance(value, Mapping):
        return {key: told(item) for key, item in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: told(item) for name, item in value._asdict().items()}
    if isinstance(value, (list, tuple)):
        return [told(item) for item in value]
    return value
