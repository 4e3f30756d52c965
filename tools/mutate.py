"""Break one formula at a time and see that a check with an outside source notices.

Run as `python tools/mutate.py`, or with words that pick mutations by name. Each mutation is one line of the
package changed in a copy; the sourced tests of the file that watches that line run against the copy. Only a
failed comparison counts, no crash. Ends with 1 if any mutation goes unnoticed. The copy stays in its place
from one mutation to the next, so that only a changed kernel is compiled again.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, kw_only=True)
class Mutation:
    """One wrong line: in `file`, `right` (which must stand there exactly once) becomes `wrong`; the tests
    that must notice are those of `noticed_by`."""

    name: str
    file: str
    right: str
    wrong: str
    noticed_by: str

    def of(self, text: str) -> str:
        """The text of the file with the wrong line; ends the run if its line has moved."""
        if text.count(self.right) != 1:
            sys.exit(f"{self.name}: {self.file} must hold {self.right!r} exactly once")
        return text.replace(self.right, self.wrong)


MUTATIONS = (
    Mutation(
        name="motion ratio upside down",
        file="mechanics/handbook.py",
        right="return rate * motion_ratio**2",
        wrong="return rate / motion_ratio**2",
        noticed_by="handbook_springs",
    ),
    Mutation(
        name="stagger of the inner tire's radius",
        file="mechanics/handbook.py",
        right="/ (1.0 - tread / (2.0 * radius))",
        wrong="/ (1.0 + tread / (2.0 * radius))",
        noticed_by="stagger",
    ),
    Mutation(
        name="gauge pressure in the gas law",
        file="mechanics/handbook.py",
        right="return (gauge + ambient) * now_at / (filled_at * (1.0 + volume_growth)) - ambient",
        wrong="return gauge * now_at / (filled_at * (1.0 + volume_growth))",
        noticed_by="handbook_tires",
    ),
    Mutation(
        name="bank falling outward",
        file="mechanics/handbook.py",
        right="side * (toward_center * math.cos(bank) - GRAVITY * math.sin(bank))",
        wrong="side * (toward_center * math.cos(bank) + GRAVITY * math.sin(bank))",
        noticed_by="handbook_banking",
    ),
    Mutation(
        name="banked turn without the added normal force",
        file="mechanics/handbook.py",
        right="max(slope + grip, 0.0) / (1.0 - grip * slope)",
        wrong="max(slope + grip, 0.0)",
        noticed_by="handbook_banking",
    ),
    Mutation(
        name="gravity down the bank turned around",
        file="vehicle/frame.py",
        right="        g * cg * sb - v * spin_t[2]",
        wrong="        -g * cg * sb - v * spin_t[2]",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="yaw rate of 1/R on a bank, not cos b / R",
        file="vehicle/frame.py",
        right="spin_t = (v * along[0], v * along[1], v * along[2] + motion.yaw_rate_extra)",
        wrong="spin_t = (v * along[0], v * along[1], v * motion.curvature + motion.yaw_rate_extra)",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="rear stagger turned around: the tires change places",
        file="vehicle/blocks.py",
        right="tire = car.tire[2 + side]",
        wrong="tire = car.tire[3 - side]",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="propshaft torque turned around",
        file="vehicle/blocks.py",
        right="go.heave_spin[0], go.roll_spin[0])",
        wrong="-go.heave_spin[0], -go.roll_spin[0])",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="motion ratio of the bar upside down",
        file="mechanics/linkage.py",
        right="dot(link, foot_speed) / dot(link, tip_speed)",
        wrong="dot(link, tip_speed) / dot(link, foot_speed)",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="warp turned around",
        file="vehicle/frame.py",
        right="        -along[1],\n        along[0],",
        wrong="        -along[1],\n        -along[0],",
        noticed_by="against_rigid_bodies",
    ),
    Mutation(
        name="cross weight on the other diagonal",
        file="study/weigh.py",
        right='"cross_weight": (0, 1, 1, 0)',
        wrong='"cross_weight": (1, 0, 0, 1)',
        noticed_by="weigh",
    ),
    Mutation(
        name="bank of the lap falling outward",
        file="solve/sweep.py",
        right="lean=GRAVITY * cg * sb",
        wrong="lean=-GRAVITY * cg * sb",
        noticed_by="point_mass_lap",
    ),
    Mutation(
        name="crest that presses the car down",
        file="solve/sweep.py",
        right="dip=bend * sb + crest * cb",
        wrong="dip=bend * sb - crest * cb",
        noticed_by="point_mass_lap",
    ),
    Mutation(
        name="climb that pushes",
        file="solve/sweep.py",
        right="climb=GRAVITY * np.sin(grade)",
        wrong="climb=-GRAVITY * np.sin(grade)",
        noticed_by="point_mass_lap",
    ),
    Mutation(
        name="inside of a turn longer than its outside",
        file="road/line.py",
        right="steady(1.0, bend) - n * bend * c",
        wrong="steady(1.0, bend) + n * bend * c",
        noticed_by="road",
    ),
    Mutation(
        name="curvature of the path per meter of the spine",
        file="road/line.py",
        right="(bend.value + turned.first) / level.value",
        wrong="bend.value + turned.first",
        noticed_by="road",
    ),
    Mutation(
        name="lateral acceleration with gravity up the bank",
        file="study/stations.py",
        right='return float(push - motion["gravity"]',
        wrong='return float(push + motion["gravity"]',
        noticed_by="turn",
    ),
    Mutation(
        name="altimeter setting taken for the pressure of the place",
        file="pack/road.py",
        right="- ATMOSPHERE**power + standard**power",
        wrong="",
        noticed_by="pack",
    ),
    Mutation(
        name="fuel that runs to the inside",
        file="pack/masses.py",
        right="cell.left - outward, height)",
        wrong="cell.left + outward, height)",
        noticed_by="pack",
    ),
    Mutation(
        name="raised axle on the sine of its tilt",
        file="study/cg_height.py",
        right="(total * np.tan(_tilt(values)))",
        wrong="(total * np.sin(_tilt(values)))",
        noticed_by="cg_height",
    ),
    Mutation(
        name="stagger wanted without the bank",
        file="study/stagger.py",
        right=' * math.cos(motion["bank"])',
        wrong="",
        noticed_by="stagger",
    ),
    Mutation(
        name="lead taken off that stays on",
        file="study/lead.py",
        right="Lump(mass=-lump.mass",
        wrong="Lump(mass=lump.mass",
        noticed_by="lead",
    ),
    Mutation(
        name="a high pad that lowers its corner",
        file="study/pads.py",
        right="+= [heights.get(corner",
        wrong="-= [heights.get(corner",
        noticed_by="pads",
    ),
    Mutation(
        name="brakes front for rear",
        file="mechanics/heat.py",
        right="[front, front, 1.0 - front, 1.0 - front]",
        wrong="[1.0 - front, 1.0 - front, front, front]",
        noticed_by="heat",
    ),
    Mutation(
        name="tire that slides sideways without heat",
        file="mechanics/heat.py",
        right=' + corners["side"] * np.tan(corners["slip_angle"])',
        wrong="",
        noticed_by="heat",
    ),
    Mutation(
        name="heat of rolling counted twice",
        file="mechanics/heat.py",
        right="(1.0 - at.carcass_share) * rolling",
        wrong="rolling",
        noticed_by="heat",
    ),
    Mutation(
        name="fuel burned twice",
        file="study/run.py",
        right="self.fuel -= burn",
        wrong="self.fuel -= 2.0 * burn",
        noticed_by="run",
    ),
    Mutation(
        name="laps that follow each other counted for more",
        file="study/repeats.py",
        right="(1.0 + self.correlation) / (1.0 - self.correlation)",
        wrong="(1.0 - self.correlation) / (1.0 + self.correlation)",
        noticed_by="repeats",
    ),
    Mutation(
        name="best of one lap more",
        file="study/repeats.py",
        right="** (laps - 1))",
        wrong="** laps)",
        noticed_by="repeats",
    ),
    Mutation(
        name="tires that come in counted as fall-off",
        file="study/falloff.py",
        right="theilslopes(t[late], k[late]",
        wrong="theilslopes(t, k",
        noticed_by="falloff",
    ),
    Mutation(
        name="who leads by one lap's gain",
        file="study/falloff.py",
        right="lead = np.cumsum(gains)",
        wrong="lead = gains",
        noticed_by="falloff",
    ),
    Mutation(
        name="pressure in pounds on a foot",
        file="units/text.py",
        right="LBF / INCH**2, PRESSURE",
        wrong="LBF / INCH, PRESSURE",
        noticed_by="units",
    ),
)


@contextmanager
def broken(mutation: Mutation, folder: Path) -> Iterator[None]:
    """The copy in `folder` with the mutation in it, and as it was afterwards."""
    path = folder / "src" / "ovalwright" / mutation.file
    path.write_text(mutation.of(path.read_text(encoding="utf-8")), encoding="utf-8")
    yield
    shutil.copy2(ROOT / "src" / "ovalwright" / mutation.file, path)


def failed_check(files: Iterable[str], folder: Path) -> str:
    """The first failed comparison of the sourced tests of some files against the copy; empty if all hold."""
    settings = {
        "PYTHONPATH": str(folder / "src"),
        "OVALWRIGHT_CACHE": str(folder / "cache"),
        "COLUMNS": "200",
    }
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-m", "sourced and not proof"]
    done = subprocess.run(
        [*command, "-p", "no:cacheprovider", *(f"tests/test_{name}.py" for name in sorted(set(files)))],
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
    unnoticed = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        shutil.copytree(
            ROOT / "src", folder / "src", ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
        )
        if before := failed_check((mutation.noticed_by for mutation in chosen), folder):
            print(f"{before} fails before anything is broken")
            return 1
        for mutation in chosen:
            with broken(mutation, folder):
                test = failed_check([mutation.noticed_by], folder)
            unnoticed += not test
            print(f"{mutation.name}: {f'noticed by {test}' if test else 'NOT NOTICED'}", flush=True)
    print(f"{len(chosen) - unnoticed} of {len(chosen)} noticed")
    return 1 if unnoticed or not chosen else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
