"""Shares, bands, balances and seconds as pages say them."""

from __future__ import annotations

import math
import re

from ovalwright.study.balance import word
from ovalwright.study.bands import Band
from ovalwright.web.words import MINUS, NOTHING, minus


def percent(share: float, places: int = 1) -> str:
    """A share in percent, without the sign of the unit."""
    return NOTHING if not math.isfinite(share) else minus(_rounded(100.0 * share, places))


def change_percent(share: float, places: int = 1) -> str:
    """A change of a share in percent, with its sign."""
    return NOTHING if not math.isfinite(share) else signed(_rounded(100.0 * share, places))


def seconds(change_of: float, places: int = 2) -> str:
    """A change of a time [s] with its sign."""
    return NOTHING if not math.isfinite(change_of) else signed(_rounded(change_of, places))


def balance(share: float) -> str:
    """A balance in the trade's word with its size in percent: `Tight 1.6 %`."""
    if not math.isfinite(share):
        return NOTHING
    told = word(share).capitalize()
    return told if told == "Neutral" else f"{told} {_rounded(abs(100.0 * share), 1)} %"


def half_band(band: Band, scale: float = 100.0, places: int = 1) -> str:
    """Half of a band as `±0.4`; nothing where there is no band."""
    if not (math.isfinite(band.low) and math.isfinite(band.high)):
        return ""
    return f"±{_rounded(0.5 * scale * (band.high - band.low), places)}"


def signed(text: str) -> str:
    """A number as text with its sign, nothing before a plain nought."""
    if text.startswith("-"):
        return minus(text)
    number = text.split(" ")[0].replace(",", "")
    return text if not number.strip("0./") else f"+{text}"


def true_minus(sentence: str) -> str:
    """A sentence with a minus before its numbers, not a hyphen."""
    return re.sub(r"(?<=[\s(])-(?=\d)", MINUS, sentence)


def _rounded(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text
