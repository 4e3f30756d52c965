"""The one file that must work before anything is installed."""

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

START = Path(__file__).resolve().parent.parent / "start.py"


@pytest.fixture
def start(tmp_path: Path) -> ModuleType:
    """start.py as a module that believes it lives in an empty folder with a space in its name."""
    spec = importlib.util.spec_from_file_location("start", START)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    here = tmp_path / "my race car"
    here.mkdir()
    (here / "pyproject.toml").write_text("[project]\n")
    (here / "constraints.txt").write_text("")
    module.HERE = str(here)
    module.VENV = str(here / ".venv")
    module.PYTHON = str(here / ".venv" / "bin" / "python")
    module.PIP_LOG = str(here / ".venv" / "install-log.txt")
    return module


def test_an_old_python_is_told_what_is_needed_in_one_line():
    source = START.read_text()
    old = source.replace("sys.version_info < (3, 11)", "True")
    done = subprocess.run([sys.executable, "-c", old], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "3.11 or newer" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_wrong_word_shows_the_four_words_and_fails():
    done = subprocess.run([sys.executable, str(START), "race"], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert all(word in done.stdout for word in ("demo", "test", "proof", "setup"))


def test_python_without_venv_parts_is_one_sentence(start, monkeypatch):
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(SystemExit, match="sudo apt install python3-venv"):
        start.make_environment()


def test_a_folder_that_cannot_be_written_is_one_sentence(start, capsys):
    Path(start.VENV).write_text("a file where the folder should go")
    assert start.start(["setup"]) == 1
    said = capsys.readouterr().out.splitlines()
    assert "copy Ovalwright to a folder that you own" in said[-1]
    assert len(said) == 2


def test_a_stopped_run_says_how_to_go_on(start, monkeypatch, capsys):
    def stopped(words):
        raise KeyboardInterrupt

    monkeypatch.setattr(start, "main", stopped)
    assert start.start(["demo"]) == 130
    assert "give the same command again" in capsys.readouterr().out


def test_an_environment_of_another_computer_does_not_count(start):
    python = Path(start.PYTHON)
    python.parent.mkdir(parents=True)
    python.write_bytes(b"not a program of this computer")
    python.chmod(0o755)
    assert not start.environment_works()


def _process_that_says(log, code):
    """Stands in for `Popen`: a real process that prints `log` and ends with `code`."""
    real = subprocess.Popen
    program = f"import sys; print({log!r}); sys.exit({code})"
    return lambda command, **options: real([sys.executable, "-c", program], **options)


@pytest.mark.parametrize(
    ("log", "sentence"),
    [
        ("WARNING: Retrying ... NewConnectionError: Temporary failure", "The network cannot be reached"),
        ("ERROR: No matching distribution found for numba", "could not be installed for Python 3"),
    ],
)
def test_a_failed_install_is_one_sentence_and_passes_the_exit_code_on(
    start, monkeypatch, capsys, log, sentence
):
    Path(start.VENV).mkdir()
    monkeypatch.setattr(start, "PYTHON", sys.executable)
    monkeypatch.setattr(start.subprocess, "Popen", _process_that_says(log, code=7))
    with pytest.raises(SystemExit) as stopped:
        start.install(["setuptools"])
    assert stopped.value.code == 7
    said = capsys.readouterr().out
    assert sentence in said
    assert len(said.splitlines()) == 1


def test_the_second_time_installs_nothing_until_a_list_changes(start, monkeypatch):
    installed = []
    monkeypatch.setattr(start, "make_environment", lambda: Path(start.VENV).mkdir(exist_ok=True))
    monkeypatch.setattr(start, "install", installed.append)
    monkeypatch.setattr(start, "compile_package", lambda meanwhile: 0)
    start.make_ready("")
    assert len(installed) == 2
    start.make_ready("")
    assert len(installed) == 2
    Path(start.HERE, "constraints.txt").write_text("numpy==2\n")
    start.make_ready("")
    assert len(installed) == 4


def test_a_break_before_the_end_leaves_no_stamp(start, monkeypatch):
    monkeypatch.setattr(start, "make_environment", lambda: Path(start.VENV).mkdir(exist_ok=True))

    def broken(arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(start, "install", broken)
    with pytest.raises(KeyboardInterrupt):
        start.make_ready("")
    assert not start.is_ready("")


def test_an_environment_made_for_the_tests_serves_the_demo(start, monkeypatch):
    monkeypatch.setattr(start, "make_environment", lambda: Path(start.VENV).mkdir(exist_ok=True))
    monkeypatch.setattr(start, "install", lambda arguments: None)
    monkeypatch.setattr(start, "compile_package", lambda meanwhile: 0)
    start.make_ready("[test]")
    assert start.is_ready("")


def test_every_step_runs_and_the_first_failure_is_passed_on(start, monkeypatch, capsys):
    codes = iter([0, 3, 5])
    monkeypatch.setattr(start, "run", lambda arguments: next(codes))
    assert start.run_steps((("a", []), ("b", []), ("c", []))) == 3
    said = capsys.readouterr().out
    assert "a: ok" in said
    assert "b: FAILED (exit code 3)" in said
    assert "c: FAILED (exit code 5)" in said


def _compiled_beside(start, monkeypatch, *, lint, physics, log="Compiled in 90 s"):
    """How it ends: the exit code, whether it left at once, with the steps `ruff` and `mypy` beside it."""
    monkeypatch.setattr(start, "run", lambda arguments: lint if "ruff" in arguments else 0)
    monkeypatch.setattr(start.subprocess, "Popen", _process_that_says(log, physics))
    try:
        return start.compile_package((("ruff", ["ruff"]), ("mypy", ["mypy"]))), False
    except SystemExit as left:
        return left.code, True


def test_the_physics_compiles_beside_the_steps_and_both_are_told_of(start, monkeypatch, capsys):
    assert _compiled_beside(start, monkeypatch, lint=3, physics=0) == (3, False)
    said = [line for line in capsys.readouterr().out.splitlines() if "waiting" not in line]
    assert said[0].startswith("Compiling the physics beside these checks: a minute or two")
    assert said[-2:] == ["== mypy: ok", "Compiled in 90 s"]


@pytest.mark.parametrize(("lint", "code"), [(0, 4), (3, 3)])
def test_a_failed_compile_hides_no_failed_step(start, monkeypatch, capsys, lint, code):
    assert _compiled_beside(start, monkeypatch, lint=lint, physics=4) == (code, True)
    last = capsys.readouterr().out.splitlines()[-1]
    assert last.startswith("== the physics: FAILED (exit code 4)")
    assert last.endswith("and a check failed before it") == bool(lint)


def test_who_waits_for_the_physics_alone_is_told_so(start, monkeypatch, capsys):
    real = subprocess.Popen
    stalls = "import sys; sys.stdin.read(); print('no room on the disk', file=sys.stderr); sys.exit(1)"
    begun = []

    def popen(command, **options):
        begun.append(real([sys.executable, "-c", stalls], stdin=subprocess.PIPE, **options))
        return begun[-1]

    monkeypatch.setattr(start, "run", lambda arguments: 0)
    monkeypatch.setattr(start.subprocess, "Popen", popen)
    with pytest.raises(SystemExit):
        start.compile_package((("mypy", ["mypy"]),))
    said = capsys.readouterr().out.splitlines()
    assert said[-4:-1] == ["== mypy: ok", "== waiting for the physics", "no room on the disk"]


def test_steps_run_also_where_all_is_ready(start, monkeypatch):
    monkeypatch.setattr(start, "is_ready", lambda extra: True)
    monkeypatch.setattr(start, "run", lambda arguments: 5)
    assert start.make_ready("[test]", (("a", []),)) == 5
    assert start.make_ready("[test]") == 0
