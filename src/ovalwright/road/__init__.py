"""The road: a closed banked ribbon and the lines driven on it, in SI, from numbers alone."""

from ovalwright.road.line import Line
from ovalwright.road.pieces import Piece, ribbon_of_pieces
from ovalwright.road.ribbon import Ribbon, Section

__all__ = ["Line", "Piece", "Ribbon", "Section", "ribbon_of_pieces"]
