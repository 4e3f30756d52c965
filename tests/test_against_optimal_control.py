"""The free line against direct collocation by CasADi and IPOPT: a friction circle, a car without one, and
the envelope of the demo car."""

from itertools import pairwise

import casadi as ca
import numpy as np
import pytest
from collocation import circle_limits, free_half_lap, free_lap
from evidence import LIBRARY
from fuzz_documents import DEMO
from ovals import OVALS, ribbon_of
from scipy.constants import g as GRAVITY
from ways import CARS, car

from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import HALF_CAR
from ovalwright.solve.envelope import Envelope, Limit, fit
from ovalwright.solve.line import free_line
from ovalwright.study import free

SOURCE = "CasADi and IPOPT, 3-point Radau collocation"
MASS, POWER, DRAG = 1300.0, 260e3, 4.2e-4

# Limits of a reduced stock car [m/s^2] by V and G: grip falls with load, air presses, right turns are poorer.
LEFT = [[0.0, 1.32, -0.011], [0.0, -1.2e-3, 0.0], [3e-4, 0.0, 0.0]]
RIGHT = [[0.0, 1.10, -0.009], [0.0, -1.2e-3, 0.0], [3e-4, 0.0, 0.0]]
BRAKE = [[0.0, 1.18, -0.008], [0.0, 0.0, 0.0], [1e-4, 0.0, 0.0]]
DRIVE = [[0.0, 0.68, -0.003], [0.0, 0.0, 0.0], [2e-4, 0.0, 0.0]]
BRAKING_SHAPE, DRIVING_SHAPE = 2.3, 1.8


def engine(speed):
    """Thrust per mass of an engine whose power peaks at 42 m/s."""
    return POWER / MASS / speed * (1.0 - 2e-4 * (speed - 42.0) ** 2)


def stock_car():
    """The reduced car as ours."""
    limits = (Limit(np.array(terms)) for terms in (LEFT, RIGHT, BRAKE, DRIVE))
    return Envelope(
        *limits, engine, DRAG, braking_shape=BRAKING_SHAPE, driving_shape=DRIVING_SHAPE
    )  # fmt: skip


def stock_car_limits(v, load, drive, brake, left, right):
    """The same car for the reference."""

    def limit(terms):
        return sum(terms[i][j] * v**i * load**j for i in range(3) for j in range(3) if terms[i][j])

    side = left / limit(LEFT) + right / limit(RIGHT)
    over = [
        (drive / limit(DRIVE)) ** DRIVING_SHAPE + side**DRIVING_SHAPE - 1.0,
        (brake / limit(BRAKE)) ** BRAKING_SHAPE + side**BRAKING_SHAPE - 1.0,
        drive / engine(v) - 1.0,
    ]
    return over, DRAG * v * v


CASES = {name: (car(name), circle_limits(**CARS[name])) for name in OVALS}
CASES["reduced car on B"] = (stock_car(), stock_car_limits)
CASES["reduced car on C"] = (stock_car(), stock_car_limits)


def compare(check, case, *, intervals, spacing, time, apart):
    """Lap time within a share, line within some meters at every collocation point."""
    envelope, limits = CASES[case]
    oval = OVALS[case[-1]]
    reference = free_half_lap(oval, limits, intervals=intervals)
    ribbon = ribbon_of(oval, easement="quintic")
    ours = free_line(envelope, ribbon, spacing=spacing)
    assert ours.converged
    of = f"free lap, {case}, {intervals} intervals"
    check(ours.planned, reference.time, rel=time, unit="s", of=f"{of}, as planned", source=SOURCE,
          kind=LIBRARY, area="lap")  # fmt: skip
    check(ours.time, reference.time, rel=5e-4, unit="s", of=f"{of}, swept on our line", source=SOURCE,
          kind=LIBRARY, area="lap")  # fmt: skip
    for half in (0.0, oval.half):
        n = np.interp(reference.spine + half, ours.line.spine, ours.line.offset, period=ribbon.length)
        check(n, reference.offset, abs=apart, unit="m", of=f"{of}: where the line runs", source=SOURCE,
              kind=LIBRARY, area="lap")  # fmt: skip
    v = np.interp(reference.spine, ours.line.spine, ours.sweep.speed, period=ribbon.length)
    check(
        v, reference.speed, rel=2e-2, unit="m/s", of=f"{of}: speed", source=SOURCE, kind=LIBRARY, area="lap"
    )


@pytest.mark.parametrize("case", ["A", "C"])
def test_free_line_against_collocation(check, case):
    compare(check, case, intervals=40, spacing=1.0, time=1e-4, apart=0.1)


@pytest.mark.proof
@pytest.mark.parametrize("case", CASES)
def test_free_line_against_fine_collocation(check, case):
    compare(check, case, intervals=160, spacing=1.0, time=1e-5, apart=0.05)


# ---------------- the demo car on a demo track


def spans_of(ribbon):
    """The road between its breaks, as the reference takes it."""
    marks = [*sorted({0.0, *np.mod(ribbon.breaks, ribbon.length)}), ribbon.length]

    def place_on(start, end):
        def at(s):
            inside = min(start + s, end - 1e-9)
            bend = [float(ribbon.curvature(inside, order)) for order in range(2)]
            return (*bend, *(float(ribbon.bank(inside, order)) for order in range(3)))

        return at

    return [(b - a, place_on(a, b)) for a, b in pairwise(marks) if b - a > 1e-6]


def limits_of(envelope, lightest):
    """An envelope that was fitted to a car, for the reference."""
    thrust = envelope.push.curve.convert().coef

    def limit(of, v, load):
        v = ca.fmin(ca.fmax(v, of.speeds[0]), of.speeds[1])
        held = ca.fmin(ca.fmax(load, of.gravities[0]), of.gravities[1])
        value = sum(of.terms[i, j] * v**i * held**j for i in range(3) for j in range(3) if of.terms[i, j])
        return value * ca.fmin(load / of.gravities[0], 1.0)

    def limits(v, load, drive, brake, left, right):
        side = left / limit(envelope.left, v, load) + right / limit(envelope.right, v, load)
        p, q = envelope.driving_shape, envelope.braking_shape
        pull = sum(term * v**k for k, term in enumerate(thrust))
        pull -= envelope.scrub * (left - right) ** 2 + envelope.press * (load - GRAVITY) ** 2
        over = [
            (drive / limit(envelope.drive, v, load)) ** p + side**p - 1.0,
            (brake / limit(envelope.brake, v, load)) ** q + side**q - 1.0,
            drive / pull - 1.0,
            v / envelope.top - 1.0,
            lightest - load / GRAVITY,
        ]
        return over, envelope.drag * v * v

    return limits


@pytest.mark.parametrize(
    ("track", "intervals", "time", "apart"),
    [
        ("flat_quarter", 40, 1e-4, 0.2),
        pytest.param("three_eighths", 160, 5e-5, 0.1, marks=pytest.mark.proof),
    ],
)
def test_free_line_of_the_demo_car_against_collocation(check, track, intervals, time, apart):
    packed = with_fuel(build(assemble(DEMO / "setup_conventional.toml")), share=0.8)
    ours = free.free_lap(packed, load_track(DEMO / f"track_{track}.toml"), Conditions())
    ribbon, envelope = ours.lap.line.ribbon, ours.sampled.fit.envelope
    assert np.abs(ribbon.height(np.arange(0.0, ribbon.length))).max() == 0.0
    edges = HALF_CAR - float(ribbon.right(0.0)), float(ribbon.left(0.0)) - HALF_CAR
    reference = free_lap(
        spans_of(ribbon), limits_of(envelope, ours.lightest), intervals=intervals, edges=edges
    )
    of = f"free lap, envelope of the demo car on {track}, {intervals} intervals"
    check(ours.plan.planned, reference.time, rel=time, unit="s", of=f"{of}, as planned", source=SOURCE,
          kind=LIBRARY, area="lap")  # fmt: skip
    n = np.interp(reference.spine, ours.plan.line.spine, ours.plan.line.offset, period=ribbon.length)
    check(n, reference.offset, abs=apart, unit="m", of=f"{of}: where the line runs", source=SOURCE,
          kind=LIBRARY, area="lap")  # fmt: skip


def test_envelope_fitted_to_samples_of_a_car():
    """Boundary points of the reduced car, as a solver of its limit would give them, and the car again."""
    true = stock_car()
    speed, gravity, angle = (one.ravel() for one in np.meshgrid(
        [18.0, 26.0, 34.0, 42.0], [8.0, 11.0, 14.0, 18.0], np.linspace(-np.pi, np.pi, 24, endpoint=False)
    ))  # fmt: skip
    reach = 1.0 / true.use(speed, gravity, np.sin(angle), np.cos(angle))
    along, across = reach * np.sin(angle), reach * np.cos(angle)
    held = along > engine(speed)
    along = np.minimum(along, engine(speed))
    found = fit(speed, gravity, along, across, push=engine, drag=DRAG)
    assert held.any()
    assert found.worst < 2e-3
    ribbon = ribbon_of(OVALS["C"], easement="quintic")
    again = free_line(found.envelope, ribbon, spacing=3.0).planned
    assert again == pytest.approx(free_line(true, ribbon, spacing=3.0).planned, rel=1e-3)


def test_envelope_of_too_few_samples_is_refused():
    speed, gravity, across = np.full(5, 30.0), np.full(5, 9.8), np.linspace(1.0, 9.0, 5)
    with pytest.raises(ValueError, match="No sample of the car's limit brakes"):
        fit(speed, gravity, np.sqrt(100.0 - across**2), across, push=engine)


def test_limit_outside_its_samples_keeps_to_the_nearest():
    limit = Limit(np.array(LEFT), speeds=(15.0, 45.0), gravities=(8.0, 20.0))
    speed, gravity = np.array([5.0, 60.0, 30.0, 30.0]), np.array([10.0, 10.0, 30.0, 4.0])
    inside = limit(np.array([15.0, 45.0, 30.0, 30.0]), np.array([10.0, 10.0, 20.0, 8.0]))
    assert limit(speed, gravity) == pytest.approx(inside * [1.0, 1.0, 1.0, 0.5])
