"""The turn, read as HTML: what is shown is what the studies say, both readings are there, a change can be
taken back, and nothing is shown of a state that was not solved.
"""

from __future__ import annotations

import math
import re
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from at_the_turn import DEMO, PARTS, UP, field, press_on
from benches import Element, client, read
from browser import PHONE, served

from ovalwright.documents import Assembly, Conditions, Track, assemble, load
from ovalwright.notebook import shelf
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
from ovalwright.web.pages import turn as turn_page
from ovalwright.web.pages import turn_from, turn_sure
from ovalwright.web.sure_turn import SurePhase
from ovalwright.web.words import NOTHING

POUND, FOOT, GALLON = 4.4482216152605, 0.3048, 0.003785411784


def _fact(page: Element, label: str) -> str:
    return next(one.one("dd").text for one in page.all("div", class_="fact") if one.one("dt").text == label)


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


def _in_hand(turn_store: Store) -> Assembly:
    """What is in hand when nobody chose: the setup that was kept last."""
    with turn_store.reading() as session:
        return shelf.assembly_of(session, shelf.revision(session, "Conventional", kind="setup"))


def test_the_loads_shown_are_those_of_the_study(turn: Any) -> None:
    for gallons, feet in ((4.0, 40.0), (22.0, 300.0), (0.0, 610.0)):
        page = read(turn.get("/turn?" + urlencode({"fuel": gallons, "at": feet})).text)
        base, _, solved = _studied("conventional", gallons, feet)
        loads = solved(base)
        assert _loads(page) == pytest.approx([load / POUND for load in loads], abs=0.51)
        cross = (loads[1] + loads[2]) / loads.sum()
        wedge = next(one for one in page.all("div", class_="fact") if one.one("dt").text.startswith("Wedge"))
        assert wedge.one("a").text == f"{100 * cross:.1f}"
        plan = page.one("figure", class_="above").one("svg")["aria-label"]
        assert all(f"{load / POUND:,.0f} pounds" in plan for load in loads)


def test_a_change_has_both_readings_and_is_taken_back(turn: Any) -> None:
    where = {"at": 300, "fuel": 10}
    before = read(turn.get("/turn?" + urlencode(where)).text)
    assert not before.all("div", class_="pair")
    assert before.one("button", value="undo").attributes.get("disabled") is not None
    changed = press_on(turn, UP, **where)
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
    back = press_on(turn, "undo", **where)
    assert _loads(back) == _loads(before)
    assert not back.all("div", class_="pair")


def test_enter_on_a_slider_or_a_view_only_looks(turn: Any) -> None:
    form = press_on(turn, UP).one("form", id="look")
    first = next(one for one in form.all("button") if one["type"] in ("", "submit"))
    assert (first["name"], first["formaction"]) == ("", "")
    assert form["action"] == "/turn/look"
    assert "disabled" not in first.attributes


def test_rows_keep_their_place_while_they_are_pressed(turn: Any) -> None:
    def rows(page: Element) -> list[str]:
        steps = page.one("div", class_="controls").all("button", class_="step")
        return [step["value"].removesuffix(" up") for step in steps if step["value"].endswith(" up")]

    before = rows(read(turn.get("/turn").text))
    for key in (before[1], before[0], before[3], before[1]):
        page = press_on(turn, f"{key} up")
        assert rows(page) == before
        (plus,) = page.all("button", data_key="+")
        assert plus["value"] == f"{key} up"
    longest_ago = 2
    page = press_on(turn, "LF.tire.cold up")
    assert rows(page) == [key if row != longest_ago else "LF.tire.cold" for row, key in enumerate(before)]
    assert rows(press_on(turn, "undo")) == rows(page)


def test_a_step_that_sets_cross_itself_is_not_re_set(turn: Any) -> None:
    pair = press_on(turn, "LR.turned up").one("div", class_="pair")
    assert "not applicable" in pair.all("dd")[1].text
    assert "As bolted in" in pair.one("p", class_="why").text


def test_a_slider_gets_only_what_moves_and_little_of_it(turn: Any) -> None:
    press_on(turn, "RR.coil.spring up")
    answer = turn.get("/turn?at=200&fuel=8&view=all&beside=ghost", headers=PARTS)
    assert len(answer.content) <= 30_000
    part = read(answer.text)
    assert not part.all("form")
    assert len(part.all("figure")) == 3
    one = read(turn.get("/turn?at=200&fuel=8&view=front", headers=PARTS).text)
    assert [figure["class"] for figure in one.all("figure")] == ["view front"]
    side = read(turn.get("/turn?at=200&fuel=8&view=front&beside=side", headers=PARTS).text)
    assert len(side.one("figure").all("svg")) == 2
    whole = turn.get("/turn?at=200&fuel=8")
    assert len(whole.content) <= 120_000


def test_it_is_kept_as_a_new_setup_with_a_reason(turn_store: Store, turn: Any) -> None:
    page = press_on(turn, UP)
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    empty = turn.post("/turn/keep", data={**told, "reason": " ", "name": "Softer"})
    assert empty.status_code == 422
    assert "Not kept: Why is not told" in read(empty.text).all("p", class_="notice")[0].text
    form = read(empty.text).one("form", class_="keep")
    assert "required" in form.one("input", name="reason").attributes
    assert "type what for" in form.one("p", class_="mistake").text
    assert form.one("input", name="name")["value"] == "Softer"
    kept = turn.post("/turn/keep", data={**told, "reason": "tight in the middle"})
    assert kept.status_code == 303
    code = re.search(r"kept=(\w{6})", kept.headers["location"])
    assert code
    page = read(turn.get(kept.headers["location"]).text)
    assert f"Kept as {code[1]}" in page.all("p", class_="notice")[0].text
    assert code[1] in page.one("p", class_="which").text
    with turn_store.reading() as session:
        revision = shelf.revision(session, code[1])
        assert (revision.reason, revision.said) == ("tight in the middle", "RR +1/2 psi")
    late = turn.post("/turn/keep", data={**told, "reason": "loose on exit"})
    assert late.status_code == 422
    notice = read(late.text).all("p", class_="notice")[0].text
    assert "Not kept: " in notice
    assert f"{code[1]} is in hand now" in notice
    assert "loose on exit" in notice


def test_what_keeping_changes_is_said_before_and_after(turn: Any) -> None:
    page = press_on(turn, "RF.coil.spring down")
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    base = build(assemble(DEMO / "setup_conventional.toml"))
    changed = base.assembly.setup.changed(step(base.assembly, "RF.coil.spring", up=False).changes)
    soft = assemble(changed, car=base.assembly.car, sheet=base.assembly.sheet, rack=base.assembly.rack)
    cross = [
        f"{100 * loads_of(car.weighed.corners()).cross:.1f} %"
        for car in (rebuilt_as_bolted(base, soft), build(soft))
    ]
    assert cross[0] != cross[1]
    rows = _kept(page)
    wedge = _fact(page, "Wedge, middle").split(" ")[0]
    assert rows["As you look at it"].startswith(f"Cross on the scales {cross[0]}, wedge here {wedge} %, ")
    assert rows["Kept as it stands"].startswith(f"Cross on the scales {cross[0]}, wedge here ")
    assert rows["Kept re-set"].startswith(f"Cross on the scales {cross[1]}, wedge here ")
    kept = turn.post("/turn/keep", data={**told, "reason": "tight in the middle", "stands": "reset"})
    after = read(turn.get(kept.headers["location"]).text)
    notice = after.all("p", class_="notice")[0].text
    assert "re-set to the heights and cross of its scale sheet" in notice
    assert f"As bolted in: cross on the scales {cross[0]}, wedge here " in notice
    wedge = _fact(after, "Wedge, middle").split(" ")[0]
    assert f"As kept: cross on the scales {cross[1]}, wedge here {wedge} %, " in notice


def _kept(page: Element) -> dict[str, str]:
    """What keeping would make of it, by its name."""
    told = page.one("dl", class_="keeping")
    return {
        name.text: " ".join(said.text.split())
        for name, said in zip(told.all("dt"), told.all("dd"), strict=True)
    }


def test_a_reason_says_that_resetting_turns_the_bolts_back(turn: Any) -> None:
    press_on(turn, "LR.turned up")
    page = press_on(turn, "RF.coil.spring down")
    why = page.one("div", class_="pair").one("p", class_="why").text
    assert why.startswith("Why. Re-set, which turns the bolts back:")
    heads = [one.text for one in page.one("details", class_="more-numbers").all("th", scope="col")]
    assert f"Load, {field(page, 'base')}" in heads


def test_it_is_kept_as_it_stands_with_the_numbers_of_the_place_looked_at(
    turn_store: Store, turn: Any
) -> None:
    press_on(turn, "RF.coil.spring down")
    page = press_on(turn, "LR.turned up")
    told = {name: field(page, name) for name in ("csrf", "hand", "version")}
    place = {"at": 330, "fuel": 1}
    part = read(turn.get("/turn", params=place, headers={"HX-Request": "true", "HX-Target": "keeping"}).text)
    assert "with 1 gal" in part.one("p").text
    rows = _kept(part)
    assert rows == _kept(read(turn.get("/turn", params=place).text))
    assert rows["Kept as it stands"] != rows["Kept re-set"]
    data = {**told, **place, "reason": "as he likes it", "stands": "bolted"}
    after = read(turn.get(turn.post("/turn/keep", data=data).headers["location"]).text)
    assert "on a sheet that is worked out until it is weighed" in after.all("p", class_="notice")[0].text
    wedge = after.all("div", class_="fact")[0].one("dd").text.split(" ")[0]
    assert f"wedge here {wedge} %" in rows["Kept as it stands"]
    with turn_store.reading() as session:
        kept = shelf.assembly_of(session, shelf.revision(session, "Conventional", kind="setup"))
        assert kept.setup.LR.turned.si == 0.0
        cross = loads_of(build(kept).weighed.corners()).cross
        assert f"scales {100 * cross:.1f} %" in rows["As you look at it"]


def test_without_a_steady_state_there_is_the_word_and_the_reason_and_no_number(
    turn_store: Store, turn: Any
) -> None:
    page = press_on(turn, UP)
    bald = Press("tires", {f"{at}.tire.grip": "0.6" for at in ("LF", "RF", "LR", "RR")}, "bald tires")
    with turn_store.aside() as session:
        hands.press(session, field(page, "hand"), int(field(page, "version")), bald)
    answer = turn.get("/turn?at=300&fuel=10")
    assert answer.status_code == 200
    page = read(answer.text)
    assert _fact(page, "Wedge, middle") == "None"
    assert "limit" in page.one("p", class_="reason").text
    assert not page.all("figure")
    assert not page.all("details", class_="more-numbers")
    assert not page.one("div", class_="loads").text
    assert not page.all("div", class_="pair")
    assert "no steady state" in page.one("input", id="at")["aria-valuetext"]


def test_whose_speeds_they_are_is_said_where_no_driver_is_as_quick(
    turn: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(turn_page, "held_at", lambda _: ("Driven with 87 % of the grip: it drags.",))
    told = [one.text for one in read(turn.get("/turn").text).all("p", class_="notice")]
    assert "The speeds of this turn: Driven with 87 % of the grip: it drags." in told


def test_odd_values_are_answered_in_a_sentence(turn: Any) -> None:
    for query in ("at=-1", "fuel=nan", "at=1e99", "view=below", "beside=x", "version=x", "at=abc"):
        answer = turn.get(f"/turn?{query}")
        assert answer.status_code == 422, query
        assert read(answer.text).text
    page = read(turn.get("/turn").text)
    told = {"csrf": field(page, "csrf"), "hand": "", "version": 0}
    for press in ("", "car up", "sheet ../../etc/passwd up", "RR.tire.cold", "\N{SNOWMAN} down"):
        answer = turn.post("/turn/press", data={**told, "press": press})
        assert answer.status_code == 422, press
        assert "no hand" not in read(answer.text).text
    assert turn.get("/turn?at=90000&fuel=9999").status_code == 200


def test_where_a_number_comes_from(turn: Any) -> None:
    page = read(turn.get("/turn").text)
    links = {link["href"] for link in page.all("a") if link["href"].startswith("/turn/from/")}
    assert len(links) >= 4
    for link in links:
        told = read(turn.get(link).text)
        assert len(told.all("section")) == 3
        assert told.all("table")[0].all("td")
    assert turn.get("/turn/from/anything").status_code == 422


def test_every_key_of_where_a_number_comes_from_is_one_of_the_documents() -> None:
    cars = [assemble(path) for path in sorted(DEMO.glob("setup_*.toml"))]
    tracks = [Track.load(path) for path in sorted(DEMO.glob("track_*.toml"))]
    there = {
        key for car in cars for track in tracks for key in turn_from.entries_of(car, track, Conditions())
    }
    wanted = {key for origin in turn_from.ORIGINS.values() for key in origin.keys}
    assert {key for key in wanted if not any(key in one for one in there)} == set()


def test_what_went_into_a_load_is_the_driver_the_lead_and_the_turn_too(turn: Any) -> None:
    for what, keys in (("load", ("car.driver.mass", "setup.lead[1].mass", "track.ends[1].radius")),
                       ("limit", ("conditions.grip",)), ("balance", ("conditions.grip",))):  # fmt: skip
        told = [row.text for row in read(turn.get(f"/turn/from/{what}").text).all("th", scope="row")]
        assert set(keys) <= set(told), what


def test_an_empty_notebook_teaches(tmp_path: Path) -> None:
    with Store.open(tmp_path / "empty.sqlite") as empty, client(empty, tmp_path) as turn:
        for path in ("/turn", "/effects"):
            page = read(turn.get(path).text)
            assert "set up a car" in page.one("section", class_="empty").text.lower()


def test_every_part_of_the_turn_is_a_block(turn: Any) -> None:
    assert {"turn", "now"} <= templates().get_template("turn.html").blocks.keys()


# ---------------- in a browser


def test_a_step_stays_under_the_thumb(turn_store: Store, tmp_path: Path, turn: Any, window: Any) -> None:
    with served(turn_store, tmp_path) as address:
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


# ---------------- how sure


def test_the_bands_are_those_of_the_study_and_call_nothing_inside_them(
    turn_store: Store, turn: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sure_turn, "INTERACTIVE", 10)
    monkeypatch.setattr(LongWork, "submit", _at_once)
    press_on(turn, "RR.coil.spring up")
    page = read(turn.get("/turn/sure?fuel=8").text)
    assert page.all("form", action="/turn/sure")
    button = read(turn.get("/turn?fuel=8").text).one("button", id="how-sure")
    assert button["formaction"] == "/turn/sure"
    asked = turn.post("/turn/sure", data={"csrf": field(page, "csrf"), "fuel": 8, "at": 300})
    assert asked.headers["location"].startswith("/turn?at=300&fuel=8")
    rows = {
        row.one("th").text: row.all("td") for row in read(turn.get("/turn/sure?fuel=8").text).all("tr")[1:]
    }
    assert len(rows) == 9
    held, track = _in_hand(turn_store), _track()
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
        assert ("too close to call" in balance_told.text) == _is_in_doubt(place.numbers["balance"])
    middle = next(place for place in sure.places if place.station == "middle").numbers
    here = read(turn.get("/turn?fuel=8").text)
    half = 50.0 * (middle["cross"].high - middle["cross"].low)
    told = f"\N{PLUS-MINUS SIGN}{half:.1f}" if math.isfinite(half) else "no band"
    assert _fact(here, "Wedge, middle").endswith(told)
    assert ("Unsure" in _fact(here, "At the limit")) == _is_in_doubt(middle["balance"])
    assert here.one("a", id="how-sure").text == "\N{PLUS-MINUS SIGN} at 8 gal"
    assert here.one("div", class_="pair").text.count("\N{PLUS-MINUS SIGN}") in (0, 2)
    later = press_on(turn, "LR.turned up", fuel=8)
    assert _fact(later, "Wedge, middle").endswith(told)
    assert "of before" in later.one("button", id="how-sure").text
    assert "\N{PLUS-MINUS SIGN}" not in later.one("div", class_="pair").text
    assert press_on(turn, "undo", fuel=8).all("a", id="how-sure")


def _is_in_doubt(band: Band) -> bool:
    return math.isfinite(band.low) and not band.sure_of_sign


def test_draws_without_a_steady_state_are_told_and_too_many_leave_no_band(
    turn: Any, monkeypatch: pytest.MonkeyPatch
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
    page = read(turn.get("/turn/sure?fuel=9").text)
    turn.post("/turn/sure", data={"csrf": field(page, "csrf"), "fuel": 9})
    page = read(turn.get("/turn/sure?fuel=9").text)
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
