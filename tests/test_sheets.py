"""The sheets: what was put in is found again on paper, on both papers, in black, whatever was typed."""

from __future__ import annotations

import datetime
import io
import json
import re
import struct
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from evidence import DERIVED, READ, Check
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

import ovalwright
from ovalwright.documents import Assembly, Rules, Setup, assemble
from ovalwright.documents.rack import Spring
from ovalwright.documents.setup import Lead
from ovalwright.notebook.typed.difference import differences
from ovalwright.pack import build
from ovalwright.sheets import (
    PAPERS,
    ROUTE,
    SHEETS,
    Across,
    Change,
    Comment,
    Item,
    Leaf,
    NoSheet,
    Paper,
    RaceDay,
    RollOut,
    RunCorner,
    RunLap,
    RunLog,
    ScheduleLine,
    Side,
    Stamp,
    TireCard,
    as_said,
    ballast_map,
    bolt_check,
    image,
    race_day,
    rack_list,
    render,
    run_log,
    scale_sheet,
    setup_sheet,
    tire_sheet,
    what_changed,
)
from ovalwright.sheets.show import rounds_said
from ovalwright.sheets.topview import Page, Rectangle, numbers_beside, page_for
from ovalwright.sheets.words import DRAWN, printable
from ovalwright.study.lead import with_lead
from ovalwright.study.lead_car import bolted_in, lead_job
from ovalwright.study.legal import held_against
from ovalwright.study.rounds import plan_rounds

DEMO = Path(ovalwright.__file__).parent / "demo"
CODE = "K7M2QX"
POINT = 25.4 / 72.0
"""Millimeters in a point of a page."""


def stamp(**other: object) -> Stamp:
    told = {
        "title": "A sheet",
        "car": "Number none",
        "setup": "Conventional",
        "revision": 37,
        "code": CODE,
        "made": datetime.date(2026, 11, 25),
        "by": "Invented Owner",
    }
    return Stamp(**(told | other))  # type: ignore[arg-type]


@cache
def demo() -> Assembly:
    return assemble(DEMO / "setup_conventional.toml")


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def squeezed(text: str) -> str:
    """Text without spaces, line ends and invisible places to break."""
    return re.sub(r"[\s\u200b\u00a0]", "", text)


def on_paper(leaf: Leaf, paper: Paper = "letter") -> str:
    return squeezed("".join(pages(render(leaf, paper=paper))))


# ---------------- every sheet, filled in


def _scales() -> Leaf:
    car = demo()
    book = Rules.load(DEMO / "rules_weekly.toml")
    weighed = with_lead(lead_job(car, book, laps=40), bolted_in(car))
    return scale_sheet(
        stamp(),
        car,
        rounds=plan_rounds(build(car), cross=0.54),
        held=held_against(car, book, weighed),
        book=book.name,
    )


def _tires() -> Leaf:
    card = TireCard(
        mark="T8",
        corner="RF",
        laps="35",
        cold="20 psi",
        hot="28.7 psi",
        durometer="58",
        temperatures=Across(inside="201 F", middle="196 F", outside="188 F"),
        roll_outs=(RollOut(when="new", length="86 3/4 in", pressure="20 psi"),),
    )
    return tire_sheet(stamp(), [card])


def _run() -> Leaf:
    log = RunLog(
        number="4",
        purpose="long run",
        changes=("RR spring 225 -> 250 lb/in",),
        laps=(RunLap(number="1", time="15.571 s"), RunLap(number="2", time="36.403 s", flag="yellow")),
        corners={"RF": RunCorner(hot="28.7 psi", travel="2.75 in")},
        comments=(Comment(phase="middle", when="late", feel="tight", words="up the track"),),
    )
    return run_log(stamp(), log)


def _changes() -> Leaf:
    change = Change(what="RR spring", was="225 lb/in", now="250 lb/in", step="+25 lb/in")
    return what_changed(stamp(), Side(name="before"), Side(name="after", reason="too loose"), [change])


def _race_day() -> Leaf:
    day = RaceDay(
        event="Opener",
        schedule=(ScheduleLine(time="7:30 pm", what="feature", before="fuel full"),),
        fuel=(("at the flag", "9 gal"),),
    )
    return race_day(stamp(), day, demo())


FILLED: dict[str, tuple[Callable[[], Leaf], tuple[str, ...]]] = {
    "setup": (
        lambda: setup_sheet(stamp(), demo()),
        ("F11", "-3.25 deg", "86 3/4 in", "3/32 in", "L40-1", "2,832 lb"),
    ),
    "scales": (_scales, ("776 lb", "57.2 ± 0.1 %", "52.6 %", "54.0 %", "OUTSIDE", "unload the coil")),
    "tires": (_tires, ("T8", "201 F", "196 F", "188 F", "86 3/4 in", "28.7 psi")),
    "run": (_run, ("RR spring 225 -> 250 lb/in", "15.571 s", "yellow", "up the track", "2.75 in")),
    "bolts": (
        lambda: bolt_check(stamp()),
        ("ball joints, nuts and cotter pins", "every piece: bolts, paint"),
    ),
    "ballast": (lambda: ballast_map(stamp(), demo()), ("151.5 lb", "-118, 20, 10 in", "left of cell")),
    "rack": (
        lambda: rack_list(stamp(), demo().rack),
        ("Springs, 40", "F20", "523.8 lb/in", "two and an eighth tube"),
    ),
    "changes": (_changes, ("225 lb/in", "250 lb/in", "+25 lb/in", "too loose")),
    "raceday": (_race_day, ("7:30 pm", "feature", "9 gal", "87 1/2 in", "52.6 %")),
}


def test_every_sheet_is_filled_in_here() -> None:
    assert set(FILLED) == set(SHEETS)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", FILLED)
def test_stamp_and_values_are_found_on_paper(name: str, paper: Paper) -> None:
    make, values = FILLED[name]
    told = pages(render(make(), paper=paper))
    for number, page in enumerate(told, start=1):
        assert page.count(CODE) == 2, "the code stands at top and bottom"
        assert page.count("revision 37") == 2
        for words in ("A sheet", "Number none", "Conventional", "Invented Owner", "2026-11-25"):
            assert words in page
        assert f"page {number} of {len(told)}" in page
    for value in (*values, "Caution"):
        assert squeezed(value) in squeezed("".join(told)), value


@pytest.mark.parametrize(
    ("paper", "wide", "high", "source"),
    [
        ("a4", 210.0, 297.0, "ISO 216 A4, as given at unitplanet.com/writing/paper-size and a-size.com"),
        ("letter", 215.9, 279.4, "ANSI letter, 8.5 x 11 in, as given at a-size.com; 1 in = 25.4 mm"),
    ],
)
def test_pages_have_the_size_of_their_paper(
    check: Check, paper: Paper, wide: float, high: float, source: str
) -> None:
    for page in PdfReader(io.BytesIO(render(bolt_check(stamp()), paper=paper))).pages:
        sides = np.array([float(page.mediabox.width), float(page.mediabox.height)])
        assert page.rotation == 0
    check(
        sides * POINT, [wide, high], of=f"sides of a page on {paper}", source=source, kind=READ,
        area="sheets", unit="mm", abs=0.05,
    )  # fmt: skip


# ---------------- black on white


def test_everything_is_gray_and_all_text_black() -> None:
    for name, (make, _) in FILLED.items():
        for page in PdfReader(io.BytesIO(render(make()))).pages:
            inks = list(_inks(page.get_contents().operations))  # type: ignore[union-attr]
            assert all(len(set(values)) == 1 for _, values in inks), f"{name}: a color"
            assert {values[0] for in_text, values in inks if in_text} <= {0.0}, f"{name}: text is not black"
            assert {values[0] for _, values in inks} <= {0.0, 0.35, 1.0}, f"{name}: a faint gray"


def _inks(operations: list[tuple[list[object], bytes]]) -> Iterator[tuple[bool, tuple[float, ...]]]:
    """Every color set or used: (whether text is drawn with it, its red, green and blue or gray)."""
    fill: tuple[float, ...] = (0.0,)
    kept = []
    for operands, operator in operations:
        if operator == b"q":
            kept.append(fill)
        elif operator == b"Q":
            fill = kept.pop()
        elif operator in (b"g", b"rg", b"sc", b"scn", b"G", b"RG", b"SC", b"SCN"):
            values = tuple(round(float(str(one)), 2) for one in operands)
            yield False, values
            fill = values if operator.islower() else fill
        elif operator in (b"Tj", b"TJ"):
            yield True, fill


def test_a_picture_of_a_page_is_gray_from_white_to_black(check: Check) -> None:
    picture = _pixels(image(setup_sheet(stamp(), demo()), dots=48.0)[0])
    red, green, blue = (picture[:, :, i] for i in range(3))
    assert np.array_equal(red, green) and np.array_equal(green, blue)
    light = np.array([red.min(), red.max()]) / 255.0
    linear = np.where(light <= 0.04045, light / 12.92, ((light + 0.055) / 1.055) ** 2.4)
    check(
        (linear[1] + 0.05) / (linear[0] + 0.05), 21.0, of="contrast of the darkest ink on the paper",
        source="WCAG 2.2, relative luminance and contrast ratio: 21 for black on white, from its formula",
        kind=DERIVED, area="sheets", rel=0.01,
    )  # fmt: skip
    assert 0.02 < (red < 128).mean() < 0.3


def _pixels(png: bytes) -> np.ndarray:
    """A PNG of 8 bits a channel as (rows, columns, channels); filters as in RFC 2083, section 6."""
    wide, high, bits, kind = struct.unpack(">IIBB", png[16:26])
    channels = {2: 3, 6: 4}[kind]
    assert bits == 8
    packed, at = b"", 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        packed += png[at + 8 : at + 8 + length] if png[at + 4 : at + 8] == b"IDAT" else b""
        at += 12 + length
    rows = np.frombuffer(zlib.decompress(packed), np.uint8).reshape(high, 1 + wide * channels)
    above = np.zeros((wide, channels), int)
    told = []
    for row in rows:
        above = _unfiltered(int(row[0]), row[1:].reshape(wide, channels).astype(int), above)
        told.append(above)
    return np.array(told)


def _unfiltered(way: int, row: np.ndarray, above: np.ndarray) -> np.ndarray:
    if way == 0:
        return row
    if way == 1:
        return np.cumsum(row, axis=0) % 256
    if way == 2:
        return (row + above) % 256
    done = np.zeros_like(row)
    left, corner = np.zeros(row.shape[1], int), np.zeros(row.shape[1], int)
    for i in range(len(row)):
        guess = (left + above[i]) // 2 if way == 3 else _paeth(left, above[i], corner)
        left, corner = (row[i] + guess) % 256, above[i]
        done[i] = left
    return done


def _paeth(left: np.ndarray, above: np.ndarray, corner: np.ndarray) -> np.ndarray:
    guess = left + above - corner
    off = np.abs(np.array([guess - left, guess - above, guess - corner]))
    return np.choose(off.argmin(axis=0), [left, above, corner])


# ---------------- the longest and the strangest texts


def numbered(count: int) -> str:
    """Words that can be told apart, so that a lost one is seen."""
    return " ".join(f"w{number:04}" for number in range(count))


NOTE = numbered(665)
NAME = (
    "A rather long name of a car, of a setup or of its owner, as nobody would write it but as is allowed " * 2
)[:120]


def test_the_longest_texts_are_all_there() -> None:
    assert 3900 < len(NOTE) <= 4000 and len(NAME) == 120
    car = demo()
    notes = {"notes": NOTE, "name": NAME}
    long = replace(car, setup=car.setup.model_copy(update=notes), sheet=car.sheet.model_copy(update=notes))
    marked = stamp(title=NAME, car=NAME, setup=NAME, by=NAME)
    log = RunLog(purpose=NOTE, decision=NOTE, tires=NAME, comments=(Comment(phase="exit", words=NOTE),))
    side = Side(name=NAME, reason=NOTE)
    for leaf in (
        setup_sheet(marked, long),
        scale_sheet(marked, long),
        tire_sheet(marked, [TireCard(mark=NAME, corner="LF", compound=NAME, notes=NOTE)]),
        run_log(marked, log),
        bolt_check(marked, [Item(where=NAME, what=NOTE, torque=NAME, mind=NOTE)]),
        what_changed(marked, side, side, [Change(what=NAME, was=NOTE, now=NOTE, step=NAME)]),
        race_day(marked, RaceDay(event=NAME, notes=NOTE, look_at=(NOTE,)), long),
        rack_list(marked, car.rack.model_copy(update=notes)),
    ):
        text = on_paper(leaf, "a4")
        assert not [word for word in NOTE.split() if word not in text], leaf.template
        assert squeezed(NAME) in text, leaf.template


def test_two_hundred_pieces_of_lead_flow_on_with_their_heads_repeated() -> None:
    pieces = tuple(
        Lead.model_validate(
            {
                "id": f"piece{n:03}" + "x" * 50 * (n % 9 == 0),
                "mass": "12.3 lb",
                "place": f"-{n}, {n % 50 - 25}, 7 in",
            }
        )
        for n in range(200)
    )
    car = demo()
    heavy = replace(car, setup=car.setup.model_copy(update={"lead": pieces}))
    for make in (ballast_map, setup_sheet):
        told = pages(render(make(stamp(), heavy)))
        text = squeezed("".join(told))
        assert all(f"piece{n:03}" in text for n in range(200))
        with_pieces = [page for page in told if re.search(r"piece\d", squeezed(page))]
        assert len(with_pieces) > 5 and all("x forward, y left, z up" in page for page in with_pieces)


def test_two_thousand_parts_of_a_rack_flow_on_with_their_heads_repeated() -> None:
    springs = tuple(
        Spring.model_validate({"id": f"S{n:04}", "tag": "225 lb/in", "notes": NOTE if n == 7 else ""})
        for n in range(2000)
    )
    leaf = rack_list(stamp(), demo().rack.model_copy(update={"springs": springs}))
    reader = PdfReader(io.BytesIO(render(leaf)))
    some = [reader.pages[i].extract_text() for i in (0, 1, 30, 60)]
    assert len(reader.pages) > 60
    assert all("free length" in page and CODE in page for page in some)
    assert re.search(r"page 61 of \d+", some[-1])
    assert all(word in "".join(some[:2]) for word in NOTE.split())


SIGNS = st.text(st.sampled_from("ab9 #$*_`\\@<>[]{}()/=-+~\"'^&|%;:.,!?"), min_size=1, max_size=300)


def _with_text(text: str) -> Leaf:
    return what_changed(
        stamp(title=text[:120] or "-", car=text[:120], setup=text[:120], by=text[:120]),
        Side(name=text, reason=text),
        Side(name=text),
        [Change(what=text, was=text, now=text, step=text)],
    )


@settings(max_examples=24, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(SIGNS)
def test_signs_of_the_layout_language_are_printed_as_typed(text: str) -> None:
    assert squeezed(text) in on_paper(_with_text(text))


@settings(max_examples=18, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(st.characters(codec=None), max_size=200))
def test_any_text_at_all_makes_a_sheet(text: str) -> None:
    assert CODE in on_paper(_with_text(text))
    assert on_paper(tire_sheet(stamp(), [TireCard(mark=text, compound=text, notes=text)]))


@pytest.mark.parametrize(
    "text",
    [
        "#panic(1)",
        '#read("/etc/hostname")',
        '#import "shop.typ": *',
        "#sys.inputs.data",
        "$ integral_0^1 $",
        "*/ // /* ]]] }}} )))",
        "\\u{41} \\#",
        '"; #eval("1+1")',
        "@nobody <label> https://example.org",
    ],
)
def test_source_of_the_layout_language_stays_text(text: str) -> None:
    told = on_paper(bolt_check(stamp(title=text), [Item(where="LF", what=text, torque=text)]))
    assert told.count(squeezed(text)) >= 3


def test_a_word_of_four_thousand_letters_stays_on_the_paper() -> None:
    leaf = tire_sheet(
        stamp(), [TireCard(mark="m" * 300, notes="n" * 4000, temperatures=Across(inside="i" * 90))]
    )
    text = on_paper(leaf)
    assert sum(map(len, re.findall("n{20,}", text))) == 4000
    assert "m" * 300 in text and "i" * 90 in text


def test_what_no_font_draws_is_spelled_out() -> None:
    assert printable("\U0001f3c1 ok") == "[chequered flag] ok"
    assert printable("\u4e2d") == "[U+4E2D]"
    assert printable("a\tb\x00c\r\nd\u2028e\u202ef\ud800") == "a b c\nd\ne\u200bf\ufffd".replace("\u200b", "")
    assert printable("½ ± é Ω ñ → ≤ “”") == "½ ± é Ω ñ → ≤ “”"
    assert "[chequeredflag]" in on_paper(tire_sheet(stamp(), [TireCard(notes="\U0001f3c1")]))


def test_fonts_have_a_shape_for_what_is_said_to_be_drawn(tmp_path: Path) -> None:
    typst = pytest.importorskip("typst")
    source = tmp_path / "shapes.typ"
    source.write_text(
        '#set text(font: ("Libertinus Serif", "DejaVu Sans Mono", "New Computer Modern Math"))\n'
        "#set page(width: 40pt, height: 40pt)\n"
        "#json(bytes(sys.inputs.data)).map(text).join(pagebreak())"
    )
    ends = [int(end, 16) for one in DRAWN.split() for end in one.split("-")]
    letters = [chr(0x4E2D), *map(chr, ends)]
    drawn = typst.compile(
        source, format="svg", ignore_system_fonts=True, sys_inputs={"data": json.dumps(letters)}
    )
    shapes = [re.search(r'href="#(\w+)"', page.decode()) for page in drawn]
    assert all(shapes)
    nothing, *found = (shape[1] for shape in shapes if shape)
    assert nothing not in found


# ---------------- what a sheet refuses


def test_a_missing_library_is_said_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(NoSheet, match="pip install typst"):
        render(bolt_check(stamp()))


@pytest.mark.parametrize(
    ("other", "says"),
    [
        ({"code": "K7M2Q"}, "six characters"),
        ({"code": "O0I1LU"}, "six characters"),
        ({"car": "x" * 201}, "car has 201 characters"),
    ],
)
def test_a_stamp_that_cannot_be_printed_says_why(other: dict[str, object], says: str) -> None:
    with pytest.raises(NoSheet, match=says):
        stamp(**other)


def test_an_unknown_paper_says_what_there_is() -> None:
    with pytest.raises(NoSheet, match="letter or a4"):
        render(bolt_check(stamp()), paper="legal")  # type: ignore[arg-type]


# ---------------- blank ones, words and drawings


def test_blank_sheets_have_room_to_write() -> None:
    told = "".join(pages(render(run_log(stamp()))))
    assert all(word in told for word in ("barometer", "in his words", "60", "What next"))
    told = "".join(pages(render(tire_sheet(stamp()))))
    assert all(told.count(word) == 4 for word in ("date code", "heat cycles", "temperature"))
    assert {item.where for item in ROUTE} >= {"LF", "RF", "LR", "RR", "lead", "wheels"}


def test_differences_of_two_setups_are_printed_as_said() -> None:
    other = assemble(DEMO / "setup_giant_bar.toml").setup
    changes = {change.what: change for change in as_said(differences(demo().setup, other)) if not change.step}
    assert changes["LF spring"].was == "F11 (289.9 lb/in)"
    assert changes["LF spring"].now == "F06 (219.1 lb/in)"
    assert changes["bar slack"].now == "1/16 in"
    turned = demo().setup.changed({"LR.turned": "1/2 round", "RF.tire.cold": "19 psi"})
    steps = {change.what: change.step for change in as_said(differences(demo().setup, turned))}
    assert steps["LR jack bolt"] == "+1/2 round" and "RF cold pressure" in steps
    told = on_paper(
        what_changed(stamp(), Side(name="a"), Side(name="b"), as_said(differences(demo().setup, turned)))
    )
    assert "+1/2round" in told and "19psi" in told


def test_what_came_out_of_the_car_is_none() -> None:
    told = as_said(differences(demo().setup, demo().setup.changed({"RR.coil": "none"})))
    rows = what_changed(stamp(), Side(name="a"), Side(name="b"), told).data["rows"]
    assert {what: now for what, _, now, _ in rows}["RR no spring"] == "none"


def test_a_cold_pressure_that_was_never_given_is_called_typical() -> None:
    car, stand_in = demo(), {"value": "19 psi", "give_or_take": "5 psi", "from": "typical"}
    setup = car.setup.changed({"RR.tire.cold": stand_in})
    corners = setup_sheet(stamp(), replace(car, setup=setup)).data["corners"]
    assert [key[0] for one in corners for key in one["keys"]].count("cold, typical") == 1
    assert ("cold, typical", "19 psi") in corners[3]["keys"]


def test_only_what_is_work_is_asked_to_be_ticked() -> None:
    setup = Setup.load(DEMO / "setup_conventional.toml")
    changed = setup.changed({"RR.coil": {"rate": "250 lb/in"}, "RR.tire.hot": "27 psi"})
    told = as_said(differences(demo().setup, assemble(changed).setup))
    assert [one.what for one in told if one.job] == ["RR spring"]
    besides = {one.what for one in told if not one.job}
    assert {"RR pressure wanted hot", "RR spring free length"} <= besides
    paper = on_paper(what_changed(stamp(), Side(name="a"), Side(name="b"), told))
    assert "Toldbesides" in paper and "RR.tire.hot" not in paper
    only = what_changed(stamp(), Side(name="a"), Side(name="b"), [one for one in told if not one.job])
    assert "Nothingistobedoneonthecar." in on_paper(only)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", FILLED)
def test_a_caution_is_on_the_first_page(name: str, paper: Paper) -> None:
    first, *more = pages(render(FILLED[name][0](), paper=paper))
    assert "Caution" in first and not any("Caution" in page for page in more)


def test_no_change_is_said() -> None:
    assert "Nothingdiffers." in on_paper(what_changed(stamp(), Side(name="a"), Side(name="b"), []))


@pytest.mark.parametrize(
    ("rounds", "says"), [(0.0, "leave"), (0.25, "+1/4"), (-0.5, "-1/2"), (1.75, "+1 3/4"), (-2.0, "-2")]
)
def test_rounds_are_said_as_fractions(rounds: float, says: str) -> None:
    assert rounds_said(rounds) == says


def test_the_ballast_map_is_to_scale(check: Check) -> None:
    car = demo()
    plan = ballast_map(stamp(), car).data["plan"]
    (left, front), (right, _) = plan["axles"][0]
    (_, rear), _ = plan["axles"][1]
    check(
        (right - left) / (rear - front), 65.25 / 105.25, of="front tread to wheelbase on the ballast map",
        source="the two lengths as typed in the demo car", kind=DERIVED, area="sheets", rel=1e-9,
    )  # fmt: skip
    one, two = plan["squares"][0], plan["squares"][1]
    check(
        (two["y"] - one["y"]) / (rear - front), (74 - 48) / 105.25,
        of="distance of two pieces of lead to the wheelbase on the ballast map",
        source="their places as typed in the demo setup", kind=DERIVED, area="sheets", rel=1e-9,
    )  # fmt: skip
    side = one["wide"] / (right - left) * 65.25
    check(
        side, np.sqrt(49.5 / 0.41 / 2.0), of="side of 49.5 lb of lead 2 in thick", unit="in", rel=0.01,
        source="0.41 lb/in^3, density of lead of 11.34 g/cm^3", kind=DERIVED, area="sheets",
    )  # fmt: skip


@settings(max_examples=30, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(-3.5, 1.0), st.floats(-0.9, 0.9), st.floats(0.01, 0.3)), min_size=1, max_size=60
    )
)
def test_numbers_on_the_map_lie_on_nothing(stacks: list[tuple[float, float, float]]) -> None:
    page: Page = page_for([(x, y) for x, y, _ in stacks], margin=0.4)
    squares = [page.rectangle((x, y), long=side, wide=side) for x, y, side in stacks]
    rooms = [label.room for label in numbers_beside(squares, [""] * len(squares), page)]
    edge = Rectangle(0.0, 0.0, page.wide, page.high)
    for i, room in enumerate(rooms):
        assert not any(room.meets(other) for other in (*rooms[:i], *squares))
        assert room.x >= edge.x and room.x + room.wide <= edge.wide
        assert room.y >= edge.y and room.y + room.high <= edge.high
