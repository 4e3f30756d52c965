"""The house rules must find what they forbid."""

import importlib.util
from pathlib import Path

import pytest

TOOL = Path(__file__).resolve().parent.parent / "tools" / "house.py"


@pytest.fixture
def house(tmp_path, monkeypatch):
    spec = importlib.util.spec_from_file_location("house", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    return module


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("x = 1\n# " + "TO" + "DO: later\n", "room.py:2: half done"),
        ("raise NotImplemented" + "Error\n", "room.py:1: half done"),
        ("try:\n    x = 1\nexcept ValueError:\n    pa" + "ss\n", "room.py:3: half done"),
        ("path = '/ho" + "me/me/car.toml'\n", "room.py:1: a path of one machine"),
        ("x = 1\n" * 601, "room.py: 601 lines"),
    ],
)
def test_a_fault_is_found_at_its_line(house, tmp_path, text, fault):
    path = tmp_path / "room.py"
    path.write_text(text)
    faults = list(house.faults_of(path))
    assert len(faults) == 1
    assert fault in faults[0]


def test_a_clean_file_has_none(house, tmp_path):
    path = tmp_path / "room.py"
    path.write_text("x = 1\n")
    assert list(house.faults_of(path)) == []


def test_pins_hold_no_addresses(house, tmp_path):
    (tmp_path / "constraints.txt").write_text("numpy==2.4.6\n--index-url https://example.org\n")
    assert list(house.faults_of_pins()) == [
        "constraints.txt:2: '--index-url https://example.org' is not name==version"
    ]
