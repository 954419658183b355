"""Upkeep: what no brush and no flush can clean, where water stands, and where sludge and air gather."""

from .result import Upkeep, look_after

__all__ = ["Upkeep", "look_after"]
