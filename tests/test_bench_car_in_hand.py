"""One car is in hand: every page is about it and names it."""

from __future__ import annotations

import datetime as dt

from benches import client, read, token

from ovalwright.documents import QUESTIONS
from ovalwright.notebook import runs
from ovalwright.notebook.store import Store
from ovalwright.web.next_up import next_up, with_car_of
from ovalwright.web.places import OF_THE_CAR, PLACES

ANSWERS = {one.key: one.example for one in QUESTIONS}


def named(page):
    return read(page.text).one("header").one("p", class_="car").text


def test_a_new_car_is_in_hand_on_every_page_and_every_device(season_store, tmp_path):
    with client(season_store, tmp_path) as laptop:
        before = {named(laptop.get(place.path)) for place in PLACES}
        assert len(before) == 1 and "Leaf car" not in before.pop()
        told = {**ANSWERS, "name": "Leaf car", "csrf": token(laptop.get("/setup").text)}
        assert laptop.post("/setup/new", data=told).status_code == 303
        assert {named(laptop.get(place.path)) for place in PLACES} == {"Car in hand: Leaf car"}
    with client(season_store, tmp_path) as another:
        assert {named(another.get(place.path)) for place in PLACES} == {"Car in hand: Leaf car"}
        pads = read(another.get("/scales").text).one("main").text
        assert "Leaf car, " in pads
        week = read(another.get("/week").text).one("main").text
        assert "No run of this car is kept yet" in week


def test_a_new_run_or_change_is_of_the_car_in_hand_unless_another_is_chosen(season_store, tmp_path):
    with client(season_store, tmp_path) as laptop:
        told = {**ANSWERS, "name": "Third car", "csrf": token(laptop.get("/setup").text)}
        laptop.post("/setup/new", data=told)
        page = read(laptop.get("/notebook/enter").text)
        for name in ("setup", "on"):
            choices = page.one("select", id=name).all("option")
            assert "Third car" in choices[0].text and choices[0].text.endswith("in hand")
            assert choices[0]["value"] and not [one for one in choices if "selected" in one.attributes]


def test_another_setup_of_the_car_that_ran_last_leaves_what_is_next_up(season_store):
    with season_store.reading() as session:
        ahead = next_up(session, dt.date.today())
        last = runs.last_run(session)
        assert with_car_of(session, ahead, last.setup.code, "") == ahead
        assert with_car_of(session, ahead, "AAAAAA", "") == ahead


def test_without_a_car_none_is_named(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite", by="owner") as store, client(store, tmp_path) as laptop:
        assert not read(laptop.get("/week").text).all("p", class_="car")


def test_a_leaf_spring_car_is_marked_wherever_its_numbers_stand(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite", by="owner") as store, client(store, tmp_path) as laptop:
        for axle, marked in (("3 link", []), ("leaf springs", sorted(OF_THE_CAR))):
            told = {**ANSWERS, "name": axle, "axle": axle, "csrf": token(laptop.get("/setup").text)}
            assert laptop.post("/setup/new", data=told).status_code == 303
            said = {one.path: read(laptop.get(one.path).text).all(class_="stands-in") for one in PLACES}
            assert sorted(path for path, found in said.items() if found) == marked
        assert said["/turn"][0].text == "The leaf springs are computed as an equivalent four-link."
