"""Upkeep: what no brush and no flush can clean, where water stands, and where sludge and air gather."""

from .reach import Push, Span
from .result import Upkeep, look_after

__all__ = ["Push", "Span", "Upkeep", "look_after"]
