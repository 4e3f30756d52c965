"""The compiled derivatives against the complex step on the same law, interpreted."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from cars import (
    LR,
    RR,
    at_rest,
    big_bar,
    boxed,
    changed,
    dragging,
    hang,
    late_model,
    set_bar_rate,
    stops,
    turn,
    wedge,
    without,
)
from evidence import LIBRARY
from scipy import constants as unit

from ovalwright.solve.settle import standing
from ovalwright.vehicle.law import residual_and_jacobian
from ovalwright.vehicle.record import CAR, MOTION, SIZE

TWIN = Path(__file__).with_name("complex_twin.py")
STATES = 20
SPREAD = np.array([300.0, 0.03, 0.004, 0.01, 0.02, 0.01, 0.004, 0.04, 0.04, 0.015, 0.015, 1.5, 1.5, 1.0])
MODES = {
    "standing": (late_model, standing()),
    "rolling on the flat": (late_model, turn(20.0, 60.0)),
    "power on a bank": (
        lambda: changed(late_model(), twist_rate=5e4),
        turn(28.0, 60.0, 24.0, acceleration=2.0),
    ),
    "brakes, warp and spiral": (
        late_model,
        turn(
            25.0,
            90.0,
            9.0,
            acceleration=-3.0,
            bank_rate=0.005,
            bank_bend=1e-4,
            curvature_rate=2e-4,
            crest=0.002,
        ),
    ),
    "LF wheel locked": (late_model, turn(18.0, 80.0, acceleration=-3.0, lock_left=1.0)),
    "steering box, big bar, stops": (lambda: boxed(big_bar(late_model())), turn(22.0, 60.0, 12.0)),
    "RR coil near its seat": (lambda: hang(wedge(late_model()), RR, 0.1 * unit.inch), turn(12.0, 60.0)),
    "no RR coil, rear stops, tail on the ground": (
        lambda: stops(dragging(without(wedge(late_model()), RR)), {LR: 1.0, RR: 1.0}),
        turn(34.0, 70.0, 33.0),
    ),
    "slack bar": (lambda: slack(late_model()), turn(14.0, 60.0)),
}


def slack(car):
    set_bar_rate(car, 2500.0)
    return changed(car, bar_slack=0.01)


def draw(make, motion, seed):
    """Random states about the car at rest, wheels turning with the road, one between brakes and power."""
    rng = np.random.default_rng(seed)
    car = make()
    states = at_rest(car) + SPREAD * rng.uniform(-1.0, 1.0, (STATES, SIZE))
    if motion["standing"] < 0.5:
        states[:, 11:] += motion["speed"] / car["tire"]["free_radius"][:3]
        states[:, 0] += 300.0 * motion["acceleration"] + 600.0
        states[0, 0] = 2.0
    return car, states


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """Compiled and complex-step Jacobians of all modes: one interpreter for all of them."""
    folder = tmp_path_factory.mktemp("twin")
    cars, motions, unknowns = [], [], []
    for seed, (make, motion) in enumerate(MODES.values()):
        car, states = draw(make, motion, seed)
        cars += [car] * STATES
        motions += [motion] * STATES
        unknowns += list(states)
    unknowns = np.array(unknowns)
    np.savez(
        folder / "states.npz", cars=np.array(cars, CAR), motions=np.array(motions, MOTION), unknowns=unknowns
    )
    subprocess.run(
        [sys.executable, str(TWIN), str(folder / "states.npz"), str(folder / "answers.npy")],
        check=True,
        env=os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
    )
    compiled = np.zeros((len(cars), SIZE, SIZE))
    for k, (car, motion) in enumerate(zip(cars, motions, strict=True)):
        residual_and_jacobian(
            unknowns[k], car, motion, np.zeros(SIZE), compiled[k], np.zeros(8), np.zeros((4, 8))
        )
    return compiled, np.load(folder / "answers.npy")


@pytest.mark.parametrize("mode", MODES)
def test_derivatives(check, answers, mode):
    first = STATES * list(MODES).index(mode)
    ours, theirs = (table[first : first + STATES] for table in answers)
    assert np.isfinite(theirs).all()
    row = np.maximum(np.abs(theirs).max(axis=2, keepdims=True), 1.0)
    worst = float(np.abs((ours - theirs) / row).max())
    print(f"{mode}: worst difference {worst:.1e} of its row")
    check(
        ours / row,
        theirs / row,
        abs=1e-10,
        of=f"14 x 14 derivatives at {STATES} random states, as a share of each row: {mode}",
        source="complex step on the interpreted law (NumPy's complex arithmetic)",
        kind=LIBRARY,
        area="trim",
    )
