"""A scale sheet of the documents put to the questions of weighing.

Weights in kilograms, lengths in meters, percents as fractions of one, as in `weigh`; only the documents are
taken apart here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ovalwright.corners import CORNERS, Corner
from ovalwright.documents import Car, Sheet
from ovalwright.study.other_scale import ScaleMatch, match_scales, scale_fault
from ovalwright.study.scale_faults import (
    Fault,
    PadSwap,
    moved_mass_fault,
    pad_swap,
    repeat_fault,
    sum_fault,
)
from ovalwright.study.weigh import (
    Aboard,
    CornerWeights,
    Footprint,
    PadError,
    Weighed,
    by_difference,
    weigh,
)
from ovalwright.units import LB

TWICE = PadError(bind=2.0 * LB)
"""A car rolled on and read twice binds by half as much (common practice, no source)."""


def footprint_of(car: Car) -> Footprint:
    """Where the tires of a car stand."""
    return Footprint(
        wheelbase=car.wheelbase.si,
        tread_front=car.tread.front.si,
        tread_rear=car.tread.rear.si,
        rear_offset=car.rear.axle_left.si,
    )


def weights_of(sheet: Sheet) -> CornerWeights:
    """What the four pads of a sheet read."""
    return CornerWeights(**{corner: getattr(sheet, corner).weight.si for corner in CORNERS})


@dataclass(frozen=True, kw_only=True)
class SheetAnswer:
    """What one sheet says, and whatever more was weighed beside it; `faults` are found in order of cost."""

    weighed: Weighed
    faults: tuple[Fault, ...]
    driver: Aboard | None
    swap: PadSwap | None
    match: ScaleMatch | None


def read_sheet(
    sheet: Sheet,
    car: Car,
    *,
    again: Sequence[Sheet] = (),
    before_bolts: Sheet | None = None,
    without_driver: Sheet | None = None,
    swapped: tuple[Corner, Corner, Sheet] | None = None,
    on_other_scale: Sheet | None = None,
) -> SheetAnswer:
    """Everything a sheet says, averaged with repeated readings of the same car.

    before_bolts: the sheet before jack bolts were turned; without_driver: the same car without him; swapped:
    two corners and the sheet with their pads swapped; on_other_scale: the same car on the track's scale.

    Raises:
        ValueError: the weights sum to nothing, or the car is no heavier with its driver.
    """
    footprint = footprint_of(car)
    readings = [weights_of(one) for one in (sheet, *again)]
    weights = CornerWeights.of(np.mean([reading.loads for reading in readings], axis=0))
    pads = TWICE if again else PadError()
    faults = [
        sum_fault(readings[0], sheet.total.si, pads) if sheet.total else None,
        repeat_fault(readings, footprint) if again else None,
        moved_mass_fault(footprint, before=weights_of(before_bolts), after=weights, pads=pads)
        if before_bolts
        else None,
    ]
    driver = swap = match = None
    if without_driver is not None:
        without = weights_of(without_driver)
        driver = by_difference(having=weights, without=without, footprint=footprint, pads=pads)
    if swapped is not None:
        first, second, sheet_after = swapped
        after = weights_of(sheet_after)
        swap = pad_swap(
            before=weights, after=after, first=first, second=second, footprint=footprint, pads=pads
        )
        faults.append(swap.fault)
    if on_other_scale is not None:
        match = match_scales([(weights, weights_of(on_other_scale))], footprint, pads)
        faults.append(scale_fault(match, weights))
    return SheetAnswer(
        weighed=weigh(weights, footprint, pads),
        faults=tuple(fault for fault in faults if fault is not None),
        driver=driver,
        swap=swap,
        match=match,
    )
