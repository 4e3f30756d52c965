"""Where the notebook is and who writes into it, unless told."""

from __future__ import annotations

import getpass
import os
from pathlib import Path

FILE_NAME = "notebook.sqlite"
WHERE_NAME, WHO_NAME = "OVALWRIGHT_NOTEBOOK", "OVALWRIGHT_NAME"
"""Environment: where the notebook is, and who writes."""


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
