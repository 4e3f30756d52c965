"""What was here before, against a plain look through all runs of the season."""

import pytest
import sqlalchemy as sa

from ovalwright.notebook import shelf
from ovalwright.notebook.asked.here_before import LAST_RUNS, best_here, last_weather
from ovalwright.notebook.tables import Lap, Run


@pytest.fixture
def session(season_store):
    with season_store.reading() as opened:
        yield opened


@pytest.fixture
def runs(session):
    """Every run, the last first."""
    return session.scalars(sa.select(Run).order_by(Run.started.desc(), Run.id.desc())).all()


def test_the_best_lap_is_the_quickest_of_the_last_runs_of_the_car_there(session, runs):
    def car(setup):
        return shelf.refers_to(session, setup)["car"].document_id

    assert len(runs) > LAST_RUNS
    for setup, track in {(one.setup, one.track) for one in runs if one.track}:
        here = [one for one in runs if one.track and one.track.document_id == track.document_id]
        lately = [one for one in here if one.best and car(one.setup) == car(setup)][:LAST_RUNS]
        found = best_here(session, setup, track)
        quickest = min(lately, key=lambda one: one.best)
        assert (found.time, found.run, found.day) == (
            quickest.best, quickest.number, quickest.started.date()
        )  # fmt: skip
        told = sa.select(Lap.number).where(Lap.run_id == quickest.id, Lap.time == quickest.best)
        assert found.lap in (session.scalars(told).all() or [None])


def test_the_weather_is_that_of_the_last_run_there_where_it_was_read(session, runs):
    read = next(one for one in runs if one.track and one.air is not None)
    assert last_weather(session, read.track) is read


def test_of_a_track_that_was_never_driven_nothing_is_known(season_store, runs):
    with season_store.entry("a track for the test") as session:
        setup, track = (session.merge(one) for one in (runs[0].setup, runs[0].track))
        never = shelf.keep(session, shelf.document_of(track), name="Never driven here")
        assert best_here(session, setup, never) is None
        assert last_weather(session, never) is None
