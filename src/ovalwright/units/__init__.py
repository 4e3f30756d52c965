"""The door between what a racer writes and the SI numbers the physics uses.

A racer writes ``"225 lb/in"``, ``"15 3/8 in"``, ``"-3.5 deg"``. Each field of a document has a *kind*: its
dimension, the units it is shown in, the usual and the possible range, and the error of the way it is
usually measured. ``lb`` is a force or a mass as the kind asks. Camber is positive with the top outboard, as
in ISO 8855; every other sign convention is in the name of the field (``toe_out``, ``rear_lead``).
"""

from __future__ import annotations

from ovalwright.units.kinds import (
    KINDS,
    STATED_EVIDENCE,
    Evidence,
    Kind,
    System,
    parse,
    show,
    shown,
    unusual,
)
from ovalwright.units.quantities import (
    Place,
    Quantity,
    read_place,
    read_quantity,
    typical_place,
    typical_quantity,
)
from ovalwright.units.spoken import as_fraction, decimal, mixed
from ovalwright.units.text import (
    FOOT,
    GALLON,
    INCH,
    LB,
    LBF,
    PSI,
    UnitError,
    meanings,
    read_exact,
    read_number,
)

__all__ = [
    "FOOT",
    "GALLON",
    "INCH",
    "KINDS",
    "LB",
    "LBF",
    "PSI",
    "STATED_EVIDENCE",
    "Evidence",
    "Kind",
    "Place",
    "Quantity",
    "System",
    "UnitError",
    "as_fraction",
    "decimal",
    "meanings",
    "mixed",
    "parse",
    "read_exact",
    "read_number",
    "read_place",
    "read_quantity",
    "show",
    "shown",
    "typical_place",
    "typical_quantity",
    "unusual",
]
