"""A car's tires and brakes as they warm: grip, size, pressure and bite, against what the trade reads."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib import resources
from types import SimpleNamespace

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, FROM_MEMORY, READ
from scipy.optimize import brentq
from stint import HP, INCH, LB, PSI, Stint, fahrenheit, kelvin

from ovalwright.documents import Assembly, Car, assemble
from ovalwright.mechanics import heat
from ovalwright.mechanics.handbook import ATMOSPHERE, pressure_at, saturation_pressure
from ovalwright.pack.heat import Warming, warming
from ovalwright.pack.tires import set_tire
from ovalwright.pack.values import Values
from ovalwright.vehicle.record import TIRE

BEST = np.array([165.0, 190.0, 165.0, 190.0])
"""Best tread temperatures LF RF LR RR of a typical set [F]."""


@pytest.fixture(scope="module")
def assembly() -> Assembly:
    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        return assemble(folder / "setup_conventional.toml")


@pytest.fixture(scope="module")
def typical(assembly: Assembly) -> Warming:
    return warming(Values(assembly.car, "car", {}), Values(assembly.setup, "setup", {}))


# ---------------- pressure and size


def test_water_left_in_a_tire_is_not_in_it(check) -> None:
    cold, hot = kelvin(70), kelvin(200)
    dry = pressure_at(20 * PSI, filled_at=cold, now_at=hot)
    air = 20 * PSI + ATMOSPHERE - saturation_pressure(cold)
    wet = air * hot / cold + saturation_pressure(hot) - ATMOSPHERE
    gains = [dry / PSI - 20, wet / PSI - 20]
    check(
        gains,
        [8.51563, 19.8],
        abs=0.05,
        unit="psi",
        of="gain of 20 psi from 70 to 200 F, dry as computed here and with liquid water inside",
        source="gas law and the Magnus formula by hand",
        kind=DERIVED,
        area="tire",
    )
    check(
        saturation_pressure(hot) / PSI,
        11.526,
        rel=0.03,
        unit="psi",
        of="vapor pressure of water at 200 F, beyond the range of the formula",
        source="steam tables (Keenan & Keyes)",
        kind=FROM_MEMORY,
        area="tire",
    )


def test_stagger_drifts_as_the_right_gains_more(check) -> None:
    per_psi, roll_out = 0.085 * INCH / PSI, []
    for start, gain in ((85.5, 3.50), (87.5, 7.65)):
        tire = SimpleNamespace(construction="bias", rate_at_zero=5e4, rate_gain=1.0, growth=per_psi, grip=1)
        record = np.zeros(1, TIRE)[0]
        set_tire(record, tire, pressure=gain * PSI, roll_out=start * INCH, read_at=0.0)  # type: ignore[arg-type]
        roll_out.append(2 * math.pi * record["free_radius"] / INCH)
    check(
        roll_out[1] - roll_out[0],
        2.35275,
        abs=1e-9,
        unit="in",
        of="stagger of 2 in at 0.085 in/psi after gains of 7.65 and 3.50 psi",
        source="roll-out per pressure by hand",
        kind=DERIVED,
        area="run",
    )


def test_a_tire_grows_by_heat_and_stretches_once(check, typical: Warming) -> None:
    far = typical.grown(np.full(4, kelvin(200)), 1e9, measured_at=kelvin(80))
    check(
        far / INCH,
        0.002 * 120 + 0.1,
        rel=1e-9,
        unit="in",
        of="growth beyond that of pressure, 120 F warmer and fully stretched",
        source="0.002 in/F and 0.1 in as documented",
        kind=DERIVED,
        area="run",
    )
    cooled = typical.grown(np.full(4, kelvin(80)), 1e9, measured_at=kelvin(80))
    assert cooled / INCH == pytest.approx(0.1)


# ---------------- grip and age


@pytest.mark.parametrize(("off", "lost"), [(30.0, 0.028), (-30.0, 0.028), (60.0, 0.11), (200.0, 0.30)])
def test_grip_away_from_the_best_temperature(check, typical: Warming, off, lost) -> None:
    grip = typical.grip(kelvin(BEST + off), np.zeros((4, 2)), 0.0)
    check(
        1.0 - grip,
        lost,
        abs=0.0015,
        of=f"grip lost {off:+.0f} F from the best tread temperature",
        source="best 190 F on the right and 165 on the left, 3 % at 30 F off, 11 % at 60 F off, never more "
        "than 30 %",
        kind=COMMON_PRACTICE,
        area="tire",
    )


def test_what_a_stint_takes_from_the_grip(check, typical: Warming) -> None:
    best = kelvin(BEST)
    used = np.tile([0.016 * INCH, 640.0], (4, 1))
    check.between(
        float(1 - typical.grip(best, used, 1e5)[1]),
        0.02,
        0.06,
        of="grip lost to age by a 40-lap stint of 16 s laps at working heat",
        source="fall-off of about 0.3 s in a 16 s lap",
        kind=COMMON_PRACTICE,
        area="run",
    )


def test_a_new_tire_comes_in_within_three_laps(check, typical: Warming) -> None:
    new = replace(typical, heat_cycles=np.zeros(4))
    best, unused = kelvin(BEST), np.zeros((4, 2))
    lost = [float(1 - new.grip(best, unused, laps * 600.0)[0]) for laps in (0, 3)]
    source = "new tires lack about 3 % until scuffed, in about 3 laps"
    check(lost[0], 0.03, abs=1e-9, of="grip lost, new", source=source, kind=COMMON_PRACTICE, area="run")
    of = "of the grip lost, left after 3 laps"
    check.between(lost[1] / lost[0], 0, 0.1, of=of, source=source, kind=COMMON_PRACTICE, area="run")
    old = replace(typical, heat_cycles=np.full(4, 11.0))
    aged = float(1 - old.grip(best, unused, 0.0)[0])
    assert aged == pytest.approx(0.04)


# ---------------- bite and fuel


def test_pads_bite_by_temperature(check, typical: Warming) -> None:
    degrees = [100, 300, 600, 900, 1200]
    bite = [typical.bite(np.full(4, kelvin(t)))[0] for t in degrees]
    check(
        bite,
        np.array([0.38, 0.45, 0.50, 0.50, 0.42]) / 0.50,
        abs=1e-9,
        of="bite of race pads at 100, 300, 600, 900, 1,200 F against their best",
        source="shape of race pads: weak cold, fading beyond 900 F",
        kind=COMMON_PRACTICE,
        area="run",
    )
    assert list(typical.boiling(np.array([kelvin(449), kelvin(451), 300.0, 300.0]))) == [
        False,
        True,
        False,
        False,
    ]


@pytest.mark.parametrize("share", [0.45, 0.55])
def test_fuel_of_a_lap(check, typical: Warming, share) -> None:
    lap = heat.fuel_burned(np.array([share * 400 * HP]), np.array([16.0]), per_energy=typical.fuel_rate)
    check.between(
        lap / LB,
        0.36,
        0.60,
        unit="lb",
        of=f"fuel of a 16 s lap at {share:.0%} of 400 hp",
        source="18 gal for 150 laps, about 101 miles, late model (teamlacross, 2008): 0.43 lb per 3/8 mile, "
        "up to 0.73 lb per lap driven",
        kind=READ,
        area="run",
    )


# ---------------- against what the trade reads


def laps_of_a_late_model(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Steps, work and speed of 16 s laps: 189 kJ slid by RF, the others by load; 240 kJ braked per end."""
    step, at = np.full(160, 0.1), np.arange(160) * 0.1 % 8.0
    turn = (at < 4.5)[:, None]
    slid = np.array([75e3, 189e3, 85e3, 150e3]) / 9.0
    load = np.where(turn, [450, 1250, 550, 1150], [800, 600, 800, 600]) * 4.4482216
    speed = np.where(at < 4.5, 33.0, 40.0)
    work = np.zeros((160, 4, 3))
    work[:, :, 0] = np.where(turn, slid, 0.05 * slid)
    work[:, :, 1] = heat.rolling_power(load, speed[:, None], 0.018)
    work[:, :, 2] = (at >= 7.2)[:, None] * np.array([0.33, 0.33, 0.17, 0.17]) * 240e3 / 0.8
    return np.tile(step, count), np.tile(work, (count, 1, 1)), np.tile(speed, count)


def test_forty_laps_end_where_the_trade_reads_them(check, typical: Warming) -> None:
    stint = Stint(typical.bodies.copy(), air=kelvin(81), road=kelvin(104))
    steps, work, speed = laps_of_a_late_model(1)
    by_lap = []
    for _ in range(40):
        stint.drive(steps, work, speed)
        by_lap.append(fahrenheit(stint.mean[:, 0]))
    gain = (typical.pressure(stint.temperature[:, heat.GAS], filled_at=kelvin(81)) - typical.cold) / PSI
    grown = typical.grown(stint.temperature[:, heat.CARCASS], 40 * 600, measured_at=kelvin(81)) / INCH
    bands = {"LF": (140, 180, 2, 6), "RF": (180, 230, 6, 14), "LR": (150, 190, 2, 6), "RR": (180, 230, 6, 14)}
    for i, (corner, (cool, warm, least, most)) in enumerate(bands.items()):
        source = "probe pyrometers and gauges of paved short tracks"
        for ours, low, high, unit, of in (
            (by_lap[-1][i], cool, warm, "F", "tread"),
            (gain[i], least, most, "psi", "pressure gain"),
        ):
            check.between(
                float(ours),
                low,
                high,
                unit=unit,
                of=f"{of} of {corner} after 40 laps",
                source=source,
                kind=COMMON_PRACTICE,
                area="run",
            )
    two_nodes = {
        5: (114, 157, 117, 146),
        10: (121, 175, 125, 162),
        20: (128, 192, 133, 177),
        40: (133, 205, 139, 188),
    }
    for lap, expected in two_nodes.items():
        check(
            by_lap[lap - 1],
            expected,
            abs=25,
            unit="F",
            of=f"tread of four tires after {lap} laps",
            source="a two-node model with constants of the same origin",
            kind=COMMON_PRACTICE,
            area="run",
        )
    check.between(
        float(2.5 * stint.used[1, 0] / INCH),
        0.02,
        0.08,
        unit="in",
        of="tread lost by RF in 100 laps",
        source="0.040 in per 100 laps of 3/8 mile, within a factor of two",
        kind=COMMON_PRACTICE,
        area="run",
    )
    drift = 0.12 * (gain[3] - gain[2]) + grown[3] - grown[2]
    check.between(
        float(drift),
        0.25,
        0.75,
        unit="in",
        of="rear stagger gained by bias tires in 40 laps",
        source="1/4 to 1/2 in and more over a run",
        kind=COMMON_PRACTICE,
        area="run",
    )
    check.between(
        float(fahrenheit(stint.temperature[0, heat.DISC])),
        400,
        1500,
        unit="F",
        of="front disc after 40 laps",
        source="race pads live at about 600 to 1,500 F",
        kind=COMMON_PRACTICE,
        area="run",
    )


def test_a_pyrometer_reads_a_cooled_tread(check, typical: Warming) -> None:
    stint = Stint(typical.bodies.copy(), air=kelvin(81), road=kelvin(104))
    stint.drive(*laps_of_a_late_model(40))
    hot = fahrenheit(stint.temperature[:, 0])
    stint.drive(np.ones(60), np.zeros((60, 3)), 0.0)
    check.between(
        float((hot - fahrenheit(stint.temperature[:, 0]))[1]),
        2,
        40,
        unit="F",
        of="RF tread cooled in the first minute after the stop",
        source="pyrometers are read within about a minute, hardest-working tire first",
        kind=COMMON_PRACTICE,
        area="run",
    )


def test_a_warm_carcass_rolls_as_the_rule_for_road_tires_has_it(check, typical: Warming) -> None:
    """A tire that warms itself by 25 K in air of 25 C, and in air 5 K warmer or cooler."""

    def resistance(air: float) -> float:
        held = brentq(lambda own: own - air - 25.0 * easing(own) / easing(298.15 + 25.0), air, air + 100.0)
        return easing(held)

    def easing(own: float) -> float:
        return float(typical.rolling(np.full(4, own))[0])

    check(
        [resistance(303.15) / resistance(298.15), resistance(293.15) / resistance(298.15)],
        [1.0 / (1.0 + 0.008 * 5.0), 1.0 / (1.0 - 0.008 * 5.0)],
        rel=0.003,
        of="rolling resistance in air of 30 and 20 C against that in air of 25 C",
        source="UN Regulation 117 annex 6, 6.2: Fr25 = Fr (1 + 0.008 (t - 25)) for class C1",
        kind=READ,
        area="run",
    )


# ---------------- documents into bodies


def test_left_out_growth_of_a_radial_is_less(assembly: Assembly) -> None:
    setup = assembly.setup.changed({"RR.tire.construction": "radial", "LR.tire.construction": "radial"})
    setup = setup.changed({"LR.tire.heat.stretch": "0.1 in"})
    made = warming(Values(assembly.car, "car", {}), Values(setup, "setup", {}))
    assert made.stretch / INCH == pytest.approx([0.1, 0.1, 0.1, 0.025])
    assert made.heat_growth[3] == pytest.approx(0.25 * made.heat_growth[0])


def test_drawn_numbers_reach_the_bodies(assembly: Assembly, typical: Warming) -> None:
    drawn = {"setup.RF.tire.heat.wear": 1e-10, "car.brakes.pads[1].friction": 0.3}
    made = warming(Values(assembly.car, "car", drawn), Values(assembly.setup, "setup", drawn))
    assert made.bodies["wear"][1] == 1e-10
    assert made.bodies["wear"][0] == typical.bodies["wear"][0]
    assert made.pads[1, 0] == 0.3


def test_a_disc_of_no_mass_is_computed(assembly: Assembly) -> None:
    car = Car.from_text('[fuel_cell]\ncapacity = "22 gal"\n[brakes]\nrear_disc = "0 lb"\n')
    made = warming(Values(car, "car", {}), Values(assembly.setup, "setup", {}))
    stint = Stint(made.bodies)
    stint.drive(*laps_of_a_late_model(1))
    assert np.all(np.isfinite(stint.temperature))
