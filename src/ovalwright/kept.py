"""The folder in which compiled code is kept on this computer: closed to others, and cleared of what is old.

What lies there is run as it is, so it has to be ours: a folder that another user owns is not used, and what
lies in one of ours into which others could write is thrown away and compiled again. Windows keeps the folders
of its users apart by itself.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import stat
import tempfile
import time
from pathlib import Path

from ovalwright.compiled import cache_folder

WAY_OUT = "set OVALWRIGHT_CACHE to a folder that you own"
UNUSED_FOR = 60 * 86_400.0
"""Seconds after which the compiled physics of other sources is thrown away."""
_NAME = re.compile(r"kernel-[0-9a-f]{16}")
_BY_OTHERS = stat.S_IWGRP | stat.S_IWOTH


def closed_folder() -> Path:
    """The folder of the compiled physics, made if it can be, into which nobody else can have put anything.

    Raises PermissionError where another user owns it or the folder it is in, or can write to one that is not
    ours.
    """
    folder = cache_folder()
    with contextlib.suppress(OSError):
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
    if os.name == "nt":
        return folder
    _close(folder.parent.resolve(), may_be_shared=True)
    if _close(folder):
        folder.chmod(0o700)
        _empty(folder)
    with contextlib.suppress(OSError):
        os.utime(folder)
    return folder


def drop_unused() -> None:
    """Remove what was compiled from other sources and not used for long; what cannot be removed stays."""
    ours, long_ago = cache_folder(), time.time() - UNUSED_FOR
    for folder in ours.parent.glob("kernel-*"):
        with contextlib.suppress(OSError):
            seen = folder.lstat()
            is_mine = seen.st_uid == ours.lstat().st_uid
            if folder != ours and is_mine and seen.st_mtime < long_ago and _NAME.fullmatch(folder.name):
                shutil.rmtree(folder)


def _empty(folder: Path) -> None:
    """Remove every file and link; the folders stay for a program that is at work in them."""
    for one in list(folder.rglob("*")):
        if one.is_symlink() or not one.is_dir():
            one.unlink()


def _close(folder: Path, *, may_be_shared: bool = False) -> bool:
    """Take from others the right to write into a folder; returns whether they had it.

    One that `may_be_shared` may be of the kind in which each can remove only what is his, as /tmp is.
    """
    try:
        seen = folder.lstat()
    except FileNotFoundError:
        return False
    is_open = bool(seen.st_mode & _BY_OTHERS) and not (may_be_shared and seen.st_mode & stat.S_ISVTX)
    is_ours = seen.st_uid in (os.getuid(), _owner_of_what_is_made_in(folder))
    if not stat.S_ISDIR(seen.st_mode) or not (is_ours or seen.st_uid == 0) or (is_open and not is_ours):
        raise PermissionError(errno.EPERM, f"another user can write there: {WAY_OUT}", str(folder))
    if is_open:
        folder.chmod(stat.S_IMODE(seen.st_mode) & ~_BY_OTHERS)
    return is_open


def _owner_of_what_is_made_in(folder: Path) -> int:
    """Who owns what this user makes in a folder: a mounted disk may name somebody else for everything."""
    try:
        with tempfile.TemporaryFile(dir=folder) as made:
            return os.fstat(made.fileno()).st_uid
    except OSError:
        return os.getuid()
