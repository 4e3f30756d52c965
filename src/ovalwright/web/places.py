"""The pages of the bench in the racer's order, as its navigation shows them."""

from __future__ import annotations

from typing import NamedTuple


class Place(NamedTuple):
    """A page: where it is, its name, its name on a phone's narrow bar, and what it is for."""

    path: str
    name: str
    short: str
    what: str


PLACES: tuple[Place, ...] = (
    Place("/week", "This week", "Week", "what is next, and what the car still needs"),
    Place("/scales", "Scales", "Scales", "four weights, percents, bite, legality, rounds and lead"),
    Place("/turn", "The turn", "Turn", "the car in the turn, and every adjustment of it"),
    Place(
        "/effects", "What each thing does", "Effects", "one step of everything: tighter or looser, and why"
    ),
    Place("/laps", "Lap and run", "Laps", "how fast, what limits where, and when it goes away"),
    Place("/notebook", "Notebook", "Notebook", "runs, setups, tires, parts and work"),
    Place("/sheets", "Sheets", "Sheets", "on paper: preview and print"),
    Place("/setup", "Set up", "Set up", "a new car, and what to measure next"),
)
OF_THE_CAR = ("/scales", "/turn", "/effects", "/laps")
"""Pages with numbers of the car, which say what of it is computed as something else."""
ON_THE_PHONE = ("/week", "/turn", "/scales", "/notebook")
"""What a thumb reaches at once; the rest is under More."""
