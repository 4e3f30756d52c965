"""The free line of a point mass against collocation by other code, and what no free line may do."""

import numpy as np
import pytest
from evidence import DERIVED
from hypothesis import given, settings
from hypothesis import strategies as st
from ovals import OVALS, Oval, ribbon_of
from scipy.constants import g as GRAVITY
from ways import car

from ovalwright.road import Ribbon
from ovalwright.road.profile import constant, spline
from ovalwright.solve.envelope import Envelope, constant_power, limit_of
from ovalwright.solve.interior import Chain, least
from ovalwright.solve.line import Nodes, free_line
from ovalwright.solve.sweep import burden, lap

COLLOCATION = "direct collocation, 3-point Radau, 240 intervals, IPOPT; own code apart from this one"
TIMES = {
    "A": {"cubic": 22.165664, "quintic": 22.165664, "half width": 22.81487, "0.02 m": 24.14343},
    "B": {"cubic": 19.029406, "quintic": 19.02447, "half width": 19.52465, "0.02 m": 20.74144},
    "C": {"cubic": 16.956817, "quintic": 16.95490, "half width": 17.48122, "0.02 m": 18.69747},
}
PLACES = {"A": (-5.00, -1.48, 3.98, 1.76), "B": (-5.87, -1.60, 4.96, 4.97), "C": (-4.47, -1.03, 3.63, 3.40)}


def road(name, kind):
    """An oval whose bank is eased by a quintic where that is asked for, as wide as asked for."""
    oval = OVALS[name]
    width = {"half width": oval.width / 2.0, "0.02 m": 0.02}.get(kind, oval.width)
    return ribbon_of(oval._replace(width=width), easement="quintic" if kind == "quintic" else "cubic")


@pytest.mark.parametrize("kind", ["cubic", "quintic", "half width", "0.02 m"])
@pytest.mark.parametrize("name", OVALS)
def test_lap_on_the_free_line(check, name, kind):
    ours = free_line(car(name), road(name, kind))
    assert ours.converged
    of = f"free lap of oval {name}, {kind}, as planned"
    check(
        ours.planned,
        TIMES[name][kind],
        rel=5e-5,
        unit="s",
        of=of,
        source=COLLOCATION,
        kind=DERIVED,
        area="lap",
    )
    if name == "A" or kind == "quintic":
        of = f"free lap of oval {name}, {kind}, swept on the line that came out"
        check(ours.time, TIMES[name][kind], rel=5e-4, unit="s", of=of, source=COLLOCATION, kind=DERIVED,
              area="lap")  # fmt: skip
    assert ours.time <= ours.fixed


@pytest.mark.parametrize("name", OVALS)
def test_where_the_free_line_runs(check, name):
    oval, ribbon = OVALS[name], ribbon_of(OVALS[name])
    ours = free_line(car(name), ribbon)
    begins = oval.straight / 2.0
    places = np.array([0.0, begins, begins + oval.clothoid, oval.half / 2.0])
    line = ours.line
    of = f"free line of oval {name}: mid-straight, clothoid, arc, mid-arc"
    for half in (0.0, oval.half):
        offsets = np.interp(places + half, line.spine, line.offset, period=ribbon.length)
        check(offsets, PLACES[name], abs=0.08, unit="m", of=of, source=COLLOCATION, kind=DERIVED, area="lap")


@pytest.mark.parametrize(("name", "grip"), [("A", 22.6904), ("B", 19.5494), ("C", 17.3662)])
def test_free_line_at_95_percent_of_grip(check, name, grip):
    ours = free_line(car(name).driven(grip=0.95), ribbon_of(OVALS[name]))
    of = f"free lap of oval {name} at 95 % of grip"
    check(ours.planned, grip, rel=5e-5, unit="s", of=of, source=COLLOCATION, kind=DERIVED, area="lap")


WORTH = {
    "A": (-0.1005, 0.0063, -0.0069, 0.0007),
    "B": (-0.1008, 0.0076, -0.0091, 0.0015),
    "C": (-0.0789, 0.0060, -0.0065, 0.0005),
}


@pytest.mark.proof
@pytest.mark.parametrize("name", OVALS)
def test_worth_of_one_percent_on_the_free_line(check, name):
    ribbon = ribbon_of(OVALS[name])
    figures = ("friction", "mass", "power", "drag_area")
    ours = [
        0.5 * (free_line(car(name, **{one: 1.01}), ribbon, spacing=4.0).planned
               - free_line(car(name, **{one: 0.99}), ribbon, spacing=4.0).planned)
        for one in figures
    ]  # fmt: skip
    of = f"oval {name}, free line: 1 % more grip, mass, power, drag"
    check(ours, WORTH[name], abs=3e-4, unit="s", of=of, source=COLLOCATION, kind=DERIVED, area="lap")


def test_grip_scales_the_free_lap_by_its_root(check):
    """Without drag and end of power the line does not depend on grip, and time goes with its root."""
    ribbon = ribbon_of(OVALS["A"])
    circle = limit_of(friction=1.1)
    mass = Envelope(circle, circle, circle, circle, constant_power(1e5))
    ours = (
        free_line(mass.driven(grip=0.9), ribbon, spacing=2.0).planned
        / free_line(mass, ribbon, spacing=2.0).planned
    )
    check(ours, 0.9**-0.5, rel=1e-5, of="free lap at 90 % of grip, tires alone", source="T ~ grip^-1/2",
          kind=DERIVED, area="lap")  # fmt: skip


# ---------------- what must hold on any road


def hilly():
    """A ring whose bank, height and width change along it."""
    length = 500.0
    round_ = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    bend = 2.0 * np.pi / length
    return Ribbon(
        curvature=constant(bend, length),
        bank=spline(0.15 + 0.05 * np.cos(2.0 * round_ + 0.4), length),
        height=spline(0.8 * np.sin(round_) + 0.3 * np.cos(3.0 * round_), length),
        left=constant(4.0, length),
        right=spline(5.0 + np.cos(round_), length),
        sections=(),
    )


def test_push_and_load_at_nodes_are_those_of_the_line():
    """Two derivations of one geometry: vectors of the ruled surface here, angles of the line there."""
    ribbon = hilly()
    count = 1000
    plan = Nodes(ribbon, count)
    s = plan.nodes
    turns = 2.0 * np.pi / ribbon.length
    offset = np.sin(3.0 * turns * s)
    n1, n2 = 3.0 * turns * np.cos(3.0 * turns * s), -((3.0 * turns) ** 2) * offset
    line = ribbon.line(offset, spacing=0.5)
    energy = np.full(count, 450.0)
    swallowed = limit_of(flat=1.0)
    slack = Envelope(swallowed, swallowed, limit_of(flat=1e9), limit_of(flat=1e9), constant_power(1e9))
    _, margins = plan.cost_and_margins(slack, np.stack([offset, n1, n2, energy, 0.0 * s]))
    across = np.sqrt(1.0 - margins[0])
    asked = burden(line.curvature, line.bank, line.grade, line.crest)
    assert np.interp(s, line.spine, np.abs(asked.across(450.0))) == pytest.approx(across, abs=2e-3)
    heavy = limit_of(friction=1.0)
    slack = Envelope(heavy, heavy, heavy, heavy, constant_power(1e9))
    _, margins = plan.cost_and_margins(slack, np.stack([offset, n1, n2, energy, 0.0 * s]))
    along = np.interp(s, line.spine, asked.climb)
    gravity = np.sqrt((across**2 + along**2) / (1.0 - margins[0]))
    assert np.interp(s, line.spine, asked.gravity(450.0)) == pytest.approx(gravity, abs=3e-3)


@settings(max_examples=5)
@given(
    st.sampled_from("ABC"),
    st.floats(0.6, 1.8),
    st.floats(0.5, 1.0),
    st.floats(0.3, 1.0),
    st.floats(60.0, 300.0),
    st.floats(1.5, 3.0),
    st.sampled_from([np.inf, 33.0]),
)
def test_never_slower_than_fixed_and_never_off_the_road(name, grip, right, drive, power, shape, top):
    """Whatever the car; `Ribbon.line` itself refuses a line that leaves the road."""
    left = limit_of(friction=grip)
    odd = Envelope(
        left,
        left.times(right),
        left.times(0.9),
        left.times(drive),
        constant_power(power),
        4e-4,
        top,
        shape,
        2.0,
    )
    ribbon = ribbon_of(OVALS[name], easement="quintic")
    ours = free_line(odd, ribbon, spacing=3.0)
    laps = [lap(odd, ribbon.line(offset)).time for offset in (0.0, 0.3 * OVALS[name].width)]
    assert ours.converged
    assert ours.time <= min(*laps, ours.fixed) * (1.0 + 1e-4)
    assert ours.sweep.speed.max() <= min(top, 150.0) * (1.0 + 1e-9)


def test_hills_and_a_changing_width():
    ours = free_line(car("C"), hilly(), spacing=2.0)
    assert ours.converged
    assert ours.time < ours.fixed
    assert ours.planned == pytest.approx(ours.time, rel=1e-3)


def test_line_keeps_clear_of_the_edges():
    ours = free_line(car("C"), ribbon_of(OVALS["C"], easement="quintic"), clear=1.0, spacing=3.0)
    assert np.abs(ours.line.offset).max() == pytest.approx(3.5, abs=0.05)
    with pytest.raises(ValueError, match="room"):
        free_line(car("C"), ribbon_of(OVALS["C"]), clear=5.0)


def test_car_stays_on_a_road_that_twists_under_it():
    """From 8 to 28 degrees in 40 m at 60 m/s: the quickest line would fly, were it let."""
    steep = Oval(69.0, 130.0, 40.0, 8.0, 28.0, 16.0, 0.0)
    ours = free_line(car("B"), ribbon_of(steep, easement="quintic"), spacing=2.0)
    assert ours.converged
    assert 0.05 * GRAVITY < ours.sweep.gravity.min() < 0.3 * GRAVITY


def test_right_hand_track_mirrors_the_left_one():
    oval = ribbon_of(OVALS["C"], easement="quintic")
    other = Ribbon(
        curvature=_negative(oval.curvature),
        bank=_negative(oval.bank),
        height=oval.height,
        left=oval.right,
        right=oval.left,
        sections=oval.sections,
        breaks=oval.breaks,
        hand=-1,
    )
    ours, mirrored = free_line(car("C"), oval, spacing=3.0), free_line(car("C"), other, spacing=3.0)
    assert mirrored.planned == pytest.approx(ours.planned, rel=1e-7)
    assert mirrored.offset == pytest.approx(-ours.offset, abs=1e-3)


def _negative(profile):
    return type(profile)(-profile.c, profile.x, extrapolate="periodic")


def test_start_outside_its_margins_is_refused():
    chain = Chain(lambda x: (x[0] ** 2, -1.0 + 0.0 * x), np.eye(5), np.full(5, 1e-4))
    with pytest.raises(ValueError, match="inside"):
        least(chain, np.zeros((16, 2)), barrier=1.0, last=1e-6, most=10)


def test_least_of_a_chain_that_is_known(check):
    """Sum of (a - c)^2 + b^2 under a <= 1: a is the smaller of c and 1."""
    count = 40
    wish = 1.5 * np.sin(np.linspace(0.0, 2.0 * np.pi, count, endpoint=False))

    def local(x):
        return (x[1] - wish) ** 2 + x[4] ** 2, (1.0 - x[1])[None]

    found = least(
        Chain(local, np.eye(5), np.full(5, 1e-3)), np.zeros((count, 2)), barrier=1e-1, last=1e-9, most=60
    )
    assert found.converged
    check(found.unknowns[:, 0], np.minimum(wish, 1.0), abs=1e-5, of="least squares under a bound",
          source="its closed form", kind=DERIVED, area="lap")  # fmt: skip
