"""The day that laps are driven on: as it was at the last run at the track, else a typical one."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from ovalwright.documents import Conditions
from ovalwright.notebook.asked.here_before import last_weather
from ovalwright.notebook.tables import Revision


@dataclass(frozen=True)
class Day:
    """Temperatures of air and track surface [K], and where they come from, in words."""

    air: float
    surface: float
    said: str


def usual_day(session: Session, track: Revision) -> Day:
    """The day of the last run at any revision of a track; what was not read then is typical."""
    last, typical = last_weather(session, track), Conditions()
    if last is None or last.air is None:
        return Day(typical.air.si, typical.surface.si, "a typical day")
    here = f"as at the last run here, {last.started:%Y-%m-%d}"
    if last.surface is None:
        return Day(last.air, typical.surface.si, f"{here}; the track as on a typical day")
    return Day(last.air, last.surface, here)


def conditions_of(air: float, surface: float) -> Conditions:
    """A typical day with these temperatures [K] of air and track. Raises DocumentError."""
    lines = ('document = "conditions"', f'air = "{air:.2f} K"', f'surface = "{surface:.2f} K"')
    return Conditions.from_text("\n".join(lines), name="the day")
