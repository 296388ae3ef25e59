"""Aligns a recorded talk about chess with the game that it is about."""

__version__ = "0.1.0"
