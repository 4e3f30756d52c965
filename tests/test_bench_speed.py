"""What makes the bench quick: what is kept is never stale, and a study never stands in a thumb's way."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from benches import client, read

from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store, state_of
from ovalwright.web import app, hand
from ovalwright.web.hand import Press
from ovalwright.web.joined import looked_at
from ovalwright.web.kept import Lately, once
from ovalwright.web.lanes import AT_ONCE
from ovalwright.web.routes import ROUTES, Route

DEMO = Path(__file__).parents[1] / "src" / "ovalwright" / "demo"
HTMX = {"HX-Request": "true", "HX-Target": "now"}
PSI = Press("RR.tire.cold", {"RR.tire.cold": "19 psi"}, "RR pressure to 19 psi")
BOLT = Press("LR.turned", {"LR.turned": "1/4 round"}, "LR bolt 1/4 round in")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "notebook.sqlite", by="Owner") as opened:
        with opened.entry("car and track") as session:
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        yield opened


@pytest.fixture
def held(store: Store) -> hand.Hand:
    with store.aside() as session:
        (track,) = shelf.revisions(session, kind="track", most=1)
        base = shelf.revision(session, "Conventional").code
        return hand.begin(session, base, track=track.code, by="laptop")


def _state(store: Store) -> object:
    with store.reading() as session:
        return state_of(session)


def _looked(store: Store) -> hand.Hand:
    with store.reading() as session:
        return looked_at(session)


def test_a_state_lasts_until_something_is_written_by_whomever(store: Store, held: hand.Hand) -> None:
    before = _state(store)
    assert before is not None
    assert _state(store) == before
    with store.aside() as session:
        hand.press(session, held.uid, held.version, PSI, by="here")
        assert state_of(session) is None
    ours = _state(store)
    assert ours != before
    with Store.open(store.where, by="another") as other, other.aside() as session:
        hand.press(session, held.uid, held.version + 1, BOLT, by="another")
    assert _state(store) not in (before, ours)


def test_what_is_looked_at_is_what_was_pressed_last_by_whomever(store: Store, held: hand.Hand) -> None:
    assert _looked(store).changes == ()
    with store.aside() as session:
        hand.press(session, held.uid, held.version, PSI, by="here")
    assert [one.key for one in _looked(store).changes] == [PSI.key]
    with Store.open(store.where, by="another") as other, other.aside() as session:
        hand.press(session, held.uid, held.version + 1, BOLT, by="another")
    assert [one.key for one in _looked(store).changes] == [PSI.key, BOLT.key]


def test_what_was_not_kept_is_never_looked_at(store: Store, held: hand.Hand) -> None:
    with pytest.raises(ZeroDivisionError), store.aside() as session:
        hand.press(session, held.uid, held.version, PSI, by="here")
        assert looked_at(session).changes
        _ = 1 / 0
    assert _looked(store).changes == ()


def busy(seconds: float, progress: Any) -> float:
    """A study that keeps a processor busy."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        progress(1, 2)
        sum(range(20_000))
    return seconds


@pytest.fixture
def phone(store: Store, tmp_path: Path) -> Iterator[Any]:
    with client(store, tmp_path / "bench") as found:
        yield found


def test_a_slow_study_of_one_never_stands_in_the_way_of_anothers_slider(phone: Any) -> None:
    at, fuel = (float(read(phone.get("/turn").text).one("input", id=name)["max"]) for name in ("at", "fuel"))
    work = phone.app.state.bench.work
    job = work.submit("study", busy, 60.0, told="busy for a minute")
    until = time.monotonic() + 50.0
    while job.done == 0 and time.monotonic() < until:
        time.sleep(0.01)
    assert job.state == "running", job.trouble
    waited = []
    for k in range(12):
        began = time.perf_counter()
        told = phone.get("/turn", params={"at": k * at / 12, "fuel": k * fuel / 12}, headers=HTMX)
        waited.append(time.perf_counter() - began)
        assert told.status_code == 200
        assert read(told.text).all("svg")
    assert job.state == "running"
    work.stop(job.id)
    assert sorted(waited)[len(waited) // 2] < 2.0


def test_slow_pages_of_others_never_stand_in_the_way_of_a_slider(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    going_on = threading.Event()

    def slow() -> str:
        return str(going_on.wait(30.0))

    monkeypatch.setattr(app, "ROUTES", (*ROUTES, Route("GET", "/slow", slow, "Slow", "waits")))
    with client(store, tmp_path / "bench") as found, ThreadPoolExecutor(2 * AT_ONCE) as others:
        waiting = [others.submit(found.get, "/slow") for _ in range(2 * AT_ONCE)]
        for feet in (0, 50, 100):
            assert read(found.get("/turn", params={"at": feet}, headers=HTMX).text).all("svg")
        assert not any(one.done() for one in waiting)
        going_on.set()
        assert {one.result(30.0).text for one in waiting} == {"True"}


def test_a_whole_shop_opens_the_page_at_once_and_nobody_is_left_waiting(phone: Any) -> None:
    with ThreadPoolExecutor(32) as shop:
        told = list(shop.map(lambda _: phone.get("/turn").status_code, range(48)))
    assert told == [200] * 48


def _resident() -> float:
    """Memory of this process [MB]."""
    told = Path("/proc/self/status").read_text(encoding="ascii")
    return int(told.split("VmRSS:")[1].split()[0]) / 1024.0


@pytest.mark.proof
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no /proc here")
def test_ten_minutes_of_a_thumb_and_of_presses_leave_the_memory_as_it_was(
    store: Store, held: hand.Hand, phone: Any
) -> None:
    chance = random.Random(7)
    at, fuel = (float(read(phone.get("/turn").text).one("input", id=name)["max"]) for name in ("at", "fuel"))

    def slide(moves: int) -> float:
        now = _looked(store)
        for k in range(moves):
            if k % 8 == 0:
                turned = {"LR.turned": f"{chance.randint(1, 15)}/8 round"}
                with store.aside() as session:
                    now = hand.choose(session, now.uid, now.version, base=now.base)
                    if len(now.changes) < 20:
                        now = hand.press(session, now.uid, now.version, Press("LR.turned", turned, "bolt"))
                    else:
                        now = hand.undo(session, now.uid, now.version)
            where = {"at": chance.randint(0, int(at)), "fuel": 0.25 * chance.randint(0, int(4 * fuel))}
            assert phone.get("/turn", params={**where, "view": "all"}, headers=HTMX).status_code == 200
        return _resident()

    filled = slide(1000)
    assert slide(1000) < filled + 15.0


# ---------------- what is kept


def test_what_many_ask_for_at_once_is_made_once() -> None:
    kept, made, all_ask = Lately[int](4), [], threading.Barrier(8)

    def make() -> int:
        made.append(threading.get_ident())
        time.sleep(0.05)
        return 7

    def ask(_: int) -> int:
        all_ask.wait(10.0)
        return kept.of("key", make)

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(8))) == [7] * 8
    assert len(made) == 1


def test_trouble_is_told_and_not_kept() -> None:
    kept, tries = Lately[int](4), iter([ZeroDivisionError(), None])

    def make() -> int:
        trouble = next(tries)
        if trouble is not None:
            raise trouble
        return 7

    with pytest.raises(ZeroDivisionError):
        kept.of("key", make)
    assert kept.of("key", make) == 7


def test_only_the_last_few_are_kept() -> None:
    kept = Lately[int](3)
    for key in (1, 2, 3, 1, 4):
        assert kept.of(key, (10 * key).__int__) == 10 * key
    assert len(kept) == 3
    assert kept.of(1, lambda: -1) == 10
    assert kept.of(2, lambda: -1) == -1


def test_one_car_that_is_solved_keeps_no_other_waiting() -> None:
    going_on = threading.Event()

    class Car:
        def __init__(self, slow: bool) -> None:
            self.slow, self.solved = slow, 0

        @once
        def answer(self) -> int:
            self.solved += 1
            if self.slow:
                assert going_on.wait(10.0)
            return self.solved

    slow, quick = Car(True), Car(False)
    with ThreadPoolExecutor(3) as pool:
        first, second = pool.submit(lambda: slow.answer), pool.submit(lambda: slow.answer)
        assert pool.submit(lambda: quick.answer).result(10.0) == 1
        assert not first.done()
        going_on.set()
        assert first.result(10.0) == second.result(10.0) == slow.answer == 1
