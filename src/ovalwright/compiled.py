"""Compiling the physics, and keeping the compiled code where an edited kernel can never meet a stale copy.

Numba's on-disk cache looks only at the file that holds a function, not at the files whose functions it
calls. The cache folder is therefore named by a hash of every kernel source and of the versions and the
processor that shape the machine code: one changed line, another folder.
"""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar, cast

import platformdirs

F = TypeVar("F", bound=Callable[..., Any])
KERNEL_ROOMS = ("mechanics", "vehicle", "solve")


def kernel_sources() -> list[Path]:
    """Every file whose text shapes the machine code: those of the kernel rooms that compile something or lay
    out memory."""
    here = Path(__file__).parent
    found = [p for room in KERNEL_ROOMS for p in sorted((here / room).glob("*.py"))]
    return [Path(__file__), *(p for p in found if p.parent.name != "solve" or "..compiled" in p.read_text())]


def kernel_fingerprint() -> str:
    """Sixteen hex digits that change whenever a kernel source, numba, llvmlite, numpy or the machine does."""
    digest = hashlib.sha256()
    for path in kernel_sources():
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    for library in ("numba", "llvmlite", "numpy"):
        digest.update(f"{library}{version(library)}".encode())
    digest.update(f"{platform.machine()}{platform.processor()}{platform.python_version()}".encode())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Where the compiled kernel of exactly these sources lives."""
    root = os.environ.get("OVALWRIGHT_CACHE") or platformdirs.user_cache_dir("ovalwright", appauthor=False)
    return Path(root) / f"kernel-{kernel_fingerprint()}"


os.environ["NUMBA_CACHE_DIR"] = str(cache_folder())

import numba  # noqa: E402  (the cache folder must be named before numba reads it)

numba.config.CACHE_DIR = os.environ["NUMBA_CACHE_DIR"]


def compiled(function: F) -> F:
    """Compile a kernel function: no Python objects, IEEE division, cached on disk, runs outside the GIL."""
    return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy")(function))


def inlined(function: F) -> F:
    """Compile a small building block of the kernel. Cached only inside its callers."""
    return cast(F, numba.njit(nogil=True, error_model="numpy")(function))
