"""Documents into the compiled car: seats from the scale sheet, a moment of a run, another setup bolted in
or re-set.
"""

from ovalwright.lean import load_lean

from .build import (
    Moment,
    Packed,
    at_moment,
    build,
    rebuilt_as_bolted,
    rebuilt_reset,
    roll_outs,
    turn_jack_bolts,
    with_fuel,
)
from .masses import slosh_of
from .parts import watched_points
from .road import conditions_after, density, motion, surface_grip, surface_grip_band
from .seats import Disagreement, Fit, Standing
from .tires import Rubber
from .values import Drawn, Values

load_lean()

__all__ = [
    "Disagreement",
    "Drawn",
    "Fit",
    "Moment",
    "Packed",
    "Rubber",
    "Standing",
    "Values",
    "at_moment",
    "build",
    "conditions_after",
    "density",
    "motion",
    "rebuilt_as_bolted",
    "rebuilt_reset",
    "roll_outs",
    "slosh_of",
    "surface_grip",
    "surface_grip_band",
    "turn_jack_bolts",
    "watched_points",
    "with_fuel",
]
