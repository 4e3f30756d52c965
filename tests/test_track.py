"""Track documents as ribbons: what closes, what does not fit, grooves, pegs, and figures known otherwise."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED, LIBRARY
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

import ovalwright
from ovalwright.documents import Conditions, DocumentError, Track
from ovalwright.pack import motion
from ovalwright.pack.grooves import groove
from ovalwright.pack.track import lay, ribbon_of
from ovalwright.road import Ribbon
from ovalwright.road.line import driven_length, path_of
from ovalwright.road.profile import constant
from ovalwright.road.sections import sections_of
from ovalwright.road.shape import Bend, ShapeError, Turn, closed_plan
from ovalwright.study.road import road

FOOT = 0.3048
DEMO = Path(ovalwright.__file__).parent / "demo"
ROUND = 'length = "{length}"\n[[ends]]\nradius = "{radius}"\nbank = "{bank}"\n'


def track(text: str) -> Track:
    return Track.from_text(text, name="track.toml")


def plain(length: str = "0.375 mi", radius: str = "150 ft", bank: str = "10 deg", more: str = "") -> Track:
    return track(more + ROUND.format(length=length, radius=radius, bank=bank))


# ---------------- plans that close


@pytest.mark.parametrize(("first", "second", "straight"), [(50.0, 50.0, 120.0), (52.0, 40.0, 90.0)])
def test_two_circles_and_their_tangents(first, second, straight, check):
    """Ends without clothoids: straights are outer tangents of two circles."""
    lean = math.atan2(first - second, straight)
    length = 2 * straight + first * (math.pi + 2 * lean) + second * (math.pi - 2 * lean)
    plan = closed_plan((Turn(first, 0.0), Turn(second, 0.0)), length)
    source = "outer tangents of two circles"
    for ours, expected, of, unit in (
        (plan.front, straight, "front straight", "m"),
        (plan.back, straight, "back straight", "m"),
        (plan.angles[0], math.pi + 2 * lean, "angle of the wide end", "rad"),
    ):
        check(ours, expected, abs=1e-8, unit=unit, of=of, source=source, kind=DERIVED, area="road")


def test_straight_that_is_left_over(check):
    ribbon = ribbon_of(plain(more='straight_bank = "10 deg"\n'))
    straight = next(one for one in ribbon.sections if one.name == "back straight")
    left = 0.5 * 0.375 * 1609.344 - math.pi * 150 * FOOT - 110 * FOOT
    check(
        straight.end - straight.start, left, abs=1e-8, unit="m", of="straight of an oval with equal ends",
        source="half a lap less half a circle less one clothoid", kind=DERIVED, area="road",
    )  # fmt: skip


def test_a_bent_front_straight_turns_for_the_ends(check):
    plan = closed_plan((Turn(60.0, 30.0), Turn(60.0, 30.0)), 700.0, Bend(0.4, None, 20.0))
    check(
        plan.angles, [math.pi - 0.2] * 2, abs=1e-9, unit="rad", of="angle of each end of a symmetric D",
        source="360 degrees less the bend, halved by symmetry", kind=DERIVED, area="road",
    )  # fmt: skip
    assert sum(run.length for run in plan.runs) == pytest.approx(700.0, abs=1e-9)


def test_plan_against_an_integrator(check):
    ribbon = ribbon_of(Track.load(DEMO / "track_bent_five_eighths.toml"))
    breaks = [*ribbon.curvature.x.tolist()]
    state = np.zeros(3)
    for a, b in pairwise(breaks):
        inside = 0.5 * (a + b)
        k0, dk = float(ribbon.curvature(inside)), float(ribbon.curvature(inside, 1))

        def along(s, at, k0=k0, dk=dk, inside=inside):
            return [math.cos(at[2]), math.sin(at[2]), k0 + dk * (s - inside)]

        state = solve_ivp(along, (a, b), state, method="DOP853", rtol=1e-12, atol=1e-11).y[:, -1]
        plan = ribbon.plan(np.array([min(b, ribbon.length - 1e-9)]))
        check(
            [plan.x[0], plan.y[0]], state[:2], abs=1e-7, unit="m", of="place on a bent oval",
            source="SciPy solve_ivp (DOP853) on heading and place", kind=LIBRARY, area="road",
        )  # fmt: skip
    assert np.allclose(state, [0.0, 0.0, 2.0 * math.pi], atol=1e-7)


ends = st.tuples(st.floats(25.0, 300.0), st.floats(0.05, 0.9))


@settings(max_examples=60, deadline=None)
@given(first=st.tuples(st.floats(25.0, 300.0), st.floats(0.05, 0.9)), ratio=st.floats(0.7, 1.4),
       room=st.floats(0.15, 2.0), bend=st.floats(0.0, 0.6))  # fmt: skip
def test_every_plan_closes(first, ratio, room, bend):
    radius, share = first
    turns = Turn(radius, share * radius), Turn(ratio * radius, share * radius)
    around = math.pi * radius * (1.0 + ratio) + 2.0 * share * radius
    middle = Bend(bend, 0.1 * radius + bend * radius, 0.04 * radius) if bend > 0.01 else None
    try:
        plan = closed_plan(turns, around * (1.0 + room), middle)
    except ShapeError as problem:
        assert problem.lacks >= 0.0
        return
    place, heading = 0.0 + 0.0j, 0.0
    for run in plan.runs:
        assert run.length > -1e-6
        pieces = 4000
        s = (np.arange(pieces) + 0.5) * run.length / pieces
        turned = heading + run.start * s + 0.5 * (run.end - run.start) * s * s / max(run.length, 1e-12)
        place += np.exp(1j * turned).sum() * run.length / pieces
        heading += 0.5 * (run.start + run.end) * run.length
    assert abs(heading - 2.0 * math.pi) < 1e-9
    assert abs(place) < 1e-5 * radius


# ---------------- what is measured where


def chords(ribbon: Ribbon, offset: float) -> float:
    """Length of a lap at an offset as the sum of fine chords."""
    s = np.linspace(0.0, ribbon.length, 60001)
    places = ribbon.point(s, np.full_like(s, offset))
    return float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum())


@pytest.mark.parametrize(("at", "inward"), [("inside", 1.0), ("center", 0.0), ("wall", -1.0)])
def test_the_lap_is_as_long_as_measured(at, inward, check):
    ribbon = ribbon_of(plain("0.5 mi", "200 ft", "18 deg", f'length_at = "{at}"\nwidth = "50 ft"\n'))
    check(
        chords(ribbon, inward * 25 * FOOT), 0.5 * 1609.344, abs=1e-3, unit="m",
        of=f"lap measured at the {at}", source="chords of places 1.3 cm apart", kind=DERIVED, area="road",
    )  # fmt: skip


def test_a_radius_at_the_inside_edge(check):
    oval = plain("0.5 mi", "200 ft", "18 deg", 'radius_at = "inside"\nwidth = "50 ft"\n')
    ribbon = ribbon_of(oval)
    first = next(one for one in ribbon.sections if one.turning)
    middle = np.array([0.5 * (first.start + first.end)])
    inside = path_of(ribbon, constant(25 * FOOT, ribbon.length), middle).curvature[0]
    source = "half the width in plan is w/2 cos(bank)"
    check(
        1 / inside,
        200 * FOOT,
        rel=1e-9,
        unit="m",
        of="radius at the edge",
        source=source,
        kind=DERIVED,
        area="road",
    )
    center = (200 + 25 * math.cos(math.radians(18.0))) * FOOT
    moving = motion(oval, Conditions(), speed=30.0)
    check(
        1 / float(moving["curvature"]), center, rel=1e-12, unit="m", of="radius of the middle groove",
        source=source, kind=DERIVED, area="road",
    )  # fmt: skip


def test_the_driven_radius_is_the_one_written():
    ribbon = ribbon_of(plain(radius="150 ft"))
    assert 1.0 / ribbon.line(0.0).curvature.max() == pytest.approx(150 * FOOT, rel=1e-9)


def test_a_climbing_front_straight_comes_back_down(check):
    ribbon = ribbon_of(plain(more='grade = "1.2 %"\n'))
    s = np.array([0.0, 10.0])
    check(
        np.diff(ribbon.height(s))[0] / 10.0, 0.012, abs=1e-9, of="slope of the front straight",
        source="rise over run", kind=DERIVED, area="road",
    )  # fmt: skip
    around = ribbon.height(np.array([1e-9, ribbon.length - 1e-9]))
    assert np.allclose(around, 0.0, atol=1e-6)
    assert ribbon.line(0.0).grade.min() < -0.01


def test_bank_is_eased_to_its_bend():
    ribbon = ribbon_of(plain(bank="20 deg"))
    s = np.linspace(0.0, ribbon.length, 200001)
    assert np.degrees(ribbon.bank(s).min()) == pytest.approx(2.0)
    assert np.degrees(ribbon.bank(s).max()) == pytest.approx(20.0)
    step = np.abs(np.diff(ribbon.bank(s, 2)))
    assert step.max() < 1e-3 * np.abs(ribbon.bank(s, 2)).max()


# ---------------- hand and start


@settings(max_examples=15, deadline=None)
@given(start=st.floats(1.0, 300.0), offset=st.floats(-6.0, 6.0))
def test_length_does_not_depend_on_the_start(start, offset):
    here, there = (ribbon_of(plain(more=more)) for more in ("", f'start_line = "{start:.3f} ft"\n'))
    lengths = [driven_length(one, constant(offset, one.length)) for one in (here, there)]
    assert lengths[1] == pytest.approx(lengths[0], abs=1e-8)
    assert there.line(offset).length == pytest.approx(here.line(offset).length, abs=1e-7)


@settings(max_examples=10, deadline=None)
@given(bank=st.floats(0.0, 30.0), offset=st.floats(-6.0, 6.0))
def test_a_right_hand_track_is_the_mirror_image(bank, offset):
    left, right = (
        ribbon_of(plain(bank=f"{bank:.3f} deg", more=f'turns = "{hand}"\n')) for hand in ("left", "right")
    )
    mine, mirrored = left.line(offset), right.line(-offset)
    assert mirrored.length == pytest.approx(mine.length, abs=1e-9)
    for name in ("curvature", "curvature_rate", "bank", "bank_rate", "bank_bend", "y"):
        assert np.allclose(getattr(mirrored, name), -getattr(mine, name), atol=1e-9), name
    for name in ("step", "grade", "crest", "x", "z"):
        assert np.allclose(getattr(mirrored, name), getattr(mine, name), atol=1e-9), name


# ---------------- sections and grooves


@pytest.mark.parametrize("path", sorted(DEMO.glob("track_*.toml")), ids=lambda path: path.stem)
def test_sections_are_found_in_the_curvature(path):
    ribbon = ribbon_of(Track.load(path))
    found = sections_of(ribbon.curvature, ribbon.hand)
    for ours, written in zip(found, ribbon.sections, strict=True):
        assert ours.turning == written.turning
        assert abs(ours.start - written.start) < 8.0
    assert set(ribbon.line(0.0).section_of()) == {section.name for section in ribbon.sections}


def test_grooves_stack_from_low_to_high():
    oval = plain(more='width = "48 ft"\n')
    ribbon = ribbon_of(oval)
    low, middle, high = (ribbon.line(groove(oval, ribbon, name)) for name in ("low", "middle", "high"))
    assert low.length < middle.length < high.length
    assert np.allclose(
        low.offset * np.cos(ribbon.bank(low.spine)), low.offset.max() * math.cos(math.radians(10.0))
    )
    assert low.offset.max() == pytest.approx(0.5 * (24 * FOOT - 1.0), rel=1e-6)
    right = plain(more='width = "48 ft"\nturns = "right"\n')
    assert ribbon_of(right).line(groove(right, ribbon_of(right), "low")).length == pytest.approx(low.length)
    with pytest.raises(DocumentError, match="the grooves are low, middle, high"):
        groove(oval, ribbon, "outside")


def test_a_groove_of_ones_own_passes_its_places():
    oval = Track.load(DEMO / "track_bent_five_eighths.toml")
    ribbon = ribbon_of(oval)
    offset = groove(oval, ribbon, "late")
    for section in ribbon.sections:
        span = (section.end - section.start) % ribbon.length
        edge = 25 * FOOT - float(offset(section.start + 0.5 * span))
        assert edge == pytest.approx((9 if section.turning else 36) * FOOT)
    assert ribbon.line(offset).length < ribbon.line(groove(oval, ribbon, "high")).length


def test_what_the_study_says_of_a_track():
    answer = road(Track.load(DEMO / "track_three_eighths.toml"))
    assert answer.inside == pytest.approx(0.375 * 1609.344, abs=1e-5)
    assert answer.inside < answer.center < answer.wall
    assert sum(one.length for one in answer.stretches) == pytest.approx(answer.center, abs=1e-6)
    assert sum(one.turned for one in answer.stretches) == pytest.approx(2.0 * math.pi)
    assert [round(one.radius / FOOT) for one in answer.stretches if one.turned > 1.0] == [172, 165]
    assert answer.remarks == ()


# ---------------- pegs


def pegged(spacing: float, *, bend_error: float = 0.0, hand: str = "left") -> tuple[Ribbon, Track]:
    ribbon = ribbon_of(plain(bank="16 deg"))
    at = np.arange(0.0, ribbon.length - 1.0, spacing)
    rows = [
        f'[[pegs]]\nat = "{s:.4f} m"\nbend = "{bend * (1 + bend_error):.6f} deg/m"\nbank = "{bank:.4f} deg"\n'
        for s, bend, bank in zip(
            at, np.degrees(ribbon.curvature(at)), np.degrees(ribbon.bank(at)), strict=True
        )
    ]
    head = f'turns = "{hand}"\nlength = "{ribbon.length:.6f} m"\n'
    return ribbon, track(head + "".join(rows) + '[[ends]]\nradius = "150 ft"\nbank = "16 deg"\n')


def test_a_road_pegged_out_is_laid_again():
    ribbon, oval = pegged(5.0)
    laid = lay(oval)
    s = np.arange(0.0, ribbon.length, 1.0)
    assert laid.remarks == ()
    assert np.abs(laid.ribbon.curvature(s) - ribbon.curvature(s)).max() < 0.04 * ribbon.curvature(s).max()
    assert np.degrees(np.abs(laid.ribbon.bank(s) - ribbon.bank(s)).max()) < 0.15
    assert [one.name for one in laid.ribbon.sections] == [one.name for one in ribbon.sections]
    mirrored = ribbon_of(pegged(5.0, hand="right")[1])
    assert np.allclose(mirrored.curvature(s), -laid.ribbon.curvature(s), atol=1e-9)


def test_pegs_that_nearly_close_are_closed_and_it_is_said():
    ribbon, oval = pegged(5.0, bend_error=0.01)
    laid = lay(oval)
    assert "the difference is spread over the lap" in laid.remarks[0]
    s = np.arange(0.0, ribbon.length, 1.0)
    assert np.abs(laid.ribbon.curvature(s) - ribbon.curvature(s)).max() < 0.05 * ribbon.curvature(s).max()


# ---------------- figures that do not fit


PEGS = "".join(f'[[pegs]]\nat = "{70 * i} ft"\n' for i in range(10))
MISFITS = {
    "ends longer than the lap": (plain("0.2 mi", "180 ft"), "ends alone are 295 ft longer than the lap"),
    "transitions longer than the turn": (
        track('length = "1 mi"\n[[ends]]\nradius = "100 ft"\nbank = "8 deg"\nturn_in = "400 ft"\n'),
        "ends[1].turn_in: a turn of 100 ft radius is 86 ft too short",
    ),
    "bank with no room": (
        track('length = "0.375 mi"\n[[ends]]\nradius = "150 ft"\nbank = "14 deg"\nbank_change = "600 ft"'),
        "bank_change: the bank cannot be gained and lost over so much road, which lacks 129 ft",
    ),
    "a road wider than its turn": (plain(more='width = "290 ft"\n'), "a road 290 ft wide does not fit"),
    "a bend with no room": (
        plain(more='front_bend = { angle = "20 deg", length = "500 ft" }\n'),
        "front_bend: lacks 18 ft of front straight in the lap of 0.375 mi",
    ),
    "a start line in a turn": (plain(more='start_line = "900 ft"\n'), "lies 900 ft after the last turn"),
    "ends that cannot be joined": (
        plain("1 mi").changed(
            {"ends": [{"radius": "150 ft", "bank": "4 deg"}, {"radius": "900 ft", "bank": "4 deg"}]}
        ),
        "no lap of 1 mi closes around such ends",
    ),
    "a straight that does not fit": (
        plain("0.375 mi", "150 ft", more='straight = "600 ft"\n'),
        "the lap comes out 382 ft long of its 0.375 mi",
    ),
    "pegs that do not turn": (
        track('length = "0.2 mi"\n' + PEGS + '[[ends]]\nradius = "150 ft"\nbank = "4 deg"\n'),
        "pegs: their bends end the lap 1,056 ft from its start and 360.0 deg off its heading",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MISFITS)
def test_one_sentence_for_what_does_not_fit(name):
    oval, sentence = MISFITS[name]
    with pytest.raises(DocumentError) as told:
        lay(oval)
    assert sentence in str(told.value)
    assert str(told.value).startswith("track.toml")
    assert str(told.value).endswith(".") and "\n" not in str(told.value)


def test_a_small_disagreement_is_adjusted_and_said():
    laid = lay(plain(more='straight = "420 ft"\n'))
    assert (
        "420 ft makes the lap 22 ft long, within the give-or-take of its figures; 409 ft closes it"
        in laid.remarks[0]
    )
    assert lay(plain(more='straight = "409 ft"\n')).remarks == ()


lengths = st.sampled_from(["5 ft", "60 ft", "110 ft", "150 ft", "260 ft", "900 ft", "20000 ft"])


SIDES = ["inside", "center", "wall"]


@settings(max_examples=150, deadline=None)
@given(
    lap=st.sampled_from(["0.02 mi", "0.2 mi", "0.375 mi", "1 mi", "18 mi"]),
    radius=st.sampled_from(["50 ft", "150 ft", "400 ft", "20000 ft"]),
    bank=st.sampled_from(["-45 deg", "0 deg", "12 deg", "60 deg"]),
    turn_in=lengths,
    change=lengths,
    width=st.sampled_from(["8 ft", "45 ft", "400 ft"]),
    bend=st.sampled_from(["", "-30 deg", "80 deg"]),
    at=st.sampled_from(SIDES),
    straight=st.sampled_from(["", "5 ft", "400 ft", "900 ft"]),
)
def test_any_figures_make_a_road_or_a_sentence(lap, radius, bank, turn_in, change, width, bend, at, straight):
    text = f'length = "{lap}"\nwidth = "{width}"\nlength_at = "{at}"\nradius_at = "{at}"\n'
    text += f'front_bend = {{ angle = "{bend}" }}\n' if bend else ""
    text += f'straight = "{straight}"\n' if straight else ""
    text += (
        f'[[ends]]\nradius = "{radius}"\nbank = "{bank}"\nturn_in = "{turn_in}"\nbank_change = "{change}"\n'
    )
    try:
        ribbon = lay(track(text)).ribbon
    except DocumentError as problem:
        assert str(problem).endswith(".") and "\n" not in str(problem)
        return
    gap = ribbon.spine.gap(1)
    assert gap.distance < 1e-5 and abs(gap.heading) < 1e-9
    line = ribbon.line(0.0)
    for name in ("curvature", "curvature_rate", "bank", "bank_bend", "grade", "crest", "step"):
        assert np.isfinite(getattr(line, name)).all()
    assert line.step.min() > 0.0


def test_pegs_in_disorder_are_refused():
    text = 'length = "0.2 mi"\n{more}[[ends]]\nradius = "150 ft"\nbank = "4 deg"\n'
    with pytest.raises(DocumentError, match="3 pegs are too few"):
        track(text.format(more="".join(f'[[pegs]]\nat = "{i} ft"\n' for i in range(3))))
    with pytest.raises(DocumentError, match="the distances do not rise"):
        track(text.format(more="".join('[[pegs]]\nat = "5 ft"\n' for _ in range(9))))
    with pytest.raises(DocumentError, match="lies beyond the lap"):
        track(text.format(more="".join(f'[[pegs]]\nat = "{i} mi"\n' for i in range(9))))
