"""Tires and brakes of the documents as bodies that warm, and what that does to grip, size and bite.

What the documents do not ask (rim, gas, caliper) is the same for every car here: from memory, of little
weight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ovalwright.mechanics import heat
from ovalwright.mechanics.handbook import ATMOSPHERE, pressure_at
from ovalwright.vehicle.record import CORNERS

from .values import Values

Array = npt.NDArray[np.float64]

RIM_CAPACITY, GAS_CAPACITY, FLUID_CAPACITY = 6000.0, 120.0, 2500.0
"""A 15 in steel wheel with its hub, the air in a tire, a caliper with its fluid [J/K]."""
GAS_TO_RIM, RIM_TO_AIR, FLUID_TO_AIR = 5.0, 12.0, 6.0
"""[W/K], the last two at 80 mph."""
IRON = 460.0
"""Specific heat of a disc [J/(kg K)]."""
RADIATING = 0.06
"""Emissivity times area of a disc [m^2]."""
RADIAL_GROWTH = 0.25
"""Growth by heat and stretch of a radial against that of a bias tire (common practice, no source)."""
RESISTANCE_AT = 333.15
"""Carcass temperature [K] at which rolling resistance is stated: 140 F (common practice, no source)."""
HOT_TIME = 600.0
"""Time at the best temperature [s] for which `hot_loss` is stated."""


@dataclass(frozen=True)
class Warming:
    """A car's four tires and brakes as `mechanics.heat` takes them: corners in the order of CORNERS, SI.

    `bodies` is (4,) of HEAT. The rest are (4,) arrays named as in the documents; `pads` is (2, n), disc
    temperature and friction; `fuel_rate` [kg/J] of crank work; `yellow_fuel` the share burned under yellow.
    """

    bodies: Any
    cold: Array
    best: Array
    window: Array
    softening: Array
    easing: Array
    heat_cycles: Array
    unscuffed_loss: Array
    cycle_loss: Array
    hot_loss: Array
    worn_loss: Array
    tread_depth: Array
    heat_growth: Array
    stretch: Array
    pads: Array
    fluid_boils: float
    fuel_rate: float
    yellow_fuel: float

    def at_rest(self, air: float) -> Array:
        """Temperatures [K] of the nodes (4, 6) of a car that has stood in air of this temperature [K]."""
        return np.full((4, len(heat.NODES)), air)

    def grip(self, tread: Array, used: Array, driven: float) -> Array:
        """Grip of each tire against a scuffed one at its best temperature.

        `tread` [K]; `used` (4, 2) as `heat_lap` leaves it, tread worn off [m] and time at heat [s];
        `driven` [m] since it was mounted.
        """
        new = np.where(self.heat_cycles < 1.0, heat.first_laps(driven, self.unscuffed_loss), 1.0)
        cycles = heat.left_on(np.maximum(self.heat_cycles - 1.0, 0.0), self.cycle_loss)
        hot = heat.left_on(used[:, 1] / HOT_TIME, self.hot_loss)
        return np.asarray(self.by_heat(tread) * new * cycles * hot * self.by_wear(used[:, 0]))

    def by_heat(self, tread: Array) -> Array:
        """The part of the grip that goes with the tread temperature [K]."""
        return np.asarray(heat.grip_of_heat(tread, best=self.best, window=self.window))

    def by_wear(self, wear: Array) -> Array:
        """The part of the grip that is left with so much tread worn off [m]."""
        return np.asarray(heat.left_on(np.minimum(wear / self.tread_depth, 1.0), self.worn_loss))

    def stiffness(self, tread: Array) -> Array:
        """Cornering stiffness of each tire against that at its best temperature, at least a tenth."""
        return np.maximum(1.0 - self.softening * (tread - self.best), 0.1)

    def rolling(self, carcass: Array) -> Array:
        """Rolling resistance of each tire at its carcass temperature [K] against that at RESISTANCE_AT.

        A cold carcass loses more as it flexes: exp(-easing (T - RESISTANCE_AT)). UN Regulation 117, annex 6,
        6.2 (as ISO 28580) takes 0.8 % per kelvin of the air around a tire that warms itself by some 25 K,
        which is 1 % per kelvin of its own temperature.
        """
        return np.asarray(np.exp(-self.easing * (carcass - RESISTANCE_AT)))

    def pressure(self, gas: Array, *, filled_at: float, ambient: float = ATMOSPHERE) -> Array:
        """Hot gauge pressures [Pa] at gas temperatures [K], from the cold ones set at `filled_at` [K]."""
        pairs = zip(self.cold, gas, strict=True)
        return np.array([pressure_at(c, filled_at=filled_at, now_at=t, ambient=ambient) for c, t in pairs])

    def grown(self, carcass: Array, driven: float, *, measured_at: float) -> Array:
        """Roll-out gained [m] beyond that of pressure since it was measured at a temperature [K]."""
        return heat.grown(
            carcass, driven, cold=measured_at, by_heat=self.heat_growth, by_stretch=self.stretch
        )

    def bite(self, disc: Array) -> Array:
        """Friction of the pads at each disc's temperature [K] against their best."""
        return np.asarray(np.interp(disc, *self.pads) / self.pads[1].max())

    def boiling(self, fluid: Array) -> npt.NDArray[np.bool_]:
        """Which calipers hold fluid [K] at its boiling point or beyond."""
        return np.asarray(fluid >= self.fluid_boils)


def warming(car: Values, setup: Values) -> Warming:
    """Tires and brakes of a car with a setup (`Packed.values`)."""
    tires = [getattr(setup, corner).tire for corner in CORNERS]

    def each(name: str) -> Array:
        return np.array([getattr(tire.heat, name) for tire in tires])

    plain = ("best", "window", "softening", "easing", "heat_cycles", "unscuffed_loss", "cycle_loss")
    points = [(point.temperature, point.friction) for point in car.brakes.pads]
    return Warming(
        bodies=_bodies(car, tires),
        cold=np.array([tire.cold for tire in tires]),
        **{name: each(name) for name in (*plain, "hot_loss", "worn_loss", "tread_depth")},
        heat_growth=each("heat_growth") * _radial(tires, "heat_growth"),
        stretch=each("stretch") * _radial(tires, "stretch"),
        pads=np.array(points).T,
        fluid_boils=car.brakes.fluid_boils,
        fuel_rate=car.engine.fuel_rate,
        yellow_fuel=car.engine.yellow_fuel,
    )


def _bodies(car: Values, tires: list[Values]) -> Any:
    bodies, brakes = np.zeros(4, heat.HEAT), car.brakes
    for i, tire in enumerate(tires):
        to, rubber = bodies[i], tire.heat
        disc, cooling = (
            (brakes.front_disc, brakes.front_cooling) if i < 2 else (brakes.rear_disc, brakes.rear_cooling)
        )
        to["capacity"] = (
            rubber.tread_capacity,
            rubber.carcass_capacity,
            GAS_CAPACITY,
            RIM_CAPACITY,
            max(IRON * disc, 1.0),
            FLUID_CAPACITY,
        )
        to["link"] = (
            rubber.tread_to_carcass,
            rubber.carcass_to_gas,
            GAS_TO_RIM,
            brakes.to_rim,
            brakes.to_fluid,
        )
        to["air"] = (rubber.tread_to_air, rubber.carcass_to_air, 0.0, RIM_TO_AIR, cooling, FLUID_TO_AIR)
        to["road"], to["radiating"] = rubber.tread_to_road, RADIATING
        for name in ("sliding_share", "carcass_share", "best", "wear", "wear_heat"):
            to[name] = getattr(rubber, name)
    return bodies


def _radial(tires: list[Values], name: str) -> Array:
    """What a typical growth of a bias tire is to be taken times."""
    left_out = [tire.construction == "radial" and not tire.heat.known(name) for tire in tires]
    return np.where(left_out, RADIAL_GROWTH, 1.0)
