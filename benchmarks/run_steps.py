"""What one standard deviation of each thing not known does to a run of 40 laps: the table of docs/run.md.

Run as `python benchmarks/run_steps.py`; some minutes. Each is moved up and down, with the grip as it is and
again with the grip matched to the best lap of the run with nothing moved.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

import ovalwright
from ovalwright.documents import Conditions, assemble, load_track
from ovalwright.pack import build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.lap import BRAKE_BAND, DRIVER, USE_BAND, Driver, NoLap
from ovalwright.study.run import Run, run
from ovalwright.study.run_match import matching_run
from ovalwright.study.uncertain import IN_BAND, moved
from ovalwright.vehicle.record import CORNERS

DEMO = Path(ovalwright.__file__).parent / "demo"
SETUP, TRACK = assemble(DEMO / "setup_conventional.toml"), load_track(DEMO / "track_three_eighths.toml")
LINE = groove_line(TRACK, ribbon_of(TRACK))
GEAR, LAPS, SHARE = 5.14, 40, 0.75
DAY = Conditions()
RUBBER = {
    "best": "best temperature, 20 F",
    "window": "window, 40 F",
    "softening": "softening, 0.05 %/F",
    "easing": "rolling resistance by heat, 0.2 %/F",
    "sliding_share": "share of sliding into the tire, 10 %",
    "tread_to_road": "exchange with the road, 25 W/K",
    "tread_to_air": "tread to air, 12 W/K",
    "hot_loss": "loss by time at heat, 1 %",
    "worn_loss": "loss with all of the tread, 8 %",
    "wear": "rate of wear, a factor of 2",
    "wear_heat": "rise that wears 2.7 times as fast, 25 F",
}
Ways = tuple[dict[str, Any], dict[str, Any]]


def driven(
    *,
    values: dict[str, float] | None = None,
    day: Conditions = DAY,
    driver: Driver = DRIVER,
    share: float = SHARE,
    best: float | None = None,
) -> Run:
    """The run with something moved, its grip matched to a best lap [s] where one is given."""
    car = with_fuel(build(SETUP, values={"setup.final_drive": GEAR} | (values or {})), share=share)
    if best is None:
        return run(car, LINE, day, LAPS, driver)
    return matching_run(car, LINE, day, LAPS, best, driver)


def steps() -> Iterator[tuple[str, Ways]]:
    """Everything moved up and down by one standard deviation."""
    for name, told in RUBBER.items():
        held = getattr(SETUP.setup.RF.tire.heat, name)
        up, down = ({f"setup.{c}.tire.heat.{name}": moved(held, z) for c in CORNERS} for z in (1.0, -1.0))
        yield told, ({"values": up}, {"values": down})
    for name, told in (("surface", "road, 12 F"), ("air", "air, 10 F"), ("grip", "grip of the surface, 3 %")):
        held = getattr(DAY, name)
        up_day, down_day = (
            DAY.model_copy(update={name: replace(held, si=moved(held, z))}) for z in (1.0, -1.0)
        )
        yield told, ({"day": up_day}, {"day": down_day})
    for name, band in (("use", USE_BAND), ("brake", BRAKE_BAND)):
        half = band / IN_BAND
        more, less = (replace(DRIVER, **{name: getattr(DRIVER, name) + way * half}) for way in (1.0, -1.0))
        yield f"{name} of the driver, {100 * half:.1f} %", ({"driver": more}, {"driver": less})
    yield "fuel at the start, 4 gal", ({"share": SHARE + 4.0 / 22.0}, {"share": SHARE - 4.0 / 22.0})


def figures(of: Run) -> npt.NDArray[np.float64]:
    """Lap 5, lap 35 and the total [s]."""
    return np.array([of.times[4], of.times[34], of.total])


def main() -> None:
    """Print the table."""
    base = driven()
    zero, best = figures(base), float(base.times.min())
    print(f"as it is, best {best:.3f}: lap 5, lap 35, total {np.round(zero, 3)}")
    for name, ways in steps():
        cells = []
        for matched in (None, best):
            changes = []
            for changed in ways:
                try:
                    changes.append(figures(driven(**changed, best=matched)) - zero)
                except NoLap:
                    changes.append(np.full(3, np.nan))
            digits = (2, 2, 1)
            cells += [f"{up:+.{d}f} / {down:+.{d}f}" for up, down, d in zip(*changes, digits, strict=True)]
        print(f"| {name} | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
