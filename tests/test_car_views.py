"""Drawings of the car: to scale, true to the state, small, safe in a page. Parsed, never matched as text."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from evidence import DERIVED, Check
from test_car_shape import DEMO, SETUPS, car, shape_of, state

from ovalwright.documents import Car, assemble
from ovalwright.pack import build
from ovalwright.pictures import said
from ovalwright.pictures.car_shape import CarShape, Wheel, car_plan, car_shape
from ovalwright.pictures.car_views import (
    LAPTOP_END,
    LAPTOP_PLAN,
    PHONE_END,
    PHONE_PLAN,
    from_behind,
    from_front,
    plan,
)
from ovalwright.pictures.load_lengths import full_length, load_lengths
from ovalwright.pictures.strip import PHONE_STRIP, Event, Track, Turned, fuel_strip, strip, wedge_span
from ovalwright.pictures.svg import Sheet
from ovalwright.study.turn import STANDING

LARGEST = 12_000
INCH, POUND = said.INCH, said.POUND


def parsed(text: str) -> ET.Element:
    """A drawing as elements, after what every one must hold."""
    assert len(text.encode()) <= LARGEST
    assert not re.search(r"nan|inf\b|None", text)
    root = ET.fromstring(text)
    assert root.get("role") == "img" and root.get("aria-label", "").endswith(".")
    ids = [one.get("id") for one in root.iter() if one.get("id")]
    assert len(ids) == len(set(ids))
    for one in root.iter():
        assert not {"style", "onload", "href"} & set(one.attrib), one.attrib
        assert one.tag in ("svg", "g", "path", "rect", "circle", "text", "clipPath")
    return root


def texts(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter("text")]


def of_class(root: ET.Element, kind: str) -> list[ET.Element]:
    return [one for one in root.iter() if kind in one.get("class", "").split()]


def points(element: ET.Element) -> np.ndarray:
    numbers = re.findall(r"-?\d+(?:\.\d+)?", element.get("d", ""))
    return np.array(numbers, dtype=float).reshape(-1, 2)


def shape(name: str, where: str) -> CarShape:
    return shape_of(name, state(name, where))


VIEWS: tuple[tuple[Callable[..., str], object], ...] = (
    (plan, LAPTOP_PLAN), (plan, PHONE_PLAN), (from_front, LAPTOP_END), (from_front, PHONE_END),
    (from_behind, LAPTOP_END), (from_behind, PHONE_END),
)  # fmt: skip


@pytest.mark.parametrize("where", ["standing", "entry", "middle"])
@pytest.mark.parametrize("name", SETUPS)
def test_every_view_of_every_setup_is_small_whole_and_on_its_paper(name: str, where: str) -> None:
    drawn, other = shape(name, where), shape("conventional", where)
    for view, room in VIEWS:
        for ghost in (None, other):
            root = parsed(view(drawn, room, ghost=ghost))
            width, height = map(float, root.get("viewBox", "").split()[2:])
            for tire in of_class(root, "tire"):
                corners = points(tire)
                assert corners.min() >= 0.0
                assert corners[:, 0].max() <= width and corners[:, 1].max() <= height
            assert bool(of_class(root, "ghost")) == (ghost is not None)


def test_the_plan_is_to_scale_and_its_loads_are_lengths_on_one_scale(check: Check) -> None:
    drawn = shape("conventional", "standing")
    root = parsed(plan(drawn))
    tires = [points(tire).mean(axis=0) for tire in of_class(root, "tire")]
    seen = np.linalg.norm(tires[0] - tires[1]) / np.linalg.norm(tires[0] - tires[2])
    check(
        ours=float(seen), expected=65.25 / 105.25, rel=0.03, unit="", kind=DERIVED, area="linkage",
        of="front tread over wheelbase as measured off the plan", source="demo car document (invented)",
    )  # fmt: skip
    loads = [wheel.load for wheel in drawn.wheels]
    lengths = [float(bar.get("width", "0")) for bar in of_class(root, "load")]
    reach = [(length / load) for length, load in zip(lengths, loads, strict=True)]
    assert max(reach) / min(reach) < 1.005
    for load in loads:
        assert f"{load / POUND:,.0f}" in texts(root)


def test_a_tick_each_hundred_pounds_and_a_cut_each_five_hundred() -> None:
    root = parsed(load_lengths([1322 * POUND, 262 * POUND, 500 * POUND, 99 * POUND]))
    ticks = sum(one.get("d", "").count("M") for one in of_class(root, "tick"))
    cuts = sum(one.get("d", "").count("M") for one in of_class(root, "cut"))
    assert (ticks, cuts) == (11 + 2 + 4, 2)


def test_loads_keep_the_layout_of_the_car_and_are_mirrored_with_the_view_from_the_front() -> None:
    loads = [100 * POUND, 200 * POUND, 300 * POUND, 400 * POUND]

    def places(mirrored: bool) -> dict[str, float]:
        root = parsed(load_lengths(loads, mirrored=mirrored))
        return {one.text or "": float(one.get("x", "0")) for one in root.iter("text")}

    assert places(False)["LF"] < places(False)["RF"] and places(True)["LF"] > places(True)["RF"]
    assert places(False)["100"] < places(False)["200"]


def test_half_a_band_stands_under_a_load_and_lifted_where_there_is_none() -> None:
    loads = [1322 * POUND, 262 * POUND, 500 * POUND, 0.0]
    for gives in ((), ("\u00b112", "\u00b19", "\u00b17", "\u00b15")):
        root = parsed(load_lengths(loads, gives=gives))
        assert [one for one in texts(root) if one in gives] == list(gives[:3])
        zero, lifted = (
            next(one for one in root.iter("text") if one.text == said) for said in ("0", "Lifted")
        )
        assert zero.get("x") == lifted.get("x") and float(zero.get("y", "")) < float(lifted.get("y", ""))
        assert max(float(one.get("y", "")) for one in root.iter("text")) < 64.0


def test_a_full_length_grows_for_all_four_at_once() -> None:
    assert full_length(1499 * POUND, 10.0) == 1500.0
    assert full_length(1501 * POUND, 10.0) == 2000.0
    assert full_length(9e9) == 10000.0


def test_a_hanging_coil_is_fine_off_its_seat_by_its_gap_and_told_in_inches() -> None:
    drawn = shape("hanging_rr", "standing")
    rr = drawn.coils[3]
    off = replace(rr, state="hanging", gap=0.05, touching=rr.length - 0.05)
    drawn = replace(drawn, coils=(*drawn.coils[:3], off))
    root = parsed(from_behind(drawn))
    fine = next(one for one in of_class(root, "fine") if len(points(one)) == 13)
    seats = [points(one) for one in of_class(root, "seat")]
    scale = _scale(root, drawn.wheels[2:])
    gap = min(np.linalg.norm(points(fine)[-1] - seat.mean(axis=0)) for seat in seats)
    assert gap == pytest.approx(0.05 * scale, abs=1.0)
    assert f"{0.05 / INCH:.2f} in" in texts(root) and "RR coil off seat" in texts(root)
    assert "RR coil off seat" in root.get("aria-label", "")


def _scale(root: ET.Element, wheels: tuple[Wheel, ...]) -> float:
    left, right = (points(one).mean(axis=0) for one in of_class(root, "tire"))
    apart = np.linalg.norm(wheels[0].center[1:] - wheels[1].center[1:])
    return float(np.linalg.norm(left - right) / apart)


def test_a_stop_that_carries_is_crosshatched_with_its_pounds_and_one_that_does_not_is_plain() -> None:
    drawn = shape("soft_front", "standing")
    one, other = (replace(stop, gap=gap, force=force) for stop, gap, force in
                  zip(drawn.stops, (-0.01, 0.02), (167 * POUND, 0.0), strict=True))  # fmt: skip
    root = parsed(from_front(replace(drawn, stops=(one, other))))
    assert len(of_class(root, "cross")) == 1 and "167 lb" in texts(root)
    assert "LF stop in" in texts(root) and "RF stop in" not in texts(root)


def test_the_road_is_tilted_by_its_bank_and_the_page_is_not(check: Check) -> None:
    drawn = shape("conventional", "middle")
    for view, way in ((from_behind, 1.0), (from_front, -1.0)):
        road = points(of_class(parsed(view(drawn)), "road")[0])
        rise, run = -(road[0] - road[1])[1], (road[0] - road[1])[0]
        check(
            ours=way * math.atan2(rise, run) if run > 0.0 else way * math.atan2(-rise, -run),
            expected=drawn.bank, abs=0.004, unit="rad", kind=DERIVED, area="banking",
            of=f"bank as measured off the drawing, {view.__name__}", source="demo track (invented)",
        )  # fmt: skip
    assert drawn.bank > math.radians(10.0)


def test_tires_stand_on_the_road_and_a_lifted_one_does_not() -> None:
    drawn = shape("conventional", "middle")
    up = np.array([0.0, 0.0, 0.06])
    lf = drawn.wheels[0]
    air = replace(
        drawn, wheels=(replace(lf, center=lf.center + up, squash=-0.05, load=0.0), *drawn.wheels[1:])
    )

    def lowest(root: ET.Element, tire: int) -> float:
        road = points(of_class(root, "road")[0])
        along = (road[1] - road[0]) / np.linalg.norm(road[1] - road[0])
        gaps = [
            (corner - road[0]) @ np.array([-along[1], along[0]])
            for corner in points(of_class(root, "tire")[tire])
        ]
        return float(min(np.abs(gaps)))

    on, off = parsed(from_front(drawn)), parsed(from_front(air))
    assert lowest(on, 0) < 0.6 and lowest(on, 1) < 0.6
    assert lowest(off, 0) > 3.0
    said = next(one for one in off.iter("text") if (one.text or "").startswith("Lifted"))
    road = points(of_class(off, "road")[0])
    ends = [float(said.get("x", "")) + half for half in (-45.0, 45.0)]
    assert float(said.get("y", "")) < min(np.interp(ends, *road[road[:, 0].argsort()].T))
    assert "LF lifted" in off.get("aria-label", "")


def test_a_dragging_frame_point_is_marked_and_named() -> None:
    drawn = shape("conventional", "middle")
    dragging = tuple(replace(point, gap=-0.002 if i == 0 else 0.1) for i, point in enumerate(drawn.watched))
    name = drawn.watched[0].name
    for view in (from_front, from_behind, plan):
        root = parsed(view(replace(drawn, watched=dragging)))
        assert len(of_class(root, "drag")) == (0 if view is from_behind else 1)
    assert f"{name} drags" in parsed(from_front(replace(drawn, watched=dragging))).get("aria-label", "")


def test_a_name_from_a_document_cannot_write_into_the_page() -> None:
    drawn = shape("conventional", "middle")
    evil = '"><script>x</script>&'
    named = replace(drawn, watched=(replace(drawn.watched[0], name=evil, gap=-0.01),))
    root = parsed(from_front(named))
    assert any(evil in words for words in texts(root)) and evil in root.get("aria-label", "")


def test_a_coil_that_is_not_there_is_not_drawn() -> None:
    behind, other = (
        parsed(from_behind(shape("no_rr", "middle"))),
        parsed(from_behind(shape("light", "middle"))),
    )
    assert len(of_class(behind, "coil")) == 1 and len(of_class(other, "coil")) == 2


# ---------------- the strip


def turned(**over: object) -> Turned:
    distance = np.linspace(0.0, 180.0, 19)
    wedge = 0.6 + 0.0002 * distance
    given = {
        "distance": distance, "wedge": wedge, "place": 60.0, "lanes": [Track("RR coil", ((45.0, 180.0),))],
        "phases": (("entry", 0.0, 45.0), ("middle", 45.0, 135.0), ("exit", 135.0, 180.0)),
    }  # fmt: skip
    return Turned(**(given | over))  # type: ignore[arg-type]


def test_the_strip_says_where_he_is_and_fills_a_lane_where_the_part_touches() -> None:
    root = parsed(strip(turned(on_scales=0.61, ghost=turned().wedge - 0.01, ghost_name="14-B",
                               events=[Event(45.0, "RR coil picks up")])))  # fmt: skip
    empty, filled = of_class(root, "lane")[0], of_class(root, "load")[0]
    share = float(filled.get("width", "0")) / float(empty.get("width", "1"))
    assert share == pytest.approx(0.75, abs=0.001)
    assert "197 feet" in root.get("aria-label", "") and "61.2 percent" in root.get("aria-label", "")
    assert "touching: RR coil" in root.get("aria-label", "")
    assert {"Entry", "Middle", "Exit", "14-B", "RR coil picks up"} <= set(texts(root))


def test_words_of_a_place_near_the_end_of_the_strip_stay_on_the_paper() -> None:
    for where in (30.0, 176.0):
        root = parsed(strip(turned(events=[Event(where, "frame is clear")])))
        said = next(one for one in root.iter("text") if one.text == "frame is clear")
        assert ("end" in said.get("class", "").split()) is (where > 170.0)


def test_where_there_is_no_state_the_curve_is_broken_and_no_number_stands() -> None:
    wedge = turned().wedge.copy()
    wedge[5:8] = np.nan
    root = parsed(strip(turned(wedge=wedge), PHONE_STRIP))
    assert of_class(root, "curve")[0].get("d", "").count("M") == 2
    assert not of_class(root, "now-dot") and "no steady state" in root.get("aria-label", "")
    parsed(strip(turned(wedge=np.full(19, np.nan), lanes=[])))


def test_a_band_at_the_place_in_hand_is_as_tall_as_it_is_and_a_state_not_found_cuts_the_lanes() -> None:
    lanes = [Track("RR coil", ((0.0, 60.0), (120.0, 180.0)))]
    wedge = turned().wedge.copy()
    wedge[8:10] = np.nan
    root = parsed(strip(turned(give=0.005, wedge=wedge, lanes=lanes)))
    (band,) = of_class(root, "band")
    rows = points(of_class(root, "hair")[0])[::2, 1]
    a_percent = abs(float(rows[1] - rows[0])) / 2.0
    assert {"64", "66 %"} <= set(texts(root))
    assert float(band.get("height", "0")) == pytest.approx(a_percent, rel=0.02)
    assert len(of_class(root, "paper")) == 1 and "none" in texts(root)
    assert not of_class(parsed(strip(turned(lanes=lanes))), "paper")


def test_the_axis_holds_every_curve_and_moves_in_whole_steps() -> None:
    low, high = wedge_span(np.array([0.601, 0.655, np.nan]), 0.545)
    assert low <= 0.545 and high >= 0.655
    assert abs(low / 0.02 - round(low / 0.02)) < 1e-9 and abs(high / 0.02 - round(high / 0.02)) < 1e-9
    assert wedge_span(np.array([0.6, 0.6]))[1] - wedge_span(np.array([0.6, 0.6]))[0] >= 0.06


def test_over_the_fuel_the_full_cell_is_at_the_left() -> None:
    root = parsed(fuel_strip(20.0, 5.0, [Track("RR coil", ((10.0, 20.0),))]))
    empty, filled = of_class(root, "lane")[0], of_class(root, "load")[0]
    assert filled.get("x") == empty.get("x")
    assert float(filled.get("width", "0")) == pytest.approx(0.5 * float(empty.get("width", "0")), abs=0.2)


def test_numbers_are_rounded_in_one_place_without_a_negative_nothing() -> None:
    assert said.number(-0.04, 1) == "0.0" and said.number(-0.06, 1) == "\u22120.1"
    assert said.number(0.04, 1, sign=True) == "0.0" and said.number(2.0, sign=True) == "+2"
    assert said.gap_words(0.0004) == "just touching" and said.gap_words(0.0254) == "1.00 in"
    assert said.degrees(math.radians(-2.64)) == "\u22122.6\u00b0"


def test_words_are_escaped_wherever_they_go() -> None:
    sheet = Sheet("a", 10.0, 10.0)
    sheet.text("word", (1.0, 2.0), "<b>&\"'")
    root = ET.fromstring(sheet.svg("\"<&'."))
    assert texts(root) == ["<b>&\"'"] and root.get("aria-label") == "\"<&'."


def test_the_fuel_in_the_cell_is_the_cars() -> None:
    assert shape("conventional", "standing").fuel == pytest.approx(0.3, abs=1e-9)
    assert car("conventional").record["fuel_mass"] > 0.0


def test_lead_and_fuel_are_drawn_as_much_as_there_is() -> None:
    drawn = shape("conventional", "standing")
    root = parsed(plan(drawn))
    areas = [_area(points(piece)) for piece in of_class(root, "lead")]
    pounds = [49.5, 49.5, 40.2, 12.3]
    assert np.array(areas) / areas[0] == pytest.approx(np.array(pounds) / pounds[0], rel=0.06)
    for view in (plan, from_behind):
        root = parsed(view(drawn))
        tone, cell = (_area(points(of_class(root, kind)[0])) for kind in ("tone", "cell"))
        assert tone / cell == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize(
    ("car_changed", "setup_changed"),
    [({"frame_points": []}, {}), ({"steering.form": "box"}, {"bar": "none"}), (None, {"bar.hooked": False})],
    ids=["no frame points", "steering box, no bar", "short form, bar unhooked"],
)
def test_other_cars_are_drawn_whole_as_well(
    car_changed: dict[str, object] | None, setup_changed: dict[str, object]
) -> None:
    base = assemble(DEMO / "setup_conventional.toml")
    other = base.car.changed(car_changed) if car_changed is not None else Car.load(DEMO / "car_short.toml")
    packed = build(assemble(base.setup.changed(setup_changed), car=other, sheet=base.sheet, rack=base.rack))
    drawn = car_shape(car_plan(packed), packed.record, packed.settled, STANDING)
    assert drawn.bar is not bool(setup_changed)
    for view, room in VIEWS:
        root = parsed(view(drawn, room))
        width, height = map(float, root.get("viewBox", "").split()[2:])
        for part in of_class(root, "cell") + of_class(root, "tire") + of_class(root, "lead"):
            assert (points(part) >= 0.0).all() and (points(part) <= (width, height)).all()


def leaf_car() -> CarShape:
    """The demo's car of the short form with leaf springs in the rear, standing."""
    base = assemble(DEMO / "setup_conventional.toml")
    told = Car.load(DEMO / "car_short.toml").changed({"rear.short.stands_for": "leaf springs"})
    packed = build(assemble(base.setup, car=told, sheet=base.sheet, rack=base.rack))
    return car_shape(car_plan(packed), packed.record, packed.settled, STANDING)


def test_leaf_springs_lie_under_the_axle_from_eye_to_eye_without_coils_and_links() -> None:
    drawn = leaf_car()
    above, behind = parsed(plan(drawn)), parsed(from_behind(drawn))
    assert len(of_class(above, "coil")) == 2 and not of_class(above, "link")
    assert not of_class(behind, "coil") and not of_class(behind, "arm") and of_class(behind, "shock")
    assert of_class(parsed(from_front(drawn)), "coil")
    left, right = (points(one) for one in of_class(above, "leaf"))
    axle = points(of_class(above, "axle-line")[0])
    wide = np.ptp(axle[:, 0]) / np.linalg.norm(drawn.parts["wheel"][2] - drawn.parts["wheel"][3])
    arms = drawn.parts["link_frame"][:2, 0] - drawn.parts["wheel"][2:, 0]
    ahead = (axle[:, 1].mean() - np.array([left[:, 1].min(), right[:, 1].min()])) / wide
    assert ahead == pytest.approx(arms, abs=0.01)
    hub = points(of_class(behind, "axle")[0])[:, 1]
    packs = [points(one)[:, 1].mean() for one in of_class(behind, "leaf")]
    assert min(sorted(packs)[-6:]) > min(sorted(hub)[-2:])


def test_a_slack_leaf_is_drawn_fine_and_named() -> None:
    drawn = leaf_car()
    coils = (*drawn.coils[:3], replace(drawn.coils[3], state="hanging"))
    root = parsed(from_behind(replace(drawn, coils=coils)))
    assert "RR leaf slack" in texts(root) and of_class(root, "fine")
    assert not of_class(parsed(from_behind(drawn)), "fine")


def _area(corners: np.ndarray) -> float:
    x, y = corners.T
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
