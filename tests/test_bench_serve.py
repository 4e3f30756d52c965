"""The bench as a process: what it says when it opens, how it closes, a port that is taken."""

from __future__ import annotations

import os
import pty
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from contextlib import contextmanager

import pytest
from browser import free_port

from ovalwright.notebook.store import Store
from ovalwright.web import serve
from ovalwright.web.door import with_passcode


@contextmanager
def command(tmp_path, *words):
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "ovalwright", "bench", "--no-browser", *words],
        env={
            **os.environ,
            "XDG_DATA_HOME": str(tmp_path),
            "OVALWRIGHT_NOTEBOOK": str(tmp_path / "notebook.sqlite"),
            "COLUMNS": "80",
        },
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        yield process
        process.kill()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_says_where_it_is_and_closes_in_peace(tmp_path, how):
    with command(tmp_path, "--port", str(free_port())) as process:
        first = process.stdout.readline()
        address = re.search(r"http://localhost:\d+/", first).group()
        with urllib.request.urlopen(f"{address}week") as answer:
            assert answer.status == 200
            assert "server" not in answer.headers
        process.send_signal(how)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 0
    assert "everything that was entered is kept" in out
    assert err == ""


def test_a_port_that_is_taken_is_said_in_one_sentence(tmp_path):
    with (
        socket.create_server(("127.0.0.1", 0)) as taken,
        command(tmp_path, "--port", str(taken.getsockname()[1])) as process,
    ):
        err = process.communicate(timeout=60)[1]
    assert process.returncode == 1
    assert len(err.strip().splitlines()) == 1 and "name a free one with --port" in err


def test_only_the_laptop_itself_is_listened_to_unless_told():
    with serve._listener("127.0.0.1", free_port()) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"
        assert listener.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


def test_on_the_network_it_says_address_passcode_and_draws_them():
    told = serve._told("http://localhost:1/", ("http://192.168.7.2:1/",), "kfm7-2wqx")
    assert "http://192.168.7.2:1/ with the passcode kfm7-2wqx" in told[1]
    assert len({len(line) for line in told[2].splitlines()}) == 1 and len(told[2].splitlines()) > 15
    assert "nothing is encrypted" in told[3]
    assert with_passcode("http://192.168.7.2:1/", "kfm7-2wqx").partition("#")[2] == "kfm7-2wqx"


def test_on_no_network_it_says_so():
    assert "on no network" in serve._told("http://localhost:1/", (), "kfm7-2wqx")[1]


def test_names_are_addresses_a_phone_can_reach(monkeypatch):
    monkeypatch.setattr(socket, "gethostname", lambda: "Shop.example")
    names = serve._names()
    assert not [name for name in names if name.startswith("127.")]
    assert not names or names[-2:] == ("shop.example", "shop.local")


def test_a_folder_that_may_not_be_written_is_one_sentence(tmp_path):
    (tmp_path / "a file").write_text("")
    with (
        Store.open(tmp_path / "notebook.sqlite") as store,
        pytest.raises(serve.CannotServe, match="cannot be written"),
    ):
        serve.serve(store, say=print, port=free_port(), browser=False, folder=tmp_path / "a file" / "below")


def test_without_a_display_no_browser_is_opened(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert not serve.has_display()
    monkeypatch.setenv("DISPLAY", ":0")
    assert serve.has_display()


@pytest.mark.proof
def test_the_demo_ends_with_the_bench_on_a_terminal(tmp_path):
    here, there = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "ovalwright", "demo", "--no-browser"],
        cwd=tmp_path,
        env={**os.environ, "XDG_DATA_HOME": str(tmp_path), "TERM": "dumb"},
        stdin=there,
        stdout=there,
        stderr=there,
        close_fds=True,
    )
    os.close(there)
    told = b""
    while b"Ctrl-C closes it" not in told:
        told += os.read(here, 4096)
    address = re.search(rb"http://localhost:\d+/", told).group().decode()
    page = urllib.request.urlopen(f"{address}turn").read().decode()
    assert "Conventional" in page
    process.send_signal(signal.SIGINT)
    assert process.wait(20) == 0
