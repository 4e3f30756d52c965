"""Which gear: laps with every final drive at hand."""

import re
from dataclasses import replace

import numpy as np
import pytest
from asked import good, refused
from evidence import DERIVED
from fuzz_documents import DEMO

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.gears import AS_GOOD, STEP, GearLap, Gears, gears
from ovalwright.study.lap import ON_REVS, lap

DAY = Conditions()


@pytest.fixture(scope="module")
def car():
    return with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=1.0)


@pytest.fixture(scope="module")
def line():
    track = load_track(DEMO / "track_three_eighths.toml")
    return groove_line(track, ribbon_of(track))


@pytest.fixture(scope="module")
def found(car, line):
    return gears(car, line, DAY)


def test_every_gear_of_the_rack_is_tried_once_and_the_tallest_comes_first(car, found):
    ratios = [row.ratio for row in found.rows]
    assert ratios == sorted(gear.ratio.si for gear in car.assembly.rack.gears)
    assert found.owned and found.fitted.ratio == car.assembly.setup.final_drive.si


def test_the_gear_in_the_car_laps_as_the_car_does(car, line, found):
    assert found.fitted.lap.time == pytest.approx(lap(car, line, DAY).time, rel=1e-6)


def test_speed_on_the_limiter_goes_with_the_gear(check, found):
    """At the rev limit the axle turns at that over the ratio: a shorter gear is slower by just its share."""
    for row in found.rows:
        at = np.array(row.lap.rules) == ON_REVS
        if not at.any():
            continue
        spin = row.lap.engine_speed[at].max()
        check(
            ours=float(spin * 30.0 / np.pi),
            expected=6250.0,
            rel=1e-3,
            unit="rpm",
            of=f"engine speed where revs rule, gear {row.name}",
            source="the rev limit written in the demo's car",
            kind=DERIVED,
            area="lap",
        )
    long, short = (row.lap.speed.max() for row in (found.rows[2], found.rows[-1]))
    assert long / short == pytest.approx(found.rows[-1].ratio / found.rows[2].ratio, rel=0.01)


def test_a_shorter_gear_is_longer_on_the_limiter(found):
    times = [row.on_the_limiter for row in found.rows]
    assert times == sorted(times) and times[-1] > times[0]


def test_the_best_gear_is_the_quickest_and_the_kinder_one_as_good(found):
    assert found.best.lap.time == min(row.lap.time for row in found.rows)
    if found.kinder is not None:
        assert found.kinder.on_the_limiter < found.best.on_the_limiter
        assert found.kinder.lap.time < found.best.lap.time + AS_GOOD


def test_without_gears_on_the_rack_a_ladder_is_tried(car, line):
    bare = car.assembly.rack.model_copy(update={"gears": ()})
    ladder = gears(replace(car, assembly=replace(car.assembly, rack=bare)), line, DAY)
    ratios = np.array([row.ratio for row in ladder.rows])
    assert not ladder.owned and len(ratios) == 7
    assert ratios[1:] / ratios[:-1] == pytest.approx(1.0 + STEP)


def test_a_gear_that_never_gets_round_has_no_time():
    lost = GearLap("190", 190.0, True, None, "no lap")
    answer = Gears((lost,), True)
    assert lost.on_the_limiter == 0.0 and answer.best is None and answer.kinder is None


def test_the_command_names_the_best_gear(folder):
    told = good("gears", "setup_conventional.toml", "track_three_eighths.toml")
    assert max(len(row) for row in told.splitlines() if " vary " not in row) <= 80
    assert 'geared.toml "final_drive=5.14"' in told
    assert "5.67 *" in told and "5.14 is the quickest" in told and "limiter" in told
    matched = good("gears", "setup_conventional.toml", "track_flat_quarter.toml", "--time", "17.9")
    assert "Matched to your 17.900 s" in matched


def geared(folder, ratio):
    """The demo's setup with another final drive."""
    text = (folder / "setup_conventional.toml").read_text(encoding="utf-8")
    (folder / "setup_geared.toml").write_text(
        text.replace('final_drive = "5.67"', f'final_drive = "{ratio}"'), encoding="utf-8"
    )


def test_a_gear_that_cannot_go_round_is_told_beside_those_that_can(folder):
    geared(folder, 190)
    told = good("gears", "setup_geared.toml", "track_three_eighths.toml")
    assert "190: setup_geared.toml: the car does not get round" in " ".join(told.split())
    rack = (folder / "rack.toml").read_text(encoding="utf-8")
    (folder / "rack.toml").write_text(re.sub(r"\[\[gears\]\]\n.*\n.*\n", "", rack), encoding="utf-8")
    assert "none of these gears" in refused("gears", "setup_geared.toml", "track_three_eighths.toml")
