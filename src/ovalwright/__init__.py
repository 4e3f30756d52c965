"""Ovalwright: what the four tires of a paved-oval stock car carry, on the scales and in the turn."""

__version__ = "0.1.0"
