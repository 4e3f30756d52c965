"""Tests of one change: what laps that scatter can tell, and what they cannot."""

import math

import numpy as np
import pytest
from evidence import DERIVED, FROM_MEMORY, LIBRARY
from scipy import stats

from ovalwright.study.falloff import fade
from ovalwright.study.repeats import Leg, Trial, best_of_normal, difference, laps_needed, own_scatter

TWO_SIDED = "difference of means, Student's t at 5 % and 80 % (Box, Hunter & Hunter 1978, from memory)"


def test_the_smallest_difference_that_is_seen(check):
    expected = [
        [0.11853, 0.08357, 0.05629, 0.03903],
        [0.18965, 0.13371, 0.09007, 0.06245],
        [0.28448, 0.20056, 0.13510, 0.09367],
    ]
    ours = [[Trial(sigma, laps).smallest for laps in (3, 5, 10, 20)] for sigma in (0.05, 0.08, 0.12)]
    for sigma, mine, table in zip((0.05, 0.08, 0.12), ours, expected, strict=True):
        check(
            mine, table, abs=6e-6, unit="s", of=f"smallest difference seen in A-B-A, scatter {sigma} s",
            source=TWO_SIDED, kind=DERIVED, area="run",
        )  # fmt: skip
    for trial, figure, what in [
        (Trial(0.08, 5, correlation=0.3), 0.18221, "correlated laps"),
        (Trial(0.08, 5, rounds=4), 0.06266, "four A-B-A"),
    ]:
        check(trial.smallest, figure, abs=6e-6, unit="s", of=what, source=TWO_SIDED, kind=DERIVED, area="run")


def test_power_against_drawn_tests(check):
    trial, dice = Trial(0.08, 5), np.random.default_rng(5)
    legs = trial.smallest * np.array([0.0, 1.0, 0.0])[:, None] + dice.normal(0.0, 0.08, (40_000, 3, 5))
    means, pooled = legs.mean(axis=2), np.sqrt(legs.var(axis=2, ddof=1).mean(axis=1))
    seen = np.abs(means[:, 1] - means[:, [0, 2]].mean(axis=1)) > stats.t.ppf(0.975, 12) * pooled * math.sqrt(
        0.3
    )
    check(
        trial.power(trial.smallest), seen.mean(), abs=0.007, of="chance to see the smallest difference",
        source="40000 drawn tests and Student's t", kind=DERIVED, area="run",
    )  # fmt: skip
    check(
        trial.power(trial.smallest), 0.79968, abs=5e-5, of="the same", source="noncentral t, quadrature",
        kind=DERIVED, area="run",
    )  # fmt: skip
    check(
        trial.power(0.0), 0.05, abs=1e-9, of="chance to see a difference where there is none",
        source="the level of the test", kind=DERIVED, area="run",
    )  # fmt: skip


def test_laps_for_a_difference(check):
    for seconds, laps in ((0.10, 9), (0.05, 31)):
        check(
            laps_needed(seconds, 0.08), laps, abs=0, of=f"laps a leg to see {seconds} s at 0.08 s scatter",
            source=TWO_SIDED, kind=DERIVED, area="run",
        )  # fmt: skip
    assert laps_needed(0.001, 0.08) is None
    assert laps_needed(10.0, 0.08) == 2
    assert laps_needed(0.05, 0.0) == 2


def test_two_more_legs_tell_more():
    assert Trial(0.08, 5, "A-B-B-A").standard_error == pytest.approx(0.08 / math.sqrt(5))
    assert Trial(0.08, 5, "A-B-B-A").smallest < Trial(0.08, 5).smallest


def test_correlated_laps_are_reckoned_on_the_safe_side(check):
    n, phi = 20, 0.3
    alike = phi ** np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    exact = 0.08 * math.sqrt(1.5 * alike.mean())
    ours = Trial(0.08, n, correlation=phi).standard_error
    check.between(
        ours, exact, 1.05 * exact, unit="s", of="standard error of A-B-A with laps alike by 0.3",
        source="covariance of each leg summed lap by lap", kind=DERIVED, area="run",
    )  # fmt: skip


def test_the_best_of_many_laps_is_quicker_for_nothing(check):
    laps = (2, 5, 10, 20, 40)
    means, sds = zip(*(best_of_normal(n) for n in laps), strict=True)
    table = "Harter, Biometrika 48, 1961, expected values of normal order statistics, from memory"
    check(
        means, [-0.56419, -1.16296, -1.53875, -1.86748, -2.16078], abs=6e-6, of="best of 2 to 40 laps",
        source=table, kind=FROM_MEMORY, area="run",
    )  # fmt: skip
    check(
        sds[2],
        0.586808,
        abs=1e-6,
        of="scatter of the best of ten laps",
        source="quadrature",
        kind=DERIVED,
        area="run",
    )
    draws = np.random.default_rng(8).normal(size=(100_000, 10)).min(axis=1)
    check(
        means[2],
        draws.mean(),
        abs=0.008,
        of="best of ten laps",
        source="100000 draws",
        kind=DERIVED,
        area="run",
    )
    check(means[0], -1 / math.sqrt(math.pi), rel=1e-10, of="best of two laps", source="-1/sqrt(pi)",
          kind=DERIVED, area="run")  # fmt: skip
    with pytest.raises(ValueError, match="one lap"):
        best_of_normal(0)


def legs(effect=0.0, per_lap=0.02, scatter=0.0, laps=5, dice=None, plan="ABA"):
    """Invented legs on tires that age through the test."""
    noise = np.zeros((len(plan), laps)) if dice is None else dice.normal(0.0, scatter, (len(plan), laps))
    made = []
    for i, car in enumerate(plan):
        age = laps * i + np.arange(1.0, laps + 1)
        made.append(Leg(car, 15.5 + per_lap * age + effect * (car == "B") + noise[i], age))
    return made


def test_tires_that_age_evenly_do_not_bias_a_test(check):
    told = difference(legs(effect=-0.07))
    check(
        [told.effect.value, told.per_lap], [-0.07, 0.02], abs=1e-12, of="change (s) and ageing (s/lap)",
        source="constructed laps", kind=DERIVED, area="run",
    )  # fmt: skip
    a1, b, _ = (np.mean(leg.times) for leg in legs())
    check.trap(
        told.effect.value, b - a1 - 0.07, apart=0.5, unit="s", of="B less the first A alone",
        source="0.02 s/lap over legs of 5 laps", kind=DERIVED, area="run",
    )  # fmt: skip


def test_the_band_is_that_of_least_squares(check):
    made = legs(effect=0.05, scatter=0.08, dice=np.random.default_rng(2), laps=6, plan="ABBA")
    times, age = (np.concatenate([getattr(leg, name) for leg in made]) for name in ("times", "on_tires"))
    is_b = np.repeat([0.0, 1.0, 1.0, 0.0], 6)
    # Frisch and Waugh: regress what age leaves of the times on what it leaves of B.
    rest = [y - np.polyval(np.polyfit(age, y, 1), age) for y in (is_b, times)]
    line = stats.linregress(rest[0], rest[1])
    free = len(times) - 3
    half = stats.t.ppf(0.975, free) * line.stderr * math.sqrt((len(times) - 2) / free)
    told = difference(made)
    check(
        [told.effect.value, told.effect.low, told.effect.high],
        [line.slope, line.slope - half, line.slope + half], rel=1e-9, unit="s",
        of="a change and its 95 % band beside ageing tires", source="SciPy linregress, partialled out",
        kind=LIBRARY, area="run",
    )  # fmt: skip


def test_the_band_of_a_test_holds_the_truth():
    dice = np.random.default_rng(6)
    told = [difference(legs(effect=0.05, scatter=0.08, dice=dice)).effect for _ in range(400)]
    assert 0.92 <= np.mean([band.low <= 0.05 <= band.high for band in told]) <= 0.98


def test_a_ruined_test_is_refused():
    a, b, again = legs()
    with pytest.raises(ValueError, match="A, B, then A again"):
        difference([a, b])
    with pytest.raises(ValueError, match="fresher tires"):
        difference([a, Leg("B", b.times, [1, 2, 3, 4, 5]), Leg("A", again.times, [6, 7, 8, 9, 10])])
    with pytest.raises(ValueError, match="two laps"):
        difference([a, Leg("B", [15.5], [6]), again])
    with pytest.raises(ValueError, match="two laps a leg"):
        Trial(0.08, 1)
    fresh = [Leg(leg.car, leg.times, [1, 2, 3, 4, 5]) for leg in (a, b, again)]
    assert math.isfinite(difference(fresh).effect.value)


def test_own_scatter_is_that_of_the_laps():
    dice, found = np.random.default_rng(9), []
    for _ in range(200):
        noise = dice.normal(size=40)
        for i in range(1, 40):
            noise[i] = 0.4 * noise[i - 1] + math.sqrt(1 - 0.16) * noise[i]
        k = np.arange(1.0, 41.0)
        found.append(own_scatter(fade(k, 15.5 + 0.02 * k + 0.08 * noise)))
    assert np.mean([one.sigma for one in found]) == pytest.approx(0.08, rel=0.1)
    assert np.mean([one.correlation for one in found]) == pytest.approx(0.4, abs=0.08)


def test_own_scatter_of_unusual_runs():
    assert own_scatter(fade(np.arange(1.0, 21.0), np.full(20, 15.5))).sigma == pytest.approx(0.0, abs=1e-9)
    k = np.arange(1.0, 51.0)
    gone = fade(k, 15.5 + 0.1 * np.maximum(k - 30.0, 0.0) + np.random.default_rng(1).normal(0.0, 0.05, 50))
    assert gone.shape == "goes away"
    assert own_scatter(gone).sigma == pytest.approx(0.05, rel=0.3)
    assert own_scatter(gone).correlation < 0.3
