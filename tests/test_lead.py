"""Lead: what a piece does to the percents, legality, the plan at start and flag, and what cannot be kept."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from evidence import COMMON_PRACTICE, DERIVED
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.constants import inch, pound

from ovalwright.study.lead import (
    Bolted,
    LeadJob,
    Lump,
    Margin,
    Piece,
    Spot,
    State,
    Want,
    bare_car,
    center,
    less,
    rubber_gone,
    what_if_moved,
    with_lead,
)
from ovalwright.study.lead_plan import plan_lead
from ovalwright.study.verdicts import Limit, judge
from ovalwright.study.weigh import CornerWeights, Footprint, PadError

CAR = Footprint(wheelbase=105 * inch, tread_front=66 * inch, tread_rear=64 * inch)
FUEL = Lump(mass=90 * pound, x=-131 * inch, y=4 * inch, z=12 * inch)
START = State(name="start", cross=0.53)
FLAG = State(
    name="flag",
    cross=0.53,
    gone=(FUEL, *rubber_gone([m * pound for m in (0.2, 0.4, 0.2, 0.4)], CAR, height=13 * inch)),
    laps=50,
)
LEAST = Limit(of="total_weight", is_="at least", value=2800 * pound)
LEFT = Limit(of="left_percent", is_="at most", value=0.58)
REAR_LOW = Limit(of="rear_percent", is_="at least", value=0.48)
REAR_HIGH = Limit(of="rear_percent", is_="at most", value=0.51)


def spot(name: str, x: float, y: float, z: float = 7.0, most: float = 200.0) -> Spot:
    """A spot in inches and pounds."""
    return Spot(id=name, x=x * inch, y=y * inch, z=z * inch, most=most * pound)


def grid(rng: np.random.Generator, count: int) -> tuple[Spot, ...]:
    return tuple(
        spot(
            f"spot {i}",
            rng.uniform(-120, -10),
            rng.choice([1, 1, 1, -1]) * rng.uniform(10, 32),
            rng.uniform(5, 12),
            rng.choice([50, 75, 100, 150]),
        )
        for i in range(count)
    )


def pieces(*masses: float) -> tuple[Piece, ...]:
    return tuple(Piece(id=f"piece {i}", mass=mass * pound) for i, mass in enumerate(masses))


def make_job(bare: float, lead: tuple[Piece, ...], spots: tuple[Spot, ...], **change) -> LeadJob:
    usual = {
        "bare": Lump(mass=bare * pound, x=-51 * inch, y=3.2 * inch, z=15.5 * inch),
        "footprint": CAR,
        "pieces": lead,
        "spots": spots,
        "limits": (LEAST, LEFT, REAR_LOW, REAR_HIGH),
        "states": (START, FLAG),
    }
    return LeadJob(**{**usual, **change})


TRADE = pieces(*[5] * 15, *[10] * 15, *[20] * 15, *[25] * 15)
FEW = (
    spot("left rail front", -25, 26),
    spot("left rail rear", -80, 27),
    spot("right rail", -60, -24),
    spot("behind the axle", -118, 5, 11),
)


# --------------------------------------------------------------------------------------- what a piece does


def test_fifty_pounds_by_hand(check):
    """50 lb at x -30, y 25 in on a 2800 lb car at x -52.5, y 4.6 in: moments over the new total."""
    job = replace(
        make_job(2800, pieces(50), (spot("rail", -30, 25),), states=(START,)),
        bare=Lump(mass=2800 * pound, x=-52.5 * inch, y=4.6 * inch, z=15.5 * inch),
    )
    told = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    cg = told.cg["start"]
    for of, ours, expected in (
        ("CG along the car", cg.x, -(2800 * 52.5 + 50 * 30) / 2850),
        ("CG across the car", cg.y, (2800 * 4.6 + 50 * 25) / 2850),
        ("CG height", cg.z, (2800 * 15.5 + 50 * 7) / 2850),
    ):
        check(
            ours / inch,
            expected,
            rel=1e-12,
            unit="in",
            of=f"{of} after 50 lb of lead",
            source="moments by hand",
            kind=DERIVED,
            area="lead",
        )
    check(
        told.weights["start"].get("rear_percent"),
        (2800 * 52.5 + 50 * 30) / 2850 / 105,
        rel=1e-12,
        of="rear percent after 50 lb of lead",
        source="moments by hand",
        kind=DERIVED,
        area="lead",
    )


def test_moving_a_piece_across_the_car_with_equal_treads(check):
    """Weight moved over a distance: share of the total times distance over tread."""
    square = Footprint(wheelbase=105 * inch, tread_front=64 * inch, tread_rear=64 * inch)
    job = make_job(
        2750, pieces(50), (spot("left", -60, 25), spot("right", -60, -25)), footprint=square, states=(START,)
    )
    left = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    right = what_if_moved(job, left.bolted, piece="piece 0", to="right")
    moved = left.weights["start"].get("left_percent") - right.weights["start"].get("left_percent")
    check(
        100 * moved,
        100 * 50 / 2800 * 50 / 64,
        rel=1e-9,
        unit="%",
        of="left percent, 50 lb moved 50 in across a 2800 lb car of 64 in tread",
        source="mass times distance over total times tread",
        kind=DERIVED,
        area="lead",
    )


def test_fuel_burned_behind_the_axle_takes_rear_and_left_with_it(check):
    job = make_job(2800, (), FEW)
    told = with_lead(job, [])
    start, flag = told.weights["start"], told.weights["flag"]
    check.fact(
        flag.get("rear_percent") < start.get("rear_percent") - 0.015,
        of="90 lb of fuel behind the axle takes more than 1.5 % of rear with it",
        source="fuel load and rear percent",
        kind=COMMON_PRACTICE,
        area="lead",
    )
    gone = center([job.bare, less(FUEL), *(less(lump) for lump in FLAG.gone[1:])])
    check(
        flag.total / pound,
        2800 - 90 - 1.2,
        rel=1e-9,
        unit="lb",
        of="total at the flag, 90 lb of fuel and 1.2 lb of rubber gone",
        source="sum by hand",
        kind=DERIVED,
        area="lead",
    )
    assert -gone.x / CAR.wheelbase == pytest.approx(flag.get("rear_percent"))


@given(st.floats(5.0, 100.0), st.floats(-120.0, 0.0), st.floats(-32.0, 32.0))
def test_bare_car_is_the_car_without_its_lead(mass, x, y):
    job = make_job(2700, pieces(mass), (spot("there", x, y),), states=(START,))
    told = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    bare = bare_car(told.weights["start"], CAR, cg_height=told.cg["start"].z, bolted=told.bolted)
    for part in ("mass", "x", "y", "z"):
        assert getattr(bare, part) == pytest.approx(getattr(job.bare, part), abs=1e-8)


@given(st.floats(-30.0, 30.0), st.floats(0.5, 5.0))
def test_left_percent_rises_as_a_piece_goes_left(y, step):
    job = make_job(2700, pieces(60), (spot("here", -60, y), spot("further left", -60, y + step)))
    here = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    left = what_if_moved(job, here.bolted, piece="piece 0", to="further left")
    for state in ("start", "flag"):
        assert left.weights[state].get("left_percent") > here.weights[state].get("left_percent")
        assert left.weights[state].get("rear_percent") == pytest.approx(
            here.weights[state].get("rear_percent")
        )


def test_a_piece_taken_off_and_names_that_do_not_exist():
    job = make_job(2700, pieces(60), FEW)
    here = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    assert what_if_moved(job, here.bolted, piece="piece 0", to=None).lead == 0
    with pytest.raises(ValueError, match='no piece of lead is called "brick"; there are piece 0'):
        what_if_moved(job, here.bolted, piece="brick", to=None)
    with pytest.raises(
        ValueError, match='no spot for lead is called "roof"; there are behind the axle, left'
    ):
        what_if_moved(job, here.bolted, piece="piece 0", to="roof")


def test_overload_and_piece_rules_are_said():
    light = Limit(of="lead_piece", is_="at most", value=50 * pound)
    low = Limit(of="lead_height", is_="at most", value=8 * inch)
    job = make_job(2700, pieces(60), (spot("shelf", -90, 10, 20, most=40),), limits=(light, low))
    told = with_lead(job, [Bolted(piece=job.pieces[0], spot=job.spots[0])])
    assert told.complaints == (
        "shelf carries 60.0 lb where 40.0 lb is the most it may.",
        "piece 0 at shelf: 60.0 lb where the book says lead piece at most 50.0 lb.",
        "piece 0 at shelf: 20.00 in where the book says lead height at most 8.00 in.",
    )


# ------------------------------------------------------------------------------------------------ legality


def test_right_side_minimum_is_a_left_percent(check):
    """A book with 3,100 lb and 1,375 lb on the right allows no more than 55.6 % left."""
    least_right = Limit(of="right_weight", is_="at least", value=1375 * pound)
    for left, legal in ((0.556, True), (0.557, False)):
        weights = CornerWeights.from_percents(total=3100 * pound, left=left, rear=0.5, cross=0.52)
        check.fact(
            judge({"start": weights}, [least_right], CAR)[0].legal is legal,
            of=f"{100 * left:.1f} % left of 3100 lb is {'' if legal else 'not '}legal at 1375 lb right side",
            source="rule sheets with a right-side minimum",
            kind=COMMON_PRACTICE,
            area="rules",
        )


def test_a_pound_per_lap(check):
    least = Limit(of="total_weight", is_="at least", value=2700 * pound, per_lap=pound, tolerance=2 * pound)
    weights = CornerWeights.from_percents(total=2655 * pound, left=0.57, rear=0.5, cross=0.52)
    verdict = judge({"flag": weights}, [least], CAR, laps=50)[0]
    check(
        verdict.in_hand / pound,
        2655 - (2700 - 50 - 2),
        rel=1e-9,
        unit="lb",
        of="in hand at 2655 lb, 2700 lb less 1 lb a lap for 50 laps and 2 lb of tolerance",
        source="rule sheets with an allowance per lap",
        kind=COMMON_PRACTICE,
        area="rules",
    )


def test_a_verdict_names_what_the_book_allows():
    light = CornerWeights.from_percents(total=2732.1 * pound, left=0.57, rear=0.5, cross=0.53)
    book = Limit(
        of="total_weight", is_="at least", value=2755 * pound, per_lap=0.5 * pound, tolerance=3 * pound
    )
    heavy = Limit(of="left_percent", is_="at most", value=0.565, per_lap=0.5 * pound, tolerance=0.01)
    total, left = judge({"flag": light}, [book, heavy], CAR, laps=40)
    assert total.sentence == (
        "total weight at least 2,755.0 lb, less 3.0 lb of tolerance, less 20.0 lb for 40 laps: "
        "2,732.1 lb at the flag, inside by 0.1 lb."
    )
    assert left.sentence.startswith("left percent at most 56.50 %, plus 1.00 % of tolerance: 57.00 % at")
    (start,) = judge({"start": light}, [book], CAR)
    assert start.sentence.startswith("total weight at least 2,755.0 lb, less 3.0 lb of tolerance: 2,732.1 lb")


def test_verdicts_are_said_with_their_band():
    weights = CornerWeights.from_percents(total=2806 * pound, left=0.5798, rear=0.5, cross=0.53)
    total, left, later = judge(
        {"start": weights},
        [LEAST, LEFT, Limit(of="rear_percent", is_="at most", value=0.5, moment="flag")],
        CAR,
        pads=PadError(),
    )
    assert total.sentence.startswith(
        "total weight at least 2,800.0 lb: 2,806.0 lb at the start, inside by 6.0 lb, give or take "
    )
    assert "inside by 0.02 %, give or take" in left.sentence
    assert left.sentence.endswith("too close to call.")
    assert later.sentence == "rear percent at most 50.00 %: not weighed at the flag."
    with pytest.raises(ValueError, match="'wheelbase' is not weighed"):
        judge({"start": weights}, [Limit(of="wheelbase", is_="at most", value=2.7)], CAR)


def test_contradicting_books_are_answered_each():
    weights = CornerWeights.from_percents(total=2780 * pound, left=0.59, rear=0.5, cross=0.53)
    books = {
        "home": [LEAST, LEFT],
        "away": [
            Limit(of="total_weight", is_="at least", value=2750 * pound),
            Limit(of="left_percent", is_="at most", value=0.60),
        ],
    }
    told = {name: judge({"start": weights}, limits, CAR) for name, limits in books.items()}
    assert [v.legal for v in told["home"]] == [False, False]
    assert [v.legal for v in told["away"]] == [True, True]
    assert "outside by 20.0 lb" in told["home"][0].sentence


# ------------------------------------------------------------------------------------------------ the plan


def brute_force(job: LeadJob) -> float | None:
    """Least legal lead by trying everything."""
    best = None
    for where in itertools.product([None, *job.spots], repeat=len(job.pieces)):
        bolted = [Bolted(piece=p, spot=s) for p, s in zip(job.pieces, where, strict=True) if s is not None]
        told = with_lead(job, bolted)
        if all(v.legal for v in told.verdicts) and not told.complaints and (best is None or told.lead < best):
            best = told.lead
    return best


@pytest.mark.parametrize("seed", range(6))
def test_least_lead_is_what_trying_everything_finds(check, seed):
    rng = np.random.default_rng(seed)
    lead = pieces(*rng.integers(8, 60, 5))
    spots = tuple(
        spot(f"s{i}", rng.uniform(-110, -20), rng.uniform(-30, 30), rng.uniform(5, 12), 90) for i in range(3)
    )
    limits = (Limit(of="total_weight", is_="at least", value=2690 * pound, moment="flag"), LEFT, REAR_HIGH)
    job = make_job(2700, lead, spots, limits=limits)
    best, plan = brute_force(job), plan_lead(job)
    assert (best is None) == bool(plan.misses)
    if best is None:
        return
    assert plan.proven
    check(
        plan.outcome.lead / pound,
        best / pound,
        abs=0.5,
        unit="lb",
        of=f"least lead, five random pieces and three spots, draw {seed}",
        source="every combination tried",
        kind=DERIVED,
        area="lead",
    )


@pytest.mark.parametrize(("bare", "low", "high"), [(2320, 500, 650), (2680, 100, 250)])
@pytest.mark.parametrize("aim", ["least lead", "lowest CG", "wanted percents"])
def test_sixty_pieces_and_forty_spots(bare, low, high, aim):
    margin = Margin(weight=5 * pound, percent=0.001)
    job = make_job(bare, TRADE, grid(np.random.default_rng(1), 40), margin=margin)
    wants = [Want(of="left_percent", value=0.575), Want(of="rear_percent", value=0.484, state="flag")]
    plan = plan_lead(job, aim, wants=wants if aim == "wanted percents" else ())
    assert not plan.misses
    assert not plan.outcome.complaints
    assert low * pound < plan.outcome.lead < high * pound
    assert all(
        v.in_hand >= (0.001 - 1e-6 if "percent" in v.limit.of else 5 * pound - 1e-3)
        for v in plan.outcome.verdicts
    )
    used = [b.piece.id for b in plan.outcome.bolted]
    assert len(used) == len(set(used))
    if aim == "wanted percents":
        assert plan.outcome.weights["start"].get("left_percent") == pytest.approx(0.575, abs=0.001)
        assert plan.outcome.weights["flag"].get("rear_percent") == pytest.approx(0.484, abs=0.001)


def test_pieces_that_all_differ_still_make_a_legal_plan():
    rng = np.random.default_rng(4)
    job = make_job(2320, pieces(*rng.uniform(3, 30, 60).round(1)), grid(rng, 40))
    plan = plan_lead(job)
    assert not plan.misses
    assert not plan.outcome.complaints
    least = 2800 * pound - with_lead(job, []).weights["flag"].total
    assert least - 1e-3 <= plan.outcome.lead <= least + 40 * pound


def test_lowest_cg_is_lower_than_least_lead_and_stays_within_its_cap():
    job = make_job(2600, TRADE, grid(np.random.default_rng(2), 12))
    least, lowest = plan_lead(job), plan_lead(job, "lowest CG")
    assert lowest.outcome.cg["start"].z < least.outcome.cg["start"].z
    assert lowest.outcome.lead <= least.outcome.lead + 25 * pound + 1e-3
    capped = plan_lead(job, "lowest CG", most_lead=400 * pound)
    assert capped.outcome.lead <= 400 * pound + 1e-3
    assert capped.outcome.cg["start"].z < lowest.outcome.cg["start"].z


def test_legal_at_the_start_is_not_legal_at_the_flag():
    """Fuel in a cell on the right: with it gone the left percent has grown past the limit."""
    right_cell = State(name="flag", cross=0.53, gone=(Lump(mass=90 * pound, x=-2.5, y=-0.3, z=0.3),))
    only_start = make_job(2700, TRADE, FEW, states=(START,), limits=(LEAST, LEFT))
    wants = [Want(of="left_percent", value=0.58)]
    at_start = plan_lead(only_start, "wanted percents", wants=wants)
    both = make_job(2700, TRADE, FEW, states=(START, right_cell), limits=(LEAST, LEFT))
    assert not all(v.legal for v in with_lead(both, at_start.outcome.bolted).verdicts)
    planned = plan_lead(both, "wanted percents", wants=wants, most_lead=600 * pound)
    assert not planned.misses


def test_too_little_lead_is_said_with_rule_and_amount(check):
    plan = plan_lead(make_job(2600, pieces(50, 50), FEW, states=(START,), limits=(LEAST, LEFT)))
    (miss,) = plan.misses
    check(
        miss.short / pound,
        100.0,
        abs=1e-6,
        unit="lb",
        of="short of 2800 lb with a 2600 lb car and 100 lb of lead",
        source="sum by hand",
        kind=DERIVED,
        area="lead",
    )
    assert miss.sentence == (
        "total weight at least 2,800.0 lb at the start is missed by 100.0 lb: "
        "this lead and these spots cannot do it."
    )


def test_a_margin_that_cannot_be_kept_is_not_called_illegal():
    job = make_job(
        2700, pieces(50, 53), FEW, states=(START,), limits=(LEAST,), margin=Margin(weight=5 * pound)
    )
    (miss,) = plan_lead(job).misses
    assert miss.verdict.legal
    assert miss.sentence == (
        "total weight at least 2,800.0 lb at the start is kept, but only 3.0 lb is in hand, "
        "2.0 lb less than the margin."
    )


def test_percent_miss_is_in_percent():
    """All lead must go right of the car's middle and there is too little of it."""
    strict = Limit(of="left_percent", is_="at most", value=0.50)
    job = make_job(2750, pieces(25, 25), FEW, states=(START,), limits=(LEAST, strict))
    plan = plan_lead(job)
    (miss,) = plan.misses
    assert miss.verdict.limit is strict
    assert {b.spot.id for b in plan.outcome.bolted} == {"right rail"}
    assert miss.short == pytest.approx(plan.outcome.weights["start"].get("left_percent") - 0.50)


def test_a_search_without_time_says_so():
    rng = np.random.default_rng(4)
    job = make_job(2320, pieces(*rng.uniform(3, 30, 60).round(1)), grid(rng, 40))
    plan = plan_lead(job, seconds=1e-6)
    assert not plan.proven
    assert plan.misses
    assert all("give the search more time" in miss.sentence for miss in plan.misses)


def test_no_lead_on_hand_and_no_spots():
    heavy = make_job(2900, (), (), states=(START,), limits=(LEAST, LEFT))
    assert plan_lead(heavy).outcome.lead == 0
    assert not plan_lead(heavy, "lowest CG").misses
    (miss,) = plan_lead(make_job(2700, (), (), states=(START,), limits=(LEAST,))).misses
    assert miss.short == pytest.approx(100 * pound)
    with pytest.raises(ValueError, match="need at least one want"):
        plan_lead(heavy, "wanted percents")


def test_book_limits_on_pieces_and_places_are_kept():
    rules = (
        Limit(of="lead_piece", is_="at most", value=20 * pound),
        Limit(of="lead_height", is_="at most", value=8 * inch),
    )
    job = make_job(2600, TRADE, grid(np.random.default_rng(3), 20), limits=(LEAST, LEFT, *rules))
    plan = plan_lead(job)
    assert not plan.misses
    assert max(b.piece.mass for b in plan.outcome.bolted) <= 20 * pound + 1e-9
    assert max(b.spot.z for b in plan.outcome.bolted) <= 8 * inch


@settings(max_examples=15)
@given(st.floats(2500.0, 2750.0), st.integers(0, 1000))
def test_a_plan_without_misses_is_legal_and_uses_what_is_there(bare, seed):
    rng = np.random.default_rng(seed)
    job = make_job(bare, pieces(*rng.choice([5, 10, 20, 25], 25)), grid(rng, 8))
    plan = plan_lead(job)
    told = with_lead(job, plan.outcome.bolted)
    assert bool(plan.misses) != all(v.legal for v in told.verdicts)
    assert not told.complaints


def test_nothing_left_of_the_car_is_refused():
    with pytest.raises(ValueError, match="nothing is left of the car"):
        center([Lump(mass=1, x=0, y=0, z=0), less(Lump(mass=1, x=0, y=0, z=0))])
