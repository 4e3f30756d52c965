"""Presses of the turn, by several at once, from old windows, by a quick thumb, kept and taken back: none is
lost, and none lands on another setup than the one that was looked at.
"""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest
from at_the_turn import ALL, PARTS, UP, field, hands_said, press_on, said_on
from benches import client, read
from browser import LAPTOP, PHONE, served

from ovalwright.notebook import shelf, undo
from ovalwright.notebook.store import Store
from ovalwright.web import hand as hands
from ovalwright.web.hand import Press
from ovalwright.web.pages import turn_changes


def test_what_another_phone_pressed_comes_with_the_whole_turn(turn: Any) -> None:
    page = press_on(turn, UP)
    seen = int(field(page, "version"))
    shown = {name: field(page, name) for name in ("hand", "version", "base")}
    where = "/turn?" + urlencode({"at": 10, "fuel": 3, **shown})
    quiet = turn.get(f"{where}&look_again=true", headers=PARTS)
    assert quiet.status_code == 204
    assert "HX-Retarget" not in turn.get(where, headers=PARTS).headers
    press_on(turn, "LR.turned up")
    late = turn.get(where, headers=PARTS)
    assert late.headers["HX-Retarget"] == "#turn"
    assert int(field(read(late.text), "version")) == seen + 1


def test_another_hand_of_the_same_version_is_not_shown_as_the_one_that_was_looked_at(
    turn_store: Store, turn: Any
) -> None:
    page = press_on(turn, UP)
    seen = {name: field(page, name) for name in ("hand", "version", "base")}
    with turn_store.aside() as session:
        first = hands.hand_of(session, seen["hand"])
        other = hands.begin(session, first.base, track=first.track)
        bolt = Press("LR.turned", {"LR.turned": "1 round"}, "LR bolt 1 round")
        assert hands.press(session, other.uid, other.version, bolt).version == first.version
        hands.put_away(session, first.uid, first.version)
    where = "/turn?" + urlencode({"at": 10, "fuel": 3, **seen})
    sent = page.one("form", id="look")["hx-params"].split(",")
    assert seen.keys() <= set(sent)
    for more in ("", "&look_again=true"):
        answer = turn.get(where + more, headers=PARTS)
        assert answer.headers["HX-Retarget"] == "#turn"
        shown = read(answer.text)
        assert field(shown, "hand") == other.uid
        assert "was put away" in shown.one("p", class_="notice").text


def test_another_setup_does_not_take_the_place_of_a_hand_that_was_not_seen(
    turn_store: Store, turn: Any
) -> None:
    page = read(turn.get("/turn").text)
    opened = {name: field(page, name) for name in ("csrf", "hand", "version")}
    assert opened["hand"] == ""
    press_on(turn, UP)
    press_on(turn, UP)
    with turn_store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    late = turn.post("/turn/choose", data={**opened, "base": soft})
    assert late.status_code == 409
    assert "RR" in read(late.text).all("p", class_="notice")[0].text
    assert len(hands_said(turn_store)) == 2


def test_a_press_from_an_old_window_is_not_done_on_another_setup(turn_store: Store, turn: Any) -> None:
    page = press_on(turn, UP)
    old = {name: field(page, name) for name in ("csrf", "hand", "version", "base")}
    with turn_store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    assert soft != old["base"]
    assert turn.post("/turn/choose", data={**old, "base": soft}).status_code == 303
    late = turn.post("/turn/press", data={**old, "press": UP}, headers=ALL)
    assert late.status_code == 409
    assert hands_said(turn_store) == []
    clash = read(late.text).one("form", class_="clash")
    assert f"{soft} is in hand now" in clash.text
    assert [button["value"] for button in clash.all("button")] == ["mine", "his"]


def test_the_first_press_is_done_on_the_setup_that_is_shown(turn_store: Store, turn: Any) -> None:
    page = read(turn.get("/turn").text)
    with turn_store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    old = {name: field(page, name) for name in ("csrf", "hand", "version")}
    assert field(page, "base") != soft
    assert turn.post("/turn/press", data={**old, "base": soft, "press": UP}).status_code == 303
    with turn_store.reading() as session:
        held = hands.in_hand(session)
    assert held is not None
    assert held.base == soft


def test_others_may_write_while_the_car_of_a_press_is_built(
    turn_store: Store, turn: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    waited = []

    def enter(held: hands.Hand) -> None:
        with turn_store.aside() as session:
            hands.press(
                session, held.uid, held.version, Press("LR.turned", {"LR.turned": "1"}, "LR"), by="phone"
            )

    def built(*_: object) -> None:
        with turn_store.reading() as session:
            held = hands.in_hand(session)
        other = threading.Thread(target=enter, args=(held,), daemon=True)
        other.start()
        other.join(3)
        waited.append(other.is_alive())

    page = press_on(turn, UP)
    told = {name: field(page, name) for name in ("csrf", "hand", "version", "base")}
    monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", built)
    late = turn.post("/turn/press", data={**told, "press": UP}, headers=ALL)
    assert not any(waited)
    assert late.status_code == 409
    assert hands_said(turn_store)[1:] == ["LR"]


def test_two_windows_of_one_device_at_once_lose_nothing(
    turn_store: Store, turn: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = read(turn.get("/turn").text)
    told = {name: field(page, name) for name in ("csrf", "hand", "version", "base")}
    built = turn_changes.rebuilt_as_bolted

    def after_the_other(*cars: Any) -> object:
        monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", built)
        assert turn.post("/turn/press", data={**told, "press": UP}).status_code == 303
        return built(*cars)

    monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", after_the_other)
    assert turn.post("/turn/press", data={**told, "press": UP}).status_code == 303
    with turn_store.reading() as session:
        held = hands.in_hand(session)
    assert held is not None
    once, twice = (press.value["RR.tire.cold"] for press in held.changes)
    assert once != twice


def test_three_at_once_and_each_sees_what_the_others_did(
    turn_store: Store, turn: Any, tmp_path: Path
) -> None:
    lan: dict[str, Any] = {"lan": True, "passcode": "kfm7-2wqx", "names": ["192.168.7.2"]}
    first = press_on(turn, UP)
    with (
        client(turn_store, tmp_path, phone="192.168.7.20", **lan) as one,
        client(turn_store, tmp_path, phone="192.168.7.21", **lan) as two,
    ):
        for phone in (one, two):
            page = read(phone.get("/come-in").text)
            phone.post("/come-in", data={"csrf": field(page, "csrf"), "passcode": lan["passcode"]})
        pages = [read(phone.get("/turn").text) for phone in (one, two)]
        told = [{name: field(page, name) for name in ("csrf", "hand", "version")} for page in pages]
        assert [page.one("button", value="undo").text for page in pages] == [
            "Undo what the laptop pressed"
        ] * 2
        assert {each["version"] for each in told} == {field(first, "version")}
        done = one.post("/turn/press", data={**told[0], "press": "LR.turned up"}, headers=ALL)
        assert done.status_code == 200
        late = two.post("/turn/press", data={**told[1], "press": "RR.coil.spring up"}, headers=ALL)
        assert late.status_code == 409
        clash = read(late.text).one("form", class_="clash")
        assert "LR jack bolt" in clash.text
        assert "RR coil" in clash.text
        assert [button["value"] for button in clash.all("button")] == ["mine", "his", "both"]
        settled = {field["name"]: field["value"] for field in clash.all("input")}
        both = two.post("/turn/settle", data={**settled, "choice": "both"}, headers=ALL)
        mine, his = (said_on(read(phone.get("/turn").text)) for phone in (two, one))
        assert both.status_code == 200
        assert mine[0].split(",")[0] == said_on(first)[0].split(",")[0]
        assert "RR coil" in mine[1]
        assert len(his) == 2
        assert "jack bolt" in his[1]
        again = two.post("/turn/settle", data={**settled, "choice": "mine"}, headers=ALL)
        assert again.status_code == 200
        last = read(one.get("/turn").text)
        assert [said[:2] for said in said_on(last)] == ["RR", "LR", "RR"]
        undo = {"csrf": told[0]["csrf"], "hand": told[0]["hand"], "version": field(last, "version")}
        back = read(one.post("/turn/press", data={**undo, "press": "undo"}, headers=ALL).text)
        said, _, other = said_on(last)[-1].rpartition(", ")
        assert back.all("p", class_="notice")[0].text == f"Taken back: {said}, which {other} pressed."
        undo["version"] = field(back, "version")
        own = read(one.post("/turn/press", data={**undo, "press": "undo"}, headers=ALL).text)
        assert back.one("button", value="undo").text == "Undo"
        assert len(said_on(own)) == 1
        assert not own.all("p", class_="notice")


def test_a_kept_setup_taken_back_gives_the_presses_back(turn_store: Store, turn: Any) -> None:
    page = press_on(turn, UP)
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    assert turn.post("/turn/keep", data={**told, "reason": "tight in"}).status_code == 303
    kept = field(read(turn.get("/turn").text), "base")
    assert (
        turn.post("/notebook/undo", data={"csrf": told["csrf"], "number": _last(turn_store)}).status_code
        == 303
    )
    back = read(turn.get("/turn").text)
    assert field(back, "base") == field(page, "base")
    assert said_on(back) == said_on(page)
    number = _last(turn_store, undone=True)
    assert turn.post("/notebook/put-back", data={"csrf": told["csrf"], "number": number}).status_code == 303
    again = read(turn.get("/turn").text)
    assert field(again, "base") == kept
    assert not again.all("ol")


def test_a_setup_that_was_pressed_on_and_taken_back_leaves_the_hand_on_the_one_before(
    turn_store: Store, turn: Any
) -> None:
    before = press_on(turn, UP)
    told = {name: field(before, name) for name in ("csrf", "hand", "version")}
    turn.post("/turn/keep", data={**told, "reason": "tight in"})
    page = press_on(turn, "LR.turned up")
    turn.post("/notebook/undo", data={"csrf": told["csrf"], "number": _last(turn_store)})
    back = read(turn.get("/turn").text)
    assert field(back, "base") == field(before, "base")
    assert said_on(back) == said_on(page)
    notice = back.all("p", class_="notice")[0].text
    assert notice.startswith(f"{field(page, 'base')} was taken back in the notebook; {field(back, 'base')} ")
    shown = {name: field(page, name) for name in ("hand", "version", "base")}
    late = turn.get("/turn?" + urlencode({**shown, "look_again": "true"}), headers=PARTS)
    assert late.headers["HX-Retarget"] == "#turn"
    for path in ("/turn/sure", "/turn/from/load", "/effects"):
        assert turn.get(path).status_code == 200
    assert not press_on(turn, "LR.turned up").all("p", class_="trouble")


def test_a_weighing_taken_back_gives_the_typed_weights_back(turn_store: Store, turn: Any) -> None:
    page = read(turn.get("/scales").text)
    told = {name: field(page, name) for name in ("csrf", "setup")}
    weights = {"LF": "776", "RF": "646", "LR": "844", "RR": "570"}
    typed = {**weights, "fuel": "22", "driver": "in", "reason": "after the wreck"}
    assert turn.post("/scales/keep", data={**told, "draft": "", "version": "0", **typed}).status_code == 303
    assert field(read(turn.get("/turn").text), "base") != told["setup"]
    turn.post("/notebook/undo", data={"csrf": told["csrf"], "number": _last(turn_store)})
    again = read(turn.get("/scales").text)
    assert {name: field(again, name) for name in weights} == weights
    assert field(read(turn.get("/turn").text), "base") == told["setup"]
    away = {**told, **{name: field(again, name) for name in ("draft", "version")}, **typed}
    assert turn.post("/scales/put-away", data=away).status_code == 303


def _last(turn_store: Store, *, undone: bool = False) -> int:
    with turn_store.reading() as session:
        found = undo.next_to_put_back if undone else undo.next_to_undo
        last = found(session, by=turn_store.by)
    assert last is not None
    return last.number


# ---------------- in a browser


def test_a_thumb_moves_the_car_and_two_windows_see_each_other(
    turn_store: Store, tmp_path: Path, turn: Any, window: Any
) -> None:
    with served(turn_store, tmp_path) as address:
        one, two = (window(size).page for size in (LAPTOP, PHONE))
        for page in (one, two):
            page.goto(f"{address}/turn?at=300&fuel=10")
        plan, slider = one.locator("figure.above svg"), one.locator("#at")
        two.locator("figure.above").wait_for(state="detached")
        before = plan.get_attribute("aria-label")
        one.locator(".controls button[value='RR.coil.spring up']").click()
        one.locator(".which", has_text="1 change").wait_for()
        changed = plan.get_attribute("aria-label")
        assert changed != before
        assert urlsplit(one.url).query == "at=300&fuel=10"
        slider.press("1")
        one.locator("#at[aria-valuetext*='entry']").wait_for()
        assert slider.get_attribute("aria-valuetext").split(", ")[1] == "entry"
        slider.press("ArrowLeft")
        one.locator(f"#at[aria-valuetext^='{slider.input_value()} ft']").wait_for()
        two.locator("#at").press("ArrowRight")
        two.locator(".which", has_text="1 change").wait_for()
        two.locator("#reason").fill("it was loose")
        one.keyboard.press("u")
        one.get_by_text("Nothing yet").wait_for()
        two.locator("#at").press("ArrowRight")
        two.get_by_text("Nothing yet").wait_for()
    assert hands_said(turn_store) == []


TAPS = """([value, times]) => new Promise((done) => {
  const tap = setInterval(() => {
    document.querySelector(`.controls button.step[value="${value}"]`).click();
    if (!--times) done(clearInterval(tap));
  }, 60);
})"""


def test_no_quick_press_is_lost_and_a_key_that_is_held_presses_once(
    turn_store: Store, tmp_path: Path, turn: Any, window: Any
) -> None:
    def slow(route: Any) -> None:
        answer = route.fetch()
        time.sleep(0.2)
        route.fulfill(response=answer)

    with served(turn_store, tmp_path) as address:
        page = window(LAPTOP).page
        page.route("**/turn/press", slow)
        page.goto(f"{address}/turn?at=300&fuel=10")
        page.evaluate(TAPS, [UP, 4])
        page.locator(".which", has_text="4 changes").wait_for()
        page.locator("#turn:not([aria-busy])").wait_for()
        page.keyboard.press("?")
        page.keyboard.press("u")
        page.keyboard.press("Escape")
        for _ in range(3):
            page.keyboard.down("u")
        page.locator(".which", has_text="3 changes").wait_for()
        page.keyboard.up("u")
        page.wait_for_timeout(300)
        assert len(hands_said(turn_store)) == 3
        page.unroute("**/turn/press")
        page.route("**/turn/press", lambda route: route.abort())
        page.evaluate(TAPS, [UP, 1])
        assert page.locator("#not-done").text_content() == "Not done: the last press. Press again."
    assert len(hands_said(turn_store)) == 3
