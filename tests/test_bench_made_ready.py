"""The first start on a computer: the physics is made ready beside the bench, and nothing stays white."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request

import pytest
from benches import client, read, token
from browser import free_port
from jinja2 import Environment

from ovalwright import compile as compiling
from ovalwright import kept
from ovalwright.documents import QUESTIONS
from ovalwright.notebook.store import Store
from ovalwright.pack import seats
from ovalwright.web import made_ready, page
from ovalwright.web.routes import ROUTES


def endless(progress):
    while True:
        progress(0, 5)
        time.sleep(0.01)


@pytest.fixture
def making(season_client, monkeypatch):
    """The bench of the season while the physics is not ready: nobody may ask for it."""

    def asked(*_):
        raise AssertionError("this needs the physics")

    monkeypatch.setattr(seats, "_solve", asked)
    work = season_client.app.state.bench.work
    job = work.submit(made_ready._KEY, endless, told=made_ready.TOLD)
    yield season_client
    work.stop(job.id)


def test_pages_that_need_it_say_so_with_a_bar_and_the_others_answer(making):
    for route in ROUTES:
        if route.method == "GET" and "{" not in route.path:
            answer = making.get(route.path)
            if route.page in made_ready.NEED_IT:
                assert answer.status_code == 503, route.path
                page = read(answer.text)
                assert "being made ready for this computer, once" in page.one("main").text
                assert page.one("progress")["max"] == str(compiling.PIECES)
            else:
                assert answer.status_code in (200, 303, 422), route.path
    assert making.get("/week?numbers=1").status_code == 503


def test_the_week_says_so_and_asks_for_no_numbers_meanwhile(making):
    page = read(making.get("/week").text)
    assert made_ready.STILL in page.one("main").text
    assert not page.all("section", id="numbers")


def test_a_part_of_such_a_page_has_the_browser_go_to_the_page(making):
    answer = making.get("/turn?at=100&fuel=8", headers={"HX-Request": "true", "HX-Target": "now"})
    assert answer.headers["HX-Redirect"] == "/turn?at=100&fuel=8" and answer.text == ""


def test_the_page_opens_by_itself_when_it_is_ready(making):
    section = read(making.get("/turn").text).one("section", id="making")
    asks = {"HX-Request": "true", "HX-Target": section["hx-target"].lstrip("#")}
    part = read(making.get(section["hx-get"], headers=asks).text)
    assert [one["id"] for one in part.children] == ["making"]
    work = making.app.state.bench.work
    work.stop(work.look(made_ready._KEY).id)
    assert making.get(section["hx-get"], headers=asks).headers["HX-Refresh"] == "true"
    assert making.get(section["hx-get"]).headers["location"] == "/turn"
    assert made_ready.is_ready(work)


def test_a_new_car_is_made_meanwhile(making, tmp_path):
    with Store.open(tmp_path / "notebook.sqlite", by="owner") as store, client(store, tmp_path) as laptop:
        told = token(laptop.get("/setup").text)
        answer = laptop.post("/setup/new", data={"csrf": told, **{one.key: one.example for one in QUESTIONS}})
    assert answer.headers["location"] == "/turn"


def test_it_is_compiled_beside_the_bench_of_a_computer_that_never_did(tmp_path):
    words = ["bench", "--no-browser", "--port", str(free_port())]
    kept = {"OVALWRIGHT_CACHE": str(tmp_path / "cache"), "XDG_DATA_HOME": str(tmp_path)}
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "ovalwright", *words],
        env={**os.environ, **kept, "OVALWRIGHT_NOTEBOOK": str(tmp_path / "notebook.sqlite"), "COLUMNS": "80"},
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            address = re.search(r"http://localhost:\d+/", process.stdout.readline()).group()
            assert "being made ready for this computer, once" in process.stdout.readline()
            with urllib.request.urlopen(f"{address}week") as week:
                assert week.status == 200
            with pytest.raises(urllib.error.HTTPError) as waits:
                urllib.request.urlopen(f"{address}turn")
            with waits.value as answer:
                assert answer.code == 503
            process.send_signal(signal.SIGINT)
            assert "everything that was entered is kept" in process.communicate(timeout=60)[0]
        finally:
            process.kill()


def test_a_folder_that_keeps_nothing_is_told_in_one_sentence(tmp_path, monkeypatch):
    (tmp_path / "a file").write_text("")
    for room in (compiling, kept):
        monkeypatch.setattr(room, "cache_folder", lambda: tmp_path / "a file")
    monkeypatch.setattr(compiling, "_steps", list)
    with pytest.raises(ValueError, match="set OVALWRIGHT_CACHE to a folder that you own"):
        compiling.make_ready(lambda done, total: None)


@pytest.fixture
def frames(tmp_path, monkeypatch):
    """The frame of the pages as a fresh start of the program reads it, with a folder for what it keeps."""
    monkeypatch.setattr(kept, "cache_folder", lambda: tmp_path / "cache" / "kernel")
    return lambda: page.templates.__wrapped__().get_template("frame.html")


def kept_templates(tmp_path):
    return sorted(tmp_path.rglob("*.cache"))


def compile_nothing(*_, **__):
    raise AssertionError("it was kept")


def test_templates_are_kept_compiled(frames, tmp_path, monkeypatch):
    assert frames().blocks and len(kept_templates(tmp_path)) == 2
    monkeypatch.setattr(Environment, "compile", compile_nothing)
    assert frames().blocks.keys() == page.templates().get_template("frame.html").blocks.keys()


def test_where_none_can_be_kept_they_are_shown_anyhow(frames, tmp_path):
    (tmp_path / "cache").write_text("no folder")
    assert frames().blocks and not kept_templates(tmp_path)


def test_where_another_user_could_write_none_is_read(frames, tmp_path, monkeypatch):
    frames()
    (tmp_path / "cache").chmod(0o777)
    monkeypatch.setattr(os, "getuid", lambda: (tmp_path / "cache").stat().st_uid + 1)
    monkeypatch.setattr(page.FileSystemBytecodeCache, "load_bytecode", compile_nothing)
    assert frames().blocks


@pytest.mark.parametrize("length", [0, 15, 25, 400])
def test_a_kept_template_that_is_cut_off_is_compiled_again(frames, tmp_path, monkeypatch, length):
    frames()
    for file in kept_templates(tmp_path):
        file.write_bytes(file.read_bytes()[:length])
    assert frames().blocks
    monkeypatch.setattr(Environment, "compile", compile_nothing)
    assert frames().blocks


def test_what_another_jinja_compiled_is_not_read(frames, tmp_path, monkeypatch):
    frames()
    monkeypatch.setattr(page, "version", lambda library: "0.0")
    frames()
    assert len(kept_templates(tmp_path)) == 4
