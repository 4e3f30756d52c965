"""Every tire's load, the roll and the coils, against an exact rigid-body solver fed the same tire forces.

`python -m pytest tests/test_against_rigid_bodies.py -rP` prints the table of differences.
"""

import mujoco
import numpy as np
import pytest
from bodies import bodies_of
from cars import CASES, solved
from evidence import LIBRARY

SOURCE = f"MuJoCo {mujoco.__version__}: free bodies, exact links, the same tire forces"


def area_of(motion):
    if motion["standing"] > 0.5:
        return "settle"
    return "banking" if motion["bank"] or motion["bank_rate"] else "trim"


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_against_rigid_bodies(check, case):
    ours = solved(case.car(), case.motion)
    other = bodies_of(ours.car, ours.motion, ours.unknowns, ours.corners).rest()
    corners = ours.corners
    assert other.residual < 1e-9
    assert other.closure < 1e-9
    shared = {"source": SOURCE, "kind": LIBRARY}
    area = area_of(case.motion)
    roll = np.degrees(ours.unknowns[4])
    print(
        f"\n{case.name:48s} load {np.abs(corners['load'] - other.loads).max():8.3f} N"
        f" {np.abs(corners['load'] / np.maximum(other.loads, 1.0) - 1.0).max():9.1e}"
        f" roll {abs(roll - np.degrees(other.pose['roll'])):9.1e} deg"
        f" coil {1e3 * np.abs(corners['coil_length'] - other.coils).max():9.1e} mm"
        f" slip angle {np.abs(corners['slip_angle'] - other.slip_angles).max():9.1e}"
        f" left over {np.abs(other.drift).max():9.1e} W, {np.abs(other.torques).max():9.1e} N m"
    )
    check(
        corners["load"],
        other.loads,
        rel=1e-3,
        abs=0.5,
        unit="N",
        of=f"{case.name}: wheel loads",
        area=area,
        **shared,
    )
    check(
        roll,
        np.degrees(other.pose["roll"]),
        abs=2e-3,
        unit="deg",
        of=f"{case.name}: roll",
        area=area,
        **shared,
    )
    check(
        corners["coil_length"],
        other.coils,
        abs=2e-5,
        unit="m",
        of=f"{case.name}: coil lengths",
        area="linkage",
        **shared,
    )
    if area != "settle":
        check(
            np.concatenate([corners["slip_angle"], corners["slip"]]),
            np.concatenate([other.slip_angles, other.slips]),
            abs=1e-4,
            of=f"{case.name}: slip angles and slips from the bodies' own motion along the ribbon",
            area="stagger",
            **shared,
        )
        check(
            np.concatenate([other.drift, other.torques / (ours.car["weight"])]),
            np.zeros(6),
            abs=2e-4,
            of=f"{case.name}: forces along and across, yaw moment and wheel torques left over, of the weight",
            area=area,
            **shared,
        )
