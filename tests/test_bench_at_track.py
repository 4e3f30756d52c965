"""Entries at the track: kept where they belong, taken and put back, delivered once in order, by thumb too."""

from __future__ import annotations

import datetime as dt
import re
import secrets
import time

import pytest
import sqlalchemy as sa
from at_the_turn import DEMO
from benches import client, done_last, poster, read, said_wrong
from browser import PHONE, free_port, served, served_apart

from ovalwright.notebook import runs, shelf
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Table
from ovalwright.notebook.undo import last_entries
from ovalwright.web.next_up import next_up


def everything(store):
    """All rows of all tables but the journal and their counts of versions."""
    with store.reading() as session:
        return {
            table.name: sorted(
                tuple((name, str(value)) for name, value in row.items() if name != "version")
                for row in session.execute(sa.select(table)).mappings()
            )
            for table in Table.metadata.sorted_tables
            if table.name not in ("entry", "change")
        }


def name():
    return secrets.token_hex(16)


# ---------------- entering


ENTRIES = {
    "temperatures": {"RR_inside": "200", "RR_middle": "190", "RR_outside": "180", "LF_middle": "150"},
    "pressures": {"cold_or_hot": "cold", "LF_pressure": "12", "RF_pressure": "22"},
    "words": {"when": "late", "entry": "very loose", "middle": "good", "words": "would not turn"},
    "laps": {"laps": "1 18.22\n2 17.73\n3 17.61 traffic"},
    "line": {"line": "RR +1/2, LR 12.5 psi", "reason": "tight in"},
    "measured": {"measured": "LF 776 lb, LR height 5 in, fuel 6 gal"},
    "decided": {"decided": "softer right rear"},
    "run": {"session": "test", "air": "70 F", "fuel": "10 gal"},
}


@pytest.mark.parametrize("kind", ENTRIES)
def test_every_kind_of_entry_is_kept_taken_back_and_put_back(post, season_client, season_store, kind):
    answer = post("/notebook/enter", kind=kind, **ENTRIES[kind])
    assert answer.status_code == 303
    assert re.fullmatch(r"/notebook/(run|revision)/[2-9A-Z]{6}", answer.headers["location"])
    code = answer.headers["location"].rsplit("/", 1)[1]
    assert code in done_last(season_store)[0]
    kept = everything(season_store)
    assert post("/notebook/undo").headers["location"] == "/notebook?undone=1"
    assert done_last(season_store)[0].startswith("took back: ")
    assert everything(season_store) != kept
    page = read(season_client.get("/notebook?undone=1").text)
    assert code in page.one("form", action="/notebook/put-back").one("button").text
    assert post("/notebook/put-back").status_code == 303
    assert done_last(season_store)[0].startswith("put back: ") and everything(season_store) == kept
    post("/notebook/undo")


def test_cells_are_kept_where_they_lie_on_the_car(post, last):
    post("/notebook/enter", kind="temperatures", **ENTRIES["temperatures"])
    new = [(one.place, one.part, one.typed) for one in last().readings[-4:]]
    post("/notebook/undo")
    assert sorted(new) == [
        ("LF", "middle", "150 F"),
        ("RR", "inside", "200 F"),
        ("RR", "middle", "190 F"),
        ("RR", "outside", "180 F"),
    ]


def test_five_presses_are_three_feels_and_how_much(post, last):
    post("/notebook/enter", kind="words", **ENTRIES["words"])
    new = [(one.phase, one.when, one.feel, one.words) for one in last().comments[-3:]]
    post("/notebook/undo")
    assert new == [
        ("entry", "late", "loose", "very loose"),
        ("middle", "late", "good", ""),
        ("", "late", "", "would not turn"),
    ]


@pytest.mark.parametrize(
    ("kind", "fields", "says"),
    [
        ("temperatures", {}, "write a number for one tire at least"),
        ("temperatures", {"RR_inside": "hot"}, "temperatures cannot be read"),
        ("temperatures", {"RR_inside": "9999"}, "RR in"),
        ("pressures", {"LF_pressure": "12"}, "cold or hot"),
        ("words", {}, "nothing was said"),
        ("words", {"entry": "greasy"}, "is no press"),
        ("laps", {"laps": "no laps here"}, "lap"),
        ("line", {"line": "RR purple"}, "nothing was kept"),
        ("measured", {"measured": "LF"}, "LF"),
        ("decided", {}, "nothing was decided"),
        ("run", {"air": "9 purple"}, "air"),
        ("run", {"setup": "nosuch"}, "nosuch"),
        ("kitchen", {}, "is no entry"),
    ],
)
def test_what_cannot_be_kept_comes_back_as_it_was_typed(post, season_store, kind, fields, says):
    before = done_last(season_store)
    answer = post("/notebook/enter", kind=kind, **fields)
    assert says.lower() in said_wrong(answer).lower()
    page = read(answer.text)
    for field, text in fields.items():
        found = [one for name in page.all(name=field) for one in name.all("option", selected="") or [name]]
        shown = [
            one.text if one.tag == "textarea" else one["value"] for one in found if one["type"] != "radio"
        ]
        assert not shown or shown == [text]
    assert done_last(season_store) == before


@pytest.mark.parametrize(
    ("kind", "fields", "wrong"),
    [
        ("temperatures", {"RF_middle": "900 F", "LF_outside": "hot"}, ["LF_outside", "RF_middle"]),
        ("pressures", {"cold_or_hot": "hot", "LR_pressure": "22", "RR_pressure": "4000"}, ["RR_pressure"]),
    ],
)
def test_the_cell_that_cannot_be_read_is_marked(post, kind, fields, wrong):
    page = read(post("/notebook/enter", kind=kind, **fields).text)
    assert sorted(one["id"] for one in page.all("input", aria_invalid="true")) == wrong
    answer = post("/notebook/delivery", kind=kind, **fields).json()
    assert sorted(answer["cells"]) == wrong


def test_numbers_of_a_run_are_read_as_a_racer_writes_them(post, last):
    typed = {"fuel": "12", "fuel_left": "9.5 g", "air": "61", "surface": "70 f", "at": "7:15 pm"}
    assert post("/notebook/enter", kind="run", session="bare numbers", **typed).status_code == 303
    run = last()
    post("/notebook/undo")
    gallon = 231 * 0.0254**3
    assert run.fuel == pytest.approx(12 * gallon) and run.fuel_left == pytest.approx(9.5 * gallon)
    assert run.air == pytest.approx((61 + 459.67) / 1.8) and run.surface == pytest.approx((70 + 459.67) / 1.8)
    assert f"{run.started:%H:%M}" == "19:15"


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ("12 am", ""),
        ("12:30 pm", ""),
        ("7pm", ""),
        ("7.15 p.m.", ""),
        ("19:30", ""),
        ("13 pm", "at"),
        ("7:75 pm", "at"),
    ],
)
def test_a_time_of_day_is_read_as_it_is_said_or_marked(post, last, typed, wrong):
    answer = post("/notebook/enter", kind="run", session="clock", at=typed)
    if wrong:
        assert "no time of day" in said_wrong(answer)
        return
    post("/notebook/undo")
    assert answer.status_code == 303


def test_every_wrong_field_of_a_run_is_told_at_once_and_marked(post):
    typed = {"fuel": "12 purple", "fuel_left": "6", "air": "9 purple", "surface": "hot", "at": "25:10"}
    answer = post("/notebook/enter", kind="run", **typed)
    said = said_wrong(answer)
    assert all(f"{label}: " in said for label in ("Fuel at the start", "Air", "Surface", "Began at"))
    assert "Fuel left" not in said
    marked = {one["id"] for one in read(answer.text).all("input", aria_invalid="true")}
    assert marked == {"fuel", "air", "surface", "at"}
    assert set(post("/notebook/delivery", kind="run", **typed).json()["cells"]) == marked


def test_the_setups_to_choose_from_are_asked_anew_by_an_older_page(season_client, post, season_store):
    def chosen(target, field):
        told = season_client.get("/notebook/enter/runs", headers={"HX-Request": "true", "HX-Target": target})
        return [one["value"] for one in read(told.text).one("select", name=field).all("option")]

    first = chosen("run-of", "setup")
    assert first == chosen("line-on", "on") and first[0] == ""
    answer = post("/notebook/enter", kind="line", line="RR +1/2", on=first[2])
    made = answer.headers["location"].rsplit("/", 1)[1]
    assert chosen("run-of", "setup")[1] == chosen("line-on", "on")[1] == made
    with season_store.reading() as session:
        new = shelf.revision(session, made)
        parent = shelf.line(session, new).parent
    post("/notebook/undo")
    assert parent == first[2]


def test_a_run_of_today_is_not_filed_under_an_event_that_is_ahead(tmp_path):
    today = dt.date.today()
    with Store.open(tmp_path / "new.sqlite") as store, client(store, tmp_path) as laptop:
        post = poster(laptop)
        with store.entry("what is kept") as session:
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            runs.new_event(session, "Coming night", today + dt.timedelta(days=8))
        form = read(laptop.get("/notebook/enter").text)
        choices = {one.text: one["value"] for one in form.one("select", id="event").all("option")}
        (alone, coming), codes = list(choices), list(choices.values())
        assert alone == "today, without an event" and coming.endswith("in 8 days")
        assert form.one("select", id="setup").all("option")[0]["value"] == ""
        kept = [post("/notebook/delivery", kind="run", event=code).json()["said"] for code in (*codes, "")]
        assert (
            "of Without an event," in kept[0] and "1 of Coming night" in kept[1] and "8 days ahead" in kept[1]
        )
        assert "2 of Without an event," in kept[2]
        again = read(
            laptop.get("/notebook/enter/runs", headers={"HX-Request": "true", "HX-Target": "run-of"}).text
        )
        assert again.all("select", id="event") and not again.all("select", id="runs")
        with store.reading() as session:
            held = [(event.name, event.held_on, count) for event, count in runs.events(session)]
            assert next_up(session, today).event.name == "Coming night"
    assert held == [("Coming night", today + dt.timedelta(days=8), 1), (runs.ALONE, today, 2)]


def test_keep_it_stands_above_the_bar_of_the_phone(window, season_store, tmp_path):
    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/notebook/enter")
        button, bar = page.locator(".keep button").bounding_box(), page.locator("nav.narrow").bounding_box()
        assert button["y"] + button["height"] <= bar["y"]


def test_the_keypad_goes_on_in_the_order_of_the_probe_and_what_is_kept_is_undone_there(
    window, season_store, tmp_path, last
):
    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/notebook/enter")
        order = page.locator(".pad-next").inner_text()
        for key in (*"171", "Next", *"18", "Back", *"68", "Next", "Same", "Skip", *"200"):
            page.locator(".pad .key").get_by_text(key, exact=True).tap()
        cells = page.locator(".temperatures [data-turn]").all()
        typed = {one.get_attribute("data-turn"): one.input_value() for one in cells}
        assert "1 of 12" in order and [typed[str(turn)] for turn in range(1, 7)] == [
            "171",
            "168",
            "168",
            "",
            "200",
            "",
        ]
        assert page.locator("#LF_inside").get_attribute("inputmode") == "none"
        page.locator(".pad .keep button").tap()
        page.locator("#kept button").wait_for()
        assert done_last(season_store)[0].startswith("temperatures of run")
        page.locator("#kept button").tap()
        page.locator("#kept", has_text="Taken back.").wait_for()
    assert done_last(season_store)[0].startswith("took back: temperatures of run")


def test_the_cell_in_hand_stays_in_hand_when_another_entry_is_answered_and_the_last_cell_ends(
    window, season_store, tmp_path
):
    def answer_late(route):
        time.sleep(0.5)
        route.continue_()

    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.route("**/notebook/delivery", answer_late)
        page.goto(f"{address}/notebook/enter")
        page.locator("label.press", has_text="Words").click()
        page.fill("#words", "answered late")
        page.locator(".keep button").click()
        page.locator("label.press", has_text="Temps").click()
        page.locator(".pad .key").get_by_text("1", exact=True).tap()
        page.locator("#kept a").wait_for()
        press = {key: page.locator(".pad .key").get_by_text(key, exact=True) for key in ("6", "5", "Next")}
        for key in "65":
            press[key].tap()
        cells = {
            one.get_attribute("data-turn"): one for one in page.locator(".temperatures [data-turn]").all()
        }
        assert (cells["1"].input_value(), cells["2"].input_value()) == ("165", "")
        lowest = max(one.bounding_box()["y"] + one.bounding_box()["height"] for one in cells.values())
        assert lowest <= page.locator(".pad").bounding_box()["y"]
        for key in (*["Next"] * 11, *"65656565", "Next", "6", "6"):
            press[key].tap()
        assert cells["12"].input_value() == "656565" and "All gone through" in page.inner_text(".pad-said")
        right = page.locator(".keep button").bounding_box()
        assert right["x"] + right["width"] <= PHONE[0]


def test_what_is_half_typed_stays_with_the_run_it_was_typed_under(window, season_store, tmp_path, post):
    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/notebook/enter")
        under = page.locator("#runs").input_value()
        page.locator(".pad .key").get_by_text("7", exact=True).tap()
        post("/notebook/enter", kind="run", session="entered on the laptop")
        with page.expect_response("**/notebook/enter/runs*"):
            page.goto(f"{address}/notebook/enter")
        page.locator("#under p").wait_for()
        assert page.locator("#runs").input_value() == under
        assert "entered on the laptop" in page.inner_text("#under")
        page.locator("label.press", has_text="Words").click()
        assert page.locator("#under p").count() == 0
        page.locator("label.press", has_text="Temps").click()
        page.locator(".pad .keep button").tap()
        page.locator("#kept a").wait_for()
        assert done_last(season_store)[0].startswith(f"temperatures of run {under}")


def test_words_for_flags_are_listed_and_his_own_are_understood(post, season_client, last):
    page = read(season_client.get("/notebook/enter?kind=laps").text).one("section", class_="laps")
    assert "caution" in page.one("dl").text and "clean" in page.one("dl").text
    post("/notebook/enter", kind="laps", laps="1 18.2\n2 22.5 gelb\n3 18.1", flags="gelb=yellow")
    assert [one.flag for one in last().laps] == ["green", "yellow", "green"]
    post("/notebook/undo")


def test_a_word_not_known_beside_a_lap_is_told(post, season_store):
    post("/notebook/enter", kind="laps", laps="1 18.2\n2 22.5 yelow\n3 18.1")
    told = done_last(season_store)[0]
    assert "2 at speed" in told and "yelow" in told
    post("/notebook/undo")


def test_a_mistake_goes_when_another_kind_is_chosen(window, season_store, tmp_path):
    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/notebook/enter")
        page.fill("#RF_middle", "900 F")
        page.click("text=Keep it")
        page.wait_for_selector("#RF_middle[aria-invalid]")
        assert "RF mid" in page.inner_text("#wrong")
        page.locator("label.press", has_text="Words").click()
        assert page.inner_text("#wrong") == ""


# ---------------- delivered


def test_an_entry_delivered_again_is_kept_once_even_when_it_was_taken_back(post, season_store, last):
    entry = {"kind": "words", "name": name(), "words": "only once"}
    first, again = (post("/notebook/delivery", **entry).json() for _ in range(2))
    assert (first["again"], again["again"]) == (False, True) and first["path"] == again["path"]
    assert [one.words for one in last().comments].count("only once") == 1
    assert len(set(done_last(season_store, 2))) == 2
    post("/notebook/undo")
    assert post("/notebook/delivery", **entry).json()["again"]
    assert "only once" not in [one.words for one in last().comments]


def test_an_entry_about_a_run_made_out_of_reach_is_about_that_run(post, season_store):
    run = name()
    early = post("/notebook/delivery", kind="decided", name=name(), run=run, decided="x")
    assert (early.status_code, early.json()["wrong"]) == (
        422,
        "The run that this is about has not come yet; deliver that one first.",
    )
    made = post("/notebook/delivery", kind="run", name=run, session="from a phone", at="19:30").json()
    post("/notebook/enter", kind="run", session="meanwhile")
    told = post("/notebook/delivery", kind="decided", name=name(), run=run, decided="wait for dusk").json()
    assert told["run"] == made["run"]
    with season_store.reading() as session:
        found = runs.record(session, runs.run_of(session, made["run"]))
    assert (found.session, found.decided, f"{found.started:%H:%M}") == (
        "from a phone",
        "wait for dusk",
        "19:30",
    )


@pytest.mark.parametrize("wrong", ["1", "Z" * 32, "../x", "0" * 33])
def test_a_name_that_is_none_is_refused(post, wrong):
    assert "32 digits" in post("/notebook/delivery", kind="words", name=wrong, words="x").json()["wrong"]


def test_only_the_page_for_the_track_is_left_with_the_browser(season_client):
    assert season_client.get("/notebook/enter").headers["cache-control"] == "private, max-age=43200"
    for path in ("/notebook", "/notebook/run/last", "/notebook/delivery", "/notebook/enter/runs"):
        assert season_client.get(path).headers["cache-control"] == "no-store"


@pytest.fixture
def phone(chromium):
    """A phone with a memory of its own: the other windows of the tests look up every request, which takes
    the browser's memory of pages away. Beyond this machine no name is known to it.
    """
    context = chromium.new_context(viewport={"width": PHONE[0], "height": PHONE[1]})
    yield context
    context.close()


def test_entries_made_while_the_laptop_is_away_are_there_once_each_in_order(phone, season_file, tmp_path):
    port = free_port()
    address = f"http://localhost:{port}/notebook/enter"
    page = phone.new_page()
    with served_apart(season_file, tmp_path, port) as laptop:
        page.goto(address)
        code = page.locator("#runs").input_value()
        laptop.kill()
        laptop.wait(10)
        enter(page, "run", {"session": "out of reach"})
        enter(page, "words", {"words": "first thing he said"})
        enter(page, "words", {"words": "then the second"})
        page.close()
        page = phone.new_page()
        page.goto(address)
        assert page.locator("#waiting li").count() == 3 and page.locator("#words").input_value() == ""
        enter(page, "decided", {"decided": "one more in the right rear"})
        assert page.locator("#waiting li").count() == 4
    with served_apart(season_file, tmp_path, port):
        page.evaluate("Promise.all([deliver(), deliver()])")
        page.locator("#waiting").wait_for(state="hidden")
        here = page.locator("#runs option:not([data-waits-here])", has_text="out of reach")
        here.wait_for(state="attached")
        about = page.locator("#runs").input_value()
    with Store.open(season_file) as store, store.reading() as session:
        told = runs.record(session, runs.run_of(session, "last"))
        said = [one.words for one in told.comments]
        done = [one.what for one in last_entries(session, 4)]
    assert (told.session, said) == ("out of reach", ["first thing he said", "then the second"])
    assert about == told.code != code
    assert told.decided == "one more in the right rear"
    assert [one.partition(":")[0] for one in done[:-1]] == [
        f"decided of run {told.code}",
        *[f"driver's words on run {told.code}"] * 2,
    ]
    assert done[-1].startswith(f"run {told.code}, ")


@pytest.mark.parametrize("seconds", [0.0, 0.4])
def test_a_double_tap_on_keep_it_is_one_entry(window, season_store, tmp_path, seconds):
    said = f"said once in {seconds}"

    def answer_late(route):
        time.sleep(seconds)
        route.continue_()

    with served(season_store, tmp_path) as address:
        page = window(PHONE).page
        page.route("**/notebook/delivery", answer_late)
        page.goto(f"{address}/notebook/enter")
        page.locator("label.press", has_text="Words").click()
        page.fill("#words", said)
        page.locator(".keep button").dblclick()
        page.locator("#kept a").wait_for()
        assert page.inner_text("#wrong") == ""
        page.locator("label.press", has_text="New run").click()
        page.fill("#session", said)
        page.locator(".keep button").dblclick()
        page.locator("#kept", has_text="Kept: run").wait_for()
    assert [said in one for one in done_last(season_store, 3)] == [True, True, False]


def enter(page, kind, fields):
    page.locator(f'.kinds [value="{kind}"]').check(force=True)
    for field, text in fields.items():
        page.locator(f"#{field}").fill(text)
    page.locator(".keep button").click()
    page.locator("#kept p").wait_for()


def test_the_page_for_the_track_works_without_javascript(window, season_store, tmp_path, last):
    with served(season_store, tmp_path) as address:
        page = window(PHONE, script=False).page
        page.goto(f"{address}/notebook/enter")
        assert not page.locator("#words").is_visible()
        page.locator(".kinds label", has_text="Words").click()
        page.locator("section.words fieldset", has_text="Exit").get_by_text("very loose", exact=True).click()
        page.locator(".keep button").click()
        assert page.locator("h1").inner_text() == f"Run {last().number}, {last().session}"
        assert page.url.endswith(last().code)
    assert (last().comments[-1].phase, last().comments[-1].words) == ("exit", "very loose")
