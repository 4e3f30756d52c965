"""A rear coil that hangs off its seat at rest picks up in the turn: where, and what that does to the car."""

import numpy as np
import pytest
from cars import LF, LR, RF, RR, at_rest, hang, late_model, turn, wedge
from evidence import DERIVED
from scipy import constants as unit
from scipy.optimize import brentq

from ovalwright.mechanics.contact import touch_band
from ovalwright.solve.newton import CONVERGED
from ovalwright.solve.trim import trim
from ovalwright.vehicle.answer import read_corners
from ovalwright.vehicle.record import CORNER, SIZE

RADIUS = 60.0
STEP = 0.002
SOURCE = "the same car with that coil taken out, by hand: it picks up where the empty seat closes its gap"


def car_with_gap():
    """A car on its LR and RF, the RR coil 1/4 in off its seat on the scales, on grippy tires."""
    car = wedge(late_model())
    car["tire"]["grip"] = 1.25
    car["front_cg"][2] = car["rear_cg"][2] = 13.0 * unit.inch
    return hang(car, RR, 0.25 * unit.inch)


def corners_at(car, settled, lateral):
    """The corners of the car on a flat circle at a lateral acceleration [g]."""
    u, corners = np.zeros(SIZE), np.zeros(4, CORNER)
    motion = turn(np.sqrt(max(lateral, 1e-6) * unit.g * RADIUS), RADIUS)
    status, *_ = trim(settled, car, motion, u, np.zeros((40, SIZE)))
    assert status == CONVERGED, f"no trim at {lateral:.3f} g"
    read_corners(u, car, motion, corners)
    return corners


@pytest.fixture(scope="module")
def sweep():
    car = car_with_gap()
    settled = at_rest(car)
    lateral = np.arange(STEP, 1.2 + 1e-9, STEP)
    return car, lateral, np.array([corners_at(car, settled, g) for g in lateral])


@pytest.fixture(scope="module")
def pick_up():
    """Where the seat of the missing coil would close: no contact is in this car at all."""
    car = car_with_gap()
    car["coil_rate"][RR] = 0.0
    settled = at_rest(car)
    return brentq(lambda g: corners_at(car, settled, g)["coil_gap"][RR], 0.05, 0.5, xtol=1e-9)


def test_rr_coil_picks_up_where_its_gap_closes(check, sweep, pick_up):
    _, lateral, corners = sweep
    force = corners["coil_force"][:, RR]
    touched = corners["coil_gap"][:, RR] <= 0.0
    first = int(np.argmax(touched))
    check(
        lateral[first] - 0.5 * STEP,
        pick_up,
        abs=STEP,
        unit="g",
        of="lateral acceleration at which a RR coil 1/4 in off its seat picks up, by a sweep",
        source=SOURCE,
        kind=DERIVED,
        area="trim",
    )
    assert touched[first:].all()
    assert (np.diff(force[first:]) > 0.0).all()


def test_hanging_coil_pushes_exactly_nothing(sweep):
    car, _, corners = sweep
    off = corners["coil_gap"][:, RR] > touch_band(car["coil_rate"][RR])
    assert off.sum() > 50
    assert (corners["coil_force"][off, RR] == 0.0).all()


def test_loads_are_continuous(sweep):
    """A jump would stay as large when the steps are halved; what is continuous halves with them."""
    _, _, corners = sweep
    for figure in (corners["load"], corners["coil_force"]):
        fine, coarse = (np.abs(np.diff(figure[::every], axis=0)).max() for every in (1, 2))
        assert fine < 0.6 * coarse


def slopes(lateral, figure, pick_up):
    """Slope of a figure per g just before and just after the pick-up, each over 0.04 g."""
    before = (lateral > pick_up - 0.05) & (lateral < pick_up - 0.01)
    after = (lateral > pick_up + 0.01) & (lateral < pick_up + 0.05)
    return tuple(float(np.polyfit(lateral[part], figure[part], 1)[0]) for part in (before, after))


def bend_without_contact(lateral, figure, pick_up):
    """How much the slope bends over the same distance a little earlier, where nothing touches."""
    early = slopes(lateral, figure, pick_up - 0.06)
    return abs(early[1] - early[0])


def test_rr_load_slope_breaks(check, sweep, pick_up):
    _, lateral, corners = sweep
    load = corners["load"][:, RR]
    before, after = slopes(lateral, load, pick_up)
    check.fact(
        after > 1.1 * before and after - before > 5.0 * bend_without_contact(lateral, load, pick_up),
        of="from the pick-up on the RR tire takes load faster",
        source="statics: the coil joins the springs that hold the tail against roll",
        kind=DERIVED,
        area="trim",
    )


def test_cross_weight_bends(check, sweep, pick_up):
    _, lateral, corners = sweep
    load = corners["load"]
    cross = 100.0 * (load[:, RF] + load[:, LR]) / load.sum(axis=1)
    before, after = slopes(lateral, cross, pick_up)
    check.fact(
        after < before and before - after > 5.0 * bend_without_contact(lateral, cross, pick_up),
        of="cross weight in the turn bends downward where the RR coil picks up",
        source="statics: roll stiffness moves to the tail, so load leaves RF and LR for LF and RR",
        kind=DERIVED,
        area="trim",
    )
    assert load[:, LF].min() >= 0.0
