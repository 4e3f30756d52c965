"""Facts of the trade, each shown with a car in numbers of our own: what the model makes of them, and where it
differs.

docs/findings.md explains what is asserted here.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE
from scipy.constants import inch, pound
from scipy.optimize import brentq

import ovalwright
from ovalwright.documents import assemble, load_setup, load_sheet
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Moment, at_moment, build, rebuilt_reset, turn_jack_bolts, with_fuel
from ovalwright.pack.seats import copied, settled_from
from ovalwright.study.balance import moment_left
from ovalwright.study.speed import trims_up
from ovalwright.study.stagger import stagger_work
from ovalwright.study.state import clearances_of, loads_of, solve
from ovalwright.study.stations import at_speed, speed_at
from ovalwright.vehicle.record import CORNERS, MOTION

DEMO = Path(ovalwright.__file__).parent / "demo"
LB = pound * GRAVITY
LF, RF, LR, RR = range(4)
TRADE = {"source": "told in the pits: common practice, no source", "kind": COMMON_PRACTICE}


def turning(*, radius, bank, lateral=0.5, grip=1.0):
    """A steady left turn: radius [m], bank [deg], acceleration in the plane of the road [g]."""
    motion = np.zeros(1, MOTION)[0]
    motion["gravity"], motion["grip"], motion["air_density"] = GRAVITY, grip, 1.18
    motion["curvature"], motion["bank"] = 1.0 / radius, math.radians(bank)
    motion["speed"] = speed_at(motion, lateral * GRAVITY)
    return motion


def weights(values):
    """Sheet keys for four weights [lb]."""
    keys = {f"{corner}.weight": f"{value:.1f} lb" for corner, value in zip(CORNERS, values, strict=True)}
    return keys | {"total": f"{sum(round(value, 1) for value in values):.1f} lb"}


def with_record(packed, **fields):
    """The same car with whole fields of its record written anew, settled again."""
    record = copied(packed.record)
    for name, value in fields.items():
        record[name] = value
    stood = settled_from(record, packed.settled, packed.values()[1])
    return replace(packed, record=stood.record, settled=stood.settled)


def cross_at(packed, motion):
    solved = solve(packed, motion)
    assert solved.found
    return loads_of(solved.corners).cross


def at_limit(packed, motion):
    """Just under the greatest speed: the solved state and the balance, share of weight x wheelbase."""
    _, trims = trims_up(packed, motion)
    solved = solve(packed, at_speed(motion, 0.995 * float(trims[-1].motion["speed"])))
    moment = moment_left(packed, solved)
    assert solved.found and moment is not None
    return solved, moment / float(packed.record["weight"] * packed.record["wheelbase"])


# ---------------- (a) and (b): much wedge on a soft right rear coil


def wedged_car(sheet=None, setup=None):
    """200 lb/in LR, 150 lb/in RR; without other weights the RR coil just touches with the tank full."""
    rates = {"LR.coil.rate": "200 lb/in", "RR.coil.rate": "150 lb/in"}
    touching = {} if sheet else {"RR.coil.gap": "0.001 in"}
    document = load_setup(DEMO / "setup_hanging_rr.toml").changed(rates | touching | (setup or {}))
    paper = load_sheet(DEMO / "sheet_hanging_rr.toml")
    return assemble(document, sheet=paper.changed(sheet) if sheet else paper)


@pytest.fixture(scope="module")
def wedged():
    """That car on cold tires as it left the scales, bar hooked up."""
    return build(wedged_car(), hot=False)


def rr_gap(packed, share):
    """Gap of the RR coil at rest [m] with a share of the fuel."""
    return with_fuel(packed, share=share).standing.corners()["coil_gap"][RR]


def strapped(packed, *corners):
    """Chains on these corners that let them hang no lower than they stood on the scales."""
    length = packed.record["droop_length"].copy()
    stood = packed.weighed.corners()["shock_length"]
    for corner in corners:
        length[corner] = stood[corner]
    return with_record(packed, droop_length=length)


def without_fuel(packed):
    return with_record(packed, fuel_mass=0.0)


def test_soft_rr_coil_hangs_off_its_seat_when_the_fuel_is_gone(check, wedged):
    gaps = [rr_gap(wedged, share) / inch for share in (1.0, 0.75, 0.5, 0.25, 0.0)]
    check(gaps[0], 0.0, abs=0.005, unit="in", of="gap of the RR coil, tank full", area="settle", **TRADE)
    check.between(
        gaps[-1],
        0.7,
        2.0,
        unit="in",
        of="gap of the RR coil with 22 gal gone: of the order of an inch",
        area="settle",
        **TRADE,
    )
    assert np.diff(gaps) == pytest.approx(np.diff(gaps).mean(), rel=0.05), "each quarter opens it alike"
    share_of_an_inch = brentq(lambda share: rr_gap(wedged, share) - inch, 0.0, 1.0)
    check.between(
        22.0 * (1.0 - share_of_an_inch),
        11.0,
        22.0,
        unit="gal",
        of="fuel that must be gone for one inch under the RR coil",
        area="settle",
        **TRADE,
    )


def test_wedge_that_lets_the_rr_coil_just_touch_is_much(check, wedged):
    loads = loads_of(wedged.weighed.corners())
    check.between(
        loads.cross,
        0.60,
        0.70,
        of="cross weight of a car whose RR coil just touches",
        area="weighing",
        **TRADE,
    )


def test_strap_on_the_rr_keeps_its_coil_where_it_was(check, wedged):
    tied = without_fuel(strapped(wedged, RR))
    corners = tied.standing.corners()
    check(
        corners["coil_gap"][RR],
        0.0,
        abs=0.05 * inch,
        of="gap, RR strapped, fuel gone",
        area="settle",
        **TRADE,
    )
    assert corners["droop_force"][RR] < -100.0 * LB, "the strap carries what the coil would have let go"
    assert loads_of(corners).cross > loads_of(wedged.standing.corners()).cross, "and holds wedge in the car"
    free = without_fuel(wedged).standing.corners()
    assert loads_of(free).cross < loads_of(wedged.standing.corners()).cross


def test_straps_elsewhere_let_the_rr_coil_hang(check, wedged):
    free = without_fuel(wedged).standing.corners()["coil_gap"][RR]
    nose = without_fuel(strapped(wedged, LF, RF)).standing.corners()["coil_gap"][RR]
    left = without_fuel(strapped(wedged, LR)).standing.corners()["coil_gap"][RR]
    check(nose, free, rel=0.05, unit="m", of="gap, nose strapped down, against free", area="settle", **TRADE)
    assert 0.25 * inch < left < 0.5 * free, "the LR strap holds half the body, the rest still rolls away"


def test_what_else_opens_the_gap(wedged):
    free = rr_gap(wedged, 0.0)
    hot = rr_gap(at_moment(wedged, Moment(hot=True)), 0.0)
    out = rr_gap(at_moment(wedged, Moment(hot=False, driver=False)), 0.0)
    assert 0.05 * inch < hot - free < 0.2 * inch, "hot tires open it a little"
    assert out - free > 0.4 * inch, "the driver sits left, on the LR coil"
    loose = build(wedged_car(setup={"bar.hooked": False}), hot=False)
    assert rr_gap(loose, 0.0) > free + 0.2 * inch, "without a bar the body rolls further left"


def test_less_wedge_than_that_keeps_the_coil_seated():
    some = build(wedged_car(weights((649, 757, 1018, 411))), hot=False)
    less = build(wedged_car(weights((687, 719, 980, 449))), hot=False)
    assert 0.1 * inch < rr_gap(some, 0.0) < 0.5 * inch, "some 60 lb on it at the start: it still leaves"
    assert rr_gap(less, 0.0) < 0.0, "some 125 lb on it: burning the fuel alone does not take it off"


def slopes(packed, **road):
    """Lateral acceleration of pick-up [g] and the slope of dynamic cross [1/g] before and after it."""

    def miss(lateral):
        return solve(packed, turning(lateral=lateral, **road)).corners["coil_gap"][RR]

    at = brentq(miss, 0.05, 0.9, xtol=1e-6)

    def slope(low, high):
        rise = cross_at(packed, turning(lateral=high, **road)) - cross_at(
            packed, turning(lateral=low, **road)
        )
        return rise / (high - low)

    return at, slope(at - 0.05, at - 0.01), slope(at + 0.01, at + 0.05)


def test_wedge_stays_until_the_car_rolls_onto_the_rr_coil(check):
    empty = with_fuel(build(wedged_car()), share=0.0)
    no_coil = with_record(empty, coil_rate=np.where(np.arange(4) == RR, 0.0, empty.record["coil_rate"]))
    for bank in (0.0, 24.0):
        road = {"radius": 60.0, "bank": bank}
        at, before, after = slopes(empty, **road)
        assert 0.05 < at < 0.9
        check.fact(
            before > 0.05 and after < 0.75 * before,
            of=f"dynamic cross bends down where the RR coil picks up, {bank:.0f} deg",
            area="trim",
            **TRADE,
        )
        hard = turning(lateral=1.0, **road)
        check.fact(
            cross_at(no_coil, hard) - cross_at(empty, hard) > 0.03,
            of=f"at 1 g the picked-up coil has taken wedge out, {bank:.0f} deg",
            area="trim",
            **TRADE,
        )
    check.fact(after < -0.01, of="on 24 deg it loses wedge from the pick-up on", area="trim", **TRADE)


def test_bite_goes_faster_once_the_rr_coil_carries():
    empty = with_fuel(build(wedged_car()), share=0.0)
    road = {"radius": 60.0, "bank": 0.0}
    at, _, after = slopes(empty, **road)
    assert after > 0.0, "on the flat cross still rises: the bar takes more of the roll than the rear coils"

    def bite(lateral):
        return loads_of(solve(empty, turning(lateral=lateral, **road)).corners).bite

    assert bite(at + 0.2) - bite(at) < 1.2 * (bite(at) - bite(at - 0.2)) < 0.0


# ---------------- (c): no right rear coil on a steep bank

STEEP = {"radius": 91.0, "bank": 32.0, "grip": 0.85}
HARD = 1.4
"""Acceleration [g] in the plane of the road at which the tail is looked at."""


def steep_assembly(lr, rr, gap=None):
    """A car that is loose there: little cross, a high panhard bar, stiff fronts; rear coils in lb/in."""
    rear = {"LR.coil": {"rate": f"{lr} lb/in"}, "RR.coil": "none"}
    if rr:
        rear["RR.coil"] = {"rate": f"{rr} lb/in"} | ({"gap": gap} if gap else {})
    front = {"LF.coil": {"rate": "500 lb/in"}, "RF.coil": {"rate": "900 lb/in"}}
    panhard = {"panhard.frame_height": "12.5 in", "panhard.axle_height": "11.5 in"}
    setup = load_setup(DEMO / "setup_no_rr.toml").changed(rear | front | panhard)
    heights = dict(zip(CORNERS, ("5.5 in", "5.5 in", "5.75 in", "5.75 in"), strict=True))
    pressures = dict(zip(CORNERS, ("12 psi", "26 psi", "13 psi", "24 psi"), strict=True))
    paper = {f"{c}.height": height for c, height in heights.items()}
    paper |= {f"{c}.pressure": pressure for c, pressure in pressures.items()}
    sheet = load_sheet(DEMO / "sheet_conventional.toml").changed(paper | weights((830, 580, 790, 632)))
    return assemble(setup, sheet=sheet)


@pytest.fixture(scope="module")
def steep():
    """500/200; the same with the RR coil just touching; without it at 500 and at 700; heights re-set."""
    base = build(steep_assembly(500, 200))
    return {
        "both": base,
        "touching": rebuilt_reset(base, steep_assembly(500, 200, gap="0.001 in")),
        "500": rebuilt_reset(base, steep_assembly(500, None)),
        "700": rebuilt_reset(base, steep_assembly(700, None)),
    }


def rear_clearances(packed, motion):
    """Clearance [m] of the right tail and of the right rear frame rail, and the load on the tail [N]."""
    points = {point.name: point for point in clearances_of(packed, solve(packed, motion))}
    return points["right tail"].gap, points["RR frame rail"].gap, points["right tail"].load


def off_the_road(packed):
    """The same car with a frame that cannot drag."""
    return with_record(packed, ground_rate=0.0)


def test_without_an_rr_coil_the_tail_drags_on_500_and_clears_on_700(check, steep):
    motion = turning(lateral=HARD, **STEEP)
    tail = {name: rear_clearances(car, motion) for name, car in steep.items()}
    assert min(tail["both"][:2]) > 2.0 * inch
    check.fact(
        tail["500"][0] < 0.0 < tail["500"][2], of="no RR coil, 500 LR: the tail drags", area="trim", **TRADE
    )
    check.fact(
        min(tail["700"][:2]) > 0.25 * inch, of="no RR coil, 700 LR: tail and rail clear", area="trim", **TRADE
    )


def test_stiffer_lr_may_be_driven_harder_before_it_drags(steep):
    def drags(car):
        def lowest(lateral):
            return min(rear_clearances(off_the_road(car), turning(lateral=lateral, **STEEP))[:2])

        return brentq(lowest, 1.0, 2.0, xtol=1e-3)

    full = {name: drags(steep[name]) for name in ("500", "700")}
    assert full["500"] + 0.15 < full["700"]
    assert drags(with_fuel(steep["500"], share=0.0)) > full["700"], (
        "the fuel is a good part of what it carries"
    )


def test_without_an_rr_coil_jack_bolts_hardly_move_the_wedge(steep):
    def cross(car):
        return loads_of(car.weighed.corners()).cross

    for corner in ("LF", "RF", "LR"):
        with_coil = cross(turn_jack_bolts(steep["both"], {corner: 1.0})) - cross(steep["both"])
        without = cross(turn_jack_bolts(steep["500"], {corner: 1.0})) - cross(steep["500"])
        assert abs(without) < 0.25 * abs(with_coil), corner


def test_stiffer_lr_carries_the_tail_more_than_the_rail(steep):
    motion = turning(lateral=HARD, **STEEP)
    soft, stiff = (rear_clearances(off_the_road(steep[name]), motion) for name in ("500", "700"))
    assert stiff[0] - soft[0] > 0.7 * inch
    assert 0.3 * inch < stiff[1] - soft[1] < stiff[0] - soft[0]


def test_wedge_of_the_turn_is_made_by_the_missing_coil_not_by_the_lr_rate(check, steep):
    motion = turning(lateral=HARD, **STEEP)
    cross = {name: cross_at(off_the_road(car), motion) for name, car in steep.items()}
    weighed = {name: loads_of(car.weighed.corners()).cross for name, car in steep.items()}
    assert weighed["500"] == pytest.approx(weighed["touching"], abs=0.005), "alike on the scales"
    check.fact(
        cross["500"] - cross["touching"] > 0.08,
        of="of two cars alike on the scales the one without an RR coil has more wedge in the turn",
        area="trim",
        **TRADE,
    )
    assert cross["500"] - cross["both"] > 0.15
    assert abs(cross["700"] - cross["500"]) < 0.01


def test_loose_car_is_no_longer_loose_without_its_rr_coil(check, steep):
    road = turning(**STEEP)
    share = {name: at_limit(off_the_road(car), road)[1] for name, car in steep.items()}
    assert share["both"] > 0.03
    check.fact(
        share["700"] < 0.0 and share["500"] < 0.0,
        of="a loose car is not loose any more without its RR coil, the frame kept off the road",
        area="balance",
        **TRADE,
    )
    assert share["touching"] > 0.5 * share["both"], "as much cross on the scales does not do it"


def test_dragging_tail_loosens(check, steep):
    road = turning(**STEEP)
    dragging, clear = at_limit(steep["500"], road)[1], at_limit(off_the_road(steep["500"]), road)[1]
    check.fact(
        dragging > clear + 0.02,
        of="a dragging tail takes load off the rear tires: loose",
        area="balance",
        **TRADE,
    )


# ---------------- (d): stagger


def staggered(inches):
    """The conventional car with this rear stagger [in], tires that do not grow, weighed the same."""
    sizes = {"LR.tire.roll_out": f"{86 - inches / 2} in", "RR.tire.roll_out": f"{86 + inches / 2} in"}
    still = {"LR.tire.growth": "0 in/psi", "RR.tire.growth": "0 in/psi"}
    return build(assemble(load_setup(DEMO / "setup_conventional.toml").changed(sizes | still)))


@pytest.fixture(scope="module")
def quarter():
    return staggered(0.25)


def test_a_quarter_inch_of_stagger_is_very_little(check, quarter):
    for radius, bank in ((52.0, 12.0), (34.0, 3.0)):
        work = stagger_work(solve(quarter, turning(radius=radius, bank=bank, lateral=0.7)))
        check.fact(
            work.stagger < 0.15 * work.wanted,
            of=f"1/4 in is little against what a {radius:.0f} m turn wants",
            area="stagger",
            **TRADE,
        )
        check.fact(
            work.moment < -500.0,
            of=f"1/4 in of stagger turns the car out of a {radius:.0f} m turn",
            area="stagger",
            **TRADE,
        )


def test_a_quarter_inch_of_stagger_tightens(check, quarter):
    much = staggered(2.5)
    place = turning(radius=52.0, bank=12.0, lateral=0.7)
    check.fact(
        at_limit(quarter, place)[1] < at_limit(much, place)[1] - 0.01,
        of="1/4 in of stagger against 2 1/2 in: tighter at the limit",
        area="balance",
        **TRADE,
    )
    steer = [solve(car, place).corners["steer"][:2].mean() for car in (quarter, much)]
    assert math.degrees(steer[0] - steer[1]) > 0.3, "and it wants more steering wheel"


# ---------------- (e): much left, much rear, a giant bar, much lead


def unusual(*, left=0.62, rear=0.52, cross=0.56, bar="2.25 in", total=2806.0):
    """The very light car with twelve pieces of 50 lb, weighed at these shares, on this bar."""
    front, half = 1.0 - rear, 0.5 * total
    paper = weights(
        [
            half * (left + front - cross),
            half * (front - left + cross),
            half * (left + cross - front),
            half * (2.0 - front - left - cross),
        ]
    )
    lead = {f"lead[{piece}].mass": "50 lb" for piece in range(1, 13)}
    setup = load_setup(DEMO / "setup_light.toml").changed(lead | {"bar": {"diameter": bar}})
    return build(assemble(setup, sheet=load_sheet(DEMO / "sheet_light.toml").changed(paper)))


PLACE = {"radius": 52.0, "bank": 12.0}


def test_unusual_car_is_computed(check):
    car = unusual()
    loads = loads_of(car.weighed.corners())
    assert sum(piece.mass.si for piece in car.assembly.setup.lead) == pytest.approx(600.0 * pound, rel=1e-4)
    check(
        [loads.left, loads.rear],
        [0.62, 0.52],
        abs=2e-4,
        of="62 % left and 52 % rear stand on the scales",
        area="weighing",
        **TRADE,
    )
    solved = solve(car, turning(lateral=0.9, **PLACE))
    assert solved.found and solved.norm < 1e-8 and (solved.corners["load"] > 0.0).all()
    assert at_limit(car, turning(**PLACE))[0].found


def test_what_the_giant_bar_does(check):
    big, small = unusual(), unusual(bar="1 in")
    place = turning(lateral=0.9, **PLACE)
    check.fact(
        cross_at(big, place) - cross_at(small, place) > 0.01,
        of="2 1/4 in bar against 1 in: more of the roll is held at the front, cross rises in the turn",
        area="bars",
        **TRADE,
    )
    rolls = [solve(car, place).unknowns[4] for car in (big, small)]
    assert 0.2 * rolls[1] < rolls[0] < 0.6 * rolls[1], "and the body rolls less than half as much"


def test_what_much_left_weight_does(check):
    left, usual = unusual(), unusual(left=0.57)
    place = turning(**PLACE)
    (fast, loose), (slow, tight) = at_limit(left, place), at_limit(usual, place)
    check.fact(
        fast.motion["speed"] > slow.motion["speed"],
        of="62 % left is faster through the middle than 57 %",
        area="limit",
        **TRADE,
    )
    check.fact(loose > tight, of="and freer at the same cross", area="balance", **TRADE)
