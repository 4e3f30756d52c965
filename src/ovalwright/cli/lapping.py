"""The car around the track."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ovalwright.cli.contract import MEANING, told
from ovalwright.cli.door import Trouble, said_by
from ovalwright.cli.options import ToDrive
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.turning import START_SLOW, guessed
from ovalwright.cli.typed import air, joined, quantity, track_of
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Conditions, Track
from ovalwright.pack import Packed, build, with_fuel
from ovalwright.pack.grooves import groove_line
from ovalwright.pack.track import lay
from ovalwright.pictures.lap import LapTrace, lap_chart
from ovalwright.pictures.save import Picture, lines, save
from ovalwright.pictures.track import TrackMap, track_map
from ovalwright.road import Line
from ovalwright.study.bands import Band, Progress
from ovalwright.study.driver_said import matched_said, uses_said
from ovalwright.study.free import FREE, MIDDLE, free_lap
from ovalwright.study.held_back import held_back
from ovalwright.study.lap import DRIVER, STEADY, Driver, Lap, NoLap, matching_lap
from ovalwright.study.lap import lap as lap_study
from ovalwright.study.lap_band import lap_band
from ovalwright.study.lap_reading import OnTheCar, edges_of, on_the_car, ruled, sections_along, told_rules
from ovalwright.vehicle.record import CORNER, MOTION, UNKNOWNS

LITTLE = 0.1
"""A band narrower than this [s] says that nothing guessed counts."""
NOT_IN_IT = f"{STEADY} The driver's shares are guessed; --use, --brake and --throttle change them."


@dataclass(frozen=True)
class Job:
    """What is driven where: the car at its fuel, the line, the day; line and fuel in words."""

    assembly: Assembly
    packed: Packed
    oval: Track
    line: Line
    day: Conditions
    driver: Driver
    way: str
    fuel: str

    @property
    def where(self) -> str:
        """Track, line and fuel in words."""
        return f"{self.oval.name}, {self.way}, {self.fuel}"


def job_of(screen: Screen, asked: ToDrive) -> Job:
    """Read what was typed. Raises Trouble or DocumentError."""
    assembly, oval = joined(asked.setup, sheet=asked.sheet), track_of(screen, asked.track)
    driver = _driver(asked)
    cell = assembly.car.fuel_cell
    gallons = quantity(asked.fuel, "volume", "--fuel") if asked.fuel else cell.capacity.si
    if gallons > cell.capacity.si:
        room = screen.show(cell.capacity.si, "volume")
        raise Trouble(f"--fuel: {asked.fuel} does not go into a cell of {room}")
    laid = lay(oval)
    screen.notes(laid.remarks)
    day = air(screen, asked.conditions)
    packed = with_fuel(build(assembly), gallons * cell.density.si)
    line = groove_line(oval, laid.ribbon, asked.groove)
    way, filled = f"{asked.groove} groove", screen.show(gallons, "volume")
    return Job(assembly, packed, oval, line, day, driver, way, filled)


def _driver(asked: ToDrive) -> Driver:
    """The usual driver with the shares that were typed. Raises Trouble."""
    driver = DRIVER
    for name, text in (("use", asked.use), ("brake", asked.brake), ("throttle", asked.throttle)):
        try:
            driver = replace(driver, **{name: quantity(text, "share", f"--{name}")}) if text else driver
        except ValueError as problem:
            raise Trouble(f"--{name}: {problem}") from None
    return driver


# ---------------- lap


def lap(
    screen: Screen,
    asked: ToDrive,
    *,
    free: bool,
    pictures: Sequence[Path],
    maps: Sequence[Path],
) -> None:
    """One lap: how fast, where, what rules, what touches, and what can be checked on the car."""
    sought = lap_time(asked.time) if asked.time else None
    if free and (asked.time or asked.groove != MIDDLE):
        raise Trouble("--free: the free line is no groove and no lap of yours; leave out --groove and --time")
    job = job_of(screen, asked)
    with said_by(ValueError), screen.progress("around the track") as tell:
        if sought is not None:
            found = matched(job, sought, tell)
            band = Band(found.time)
        elif free:
            job, found = _freed(screen, job)
            band = lap_band(found, job.day, tell)
        else:
            found, why = held_back(
                lambda driver: lap_study(job.packed, job.line, job.day, driver), job.driver
            )
            screen.notes(why)
            band = lap_band(found, job.day, tell)
    chart, plan = lap_picture(screen, job, found), map_picture(screen, job, found)
    written = saved([(path, chart) for path in pictures] + [(path, plan) for path in maps])
    screen.title(f"{screen.show(found.time, 'lap_time')}: {job.assembly.setup.name}")
    screen.say(job.where)
    screen.say(_how_sure(screen, found, band, sought))
    screen.say()
    sections(screen, found)
    _ruling(screen, found)
    _happens(screen, found)
    _check_on_the_car(screen, on_the_car(found))
    screen.say()
    for line in (*lines(chart, screen.out.width), "", *lines(plan, screen.out.width)):
        screen.say(line)
    for path in written:
        screen.say(f"Written: {quoted(path)}")
    _notes(screen, job, found)
    screen.end("lap", {"meaning": {**MEANING, **_STATIONS}, "answer": _told(found, band, sought)})


def _freed(screen: Screen, job: Job) -> tuple[Job, Lap]:
    """The lap on the free line, or in the quickest groove where none is quicker."""
    answer = free_lap(job.packed, job.oval, job.day, job.driver)
    screen.note(answer.warning)
    way = "free line" if answer.name == FREE else f"{answer.name} groove"
    return replace(job, way=way), answer.lap


def lap_time(text: str) -> float:
    """A lap time [s], with its unit or in seconds without. Raises Trouble."""
    bare = text.replace(".", "", 1).strip().isdecimal()
    return quantity(f"{text} s" if bare else text, "lap_time", "--time")


def matched(job: Job, sought: float, tell: Progress) -> Lap:
    """The lap of a given time. Raises Trouble where no grip makes it, NoLap where none gets round."""
    try:
        return matching_lap(
            job.packed, job.line, job.day, sought, job.driver, lambda share: tell(round(100 * share), 100)
        )
    except NoLap:
        found = lap_study(job.packed, job.line, job.day, job.driver)
    raise Trouble(
        f"--time: no grip from half to twice that of the files makes a lap of {sought:.3f} s; with theirs it "
        f"is {found.time:.3f} s: check the time, the length and radius of the track, the groove and the gear"
    )


def _how_sure(screen: Screen, found: Lap, band: Band, sought: float | None) -> str:
    """What the time hangs on, in words."""
    driver = found.driver
    if sought is not None:
        return matched_said(driver, f"your {sought:.3f} s")
    who = uses_said(driver)
    said = "Grip and driver are guessed; a lap time of yours (--time) settles them"
    if math.isnan(band.low):
        return f"{said}. {who}"
    if band.high - band.low < LITTLE:
        return f"Grip and driver are guessed, but hardly count here. {who}"
    return f"{said}. Until then {band.low:.1f} to {band.high:.1f} s (95 %). {who}"


def sections(screen: Screen, found: Lap) -> None:
    screen.table(
        [
            (one.name, screen.show(one.time, "lap_time"), *(screen.show(v, "speed") for v in one[2:]))
            for one in found.sections
        ],
        head=("", "time", "entry", "slowest", "fastest", "exit"),
    )


def _ruling(screen: Screen, found: Lap) -> None:
    """What rules where, from the start line."""
    screen.say()
    screen.table(
        [
            (
                one.rule,
                ", ".join(one.tires),
                screen.show(one.start, "road_length"),
                screen.show(one.end, "road_length"),
                screen.show(one.entry, "speed"),
                screen.show(one.exit, "speed"),
            )
            for one in ruled(found)
        ],
        head=("what sets the speed", "tire", "from", "to", "entry", "exit"),
        left=2,
    )


def _happens(screen: Screen, found: Lap) -> None:
    """What touches, lets go or lifts on the way."""
    screen.say()
    for event in found.events:
        screen.say(f"{screen.show(event.distance, 'road_length')}: {event.text}.")
    if not found.events:
        screen.say("Nothing picks up, hangs off, lifts or touches on the way.")


def _check_on_the_car(screen: Screen, read: OnTheCar) -> None:
    """What he can read on the car after a lap."""
    screen.say()
    rows = [
        ("most shock travel, bump", *(screen.show(one, "coil_length") for one in read.bump)),
        ("most shock travel, rebound", *(screen.show(one, "coil_length") for one in read.rebound)),
        ("most load", *(screen.show(one, "force") for one in read.load)),
    ]
    screen.table(rows, head=("to check on the car", *CORNERS))
    if read.lowest is not None:
        how = (
            "touches the road"
            if read.lowest.gap <= 0.0
            else f"clears by {screen.show(read.lowest.gap, 'height')}"
        )
        screen.say(
            f"Lowest: {read.lowest.name} {how}, at {screen.show(read.lowest.distance, 'road_length')}."
        )
    revs = f"{screen.show(read.least_revs, 'spin')} to {screen.show(read.most_revs, 'spin')}"
    limiter = screen.show(read.on_the_limiter, "lap_time")
    screen.say(f"Fastest {screen.show(read.top, 'speed')}, {revs}, {limiter} on the limiter.")


def _notes(screen: Screen, job: Job, found: Lap) -> None:
    screen.note(
        "Distances run along the driven line from the start line. Brakes rule where a wheel is about to lock "
        "or they hold no more; the tire named is the nearest to its peak."
    )
    screen.note(
        "Shock travel is from where the car stands with that fuel: a zip tie on the shaft shows bump."
    )
    screen.note(NOT_IN_IT)
    screen.note(guessed(job.assembly))
    screen.note(START_SLOW)
    screen.notes([*found.packed.notes, *job.assembly.warnings])


def lap_picture(screen: Screen, job: Job, found: Lap) -> Picture:
    line = found.line
    trace = LapTrace(
        job.assembly.setup.name,
        line.distance,
        line.length,
        found.speed,
        found.corners["load"],
        found.lateral,
        told_rules(found),
        [(one.distance, one.text) for one in found.events],
        sections_along(line),
    )
    title = f"{job.where}: {screen.show(found.time, 'lap_time')}"
    return lap_chart([trace], system=screen.system, title=title)


def map_picture(screen: Screen, job: Job, found: Lap) -> TrackMap:
    line = found.line
    plan = list(zip(line.x, line.y, strict=True))
    return track_map(
        plan,
        line.distance,
        line.length,
        told_rules(found),
        edges=edges_of(line),
        sections=sections_along(line),
        system=screen.system,
        title=f"{job.oval.name}: what sets the speed",
    )


def saved(pictures: Sequence[tuple[Path, Picture]]) -> list[Path]:
    """Write pictures; returns their files. Raises Trouble for a name that is no picture's."""
    with said_by(ValueError):
        for path, picture in pictures:
            save(picture, path)
    return [path for path, _ in pictures]


_STATIONS = {
    "stations": {
        "distance": "along the driven line from the start line [m]",
        "elapsed": "[s]",
        "speed": "[m/s]",
        "along": "tangential acceleration [m/s^2]",
        "lateral": "in the plane of the road [m/s^2], + left",
        "demand": "drive at the rear tires [N], negative slowing",
        "engine_speed": "[rad/s]",
        "throttle": "share of the full-throttle torque",
        "rules": "what sets the speed",
        "tires": "the tire nearest to its peak where tires or brakes rule",
        "line": "x, y, z [m]; offset from the center of the road [m, + left]",
    }
}


def _told(found: Lap, band: Band, sought: float | None) -> dict[str, Any]:
    """The lap for another program: all of it, station by station."""
    line = found.line
    whole = ("elapsed", "speed", "along", "lateral", "demand", "engine_speed", "throttle", "rules")
    return {
        "time": found.time,
        "band": band,
        "matched_to": sought,
        "driver": found.driver,
        "length": line.length,
        "sections": told(found.sections),
        "ruled": told(ruled(found)),
        "events": told(found.events),
        "on_the_car": told(on_the_car(found)),
        "stations": {
            "distance": line.distance,
            **{name: getattr(found, name) for name in whole},
            "tires": found.ruling_tires,
            "line": {name: getattr(line, name) for name in ("x", "y", "z", "offset")},
            "motion": {name: found.motions[name] for name in MOTION.names or ()},
            "pose": dict(zip(UNKNOWNS, found.states.T, strict=True)),
            "corners": {corner: _corner(found, i) for i, corner in enumerate(CORNERS)},
        },
    }


def _corner(found: Lap, i: int) -> dict[str, Any]:
    """Every field of one corner over the lap."""
    return {name: found.corners[name][:, i] for name in CORNER.names or ()}
