"""The ribbon of road and the line driven on it, against closed forms and a road laid out by other means."""

from __future__ import annotations

import numpy as np
import pytest
from evidence import DERIVED
from ovals import OVALS, Oval, ribbon_of
from ribbon import FIRST, SECOND, STENCIL, road_axes
from scipy.special import fresnel

from ovalwright.road import Piece, Ribbon, ribbon_of_pieces
from ovalwright.road.line import path_of
from ovalwright.road.profile import constant, pieced, through
from ovalwright.road.shape import Bend, Turn, closed_plan

GRAVITY = 9.80665


@pytest.mark.parametrize("name", OVALS)
def test_half_lap_of_an_oval(name: str, check):
    oval = OVALS[name]
    ribbon = ribbon_of(oval)
    check(
        ours=ribbon.length / 2,
        expected=oval.half,
        abs=1e-6,
        unit="m",
        of=f"half spine of oval {name}",
        source="straight and two half circles lengthened by one clothoid: Ls + pi R + Lc",
        kind=DERIVED,
        area="road",
    )
    assert np.allclose(ribbon.spine.gap(1), 0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("radius", "length", "x", "y", "turned"),
    [(60.0, 30.0, 29.813042, 2.488861, 14.323945), (75.0, 45.0, 44.596684, 4.471154, 17.188734)],
)
def test_end_of_a_clothoid(radius, length, x, y, turned, check):
    oval = Oval(radius, 100.0, length, 0.0, 0.0, 10.0, 0.0)
    end = ribbon_of(oval).plan(np.array([50.0 + length]))
    scale = np.sqrt(np.pi * radius * length)
    s, c = fresnel(length / scale)
    source = "Fresnel integrals of SciPy and quadrature of the heading"
    check(
        end.x[0] - 50.0,
        x,
        abs=1e-6,
        unit="m",
        of="clothoid end, along",
        source=source,
        kind=DERIVED,
        area="road",
    )
    check(
        end.y[0], y, abs=1e-6, unit="m", of="clothoid end, across", source=source, kind=DERIVED, area="road"
    )
    check(
        np.degrees(end.heading[0]), turned, abs=1e-6, unit="deg",
        of="turn of a clothoid", source="L / 2R", kind=DERIVED, area="road",
    )  # fmt: skip
    assert np.allclose((end.x[0] - 50.0, end.y[0]), (scale * c, scale * s), atol=1e-10)


def normal_load(ribbon: Ribbon, spine: np.ndarray, offset: float, speed: float) -> np.ndarray:
    """Load per mass [m/s^2] of a point at a steady offset, from what the path says of the road."""
    path = path_of(ribbon, constant(offset, ribbon.length), spine)
    bend = path.curvature * np.cos(path.grade)
    bow = path.crest * np.cos(path.bank) + bend * np.cos(path.grade) * np.sin(path.bank)
    return GRAVITY * np.cos(path.grade) * np.cos(path.bank) + speed**2 * bow


@pytest.mark.parametrize("offset", [-5.0, 0.0, 4.0])
def test_load_of_a_steady_offset(offset: float, check):
    """The ruled surface by its fundamental forms, without headings or grades."""
    ribbon, speed = ribbon_of(OVALS["B"], easement="quintic"), 45.0
    s = np.linspace(0.0, ribbon.length / 2, 97)
    k, dk = ribbon.curvature(s), ribbon.curvature(s, 1)
    b, db, ddb = ribbon.bank(s), ribbon.bank(s, 1), ribbon.bank(s, 2)
    a, twist = 1.0 - offset * k * np.cos(b), offset * db
    slope = -offset * (dk * np.cos(b) - k * db * np.sin(b))
    h = np.hypot(a, twist)
    bow = ((slope + twist * k * np.sin(b)) * twist + (a * k * np.sin(b) - offset * ddb) * a) / h**3
    check(
        normal_load(ribbon, s, offset, speed),
        GRAVITY * a * np.cos(b) / h + speed**2 * bow,
        abs=1e-9,
        unit="m/s^2",
        of=f"load per mass at {offset:+g} m from the spine",
        source="second fundamental form of the ruled surface C + n (cos b N - sin b Z)",
        kind=DERIVED,
        area="road",
    )


def test_easements_of_the_bank(check):
    speed, offset = 45.0, 5.0
    cubic, quintic = (ribbon_of(OVALS["B"], easement=name) for name in ("cubic", "quintic"))
    start = np.array([80.0 - 1e-9, 80.0 + 1e-9])
    before, after = normal_load(cubic, start, offset, speed)
    source = "-n beta'' V^2 at the start of the easement, 6 over its length squared"
    check(
        before - after, 5.23599, abs=1e-4, unit="m/s^2", of="step of load of a cubic easement",
        source=source, kind=DERIVED, area="road",
    )  # fmt: skip
    before, after = normal_load(quintic, start, offset, speed)
    check(
        before - after, 0.0, abs=1e-6, unit="m/s^2", of="step of load of a quintic easement",
        source=source, kind=DERIVED, area="road",
    )  # fmt: skip
    along = np.linspace(80.0, 125.0, 20001)
    for ribbon, peak in ((cubic, 1.047198), (quintic, 1.007666)):
        check(
            np.abs(ribbon.bank(along, 2)[1:-1]).max() * speed**2, peak, rel=1e-3, unit="rad/s^2",
            of="greatest acceleration of bank over an easement",
            source="6 and 10/sqrt(3) over length squared", kind=DERIVED, area="road",
        )  # fmt: skip


def wavy_ribbon() -> Ribbon:
    """An oval that also climbs, dips and narrows."""
    base = ribbon_of(OVALS["B"], easement="quintic")
    length = base.length
    height = through([40.0, 300.0, 520.0], [0.0, 2.5, -1.0], length, "quintic")
    return Ribbon(base.curvature, base.bank, height, base.left, base.right, base.sections, base.breaks)


def test_path_against_differences_of_its_places(check):
    """Places of the path, differenced along it: curvature, grade, and the lean of the surface."""
    ribbon = wavy_ribbon()
    offset = through([0.0, 150.0, 400.0, 700.0], [-4.0, 3.0, -2.0, 4.5], ribbon.length, "quintic")
    spine = np.array([20.0, 93.0, 110.0, 200.0, 333.0, 530.0, 610.0, 821.0])
    path = path_of(ribbon, offset, spine)
    step = 0.05
    s = spine[:, None] + STENCIL * step
    places = ribbon.point(s, offset(s))
    first, second = (np.einsum("k,ikj->ij", w, places) / step**p for w, p in ((FIRST, 1), (SECOND, 2)))
    flat = np.hypot(first[:, 0], first[:, 1])
    source = "seven-point differences of places in fixed axes"
    turn = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / flat**3
    check(
        path.curvature,
        turn,
        abs=1e-9,
        unit="1/m",
        of="curvature in plan",
        source=source,
        kind=DERIVED,
        area="road",
    )
    grade = np.arctan2(first[:, 2], flat)
    check(
        path.grade,
        grade,
        abs=1e-10,
        unit="rad",
        of="grade of the path",
        source=source,
        kind=DERIVED,
        area="road",
    )
    aside = np.stack([ribbon.point(spine, offset(spine) + STENCIL[j] * step) for j in range(7)], axis=1)
    ruling = np.einsum("k,ikj->ij", FIRST, aside) / step
    normal = np.cross(first, ruling)
    level = np.stack([-first[:, 1], first[:, 0], 0.0 * flat], axis=1) / flat[:, None]
    upright = np.cross(first, level)
    lean = np.arctan2((normal * level).sum(1), (normal * upright).sum(1) / np.linalg.norm(first, axis=1))
    check(
        path.bank,
        lean,
        abs=1e-9,
        unit="rad",
        of="bank across the path",
        source=source,
        kind=DERIVED,
        area="road",
    )


def test_rates_against_differences_along_the_path(check):
    ribbon = wavy_ribbon()
    offset = through([0.0, 150.0, 400.0, 700.0], [-4.0, 3.0, -2.0, 4.5], ribbon.length, "quintic")
    spine = np.array([20.0, 93.0, 110.0, 200.0, 333.0, 530.0, 610.0, 821.0])
    path, step = path_of(ribbon, offset, spine), 0.02
    around = path_of(ribbon, offset, spine[:, None] + STENCIL * step)
    for name, of in (
        ("curvature", "curvature_rate"),
        ("bank", "bank_rate"),
        ("bank_rate", "bank_bend"),
        ("grade", "crest"),
    ):
        slope = getattr(around, name) @ FIRST / step / path.pace
        check(
            getattr(path, of), slope, abs=1e-9, of=f"{of} of a line that crosses the road",
            source="seven-point differences along the path", kind=DERIVED, area="road",
        )  # fmt: skip


def test_path_against_a_road_laid_out_in_space(check):
    """A road grown from the fields of one station has the same place and axes a little further on."""
    ribbon = wavy_ribbon()
    offset = constant(3.0, ribbon.length)
    spine, ahead = np.array([93.0]), 0.2
    path = path_of(ribbon, offset, spine)
    motion = {name: float(getattr(path, name)[0]) for name in path._fields}
    there, axes = road_axes(motion, ahead)
    halfway = path_of(ribbon, offset, spine + 0.5 * ahead / path.pace).pace
    forward = spine + ahead / halfway
    here = ribbon.plan(spine).heading[0] + path.turned[0]
    c, s = np.cos(here), np.sin(here)
    moved = (ribbon.point(forward, offset(forward)) - ribbon.point(spine, offset(spine)))[0]
    turned = np.array([c * moved[0] + s * moved[1], -s * moved[0] + c * moved[1], moved[2]])
    source = "ribbon laid out in fixed axes from curvature, slope and bank"
    check(turned, there, abs=2e-6, unit="m", of="place 0.2 m on", source=source, kind=DERIVED, area="road")
    bank = path_of(ribbon, offset, forward).bank[0]
    lean = np.arcsin(-axes[2, 1] / np.cos(motion["grade"] + motion["crest"] * ahead))
    check(bank, lean, abs=1e-6, unit="rad", of="bank 0.2 m on", source=source, kind=DERIVED, area="road")


def test_stations_lie_on_breaks_and_add_up(check):
    ribbon = ribbon_of(OVALS["A"])
    line = ribbon.line(2.0)
    assert set(np.round(ribbon.breaks, 9)) <= set(np.round(line.spine, 9))
    check(
        line.length, ribbon.length - 2.0 * np.pi * 2.0, abs=1e-9, unit="m",
        of="lap 2 m inside of a flat oval", kind=DERIVED, area="road",
        source="an offset curve of one full turn is 2 pi n shorter (Steiner, from memory)",
    )  # fmt: skip


def test_stations_are_closer_where_the_path_changes():
    """And one stands just before each break where the turning into the bend jumps, knowing what from."""
    ribbon = ribbon_of(OVALS["B"], easement="quintic")
    line = ribbon.line(-3.0, spacing=3.0)
    easing = np.abs(line.curvature_rate) > 1e-9
    before = line.step < 0.1
    assert before.sum() == 8, "both ends of four clothoids"
    assert line.step[easing & ~before].max() < 2.2 < 3.9 < line.step[~easing & ~before].min()
    assert 0.9 * ribbon.length / 3.0 < len(line.step) < 1.1 * ribbon.length / 3.0
    jump = np.roll(line.curvature_rate, -1) - line.curvature_rate
    assert np.abs(jump[before]).min() > 2e-4 > np.abs(jump[~before & ~easing]).max()


def test_a_lap_that_does_not_close_is_refused():
    with pytest.raises(ValueError, match="from its start"):
        ribbon_of_pieces([Piece(50.0), Piece(100.0, (0.02, 0.02))], width=10.0)


def test_a_road_wider_than_its_turn_is_refused():
    with pytest.raises(ValueError, match="radius of only"):
        ribbon_of(Oval(20.0, 100.0, 10.0, 0.0, 0.0, 42.0, 0.0))


def test_a_road_that_runs_into_itself_is_refused():
    plan = closed_plan((Turn(30.0, 10.0), Turn(30.0, 10.0)), 800.0, Bend(-0.7, 150.0, 30.0))
    pieces = [Piece(run.length, (run.start, run.end)) for run in plan.runs]
    assert ribbon_of_pieces(pieces, width=6.0).length == pytest.approx(800.0)
    with pytest.raises(ValueError, match="the road runs into itself"):
        ribbon_of_pieces(pieces, width=30.0)


def test_a_line_off_the_road_is_refused():
    with pytest.raises(ValueError, match=r"6.0 m right of the road's center"):
        ribbon_of(OVALS["A"]).line(-6.0)
    with pytest.raises(ValueError, match="stations"):
        ribbon_of(OVALS["A"]).line(0.0, spacing=1e-6)


def test_a_profile_needs_length():
    with pytest.raises(ValueError, match="without length"):
        pieced([0.0], [1.0], [2.0], "linear")
