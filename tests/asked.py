"""The command line asked in the process of the tests; its commands are built once, which takes longest."""

import functools
import json
import re

import pytest
import typer.testing
from typer.testing import CliRunner

from ovalwright.cli.app import app
from ovalwright.cli.screen import program

NAN = re.compile(r"\b(nan|inf)\b", re.IGNORECASE)
typer.testing._get_command = functools.cache(typer.testing._get_command)


def ask(*words, answers=None):
    """What a command says and its exit code."""
    return CliRunner().invoke(app, [str(word) for word in words], input=answers, terminal_width=80)


def good(*words, answers=None):
    """What a command that succeeds says."""
    result = ask(*words, answers=answers)
    assert result.exit_code == 0, result.stderr
    assert "Traceback" not in result.output
    assert not NAN.search(result.stdout)
    return re.sub(r'"[^"\n]*[/\\]ovalwright"', "ovalwright", result.stdout)


def told(*words, answers=None):
    """The answer as JSON."""
    return json.loads(good(*words, "--json", answers=answers), parse_constant=pytest.fail)


def fits(text):
    """The text, wherever the program that it names lies, is no wider than the screen."""
    assert max(map(len, text.replace(program(), "ovalwright").splitlines()), default=0) <= 80, text
    return text


def refused(*words, code=1, answers=None):
    """The one sentence on stderr of a command that is refused."""
    result = ask(*words, answers=answers)
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, result.stderr
    return lines[0]


def ended(*words, as_json, answers=None):
    """What a command of any words says: it ends in an answer, as JSON where that was asked for, or in one
    sentence on stderr."""
    result = ask(*words, answers=answers)
    assert result.exit_code in (0, 1, 2), result.output
    assert "Traceback" not in result.output
    if result.exit_code:
        assert len(result.stderr.strip().splitlines()) == 1, result.stderr
        assert result.stdout == "" and result.stderr.strip().endswith((".", "?", "!")), result.output
    elif as_json:
        json.loads(result.stdout, parse_constant=pytest.fail)
    return result
