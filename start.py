"""Ovalwright from nothing: `python3 start.py demo`, `test`, `proof` or `setup` (Python 3.11 or newer)."""

from __future__ import print_function

import sys

if sys.version_info < (3, 11):
    sys.exit(
        "Ovalwright needs Python 3.11 or newer and this is Python %d.%d: install a newer one "
        "(python.org has it) and start again with it." % sys.version_info[:2]
    )

import hashlib
import os
import subprocess

HERE = os.path.dirname(os.path.abspath(__file__))
VENV = os.path.join(HERE, ".venv")
PYTHON = (
    os.path.join(VENV, "Scripts", "python.exe") if os.name == "nt" else os.path.join(VENV, "bin", "python")
)
PIP_LOG = os.path.join(VENV, "install-log.txt")
PROGRESS_MARKS = ("Collecting", "Downloading", "Processing", "Installing collected")
NETWORK_MARKS = (
    "NewConnectionError",
    "NameResolutionError",
    "Max retries exceeded",
    "ConnectTimeoutError",
    "ReadTimeoutError",
    "ProxyError",
    "Network is unreachable",
)

USAGE = """usage: python3 start.py demo | test | proof | setup
  demo   make ready if need be, then show one car on the scales and in the turn
  test   make ready if need be, then run every quick check
  proof  make ready if need be, then run the long checks (many minutes)
  setup  only make ready: a private .venv beside this file, nothing elsewhere"""

CONTRACTS = "from importlinter.cli import lint_imports_command as check; check()"
SHARED_OUT = ["-n", "auto", "--maxprocesses", "4", "--dist", "loadfile"]
READ = (
    ("ruff check", ["-m", "ruff", "check", "."]),
    ("ruff format", ["-m", "ruff", "format", "--check", "."]),
    ("mypy", ["-m", "mypy"]),
    ("import contracts", ["-c", CONTRACTS]),
    ("house rules", ["tools/house.py"]),
)
TESTS = (("tests, and docs/evidence.md is fresh", ["-m", "pytest"] + SHARED_OUT + ["--check-evidence"]),)
PROOF = (
    (
        "long proof, and docs/proof.md is fresh",
        ["-m", "pytest", "-m", "proof"] + SHARED_OUT + ["--check-evidence"],
    ),
    ("broken formulas are noticed", ["tools/mutate.py"]),
)


def say(text):
    print(text)
    sys.stdout.flush()


def run(arguments):
    """Exit code of `python arguments` in the private environment, as a shell would give it."""
    return as_shell(subprocess.call([PYTHON] + arguments, cwd=HERE))


def as_shell(code):
    """An exit code as a shell gives it: one that a signal ended has 128 and the signal's number."""
    return code if code >= 0 else 128 - code


def fingerprint(extra):
    """What an installed environment depends on: both lists, the folder, the Python, the extra."""
    digest = hashlib.sha256(("%s %s %s" % (HERE, sys.version, extra)).encode("utf-8"))
    for name in ("pyproject.toml", "constraints.txt"):
        with open(os.path.join(HERE, name), "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()


def is_ready(extra):
    """Whether the environment was finished for these lists; one made for the tests serves the rest too."""
    for made_for in (extra, "[test]"):
        try:
            with open(os.path.join(VENV, "ready" + made_for)) as file:
                if file.read() == fingerprint(made_for):
                    return True
        except (IOError, OSError):
            continue
    return False


def environment_works():
    """Whether `.venv` holds a Python of this computer with pip; one copied from elsewhere does not."""
    try:
        return subprocess.call([PYTHON, "-c", "import pip"], stderr=subprocess.DEVNULL) == 0
    except OSError:
        return False


def make_environment():
    """Create `.venv` unless a working one is there."""
    if environment_works():
        return
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        sys.exit(
            "This Python came without its venv parts: on Debian or Ubuntu run "
            "`sudo apt install python3-venv`, then start again."
        )
    say("Making a private Python environment in %s" % VENV)
    try:
        venv.create(VENV, with_pip=True, clear=True)
    except subprocess.CalledProcessError:
        sys.exit(
            "Python could not put pip into %s: on Debian or Ubuntu run `sudo apt install python3-venv`, "
            "elsewhere reinstall Python, then start again." % VENV
        )


def install(arguments):
    """Run one pip install, showing a line per library; leave with one clear sentence if it fails."""
    pip = ["-m", "pip", "install", "--only-binary", ":all:", "--constraint", "constraints.txt"]
    pip += ["--disable-pip-version-check", "--progress-bar", "off"]
    lines = []
    with subprocess.Popen(
        [PYTHON] + pip + arguments, cwd=HERE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as process:
        for raw in process.stdout:
            lines.append(raw.decode("utf-8", "replace").strip())
            if lines[-1].startswith(PROGRESS_MARKS):
                say("  " + lines[-1].split(" (from ")[0][:100])
    code = process.returncode
    if code == 0:
        return
    with open(PIP_LOG, "wb") as file:
        file.write("\n".join(lines).encode("utf-8"))
    if any(mark in line for mark in NETWORK_MARKS for line in lines):
        say("The network cannot be reached: connect this computer once, then give the same command again.")
    else:
        errors = [line for line in lines if line.startswith("ERROR")] or lines[-1:] or ["no word from pip"]
        say(
            "A library could not be installed for Python %d.%d on %s: %s (the whole story is in %s)."
            % (sys.version_info[:2] + (sys.platform, errors[0], PIP_LOG))
        )
    sys.exit(code)


def make_ready(extra, meanwhile=()):
    """Environment, libraries, the package itself, compiled kernels; nothing at all when already done.

    Steps that need no kernel run `meanwhile`, or by themselves; returns their first exit code that is not 0.
    """
    if is_ready(extra):
        return run_steps(meanwhile)
    make_environment()
    say("Installing the libraries: a few minutes the first time; after a break just start again")
    install(["setuptools"])
    install(["--no-build-isolation", "--editable", "." + extra])
    failure = compile_package(meanwhile)
    with open(os.path.join(VENV, "ready" + extra), "w") as file:
        file.write(fingerprint(extra))
    return failure


def compile_package(meanwhile):
    """Compile the kernels while the steps run, and say afterwards how that went.

    Returns the first exit code of the steps that is not 0; leaves if the compiling fails, with theirs if any.
    """
    # An install in place leaves the package's own bytecode to whoever starts it first, if he may write.
    run(["-m", "compileall", "-q", "src"])
    if meanwhile:
        say("Compiling the physics beside these checks: a minute or two on an ordinary laptop")
    shown = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT} if meanwhile else {}
    with subprocess.Popen([PYTHON, "-m", "ovalwright.compile"], cwd=HERE, **shown) as process:
        failure = run_steps(meanwhile)
        if process.poll() is None and meanwhile:
            say("== waiting for the physics")
        said, _ = process.communicate()
    if said:
        say(said.decode("utf-8", "replace").rstrip())
    if process.returncode:
        code = as_shell(process.returncode)
        also = ", and a check failed before it" if failure else ""
        say("== the physics: FAILED (exit code %d)%s" % (code, also))
        sys.exit(failure or code)
    return failure


def run_steps(steps):
    """Run every step, name each, and return the first exit code that is not 0."""
    first_failure = 0
    for name, arguments in steps:
        say("== %s" % name)
        code = run(arguments)
        say("== %s: %s" % (name, "ok" if code == 0 else "FAILED (exit code %d)" % code))
        first_failure = first_failure or code
    return first_failure


def main(words):
    if len(words) != 1 or words[0] not in ("demo", "test", "proof", "setup"):
        say(USAGE)
        return 0 if words in (["-h"], ["--help"]) else 2
    if words[0] == "test":
        failures = [make_ready("[test]", READ), run_steps(TESTS)]
        return next(filter(None, failures), 0)
    make_ready("[test]" if words[0] == "proof" else "")
    if words[0] == "demo":
        return run(["-m", "ovalwright", "demo"])
    if words[0] == "setup":
        say("Ready: `python3 start.py demo` shows what it does.")
        return 0
    return run_steps(PROOF)


def start(words):
    """`main`, with one sentence for what may go wrong anywhere in it."""
    try:
        return main(words)
    except KeyboardInterrupt:
        say("\nStopped: give the same command again to go on from here.")
        return 130
    except OSError as error:
        say(
            "Cannot work in %s (%s): copy Ovalwright to a folder that you own and that has room, such as "
            "your home folder, and start again." % (HERE, error.strerror or error)
        )
        return 1


if __name__ == "__main__":
    sys.exit(start(sys.argv[1:]))
