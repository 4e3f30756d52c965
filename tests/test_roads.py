"""The command that shows a track laid out, or finds it in a walk."""

import json
import math
import re

import numpy as np
import pytest
from asked import good, refused
from ovals import OVALS, ribbon_of
from test_cli import NEW

from ovalwright.pictures.plan import plan_lines

TRACKS = (
    "track_flat_quarter.toml",
    "track_steep_half.toml",
    "track_three_eighths.toml",
    "track_bent_five_eighths.toml",
)


def walked(path, scatter=0.3):
    """Two laps of an invented oval in a file."""
    ribbon = ribbon_of(OVALS["B"])
    plan = ribbon.plan(np.arange(0.0, 2.0 * ribbon.length, 3.0))
    noise = scatter * np.random.default_rng(1).normal(size=(2, len(plan.x)))
    lines = [f"{x:.2f};{y:.2f}" for x, y in zip(plan.x + noise[0], plan.y + noise[1], strict=True)]
    path.write_text("x (m);y (m)\n" + "\n".join(lines).replace(".", ","), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", TRACKS)
@pytest.mark.parametrize("units", [(), ("--si",)])
def test_a_track_is_shown(folder, name, units):
    told = good("road", name, *units)
    assert max(map(len, told.splitlines())) <= 80
    for word in ("front straight", "turns 3 and 4", "low", "middle", "high", "wall"):
        assert word in told
    assert "*" not in told


def test_figures_of_a_track(folder):
    told = good("road", "track_three_eighths.toml")
    assert re.search(r"turns 1 and 2 +6\d\d ft +172 ft +12.0 deg", told)
    assert re.search(r"lap along the inside edge +1,980 ft", told)
    answer = json.loads(good("road", "track_three_eighths.toml", "--json"))["answer"]
    assert answer["inside"] == pytest.approx(0.375 * 1609.344)
    assert sum(one["turned"] for one in answer["stretches"]) == pytest.approx(2.0 * math.pi)
    assert answer["stretches"][0]["radius"] is None


def test_the_track_of_a_new_car_can_be_laid(folder):
    good("new", "mine", *NEW)
    assert "front straight" in good("road", "mine/track.toml")


def test_a_track_is_found_in_a_walk_and_kept(folder):
    told = good("road", "mine.toml", "--from-walk", walked(folder / "walk.csv"), "--bank", "14 deg")
    assert "Written: mine.toml" in told
    assert "2.0 laps" in told
    assert re.search(r"turns 1 and 2 +\S+ ft +24\d ft +1[34].\d deg", told)
    assert "amounts written" in good("check", "mine.toml")


def test_what_cannot_be_is_one_sentence(folder):
    walk = walked(folder / "walk.csv")
    assert "is there already" in refused("road", "track_flat_quarter.toml", "--from-walk", walk)
    assert "--width" in refused("road", "mine.toml", "--from-walk", walk, "--width", "45 deg")
    assert "is not there" in refused("road", "mine.toml", "--from-walk", "nowhere.csv")
    walk.write_text("1,2\n3,4\n", encoding="utf-8")
    assert "no headings" in refused("road", "mine.toml", "--from-walk", walk)
    assert not (folder / "mine.toml").exists()
    (folder / "odd.toml").write_text(
        'length = "0.2 mi"\n[[ends]]\nradius = "180 ft"\nbank = "9 deg"\n', encoding="utf-8"
    )
    assert "ends alone are 295 ft longer" in refused("road", "odd.toml")


@pytest.mark.parametrize("hand", [1.0, -1.0])
def test_the_plan_lies_with_its_front_straight_below(hand):
    plan = ribbon_of(OVALS["A"]).plan(np.arange(0.0, 730.0, 4.0))
    lines = plan_lines(np.column_stack([plan.x, hand * plan.y]), [("here", 0)])
    assert "S" in lines[-1]
    assert max(map(len, lines)) <= 64
    assert any("here" in line for line in lines[len(lines) // 2 :])
    middle = lines[len(lines) // 2].rstrip()
    assert middle[0] == "." and middle[-1] == "."
