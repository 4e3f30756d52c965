"""Under a weighing that is older than the setup: what was changed since, and what the solver makes of it."""

from __future__ import annotations

from typing import Any

from ovalwright.corners import CORNERS
from ovalwright.documents import Assembly, DocumentError, Setup
from ovalwright.notebook.garage.weighed import changed_since
from ovalwright.notebook.typed.difference import said
from ovalwright.study.rounds import Stance
from ovalwright.study.since_weighed import since_weighed
from ovalwright.units import System, show

AS_BOLTED = "all else left as bolted"
RESET = "reset to the weighed heights and cross, bolts turned"
HEAD = ("now, computed", "cross", *(f"{corner} height" for corner in CORNERS))
COMPUTED = (
    "Computed, not weighed. A new spring moves heights and cross unless its collar is set anew: the first "
    "line leaves the collars, the second sets them; put it on the scales before you trust either."
)


def weighed_before(weighed: Setup | None, now: Assembly, *, system: System = "us") -> dict[str, Any] | None:
    """What was changed since the weighing and where the car stands now; None where nothing was.

    weighed: the setup that was on the scales; where it is not known, only the jack bolts tell.
    """
    changes = changed_since(weighed or now.setup, now.setup)
    if not changes:
        return None
    told: dict[str, Any] = {
        "changes": f"Weighed before these changes: {said(changes)}.",
        "head": HEAD,
        "rows": [],
    }
    try:
        stands = since_weighed(weighed or now.setup, now)
    except DocumentError as problem:
        return told | {"how": f"Cross and heights now cannot be computed: {problem}"}
    rows = [(AS_BOLTED, stands.as_bolted)]
    if any(not one.key.endswith(".turned") for one in changes):
        rows.append((RESET, stands.reset))
    return told | {
        "rows": [_row(name, stance, system) for name, stance in rows],
        "how": COMPUTED if len(rows) > 1 else COMPUTED.partition(".")[0] + ".",
    }


def _row(name: str, stance: Stance, system: System) -> tuple[str, ...]:
    heights = (show(float(height), "height", system=system) for height in stance.heights)
    return name, show(stance.cross, "percent", system=system), *heights
