"""From documents to the compiled car: weighed, at a moment of a run, and with another setup bolted in or
re-set.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from ovalwright.documents import Assembly, Setup, Sheet, State
from ovalwright.vehicle.record import CORNERS, Record

from . import masses, parts, tires
from .drawing import Drawing, axle_yaw, draw, inclinations, set_linkage, steers
from .seats import (
    Array,
    Fit,
    Seating,
    Standing,
    copied,
    gaps_of,
    guess_seats,
    hook_up,
    seated_or_hanging,
    settled_from,
    weigh,
)
from .values import Drawn, Values

TOUCHING = 5.0
"""A coil that pushes less than this [N] on the scales only touches its seat."""


@dataclass(frozen=True)
class Moment:
    """A moment of a run: fuel [kg] (None: as on the sheet), lateral acceleration [g] for the slosh of the
    fuel, driver in, tires hot or as on the sheet, and what the run has made of them: as a `state` tells, or
    as was computed (`rubber`).
    """

    fuel: float | None = None
    lateral_g: float = 0.0
    driver: bool = True
    hot: bool = True
    state: State | None = None
    rubber: tires.Rubber | None = None


@dataclass(frozen=True)
class Packed:
    """A car with a setup at a moment, compiled.

    `record` is a row of dtype CAR, `settled` the 14 unknowns of the car standing at this moment; `weighed`
    the same car on its scales, its jack bolts as they are now; `fit` how it stood on them before a bolt was
    turned, against the sheet (None after a change of setup).
    """

    record: Record
    settled: Array
    weighed: Standing
    moment: Moment
    assembly: Assembly
    drawn: Drawn
    drawing: Drawing
    fit: Fit | None
    notes: tuple[str, ...]

    @property
    def standing(self) -> Standing:
        """The car standing at its moment."""
        return Standing(self.record, self.settled)

    def values(self) -> tuple[Values, Values, Values]:
        """Car, setup and sheet as plain numbers."""
        return self._numbers

    @cached_property
    def _numbers(self) -> tuple[Values, Values, Values]:
        return _values(self.assembly, self.drawn)


def build(
    assembly: Assembly,
    *,
    fuel: float | None = None,
    driver: bool = True,
    hot: bool = True,
    state: State | None = None,
    values: Drawn | None = None,
) -> Packed:
    """Compile an assembly: seats from its sheet, jack bolts as turned since, then the moment.

    `fuel` [kg], None as on the sheet; `hot` False leaves the tires as on the sheet; `state` gives fuel,
    driver and tires of a moment instead. `values` replaces numbers of the documents by path
    (``{"car.sprung.height": 0.4}``, SI). Raises DocumentError, one sentence, when links cannot close or no
    seats explain the sheet.
    """
    drawn = values or {}
    car, setup, sheet = _values(assembly, drawn)
    moment = Moment(fuel=fuel, driver=driver, hot=hot)
    if state is not None:
        moment = Moment(
            fuel=state.fuel.si * car.fuel_cell.density, driver=state.driver, hot=True, state=state
        )
    on_sheet, drawing, fit = weigh(car, setup, sheet)
    weighed = _shifted(on_sheet, turned_since(setup), setup)
    now = _at(weighed, car, setup, sheet, moment)
    return Packed(
        record=now.record,
        settled=now.settled,
        weighed=weighed,
        moment=moment,
        assembly=assembly,
        drawn=drawn,
        drawing=drawing,
        fit=fit,
        notes=(*notes_of(assembly), *_touching(on_sheet, assembly)),
    )


def _values(assembly: Assembly, drawn: Drawn) -> tuple[Values, Values, Values]:
    return (
        Values(assembly.car, "car", drawn),
        Values(assembly.setup, "setup", drawn),
        Values(assembly.sheet, "sheet", drawn),
    )


def notes_of(assembly: Assembly) -> tuple[str, ...]:
    """What every answer about this car must say beside it, one sentence each."""
    notes = []
    car, setup = assembly.car, assembly.setup
    if car.stands_in:
        notes.append(car.stands_in)
    if car.front.points is not None and car.front.points.coil_arm == "upper":
        notes.append("The front coils on the upper arms are computed as equivalent coils on the lower arms.")
    if len(car.frame_points) > parts.WATCHED:
        notes.append(f"Of {len(car.frame_points)} frame points the {parts.WATCHED} likeliest are watched.")
    coils = {corner: getattr(setup, corner).coil for corner in CORNERS}
    unknown = [corner for corner, coil in coils.items() if coil is not None and coil.free_length is None]
    if unknown:
        notes.append(f"{', '.join(unknown)}: coil bind is not watched, the free length is not known.")
    return tuple(notes)


def _touching(weighed: Standing, assembly: Assembly) -> list[str]:
    """A sentence for each coil that its sheet would have pull."""
    corners = weighed.corners()
    return [
        f"{corner}: the weights on {assembly.sheet.file_name} would have this coil pull; it is taken as just "
        "touching its seat, and cross weight follows from the heights."
        for i, corner in enumerate(CORNERS)
        if weighed.record["coil_rate"][i] > 0.0
        and not getattr(assembly.setup, corner).coil.gap
        and corners["coil_force"][i] < TOUCHING
    ]


def _at(
    weighed: Standing, car: Values, setup: Values, sheet: Values, moment: Moment, start: Array | None = None
) -> Standing:
    """The weighed car at a moment: bar hooked up, gas in the shocks, fuel, driver and tires of the moment."""
    record = copied(weighed.record)
    parts.set_coils(record, setup, gas=True)
    parts.set_bar_rate(record, setup, hooked=setup.bar is not None and setup.bar.hooked)
    if moment.driver != sheet.driver:
        piece = masses.driver_piece(car)
        masses.bolt_in(record, car, piece if moment.driver else piece._replace(mass=-piece.mass))
    fuel = float(record["fuel_mass"]) if moment.fuel is None else moment.fuel
    masses.set_fuel(record, car, mass=fuel, lateral_g=moment.lateral_g)
    if moment.rubber is not None:
        tires.running_tires(record, setup, sheet, moment.rubber)
    elif moment.hot:
        tires.hot_tires(record, setup, sheet, moment.state)
    return settled_from(record, weighed.settled if start is None else start, setup)


def at_moment(packed: Packed, moment: Moment) -> Packed:
    """The same car as weighed at another moment."""
    now = _at(packed.weighed, *packed.values(), moment, packed.settled)
    return replace(packed, record=now.record, settled=now.settled, moment=moment)


def with_fuel(
    packed: Packed, kg: float | None = None, *, share: float | None = None, lateral_g: float = 0.0
) -> Packed:
    """The same car with other fuel: `kg`, or a share of the cell (0 to 1); shifted outward under
    `lateral_g`.
    """
    cell = packed.values()[0].fuel_cell
    fuel = share * cell.capacity * cell.density if share is not None else kg
    return at_moment(packed, replace(packed.moment, fuel=fuel, lateral_g=lateral_g))


def turn_jack_bolts(packed: Packed, rounds: Mapping[str, float]) -> Packed:
    """The same car with jack bolts turned: rounds by corner, positive loads the coil."""
    _, setup, _ = packed.values()
    shift = np.array([rounds.get(corner, 0.0) * getattr(setup, corner).jack_bolt for corner in CORNERS])
    weighed, now = (_shifted(at, shift, setup) for at in (packed.weighed, packed.standing))
    return replace(packed, weighed=weighed, record=now.record, settled=now.settled, fit=None)


def turned_since(setup: Values) -> Array:
    """How far the jack bolts of a setup have moved the seats LF RF LR RR since its sheet [m]."""
    wheels = [getattr(setup, corner) for corner in CORNERS]
    return np.array([wheel.turned * wheel.jack_bolt for wheel in wheels])


def _shifted(at: Standing, shift: Array, setup: Values) -> Standing:
    """A standing car let settle with its seats moved by `shift` [m]; the very same where nothing moves."""
    if not shift.any():
        return at
    record = copied(at.record)
    record["coil_free"] += shift
    return settled_from(record, at.settled, setup)


def rebuilt_as_bolted(base: Packed, changed: Assembly, *, values: Drawn | None = None) -> Packed:
    """Another setup put in, nothing else touched: seats, stop hardware, bar link, tie rods and rods stay.

    A coil swapped for one of another known free length carries the difference; a coil where none was is
    seated to just touch the base car on its scales (or by its `gap`). Stops, droop limiters and the bar's
    link are set there too, all of it before a jack bolt was turned; then the bolts stand as the changed setup
    says. `values` are drawn values for the changed documents; by default those of the
    base that were not changed.
    """
    drawn = _carried(base, changed) if values is None else values
    changed = replace(changed, sheet=_sheet_for(base.assembly, changed.setup))
    car, setup, sheet = _values(changed, drawn)
    was_setup = base.values()[1]
    on_sheet = replace(base, weighed=_shifted(base.weighed, -turned_since(was_setup), was_setup))
    record, drawing = _rebolted(on_sheet, car, setup, sheet)
    record["coil_free"] += turned_since(setup)
    weighed = settled_from(record, base.weighed.settled, setup)
    now = _at(weighed, car, setup, sheet, base.moment)
    return replace(
        base,
        record=now.record,
        settled=now.settled,
        weighed=weighed,
        assembly=changed,
        drawn=drawn,
        drawing=drawing,
        fit=None,
        notes=notes_of(changed),
    )


def rebuilt_reset(base: Packed, changed: Assembly, *, values: Drawn | None = None) -> Packed:
    """Another setup put in and the car re-set on the scales as the base was: heights and cross, toe, bar
    link neutral.

    Three heights (LF, RF, LR) and cross fix the four seats; with a coil missing or hanging, heights come
    first. Stop gaps and camber stay as they become.
    """
    bolted = rebuilt_as_bolted(base, changed, values=values)
    car, setup, sheet = bolted.values()
    record = copied(bolted.weighed.record)
    stood = base.weighed.corners()
    masses.set_weight(record)
    heights = stood["height"].copy()
    heights[3] = np.nan
    loads = stood["load"] * (record["weight"] / stood["load"].sum())
    guess_seats(record, loads, stood["coil_length"])
    to = Seating(loads, heights, gaps_of(setup), masses_known=True)
    weighed, drawing = seated_or_hanging(record, base.weighed.settled, bolted.drawing, to, car, setup, sheet)
    now = _at(weighed, car, setup, sheet, base.moment)
    return replace(bolted, record=now.record, settled=now.settled, weighed=weighed, drawing=drawing)


def _carried(base: Packed, changed: Assembly) -> Drawn:
    """Drawn values of the base that still hold: those of numbers that were not changed."""
    if not base.drawn:
        return {}
    was, now = _typed(base.assembly), _typed(changed)
    return {path: drawn for path, drawn in base.drawn.items() if was.get(path) == now.get(path)}


def _typed(assembly: Assembly) -> dict[str, object]:
    documents = (("car", assembly.car), ("setup", assembly.setup))
    return {f"{name}.{entry.key}": entry.value.si for name, part in documents for entry in part.entries()}


def _sheet_for(base: Assembly, setup: Setup) -> Sheet:
    """The base's sheet for a changed setup: without the roll-outs read on it of tires that were changed, and
    with the pressures read on it moved as the cold pressures were.
    """
    corners = {}
    for corner in CORNERS:
        was, now = getattr(base.setup, corner).tire, getattr(setup, corner).tire
        read = getattr(base.sheet, corner)
        update: dict[str, Any] = {}
        if was.roll_out != now.roll_out and read.roll_out is not None:
            update["roll_out"] = None
        if was.cold.si != now.cold.si and read.pressure is not None:
            update["pressure"] = replace(read.pressure, si=read.pressure.si + now.cold.si - was.cold.si)
        if update:
            corners[corner] = read.model_copy(update=update)
    return base.sheet.model_copy(update=corners) if corners else base.sheet


def _rebolted(base: Packed, car: Values, setup: Values, sheet: Values) -> tuple[Record, Drawing]:
    """The base's record on its scales with another setup's parts."""
    was_car, was_setup, _ = base.values()
    record, at = copied(base.weighed.record), base.weighed
    stood = at.corners()
    drawing = _redrawn(base, car, setup)
    set_linkage(record, drawing, car)
    if base.assembly.car is car.part or base.assembly.car == car.part:
        if setup.toe_out == was_setup.toe_out:
            record["tie_length"] = at.record["tie_length"]
        if setup.rear_lead == was_setup.rear_lead:
            record["link_length"] = at.record["link_length"]
    parts.set_chassis(record, car, setup, sheet)
    parts.set_coils(record, setup, gas=sheet.shocks_on)
    _keep_seats(record, at.record, stood["coil_length"], setup, was_setup)
    for piece in masses.lead_pieces(was_car, was_setup):
        masses.bolt_in(record, was_car, piece._replace(mass=-piece.mass))
    for piece in masses.lead_pieces(car, setup):
        masses.bolt_in(record, car, piece)
    tires.cold_tires(record, setup, sheet)
    parts.set_stops(record, stood["shock_length"], setup)
    parts.set_droop(record, at.settled, car, setup)
    parts.set_bar_rate(record, setup, hooked=sheet.bar_hooked and setup.bar is not None and setup.bar.hooked)
    hook_up(record, at.settled, setup)
    masses.set_weight(record)
    return record, drawing


def _redrawn(base: Packed, car: Values, setup: Values) -> Drawing:
    """The base's drawing with the links of another setup; camber, toe and yaw turned by what was changed."""
    was_car, was_setup, was_sheet = base.values()
    old = base.drawing
    fresh = draw(car, setup, wheels=old.wheels, cg_height=masses.whole_height(was_car, was_sheet))
    kept = replace(fresh, inclination=old.inclination, steer=old.steer, yaw=old.yaw)
    return kept.turned(
        inclination=inclinations(setup) - inclinations(was_setup),
        steer=steers(setup) - steers(was_setup),
        yaw=axle_yaw(car, setup) - axle_yaw(was_car, was_setup),
    )


def _keep_seats(record: Record, was: Record, lengths: Array, setup: Values, was_setup: Values) -> None:
    """Collars stay: a new coil's touching length differs by its free length; without a coil before, it just
    touches.
    """
    for i, corner in enumerate(CORNERS):
        old, new = getattr(was_setup, corner).coil, getattr(setup, corner).coil
        record["coil_free"][i] = was["coil_free"][i]
        if new is None:
            continue
        if old is None:
            record["coil_free"][i] = lengths[i] - (new.gap or 0.0)
        elif old.free_length is not None and new.free_length is not None:
            record["coil_free"][i] += new.free_length - old.free_length


def roll_outs(packed: Packed, rubber: tires.Rubber) -> Array:
    """Roll-outs of four tires as a run has made them [m]."""
    _, setup, sheet = packed.values()
    record = copied(packed.record)
    tires.running_tires(record, setup, sheet, rubber)
    return np.asarray(2.0 * np.pi * record["tire"]["free_radius"])
