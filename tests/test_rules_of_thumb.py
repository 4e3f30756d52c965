"""Rules of thumb of the trade over random cars with the full model.

The charts' near-universal rows, and a table of signs by phase and banking. All steps are re-set to the same
heights and cross; a rule counts as confirmed when at least 95 % of the cars agree where the trade says always
or never. Where the full model disagrees the reason is in docs/findings.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from evidence import COMMON_PRACTICE
from numpy.random import Generator, default_rng

import ovalwright
from ovalwright.documents import STATIONS, Assembly, DocumentError, assemble, load_conditions, load_track
from ovalwright.pack import Packed, build, rebuilt_reset, turn_jack_bolts
from ovalwright.study.reading import Spot, balance_near, fueled, tire_limit

DEMO = Path(ovalwright.__file__).parent / "demo"
CONDITIONS = load_conditions(DEMO / "conditions_evening.toml")
TRACKS = {
    "flat": load_track(DEMO / "track_flat_quarter.toml"),
    "banked": load_track(DEMO / "track_three_eighths.toml"),
}
ASSEMBLY = assemble(DEMO / "setup_conventional.toml")
CORNERS = ("LF", "RF", "LR", "RR")
INCH, POUND, RATE = 0.0254, 0.45359237, 175.12683524647636
PLACES = [(track, station.name) for track in TRACKS for station in STATIONS]
HARDLY = 2e-5
"""Change of balance [share of weight x wheelbase] that counts for neither side."""

Numbers = dict[str, object]


def random_car(rng: Generator) -> Numbers:
    """Numbers of a conventional late model drawn over the ranges of the trade's own table of signs."""
    total = rng.uniform(2700.0, 2900.0) * POUND
    left, rear, cross = rng.uniform(0.55, 0.60), rng.uniform(0.48, 0.52), rng.uniform(0.49, 0.58)
    front = 1.0 - rear
    weights = {
        "LF": 0.5 * total * (left + front - cross),
        "RF": 0.5 * total * (front - left + cross),
        "LR": 0.5 * total * (left + cross - front),
        "RR": 0.5 * total * (2.0 - front - left - cross),
    }
    values: Numbers = {f"sheet.{corner}.weight": weight for corner, weight in weights.items()}
    at_wheel = 0.67**2
    for corner in ("LF", "RF"):
        values[f"setup.{corner}.coil.rate"] = rng.uniform(120.0, 350.0) / at_wheel * RATE
    values["setup.LR.coil.rate"] = rng.uniform(130.0, 250.0) * RATE
    values["setup.RR.coil.rate"] = rng.uniform(150.0, 450.0) * RATE
    values["setup.bar.diameter"] = rng.uniform(0.75, 1.35) * INCH
    values["setup.bar.preload"] = 0.0
    values["car.sprung.height"] = rng.uniform(14.0, 18.0) * INCH
    height = rng.uniform(7.5, 11.5) * INCH
    for end in ("frame", "axle"):
        values[f"car.rear.points.links.panhard.{end}"] = raised(
            place(f"rear.points.links.panhard.{end}"), height - 10.5 * INCH
        )
    lift_front(values, rng.uniform(-0.4, 0.4) * INCH)
    return values


def place(path: str) -> tuple[float, float, float]:
    """A point of the demo car."""
    held: object = ASSEMBLY.car
    for part in path.split("."):
        held = held[part] if isinstance(held, dict) else getattr(held, part)
    return held.si  # type: ignore[attr-defined, no-any-return]


def raised(at: object, by: float) -> tuple[float, float, float]:
    x, y, z = at  # type: ignore[misc]
    return (x, y, z + by)


def lift_front(values: Numbers, by: float) -> None:
    """Raise the lower arms' pivots, which raises the front roll center."""
    for corner in ("LF", "RF"):
        for pivot in ("lower_pivot_front", "lower_pivot_rear"):
            path = f"front.points.{corner}.{pivot}"
            values[f"car.{path}"] = raised(values.get(f"car.{path}", place(path)), by)


def scaled(path: str, factor: float) -> Callable[[Numbers], Numbers]:
    return lambda car: {path: float(car[path]) * factor}  # type: ignore[arg-type]


def panhard_up(by: float) -> Callable[[Numbers], Numbers]:
    paths = [f"car.rear.points.links.panhard.{end}" for end in ("frame", "axle")]
    return lambda car: {path: raised(car[path], by) for path in paths}


def front_up(car: Numbers) -> Numbers:
    moved = dict(car)
    lift_front(moved, 0.1 * INCH)
    return {path: value for path, value in moved.items() if car.get(path) != value}


def lead_moved(axis: int, by: float) -> Callable[[Numbers], Numbers]:
    """The heaviest pieces moved along an axis."""

    def change(car: Numbers) -> Numbers:
        moved = {}
        for k in (0, 1):
            at = list(ASSEMBLY.setup.lead[k].place.si)
            at[axis] += by
            moved[f"setup.lead[{k + 1}].place"] = at
        return moved

    return change


def roll_out(corner: str, by: float) -> Callable[[Numbers], Numbers]:
    held = getattr(ASSEMBLY.setup, corner).tire.roll_out.si
    return lambda car: {f"setup.{corner}.tire.roll_out": held + by}


def typed(path: str, value: float) -> Callable[[Numbers], Numbers]:
    return lambda car: {path: value}


TABLE = ("middle flat", "middle banked", "entry flat", "entry banked", "exit flat", "exit banked")
"""Order of the columns of the table of signs."""
T, L = 100.0, 0.0
ALWAYS, NEVER = (T,) * 6, (L,) * 6


@dataclass(frozen=True)
class Rule:
    """A step and the percent of cars it tightens by the trade, per column of TABLE; None: says nothing."""

    name: str
    change: Callable[[Numbers], Numbers] | None
    says: tuple[float | None, ...]
    rounds: dict[str, float] = field(default_factory=dict)


RULES = (
    Rule("cross up (jack bolts)", None, ALWAYS, {"LF": -0.5, "RF": 0.5, "LR": 0.5, "RR": -0.5}),
    Rule("RF +10 %", scaled("setup.RF.coil.rate", 1.1), (T, T, T, T, 86.0, T)),
    Rule("LF +10 %", scaled("setup.LF.coil.rate", 1.1), (T, 31.0, 68.0, 12.0, T, 55.0)),
    Rule("RR +10 %", scaled("setup.RR.coil.rate", 1.1), (L, L, 53.0, L, L, L)),
    Rule("LR +10 %", scaled("setup.LR.coil.rate", 1.1), (L, 53.0, L, 19.0, 8.0, 82.0)),
    Rule("bar +20 %", scaled("setup.bar.diameter", 1.2**0.25), ALWAYS),
    Rule("panhard bar +1/2 in", panhard_up(0.5 * INCH), NEVER),
    Rule("front roll center up", front_up, ALWAYS),
    Rule("rear +1/2 %", lead_moved(0, -15.0 * INCH), NEVER),
    Rule("left +1/2 %", lead_moved(1, 9.2 * INCH), (1.0, 2.0, 2.0, 3.0, 0.0, 3.0)),
    Rule("rear stagger +1/4 in", roll_out("RR", 0.25 * INCH), NEVER),
    Rule("rear stagger -1/4 in", roll_out("RR", -0.25 * INCH), ALWAYS),
    Rule("RR lead +1/16 in", typed("setup.rear_lead", 2.0 / 16.0 * INCH), ALWAYS),
)


def steps_of(base: Packed, car: Numbers, assembly: Assembly) -> dict[str, Packed]:
    """The car with every rule's step, re-set, or as turned for jack bolts."""
    made = {}
    for rule in RULES:
        if rule.change is None:
            made[rule.name] = turn_jack_bolts(base, rule.rounds)
        else:
            made[rule.name] = rebuilt_reset(base, assembly, values={**car, **rule.change(car)})  # type: ignore[dict-item]
    return made


def balances(base: Packed, steps: dict[str, Packed]) -> dict[tuple[str, str], float]:
    """Change of balance by (rule, column), all at the base car's limit."""
    changed = {}
    for track_name, track in TRACKS.items():
        for station in STATIONS:
            spot = Spot(track=track, conditions=CONDITIONS, station=station)
            limit = tire_limit(fueled(base, 1.0, spot), spot)
            if limit is None:
                continue
            for name, step in steps.items():
                change = balance_near(fueled(step, 1.0, spot), limit.state) - limit.balance
                changed[name, f"{station.name} {track_name}"] = change
    return changed


@dataclass
class Count:
    """How many cars a step tightened, loosened, hardly moved."""

    tighter: int = 0
    looser: int = 0
    hardly: int = 0

    @property
    def percent(self) -> float:
        """Percent of the moved cars that were tightened."""
        moved = self.tighter + self.looser
        return 100.0 * self.tighter / moved if moved else math.nan


def counted(cars: int, seed: int) -> tuple[dict[tuple[str, str], Count], int]:
    """Counts over random cars, and how many cars could be built."""
    rng = default_rng(seed)
    counts = {(rule.name, column): Count() for rule in RULES for column in TABLE}
    built = 0
    for _ in range(cars):
        car = random_car(rng)
        try:
            base = build(ASSEMBLY, values=car)  # type: ignore[arg-type]
            changes = balances(base, steps_of(base, car, ASSEMBLY))
        except DocumentError:
            continue
        built += 1
        for key, change in changes.items():
            if not math.isfinite(change):
                continue
            if abs(change) < HARDLY:
                counts[key].hardly += 1
            elif change < 0.0:
                counts[key].tighter += 1
            else:
                counts[key].looser += 1
    return counts, built


CAMBER, TRAVEL = "camber outweighs the springs", "an RF coil that hardly moves"
ENGINE = "the engine brakes the rear tires"
EXPLAINED: dict[tuple[str, str], str] = {
    ("LF +10 %", "middle flat"): CAMBER,
    ("LF +10 %", "exit flat"): CAMBER,
    ("RF +10 %", "middle flat"): TRAVEL,
    ("bar +20 %", "exit banked"): CAMBER,
    ("bar +20 %", "entry flat"): ENGINE,
    ("bar +20 %", "entry banked"): ENGINE,
    ("RR lead +1/16 in", "entry flat"): ENGINE,
    ("RR lead +1/16 in", "entry banked"): ENGINE,
}
"""Cells where the full model disagrees with the table, with the paragraph of docs/findings.md on it."""


def hold_the_rules(check, counts: dict[tuple[str, str], Count], agree: float) -> None:
    """Every always-or-never cell is confirmed by `agree` percent of the cars, or explained."""
    for rule in RULES:
        for says, column in zip(rule.says, TABLE, strict=True):
            if says not in (T, L) or (rule.name, column) in EXPLAINED:
                continue
            percent = counts[rule.name, column].percent
            low, high = (agree, 100.0) if says == T else (0.0, 100.0 - agree)
            check.between(
                percent,
                low,
                high,
                unit="%",
                of=f"{rule.name}, {column}: cars tightened",
                source="table of signs and near-universal rows of the trade's charts",
                kind=COMMON_PRACTICE,
                area="balance",
            )


def test_rules_of_thumb_on_a_few_cars(check) -> None:
    counts, built = counted(12, seed=3)
    assert built >= 11
    hold_the_rules(check, counts, 80.0)


@pytest.mark.proof
def test_rules_of_thumb_on_500_cars(check) -> None:
    counts, built = counted(500, seed=1)
    assert built >= 480
    hold_the_rules(check, counts, 95.0)


if __name__ == "__main__":
    import sys

    found, number = counted(int(sys.argv[1]), seed=1)
    print(number, "cars built")
    for rule in RULES:
        row = [found[rule.name, column] for column in TABLE]
        shown = [
            f"{c.percent:5.1f}({c.tighter + c.looser}/{c.hardly}) [{s}]"
            for c, s in zip(row, rule.says, strict=True)
        ]
        print(f"{rule.name:24}", *shown)
    print(np.array(TABLE))
