"""Tires of the documents as tires of the record.

The Magic Formula set is a typical 27 in class slick (fitted to judged grip, stiffness and slip at the peak:
common practice, no source), good from 250 to 2,150 lb; beyond, the kernel holds the stiffness and says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.documents import State
from ovalwright.units import INCH, PSI
from ovalwright.vehicle.record import CORNERS, Record

from .values import Values

LB_PER_IN = 175.1268
"""One lb/in [N/m]."""
"""One psi [Pa]."""

BIAS = {
    "nominal_load": 4000.0,
    "side_shape": 1.34,
    "side_grip": 1.2627,
    "side_grip_load": -0.1523,
    "side_grip_camber": 7.7,
    "side_bend": -2.9248,
    "side_bend_load": -0.3414,
    "side_stiffness": 27.7353,
    "stiffness_load": 2.4138,
    "camber_thrust": 1.20,
    "drive_shape": 1.3391,
    "drive_grip": 1.3263,
    "drive_grip_load": -0.1605,
    "drive_bend": -2.4039,
    "drive_bend_load": -0.8367,
    "drive_stiffness": 26.4499,
    "drive_stiffness_load": -7.3690,
    "drive_mix": 11.178,
    "drive_mix_slip": 12.984,
    "drive_mix_shape": 1.175,
    "side_mix": 14.641,
    "side_mix_slip": 10.205,
    "side_mix_shape": 1.109,
    "stiffness_factor": 1.0,
    "side_rate": 700.0 * LB_PER_IN,
    "radius_share": 0.40,
    "rolling_resistance": 0.018,
}
"""Typical bias-ply slick: Magic Formula, lateral rate, share of squash in the rolling radius, rolling
resistance.
"""
RADIAL = BIAS | {
    "side_stiffness": 1.25 * 27.7353,
    "side_grip": 1.015 * 1.2627,
    "side_grip_load": 0.9 * -0.1523,
    "camber_thrust": 0.6,
    "side_grip_camber": 5.3,
    "radius_share": 0.33,
    "rolling_resistance": 0.014,
}
"""Typical radial slick (common practice, no source)."""
RADIAL_RATE_AT_ZERO = 200.0 * LB_PER_IN
RADIAL_GROWTH = 0.03 * INCH / PSI
HOT_GAIN = {"LF": 2.6 * PSI, "RF": 8.9 * PSI, "LR": 3.0 * PSI, "RR": 7.9 * PSI}
"""Pressure gained in a long run where no hot pressure was written [Pa] (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Rubber:
    """What a run has made of four tires, (4,) each: hot gauge pressure [Pa], roll-out grown beyond that of
    pressure [m], tread worn off [m], and grip, cornering stiffness and rolling resistance against the
    documents' tire.
    """

    pressure: npt.NDArray[np.float64]
    growth: npt.NDArray[np.float64]
    wear: npt.NDArray[np.float64]
    grip: npt.NDArray[np.float64]
    stiffness: npt.NDArray[np.float64]
    rolling: npt.NDArray[np.float64]


def set_tire(to: Record, tire: Values, *, pressure: float, roll_out: float, read_at: float) -> None:
    """Fill one tire of a record at a pressure [Pa] from its roll-out [m] read at another pressure [Pa]."""
    radial = tire.construction == "radial"
    for name, constant in (RADIAL if radial else BIAS).items():
        to[name] = constant
    at_zero, growth = tire.rate_at_zero, tire.growth
    if radial and not tire.known("rate_at_zero"):
        at_zero *= RADIAL_RATE_AT_ZERO / tire.part.rate_at_zero.si
    if radial and not tire.known("growth"):
        growth *= RADIAL_GROWTH / tire.part.growth.si
    to["free_radius"] = (roll_out + growth * (pressure - read_at)) / (2.0 * math.pi)
    to["rate"] = at_zero + tire.rate_gain * pressure
    to["grip"] = tire.grip


def cold_tires(record: Record, setup: Values, sheet: Values) -> None:
    """All four tires as they stood on the scales."""
    for i, corner in enumerate(CORNERS):
        pressure, roll_out, read_at = _on_the_scales(corner, setup, sheet)
        set_tire(
            record["tire"][i],
            getattr(setup, corner).tire,
            pressure=pressure,
            roll_out=roll_out,
            read_at=read_at,
        )


def hot_tires(record: Record, setup: Values, sheet: Values, state: State | None) -> None:
    """All four tires in the run: hot pressures, roll-outs grown with pressure and heat, tread worn off."""
    for i, corner in enumerate(CORNERS):
        tire = getattr(setup, corner).tire
        _, roll_out, read_at = _on_the_scales(corner, setup, sheet)
        now = getattr(state, corner) if state else None
        pressure = tire.cold + HOT_GAIN[corner] if tire.hot is None else tire.hot
        if now and now.hot:
            pressure = now.hot.si
        if now and now.growth:
            roll_out += now.growth.si
        set_tire(record["tire"][i], tire, pressure=pressure, roll_out=roll_out, read_at=read_at)
        if now:
            record["tire"][i]["free_radius"] -= now.wear.si


def running_tires(record: Record, setup: Values, sheet: Values, rubber: Rubber) -> None:
    """All four tires as a run has made them."""
    for i, corner in enumerate(CORNERS):
        _, roll_out, read_at = _on_the_scales(corner, setup, sheet)
        tire, to = getattr(setup, corner).tire, record["tire"][i]
        grown = roll_out + float(rubber.growth[i])
        set_tire(to, tire, pressure=float(rubber.pressure[i]), roll_out=grown, read_at=read_at)
        to["free_radius"] -= rubber.wear[i]
        to["grip"] *= rubber.grip[i]
        to["stiffness_factor"] *= rubber.stiffness[i]
        to["rolling_resistance"] *= rubber.rolling[i]


def _on_the_scales(corner: str, setup: Values, sheet: Values) -> tuple[float, float, float]:
    """Pressure on the sheet [Pa], roll-out [m] and the pressure it was read at [Pa]."""
    tire: Any = getattr(setup, corner).tire
    read = getattr(sheet, corner)
    pressure = tire.cold if read.pressure is None else read.pressure
    if read.roll_out is not None:
        return pressure, read.roll_out, pressure
    return pressure, tire.roll_out, tire.cold if tire.roll_out_pressure is None else tire.roll_out_pressure
