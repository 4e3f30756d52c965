"""A lap list matched to the car's run: truths recovered within their bands, and what a list cannot tell."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from asked import ask, good
from test_speed import DEMO

from ovalwright.cli import lap_match
from ovalwright.documents import Conditions, LapList, assemble, load_track, read_laps
from ovalwright.pack import build, with_fuel
from ovalwright.pack.track import ribbon_of
from ovalwright.study.falloff import WARM_UP, at_speed
from ovalwright.study.lap import DRIVER
from ovalwright.study.match_laps import (
    MOST_LAPS,
    READ_AFTER,
    AsListed,
    factors_of,
    linear,
    match_laps,
    plan_of,
    readings_of,
    told_together,
)
from ovalwright.study.matching import Factor, Readings, fit, lap_times, match
from ovalwright.study.run import Stop, Stretch

DAY = Conditions()
PSI = 6894.757
FACTORS = factors_of(DRIVER)


@pytest.fixture(scope="module")
def car():
    return with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=1.0)


@pytest.fixture(scope="module")
def line():
    """A line with few stations: what is matched is the run, whatever its line."""
    return ribbon_of(load_track(DEMO / "track_three_eighths.toml")).line(0.0, spacing=20.0)


def list_of(times, yellow=range(14, 17), read: str = "") -> LapList:
    """A list of laps from 1, hot pressures and a tread read at the end."""
    rows = [f"{k},{t:.3f},{'yellow' if k in yellow else ''}" for k, t in enumerate(times, start=1)]
    head = "lap,time,flag" + (",RF psi,RR psi,RF middle F" if read else "")
    return read_laps("\n".join([head, *rows[:-1], rows[-1] + read]))


def drawn(dice, widest=math.inf):
    """A truth from what is known before."""
    z = np.clip(dice.standard_normal(len(FACTORS)), -widest, widest)
    return np.array(
        [np.clip(f.before + f.spread * one, f.low, f.high) for f, one in zip(FACTORS, z, strict=True)]
    )


def noisy(dice, times, traffic=0.1):
    """Laps as a racer has them: his scatter, some in traffic, and a model that is off by a constant."""
    many = len(times)
    return (
        times + dice.normal(0.0, 0.05) + dice.normal(0.0, 0.08, many)
        + (dice.random(many) < traffic) * dice.exponential(0.4, many)
    )  # fmt: skip


# ---------------- how often the bands hold


@pytest.fixture(scope="module")
def straight(car, line):
    """The run of thirty laps in straight lines about one place."""
    model = AsListed(car, line, DAY, list_of([20.0] * 30), DRIVER, None)
    theta = np.array([0.08, DRIVER.use, 0.0, 0.3])
    found = model.runs([theta])[0]
    return linear(theta, model.said(found)[:1], model.slopes(theta, found)[:1])


def coverage(straight, cases: int, seed: int) -> np.ndarray:
    """Share of the bands that hold the truth, by factor."""
    dice, held, k = np.random.default_rng(seed), [], np.arange(1.0, 31.0)
    green = ~np.isin(k, range(14, 17))
    for _ in range(cases):
        truth = drawn(dice)
        times = noisy(dice, straight(truth)[0])
        kept = at_speed(times, green) & (k > WARM_UP)
        told = match(FACTORS, [lap_times(k, times, kept, model_error=0.05)], straight)
        bands = zip(told.factors, truth, strict=True)
        held.append([one.value.low <= true <= one.value.high for one, true in bands])
    return np.mean(held, axis=0)


def test_thirty_noisy_laps_tell_the_factors_within_their_bands(straight) -> None:
    share = coverage(straight, 200, 5)
    print(f"bands hold the truth in {100 * share.mean():.1f} % (by factor {np.round(100 * share, 1)})")
    assert 0.91 <= share.mean() <= 0.99
    assert share.min() >= 0.86


@pytest.mark.proof
def test_how_often_bands_hold_the_truth(straight) -> None:
    share = coverage(straight, 2000, 6)
    print(f"bands hold the truth in {100 * share.mean():.1f} % (by factor {np.round(100 * share, 1)})")
    assert 0.91 <= share.mean() <= 0.99


@pytest.mark.proof
def test_runs_of_the_car_are_recovered(car, line) -> None:
    """Lists made by the run itself, not by straight lines."""
    dice, held, narrowed = np.random.default_rng(8), [], []
    for _ in range(8):
        truth = drawn(dice, widest=1.5)
        model = AsListed(car, line, DAY, list_of([20.0] * 30), DRIVER, None)
        times = noisy(dice, model.said(model.runs([truth])[0])[0])
        told = match_laps(car, line, DAY, list_of(times))
        bands = (told.grip, told.use, told.heat, told.age)
        true = (math.exp(truth[0]), truth[1], math.exp(truth[2]), math.exp(truth[3]))
        held.append([band.low <= one <= band.high for band, one in zip(bands, true, strict=True)])
        narrowed.append([one.narrowed for one in told.fit.factors])
        print(np.round(true, 3), [f"{b.value:.3f} ({b.low:.3f} {b.high:.3f})" for b in bands], told.runs)
    print(f"{np.sum(held)} of {np.size(held)} bands hold the truth; narrowed to {np.mean(narrowed, axis=0)}")
    assert np.mean(held) >= 0.85
    assert np.mean(narrowed, axis=0)[0] < 0.5


TRUTH = np.array([0.1, DRIVER.use, 0.1, 0.4])


@pytest.fixture(scope="module")
def made(car, line):
    """A list made by the run, with tires read at its end: the list, what it came to, and its progress."""
    blank = list_of([20.0] * 15, yellow=(), read=",24,22,180")
    model = AsListed(car, line, DAY, blank, DRIVER, None)
    times, pressure, _, tread = model.said(model.runs([TRUTH])[0])
    read = f",{pressure[-1, 1] / PSI:.2f},{pressure[-1, 3] / PSI:.2f},{tread[-1, 1] * 1.8 - 459.67:.1f}"
    calls: list[tuple[int, int]] = []
    listed = list_of(times + np.resize([0.02, -0.02], 15), yellow=(), read=read)
    told = match_laps(car, line, DAY, listed, progress=lambda done, of: calls.append((done, of)))
    return listed, told, calls


def test_a_list_made_by_the_run_is_matched(made) -> None:
    listed, told, calls = made
    for band, true in ((told.grip, TRUTH[0]), (told.heat, TRUTH[2]), (told.age, TRUTH[3])):
        assert band.low < math.exp(true) < band.high
    assert math.sqrt(np.mean(told.left[told.counted] ** 2)) < 0.05
    assert told.driver.grip == pytest.approx(told.grip.value)
    read = listed.laps[-1].tire("pressure")
    assert told.said["hot pressures"][-1, 1] == pytest.approx(read[1], abs=0.5 * PSI)
    assert any("use" in one for one in told.untold)
    assert [done for done, _ in calls] == list(range(1, told.runs + 1))
    assert told.goes_away is None


def test_a_match_is_shown(made, tmp_path, monkeypatch) -> None:
    listed, told, _ = made
    monkeypatch.setattr(lap_match, "match_laps", lambda *_: told)
    path = tmp_path / "mine.csv"
    path.write_text(listed.text)
    words = [path, "--setup", DEMO / "setup_conventional.toml", "--track", DEMO / "track_three_eighths.toml"]
    shown = good("laps", *words)
    for said in ("times the files", "hot after lap 15", "in the run", "only together", "your laps lie"):
        assert said in shown
    whole = json.loads(good("laps", *words, "--json"))["match"]
    assert whole["grip"]["value"] == pytest.approx(told.grip.value)
    assert len(whole["left"]) == len(listed.laps)


def test_what_a_match_lacks_is_one_sentence(tmp_path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(list_of([19.0 + 0.01 * k for k in range(11)], yellow=()).text)
    setup, track = DEMO / "setup_conventional.toml", DEMO / "track_three_eighths.toml"
    assert "a match takes both" in ask("laps", path, "--setup", setup).stderr
    assert "a match takes both" in ask("laps", path, "--track", track).stderr
    assert "there are 9" in ask("laps", path, "--setup", setup, "--track", track).stderr


@pytest.mark.proof
def test_the_practice_of_the_demo_is_matched() -> None:
    words = [f"--{name}" for name in ("setup", "track", "air")]
    files = [
        DEMO / f"{name}.toml" for name in ("setup_conventional", "track_three_eighths", "conditions_evening")
    ]
    pairs = [one for pair in zip(words, files, strict=True) for one in pair]
    whole = json.loads(good("laps", DEMO / "laps_practice.csv", *pairs, "--json"))["match"]
    for name, true in (("grip", 1.12), ("use", 0.955), ("heat", 1.12), ("age", 2.2)):
        assert whole[name]["low"] < true < whole[name]["high"]


# ---------------- what a list is of


def test_a_list_becomes_a_plan() -> None:
    text = (
        "lap,time,flag,RF psi\n1,16,,\n2,16,,\n4,16,,\n5,36,caution,\n6,90,pit,25\n7,16,,\n8,16,lapped car,26"
    )
    stood = Stop(seconds=READ_AFTER)
    assert plan_of(read_laps(text)) == (
        Stretch(4),
        Stretch(2, "yellow"),
        Stretch(2, stop=stood),
        Stretch(1, "yellow", stood),
    )


def test_readings_are_where_they_were_taken() -> None:
    times = [16.0 + 0.01 * (k % 3) for k in range(12)]
    rows = "\n".join(f"{k},{t}{',200,,210' if k == 12 else ',,,'}" for k, t in enumerate(times, start=1))
    listed = read_laps("lap,time,RF inside F,RF middle F,RF outside F\n" + rows)
    laps, pressures, roll_outs, treads = readings_of(listed, np.arange(1, 13) > 2)
    assert laps.robust
    assert np.isnan(laps.values[:2]).all()
    assert not np.isfinite(pressures.values).any()
    assert not np.isfinite(roll_outs.values).any()
    assert np.isfinite(treads.values).sum() == 1
    assert treads.values[11, 1] == pytest.approx((205.0 + 459.67) / 1.8)


def test_factors_that_only_their_sum_tells_are_named() -> None:
    both = [Factor("a", 0.0, 1.0), Factor("b", 0.0, 1.0), Factor("c", 0.0, 1.0)]
    reading = [Readings("sum", np.zeros(4), 0.1), Readings("third", np.zeros(1), 0.1)]
    told = fit(both, reading, lambda p: (np.full(4, p[0] + p[1]), np.array([p[2]])))
    (only,) = told_together(told)
    assert "a and b only together: more of one is less of the other" in only


# ---------------- what is not concluded


def test_too_few_laps_too_many_or_another_car_are_one_sentence(car, line) -> None:
    with pytest.raises(ValueError, match=r"takes 12 laps at speed or more, and there are 9"):
        match_laps(car, line, DAY, list_of([19.0 + 0.01 * k for k in range(11)], yellow=()))
    with pytest.raises(ValueError, match="more than a match takes"):
        match_laps(car, line, DAY, list_of([19.0] * (MOST_LAPS + 1), yellow=()))
    with pytest.raises(ValueError, match=r"no grip explains: check length"):
        match_laps(car, line, DAY, list_of([14.0 + 0.01 * (k % 4) for k in range(15)], yellow=()))
