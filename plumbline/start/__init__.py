"""A first layout to change: a typical system from a few answers, checked before it is written."""

from .making import SYSTEMS, Wish, begin
from .sized import FirstLayout, begin_sized

__all__ = ["SYSTEMS", "FirstLayout", "Wish", "begin", "begin_sized"]
