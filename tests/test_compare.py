"""Two setups side by side, as bolted in and re-set."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE

import ovalwright
from ovalwright.documents import MIDDLE, Assembly, assemble, load_conditions, load_track
from ovalwright.pack import Packed, build
from ovalwright.study.adjustments import RATE, put, stepped
from ovalwright.study.bands import Band
from ovalwright.study.compare import compare, reset_applies, verdict_of
from ovalwright.study.reading import NUMBERS, UNDER_THE_LIMIT
from ovalwright.units import INCH

DEMO = Path(ovalwright.__file__).parent / "demo"
TRACK = load_track(DEMO / "track_three_eighths.toml")
CONDITIONS = load_conditions(DEMO / "conditions_evening.toml")


@pytest.fixture(scope="module")
def assembly() -> Assembly:
    return assemble(DEMO / "setup_conventional.toml")


@pytest.fixture(scope="module")
def base(assembly: Assembly) -> Packed:
    return build(assembly)


def stiffer(assembly: Assembly, corner: str, by: float) -> Assembly:
    """The assembly with a coil of another rate [lb/in more], on the same collar."""
    coil = getattr(assembly.setup, corner).coil
    rate = stepped(coil.rate, by * RATE, "spring_rate")
    return put(assembly, {f"{corner}.coil": coil.model_copy(update={"spring": None, "rate": rate})})


UN_RESET = {
    "LR": (25.0, 1.0, 2.0),
    "RR": (25.0, -0.9, -0.2),
    "RF": (50.0, 0.2, 1.2),
    "LF": (50.0, -1.6, -0.3),
}
"""Coil stiffened by so many lb/in: range of the change of static cross [%] that fitting it makes."""


@pytest.mark.parametrize("corner", UN_RESET)
def test_an_un_reset_spring_moves_static_cross_and_a_re_set_one_does_not(
    check, base: Packed, assembly: Assembly, corner: str
) -> None:
    by, low, high = UN_RESET[corner]
    told = compare(base, stiffer(assembly, corner, by), TRACK, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,))
    source = "trade charts of spring swaps at the same adjuster"
    check.between(
        100.0 * (told.bolted_scales.cross - told.base_scales.cross),
        low,
        high,
        unit="%",
        of=f"static cross from a {corner} coil {by:.0f} lb/in stiffer at the same collar",
        source=source,
        kind=COMMON_PRACTICE,
        area="settle",
    )
    assert told.reset_scales is not None
    check(
        ours=100.0 * (told.reset_scales.cross - told.base_scales.cross),
        expected=0.0,
        abs=1e-6,
        unit="%",
        of=f"static cross from the same {corner} coil, car re-set to heights and cross",
        source=source,
        kind=COMMON_PRACTICE,
        area="settle",
    )
    assert told.reset_scales.heights[:3] == pytest.approx(told.base_scales.heights[:3], abs=1e-7)


def test_the_same_setup_makes_no_difference(base: Packed, assembly: Assembly) -> None:
    told = compare(base, assembly, TRACK, CONDITIONS)
    for row in told.rows:
        for change in (row.bolted_change, row.reset_change):
            assert change is not None
            values = np.array([change.numbers[name].value for name in NUMBERS if "load" in name])
            assert np.abs(values).max() < 1e-2
            assert change.verdict == "too close to call"


def test_all_stand_at_one_speed_two_percent_under_the_lowest_limit(base: Packed, assembly: Assembly) -> None:
    told = compare(base, stiffer(assembly, "RR", 60.0), TRACK, CONDITIONS)
    assert [row.station for row in told.rows] == ["entry", "middle", "exit"] * 2
    for row in told.rows:
        limits = [reading.limit for reading in (row.base, row.bolted, row.reset) if reading]
        assert len(limits) == 3
        assert row.speed == pytest.approx(UNDER_THE_LIMIT * min(limits))
    asked = compare(
        base, stiffer(assembly, "RR", 60.0), TRACK, CONDITIONS, speed={"middle": 24.0}, fuels=(1.0,)
    )
    assert [row.speed for row in asked.rows if row.station == "middle"] == [24.0]


def test_a_stiffer_rr_coil_re_set_is_looser_and_less_fuel_raises_cross(
    base: Packed, assembly: Assembly
) -> None:
    told = compare(base, stiffer(assembly, "RR", 50.0), TRACK, CONDITIONS, stations=(MIDDLE,))
    full, empty = told.rows
    assert full.reset_change is not None
    assert full.reset_change.verdict == "looser"
    assert full.reset_change.numbers["cross"].value < 0.0
    assert full.reset_change.wedge.value < 0.0
    assert full.base is not None
    assert empty.base is not None
    assert empty.base.cross > full.base.cross
    assert empty.fuel < 0.2 * full.fuel


def test_wedge_equivalent_of_what_is_mostly_wedge_is_about_the_static_wedge(
    base: Packed, assembly: Assembly
) -> None:
    told = compare(base, stiffer(assembly, "LR", 20.0), TRACK, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,))
    (row,) = told.rows
    assert row.bolted_change is not None
    static = told.bolted_scales.cross - told.base_scales.cross
    assert row.bolted_change.wedge.value == pytest.approx(static, rel=0.35)


def test_what_sets_height_cross_or_preload_is_not_re_set(assembly: Assembly) -> None:
    assert assembly.setup.bar is not None
    preload = put(assembly, {"bar.preload": stepped(assembly.setup.bar.preload, 0.5, "rounds")})
    assert not reset_applies(assembly, preload)
    both = put(preload, {"toe_out": stepped(assembly.setup.toe_out, INCH / 32, "toe")})
    assert reset_applies(assembly, both)
    soft = assemble(DEMO / "setup_soft_front.toml")
    stop = soft.setup.RF.stop or soft.setup.RF.bump_spring
    kind = "stop" if soft.setup.RF.stop else "bump_spring"
    assert stop is not None
    packed = put(soft, {f"RF.{kind}.packers": stepped(stop.packers, INCH / 16, "gap")})
    assert not reset_applies(soft, packed)


def test_not_applicable_is_no_reading(base: Packed, assembly: Assembly) -> None:
    assert assembly.setup.bar is not None
    preload = put(assembly, {"bar.preload": stepped(assembly.setup.bar.preload, 2.0, "rounds")})
    told = compare(base, preload, TRACK, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,))
    assert not told.reset_applies
    assert told.reset_scales is None
    assert told.rows[0].reset is None
    assert told.rows[0].reset_change is None
    assert told.rows[0].bolted_change is not None


def test_no_rear_right_coil_is_computed_not_refused(base: Packed, assembly: Assembly) -> None:
    other = put(assembly, {"RR.coil": None})
    told = compare(base, other, TRACK, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,))
    (row,) = told.rows
    assert row.base is not None
    for reading in (row.bolted, row.reset):
        if reading is not None:
            assert math.isnan(reading.gaps[3])


def test_the_band_of_a_difference_is_narrower_than_that_of_the_answer(
    base: Packed, assembly: Assembly
) -> None:
    seen: list[tuple[int, int]] = []
    told = compare(
        base,
        stiffer(assembly, "RR", 60.0),
        TRACK,
        CONDITIONS,
        stations=(MIDDLE,),
        fuels=(1.0,),
        draws=32,
        progress=lambda done, total: seen.append((done, total)),
    )
    assert seen[-1] == (32, 32)
    assert told.draws == 32
    (row,) = told.rows
    assert row.reset_change is not None
    cross = row.reset_change.numbers["cross"]
    assert cross.low < cross.value < cross.high < 0.0
    assert cross.high - cross.low < 0.02
    assert row.reset_change.verdict == "looser"
    again = compare(
        base, stiffer(assembly, "RR", 60.0), TRACK, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,), draws=32
    )
    assert again.rows[0].reset_change == row.reset_change
    assert set(told.hanging) == {(car, "middle", 1.0) for car in ("base", "bolted", "reset")}


def test_no_winner_inside_the_band() -> None:
    assert verdict_of(Band(0.004, -0.001, 0.009), with_band=True) == "too close to call"
    assert verdict_of(Band(0.004, 0.001, 0.009), with_band=True) == "looser"
    assert verdict_of(Band(-0.004, -0.009, -0.001), with_band=True) == "tighter"
    assert verdict_of(Band(-0.004), with_band=False) == "tighter"
    assert verdict_of(Band(1e-7), with_band=False) == "too close to call"
    assert verdict_of(Band(math.nan), with_band=False) == "no answer"


def test_a_right_hand_track_is_compared_too(base: Packed, assembly: Assembly) -> None:
    right = TRACK.model_copy(update={"turns": "right"})
    told = compare(base, stiffer(assembly, "RR", 50.0), right, CONDITIONS, stations=(MIDDLE,), fuels=(1.0,))
    assert told.rows[0].base is not None
    assert told.rows[0].base.loads[0] > told.rows[0].base.loads[1]


def test_the_other_setup_may_change_several_things(base: Packed, assembly: Assembly) -> None:
    other = replace(assembly, setup=assemble(DEMO / "setup_hanging_rr.toml").setup)
    told = compare(base, other, TRACK, CONDITIONS, stations=(MIDDLE,))
    assert told.reset_applies
    assert any(row.reset is not None for row in told.rows)
