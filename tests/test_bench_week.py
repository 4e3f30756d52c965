"""This week and Set up: what is next, what the car needs, a new car of ten answers, what to measure next."""

from __future__ import annotations

import datetime as dt
import time

import pytest
from benches import PASSCODE, PHONE, client, read, token

from ovalwright.documents import MIDDLE, QUESTIONS, Car, Conditions, new_car
from ovalwright.notebook import shelf
from ovalwright.notebook.garage import service
from ovalwright.notebook.garage.how_measured import about_key, to_measure
from ovalwright.notebook.known import numbers
from ovalwright.notebook.store import Store
from ovalwright.pack import build
from ovalwright.study.bands import Band
from ovalwright.study.sure import what_to_measure
from ovalwright.study.turn import turn
from ovalwright.units import show
from ovalwright.web import hand as hands
from ovalwright.web import week_numbers
from ovalwright.web.long_work import Job, LongWork
from ovalwright.web.next_up import next_up

ANSWERS = {one.key: one.example for one in QUESTIONS}
HTMX = {"HX-Request": "true"}


@pytest.fixture
def empty(tmp_path):
    with Store.open(tmp_path / "notebook.sqlite") as store, client(store, tmp_path) as found:
        yield found


def main(answer):
    return read(answer.text).one("main")


# ---------------- this week


def test_an_empty_notebook_says_where_to_begin(empty):
    page = main(empty.get("/week"))
    assert page.one(class_="empty").one("a")["href"] == "/setup"


def test_what_is_due_is_what_the_notebook_says(season_client, season_store):
    with season_store.reading() as session:
        due = service.due(session, next_up(session, dt.date.today()).car)
    shown = [one.text for one in main(season_client.get("/week")).one("ul", class_="needs").all("li")]
    first = next(one for one in due if one.used >= 0.8)
    assert first.job in shown[0] and first.said in shown[0]


def test_the_three_numbers_are_those_of_the_study(season_client, season_store):
    with season_store.reading() as session:
        ahead = next_up(session, dt.date.today())
        track, assembly = shelf.document_of(ahead.track), shelf.assembly_of(session, ahead.setup)
    place = turn(build(assembly), track, Conditions(), stations=(MIDDLE,)).tanks[0].places[0]
    shown = [
        one.text
        for one in main(season_client.get("/week?numbers=1"))
        .one("dl", class_="three")
        .all("dd", class_="verdict")
    ]
    assert shown[0] == show(place.carried.loads.cross, "percent")
    assert shown[1].startswith(place.balance.word.capitalize())
    assert shown[2] == show(place.limit.speed, "speed")


def test_their_bands_are_asked_for_and_a_balance_over_nought_is_not_called(
    season_client, season_store, monkeypatch
):
    asked = []
    found = {
        "cross": Band(0.56, 0.54, 0.58),
        "balance": Band(-0.01, -0.04, 0.01),
        "limit": Band(21.0, 20.0, 22.0),
    }

    def at_once(work, key, study, *documents, told):
        asked.append((study, documents))
        work._jobs["it"] = Job(
            key, told, study, documents, state="done", ended=time.monotonic(), answer=found
        )

    monkeypatch.setattr(LongWork, "submit", at_once)
    page = season_client.get("/week?numbers=1").text
    assert not main(season_client.get("/week?numbers=1")).all(class_="band")
    assert season_client.post("/week/sure", data={"csrf": token(page)}).status_code == 303
    ((study, (assembly, track)),) = asked
    with season_store.reading() as session:
        ahead = next_up(session, dt.date.today())
        assert (assembly.setup.name, track.name) == (ahead.setup.document.name, ahead.track.document.name)
    assert study is week_numbers.bands
    bands = [one.text for one in main(season_client.get("/week?numbers=1")).all(class_="band")]
    assert bands == ["\u00b12.0 %", "\u00b12.5 %: tight to loose, too close to call", "\u00b12.2 mph"]


def test_they_are_fetched_alone_or_with_the_whole_page(season_client):
    waiting = main(season_client.get("/week")).one(id="numbers")
    assert waiting["hx-get"] == waiting.one("a")["href"] == "/week?numbers=1"
    alone = read(season_client.get("/week?numbers=1", headers={**HTMX, "HX-Target": "numbers"}).text)
    assert [one["id"] for one in alone.children] == ["numbers"]
    assert not alone.all("nav")


def test_an_event_that_is_entered_is_counted_down_to(season_client):
    day = dt.date.today() + dt.timedelta(days=9)
    told = {"name": "Invented night", "day": day.isoformat(), "track": "Steep half"}
    told["csrf"] = token(season_client.get("/week").text)
    assert season_client.post("/week/event", data=told).status_code == 303
    assert main(season_client.get("/week")).all("p", class_="verdict")[0].text == (
        f"Invented night, {day:%A} {day.isoformat()}, in 9 days"
    )
    again = season_client.post("/week/event", data=told)
    assert again.status_code == 422
    assert "in the notebook already" in main(again).one(id="event-mistake").text


def test_the_next_event_is_mended_and_taken_out(season_client):
    def sent(action, **fields):
        page = main(season_client.get("/week"))
        form = page.one("form", action=action)
        told = {one["name"]: one["value"] for one in form.all("input")}
        return season_client.post(action, data={**told, **fields})

    day = dt.date.today() + dt.timedelta(days=2)
    told = {"name": "Rainy night", "day": day.isoformat(), "csrf": token(season_client.get("/week").text)}
    season_client.post("/week/event", data=told)
    later = day + dt.timedelta(days=1)
    assert sent("/week/event/mend", day="soon").status_code == 422
    assert sent("/week/event/mend", day=later.isoformat()).status_code == 303
    verdict = main(season_client.get("/week")).all("p", class_="verdict")[0].text
    assert verdict == f"Rainy night, {later:%A} {later.isoformat()}, in 3 days"
    assert sent("/week/event/drop").status_code == 303
    assert "Rainy night" not in main(season_client.get("/week")).all("p", class_="verdict")[0].text


def test_an_event_of_a_day_that_is_past_is_told(season_client):
    told = {"name": "Long ago", "day": "2020-01-01", "csrf": token(season_client.get("/week").text)}
    answer = season_client.post("/week/event", data=told)
    page = read(season_client.get(answer.headers["location"]).text).one("main")
    assert "Long ago is entered on 2020-01-01, a day that is past" in page.text


@pytest.mark.parametrize(
    "wrong", [{"day": "soon"}, {"day": ""}, {"name": " "}, {"track": "no such"}, {"day": "99999-01-01"}]
)
def test_an_event_that_cannot_be_comes_back_as_typed(season_client, wrong):
    told = {"name": "Night", "day": "2027-05-01", "track": "", **wrong}
    answer = season_client.post("/week/event", data={**told, "csrf": token(season_client.get("/week").text)})
    page = main(answer)
    assert answer.status_code == 422
    assert page.one("form", action="/week/event").one("input", name="name")["value"] == told["name"]
    assert page.one("form", action="/week/event").one("input", name="day")["value"] == told["day"]
    assert page.one(id="event-mistake").text.endswith(".")


def test_what_was_typed_is_shown_as_text(season_client):
    name = '<script>alert(1)</script> & "night" {{ 7 * 7 }}'
    told = {"name": name, "day": dt.date.today().isoformat(), "csrf": token(season_client.get("/week").text)}
    assert season_client.post("/week/event", data=told).status_code == 303
    page = main(season_client.get("/week"))
    assert page.all("p", class_="verdict")[0].text == f"{name}, {dt.date.today():%A %Y-%m-%d}, today"
    assert not page.all("script")


def test_the_laptop_shows_the_passcode_and_a_phone_does_not(season_store, tmp_path):
    options = {
        "lan": True,
        "passcode": PASSCODE,
        "names": ("192.168.7.2",),
        "addresses": ("http://192.168.7.2:8321/",),
    }
    with client(season_store, tmp_path, **options) as laptop:
        page = main(laptop.get("/week"))
        assert PASSCODE in page.text
        assert page.one(class_="code").all("svg")
    with client(season_store, tmp_path, phone=PHONE, **options) as phone:
        phone.post("/come-in", data={"passcode": PASSCODE, "csrf": token(phone.get("/come-in").text)})
        assert PASSCODE not in phone.get("/week").text


# ---------------- set up


def test_ten_answers_make_a_car_that_stands_in_the_turn(empty):
    told = {**ANSWERS, "csrf": token(empty.get("/setup").text)}
    assert empty.post("/setup/new", data=told).status_code == 303
    numbers = main(empty.get("/week?numbers=1")).one("dl", class_="three").all("dd", class_="verdict")
    assert [one.text.split(" ")[-1] for one in numbers] == ["%", "%", "mph"]
    known = main(empty.get("/setup"))
    assert "Old Blue" in known.text
    sheet = next(row for row in known.all("tr") if row.text.startswith("Scale sheet"))
    assert int(sheet.all("td")[0].text) >= 5 and sheet.all("td")[1].text == "0"


def test_bare_numbers_are_answers_and_the_page_says_how_they_are_read(empty):
    bare = {**ANSWERS, "weights": "760 690 830 620", "driver": "185", "bar": "1 1/4", "track": "3/8 mile 14"}
    told = {**bare, "csrf": token(empty.get("/setup").text)}
    page = main(empty.post("/setup/new", data={**told, "axle": "rope", "size": "long"}))
    back = page.text
    assert "Read as 760 lb, 690 lb, 830 lb, 620 lb." in back
    assert [one["name"] for one in page.all("input") if "autofocus" in one.attributes] == ["axle"]
    assert "Read as 3/8 mile, 14 deg." in back
    assert "Without a unit: mi, deg." in main(empty.get("/setup")).text
    assert empty.post("/setup/new", data={**told, "axle": "3 link"}).status_code == 303
    assert "Old Blue" in main(empty.get("/setup")).text


def test_a_new_car_is_in_hand_and_one_that_was_changed_stays_so(empty):
    def made(name):
        told = {**ANSWERS, "name": name, "csrf": token(empty.get("/setup").text)}
        assert empty.post("/setup/new", data=told).headers["location"] == "/turn"
        return read(empty.get("/turn").text)

    assert "Old Blue, baseline" in made("Old Blue").text
    page = made("Red Two")
    assert "Red Two, baseline" in page.text
    fields = {name: page.all("input", name=name)[0]["value"] for name in ("csrf", "hand", "version")}
    empty.post("/turn/press", data={**fields, "press": "RR.tire.cold up"})
    assert "Third, baseline" in made("Third").text
    with empty.app.state.bench.store.reading() as session:
        held = hands.hands(session)
        assert [len(one.changes) for one in held] == [1, 0]
        assert shelf.revision(session, held[1].track, kind="track").document.name == "Third, home track"


def test_how_an_answer_was_read_is_kept_with_the_car(empty):
    told = {**ANSWERS, "track": "quarter mile 12 to 14", "bar": "no", "csrf": token(empty.get("/setup").text)}
    empty.post("/setup/new", data=told)
    with empty.app.state.bench.store.reading() as session:
        kept = next_up(session, dt.date.today()).setup
    assert kept.reason == "ten questions, read as: track 1/4 mile, 13 deg"


def test_what_is_to_be_measured_is_named_by_what_it_is():
    thing = to_measure("car.front.short.each.bar_ratio")
    assert thing.what == "Front bar ratio, bar arm end travel per wheel travel"
    assert "raise the wheel an inch" in thing.how
    assert to_measure("one trusted lap time (grip)").what == "One trusted lap time (grip)"
    paths = [entry.path for entry in Car.from_text(new_car(ANSWERS)["car.toml"]).entries()]
    assert sum(bool(about_key(Car, path)) for path in paths) > len(paths) / 2


def test_two_new_cars_share_no_document(empty):
    told = {**ANSWERS, "csrf": token(empty.get("/setup").text)}
    empty.post("/setup/new", data=told)
    empty.post("/setup/new", data={**told, "name": "Red Two"})
    with empty.app.state.bench.store.reading() as session:
        for kind in ("car", "setup", "sheet", "rack", "track"):
            lines = shelf.revisions(session, kind=kind)
            assert [one.number for one in lines] == [1, 1], kind
            assert len({one.name for one in lines}) == 2, kind


@pytest.mark.parametrize("key", [one.key for one in QUESTIONS if one.key != "name"])
def test_an_answer_that_cannot_be_comes_back_with_all_the_others(season_client, key):
    typed = {**ANSWERS, key: "<b>7 furlongs"}
    answer = season_client.post("/setup/new", data={**typed, "csrf": token(season_client.get("/setup").text)})
    page = main(answer)
    assert answer.status_code == 422
    assert {one.key: page.one(id=f"q-{one.key}")["value"] for one in QUESTIONS} == typed
    wrong = [one for one in page.all("input") if one["aria-invalid"]]
    assert [one["name"] for one in wrong] == [key]
    assert page.one(id=wrong[0]["aria-describedby"]).text.endswith(".")


def test_what_to_measure_is_worked_out_apart_and_is_that_of_the_study(season_client, season_store):
    page = season_client.get("/setup").text
    assert season_client.post("/setup/measure", data={"csrf": token(page)}).status_code == 303
    fragment = {**HTMX, "HX-Target": "narrows"}
    until = time.monotonic() + 60.0
    while read(season_client.get("/setup", headers=fragment).text).all("progress"):
        assert time.monotonic() < until
        time.sleep(0.1)
    shown = read(season_client.get("/setup", headers=fragment).text).one("tbody").all("tr")
    with season_store.reading() as session:
        ahead = next_up(session, dt.date.today())
        track, assembly = shelf.document_of(ahead.track), shelf.assembly_of(session, ahead.setup)
    best = what_to_measure(build(assembly), track, Conditions())
    assert len(shown) == 6
    assert (
        shown[0].one("td", class_="n").text == f"\N{PLUS-MINUS SIGN}{show(1.96 * best[0].after, 'percent')}"
    )


def test_everything_typical_is_marked_so(season_client, season_store):
    with season_store.reading() as session:
        found = numbers(session, next_up(session, dt.date.today()).setup)
    own = [one for one in found.values() if not one.name.startswith("sheet.")]
    typical = [one for one in own if not one.first.value.known]
    page = main(season_client.get("/setup"))
    rows = [row for id_ in ("typical", "typical-setup") for row in page.one(id=id_).all("li")]
    assert len(rows) == len(typical) > 50
    assert all(row.one(class_="guessed").text for row in rows)
    assert len(page.one(id="told").all("li")) > 50
    assert not page.one(id="told").all(class_="guessed")


def test_only_the_laptop_is_told_a_command_where_no_rule_book_is_kept(tmp_path):
    typed = {"LF_weight": "760", "RF_weight": "690", "LR_weight": "830", "RR_weight": "620"}
    typed |= {"driver": "in", "fuel": "18"}
    shop = {"lan": True, "passcode": PASSCODE, "names": ("192.168.7.2",)}
    with Store.open(tmp_path / "notebook.sqlite") as store:
        for phone in ("", PHONE):
            with client(store, tmp_path, phone=phone, **shop) as here:
                if phone:
                    here.post(
                        "/come-in", data={"passcode": PASSCODE, "csrf": token(here.get("/come-in").text)}
                    )
                else:
                    page = here.get("/setup").text
                    here.post("/setup/new", data={**ANSWERS, "csrf": token(page)})
                page = read(here.get("/scales").text)
                hidden = {
                    one["name"]: one["value"]
                    for one in page.all("input")
                    if one["type"] == "hidden" and one["name"]
                }
                setup = page.one("input", name="setup")["value"]
                answer = here.post("/scales", data={**hidden, "setup": setup, **typed}, headers=HTMX).text
                assert "No rule book is in the notebook" in answer
                assert ("ovalwright keep" in answer) == (phone == "")
