"""The four corners of the car, in the order in which every table and array holds them."""

from __future__ import annotations

from typing import Literal

Corner = Literal["LF", "RF", "LR", "RR"]
CORNERS: tuple[Corner, ...] = ("LF", "RF", "LR", "RR")
