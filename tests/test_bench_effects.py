"""What each thing does, read as HTML: the numbers are the study's, it sorts and sorts out, and the long table
comes by and by.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from benches import Element, client, read, token
from browser import PHONE, served

from ovalwright.documents import Assembly, Conditions, Track, assemble, load
from ovalwright.notebook import shelf
from ovalwright.notebook.store import Store
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.adjustments import adjustments
from ovalwright.study.effects import effects
from ovalwright.study.lap import lap
from ovalwright.study.run import run
from ovalwright.web import effects_shown, effects_table, effects_timed
from ovalwright.web.effects_shown import Scale
from ovalwright.web.long_work import Job, LongWork

DEMO = Path(__file__).parents[1] / "src" / "ovalwright" / "demo"
POUND = 4.4482216152605


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("effects") / "notebook.sqlite", by="Owner") as opened:
        with opened.entry("a car and a track") as session:
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        yield opened


@pytest.fixture
def bench(store: Store, tmp_path: Path) -> Iterator[Any]:
    with client(store, tmp_path) as found:
        yield found


def _track() -> Track:
    track = load("track", DEMO / "track_three_eighths.toml")
    assert isinstance(track, Track)
    return track


def _setup() -> Assembly:
    return assemble(DEMO / "setup_conventional.toml")


def _plain(text: str) -> str:
    return text.replace("\N{MINUS SIGN}", "-").replace("\N{NO-BREAK SPACE}", " ")


def _rows(page: Element) -> dict[str, Element]:
    return {_plain(row.one("b", class_="name").text): row for row in page.all("details", class_="effect")}


def _folded(page: Element) -> dict[str, Element]:
    found = page.all("details", class_="unseen")
    rows = found[0].one("tbody").all("tr") if found else []
    return {_plain(row.one("th").text): row for row in rows}


def _at_once(work: LongWork, key: object, study: Any, *documents: Any, told: str) -> Job:
    """Long work done here and now, in this process."""
    job = Job(key, told, study, documents, state="done", ended=time.monotonic())
    job.answer = study(*documents, progress=lambda done, total: None)
    work._jobs[job.id] = job
    return job


def _waiting(work: LongWork, key: object, study: Any, *documents: Any, told: str) -> Job:
    """Long work that is never begun."""
    job = Job(key, told, study, documents)
    work._jobs[job.id] = job
    return job


def test_the_table_is_that_of_the_study_sorts_and_sorts_out(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LongWork, "submit", _at_once)
    page = read(bench.get("/effects?sort=middle").text)
    car = build(_setup())
    steps = adjustments(car.assembly, rounds=(1.0,))
    found = effects(car, _track(), Conditions(), fuel_share=0.5, steps=steps)
    shown, folded = _rows(page), _folded(page)
    assert len(shown) + len(folded) == len(found.rows)
    for effect in found.rows:
        told = effect.told("middle")
        assert told is not None
        moved = [one for way in (effect.bolted, effect.reset or {}) for one in way.values()]
        is_seen = any(abs(one.balance.value) >= 5e-4 for one in moved)
        assert (effect.step.name in shown) == (is_seen or effect.step.part == "jack bolts")
        if effect.step.name in folded:
            continue
        row = shown[effect.step.name]
        four = [float(_plain(one.text).replace(",", "")) for one in row.one(class_="four").all("span")[1:]]
        assert four == pytest.approx([band.value / POUND for band in told.loads], abs=0.51)
        middle = row.one("tbody").all("tr")[1].all("td")
        assert float(_plain(middle[0].text).split()[0]) == pytest.approx(
            100.0 * effect.bolted["middle"].balance.value, abs=0.0051
        )
        assert ("not re-set" in middle[1].text) == (effect.reset is None)
        word = row.one(class_="word").text
        assert word.startswith(told.verdict if told.is_seen else "hardly")
    size = {one.step.name: abs(one.told("middle").balance.value) for one in found.rows}  # type: ignore[union-attr]
    sizes = [size[name] for name in shown]
    assert sizes == sorted(sizes, reverse=True)
    names = list(_rows(read(bench.get("/effects?sort=name").text)))
    assert names == sorted(shown)
    springs = _rows(read(bench.get("/effects?kind=springs").text))
    of_springs = {one.step.name for one in found.rows if one.step.part == "springs"}
    assert springs.keys() == of_springs & shown.keys()
    assert "No band was computed" in page.text
    ids = [one["id"] for one in page.all() if one["id"]]
    assert len(ids) == len(set(ids))
    halves = _rows(read(bench.get("/effects?kind=jack+bolts&bolt=1%2F2+round").text))
    assert halves.keys() == {f"{corner} 1/2 round in" for corner in ("LF", "RF", "LR", "RR")}
    to_buy = {name for name, row in shown.items() if "to buy" in row.all("span", class_="part")[0].text}
    assert to_buy == {one.name for one in steps if one.where == "to buy"} & shown.keys()
    assert any("rubber" in name for name in to_buy)


def test_looser_ones_that_can_be_done_at_the_track_are_asked_for(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LongWork, "submit", _at_once)
    every = _rows(read(bench.get("/effects?sort=exit").text))
    looser = {name for name, row in every.items() if row.one(class_="word").text.startswith("looser")}
    quick = {one.name for one in adjustments(_setup(), rounds=(1.0,)) if one.where == "at the track"}
    asked = _rows(read(bench.get("/effects?sort=exit&way=looser&done=at+the+track").text))
    assert asked.keys() == looser & quick
    assert 0 < len(asked) < len(looser) < len(every)


def test_a_sentence_says_where_it_speaks_of_another_place(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(LongWork, "submit", _at_once)
    for at, sort in enumerate(("entry", "middle", "exit")):
        for row in _rows(read(bench.get(f"/effects?sort={sort}").text)).values():
            said, here = row.one(class_="why").text, row.one("tbody").all("tr")[at].all("td")
            word = here[2].text.split(" ")[0]
            assert row.one(class_="word").text == here[2].text
            if not said.startswith(("On ", "In the middle", "Re-set")):
                assert word == "hardly" or f": {word}." in said, said


def test_a_mark_beyond_the_axis_is_held_at_its_end_and_said() -> None:
    scale = Scale(0.2)
    assert [scale.beyond(percent) for percent in (-0.7, -0.6, 0.0, 0.6, 0.7)] == [-1, 0, 0, 0, 1]
    assert scale.across(9.0) == scale.across(0.6) == effects_shown.WIDE - effects_shown.EDGE
    assert scale.across(-0.3) + scale.across(0.3) == effects_shown.WIDE
    assert [tick.said for tick in scale.ticks if tick.said] == ["\N{MINUS SIGN}0.6", "+0.6"]


def test_a_table_that_was_stopped_can_be_asked_for_again(bench: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(LongWork, "submit", _waiting)
    under_way = read(bench.get("/effects").text).one("section", class_="progress").one("form")
    csrf = token(bench.get("/effects").text)
    bench.post(under_way["action"], data={"csrf": csrf, "at": "/effects"})
    page = read(bench.get("/effects").text)
    assert "stopped" in page.one("p", class_="trouble").text
    assert not page.all("section", class_="progress")
    again = page.one("form", action="/effects/ask")
    told = {field["name"]: field["value"] for field in (*again.all("input"), again.one("button"))}
    assert bench.post("/effects/ask", data=told).status_code == 303
    page = read(bench.get("/effects").text)
    assert page.one("section", class_="progress").text.startswith("Every step in the turn")
    assert not page.all("p", class_="trouble") and not page.all("form", action="/effects/ask")


@pytest.mark.proof
def test_bands_laps_and_runs_come_by_and_by_and_can_be_stopped(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    _wait(bench, "/effects?fuel=full&sort=lap")
    told = {"csrf": token(bench.get("/effects?fuel=full&sort=lap").text), "fuel": "full", "sort": "lap"}
    assert bench.post("/effects/ask", data=told).status_code == 303
    under_way = read(bench.get("/effects?fuel=full").text).all("section", class_="progress")[0]
    stopped = bench.post(under_way.one("form")["action"], data={"csrf": told["csrf"], "at": "/effects"})
    assert stopped.headers["location"] == "/effects"
    assert "stopped" in read(bench.get("/effects?fuel=full").text).one("p", class_="trouble").text

    monkeypatch.setattr(effects_table, "DRAWS", 8)
    monkeypatch.setattr(effects_timed, "adjustments", _a_few)
    monkeypatch.setattr(effects_timed, "LAP_DRAWS", 10)
    monkeypatch.setattr(LongWork, "submit", _at_once)
    bench.post("/effects/ask", data={**told, "fuel": "half"})
    page = read(bench.get("/effects?fuel=half&sort=lap").text)
    assert page.all("path", class_="whisker")
    car, line = build(_setup()), groove_line(_track(), ribbon_of(_track()))
    reset = next(one for one in adjustments(car.assembly) if one.name == "panhard +1/2 in").reset(car)
    assert reset is not None
    lap_change, run_change = (
        found(reset) - found(car)
        for found in (
            lambda one: lap(with_fuel(one, share=0.5), line, Conditions()).time,
            lambda one: run(with_fuel(one, share=1.0), line, Conditions(), effects_timed.LAPS).total,
        )
    )
    row = _rows(page)["panhard +1/2 in"]
    told = row.one(class_="lap").all("span", class_="part")[0].text
    shown = _plain(row.one(class_="lap").text).split()[2]
    assert float(shown.strip("?")) == pytest.approx(lap_change, abs=0.0051)
    half = float(told.removeprefix("\u00b1"))
    assert half >= 0.01
    assert shown.endswith("?") == (half > abs(lap_change)) or abs(half - abs(lap_change)) < 0.02
    assert float(_plain(row.one(class_="run").one("b").text)) == pytest.approx(run_change, abs=0.08)
    assert math.isfinite(run_change)


def _a_few(assembly: Assembly, **_: Any) -> tuple[Any, ...]:
    return tuple(one for one in adjustments(assembly) if one.name in ("panhard +1/2 in", "gear taller: 5.43"))


def _wait(bench: Any, path: str) -> Element:
    for _ in range(300):
        page = read(bench.get(path).text)
        if page.all("div", class_="effects"):
            return page
        assert page.all("section", class_="progress")
        time.sleep(0.1)
    raise AssertionError("the table never came")


def test_it_is_short_on_a_phone_and_needs_no_script(store: Store, tmp_path: Path, window: Any) -> None:
    with served(store, tmp_path) as address:
        page = window(PHONE, script=False).page
        for _ in range(100):
            page.goto(f"{address}/effects")
            if page.locator(".effect").count():
                break
            page.wait_for_timeout(200)
        assert page.evaluate("document.documentElement.scrollHeight") < 3500
        rows = [one.bounding_box()["height"] for one in page.locator(".effect > summary").all()]
        assert min(rows) >= 48
        first = page.locator(".effect").first
        assert not first.locator("table").is_visible()
        first.locator("summary").click()
        assert first.locator("table").is_visible()
        page.click(".asking summary")
        page.select_option("#kind", "bar")
        page.click(".asked button")
        assert {one.inner_text() for one in page.locator(".effect .part").all()} == {"bar"}
