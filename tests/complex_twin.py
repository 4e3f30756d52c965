"""The force law in complex arithmetic, run by test_derivatives.py in an interpreter without compilation.

`python complex_twin.py STATES ANSWERS`: reads states (npz: cars, motions, unknowns), writes the Jacobians by
complex step (Squire & Trapp, *SIAM Review* 40 (1998) 110, from memory): exact to rounding.
"""

import sys

import numpy as np

from ovalwright.vehicle import law
from ovalwright.vehicle.record import CAR, MOTION, SIZE

STEP = 1e-40


def record(row, kind):
    """A row whose fields read as attributes, as in compiled code."""
    return np.array([row], dtype=kind).view(np.recarray)[0]


def jacobian(unknowns, car, motion):
    """Derivatives of the residual by each unknown, one imaginary step each."""
    table = np.empty((SIZE, SIZE))
    for k in range(SIZE):
        u = unknowns.astype(complex)
        u[k] += 1j * STEP
        r = np.zeros(SIZE, complex)
        law.residual(u, car, motion, r, np.zeros(8), np.zeros((4, 8)))
        table[:, k] = r.imag / STEP
    return table


def main():
    """Answer for every state of the file."""
    law.value = lambda x: x  # the sums of the residual keep the imaginary part
    states = np.load(sys.argv[1])
    tables = [
        jacobian(unknowns, record(car, CAR), record(motion, MOTION))
        for car, motion, unknowns in zip(states["cars"], states["motions"], states["unknowns"], strict=True)
    ]
    np.save(sys.argv[2], np.array(tables))


if __name__ == "__main__":
    main()
