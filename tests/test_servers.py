"""The private PostgreSQL server of the tests: real, found anywhere, and never missing in silence."""

import contextlib
from pathlib import Path

import pytest
import servers
from sqlalchemy import create_engine, text

pytest_plugins = ("pytester",)


def ask(url: str, question: str) -> str:
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            return str(connection.execute(text(question)).scalar_one())
    finally:
        engine.dispose()


def test_the_server_is_real_and_out_of_reach(postgres_url):
    assert "PostgreSQL" in ask(postgres_url, "select version()")
    assert ask(postgres_url, "show listen_addresses") == "127.0.0.1"


def test_a_store_is_tried_on_a_file_and_on_the_server(store_url, request):
    kinds = {"sqlite": "notebook.sqlite", "postgresql": "postgresql+psycopg://racer@127.0.0.1"}
    assert kinds[request.node.callspec.params["store_url"]] in store_url


@pytest.mark.parametrize("again", range(2))
def test_nothing_is_left_of_the_test_before(postgres_url, again):
    assert ask(postgres_url, "select count(*) from pg_tables where schemaname = 'public'") == "0"
    engine = create_engine(postgres_url)
    with engine.begin() as connection:
        connection.execute(text("create table lap (seconds float)"))
    engine.dispose()


def make_binaries(folder: Path, names: tuple[str, ...] = ("initdb", "postgres", "pg_ctl")) -> None:
    folder.mkdir(parents=True)
    for name in names:
        for file in (folder / name, folder / f"{name}.exe"):
            file.write_text("")
            file.chmod(0o755)


@pytest.fixture
def no_path(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    monkeypatch.setenv("PATH", str(tmp_path / "empty"))


def test_the_newest_whole_set_of_binaries_is_taken(no_path, tmp_path):
    make_binaries(tmp_path / "9.6" / "bin")
    make_binaries(tmp_path / "15" / "bin")
    make_binaries(tmp_path / "17" / "bin", names=("initdb", "postgres"))
    assert servers.binaries([f"{tmp_path.as_posix()}/*/bin"]) == tmp_path / "15" / "bin"


def test_a_computer_without_binaries_has_none(no_path, tmp_path):
    assert servers.binaries([f"{tmp_path.as_posix()}/*/bin"]) is None


def test_a_server_that_cannot_start_tells_its_story(server, monkeypatch):
    monkeypatch.setattr(servers, "OWNER", "pg_racer")
    with pytest.raises(RuntimeError, match=r'initdb of PostgreSQL in .*(\n.*)*"pg_racer" is disallowed'):
        servers.running(servers.binaries(), writes_through=False).__enter__()


def test_missing_binaries_are_said_at_the_end_of_the_run(pytester, monkeypatch):
    monkeypatch.setattr(servers, "binaries", lambda: None)
    pytester.makepyfile("def test_of_both(store_url): assert store_url.endswith('.sqlite')")
    done = pytester.runpytest_inprocess("-p", "servers")
    done.assert_outcomes(passed=1, skipped=1)
    done.stdout.fnmatch_lines(["PostgreSQL tests NOT run: no server binaries found"])


def test_what_passed_on_the_server_is_counted(pytester, server, monkeypatch):
    monkeypatch.setattr(servers, "binaries", lambda: Path("found"))
    monkeypatch.setattr(servers, "running", lambda _, writes_through: contextlib.nullcontext(server))
    pytester.makepyfile("def test_of_both(store_url): pass\ndef test_of_neither(): pass")
    done = pytester.runpytest_inprocess("-p", "servers")
    done.assert_outcomes(passed=3)
    done.stdout.fnmatch_lines(["PostgreSQL tests passed: 1"])
