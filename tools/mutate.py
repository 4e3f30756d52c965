"""Break one formula at a time and see that a check with an outside source notices.

Run as `python tools/mutate.py`, or with words that pick mutations by name. Each mutation is one line of the
package changed in a copy; the sourced tests run against the copy. Only a failed comparison counts, no
crash. Ends with 1 if any mutation goes unnoticed.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, kw_only=True)
class Mutation:
    """One wrong line: in `file`, `right` (which must stand there exactly once) becomes `wrong`."""

    name: str
    file: str
    right: str
    wrong: str


MUTATIONS = (
    Mutation(
        name="motion ratio upside down",
        file="mechanics/handbook.py",
        right="return rate * motion_ratio**2",
        wrong="return rate / motion_ratio**2",
    ),
    Mutation(
        name="stagger of the inner tire's radius",
        file="mechanics/handbook.py",
        right="/ (1.0 - tread / (2.0 * radius))",
        wrong="/ (1.0 + tread / (2.0 * radius))",
    ),
    Mutation(
        name="gauge pressure in the gas law",
        file="mechanics/handbook.py",
        right="return (gauge + ambient) * now_at / (filled_at * (1.0 + volume_growth)) - ambient",
        wrong="return gauge * now_at / (filled_at * (1.0 + volume_growth))",
    ),
    Mutation(
        name="bank falling outward",
        file="mechanics/handbook.py",
        right="side * (toward_center * math.cos(bank) - GRAVITY * math.sin(bank))",
        wrong="side * (toward_center * math.cos(bank) + GRAVITY * math.sin(bank))",
    ),
    Mutation(
        name="banked turn without the added normal force",
        file="mechanics/handbook.py",
        right="max(slope + grip, 0.0) / (1.0 - grip * slope)",
        wrong="max(slope + grip, 0.0)",
    ),
    Mutation(
        name="gravity down the bank turned around",
        file="vehicle/frame.py",
        right="        g * cg * sb - v * spin_t[2]",
        wrong="        -g * cg * sb - v * spin_t[2]",
    ),
    Mutation(
        name="yaw rate of 1/R on a bank, not cos b / R",
        file="vehicle/frame.py",
        right="spin_t = (v * along[0], v * along[1], v * along[2] + motion.yaw_rate_extra)",
        wrong="spin_t = (v * along[0], v * along[1], v * motion.curvature + motion.yaw_rate_extra)",
    ),
    Mutation(
        name="rear stagger turned around: the tires change places",
        file="vehicle/blocks.py",
        right="tire = car.tire[2 + side]",
        wrong="tire = car.tire[3 - side]",
    ),
    Mutation(
        name="propshaft torque turned around",
        file="vehicle/blocks.py",
        right="go.heave_spin[0], go.roll_spin[0])",
        wrong="-go.heave_spin[0], -go.roll_spin[0])",
    ),
    Mutation(
        name="motion ratio of the bar upside down",
        file="mechanics/linkage.py",
        right="dot(link, foot_speed) / dot(link, tip_speed)",
        wrong="dot(link, tip_speed) / dot(link, foot_speed)",
    ),
    Mutation(
        name="warp turned around",
        file="vehicle/frame.py",
        right="        -along[1],\n        along[0],",
        wrong="        -along[1],\n        -along[0],",
    ),
    Mutation(
        name="cross weight on the other diagonal",
        file="study/weigh.py",
        right='"cross_weight": (0, 1, 1, 0)',
        wrong='"cross_weight": (1, 0, 0, 1)',
    ),
)


def mutated(mutation: Mutation | None, folder: Path) -> Path:
    """A copy of the sources in `folder` with the mutation in it; ends the run if its line has moved."""
    source = folder / "src"
    shutil.copytree(ROOT / "src", source, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
    if mutation is not None:
        path = source / "ovalwright" / mutation.file
        text = path.read_text(encoding="utf-8")
        if text.count(mutation.right) != 1:
            sys.exit(f"{mutation.name}: {mutation.file} must hold {mutation.right!r} exactly once")
        path.write_text(text.replace(mutation.right, mutation.wrong), encoding="utf-8")
    return source


def failed_check(mutation: Mutation | None) -> str:
    """The first failed comparison of the sourced tests against the copy; empty if all of them hold."""
    with tempfile.TemporaryDirectory() as folder:
        source = mutated(mutation, Path(folder))
        settings = {
            "PYTHONPATH": str(source),
            "OVALWRIGHT_CACHE": str(Path(folder) / "cache"),
            "COLUMNS": "200",
        }
        command = [sys.executable, "-m", "pytest", "-q", "-x", "-m", "sourced and not proof"]
        done = subprocess.run(
            [*command, "-p", "no:cacheprovider"],
            cwd=ROOT,
            env={**os.environ, **settings},
            capture_output=True,
            text=True,
            check=False,
        )
    failed = re.search(r"^FAILED (.+?) - (?:AssertionError|assert)", done.stdout, flags=re.MULTILINE)
    if done.returncode != 0 and failed is None:
        sys.exit(f"the sourced tests could not run:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return failed.group(1) if failed else ""


def main(words: list[str]) -> int:
    """Run the chosen mutations, one line each; 1 if any goes unnoticed."""
    chosen = [mutation for mutation in MUTATIONS if all(word in mutation.name for word in words)]
    if broken := failed_check(None):
        print(f"{broken} fails before anything is broken")
        return 1
    unnoticed = 0
    for mutation in chosen:
        test = failed_check(mutation)
        unnoticed += not test
        print(f"{mutation.name}: {f'noticed by {test}' if test else 'NOT NOTICED'}", flush=True)
    print(f"{len(chosen) - unnoticed} of {len(chosen)} noticed")
    return 1 if unnoticed or not chosen else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
