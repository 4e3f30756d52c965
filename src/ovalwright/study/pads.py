"""Pads out of level: what they do to cross, the car as built let settle on them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.pack import Packed, build
from ovalwright.pack.seats import copied, settled_from
from ovalwright.study.scale_faults import Fault
from ovalwright.study.scale_sheet import weights_of
from ovalwright.study.weigh import CornerWeights, percent
from ovalwright.units import INCH, show


def level_fault_of(
    assembly: Assembly, heights: Mapping[str, float], *, most: float = 0.0625 * INCH
) -> Fault | None:
    """What pads that stand `heights` [m] above the others do to cross, the car as built let settle on them.

    A pad that is higher by h lifts its tire as a tire of h more radius does. `most` is common practice, no
    source.
    """
    corner = max(heights, key=lambda name: abs(heights[name]), default="LF")
    if abs(heights.get(corner, 0.0)) <= most:
        return None
    packed = build(assembly)
    shown = weights_of(assembly.sheet)
    moved = _on_pads(packed, heights) - packed.weighed.corners()["load"]
    read, level = (
        shown.get("cross_percent"),
        CornerWeights.of(shown.loads - moved / GRAVITY).get("cross_percent"),
    )
    return Fault(
        sentence=f"The {corner} pad stands {show(abs(heights[corner]), 'gap')} "
        f"{'high' if heights[corner] > 0.0 else 'low'}, so cross reads {percent(read)} where level pads "
        f"would read {percent(level)}: shim the pads level within {show(most, 'gap')}.",
        amount=read - level,
        unit="1",
    )


def _on_pads(packed: Packed, heights: Mapping[str, float]) -> npt.NDArray[np.float64]:
    """Loads LF RF LR RR [N] of the weighed car on pads of these heights [m]."""
    record = copied(packed.weighed.record)
    record["tire"]["free_radius"] += [heights.get(corner, 0.0) for corner in CORNERS]
    stood = settled_from(record, packed.weighed.settled, packed.values()[1])
    return np.array(stood.corners()["load"])
