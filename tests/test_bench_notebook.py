"""The notebook on the bench: found, entered at the track, kept once however often it is delivered, undone."""

from __future__ import annotations

import re
import secrets
import time

import pytest
import sqlalchemy as sa
from benches import client, read, token
from browser import PHONE, free_port, served, served_apart

from ovalwright.notebook import drafts, runs, shelf
from ovalwright.notebook.asked.find import find_runs
from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.parts import part_of
from ovalwright.notebook.garage.parts_life import life
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Table
from ovalwright.notebook.undo import last_entries

PAGES = (
    "/notebook",
    "/notebook/enter",
    "/notebook/setups",
    "/notebook/parts",
    "/notebook/work",
    "/notebook/share",
    "/notebook/changed?feel=tight&phase=middle",
)


@pytest.fixture
def post(season_client):
    """Send a form of the notebook with the token of its page."""
    return poster(season_client)


def poster(laptop):
    told = token(laptop.get("/notebook/share").text)

    def sent(path, **fields):
        return laptop.post(path, data={"csrf": told, **fields})

    return sent


@pytest.fixture
def last(season_store):
    """The last run of the season, as the notebook knows it now."""

    def record():
        with season_store.reading() as session:
            return runs.record(session, runs.run_of(session, "last"))

    return record


def done_last(store, most=1):
    with store.reading() as session:
        return [one.what for one in last_entries(session, most)]


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


def said_wrong(answer):
    assert answer.status_code == 422
    return read(answer.text).one("p", class_="mistake").text


# ---------------- finding


def test_a_notebook_of_nothing_teaches(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite") as store, client(store, tmp_path) as laptop:
        for path in PAGES:
            assert laptop.get(path).status_code == 200, path
        for path in ("/notebook", "/notebook/setups", "/notebook/parts", "/notebook/work"):
            assert read(laptop.get(path).text).all("section", class_="empty"), path


def test_every_clause_is_told_as_it_was_understood_and_every_run_is_found(season_client, season_store):
    ask = "tight in the middle, late, best under 20"
    with season_store.reading() as session:
        found = find_runs(session, ask)
    page = read(season_client.get("/notebook", params={"ask": ask}).text)
    assert [one.text for one in page.one("ol", class_="understood").all("li")] == list(found.understood)
    codes = [one.text.split()[-1] for one in page.one("ul", class_="run-rows").all("span", class_="code")]
    assert codes == [one.code for one in found.runs] and len(codes) > 3


def test_a_question_that_finds_nothing_says_what_is_found_with_a_part_less(season_client):
    page = read(season_client.get("/notebook", params={"ask": "tight in the middle, best under 10"}).text)
    (line,) = page.one("div", id="found").one("ul", class_="lines").all("a")
    less = read(season_client.get(line["href"]).text)
    assert line.text == f"without best under 10 : {len(less.all('span', class_='code'))} runs"
    assert less.one("input", id="ask")["value"] == "tight in the middle"
    alone = read(season_client.get("/notebook", params={"ask": "best under 10"}).text).one("div", id="found")
    assert "Words are looked for in" in alone.text and not alone.all("ul", class_="lines")


def test_the_run_in_hand_stands_beside_the_list_and_is_the_latest_at_first(season_client, last):
    page = read(season_client.get("/notebook").text)
    assert page.one("div", id="in-hand").all("h2")[0].text.endswith(last().code)
    rows = page.one("div", class_="run-desk").all("a", hx_target="#in-hand")
    assert [one["href"] for one in rows if one["aria-current"]] == [f"/notebook/run/{last().code}"]
    headers = {"HX-Request": "true", "HX-Target": "in-hand"}
    part = read(season_client.get(rows[5]["hx-get"], headers=headers).text)
    assert [one["id"] for one in part.children] == ["in-hand"]
    assert part.all("h2")[0].text.endswith(rows[5]["href"][-6:])


def test_words_of_the_driver_stand_in_the_row_of_his_run(season_client, last):
    row = read(season_client.get("/notebook").text).all("ul", class_="run-rows")[0].all("li")[0]
    assert all(one.words in row.one("span", class_="words").text for one in last().comments)
    assert row.one("span", class_="called").text == last().session


def test_a_question_that_cannot_be_read_comes_back(season_client):
    answer = season_client.get("/notebook", params={"ask": "fall-off under purple"})
    assert "no number follows" in said_wrong(answer)
    assert read(answer.text).one("input", id="ask")["value"] == "fall-off under purple"


def test_a_fragment_is_what_was_found_alone(season_client):
    headers = {"HX-Request": "true", "HX-Target": "found"}
    part = read(season_client.get("/notebook", params={"ask": "tight"}, headers=headers).text)
    assert [one["id"] for one in part.children] == ["found"]


def test_what_i_changed_is_offered_where_it_can_be_told(season_client):
    page = read(season_client.get("/notebook", params={"ask": "tight in the middle"}).text)
    path = next(one["href"] for one in page.all("a") if one["href"].startswith("/notebook/changed"))
    assert "Tight in the middle in" in read(season_client.get(path).text).one("main").text


def test_a_run_is_shown_as_it_was_entered(season_client, last):
    told = last()
    page = read(season_client.get(f"/notebook/run/{told.code}").text)
    laps = [one.text.split()[:2] for one in page.one("ol", class_="laps").all("li")]
    assert laps == [[str(lap.number), f"{lap.time:.2f}"] for lap in told.laps]
    tire = next(
        one for one in page.one("div", class_="on-car").children if one.one("h3").text.startswith("RF")
    )
    hot = {one.part: one.typed for one in told.readings if (one.what, one.place) == ("temperature", "RF")}
    assert [one.text for one in tire.one("p", class_="temps").all("span")] == [
        hot[third] for third in ("inside", "middle", "outside")
    ]


def test_what_he_said_stands_against_what_is_computed(season_client, season_store):
    with season_store.reading() as session:
        code = find_runs(session, "tight in the middle, late").runs[0].code
    page = read(season_client.get(f"/notebook/run/{code}").text).one("section", id="said")
    headers = {"HX-Request": "true", "HX-Target": "said"}
    part = read(season_client.get(page.one("a", class_="button")["hx-get"], headers=headers).text)
    rows = [[cell.text for cell in row.children] for row in part.one("tbody").children]
    said = dict(zip((row[0] for row in rows), (row[1:] for row in rows), strict=True))
    computed, verdict = said["middle, late: tight"]
    assert re.fullmatch(r"(Tight|Loose) \d+\.\d %|Neutral", computed)
    assert verdict == ("agrees" if computed.startswith("Tight") else "does not agree")


def test_a_set_down_is_judged_by_its_pattern(season_client, season_store):
    with season_store.reading() as session:
        crash = find_runs(session, "crash").runs[0].code
    page = read(season_client.get(f"/notebook/run/{crash}?against=1").text).one("section", id="set-down").text
    assert "A clean diagonal, load went onto LF and RR" in page
    assert "RF camber is off by" in page and "the heights agree with none of them" in page


def test_two_setups_differ_as_the_notebook_says(season_client, season_store):
    with season_store.reading() as session:
        new = next(one for one in shelf.revisions(session, kind="setup") if one.parent and one.said)
    page = read(season_client.get(f"/notebook/revision/{new.code}?against={new.parent}").text)
    assert new.said in page.one("main").text
    assert 'no setup "x"' in said_wrong(season_client.get("/notebook/setups?old=x&new=y")).lower()


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
        found = page.all(name=field)
        shown = [one["value"] if one.tag == "input" else one.text for one in found if one["type"] != "radio"]
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


def test_words_for_flags_are_listed_and_his_own_are_understood(post, season_client, last):
    page = read(season_client.get("/notebook/enter?kind=laps").text).one("section", class_="laps")
    assert "caution" in page.one("dl").text and "clean" in page.one("dl").text
    post("/notebook/enter", kind="laps", laps="1 18.2\n2 22.5 gelb\n3 18.1", flags="gelb=yellow")
    assert [one.flag for one in last().laps] == ["green", "yellow", "green"]
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
        enter(page, "words", {"words": "first thing he said"})
        enter(page, "words", {"words": "then the second"})
        page.close()
        page = phone.new_page()
        page.goto(address)
        assert page.locator("#waiting li").count() == 2
        enter(page, "decided", {"decided": "one more in the right rear"})
        assert page.locator("#waiting li").count() == 3
    with served_apart(season_file, tmp_path, port):
        page.evaluate("Promise.all([deliver(), deliver()])")
        page.locator("#waiting").wait_for(state="hidden")
    with Store.open(season_file) as store, store.reading() as session:
        told = runs.record(session, runs.run_of(session, code))
        said = [one.words for one in told.comments][-2:]
        done = [one.what for one in last_entries(session, 3)]
    assert said == ["first thing he said", "then the second"]
    assert told.decided == "one more in the right rear"
    assert [one.partition(":")[0] for one in done] == [
        f"decided of run {code}",
        *[f"driver's words on run {code}"] * 2,
    ]


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
        assert page.locator("h1").inner_text() == f"Run {last().code}"
    assert (last().comments[-1].phase, last().comments[-1].words) == ("exit", "very loose")


# ---------------- undo


def test_undo_takes_back_what_was_looked_at_and_nothing_else(post, season_client, season_store, last):
    post("/notebook/enter", kind="decided", decided="one")
    seen = read(season_client.get("/notebook").text).one("input", name="number")["value"]
    post("/notebook/enter", kind="decided", decided="two")
    answer = post("/notebook/undo", number=seen)
    assert answer.status_code == 422
    assert "another entry has come since" in read(answer.text).one("p", role="alert").text.lower()
    assert last().decided == "two"
    assert post("/notebook/undo", number=str(int(seen) + 1)).status_code == 303
    assert last().decided == "one"


def test_a_form_half_filled_is_shown_and_thrown_away(post, season_client, season_store):
    with season_store.aside() as session:
        uid = drafts.begin(session, "log said", {"words": "it <pushes>"}).uid
        hand = drafts.begin(session, "hand", {}).uid
    shown = read(season_client.get("/notebook").text).one("div", class_="half")
    assert "it <pushes>" in shown.text
    assert post("/notebook/half-filled/away", draft=uid).status_code == 303
    assert post("/notebook/half-filled/away", draft=hand).status_code == 422
    assert not read(season_client.get("/notebook").text).all("div", class_="half")
    with season_store.aside() as session:
        drafts.drop(session, hand)


# ---------------- parts and work


def test_a_job_that_is_done_is_no_longer_due(post, season_client):
    def jobs():
        page = read(season_client.get("/notebook/parts?due=1000").text)
        return [one for one in page.one("ul", class_="jobs").all("li") if one.all("form")]

    first = jobs()[0]
    form = {one["name"]: one["value"] for one in first.all("input") if one["name"] != "csrf"}
    assert first["class"] == "due"
    assert post("/notebook/part/serviced", **form).status_code == 303
    page = read(season_client.get("/notebook/part", params={"which": form["which"]}).text)
    assert form["job"] in page.one("main").text
    assert first.text not in [one.text for one in jobs()]


def test_a_tire_is_entered_measured_and_put_on(post, season_client, season_store):
    post("/notebook/parts", kind="tire", mark="T99", laps="12")
    assert "is in the notebook already" in said_wrong(post("/notebook/parts", kind="tire", mark="T99"))
    post("/notebook/part/measured", which="tire T99", line="roll-out 86 1/4 in at 12 psi, durometer 62")
    wrong = post("/notebook/part/measured", which="tire T99", line="color red")
    assert "begin with what was measured" in said_wrong(wrong)
    assert read(wrong.text).one("input", id="line")["value"] == "color red"
    assert post("/notebook/part/moved", which="tire T99", to="RF").status_code == 303
    with season_store.reading() as session:
        told = life(session, part_of(session, "tire T99"))
    assert (told.where.place, told.laps) == ("RF tire", 12)
    assert "cannot be at" in said_wrong(post("/notebook/part/moved", which="tire T99", to="roof"))
    assert "T99" in read(season_client.get("/notebook/parts").text).one("div", class_="on-car").text


def test_a_list_is_ticked_once_and_closed(post, season_client, season_store):
    post("/notebook/work/begin", name="Scaling")
    page = read(season_client.get("/notebook/work").text)
    uid = page.all("input", name="round")[0]["value"]
    assert "nothing was ticked" in said_wrong(post("/notebook/work/tick", round=uid)).lower()
    assert (
        post("/notebook/work/tick", round=uid, thing=["1", "3"], minutes="30", by="helper").status_code == 303
    )
    again = post("/notebook/work/tick", round=uid, thing=["2", "3"])
    assert "was done by helper" in said_wrong(again)
    ticked = [
        one["value"] for one in read(again.text).all("input", name="thing") if "checked" in one.attributes
    ]
    assert ticked == ["2"]
    with season_store.reading() as session:
        lines = work.round_sheet(session, work.open_rounds(session)[0]).lines
    assert [(line.number, line.seconds) for line in lines if not line.is_open] == [(1, 900.0), (3, 900.0)]
    assert post("/notebook/work/close", round=uid).status_code == 303
    assert "is closed" in said_wrong(post("/notebook/work/tick", round=uid, thing=["2"]))


def test_what_was_found_stays_on_the_page_until_it_is_put_right(post, season_client):
    post("/notebook/work/begin", name="Nut and bolt")
    uid = read(season_client.get("/notebook/work").text).all("input", name="round")[0]["value"]
    post("/notebook/work/tick", round=uid, thing=["3"], by="helper", found="loose at the pin")
    post("/notebook/work/close", round=uid)
    assert "loose at the pin" in season_client.get("/notebook/work").text
    assert "Nothing is open" in said_wrong(post("/notebook/work/right", list_name="Nut and bolt", thing="4"))
    done = post("/notebook/work/right", list_name="Nut and bolt", thing="3", how="new pin")
    assert done.status_code == 303
    assert "/notebook/work/right" not in season_client.get("/notebook/work").text


# ---------------- sharing


def test_a_bundle_goes_from_one_notebook_to_another_and_is_looked_at_first(season_client, tmp_path):
    sent = season_client.get("/notebook/bundle", params={"what": "run", "which": "last"})
    assert 'filename="run_last.ovalbox"' in sent.headers["content-disposition"]
    with Store.open(tmp_path / "other.sqlite") as store, client(store, tmp_path) as other:
        told = {"csrf": token(other.get("/notebook/share").text)}
        for taken in (False, True):
            looked = other.post("/notebook/receive", data=told, files={"file": ("a.ovalbox", sent.content)})
            digest = [one["value"] for one in read(looked.text).all("input", name="digest")]
            with store.reading() as session:
                assert bool(runs.events(session)) is taken
            assert bool(digest) is not taken
            if digest:
                answer = other.post("/notebook/receive/take", data={**told, "digest": digest[0]})
                assert answer.headers["location"] == "/notebook/share?taken=1"
                again = other.post("/notebook/receive/take", data={**told, "digest": digest[0]})
                assert "already" in said_wrong(again)
                with store.reading() as session:
                    assert [one.what for one in last_entries(session, 9)] == ["taken in: a.ovalbox"]
        assert "at hand" in said_wrong(other.post("/notebook/receive/take", data={**told, "digest": "x"}))


@pytest.mark.parametrize("raw", [b"", b"PK\x03\x04", b"x" * 3_000_000], ids=["nothing", "a stub", "large"])
def test_what_is_no_bundle_is_refused(season_client, raw):
    told = {"csrf": token(season_client.get("/notebook/share").text)}
    answer = season_client.post("/notebook/receive", data=told, files={"file": ("<b>.ovalbox", raw)})
    assert "<b>.ovalbox" in said_wrong(answer)


def test_private_things_stay_at_home_unless_they_are_asked_for(season_client):
    def size(**asked):
        return len(season_client.get("/notebook/bundle", params={"what": "all", **asked}).content)

    assert size(private="1") > size()
    assert season_client.get("/notebook/bundle", params={"what": "run"}).status_code == 422
