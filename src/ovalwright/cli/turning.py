"""The car in the turn: turn, limit, pulldown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from ovalwright.cli.contract import MEANING, told
from ovalwright.cli.door import Trouble
from ovalwright.cli.options import InTurn
from ovalwright.cli.screen import Screen, plus
from ovalwright.cli.typed import in_turn, quantity
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, State
from ovalwright.pack import Packed, build
from ovalwright.study.contacts import Contact, Sweep, as_fuel_burns
from ovalwright.study.pulldown import NOTE as PULL_DOWN_NOTE
from ovalwright.study.state import Coil, Corner, racer_camber, racer_toe_out
from ovalwright.study.turn import (
    NO_TRANSIENT,
    AtStation,
    Carried,
    Tank,
    Turn,
    moving_through,
    pulled_down,
    rising,
)
from ovalwright.study.turn import turn as turn_study
from ovalwright.units import KINDS, parse

START_SLOW = "A prediction is not clearance to drive: a new setup starts below race speed."
FAR = 0.10
"""A wedge equivalent beyond this share is outside what a straight line can tell."""
G = parse("1 g", KINDS["acceleration"])


def turn(
    screen: Screen,
    asked: InTurn,
    *,
    fuels: Sequence[str],
    state: Path | None,
    speeds: Sequence[str],
    more: bool,
) -> None:
    """What the four tires carry at entry, middle and exit, tank full and nearly empty."""
    car = in_turn(screen, asked)
    assembly = car.assembly
    loads = _fuels(assembly, fuels, state)
    answer = turn_study(
        _at_state(assembly, state), car.oval, car.day, fuels=loads, speed=_speeds(speeds), end=car.end
    )
    screen.title(f"{assembly.setup.name}: {car.where}")
    for tank in answer.tanks:
        show_tank(screen, assembly, tank, most=heaviest(answer), more=more)
    _contacts(screen, assembly, answer)
    notes_of(screen, assembly, answer)
    screen.end("turn", {"meaning": MEANING, "answer": told(answer)})


def _at_state(assembly: Assembly, state: Path | None) -> Packed:
    return build(assembly, state=State.load(state)) if state else build(assembly)


def _fuels(assembly: Assembly, fuels: Sequence[str], state: Path | None) -> list[float] | None:
    """Fuel loads [kg]; None is full and nearly empty."""
    density = assembly.car.fuel_cell.density.si
    if fuels:
        return [quantity(text, "volume", "--fuel") * density for text in fuels]
    return [State.load(state).fuel.si * density] if state else None


def _speeds(speeds: Sequence[str]) -> dict[str, float] | float | None:
    """`75 mph` for all places or `middle=75 mph` for one."""
    named = {}
    for text in speeds:
        name, sign, amount = text.partition("=")
        if not sign:
            return quantity(text, "speed", "--speed")
        if name.strip() not in ("entry", "middle", "exit"):
            raise Trouble(f'--speed: "{name[:20]}" is no place; write entry=, middle= or exit= and a speed')
        named[name.strip()] = quantity(amount.strip(), "speed", "--speed")
    return named or None


def shown_fuel(screen: Screen, assembly: Assembly, tank: Tank) -> str:
    """How full the tank is."""
    cell = assembly.car.fuel_cell
    gallons = tank.fuel / cell.density.si
    share = gallons / cell.capacity.si
    name = "tank full" if share > 0.97 else "nearly empty" if share < 0.15 else f"tank {100 * share:.0f} %"
    return f"{name}, {screen.show(gallons, 'volume')}"


def show_tank(screen: Screen, assembly: Assembly, tank: Tank, *, most: float, more: bool) -> None:
    """One fuel load: the picture of the middle, and the table from the scales to the exit."""
    screen.say()
    middle = next((place for place in tank.places if place.name == "middle" and place.carried), None)
    where = f": the middle of the turn at {screen.show(middle.speed or 0.0, 'speed')}" if middle else ""
    screen.title(f"{shown_fuel(screen, assembly, tank).capitalize()}{where}")
    if middle is not None and middle.carried is not None:
        screen.car(middle.carried.loads.corners, "force", most=most)
    names = [place.name for place in tank.places]
    screen.table(_main_rows(screen, tank), head=("", "standing", *names))
    for place in tank.places:
        for sentence in _troubles(screen, place):
            screen.say(f"! {place.name}: {sentence}")
    if more:
        screen.table(_tire_rows(screen, tank), head=("", "standing", *names))
        screen.table(_car_rows(screen, tank), head=("", "standing", *names))


def _row(tank: Tank, name: str, standing: str, read: Callable[[Carried], str]) -> tuple[str, ...]:
    """A row of the table: a dash where there is no steady state."""
    return (name, standing, *(read(place.carried) if place.carried else "-" for place in tank.places))


def _corners(
    tank: Tank, name: str, read: Callable[[Corner], str], standing: Sequence[str] = ("",) * 4
) -> list[tuple[str, ...]]:
    """A row for each corner."""
    rows = []
    for i, corner in enumerate(CORNERS):
        rows.append(_row(tank, f"{corner} {name}", standing[i], partial(_at_corner, i, read)))
    return rows


def _at_corner(i: int, read: Callable[[Corner], str], carried: Carried) -> str:
    return read(carried.corners[i])


def _main_rows(screen: Screen, tank: Tank) -> list[tuple[str, ...]]:
    show, stood = screen.show, tank.standing
    places = tank.places
    rows = [
        ("speed", "", *(show(place.speed, "speed") if place.speed else "-" for place in places)),
        ("sideways", "", *(_g(place.lateral) for place in places)),
        *_corners(
            tank, "load", lambda c: show(c.load, "force"), [show(load, "force") for load in stood.corners]
        ),
        _row(tank, "cross", show(stood.cross, "percent"), lambda c: show(c.loads.cross, "percent")),
        _row(tank, "bite", show(stood.bite, "force"), lambda c: show(c.loads.bite, "force")),
        *_corners(
            tank, "coil", lambda c: _coil(screen, c.coil), [_coil(screen, coil) for coil in tank.coils]
        ),
        *_corners(tank, "shock", lambda c: plus(show(c.shock_travel, "coil_length"))),
    ]
    if any(corner.stop for place in places if place.carried for corner in place.carried.corners):
        rows += _corners(tank, "stop", lambda c: _stop(screen, c))
    rows.append(("limit", "", *(_limit(screen, place) for place in places)))
    rows.append(("set by", "", *(_sets(place) for place in places)))
    rows.append(("at the limit", "", *(_balance(place) for place in places)))
    rows.append(("worth in cross", "", *(_wedge(place) for place in places)))
    return rows


def _g(sideways: float | None) -> str:
    return "-" if sideways is None else f"{abs(sideways) / G:.2f} g"


def _coil(screen: Screen, coil: Coil) -> str:
    """A coil's state: how far it is squeezed, or how far it hangs."""
    if coil.state == "none":
        return "no coil"
    if coil.state == "hanging":
        return f"hangs {screen.show(coil.gap, 'coil_length')}"
    return f"{'BOUND' if coil.state == 'bound' else 'seated'} {screen.show(-coil.gap, 'coil_length')}"


def _stop(screen: Screen, corner: Corner) -> str:
    if corner.stop is None:
        return "none"
    if corner.stop.engaged:
        return f"on, {screen.show(corner.stop.force, 'force')}"
    return f"{screen.show(corner.stop.gap, 'gap')} off"


def _limit(screen: Screen, place: AtStation) -> str:
    return screen.show(place.limit.speed, "speed") if place.limit.speed else "none"


def _sets(place: AtStation) -> str:
    shorter = {"front and rear tires together": "all four", "a drag too great": "drag"}
    sets = shorter.get(place.limit.sets, place.limit.sets)
    return f"{sets}, {place.limit.tire}" if place.limit.tire else sets


def _balance(place: AtStation) -> str:
    if place.balance is None:
        return "-"
    return f"{place.balance.word} {100 * place.balance.share:+.1f} %"


def _wedge(place: AtStation) -> str:
    """Static cross that makes the same balance: as if so much were put in (+) or taken out (-)."""
    if place.balance is None or place.balance.wedge is None:
        return "-"
    if abs(place.balance.wedge) > FAR:
        return f"over {100 * FAR:.0f} %"
    return plus(f"{100 * place.balance.wedge:.1f} %")


def _troubles(screen: Screen, place: AtStation) -> list[str]:
    """What a racer must know of one place beside its numbers."""
    said = []
    if place.carried is None:
        speed = f" at {screen.show(place.speed, 'speed')}" if place.speed else ""
        return [f"no steady state{speed}: {place.reason}."]
    if place.limit.unstable is not None:
        said.append(f"unstable with the steering held from {screen.show(place.limit.unstable, 'speed')} on.")
    for name in place.carried.lifted:
        said.append(f"{name} is off the ground.")
    for name in place.carried.extrapolated:
        said.append(f"{name} carries more than any tire data: extrapolated.")
    for point in place.carried.drags:
        said.append(f"the {point.name} drags with {screen.show(point.load, 'force')}.")
    return said


def _tire_rows(screen: Screen, tank: Tank) -> list[tuple[str, ...]]:
    show = screen.show
    return [
        *_corners(tank, "camber", lambda c: show(racer_camber(c), "camber")),
        _row(tank, "front toe out", "", lambda c: show(racer_toe_out(*c.corners[:2]), "camber")),
        *_corners(tank, "slip used", lambda c: f"{100 * c.used:.0f} %"),
    ]


def _car_rows(screen: Screen, tank: Tank) -> list[tuple[str, ...]]:
    show = screen.show
    rows = [
        _row(tank, "drive or brake", "", lambda c: show(c.demand.force, "force")),
        _row(tank, "stagger drag", "", lambda c: show(c.stagger.drag, "force") if c.stagger else "-"),
        _row(tank, "stagger turns it", "", lambda c: show(c.stagger.moment, "torque") if c.stagger else "-"),
        _row(tank, "body roll", "", lambda c: show(c.body.roll, "camber")),
        _row(tank, "nose down", "", lambda c: show(c.body.pitch, "camber")),
        _row(tank, "frame twist", "", lambda c: show(c.body.twist, "camber")),
    ]
    names = next((place.carried.clearances for place in tank.places if place.carried), ())
    rows += [_row(tank, point.name, "", partial(_clearance, screen, i)) for i, point in enumerate(names)]
    return rows


def _clearance(screen: Screen, i: int, carried: Carried) -> str:
    return screen.show(carried.clearances[i].gap, "height")


def _contacts(screen: Screen, assembly: Assembly, answer: Turn) -> None:
    """Where along the turn, and from which lateral acceleration, a part touches or leaves."""
    if screen.as_json:
        return
    lines = []
    for tank in answer.tanks:
        name = shown_fuel(screen, assembly, tank).capitalize()
        faster = _happenings(rising(tank), lambda one: f"at {abs(one.lateral) / G:.2f} g in the middle")
        through = _happenings(moving_through(tank), lambda one: f"{100 * one.share:.0f} % of the way through")
        lines += [f"{name}: {text}" for text in (*faster, *through)]
    for contact in as_fuel_burns(answer.tanks[0].packed):
        left = screen.show(contact.fuel / assembly.car.fuel_cell.density.si, "volume")
        lines.append(f"Standing: the {contact.corner} coil {VERBS[contact.happens]} with {left} left.")
    if lines:
        screen.say()
    for line in lines:
        screen.say(line)


VERBS = {"touches": "picks up", "leaves": "comes off its seat"}


def _happenings(sweep: Sweep | None, where: Callable[[Contact], str]) -> list[str]:
    """What touches or leaves along a sweep, in words."""
    if sweep is None:
        return []
    words = {
        "coil": VERBS,
        "stop": {"touches": "goes on", "leaves": "comes free"},
        "bind": {"touches": "binds", "leaves": "unbinds"},
        "wheel": {"touches": "is back on the ground", "leaves": "leaves the ground"},
        "frame": {"touches": "touches the road", "leaves": "clears the road"},
    }
    names = {"bind": "coil", "frame": ""}
    return [
        f"the {one.place} {names.get(one.part, one.part)}".strip()
        + f" {words[one.part][one.happens]} {where(one)}."
        for one in sweep.contacts
    ]


def heaviest(answer: Turn) -> float:
    """The greatest load of any tire at any place [N], for pictures of one scale."""
    places = [place.carried for tank in answer.tanks for place in tank.places if place.carried]
    return max((load for one in places for load in one.loads.corners), default=1.0)


def notes_of(screen: Screen, assembly: Assembly, answer: Turn) -> None:
    """What is said once below a turn."""
    screen.notes(answer.notes)
    screen.note("Set by: what gives up first; where tires do, the hardest used of them is named.")
    screen.note(
        "At the limit: yaw moment left over, in percent of static weight x wheelbase, minus is tight; worth: "
        "as if so much static cross had been put in (+) or taken out (-). Entry and exit are with "
        f"{NO_TRANSIENT}."
    )
    screen.note(guessed(assembly))
    screen.note(
        "A coil is seated and squeezed by so much, or hangs off its seat by so much; + shock is bump."
    )
    screen.note(START_SLOW)
    screen.notes(assembly.warnings)


def guessed(assembly: Assembly) -> str:
    """How much of the car is typical, not measured."""
    entries = [entry for part in (assembly.car, assembly.setup, assembly.sheet) for entry in part.entries()]
    typical = sum(1 for entry in entries if not entry.value.known)
    return f"{typical} of this car's {len(entries)} numbers are typical: `ovalwright sure` gives the bands."


def limit(screen: Screen, asked: InTurn) -> None:
    """How fast, what sets it, tight or loose there, and from where the car is unstable at fixed steer."""
    car = in_turn(screen, asked)
    assembly = car.assembly
    answer = turn_study(build(assembly), car.oval, car.day, end=car.end)
    screen.title(f"{assembly.setup.name}: limits on {car.where}")
    for tank in answer.tanks:
        screen.say()
        screen.title(shown_fuel(screen, assembly, tank).capitalize())
        places = tank.places
        screen.table(
            [
                ("fastest", *(_limit(screen, place) for place in places)),
                ("sideways there", *(_g(place.limit.lateral) for place in places)),
                ("set by", *(_sets(place) for place in places)),
                ("tires alone", *(screen.show(place.limit.fold or math.nan, "speed") for place in places)),
                ("engine alone", *(screen.show(place.limit.power or math.nan, "speed") for place in places)),
                ("at the limit", *(_balance(place) for place in places)),
                ("worth, cross", *(_wedge(place) for place in places)),
                ("worth, rounds", *(_rounds(place) for place in places)),
                (
                    "unstable from",
                    *(screen.show(place.limit.unstable or math.nan, "speed") for place in places),
                ),
                ("drags there", *(", ".join(place.limit.drags) or "nothing" for place in places)),
            ],
            head=("", *(place.name for place in places)),
        )
    screen.note("Unstable: with steering and throttle held the car turns away; a driver may still hold it.")
    notes_of(screen, assembly, answer)
    screen.end("limit", {"meaning": MEANING, "answer": told(answer)})


def _rounds(place: AtStation) -> str:
    left = place.balance
    if left is None or left.rounds is None or left.wedge is None or abs(left.wedge) > FAR:
        return "-"
    return plus(f"{left.rounds:.1f} at {left.corner}")


def pulldown(screen: Screen, asked: InTurn, *, place: str) -> None:
    """Heights and loads to reproduce on the scales, as in the turn."""
    car = in_turn(screen, asked)
    assembly = car.assembly
    if place not in ("entry", "middle", "exit"):
        raise Trouble(f'--at: "{place[:20]}" is no place of a turn; write entry, middle or exit')
    answer = turn_study(build(assembly), car.oval, car.day, end=car.end, balances=False)
    pulls = {}
    for number, tank in enumerate(answer.tanks):
        if number:
            screen.say()
        pull = pulled_down(tank, place)
        name = shown_fuel(screen, assembly, tank)
        pulls[name] = pull
        screen.title(f"{place.capitalize()}, {name}")
        if pull is None:
            screen.say("The body cannot be held so on the scales, or there is no steady state there.")
            continue
        rows: list[tuple[str, Sequence[float], str]] = [
            ("ride height", pull.heights, "height"),
            ("lower than at rest", pull.drops, "travel"),
            ("shock length", pull.shocks, "coil_length"),
            ("shock moves", pull.shock_travel, "travel"),
            ("scale should read", pull.scale_loads, "force"),
            ("tire carries there", pull.turn_loads, "force"),
        ]
        screen.table(
            [(name, *(screen.show(value, kind) for value in four)) for name, four, kind in rows],
            head=("", *CORNERS),
        )
        screen.say(f"All straps together pull {screen.show(pull.pull, 'force')}.")
    screen.note(PULL_DOWN_NOTE)
    screen.note("Straps and winch hold a loaded car: rated gear, nobody in line with it or under it.")
    screen.notes([*answer.notes, *assembly.warnings])
    screen.end("pulldown", {"at": place, "pull_down": pulls})
