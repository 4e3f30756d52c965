"""Typical intervals of a paved-oval car that races every week: common practice, no source.

They stand in where no figure of the maker or the builder is told, and say so. Each is the careful end of
what the trade does; where the trade counts race nights, a night is 100 laps.
"""

from __future__ import annotations

from dataclasses import dataclass

NIGHT = 100
"""Laps of a race night, practice and heat with it."""
WEEK, MONTH, HALF_YEAR, YEAR = 7, 30, 182, 365


@dataclass(frozen=True)
class Every:
    """How often, by whichever comes first: laps, distance [m], days, heat cycles; and whose figure it is."""

    laps: int | None = None
    distance: float | None = None
    days: int | None = None
    cycles: int | None = None
    source: str = "typical"


_PLAY = {"look for play, bends and cracks": Every(days=WEEK), "replace": Every(days=HALF_YEAR)}
TYPICAL: dict[str, dict[str, Every]] = {
    "engine": {
        "change oil and filter": Every(laps=1 * NIGHT),
        "check or change valve springs": Every(laps=3 * NIGHT),
        "freshen": Every(laps=5 * NIGHT),
    },
    "gear": {"look at the teeth": Every(laps=1 * NIGHT)},
    "rear end": {
        "change gear oil": Every(laps=3 * NIGHT),
        "look at ring, pinion and spool": Every(days=MONTH),
    },
    "axle": {"look for twist and cracks": Every(days=MONTH)},
    "hub": {"clean and grease the bearings": Every(laps=4 * NIGHT)},
    "brake pads": {"change": Every(laps=4 * NIGHT)},
    "rotor": {"change": Every(laps=10 * NIGHT)},
    "shock": {"run on the shock dyno": Every(laps=8 * NIGHT, days=YEAR)},
    "spring": {"check on the spring rater": Every(days=HALF_YEAR)},
    "stop": {"check its length": Every(laps=2 * NIGHT)},
    "rod end": _PLAY,
    "ball joint": _PLAY,
    "tie rod": {"look for play, bends and cracks": Every(days=WEEK), "replace": Every(days=YEAR)},
    "steering": {"look for play and leaks": Every(days=WEEK)},
    "u-joint": {"replace": Every(days=HALF_YEAR)},
    "clutch": {"look at the discs": Every(laps=10 * NIGHT)},
    "wheel": {"look for cracks and bends": Every(days=WEEK), "change studs and nuts": Every(days=YEAR)},
}
"""By kind of part and job."""
ANSWERED_BY = {
    "check on the spring rater": "rate",
    "run on the shock dyno": "rebound",
    "check its length": "free_length",
}
"""Jobs that are done whenever this is measured on the part."""
