"""Two setups against each other over a run: a setup against itself, common draws, and when one overtakes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from evidence import DERIVED
from test_speed import DEMO

from ovalwright.documents import WORKED_OUT, Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.track import ribbon_of
from ovalwright.study.against import WIDE, Against, against, drivers, only_pressures
from ovalwright.study.lap import BRAKE_BAND, MOST_USED, THROTTLE_BAND, USE_BAND, Driver
from ovalwright.study.run import LOOSE, run
from ovalwright.units import KINDS, read_quantity

DAY = Conditions()
LAPS, DRAWS = 6, 8
FIGURES = ("best lap", "laps 3 to 7", "total")
"""What six laps have."""


@pytest.fixture(scope="module")
def assembly():
    return assemble(DEMO / "setup_conventional.toml")


@pytest.fixture(scope="module")
def car(assembly):
    return with_fuel(build(assembly), share=0.8)


@pytest.fixture(scope="module")
def track():
    return load_track(DEMO / "track_three_eighths.toml")


@pytest.fixture(scope="module")
def line(track):
    """A line with few stations: what is compared is two runs, whatever their line."""
    return ribbon_of(track).line(0.0, spacing=20.0)


def changed(assembly, corner: str, part: str, key: str, text: str, kind: str):
    """The assembly with one number of its setup changed."""
    at = getattr(assembly.setup, corner)
    inner = getattr(at, part).model_copy(update={key: read_quantity(text, KINDS[kind])})
    setup = assembly.setup.model_copy(update={corner: at.model_copy(update={part: inner})})
    return replace(assembly, setup=setup)


@pytest.fixture(scope="module")
def softer(assembly):
    """Less air in RR."""
    return changed(assembly, "RR", "tire", "cold", "14 psi", "pressure")


@pytest.fixture(scope="module")
def told(car, softer, line, track) -> Against:
    return against(car, softer, line, track, DAY, LAPS, draws=DRAWS)


def test_a_setup_against_itself_is_no_different(car, assembly, line, track) -> None:
    same = against(car, assembly, line, track, DAY, LAPS, draws=DRAWS)
    for name in FIGURES:
        a, b, difference = same.figures[name]
        assert a.value == pytest.approx(b.value, abs=1e-6)
        assert a.high > a.low
        assert (difference.value, difference.low, difference.high) == pytest.approx((0.0, 0.0, 0.0), abs=2e-3)
    assert np.isnan(same.figures["laps 20 to 25"][0].value)
    assert (same.crossover.quicker, same.crossover.ahead, same.gets_ahead) == (None, None, 0.0)
    assert same.laps_to_see is None
    assert not same.own_sheet
    assert same.lap_bands == pytest.approx(np.zeros((LAPS, 2)), abs=2e-3)


def test_a_sheet_that_is_worked_out_was_not_weighed(told) -> None:
    weighed = replace(told, own_sheet=True)
    packed = told.b.packed
    sheet = packed.assembly.sheet.model_copy(update={"scale": WORKED_OUT})
    reckoned = replace(packed, assembly=replace(packed.assembly, sheet=sheet))
    worked_out = replace(weighed, b=replace(told.b, packed=reckoned))
    assert "it was weighed itself" in weighed.b_stands
    assert "worked out" in worked_out.b_stands and "was weighed itself" not in worked_out.b_stands


def test_draws_common_to_both_make_the_difference_surer_than_either(told) -> None:
    assert told.draws == DRAWS
    for name in FIGURES:
        a, b, difference = told.figures[name]
        width = difference.high - difference.low
        assert 0.0 < width < 0.5 * min(a.high - a.low, b.high - b.low)
        assert difference.value == pytest.approx(b.value - a.value)
    less, (low, high) = told.b.times - told.a.times, told.lap_bands.T
    assert ((low < less) & (less < high)).all()
    whole = told.figures["total"][2]
    assert (high - low).sum() >= whole.high - whole.low


def test_figures_are_those_of_two_runs(check, told, car, softer, line) -> None:
    alone = run(car, line, DAY, LAPS)
    check(
        [told.figures[name][0].value for name in FIGURES],
        [alone.times.min(), alone.times[2:].mean(), sum(alone.times.tolist())], rel=1e-9, unit="s",
        of="best lap, mean of laps 3 to 6, total of A", source="the laps of a run of A alone, by hand",
        kind=DERIVED, area="run",
    )  # fmt: skip
    assert told.b.packed.assembly.setup == softer.setup
    lower = told.a.laps[0].pressure[3] - told.b.laps[0].pressure[3]
    assert lower == pytest.approx(4.0 * 6894.757, rel=0.1)


def test_when_one_overtakes_the_other(check, told) -> None:
    gains, quicker, ahead, lead = told.a.times - told.b.times, None, None, 0.0
    for lap, gain in enumerate(gains, start=1):
        lead += gain
        quicker = (quicker or lap) if gain > 1e-4 else None
        ahead = (ahead or lap) if lead > 1e-4 else None
    check(
        told.crossover.lead, lead, rel=1e-9, unit="s", of="lead of B after six laps",
        source="laps added up one by one", kind=DERIVED, area="run",
    )  # fmt: skip
    assert (told.crossover.quicker, told.crossover.ahead) == (quicker, ahead)
    assert told.figures["total"][2].value == pytest.approx(-lead)
    assert 0.0 <= told.gets_ahead <= 1.0


@pytest.mark.proof
def test_a_matched_lap_settles_the_grip(told, car, softer, line, track) -> None:
    settled = against(car, softer, line, track, DAY, LAPS, Driver(grip=1.0001), draws=DRAWS)
    free, held = (one.figures["total"][0] for one in (told, settled))
    assert held.high - held.low < 0.8 * (free.high - free.low)


# ---------------- impound


def test_only_pressures_may_differ(assembly, softer) -> None:
    assert only_pressures(assembly, assembly) == ()
    assert only_pressures(assembly, softer) == ()
    stiffer = changed(softer, "LR", "coil", "rate", "250 lb/in", "spring_rate")
    assert only_pressures(assembly, stiffer) == ("setup.LR.coil.rate",)
    bare = replace(assembly, setup=assembly.setup.model_copy(update={"bar": None}))
    assert all(path.startswith("setup.bar") for path in only_pressures(assembly, bare))
    assert only_pressures(assembly, bare) == only_pressures(bare, assembly) != ()


# ---------------- the driver


def test_drivers_are_the_same_every_time_and_spread_as_stated() -> None:
    again, other = drivers(Driver(), 4), drivers(Driver(), 4, seed=2)
    assert drivers(Driver(), 4) == again != other
    many = drivers(Driver(use=0.8, brake=0.6, throttle=0.7, grip=1.1), 4000)
    for name, at, band in (
        ("use", 0.8, USE_BAND),
        ("brake", 0.6, BRAKE_BAND),
        ("throttle", 0.7, THROTTLE_BAND),
    ):
        values = np.array([getattr(one, name) for one in many])
        assert np.mean(np.abs(values - at) < band) == pytest.approx(0.95, abs=0.015)
    assert {one.grip for one in many} == {1.1}
    edge = drivers(Driver(use=MOST_USED, brake=1.0, throttle=1.0), 200)
    assert max(one.use for one in edge) <= MOST_USED


def test_draws_solved_loosely_on_wide_stations_tell_the_same_differences(track) -> None:
    close = ribbon_of(track).line(0.0)
    wide = close.at_spacing(WIDE)
    cars = [
        with_fuel(build(assemble(DEMO / f"setup_{name}.toml")), share=0.8)
        for name in ("conventional", "giant_bar")
    ]
    a, b = (run(car, close, DAY, 26).times for car in cars)
    wide_a, wide_b = (run(car, wide, DAY, 26, care=LOOSE).times for car in cars)
    assert np.abs((b - a) - (wide_b - wide_a)).max() < 0.02
