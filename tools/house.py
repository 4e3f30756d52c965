"""House rules that no general tool checks: short files, nothing half done, no addresses in the pins.

Run as `python tools/house.py`; prints one line per fault and ends with 1 if there is any.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LONGEST = 600
HALF_DONE = re.compile(r"\bTODO\b|\bFIXME\b|\bXXX\b|NotImplementedError|except[^:\n]*:\s*pass\b")
ABSOLUTE_PATH = re.compile(r"[\"'\s(]/(?:work|home|root|Users)/")
PIN = re.compile(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!-]+")


def sources() -> Iterator[Path]:
    """Every Python file of ours except this one, which must spell what it forbids."""
    yield ROOT / "start.py"
    for room in ("src", "tests", "tools", "benchmarks"):
        yield from (path for path in sorted((ROOT / room).rglob("*.py")) if path != Path(__file__).resolve())


def faults_of(path: Path) -> Iterator[str]:
    """Faults of one source file, each with its place."""
    name = path.relative_to(ROOT)
    text = path.read_text(encoding="utf-8")
    lines = text.splitlines()
    if len(lines) > LONGEST:
        yield f"{name}: {len(lines)} lines, and {LONGEST} is the most"
    for rule, word in ((HALF_DONE, "half done"), (ABSOLUTE_PATH, "a path of one machine")):
        for found in rule.finditer(text):
            yield f"{name}:{text.count(chr(10), 0, found.start()) + 1}: {word}: {found.group().strip()!r}"


def faults_of_pins() -> Iterator[str]:
    """Lines of constraints.txt that are not `name==version`."""
    for number, line in enumerate(
        (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines(), start=1
    ):
        if not PIN.fullmatch(line):
            yield f"constraints.txt:{number}: {line!r} is not name==version"


def main() -> int:
    """Print all faults; 1 if there are any."""
    faults = [fault for path in sources() for fault in faults_of(path)] + list(faults_of_pins())
    print(
        "\n".join(faults)
        if faults
        else "nothing half done, no file over the limit, pins are names and versions"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
