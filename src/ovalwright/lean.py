"""Loading the compiled physics without what it never uses.

When Numba first loads compiled code it looks for SciPy's linear algebra, only to learn whether it is there,
and that import takes a quarter of a second, a good part of the whole answer of a turn. The kernel solves its
own small systems, so the look is answered with no. Linear algebra that a kernel asks for later is found all
the same,
for Numba looks again when it compiles it, and so it is by everybody else.
"""

from __future__ import annotations

import sys

import ovalwright.compiled  # noqa: F401  (names the cache folder before numba is asked for anything)

_SOUGHT = "scipy.linalg"


def load_without_linear_algebra() -> None:
    """Have Numba load its array functions with SciPy's linear algebra out of sight for just that long."""
    if _SOUGHT in sys.modules:
        return
    sys.modules[_SOUGHT] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del sys.modules[_SOUGHT]
