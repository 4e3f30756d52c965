"""A notebook with a week in it, made by the commands: a rack, a setup, its parts, an event, a run."""

import functools
import tempfile
from pathlib import Path

import pytest
from asked import good
from fuzz_documents import DEMO

SETUP, TRACK = "setup_conventional.toml", "track_three_eighths.toml"
NAME = "Conventional"
CAR = "Number none, perimeter-frame late model"
MARKS = {"LF": "T2", "RF": "T8", "LR": "T5", "RR": "T11"}
LAPS = 40
"""Laps of the practice that was run."""


@functools.cache
def _made():
    """The bytes of the notebook; made once."""
    here = DEMO.resolve()
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder) / "notebook.sqlite"

        def say(*words):
            good(*words, "--notebook", where)

        say("parts", "rack", here / "rack.toml", "--on", "2026-04-01")
        say("keep", here / SETUP, here / TRACK, "--reason", "as it stands")
        say("parts", "fit", NAME, "--on", "2026-04-20")
        say("log", "event", "Opening night", "--on", "2026-04-25", "--track", "Three-eighths at twelve")
        say("log", "run", "--session", "practice", "--laps", here / "laps_practice.csv", "--at", "18:30",
            "--driver", "Pat", "--note", "first time out")  # fmt: skip
        return where.read_bytes()


def put_at(where):
    """The notebook as a file."""
    where.parent.mkdir(parents=True, exist_ok=True)
    where.write_bytes(_made())
    return where


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """An empty notebook in the working folder."""
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    monkeypatch.setenv("OVALWRIGHT_NAME", "Pat")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def week(empty):
    """A week in that notebook: its setup fitted on 2026-04-20, run at 18:30 on 2026-04-25."""
    put_at(empty / "notebook.sqlite")
    return empty
