"""One car is in hand: every page is about it and names it."""

from __future__ import annotations

import datetime as dt

import pytest
from at_the_turn import DEMO
from benches import client, read, token

from ovalwright.documents import QUESTIONS
from ovalwright.notebook import runs, shelf
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


def take(laptop, code):
    """Take a setup in hand on The turn."""
    page = read(laptop.get("/turn").text)
    told = {name: page.all("input", name=name)[0]["value"] for name in ("csrf", "hand", "version")}
    assert laptop.post("/turn/choose", data={**told, "base": code}).status_code == 303


@pytest.fixture
def three(tmp_path):
    """A car of ten answers with two setups made of its first, and another car kept after all of them; the
    codes of the car's own.
    """
    with Store.open(tmp_path / "notebook.sqlite", by="owner") as store, client(store, tmp_path) as laptop:
        told = {**ANSWERS, "name": "Ours", "csrf": token(laptop.get("/setup").text)}
        assert laptop.post("/setup/new", data=told).status_code == 303
        with store.reading() as session:
            first = shelf.revisions(session, kind="setup")[0].code
        codes = [first]
        for pressure in ("14 psi", "15 psi"):
            with store.entry("a change") as session:
                base = shelf.revision(session, first)
                kept = shelf.child(session, base, {"RF.tire.cold": pressure}, reason="tight")
                codes.append(kept.code)
        with store.entry("another car") as session:
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
        yield laptop, codes, store


@pytest.mark.parametrize("kind", ["setup", "scales", "ballast", "raceday"])
def test_a_sheet_without_a_choice_is_of_the_setup_in_hand(three, kind):
    laptop, codes, _ = three
    for code in codes:
        take(laptop, code)
        page = read(laptop.get(f"/sheets?kind={kind}").text)
        assert code in page.one("p", class_="of-setup").text
        assert page.one("input", id="which")["value"] == ""
        link = next(one["href"] for one in page.all("a", class_="button") if "sheet.pdf" in one["href"])
        assert f"which={code}" in link
    assert "Newer" not in page.one("p", class_="of-setup").text
    asked = read(laptop.get(f"/sheets?kind={kind}&which={codes[0]}").text).one("p", class_="of-setup").text
    assert codes[0] in asked and f"({codes[2]})" in asked and "as asked for" in asked


def test_numbers_say_of_which_setup_they_are_where_another_is_in_hand(three):
    laptop, (first, second, third), store = three
    with store.entry("a run") as session:
        event = runs.new_event(session, "Opening", dt.date(2026, 4, 25))
        run = runs.new_run(session, event, shelf.revision(session, first))
        name, ran = run.setup.document.name, run.code
    take(laptop, second)

    def said(path):
        return [one.text for one in read(laptop.get(path).text).all("p", class_="of-setup")]

    held = f"In hand on The turn: {name}, revision 2 ({second})"
    first_one, third_one = (f"{name}, revision {n} ({code})" for n, code in ((1, first), (3, third)))
    assert said("/week?numbers=1") == [f"Setup {first_one}, that of the last run. {held}."]
    assert said("/scales") == [f"{third_one}, the last one kept. {held}."]
    assert said(f"/scales?setup={first}") == [f"{first_one}, as chosen here. {held}."]
    assert said("/notebook/enter") == [f"{held}.", f"{held}."]
    assert (
        f"as in the last run, {ran}" in read(laptop.get("/notebook/enter").text).one("select", id="on").text
    )
    take(laptop, third)
    assert said("/scales") == [f"{third_one}."]


def test_what_changed_is_of_the_car_in_hand(three):
    laptop, codes, _ = three
    take(laptop, codes[0])
    page = read(laptop.get("/sheets?kind=changes").text)
    assert [page.one("input", id=name)["value"] for name in ("which", "second")] == [codes[0], codes[2]]


def test_newer_ones_are_told_before_an_older_is_kept_and_of_which_it_was_made(three):
    laptop, (first, second, third), _ = three
    take(laptop, first)
    page = read(laptop.get("/turn").text)
    assert page.one("p", class_="which").all(class_="newer")
    told = {name: page.all("input", name=name)[0]["value"] for name in ("csrf", "hand", "version")}
    assert laptop.post("/turn/press", data={**told, "press": "RR.tire.cold up"}).status_code == 303
    page = read(laptop.get("/turn").text)
    notice = page.one("section", id="of").one("p", class_="newer").text
    assert f"{third} (revision 3), {second} (revision 2)" in notice and f"made of {first}" in notice
    told = {name: page.all("input", name=name)[0]["value"] for name in ("csrf", "hand", "version")}
    kept = laptop.post("/turn/keep", data={**told, "reason": "loose off"})
    after = read(laptop.get(kept.headers["location"]).text)
    assert any(f"made of {first} (revision 1)" in one.text for one in after.all("p", class_="notice"))
    assert not after.all("p", class_="newer") and not after.one("p", class_="which").all(class_="newer")


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
