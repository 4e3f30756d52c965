"""A private PostgreSQL server for the tests, and `store_url`: an empty store on SQLite and on PostgreSQL.

    def test_of_the_store(store_url):        # runs twice, once on each
        ...
    def test_of_the_server(postgres_url):    # PostgreSQL only
        ...

The server is made of whatever binaries are found, in a temporary folder, on a free port that only this
computer can reach, and is gone after the run. Nothing of an installed PostgreSQL is touched. In the proof it
and SQLite write through as a racer's would; in the quick run they leave that to the system, for then only
programs die. A test that asks how a racer's file is written asks for `written_as_his`.
Without binaries its tests are skipped, and the last lines of the run say so; with them, how many passed.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import sqlite3
import subprocess
import tempfile
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest

from ovalwright.notebook import store

NOT_FOUND = "no server binaries found"
BINARY_FOLDERS = (
    "/usr/lib/postgresql/*/bin",  # Debian, Ubuntu
    "/usr/pgsql-*/bin",  # Red Hat and Fedora, from PostgreSQL's own packages
    "/opt/homebrew/opt/postgresql*/bin",  # macOS, Homebrew
    "/usr/local/opt/postgresql*/bin",
    "/opt/local/lib/postgresql*/bin",  # macOS, MacPorts
    "/Applications/Postgres.app/Contents/Versions/*/bin",
    "/Library/PostgreSQL/*/bin",  # installers for macOS and Windows
    "C:/Program Files/PostgreSQL/*/bin",
)
USERS_FOR_ROOT = ("postgres", "nobody")
OWNER = "racer"
PATIENCE_S = 60


@dataclass(frozen=True)
class Server:
    """A server of ours in a folder of its own; databases are made and dropped one per test."""

    programs: Path
    folder: Path
    port: int
    writes_through: bool

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://{OWNER}@127.0.0.1:{self.port}/{database}"

    def tell(self, command: str) -> None:
        """One statement to the server itself, outside any transaction."""
        with psycopg.connect(
            host="127.0.0.1", port=self.port, user=OWNER, dbname="postgres", autocommit=True
        ) as connection:
            connection.execute(command)

    @contextlib.contextmanager
    def database(self) -> Iterator[str]:
        """URL of a new, empty database, dropped at the end."""
        name = f"notebook_{uuid.uuid4().hex}"
        self.tell(f"create database {name}")
        yield self.url(name)
        self.tell(f"drop database {name} with (force)")

    def make(self) -> None:
        self._run(
            "initdb", "--auth=trust", f"--username={OWNER}", "--encoding=UTF8", "--locale=C", "--no-sync"
        )

    def start(self) -> None:
        through = "on" if self.writes_through else "off"
        options = (
            f"-p {self.port} -c fsync={through} -c listen_addresses=127.0.0.1 -c unix_socket_directories="
        )
        self._run("pg_ctl", "start", "--wait", f"--log={self.folder / 'log.txt'}", "-o", options)

    def stop(self, mode: str = "fast") -> None:
        """Stop it; `immediate` is a crash: nothing is written any more."""
        self._run("pg_ctl", "stop", "--wait", f"--mode={mode}")

    def _run(self, name: str, *words: str) -> None:
        # A server keeps hold of what its starter was given: a pipe would never end, a file may.
        said, log = self.folder / "said.txt", self.folder / "log.txt"
        with said.open("w", encoding="utf-8") as file:
            command = [str(self.programs / name), "--pgdata", str(self.folder / "data"), *words]
            code = subprocess.call(
                command, stdout=file, stderr=file, cwd=self.folder, timeout=PATIENCE_S, **someone_else()
            )
        if code:
            story = "".join(
                file.read_text(encoding="utf-8", errors="replace") for file in (said, log) if file.exists()
            )
            raise RuntimeError(f"{name} of PostgreSQL in {self.programs} failed:\n{story}")


def binaries(folders: Sequence[str] = BINARY_FOLDERS) -> Path | None:
    """The folder that holds `initdb`, `postgres` and `pg_ctl`, newest version first; None without one."""
    told = []
    if on_path := shutil.which("initdb"):
        told.append(Path(on_path).resolve().parent)
    if asked := shutil.which("pg_config"):
        answer = subprocess.run([asked, "--bindir"], capture_output=True, text=True, check=False)
        told.append(Path(answer.stdout.strip()))
    for pattern in folders:
        root = Path(Path(pattern).anchor)
        told += sorted(root.glob(str(Path(pattern).relative_to(root))), key=_version, reverse=True)
    return next((folder for folder in told if _is_whole(folder)), None)


def _is_whole(folder: Path) -> bool:
    return all(shutil.which(name, path=str(folder)) for name in ("initdb", "postgres", "pg_ctl"))


def _version(folder: Path) -> tuple[int, ...]:
    digits = "".join(letter if letter.isdigit() else " " for letter in str(folder))
    return tuple(int(number) for number in digits.split())


def someone_else() -> Mapping[str, Any]:
    """Whom the server runs as, for `subprocess`: root, which it refuses, steps down."""
    if os.name == "nt" or os.geteuid() != 0:
        return {}
    import pwd

    for name in USERS_FOR_ROOT:
        with contextlib.suppress(KeyError):
            entry = pwd.getpwnam(name)
            return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    raise RuntimeError(f"PostgreSQL will not run as root, and there is no user {' or '.join(USERS_FOR_ROOT)}")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running(programs: Path, *, writes_through: bool) -> Iterator[Server]:
    """A new, empty server in a temporary folder, stopped and removed at the end."""
    folder = Path(tempfile.mkdtemp(prefix="ovalwright-server-"))
    try:
        if whom := someone_else():
            os.chown(folder, whom["user"], whom["group"])
        ours = Server(programs, folder, free_port(), writes_through)
        ours.make()
        ours.start()
        try:
            yield ours
        finally:
            ours.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


# ---------------- fixtures


@pytest.fixture(scope="session")
def server(request: pytest.FixtureRequest) -> Iterator[Server]:
    """The one server of this run."""
    found = binaries()
    if found is None:
        pytest.skip(NOT_FOUND)
    with running(found, writes_through=_is_proof(request)) as ours:
        yield ours


def _is_proof(request: pytest.FixtureRequest) -> bool:
    return request.config.getoption("markexpr") == "proof"


_as_his = store._set_up


def _unhurried(connection: sqlite3.Connection, record: object) -> None:
    connection.execute("PRAGMA synchronous = OFF")
    _as_his(connection, record)
    connection.execute("PRAGMA synchronous = OFF")


@pytest.fixture(scope="session", autouse=True)
def files_wait_for_no_disk(request: pytest.FixtureRequest) -> Iterator[None]:
    """SQLite in this process does not wait for the disk, but for the proof."""
    with pytest.MonkeyPatch.context() as patch:
        if not _is_proof(request):
            patch.setattr(store, "_set_up", _unhurried)
        yield


@pytest.fixture
def written_as_his(monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite writes through in this test."""
    monkeypatch.setattr(store, "_set_up", _as_his)


@pytest.fixture
def postgres_url(request: pytest.FixtureRequest) -> Iterator[str]:
    """URL of a fresh, empty database on the private server."""
    request.node.user_properties.append(ON_POSTGRES)
    ours: Server = request.getfixturevalue("server")
    with ours.database() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """An empty store to open: once a file that is not there yet, once a database on the private server."""
    if request.param == "sqlite":
        return str(tmp_path / "notebook.sqlite")
    url: str = request.getfixturevalue("postgres_url")
    return url


# ---------------- what the end of the run says

ON_POSTGRES = ("store", "postgresql")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    def count(outcome: str, phase: str) -> int:
        reports = terminalreporter.stats.get(outcome, ())
        return sum(ON_POSTGRES in report.user_properties and report.when == phase for report in reports)

    if count("skipped", "setup"):
        terminalreporter.write_line(f"PostgreSQL tests NOT run: {NOT_FOUND}", red=True, bold=True)
    elif passed := count("passed", "call"):
        terminalreporter.write_line(f"PostgreSQL tests passed: {passed}", green=True)
