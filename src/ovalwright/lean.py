"""Loading the compiled physics without what it never uses: half a second of each first answer of a turn.

When Numba first loads compiled code it looks for SciPy's linear algebra, only to learn whether it is there,
and that import takes a quarter of a second. The kernel solves its own small systems, so the look is answered
with no. Linear algebra that a kernel asks for later is found all the same, for Numba looks again when it
compiles it, and so it is by everybody else.

Of every compiled function Numba keeps the machine code and, to put it into others that are compiled later,
its bitcode as well. Reading that and listing what it holds takes longer than all the rest of loading; here it
is read when another function asks for it.
"""

from __future__ import annotations

import sys
from typing import Any

from llvmlite.binding import parse_bitcode
from numba.core.codegen import JITCodeLibrary, JITCPUCodegen

from ovalwright.kept import closed_folder

_SOUGHT = "scipy.linalg"

closed_folder()  # before anything compiled is read from it


class _LeanLibrary(JITCodeLibrary):  # type: ignore[misc]
    """A compiled function; where it comes from the cache, its bitcode is read at its first use."""

    _bitcode = b""
    _shared_module: Any

    @classmethod
    def _unserialize(cls, codegen: Any, state: Any) -> Any:
        name, kind, held = state
        if kind != "object":
            return super()._unserialize(codegen, state)
        library = codegen.create_library(name)
        machine_code, library._bitcode = held
        library.enable_object_caching()
        library._set_compiled_object(machine_code)
        library._finalize_final_module()
        return library

    def _get_module_for_linking(self) -> Any:
        if self._bitcode and self._shared_module is None:
            self._shared_module = parse_bitcode(self._bitcode)
        return super()._get_module_for_linking()

    def get_pointer_to_function(self, name: str) -> int:
        """Where its own function begins; Numba's list of symbols lacks those of the cache."""
        if not self._bitcode:
            return int(super().get_pointer_to_function(name))
        return int(self._codegen._engine.get_function_address(name))


def load_lean() -> None:
    """Have Numba load compiled functions lean, and its array functions with SciPy's linear algebra out of
    sight for just that long.
    """
    JITCPUCodegen._library_class = _LeanLibrary
    if _SOUGHT in sys.modules:
        return
    sys.modules[_SOUGHT] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del sys.modules[_SOUGHT]
