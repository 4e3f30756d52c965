"""Accidents in files, typed into every command: one sentence, no hang, no traceback, no silent NaN."""

import random
import re

import pytest
from fuzz_documents import at_most, mutated
from typer.testing import CliRunner

from ovalwright.cli.app import app

SETUPS = ("conventional", "soft_front", "hanging_rr", "no_rr", "giant_bar", "light")
TRACKS = ("flat_quarter", "three_eighths", "steep_half", "bent_five_eighths")
LAPPING = 20.0
"""Seconds of the processor that a dozen laps may take, none of which can start from the one before."""
FACTORS = (0.0, 0.01, 0.3, 0.8, 1.25, 3.0, 40.0, -1.0)
NUMBER = re.compile(r'(?<=")-?\d+(?:\.\d+)?(?=[ "])')


def files_of(dice):
    """One setup of the demo, one track, and the files that a command on the setup reads."""
    setup, track = f"setup_{dice.choice(SETUPS)}.toml", f"track_{dice.choice(TRACKS)}.toml"
    car = "car_light.toml" if "light" in setup else "car.toml"
    return setup, track, [setup, setup.replace("setup", "sheet"), car, "rack.toml"]


def lapped(dice):
    """One command that drives laps, and the files that it reads."""
    setup, track, own = files_of(dice)
    options = (
        ["--groove", "low"],
        ["--groove", "high"],
        ["--fuel", "3 gal"],
        ["--time", "19"],
        ["--json"],
        [],
    )
    return [dice.choice(["lap", "gears"]), setup, track, *dice.choice(options)], [*own, track]


def command(dice):
    """One command on the demo's files and the files that it reads."""
    setup, track, own = files_of(dice)
    sheet, car = own[1:3]
    return dice.choice(
        [
            (["weigh", sheet], [setup, sheet, car]),
            (["check", setup], own),
            (["rounds", setup, "--cross", f"{dice.uniform(45, 60):.1f} %"], own),
            (["legal", setup, "rules_weekly.toml"], [*own, "rules_weekly.toml"]),
            (["turn", setup, track], [*own, track]),
            (
                ["turn", setup, track, "--json", "--air", "conditions_evening.toml"],
                [*own, "conditions_evening.toml"],
            ),
            (["pulldown", setup, track], [*own, track]),
            (["stagger", setup, track], [*own, track]),
            (["compare", "setup_conventional.toml", setup, track, "--draws", "0"], [*own, track]),
        ]
    )


def scaled(text, dice):
    """A text in which one number is another one."""
    found = list(NUMBER.finditer(text))
    if not found:
        return text
    number = dice.choice(found)
    return f"{text[: number.start()]}{float(number[0]) * dice.choice(FACTORS):.6g}{text[number.end() :]}"


def tried(folder, seed, number, of=command, seconds=2.0):
    """Break one file, give one command, and put the file back; returns the exit code."""
    dice = random.Random(f"{seed} {number}")
    words, files = of(dice)
    path = folder / dice.choice(files)
    whole = path.read_bytes()
    broken = dice.choice((mutated, scaled, scaled))(whole.decode(), dice)
    path.write_text(broken, encoding="utf-8")
    written = path.read_bytes()
    try:
        with at_most(seconds):
            result = CliRunner().invoke(app, words, terminal_width=80)
        assert path.read_bytes() == written, "his file was changed"
        assert result.exit_code in (0, 1), result.stderr
        assert "Traceback" not in result.output
        if result.exit_code:
            assert len(result.stderr.strip().splitlines()) == 1, result.stderr
            assert result.stdout == "" and result.stderr.strip().endswith((".", "?")), result.output
        else:
            assert not re.search(r"\b(nan|inf|NaN|Infinity)\b", result.stdout), result.stdout
    except BaseException as problem:
        problem.add_note(f"seed {seed}, input {number}: {' '.join(words)} with {path.name}:\n{broken}")
        raise
    finally:
        path.write_bytes(whole)
    return result.exit_code


def test_accidents_end_in_an_answer_or_in_one_sentence(folder):
    codes = [tried(folder, 7, number) for number in range(150)]
    assert 20 < codes.count(1) < 130, "both ends must be tried"


def test_accidents_around_the_track_end_so_too(folder):
    codes = [tried(folder, 5, number, lapped, LAPPING) for number in range(12)]
    assert 1 < codes.count(1) < 11, "both ends must be tried"


@pytest.mark.proof
def test_many_accidents_around_the_track_end_so_too(folder):
    codes = [tried(folder, 13, number, lapped, LAPPING) for number in range(800)]
    assert 100 < codes.count(1) < 700


@pytest.mark.proof
def test_many_accidents_end_in_an_answer_or_in_one_sentence(folder):
    codes = [tried(folder, 11, number) for number in range(4000)]
    assert 800 < codes.count(1) < 3200
