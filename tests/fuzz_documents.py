"""Seeded mutations of the demo documents: what a tired hand, a bad editor or a wrong file makes of them."""

from __future__ import annotations

import math
import random
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

from ovalwright.documents import KINDS_OF_DOCUMENT, Document, DocumentError
from ovalwright.units import Quantity

DEMO = Path(str(files("ovalwright"))) / "demo"
NASTY = (
    '""', '"nan in"', 'nan', 'inf', '-inf', '"1e999 lb"', '"five in"', '"12 lb"', '"12"', '12', '-0.0',
    'true', '[]', '{}', '{ value = "3 in" }', '{ value = "3 in", from = "gossip" }',
    '{ value = "3 in", give_or_take = "-1 in" }', '{ give_or_take = "1 in" }', '"1/0 in"', '"15 3/8 in"',
    '"3 in/0"', '"1 in^4^4"', '"--3 in"', '"3 inn"', '"2,250 lb/in"', '"1, 2, 3 in"', '"1, 2 in"',
    '"nan, 1, 2 in"', '"-3 lb/in"', '"3 m m m m m m m m m m"', '2026-02-31', '2026-02-27',
    '"' + "9" * 400 + ' in"', "9" * 60, '"\\u0000"', '"none"', '"../rack.toml"', "'''", '"""', '0x7f',
    '1e400', '"1 lb lb lb lb g g g g g g/in"', '"7 parsec"', '"3 degC"', '"3 dB"', '"1 in 2 in"',
    '"1 000 in"',
)  # fmt: skip
BYTES = "\"'[]{}=.,#\n\t \\\0\x1b0123456789-+eEnaif/%\u2212°²é\ufeff"


def kind_of_file(name: str) -> str:
    """Kind of document of a demo file, from its name."""
    return next(kind for kind in KINDS_OF_DOCUMENT if name.startswith(kind))


def mutated(text: str, dice: random.Random) -> str:
    """A text with one to three accidents in it."""
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        text = dice.choice((_character, _line, _value, _value, _key, _header))(text, dice)
    return text


def _character(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text) + 1)
    return (
        text[:at]
        + dice.choice(BYTES) * dice.choice((0, 1, 1, 1, 40))
        + text[at + dice.choice((0, 1, 1, 3)) :]
    )


def _line(text: str, dice: random.Random) -> str:
    lines = text.split("\n")
    first, second = dice.randrange(len(lines)), dice.randrange(len(lines))
    match dice.randrange(3):
        case 0:
            del lines[first]
        case 1:
            lines.insert(second, lines[first])
        case _:
            lines[first], lines[second] = lines[second], lines[first]
    return "\n".join(lines)


def _value(text: str, dice: random.Random) -> str:
    return _swapped(text, dice, r'"[^"\n]*"|\btrue\b|\bfalse\b', dice.choice(NASTY))


def _key(text: str, dice: random.Random) -> str:
    found = list(re.finditer(r"(?m)^(\w+) =", text))
    if not found:
        return text
    key = dice.choice(found)
    other = dice.choice(
        (dice.choice(found)[1], key[1] + "s", key[1][1:] or "x", key[1].upper(), "a.b.c", "like")
    )
    return text[: key.start(1)] + other + text[key.end(1) :]


def _header(text: str, dice: random.Random) -> str:
    made = dice.choice(
        ("[LF]", "[[LF]]", "[bar]", "[a.b]", "[[springs]]", "[rear.points]", "[]", "[x", "like = 'x'")
    )
    return _swapped(text, dice, r"(?m)^\[.*\]$", made)


def _swapped(text: str, dice: random.Random, pattern: str, made: str) -> str:
    found = list(re.finditer(pattern, text))
    if not found:
        return text
    old = dice.choice(found)
    return text[: old.start()] + made + text[old.end() :]


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Stops an input that keeps the processor busy for longer (where the system can tell)."""
    if not hasattr(signal, "ITIMER_VIRTUAL"):
        yield
        return

    def too_long(*_: object) -> None:
        raise TimeoutError(f"this input keeps the processor busy for {seconds:g} seconds")

    before = signal.signal(signal.SIGVTALRM, too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def read_or_told(kind: str, text: str) -> str:
    """The sentence a text is refused with, or nothing when it is read with every number finite."""
    try:
        with at_most(2.0):
            document = KINDS_OF_DOCUMENT[kind].from_text(text, name=f"{kind}.toml", folder=DEMO)
            warnings = document.warnings
    except DocumentError as problem:
        _is_a_sentence(str(problem))
        return str(problem)
    _all_finite(document)
    for warning in warnings:
        _is_a_sentence(warning)
    return ""


def _is_a_sentence(text: str) -> None:
    assert text.isprintable(), repr(text)
    assert text.endswith("."), text
    assert 20 <= len(text) <= 420, text
    assert "Traceback" not in text and "pydantic" not in text, text


def _all_finite(document: Document) -> None:
    for entry in document.entries():
        value = entry.value
        numbers = (
            (value.si, value.give_or_take)
            if isinstance(value, Quantity)
            else (*value.si, *value.give_or_take)
        )
        assert all(math.isfinite(number) for number in numbers), entry
        assert min(numbers[1:] if isinstance(value, Quantity) else numbers[3:]) >= 0, entry


def told(seed: int, count: int) -> tuple[int, int]:
    """Mutate ``count`` times; return how many were refused and how many read. Any failure names its seed."""
    texts = [(kind_of_file(path.name), path.read_text("utf-8")) for path in sorted(DEMO.glob("*.toml"))]
    refused = 0
    for number in range(count):
        dice = random.Random(f"{seed} {number}")
        kind, text = dice.choice(texts)
        text = mutated(text, dice)
        try:
            refused += bool(read_or_told(kind, text))
        except BaseException as problem:
            problem.add_note(f"seed {seed}, input {number}, {kind}:\n{text}")
            raise
    return refused, count - refused
