"""The map of the track: true to scale, turned one way, letters beside every color."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import altair
import drawn
import numpy as np
import pytest
import vl_convert
from evidence import DERIVED
from hypothesis import given, settings
from hypothesis import strategies as st

from ovalwright.pictures.inks import RULINGS, ruling
from ovalwright.pictures.save import lines, save, spec
from ovalwright.pictures.track import TrackMap, track_map

ALONG = np.arange(200) * drawn.LENGTH / 200
MIRROR = np.array([1.0, -1.0])


def _map(turn: float = 0.0, mirror: bool = False, system: str = "us") -> TrackMap:
    """The oval, turned by an angle [rad], with edges 5 m inside and 9 m outside of the line."""
    cosine, sine = np.cos(turn), np.sin(turn)
    matrix = np.array([[cosine, sine], [-sine, cosine]])
    flip = MIRROR if mirror else np.ones(2)
    line, inner, outer = ((drawn.oval(out=out) * flip) @ matrix for out in (0.0, -5.0, 9.0))
    return track_map(
        line,
        ALONG,
        drawn.LENGTH,
        drawn.rules(),
        edges=(inner, outer),
        sections=drawn.sections(),
        system=system,
    )


@pytest.mark.parametrize("turn", [0.0, 1.0, 3.0])
def test_a_track_lies_with_its_front_straight_below_whichever_way_it_was_surveyed(turn: float) -> None:
    track = _map(turn)
    assert track.ahead[0] == pytest.approx([1.0, 0.0], abs=1e-9)
    assert track.start[0].inward == pytest.approx([0.0, 1.0], abs=1e-9)
    low, _ = track.bounds
    assert track.start[0].ends[0][1] == pytest.approx(low[1])
    mirrored = _map(turn, mirror=True)
    assert mirrored.ahead[0] == pytest.approx([-1.0, 0.0], abs=1e-9)
    assert mirrored.start[0].inward == pytest.approx([0.0, 1.0], abs=1e-9)


def test_the_map_is_to_scale_both_ways(check) -> None:
    """Lengths of the drawn track, in its own scale bar, are those of the oval."""
    described = spec(_map(), 1000)
    parts = list(drawn.layers(described))
    edges = [part for part in parts if part["mark"]["type"] == "line"][:2]
    outer = np.array([[row["x"], row["y"]] for row in edges[1]["data"]["values"]])
    text = next(
        part
        for part in parts
        if part["mark"]["type"] == "text" and part["data"]["values"][0]["text"].endswith(" ft")
    )
    feet = float(text["data"]["values"][0]["text"].split()[0])
    bar = next(
        row
        for part in parts
        if part["mark"]["type"] == "rule"
        for row in part["data"]["values"]
        if row["y"] == row["y2"] == text["data"]["values"][0]["y"] + 11.0
    )
    per_px = feet * 0.3048 / (bar["x2"] - bar["x"])
    check(
        ours=np.ptp(outer, axis=0) * per_px,
        expected=[drawn.STRAIGHT + 2 * (drawn.RADIUS + 9.0), 2 * (drawn.RADIUS + 9.0)],
        rel=2e-3,
        unit="m",
        of="length and breadth of a drawn oval by its own scale bar",
        source="two straights of 130 m and two half circles of 63.6 m",
        kind=DERIVED,
        area="road",
    )


def test_every_form_says_what_sets_the_speed_and_where(tmp_path: Path) -> None:
    track = _map()
    for suffix in ("svg", "png", "pdf", "json"):
        save(track, tmp_path / f"map.{suffix}")
    svg = " ".join(" ".join(ET.parse(tmp_path / "map.svg").getroot().itertext()).split())
    text = " ".join(" ".join(lines(track)).split())
    for word in set(drawn.rules()):
        assert f"{ruling(word).letter} {word}" in svg and f"{ruling(word).letter} {word}" in text
    for name, *_ in drawn.sections():
        assert name in svg and name in text
    assert "start" in svg and "start >" in text and "200 ft" in svg and "200 ft" in text
    pdf = (tmp_path / "map.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-") and re.findall(rb"/Count (\d+)", pdf) == [b"1"]


@pytest.mark.parametrize("width", [390, 1280])
def test_the_map_is_as_wide_as_asked(width: int) -> None:
    described = spec(_map(), width)
    root = ET.fromstring(vl_convert.vegalite_to_svg(described))
    assert width - 16 <= float(root.attrib["width"]) <= width


def test_the_description_keeps_to_the_published_grammar() -> None:
    """The schema of Vega-Lite, as altair carries it."""
    line = drawn.oval(12)
    along = np.arange(12) * drawn.LENGTH / 12
    altair.VConcatChart.from_dict(spec(track_map(line, along, drawn.LENGTH, drawn.rules(12), edges=[line])))


def test_color_on_the_map_has_a_dash_and_a_letter_beside_it() -> None:
    parts = list(drawn.layers(spec(_map(), 960)))
    styles = {
        (part["mark"]["color"], tuple(part["mark"]["strokeDash"]))
        for part in parts
        if part["mark"]["type"] == "line" and "strokeDash" in part["mark"]
    }
    assert styles == {(ruling(word).color, ruling(word).dash) for word in drawn.rules()}
    letters = drawn.words(spec(_map(), 960))
    assert {ruling(word).letter for word in drawn.rules()} <= set(letters)


def test_the_plan_of_characters_shows_the_way_round() -> None:
    plan = lines(_map(), 80)
    top = next(line for line in plan if "PPPP" in line)
    assert top.index("P") < top.rindex("P") and top.index("BBB") < top.index("P"), (
        "the back straight runs left"
    )
    bottom = [line for line in plan if "PPPP" in line][-1]
    assert bottom.index("P") < bottom.index("BBB"), "the front straight runs right"
    assert all(len(line) <= 80 for line in plan)


def test_meters_are_shown_when_asked() -> None:
    track = _map(system="si")
    low, high = track.bounds
    assert track.unit == "m" and high[0] - low[0] == pytest.approx(130.0 + 2 * 63.6, rel=1e-3)
    assert any("50 m" in line for line in lines(track))


def test_missing_points_leave_a_gap() -> None:
    line = drawn.oval()
    line[40:60] = np.nan
    track = track_map(line, ALONG, drawn.LENGTH, drawn.rules(), sections=drawn.sections())
    known = sum(np.isfinite(one.points).all(axis=1).sum() for one in track.stretches)
    assert known < 200
    ET.fromstring(vl_convert.vegalite_to_svg(spec(track)))
    assert all(len(line) <= 80 for line in lines(track))


@pytest.mark.parametrize("line", [np.zeros((0, 2)), np.zeros((5, 2)), np.full((5, 2), np.nan)])
def test_nothing_to_draw_is_said(line: np.ndarray) -> None:
    track = track_map(line, np.arange(len(line)), 10.0, ["power"] * len(line))
    assert "Nothing to draw yet." in lines(track)
    assert "Nothing to draw yet." in drawn.words(spec(track))


place = st.one_of(st.floats(-3000.0, 3000.0), st.just(float("nan")), st.just(float("inf")))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(place, place, st.sampled_from([*RULINGS, "gusts"])), max_size=12),
    st.lists(st.tuples(place, place), max_size=5),
    st.lists(st.tuples(st.text("ab c", max_size=30), st.floats(0, 900), st.floats(0, 900)), max_size=4),
    st.integers(32, 120),
)
def test_any_line_fits_its_width_and_describes_itself(found, edge, sections, width) -> None:
    along = np.arange(len(found)) * 10.0
    track = track_map(
        [one[:2] for one in found],
        along,
        max(len(found), 1) * 10.0,
        [word for *_, word in found],
        edges=[edge],
        sections=sections,
    )
    assert all(len(line) <= width for line in lines(track, width))
    described = spec(track, 390)
    json.dumps(described, allow_nan=False)
