"""A setup kept as it stands with its parts bolted in, on a sheet worked out from that until it is weighed."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy.orm import Session

from ovalwright.documents import Assembly
from ovalwright.notebook import shelf
from ovalwright.notebook.tables import Revision
from ovalwright.web import weighings
from ovalwright.web.lead_kept import foreseen
from ovalwright.web.weighing import standing_on
from ovalwright.web.weighings import OnTheScales


def standing(assembly: Assembly, changes: Mapping[str, object]) -> Assembly:
    """A setup with changes, on the sheet of what the pads then read. Raises DocumentError, ValueError."""
    return standing_on(assembly, foreseen(assembly, dict(changes)), _on_its_sheet(changes))


def keep(
    session: Session, base: Revision, changes: Mapping[str, object], *, reason: str, name: str = ""
) -> Revision:
    """A setup with changes of it as a new revision that stands as they were bolted in.

    Raises DocumentError, ValueError.
    """
    assembly = shelf.assembly_of(session, base)
    on = OnTheScales(base, assembly, shelf.refers_to(session, base)["sheet"])
    sheet = foreseen(assembly, dict(changes))
    return weighings.keep(session, on, sheet, reason=reason, name=name, changes=_on_its_sheet(changes))


def _on_its_sheet(changes: Mapping[str, object]) -> dict[str, object]:
    """Changes of a setup whose sheet holds already what was turned at the jack bolts."""
    return {key: "0 round" if key.endswith(".turned") else value for key, value in changes.items()}
