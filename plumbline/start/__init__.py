"""A first layout to change: a typical system from a few answers, checked before it is written."""

from .making import SYSTEMS, Wish, begin

__all__ = ["SYSTEMS", "Wish", "begin"]
