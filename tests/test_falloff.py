"""What the times of a run tell, against general libraries, closed forms and runs whose truth is known."""

import math
from itertools import combinations

import numpy as np
import pytest
from evidence import DERIVED, LIBRARY
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares
from scipy.stats import linregress

from ovalwright.study.falloff import HUBER, crossover, fade, huber_fit, summary

LAPS = np.arange(1.0, 16.0)
TIMES = np.array(
    [15.62, 15.48, 15.41, 15.43, 15.44, 15.46, 15.95, 15.49, 15.50, 15.53, 15.52, 15.55, 16.40, 15.58, 15.60]
)
"""Invented: two laps in traffic in a run that fades by 0.16 s in ten laps."""


def test_fall_off_is_the_median_of_all_pairs(check):
    found = fade(LAPS, TIMES)
    k, t = LAPS[2:], TIMES[2:]
    pairs = [(t[j] - t[i]) / (k[j] - k[i]) for i, j in combinations(range(len(k)), 2)]
    theil = "Theil 1950; Sen, J. Am. Stat. Assoc. 63, 1968: median of all pairs, worked out pair by pair"
    check(
        found.slope.value, np.median(pairs), rel=1e-12, unit="s/lap", of="fall-off with two laps in traffic",
        source=theil, kind=DERIVED, area="run",
    )  # fmt: skip
    check(
        found.per_ten.value, 0.155556, abs=5e-7, unit="s", of="fall-off per ten laps, its figure",
        source=theil, kind=DERIVED, area="run",
    )  # fmt: skip
    check(
        [found.slope.low, found.slope.high], [0.014, 0.018], abs=1e-9, unit="s/lap",
        of="95 % band of the fall-off", source="Sen's order statistics of the pairs, by hand", kind=DERIVED,
        area="run",
    )  # fmt: skip
    check(
        found.start, 15.38, abs=1e-9, unit="s", of="lap time at lap 0 by the fade",
        source="median of the laps less slope times their median number", kind=DERIVED, area="run",
    )  # fmt: skip
    check.trap(
        found.slope.value, linregress(k, t).slope, apart=0.4, unit="s/lap", of="least squares over traffic",
        source="SciPy linregress on the same laps", kind=LIBRARY, area="run",
    )  # fmt: skip


def test_huber_fit_is_that_of_a_general_optimizer(check):
    k, t = LAPS[2:], TIMES[2:]
    general = least_squares(
        lambda p: p[0] + p[1] * k - t,
        [15.0, 0.0],
        loss="huber",
        f_scale=0.03,
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    ours, cost = huber_fit(np.column_stack([np.ones(len(k)), k])[None], t, 0.03 / HUBER)
    check(
        ours[0], general.x, rel=1e-7, of="start and slope of a robust line (s, s/lap)",
        source="SciPy least_squares, Huber loss of 0.03 s", kind=LIBRARY, area="run",
    )  # fmt: skip
    check(
        cost[0] * (0.03 / HUBER) ** 2, 2.0 * general.cost, rel=1e-9, of="its cost (s^2)",
        source="SciPy least_squares, Huber loss of 0.03 s", kind=LIBRARY, area="run",
    )  # fmt: skip
    check(
        ours[0], [15.36709786, 0.01579303], rel=1e-6, of="the same, its figures",
        source="Huber, Ann. Math. Stat. 35, 1964, by two optimizers", kind=DERIVED, area="run",
    )  # fmt: skip


def heated_run(laps=40):
    """Lap times [s] of one node of rubber that heats, wears and loses grip, by an explicit integrator."""

    def grip(heat, tread):
        return 1.10 * (1.0 - 0.10 * ((heat - 95.0) / 60.0) ** 2) * (1.0 - 0.12 * (1.0 - tread / 5.0))

    def rates(_, y):
        power = 8200.0 * (1.10 / grip(y[0], y[1])) ** 3
        wear = -(2.2e-4 / 60.0) * (power / 1000.0) * math.exp((y[0] - 95.0) / 40.0)
        return [(power - 95.0 * (y[0] - 25.0)) / 12_000.0, wear, math.sqrt(grip(y[0], y[1]) / 1.10) / 15.0]

    def line(n):
        crossed = lambda _, y: y[2] - n  # noqa: E731
        crossed.terminal = n == laps
        return crossed

    run = solve_ivp(
        rates, (0.0, 900.0), [25.0, 5.0, 0.0], method="DOP853", rtol=1e-11, atol=1e-11,
        events=[line(n) for n in range(1, laps + 1)],
    )  # fmt: skip
    return np.diff([0.0, *(event[0] for event in run.t_events)])


def test_summary_of_a_run_with_heat_and_wear(check):
    times = heated_run()
    told = summary(range(1, 41), times)
    source = "one node with heat and wear, DOP853 to 1e-12, integrated by lap"
    for ours, expected, what in [
        (told.best, 15.00076, "best lap"),
        (told.total, 603.46794, "forty laps"),
        (told.early, float(np.mean(times[2:7])), "mean of laps 3 to 7"),
    ]:
        check(ours, expected, abs=2e-4, unit="s", of=what, source=source, kind=DERIVED, area="run")
    check(told.best_lap, 13, abs=0, of="the lap of the best", source=source, kind=DERIVED, area="run")
    assert told.fade.first > 10
    assert told.fade.goes_away is None


# ---------------- runs whose truth is known


def run(dice, laps=30, scatter=0.08, slope=0.02, bend=0.0, at=20, coming=2.0, growing=0.0, follows=0.0):
    """An invented run: tires that come in, a fade, a lap in ten in traffic that nobody flagged."""
    k = np.arange(1.0, laps + 1)
    noise = dice.normal(0.0, 1.0, laps)
    for i in range(1, laps):
        noise[i] = follows * noise[i - 1] + math.sqrt(1.0 - follows**2) * noise[i]
    t = (
        15.4
        + slope * k
        + 0.25 * np.exp(-(k - 1.0) / coming)
        + bend * np.maximum(k - at, 0.0)
        + growing * k**2
    )
    return k, t + scatter * noise + (dice.random(laps) < 0.1) * dice.exponential(0.4, laps)


@pytest.mark.parametrize("case", [{}, {"slope": 0.0}, {"scatter": 0.03}, {"coming": 4.0}, {"follows": 0.3}])
def test_a_run_that_fades_evenly_has_no_lap_when_it_goes_away(case):
    dice = np.random.default_rng(11)
    named = sum(fade(*run(dice, **case)).goes_away is not None for _ in range(40))
    assert named <= 2


def test_a_run_that_goes_away_is_named_and_its_lap_is_near():
    dice = np.random.default_rng(12)
    found = [fade(*run(dice, laps=40, bend=0.1, at=25)).goes_away for _ in range(25)]
    laps = [one.lap for one in found if one is not None]
    assert len(laps) >= 15
    assert np.abs(np.array(laps) - 25).max() <= 6


def test_tires_that_come_in_are_no_part_of_the_fall_off(check):
    dice = np.random.default_rng(15)
    slopes = [fade(*run(dice, coming=4.0, scatter=0.03)).slope.value for _ in range(30)]
    check(
        np.mean(slopes), 0.02, abs=0.0015, unit="s/lap",
        of="fall-off of tires that take 4 laps to come in, mean of 30 runs",
        source="the runs were made with it", kind=DERIVED, area="run",
    )  # fmt: skip


def test_the_band_of_the_fall_off_holds_the_truth():
    dice = np.random.default_rng(13)
    bands = [fade(*run(dice)).slope for _ in range(120)]
    assert 0.89 <= np.mean([band.low <= 0.02 <= band.high for band in bands]) <= 0.99


@pytest.mark.proof
@pytest.mark.parametrize(
    "case", [{}, {"scatter": 0.03}, {"coming": 4.0}, {"follows": 0.3}, {"growing": 0.0012}]
)
def test_how_often_a_run_without_a_break_is_said_to_go_away(case):
    dice = np.random.default_rng(14)
    named = np.mean([fade(*run(dice, **case)).goes_away is not None for _ in range(1000)])
    print(case, f"{100 * named:.1f} % named")
    assert named <= (0.05 if "growing" in case else 0.025)


def test_yellows_and_a_lap_behind_the_wreck_do_not_count():
    k, t = run(np.random.default_rng(3), scatter=0.05)
    green = np.ones(30, dtype=bool)
    clean = summary(k, t, green)
    slow = t.copy()
    green[11:15], slow[11:15] = False, 38.0
    slow[15] = 21.0
    told = summary(k, slow, green)
    assert told.fade.goes_away is None
    assert told.fade.slope.value == pytest.approx(clean.fade.slope.value, abs=0.006)
    assert told.at_speed == 25
    assert told.total == pytest.approx(slow.sum())


# ---------------- two runs


def test_where_one_run_overtakes_the_other(check):
    k = np.arange(1.0, 41.0)
    a, b = 15.30 + 0.020 * k, 15.48 + 0.008 * k
    told = crossover(a, b)
    source = "two straight fades: quicker past (a2-a1)/(b1-b2), ahead past twice that less one"
    quicker, ahead = 0.18 / 0.012, 2 * 0.18 / 0.012 - 1
    for ours, level, what in [(told.quicker, quicker, "quicker"), (told.ahead, ahead, "ahead")]:
        expected = math.floor(level + 1e-9) + 1
        of = f"lap from which B is {what}"
        check(ours, expected, abs=0, of=of, source=source, kind=DERIVED, area="run")
    lead = crossover(a[:30], b[:30]).lead
    check(lead, 0.18, abs=1e-9, unit="s", of="B's lead on lap 30", source=source, kind=DERIVED, area="run")


def test_a_run_that_never_catches_up():
    assert crossover([15.0] * 5, [15.1] * 5).ahead is None
    assert crossover([15.0] * 5, [14.9] * 5).quicker == 1
    with pytest.raises(ValueError, match="both have"):
        crossover([15.0, math.nan], [15.0, 15.0])


# ---------------- unusual inputs


def test_too_few_laps_say_how_many_are_needed():
    told = summary([1, 2, 3], [15.6, 15.5, 15.4])
    assert told.fade is None
    assert "needs 6 laps" in told.why
    with pytest.raises(ValueError, match="no lap of the run is green"):
        summary([1, 2], [15.6, 15.5], [False, False])


@given(
    times=st.lists(st.floats(3.0, 600.0), min_size=1, max_size=25),
    flags=st.lists(st.booleans(), min_size=25, max_size=25),
)
def test_any_run_has_a_summary_of_finite_numbers(times, flags):
    green = flags[: len(times)]
    green[0] = True
    told = summary(range(1, len(times) + 1), times, green)
    assert math.isfinite(told.best)
    assert math.isfinite(told.total)
    if told.fade is not None:
        assert told.fade.slope.low <= told.fade.slope.value <= told.fade.slope.high


def test_the_same_time_on_every_lap_is_an_even_fade():
    told = summary(range(1, 31), [15.5] * 30)
    assert (told.fade.shape, told.fade.slope.value) == ("even", 0.0)
    assert told.fade.scatter == pytest.approx(0.0, abs=1e-9)
