"""Laps walked or driven: reading them, the road found in them, and what cannot be a lap."""

from __future__ import annotations

import math
from functools import cache

import gpxpy.gpx
import numpy as np
import pytest
from evidence import DERIVED, LIBRARY
from fuzz_documents import at_most
from hypothesis import given, settings
from hypothesis import strategies as st
from ovals import OVALS, ribbon_of
from pyproj import Geod
from scipy.interpolate import make_smoothing_spline

from ovalwright.documents import DocumentError, Track
from ovalwright.documents import walk as reading
from ovalwright.documents.walk import Walk, read_walk
from ovalwright.pack.track import lay
from ovalwright.pack.walk import Walked, ribbon_of_walk, track_text
from ovalwright.road import Ribbon
from ovalwright.road.smooth import smoothed

FOOT = 0.3048
GLOBE = Geod(ellps="WGS84")
HOME = (-80.3, 35.2)


@cache
def oval(name: str) -> Ribbon:
    return ribbon_of(OVALS[name], easement="quintic")


def places(
    name: str, *, spacing: float, laps: float, scatter: float = 0.0, seed: int = 0, wander: float = 0.0
):
    """x, y [m] read around an oval, with scatter that a receiver carries on over `wander` [m]."""
    ribbon = oval(name)
    s = np.arange(0.0, laps * ribbon.length, spacing)
    plan = ribbon.plan(s)
    noise = np.random.default_rng(seed).normal(size=(len(s), 2))
    keep = math.exp(-spacing / wander) if wander else 0.0
    for i in range(1, len(s)):
        noise[i] = keep * noise[i - 1] + math.sqrt(1.0 - keep**2) * noise[i]
    return np.column_stack([plan.x, plan.y]) + scatter * noise


def found(spots: np.ndarray, **more) -> Walked:
    return laid(Walk("walk.csv", False, spots, **more))


def laid(walk: Walk) -> Walked:
    return ribbon_of_walk(walk, width=12.0, bank=math.radians(14.0), straight_bank=math.radians(4.0))


def around_the_middle(ribbon: Ribbon) -> list[float]:
    """Mean radius over the middle half of each end [m]."""
    radii = []
    for section in ribbon.sections:
        if section.turning:
            span = (section.end - section.start) % ribbon.length
            s = section.start + span * np.linspace(0.25, 0.75, 101)
            radii.append(1.0 / float(np.mean(ribbon.hand * ribbon.curvature(s))))
    return radii


# ---------------- the road found


@pytest.mark.parametrize("name", OVALS)
def test_places_without_scatter(name: str, check):
    answer = found(places(name, spacing=2.0, laps=1.0))
    source = "the oval the places were taken from"
    check(
        answer.ribbon.length, oval(name).length, rel=3e-4, unit="m",
        of=f"length of oval {name} from its places", source=source, kind=DERIVED, area="road",
    )  # fmt: skip
    check(
        around_the_middle(answer.ribbon), [OVALS[name].radius] * 2, rel=2e-3, unit="m",
        of=f"radius of oval {name} from its places", source=source, kind=DERIVED, area="road",
    )  # fmt: skip


WAYS = {"walked once": (1.4, 1.0, 0.0), "driven five times": (2.0, 5.0, 0.0), "wandering": (2.0, 5.0, 200.0)}


def recovered(name: str, way: str, seeds: int, check) -> None:
    """Length and radii of an oval from places with a meter of scatter, over some seeds."""
    spacing, laps, wander = WAYS[way]
    lengths, radii = [], []
    for seed in range(seeds):
        spots = places(name, spacing=spacing, laps=laps, scatter=1.0, seed=seed, wander=wander)
        ribbon = found(spots).ribbon
        lengths.append(ribbon.length / oval(name).length)
        radii += [radius / OVALS[name].radius for radius in around_the_middle(ribbon)]
    source = "the oval the places were taken from"
    check(lengths, 1.0, abs=5e-3, of=f"length of oval {name} {way}", source=source, kind=DERIVED, area="road")
    check(radii, 1.0, abs=3e-2, of=f"radii of oval {name} {way}", source=source, kind=DERIVED, area="road")


@pytest.mark.parametrize("way", WAYS)
def test_places_with_a_meter_of_scatter(way, check):
    recovered("C", way, 2, check)


@pytest.mark.proof
@pytest.mark.parametrize("name", OVALS)
@pytest.mark.parametrize("way", WAYS)
def test_many_places_with_a_meter_of_scatter(name, way, check):
    recovered(name, way, 20, check)


def test_places_on_a_far_grid():
    spots = places("B", spacing=2.0, laps=1.0, scatter=0.5)
    here, far = found(spots), found(np.array([512_000.0, 3_890_000.0]) + spots)
    assert far.ribbon.length == pytest.approx(here.ribbon.length, abs=1e-3)


def test_a_lap_the_other_way_turns_right():
    answer = found(places("B", spacing=2.0, laps=1.0)[::-1])
    assert answer.ribbon.hand == -1
    assert answer.ribbon.length == pytest.approx(oval("B").length, rel=2e-4)


def test_a_spot_far_away_does_not_pull():
    spots = places("B", spacing=2.0, laps=2.0, scatter=0.3, seed=5)
    clean = found(spots).ribbon.length
    spots[100] += 40.0
    assert found(spots).ribbon.length == pytest.approx(clean, rel=5e-4)


def test_a_car_parked_in_the_infield_is_not_on_the_road():
    spots = places("B", spacing=2.0, laps=2.0, scatter=0.3, seed=5)
    clean = found(spots).ribbon.length
    parked = np.mean(spots, axis=0) + np.random.default_rng(8).normal(size=(300, 2))
    assert found(np.vstack([parked, spots])).ribbon.length == pytest.approx(clean, rel=5e-4)


@pytest.mark.parametrize("bearing", [0.0, 0.6, 2.2])
def test_a_long_thin_oval_at_any_bearing(bearing):
    thin = ribbon_of(OVALS["C"]._replace(radius=22.0, straight=300.0, clothoid=12.0))
    plan = thin.plan(np.arange(0.0, thin.length, 2.0))
    c, s = math.cos(bearing), math.sin(bearing)
    answer = found(np.column_stack([c * plan.x - s * plan.y, s * plan.x + c * plan.y]))
    assert answer.ribbon.length == pytest.approx(thin.length, rel=1e-3)
    assert around_the_middle(answer.ribbon) == pytest.approx([22.0, 22.0], rel=0.02)


def on_globe(spots: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Longitude and latitude of places by bearing and distance from home."""
    away = np.hypot(*spots.T)
    bearing = np.degrees(np.arctan2(spots[:, 0], spots[:, 1]))
    east, north, _ = GLOBE.fwd(np.full(len(spots), HOME[0]), np.full(len(spots), HOME[1]), bearing, away)
    return np.asarray(east), np.asarray(north)


def test_distances_on_the_globe(check):
    east, north = on_globe(places("A", spacing=1.0, laps=1.0))
    answer = laid(Walk("walk.gpx", True, np.column_stack([east, north])))
    measured = GLOBE.line_length(np.append(east, east[0]), np.append(north, north[0]))
    check(
        answer.ribbon.length, measured, rel=3e-4, unit="m", of="lap from latitudes and longitudes",
        source="pyproj Geod.line_length on WGS 84 through the same places", kind=LIBRARY, area="road",
    )  # fmt: skip


def test_heights_and_banks_of_a_walk():
    ribbon = oval("B")
    s = np.arange(0.0, 2.0 * ribbon.length, 2.0)
    rise = 1.5 * np.sin(2.0 * np.pi * s / ribbon.length)
    noise = np.random.default_rng(2).normal(size=(2, len(s)))
    heights, banks = 200.0 + rise + 0.5 * noise[0], ribbon.bank(s) + 0.01 * noise[1]
    answer = found(places("B", spacing=2.0, laps=2.0), height=heights, bank=banks)
    at = np.linspace(0.0, answer.ribbon.length, 50, endpoint=False)
    told = ribbon.length / answer.ribbon.length * at
    assert answer.banked_by == "walk"
    assert np.abs(answer.ribbon.height(at) - 1.5 * np.sin(2.0 * np.pi * told / ribbon.length)).max() < 0.35
    assert np.degrees(np.abs(answer.ribbon.bank(at) - ribbon.bank(told)).max()) < 1.0
    climbed = found(places("B", spacing=2.0, laps=2.0), grade=np.gradient(rise, s)).ribbon
    assert np.abs(climbed.height(at) - 1.5 * np.sin(2.0 * np.pi * told / ribbon.length)).max() < 0.1


def test_short_waves_are_taken_for_scatter(check):
    """Without scatter, smoothing is least: a wave keeps 1 / (1 + (finest / wave)^6) of its height."""
    period, s = 600.0, np.arange(0.0, 600.0, 1.0)
    for waves in (10, 20):
        shape = np.sin(2.0 * np.pi * waves * s / period)
        kept = 2.0 * np.mean(shape * smoothed(s, shape, period, finest=30.0)(s))
        check(
            kept, 1.0 / (1.0 + (30.0 * waves / period) ** 6), abs=0.02,
            of=f"share kept of a wave of {600 / waves:g} m", kind=DERIVED, area="road",
            source="least squares with a penalty on the third derivative, in sines",
        )  # fmt: skip


def test_the_smooth_curve_against_a_library(check):
    """A closed curve repeated three times and smoothed by SciPy's cubic spline by cross-validation."""
    period, s = 600.0, np.arange(0.0, 600.0, 4.0)
    truth = np.sin(2.0 * np.pi * s / period) + 0.5 * np.cos(6.0 * np.pi * s / period)
    ours, library = [], []
    for seed in range(5):
        read = truth + 0.1 * np.random.default_rng(seed).normal(size=len(s))
        theirs = make_smoothing_spline(np.concatenate([s - period, s, s + period]), np.tile(read, 3))(s)
        ours.append(np.std(smoothed(s, read, period, finest=30.0)(s) - truth))
        library.append(np.std(theirs - truth))
    check(
        np.mean(ours), np.mean(library), rel=0.5,
        of="error of a closed curve from readings with 0.1 of scatter",
        source="SciPy make_smoothing_spline on three laps", kind=LIBRARY, area="road",
    )  # fmt: skip
    assert np.mean(ours) < 0.04


def test_a_walk_is_kept_as_a_track_and_laid_again():
    answer = found(places("B", spacing=2.0, laps=3.0, scatter=0.5, seed=1))
    kept = lay(Track.from_text(track_text(answer, name='In"vented', width=12.0)))
    s = np.arange(0.0, answer.ribbon.length, 3.0)
    assert kept.remarks == ()
    assert kept.ribbon.length == pytest.approx(answer.ribbon.length, abs=1e-3)
    assert np.abs(kept.ribbon.curvature(s) - answer.ribbon.curvature(s)).max() < 2e-4
    assert np.degrees(np.abs(kept.ribbon.bank(s) - answer.ribbon.bank(s)).max()) < 0.1


# ---------------- reading


def rows(spots: np.ndarray, mark: str = ",", head: str = "x (m),y (m)", comma: bool = False) -> str:
    cells = [[f"{value:.3f}" for value in spot] for spot in spots]
    told = [mark.join(cell.replace(".", ",") if comma else cell for cell in row) for row in cells]
    return "\n".join([head, *told]) + "\n"


SPOTS = places("C", spacing=5.0, laps=1.0)
WRITTEN = {
    "plain": rows(SPOTS),
    "with a mark and returns": "\ufeff" + rows(SPOTS).replace("\n", "\r\n"),
    "semicolons and decimal commas": rows(SPOTS, ";", "x (m);y (m)", comma=True),
    "tabs": rows(SPOTS, "\t", "east [m]\tnorth [m]"),
    "feet": rows(SPOTS / FOOT, ",", "X (ft),Y (ft)"),
    "feet one way, meters the other": rows(SPOTS / [FOOT, 1.0], ",", "x_ft,y_m"),
    "units in a row below": rows(SPOTS, ",", "X,Y\n[m],[m]"),
    "a preamble and more columns": "logger 7\n\n"
    + rows(np.column_stack([SPOTS, SPOTS]), ",", "x (m),y (m),v,w"),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_ways_to_write_places(name):
    walk = read_walk(WRITTEN[name])
    assert not walk.on_globe
    assert np.allclose(walk.places, SPOTS, atol=2e-3)
    assert walk.notes == ()


def test_degrees_heights_and_banks_are_read():
    east, north = on_globe(SPOTS)
    body = "\n".join(
        f"{n:.8f};{e:.8f};{700 + i};{i % 7}" for i, (e, n) in enumerate(zip(east, north, strict=True))
    )
    walk = read_walk("Latitude;Longitude;Altitude [ft];Bank (deg)\n" + body)
    assert walk.on_globe
    assert np.allclose(walk.places, np.column_stack([east, north]), atol=1e-7)
    assert walk.height is not None and walk.height[0] == pytest.approx(700 * FOOT)
    assert walk.bank is not None and walk.bank[3] == pytest.approx(math.radians(3.0))


def test_gpx_is_read():
    east, north = on_globe(SPOTS)
    file = gpxpy.gpx.GPX()
    file.tracks.append(gpxpy.gpx.GPXTrack())
    file.tracks[0].segments.append(gpxpy.gpx.GPXTrackSegment())
    file.tracks[0].segments[0].points = [
        gpxpy.gpx.GPXTrackPoint(n, e, elevation=210.0) for e, n in zip(east, north, strict=True)
    ]
    walk = read_walk(file.to_xml(), name="walk.gpx")
    assert np.allclose(walk.places, np.column_stack([east, north]), atol=1e-9)
    assert walk.height is not None and np.all(walk.height == 210.0)


def test_rows_without_a_place_are_set_aside_and_counted():
    text = rows(SPOTS).split("\n")
    text[10], text[20] = "nan,nan", "lost"
    walk = read_walk("\n".join(text), name="walk.csv")
    assert len(walk.places) == len(SPOTS) - 2
    assert walk.notes == ("walk.csv line 11: holds no place and is set aside, one of 2 such.",)


STRAY = "lat,lon\n" + "999,2\n" * 30
BOMB = '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><gpx><name>&b;</name></gpx>'
REFUSED = {
    "nothing": ("", "no headings say which columns hold the places"),
    "no headings": ("1,2\n3,4\n", "no headings say which columns hold the places"),
    "no unit": ("x,y\n1,2\n", "line 1, x: says no unit; head it x (ft) or x (m)"),
    "headings alone": ("x (m),y (m)\n", "holds no places"),
    "off the globe": (STRAY, "line 2: holds no place, as 30 of 30 do; write latitude and"),
    "no numbers": ("lat,lon\n" + "nan,nan\n" * 30, "line 2: holds no place, as 30 of 30 do"),
    "entities": (BOMB, "declares XML entities, no GPX file does"),
    "no GPX": ("<html>", "is no GPX file that can be read"),
    "empty GPX": ('<gpx version="1.1"></gpx>', "holds no places"),
    "two points": ("lat,lon\n35.2,-80.3\n35.3,-80.3\n", "2 places are too few for a lap"),
    "a straight": (rows(np.column_stack([np.arange(90.0), np.zeros(90)])), "lie on one line"),
    "most of a lap": (rows(SPOTS[: len(SPOTS) * 3 // 5]), "% of a lap; go all around it once"),
    "there and back": (rows(np.vstack([SPOTS, SPOTS[::-1], SPOTS, SPOTS])), "turn back on themselves"),
    "inches for meters": (rows(SPOTS, head="x (in),y (in)"), "a lap of 13 m is no oval; check the units"),
    "one place over and over": (rows(np.ones((90, 2))), "lie on one line"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_lap_is_said_in_one_sentence(name):
    text, sentence = REFUSED[name]
    with pytest.raises(DocumentError) as told:
        laid(read_walk(text, name="walk.csv"))
    assert sentence in str(told.value)
    assert str(told.value).startswith("walk.csv")
    assert str(told.value).endswith(".") and "\n" not in str(told.value)


def test_a_file_without_end_is_refused_at_once():
    with at_most(2.0), pytest.raises(DocumentError, match="export the laps of one run alone"):
        read_walk("x (m),y (m)\n" + "1.0,2.0\n" * 2_000_000)


def test_more_places_than_are_looked_at(monkeypatch):
    monkeypatch.setattr(reading, "MOST_PLACES", 100)
    with pytest.raises(DocumentError, match="holds 103 places; export one run, 100 at the most"):
        read_walk(rows(SPOTS))


@settings(max_examples=120, deadline=None)
@given(
    head=st.sampled_from(["lat,lon", "x (m);y (ft)", "x (m),y (m),height", "lat\tlon\tele", "", "<gpx>"]),
    body=st.lists(st.text("0123456789.,;-+e \tnaif\"'°\x00", max_size=30), max_size=40),
)
def test_anything_typed_is_a_walk_or_a_sentence(head, body):
    try:
        laid(read_walk("\n".join([head, *body])))
    except DocumentError as problem:
        assert str(problem).endswith(".")
