"""What one step of each input does to the lap time of the demo's car: the table of docs/lap.md.

Run as `python benchmarks/lap_steps.py`; half a minute.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import ovalwright
from ovalwright.documents import Conditions, Track, assemble
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import ribbon_of
from ovalwright.study.adjustments import put, stepped
from ovalwright.study.lap import DRIVER, Driver, NoLap, lap

DEMO = Path(ovalwright.__file__).parent / "demo"
SETUP = assemble(DEMO / "setup_conventional.toml")
POUND, FOOT = 0.45359237, 0.3048
CURVE = {f"car.engine.curve[{i}].torque": p.torque.si for i, p in enumerate(SETUP.car.engine.curve, start=1)}
CG = "car.sprung.height"
Rewrite = Callable[[str], str]


def seconds(
    track: str, gear: float, *, driver: Driver = DRIVER, values: dict[str, float] | None = None,
    fuel: float = 1.0, groove: str = "middle", rewrite: Rewrite = str, day: Conditions | None = None,
) -> float:  # fmt: skip
    """The lap time with one thing changed."""
    ratio = stepped(SETUP.setup.final_drive, gear - SETUP.setup.final_drive.si, "ratio")
    assembly = put(SETUP, {"final_drive": ratio})
    car: Packed = with_fuel(build(assembly, values=values), share=fuel)
    text = (DEMO / f"track_{track}.toml").read_text(encoding="utf-8")
    oval = Track.from_text(rewrite(text), name=f"track_{track}.toml", folder=DEMO)
    return lap(car, groove_line(oval, ribbon_of(oval), groove), day or Conditions(), driver).time


def steps() -> Iterator[tuple[str, dict[str, Any]]]:
    """Every step with what it changes."""
    yield "grip of tires and surface +1 %", {"driver": replace(DRIVER, grip=1.01)}
    yield "use of the grip 95 to 96 %", {"driver": replace(DRIVER, use=0.96)}
    yield "share of the braking 85 to 90 %", {"driver": replace(DRIVER, brake=0.90)}
    yield "share of the throttle 95 to 100 %", {"driver": replace(DRIVER, throttle=1.0)}
    yield "power +2 % at all revs", {"values": {path: 1.02 * held for path, held in CURVE.items()}}
    drag = SETUP.car.aero.drag_area.si
    yield "drag area -10 %", {"values": {"car.aero.drag_area": 0.9 * drag}}
    front, rear = SETUP.car.aero.front_downforce_area.si, SETUP.car.aero.rear_downforce_area.si
    yield (
        "downforce areas +10 %",
        {
            "values": {
                "car.aero.front_downforce_area": 1.1 * front,
                "car.aero.rear_downforce_area": 1.1 * rear,
            }
        },
    )
    yield "CG of the sprung mass 1 in lower", {"values": {CG: SETUP.car.sprung.height.si - 0.0254}}
    yield (
        "weight -1 % (on all four scales)",
        {
            "values": {
                f"sheet.{corner}.weight": 0.99 * getattr(SETUP.sheet, corner).weight.si
                for corner in ("LF", "RF", "LR", "RR")
            }
        },
    )
    yield "fuel 22 to 2 gal", {"fuel": 2.0 / 22.0}
    yield (
        "bank of the turns +1 deg",
        {"rewrite": lambda text: text.replace('bank = "12 deg"', 'bank = "13 deg"')},
    )
    yield "radii +3 ft, lap as long", {"rewrite": _wider}
    yield "lap +1 % longer, radii the same", {"rewrite": _longer}
    yield "groove low", {"groove": "low"}
    yield "groove high", {"groove": "high"}
    yield "air 20 F warmer", {"day": Conditions.from_text('air = "95 F"\n', name="warm.toml")}


def _straightless(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if not line.startswith("straight ="))


def _wider(text: str) -> str:
    return _straightless(text).replace('"172 ft"', '"175 ft"').replace('"165 ft"', '"168 ft"')


def _longer(text: str) -> str:
    return _straightless(text).replace('"0.375 mi"', '"0.37875 mi"')


def change_of(gear: float, base: float, change: dict[str, Any]) -> str:
    """What a change does to the lap time, as text."""
    try:
        return f"{seconds('three_eighths', gear, **change) - base:+.3f}"
    except NoLap:
        return "no lap"


def main() -> None:
    """Print the table for the gear in the car and for one that meets the limiter less."""
    gears = (5.67, 5.14)
    base = [seconds("three_eighths", gear) for gear in gears]
    print(f"{'as it is':36}" + "".join(f"{time:10.3f}" for time in base))
    for name, change in steps():
        cells = [change_of(gear, time, change) for gear, time in zip(gears, base, strict=True)]
        print(f"{name:36}" + "".join(f"{cell:>10}" for cell in cells))


if __name__ == "__main__":
    main()
