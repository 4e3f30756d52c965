"""When the car runs: conditions, a moment of the run, and a place in a turn."""

from __future__ import annotations

from itertools import pairwise

from pydantic import Field, field_validator

from ovalwright.documents.document import Document
from ovalwright.documents.part import Amount, Part, given, optional, typical


class Later(Part):
    """Air and surface later in the evening; what is left out goes on as it was."""

    after: Amount = given("time", "since the start of the run")
    air: Amount | None = optional("temperature")
    surface: Amount | None = optional("temperature", "temperature of the road")
    grip: Amount | None = optional("factor", "grip of the surface against a medium one")


class Conditions(Document):
    """Air and surface of one day.

    ``later`` tells how they drift over a run, in straight lines from one entry to the next.
    """

    air: Amount = typical("temperature", "75 F", "10 F")
    barometer: Amount = typical(
        "barometer", "29.92 inHg", "0.15 inHg", "altimeter setting, reduced to sea level"
    )
    humidity: Amount = typical("share", "55 %", "15 %")
    altitude: Amount = typical("altitude", "600 ft", "300 ft")
    surface: Amount = typical("temperature", "110 F", "12 F", "temperature of the road")
    grip: Amount = typical("factor", "1", "0.03", "grip of this surface of that day against a medium one")
    hot_slick: Amount = typical("heat_loss", "0.08 %/F", "0.06 %/F", "grip a surface loses by heat")
    later: tuple[Later, ...] = Field(default=(), max_length=200)

    @field_validator("later")
    @classmethod
    def _in_order(cls, later: tuple[Later, ...]) -> tuple[Later, ...]:
        if any(after.after.si <= before.after.si for before, after in pairwise(later)):
            raise ValueError("the times do not rise; write what comes first first")
        return later


class CornerState(Part):
    """What a run has made of one tire."""

    hot: Amount | None = optional("pressure", "hot pressure; of the setup if left out")
    growth: Amount | None = optional("growth", "roll-out grown beyond what pressure makes of it")
    wear: Amount = typical("wear", "0 in", "0 in", "tread worn off")


class State(Document):
    """A moment of a run: what changes without a wrench."""

    name: str = Field(default="state", max_length=60)
    fuel: Amount = given("volume", "fuel in the cell")
    driver: bool = True
    LF: CornerState = CornerState()
    RF: CornerState = CornerState()
    LR: CornerState = CornerState()
    RR: CornerState = CornerState()


class Station(Document):
    """A place in a turn.

    ``along`` is the tangential acceleration, negative when slowing. The shares are of the end's full
    curvature and bank; the changes say whether they are being gained (1), held (0) or lost (-1) there at
    the end's own rate.
    """

    name: str = Field(min_length=1, max_length=60)
    along: Amount = given("acceleration")
    curvature: Amount = typical("share", "100 %", "0 %", "share of the full curvature")
    bank: Amount = typical("share", "100 %", "0 %", "share of the full bank")
    curvature_change: Amount = typical("change", "0", "0")
    bank_change: Amount = typical("change", "0", "0")
    speed: Amount | None = optional("speed", "if left out, the share of the limit the study asks for")


def _station(name: str, along: str, curvature: str, bank: str, change: str, spread: str) -> Station:
    """A default station; its values are judged (common practice, no source)."""
    values = {"along": (along, spread), "curvature": (curvature, "10 %"), "bank": (bank, "15 %")}
    marked = {
        key: {"value": text, "give_or_take": give, "from": "typical"} for key, (text, give) in values.items()
    }
    changes = {key: {"value": change, "from": "typical"} for key in ("curvature_change", "bank_change")}
    return Station.model_validate({"name": name, **marked, **changes})


ENTRY = _station("entry", "-0.35 g", "60 %", "70 %", "1", "0.15 g")
MIDDLE = _station("middle", "0 g", "100 %", "100 %", "0", "0.03 g")
EXIT = _station("exit", "0.2 g", "60 %", "70 %", "-1", "0.1 g")
STATIONS: tuple[Station, ...] = (ENTRY, MIDDLE, EXIT)
