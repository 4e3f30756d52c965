"""Tires and their air: stagger, hot."""

from __future__ import annotations

from pathlib import Path

from ovalwright.cli.door import said_by
from ovalwright.cli.options import InTurn
from ovalwright.cli.screen import Screen
from ovalwright.cli.turning import shown_fuel
from ovalwright.cli.typed import air, in_turn, quantity
from ovalwright.pack import build
from ovalwright.pack.road import station_pressure
from ovalwright.study.stagger import cold_pressure, tire_pairs
from ovalwright.study.turn import turn


def stagger(screen: Screen, asked: InTurn) -> None:
    """The stagger this radius wants, what the car's own does, and which tires of the rack give it."""
    car = in_turn(screen, asked)
    assembly = car.assembly
    answer = turn(build(assembly), car.oval, car.day, end=car.end, balances=False)
    screen.title(f"Rear stagger of {assembly.setup.name} on {car.where}")
    show, wanted = screen.show, None
    for tank in answer.tanks:
        places = [place for place in tank.places if place.carried and place.carried.stagger]
        work = [place.carried.stagger for place in places if place.carried and place.carried.stagger]
        screen.table(
            [
                ("in the car, hot", *(show(one.stagger, "growth") for one in work)),
                ("to set for no scrub", *(show(one.to_set, "growth") for one in work)),
                ("rolling on the loads", *(show(one.rolling, "growth") for one in work)),
                ("the radius wants", *(show(one.wanted, "growth") for one in work)),
                ("drag of the rear pair", *(show(one.drag, "force") for one in work)),
                ("its power", *(f"{one.power / HORSEPOWER:.1f} hp" for one in work)),
                ("turns the car by", *(show(one.moment, "torque") for one in work)),
            ],
            head=(shown_fuel(screen, assembly, tank), *(place.name for place in places)),
        )
        middle = next((p.carried.stagger for p in places if p.carried and p.name == "middle"), None)
        wanted = middle.to_set if middle and wanted is None else wanted
    setup_tires = assembly.setup
    pressures = [(one.tire.hot or one.tire.cold).si for one in (setup_tires.LR, setup_tires.RR)]
    pairs = (
        tire_pairs(assembly.rack, wanted, left_pressure=pressures[0], right_pressure=pressures[1], most=5)
        if wanted is not None
        else ()
    )
    screen.say()
    if pairs:
        screen.table(
            [(one.left, one.right, show(one.stagger, "growth"), show(one.off, "growth")) for one in pairs],
            head=("LR", "RR", "stagger hot", "off by"),
            left=2,
            title="Tires of the rack that come nearest to the middle's",
        )
    else:
        screen.say(f"{assembly.rack.file_name} holds no pair of left and right tires to choose from.")
    screen.note("A positive moment turns the car left; stagger short of the wanted one tightens.")
    screen.note(
        "A negative drag pushes: the pair alone. What its moment costs is paid at the front tires, which "
        "must turn the car against it."
    )
    screen.notes([*answer.notes, *assembly.warnings])
    told = {
        f"{tank.fuel:.1f} kg": {place.name: place.carried.stagger for place in tank.places if place.carried}
        for tank in answer.tanks
    }
    screen.end("stagger", {"work": told, "pairs": pairs})


HORSEPOWER = 745.699872
"""One mechanical horsepower [W]: 550 ft lbf/s by NIST SP 811, appendix B.8."""


def hot(screen: Screen, *, wanted: str, cold: str, reached: str, conditions: Path | None) -> None:
    """Cold pressure for a wanted hot one, from one run."""
    day = air(screen, conditions)
    values = {"--wanted": wanted, "--cold": cold, "--reached": reached}
    read = {name: quantity(text, "pressure", name) for name, text in values.items()}
    with said_by(ValueError):
        set_to = cold_pressure(
            read["--wanted"], cold=read["--cold"], hot=read["--reached"], ambient=station_pressure(day)
        )
    screen.title(
        f"Set {screen.show(set_to, 'pressure')} cold for {screen.show(read['--wanted'], 'pressure')} hot."
    )
    screen.say("A run as long and as hard as the one it was read from, tires set in the same air.")
    screen.note(
        "Never under the least or over the greatest pressure that the tire's maker and the book allow."
    )
    screen.end("hot", {"cold": set_to, "hot": read["--wanted"]})
