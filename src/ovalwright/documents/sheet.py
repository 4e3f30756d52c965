"""The sheet of one weighing: four weights, heights, and what was in the car."""

from __future__ import annotations

import datetime
from typing import Self

from pydantic import Field, model_validator

from ovalwright.corners import CORNERS
from ovalwright.documents.document import Document
from ovalwright.documents.part import Amount, Part, given, optional, typical

WORKED_OUT = "worked out, not weighed"
"""Stands on a sheet in the place of which scale it was, until the car is weighed."""


class SheetCorner(Part):
    """What was read at one corner."""

    weight: Amount = given("corner_weight", "reading of the pad")
    height: Amount | None = optional("height", "ride height at the car's height point")
    pressure: Amount | None = optional("pressure", "the cold pressure of the setup if left out")
    roll_out: Amount | None = optional("roll_out", "that of the setup if left out")


class Sheet(Document):
    """One weighing. It fixes the seats of the coils of the setup that was in the car."""

    name: str = Field(default="sheet", max_length=120)
    notes: str = ""
    date: datetime.date | None = None
    scale: str = Field(default="shop", max_length=120, description="which scale")
    setup: str | None = Field(
        default=None, max_length=400, description="file of the setup that was in the car"
    )
    LF: SheetCorner
    RF: SheetCorner
    LR: SheetCorner
    RR: SheetCorner
    total: Amount | None = optional("total_weight", "if the scale shows it")
    fuel: Amount = given("volume", "fuel in the cell")
    driver: bool = Field(description="true with the driver, or his weight at his place, in the car")
    bar_hooked: bool = Field(default=False, description="whether the sway bar was hooked up")
    shocks_on: bool = Field(default=True, description="whether the shocks' gas was pushing")
    pad_level: Amount = typical("gap", "0 in", "0.03 in", "how far one pad may be out of level")

    @model_validator(mode="after")
    def _weighs_something(self) -> Self:
        if not any(getattr(self, name).weight.si > 0.0 for name in CORNERS):
            raise ValueError('the four weights sum to nothing; write what the pads read, such as "712 lb"')
        return self

    @model_validator(mode="after")
    def _all_heights(self) -> Self:
        missing = [name for name in CORNERS if getattr(self, name).height is None]
        if 0 < len(missing) < 4 and len(missing) != 1:
            raise ValueError(
                f"heights of {' and '.join(missing)} are missing; three heights or none are needed"
            )
        return self
