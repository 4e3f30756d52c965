"""What was in the car in a run entered at home: which run is the last, which setup was in, which parts rode."""

import json

import pytest
from a_week import put_at
from asked import good

from ovalwright.notebook import runs
from ovalwright.notebook.parts import time_told
from ovalwright.notebook.store import Store


@pytest.fixture
def week(tmp_path, monkeypatch):
    """A week in a notebook: its setup fitted on 2026-04-20, run at 18:30 on 2026-04-25."""
    monkeypatch.setenv("OVALWRIGHT_NOTEBOOK", str(tmp_path / "notebook.sqlite"))
    monkeypatch.setenv("OVALWRIGHT_NAME", "Pat")
    monkeypatch.chdir(tmp_path)
    put_at(tmp_path / "notebook.sqlite")
    return tmp_path


def told(*words):
    """The answer as JSON."""
    return json.loads(good(*words, "--json"))


def a_run(*words):
    """A run logged."""
    return told("log", "run", *words)["run"]


# ---------------- which run is the last


def test_a_run_without_a_time_comes_after_the_run_before_it(week):
    good("quick", "LR +1/2", "--reason", "loose on exit")
    second, third = a_run(), a_run()
    good("log", "said", "last", "better")
    assert [one["words"] for one in told("log", "show", third["code"])["run"]["comments"]] == ["better"]
    assert "LR +1/2" in told("log", "show", second["code"])["changed_before"]
    assert told("log", "show", third["code"])["changed_before"] == ""
    with Store.open() as store, store.reading() as session:
        first, *untold = runs.runs_of(session, runs.event_of(session, "last"))
        assert time_told(first.started) and not any(time_told(one.started) for one in untold)
        assert sorted([first, *untold], key=lambda one: one.started) == [first, *untold]


def test_last_is_the_run_that_was_entered_last_whatever_its_time(week):
    late = a_run("--at", "17:00")
    assert told("log", "show", "last")["run"]["code"] == late["code"]
    good("log", "event", "Winter test", "--on", "2026-02-01")
    older = good("log", "run", "--event", "Winter test")
    assert "or last" not in older and told("log", "show", "last")["run"]["code"] == late["code"]
