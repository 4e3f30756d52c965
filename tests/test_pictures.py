"""Pictures of the lap and the run: one description in every form, numbers where the axes say they are."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import altair
import drawn
import numpy as np
import pytest
import vl_convert
from evidence import LIBRARY, READ
from hypothesis import given, settings
from hypothesis import strategies as st

from ovalwright.pictures import inks
from ovalwright.pictures.chart import Chart
from ovalwright.pictures.chart_svg import chart_svg
from ovalwright.pictures.lap import LapTrace, lap_chart
from ovalwright.pictures.layout import NARROWEST, fitted, round_ticks, word_rows
from ovalwright.pictures.run import RunTrace, run_chart
from ovalwright.pictures.save import save, spec
from ovalwright.pictures.terminal_chart import chart_lines

TWO_LAPS = lap_chart([drawn.lap("hanging RR"), drawn.lap("conventional", 0.8)])
TWO_RUNS = run_chart([drawn.run("hanging RR"), drawn.run("conventional", 0.7)])
CHARTS = pytest.mark.parametrize("chart", [TWO_LAPS, TWO_RUNS], ids=["lap", "run"])


def _said(chart: Chart) -> list[str]:
    """What every form must say."""
    return [
        chart.title,
        *(panel.heading for panel in chart.panels),
        *chart.names,
        *(mark.word for mark in chart.marks),
        *(piece.word for lane in chart.lanes for piece in lane.pieces),
    ]


@CHARTS
def test_the_other_setup_is_dashed_and_the_one_in_question_solid_and_on_top(chart: Chart) -> None:
    root = ET.fromstring(chart_svg(chart, panels=chart.panels[:1], lanes=False))
    ranks = ("curve", "ghost second")
    drawn = [one.get("class") for one in root.iter("path") if one.get("class") in ranks]
    assert drawn == ["ghost second", "curve"]
    lines = chart_lines(chart)
    assert [line.split()[-1] for line in lines[1:3]] == ["(letters)", "line)"]
    dashes = [
        layer["mark"]["strokeDash"]
        for layer in _marked(spec(chart), "line")
        if layer["mark"].get("strokeWidth", 0.0) >= 2.0
    ]
    assert dashes[:2] == [list(inks.PENS[1].dash), [1, 0]]


def _marked(one: Any, kind: str) -> list[dict[str, Any]]:
    """All layers of a description that are drawn with one kind of mark, in order."""
    if isinstance(one, list):
        return [layer for part in one for layer in _marked(part, kind)]
    if not isinstance(one, dict):
        return []
    mark = one.get("mark")
    own = [one] if isinstance(mark, dict) and mark.get("type") == kind else []
    return own + [layer for part in one.values() for layer in _marked(part, kind)]


@CHARTS
def test_one_description_gives_every_form(chart: Chart, tmp_path: Path) -> None:
    for suffix in ("svg", "png", "pdf", "json"):
        save(chart, tmp_path / f"picture.{suffix}")
    text = " ".join(" ".join(chart_lines(chart)).split())
    svg = " ".join(" ".join(ET.parse(tmp_path / "picture.svg").getroot().itertext()).split())
    kept = " | ".join(drawn.words(json.loads((tmp_path / "picture.json").read_text())))
    for word in _said(chart):
        assert word in text and word in svg and word in kept, word
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG\r\n")
    pdf = (tmp_path / "picture.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-") and re.findall(rb"/Count (\d+)", pdf) == [b"1"]
    assert b"FontFile" in pdf, "the fonts travel with the page"


@CHARTS
@pytest.mark.parametrize("width", [390, 1280])
def test_a_picture_is_as_wide_as_asked(chart: Chart, width: int) -> None:
    root = ET.fromstring(vl_convert.vegalite_to_svg(spec(chart, width)))
    assert width - 16 <= float(root.attrib["width"]) <= width


def test_the_description_keeps_to_the_published_grammar() -> None:
    """The schema of Vega-Lite, as altair carries it; validating is slow, so the laps are short ones."""
    for chart in (lap_chart([drawn.lap(stations=9)]), run_chart([drawn.run(laps=3), drawn.run(laps=3)])):
        altair.VConcatChart.from_dict(spec(chart, 390))


def test_curves_stand_where_the_axis_says(check) -> None:
    """The drawn pixels, read by the numbers beside them, give back the speeds that were asked for."""
    lap = drawn.lap()
    root = ET.fromstring(vl_convert.vegalite_to_svg(spec(lap_chart([lap]), 960)))
    parents = {child: parent for parent in root.iter() for child in parent}
    line = next(group for group in root.iter() if "mark-line" in group.get("class", ""))
    heights = np.array(re.findall(r"[ML](?:-?[\d.e-]+),(-?[\d.e-]+)", line[0].attrib["d"]), dtype=float)
    panel = parents[line]
    labels = next(group for group in panel.iter() if "role-axis-label" in group.get("class", ""))
    at = [float(re.findall(r",(-?[\d.]+)\)", one.attrib["transform"])[0]) for one in labels]
    slope, start = np.polyfit(at, [float(one.text) for one in labels], 1)
    middle = 4.0
    drawn_mph = start + slope * (heights + middle)
    check(
        ours=[drawn_mph.min(), drawn_mph.max(), drawn_mph[0]],
        expected=[np.min(lap.speed) / 0.44704, np.max(lap.speed) / 0.44704, lap.speed[0] / 0.44704],
        abs=0.05,
        unit="mph",
        of="speed read off a drawn lap",
        source="NIST SP 811, B.8: 1 mph is 0.44704 m/s; pixels by vl-convert",
        kind=LIBRARY,
        area="lap",
    )


def test_si_is_shown_when_asked() -> None:
    chart = lap_chart([drawn.lap()], system="si")
    speed, load = chart.panels[0], chart.panels[2]
    assert (speed.unit, load.unit) == ("km/h", "N")
    assert chart.span[1] == pytest.approx(drawn.LENGTH)
    assert speed.curves[0].y.max() == pytest.approx(np.max(drawn.lap().speed) * 3.6)
    assert load.curves[0].y.max() == pytest.approx(np.max(drawn.lap().loads[:, 1]))


def test_a_lap_ends_as_it_began_and_its_loads_share_a_scale() -> None:
    for panel in TWO_LAPS.panels:
        for curve in panel.curves:
            assert curve.y[0] == curve.y[-1] and curve.x[-1] == TWO_LAPS.span[1]
    loads = [panel for panel in TWO_LAPS.panels if panel.title.endswith("load")]
    assert [panel.title[:2] for panel in loads] == ["LF", "RF", "LR", "RR"]
    assert len({TWO_LAPS.extent(panel) for panel in loads}) == 1
    assert TWO_LAPS.extent(loads[0]) == pytest.approx((0.0, 1210.0), abs=0.1)


def test_what_sets_the_speed_covers_the_lap_once() -> None:
    for lane in TWO_LAPS.lanes:
        ends = [piece.end for piece in lane.pieces]
        assert [piece.start for piece in lane.pieces] == [0.0, *ends[:-1]]
        assert ends[-1] == TWO_LAPS.span[1]


def test_events_say_their_feet_and_stand_there() -> None:
    mark = TWO_LAPS.marks[0]
    assert mark.word == "262 ft RF stop engages" and mark.at == pytest.approx(80.0 / 0.3048)


def test_a_section_over_the_start_line_is_drawn_at_both_ends() -> None:
    ends = [zone for zone in TWO_LAPS.zones if zone.word == "front straight"]
    assert [ends[0].start, ends[-1].end] == [0.0, pytest.approx(TWO_LAPS.span[1])]


def test_laps_under_yellow_are_marked_and_left_out() -> None:
    assert [(zone.start, zone.end, zone.word) for zone in TWO_RUNS.zones] == [(17.5, 21.5, "yellow")]
    time = TWO_RUNS.panels[0].curves[0]
    assert np.isnan(time.y[17:21]).all() and np.nanmax(time.y) < 17.0
    assert any("under yellow" in line for line in chart_lines(TWO_RUNS))


def test_a_value_of_the_car_has_one_panel_and_of_the_tires_four() -> None:
    stagger = replace(drawn.run(), beside=np.linspace(0.06, 0.05, 40))
    chart = run_chart([stagger], beside="stagger", kind="roll_out")
    assert [panel.heading for panel in chart.panels] == ["Lap time, s", "Stagger, in"]
    assert [panel.title for panel in TWO_RUNS.panels[1:]] == ["LF tread", "RF tread", "LR tread", "RR tread"]
    assert TWO_RUNS.panels[1].curves[0].y[0] == pytest.approx(300.0 * 9 / 5 - 459.67)


def test_nan_leaves_a_gap_in_every_form() -> None:
    lap = drawn.lap()
    speed = np.array(lap.speed)
    speed[60:80] = np.nan
    chart = lap_chart([replace(lap, speed=speed)])
    rows = [line for line in chart_lines(chart) if "|" in line][1:10]
    columns = [any(line[at : at + 1] not in ("", " ") for line in rows) for at in range(8, 80)]
    assert not any(columns[23:28]) and all(columns[:20]) and all(columns[31:])
    line = next(one for one in drawn.layers(spec(chart)) if one["mark"]["type"] == "line")
    assert [value["y"] for value in line["data"]["values"]][60:80] == [None] * 20
    path = re.search(r'mark-line[^>]*>\s*<path[^>]* d="([^"]+)"', vl_convert.vegalite_to_svg(spec(chart)))
    assert path is not None and path[1].count("M") == 2


@pytest.mark.parametrize(
    "chart", [lap_chart([]), run_chart([]), run_chart([RunTrace("none", ())])], ids=["lap", "run", "no laps"]
)
def test_nothing_to_draw_is_said(chart: Chart) -> None:
    assert "Nothing to draw yet." in chart_lines(chart)
    assert "Nothing to draw yet." in drawn.words(spec(chart))
    vl_convert.vegalite_to_svg(spec(chart))


def test_a_run_of_one_lap_is_drawn() -> None:
    chart = run_chart([drawn.run(laps=1)])
    assert all(len(line) <= 80 for line in chart_lines(chart))
    vl_convert.vegalite_to_svg(spec(chart))


def test_more_than_can_be_told_apart_is_refused() -> None:
    with pytest.raises(ValueError, match="7 laps in one picture cannot be told apart; draw 6 at the most"):
        lap_chart([drawn.lap()] * 7)
    assert len(lap_chart([drawn.lap()] * 6).names) == len(inks.PENS) == 6


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"lap\.gif: a picture is kept as \.svg, \.png, \.pdf or \.json"):
        save(TWO_LAPS, tmp_path / "lap.gif")
    assert not list(tmp_path.iterdir())


def test_a_missing_library_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vl_convert", None)
    with pytest.raises(ValueError, match=r"^lap\.pdf: drawing it needs vl-convert-python"):
        save(TWO_LAPS, tmp_path / "lap.pdf")
    save(TWO_LAPS, tmp_path / "lap.vl.json")
    assert json.loads((tmp_path / "lap.vl.json").read_text())["title"]["text"] == "The lap"


def _linear(color: str) -> np.ndarray:
    """Linear sRGB of a color written #RRGGBB."""
    parts = np.array([int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def _luminance(color: str) -> float:
    return float(np.dot([0.2126, 0.7152, 0.0722], _linear(color)))


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_text_and_lines_stand_out_from_the_paper(check) -> None:
    text = [(ink, under) for ink in (inks.INK, inks.LABEL) for under in (inks.PAPER, inks.ZONE, inks.BAND)]
    text += [(pen.color, inks.PAPER) for pen in inks.PENS]
    text += [(one.color, inks.PAPER) for one in inks.RULINGS.values()]
    text += [(inks.INK, one.tint) for one in inks.RULINGS.values()]
    for name, pairs, least in (("text", text, 4.5), ("rules", [(inks.RULE, inks.PAPER)], 3.0)):
        check.between(
            min(_contrast(*pair) for pair in pairs),
            least,
            21.0,
            of=f"least contrast of {name} in pictures",
            source="WCAG 2.2, relative luminance and success criteria 1.4.3 and 1.4.11",
            kind=READ,
            area="lap",
        )


SEEN_AS = {
    "all colors": np.eye(3),
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
}
"""Linear sRGB as it looks to those who see reds and greens alike."""
TO_XYZ = [
    [0.4124564, 0.3575761, 0.1804375],
    [0.2126729, 0.7151522, 0.0721750],
    [0.0193339, 0.1191920, 0.9503041],
]


def _lab(color: str, seen_as: np.ndarray) -> np.ndarray:
    """CIE L*a*b* of a color under daylight D65."""
    xyz = np.array(TO_XYZ) @ np.clip(np.array(seen_as) @ _linear(color), 0.0, 1.0) / [0.95047, 1.0, 1.08883]
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("who", SEEN_AS)
def test_colors_differ_for_those_who_see_fewer(check, who: str) -> None:
    for name, colors, least in (
        ("what sets the speed", [one.color for one in inks.RULINGS.values()], 20.0),
        ("laps", [pen.color for pen in inks.PENS], 12.0),
    ):
        seen = [_lab(color, SEEN_AS[who]) for color in colors]
        check.between(
            min(float(np.linalg.norm(one - other)) for one, other in combinations(seen, 2)),
            least,
            200.0,
            of=f"least difference of two colors for {name}, {who}, CIE 1976",
            source="Machado, Oliveira, Fernandes 2009, matrices of severity 1",
            kind=READ,
            area="lap",
        )


def test_color_is_never_the_only_difference() -> None:
    rulings = list(inks.RULINGS.values())
    assert len({one.letter for one in rulings}) == len({one.hatch for one in rulings}) == len(rulings)
    assert len({one.dash for one in rulings}) == len(rulings)
    assert len({pen.dash for pen in inks.PENS}) == len(inks.PENS)


def test_a_word_out_of_the_table_is_drawn_with_its_letter() -> None:
    lap = drawn.lap()
    chart = lap_chart([replace(lap, rules=["gusts"] * 200)])
    assert any("G gusts" in line for line in chart_lines(chart))
    assert "G gusts" in drawn.words(spec(chart))


numbers = st.one_of(st.floats(-1e6, 1e6), st.just(float("nan")), st.just(float("inf")))
anything = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=40)


@st.composite
def laps(draw: st.DrawFn) -> LapTrace:
    count = draw(st.integers(0, 12))
    length = draw(st.floats(1.0, 5000.0))
    column = st.lists(numbers, min_size=count, max_size=count)
    place = st.floats(0.0, length)
    return LapTrace(
        name=draw(anything),
        distance=[number * length / max(count, 1) for number in range(count)],
        length=length,
        speed=draw(column),
        loads=np.array([draw(column) for _ in range(4)]).T,
        lateral=draw(column),
        rules=draw(st.lists(st.sampled_from([*inks.RULINGS, "gusts", ""]), min_size=count, max_size=count)),
        events=draw(st.lists(st.tuples(place, anything), max_size=6)),
        sections=draw(st.lists(st.tuples(anything, place, place), max_size=4)),
    )


@settings(max_examples=30, deadline=None)
@given(st.lists(laps(), max_size=3), st.integers(NARROWEST, 120), st.sampled_from(["us", "si"]))
def test_any_lap_fits_its_width_and_describes_itself(found: list[LapTrace], width: int, system: str) -> None:
    chart = lap_chart(found, system=system)
    assert all(len(line) <= width for line in chart_lines(chart, width))
    json.dumps(spec(chart, 390), allow_nan=False)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(numbers, max_size=30),
    st.lists(st.booleans(), max_size=40),
    st.one_of(st.none(), st.integers(1, 60)),
    st.integers(NARROWEST, 120),
)
def test_any_run_fits_its_width_and_describes_itself(
    times: list[float], yellow: list[bool], away: int | None, width: int
) -> None:
    chart = run_chart([RunTrace("A", times, times, times, yellow, away, np.outer(times, np.ones(4)))])
    assert all(len(line) <= width for line in chart_lines(chart, width))
    json.dumps(spec(chart, 390), allow_nan=False)


@given(
    st.lists(st.tuples(st.floats(0.0, 100.0), st.floats(1.0, 60.0)), max_size=12),
)
def test_words_of_marks_never_lie_over_each_other(found: list[tuple[float, float]]) -> None:
    at, widths = [place for place, _ in found], [width for _, width in found]
    placed = word_rows(at, widths, 100.0)
    spans = [
        (row, place - width if left else min(place, max(0.0, 100.0 - width)), width)
        for place, width, (row, left) in zip(at, widths, placed, strict=True)
    ]
    for number, (row, start, width) in enumerate(spans):
        for other, begin, wide in spans[:number]:
            assert row != other or start + width <= begin or begin + wide <= start


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5), st.integers(1, 12))
def test_ticks_are_round_and_within(low: float, width: float, most: int) -> None:
    ticks = round_ticks(low, low + width, most)
    slack = 1e-6 * (abs(low) + width)
    assert len(ticks) <= most + 1 and all(low - slack <= tick <= low + width + slack for tick in ticks)


@pytest.mark.parametrize(
    ("word", "room", "lines"),
    [
        ("turns 1 and 2", 20, ["turns 1 and 2"]),
        ("back straight", 8, ["back", "straight"]),
        ("front straight", 6, ["front"]),
        ("front straight", 3, []),
        ("yellow", 3, ["Y"]),
        ("", 3, []),
    ],
)
def test_words_shrink_to_their_room(word: str, room: int, lines: list[str]) -> None:
    assert fitted(word, room) == lines


def test_a_window_that_is_too_narrow_is_named() -> None:
    with pytest.raises(ValueError, match="A picture needs 32 columns, and the window has 20; make it wider"):
        chart_lines(TWO_LAPS, 20)


def test_drawing_in_the_terminal_loads_no_drawing_library() -> None:
    source = "import sys, ovalwright.pictures.save, ovalwright.pictures.terminal_chart; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=True).stdout
    assert "vl_convert" not in loaded and "altair" not in loaded
