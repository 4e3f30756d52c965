"""The documents that belong to one setup, found, joined and checked against each other."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from ovalwright.corners import CORNERS
from ovalwright.documents.car import Car
from ovalwright.documents.document import Document
from ovalwright.documents.rack import Owned, Rack
from ovalwright.documents.setup import Setup
from ovalwright.documents.sheet import Sheet
from ovalwright.documents.source import DocumentError

T = TypeVar("T", bound=Document)
P = TypeVar("P", bound=Owned)


@dataclass(frozen=True)
class Assembly:
    """A car with a setup bolted in, the rack it was taken from and the sheet that fixes its seats.

    In ``setup`` every part named by its id carries the numbers of that part.
    """

    car: Car
    setup: Setup
    sheet: Sheet
    rack: Rack

    @property
    def warnings(self) -> tuple[str, ...]:
        """The warnings of all documents."""
        documents: tuple[Document, ...] = (self.car, self.setup, self.sheet, self.rack)
        return tuple(warning for document in documents for warning in document.warnings)


def assemble(
    setup: Setup | Path | str, *, car: Car | None = None, sheet: Sheet | None = None, rack: Rack | None = None
) -> Assembly:
    """Load what a setup names, unless given, and join it. Raises DocumentError, one sentence."""
    setup = setup if isinstance(setup, Setup) else Setup.load(setup)
    car = car or _named(setup, "car", Car)
    sheet = sheet or _named(setup, "sheet", Sheet)
    rack = rack or (_named(setup, "rack", Rack) if setup.rack else Rack())
    joined = _with_parts(setup, rack)
    _check_fit(car, joined)
    _check_fuel(car, sheet)
    return Assembly(car, joined, sheet, rack)


def _named(setup: Setup, key: str, model: type[T]) -> T:
    name = getattr(setup, key)
    if name is None:
        raise DocumentError(f'{setup.file_name}, {key}: is missing; write {key} = "{key}.toml".')
    try:
        return model.load(setup.folder / name)
    except DocumentError as problem:
        if " is not there" in str(problem):
            raise DocumentError(f"{setup.place(key)}, {key}: {problem}") from None
        raise


def _with_parts(setup: Setup, rack: Rack) -> Setup:
    """The setup with the numbers of the parts of the rack it names; what is typed beside an id stands."""
    update: dict[str, Any] = {}
    for corner in CORNERS:
        wheel = getattr(setup, corner)
        parts: dict[str, Any] = {"tire": _tire(setup, corner, wheel.tire, rack)}
        if wheel.coil is not None:
            parts["coil"] = _coil(setup, corner, wheel.coil, rack)
        if wheel.shock.shock is not None:
            shock = _find(setup, (corner, "shock", "shock"), wheel.shock.shock, rack.shocks)
            parts["shock"] = _filled(wheel.shock, {"gas_force": shock.gas_force})
        update[corner] = wheel.model_copy(update=parts)
    if setup.bar is not None and setup.bar.bar is not None:
        bar = _find(setup, ("bar", "bar"), setup.bar.bar, rack.bars)
        names = ("diameter", "bore", "length", "arm", "rate")
        update["bar"] = _filled(setup.bar, {name: getattr(bar, name) for name in names})
    return setup.model_copy(update=update)


def _coil(setup: Setup, corner: str, coil: Any, rack: Rack) -> Any:
    if coil.spring is None:
        return coil
    spring = _find(setup, (corner, "coil", "spring"), coil.spring, rack.springs)
    own = {"rate": spring.rate, "free_length": spring.free_length, "bind_height": spring.bind_height}
    return _filled(coil, own)


def _tire(setup: Setup, corner: str, tire: Any, rack: Rack) -> Any:
    if tire.tire is not None:
        own = _find(setup, (corner, "tire", "tire"), tire.tire, rack.tires)
        names = ("roll_out", "roll_out_pressure", "construction", "growth", "grip", "width")
        tire = _filled(tire, {name: getattr(own, name) for name in names})
    if tire.roll_out is None:
        place = setup.place(corner, "tire")
        raise DocumentError(
            f'{place}, {corner}.tire: has no roll_out; write roll_out = "86 1/4 in" or tire = "its id".'
        )
    return tire


def _filled(part: Any, numbers: dict[str, Any]) -> Any:
    """A part with numbers of the rack wherever its own were not typed."""
    return part.model_copy(update={k: v for k, v in numbers.items() if k not in part.model_fields_set and v})


def _find(setup: Setup, keys: tuple[str, ...], wanted: str, shelf: Sequence[P]) -> P:
    for part in shelf:
        if part.id == wanted:
            return part
    near = difflib.get_close_matches(wanted, [part.id for part in shelf], n=2)
    hint = f"did you mean {' or '.join(near)}" if near else "add it to the rack or write its numbers here"
    raise DocumentError(f'{setup.place(*keys)}, {".".join(keys)}: "{wanted}" is not on the rack; {hint}.')


def _check_fit(car: Car, setup: Setup) -> None:
    """A tire is narrower than the tread it stands on."""
    for corner in CORNERS:
        width = getattr(setup, corner).tire.width
        tread = car.tread.front if corner in ("LF", "RF") else car.tread.rear
        if width.si >= tread.si:
            raise DocumentError(
                f"{setup.place(corner, 'tire', 'width')}, {corner}.tire.width: {width.text} is wider than "
                f'the tread of {tread.text}; write the tread width of one tire such as "10 in".'
            )


def _check_fuel(car: Car, sheet: Sheet) -> None:
    capacity = car.fuel_cell.capacity
    if sheet.fuel.si > capacity.band[1] + 1e-9:
        raise DocumentError(
            f"{sheet.place('fuel')}, fuel: {sheet.fuel.text} is more than the cell holds ({capacity.text}); "
            "write the fuel that was in the car."
        )
