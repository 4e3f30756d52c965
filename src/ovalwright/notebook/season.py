"""The demo's season, entered into a notebook line by line as its owner would, from `demo/season/season.toml`.

Everything in it is invented. Its lap times are drawn by a recipe from three numbers of each run; they are no
answer of the physics.
"""

from __future__ import annotations

import datetime as dt
import math
import random
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import Conditions, Rack, Setup, assemble, read_laps
from ovalwright.notebook import runs, shelf
from ovalwright.notebook.garage import service, work
from ovalwright.notebook.garage.findings import put_right
from ovalwright.notebook.garage.fitting import fitted_for
from ovalwright.notebook.garage.parts import new_part, part_of, put, scrap
from ovalwright.notebook.garage.parts_measured import measure
from ovalwright.notebook.garage.parts_rack import from_rack
from ovalwright.notebook.store import Store
from ovalwright.notebook.tables import Document, Event
from ovalwright.notebook.typed.came_back import keep_set_down
from ovalwright.notebook.typed.entering import enter_run
from ovalwright.notebook.typed.quick import read_line
from ovalwright.notebook.typed.reading_order import read_pressures, read_temperatures
from ovalwright.notebook.typed.set_down_line import read_set_down

OWNER = "owner"
BOOKS = ("weekly", "touring")
MEASURED = dt.date(2026, 3, 7)
"""When the rack was measured before the season."""
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
        season.begin(told["parts"])
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

    def begin(self, others: Iterable[Told]) -> None:
        """The car, the rack with all its tires, every part of it as an individual, and the checklists."""
        text = (self.demo / "rack.toml").read_text(encoding="utf-8")
        known = {tire.id for tire in Rack.from_text(text).tires}
        for one in self.sets.values():
            text += "".join(_tire_text(*tire) for tire in _tires(one) if tire[1] not in known)
        self.rack = Rack.from_text(text, name="rack.toml", folder=self.demo)
        with self.store.entry("what is on the rack") as session:
            shelf.keep(session, self.rack)
            from_rack(session, self.rack, on=MEASURED)
            for one in self.sets.values():
                self._bought(session, one)
        with self.store.entry("the rule books") as session:
            for book in BOOKS:
                shelf.keep_file(session, self.demo / f"rules_{book}.toml")
        with self.store.entry("what else is in the car, and the checklists") as session:
            car = shelf.keep_file(session, self.demo / "car.toml").document
            for one in others:
                self._in_the_car(session, car, one)
            work.ready_lists(session)

    def _bought(self, session: Session, told: Told) -> None:
        """What is known of the tires of a set beside their size; money is private."""
        for corner, mark, _, _ in _tires(told):
            tire = part_of(session, f"tire {mark}")
            tire.compound, tire.date_code = told["compound"], told["date_code"]
            tire.bought_on, tire.paid = told["bought"], told["paid"] / len(CORNERS)
            measure(session, tire, "durometer", _of(corner, told["durometer"]), on=told["bought"])

    def _in_the_car(self, session: Session, car: Document, told: Told) -> None:
        part = new_part(
            session,
            told["kind"],
            told["mark"],
            name=told["name"],
            bought_on=told["bought"],
            paid=float(told["paid"]),
        )
        put(session, part, car, when=dt.datetime.combine(MEASURED, dt.time(18)))
        for job in told["due"]:
            service.tell_interval(session, job["job"], source=job["source"], part=part, laps=job["laps"])

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
        for what, enter_one in (("rounds", self._round), ("rolled", self._rolled), ("jobs", self._jobs)):
            for one in told.get(what, ()):
                with self.store.entry(f"after {told['name']}: {what}") as session:
                    enter_one(session, runs.event_of(session, told["name"]), one)

    # ---------------- the work after it

    def _round(self, session: Session, event: Event, told: Told) -> None:
        """A round through a checklist; everything is done but what is left open."""
        checklist = work.list_of(session, told["list"])
        begun = work.begin_round(session, checklist, event=event)
        left = [work.item_of(session, checklist, words) for words in told.get("open", ())]
        found = {
            work.item_of(session, checklist, key).id: text for key, text in told.get("found", {}).items()
        }
        at = dt.datetime.combine(told["on"], dt.time(18), dt.UTC)
        for item in checklist.items:
            if item not in left:
                seen = found.get(item.id, "")
                work.tick(session, begun, item, by=told["by"], took=told["took"], found=seen, at=at)
        for words, how in told.get("right", {}).items():
            put_right(session, work.item_of(session, checklist, words), how=how, by=told["by"], at=at)
        work.close_round(session, begun, at=at)

    def _rolled(self, session: Session, _event: Event, told: Told) -> None:
        """A set of tires rolled out and looked at once more."""
        for corner, mark, _, pressure in _tires(self.sets[told["set"]]):
            tire, on = part_of(session, f"tire {mark}"), told["on"]
            measure(session, tire, "roll_out", f"{_of(corner, told['roll_out'])} in at {pressure}", on=on)
            measure(session, tire, "durometer", _of(corner, told["durometer"]), on=on)
            measure(session, tire, "tread", f"{_of(corner, told['tread'])} in", on=on)

    def _jobs(self, session: Session, _event: Event, told: Told) -> None:
        """The same job on some parts: done, inspected after a hit, or the parts scrapped."""
        on, by = told["on"], told["by"]
        for part in [part_of(session, mark) for mark in told["parts"].split(", ")]:
            if "rate" in told:
                measure(session, part, "rate", told["rate"], on=on)
            if "done" in told:
                service.done(session, part, told["done"], on=on, by=by)
            if "inspected" in told:
                service.inspected(session, part, on=on, by=by, found=told["inspected"])
            if "scrapped" in told:
                part.note = told["scrapped"]
                scrap(session, part, when=dt.datetime.combine(on, dt.time(18)))

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
        run = enter_run(session, form).run
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


def _of(corner: str, four: str) -> str:
    """What belongs to a corner of four texts in the order LF RF LR RR."""
    return four.split(", ")[CORNERS.index(corner)]


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
    """Temperatures of the treads and hot pressures, in the order read."""
    if "temperatures" in told:
        for one in read_temperatures(told["temperatures"]).readings:
            yield runs.Read("temperature", one.si, one.corner, one.part, typed=one.typed)
    if "hot" in told:
        for one in read_pressures(told["hot"]).readings:
            yield runs.Read("hot", one.si, one.corner, typed=one.typed)
