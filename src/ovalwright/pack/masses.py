"""What weighs: the sprung halves with driver and lead, the fuel, the unsprung parts.

Total, left and rear weight come from the scales; the known parts are points; the rest of the sprung body
lies at the two half stations of the car document, and is adjusted by the solver until the weights agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.vehicle.geometry import half_masses
from ovalwright.vehicle.record import CORNERS, Record

from .drawing import Drawing, at_middle
from .values import Values

Array = npt.NDArray[np.float64]


class Piece(NamedTuple):
    """A point mass [kg] at a place [m, chassis axes]."""

    mass: float
    place: Array


@dataclass
class Half:
    """A rigid half of the body: mass [kg], center of gravity [m], inertia about it for x, y, z [kg m^2]."""

    mass: float
    cg: Array
    inertia: Array

    def plus(self, piece: Piece) -> Half:
        """With a piece bolted in; with a piece of negative mass, taken out (parallel axes, never below
        zero).
        """
        mass = self.mass + piece.mass
        cg = (self.mass * self.cg + piece.mass * piece.place) / mass
        inertia = self.inertia + self.mass * spread(self.cg - cg) + piece.mass * spread(piece.place - cg)
        return Half(mass, cg, np.maximum(inertia, 0.0))


def spread(arm: Array) -> Array:
    """Squared distance [m^2] of a point from the x, y and z axes."""
    square = arm * arm
    return np.asarray(square.sum() - square)


def half_of(record: Record, half: str) -> Half:
    """The front or rear half held in a record."""
    return Half(float(record[f"{half}_mass"]), record[f"{half}_cg"].copy(), record[f"{half}_inertia"].copy())


def set_half(record: Record, half: str, body: Half) -> None:
    """Write a half into a record."""
    record[f"{half}_mass"], record[f"{half}_cg"], record[f"{half}_inertia"] = (
        body.mass,
        body.cg,
        body.inertia,
    )


def set_weight(record: Record) -> None:
    """Reference weight of a record from its masses [N]."""
    mass = record["front_mass"] + record["rear_mass"] + record["fuel_mass"]
    record["weight"] = GRAVITY * (mass + record["unsprung_mass"].sum() + record["axle_mass"])


def bolt_in(record: Record, car: Values, piece: Piece) -> None:
    """Add a piece (negative mass: take it out) to the half it sits on."""
    half = "front" if _sits_in_front(car, piece.place) else "rear"
    set_half(record, half, half_of(record, half).plus(piece))


def driver_piece(car: Values) -> Piece:
    """The driver, belted in."""
    return Piece(car.driver.mass, at_middle(car.driver.place, car))


def lead_pieces(car: Values, setup: Values) -> list[Piece]:
    """The ballast of a setup."""
    return [Piece(lead.mass, at_middle(lead.place, car)) for lead in setup.lead]


def set_fuel(record: Record, car: Values, *, mass: float, lateral_g: float = 0.0) -> None:
    """Fuel of a mass [kg] in its cell; under `lateral_g` (+ in a left turn) it shifts outward.

    The center rises in a straight line from empty to full. The shift is that of the document for a cell
    half full, nothing for a full one, and twice it for the last of the fuel (common practice, no source).
    """
    cell = car.fuel_cell
    fill = _filled(car, mass)
    height = cell.empty_height + (cell.full_height - cell.empty_height) * fill
    outward = slosh_of(car, mass) * lateral_g * GRAVITY
    record["fuel_mass"] = mass
    record["fuel_cg"] = (-0.5 * car.wheelbase - cell.behind_axle, cell.left - outward, height)
    set_weight(record)


def slosh_of(car: Values, mass: float) -> float:
    """How far fuel of a mass [kg] shifts outward per lateral acceleration [m per m/s^2]; see `set_fuel`."""
    return float(2.0 * (1.0 - _filled(car, mass)) * car.fuel_cell.slosh)


def _filled(car: Values, mass: float) -> float:
    cell = car.fuel_cell
    return float(min(max(mass / (cell.capacity * cell.density), 0.0), 1.0))


def set_masses(record: Record, car: Values, setup: Values, sheet: Values, drawing: Drawing) -> None:
    """Fill all masses of a record as the car stood on its sheet, its CG in plan by the weights."""
    unsprung = car.unsprung
    record["unsprung_mass"] = (unsprung.LF, unsprung.RF)
    record["axle_mass"] = unsprung.axle
    record["spin_inertia"] = (unsprung.wheel_spin, unsprung.wheel_spin, 2.0 * unsprung.wheel_spin)
    set_fuel(record, car, mass=sheet.fuel * car.fuel_cell.density)
    fuel = Piece(float(record["fuel_mass"]), record["fuel_cg"].copy())
    lead = lead_pieces(car, setup)
    driver = [driver_piece(car)] if sheet.driver else []

    weights = np.array([getattr(sheet, corner).weight for corner in CORNERS])
    total = float(weights.sum())
    moving = [
        Piece(unsprung.LF, drawing.corners[0]["wheel"]),
        Piece(unsprung.RF, drawing.corners[1]["wheel"]),
        Piece(unsprung.axle, drawing.axle_cg),
    ]
    cg = weights @ np.array([_under(point) for point in drawing.wheels]) / total
    sprung_mass = total - sum(piece.mass for piece in moving)
    cg[2] = _whole_height(car, moving, total, sprung_mass)
    moment = total * cg
    for piece in (*moving, fuel, *driver, *lead):
        moment = moment - piece.mass * piece.place
        total -= piece.mass
    sprung = car.sprung
    front_mass, front_cg, rear_mass, rear_cg = half_masses(
        total,
        moment / total,
        front_station=float(sprung.front_half_station + 0.5 * car.wheelbase),
        rear_station=float(sprung.rear_half_station + 0.5 * car.wheelbase),
    )
    known = [*moving, fuel, *driver, *lead, Piece(front_mass, front_cg), Piece(rear_mass, rear_cg)]
    left = _inertia_left(car, float(weights.sum()), cg, known)
    set_half(record, "front", Half(front_mass, front_cg, max(front_mass / total, 0.0) * left))
    set_half(record, "rear", Half(rear_mass, rear_cg, max(rear_mass / total, 0.0) * left))
    for piece in (*driver, *lead):
        bolt_in(record, car, piece)
    set_weight(record)


def _inertia_left(car: Values, mass: float, cg: Array, known: list[Piece]) -> Array:
    """The whole car's inertia about its center of gravity less that of its parts as points [kg m^2]."""
    sprung = car.sprung
    gyration = np.array([sprung.roll_gyration, sprung.pitch_gyration, sprung.yaw_gyration])
    points = sum((piece.mass * spread(piece.place - cg) for piece in known), np.zeros(3))
    return np.maximum(mass * gyration**2 - points, 0.0)


def _whole_height(car: Values, moving: list[Piece], total: float, sprung_mass: float) -> float:
    """Height of the whole car's center of gravity as on the sheet [m]."""
    if car.sprung.whole_car_height is not None:
        return float(car.sprung.whole_car_height)
    low = sum(piece.mass * piece.place[2] for piece in moving)
    return float((low + sprung_mass * car.sprung.height) / total)


def whole_height(car: Values, sheet: Values) -> float:
    """Height of the whole car's center of gravity [m], before any point is drawn."""
    if car.sprung.whole_car_height is not None:
        return float(car.sprung.whole_car_height)
    total = sum(getattr(sheet, corner).weight for corner in CORNERS)
    unsprung = car.unsprung
    low = unsprung.LF + unsprung.RF + unsprung.axle
    return float((low * unsprung.height + (total - low) * car.sprung.height) / total)


def _sits_in_front(car: Values, place: Array) -> bool:
    middle = 0.5 * (car.sprung.front_half_station + car.sprung.rear_half_station)
    return bool(place[0] - 0.5 * car.wheelbase > middle)


def _under(wheel: Array) -> Array:
    return np.array([wheel[0], wheel[1], 0.0])
