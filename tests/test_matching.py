"""A model brought to agree with laps: numbers of other routes, truths recovered, what is not told."""

import math

import numpy as np
import pytest
from evidence import DERIVED, LIBRARY
from scipy import integrate, stats
from scipy.optimize import least_squares

from ovalwright.study.falloff import at_speed
from ovalwright.study.matching import (
    WEIGHT,
    Factor,
    Readings,
    fit,
    lap_times,
    match,
)

LAPS = np.arange(1.0, 16.0)
TIMES = np.array(
    [15.62, 15.48, 15.41, 15.43, 15.44, 15.46, 15.95, 15.49, 15.50, 15.53, 15.52, 15.55, 16.40, 15.58, 15.60]
)


def stand_in(numbers, fuel=None):
    """A model of lap times without a car: level + fade k + coming exp(-(k - 1) / exp(settling)), and the cost
    of fuel times what is aboard [kg] over that at the first lap, where `fuel` is given.

    Factors in this order: level [s], fade [s/lap], coming in [s], log of the laps it takes, cost [s/kg].
    """
    k = np.asarray(numbers, dtype=float)
    over = np.zeros(len(k)) if fuel is None else np.asarray(fuel, dtype=float) - fuel[0]

    def predict(theta):
        coming_in = theta[2] * np.exp(-(k - 1.0) * math.exp(-theta[3]))
        cost = 0.0 if fuel is None else theta[4]
        return (theta[0] + theta[1] * k + coming_in + cost * over,)

    return predict


def stand_in_factors(times, *, fuel_cost=None):
    """What is known of a short-oval run before its laps are read (common practice, no source), about the
    median of its times [s]; `fuel_cost` [s/kg] where fuel is reckoned with.
    """
    level = float(np.nanmedian(times))
    return (
        Factor("level", level, 0.03 * level, 0.5 * level, 2.0 * level),
        Factor("fade", 0.015, 0.03),
        Factor("coming in", 0.2, 0.2, -1.0, 3.0),
        Factor("laps to come in", math.log(2.0), 0.5, math.log(0.3), math.log(30.0)),
        *((fuel_cost,) if fuel_cost else ()),
    )


def test_a_robust_line_is_that_of_a_general_optimizer(check):
    k, t = LAPS[2:], TIMES[2:]
    general = least_squares(
        lambda p: p[0] + p[1] * k - t, [15.0, 0.0], loss="soft_l1", f_scale=0.03, xtol=1e-14, ftol=1e-14
    )
    wide = [Factor("start", 15.0, 1e4), Factor("fade", 0.0, 1e4)]
    told = match(wide, [Readings("lap times", t, 0.03, robust=True)], lambda p: (p[0] + p[1] * k,), step=1e-6)
    ours = [told.value("start"), told.value("fade")]
    check(
        ours, general.x, rel=3e-6, of="start and fade by soft L1 (s, s/lap)", kind=LIBRARY, area="matching",
        source="SciPy least_squares, soft L1 loss of 0.03 s, no prior",
    )  # fmt: skip
    check(
        ours, [15.36697408, 0.01586088], rel=3e-6, of="the same, its figures", kind=DERIVED, area="matching",
        source="soft L1 line by two optimizers",
    )  # fmt: skip
    assert list(np.flatnonzero(told.doubtful[0])) == [4, 10]


def test_weight_of_robust_rows(check):
    def mean(of):
        return integrate.quad(lambda r: stats.norm.pdf(r) * of(r), -30.0, 30.0, epsabs=1e-12)[0]

    exact = mean(lambda r: (1.0 + r**2) ** -1.5) / mean(lambda r: r**2 / (1.0 + r**2))
    check(
        WEIGHT, exact, rel=1e-7, of="weight of soft L1 rows", kind=DERIVED, area="matching",
        source="variance of an M-estimator (Huber 1964, from memory), SciPy quadrature",
    )  # fmt: skip


def test_one_reading_of_a_curved_model(check):
    told = fit(
        [Factor("theta", 0.0, 0.2)], [Readings("y", np.array([12.0]), 0.5)], lambda p: (10.0 * np.exp(p),)
    )
    found = told.factors[0]
    source = "y = 10 exp(theta), root and curvature by hand"
    check(
        found.value.value, 0.17465344, abs=1e-7, of="best theta", source=source, kind=DERIVED, area="matching"
    )
    check(found.sigma, 0.04109164, abs=1e-7, of="its deviation", source=source, kind=DERIVED, area="matching")

    def weigh(x):
        return math.exp(-0.5 * (x / 0.2) ** 2 - 0.5 * ((12.0 - 10.0 * math.exp(x)) / 0.5) ** 2)

    total, first, second = (integrate.quad(lambda x, n=n: x**n * weigh(x), -0.5, 0.8)[0] for n in range(3))
    mean = first / total
    exact = math.sqrt(second / total - mean**2)
    quadrature = "exact posterior by quadrature, SciPy"
    check(found.sigma, exact, rel=0.02, of="its deviation", source=quadrature, kind=LIBRARY, area="matching")
    check(found.value.value, mean, abs=0.1 * exact, of="best theta against the mean", source=quadrature,
          kind=LIBRARY, area="matching")  # fmt: skip


LOGS = [Factor("grip", 0.0, 0.05), Factor("power", 0.0, 0.10), Factor("drag", 0.0, 0.15)]
SLOPES = np.array([[-10.3098, -1.1918, 0.0633], [12.7191, 0.0, -0.0055], [9.1694, 9.4368, -0.4249]])
"""Change of lap [s], slowest and fastest speed [m/s] with the logarithm of grip, power and drag area."""


def on_an_oval(measured):
    kinds = [
        Readings(what, np.zeros(1), noise)
        for what, noise in [("lap", 0.08), ("slowest", 0.3), ("fastest", 0.3)][:measured]
    ]
    return fit(LOGS, kinds, lambda p: tuple(SLOPES[i : i + 1] @ p for i in range(measured)))


def test_what_laps_and_speeds_tell_of_grip_power_and_drag(check):
    source = "linear posterior of a point mass on an oval, worked out with matrices"
    told = on_an_oval(3)
    noise, prior = np.array([0.08, 0.3, 0.3]), np.array([0.05, 0.10, 0.15])
    independent = np.linalg.svd(SLOPES / noise[:, None] * prior, compute_uv=False)
    check(told.singular, independent, rel=1e-4, of="singular values", source="NumPy svd of scaled slopes",
          kind=LIBRARY, area="matching")  # fmt: skip
    check(told.singular, [7.308, 2.667, 0.0037], abs=6e-4, of="the same, their figures", source=source,
          kind=DERIVED, area="matching")  # fmt: skip
    for measured, deviations in [
        (1, [0.01344, 0.09749, 0.14998]),
        (2, [0.01168, 0.08912, 0.14991]),
        (3, [0.00864, 0.03402, 0.14971]),
    ]:
        ours = [one.sigma for one in on_an_oval(measured).factors]
        check(ours, deviations, abs=6e-6, of=f"deviations after {measured} readings", source=source,
              kind=DERIVED, area="matching")  # fmt: skip
    c = on_an_oval(1).covariance
    check(c[0, 1] / math.sqrt(c[0, 0] * c[1, 1]), -0.82, abs=0.005, of="grip against power after laps alone",
          source=source, kind=DERIVED, area="matching")  # fmt: skip
    assert told.untold == ("The laps do not tell drag: it stays about as it was known before.",)


def test_many_laps_do_not_make_the_model_sure(check):
    laps, noise, error, prior = 200, 0.08, 0.05, 0.5
    told = fit(
        [Factor("level", 15.0, prior)], [Readings("lap times", np.full(laps, 15.5), noise, error)],
        lambda p: (np.full(laps, p[0]),),
    )  # fmt: skip
    exact = (prior**-2 + 1.0 / (error**2 + noise**2 / laps)) ** -0.5
    check(told.factors[0].sigma, exact, rel=1e-6, unit="s", of="its deviation after 200 laps",
          source="normal mean with an error common to all", kind=DERIVED, area="matching")  # fmt: skip


# ---------------- runs whose truth is known


def invented(dice, laps=30, traffic=0.1):
    """Lap times and which were green, and the truth: factors drawn from what is known before, four yellow
    laps, one lap in ten in traffic that nobody flagged, and a model that is off by a constant.
    """
    k, factors = np.arange(1.0, laps + 1), stand_in_factors(np.array([15.5]))
    truth = np.array([np.clip(dice.normal(f.before, f.spread), f.low, f.high) for f in factors])
    t = stand_in(k)(truth)[0] + dice.normal(0.0, 0.05) + dice.normal(0.0, 0.08, laps)
    t += (dice.random(laps) < traffic) * dice.exponential(0.4, laps)
    green, yellow = np.ones(laps, dtype=bool), dice.integers(8, 20)
    green[yellow : yellow + 4], t[yellow : yellow + 4] = False, 40.0
    return k, t, green, factors, truth


def coverage(cases, seed, **options):
    """Share of the factors' bands that hold the truth, by factor."""
    dice, held = np.random.default_rng(seed), []
    for _ in range(cases):
        k, t, green, factors, truth = invented(dice, **options)
        readings = lap_times(k, t, at_speed(t, green), model_error=0.05)
        told = match(factors, [readings], stand_in(k))
        bands = zip(told.factors, truth, strict=True)
        held.append([one.value.low <= true <= one.value.high for one, true in bands])
    return np.mean(held, axis=0)


def test_thirty_noisy_laps_recover_the_truth_within_their_bands():
    share = coverage(200, 21)
    print(f"bands hold the truth in {100 * share.mean():.1f} % (by factor {np.round(100 * share, 1)})")
    assert 0.91 <= share.mean() <= 0.99
    assert share.min() >= 0.86


@pytest.mark.proof
@pytest.mark.parametrize("options", [{}, {"traffic": 0.0}, {"traffic": 0.2}, {"laps": 60}, {"laps": 24}])
def test_how_often_bands_hold_the_truth(options):
    share = coverage(1000, 22, **options)
    print(options, np.round(100 * share, 1), f"{100 * share.mean():.1f} %")
    assert 0.91 <= share.mean() <= 0.99


def test_wear_and_fuel_of_one_run_are_not_told_apart():
    k = np.arange(1.0, 31.0)
    fuel = 60.0 - 0.3 * k
    factors = stand_in_factors(np.array([15.5]), fuel_cost=Factor("cost of fuel", 0.005, 0.1))
    t = stand_in(k, fuel)([15.3, 0.02, 0.2, math.log(2.0), 0.005])[0] + np.random.default_rng(4).normal(
        0, 0.05, 30
    )
    told = match(factors, [Readings("lap times", t, 0.05, robust=True)], stand_in(k, fuel))
    assert any("fade" in one and "cost of fuel" in one for one in told.untold)
    known = stand_in_factors(np.array([15.5]), fuel_cost=Factor("cost of fuel", 0.005, 1e-5))
    told = match(known, [Readings("lap times", t, 0.05, robust=True)], stand_in(k, fuel))
    assert not any("fade" in one for one in told.untold)
    assert told.value("fade") == pytest.approx(0.02, abs=0.005)


def test_readings_of_other_kinds_count_where_they_were_taken():
    k = np.arange(1.0, 21.0)
    heat = np.full((20, 4, 3), math.nan)
    heat[19] = 370.0
    told = match(
        [Factor("level", 15.0, 1.0), Factor("heat", 300.0, 50.0)],
        [Readings("lap times", np.full(20, 15.5), 0.05, robust=True), Readings("temperatures", heat, 3.0)],
        lambda p: (np.full(20, p[0]), p[1] * np.ones((20, 4, 3))),
    )
    assert told.value("heat") == pytest.approx(370.0, abs=0.1)
    assert told.factors[1].sigma == pytest.approx(3.0 / math.sqrt(12), rel=0.01)
    assert told.predicted[1].shape == (20, 4, 3)
    assert k.shape == told.residuals[0].shape


# ---------------- what is not concluded


def test_too_few_laps_conclude_nothing():
    factors = stand_in_factors(np.array([15.5]))
    readings = [Readings("lap times", np.array([15.5, 15.4]), 0.08, robust=True)]
    with pytest.raises(ValueError, match="takes 12 laps at speed or more, and there are 2"):
        match(factors, readings, stand_in([1, 2]))


def test_a_model_without_an_answer_is_one_sentence():
    readings = [Readings("lap times", TIMES, 0.08, robust=True)]
    with pytest.raises(ValueError, match="no answer"):
        match([Factor("level", 15.0, 1.0)], readings, lambda p: (np.full(15, math.nan),))


def test_a_model_that_fails_on_the_way_or_jumps_is_no_traceback():
    readings = [Readings("lap times", TIMES, 0.08, robust=True)]

    def part_of_the_way(p):
        return (np.full(15, p[0] if p[0] < 15.2 else math.nan),)

    try:
        told = match([Factor("level", 15.0, 1.0)], readings, part_of_the_way)
    except ValueError as why:
        assert "settle" in str(why)
    else:
        assert told.value("level") < 15.2


def test_a_factor_at_its_bound_is_named():
    readings = [Readings("lap times", TIMES, 0.08, robust=True)]
    told = match([Factor("level", 15.0, 1.0, 14.0, 15.2)], readings, lambda p: (np.full(15, p[0]),))
    assert told.at_bound == ("level",)
    assert told.factors[0].value.high <= 15.2
