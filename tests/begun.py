"""A notebook that a run was entered into from the command line, and the demo's files beside it."""

import shutil

import pytest
from asked import good
from fuzz_documents import DEMO

from ovalwright.notebook import runs
from ovalwright.notebook.store import Store

SETUP, TRACK = "setup_hanging_rr.toml", "track_three_eighths.toml"
TRACK_NAME = "Three-eighths at twelve"


@pytest.fixture(scope="session")
def begun(tmp_path_factory):
    """A notebook with a setup, a track, an event and a run with laps."""
    where = tmp_path_factory.mktemp("begun") / "notebook.sqlite"
    here = DEMO.resolve()
    good("keep", here / SETUP, here / TRACK, "--reason", "as it stands", "--notebook", where)
    good("log", "event", "Opening night", "--on", "2026-04-25", "--track", TRACK_NAME, "--notebook", where)
    laps = here / "laps_practice.csv"
    good("log", "run", "--session", "practice", "--fuel", "18 gal", "--laps", laps, "--notebook", where)
    return where


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The demo's files in a folder of their own, which is the working folder."""
    here = tmp_path / "my shop"
    shutil.copytree(DEMO, here)
    monkeypatch.chdir(here)
    return here


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """The demo's files in the working folder, and an empty notebook beside them."""
    here = tmp_path / "shop"
    shutil.copytree(DEMO, here)
    monkeypatch.chdir(here)
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(tmp_path / "kept" / "notebook.sqlite"))
    return here


@pytest.fixture
def full(shop, tmp_path, begun):
    """The same with a notebook that a run was entered into."""
    (tmp_path / "kept").mkdir()
    shutil.copy(begun, tmp_path / "kept" / "notebook.sqlite")
    return shop


def last_run():
    with Store.open() as store, store.reading() as session:
        return runs.record(session, runs.run_of(session, "last"))
