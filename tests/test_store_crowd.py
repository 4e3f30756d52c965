"""Many write at once: no update is lost, and nobody is told that the notebook is locked."""

import crowd
import pytest

from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Change, Entry

QUICK_S, LONG_S = 1.0, 60.0


def see_that_nothing_was_lost(where: str, seconds: float) -> crowd.Tally:
    crowd.lay_out(where)
    tally = crowd.crowd(where, seconds)
    assert tally.told == []
    assert crowd.kept(where) == {what: tally.done[what] for what, _ in crowd.CHANGES}
    with Store.open(where) as store, store.reading() as session:
        assert session.query(Entry).filter_by(what="a lap more").count() == tally.done["laps"]
        changes = session.query(Change).filter_by(done="changed").order_by(Change.id)
        laps = [change.before["laps_before"] for change in changes]
    assert laps == sorted(laps)
    assert len(laps) == tally.done["laps"] + tally.done["miles"]
    assert tally.clashes["strokes"] > 0
    assert tally.clashes["miles"] > 0
    return tally


def test_no_update_is_lost(store_url):
    see_that_nothing_was_lost(store_url, QUICK_S)


def test_programs_that_open_a_new_notebook_at_one_moment_all_may(store_url):
    assert crowd.open_at_once(store_url, 4) == [""] * 4


def test_what_is_read_together_is_of_one_moment(store_url):
    crowd.lay_out(store_url)
    with Store.open(store_url) as store, store.reading() as session:
        before = session.query(Entry).count()
        crowd.add_lap(store)
        assert session.query(Entry).count() == before
        with store.reading() as later:
            assert later.query(Entry).count() == before + 1


@pytest.mark.proof
def test_no_update_is_lost_in_a_minute(store_url, request, capsys):
    tally = see_that_nothing_was_lost(store_url, LONG_S)
    with capsys.disabled():
        print(f"\n{request.node.callspec.id}: acknowledged and found {dict(tally.done)}, ", end="")
        print(f"another hand was quicker {tally.clashes.total()} times, nothing else was told")
