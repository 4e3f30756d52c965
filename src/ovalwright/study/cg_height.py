"""CG height from a raised axle: level the car on pads, lift one axle, read what the axle left down gains.

**CG height** is the height of the center of mass of the whole car above the ground with the car level. The
springs are locked, so that the body keeps its place on the axles, and the wheels roll freely, so that each
tire carries a plain upward force under its wheel center.

Lengths in meters, axle loads in kilograms as a scale shows them, angles in radians. The axle that stays
down is `low`, the lifted one `high`: either may be the front. Shifts `toward_low` and `up` are measured in
the car's own axes.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ovalwright.study.roots import crossing
from ovalwright.study.weigh import TAPE, Estimate, Vector
from ovalwright.units import INCH, LB, show


@dataclass(frozen=True, kw_only=True)
class RaisedAxle:
    """One test: loads [kg], lengths [m].

    level_low, level_high: axle loads with the car level; low_raised: load on the low axle once the other
    stands `lift` higher; center_low, center_high: wheel centers above their pads.

    Raises:
        ValueError: the level loads sum to nothing, or the lift is not between zero and the wheelbase.
    """

    level_low: float
    level_high: float
    low_raised: float
    lift: float
    wheelbase: float
    center_low: float
    center_high: float

    def __post_init__(self) -> None:
        if not self.level_low + self.level_high > 0.0:
            raise ValueError(
                "the level axle loads sum to nothing: give what each axle weighs with the car level"
            )
        step = self.center_high - self.center_low
        if not 0.0 < self.lift < np.hypot(self.wheelbase, step) - step:
            raise ValueError(
                f"an axle lifted {show(self.lift, 'height')} on a wheelbase of "
                f"{show(self.wheelbase, 'wheelbase')}: the lift must be above zero and below the wheelbase"
            )

    @property
    def tilt(self) -> float:
        """Angle by which the car has turned [rad], exact for unequal wheels."""
        return float(_tilt(np.array(astuple(self))))


@dataclass(frozen=True, kw_only=True)
class LiftError:
    """Standard deviations of a raised-axle test: each axle reading [kg], lift [m], lengths by tape [m].

    Defaults: 3 lb on what the low axle gains, 1/16 in on the lift, 1/8 in by tape (common practice, no
    source).
    """

    load: float = 3.0 / 2.0**0.5 * LB
    lift: float = 0.0625 * INCH
    tape: float = TAPE


def cg_height(test: RaisedAxle, error: LiftError | None = None, *, lifts: int = 1) -> Estimate:
    """CG height above the ground [m] with its spread; `lifts` tests averaged narrow the share of the scales.

    Exact: h = r + wheelbase (low_raised - level_low) / (total tan(tilt)) for equal wheels, r the wheel
    center's height; with unequal wheels the line through the wheel centers adds its step times the high
    axle's share. Source: raised-axle formula as in ISO 10392, from memory; unequal wheels DERIVED by
    moments about the low axle.
    """
    values, errors = np.array(astuple(test)), error or LiftError()
    load = errors.load / lifts**0.5
    spreads = np.array([load, load, load, errors.lift, errors.tape, errors.tape, errors.tape])
    return Estimate(float(_height(values)), float(np.linalg.norm(_slopes(values) * spreads)))


def expected(test: RaisedAxle, *, height: float, lift: float) -> RaisedAxle:
    """The test that the same car would give at another lift [m], its CG being at `height` [m].

    Raises:
        ValueError: as RaisedAxle.
    """
    blank = replace(test, low_raised=0.0, lift=lift)
    values = np.array(astuple(blank))
    return replace(blank, low_raised=float((height - _height(values)) / _slopes(values)[2]))


@dataclass(frozen=True, kw_only=True)
class LiftAdvice:
    """How high to lift: `lift` [m] gives the CG height within `give_or_take` [m] (half of a 95 % band).

    reachable: whether that is as good as was asked; if not, `lift` is the highest that was allowed.
    """

    lift: float
    give_or_take: float
    reachable: bool


def lift_for(
    wanted: float,
    test: RaisedAxle,
    *,
    height: float,
    error: LiftError | None = None,
    lifts: int = 1,
    highest: float = 30.0 * INCH,
) -> LiftAdvice:
    """Least lift that tells a CG near `height` [m] within `wanted` [m] (half of a 95 % band), up to
    `highest` [m].

    Of `test`, done or only planned, the car's loads and lengths count. The tape on the wheel centers sets a
    floor that no lift goes below.
    """

    def band(lift: float) -> float:
        return cg_height(expected(test, height=height, lift=lift), error, lifts=lifts).give_or_take

    low = 0.25 * INCH
    if band(highest) > wanted:
        return LiftAdvice(lift=highest, give_or_take=band(highest), reachable=False)
    enough = band(low) <= wanted
    lift = low if enough else crossing(lambda lift: band(lift) - wanted, low, highest, within=1e-9)
    return LiftAdvice(lift=lift, give_or_take=band(lift), reachable=True)


def shift_error(*, mass: float, total_mass: float, toward_low: float, up: float, tilt: float) -> float:
    """Error [m] of the CG height when `mass` [kg] shifts as the car tilts: a driver leaning, fuel sliding.

    Exact: (mass / total_mass) (toward_low / tan(tilt) + up), shifts in m. DERIVED by moments about the low
    axle.
    """
    return mass / total_mass * (toward_low / float(np.tan(tilt)) + up)


def fuel_slide(*, cell_length: float, cell_height: float, fill: float, tilt: float) -> tuple[float, float]:
    """How far (toward_low, up) [m] the fuel's center moves in a box-shaped cell as the car tilts and it
    runs level.

    cell_length [m] is fore and aft; `fill` is a fraction of the height. Exact also where the surface meets
    floor or top. Foam slows the fuel, it does not hold it.

    Raises:
        ValueError: fill not above 0 or over 1.
    """
    if not 0.0 < fill <= 1.0:
        raise ValueError(f"the cell is {fill:g} full: give a fraction above 0 and at most 1")
    slope, level = float(np.tan(tilt)), fill * cell_height
    if fill == 1.0 or slope == 0.0:
        return 0.0, 0.0
    reach = cell_height + abs(slope) * cell_length
    middle = crossing(
        lambda depth: _side_view(depth, slope, cell_length, cell_height)[0] - level * cell_length,
        -reach,
        reach,
        within=1e-14,
    )
    area, along, upright = _side_view(middle, slope, cell_length, cell_height)
    return along / area, upright / area - level / 2.0


def _side_view(middle: float, slope: float, length: float, height: float) -> tuple[float, float, float]:
    """Area of the fuel seen from the side [m^2], its moments about the cell's middle and about its floor
    [m^3].

    The depth is a straight line cut off at floor and top, so Simpson's rule between the cuts is exact.
    """
    half = length / 2.0
    cuts = [(edge - middle) / slope for edge in (0.0, height)]
    x = np.array(sorted([-half, half, *(cut for cut in cuts if abs(cut) < half)]))
    points = np.array([x[:-1], (x[:-1] + x[1:]) / 2.0, x[1:]])
    depth = np.clip(middle + slope * points, 0.0, height)
    simpson = np.outer([1.0, 4.0, 1.0], np.diff(x) / 6.0)
    area, along, upright = (float(np.sum(simpson * part)) for part in (depth, points * depth, depth**2 / 2.0))
    return area, along, upright


def _tilt(values: NDArray[Any]) -> Any:
    *_, lift, wheelbase, center_low, center_high = values
    step = center_high - center_low
    return np.arcsin((lift + step) / np.sqrt(wheelbase**2 + step**2)) - np.arctan(step / wheelbase)


def _height(values: NDArray[Any]) -> Any:
    """CG height from the seven values of a test, real or complex."""
    low, high, low_raised, _, wheelbase, center_low, center_high = values
    total = low + high
    gain = wheelbase * (low_raised - low) / (total * np.tan(_tilt(values)))
    return center_low + gain + (1.0 - low_raised / total) * (center_high - center_low)


def _slopes(values: Vector) -> Vector:
    """Derivative of the height in each value, exact by complex step (Martins et al., ACM TOMS 29, 2003)."""
    tiny = 1e-30
    return np.array([_height(row).imag / tiny for row in values + 1j * tiny * np.eye(len(values))])
