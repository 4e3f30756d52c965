"""The notebook on the bench: found, looked at, undone; parts, work, what is shared."""

from __future__ import annotations

import re

import pytest
from benches import client, read, said_wrong, token

from ovalwright.notebook import drafts, runs, shelf
from ovalwright.notebook.asked.find import find_runs
from ovalwright.notebook.garage import work
from ovalwright.notebook.garage.parts import part_of
from ovalwright.notebook.garage.parts_life import life
from ovalwright.notebook.store import Store
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


def test_what_was_said_of_a_lap_is_shown_and_a_lap_above_the_drawing_is_named(post, season_client, last):
    code = last().code
    laps = "\n".join(f"{n} {17.6 + 0.01 * n:.3f}" for n in range(1, 24))
    answer = post("/notebook/enter", kind="laps", run=code, laps=f"{laps}\n24 17.905 lapped car\n25 19.5\n")
    assert answer.status_code < 400
    page = read(season_client.get(f"/notebook/run/{code}").text)
    *_, lapped, slow = page.one("ol", class_="laps").all("li")
    assert lapped.text == "24 17.905 traffic, lapped car"
    assert slow.text == "25 19.500"
    assert "above it: lap 25" in page.one("div", class_="lap-line").text


def test_a_run_is_shown_as_it_was_entered(season_client, last):
    told = last()
    page = read(season_client.get(f"/notebook/run/{told.code}").text)
    laps = [one.text.split()[:2] for one in page.one("ol", class_="laps").all("li")]
    assert laps == [[str(lap.number), f"{lap.time:.3f}"] for lap in told.laps]
    said = [one.text for one in page.one("ol", class_="laps").all("li")]
    assert all(lap.said in shown for lap, shown in zip(told.laps, said, strict=True))
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


def test_a_part_that_was_refused_comes_first_on_the_page_with_what_was_typed(post):
    answer = post("/notebook/parts", kind="sprng", mark="406 #2")
    assert "did you mean spring" in said_wrong(answer)
    page = read(answer.text).one("main")
    form = page.one("form", action="/notebook/parts")
    ids = [one["id"] for one in page.all("", id="part-mistake") + form.all("input", id="mark")]
    assert ids == ["part-mistake", "mark"] and form.one("input", id="mark")["value"] == "406 #2"
    assert page.text.index("Enter a part") < page.text.index("Off the car")
    assert "engine" in [one.text for one in form.one("datalist").all("option")]


def test_a_part_is_told_after_how_much_a_job_is_due(post, season_client):
    which = read(season_client.get("/notebook/parts").text).all("input", name="which")[0]["value"]
    wrong = post("/notebook/part/due", which=which, due_job="look at it", every="often")
    assert "500 laps" in said_wrong(wrong)
    told = {"which": which, "due_job": "look at it", "every": "7 laps or 9,000 miles", "whose": "own"}
    assert post("/notebook/part/due", **told).status_code == 303
    page = read(season_client.get("/notebook/part", params={"which": which}).text)
    assert "look at it" in page.one("form", action="/notebook/part/due").one("ul").text
    assert "look at it" in read(season_client.get("/notebook/parts?due=1000").text).one("main").text


def test_a_motor_is_an_engine(post, season_store):
    assert post("/notebook/parts", kind="Motor", mark="406 #2").status_code == 303
    with season_store.reading() as session:
        assert part_of(session, "engine 406 #2").kind == "engine"


def test_a_list_is_ticked_once_and_closed(post, season_client, season_store):
    post("/notebook/work/begin", name="Scaling")
    page = read(season_client.get("/notebook/work").text)
    named = [one.text.lower() for tag in ("h2", "label", "button") for one in page.one("main").all(tag)]
    assert not any(re.search(r"\b(?:begin a|this) round\b", one) for one in named), "a round is of a bolt"
    assert {"begin a list", "close this list"} <= set(named)
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

    assert size(private=["names", "notes"]) > size(private="names") > size()
    boxes = read(season_client.get("/notebook/share").text).all("input", name="private")
    assert len(boxes) == 4 and not any("checked" in box.attributes for box in boxes)
    assert season_client.get("/notebook/bundle", params={"what": "all", "private": "1"}).status_code == 422
    assert season_client.get("/notebook/bundle", params={"what": "run"}).status_code == 422
