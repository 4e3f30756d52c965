"""The scales on the bench: what is typed at the pads, what it means at once, and what is kept of it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from benches import client, read, token
from browser import PHONE, served
from evidence import DERIVED

from ovalwright.documents import Rules
from ovalwright.notebook import drafts, shelf
from ovalwright.pack import build
from ovalwright.pictures.hatch import hatch
from ovalwright.study import lead
from ovalwright.units import LB
from ovalwright.web import hand, joined, lead_work, weighing, weighings
from ovalwright.web.lead_map import lead_map
from ovalwright.web.weighed import Race

PADS = {"LF": "776", "RF": "646", "LR": "844", "RR": "570"}
LF, RF, LR, RR = (float(text) for text in PADS.values())
TOTAL = LF + RF + LR + RR
BOOK = """
document = "rules"
name = "Invented book"
limits = [
  {of = "total_weight", is = "at least", value = "2860 lb", moment = "start", rule = "1"},
  {of = "left_percent", is = "at most", value = "60 %", rule = "2"},
]
"""


@pytest.fixture(scope="module")
def store(season_store):
    with season_store.entry("a book") as session:
        shelf.keep(session, Rules.from_text(BOOK))
    return season_store


@pytest.fixture
def laptop(store, tmp_path_factory):
    with store.aside() as session:
        for one in drafts.drafts(session, weighings.FORM):
            drafts.drop(session, one.uid)
    with client(store, tmp_path_factory.mktemp("scales")) as found:
        yield found


class Pads:
    """Somebody at the pads: a page that he opened, on which he types."""

    def __init__(self, laptop):
        self.laptop = laptop
        self.look(laptop.get("/scales").text)

    def look(self, text):
        self.page = read(text)
        self.hidden = {name: self.page.one("input", name=name)["value"] for name in ("draft", "version")}
        found = self.page.all("input", name="setup")
        self.setup = found[0]["value"] if found else self.setup
        self.csrf = token(text) if found else self.csrf
        return self.page

    def send(self, path="/scales", *, htmx=False, **typed):
        told = {"csrf": self.csrf, "setup": self.setup, "driver": "in", "fuel": "22", **self.hidden, **typed}
        headers = {"HX-Request": "true", "HX-Target": "answers"} if htmx else {}
        answer = self.laptop.post(path, data=told, headers=headers)
        if answer.status_code != 303:
            self.look(answer.text)
        return answer

    def type(self, **typed):
        answer = self.send(htmx=True, **typed)
        assert answer.status_code == 200
        return self.page


@pytest.fixture
def pads(laptop):
    return Pads(laptop)


def number(text):
    return float(re.search(r"[-\u2212]?[\d,]+\.?\d*", text).group().replace(",", "").replace("\u2212", "-"))


def gauges(page):
    return {one.one("p", class_="name").text: number(one.one("p", class_="number").text)
            for one in page.all("div", class_="gauge")}  # fmt: skip


# ---------------- what it says at once


def test_the_five_numbers_are_those_of_the_definitions(pads, check):
    told = gauges(pads.type(**PADS))
    for name, expected in {
        "Total": TOTAL,
        "Left side": 100 * (LF + LR) / TOTAL,
        "Rear": 100 * (LR + RR) / TOTAL,
        "Cross": 100 * (RF + LR) / TOTAL,
        "Bite": LR - RR,
    }.items():
        check(
            ours=told[name], expected=expected, abs=0.5 if expected > 100.0 else 0.05,
            unit="lb" if expected > 100.0 else "%",
            of=f"{name} as the scales page shows it", source="the definition, worked out in the test",
            kind=DERIVED, area="weighing",
        )  # fmt: skip


def test_htmx_gets_the_answers_alone_and_a_plain_browser_the_page(pads):
    page = pads.type(**PADS)
    assert not page.all("h1")
    assert page.one("div", id="answers")
    answer = pads.send(**PADS)
    assert answer.status_code == 303
    page = read(pads.laptop.get(answer.headers["location"]).text)
    assert page.one("h1").text == "Scales"
    assert [page.one("input", id=corner)["value"] for corner in PADS] == list(PADS.values())


def test_the_book_is_told_at_the_start_and_at_the_flag(pads):
    page = pads.type(**PADS)
    book = page.one("section", aria_label="Invented book")
    start, flag = (one.text for one in book.all("div", class_="moment"))
    assert "Start" in start
    assert f"{2860 - TOTAL:.1f} lb short" in start
    assert "Legal" in flag
    assert not pads.type(**PADS, total="2860").all("p", class_="mistake")


def test_every_ruler_says_aloud_what_it_draws(pads):
    rulers = [one.one("svg") for one in pads.type(**PADS).all("div", class_="gauge")]
    assert all(one["role"] == "img" and "at the flag" in one["aria-label"] for one in rulers)


def test_a_ruler_has_units_and_a_word_for_its_pointers_and_no_empty_field_looks_filled_in(pads, monkeypatch):
    monkeypatch.setattr(weighings, "books", lambda session: ())
    page = pads.look(pads.laptop.get("/scales").text)
    gauges = page.one("div", class_="gauges")
    ends = [one.text for one in gauges.all("text") if one["class"].startswith("label")]
    assert len(ends) > 5
    assert all(one.endswith((" lb", " %")) for one in ends)
    key = next(one for one in page.all("p", class_="hint") if "At the start" in one.text)
    assert [one["class"] for one in key.all("path")] == ["pointer", "pointer hollow"]
    hints = {one["name"]: one["placeholder"] for one in page.all("input") if "placeholder" in one.attributes}
    assert hints["LF"].startswith("last ")
    assert hints["cross"] == "like 54 %"
    hints.pop("reason", None)
    assert all(one.startswith(("last ", "like ")) for one in hints.values() if one)


def test_faults_of_the_pads_come_before_everything(pads):
    def faults(**typed):
        return [one.text for one in pads.type(**PADS, **typed).all("p", class_="trouble")]

    assert not faults()
    assert "sum to 2,836.0 lb" in faults(total="2810")[0]
    assert "RR read" in faults(again_LF="776", again_RF="646", again_LR="844", again_RR="590")[0]
    swapped = {f"swap_{corner}": text for corner, text in PADS.items()}
    assert faults(swapped="LF and RF", **{**swapped, "swap_LF": "790", "swap_RF": "634"})
    assert "stands 0.500 in high" in faults(LF_pad="0.5 in")[0]


# ---------------- jack bolts


def test_rounds_are_quarters_and_bring_the_cross(pads):
    page = pads.type(**PADS, cross="54.5")
    bolts = page.one("section", aria_label="Jack bolts")
    rounds = {
        one.one("b").text: one.one("span", class_="number").text for one in bolts.all("div", class_="bolt-at")
    }
    ways = {one.one("b").text: one.one("div", class_="n").text for one in bolts.all("div", class_="bolt-at")}
    assert all(re.fullmatch(r"[+\u2212]?[0-9]*( ?[1-3]/[24])?", text) for text in rounds.values())
    assert "longer" in ways["RF"]
    assert "longer" in ways["LR"]
    assert "shorter" in ways["LF"]
    as_bolted, reset = (one.text for one in bolts.one("dl", class_="pair").all("dd"))
    then = number(bolts.one("p", class_="then").text)
    assert then == pytest.approx(54.5, abs=0.2)
    assert number(as_bolted) == pytest.approx(then - gauges(page)["Cross"], abs=0.11)
    assert "not applicable" in reset


def test_cross_is_stepped_by_half_a_percent_from_what_the_pads_read(pads):
    now = 100 * (RF + LR) / TOTAL
    answer = pads.send(**PADS, press="more cross")
    assert answer.headers["location"].endswith("#jack")
    page = pads.look(pads.laptop.get(answer.headers["location"].partition("#")[0]).text)
    wanted = number(page.one("input", id="cross")["value"])
    assert 0.0 < wanted - now <= 0.75
    assert page.one("section", id="rounds").all("div", class_="bolt-at")
    answer = pads.send(**PADS, press="less cross", cross=f"{wanted} %")
    page = pads.look(pads.laptop.get(answer.headers["location"].partition("#")[0]).text)
    assert number(page.one("input", id="cross")["value"]) == pytest.approx(wanted - 0.5)
    assert pads.send(**dict.fromkeys(PADS, "0"), press="more cross").status_code == 303


def test_a_cross_that_cannot_be_reached_says_so(pads):
    text = (
        pads.type(**PADS, cross="75", LF_wanted="4 3/4", RF_wanted="4 3/4").one("section", id="rounds").text
    )
    assert "Bolts alone do not bring both" in text


# ---------------- nothing typed is lost


def test_two_pads_are_a_draft_that_comes_back(pads):
    page = pads.type(LF="781", RF="640")
    assert page.all("h2")[0].text.startswith("As last weighed")
    again = Pads(pads.laptop)
    assert again.page.one("input", id="LF")["value"] == "781"
    assert again.page.one("input", id="LR")["value"] == ""
    assert again.hidden == pads.hidden


def test_what_cannot_be_read_stays_with_what_to_type(pads):
    answer = pads.send(**{**PADS, "RR": "five seventy"})
    assert answer.status_code == 422
    field = pads.page.one("input", id="RR")
    assert field["value"] == "five seventy"
    assert field["aria-invalid"] == "true"
    assert "712 lb" in pads.page.one("p", id=field["aria-describedby"]).text
    assert Pads(pads.laptop).page.one("input", id="RR")["value"] == "five seventy"


@pytest.mark.parametrize("text", ["742 lbs.", "742#", "742 # ", "742 pounds", "742 Lb.", "742 LBS", "742"])
def test_pounds_are_read_as_they_are_written(text):
    found = weighing.read({"LF": text, "total": text})
    assert not found.wrong
    assert [found.values[key] / LB for key in ("LF", "total")] == pytest.approx([742.0, 742.0])
    assert weighing.read({"LF": "742 lbs. #", "cross": "54#"}).wrong.keys() == {"LF", "cross"}
    assert weighing.read({"LF": "336 kg"}).values["LF"] == 336.0


def test_while_he_types_what_cannot_be_read_is_said_beside_the_answers(pads):
    page = pads.type(**{**PADS, "RR": "five seventy"})
    assert page.one("p", class_="mistake").text.startswith("Weight, right rear: ")


def test_two_phones_at_once_lose_nothing(pads):
    pads.type(LF="781")
    other = Pads(pads.laptop)
    pads.type(LF="781", RF="640")
    said = other.send(htmx=True, LF="781", LR="851").text
    assert "The laptop changed" in said and "Weight, right front: 640" in said
    assert len(other.page.all("button", name="press")) == 2
    both = other.send(LF="781", LR="851", press="both")
    assert both.status_code == 303
    with pads.laptop.app.state.bench.store.reading() as session:
        kept = [one.typed for one in drafts.drafts(session, weighings.FORM)]
    assert {(one["RF"], one["LR"]) for one in kept} == {("640", ""), ("", "851")}


def test_the_same_values_sent_twice_at_once_are_nobody_elses(pads):
    pads.type(LF="781")
    seen = dict(pads.hidden)
    pads.type(LF="781", RF="640")
    pads.hidden = seen
    assert pads.send(LF="781", RF="640").status_code == 303


def test_mine_is_saved_over_his_once_he_was_seen(pads):
    pads.type(LF="781")
    other = Pads(pads.laptop)
    pads.type(LF="782")
    assert other.send(LF="779").status_code == 409
    assert other.send(LF="779", press="mine").status_code == 303
    assert Pads(pads.laptop).page.one("input", id="LF")["value"] == "779"


def test_nothing_typed_is_no_form_half_filled(pads, store):
    fuel, bar = pads.page.one("input", id="fuel")["value"], pads.page.all("input", name="bar", checked="")
    begins = {"fuel": fuel, "bar": "hooked" if bar else "", "when": "always"}
    for path in ("/scales", "/scales/lead"):
        assert pads.send(path, **begins).status_code == 303
    assert pads.send("/scales/book", **begins, book_name="Least", least="2800").status_code == 303
    with store.reading() as session:
        assert drafts.drafts(session, weighings.FORM) == ()
    piece = pads.page.one("select", name="piece").all("option")[1]["value"]
    moved = pads.send("/scales/lead/move", **begins, piece=piece, spot=lead_work.OFF)
    page = read(pads.laptop.get(moved.headers["location"].partition("#")[0]).text)
    assert piece in page.one("input", name="moves")["value"]


def test_the_same_weights_sent_twice_are_one_form_half_filled(pads, store):
    for _ in range(2):
        assert pads.send(LF="781", RF="640").status_code == 303
    with store.reading() as session:
        assert len(drafts.drafts(session, weighings.FORM)) == 1


# ---------------- kept


def test_kept_the_setup_stands_on_the_new_sheet_with_its_bolts_at_nought(store, laptop):
    with store.entry("half a round") as session:
        setup = shelf.revision(session, Pads(laptop).setup, kind="setup")
        turned = shelf.child(session, setup, {"LR.turned": "1/2 round"}, reason="for the test").code
    pads = Pads(laptop)
    assert pads.setup == turned
    answer = pads.send("/scales/keep", **PADS, reason="after the bump-out")
    assert answer.status_code == 303
    page = read(laptop.get(answer.headers["location"]).text)
    assert "stands on it from now on" in page.one("p", class_="notice").text
    first = page.one("table", class_="past").all("tbody")[0]
    assert [cell.text for cell in first.all("td", class_="n")] == [*PADS.values(), "2,836"]
    assert "after the bump-out" in first.text
    with store.reading() as session:
        assert not drafts.drafts(session, weighings.FORM)
        kept = shelf.revision(session, answer.headers["location"].split("setup=")[1][:6], kind="setup")
        assert kept.parent.code == turned
        assembly = shelf.assembly_of(session, kept)
        assert hand.in_hand(session).base == kept.code
    assert assembly.setup.LR.turned.si == 0.0
    loads = build(assembly).weighed.corners()["load"] / 9.80665 / LB
    assert np.allclose(loads, [LF, RF, LR, RR], rtol=2e-3)


def test_a_weight_that_no_car_reads_is_said_before_it_is_kept_and_computed(store, pads):
    with store.reading() as session:
        sheet = shelf.assembly_of(session, shelf.revision(session, pads.setup, kind="setup")).sheet
    last = sheet.LF.weight.si / LB
    told = {**PADS, "LF": "62"}
    page = pads.type(**told)
    said = page.one("p", role="alert").text
    assert re.search(r"LF 62(\.0)? lb where [\d,.]+ lb was read the last time: look at the pad", said)
    assert number(said.split("where")[1]) == pytest.approx(last, abs=0.5)
    assert gauges(page)["Total"] == pytest.approx(TOTAL - LF + 62.0)
    assert pads.send("/scales/keep", **told).status_code == 422
    button = pads.page.one("button", formaction="/scales/keep")
    assert "It reads so" in button.text
    assert pads.send("/scales/keep", **told, press=button["value"]).status_code == 303
    again = Pads(pads.laptop)
    assert "beside" in again.type(**told).one("p", role="alert").text
    assert again.send("/scales/keep", **PADS, press=button["value"]).status_code == 303


@pytest.mark.parametrize("pair", weighing.SWAPS)
def test_two_swapped_pads_are_named_with_what_they_read_swapped_back_before_anything_is_made_of_them(
    pair, pads, store
):
    with store.reading() as session:
        sheet = shelf.assembly_of(session, shelf.revision(session, pads.setup, kind="setup")).sheet
    last = {corner: getattr(sheet, corner).weight.si / LB for corner in PADS}
    one, other = pair.split(" and ")
    right = {
        corner: f"{load + by:.0f}" for (corner, load), by in zip(last.items(), (3, 6, 8, 6), strict=True)
    }
    wrong = {**right, one: right[other], other: right[one]}
    page = pads.type(**wrong, cross="54")
    said = page.one("p", role="alert").text
    assert f"{one} and {other} look swapped: the other way round {one} reads" in said
    assert [number(part) for part in re.split(" reads | and (?=[LR])", said)[2:4]] == [
        float(right[one]), float(right[other])
    ]  # fmt: skip
    assert pair in page.one("section", id="rounds").one("p", class_="trouble").text
    assert pads.send("/scales/keep", **wrong).status_code == 422
    button = pads.page.one("button", name="press", value=pair)
    answer = pads.send(**wrong, press=button["value"])
    page = read(pads.laptop.get(answer.headers["location"]).text)
    assert {corner: page.one("input", id=corner)["value"] for corner in PADS} == right
    assert not page.all("p", role="alert")


def test_three_pads_are_not_kept_and_not_lost(pads):
    answer = pads.send("/scales/keep", LF="776", RF="646", LR="844")
    assert answer.status_code == 422
    assert pads.page.one("input", id="LR")["value"] == "844"
    assert Pads(pads.laptop).page.one("input", id="LR")["value"] == "844"


def test_put_away_it_is_gone(pads):
    pads.type(**PADS)
    assert pads.send("/scales/put-away", **PADS).status_code == 303
    assert Pads(pads.laptop).page.one("input", id="LF")["value"] == ""


def test_an_empty_notebook_teaches(tmp_path):
    from ovalwright.notebook.store import Store

    with Store.open(tmp_path / "empty.sqlite") as store, client(store, tmp_path) as laptop:
        answer = laptop.get("/scales")
    assert answer.status_code == 200
    assert read(answer.text).one("a", href="/setup", class_="main")


# ---------------- a book of two limits


def test_a_book_is_kept_from_its_limits_and_judges_at_once(pads):
    answer = pads.send("/scales/book", **PADS, book_name="Friday book", left_most="57", when="always")
    assert answer.status_code == 303
    page = read(pads.laptop.get(answer.headers["location"]).text)
    book = page.one("section", aria_label="Friday book")
    over = 100 * (LF + LR) / TOTAL - 57.0
    assert f"{over:.2f} % over" in book.one("div", class_="moments").text
    assert page.one("input", id="RR")["value"] == PADS["RR"]


def test_a_book_without_a_limit_is_refused_and_nothing_is_lost(pads):
    answer = pads.send("/scales/book", **PADS, book_name="Empty")
    assert answer.status_code == 422
    assert "least total weight" in pads.page.one("p", role="alert").text
    assert pads.page.one("input", id="RR")["value"] == PADS["RR"]


# ---------------- lead


def test_a_lead_plan_is_legal_and_told_spot_by_spot(store):
    class Done:
        state = "done"

    with store.reading() as session:
        code = next(one.code for one in shelf.revisions(session, kind="setup"))
        assembly = shelf.assembly_of(session, shelf.revision(session, code))
        book = weighings.book(session, weighings.books(session)[0].code)
    job = Done()
    job.answer = lead_work.search(assembly, book, Race(), "least", progress=lambda done, total: None)
    told = lead_work.placed(job)
    pounds = sum(number(row.weight) for row in told.rows)
    assert pounds == pytest.approx(number(told.lead), abs=0.5)
    assert all(verdict.legal for verdict in job.answer.plan.outcome.verdicts)
    squares = read(told.drawing).all("rect", class_="patch")
    assert [float(one["width"]) > 0.0 for one in squares] == [True] * sum(
        bool(row.pieces) for row in told.rows
    )


def test_lead_of_the_rack_is_bolted_in_kept_on_a_sheet_that_adds_up_and_taken_back(store, pads, check):
    with store.reading() as session:
        base = shelf.revision(session, pads.setup, kind="setup")
        before = shelf.assembly_of(session, base)
        held = joined.looked_at(session).base
    piece, pounds = next(
        (one["value"], number(one.text.split(", ")[1]))
        for one in pads.page.one("select", name="piece").all("option")
        if "from the rack" in one.text
    )
    answer = pads.send("/scales/lead/move", piece=piece, spot="nowhere")
    assert answer.status_code == 422
    assert "nowhere" in pads.page.one("p", role="alert").text
    answer = pads.send("/scales/lead/move", piece=piece, spot="tail")
    assert answer.status_code == 303
    page = pads.look(pads.laptop.get(answer.headers["location"].partition("#")[0]).text)
    moves = page.one("input", name="moves")["value"]
    assert f"{piece}=tail" in moves
    assert piece in next(row.text for row in page.one("section", id="lead").all("tr") if "tail" in row.text)
    answer = pads.send("/scales/lead/keep", moves=moves)
    assert answer.status_code == 303
    page = read(pads.laptop.get(answer.headers["location"]).text)
    code = page.one("form", action="/scales/take-back").one("input", name="setup")["value"]
    with store.reading() as session:
        now = shelf.assembly_of(session, shelf.revision(session, code, kind="setup"))
    assert {one.id for one in now.setup.lead} - {one.id for one in before.setup.lead} == {piece}
    loads, were = (
        np.array([getattr(one.sheet, corner).weight.si / LB for corner in PADS]) for one in (now, before)
    )
    check(
        ours=loads.sum() - were.sum(), expected=pounds, abs=0.3, unit="lb",
        of="four weights worked out after a piece of lead is bolted in, less those before",
        source="what the piece weighs", kind=DERIVED, area="weighing",
    )  # fmt: skip
    behind = -now.setup.lead[-1].place.si[0] / before.car.wheelbase.si
    check(
        ours=float((loads - were)[2:].sum()), expected=pounds * behind, abs=0.5, unit="lb",
        of="what the rear pads read more after lead is bolted in behind the axle",
        source="moments about the front axle",
        kind=DERIVED, area="weighing",
    )  # fmt: skip
    told = {one["name"]: one["value"] for one in page.one("form", action="/scales/take-back").all("input")}
    answer = pads.laptop.post("/scales/take-back", data=told)
    assert answer.status_code == 303
    page = read(pads.laptop.get(answer.headers["location"]).text)
    assert page.one("form", action="/notebook/put-back").one("input", name="number")["value"] == told["entry"]
    assert "Taken back: " in page.one("main").text
    assert pads.laptop.post("/scales/take-back", data=told).status_code == 422
    with store.reading() as session:
        assert shelf.revision(session, base.document.name, kind="setup").code == base.code
        assert joined.looked_at(session).base == held


def test_a_piece_taken_out_by_hand_goes_back_into_the_rack(store, pads):
    inside = pads.page.one("select", name="piece").all("option")[1]["value"]
    answer = pads.send("/scales/lead/move", piece=inside, spot=lead_work.OFF)
    page = pads.look(pads.laptop.get(answer.headers["location"].partition("#")[0]).text)
    assert (
        "emptied" in page.one("section", id="lead").text
        or inside not in page.one("section", id="lead").one("table", aria_label="Lead, spot by spot").text
    )
    moves = page.one("input", name="moves")["value"]
    answer = pads.send("/scales/lead/move", moves=moves)
    page = read(pads.laptop.get(answer.headers["location"].partition("#")[0]).text)
    assert page.one("input", name="moves")["value"] == ""
    assert "is bolted in" in page.one("section", id="lead").text


def test_without_a_plan_there_is_no_lead_to_keep(pads):
    assert pads.send("/scales/lead/keep").status_code == 422
    assert "place it" in pads.page.one("p", role="alert").text


def test_lead_is_drawn_to_the_scale_of_its_weight_and_on_its_side(store):
    with store.reading() as session:
        code = next(one.code for one in shelf.revisions(session, kind="setup"))
        assembly = shelf.assembly_of(session, shelf.revision(session, code))
    places = {"left front": (-0.5, 0.6, 20.0), "right rear": (-2.4, -0.6, 40.0)}
    bolted = [
        lead.Bolted(piece=lead.Piece(id=spot, mass=mass), spot=lead.Spot(id=spot, x=x, y=y, z=0.3))
        for spot, (x, y, mass) in places.items()
    ]
    drawn = read(lead_map(assembly, bolted, "lead")).one("svg")
    one, two = (
        {key: float(each[key]) for key in ("x", "y", "width")} for each in drawn.all("rect", class_="patch")
    )
    assert one["x"] < two["x"]
    assert one["y"] < two["y"]
    assert (two["width"] / one["width"]) ** 2 == pytest.approx(2.0, rel=0.02)
    assert [each.text for each in drawn.all("text")] == ["1", "2"]


# ---------------- in a browser


def test_with_script_it_answers_while_he_types_and_without_by_a_button(window, laptop, tmp_path):
    with served(laptop.app.state.bench.store, tmp_path) as address:
        for script in (True, False):
            page = window(PHONE, script=script).page
            page.goto(f"{address}/scales")
            page.focus("#LF")
            for corner, text in PADS.items():
                page.keyboard.type(text)
                page.keyboard.press("Tab" if not script else "Enter" if corner != "RR" else "Shift")
            if script:
                page.wait_for_selector("h2:has-text('On the pads now')")
                assert page.evaluate("document.activeElement.id") == "RR"
                page.reload()
            else:
                page.fill("#LF", "786")
                page.click("text=Work out")
            assert page.input_value("#RF") == PADS["RF"]
            total = TOTAL if script else TOTAL + 10.0
            assert f"{total:,.0f} lb" in page.inner_text(".gauge >> nth=0")


def test_work_out_right_after_the_last_weight_meets_no_other_hand(window, laptop, tmp_path):
    with served(laptop.app.state.bench.store, tmp_path) as address:
        page = window(PHONE).page
        page.goto(f"{address}/scales")
        for corner, text in {**PADS, "LF": "790"}.items():
            page.fill(f"#{corner}", text)
            page.wait_for_timeout(150)
        page.press("#RR", "Enter")
        page.wait_for_url("**/scales?draft=*")
        assert page.input_value("#LF") == "790"
        assert not page.is_visible("text=Another hand")


def test_on_a_phone_the_meters_and_a_verdict_are_seen_at_once_and_nothing_is_cut_off(
    window, laptop, tmp_path
):
    with served(laptop.app.state.bench.store, tmp_path) as address:
        opened = window(PHONE)
        page = opened.page
        page.goto(f"{address}/scales")
        nav = page.locator("nav.narrow").bounding_box()["y"]
        for seen in (".gauge >> nth=4", ".call >> nth=0"):
            box = page.locator(seen).bounding_box()
            assert box["y"] + box["height"] <= nav
        page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
        assert not opened.is_too_wide()
        cut_off = """() => [...document.querySelectorAll('main :is(td, th, button, p)')]
            .filter((one) => one.getBoundingClientRect().right > innerWidth - 8)
            .map((one) => one.textContent)"""
        assert page.evaluate(cut_off) == []


# ---------------- the drawing


@pytest.mark.parametrize("kind", ["/", "\\", "|", "-", "."])
def test_no_stroke_of_a_hatch_leaves_its_box(kind):
    strokes = np.array(list(hatch(kind, 10.0, 47.0, 12.0)))
    assert len(strokes)
    assert (strokes[:, [0, 2]] >= 10.0 - 1e-9).all()
    assert (strokes[:, [0, 2]] <= 47.0 + 1e-9).all()
    assert (strokes[:, [1, 3]] >= -1e-9).all()
    assert (strokes[:, [1, 3]] <= 12.0 + 1e-9).all()
