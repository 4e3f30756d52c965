"""A copy made while others write is whole; giving it back brings its rows and loses none of the present."""

import datetime as dt
import sqlite3
from pathlib import Path

import filled
import pytest
import sqlalchemy as sa
import torture
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.cli.notes import opened
from ovalwright.cli.screen import Screen
from ovalwright.notebook import copies, tables
from ovalwright.notebook.store import Store, engine_for
from ovalwright.notebook.trouble import NotebookTrouble

NOON = dt.datetime(2026, 9, 30, 12, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def full(tmp_path_factory) -> Path:
    """A notebook with something in every table."""
    where = tmp_path_factory.mktemp("full") / "notebook.sqlite"
    with Store.open(where) as store:
        filled.fill(store.engine)
    return where


@pytest.fixture
def notebook(full, tmp_path) -> Path:
    """The same for each test."""
    where = tmp_path / "car 8" / "notebook.sqlite"
    where.parent.mkdir()
    where.write_bytes(full.read_bytes())
    return where


def rows_of(where: Path | str) -> dict:
    engine = engine_for(str(where))
    try:
        return filled.dump(engine)
    finally:
        engine.dispose()


def listed(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# ---------------- making one


def test_a_copy_has_every_row(store_url, tmp_path):
    with Store.open(store_url) as store:
        filled.fill(store.engine)
        copy = copies.copy_now(store, tmp_path / "copies")
        assert rows_of(copy) == filled.dump(store.engine)


def test_a_copy_made_while_another_program_writes_is_whole(store_url, tmp_path):
    hear, tell = torture.processes.Pipe(duplex=False)
    writer = torture.processes.Process(target=torture.write, args=(store_url, tell))
    writer.start()
    tell.close()
    acknowledged = int(hear.recv_bytes())
    with Store.open(store_url) as store:
        for _ in range(3):
            copy = copies.copy_now(store, tmp_path / "copies")
            found = torture.runs_left(str(copy))
            assert set(range(1, acknowledged + 1)) <= found
            assert found == set(range(1, len(found) + 1))
            while hear.poll():
                acknowledged = int(hear.recv_bytes())
    writer.kill()
    writer.join()
    hear.close()


def test_the_last_day_is_copied_once_before_anything_of_today(notebook, monkeypatch):
    with Store.open(notebook) as store:
        with store.entry("a lap") as session:
            session.add(tables.Event(name="Opening", held_on=NOON.date()))
        assert copies.copy_of_the_day(store) is None, "today is not over"
        tomorrow = tables.now() + dt.timedelta(days=1)
        monkeypatch.setattr(copies, "now", lambda: tomorrow)
        made = copies.copy_of_the_day(store)
        assert made is not None and rows_of(made) == rows_of(notebook)
        assert copies.copy_of_the_day(store) is None, "nothing was entered since"


def test_a_notebook_that_cannot_be_copied_is_opened_all_the_same(notebook, monkeypatch, capsys):
    (notebook.parent / copies.FOLDER_NAME).write_text("no folder")
    monkeypatch.setattr(copies, "now", lambda: NOON + dt.timedelta(days=36500))
    screen = Screen()
    with opened(screen, str(notebook)) as store, store.reading() as session:
        assert session.scalars(sa.select(tables.Entry)).first() is not None
    screen.end("notebook", {})
    assert "No copy was made of the last day" in capsys.readouterr().out


def test_a_copy_opens_as_a_notebook_and_finds_words(notebook):
    with Store.open(notebook) as store, Store.open(copies.copy_now(store)) as copy, copy.reading() as session:
        connection = session.connection()
        found = connection.exec_driver_sql(
            "SELECT count(*) FROM saying_words WHERE saying_words MATCH 'words'"
        )
        assert found.scalar() == filled.ROWS


def test_copies_lie_beside_the_notebook_under_their_moment(notebook):
    with Store.open(notebook) as store:
        first, second = copies.copy_now(store), copies.copy_now(store)
    assert first.parent == notebook.parent / "copies"
    assert listed(first.parent) == [first.name, second.name]
    assert [copy.path for copy in copies.copies_of(notebook)] == [second, first]
    made = copies.copies_of(notebook)[1].made_at
    assert abs(made - dt.datetime.now(dt.UTC)) < dt.timedelta(minutes=1)


def test_a_copy_that_cannot_be_finished_leaves_nothing(notebook, tmp_path, monkeypatch):
    monkeypatch.setattr(copies, "_check", lambda _: (_ for _ in ()).throw(NotebookTrouble("damaged")))
    with Store.open(notebook) as store, pytest.raises(NotebookTrouble, match="damaged"):
        copies.copy_now(store, tmp_path / "copies")
    assert listed(tmp_path / "copies") == []


def test_a_copy_to_where_no_folder_can_be_is_a_sentence(notebook, tmp_path):
    (tmp_path / "stick").write_text("a file where the folder should go")
    with Store.open(notebook) as store, pytest.raises(NotebookTrouble, match="stick"):
        copies.copy_now(store, tmp_path / "stick")


# ---------------- which stay


def test_what_stays_after_two_seasons_of_a_copy_each_evening():
    evenings = [NOON - dt.timedelta(days=day) for day in range(730)]
    stay = copies.staying(evenings)
    assert len(stay) == 32 + 22
    assert {moment for moment in evenings if NOON - moment <= dt.timedelta(days=31)} <= stay
    assert dt.datetime(2026, 2, 28, 12, tzinfo=dt.UTC) in stay
    assert dt.datetime(2026, 2, 27, 12, tzinfo=dt.UTC) not in stay


def test_of_a_busy_day_stay_the_last_ten():
    race_day = [NOON + dt.timedelta(minutes=10 * number) for number in range(40)]
    assert copies.staying(race_day) == set(race_day[-10:])


MOMENTS = st.lists(
    st.datetimes(dt.datetime(2025, 1, 1), dt.datetime(2027, 1, 1)).map(lambda at: at.replace(tzinfo=dt.UTC))
)


@given(MOMENTS)
def test_the_last_of_every_month_stays_and_what_stays_would_stay_again(made):
    stay = copies.staying(made)
    assert stay <= set(made)
    assert copies.staying(stay) == stay
    assert {(at.year, at.month) for at in made} == {(at.year, at.month) for at in stay}
    assert set(sorted(made)[-10:]) <= stay


def test_a_new_copy_removes_only_copies_of_its_own_notebook(notebook):
    place = copies.usual_folder(notebook)
    place.mkdir()
    names = [f"notebook-2020-01-{day:02}T120000Z.sqlite" for day in range(1, 21)]
    others = ["notebook-2020-01-01.sqlite", "spare-2020-01-01T120000Z.sqlite", "notes.txt"]
    for name in names + others:
        (place / name).write_text("")
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    assert listed(place) == sorted([*names[-9:], *others, copy.name])


# ---------------- giving one back


def test_giving_back_brings_back_the_rows_and_sets_the_present_aside(notebook):
    with Store.open(notebook) as store:
        before = filled.dump(store.engine)
        copy = copies.copy_now(store)
        with store.aside() as session:
            session.connection().exec_driver_sql("DELETE FROM draft")
    present = rows_of(notebook)
    assert present != before
    aside = copies.restore(copy, notebook)
    assert rows_of(notebook) == before
    assert rows_of(copy) == before
    assert rows_of(aside) == present
    with Store.open(notebook) as store, store.entry("the season goes on"):
        pass


def test_giving_back_where_there_is_none_makes_one(notebook, tmp_path):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    assert copies.restore(copy, tmp_path / "new laptop" / "notebook.sqlite") is None
    assert rows_of(tmp_path / "new laptop" / "notebook.sqlite") == rows_of(notebook)


def test_giving_back_in_place_of_a_damaged_one_keeps_the_damaged_one(notebook):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    broken = notebook.read_bytes()[:5000]
    notebook.write_bytes(broken)
    with pytest.raises(NotebookTrouble, match="damaged"):
        Store.open(notebook)
    aside = copies.restore(copy, notebook)
    assert aside.read_bytes() == broken
    assert rows_of(notebook) == rows_of(copy)


def test_what_a_killed_program_acknowledged_is_set_aside_too(notebook, tmp_path):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    where = tmp_path / "killed.sqlite"
    acknowledged = torture.live_and_be_killed(str(where), 0.0, at_work=True)
    assert where.with_name("killed.sqlite-wal").stat().st_size
    aside = copies.restore(copy, where)
    assert acknowledged <= torture.runs_left(str(aside))
    assert rows_of(where) == rows_of(copy)


def test_what_cannot_be_joined_to_a_damaged_notebook_goes_with_it(notebook, monkeypatch):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    notebook.with_name("notebook.sqlite-wal").write_bytes(b"what was left")
    monkeypatch.setattr(copies, "_see_that_it_is_closed", lambda _: None)
    aside = copies.restore(copy, notebook)
    assert aside.with_name(aside.name + "-wal").read_bytes() == b"what was left"
    assert not notebook.with_name("notebook.sqlite-wal").exists()


def test_a_notebook_open_anywhere_is_not_replaced(notebook):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
        with store.reading() as session:
            session.connection()
        with pytest.raises(NotebookTrouble, match="is open in another program"):
            copies.restore(copy, notebook)
    assert listed(notebook.parent) == ["copies", "notebook.sqlite"]


def damaged(copy: Path, way: str) -> None:
    whole = copy.read_bytes()
    middle = len(whole) // 2
    if way == "other":
        copy.unlink()
        with sqlite3.connect(copy) as connection:
            connection.execute("CREATE TABLE song (name TEXT)")
        connection.close()
        return
    copy.write_bytes(
        {
            "truncated": whole[:middle],
            "empty": b"",
            "text": b"LF 12 psi\n" * 1000,
            "scratched": whole[: middle - 4096] + b"\xff" * 8192 + whole[middle + 4096 :],
        }[way]
    )


@pytest.mark.parametrize("way", ["truncated", "empty", "text", "scratched", "other"])
def test_a_damaged_copy_is_refused_and_nothing_is_changed(notebook, way):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    damaged(copy, way)
    present, names = notebook.read_bytes(), listed(notebook.parent)
    with pytest.raises(NotebookTrouble, match=r"is damaged and was not used|is no copy of a notebook"):
        copies.restore(copy, notebook)
    assert notebook.read_bytes() == present
    assert listed(notebook.parent) == names


def test_what_cannot_be_given_back_is_a_sentence(notebook):
    with Store.open(notebook) as store:
        copy = copies.copy_now(store)
    for what, where, told in (
        (copy, "postgresql://racer@server/notebook", "on a server"),
        (copy.with_name("none.sqlite"), notebook, "there is no such copy"),
        (notebook, notebook, "is the notebook itself"),
    ):
        with pytest.raises(NotebookTrouble, match=told):
            copies.restore(what, where)
