"""The demo told as a story: one invented car, and what nobody can see on its scales."""

from __future__ import annotations

import math
import sys
from itertools import pairwise
from pathlib import Path

from ovalwright.cli.begin import copy_demo
from ovalwright.cli.door import said_by
from ovalwright.cli.knowing import strongest
from ovalwright.cli.screen import Screen, quoted
from ovalwright.cli.story_race import race
from ovalwright.cli.story_season import SEASON, remembered
from ovalwright.cli.turning import START_SLOW, VERBS, G, heaviest, shown_fuel
from ovalwright.documents import (
    MIDDLE,
    Assembly,
    Conditions,
    Rules,
    State,
    Track,
    assemble,
    load_conditions,
    load_rules,
    load_state,
    load_track,
)
from ovalwright.notebook.season import OWNER
from ovalwright.notebook.store import Store
from ovalwright.pack import build
from ovalwright.study.compare import Change, compare
from ovalwright.study.contacts import as_fuel_burns, over_lateral
from ovalwright.study.lead_car import bolted_in, lead_job
from ovalwright.study.lead_plan import plan_lead
from ovalwright.study.scale_sheet import read_sheet
from ovalwright.study.turn import Tank, Turn, rising, turn

CAUTIONS = (
    "The rule book, the chassis builder and licensed practice come first; all of this is computed.",
    "Car on stands before anyone goes under; a loaded coil is let down with the right tool.",
    "Lead is bolted, marked and secured as the rule book and the chassis builder ask.",
    START_SLOW,
)


def demo(screen: Screen, into: Path, *, browser: bool = True) -> None:
    """Copy the demo's documents and tell what they show, in three minutes of reading; on a terminal the bench
    opens on them at the end.
    """
    folder, written = copy_demo(into)
    setup = assemble(folder / "setup_conventional.toml")
    soft = assemble(folder / "setup_hanging_rr.toml")
    track = load_track(folder / "track_three_eighths.toml")
    day = load_conditions(folder / "conditions_evening.toml")
    _on_the_scales(screen, setup)
    _in_the_middle(screen, "2", setup, track, day)
    _in_the_middle(screen, "3", soft, track, day)
    _one_change(screen, setup, soft, track, day)
    _strongest(screen, setup, track, day)
    _lead(screen, setup, load_rules(folder / "rules_weekly.toml"), load_state(folder / "state_flag.toml"))
    race(screen, folder, "conventional", "hanging_rr")
    remembered(screen, folder)
    for caution in CAUTIONS:
        screen.note(caution)
    screen.end("demo")
    _own_car(screen, folder, written)
    if sys.stdout.isatty():
        _bench(screen, folder, browser)


def _on_the_scales(screen: Screen, assembly: Assembly) -> None:
    screen.title(f"1. On the scales: {assembly.car.name}")
    told, show = read_sheet(assembly.sheet, assembly.car).weighed, screen.show
    screen.car(told.weights.loads, "corner_weight")
    cross = screen.band(told.cross_percent.value, told.cross_percent.give_or_take, "percent")
    screen.say(
        f"{show(told.total.value, 'total_weight')}, left {show(told.left_percent.value, 'percent')}, "
        f"rear {show(told.rear_percent.value, 'percent')}, cross {cross}: all scales can say. (Invented.)"
    )


def _in_the_middle(screen: Screen, number: str, assembly: Assembly, track: Track, day: Conditions) -> None:
    answer = turn(build(assembly), track, day, stations=(MIDDLE,))
    screen.say()
    screen.title(f"{number}. {assembly.setup.name}: the middle of the turn, {track.name}")
    for tank in answer.tanks:
        place = tank.places[0]
        if place.carried is not None:
            fuel, speed = shown_fuel(screen, assembly, tank), screen.show(place.speed or 0.0, "speed")
            screen.say(f"{fuel}, {speed}:")
            screen.car(place.carried.loads.corners, "force", most=heaviest(answer))
    head = ("", "cross standing", "in turn", "RR coil", "at the limit")
    screen.table([_middle(screen, assembly, tank) for tank in answer.tanks], head=head)
    for sentence in (*_burns(screen, assembly, answer), *_picks_up(answer)):
        screen.say(sentence)


def _middle(screen: Screen, assembly: Assembly, tank: Tank) -> tuple[str, ...]:
    place, coil = tank.places[0], tank.coils[3]
    state = f"hangs {screen.show(coil.gap, 'coil_length')}" if coil.state == "hanging" else coil.state
    cross = screen.show(place.carried.loads.cross, "percent") if place.carried else "-"
    word = f"{place.balance.word} {100 * place.balance.share:+.1f} %" if place.balance else "-"
    stood = screen.show(tank.standing.cross, "percent")
    return (shown_fuel(screen, assembly, tank), stood, cross, state, word)


def _burns(screen: Screen, assembly: Assembly, answer: Turn) -> list[str]:
    """When a coil leaves its seat as the fuel burns."""
    density = assembly.car.fuel_cell.density.si
    return [
        f"Standing, the {one.corner} coil {VERBS[one.happens]} "
        f"with {screen.show(one.fuel / density, 'volume')} left."
        for one in as_fuel_burns(answer.tanks[0].packed)
    ]


def _picks_up(answer: Turn) -> list[str]:
    """The wedge that stops coming: what roll adds to cross before a coil picks up and after."""
    tank = answer.tanks[-1]
    sweep = rising(tank)
    coils = [one for one in sweep.contacts if one.part == "coil"] if sweep else []
    if not coils:
        return []
    g = abs(coils[0].lateral)
    points = over_lateral(tank.packed, tank.places[0].motion, 2.0 * g, samples=3).points
    if len(points) < 3:
        return []
    before, after = (
        10.0 * G * (b.loads.cross - a.loads.cross) / abs(b.lateral - a.lateral) for a, b in pairwise(points)
    )
    return [
        f"Nearly empty, the {coils[0].place} coil picks up at {g / G:.2f} g sideways: up to there each 0.1 g "
        f"adds {before:+.2f} % of cross, from there on {after:+.2f} %."
    ]


def _one_change(screen: Screen, setup: Assembly, soft: Assembly, track: Track, day: Conditions) -> None:
    other = assemble(soft.setup, car=setup.car, sheet=setup.sheet, rack=setup.rack)
    with screen.progress("comparing") as tell:
        answer = compare(
            build(setup), other, track, day, stations=(MIDDLE,), fuels=(1.0,), draws=32, progress=tell
        )
    row = answer.rows[0]
    screen.say()
    screen.title("4. That setup's springs and bar in the conventional car: bolted in, or re-set")
    if row.bolted_change:
        screen.say(_changed("Bolted in, nothing else touched", row.bolted_change))
    if row.reset_change:
        screen.say(_changed("Re-set to the same heights and cross", row.reset_change))


def _changed(name: str, change: Change) -> str:
    cross, balance = change.numbers["cross"], change.numbers["balance"]
    half = f"+/-{50.0 * (cross.high - cross.low):.1f}" if math.isfinite(cross.low) else "no band"
    known = math.isfinite(balance.low)
    band = f"95 % band {100 * balance.low:+.1f} to {100 * balance.high:+.1f}" if known else "no band"
    return (
        f"{name}: cross in the middle {100 * cross.value:+.1f} % ({half}), balance "
        f"{100 * balance.value:+.1f} % ({band}): {change.verdict}."
    )


def _strongest(screen: Screen, setup: Assembly, track: Track, day: Conditions) -> None:
    answer = strongest(screen, build(setup), track, day, share=1.0, top=5, draws=0, end=0, stations=(MIDDLE,))
    screen.say()
    screen.title("5. The five strongest single steps in the middle, and why")
    for one in answer.rows:
        screen.say(f"- {one.why('middle')}")


def _lead(screen: Screen, setup: Assembly, book: Rules, flag: State) -> None:
    plan = plan_lead(lead_job(setup, book, flag=flag, laps=40))
    was = sum(bolted.piece.mass for bolted in bolted_in(setup))
    screen.say()
    screen.title(f"6. Lead, by the {book.name}, legal at the start and with fuel and rubber gone")
    where = ", ".join(dict.fromkeys(bolted.spot.id for bolted in plan.outcome.bolted))
    least = min(plan.outcome.verdicts, key=lambda one: one.in_hand / one.bound, default=None)
    screen.say(f"{screen.show(plan.outcome.lead, 'mass')} in place of {screen.show(was, 'mass')}: {where}.")
    screen.say(f"Tightest: {least.sentence}" if least else "The book asks nothing that lead can keep.")


def _own_car(screen: Screen, folder: Path, written: bool) -> None:
    setup, track = quoted(folder / "setup_conventional.toml"), quoted(folder / "track_three_eighths.toml")
    screen.say()
    screen.title("Now you")
    screen.say(f"The files of this story {'are now' if written else 'were already'} in {folder}:")
    screen.say("change a number in them and ask again")
    screen.command(f"turn {setup} {track} --air {quoted(folder / 'conditions_evening.toml')}")
    screen.command(f"run {setup} {track} --laps 30")
    screen.say("The season's notebook, to look around in")
    screen.command(f"notebook --notebook {quoted(folder / SEASON)}")
    screen.say("The same car on the bench, in a browser")
    screen.command(f"bench --notebook {quoted(folder / SEASON)}")
    screen.say("Your own car: ten questions, all else typical and marked as such")
    screen.command("new my-car")


def _bench(screen: Screen, folder: Path, browser: bool) -> None:
    """The bench on the demo's notebook, until it is stopped."""
    from ovalwright.web.serve import CannotServe, serve

    screen.say()
    with Store.open(folder / SEASON, by=OWNER) as store, said_by(CannotServe):
        serve(store, say=screen.as_it_is, browser=browser)
