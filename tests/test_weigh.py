"""The car on the scales: percents, bite, CG in plan, the driver, bands, and faults of a weighing."""

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED, FROM_MEMORY, READ
from fuzz_documents import DEMO
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.constants import inch, pound

from ovalwright.corners import CORNERS
from ovalwright.documents import Car, Sheet
from ovalwright.study.other_scale import match_scales, scale_fault
from ovalwright.study.scale_faults import moved_mass_fault, pad_swap, repeat_fault, sum_fault
from ovalwright.study.scale_sheet import read_sheet, weights_of
from ovalwright.study.weigh import (
    PERCENTS,
    WEIGHTS,
    CornerWeights,
    Footprint,
    PadError,
    by_difference,
    estimate,
    weigh,
)

EXAM = "Council of Engineers Thailand, exam bank Dynamics of Vehicles"
MILLIKEN = "Milliken & Milliken, Race Car Vehicle Dynamics, ch. 18"
LB_PER_IN = 175.12683524647636  # N/m, NIST SP 811
CAR = Footprint(wheelbase=105 * inch, tread_front=66 * inch, tread_rear=64 * inch)
SQUARE = Footprint(wheelbase=105 * inch, tread_front=64 * inch, tread_rear=64 * inch)


def pads(lf: float, rf: float, lr: float, rr: float) -> CornerWeights:
    """Four readings in pounds."""
    return CornerWeights(LF=lf * pound, RF=rf * pound, LR=lr * pound, RR=rr * pound)


SHEET = pads(760, 640, 840, 560)
loads = st.floats(50.0, 2000.0).map(lambda pounds: pounds * pound)
any_weights = st.builds(CornerWeights, LF=loads, RF=loads, LR=loads, RR=loads)
lengths = st.floats(40.0, 120.0).map(lambda inches: inches * inch)
any_footprint = st.builds(
    Footprint,
    wheelbase=lengths,
    tread_front=lengths,
    tread_rear=lengths,
    rear_offset=st.floats(-5.0, 5.0).map(lambda inches: inches * inch),
)


# ---------------------------------------------------------------------------------------------- what is read


@pytest.mark.parametrize(
    ("front", "rear", "wheelbase", "from_front", "question"),
    [(5.5, 4.5, 2.5, 1.125, "Q1"), (6.0, 4.0, 2.7, 2.7 - 1.62, "Q2")],
)
def test_cg_along_the_car(check, front, rear, wheelbase, from_front, question):
    footprint = Footprint(wheelbase=wheelbase, tread_front=1.5, tread_rear=1.5)
    weights = CornerWeights(LF=front / 2, RF=front / 2, LR=rear / 2, RR=rear / 2)
    check(
        -weigh(weights, footprint).cg_x.value,
        from_front,
        rel=1e-12,
        unit="m",
        of="CG behind the front axle",
        source=f"{EXAM}, {question}",
        kind=READ,
        area="weighing",
    )


def test_cross_is_rf_and_lr_over_total(check):
    source = "J. Hotchkis, Maximizing suspension performance, magazine article, June 2011"
    check(
        SHEET.get("cross_percent"),
        (640 + 840) / 2800,
        rel=1e-12,
        of="cross weight of a worked sheet",
        source=source,
        kind=READ,
        area="weighing",
    )
    check.trap(
        SHEET.get("cross_percent"),
        (760 + 560) / 2800,
        of="cross weight read on the other diagonal",
        source=source,
        kind=READ,
        area="weighing",
    )


def test_worked_sheet(check):
    told = weigh(SHEET, CAR)
    rows = {
        "left percent": (told.left_percent.value, 0.57142857, ""),
        "rear percent": (told.rear_percent.value, 0.5, ""),
        "wedge": (told.wedge.value / pound, 160.0, "lb"),
        "bite": (told.bite.value / pound, 280.0, "lb"),
        "CG behind front axle": (-told.cg_x.value / inch, 52.5, "in"),
        "CG left of middle, unequal treads": (told.cg_y.value / inch, 4.614286, "in"),
    }
    for of, (ours, expected, unit) in rows.items():
        check(
            ours,
            expected,
            rel=1e-6,
            unit=unit,
            of=of,
            source="worked by hand from the definitions",
            kind=DERIVED,
            area="weighing",
        )


def test_lateral_cg_of_milliken(check):
    """Their lateral place is measured rightward from the left rear wheel; treads centered on each other."""
    step = (66.0 - 64.0) / 2.0
    from_left_rear = (640 * (66 - step) - 760 * step + 560 * 64) / 2800
    check(
        weigh(SHEET, CAR).cg_y.value / inch,
        32.0 - from_left_rear,
        rel=1e-9,
        unit="in",
        of="lateral CG with unequal treads",
        source=f"{MILLIKEN}, lateral CG location",
        kind=FROM_MEMORY,
        area="weighing",
    )


def test_bite_does_not_depend_on_rear_percent(check):
    source = "common practice: bite = total (left + cross - 1)"
    for rear in (0.46, 0.50, 0.54):
        weights = CornerWeights.from_percents(total=2800 * pound, left=0.57, rear=rear, cross=0.54)
        check(
            weights.get("bite") / pound,
            308.0,
            rel=1e-9,
            unit="lb",
            of=f"bite at 57 % left, 54 % cross, {100 * rear:.0f} % rear",
            source=source,
            kind=COMMON_PRACTICE,
            area="weighing",
        )
    one_more = CornerWeights.from_percents(total=2800 * pound, left=0.57, rear=0.5, cross=0.55)
    before = CornerWeights.from_percents(total=2800 * pound, left=0.57, rear=0.5, cross=0.54)
    check(
        (one_more.loads - before.loads) / pound,
        [-14.0, 14.0, 14.0, -14.0],
        abs=1e-9,
        unit="lb",
        of="one percent of cross on 2800 lb",
        source="common practice, shared out by hand",
        kind=COMMON_PRACTICE,
        area="weighing",
    )


@given(any_weights)
def test_percents_and_sums_close(weights):
    assert weights.get("left_weight") + weights.get("right_weight") == pytest.approx(weights.total)
    assert weights.get("front_percent") + weights.get("rear_percent") == pytest.approx(1.0)
    assert weights.get("wedge") == pytest.approx(2 * weights.get("cross_weight") - weights.total, abs=1e-9)
    back = CornerWeights.from_percents(
        total=weights.total,
        left=weights.get("left_percent"),
        rear=weights.get("rear_percent"),
        cross=weights.get("cross_percent"),
    )
    assert back.loads == pytest.approx(weights.loads, abs=1e-8)


@given(any_weights, any_footprint)
def test_a_mass_at_the_cg_with_the_same_cross_stands_as_weighed(weights, footprint):
    told = weigh(weights, footprint)
    stood = footprint.stand(
        mass=weights.total, x=told.cg_x.value, y=told.cg_y.value, cross_percent=weights.get("cross_percent")
    )
    assert stood == pytest.approx(weights.loads, rel=1e-9, abs=1e-7)


@given(any_weights, any_footprint)
def test_mirrored_car_has_its_cg_mirrored(weights, footprint):
    mirrored = CornerWeights(LF=weights.RF, RF=weights.LF, LR=weights.RR, RR=weights.LR)
    other = Footprint(
        wheelbase=footprint.wheelbase,
        tread_front=footprint.tread_front,
        tread_rear=footprint.tread_rear,
        rear_offset=-footprint.rear_offset,
    )
    assert weigh(mirrored, other).cg_y.value == pytest.approx(
        -weigh(weights, footprint).cg_y.value, abs=1e-12
    )
    assert weigh(mirrored, other).cg_x == pytest.approx(weigh(weights, footprint).cg_x)


@given(any_weights, st.floats(1.0, 100.0))
def test_weight_on_the_left_rear_raises_left_rear_cross_and_bite(weights, more):
    heavier = CornerWeights(LF=weights.LF, RF=weights.RF, LR=weights.LR + more, RR=weights.RR)
    for quantity in ("total_weight", "left_percent", "rear_percent", "cross_percent", "bite", "wedge"):
        assert heavier.get(quantity) > weights.get(quantity)


def test_readings_that_are_no_car_are_refused_in_a_sentence():
    with pytest.raises(ValueError, match="LR reads nan: give its load as a finite number"):
        CornerWeights(LF=1.0, RF=1.0, LR=float("nan"), RR=1.0)
    with pytest.raises(ValueError, match=r"sum to 0\.0 lb: a car's total must be above zero"):
        weigh(pads(0, 0, 0, 0), CAR)
    with pytest.raises(ValueError, match="'nose' is not weighed; choose from total"):
        SHEET.get("nose")


# ----------------------------------------------------------------------------------------------------- bands


def test_cross_band_from_pad_noise(check):
    weights = CornerWeights.from_percents(total=2800 * pound, left=0.57, rear=0.5, cross=0.54)
    noise = PadError(gain=0.0, reading=2 * pound, bind=0.0)
    check(
        100 * estimate("cross_percent", weights, CAR, noise).sd,
        0.071657,
        rel=1e-5,
        unit="%",
        of="spread of cross, 2 lb on each pad, 2800 lb, 54 % cross",
        source="variance of a ratio, sqrt(2 (1-X)^2 + 2 X^2) s / W",
        kind=DERIVED,
        area="bands",
    )


def test_bands_of_a_weighing_against_simulated_weighings(check):
    told = weigh(SHEET, CAR, tape=0.0)
    error = PadError()
    draw = np.random.default_rng(5).normal(size=(200_000, 9))
    true = SHEET.loads
    read = true * (1 + error.gain * draw[:, :4]) + error.reading * draw[:, 4:8]
    read = read + error.bind * draw[:, 8:] * np.array([1, -1, -66 / 64, 66 / 64])
    total = read.sum(axis=1)
    simulated = {
        "total": total,
        "left_percent": (read[:, 0] + read[:, 2]) / total,
        "rear_percent": (read[:, 2] + read[:, 3]) / total,
        "cross_percent": (read[:, 1] + read[:, 2]) / total,
        "bite": read[:, 2] - read[:, 3],
        "wedge": read[:, 1] + read[:, 2] - read[:, 0] - read[:, 3],
        "cg_x": -105 * inch * (read[:, 2] + read[:, 3]) / total,
        "cg_y": (33 * (read[:, 0] - read[:, 1]) + 32 * (read[:, 2] - read[:, 3])) * inch / total,
    }
    for name, drawn in simulated.items():
        check(
            getattr(told, name).sd / drawn.std(),
            1.0,
            abs=0.01,
            of=f"spread of {name} over that of 200,000 simulated weighings",
            source="simulated weighings, NumPy random generator",
            kind=DERIVED,
            area="bands",
        )


@given(any_weights, any_footprint)
def test_bind_spoils_cross_but_not_total_and_place(weights, footprint):
    bound, free = (PadError(bind=bind * pound) for bind in (20.0, 0.0))
    loose, tight = weigh(weights, footprint, bound), weigh(weights, footprint, free)
    assert loose.cross_percent.sd > tight.cross_percent.sd
    for name in ("total", "cg_x", "cg_y"):
        assert getattr(loose, name).sd == pytest.approx(getattr(tight, name).sd, rel=1e-6)


# ---------------------------------------------------------------------------------------------------- driver


@given(any_weights, any_footprint, st.floats(40.0, 140.0), st.floats(-2.5, 0.0), st.floats(-0.6, 0.6))
def test_driver_is_found_where_he_sits(weights, footprint, mass, x, y):
    car = footprint.stand(mass=weights.total, x=-1.3, y=0.1, cross_percent=0.52)
    driver = footprint.stand(mass=mass, x=x, y=y, cross_percent=0.47)
    found = by_difference(
        having=CornerWeights.of(car + driver), without=CornerWeights.of(car), footprint=footprint
    )
    assert found.mass.value == pytest.approx(mass, rel=1e-8)
    assert found.x.value == pytest.approx(x, abs=1e-7)
    assert found.y.value == pytest.approx(y, abs=1e-7)


def test_driver_bands_against_simulated_weighings(check):
    seat = CAR.stand(mass=195 * pound, x=-62 * inch, y=14 * inch, cross_percent=0.45)
    car = SHEET.loads
    found = by_difference(having=CornerWeights.of(car + seat), without=SHEET, footprint=CAR, tape=0.0)
    error = PadError()
    draw = np.random.default_rng(7).normal(size=(200_000, 14))
    gain = 1 + error.gain * draw[:, :4]
    pattern = np.array([1, -1, -66 / 64, 66 / 64])
    having = (car + seat) * gain + error.reading * draw[:, 4:8] + error.bind * draw[:, 12:13] * pattern
    without = car * gain + error.reading * draw[:, 8:12] + error.bind * draw[:, 13:14] * pattern
    change = having - without
    total = change.sum(axis=1)
    for name, drawn in {
        "mass": total,
        "x": -105 * inch * (change[:, 2] + change[:, 3]) / total,
        "y": (33 * (change[:, 0] - change[:, 1]) + 32 * (change[:, 2] - change[:, 3])) * inch / total,
    }.items():
        check(
            getattr(found, name).sd / drawn.std(),
            1.0,
            abs=0.01,
            of=f"spread of the driver's {name} over that of 200,000 simulated pairs of weighings",
            source="simulated weighings, NumPy random generator",
            kind=DERIVED,
            area="bands",
        )


def test_driver_lighter_than_nothing_is_refused():
    with pytest.raises(ValueError, match=r"2,800\.0 lb with and 2,995\.0 lb without: the first must be"):
        by_difference(having=SHEET, without=pads(795, 690, 890, 620), footprint=CAR)


# ---------------------------------------------------------------------------------------------------- faults


def test_sum_fault():
    assert sum_fault(SHEET, 2801 * pound) is None
    fault = sum_fault(SHEET, 2810 * pound)
    assert fault is not None
    assert fault.amount == pytest.approx(-10 * pound)
    assert "sum to 2,800.0 lb but the scale shows 2,810.0 lb, 10.0 lb apart" in fault.sentence


def test_repeat_within_six_pounds_is_accepted():
    assert repeat_fault([SHEET, pads(763, 637, 837, 563)], CAR) is None
    with pytest.raises(ValueError, match="give at least two weighings"):
        repeat_fault([SHEET], CAR)


@pytest.mark.parametrize(
    ("again", "says"),
    [((770, 630, 830, 570), "roll off and on again"), ((760, 640, 852, 560), "look for what changed")],
)
def test_repeat_fault_tells_bind_from_a_change(again, says):
    fault = repeat_fault([SHEET, SHEET, pads(*again)], SQUARE)
    assert fault is not None
    assert says in fault.sentence


@given(st.floats(0.9, 1.1), st.sampled_from(CORNERS), st.sampled_from(CORNERS))
def test_pad_swap_finds_the_factor_and_the_car(factor, first, second):
    assume(first != second)
    i, j = CORNERS.index(first), CORNERS.index(second)
    before, after = SHEET.loads.copy(), SHEET.loads.copy()
    before[i] *= factor
    after[j] *= factor
    swap = pad_swap(
        before=CornerWeights.of(before),
        after=CornerWeights.of(after),
        first=first,
        second=second,
        footprint=CAR,
    )
    assert swap.ratio.value == pytest.approx(factor, rel=1e-12)
    assert swap.if_first_is_off.loads == pytest.approx(SHEET.loads)
    assert (swap.fault is None) == (abs(factor - 1) < 2 * np.hypot(swap.ratio.sd, np.sqrt(2) * 0.001))


def test_pad_swap_sentence_and_refusals():
    swap = pad_swap(
        before=pads(775.2, 640, 840, 560),
        after=pads(760, 652.8, 840, 560),
        first="LF",
        second="RF",
        footprint=CAR,
    )
    assert swap.fault is not None
    assert "first under LF reads 2.00 % more than the pad first under RF" in swap.fault.sentence
    with pytest.raises(ValueError, match="name two corners that both read above zero"):
        pad_swap(before=SHEET, after=SHEET, first="LF", second="LF", footprint=CAR)


def test_pad_swap_band_against_simulated_swaps(check):
    error = PadError(reading=2 * pound)
    draw = np.random.default_rng(11).normal(size=(2, 100_000, 5))
    pattern = np.array([1, -1, -66 / 64, 66 / 64])
    before, after = SHEET.loads + error.reading * draw[..., :4] + error.bind * draw[..., 4:] * pattern
    ratio = np.sqrt(before[:, 0] / after[:, 0] * after[:, 1] / before[:, 1])
    check(
        pad_swap(before=SHEET, after=SHEET, first="LF", second="RF", footprint=CAR, pads=error).ratio.sd
        / ratio.std(),
        1.0,
        abs=0.01,
        of="spread of a pad's factor over that of 100,000 simulated swaps",
        source="simulated weighings, NumPy random generator",
        kind=DERIVED,
        area="bands",
    )


def test_jack_bolts_cannot_move_left_percent():
    turned = SHEET.loads + 60 * pound * CAR.jacking
    assert moved_mass_fault(CAR, before=SHEET, after=CornerWeights.of(turned)) is None
    shifted = turned + np.array([6, -6, 6, -6]) * pound
    fault = moved_mass_fault(CAR, before=SHEET, after=CornerWeights.of(shifted))
    assert fault is not None
    assert fault.sentence.startswith("Left moved by 0.4")
    assert fault.amount == pytest.approx(12 / 2800, rel=0.01)
    heavier = moved_mass_fault(CAR, before=SHEET, after=pads(765, 645, 845, 565))
    assert heavier is not None
    assert heavier.sentence.startswith("Total moved by 20.0 lb")


# ---------------------------------------------------------------------------- shop scale against track scale


def test_scales_that_agree_are_no_fault():
    match = match_scales([(SHEET, pads(761, 639, 840, 561))], CAR)
    assert scale_fault(match, SHEET) is None


def test_scale_that_reads_left_high_is_found():
    truth = np.array([1.01, 1.0, 1.01, 1.0])
    cars = [SHEET, pads(700, 600, 780, 520), pads(820, 690, 900, 600)]
    match = match_scales([(car, CornerWeights.of(car.loads * truth)) for car in cars], CAR)
    fault = scale_fault(match, SHEET)
    assert fault is not None
    assert "shows left 57.14 %, the other will show 57.39 %" in fault.sentence
    expected = CornerWeights.of(SHEET.loads * truth)
    assert match.expect("left_percent", SHEET).value == pytest.approx(expected.get("left_percent"), abs=2e-5)


def test_a_car_set_on_the_other_scale_too_says_what_that_will_show():
    ours, car = Sheet.load(DEMO / "sheet_conventional.toml"), Car.load(DEMO / "car.toml")
    theirs = ours.changed({f"{one}.weight": f"{1.02 * weights_of(ours).get(one)} kg" for one in CORNERS})
    (fault,) = read_sheet(ours, car, on_other_scale=theirs).faults
    assert "the other will show" in fault.sentence
    assert fault.amount == pytest.approx(0.02 * weights_of(ours).total, rel=0.1)
    assert read_sheet(ours, car, on_other_scale=ours).faults == ()


def test_scale_match_bands_hold_the_truth(check):
    """Scales drawn from the starting spread, three cars on both: 95 % bands hold 95 % of the truths."""
    rng, error = np.random.default_rng(3), PadError(gain=0.0)
    noise = error.covariance(np.zeros(4), CAR, weighings=2)
    cars = [SHEET, pads(700, 600, 780, 520), pads(820, 690, 900, 600)]
    held, trials = 0, 1500
    for _ in range(trials):
        factor, offset = 1 + 0.05 * rng.normal(size=4), 5 * pound * rng.normal(size=4)
        shown = rng.multivariate_normal(np.zeros(4), noise, size=len(cars))
        pairs = [
            (car, CornerWeights.of(car.loads * factor + offset + s))
            for car, s in zip(cars, shown, strict=True)
        ]
        z = [
            (factor[i] - match.value) / match.sd
            for i, match in enumerate(match_scales(pairs, CAR, error).factors.values())
        ]
        held += int(np.sum(np.abs(z) < 1.959964))
    check.between(
        held / (4 * trials),
        0.94,
        0.96,
        of="share of true pad factors inside their 95 % bands",
        source="simulated scales, NumPy random generator",
        kind=DERIVED,
        area="bands",
    )


def test_more_cars_narrow_the_match():
    one = match_scales([(SHEET, SHEET)], CAR).expect("left_percent", SHEET).sd
    many = match_scales([(SHEET, SHEET)] * 4, CAR).expect("left_percent", SHEET).sd
    assert many < one
    with pytest.raises(ValueError, match="no car was weighed on both scales"):
        match_scales([], CAR)


def test_quantity_names_are_one_list():
    assert set(PERCENTS.values()) <= set(WEIGHTS)
