"""The turn, read as HTML: what is shown is what the studies say, both readings are there, a change can be
taken back, and nothing is shown of a state that was not solved.
"""

from __future__ import annotations

import math
import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest
from benches import Element, client, read
from browser import LAPTOP, PHONE, served

from ovalwright.documents import Assembly, Conditions, Track, assemble, load
from ovalwright.notebook import shelf, undo
from ovalwright.notebook.store import Store
from ovalwright.pack import build, rebuilt_as_bolted, rebuilt_reset, with_fuel
from ovalwright.study import sure as study_sure
from ovalwright.study.bands import Band
from ovalwright.study.controls import step
from ovalwright.study.state import loads_of
from ovalwright.study.sure import how_sure
from ovalwright.study.through import along, paced
from ovalwright.web import hand as hands
from ovalwright.web import shares, sure_turn
from ovalwright.web.hand import Press
from ovalwright.web.long_work import Job, LongWork
from ovalwright.web.page import templates
from ovalwright.web.pages import turn_changes, turn_from, turn_sure
from ovalwright.web.sure_turn import SurePhase
from ovalwright.web.words import NOTHING

DEMO = Path(__file__).parents[1] / "src" / "ovalwright" / "demo"
POUND, FOOT, GALLON = 4.4482216152605, 0.3048, 0.003785411784
PARTS = {"HX-Request": "true", "HX-Target": "now"}
ALL = {"HX-Request": "true", "HX-Target": "turn"}
UP = "RR.tire.cold up"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with Store.open(tmp_path_factory.mktemp("turn") / "notebook.sqlite", by="Owner") as opened:
        with opened.entry("two cars and a track") as session:
            shelf.keep_setup(session, DEMO / "setup_soft_front.toml")
            shelf.keep_setup(session, DEMO / "setup_conventional.toml")
            shelf.keep_file(session, DEMO / "track_three_eighths.toml")
        yield opened


@pytest.fixture
def bench(store: Store, tmp_path: Path) -> Iterator[Any]:
    """A bench with nothing in hand."""
    with client(store, tmp_path) as found:
        yield found
        page = read(found.get("/turn").text)
        for _ in page.all("form", action="/turn/hold") or [page]:
            page = read(found.get("/turn").text)
            if _field(page, "hand"):
                told = {
                    "csrf": _field(page, "csrf"),
                    "hand": _field(page, "hand"),
                    "version": _field(page, "version"),
                }
                found.post("/turn/away", data=told)


def _field(page: Element, name: str) -> str:
    return page.all("input", name=name)[0]["value"]


def _fact(page: Element, label: str) -> str:
    return next(one.one("dd").text for one in page.all("div", class_="fact") if one.one("dt").text == label)


def _press(bench: Any, what: str, **more: object) -> Element:
    page = read(bench.get("/turn").text)
    told = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    answer = bench.post("/turn/press", data={**told, "press": what, **more})
    assert answer.status_code == 303, read(answer.text).text
    return read(bench.get(answer.headers["location"]).text)


def _loads(page: Element) -> list[float]:
    rows = page.one("details", class_="more-numbers").all("tr")[1:]
    return [float(row.all("td")[0].text.removesuffix(" lb").replace(",", "")) for row in rows]


def _studied(setup: str, gallons: float, feet: float) -> tuple[Any, Any, Any]:
    base = build(assemble(DEMO / f"setup_{setup}.toml"))
    pace = paced(with_fuel(base, share=0.5), _track(), Conditions())
    density = base.values()[0].fuel_cell.density
    return (
        base,
        pace,
        lambda car: along(with_fuel(car, gallons * GALLON * density), pace, [feet * FOOT]).loads[0],
    )


def _track() -> Track:
    track = load("track", DEMO / "track_three_eighths.toml")
    assert isinstance(track, Track)
    return track


def _in_hand(store: Store) -> Assembly:
    """What is in hand when nobody chose: the setup that was kept last."""
    with store.reading() as session:
        return shelf.assembly_of(session, shelf.revision(session, "Conventional", kind="setup"))


def test_the_loads_shown_are_those_of_the_study(bench: Any) -> None:
    for gallons, feet in ((4.0, 40.0), (22.0, 300.0), (0.0, 610.0)):
        page = read(bench.get("/turn?" + urlencode({"fuel": gallons, "at": feet})).text)
        base, _, solved = _studied("conventional", gallons, feet)
        loads = solved(base)
        assert _loads(page) == pytest.approx([load / POUND for load in loads], abs=0.51)
        cross = (loads[1] + loads[2]) / loads.sum()
        wedge = next(one for one in page.all("div", class_="fact") if one.one("dt").text.startswith("Wedge"))
        assert wedge.one("a").text == f"{100 * cross:.1f}"
        plan = page.one("figure", class_="above").one("svg")["aria-label"]
        assert all(f"{load / POUND:,.0f} pounds" in plan for load in loads)


def test_a_change_has_both_readings_and_is_taken_back(bench: Any) -> None:
    where = {"at": 300, "fuel": 10}
    before = read(bench.get("/turn?" + urlencode(where)).text)
    assert not before.all("div", class_="pair")
    assert before.one("button", value="undo").attributes.get("disabled") is not None
    changed = _press(bench, UP, **where)
    pair = changed.one("div", class_="pair")
    base, _, solved = _studied("conventional", 10.0, 300.0)
    held = base.assembly
    setup = held.setup.changed(step(held, "RR.tire.cold", up=True).changes)
    other = assemble(setup, car=held.car, sheet=held.sheet, rack=held.rack)
    was = loads_of([{"load": load} for load in solved(base)]).cross
    for told, car in zip(
        pair.all("b")[:2], (rebuilt_as_bolted(base, other), rebuilt_reset(base, other)), strict=True
    ):
        now = loads_of([{"load": load} for load in solved(car)]).cross
        shown = float(told.text.removesuffix(" %").replace("\N{MINUS SIGN}", "-"))
        assert shown == pytest.approx(100 * (now - was), abs=0.0051)
    assert pair.one("p", class_="why").text.startswith("Why. Re-set:")
    assert "RR pressure" in changed.one("div", class_="below").one("ol").text
    assert [one for one in changed.all("div", class_="changed") if "was" in one.text]
    back = _press(bench, "undo", **where)
    assert _loads(back) == _loads(before)
    assert not back.all("div", class_="pair")


def test_enter_on_a_slider_or_a_view_only_looks(bench: Any) -> None:
    form = _press(bench, UP).one("form", id="look")
    first = next(one for one in form.all("button") if one["type"] in ("", "submit"))
    assert (first["name"], first["formaction"]) == ("", "")
    assert form["action"] == "/turn/look"
    assert "disabled" not in first.attributes


def test_rows_keep_their_place_while_they_are_pressed(bench: Any) -> None:
    def rows(page: Element) -> list[str]:
        steps = page.one("div", class_="controls").all("button", class_="step")
        return [step["value"].removesuffix(" up") for step in steps if step["value"].endswith(" up")]

    before = rows(read(bench.get("/turn").text))
    for key in (before[1], before[0], before[3], before[1]):
        page = _press(bench, f"{key} up")
        assert rows(page) == before
        (plus,) = page.all("button", data_key="+")
        assert plus["value"] == f"{key} up"
    longest_ago = 2
    page = _press(bench, "LF.tire.cold up")
    assert rows(page) == [key if row != longest_ago else "LF.tire.cold" for row, key in enumerate(before)]
    assert rows(_press(bench, "undo")) == rows(page)


def test_a_step_that_sets_cross_itself_is_not_re_set(bench: Any) -> None:
    pair = _press(bench, "LR.turned up").one("div", class_="pair")
    assert "not applicable" in pair.all("dd")[1].text
    assert "As bolted in" in pair.one("p", class_="why").text


def test_a_slider_gets_only_what_moves_and_little_of_it(bench: Any) -> None:
    _press(bench, "RR.coil.spring up")
    answer = bench.get("/turn?at=200&fuel=8&view=all&beside=ghost", headers=PARTS)
    assert len(answer.content) <= 30_000
    part = read(answer.text)
    assert not part.all("form")
    assert len(part.all("figure")) == 3
    one = read(bench.get("/turn?at=200&fuel=8&view=front", headers=PARTS).text)
    assert [figure["class"] for figure in one.all("figure")] == ["view front"]
    side = read(bench.get("/turn?at=200&fuel=8&view=front&beside=side", headers=PARTS).text)
    assert len(side.one("figure").all("svg")) == 2
    whole = bench.get("/turn?at=200&fuel=8")
    assert len(whole.content) <= 120_000


def test_what_another_phone_pressed_comes_with_the_whole_turn(bench: Any) -> None:
    page = _press(bench, UP)
    seen = int(_field(page, "version"))
    shown = {name: _field(page, name) for name in ("hand", "version", "base")}
    where = "/turn?" + urlencode({"at": 10, "fuel": 3, **shown})
    quiet = bench.get(f"{where}&look_again=true", headers=PARTS)
    assert quiet.status_code == 204
    assert "HX-Retarget" not in bench.get(where, headers=PARTS).headers
    _press(bench, "LR.turned up")
    late = bench.get(where, headers=PARTS)
    assert late.headers["HX-Retarget"] == "#turn"
    assert int(_field(read(late.text), "version")) == seen + 1


def test_another_hand_of_the_same_version_is_not_shown_as_the_one_that_was_looked_at(
    store: Store, bench: Any
) -> None:
    page = _press(bench, UP)
    seen = {name: _field(page, name) for name in ("hand", "version", "base")}
    with store.aside() as session:
        first = hands.hand_of(session, seen["hand"])
        other = hands.begin(session, first.base, track=first.track)
        bolt = Press("LR.turned", {"LR.turned": "1 round"}, "LR bolt 1 round")
        assert hands.press(session, other.uid, other.version, bolt).version == first.version
        hands.put_away(session, first.uid, first.version)
    where = "/turn?" + urlencode({"at": 10, "fuel": 3, **seen})
    sent = page.one("form", id="look")["hx-params"].split(",")
    assert seen.keys() <= set(sent)
    for more in ("", "&look_again=true"):
        answer = bench.get(where + more, headers=PARTS)
        assert answer.headers["HX-Retarget"] == "#turn"
        shown = read(answer.text)
        assert _field(shown, "hand") == other.uid
        assert "was put away" in shown.one("p", class_="notice").text


def test_another_setup_does_not_take_the_place_of_a_hand_that_was_not_seen(store: Store, bench: Any) -> None:
    page = read(bench.get("/turn").text)
    opened = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    assert opened["hand"] == ""
    _press(bench, UP)
    _press(bench, UP)
    with store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    late = bench.post("/turn/choose", data={**opened, "base": soft})
    assert late.status_code == 409
    assert "RR" in read(late.text).all("p", class_="notice")[0].text
    assert len(hands_said(store)) == 2


def test_a_press_from_an_old_window_is_not_done_on_another_setup(store: Store, bench: Any) -> None:
    page = _press(bench, UP)
    old = {name: _field(page, name) for name in ("csrf", "hand", "version", "base")}
    with store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    assert soft != old["base"]
    assert bench.post("/turn/choose", data={**old, "base": soft}).status_code == 303
    late = bench.post("/turn/press", data={**old, "press": UP}, headers=ALL)
    assert late.status_code == 409
    assert hands_said(store) == []
    clash = read(late.text).one("form", class_="clash")
    assert f"{soft} is in hand now" in clash.text
    assert [button["value"] for button in clash.all("button")] == ["mine", "his"]


def test_the_first_press_is_done_on_the_setup_that_is_shown(store: Store, bench: Any) -> None:
    page = read(bench.get("/turn").text)
    with store.reading() as session:
        soft = shelf.revision(session, "Soft front on stops", kind="setup").code
    old = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    assert _field(page, "base") != soft
    assert bench.post("/turn/press", data={**old, "base": soft, "press": UP}).status_code == 303
    with store.reading() as session:
        held = hands.in_hand(session)
    assert held is not None
    assert held.base == soft


def test_others_may_write_while_the_car_of_a_press_is_built(
    store: Store, bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    waited = []

    def enter(held: hands.Hand) -> None:
        with store.aside() as session:
            hands.press(
                session, held.uid, held.version, Press("LR.turned", {"LR.turned": "1"}, "LR"), by="phone"
            )

    def built(*_: object) -> None:
        with store.reading() as session:
            held = hands.in_hand(session)
        other = threading.Thread(target=enter, args=(held,), daemon=True)
        other.start()
        other.join(3)
        waited.append(other.is_alive())

    page = _press(bench, UP)
    told = {name: _field(page, name) for name in ("csrf", "hand", "version", "base")}
    monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", built)
    late = bench.post("/turn/press", data={**told, "press": UP}, headers=ALL)
    assert not any(waited)
    assert late.status_code == 409
    assert hands_said(store)[1:] == ["LR"]


def test_two_windows_of_one_device_at_once_lose_nothing(
    store: Store, bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = read(bench.get("/turn").text)
    told = {name: _field(page, name) for name in ("csrf", "hand", "version", "base")}
    built = turn_changes.rebuilt_as_bolted

    def after_the_other(*cars: Any) -> object:
        monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", built)
        assert bench.post("/turn/press", data={**told, "press": UP}).status_code == 303
        return built(*cars)

    monkeypatch.setattr(turn_changes, "rebuilt_as_bolted", after_the_other)
    assert bench.post("/turn/press", data={**told, "press": UP}).status_code == 303
    with store.reading() as session:
        held = hands.in_hand(session)
    assert held is not None
    once, twice = (press.value["RR.tire.cold"] for press in held.changes)
    assert once != twice


def test_three_at_once_and_each_sees_what_the_others_did(store: Store, bench: Any, tmp_path: Path) -> None:
    code = "kfm7-2wqx"
    first = _press(bench, UP)
    with (
        client(store, tmp_path, phone="192.168.7.20", lan=True, passcode=code, names=["192.168.7.2"]) as one,
        client(store, tmp_path, phone="192.168.7.21", lan=True, passcode=code, names=["192.168.7.2"]) as two,
    ):
        for phone in (one, two):
            door = read(phone.get("/come-in").text)
            phone.post("/come-in", data={"csrf": _field(door, "csrf"), "passcode": code})
        pages = [read(phone.get("/turn").text) for phone in (one, two)]
        told = [{name: _field(page, name) for name in ("csrf", "hand", "version")} for page in pages]
        assert [page.one("button", value="undo").text for page in pages] == [
            "Undo what the laptop pressed"
        ] * 2
        assert {each["version"] for each in told} == {_field(first, "version")}
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
        mine, his = (_said(read(phone.get("/turn").text)) for phone in (two, one))
        assert both.status_code == 200
        assert mine[0].split(",")[0] == _said(first)[0].split(",")[0]
        assert "RR coil" in mine[1]
        assert len(his) == 2
        assert "jack bolt" in his[1]
        again = two.post("/turn/settle", data={**settled, "choice": "mine"}, headers=ALL)
        assert again.status_code == 200
        last = read(one.get("/turn").text)
        assert [said[:2] for said in _said(last)] == ["RR", "LR", "RR"]
        undo = {"csrf": told[0]["csrf"], "hand": told[0]["hand"], "version": _field(last, "version")}
        back = read(one.post("/turn/press", data={**undo, "press": "undo"}, headers=ALL).text)
        said, _, other = _said(last)[-1].rpartition(", ")
        assert back.all("p", class_="notice")[0].text == f"Taken back: {said}, which {other} pressed."
        undo["version"] = _field(back, "version")
        own = read(one.post("/turn/press", data={**undo, "press": "undo"}, headers=ALL).text)
        assert back.one("button", value="undo").text == "Undo"
        assert len(_said(own)) == 1
        assert not own.all("p", class_="notice")


def _said(page: Element) -> list[str]:
    return [item.text for item in page.one("ol").all("li")]


def test_it_is_kept_as_a_new_setup_with_a_reason(store: Store, bench: Any) -> None:
    page = _press(bench, UP)
    told = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    empty = bench.post("/turn/keep", data={**told, "reason": " ", "name": "Softer"})
    assert empty.status_code == 422
    assert "Not kept: Why is not told" in read(empty.text).all("p", class_="notice")[0].text
    form = read(empty.text).one("form", class_="keep")
    assert "required" in form.one("input", name="reason").attributes
    assert "type what for" in form.one("p", class_="mistake").text
    assert form.one("input", name="name")["value"] == "Softer"
    kept = bench.post("/turn/keep", data={**told, "reason": "tight in the middle"})
    assert kept.status_code == 303
    code = re.search(r"kept=(\w{6})", kept.headers["location"])
    assert code
    page = read(bench.get(kept.headers["location"]).text)
    assert f"Kept as {code[1]}" in page.all("p", class_="notice")[0].text
    assert code[1] in page.one("p", class_="which").text
    with store.reading() as session:
        revision = shelf.revision(session, code[1])
        assert (revision.reason, revision.said) == ("tight in the middle", "RR +1/2 psi")
    late = bench.post("/turn/keep", data={**told, "reason": "loose on exit"})
    assert late.status_code == 422
    notice = read(late.text).all("p", class_="notice")[0].text
    assert "Not kept: " in notice
    assert f"{code[1]} is in hand now" in notice
    assert "loose on exit" in notice


def test_a_kept_setup_taken_back_gives_the_presses_back(store: Store, bench: Any) -> None:
    page = _press(bench, UP)
    told = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    assert bench.post("/turn/keep", data={**told, "reason": "tight in"}).status_code == 303
    kept = _field(read(bench.get("/turn").text), "base")
    assert (
        bench.post("/notebook/undo", data={"csrf": told["csrf"], "number": _last(store)}).status_code == 303
    )
    back = read(bench.get("/turn").text)
    assert _field(back, "base") == _field(page, "base")
    assert _said(back) == _said(page)
    number = _last(store, undone=True)
    assert bench.post("/notebook/put-back", data={"csrf": told["csrf"], "number": number}).status_code == 303
    again = read(bench.get("/turn").text)
    assert _field(again, "base") == kept
    assert not again.all("ol")


def test_a_setup_that_was_pressed_on_and_taken_back_leaves_the_hand_on_the_one_before(
    store: Store, bench: Any
) -> None:
    before = _press(bench, UP)
    told = {name: _field(before, name) for name in ("csrf", "hand", "version")}
    bench.post("/turn/keep", data={**told, "reason": "tight in"})
    page = _press(bench, "LR.turned up")
    bench.post("/notebook/undo", data={"csrf": told["csrf"], "number": _last(store)})
    back = read(bench.get("/turn").text)
    assert _field(back, "base") == _field(before, "base")
    assert _said(back) == _said(page)
    notice = back.all("p", class_="notice")[0].text
    assert notice.startswith(
        f"{_field(page, 'base')} was taken back in the notebook; {_field(back, 'base')} "
    )
    shown = {name: _field(page, name) for name in ("hand", "version", "base")}
    late = bench.get("/turn?" + urlencode({**shown, "look_again": "true"}), headers=PARTS)
    assert late.headers["HX-Retarget"] == "#turn"
    for path in ("/turn/sure", "/turn/from/load", "/effects"):
        assert bench.get(path).status_code == 200
    assert not _press(bench, "LR.turned up").all("p", class_="trouble")


def _last(store: Store, *, undone: bool = False) -> int:
    with store.reading() as session:
        found = undo.next_to_put_back if undone else undo.next_to_undo
        last = found(session, by=store.by)
    assert last is not None
    return last.number


def test_what_keeping_changes_is_said_before_and_after(bench: Any) -> None:
    page = _press(bench, "RF.coil.spring down")
    told = {name: _field(page, name) for name in ("csrf", "hand", "version")}
    base = build(assemble(DEMO / "setup_conventional.toml"))
    changed = base.assembly.setup.changed(step(base.assembly, "RF.coil.spring", up=False).changes)
    soft = assemble(changed, car=base.assembly.car, sheet=base.assembly.sheet, rack=base.assembly.rack)
    cross = [
        f"{100 * loads_of(car.weighed.corners()).cross:.1f} %"
        for car in (rebuilt_as_bolted(base, soft), build(soft))
    ]
    assert cross[0] != cross[1]
    wedge = _fact(page, "Wedge, middle").split(" ")[0]
    says = f"As bolted in: cross on the scales {cross[0]}, wedge here {wedge} %, "
    reads = f"As kept: cross on the scales {cross[1]}, wedge here "
    before = page.one("form", class_="keep").text
    assert "stands on its scale sheet" in before
    assert says in before
    assert reads in before
    kept = bench.post("/turn/keep", data={**told, "reason": "tight in the middle"})
    after = read(bench.get(kept.headers["location"]).text)
    notice = after.all("p", class_="notice")[0].text
    assert "stands on its scale sheet" in notice
    assert f"As bolted in: cross on the scales {cross[0]}, wedge here " in notice
    wedge = _fact(after, "Wedge, middle").split(" ")[0]
    assert f"{reads}{wedge} %, " in notice


def test_without_a_steady_state_there_is_the_word_and_the_reason_and_no_number(
    store: Store, bench: Any
) -> None:
    page = _press(bench, UP)
    bald = Press("tires", {f"{at}.tire.grip": "0.6" for at in ("LF", "RF", "LR", "RR")}, "bald tires")
    with store.aside() as session:
        hands.press(session, _field(page, "hand"), int(_field(page, "version")), bald)
    answer = bench.get("/turn?at=300&fuel=10")
    assert answer.status_code == 200
    page = read(answer.text)
    assert _fact(page, "Wedge, middle") == "None"
    assert "limit" in page.one("p", class_="reason").text
    assert not page.all("figure")
    assert not page.all("details", class_="more-numbers")
    assert not page.one("div", class_="loads").text
    assert not page.all("div", class_="pair")
    assert "no steady state" in page.one("input", id="at")["aria-valuetext"]


def test_odd_values_are_answered_in_a_sentence(bench: Any) -> None:
    for query in ("at=-1", "fuel=nan", "at=1e99", "view=below", "beside=x", "version=x", "at=abc"):
        answer = bench.get(f"/turn?{query}")
        assert answer.status_code == 422, query
        assert read(answer.text).text
    page = read(bench.get("/turn").text)
    told = {"csrf": _field(page, "csrf"), "hand": "", "version": 0}
    for press in ("", "car up", "sheet ../../etc/passwd up", "RR.tire.cold", "\N{SNOWMAN} down"):
        answer = bench.post("/turn/press", data={**told, "press": press})
        assert answer.status_code == 422, press
        assert "no hand" not in read(answer.text).text
    assert bench.get("/turn?at=90000&fuel=9999").status_code == 200


def test_where_a_number_comes_from(bench: Any) -> None:
    page = read(bench.get("/turn").text)
    links = {link["href"] for link in page.all("a") if link["href"].startswith("/turn/from/")}
    assert len(links) >= 4
    for link in links:
        told = read(bench.get(link).text)
        assert len(told.all("section")) == 3
        assert told.all("table")[0].all("td")
    assert bench.get("/turn/from/anything").status_code == 422


def test_every_key_of_where_a_number_comes_from_is_one_of_the_documents() -> None:
    cars = [assemble(path) for path in sorted(DEMO.glob("setup_*.toml"))]
    tracks = [Track.load(path) for path in sorted(DEMO.glob("track_*.toml"))]
    there = {
        key for car in cars for track in tracks for key in turn_from.entries_of(car, track, Conditions())
    }
    wanted = {key for origin in turn_from.ORIGINS.values() for key in origin.keys}
    assert {key for key in wanted if not any(key in one for one in there)} == set()


def test_what_went_into_a_load_is_the_driver_the_lead_and_the_turn_too(bench: Any) -> None:
    for what, keys in (("load", ("car.driver.mass", "setup.lead[1].mass", "track.ends[1].radius")),
                       ("limit", ("conditions.grip",)), ("balance", ("conditions.grip",))):  # fmt: skip
        told = [row.text for row in read(bench.get(f"/turn/from/{what}").text).all("th", scope="row")]
        assert set(keys) <= set(told), what


def test_an_empty_notebook_teaches(tmp_path: Path) -> None:
    with Store.open(tmp_path / "empty.sqlite") as empty, client(empty, tmp_path) as bench:
        for path in ("/turn", "/effects"):
            page = read(bench.get(path).text)
            assert "set up a car" in page.one("section", class_="empty").text.lower()


def test_every_part_of_the_turn_is_a_block(bench: Any) -> None:
    assert {"turn", "now"} <= templates().get_template("turn.html").blocks.keys()


# ---------------- in a browser


def test_a_thumb_moves_the_car_and_two_windows_see_each_other(
    store: Store, tmp_path: Path, bench: Any, window: Any
) -> None:
    with served(store, tmp_path) as address:
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
    assert hands_said(store) == []


def test_a_step_stays_under_the_thumb(store: Store, tmp_path: Path, bench: Any, window: Any) -> None:
    with served(store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/turn?at=300&fuel=10&view=behind&narrow=1")
        for count in ("1 change", "2 changes"):
            button = page.locator(".controls button[value='RR.coil.spring up']")
            page.evaluate("scrollTo(0, 420)")
            before = button.bounding_box()["y"]
            button.tap()
            page.locator(".which", has_text=count).wait_for()
            assert button.bounding_box()["y"] == pytest.approx(before, abs=2.0)
            assert page.evaluate("scrollY") == pytest.approx(420, abs=60)


TAPS = """([value, times]) => new Promise((done) => {
  const tap = setInterval(() => {
    document.querySelector(`.controls button.step[value="${value}"]`).click();
    if (!--times) done(clearInterval(tap));
  }, 60);
})"""


def test_no_quick_press_is_lost_and_a_key_that_is_held_presses_once(
    store: Store, tmp_path: Path, bench: Any, window: Any
) -> None:
    def slow(route: Any) -> None:
        answer = route.fetch()
        time.sleep(0.2)
        route.fulfill(response=answer)

    with served(store, tmp_path) as address:
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
        assert len(hands_said(store)) == 3
        page.unroute("**/turn/press")
        page.route("**/turn/press", lambda route: route.abort())
        page.evaluate(TAPS, [UP, 1])
        assert page.locator("#not-done").text_content() == "Not done: the last press. Press again."
    assert len(hands_said(store)) == 3


def hands_said(store: Store) -> list[str]:
    """What is changed of the first hand."""
    with store.reading() as session:
        held = hands.in_hand(session)
    return [press.said for press in held.changes] if held else []


# ---------------- how sure


def test_the_bands_are_those_of_the_study_and_call_nothing_inside_them(
    store: Store, bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sure_turn, "INTERACTIVE", 10)
    monkeypatch.setattr(LongWork, "submit", _at_once)
    _press(bench, "RR.coil.spring up")
    page = read(bench.get("/turn/sure?fuel=8").text)
    assert page.all("form", action="/turn/sure")
    turn = read(bench.get("/turn?fuel=8").text)
    assert turn.one("button", id="how-sure")["formaction"] == "/turn/sure"
    asked = bench.post("/turn/sure", data={"csrf": _field(page, "csrf"), "fuel": 8, "at": 300})
    assert asked.headers["location"].startswith("/turn?at=300&fuel=8")
    rows = {
        row.one("th").text: row.all("td") for row in read(bench.get("/turn/sure?fuel=8").text).all("tr")[1:]
    }
    assert len(rows) == 9
    held, track = _in_hand(store), _track()
    share = 8.0 * GALLON / held.car.fuel_cell.capacity.si
    changed = held.setup.changed(step(held, "RR.coil.spring", up=True).changes)
    now = assemble(changed, car=held.car, sheet=held.sheet, rack=held.rack)
    sure = how_sure(build(now), track, Conditions(), fuels=(share,), draws=10)
    for place, load_told, balance_told in zip(
        sure.places, rows["RF load"], rows["At the limit"], strict=True
    ):
        band = place.numbers["RF load"]
        shown = [float(one.replace(",", "")) for one in re.findall(r"[\d,]+", load_told.text)]
        assert shown == pytest.approx([end / POUND for end in (band.value, band.low, band.high)], abs=0.51)
        assert ("too close to call" in balance_told.text) != place.numbers["balance"].sure_of_sign
    middle = next(place for place in sure.places if place.station == "middle").numbers
    here = read(bench.get("/turn?fuel=8").text)
    half = 50.0 * (middle["cross"].high - middle["cross"].low)
    assert _fact(here, "Wedge, middle").split(" ")[-1] == f"\N{PLUS-MINUS SIGN}{half:.1f}"
    assert ("Unsure" in _fact(here, "At the limit")) != middle["balance"].sure_of_sign
    assert here.one("a", id="how-sure").text == "\N{PLUS-MINUS SIGN} at 8 gal"
    assert here.one("div", class_="pair").text.count("\N{PLUS-MINUS SIGN}") == 2
    later = _press(bench, "LR.turned up", fuel=8)
    assert _fact(later, "Wedge, middle").split(" ")[-1] == f"\N{PLUS-MINUS SIGN}{half:.1f}"
    assert "of before" in later.one("button", id="how-sure").text
    assert "\N{PLUS-MINUS SIGN}" not in later.one("div", class_="pair").text
    assert _press(bench, "undo", fuel=8).all("a", id="how-sure")


def test_draws_without_a_steady_state_are_told_and_too_many_leave_no_band(
    bench: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    solved, lost = study_sure.together, set()

    def each_third_finds_none(cars: Any, spot: Any, share: Any, speed: Any, *tires: Any) -> Any:
        weight = float(cars[0].weighed.corners()["load"].sum())
        if tires and int(1e6 * weight) % 3 == 0:
            lost.add(weight)
            return math.nan, [None] * len(cars), [None] * len(cars)
        return solved(cars, spot, share, speed, *tires)

    monkeypatch.setattr(study_sure, "together", each_third_finds_none)
    monkeypatch.setattr(sure_turn, "INTERACTIVE", 16)
    monkeypatch.setattr(LongWork, "submit", _at_once)
    page = read(bench.get("/turn/sure?fuel=9").text)
    bench.post("/turn/sure", data={"csrf": _field(page, "csrf"), "fuel": 9})
    page = read(bench.get("/turn/sure?fuel=9").text)
    told = [one.text for one in page.all("p", class_="notice")]
    assert len(lost) > 1
    assert told == [
        f"{phase}: in {len(lost)} of 16 draws no steady state, too many for a band."
        for phase in ("Entry", "Middle", "Exit")
    ]
    wedge = next(row for row in page.all("tr") if row.children[0].text == "Wedge")
    assert all(re.fullmatch(r"[\d.]+ %", one.text) for one in wedge.all("td"))


def test_what_has_no_steady_state_at_all_is_never_a_number() -> None:
    none = Band(math.nan)
    names = (*(f"{corner} load" for corner in ("LF", "RF", "LR", "RR")), "cross", "limit", "balance")
    phase = SurePhase("middle", math.nan, dict.fromkeys(names, none), None, "", None, "", 12, 12)
    column = turn_sure._column(phase)
    assert "nan" not in " ".join((column.speed, *column.told))
    assert shares.percent(math.nan) == NOTHING


def _at_once(work: LongWork, key: object, study: Any, *documents: Any, told: str) -> Job:
    """Long work done here and now, in this process."""
    job = Job(key, told, study, documents, state="done", ended=time.monotonic())
    job.answer = study(*documents, progress=lambda done, total: None)
    work._jobs[job.id] = job
    return job
