"""Lap and run on the bench: what is driven, what the page says of it, work that is stopped, the charts."""

from __future__ import annotations

import datetime as dt
import math
import re
import time
from dataclasses import replace
from urllib.parse import quote

import numpy as np
import pytest
import sqlalchemy as sa
from benches import client, read, token
from evidence import DERIVED
from hypothesis import given, settings
from hypothesis import strategies as st

from ovalwright.documents import Setup, Track, assemble
from ovalwright.notebook import shelf
from ovalwright.notebook.asked.here_before import BestLap, best_here
from ovalwright.notebook.tables import Run
from ovalwright.pictures.chart_svg import FINEST, PHONE_CHART, _thinned, chart_svg
from ovalwright.study.against import QUALIFYING
from ovalwright.study.bands import Band
from ovalwright.web import hand, joined, lap_words
from ovalwright.web.day_here import usual_day
from ovalwright.web.lap_work import Asked, at_once, drive
from ovalwright.web.one_lap_words import beside_best, best_said
from ovalwright.web.static_files import static_files

LAPS = 5
HEAVIEST = 250_000
"""Bytes that a page weighs at the most, all that it loads in it."""
PATIENCE = 150.0


@pytest.fixture(scope="module")
def demo():
    from importlib import resources

    with resources.as_file(resources.files("ovalwright") / "demo") as folder:
        yield folder


@pytest.fixture(scope="module")
def car(demo):
    return assemble(Setup.load(demo / "setup_conventional.toml"))


@pytest.fixture(scope="module")
def oval(demo):
    return Track.load(demo / "track_three_eighths.toml")


@pytest.fixture(scope="module")
def driven(demo, car, oval):
    """Two setups over a few laps."""
    told = []
    other = assemble(Setup.load(demo / "setup_hanging_rr.toml"))
    asked = Asked(LAPS, 60.0, 8.0, "middle")
    found = drive(car, other, ("A", "B"), oval, asked, 0, progress=lambda *share: told.append(share))
    assert all(done <= total for done, total in told)
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    return found


@pytest.fixture(scope="module")
def laptop(season_store, tmp_path_factory):
    with client(season_store, tmp_path_factory.mktemp("laps")) as found:
        yield found


def ready(laptop, address):
    """The page of an address once nothing is worked at for it any more."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        answer = laptop.get(address)
        page = read(answer.text)
        if not page.all("section", class_="progress"):
            return answer, page
        time.sleep(0.3)
    raise AssertionError("the study never ended")


# ---------------- what was driven


def test_sections_of_a_lap_take_as_long_as_the_lap(driven):
    for one in driven.laps:
        assert sum(section.time for section in one.sections) == pytest.approx(one.time, rel=1e-3)


def test_two_laps_are_driven_with_little_fuel_and_cold_tires(driven):
    for trim, run in zip(driven.trims, driven.runs, strict=True):
        assert trim.laps == QUALIFYING
        assert trim.fuel[0] < run.fuel[0]
        assert trim.tread[3] < run.tread[3]
        assert trim.reading.summary.best > run.reading.summary.best


def test_b_less_a_is_b_less_a(driven):
    table = lap_words.shown(driven, ("one", "two"), None).figures
    total = next(row for row in table.rows if row[0] == "total")
    a, b = (60.0 * float(minutes or 0) + float(rest) for minutes, rest in
            (re.search(r"(?:(\d+):)?([\d.]+)", text).groups() for text in total[1:3]))  # fmt: skip
    change = float(re.search(r"[\d.]+", total[3]).group())
    assert change == pytest.approx(abs(b - a), abs=0.1501)
    assert sum(driven.runs[0].times) == pytest.approx(a, abs=0.051)
    assert total[3].startswith("+" if b > a else "\u2212")


def test_a_small_difference_is_not_called_without_its_band(driven):
    told = lap_words.shown(driven, ("one", "two"), None)
    assert told.verdict == ""
    assert "As computed, B is" in told.under and "not known how sure" in told.under
    assert told.trim_said[1] == "Which is quicker is called with bands alone."


def test_a_difference_that_no_decimal_shows_is_called_as_quick(driven):
    first, second, _ = driven.compared.figures["total"]
    for less, said in ((0.04, "B is as quick as A over"), (-0.06, "B is 0.1 s quicker over")):
        figures = {**driven.compared.figures, "total": (first, second, Band(less))}
        found = replace(driven, compared=replace(driven.compared, figures=figures))
        assert said in lap_words.shown(found, ("one", "two"), None).under


@pytest.mark.parametrize("give", [0.0001, 1.0])
def test_two_laps_are_called_beyond_their_band_alone(driven, give):
    compared = replace(driven.compared, two_laps_give=give, draws=64)
    said = lap_words.shown(replace(driven, compared=compared), ("one", "two"), None).trim_said[0]
    a, b = (one.reading.summary.total for one in driven.trims)
    assert abs(b - a) < 1.0
    calls = {0.0001: f"For 2 laps {'B' if b < a else 'A'} is quicker", 1.0: "For 2 laps it is too close"}
    assert said.startswith(calls[give])


def test_the_tire_that_goes_first_is_named_and_a_gear_said_once(driven):
    told = lap_words.shown(driven, ("one", "two"), None)
    for one, of in zip(driven.runs, "AB", strict=True):
        worst = max(one.lost, key=lambda lost: lost.whole)
        line = next(said for said in told.said if said.startswith(f"{of}: ") and "grip" in said)
        assert (worst.corner if worst.whole >= lap_words.LEAST_LOST else "no tire goes first") in line
    for row in told.gears.rows:
        name = row[0].removesuffix(", in the car")
        assert len(set(name.split(", "))) == len(name.split(", "))


def test_laps_above_the_picture_are_named(driven):
    times = driven.runs[0].times
    shown = driven.run_chart.panels[0].curves[0].y
    off = [n for n, y in enumerate(shown, start=1) if np.isnan(y)]
    said = [one for one in lap_words.shown(driven, ("one", "two"), None).said if "above the picture" in one]
    slow = replace(driven.runs[0], times=np.concatenate([[times[0] + 5.0], times[1:]]))
    told = lap_words.shown(replace(driven, runs=(slow, driven.runs[1])), ("one", "two"), None).said[0]
    assert bool(off) == any(one.startswith("A: ") for one in said)
    assert f"{times[0] + 5.0:.3f} s" in told


@pytest.mark.proof
def test_the_same_car_differs_by_nothing_in_every_draw(car, oval, check):
    found = drive(
        car, car, ("A", "B"), oval, Asked(3, 60.0, 8.0, "middle"), 10, progress=lambda done, total: None
    )
    band = found.compared.figures["total"][2]
    check(
        ours=np.array([band.value, band.low, band.high]), expected=np.zeros(3), abs=1e-6, unit="s",
        of="a car against itself, with its band", source="the same car takes the same time", kind=DERIVED,
        area="run",
    )  # fmt: skip
    assert lap_words.shown(found, ("one", "two"), None).verdict == "Too close to call over the run"


# ---------------- the page


def test_one_lap_is_there_at_once_and_no_run_before_drive_is_pressed(season_store, tmp_path):
    with client(season_store, tmp_path) as alone:
        page = read(alone.get("/laps").text)
        told = page.one("div", id="driven")
        assert "Drive runs the laps" in told.one("p", class_="teach").text
        assert [
            one.one("svg")["aria-label"].split(".")[0] for one in told.all("div", class_="for-phone")
        ] == ["One lap"]
        assert re.search(r"\d\d\.\d{3} s with tires as the files say", told.text)
        assert not page.all("section", class_="progress")


def test_the_lap_at_once_is_the_lap_that_is_driven(car, oval, driven):
    _, (one,), held = at_once(car, None, ("A",), oval, Asked(LAPS, 60.0, 8.0, "middle"))
    assert one.time == driven.laps[0].time and held == driven.held


def test_laps_are_driven_on_the_day_of_the_last_run_there_or_as_typed(season_store, tmp_path):
    with season_store.reading() as session:
        track = shelf.revision(session, joined.looked_at(session).track, kind="track")
        same = sa.select(Run).where(Run.track_id == track.id, Run.air.is_not(None))
        last = max(session.scalars(same), key=lambda one: one.started)
        day = usual_day(session, track)
        assert day.air == last.air
        assert f"{last.started:%Y-%m-%d}" in day.said
    with season_store.entry("a track for the test") as session:
        never = shelf.keep(session, shelf.document_of(track), name="Never raced")
        assert "typical" in usual_day(session, never).said
    with client(season_store, tmp_path) as alone:
        plan = read(alone.get("/laps?air=95&surface=130 F&laps=0").text).one("details", class_="plan")
        said = plan.one("summary").text
        assert "air 95 F, track 130 F, as typed" in said
        page = read(alone.get("/laps?air=warm").text)
        assert "75 F" in page.one("p", id="air-mistake").text


def test_the_best_lap_of_the_last_runs_here_is_one_press_away(season_store, tmp_path):
    with season_store.reading() as session:
        looked = joined.looked_at(session)
        setup = shelf.revision(session, looked.base, kind="setup")
        track = shelf.revision(session, looked.track, kind="track")
        logged = best_here(session, setup, track)
    with client(season_store, tmp_path) as alone:
        page = read(alone.get("/laps").text)
        said = page.one("p", class_="logged")
        assert best_said(logged) in said.text
        assert page.one("input", id="best")["placeholder"] == "not known"
        assert f"best={logged.time:.3f}" in said.one("a")["href"]
        matched = read(alone.get(said.one("a")["href"].replace("best=", "laps=0&best=")).text)
        assert matched.one("input", id="best")["value"].startswith(f"{logged.time:.3f}")
        assert not matched.all("p", class_="logged")


def test_a_computed_best_far_from_the_logged_one_is_said():
    logged = BestLap(17.615, 4, 1, dt.date(2026, 5, 2), "Opening night", "", 25, None)
    assert "17.615 s, lap 4 of run 1, 25 laps, Opening night, 2026-05-02." in beside_best(logged, math.nan)
    assert "is 1.10 s slower than that" in beside_best(logged, 18.715)
    assert "is 0.20 s quicker than that" in beside_best(logged, 17.415)
    assert "agrees" in beside_best(logged, 17.65)


def test_the_day_comes_through_to_the_lap(car, oval):
    asked = Asked(LAPS, 60.0, 8.0, "middle", None, 278.15, 288.15)
    (cold,), (hot,) = (
        at_once(car, None, ("A",), oval, one)[1]
        for one in (asked, replace(asked, air=313.15, surface=330.15))
    )
    assert hot.time > cold.time


def test_drive_drives_and_the_page_weighs_little(laptop):
    first = laptop.get(f"/laps?laps={LAPS}")
    assert first.status_code == 200
    waiting = read(first.text).one("section", class_="progress")
    assert waiting.one("progress")
    assert waiting["hx-get"] == waiting.one("a")["href"]
    answer, page = ready(laptop, f"/laps?laps={LAPS}")
    assert page.one("p", class_="verdict").text.startswith("Best ")
    assert {table.one("caption").text for table in page.all("table")} >= {f"The run, {LAPS} laps", "Gears"}
    loaded = [one["href"] for one in page.all("link")] + [one["src"] for one in page.all("script")]
    names = {one.partition("?")[0].rpartition("/")[2] for one in loaded}
    weight = len(answer.content) + sum(len(static_files()[name].content) for name in names)
    weight += sum(len(one.content) for name, one in static_files().items() if name.endswith(".woff2"))
    assert weight <= HEAVIEST


def test_what_is_in_hand_is_driven_against_what_it_was(laptop, season_store):
    with season_store.entry("for the test") as session:
        usual = joined.usual(session)
        press = hand.Press("cross", {"LR.turned": "1 round"}, "LR +1 round")
        held = hand.begin(session, usual.base, track=usual.track, changes=[press])
    try:
        who = read(laptop.get(f"/laps?laps={LAPS}").text).one("p", class_="who").text
        assert re.search(
            r"A , dashed, to compare with: .* revision \d+\. "
            r"B , solid, what is driven: .*in hand with 1 changed",
            who,
        )
    finally:
        for job in laptop.app.state.bench.work.jobs():
            laptop.app.state.bench.work.stop(job.id)
        with season_store.aside() as session:
            hand.put_away(session, held.uid, held.version)


def test_htmx_gets_what_was_driven_alone(laptop):
    ready(laptop, f"/laps?laps={LAPS}")
    answer = laptop.get(f"/laps?laps={LAPS}", headers={"HX-Request": "true", "HX-Target": "driven"})
    page = read(answer.text)
    assert page.one("div", id="driven")
    assert not page.all("h1")


def test_every_chart_has_a_sentence_and_stands_twice(laptop):
    _, page = ready(laptop, f"/laps?laps={LAPS}")
    for place in ("for-phone", "for-laptop"):
        charts = [one.one("svg") for one in page.all("div", class_=place)]
        assert [one["aria-label"].split(".")[0] for one in charts] == ["The run", "One lap"]


def test_what_cannot_be_read_stays_with_what_to_type(laptop):
    answer = laptop.get("/laps?laps=0&fuel=half&best=1&groove=sky&other=nobody")
    assert answer.status_code == 422
    page = read(answer.text)
    assert page.one("input", id="fuel")["value"] == "half"
    assert "22 gal" in page.one("p", id="fuel-mistake").text
    assert "1 to 200" in page.one("p", id="laps-mistake").text
    said = " ".join(one.text for one in page.all("p", class_="mistake"))
    assert "low, middle, high" in said
    assert "nobody" in said


def test_more_fuel_than_the_cell_holds_is_refused(laptop):
    answer = laptop.get("/laps?fuel=60+gal")
    assert answer.status_code == 422
    page = read(answer.text)
    assert "22.0 gal" in page.one("p", id="fuel-mistake").text
    assert not page.one("div", id="driven").text.strip()


def test_bands_can_be_stopped_and_asked_for_again(laptop):
    address = f"/laps?laps={LAPS}&other={quote('Soft right rear, much wedge')}"
    answer, page = ready(laptop, address)
    assert "A , dashed" in page.one("p", class_="who").text
    form = next(one for one in page.all("form") if one.all("input", name="bands"))
    told = {one["name"]: one["value"] for one in form.all("input")}
    assert laptop.post("/laps/ask", data=told).status_code == 303
    under_way = read(laptop.get(address).text).one("section", class_="progress")
    stop = under_way.one("form")
    answer = laptop.post(stop["action"], data={one["name"]: one["value"] for one in stop.all("input")})
    assert answer.headers["location"] == "/laps"
    page = read(laptop.get("/laps").text)
    assert page.one("input", id="laps")["value"] == str(LAPS)
    assert not page.all("section", class_="progress")
    assert page.all("section", class_="run") and not page.all("p", class_="verdict")
    assert any(one.all("input", name="bands") for one in page.all("form"))


def test_a_run_that_was_stopped_says_so_beside_the_lap(laptop):
    work, address = laptop.app.state.bench.work, "/laps?laps=197"
    waiting = read(laptop.get(address).text)
    assert waiting.one("section", class_="lap").one("div", class_="for-phone")
    work.stop(work.jobs()[-1].id)
    page = read(laptop.get(address).text)
    assert "stopped" in page.one("p", role="alert").text
    assert page.one("section", class_="lap")
    assert any("Drive again" in one.text for one in page.all("button"))


def test_a_change_needs_its_token(laptop):
    assert laptop.post("/laps/ask", data={"laps": "5"}).status_code == 403
    assert token(laptop.get("/laps?laps=0").text)


def test_an_empty_notebook_teaches(tmp_path):
    from ovalwright.notebook.store import Store

    with Store.open(tmp_path / "empty.sqlite") as store, client(store, tmp_path) as alone:
        answer = alone.get("/laps")
    assert answer.status_code == 200
    assert read(answer.text).one("a", href="/setup", class_="main")


# ---------------- the drawing


def test_a_chart_keeps_to_its_paper(driven):
    for chart in (driven.lap_chart, driven.run_chart):
        drawn = read(chart_svg(chart, PHONE_CHART)).one("svg")
        wide, high = (float(one) for one in drawn["viewbox"].split()[2:])
        numbers = [
            [float(one) for one in pair.split()]
            for path in drawn.all("path")
            for pair in re.split("[MLZ]", path["d"])
            if pair
        ]
        places = np.array(numbers)
        assert (places >= -0.5).all()
        assert (places[:, 0] <= wide + 0.5).all()
        assert (places[:, 1] <= high + 0.5).all()


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 200.0), min_size=2, max_size=60))
def test_no_point_left_out_is_missed(heights):
    points = [(2.0 * i, y) for i, y in enumerate(heights)]
    kept = _thinned(points)
    x, y = np.array(kept).T
    ours = np.interp([one[0] for one in points], x, y)
    assert np.abs(ours - np.array(heights)).max() <= 0.25 * FINEST + 1e-9
