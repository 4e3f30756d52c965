"""Where the notebook is and who writes into it, unless told."""

from __future__ import annotations

import getpass
import os
from pathlib import Path

FILE_NAME = "notebook.sqlite"
WHERE_NAME, WHO_NAME = "OVALWRIGHT_NOTEBOOK", "OVALWRIGHT_NAME"
"""Environment: where the notebook is, and who writes."""
NOBODY = ("root", "administrator", "system", "nobody")
"""Users that computers have without anybody being called so."""


def usual_place() -> str:
    """Where the notebook is unless told: in the environment, or one file in the user's data folder."""
    return os.environ.get(WHERE_NAME, "").strip() or str(data_folder() / FILE_NAME)


def data_folder() -> Path:
    """The user's data folder, as the system has it."""
    import platformdirs

    return platformdirs.user_data_path("ovalwright", appauthor=False)


def usual_name() -> str:
    """Who writes unless told: in the environment, or the name of the computer's user."""
    try:
        return os.environ.get(WHO_NAME, "").strip() or getpass.getuser()
    except (OSError, KeyError):
        return ""


def person(name: str) -> str:
    """The name of who wrote, as paper says it: nothing for a user that is nobody's name."""
    return "" if name.strip().lower() in NOBODY else name
