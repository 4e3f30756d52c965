"""Parts as individuals: on the car and off it, what each went through, what was measured: parts."""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterator, Mapping

import sqlalchemy as sa

from ovalwright.cli.notes import counted, opened, taken
from ovalwright.cli.screen import Screen
from ovalwright.cli.servicing import due_table
from ovalwright.documents import Rack
from ovalwright.notebook import shelf
from ovalwright.notebook.garage import parts
from ovalwright.notebook.garage.cautions import STANDS
from ovalwright.notebook.garage.fitting import fitted_for, remember_fitted
from ovalwright.notebook.garage.parts import Whereabouts, part_of
from ovalwright.notebook.garage.parts_form import (
    BEGINS,
    ENDS,
    MILE,
    RATED,
    car_named,
    enter_part,
    measure_line,
    read_moment,
    take_off,
)
from ovalwright.notebook.garage.parts_life import PartLife, TireLife, in_order, life, lives, tire_life
from ovalwright.notebook.garage.parts_measured import Measured, measurements
from ovalwright.notebook.garage.parts_rack import from_rack
from ovalwright.notebook.garage.service import JobDone, due, jobs_done
from ovalwright.notebook.journal import entry_of
from ovalwright.notebook.tables import Part
from ovalwright.notebook.trouble import NotebookTrouble
from ovalwright.notebook.typed.entering import read_day, usual_setup
from ovalwright.notebook.typed.sense import of_place

FIRST_STEPS = (
    "parts rack rack.toml",
    "keep setup.toml",
    "parts fit",
)
"""What to do while the notebook knows no part."""
FIRST_DUE = 5
"""Jobs shown with what is on the car."""
WIDEST_CAR = 16
"""Letters of the name of a car in a list of parts on several."""
MOST_NAMED = 8
"""Marks named in one sentence."""


# ---------------- looking


def overview(screen: Screen, *, car: str, where: str) -> None:
    """What is on the car and what is due first; the first steps while there is no part."""
    with opened(screen, where) as store, store.reading() as session:
        if not session.scalar(sa.select(sa.func.count()).select_from(Part)):
            _teach(screen)
            return
        found = car_named(session, car)
        there = parts.on_car(session, found)
        told = lives(session, [part_of(session, f"{one.kind} {one.mark}") for one in there])
        jobs = due(session, found)
    screen.title(f"On {found.name}: {counted(len(there), 'part')}")
    if there:
        screen.table(_on_car(screen, told), head=("place", "mark", "laps", "miles", "runs"), left=2)
    else:
        screen.say("Nothing yet. Put on what a setup names, or part by part:")
        screen.command("parts fit")
        screen.command("parts put tire T8 RF")
    if jobs:
        screen.say()
        screen.title("Due first")
        hit = [one for one in jobs if one.source == "hit"]
        due_table(screen, [*hit, *jobs[len(hit) :][:FIRST_DUE]])
    screen.end("parts", {"car": found.name, "on_car": told, "due": jobs})


def _teach(screen: Screen) -> None:
    screen.title("No part is in the notebook yet")
    screen.say("A part has a kind and the mark on it. Take in a rack, keep a setup, fit it:")
    for step in FIRST_STEPS:
        screen.command(step)
    screen.say("Then every run counts the laps, miles and heat cycles of all that was in the car.")
    screen.end("parts", {"car": "", "on_car": [], "due": []})


def _on_car(screen: Screen, told: tuple[PartLife, ...]) -> Iterator[tuple[str, ...]]:
    for one in told:
        yield one.where.place, one.mark, f"{one.laps:,}", _miles(screen, one), str(one.cycles)


def _miles(screen: Screen, one: PartLife) -> str:
    if not one.distance:
        return "-"
    kilometers = screen.system == "si"
    far = one.distance / (1000.0 if kilometers else MILE)
    return f"{far:,.{0 if far > 100 else 1}f} {'km' if kilometers else 'mi'}"


def listed(screen: Screen, *, kind: str, where: str) -> None:
    """All parts, or those of one kind, with where each is."""
    with opened(screen, where) as store, store.reading() as session:
        query = sa.select(Part)
        if kind:
            query = query.where(Part.kind == " ".join(kind.lower().split()))
        told = lives(session, in_order(session.scalars(query)))
        kinds = ", ".join(session.scalars(sa.select(Part.kind).distinct().order_by(Part.kind)))
    if kind and not told:
        there = f"there are {kinds}" if kinds else "take in a rack first: parts rack rack.toml"
        raise NotebookTrouble(f"no {kind[:30]} is in the notebook; {there}.")
    if not told:
        _teach(screen)
        return
    cars = {one.where.car for one in told} - {""}
    rows = [
        (
            one.kind,
            one.mark,
            _short_where(one.where, cars),
            f"{one.laps:,}",
            _miles(screen, one),
            str(one.cycles),
        )
        for one in told
    ]
    if len(cars) == 1:
        screen.say(f"Places are those on {cars.pop()}.")
    screen.table(rows, head=("kind", "mark", "where", "laps", "miles", "runs"), left=3)
    screen.end("parts list", {"parts": told})


def said_where(where: Whereabouts) -> str:
    """`RF tire of Demo car`, or `shelf`."""
    return f"{where.place} of {where.car}" if where.car else where.place


def _short_where(where: Whereabouts, cars: Collection[str]) -> str:
    """The place alone where only one car is meant."""
    return f"{where.place}, {where.car[:WIDEST_CAR]}" if where.car and len(cars) > 1 else where.place


def show(screen: Screen, which: str, *, at: str, where: str) -> None:
    """One part with its life; of a tire its roll-outs, durometer and wear too."""
    with opened(screen, where) as store, store.reading() as session:
        part = part_of(session, which)
        told, been = life(session, part), parts.moves(session, part)
        measured, done = measurements(session, part), jobs_done(session, part)
        tire = tire_life(session, part, reference=at) if part.kind == "tire" else None
        facts = _facts(screen, part, told)
    screen.title(f"{told.kind} {told.mark}{f', {told.name}' if told.name else ''}: {said_where(told.where)}")
    screen.table(facts, left=2)
    if tire is not None:
        _tire(screen, tire)
    elif measured:
        _measured(screen, measured)
    _been(screen, been)
    _done(screen, done)
    answer = {"life": told, "been": been, "measured": measured, "done": done, "tire": tire, "note": part.note}
    screen.end("parts show", answer)


def _facts(screen: Screen, part: Part, told: PartLife) -> list[tuple[str, str]]:
    green = f", {told.green:,} of them green" if told.green else ""
    cycles = f"{told.cycles}"
    if told.runs:
        cycles += f": {counted(told.runs, 'run')} on {counted(told.days, 'day')}"
        cycles += f", {part.cycles_before} before it came" if part.cycles_before else ""
    rows = [
        ("laps", f"{told.laps:,}{green}"),
        ("miles", _miles(screen, told)),
        ("heat cycles", cycles),
        ("first, last run", f"{told.first_run}, {told.last_run}" if told.first_run else ""),
        (
            "its tag says",
            screen.show(part.rated, RATED[part.kind]) if part.rated and part.kind in RATED else "",
        ),
        ("compound", ", date code ".join(text for text in (part.compound, part.date_code) if text)),
        ("bought", str(told.bought_on or "")),
        ("scrapped", str(told.retired_on or "")),
        ("note", part.note),
    ]
    return [(name, text) for name, text in rows if text]


def _tire(screen: Screen, tire: TireLife) -> None:
    show = screen.show
    if tire.roll_outs:
        assert tire.reference is not None
        screen.say()
        screen.title(
            f"Roll-outs, brought to {show(tire.reference, 'pressure')} by the {tire.growth_from} growth"
        )
        screen.table(
            [
                (
                    str(one.on),
                    show(one.si, "roll_out"),
                    show(one.at, "pressure"),
                    show(one.at_reference, "roll_out"),
                    screen.step(one.grown, "growth"),
                )
                for one in tire.roll_outs
            ],
            head=("on", "read", "at", "brought", "grown"),
        )
    if tire.durometer:
        screen.say()
        _measured(screen, tire.durometer)
    if tire.tread:
        screen.say()
        _measured(screen, tire.tread)
        for third, gone in tire.worn:
            screen.say(f"Worn, {third.replace('_', ' ')}: {show(gone, 'wear')}")
    if tire.runs:
        screen.say()
        screen.title("Runs on it")
        rows = [
            (
                one.code,
                str(one.started.date()),
                one.place.split()[0],
                str(one.laps_before),
                str(one.laps),
                show(one.best, "lap_time") if one.best is not None else "-",
                screen.step(one.fall_off, "lap_gain") if one.fall_off is not None else "-",
            )
            for one in tire.runs
        ]
        head = ("run", "day", "at", "laps on it", "laps", "best", "fades in ten")
        screen.table(rows, head=head, left=3)


def _measured(screen: Screen, measured: tuple[Measured, ...]) -> None:
    screen.table([(str(one.on), one.what.replace("_", " "), one.typed) for one in measured], left=3)


def _been(screen: Screen, been: tuple[Whereabouts, ...]) -> None:
    if been:
        screen.say()
        screen.title("Where it was")
        screen.table(
            [(f"{one.since:%Y-%m-%d %H:%M}", said_where(one)) for one in been if one.since is not None],
            left=2,
        )


def _done(screen: Screen, done: tuple[JobDone, ...]) -> None:
    if done:
        screen.say()
        screen.title("Done on it")
        rows = [(str(one.on), one.job, one.by, f"{one.laps:,} laps", one.note) for one in done]
        screen.table(rows, left=5)


# ---------------- entering


def rack(screen: Screen, file: str, *, on: str, where: str, by: str) -> None:
    """The parts of a rack taken in, the rack itself kept."""
    with opened(screen, where, by) as store, store.entry("rack") as session:
        found = taken(session, file, "rack")
        document = shelf.document_of(found)
        assert isinstance(document, Rack)
        told = from_rack(session, document, on=read_day(on))
        entry_of(session).what = f"rack {found.document.name}: {counted(len(told.new), 'new part')}"
    screen.title(f"Rack {found.document.name} ({found.code})")
    rows = [("new", str(len(told.new)), _named(told.new)), ("measured anew", str(len(told.measured)),
            _named(told.measured)), ("known just so", str(told.same), "")]  # fmt: skip
    screen.table(rows, left=3)
    if told.new:
        screen.say("Put on the car what its setup names:")
        screen.command("parts fit")
    screen.end("parts rack", {"rack": found.code, "taken_in": told})


def _named(those: tuple[tuple[str, str], ...]) -> str:
    shown = ", ".join(" ".join(one) for one in those[:MOST_NAMED])
    return shown + (", ..." if len(those) > MOST_NAMED else "")


def add(screen: Screen, given: Mapping[str, str], *, where: str, by: str) -> None:
    """One part by its kind and mark."""
    with opened(screen, where, by) as store, store.entry("part") as session:
        part = enter_part(session, given)
        entry_of(session).what = f"{part.kind} {part.mark} entered"
        told = life(session, part)
    screen.say(f"{told.kind} {told.mark}: on the shelf.")
    screen.command(f"parts put {shlex.quote(told.kind)} {shlex.quote(told.mark)} PLACE")
    screen.end("parts add", {"part": told})


def measure(screen: Screen, which: str, text: str, *, on: str, where: str, by: str) -> None:
    """What was measured on a part."""
    with opened(screen, where, by) as store, store.entry("measured") as session:
        part = part_of(session, which)
        found = measure_line(session, part, text, on=read_day(on))
        what = ", ".join(one.what.replace("_", " ") for one in found)
        entry_of(session).what = f"{part.kind} {part.mark} measured: {what}"
    screen.title(f"{part.kind} {part.mark}, {found[0].on}")
    screen.table([(one.what.replace("_", " "), one.typed) for one in found], left=2)
    screen.end("parts measure", {"kind": part.kind, "mark": part.mark, "measured": found})


# ---------------- moving


def put(screen: Screen, which: str, place: str, *, car: str, on: str, where: str, by: str) -> None:
    """A part onto the car; what was in its place goes to the shelf."""
    when = read_moment(on, at=BEGINS)
    with opened(screen, where, by) as store, store.entry("put") as session:
        part, home = part_of(session, which), car_named(session, car)
        at = parts.place_for(part, place)
        before = next((one for one in parts.on_car(session, home) if one.place == at), None)
        parts.put(session, part, home, place, when=when)
        entry_of(session).what = f"{part.kind} {part.mark} put at {at}"
        told, odd = life(session, part), of_place(session, part, at)
    screen.say(f"{told.kind} {told.mark}: {said_where(told.where)}, since {when:%Y-%m-%d %H:%M}.")
    if before is not None and before.mark != told.mark:
        screen.say(f"{before.kind} {before.mark} went to the shelf.")
    for sentence in odd:
        screen.say(sentence)
    screen.note(STANDS)
    screen.end("parts put", {"part": told, "instead_of": before})


def off(screen: Screen, which: str, *, to: str, on: str, where: str, by: str) -> None:
    """A part off the car."""
    when = read_moment(on, at=ENDS)
    with opened(screen, where, by) as store, store.entry("off") as session:
        part = part_of(session, which)
        stay = take_off(session, part, to, when=when)
        entry_of(session).what = f"{part.kind} {part.mark}: {stay.place}"
        told = life(session, part)
    screen.say(f"{told.kind} {told.mark}: {said_where(told.where)}.")
    if told.retired_on:
        screen.note("A scrapped part keeps its history; `undo` brings it back.")
    screen.end("parts off", {"part": told})


def fit(screen: Screen, which: str, *, on: str, where: str, by: str) -> None:
    """What a setup names onto its car."""
    when = read_moment(on, at=BEGINS)
    with opened(screen, where, by) as store, store.entry("fit") as session:
        found = taken(session, which, "setup") if which else usual_setup(session).revision
        car = car_named(session, found.code)
        told = fitted_for(session, shelf.assembly_of(session, found), car, when)
        name, code = car.name, found.code
        called = f"setup {found.document.name}, {found.number} ({code}) says"
        remember_fitted(session, found)
        entry_of(session).what = f"fitted as {called}"
    screen.title(f"{name} as {called}")
    rows = [("on", *pair) for pair in told.put] + [("off", *pair) for pair in told.taken_off]
    if rows:
        screen.table(rows, head=("", "place", "mark"), left=3)
    elif not told.unknown:
        screen.say("Every part that it names by its mark is there already; one named by its rate is no part.")
    if told.unknown:
        names = ", ".join(f"{mark} ({place})" for place, mark in told.unknown[:MOST_NAMED])
        screen.note(f"Not in the notebook, so not put on: {names}. Enter them, or take in the rack.")
    screen.note(STANDS)
    screen.end("parts fit", {"car": name, "setup": code, "fitted": told})
