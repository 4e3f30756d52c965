"""Drawings of the car and its answers; plain numbers and words in, lines of text out."""
