"""How sure the numbers of the turn are, in few words beside them."""

from __future__ import annotations

import math
from dataclasses import replace

from ovalwright.study.bands import Band
from ovalwright.units import KINDS, show
from ovalwright.web.looking import Looking
from ovalwright.web.sure_turn import Sureness
from ovalwright.web.turn_page import SureShown


def sure_shown(known: Sureness, looking: Looking) -> SureShown:
    """What stands beside the answers: the press that asks for bands, how far they are, or what of."""
    path = f"/turn/sure?{looking.query}"
    if known.job is not None:
        total = known.job.total
        return SureShown(
            link=f"band: {100 * known.job.done // total if total else 0} % done", path=path, is_working=True
        )
    if not known.phases:
        return SureShown(button="How sure?", path=path)
    if known.is_before:
        return SureShown(button="\u00b1 of before. Now?", path=path)
    return SureShown(
        link=f"\u00b1 at {known.gallons:g} gal",
        path=f"/turn/sure?{replace(looking, fuel=known.gallons).query}",
    )


def half_of(band: Band, kind: str) -> str:
    """Half of a band in the unit that its number is shown in; nothing where there is no band."""
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return ""
    return f"\u00b1{show(0.5 * (band.high - band.low), KINDS[kind]).rsplit(' ', 1)[0]}"
