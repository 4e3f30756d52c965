"""The folder of compiled code: ours, closed to others, and cleared of what nobody uses any more."""

from __future__ import annotations

import os
import time

import pytest

from ovalwright import compile as compiling
from ovalwright import kept

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows keeps the folders of its users apart")
OURS = "kernel-0123456789abcdef"
STRANGER = 4711


@pytest.fixture
def folder(tmp_path, monkeypatch):
    found = tmp_path / "cache" / OURS
    monkeypatch.setattr(kept, "cache_folder", lambda: found)
    monkeypatch.setattr(compiling, "cache_folder", lambda: found)
    return found


@pytest.fixture
def umask():
    """A computer where the group of a user may write what he makes."""
    before = os.umask(0o002)
    yield
    os.umask(before)


def planted(folder, mode):
    folder.mkdir(parents=True)
    (folder / compiling.DONE).write_text("1 s")
    folder.chmod(mode)


def owned_by(monkeypatch, place, owner):
    """Make `place` look as if another user owned it."""
    real = kept.Path.lstat

    def lstat(path):
        seen = list(real(path))
        return os.stat_result([*seen[:4], owner if path == place else seen[4], *seen[5:]])

    monkeypatch.setattr(kept.Path, "lstat", lstat)


def test_it_is_made_for_its_user_alone(folder, umask):
    assert kept.closed_folder() == folder
    assert [place.stat().st_mode & 0o777 for place in (folder.parent, folder)] == [0o700, 0o700]


@pytest.mark.parametrize("mode", [0o700, 0o755])
def test_what_only_its_user_could_write_stays(folder, mode):
    planted(folder, mode)
    kept.closed_folder()
    assert (folder / compiling.DONE).exists() and folder.stat().st_mode & 0o777 == mode


@pytest.mark.parametrize("mode", [0o775, 0o777])
def test_what_others_could_write_is_thrown_away_and_the_folder_closed(folder, tmp_path, mode):
    planted(folder, mode)
    (folder / "mechanics").mkdir()
    (folder / "mechanics" / "tire.nbc").write_text("planted")
    (folder / "pages").symlink_to(tmp_path)
    (tmp_path / "mine").write_text("not to be touched")
    kept.closed_folder()
    assert [one.name for one in folder.rglob("*")] == ["mechanics"]
    assert folder.stat().st_mode & 0o777 == 0o700 and (tmp_path / "mine").exists()


def test_the_folder_around_it_is_closed_unless_each_keeps_his_own_in_it(folder):
    planted(folder, 0o700)
    for mode, closed in ((0o775, 0o755), (0o1777, 0o1777)):
        folder.parent.chmod(mode)
        kept.closed_folder()
        assert folder.parent.stat().st_mode & 0o7777 == closed
        assert (folder / compiling.DONE).exists()


@pytest.mark.parametrize("of_the_stranger", ["folder", "around"])
def test_a_folder_of_another_user_is_not_used(folder, monkeypatch, capsys, of_the_stranger):
    planted(folder, 0o755)
    owned_by(monkeypatch, folder if of_the_stranger == "folder" else folder.parent, STRANGER)
    with pytest.raises(PermissionError, match="another user can write there"):
        kept.closed_folder()
    assert compiling.main() == 1
    said = capsys.readouterr()
    assert said.err.count("\n") == 1 and said.err.count(kept.WAY_OUT) == 1 and said.out == ""
    assert (folder / compiling.DONE).exists(), "what is his is left alone"


def test_a_link_in_its_place_is_not_followed(folder, tmp_path):
    planted(tmp_path / "elsewhere", 0o777)
    folder.parent.mkdir()
    folder.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(PermissionError):
        kept.closed_folder()
    assert (tmp_path / "elsewhere" / compiling.DONE).exists()


def test_what_the_administrator_made_for_all_is_used(folder, monkeypatch):
    planted(folder, 0o755)
    owned_by(monkeypatch, folder, 0)
    monkeypatch.setattr(os, "getuid", lambda: folder.parent.stat().st_uid)
    assert kept.closed_folder() == folder and (folder / compiling.DONE).exists()


def test_only_what_was_compiled_from_other_sources_long_ago_is_removed(folder):
    kept.closed_folder()
    long_ago = time.time() - 2 * kept.UNUSED_FOR
    old, young, other = (
        folder.parent / name for name in ("kernel-" + "a" * 16, "kernel-" + "b" * 16, "kernel-mine")
    )
    for one in (old, young, other):
        (one / "pages").mkdir(parents=True)
    for one in (folder, old, other):
        os.utime(one, (long_ago, long_ago))
    kept.drop_unused()
    assert {one.name for one in folder.parent.iterdir()} == {OURS, young.name, other.name}


def test_one_that_is_in_use_counts_as_young(folder):
    kept.closed_folder()
    os.utime(folder, (0, 0))
    kept.closed_folder()
    assert folder.stat().st_mtime > 0


def test_compiling_is_stopped_without_a_word_of_the_machine(folder, monkeypatch, capsys):
    def stopped():
        raise KeyboardInterrupt

    monkeypatch.setattr(compiling, "_steps", lambda: [("the scales", stopped)])
    assert compiling.main() == compiling.STOPPED
    assert capsys.readouterr().err == "" and not compiling.is_compiled()
