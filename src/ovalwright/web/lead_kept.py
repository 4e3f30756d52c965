"""A lead plan that is bolted in: the setup with that lead, on a sheet worked out until it is weighed."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from typing import Any

import tomlkit
from sqlalchemy.orm import Session

from ovalwright.corners import CORNERS
from ovalwright.documents import WORKED_OUT, Assembly, Sheet, assemble
from ovalwright.mechanics.handbook import GRAVITY
from ovalwright.notebook.tables import Revision
from ovalwright.pack import build, rebuilt_as_bolted
from ovalwright.study.controls import written
from ovalwright.study.lead import Bolted
from ovalwright.units import INCH, LB
from ovalwright.web import weighings
from ovalwright.web.weighings import OnTheScales

SAME_PLACE = 0.03
"""A piece that near to where it was is not moved [m], as the lead of a setup is told by its spots."""


def keep(
    session: Session, on: OnTheScales, assembly: Assembly, bolted: Sequence[Bolted], *, reason: str
) -> Revision:
    """The setup with this lead as its next revision, on a sheet of what the pads will read; returns it.

    `assembly` is the car that the plan was made for. Raises DocumentError, ValueError.
    """
    changes: dict[str, object] = {"lead": list(_pieces(assembly, bolted))}
    return weighings.keep(session, on, foreseen(assembly, changes), reason=reason, changes=changes)


def foreseen(assembly: Assembly, changes: dict[str, object]) -> Sheet:
    """What the pads will read, and the heights, once a setup is changed and nothing else is touched.

    Raises DocumentError, ValueError.
    """
    before = assembly.sheet
    setup = assembly.setup.changed(changes)
    now = assemble(setup, car=assembly.car, sheet=before, rack=assembly.rack)
    at = rebuilt_as_bolted(build(assembly), now).weighed.corners()
    told: dict[str, Any] = {
        "document": "sheet",
        "name": before.name,
        "date": dt.date.today(),
        "scale": WORKED_OUT,
        "fuel": before.fuel.text,
        "driver": before.driver,
        "bar_hooked": before.bar_hooked,
        "shocks_on": before.shocks_on,
        **({"setup": before.setup} if before.setup else {}),
    }
    for i, corner in enumerate(CORNERS):
        was = getattr(before, corner)
        told[corner] = {
            "weight": f"{float(at['load'][i]) / GRAVITY / LB:.1f} lb",
            "height": f"{float(at['height'][i]) / INCH:.3f} in",
            **({"pressure": was.pressure.text} if was.pressure else {}),
        }
    return Sheet.from_text(tomlkit.dumps(told), name="the sheet that is worked out")


def _pieces(assembly: Assembly, bolted: Sequence[Bolted]) -> Iterator[dict[str, object]]:
    """The lead as the setup writes it; a piece that stays keeps its own words."""
    held = {piece.id: piece for piece in assembly.setup.lead}
    for one in bolted:
        spot, was = one.spot, held.get(one.piece.id)
        if was and math.dist(was.place.si, (spot.x, spot.y, spot.z)) < SAME_PLACE:
            yield was.model_dump(exclude_unset=True)
            continue
        inches = [written(at, "point").removesuffix(" in") for at in (spot.x, spot.y, spot.z)]
        mass = was.model_dump(exclude_unset=True)["mass"] if was else written(one.piece.mass, "mass")
        yield {"id": one.piece.id, "mass": mass, "place": f"{', '.join(inches)} in"}
