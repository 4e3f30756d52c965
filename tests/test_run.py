"""A run of many laps: its books of energy, heat, fuel, pressure and size by other routes, and what a racer
does to a run: yellows, stops, a cooling evening, a cell that runs dry.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, LIBRARY
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp, trapezoid
from scipy.interpolate import CubicSpline
from stint import PSI
from test_speed import DEMO

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.documents.track import Later
from ovalwright.mechanics import heat
from ovalwright.mechanics.handbook import ATMOSPHERE
from ovalwright.pack import build, with_fuel
from ovalwright.pack.heat import warming
from ovalwright.pack.road import density
from ovalwright.pack.track import ribbon_of
from ovalwright.study.lap import Driver, lap
from ovalwright.study.run import UNSETTLED, YELLOW_PACE, NoFuel, Run, Stop, Stretch, run
from ovalwright.units import KINDS, read_quantity
from ovalwright.vehicle.record import CORNERS

DAY = Conditions()
RF = 1
INSENSITIVE = {
    "window": 1e6, "softening": 0.0, "easing": 0.0, "unscuffed_loss": 0.0, "cycle_loss": 0.0, "hot_loss": 0.0,
    "worn_loss": 0.0, "wear": 0.0, "heat_growth": 0.0, "stretch": 0.0,
}  # fmt: skip
"""Heat, wear and age that do nothing."""
STIFF = {"growth": 0.0, "rate_gain": 0.0}
"""A tire that pressure neither grows nor stiffens."""


@pytest.fixture(scope="module")
def assembly():
    return assemble(DEMO / "setup_conventional.toml")


@pytest.fixture(scope="module")
def car(assembly):
    return with_fuel(build(assembly), share=0.8)


@pytest.fixture(scope="module")
def warmer(car):
    values, setup, _ = car.values()
    return warming(values, setup)


@pytest.fixture(scope="module")
def line():
    return ribbon_of(load_track(DEMO / "track_three_eighths.toml")).line(0.0)


def still_on_tires(assembly, values: dict[str, float]):
    """The car on tires and brakes that heat, wear and age do not change, some other numbers changed."""
    drawn = {f"setup.{c}.tire.heat.{name}": value for c in CORNERS for name, value in INSENSITIVE.items()}
    drawn |= {f"setup.{c}.tire.{name}": value for c in CORNERS for name, value in STIFF.items()}
    pads = range(1, len(assembly.car.brakes.pads) + 1)
    drawn |= {f"car.brakes.pads[{i}].friction": 0.45 for i in pads}
    return with_fuel(build(assembly, values=drawn | values), share=0.8)


@dataclass
class Heated:
    """One call of the march of heat: what went in and what came out."""

    air: float
    road: float
    step: Any
    speed: Any
    work: Any
    before: Any
    worn: Any
    after: Any
    books: Any


@pytest.fixture(scope="module")
def watched(car, line):
    """A run of four laps, every one solved, and the heat of each."""
    calls: list[tuple[Any, Heated]] = []
    march = heat.heat_lap

    def watch(bodies, air, road, step, speed, work, temperature, used, tread, mean, books):
        before, worn = temperature.copy(), used[:, 0].copy()
        march(bodies, air, road, step, speed, work, temperature, used, tread, mean, books)
        after = temperature.copy()
        calls.append(
            (temperature, Heated(air, road, step, speed, work.copy(), before, worn, after, books.copy()))
        )

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(heat, "heat_lap", watch)
        driven = run(car, line, DAY, 4, pace_laps=3, each_lap=True)
    of_the_run = [call for held, call in calls if held is calls[0][0]]
    assert len(of_the_run) == 7
    return driven, of_the_run[3:]


def closed(values):
    """Values around a lap with the first one again at the end."""
    return np.r_[values, values[:1]]


# ---------------- energy


def test_heat_put_in_is_the_work_of_the_corners(check, watched, line) -> None:
    driven, calls = watched
    booked, slid = np.array([one.books[:, 0].sum() for one in calls]), []
    around = np.r_[line.distance, line.length]
    for one in driven.laps:
        c = one.solved.corners
        rolling = 0.018 * np.exp(-0.0055 * 1.8 * (one.nodes[:, heat.CARCASS] - 333.15))
        lost = c["drive"] * c["slip"] + c["side"] * np.tan(c["slip_angle"]) + rolling * c["load"]
        slid.append(trapezoid(closed(lost.sum(axis=1)), around))
    braked = np.array([(call.work[:, :, 2].sum(axis=1) * call.step).sum() for call in calls])
    check(
        booked - braked, slid, rel=0.01, unit="J",
        of="heat of sliding and rolling over a lap against force x slip + rolling x load along the road",
        source="trapezoidal rule over distance, SciPy", kind=LIBRARY, area="run",
    )  # fmt: skip
    check(
        [one.books[:, 0].sum() for one in calls], [one.books[:, 1:].sum() for one in calls], rel=1e-9,
        unit="J", of="heat put in against that to road and air and stored, four laps",
        source="conservation of energy", kind=DERIVED, area="run",
    )  # fmt: skip


def test_a_lap_slides_away_what_the_engine_gives_and_the_air_and_rolling_leave(check, car) -> None:
    fine = ribbon_of(load_track(DEMO / "track_three_eighths.toml")).line(0.0, spacing=0.5)
    found = lap(car, fine, DAY)
    c, speed, record = found.corners, found.speed, car.record
    moving = sum(float(np.sum(record[n])) for n in ("front_mass", "rear_mass", "unsprung_mass", "axle_mass"))
    mass = moving + float(record["fuel_mass"])
    force = (
        found.demand * found._pull_speed / speed
        - record["tire"]["rolling_resistance"][0] * c["load"].sum(axis=1)
        - 0.5 * density(DAY) * record["drag_area"] * speed**2
        - mass * found.along
    )
    slid = (c["drive"] * c["slip"] + c["side"] * np.tan(c["slip_angle"])).sum(axis=1)
    around = np.r_[fine.distance, fine.length]
    check(
        trapezoid(closed(slid), around), trapezoid(closed(force), around), rel=0.05, unit="J",
        of="work slid away in a lap: drive less rolling, air and speed gained",
        source="energy of a closed lap; all brakes taken at the speed of the rear axle",
        kind=DERIVED, area="run",
    )  # fmt: skip


def test_heat_of_a_lap_against_a_stiff_solver(check, watched, warmer) -> None:
    _, calls = watched
    call, body = calls[-1], warmer.bodies[RF]
    time = np.r_[0.0, np.cumsum(call.step)]
    flow = np.zeros((6, 6))
    for i, link in enumerate(body["link"]):
        flow[i, i] -= link
        flow[i + 1, i + 1] -= link
        flow[i, i + 1] += link
        flow[i + 1, i] += link

    def slopes(t, kelvin):
        k = min(int(np.searchsorted(time, t, side="right")) - 1, len(call.step) - 1)
        relative = call.speed[k] / (80 * 0.44704)
        wind, touch = 0.15 + 0.85 * relative**0.7, body["road"] * np.sqrt(relative)
        slide, roll, brake = call.work[k, RF]
        into = np.zeros(6)
        into[0] = 0.5 * slide + 0.4 * roll + touch * (call.road - kelvin[0])
        into[1], into[4] = 0.6 * roll, brake - 0.06 * 5.670374419e-8 * (kelvin[4] ** 4 - call.air**4)
        return (flow @ kelvin + into + wind * body["air"] * (call.air - kelvin)) / body["capacity"]

    found = solve_ivp(
        slopes, (0.0, time[-1]), call.before[RF], method="Radau", max_step=0.1, rtol=1e-6, atol=1e-3
    )
    check(
        call.after[RF], found.y[:, -1], abs=0.1, unit="K",
        of="six nodes of RF after a lap of the run, same work", source="SciPy solve_ivp, Radau",
        kind=LIBRARY, area="run",
    )  # fmt: skip


# ---------------- nothing but fuel


def test_tires_that_nothing_changes_make_every_lap_alike(check, assembly, line) -> None:
    still = still_on_tires(assembly, {})
    alike = run(still_on_tires(assembly, {"car.engine.fuel_rate": 0.0}), line, DAY, 5, each_lap=True)
    check(
        alike.times, np.full(5, alike.times[0]), abs=2e-4, unit="s",
        of="five laps of a car that burns nothing, on tires that nothing changes",
        source="nothing changes, so the lap does not", kind=DERIVED, area="run",
    )  # fmt: skip
    burning = run(still, line, DAY, 9, each_lap=True)
    ends = [lap(with_fuel(still, burning.laps[i].fuel), line, DAY) for i in (0, 4, 8)]
    weight = CubicSpline([burning.laps[i].fuel for i in (8, 4, 0)], [one.time for one in ends[::-1]])
    gained = burning.times - burning.times[0]
    check(
        gained, [float(weight(one.fuel) - weight(burning.laps[0].fuel)) for one in burning.laps], abs=2e-3,
        unit="s", of="what nine laps of fuel burned off are worth, on such tires",
        source="spline through three single laps at the run's own fuel, SciPy", kind=LIBRARY, area="run",
    )  # fmt: skip
    assert gained[-1] < -0.002


# ---------------- fuel


def test_fuel_of_a_lap_is_the_work_of_the_crank(check, assembly, line) -> None:
    still = still_on_tires(assembly, {})
    fine = ribbon_of(load_track(DEMO / "track_three_eighths.toml")).line(0.0, spacing=0.5)
    driven, one = run(still, line, DAY, 2, pace_laps=0), lap(still, fine, DAY)
    radius = float(one.packed.record["tire"]["free_radius"][3])
    torque = np.maximum(one.demand, 0.0) * radius / one.engine.gear / one.engine.efficiency
    work = trapezoid(closed(torque * one.engine_speed), np.r_[one.elapsed, one.time])
    burned = -float(np.diff(driven.of("fuel"))[0])
    check(
        burned, still.values()[0].engine.fuel_rate * work, rel=0.01, unit="kg",
        of="fuel of a lap: consumption x torque x speed of the crank, on stations six times as close",
        source="trapezoidal rule, SciPy", kind=LIBRARY, area="run",
    )  # fmt: skip
    check.between(
        burned / 0.45359237, 0.2, 0.8, unit="lb", of="fuel of a 20 s lap on the three eighths",
        source="gasoline stock cars burn about half a pound a lap of a short oval", kind=COMMON_PRACTICE,
        area="run",
    )  # fmt: skip


def test_a_cell_that_runs_dry_is_named_with_its_lap(car, line) -> None:
    burn = -float(np.diff(run(car, line, DAY, 2, pace_laps=0).of("fuel"))[0])
    with pytest.raises(NoFuel, match="runs dry on lap 3"):
        run(with_fuel(car, 2.5 * burn), line, DAY, 4, pace_laps=0)
    filled = (Stretch(2), Stretch(2, stop=Stop(fuel=10 * burn)))
    assert len(run(with_fuel(car, 2.5 * burn), line, DAY, filled, pace_laps=0).laps) == 4


# ---------------- pressure and size


def test_pressures_follow_the_gas_law(check, watched, car) -> None:
    driven, calls = watched
    setup = car.values()[1]
    cold = np.array([getattr(setup, corner).tire.cold for corner in CORNERS])
    air = ATMOSPHERE * (1 - 0.0065 * DAY.altitude.si / 288.15) ** 5.25588
    gas = np.array([call.before[:, heat.GAS] for call in calls])
    check(
        driven.of("pressure") / PSI, ((cold + air) * gas / DAY.air.si - air) / PSI, abs=0.02, unit="psi",
        of="hot pressures of four laps from the gas temperature at their start",
        source="gas law by hand, air of the standard atmosphere at the altitude", kind=DERIVED, area="run",
    )  # fmt: skip


def test_stagger_drifts_as_the_tires_grow(check, watched, car, line) -> None:
    driven, calls = watched
    setup = car.values()[1]
    first, last = driven.laps[0], driven.laps[-1]

    def gained(corner: str, i: int) -> float:
        tire = getattr(setup, corner).tire
        by_pressure = tire.growth * (last.pressure[i] - first.pressure[i])
        by_heat = tire.heat.heat_growth * (
            calls[-1].before[i, heat.CARCASS] - calls[0].before[i, heat.CARCASS]
        )
        driven_before = np.array([3, 6]) * line.length
        by_stretch = tire.heat.stretch * (np.diff(-np.exp(-driven_before / 5000.0))[0])
        by_wear = -2.0 * np.pi * (calls[-1].worn[i] - calls[0].worn[i])
        return by_pressure + by_heat + by_stretch + by_wear

    check(
        (last.stagger - first.stagger) / 0.0254, (gained("RR", 3) - gained("LR", 2)) / 0.0254, rel=1e-6,
        unit="in", of="stagger gained from lap 1 to lap 4",
        source="growth by pressure, heat, stretch and wear of RR less LR by hand", kind=DERIVED, area="run",
    )  # fmt: skip
    long = run(car, line, DAY, 20)
    check.fact(
        all(long.laps[-1].pressure[i] - long.laps[0].pressure[i] > 0 for i in range(4))
        and long.laps[-1].pressure[RF] - long.laps[0].pressure[RF]
        > long.laps[-1].pressure[0] - long.laps[0].pressure[0]
        and long.laps[-1].stagger > long.laps[0].stagger,
        of="the right side gains more pressure than the left, and stagger grows over a run",
        source="trade", kind=COMMON_PRACTICE, area="run",
    )  # fmt: skip


# ---------------- which laps are solved


def apart(car, line, plan, driver=None, **kwargs) -> float:
    """The worst difference of a lap of a run [s] against a run with every lap solved."""
    who = driver or Driver()
    every, some = (run(car, line, DAY, plan, who, each_lap=each, **kwargs) for each in (True, False))
    assert abs(every.total - some.total) < 0.002 * every.total
    return float(np.abs(every.times - some.times).max())


@pytest.mark.parametrize("grip", [1.0, 1.6])
def test_laps_between_solved_ones_lie_where_they_would(car, line, grip) -> None:
    assert apart(car, line, 12, Driver(grip=grip)) < 0.02


def test_a_run_on_much_grip_does_not_swing_from_lap_to_lap(car, line) -> None:
    times = run(car, line, DAY, 14, Driver(grip=1.8), each_lap=True).times[4:]
    steps = np.diff(times)
    assert (steps > -0.03).all()
    assert np.abs(np.diff(steps)).max() < 0.1


@pytest.mark.proof
@pytest.mark.parametrize(
    ("track", "grip"),
    [
        *(("three_eighths", grip) for grip in (0.9, 1.0, 1.3, 1.5, 1.7)),
        *(("flat_quarter", grip) for grip in (0.9, 1.0, 1.3)),
        *((track, grip) for track in ("steep_half", "bent_five_eighths") for grip in (0.9, 1.3)),
    ],
)
def test_laps_between_solved_ones_on_other_tracks(car, track, grip) -> None:
    there, who = ribbon_of(load_track(DEMO / f"track_{track}.toml")).line(0.0), Driver(grip=grip)
    restart = (Stretch(12), Stretch(4, "yellow"), Stretch(20))
    worst = [apart(car, there, 40, who), apart(car, there, restart, who)]
    print(track, grip, np.round(worst, 4))
    assert max(worst) < (0.025 if grip > 1.5 else 0.02)


# ---------------- yellows, stops, the evening


@pytest.fixture(scope="module")
def broken(car, line) -> Run:
    """Four green laps, three under yellow, then fresh right side tires."""
    fresh = Stop(tires=("RF", "RR"), seconds=40.0)
    return run(car, line, DAY, (Stretch(4), Stretch(3, "yellow"), Stretch(3, stop=fresh)))


def test_yellow_laps_cool_the_tires_and_spare_fuel(check, broken, car, line) -> None:
    fuel, tread = broken.of("fuel"), broken.of("tread")
    assert (np.diff(tread[4:7, RF]) < 0.0).all()
    assert (tread[6] < tread[3]).all()
    burned = -np.diff(fuel)
    share = car.values()[0].engine.yellow_fuel
    check(
        burned[4:6], np.full(2, share * burned[3]), rel=1e-9, unit="kg", of="fuel of a lap under yellow",
        source="share of a green lap, as the documents say", kind=DERIVED, area="run",
    )  # fmt: skip
    check(
        broken.times[4:7], np.full(3, broken.times[3] / YELLOW_PACE), rel=0.02, unit="s",
        of="a lap under yellow at half of the speed", source="length over speed", kind=DERIVED, area="run",
    )  # fmt: skip
    assert list(broken.green) == [True] * 4 + [False] * 3 + [True] * 3
    assert list(broken.numbers) == list(range(1, 11))
    worn, waiting = broken.of("wear"), broken.of("slid")
    assert (np.diff(worn[4:7], axis=0) < 0.2 * np.diff(worn[2:4], axis=0)).all()
    assert (waiting[4:7] < 0.2 * waiting[3]).all()


def test_a_stop_takes_its_time_and_fresh_tires_begin_anew(broken, warmer) -> None:
    before, after = broken.laps[6], broken.laps[7]
    assert after.clock - before.clock == pytest.approx(before.time + 40.0)
    for fresh, kept in ((1, 0), (3, 2)):
        assert after.wear[fresh] < before.wear[fresh]
        assert after.wear[kept] > before.wear[kept]
    cold = warmer.pressure(np.full(4, DAY.air.si), filled_at=DAY.air.si, ambient=ATMOSPHERE)
    assert after.pressure[[1, 3]] == pytest.approx(cold[[1, 3]])
    assert (after.pressure[[0, 2]] > cold[[0, 2]] + 0.1 * PSI).all()


def test_four_new_tires_bring_back_the_first_lap(check, car, line) -> None:
    new = Stop(tires=CORNERS, fuel=float(car.record["fuel_mass"]), seconds=60.0)
    again = run(car, line, DAY, (Stretch(3), Stretch(2, stop=new)), pace_laps=0)
    check(
        again.times[3], again.times[0], abs=0.02, unit="s", of="first lap on four new tires, the cell filled",
        source="the same car as at the start but for its warm brakes", kind=DERIVED, area="run",
    )  # fmt: skip


def test_another_setup_is_bolted_in_at_a_stop(car, line, assembly) -> None:
    rear = assembly.setup.RR
    softer = rear.model_copy(update={"tire": rear.tire.model_copy(update={"cold": _amount("12 psi")})})
    other = replace(assembly, setup=assembly.setup.model_copy(update={"RR": softer}))
    changed = run(car, line, DAY, (Stretch(2), Stretch(2, stop=Stop(setup=other))))
    plain = run(car, line, DAY, (Stretch(2), Stretch(2, stop=Stop())))
    assert changed.times[:2] == pytest.approx(plain.times[:2], abs=1e-9)
    lower = (plain.of("pressure") - changed.of("pressure"))[2:] / PSI
    assert lower[:, 3] == pytest.approx(6.0, abs=0.5)
    assert np.abs(lower[:, :3]).max() < 0.05
    assert changed.laps[2].stagger < plain.laps[2].stagger


def _amount(text: str, kind: str = "pressure"):
    return read_quantity(text, KINDS[kind])


def test_a_run_drifts_with_the_evening(check, assembly, line) -> None:
    still = still_on_tires(assembly, {})
    later = Later(after="60 min", grip="1.06")
    evening = DAY.model_copy(update={"later": (later,)})
    driven = run(still, line, evening, (Stretch(1), Stretch(1, stop=Stop(seconds=1800.0))), pace_laps=0)
    grip = 1.0 + 0.06 * (1800.0 + driven.times[0]) / 3600.0
    alone = lap(
        with_fuel(still, driven.laps[1].fuel),
        line, DAY.model_copy(update={"grip": _amount(f"{grip:.9f}", "factor")}),
    )  # fmt: skip
    check(
        driven.times[1], alone.time, abs=0.003, unit="s",
        of="a lap after half an hour of an evening that gains 6 % of grip in an hour",
        source="single lap on the grip of a straight line through the hour", kind=DERIVED, area="run",
    )  # fmt: skip
    assert driven.times[1] < driven.times[0] - 0.1


# ---------------- whatever is asked


@pytest.mark.parametrize("plan", [0, -3, (), (Stretch(0),), (Stretch(3), Stretch(-1))])
def test_a_plan_without_laps_is_one_sentence(car, line, plan) -> None:
    with pytest.raises(ValueError, match="at least one lap"):
        run(car, line, DAY, plan)


def test_a_run_of_yellow_alone_and_a_stretch_of_none(car, line) -> None:
    behind = run(car, line, DAY, (Stretch(2, "yellow"), Stretch(0), Stretch(1)), pace_laps=0)
    assert list(behind.green) == [False, False, True]
    assert np.isfinite(behind.times).all()


@settings(max_examples=3)
@given(
    grip=st.floats(0.8, 1.3),
    use=st.floats(0.8, 0.98),
    air=st.integers(30, 105),
    fuel=st.floats(0.2, 1.0),
    greens=st.lists(st.integers(1, 2), min_size=1, max_size=2),
    pace=st.integers(0, 2),
)
def test_no_run_ends_in_numbers_that_are_none(car, line, grip, use, air, fuel, greens, pace) -> None:
    day = DAY.model_copy(update={"air": _amount(f"{air} F", "temperature")})
    plan = [s for green in greens for s in (Stretch(green), Stretch(1, "yellow"))]
    driven = run(with_fuel(car, share=fuel), line, day, plan, Driver(use=use, grip=grip), pace_laps=pace)
    for name in ("time", "clock", "fuel", "tread", "carcass", "gas", "disc", "fluid", "pressure", "roll_out",
                 "wear", "grip", "slid", "balance"):  # fmt: skip
        assert np.isfinite(driven.of(name)).all(), name
    assert (driven.times > 0.0).all()
    assert (np.diff(driven.of("wear"), axis=0) >= 0.0).all()
    assert (np.diff(driven.of("fuel")) < 0.0).all()
    assert np.diff(driven.of("clock")) == pytest.approx(driven.times[:-1])
    assert (driven.of("grip") <= 1.0).all()
    assert driven.notes == ()


def test_a_lap_whose_heat_and_grip_do_not_agree_is_said_to_be_rough(car, line, monkeypatch):
    assert not any(note.startswith(UNSETTLED) for note in run(car, line, DAY, 2).notes)
    monkeypatch.setattr("ovalwright.study.run.MOST_LOOKS", 0)
    rough = [note for note in run(car, line, DAY, 2).notes if note.startswith(UNSETTLED)]
    assert len(rough) == 1 and "on lap 1" in rough[0]
