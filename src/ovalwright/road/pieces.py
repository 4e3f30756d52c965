"""A ribbon laid end to end from pieces, each with its curvature and bank at both ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ovalwright.road.profile import Easement, constant, pieced
from ovalwright.road.ribbon import Ribbon, Section


@dataclass(frozen=True)
class Piece:
    """A stretch of road: length [m along the spine], curvature [1/m, + left] and bank [rad, + right side up].

    Each goes from its first to its second value; curvature in proportion to the distance (straight, arc or
    clothoid).
    """

    length: float
    curvature: tuple[float, float] = (0.0, 0.0)
    bank: tuple[float, float] = (0.0, 0.0)


def ribbon_of_pieces(
    pieces: Sequence[Piece],
    *,
    width: float,
    easement: Easement = "quintic",
    sections: tuple[Section, ...] = (),
) -> Ribbon:
    """The level ribbon of pieces that begin at the start line, `width` [m] from edge to edge.

    The bank is eased over each piece as said. Raises ValueError when they do not close.
    """
    lengths = [piece.length for piece in pieces]
    curvature = pieced(
        lengths, [piece.curvature[0] for piece in pieces], [piece.curvature[1] for piece in pieces], "linear"
    )
    bank = pieced(lengths, [piece.bank[0] for piece in pieces], [piece.bank[1] for piece in pieces], easement)
    length = float(curvature.x[-1])
    half = constant(0.5 * width, length)
    return Ribbon(
        curvature=curvature,
        bank=bank,
        height=constant(0.0, length),
        left=half,
        right=half,
        sections=sections or (Section("lap", 0.0, length),),
        breaks=tuple(curvature.x[:-1].tolist()),
        hand=int(np.sign(curvature.integrate(0.0, length)) or 1),
    )
