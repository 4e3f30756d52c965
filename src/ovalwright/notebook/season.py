"""The demo's season, entered into a notebook line by line as its owner would, from `demo/season/season.toml`.

Everything in it is invented. Its lap times are drawn by a recipe from three numbers of each run; they are no
answer of the physics.
"""

from __future__ import annotations

import datetime as dt
import math
import random
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.documents import Conditions, Rack, Setup, assemble, read_laps
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.entering import enter_run, keep_set_down
from ovalwright.notebook.fitting import fitted_for
from ovalwright.notebook.parts import CORNERS, find_part
from ovalwright.notebook.parts_measured import measure
from ovalwright.notebook.parts_rack import from_rack
from ovalwright.notebook.quick import read_line
from ovalwright.notebook.set_down_line import read_set_down
from ovalwright.notebook.store import Store
from ovalwright.units import KINDS, parse

OWNER = "owner"
PRESSURES = ("10 psi", "20 psi", "10 psi", "20 psi")
"""At what the tires of a set are rolled out."""

FORM = ("session", "at", "fuel", "fuel_left", "air", "surface", "stagger", "note", "decided")
"""What is typed into the form of a run as it stands in the file."""

Told = Mapping[str, Any]


@dataclass(frozen=True)
class Entered:
    """What was entered."""

    events: int
    runs: int
    laps: int


def enter(store: Store) -> Entered:
    """Enter the whole season into an empty notebook."""
    with resources.as_file(resources.files("ovalwright") / "demo") as demo:
        told = tomllib.loads((demo / "season" / "season.toml").read_text(encoding="utf-8"))
        season = _Season(store, demo, told["recipe"], {one["name"]: one for one in told["sets"]})
        season.begin()
        for event in told["events"]:
            season.event(event)
    return Entered(len(told["events"]), len(season.setups), season.laps)


@dataclass
class _Season:
    """The season as far as it is entered: the setup in the car `now` and those of all runs, by `name of the
    event, run number`, by their codes.
    """

    store: Store
    demo: Path
    recipe: Told
    sets: Mapping[str, Told]
    setups: dict[str, str] = field(default_factory=dict)
    now: str = ""
    laps: int = 0

    def begin(self) -> None:
        """The rack with all its tires, and every part of it as an individual."""
        text = (self.demo / "rack.toml").read_text(encoding="utf-8")
        known = {tire.id for tire in Rack.from_text(text).tires}
        for one in self.sets.values():
            text += "".join(_tire_text(*tire) for tire in _tires(one) if tire[1] not in known)
        self.rack = Rack.from_text(text, name="rack.toml", folder=self.demo)
        with self.store.entry("what is on the rack") as session:
            shelf.keep(session, self.rack)
            from_rack(session, self.rack, on=dt.date(2026, 3, 7))
            for one in self.sets.values():
                self._bought(session, one)

    def _bought(self, session: Session, told: Told) -> None:
        """What is known of the tires of a set beside their size; money is private."""
        hard = told["durometer"].split(", ")
        for (_, mark, _, _), points in zip(_tires(told), hard, strict=True):
            tire = find_part(session, "tire", mark)
            assert tire is not None
            tire.compound, tire.date_code = told["compound"], told["date_code"]
            tire.bought_on, tire.paid = told["bought"], told["paid"] / len(CORNERS)
            measure(session, tire, "durometer", points, on=told["bought"])

    def event(self, told: Told) -> None:
        """A day at a track with its runs."""
        with self.store.entry(f"{told['name']}, the day") as session:
            track = shelf.keep_file(session, self.demo / f"track_{told['track']}.toml")
            weather = shelf.keep(session, _weather(told), name=f"weather of {told['date']}")
            runs.new_event(
                session, told["name"], told["date"], track=track, note=told["note"], spent=told["spent"]
            )
        for number, run in enumerate(told["runs"], start=1):
            self.now = self._setup(run)
            with self.store.entry(f"{told['name']}, run {number}") as session:
                self._run(session, told["name"], weather.code, run)
            self.setups[f"{told['name']}, run {number}"] = self.now

    # ---------------- the setup of a run

    def _setup(self, told: Told) -> str:
        """Code of the setup of a run: the one in the car, or grown from it or from an earlier one."""
        before = self._taken_in(told) if "setup" in told else self.setups.get(told.get("from", ""), self.now)
        line = ", ".join(part for part in (self._tires_on(told), told.get("changed", "")) if part)
        if not line:
            return before
        with self.store.entry(line) as session:
            parent = shelf.revision(session, before, kind="setup")
            changes = read_line(line, shelf.setup_of(parent), rack=self.rack).changes
            return shelf.child(session, parent, changes, reason=_reason(told)).code

    def _taken_in(self, told: Told) -> str:
        setup = Setup.load(self.demo / f"setup_{told['setup']}.toml")
        with self.store.entry(f"setup {setup.name}") as session:
            joined = assemble(setup, rack=self.rack)
            parent = shelf.revision(session, self.now, kind="setup") if self.now else None
            because = told.get("because", "")
            return shelf.keep_assembly(
                session, setup, joined, name=setup.name, reason=because, parent=parent
            ).code

    def _tires_on(self, told: Told) -> str:
        """`LF tire T3, RF tire T9 ...` for another set, as it would be shouted."""
        if "tires" not in told:
            return ""
        return ", ".join(f"{corner} tire {mark}" for corner, mark, _, _ in _tires(self.sets[told["tires"]]))

    # ---------------- a run

    def _run(self, session: Session, event: str, weather: str, told: Told) -> None:
        """Everything of a run, as typed into its forms."""
        form = {key: str(told[key]) for key in FORM if key in told}
        form |= {"event": event, "setup": self.now, "driver": OWNER, "air": told.get("air", weather)}
        self._fitted(session, dt.datetime.combine(runs.event_of(session, event).held_on, told["at"]))
        run, _ = enter_run(session, form)
        laps = read_laps(lap_text(told, self.recipe, f"{event} {run.number}")).laps
        self.laps += len(laps)
        runs.put_laps(session, run, laps)
        runs.add_readings(session, run, _readings(told))
        for said in told.get("said", ()):
            runs.say(session, run, heard(said))
        if "set_down" in told:
            keep_set_down(session, run, read_set_down(told["set_down"]))
        if "hit" in told:
            runs.change_run(session, run, {"hit": told["hit"]})

    def _fitted(self, session: Session, when: dt.datetime) -> None:
        """On the car what its setup names."""
        setup = shelf.revision(session, self.now, kind="setup")
        car = shelf.refers_to(session, setup)["car"].document
        fitted_for(session, shelf.assembly_of(session, setup), car, when)


def _reason(told: Told) -> str:
    """Why a setup was changed; another set of tires on a setup just taken in is its own reason."""
    return f"set {told['tires']} on" if "setup" in told else str(told["because"])


def _tires(told: Told) -> Iterator[tuple[str, str, str, str]]:
    """Corner, mark, roll-out and the pressure it was taken at, of the four tires of a set."""
    sizes = [f"{size} in" for size in told["roll_out"].split(", ")]
    yield from zip(CORNERS, told["marks"].split(), sizes, PRESSURES, strict=True)


def _tire_text(corner: str, mark: str, size: str, pressure: str) -> str:
    """A tire as it stands in a rack's file."""
    side = "left" if corner[0] == "L" else "right"
    told = {"id": mark, "side": side, "roll_out": size, "roll_out_pressure": pressure}
    return "\n".join(["", "[[tires]]", *(f'{key} = "{value}"' for key, value in told.items()), ""])


def _weather(told: Told) -> Conditions:
    lines = (f'{key} = "{value}"' for key, value in told["weather"].items())
    return Conditions.from_text("\n".join(['document = "conditions"', *lines]), name="weather.toml")


# ---------------- laps, and what was read and said


def lap_text(told: Told, recipe: Told, name: str) -> str:
    """The lap list of a run as it was scribbled down, a line a lap: number, time [s], what was in the way.

    The lap time is `pace`, a fall-off of `fade` in ten laps, what the tires lack while they come in, scatter,
    and the traffic; `name` makes the draw the same every time.
    """
    draw = random.Random(f"{recipe['seed']} {name}")
    slow, behind = _laps(told.get("yellow", "")), _laps(told.get("traffic", ""))
    lines = []
    for lap in range(1, told["laps"] + 1):
        time = told["pace"] + told.get("fade", 0.0) * lap / 10
        time += recipe["cold"] * math.exp(-(lap - 1) / recipe["comes_in"])
        time += draw.gauss(0.0, recipe["scatter"]) + recipe["traffic"] * (lap in behind)
        time *= recipe["yellow"] if lap in slow else 1.0
        flag = "caution" if lap in slow else "lapped car" if lap in behind else ""
        lines.append(f"{lap}, {time:.3f}, {flag}")
    return "\n".join(lines)


def _laps(text: str) -> set[int]:
    """`12, 17-20` as laps."""
    spans = [part.split("-") for part in text.split(",") if part.strip()]
    return {lap for span in spans for lap in range(int(span[0]), int(span[-1]) + 1)}


def heard(text: str) -> runs.Said:
    """`tight middle late: up the track` as a comment: where, when and how it felt, then his words."""
    head, _, words = text.partition(":")
    told = head.split()

    def one(among: tuple[str, ...]) -> str:
        return next((word for word in told if word in among), "")

    return runs.Said(phase=one(runs.PHASES), when=one(runs.WHENS), feel=one(runs.FEELS), words=words.strip())


def _readings(told: Told) -> Iterator[runs.Read]:
    """Hot pressures in the order read."""
    for corner, hot in zip(CORNERS, told.get("hot", "").split(), strict=False):
        yield runs.Read("hot", parse(f"{hot} psi", KINDS["pressure"]), corner, typed=f"{hot} psi")
