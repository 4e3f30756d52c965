"""The turn as it is pressed and looked at on a device: it fits the screen, the keyboard stays where it was,
what was taken back is said, and a kept setup is looked at from the same place.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

from at_the_turn import ALL, UP, field, press_on
from benches import client, read
from browser import LAPTOP, PHONE, served

from ovalwright.notebook.store import Store

AT_ONCE = """() => [...document.querySelectorAll(
    ".answers, .views, .loads, .strip, .along, .tankful, .control, .pair, .then")]
    .filter((one) => one.checkVisibility())
    .map((one) => [one.className.split(" ")[0], one.getBoundingClientRect().bottom])"""
"""What stands on a page and how far down it reaches [px]."""


def test_a_laptop_shows_it_all_at_once_and_a_phone_the_first_control_too(
    turn_store: Store, tmp_path: Path, turn: Any, window: Any
) -> None:
    press_on(turn, "RR.coil.spring up")
    with served(turn_store, tmp_path) as address:
        laptop, phone = (window(size).page for size in (LAPTOP, PHONE))
        laptop.goto(f"{address}/turn?at=300&fuel=10")
        reaching = laptop.evaluate(AT_ONCE)
        controls = [bottom for name, bottom in reaching if name == "control"]
        assert len(controls) >= 5
        assert max(bottom for _, bottom in reaching) <= LAPTOP[1]
        phone.goto(f"{address}/turn?at=300&fuel=10&view=behind&narrow=1")
        nav = phone.locator("nav.narrow").bounding_box()["y"]
        assert phone.locator(".controls .control").first.bounding_box()["y"] + 52 <= nav + 1
        slider, scale = phone.locator("#at").bounding_box(), phone.locator(".strip .now").bounding_box()
        most = float(phone.locator("#at").get_attribute("max"))
        thumb = slider["x"] + 24 + (slider["width"] - 48) * 300 / most
        assert abs(thumb - (scale["x"] + 0.5 * scale["width"])) < 2.0


def test_the_keyboard_stays_on_what_it_pressed(
    turn_store: Store, tmp_path: Path, turn: Any, window: Any
) -> None:
    with served(turn_store, tmp_path) as address:
        page = window(LAPTOP).page
        page.goto(f"{address}/turn?at=300&fuel=10")
        page.locator(".controls button[value='RR.tire.cold up']").focus()
        for count in ("1 change", "2 changes"):
            page.keyboard.press("Enter")
            page.locator(".which", has_text=count).wait_for()
            assert page.evaluate("document.activeElement.value") == "RR.tire.cold up"
        page.locator(".jump[data-key='1']").focus()
        page.keyboard.press("Enter")
        page.locator("#at[aria-valuetext*='entry']").wait_for()
        assert page.evaluate("document.activeElement.dataset.key") == "1"
        assert urlsplit(page.url).query == "at=300&fuel=10"
        page.locator("a[href='#reason']").click()
        page.keyboard.type("loose off")
        assert page.locator("#reason").input_value() == "loose off"


def test_what_was_taken_back_of_another_is_said_without_script_too(
    turn_store: Store, turn: Any, tmp_path: Path
) -> None:
    code = "kfm7-2wqx"
    press_on(turn, UP)
    with client(
        turn_store, tmp_path, phone="192.168.7.20", lan=True, passcode=code, names=["192.168.7.2"]
    ) as phone:
        door = read(phone.get("/come-in").text)
        phone.post("/come-in", data={"csrf": field(door, "csrf"), "passcode": code})
        page = read(phone.get("/turn").text)
        told = {name: field(page, name) for name in ("csrf", "hand", "version")}
        answer = phone.post("/turn/press", data={**told, "press": "undo", "at": 300})
        after = read(phone.get(answer.headers["location"]).text)
        assert "Taken back: RR pressure" in after.all("p", class_="notice")[0].text
        assert "which the laptop pressed" in after.all("p", class_="notice")[0].text
        assert not read(phone.get("/turn").text).all("p", class_="notice")


def test_a_kept_setup_is_looked_at_from_where_it_was_kept(turn: Any) -> None:
    page = press_on(turn, UP)
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    shown = read(turn.get("/turn?at=200&fuel=7&view=front", headers=ALL).text)
    place = {one["name"]: one["value"] for one in shown.all("input", form="keep")}
    assert place == {"at": "200", "fuel": "7", "view": "front", "beside": "ghost", "narrow": "0"}
    kept = turn.post("/turn/keep", data={**told, **place, "reason": "tight in the middle"})
    query = parse_qs(urlsplit(kept.headers["location"]).query)
    assert (query["at"], query["fuel"], query["view"]) == (["200"], ["7"], ["front"])
    assert "kept" in query


def test_from_where_a_number_comes_from_it_goes_back_to_where_it_was_looked_at(turn: Any) -> None:
    page = read(turn.get("/turn?at=200&fuel=7&view=front").text)
    links = [link["href"] for link in page.all("a") if link["href"].startswith(("/turn/from/", "/turn/sure"))]
    for link in {urlsplit(href).path: href for href in links}.values():
        back = read(turn.get(link).text).one("main").all("a", class_="button")[0]["href"]
        assert back.startswith("/turn?at=200&fuel=7&view=front")
