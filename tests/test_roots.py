"""Crossings of zero against SciPy's, and the physics loaded without its linear algebra."""

import math
import subprocess
import sys

import pytest
from evidence import LIBRARY
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from ovalwright.study.roots import crossing

CURVES = {
    "cosine less x": (lambda x: math.cos(x) - x, 0.0, 1.5),
    "ninth power": (lambda x: x**9 - 0.1, 0.0, 4.0),
    "falling": (lambda x: 2.0 - math.exp(x), -3.0, 5.0),
    "kink": (lambda x: x - 0.3 if x < 0.3 else 1e4 * (x - 0.3), -1.0, 1.0),
}


@pytest.mark.parametrize("name", CURVES)
def test_as_scipy_finds_it(check, name):
    function, low, high = CURVES[name]
    check(
        crossing(function, low, high, within=1e-12),
        brentq(function, low, high, xtol=1e-13),
        abs=2e-12,
        unit="1",
        of=f"where it crosses zero: {name}",
        source="SciPy, scipy.optimize.brentq",
        kind=LIBRARY,
        area="limit",
    )


@given(st.floats(-0.99, 0.99), st.floats(0.001, 1000.0))
def test_a_jump_is_found_between_its_sides(place, height):
    seen = []

    def step(x):
        seen.append(x)
        return -1.0 if x < place else height

    assert crossing(step, -1.0, 1.0, within=1e-6) == pytest.approx(place, abs=1e-6)
    assert len(seen) < 100


def test_ends_count_and_a_root_must_be_between():
    assert crossing(lambda x: x - 1.0, 1.0, 2.0, within=1e-9) == 1.0
    assert crossing(lambda x: x - 2.0, 1.0, 2.0, within=1e-9) == 2.0
    with pytest.raises(ValueError, match="no change of sign between 1 and 2"):
        crossing(lambda x: x, 1.0, 2.0, within=1e-9)


def test_a_turn_loads_no_linear_algebra_but_leaves_it_to_others():
    story = (
        "import sys, ovalwright.study.turn, ovalwright.cli.turning; "
        "print([m for m in ('scipy.linalg', 'scipy.optimize', 'scipy.stats', 'pint') if m in sys.modules]); "
        "import scipy.linalg; print(scipy.linalg.det([[2.0]]))"
    )
    told = subprocess.run([sys.executable, "-c", story], capture_output=True, text=True, check=True)
    assert told.stdout.split() == ["[]", "2.0"]


def test_a_compiled_function_from_the_cache_can_still_be_put_into_another():
    story = """
import numba, numpy as np, ovalwright.pack
from ovalwright.mechanics.linkage import invert4
from ovalwright.lean import _LeanLibrary

@numba.njit
def later(m):
    return invert4(m), m[2, 6]

def twos():
    return np.hstack([2.0 * np.eye(4), np.zeros((4, 4))])

first = twos()
print(invert4(first), first[2, 6], *later(twos()))
library = invert4.overloads[invert4.signatures[0]].library
print(isinstance(library, _LeanLibrary), len(library._bitcode) > 0)
"""

    def told():
        done = subprocess.run([sys.executable, "-c", story], capture_output=True, text=True, check=True)
        return done.stdout.split()

    was_there = told() == (loaded := ["True", "0.5", "True", "0.5", "True", "True"])
    assert was_there or told() == loaded
