"""The three ovals on which laps of a point mass are known: halves of straight, clothoid, arc, clothoid."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ovalwright.road import Piece, Ribbon, ribbon_of_pieces


class Oval(NamedTuple):
    """Radius [m], straight [m], clothoid [m], bank of straights and turns [deg], width [m], half lap [m]."""

    radius: float
    straight: float
    clothoid: float
    flat: float
    steep: float
    width: float
    half: float


OVALS = {
    "A": Oval(60.0, 150.0, 30.0, 0.0, 0.0, 10.0, 368.495559),
    "B": Oval(75.0, 160.0, 45.0, 4.0, 14.0, 12.0, 440.619449),
    "C": Oval(45.0, 90.0, 25.0, 2.0, 8.0, 9.0, 256.371669),
}


def ribbon_of(oval: Oval, *, easement: str = "cubic") -> Ribbon:
    """The oval from the middle of its front straight."""
    flat, steep, full = np.radians(oval.flat), np.radians(oval.steep), 1.0 / oval.radius
    half = [
        Piece(oval.straight / 2, (0.0, 0.0), (flat, flat)),
        Piece(oval.clothoid, (0.0, full), (flat, steep)),
        Piece(np.pi * oval.radius - oval.clothoid, (full, full), (steep, steep)),
        Piece(oval.clothoid, (full, 0.0), (steep, flat)),
        Piece(oval.straight / 2, (0.0, 0.0), (flat, flat)),
    ]
    return ribbon_of_pieces(half * 2, width=oval.width, easement=easement)
