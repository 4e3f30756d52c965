"""No room left, or nothing may be written: one clear sentence, and everything acknowledged is there."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import torture
from servers import someone_else

from ovalwright.notebook import copies
from ovalwright.notebook.store import Store

if os.name == "nt":
    pytest.skip("limits and rights are those of POSIX", allow_module_level=True)

import shortage

NO_ROOM = ("the disk is full", "the disk takes no more of it", "cannot be written (File too large)")
MAY_NOT = (
    "may not be written to",
    "lies where nothing may be written",
    "cannot be opened",
    "cannot be written (Permission denied)",
)


def is_one_clear_sentence(told: str, about: tuple[str, ...]) -> bool:
    return any(words in told for words in about) and told.count(". ") == 0 and told.endswith(".")


@pytest.mark.parametrize("pages", [5, pytest.param(60, marks=pytest.mark.proof)])
def test_an_entry_stopped_at_any_of_its_pages_is_none_and_the_next_is_whole(tmp_path, pages):
    stopped = shortage.aside(shortage.enter_with_little_room, tmp_path / "notebook.sqlite", pages)
    assert len(stopped) >= min(pages, 20) // 2
    assert all(is_one_clear_sentence(told, NO_ROOM) for told in stopped)


def test_a_notebook_that_finds_no_room_to_begin_begins_later(tmp_path):
    where = tmp_path / "notebook.sqlite"
    sentences = shortage.aside(shortage.open_with_little_room, where, [0, 40_000, 400_000])
    assert all(is_one_clear_sentence(told, NO_ROOM) for told in sentences)
    shortage.open_and_enter(where)
    assert torture.runs_left(str(where)) == {1}


def test_a_copy_and_a_bundle_that_find_no_room_leave_nothing(tmp_path):
    where, place = tmp_path / "notebook.sqlite", tmp_path / "stick"
    place.mkdir()
    shortage.open_and_enter(where)
    sentences = shortage.aside(shortage.copy_and_export_with_little_room, where, place, 1000)
    assert all(is_one_clear_sentence(told, NO_ROOM) for told in sentences)
    assert list(place.iterdir()) == []
    assert torture.runs_left(str(where)) == {1}


# ---------------- a stick that is full


@pytest.fixture
def stick(tmp_path: Path) -> Iterator[Path]:
    """A disk of 6 MB with 2 MB of something else on it."""
    place = tmp_path / "stick"
    place.mkdir()
    mounting = ["mount", "-t", "tmpfs", "-o", "size=6m", "ovalwright", str(place)]
    if os.geteuid() != 0 or subprocess.call(mounting, stderr=subprocess.DEVNULL) != 0:
        pytest.skip("a small disk cannot be mounted here")
    try:
        (place / "pictures").write_bytes(b"\0" * 2_000_000)
        yield place
    finally:
        subprocess.check_call(["umount", "--lazy", str(place)])


def test_a_full_disk_keeps_what_was_acknowledged_and_takes_more_when_there_is_room(stick):
    where = stick / "notebook.sqlite"
    with Store.open(where) as store:
        torture.begin(store)
        number = shortage.enter_one(store)
        while not (told := shortage.told(shortage.enter_one, store)):
            number += 1
        assert is_one_clear_sentence(told, NO_ROOM[:1])
        for again in (
            shortage.told(shortage.enter_one, store),
            shortage.told(copies.copy_now, store, stick / "copies"),
            shortage.told(shortage.export, store, stick / "everything.zip"),
        ):
            assert "disk is full" in again or "No space left" in again
        with store.reading() as session:
            assert torture.look_at_rows(session) == set(range(1, number + 1))
    with Store.open(where) as store, store.reading() as session:
        assert torture.look_at_rows(session) == set(range(1, number + 1))
    (stick / "pictures").unlink()
    shortage.open_and_enter(where)
    assert torture.runs_left(str(where)) == set(range(1, number + 2))
    assert {path.name for path in stick.iterdir()} == {"notebook.sqlite", "copies"}


# ---------------- a place that may only be read


@pytest.fixture
def places() -> Iterator[tuple[int, Path, Path]]:
    """Someone without rights, a folder with a notebook, and a shelf; all his own, for root may everything."""
    user = someone_else().get("user", os.geteuid())
    home = Path(tempfile.mkdtemp(prefix="ovalwright-"))
    folder, shelf = home / "notebook", home / "shelf"
    folder.mkdir()
    shelf.mkdir()
    shortage.open_and_enter(folder / "notebook.sqlite")
    for path in (home, folder, shelf, folder / "notebook.sqlite"):
        os.chown(path, user, -1)
    yield user, folder, shelf
    for path in (folder, shelf):
        path.chmod(0o755)
    shutil.rmtree(home)


@pytest.mark.parametrize("what", ["the folder", "the file"])
def test_what_may_only_be_read_stays_as_it_was(places, what):
    user, folder, shelf = places
    where = folder / "notebook.sqlite"
    before = where.read_bytes()
    shelf.chmod(0o555)
    (folder if what == "the folder" else where).chmod(0o555)
    sentences = shortage.aside(shortage.work_without_rights, user, where, shelf)
    assert sentences.keys() == {"enter", "make", "make in a new folder", "give back", "copy", "export"}
    assert {what: told for what, told in sentences.items() if not is_one_clear_sentence(told, MAY_NOT)} == {}
    assert where.read_bytes() == before
    assert list(shelf.iterdir()) == []
    folder.chmod(0o755)
    where.chmod(0o644)
    assert torture.runs_left(str(where)) == {1}
