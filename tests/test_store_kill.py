"""Nothing acknowledged is lost when the program, or the server, dies at any moment.

SIGKILL leaves the system's own buffers alone. A pulled plug cannot be tried here: against it stand the
settings that make SQLite and PostgreSQL write through before they acknowledge, which are looked at, and that
a file torn at any byte beyond that still opens with whole entries, which is tried.
"""

import random

import pytest
import sqlalchemy as sa
import torture
from servers import running

from ovalwright.notebook.store import Store
from ovalwright.notebook.trouble import NotebookTrouble

SEED = 20261125


def test_a_dozen_kills_lose_nothing(tmp_path):
    count = torture.torture(tmp_path, kills=12, seed=SEED)
    assert count.kills == 12
    assert count.acknowledged > 0
    assert count.found == count.acknowledged + count.beyond


def test_kills_of_a_writer_to_the_server_lose_nothing(postgres_url):
    count = torture.Count()
    torture.kill_and_look(postgres_url, 4, random.Random(SEED), count)
    assert count.acknowledged > 0
    assert count.found == count.acknowledged + count.beyond


def test_a_crash_of_the_server_loses_nothing(server):
    with (
        running(server.programs, writes_through=server.writes_through) as ours,
        ours.database() as url,
        Store.open(url) as store,
    ):
        torture.begin(store)
        for _ in range(10):
            with store.entry("run") as session:
                torture.enter(session)
        ours.stop("immediate")
        with (
            pytest.raises(NotebookTrouble, match="the server does not answer"),
            store.entry("run") as session,
        ):
            torture.enter(session)
        ours.start()
        with store.entry("run") as session:
            torture.enter(session)
        assert torture.runs_left(url) == set(range(1, 12))


@pytest.mark.usefixtures("written_as_his")
def test_a_file_is_written_through_before_an_entry_is_acknowledged(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite") as store:
        for ways in (store.entry("look"), store.aside(), store.reading()):
            with ways as session:
                ask = session.connection().exec_driver_sql
                assert ask("PRAGMA journal_mode").scalar() == "wal"
                assert ask("PRAGMA synchronous").scalar() == 2
                assert ask("PRAGMA foreign_keys").scalar() == 1


def test_the_server_is_asked_to_write_through_before_an_entry_is_acknowledged(postgres_url):
    with Store.open(postgres_url) as store, store.entry("look") as session:
        assert session.scalar(sa.text("SHOW synchronous_commit")) == "on"


@pytest.mark.parametrize("tears", [12, pytest.param(400, marks=pytest.mark.proof)])
def test_a_file_torn_at_any_byte_has_the_entries_before_the_tear_and_none_by_half(tmp_path, tears):
    where, chance = tmp_path / "notebook.sqlite", random.Random(SEED)
    with Store.open(where) as store:
        torture.begin(store)
    torture.live_and_be_killed(str(where), 0.05, at_work=True)
    whole, beside = where.read_bytes(), where.with_name(where.name + "-wal").read_bytes()
    everything = torture.runs_left(str(where))
    before = 0
    for cut in sorted(chance.randrange(len(beside)) for _ in range(tears)):
        tail = chance.choice([b"", bytes(len(beside) - cut), chance.randbytes(len(beside) - cut)])
        torn = tmp_path / f"torn-{cut}.sqlite"
        torn.write_bytes(whole)
        torn.with_name(torn.name + "-wal").write_bytes(beside[:cut] + tail)
        left = torture.runs_left(str(torn))
        assert left == set(range(1, len(left) + 1))
        assert before <= len(left) <= len(everything)
        before = len(left)
    assert before > 0


@pytest.mark.parametrize("pages", [6, pytest.param(100, marks=pytest.mark.proof)])
def test_a_scratched_file_is_not_opened_and_left_as_it_is(tmp_path, pages):
    where, chance = tmp_path / "notebook.sqlite", random.Random(SEED)
    torture.live_and_be_killed(str(where), 0.1, at_work=True)
    torture.runs_left(str(where))
    whole = where.read_bytes()
    for _ in range(pages):
        start = chance.randrange(len(whole) // 4096) * 4096
        scratched = whole[:start] + chance.randbytes(4096) + whole[start + 4096 :]
        where.write_bytes(scratched)
        with pytest.raises(NotebookTrouble, match=r"is damaged and was left as it is|is no notebook"):
            Store.open(where)
        assert where.read_bytes() == scratched


def test_the_look_notices_half_an_entry(tmp_path):
    where = str(tmp_path / "notebook.sqlite")
    torture.live_and_be_killed(where, 0.1, at_work=True)
    assert torture.runs_left(where)
    for half in (
        "DELETE FROM lap WHERE run_id = 1 AND number = 3",
        "DELETE FROM comment WHERE run_id = 1",
        "DELETE FROM reading WHERE run_id = 1 AND place = 'LR'",
        "INSERT INTO entry (at, by, what, undoes) VALUES ('2026-05-02', '', 'run', 0)",
    ):
        with Store.open(where) as store, store.aside() as session:
            session.execute(sa.text(half))
            with pytest.raises(AssertionError):
                torture.look_at_rows(session)
            session.rollback()


@pytest.mark.proof
def test_a_thousand_kills_lose_nothing(tmp_path, capsys):
    count = torture.torture(tmp_path, kills=1000, seed=SEED)
    with capsys.disabled():
        print(f"\nSQLite, {count}")
    assert count.kills == 1000
    assert count.found == count.acknowledged + count.beyond


@pytest.mark.proof
def test_a_hundred_kills_of_a_writer_to_the_server_lose_nothing(server, postgres_url, capsys):
    assert server.writes_through
    count = torture.Count()
    torture.kill_and_look(postgres_url, 100, random.Random(SEED), count)
    with capsys.disabled():
        print(f"\nPostgreSQL, {count}")
    assert count.found == count.acknowledged + count.beyond
