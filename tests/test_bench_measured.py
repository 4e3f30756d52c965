"""What was measured, on the bench: one number's form, kept as new revisions, and what that narrowed."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest
from benches import client, read
from fuzz_documents import DEMO

from ovalwright.notebook import shelf, undo
from ovalwright.notebook.store import Store
from ovalwright.study.bands import Band
from ovalwright.study.narrowed import Narrowed
from ovalwright.web import hand as hands
from ovalwright.web.hand import Press
from ovalwright.web.long_work import Job, LongWork, TooBusy
from ovalwright.web.pages.setup_kept import key_of

FIRST = "two setups and a track"
AXLE, GROWTH = "car.unsprung.axle", "setup.each.tire.growth"


@pytest.fixture(scope="module")
def whole_store(tmp_path_factory):
    """A notebook of two setups of one car and a track, in one entry."""
    path = tmp_path_factory.mktemp("measured") / "notebook.sqlite"
    with Store.open(path, by="owner") as opened:
        with opened.entry(FIRST) as session:
            shelf.keep_setup(session, DEMO / "setup_soft_front.toml")
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        yield opened


@pytest.fixture(scope="module")
def laptop(whole_store, tmp_path_factory):
    with client(whole_store, tmp_path_factory.mktemp("bench")) as found:
        yield found


@pytest.fixture
def store(whole_store):
    """The same for one test, which is taken back after it."""
    yield whole_store
    while True:
        with whole_store.entry("undo") as session:
            last = undo.next_to_undo(session, by="owner")
            if last is None or last.what == FIRST:
                break
            undo.undo(session, by="owner")


@pytest.fixture
def begun(monkeypatch):
    """Long work that is asked for, by its keys; none of it is begun."""
    asked = []

    def submit(_work, key, _study, *_documents, told):
        asked.append(key)
        return Job(key, told, lambda: None, ())

    monkeypatch.setattr(LongWork, "submit", submit)
    return asked


@pytest.fixture
def bench(laptop, store, begun):
    return laptop


def form_of(bench, name):
    return read(bench.get("/setup/measured", params={"of": name}).text).one("form", class_="measured")


def told_by(form):
    """What a form holds as it stands, as a browser sends it."""
    fields = [one for one in form.all("input") if one["type"] not in ("radio", "checkbox")]
    told = {one["name"]: one["value"] for one in fields}
    return told | {"origin": "measured", "tool": form.all("option")[0]["value"]}


def send(bench, name, **typed):
    return bench.post("/setup/measured", data={**told_by(form_of(bench, name)), **typed})


def codes(answer):
    assert answer.status_code == 303, read(answer.text).one("main").text
    told = parse_qs(urlsplit(answer.headers["location"]).query)
    return told["was"][0], told["now"][0]


def in_hand(store):
    with store.reading() as session:
        (held,) = hands.hands(session)
        return held, hands.assembly(session, held)


# ---------------- the form


def test_a_number_is_shown_with_its_steps_its_cautions_and_what_stands_there(bench):
    page = read(bench.get("/setup/measured", params={"of": AXLE}).text).one("main")
    assert "Weigh it bare" in page.one(class_="steps").text
    assert any("stands" in one.text for one in page.all(class_="caution"))
    assert "338 lb" in page.one(class_="stands").text
    assert [one["name"] for one in page.one(class_="readings").all("input")] == ["value"]
    assert page.one("select").all("option")[0].text == "scale pad, \N{PLUS-MINUS SIGN}1 lb"


def test_every_number_on_set_up_leads_to_its_form_or_to_the_page_that_takes_it(bench):
    page = read(bench.get("/setup").text).one("main")
    of_a_load = read(bench.get("/turn/from/load").text).all("a", class_="number-link")
    assert bench.get(of_a_load[-1]["href"]).status_code in (200, 303)
    links = {one["href"] for kept in page.all("ul", class_="numbers") for one in kept.all("a")}
    assert len(links) > 150
    for link in sorted(links)[::25]:
        assert bench.get(link).status_code == 200, link
    assert bench.get("/setup/measured", params={"of": "sheet.fuel"}).headers["location"] == "/scales"


def test_a_number_that_there_is_not_is_one_sentence(bench):
    answer = bench.get("/setup/measured", params={"of": "car.unsprung.axel"})
    assert answer.status_code == 422
    assert AXLE in read(answer.text).one("main").text


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"value": "heavy"}, "value"),
        ({"value": ""}, "value"),
        ({"value": "350 lb", "give": "a bit"}, "give"),
        ({"value": "350 lb", "tool": "thumb"}, "tool"),
    ],
)
def test_a_mistake_stands_at_its_field_and_nothing_typed_is_lost(bench, begun, typed, field):
    answer = send(bench, AXLE, words="before breakfast", **typed)
    form = read(answer.text).one("form", class_="measured")
    assert answer.status_code == 422
    assert form.one(id=f"{field}-mistake").text.endswith(".")
    assert form.one(id="words")["value"] == "before breakfast"
    assert form.one(id="value")["value"] == typed["value"]
    assert not begun


# ---------------- kept


def test_what_is_kept_stands_beside_what_it_was_and_both_studies_are_begun(bench, store, begun):
    was, now = codes(send(bench, AXLE, value="351, 353, 352"))
    page = read(bench.get("/setup", params={"was": was, "now": now}).text).one("main")
    kept = page.one("dl", class_="kept").text
    assert "338 lb" in kept and "352.0 lb" in kept and "measured" in kept
    assert "Soft front on stops" in page.one(id="kept").text
    held, assembly = in_hand(store)
    assert (held.base, assembly.car.unsprung.axle.evidence) == (now, "measured")
    assert [key[0] for key in begun] == ["narrowed", "measure"]


def test_one_press_takes_it_back_and_another_puts_it_back(bench, store):
    was, now = codes(send(bench, AXLE, value="352"))
    page = read(bench.get("/setup", params={"was": was, "now": now}).text)
    form = page.one("form", action="/setup/take-back")
    answer = bench.post("/setup/take-back", data={one["name"]: one["value"] for one in form.all("input")})
    page = read(bench.get(answer.headers["location"]).text).one("main")
    assert "Taken back: unsprung axle" in page.text
    assert page.one("form", action="/notebook/put-back")
    with store.reading() as session:
        assert not shelf.is_kept(session, now)


def test_what_was_pressed_on_the_setup_in_hand_stays_pressed(bench, store):
    with store.entry("a hand") as session:
        base, track = (shelf.revision(session, name) for name in ("Conventional", "Three-eighths at twelve"))
        held = hands.begin(session, base.code, track=track.code)
        hands.press(session, held.uid, held.version, Press("x", {"RR.tire.cold": "21 psi"}, "RR +1 psi"))
    _, now = codes(send(bench, AXLE, value="352"))
    held, assembly = in_hand(store)
    assert held.base == now
    assert (assembly.setup.RR.tire.cold.text, assembly.car.unsprung.axle.text) == ("21 psi", "352 lb")


def test_corners_may_be_alike_but_one(bench, store):
    assert form_of(bench, GROWTH).one(class_="readings").all("input")[0]["name"] == "every"
    send(bench, GROWTH, every="0.1", RR="0.14 in/psi")
    _, assembly = in_hand(store)
    growth = [getattr(assembly.setup, corner).tire.growth.text for corner in ("LF", "RF", "LR", "RR")]
    assert growth == ["0.1 in/psi", "0.1 in/psi", "0.1 in/psi", "0.14 in/psi"]


def test_a_makers_figure_is_kept_as_one_and_a_far_one_asks_to_look_again(bench, store):
    was, now = codes(send(bench, AXLE, value="35", origin="maker"))
    page = read(bench.get("/setup", params={"was": was, "now": now}).text).one(id="kept")
    assert "look again" in page.one(class_="notice").text
    assert "the maker's figure" in page.text
    assert in_hand(store)[1].car.unsprung.axle.evidence == "maker"


def test_what_another_kept_meanwhile_is_told_before_it_is_written_over(bench, store):
    seen = told_by(form_of(bench, AXLE))
    codes(send(bench, AXLE, value="345"))
    answer = bench.post("/setup/measured", data={**seen, "value": "352"})
    page = read(answer.text)
    assert answer.status_code == 422
    assert "345 lb" in page.one(role="alert").text
    again = page.one("form", class_="measured")
    assert again.one(id="value")["value"] == "352"
    codes(bench.post("/setup/measured", data=told_by(again)))
    assert in_hand(store)[1].car.unsprung.axle.text == "352 lb"


def test_what_another_keeps_at_the_same_moment_is_not_written_over(bench, store, monkeypatch):
    seen = told_by(form_of(bench, AXLE))
    entry = Store.entry

    def entry_after_another(self, what):
        monkeypatch.setattr(Store, "entry", entry)
        codes(bench.post("/setup/measured", data={**seen, "value": "345"}))
        return self.entry(what)

    monkeypatch.setattr(Store, "entry", entry_after_another)
    answer = bench.post("/setup/measured", data={**seen, "value": "352"})
    assert answer.status_code == 422
    assert "345 lb" in read(answer.text).one(role="alert").text
    assert in_hand(store)[1].car.unsprung.axle.text == "345 lb"


@pytest.mark.parametrize("another", [{"give": "5"}, {"origin": "maker"}])
def test_another_band_or_origin_of_the_same_number_is_told_too(bench, store, another):
    codes(send(bench, AXLE, value="345"))
    seen = told_by(form_of(bench, AXLE))
    codes(send(bench, AXLE, value="345", **another))
    answer = bench.post("/setup/measured", data={**seen, "value": "352"})
    assert answer.status_code == 422
    assert in_hand(store)[1].car.unsprung.axle.text == "345 lb"


def test_a_number_is_not_kept_on_another_setup_than_the_one_looked_at(bench, store):
    with store.entry("a hand") as session:
        base, track = (shelf.revision(session, name) for name in ("Conventional", "Three-eighths at twelve"))
        held = hands.begin(session, base.code, track=track.code)
    seen = told_by(form_of(bench, AXLE))
    with store.entry("another base") as session:
        other = shelf.revision(session, "Soft front on stops").code
        hands.choose(session, held.uid, held.version, base=other)
    answer = bench.post("/setup/measured", data={**seen, "value": "352"})
    assert answer.status_code == 422
    assert "on Soft front on stops" in read(answer.text).one(role="alert").text


def test_a_comma_that_may_mean_two_things_is_asked_about_at_its_field(bench):
    form = read(send(bench, AXLE, value="351,353").text).one("form", class_="measured")
    assert '"351.353" or "351; 353"' in form.one(id="value-mistake").text
    assert form.one(id="value")["value"] == "351,353"


def test_what_was_measured_before_may_be_taken_together_with_it(bench, store):
    assert not form_of(bench, AXLE).all("input", name="together")
    codes(send(bench, AXLE, value="340", give="4"))
    assert form_of(bench, AXLE).all("input", name="together")
    codes(send(bench, AXLE, value="343", give="2", together="yes"))
    assert in_hand(store)[1].car.unsprung.axle.text == "342.4 lb"


def test_the_setups_of_no_measurement_are_no_page(bench):
    assert bench.get("/setup", params={"was": "AAAAAA", "now": "BBBBBB"}).status_code == 422


# ---------------- what it narrowed


def test_it_says_of_each_of_the_three_whether_it_is_surer(bench, store, monkeypatch):
    was, now = codes(send(bench, AXLE, value="352"))
    before = {
        "cross": Band(0.6, 0.58, 0.62),
        "balance": Band(0.0, -0.02, 0.02),
        "limit": Band(38.0, 37.0, 39.0),
    }
    after = before | {"cross": Band(0.6, 0.585, 0.615), "limit": Band(38.0, 36.0, 40.0)}
    held, _ = in_hand(store)
    job = Job(key_of(was, now, held.track), "What it narrowed", lambda: None, (), state="done")
    job.answer = Narrowed(before, after, 64, 0)
    monkeypatch.setattr(LongWork, "look", lambda _work, key: job if key == job.key else None)
    three = read(bench.get("/setup", params={"was": was, "now": now}).text).one("dl", class_="three")
    said = [one.text for one in three.all("div")]
    assert "±1.5 %" in said[0] and "25 % narrower, was ±2.0 %" in said[0]
    assert "as sure as before" in said[1]
    assert "100 % wider" in said[2]


def test_it_is_kept_also_where_too_many_studies_wait(bench, monkeypatch):
    def busy(*_, **__):
        raise TooBusy("too many.")

    monkeypatch.setattr(LongWork, "submit", busy)
    was, now = codes(send(bench, AXLE, value="352"))
    page = read(bench.get("/setup", params={"was": was, "now": now}).text)
    assert page.one("form", action="/setup/narrowed").one("button").text == "Find out"
