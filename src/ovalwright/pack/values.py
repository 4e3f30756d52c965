"""Reading documents for the physics: every number in SI, with a drawn value in place of the typed one where
given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ovalwright.documents import Part
from ovalwright.units import Place, Quantity

Drawn = Mapping[str, float | Sequence[float]]
"""Drawn values by path, such as ``{"setup.LR.coil.rate": 39000.0}`` in SI; a place takes three [m]."""


class Values:
    """A part of a document as plain numbers: ``Values(car, "car", drawn).tread.front`` is a float in SI.

    Places become arrays of three [m] that nobody may write to, tables become `Values`, lists tuples; what was
    left out is None. A number once read is kept.
    """

    def __init__(self, part: Any, path: str, drawn: Drawn) -> None:
        self.part, self._path, self._drawn = part, path, drawn

    def __getattr__(self, name: str) -> Any:
        held = self.__dict__[name] = self._read(getattr(self.part, name), f"{self._path}.{name}")
        return held

    def known(self, name: str) -> bool:
        """False when a number was left out and its typical value stands in."""
        held = getattr(self.part, name)
        return held is not None and bool(held.known)

    def at(self, name: str, path: str) -> Values:
        """A part that stands in the document under another path, for instance the short form in force."""
        return Values(getattr(self.part, name), f"{self._path}.{path}", self._drawn)

    def _read(self, held: Any, path: str) -> Any:
        if isinstance(held, Quantity):
            return self._drawn.get(path, held.si)
        if isinstance(held, Place):
            place = np.array(self._drawn.get(path, held.si))
            place.flags.writeable = False
            return place
        if isinstance(held, Part):
            return Values(held, path, self._drawn)
        if isinstance(held, tuple):
            return tuple(self._read(item, f"{path}[{i}]") for i, item in enumerate(held, start=1))
        if isinstance(held, dict):
            return {key: self._read(item, f"{path}.{key}") for key, item in held.items()}
        return held
