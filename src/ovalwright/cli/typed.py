"""What was typed on the command line as quantities and documents."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ovalwright.cli.door import Trouble
from ovalwright.cli.screen import CORNERS, Screen
from ovalwright.documents import Assembly, Car, Conditions, Setup, Sheet, Track, assemble
from ovalwright.units import KINDS, UnitError, read_quantity


def quantity(text: str, kind: str, option: str) -> float:
    """SI value of what was typed for an option. Raises Trouble with what would be right."""
    if KINDS[kind].us == "%" and "%" not in text:
        raise Trouble(f'{option}: "{text[:40]}" has no unit; write such as "54.5 %"')
    try:
        return read_quantity(text, KINDS[kind]).si
    except UnitError as problem:
        raise Trouble(f"{option}: {problem}") from None


def by_corner(texts: Sequence[str], kind: str, option: str) -> dict[str, float]:
    """`LR=4 3/4 in` and its like as SI values by corner. Raises Trouble."""
    found = {}
    for text in texts:
        corner, sign, amount = text.partition("=")
        name = corner.strip().upper()
        if not sign or name not in CORNERS:
            raise Trouble(f'{option}: "{text[:40]}" names no corner; write such as LR={KINDS[kind].example}')
        found[name] = quantity(amount.strip(), kind, option)
    return found


def car_of(sheet: Sheet, given: Path | None) -> Car:
    """The car of a sheet: as named by hand, or by way of the setup that the sheet names."""
    if given is not None:
        return Car.load(given)
    if sheet.setup is None:
        raise Trouble(
            f'{sheet.file_name}, setup: is missing; write setup = "setup.toml" or give --car car.toml'
        )
    setup = Setup.load(sheet.folder / sheet.setup)
    if setup.car is None:
        raise Trouble(f'{setup.file_name}, car: is missing; write car = "car.toml"')
    return Car.load(setup.folder / setup.car)


def joined(setup: Path, *, sheet: Path | None = None) -> Assembly:
    """A setup with its car, rack and sheet, or another sheet in place of its own."""
    return assemble(setup, sheet=Sheet.load(sheet) if sheet else None)


def air(screen: Screen, path: Path | None) -> Conditions:
    """Air and surface of a file, or typical ones; what is unlikely in them is said below the answer."""
    conditions = Conditions.load(path) if path else Conditions()
    screen.notes(conditions.warnings)
    return conditions


def track_of(screen: Screen, path: Path) -> Track:
    """The track of a file; what is unlikely in it is said below the answer."""
    track = Track.load(path)
    screen.notes(track.warnings)
    return track
