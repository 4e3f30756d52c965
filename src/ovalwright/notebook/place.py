"""Where the notebook is and who writes into it, unless told."""

from __future__ import annotations

import getpass
import os

FILE_NAME = "notebook.sqlite"
WHERE_NAME, WHO_NAME = "OVALWRIGHT_NOTEBOOK", "OVALWRIGHT_NAME"
"""Environment: where the notebook is, and who writes."""


def usual_place() -> str:
    """Where the notebook is unless told: in the environment, or one file in the user's data folder."""
    told = os.environ.get(WHERE_NAME, "").strip()
    if told:
        return told
    import platformdirs

    return str(platformdirs.user_data_path("ovalwright", appauthor=False) / FILE_NAME)


def usual_name() -> str:
    """Who writes unless told: in the environment, or the name of the computer's user."""
    try:
        return os.environ.get(WHO_NAME, "").strip() or getpass.getuser()
    except (OSError, KeyError):
        return ""
