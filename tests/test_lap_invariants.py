"""What must hold of any lap: more car is never slower, where the lap begins and which way it turns does not
matter, nor how finely the road is cut, nor from what it was started."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_speed import DEMO
from test_turn import mirrored

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove
from ovalwright.pack.track import ribbon_of
from ovalwright.road import Line
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.settle import settle, standing
from ovalwright.study.lap import NoLap, lap
from ovalwright.units import KINDS, Quantity
from ovalwright.vehicle.record import SIZE

DAY = Conditions()
TRACKS = ("three_eighths", "flat_quarter", "steep_half", "bent_five_eighths")
SETUPS = ("conventional", "soft_front", "giant_bar", "hanging_rr", "no_rr", "light")
few = settings(max_examples=8, derandomize=True, deadline=None)
ROUNDING = 2e-5
"""Share of a lap within which two are the same: brakes meet power anywhere within a step."""


@cache
def car(setup: str = "conventional") -> Packed:
    return with_fuel(build(assemble(DEMO / f"setup_{setup}.toml")), share=0.8)


@cache
def line(track: str = "three_eighths", name: str = "middle", spacing: float = 3.0) -> Line:
    given = load_track(DEMO / f"track_{track}.toml")
    ribbon = ribbon_of(given)
    return ribbon.line(groove(given, ribbon, name), spacing=spacing)


@cache
def time() -> float:
    return lap(car(), line(), DAY).time


def changed(change) -> Packed:
    record, state = car().record.copy(), car().settled.copy()
    change(record)
    assert settle(record, standing(), state, np.zeros((40, SIZE)))[0] == CONVERGED
    return replace(car(), record=record, settled=state)


@few
@given(st.floats(1.0, 1.15))
def test_grip_of_all_tires_is_never_slower(factor):
    def grip(record):
        record["tire"]["grip"] *= factor

    assert lap(changed(grip), line(), DAY).time <= time() * (1.0 + ROUNDING)


@few
@given(st.floats(1.0, 1.6))
def test_power_is_never_slower(factor):
    stronger = car().values()[0].engine.efficiency * factor
    assert lap(replace(car(), drawn={"car.engine.efficiency": stronger}), line(), DAY).time <= time()


MASSES = (
    "weight", "front_mass", "rear_mass", "fuel_mass", "axle_mass", "unsprung_mass", "front_inertia",
    "rear_inertia", "spin_inertia", "driveline_inertia", "coil_rate", "bind_rate", "gas_force", "stop_rate",
    "stop_bound_rate", "droop_rate", "bar_rate", "twist_rate", "ground_rate",
)  # fmt: skip
RATES = ("rate", "side_rate", "nominal_load")


@few
@given(st.floats(0.85, 1.0))
def test_a_lighter_car_of_the_same_manners_is_never_slower(share):
    """Every mass, inertia and rate times a share: it stands and rolls alike, and has the same engine."""

    def lighten(record):
        for name in MASSES:
            record[name] = record[name] * share
        for name in RATES:
            record["tire"][name] *= share

    lighter = changed(lighten)
    assert np.allclose(lighter.settled[3:11], car().settled[3:11], atol=1e-6)
    assert lap(lighter, line(), DAY).time <= time() * (1.0 + ROUNDING)


@few
@given(st.floats(0.0, 110.0))
def test_where_the_lap_begins_does_not_matter(start):
    kind = KINDS["along"]
    given = load_track(DEMO / "track_three_eighths.toml")
    moved = given.model_copy(update={"start_line": Quantity(f"{start} m", kind.to_si(start), 0.0)})
    ribbon = ribbon_of(moved)
    there = lap(car(), ribbon.line(groove(moved, ribbon)), DAY)
    assert there.time == pytest.approx(time(), rel=2e-4)


@pytest.mark.parametrize("name", ["low", "middle", "high"])
def test_right_turns_of_the_mirrored_car_are_the_same_lap(name):
    """Without what spins with the axle, which is counted at the radius of the RR tire, here once the LR."""

    def still(record):
        record["driveline_inertia"] = record["spin_inertia"] = 0.0

    given = load_track(DEMO / "track_three_eighths.toml").model_copy(update={"turns": "right"})
    ribbon, ours = ribbon_of(given), changed(still)
    state = ours.settled * [1, -1, -1, 1, -1, 1, -1, 1, 1, 1, -1, 1, 1, 1]
    state[[7, 8]] = state[[8, 7]]
    twin = replace(ours, record=mirrored(ours.record), settled=state)
    right, left = lap(twin, ribbon.line(groove(given, ribbon, name)), DAY), lap(ours, line(name=name), DAY)
    assert right.time == pytest.approx(left.time, rel=1e-7)
    assert np.allclose(right.corners["load"][:, [1, 0, 3, 2]], left.corners["load"], rtol=1e-5, atol=0.5)
    assert np.allclose(right.lateral, -left.lateral, rtol=1e-5, atol=1e-5)


def cost_of_coarseness(track: str, name: str) -> float:
    here, halved = (lap(car(), line(track, name, spacing), DAY).time for spacing in (3.0, 1.5))
    return abs(here / halved - 1.0)


@pytest.mark.parametrize("track", TRACKS)
def test_half_the_step_is_the_same_lap(track):
    assert cost_of_coarseness(track, "middle") < 5e-4


@pytest.mark.proof
@pytest.mark.parametrize("name", ["low", "high"])
@pytest.mark.parametrize("track", TRACKS)
def test_half_the_step_is_the_same_lap_in_every_groove(track, name):
    assert cost_of_coarseness(track, name) < 5e-4


@pytest.mark.parametrize("track", TRACKS)
def test_where_the_search_starts_does_not_matter(track):
    cold = lap(car(), line(track), DAY)
    other = lap(changed(lambda record: record["tire"]["grip"].__imul__(1.02)), line(track), DAY)
    assert other.time != cold.time
    for like in (cold, other):
        assert lap(car(), line(track), DAY, like=like).time == pytest.approx(cold.time, rel=1e-9)


def laps_or_says_why_not(setup: str, track: str, name: str) -> bool:
    """Whether it laps; where not, the sentence must name the setup and the place."""
    try:
        driven = lap(car(setup), line(track, name), DAY)
    except NoLap as problem:
        assert f"setup_{setup}.toml: the car does not get round: " in str(problem)
        assert " ft from the start line (" in str(problem)
        return False
    assert 10.0 < driven.time < 40.0 and np.isfinite(driven.corners["load"]).all()
    return True


@pytest.mark.parametrize("setup", SETUPS)
def test_any_setup_laps_in_the_middle(setup):
    assert all(laps_or_says_why_not(setup, track, "middle") for track in TRACKS)


@pytest.mark.proof
@pytest.mark.parametrize("setup", SETUPS)
def test_any_setup_laps_or_says_why_not(setup):
    laps = [laps_or_says_why_not(setup, track, name) for track in TRACKS for name in ("low", "high")]
    assert sum(laps) >= 5
