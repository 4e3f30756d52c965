"""Heat of a tire and its brake, and what heat, work and distance do to grip, size and tread.

Six nodes in a chain at each corner, each of one temperature: tread, carcass, gas, rim, brake disc, brake
fluid. Sliding heats tread and road, rolling heats carcass and tread, braking heats the disc; tread gives
heat to the road, all but the gas give it to the air. Structure: Shyrokau & Harsh, Appl. Sci. 9 (2019) 5328
(three bodies, tread to gas); rim and brake after Teodosio et al., Meccanica (2021). Wear follows the energy
slid away, with the temperature in an exponent (Grosch, Rubber Chem. Technol. 81 (2008) 470). All three are
cited from memory. SI, kelvin.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from ..compiled import compiled, inlined

Array = npt.NDArray[np.float64]
Record = Any

NODES = ("tread", "carcass", "gas", "rim", "disc", "fluid")
TREAD, CARCASS, GAS, RIM, DISC, FLUID = range(6)
WORK = ("sliding", "rolling", "braking")
"""What heats a corner [W], in this order."""
BOOKS = ("work", "road", "air", "stored")
"""Energy of a lap [J]: put in, given to the road and to the air, left in the six nodes."""

REFERENCE_SPEED = 35.7632
"""Speed [m/s] at which heat transfer is stated: 80 mph."""
STILL_AIR = 0.15
"""Share of that transfer to air that is left at a standstill (common practice, no source)."""
STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m^2 K^4)] (CODATA 2018)."""
GRIP_FLOOR = 0.70
"""Grip, against the best, that no temperature takes away (common practice, no source)."""
SCUFFED_IN = 600.0
"""Distance [m] over which all but 37 % of a new tire's slip of its first laps is gone (from memory)."""
STRETCHED_IN = 5000.0
"""Distance [m] over which all but 37 % of the stretch has come (common practice, no source)."""
SERIES_ERROR = 1e-10
"""Where the series of a step is cut, as a share of the step's first term."""

_HEAT: list[tuple[str, tuple[int, ...], str]] = [
    ("capacity", (6,), "of each node [J/K]"),
    ("link", (5,), "between each node and the next [W/K]"),
    ("air", (6,), "from each node to the air at REFERENCE_SPEED [W/K]"),
    ("road", (), "from tread to road at REFERENCE_SPEED [W/K]"),
    ("radiating", (), "emissivity times area of the disc [m^2]"),
    ("sliding_share", (), "share of the sliding work that heats the tread; the road takes the rest"),
    ("carcass_share", (), "share of the rolling loss that heats the carcass; the tread takes the rest"),
    ("best", (), "tread temperature of the best grip [K]"),
    ("wear", (), "tread lost per sliding work at the best temperature [m/J]"),
    ("wear_heat", (), "rise that multiplies wear and hardening by e [K]"),
]
HEAT = np.dtype([(name, np.float64, shape) for name, shape, _ in _HEAT], align=True)
"""One corner: its tire, rim and brake as six bodies that exchange heat."""


@inlined
def in_the_wind(speed: float) -> float:
    """Transfer to air against that at REFERENCE_SPEED: (V / V0)^0.7, turbulent, with a floor at rest."""
    return float(max(speed / REFERENCE_SPEED, 0.0) ** 0.7 * (1.0 - STILL_AIR) + STILL_AIR)


@inlined
def on_the_road(speed: float) -> float:
    """Transfer to the road against that at REFERENCE_SPEED: sqrt(V / V0).

    Each bit of tread touches for a time that goes with 1 / V, and two half-spaces in touch for t exchange
    heat as sqrt(t) (Carslaw & Jaeger, Conduction of Heat in Solids, from memory).
    """
    return math.sqrt(max(speed / REFERENCE_SPEED, 0.0))


@inlined
def radiated(disc: float, air: float, radiating: float) -> float:
    """Conductance of radiation [W/K]: eps A sigma (T^2 + Ta^2)(T + Ta), about the disc's temperature [K]."""
    return radiating * STEFAN_BOLTZMANN * (disc * disc + air * air) * (disc + air)


@inlined
def net_flow(temperature: Array, link: Array, loss: Array, flow: Array) -> None:
    """Heat that leaves each node with its temperature, to its neighbors and outward, negative: [W]."""
    for i in range(6):
        flow[i] = -loss[i] * temperature[i]
    for i in range(5):
        passed = link[i] * (temperature[i] - temperature[i + 1])
        flow[i] -= passed
        flow[i + 1] += passed


@inlined
def warm(
    temperature: Array, held: Array, at: Record, loss: Array, gain: Array, step: float, work: Array
) -> None:
    """Carry six temperatures [K] over a step [s] of constant heat, in place; `held` takes their integrals.

    C T' = gain - loss T + exchange. The exact solution is the series of exp(A h), h cut so that |A| h <= 1;
    its integral is cut one term earlier, so that the energy of the step closes to rounding. `work` is
    (2, 6) of scratch.
    """
    fastest = 0.0
    for i in range(6):
        beside = loss[i] + (at.link[i] if i < 5 else 0.0) + (at.link[i - 1] if i > 0 else 0.0)
        fastest = max(fastest, 2.0 * beside / at.capacity[i])
    parts = max(1, math.ceil(fastest * step))
    h = step / parts
    terms, error = 1, fastest * h
    while error > SERIES_ERROR:
        terms += 1
        error *= fastest * h / terms
    term, flow = work[0], work[1]
    held[:] = 0.0
    for _ in range(parts):
        net_flow(temperature, at.link, loss, flow)
        for i in range(6):
            term[i] = h * (gain[i] + flow[i]) / at.capacity[i]
            held[i] += h * temperature[i]
            temperature[i] += term[i]
        for k in range(2, terms + 1):
            for i in range(6):
                held[i] += h * term[i] / k
            net_flow(term, at.link, loss, flow)
            for i in range(6):
                term[i] = h / k * flow[i] / at.capacity[i]
                temperature[i] += term[i]


@inlined
def exchange(
    at: Record, disc: float, air: float, road: float, speed: float, loss: Array, gain: Array
) -> float:
    """Fill what the six nodes lose per kelvin [W/K] and gain from air and road [W]; the tread's share to the
    road [W/K] comes back.
    """
    wind, touch = in_the_wind(speed), float(at.road * on_the_road(speed))
    for n in range(6):
        loss[n] = at.air[n] * wind
    loss[4] += radiated(disc, air, at.radiating)
    for n in range(6):
        gain[n] = loss[n] * air
    loss[0] += touch
    gain[0] += touch * road
    return touch


@compiled
def heat_lap(
    heat: Record,
    air: float,
    road: float,
    step: Array,
    speed: Array,
    work: Array,
    temperature: Array,
    used: Array,
    tread: Array,
    mean: Array,
    books: Array,
) -> None:
    """Heat of four corners along a lap, station by station, exact for heat that is constant in each step.

    In: `heat` (4,) HEAT; air and road temperature [K]; `step` (N,) [s] from each station to the next, above
    0; `speed` (N,) [m/s] there; `work` (N, 4, 3) [W] in the order of WORK. In place: `temperature` (4, 6)
    [K]; `used` (4, 2), tread worn off [m] and time at heat [s], counted at the best temperature. Out:
    `tread` (N, 4) [K] on arriving at each station, `mean` (4, 6) [K] over the lap's time, `books` (4, 4)
    [J] in the order of BOOKS. Never raises; sizes that do not fit are not noticed.
    """
    held, loss, gain, scratch = np.zeros(6), np.zeros(6), np.zeros(6), np.zeros((2, 6))
    start = temperature.copy()
    books[:] = 0.0
    mean[:] = 0.0
    lap = step.sum()
    for i in range(4):
        at, now = heat[i], temperature[i]
        for k in range(len(step)):
            h, sliding, rolling, braking = step[k], work[k, i, 0], work[k, i, 1], work[k, i, 2]
            tread[k, i] = now[0]
            touch = exchange(at, now[4], air, road, speed[k], loss, gain)
            gain[0] += at.sliding_share * sliding + (1.0 - at.carcass_share) * rolling
            gain[1] += at.carcass_share * rolling
            gain[4] += braking
            warm(now, held, at, loss, gain, h, scratch)
            books[i, 0] += (sliding + rolling + braking) * h
            books[i, 1] += touch * (held[0] - road * h) + (1.0 - at.sliding_share) * sliding * h
            books[i, 2] -= touch * (held[0] - air * h)
            for n in range(6):
                books[i, 2] += loss[n] * (held[n] - air * h)
                mean[i, n] += held[n] / lap
            ageing = math.exp((held[0] / h - at.best) / at.wear_heat)
            used[i, 0] += at.wear * sliding * h * ageing
            used[i, 1] += h * ageing
        for n in range(6):
            books[i, 3] += at.capacity[n] * (now[n] - start[i, n])


# ---------------- what heats


def sliding_power(corners: Record, speed: Array) -> Array:
    """Power slid away in each contact patch [W]: (Fx s + Fy tan a) V, never negative.

    `corners` is any array of answers (CORNER of the vehicle record), `speed` [m/s] of the road under each
    wheel, one that broadcasts. Exactly what a wheel turns to heat at the road: torque times spin less force
    times speed.
    """
    slid = corners["drive"] * corners["slip"] + corners["side"] * np.tan(corners["slip_angle"])
    return np.asarray(np.maximum(slid, 0.0) * speed)


def rolling_power(load: Array, speed: Array, resistance: Array | float) -> Array:
    """Power that flexing takes from each tire [W]: resistance x load [N] x speed [m/s]."""
    return np.asarray(resistance * load * speed)


def braking_power(demand: Array, speed: Array, *, front: float, engine: float) -> Array:
    """Power of each of the four brakes (N, 4) [W] from the demand (N,) [N], negative when slowing.

    `engine` is the share of that demand the engine takes, `front` the front share of the brakes. Sides are
    taken as alike.
    """
    braked = np.maximum(-demand, 0.0) * (1.0 - engine) * speed
    return np.multiply.outer(braked, 0.5 * np.array([front, front, 1.0 - front, 1.0 - front]))


def fuel_burned(power: Array, step: Array, *, per_energy: float) -> float:
    """Fuel of a lap [kg]: consumption [kg/J] times the work of the crank; a closed throttle burns nothing.

    `power` (N,) of the crank [W], `step` (N,) [s]. Source: the definition (Heywood, Internal Combustion
    Engine Fundamentals, ch. 2, from memory).
    """
    return float(per_energy * (np.maximum(power, 0.0) @ step))


# ---------------- what heat, work and distance do


def grip_of_heat(tread: Array | float, *, best: Array | float, window: Array | float) -> Array:
    """Grip against the best at a tread temperature [K]: 1 - ((T - best) / window)^2, floor GRIP_FLOOR.

    The size of the window is common practice, no source; that grip has a best temperature is in Grosch
    (2008).
    """
    return np.maximum(1.0 - ((np.asarray(tread) - best) / window) ** 2, GRIP_FLOOR)


def left_on(share: Array | float, loss: Array | float) -> Array:
    """Grip left, at least 0, when `share` of a thing has happened that costs `loss` in full."""
    return np.maximum(1.0 - np.asarray(share) * loss, 0.0)


def first_laps(driven: float, loss: Array | float) -> Array:
    """Grip of a new tire against a scuffed one after a distance [m]: 1 - loss exp(-d / SCUFFED_IN)."""
    return 1.0 - np.asarray(loss) * math.exp(-driven / SCUFFED_IN)


def grown(carcass: Array, driven: float, *, cold: float, by_heat: Array, by_stretch: Array) -> Array:
    """Roll-out gained beyond that of pressure [m]: by heat [m/K] above `cold` [K], and by stretch [m].

    The stretch stays and saturates with the distance `driven` [m]: 1 - exp(-d / STRETCHED_IN). Common
    practice, no source: roll-out is data, and should be measured cold and hot.
    """
    return by_heat * (carcass - cold) + by_stretch * -math.expm1(-driven / STRETCHED_IN)


# ---------------- where it ends


def tread_conductance(at: Record, speed: float) -> float:
    """Steady heat [W] that must enter the tread for each kelvin it stays above its surroundings [W/K].

    A chain of six nodes folded up from its far end: each passes on link H / (link + H). `at` is one HEAT
    record, `speed` [m/s] a steady one. Radiation of the disc is left out.
    """
    outward = at["air"] * in_the_wind(speed)
    beyond = 0.0
    for n in range(5, 0, -1):
        beyond += outward[n]
        link = at["link"][n - 1]
        beyond = link * beyond / (link + beyond) if link > 0.0 else 0.0
    return float(beyond + outward[0] + at["road"] * on_the_road(speed))


def feedback(
    tread: float, heating: float, *, best: float, window: float, sensitivity: float, conductance: float
) -> float:
    """How far the loop "less grip, more sliding, more heat" has closed: d(heat)/dT over the tread's loss.

    At 1 and above no steady temperature holds and the tread runs away. `heating` [W] reaches the tread at
    temperature `tread` [K]; `sensitivity` is by how many percent it rises for each percent of grip lost at
    the same pace; `conductance` [W/K] as `tread_conductance`. Zero below the best temperature and beneath
    the floor of the grip. The criterion is that of thermal explosion (Semenov 1928, from memory).
    """
    off = (tread - best) / window
    grip = 1.0 - off * off
    if off <= 0.0 or grip < GRIP_FLOOR:
        return 0.0
    return sensitivity * heating * (2.0 * off / window) / grip / conductance
