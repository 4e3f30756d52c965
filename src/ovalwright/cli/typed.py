"""What was typed on the command line as quantities and documents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ovalwright.cli.door import Trouble
from ovalwright.cli.options import InTurn
from ovalwright.cli.screen import Screen
from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, Car, Conditions, Document, Setup, Sheet, Track, assemble
from ovalwright.units import KINDS, UnitError, read_quantity

D = TypeVar("D", bound=Document)


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
    found: dict[str, float] = {}
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
    other = read(Sheet, sheet) if sheet else None
    if not is_kept(setup):
        return assemble(setup, sheet=other)
    as_typed, kept = _kept_setup(setup)
    return assemble(as_typed, car=kept.car, sheet=other or kept.sheet, rack=kept.rack)


def beside(base: Assembly, other: Path) -> Assembly:
    """Another setup in the same car, on the same sheet."""
    if not is_kept(other):
        return assemble(other, car=base.car, sheet=base.sheet)
    as_typed, kept = _kept_setup(other)
    return assemble(as_typed, car=base.car, sheet=base.sheet, rack=kept.rack)


def on_its_own_sheet(base: Assembly, other: Path) -> Assembly:
    """Another setup in the same car, on its own sheet and from its own rack where it names them."""
    if is_kept(other):
        as_typed, kept = _kept_setup(other)
        return assemble(as_typed, car=base.car, sheet=kept.sheet, rack=kept.rack)
    setup = Setup.load(other)
    sheet, rack = None if setup.sheet else base.sheet, None if setup.rack else base.rack
    return assemble(setup, car=base.car, sheet=sheet, rack=rack)


def read(model: type[D], path: Path) -> D:
    """A document of its file, or of the notebook where `@` stands before its code or name."""
    if not is_kept(path):
        return model.load(path)
    from ovalwright.cli import notes

    document = notes.kept_document(path, model.kind_name)
    assert isinstance(document, model)
    return document


def is_kept(path: Path) -> bool:
    """Whether a code or name of the notebook was typed where a file may stand."""
    return str(path).startswith("@")


def _kept_setup(path: Path) -> tuple[Setup, Assembly]:
    from ovalwright.cli import notes

    return notes.kept_setup(path)


def air(screen: Screen, path: Path | None) -> Conditions:
    """Air and surface of a file, or typical ones; what is unlikely in them is said below the answer."""
    conditions = read(Conditions, path) if path else Conditions()
    screen.notes(conditions.warnings)
    return conditions


@dataclass(frozen=True)
class CarInTurn:
    """A car, the track and which of its ends, counted from nought, and the day."""

    assembly: Assembly
    oval: Track
    end: int
    day: Conditions

    @property
    def where(self) -> str:
        """Track and end by their names."""
        return f"{self.oval.name}, {self.oval.ends[self.end].name}"


def in_turn(screen: Screen, asked: InTurn) -> CarInTurn:
    """Read what was typed. Raises Trouble, also when the track has no such end written, or DocumentError."""
    assembly, oval = joined(asked.setup, sheet=asked.sheet), track_of(screen, asked.track)
    if asked.end > len(oval.ends):
        raise Trouble(f"--end: {oval.file_name} has {len(oval.ends)} end written; write --end 1")
    return CarInTurn(assembly, oval, asked.end - 1, air(screen, asked.conditions))


def track_of(screen: Screen, path: Path) -> Track:
    """The track of a file; what is unlikely in it is said below the answer."""
    track = read(Track, path)
    screen.notes(track.warnings)
    return track
